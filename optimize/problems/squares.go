package problems

import "math"

// form is a problem written so that derivatives come with it: residuals whose squares sum to the score
// but for a constant, and the limits.
type form struct {
	squares func(x []jet, option []int) []jet
	limits  func(x []jet) []jet
	rest    float64 // the score less the sum of squares
}

// forms holds, by name, the problems that are sums of squares: as their sources write them, by completing
// the square, or as the square of the root of a positive score. A test compares each with its score and
// its limits.
var forms = map[string]form{
	"rosenbrock-5":        {squares: rosenbrock},
	"rosenbrock-5-torn":   {squares: rosenbrock},
	"rastrigin-4":         {squares: rastrigin},
	"rastrigin-4-stepped": {squares: rastrigin},
	"branin":              {squares: func(x []jet, _ []int) []jet { return braninSquares(x[0], x[1], 0) }},
	"branin-three-sides": {squares: func(x []jet, option []int) []jet {
		switch option[0] {
		case 0:
			return braninSquares(x[0], x[1], 1)
		case 1:
			return braninSquares(x[0], x[1], 0)
		}
		return braninSquares(x[0].by(-1).add(10), x[1], 2)
	}},
	"beale": {squares: func(x []jet, _ []int) []jet {
		var out []jet
		for i, c := range [...]float64{1.5, 2.25, 2.625} {
			power := number(1)
			for range i + 1 {
				power = power.times(x[1])
			}
			out = append(out, number(c).minus(x[0].times(number(1).minus(power))))
		}
		return out
	}},
	"freudenstein-roth": {squares: func(x []jet, _ []int) []jet {
		a, b := x[0], x[1]
		return []jet{
			a.plus(b.by(-1).add(5).times(b).add(-2).times(b)).add(-13),
			a.plus(b.add(1).times(b).add(-14).times(b)).add(-29),
		}
	}},
	"powell-singular": {squares: func(x []jet, _ []int) []jet {
		return []jet{
			x[0].plus(x[1].by(10)), x[2].minus(x[3]).by(math.Sqrt(5)),
			x[1].minus(x[2].by(2)).squared(), x[0].minus(x[3]).squared().by(math.Sqrt(10)),
		}
	}},
	"helical-valley": {squares: func(x []jet, _ []int) []jet {
		theta := angle(x[1], x[0]).by(1 / (2 * math.Pi))
		if x[0].v < 0 && x[1].v < 0 {
			theta = theta.add(1)
		}
		return []jet{x[2].minus(theta.by(10)).by(10), x[0].squared().plus(x[1].squared()).root().add(-1).by(10), x[2]}
	}},
	"island-in-ruins": {
		squares: func(x []jet, _ []int) []jet { return []jet{x[0].add(-5), x[1].add(-5), x[2].add(-5)} },
		limits:  func(x []jet) []jet { return []jet{x[0].by(-1).add(6)} },
	},
	"hs35": {
		squares: func(x []jet, _ []int) []jet {
			return []jet{x[0].plus(x[1]).add(-2), x[0].plus(x[2]).add(-2), x[1].add(-1)}
		},
		limits: func(x []jet) []jet { return []jet{x[0].plus(x[1]).plus(x[2].by(2)).add(-3)} },
	},
	"hs43": {
		rest: -79.875,
		squares: func(x []jet, _ []int) []jet {
			return []jet{x[0].add(-2.5), x[1].add(-2.5), x[2].add(-5.25).by(math.Sqrt2), x[3].add(3.5)}
		},
		limits: func(x []jet) []jet {
			a, b, c, d := x[0], x[1], x[2], x[3]
			a2, b2, c2, d2 := a.squared(), b.squared(), c.squared(), d.squared()
			return []jet{
				a2.plus(b2).plus(c2).plus(d2).plus(a).minus(b).plus(c).minus(d).add(-8),
				a2.plus(b2.by(2)).plus(c2).plus(d2.by(2)).minus(a).minus(d).add(-10),
				a2.by(2).plus(b2).plus(c2).plus(a.by(2)).minus(b).minus(d).add(-5),
			}
		},
	},
	"hs65": {
		squares: func(x []jet, _ []int) []jet {
			return []jet{x[0].minus(x[1]), x[0].plus(x[1]).add(-10).by(1.0 / 3), x[2].add(-5)}
		},
		limits: func(x []jet) []jet {
			return []jet{x[0].squared().plus(x[1].squared()).plus(x[2].squared()).add(-48)}
		},
	},
	"hs76": {
		rest: -7.5,
		squares: func(x []jet, _ []int) []jet {
			half := math.Sqrt(0.5)
			return []jet{x[0].minus(x[2].by(0.5)).add(-0.5), x[3].plus(x[2]).add(-1).by(half), x[2].add(3).by(0.5), x[1].add(-3).by(half)}
		},
		limits: func(x []jet) []jet {
			return []jet{
				x[0].plus(x[1].by(2)).plus(x[2]).plus(x[3]).add(-5), x[0].by(3).plus(x[1]).plus(x[2].by(2)).minus(x[3]).add(-4),
				x[1].by(-1).minus(x[2].by(4)).add(1.5),
			}
		},
	},
	"g07": {
		rest: -31,
		squares: func(x []jet, _ []int) []jet {
			out := []jet{x[1].plus(x[0].by(0.5)).add(-8), x[0].add(-4).by(math.Sqrt(0.75))}
			for i, c := range [...][2]float64{{10, 1}, {5, 4}, {3, 1}, {1, 2}, {0, 5}, {11, 7}, {10, 2}, {7, 1}} {
				out = append(out, x[i+2].add(-c[0]).by(math.Sqrt(c[1])))
			}
			return out
		},
		limits: func(x []jet) []jet {
			sum := func(c float64, terms ...jet) jet {
				out := number(c)
				for _, t := range terms {
					out = out.plus(t)
				}
				return out
			}
			return []jet{
				sum(-105, x[0].by(4), x[1].by(5), x[6].by(-3), x[7].by(9)),
				sum(0, x[0].by(10), x[1].by(-8), x[6].by(-17), x[7].by(2)),
				sum(-12, x[0].by(-8), x[1].by(2), x[8].by(5), x[9].by(-2)),
				sum(-120, x[0].add(-2).squared().by(3), x[1].add(-3).squared().by(4), x[2].squared().by(2), x[3].by(-7)),
				sum(-40, x[0].squared().by(5), x[1].by(8), x[2].add(-6).squared(), x[3].by(-2)),
				sum(0, x[0].squared(), x[1].add(-2).squared().by(2), x[0].times(x[1]).by(-2), x[4].by(14), x[5].by(-6)),
				sum(-30, x[0].add(-8).squared().by(0.5), x[1].add(-4).squared().by(2), x[4].squared().by(3), x[5].by(-1)),
				sum(0, x[0].by(-3), x[1].by(6), x[8].add(-8).squared().by(12), x[9].by(-7)),
			}
		},
	},
	"g09": {
		rest: -792.0 / 49,
		squares: func(x []jet, _ []int) []jet {
			return []jet{
				x[0].add(-10), x[1].add(-12).by(math.Sqrt(5)), x[2].squared(), x[3].add(-11).by(math.Sqrt(3)), x[4].cubed().by(math.Sqrt(10)),
				x[5].minus(x[6].by(2).add(5).by(1.0 / 7)).by(math.Sqrt(7)), x[6].squared().add(-16.0 / 7), x[6].add(-19.0 / 14).by(2),
			}
		},
		limits: func(x []jet) []jet {
			return []jet{
				x[0].squared().by(2).plus(x[1].squared().squared().by(3)).plus(x[2]).plus(x[3].squared().by(4)).plus(x[4].by(5)).add(-127),
				x[0].by(7).plus(x[1].by(3)).plus(x[2].squared().by(10)).plus(x[3]).minus(x[4]).add(-282),
				x[0].by(23).plus(x[1].squared()).plus(x[5].squared().by(6)).minus(x[6].by(8)).add(-196),
				x[0].squared().by(4).plus(x[1].squared()).minus(x[0].times(x[1]).by(3)).plus(x[2].squared().by(2)).plus(x[5].by(5)).minus(x[6].by(11)),
			}
		},
	},
	"tension-spring": {
		squares: func(x []jet, _ []int) []jet { return []jet{x[2].add(2).times(x[1]).times(x[0].squared()).root()} },
		limits: func(x []jet) []jet {
			d, w, n := x[0], x[1], x[2]
			return []jet{
				number(1).minus(w.cubed().times(n).over(d.squared().squared().by(71785))),
				w.squared().by(4).minus(d.times(w)).over(w.times(d.cubed()).minus(d.squared().squared()).by(12566)).plus(number(1).over(d.squared().by(5108))).add(-1),
				number(1).minus(d.by(140.45).over(w.squared().times(n))),
				d.plus(w).by(1 / 1.5).add(-1),
			}
		},
	},
	"welded-beam": {
		squares: func(x []jet, _ []int) []jet { return []jet{beamCost(x).root()} },
		limits:  beamLimits,
	},
	"three-bar-truss": {
		squares: func(x []jet, _ []int) []jet { return []jet{x[0].by(2 * math.Sqrt2).plus(x[1]).by(100).root()} },
		limits: func(x []jet) []jet {
			a, b := x[0], x[1]
			if a.v < 1e-6 {
				a = number(1e-6)
			}
			d := a.squared().by(math.Sqrt2).plus(a.times(b).by(2))
			return []jet{
				a.by(math.Sqrt2).plus(b).over(d).by(2).add(-2), b.over(d).by(2).add(-2),
				number(2).over(a.plus(b.by(math.Sqrt2))).add(-2),
			}
		},
	},
	"gear-train": {squares: func(x []jet, _ []int) []jet {
		return []jet{number(1 / 6.931).minus(x[0].times(x[1]).over(x[2].times(x[3])))}
	}},
	"pressure-vessel": {
		squares: func(x []jet, _ []int) []jet {
			f := x[0].times(x[2]).times(x[3]).by(0.6224).plus(x[1].times(x[2].squared()).by(1.7781))
			f = f.plus(x[0].squared().times(x[3]).by(3.1661)).plus(x[0].squared().times(x[2]).by(19.84))
			return []jet{f.root()}
		},
		limits: func(x []jet) []jet {
			r2 := x[2].squared()
			return []jet{
				x[2].by(0.0193).minus(x[0]), x[2].by(0.00954).minus(x[1]),
				number(1_296_000).minus(r2.times(x[3]).by(math.Pi)).minus(r2.times(x[2]).by(4 * math.Pi / 3)).by(1.0 / 1_296_000),
				x[3].add(-240).by(1.0 / 240),
			}
		},
	},
}

func rosenbrock(x []jet, _ []int) (out []jet) {
	for i := range len(x) - 1 {
		out = append(out, x[i+1].minus(x[i].squared()).by(10), x[i].by(-1).add(1))
	}
	return out
}

// rastrigin uses 10 - 10 cos 2πx = 20 sin² πx.
func rastrigin(x []jet, _ []int) (out []jet) {
	for i := range x {
		out = append(out, x[i], x[i].by(math.Pi).sin().by(math.Sqrt(20)))
	}
	return out
}

// braninSquares is the function of Branin, raised by more: its cosine never falls below -10.
func braninSquares(a, b jet, more float64) []jet {
	first := b.minus(a.squared().by(5.1 / (4 * math.Pi * math.Pi))).plus(a.by(5 / math.Pi)).add(-6)
	return []jet{first, a.cos().by(10 * (1 - 1/(8*math.Pi))).add(10 + more).root()}
}

// The welded beam: weld thickness and length, bar height and thickness, in.
func beamCost(x []jet) jet {
	h, l, t, b := x[0], x[1], x[2], x[3]
	return h.squared().times(l).by(1.10471).plus(t.times(b).times(l.add(14)).by(0.04811))
}

// beamLimits are shear and bending stress, weld no thicker than the bar, cost of the materials, least weld,
// deflection and buckling.
func beamLimits(x []jet) []jet {
	const load, length, young, shear = 6000.0, 14.0, 30e6, 12e6
	h, l, t, b := x[0], x[1], x[2], x[3]
	direct := number(load / math.Sqrt2).over(h.times(l))
	arm := h.plus(t).by(0.5).squared()
	radius := l.squared().by(0.25).plus(arm).root()
	polar := h.times(l).times(l.squared().by(1.0 / 12).plus(arm)).by(2 * math.Sqrt2)
	turning := l.by(0.5).add(length).by(load).times(radius).over(polar)
	stress := direct.squared().plus(direct.times(turning).times(l).over(radius)).plus(turning.squared()).root()
	bending := number(6 * load * length).over(b.times(t.squared()))
	deflection := number(4 * load * length * length * length / young).over(t.cubed().times(b))
	buckling := t.times(b.cubed()).by(4.013 * young / 6 / (length * length)).times(number(1).minus(t.by(math.Sqrt(young/(4*shear)) / (2 * length))))
	return []jet{
		stress.by(1.0 / 13600).add(-1), bending.by(1.0 / 30000).add(-1), h.minus(b),
		h.squared().by(0.10471).plus(t.times(b).times(l.add(14)).by(0.04811)).add(-5), h.by(-1).add(0.125),
		deflection.by(4).add(-1), number(1).minus(buckling.by(1.0 / 6000)),
	}
}

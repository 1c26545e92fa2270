package problems

import (
	"math"

	"trammel/optimize"
)

// Front is a problem with several aims whose front is published.
type Front struct {
	Problem              // Score is the sum of the squares of the aims
	Objectives int       // number of aims
	Reference  []float64 // of the volumes

	// Volume is the hypervolume of the whole front against Reference: no number of points reaches more. 0
	// when it is not known in closed form.
	Volume float64

	// Volume100 is the greatest hypervolume that 100 points have, as published or in closed form; 0 when
	// none is.
	Volume100 float64

	// Off returns how far a value lies off the surface that holds the front: 0 on it.
	Off func(f []float64) float64
}

// The volumes of 100 points are those of A. Auger, J. Bader, D. Brockhoff, E. Zitzler, "Theory of the
// hypervolume indicator: optimal mu-distributions and the choice of the reference point", FOGA 2009,
// 87-102; whole fronts by integration of the published equations.
const (
	zdt  = "E. Zitzler, K. Deb, L. Thiele, \"Comparison of multiobjective evolutionary algorithms: empirical results\", Evolutionary Computation 8 (2000) 173-195: "
	dtlz = "K. Deb, L. Thiele, M. Laumanns, E. Zitzler, \"Scalable multi-objective optimization test problems\", CEC 2002, 825-830: "
)

// front makes a front of what gives its aims.
func front(name, source string, space *optimize.Space, aims func(f, x []float64) []float64) *Front {
	p := Front{Problem: Problem{Name: name, Source: source, Space: space}}
	p.Aims = func(f, x []float64, _ []int) []float64 { return aims(f, x) }
	p.Score = func(x []float64, _ []int) (sum float64) {
		for _, v := range aims(nil, x) {
			sum += v * v
		}
		return sum
	}
	return &p
}

// weigh fills R with the aims of a trade, and JR and JG where they are asked for and there are any.
func (p *Problem) weigh(at *optimize.Point, o *optimize.Outcome) {
	if p.Aims == nil {
		return
	}
	o.R = p.Aims(o.R, at.X, at.Choice)
	if at.Derivatives && p.AimSlopes != nil {
		o.JR = p.AimSlopes(o.JR, at.X)
		if p.LimitSlopes != nil {
			o.JG = p.LimitSlopes(o.JG, at.X)
		}
	}
}

// Fronts returns the problems with several aims.
func Fronts() []*Front {
	return append(append(zitzler(), scalable()...), limitedFronts()...)
}

// FrontByName returns the problem of that name, nil if there is none.
func FrontByName(name string) *Front {
	for _, f := range Fronts() {
		if f.Name == name {
			return f
		}
	}
	return nil
}

// rest returns the mean of all numbers but the first.
func rest(x []float64) (mean float64) {
	for _, v := range x[1:] {
		mean += v
	}
	return mean / float64(len(x)-1)
}

// behind appends the derivatives of the first number and of an aim that has the derivative first by it and
// g by the function of all others, 1 plus nine times their mean.
func behind(j, x []float64, first, g float64) []float64 {
	j = append(j, 1)
	for range x[1:] {
		j = append(j, 0)
	}
	j = append(j, first)
	for range x[1:] {
		j = append(j, g*9/float64(len(x)-1))
	}
	return j
}

// zitzler returns ZDT1 to 4 and 6.
func zitzler() []*Front {
	root := func(f []float64) float64 { return f[1] - 1 + math.Sqrt(f[0]) }
	square := func(f []float64) float64 { return f[1] - 1 + f[0]*f[0] }
	wave := func(a float64) float64 { return 2 - math.Sqrt(a) - a*math.Sin(10*math.Pi*a) }

	one := front("zdt1", zdt+"T1", cube(30, 0, 1), func(f, x []float64) []float64 {
		g := 1 + 9*rest(x)
		return append(f, x[0], g*(1-math.Sqrt(x[0]/g)))
	})
	one.Volume, one.Volume100, one.Off = 120.6666666667, 120.662137, root

	one.AimSlopes = func(j, x []float64) []float64 {
		g := 1 + 9*rest(x)
		return behind(j, x, -0.5*math.Sqrt(g/x[0]), 1-0.5*math.Sqrt(x[0]/g))
	}

	two := front("zdt2", zdt+"T2", cube(30, 0, 1), func(f, x []float64) []float64 {
		g := 1 + 9*rest(x)
		return append(f, x[0], g*(1-sq(x[0]/g)))
	})
	two.AimSlopes = func(j, x []float64) []float64 {
		g := 1 + 9*rest(x)
		return behind(j, x, -2*x[0]/g, 1+sq(x[0]/g))
	}
	two.Volume, two.Volume100, two.Off = 120.3333333333, 120.328881, square

	three := front("zdt3", zdt+"T3; its second aim, which falls below 0, raised by 1 together with the reference", cube(30, 0, 1), func(f, x []float64) []float64 {
		g := 1 + 9*rest(x)
		return append(f, x[0], g*(1-math.Sqrt(x[0]/g)-x[0]/g*math.Sin(10*math.Pi*x[0]))+1)
	})
	three.Volume, three.Volume100 = 128.7781161307, 128.775955
	three.Off = func(f []float64) float64 { return f[1] - wave(f[0]) }

	bounds := [][2]float64{{0, 1}}
	for range 9 {
		bounds = append(bounds, [2]float64{-5, 5})
	}
	four := front("zdt4", zdt+"T4", span(1_000_000, bounds...), func(f, x []float64) []float64 {
		g := 1 + 10*float64(len(x)-1)
		for _, v := range x[1:] {
			g += v*v - 10*math.Cos(4*math.Pi*v)
		}
		return append(f, x[0], g*(1-math.Sqrt(x[0]/g)))
	})
	four.Volume, four.Volume100, four.Off = one.Volume, one.Volume100, root

	six := front("zdt6", zdt+"T6", cube(10, 0, 1), func(f, x []float64) []float64 {
		s := math.Sin(6 * math.Pi * x[0])
		a := 1 - math.Exp(-4*x[0])*s*s*s*s*s*s
		g := 1 + 9*math.Pow(rest(x), 0.25)
		return append(f, a, g*(1-sq(a/g)))
	})
	six.Off = square
	// f2 = 1 - f1² from f1 = a to 1, and 0 from there to the reference.
	const a = 0.2807753188153697
	six.Volume = 10*(1-a) + (1-a*a*a)/3 + 10*11

	all := []*Front{one, two, three, four, six}
	for _, p := range all {
		p.Objectives, p.Reference = 2, []float64{11, 11}
	}
	three.Reference = []float64{11, 12}
	return all
}

// scalable returns DTLZ1, 2 and 7.
func scalable() []*Front {
	one := func(m int) *Front {
		p := front("dtlz1", dtlz+"DTLZ1", cube(m+4, 0, 1), func(f, x []float64) []float64 {
			k := len(x) - m + 1
			g := float64(k)
			for _, v := range x[m-1:] {
				g += sq(v-0.5) - math.Cos(20*math.Pi*(v-0.5))
			}
			return linear(f, x[:m-1], 0.5*(1+100*g))
		})
		p.Off = func(f []float64) float64 {
			s := -0.5
			for _, v := range f {
				s += v
			}
			return s
		}
		return p
	}
	two := func(m int) *Front {
		p := front("dtlz2", dtlz+"DTLZ2", cube(m+9, 0, 1), func(f, x []float64) []float64 {
			r := 1.0
			for _, v := range x[m-1:] {
				r += sq(v - 0.5)
			}
			for i := range m {
				v := r
				for _, a := range x[:m-1-i] {
					v *= math.Cos(a * math.Pi / 2)
				}
				if i > 0 {
					v *= math.Sin(x[m-1-i] * math.Pi / 2)
				}
				f = append(f, v)
			}
			return f
		})
		p.Off = func(f []float64) float64 {
			s := 0.0
			for _, v := range f {
				s += v * v
			}
			return math.Sqrt(s) - 1
		}
		return p
	}
	seven := front("dtlz7", dtlz+"DTLZ7 (DTLZ6 there)", cube(21, 0, 1), func(f, x []float64) []float64 {
		g := 2 + 9*rest(x) // 1 + g there
		return append(f, x[0], g*(2-x[0]/g*(1+math.Sin(3*math.Pi*x[0]))))
	})
	seven.Objectives, seven.Reference, seven.Volume = 2, []float64{11, 11}, 94.6587909375
	seven.Off = func(f []float64) float64 { return f[1] - 4 + f[0]*(1+math.Sin(3*math.Pi*f[0])) }

	all := []*Front{seven}
	for m := 2; m <= 5; m++ {
		p, q := one(m), two(m)
		cubed, ball := 1.0, 1.0 // of the reference cube; of the unit ball within the orthant
		for i := 1; i <= m; i++ {
			cubed *= 1.1
			q.Reference, p.Reference = append(q.Reference, 1.1), append(p.Reference, 1)
			ball /= 2
		}
		ball *= math.Pow(math.Pi, float64(m)/2) / math.Gamma(float64(m)/2+1)
		simplex := math.Pow(0.5, float64(m)) / math.Gamma(float64(m)+1)
		p.Objectives, q.Objectives = m, m
		p.Volume, q.Volume = 1-simplex, cubed-ball
		if m == 2 {
			p.Reference, q.Reference = []float64{11, 11}, []float64{11, 11}
			p.Volume, p.Volume100, q.Volume, q.Volume100 = 120.875, 120.873737, 120.2146018366, 120.210644
		}
		suffix := "-" + string(rune('0'+m))
		p.Name, q.Name = p.Name+suffix, q.Name+suffix
		all = append(all, p, q)
	}
	return all
}

// linear appends the aims of DTLZ1, whose sum is r.
func linear(f, x []float64, r float64) []float64 {
	m := len(x) + 1
	for i := range m {
		v := r
		for _, a := range x[:m-1-i] {
			v *= a
		}
		if i > 0 {
			v *= 1 - x[m-1-i]
		}
		f = append(f, v)
	}
	return f
}

// limitedFronts returns problems with limits.
func limitedFronts() []*Front {
	constr := front("constr", "K. Deb, Multi-Objective Optimization Using Evolutionary Algorithms (2001), problem CONSTR", span(1_000_000, [2]float64{0.1, 1}, [2]float64{0, 5}), func(f, x []float64) []float64 {
		return append(f, x[0], (1+x[1])/x[0])
	})
	constr.Limits = func(g, x []float64) []float64 { return append(g, (6-x[1]-9*x[0])/6, 1+x[1]-9*x[0]) }
	constr.Objectives, constr.Reference = 2, []float64{1, 9}
	// The front is f2 = 7/f1 - 9 from f1 = 7/18 to 2/3, then 1/f1 to 1.
	constr.Volume = (9+9)*(2.0/3-7.0/18) - 7*math.Log(2.0/3*18/7) + 9*(1-2.0/3) - math.Log(1.5)
	constr.Off = func(f []float64) float64 { return f[1] - max(7/f[0]-9, 1/f[0]) }

	bnh := front("bnh", "T. T. Binh and U. Korn, \"MOBES: a multiobjective evolution strategy for constrained optimization problems\" (1997)", span(1_000_000, [2]float64{0, 5}, [2]float64{0, 3}), func(f, x []float64) []float64 {
		return append(f, 4*x[0]*x[0]+4*x[1]*x[1], sq(x[0]-5)+sq(x[1]-5))
	})
	bnh.Limits = func(g, x []float64) []float64 {
		return append(g, (sq(x[0]-5)+x[1]*x[1]-25)/25, (7.7-sq(x[0]-8)-sq(x[1]+3))/7.7)
	}
	bnh.AimSlopes = func(j, x []float64) []float64 {
		return append(j, 8*x[0], 8*x[1], 2*(x[0]-5), 2*(x[1]-5))
	}
	bnh.LimitSlopes = func(j, x []float64) []float64 {
		return append(j, 2*(x[0]-5)/25, 2*x[1]/25, -2*(x[0]-8)/7.7, -2*(x[1]+3)/7.7)
	}
	bnh.Objectives, bnh.Reference = 2, []float64{136, 50}
	bnh.Off = func(f []float64) float64 {
		if a := math.Sqrt(f[0] / 8); a <= 3 {
			return f[1] - 2*sq(a-5)
		}
		return f[1] - sq(math.Sqrt(f[0]/4-9)-5) - 4
	}
	// Along x1 = x2 = t, f1 = 8t², df1 = 16t dt, f2 = 2(t-5)²; then along x2 = 3, f1 = 36 + 4t², f2 = 4 + (t-5)².
	// 16t·2(t-5)² integrates to 8t⁴ - 320t³/3 + 400t²; 8t·(4 + (t-5)²) to 2t⁴ - 80t³/3 + 116t².
	under := func(t float64) float64 { return 8*t*t*t*t - 320*t*t*t/3 + 400*t*t }
	then := func(t float64) float64 { return 2*t*t*t*t - 80*t*t*t/3 + 116*t*t }
	bnh.Volume = 136*50 - under(3) - (then(5) - then(3))
	return []*Front{constr, bnh}
}

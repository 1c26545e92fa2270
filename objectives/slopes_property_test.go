package objectives

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"trammel/kin/kintest"
)

// task is an objective over two sweeps of two columns each, and a candidate with slopes. The deviations of robust targets
// stand behind the sweeps.
type task struct {
	o             *Objective
	values, start [][]float64
	slopes        []Slopes
	n             int
}

// drawSeries draws some positions of one of the four columns, in an order of its own.
func drawSeries(t *rapid.T, rows int) Series {
	s := Series{Sweep: rapid.IntRange(0, 1).Draw(t, "sweep"), Offset: positions * rapid.IntRange(0, 1).Draw(t, "column")}
	order := rapid.Permutation([]int{0, 1, 2, 3, 4, 5, 6}).Draw(t, "order")
	travel := -60.0
	for i := range rows {
		travel += number(0.5, 20).Draw(t, "step")
		s.Rows, s.Travel = append(s.Rows, order[i]), append(s.Travel, travel)
	}
	return s
}

// drawLimit draws a limit of one to three series with any of the bounds.
func drawLimit(t *rapid.T) Limit {
	l := Limit{Name: "l", Min: -inf, Max: inf, Spread: inf, Scale: number(0.1, 50).Draw(t, "scale")}
	bounds := rapid.IntRange(1, 7).Draw(t, "bounds")
	if bounds&1 != 0 {
		l.Min = number(-99, 0).Draw(t, "min")
	}
	if bounds&2 != 0 {
		l.Max = number(0, 99).Draw(t, "max")
	}
	if bounds&4 != 0 {
		l.Spread = number(0, 150).Draw(t, "spread")
	}
	for range rapid.IntRange(1, 3).Draw(t, "series") {
		l.Series = append(l.Series, drawSeries(t, rapid.IntRange(1, positions).Draw(t, "rows")))
	}
	return l
}

// generic draws values, some of them missing, that differ from each other, from those of another seed and
// from round numbers.
func generic(t *rapid.T, seed int) []float64 {
	out := append(column(t, "value"), column(t, "value")...)
	for i := range out {
		k := seed*len(out) + i + 1
		_, part := math.Modf(math.Sqrt2 * float64(k*k))
		out[i] += part
	}
	return out
}

func drawTask(t *rapid.T) *task {
	c := &task{n: rapid.IntRange(1, 3).Draw(t, "directions")}
	var targets []Target
	for range rapid.IntRange(1, 5).Draw(t, "targets") {
		tg := drawTarget(t, drawShape(t))
		tg.Series, tg.Relative = drawSeries(t, len(tg.Series.Rows)), rapid.Bool().Draw(t, "relative")
		if tg.Robust = rapid.Bool().Draw(t, "robust"); tg.Robust {
			tg.Spread = 2 + len(targets)
			if rapid.Bool().Draw(t, "alike") {
				tg.Below = tg.Above
			}
		}
		targets = append(targets, tg)
	}
	targets[0].Weight += 0.1
	var limits []Limit
	for range rapid.IntRange(0, 3).Draw(t, "limits") {
		limits = append(limits, drawLimit(t))
	}
	c.o = New(targets, limits)
	for s := range 2 + len(targets) {
		values := generic(t, 2*s)
		if s < 2 {
			c.start = append(c.start, generic(t, 2*s+1))
		} else {
			values = nil
			for range targets[s-2].Series.Rows {
				values = append(values, number(0.1, 30).Draw(t, "deviation"))
			}
		}
		c.values = append(c.values, values)
		d := make(Slopes, len(values)*c.n)
		for i := range d {
			d[i] = number(-2, 2).Draw(t, "slope")
		}
		c.slopes = append(c.slopes, d)
	}
	return c
}

// at evaluates the candidate h along a direction, on a curved path that leaves with the direction's slope.
func (c *task) at(direction int, h float64) (r, g []float64, score float64) {
	moved := make([][]float64, len(c.values))
	for s, values := range c.values {
		for i, y := range values {
			moved[s] = append(moved[s], y+c.slopes[s][i*c.n+direction]*math.Sin(h))
		}
	}
	r, g = make([]float64, len(c.o.R)), make([]float64, len(c.o.G))
	res := c.o.NewResult()
	c.o.Evaluate(moved, c.start, r, g, res)
	return r, g, res.Score
}

func (c *task) differentiate() (jr, jg []float64) {
	jr, jg = flat(len(c.o.R)*c.n, nan), flat(len(c.o.G)*c.n, nan)
	c.o.Differentiate(c.values, c.start, c.slopes, c.o.NewResult(), jr, jg, c.n)
	return jr, jg
}

// probe compares a slope with Richardson's extrapolation of central differences; where a kink lies
// within their steps, with the difference over a shorter step to either side. It tells whether the slope
// fits and whether there was a kink. magnitude is what the slope is made of, before anything cancels.
func probe(f func(float64) float64, slope, magnitude float64) (fits, kink bool) {
	fit := func(d float64) bool { return math.Abs(d-slope) <= 1e-6*math.Max(math.Abs(slope), magnitude) }
	if d, _ := kintest.Slope(f, 0, 1e-3); fit(d) {
		return true, false
	}
	const h = 1e-5
	return fit((f(h)-f(0))/h) || fit((f(0)-f(-h))/h), true
}

// magnitudes returns, for each row of R and G, the greatest of its slopes' terms: slopes of values are at
// most 2.
func (c *task) magnitudes() (r, g []float64) {
	for _, s := range c.o.R {
		tg := &c.o.Targets[s.Entry]
		least := minimum(tg.Above, tg.Below)
		r = append(r, 4*math.Sqrt(tg.Weight/c.o.weights)/least)
	}
	for _, s := range c.o.G {
		g = append(g, 4/c.o.Limits[s.Entry].Scale)
	}
	return r, g
}

// TestSlopesAgainstDifferences probes every row of R and G of random targets and limits.
func TestSlopesAgainstDifferences(t *testing.T) {
	probed, kinks := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		c := drawTask(t)
		jr, jg := c.differentiate()
		mr, mg := c.magnitudes()
		check := func(what string, j, magnitude []float64, pick func(r, g []float64) []float64) {
			for row := range magnitude {
				for k := range c.n {
					slope := j[row*c.n+k]
					fits, kink := probe(func(h float64) float64 {
						r, g, _ := c.at(k, h)
						return pick(r, g)[row]
					}, slope, magnitude[row])
					if !fits {
						t.Fatalf("%s %d, direction %d: slope %v does not fit the differences", what, row, k, slope)
					}
					probed++
					if kink {
						kinks++
					}
				}
			}
		}
		check("residual", jr, mr, func(r, _ []float64) []float64 { return r })
		check("limit", jg, mg, func(_, g []float64) []float64 { return g })
	})
	if probed < 1000 || kinks*50 > probed {
		t.Errorf("%d slopes probed, %d of them at kinks", probed, kinks)
	}
}

// TestGradientOfTheScore: twice the sum of residuals by their slopes is the slope of the score, which has
// no kinks; but its slope has, and there differences need short steps.
func TestGradientOfTheScore(t *testing.T) {
	fine, probed := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		c := drawTask(t)
		jr, _ := c.differentiate()
		r, _, score := c.at(0, 0)
		magnitude, _ := c.magnitudes()
		for k := range c.n {
			sum, scale, rounding := 0.0, 0.0, 1e-14*score+1e-21
			for i, x := range r {
				sum += 2 * x * jr[i*c.n+k]
				scale += math.Abs(2 * x * jr[i*c.n+k])
				rounding += 1e-13 * math.Abs(x) * magnitude[i] // of a value
			}
			fits := false
			for _, h := range []float64{1e-3, 3e-4, 1e-4} {
				slope, doubt := kintest.Slope(func(h float64) float64 {
					_, _, score := c.at(k, h)
					return score
				}, 0, h)
				exact := 1e-7*scale + rounding/h
				if fits = math.Abs(slope-sum) <= exact+4*doubt; fits {
					if probed++; doubt <= exact {
						fine++
					}
					break
				}
			}
			if !fits {
				t.Fatalf("direction %d: by residuals the slope of the score is %v, by differences it is not", k, sum)
			}
		}
	})
	if fine*10 < probed*9 {
		t.Errorf("only %d of %d differences are exact", fine, probed)
	}
}

// TestSlopesReadOnlyWhatReadsNames: other slopes, and those of missing values, may be anything; and
// nothing that is handed over changes.
func TestSlopesReadOnlyWhatReadsNames(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawTask(t)
		for i := range c.o.Targets[1:] {
			if rapid.Bool().Draw(t, "idle") {
				c.o.Targets[1+i].Weight = 0
			}
		}
		c.o = New(c.o.Targets, c.o.Limits)
		before, beforeG := c.differentiate()
		poisoned := *c
		poisoned.slopes = nil
		for s, d := range c.slopes {
			d = append(Slopes(nil), d...)
			reads := c.o.Reads(s, len(c.values[s]))
			for i := range d {
				if v := i / c.n; !reads[v] || math.IsNaN(c.values[s][v]) {
					d[i] = nan
				}
			}
			poisoned.slopes = append(poisoned.slopes, d)
		}
		after, afterG := poisoned.differentiate()
		if !same(before, after) || !same(beforeG, afterG) {
			t.Fatalf("slopes that nothing needs change %v to %v or %v to %v", before, after, beforeG, afterG)
		}
		res, r, g := c.o.NewResult(), make([]float64, len(c.o.R)), make([]float64, len(c.o.G))
		c.o.Evaluate(c.values, c.start, r, g, res)
		kept := Result{Targets: append([]TargetResult(nil), res.Targets...), Limits: append([]LimitResult(nil), res.Limits...), Score: res.Score, Violation: res.Violation}
		c.o.Differentiate(c.values, c.start, c.slopes, res, before, beforeG, c.n)
		if !sameResult(&kept, res) {
			t.Fatalf("result %v became %v", kept, *res)
		}
	})
}

// same compares to the bit; NaN never equals.
func same(a, b []float64) bool {
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return len(a) == len(b)
}

func sameResult(a, b *Result) bool {
	for i, x := range a.Targets {
		y := b.Targets[i]
		if x.Miss != y.Miss || x.Drawn != y.Drawn || !near(x.Got, y.Got) || x.Met != y.Met || x.At != y.At {
			return false
		}
	}
	for i, x := range a.Limits {
		y := b.Limits[i]
		if x.Over != y.Over || !near(x.Got, y.Got) || x.At != y.At {
			return false
		}
	}
	return a.Score == b.Score && a.Violation == b.Violation
}

// TestReadsIsWhatCounts: changing a value that is not read changes no residual and no limit, and each
// value that is read moves some residual or limit at one of many random candidates.
func TestReadsIsWhatCounts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawTask(t)
		for i := range c.o.Targets {
			tg := &c.o.Targets[i]
			tg.Relative = false
			if len(tg.Series.Rows) == 2 && tg.Shape == Straight {
				tg.Shape = Even // a line goes through any two values
			}
		}
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		for s := range c.values {
			size := len(c.values[s])
			reads := c.o.Reads(s, size)
			moves := make([]bool, size)
			for range 200 {
				c.randomise(rng)
				c.identity(s)
				jr, jg := c.differentiate()
				for i, x := range append(jr, jg...) {
					moves[i%size] = moves[i%size] || x != 0
				}
			}
			for i := range size {
				if moves[i] != reads[i] {
					t.Fatalf("value %d of sweep %d: read %v, moves something %v", i, s, reads[i], moves[i])
				}
				r, g, _ := c.at(0, 0)
				if c.values[s][i] += 50 * math.Abs(rng.NormFloat64()); !reads[i] {
					if after, afterG, _ := c.at(0, 0); !same(r, after) || !same(g, afterG) {
						t.Fatalf("value %d of sweep %d is not read and counts", i, s)
					}
				}
			}
		}
	})
}

// randomise gives every value another number.
func (c *task) randomise(rng *rand.Rand) {
	for s := range c.values {
		for i := range c.values[s] {
			c.values[s][i] = 200*rng.Float64() - 100
			if s >= 2 { // no deviation is negative
				c.values[s][i] = math.Abs(c.values[s][i])
			}
		}
	}
}

// identity makes the values of one sweep themselves the directions.
func (c *task) identity(sweep int) {
	c.n = len(c.values[sweep])
	for s := range c.slopes {
		c.slopes[s] = make(Slopes, len(c.values[s])*c.n)
	}
	for i := range c.n {
		c.slopes[sweep][i*c.n+i] = 1
	}
}

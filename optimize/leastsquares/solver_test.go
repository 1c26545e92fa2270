package leastsquares_test

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"trammel/optimize/leastsquares"
)

// drive runs a search to its end, at most most evaluations, and returns how many it had.
func drive(s *leastsquares.Solver, most int, evaluate func(x []float64) leastsquares.Evaluation) (count int) {
	for ask := s.Ask(); len(ask) > 0 && count < most; ask = s.Ask() {
		var es []leastsquares.Evaluation
		for _, x := range ask {
			es = append(es, evaluate(x))
			count++
		}
		s.Tell(es)
	}
	return count
}

// Problem 71 of W. Hock and K. Schittkowski, Test Examples for Nonlinear Programming Codes (1981), with its
// multipliers as many copies print them: 0.55229366 of the product, 1.08787121 of the lower bound of x1,
// and 0.1614686 of the sphere, which is two limits here that leave no room between them. It is no sum of
// squares, and derivatives are differences.
func TestHockSchittkowski71(t *testing.T) {
	p := leastsquares.Problem{Low: []float64{1, 1, 1, 1}, High: []float64{5, 5, 5, 5}, Scale: []float64{4, 4, 4, 4}}
	o := leastsquares.DefaultOptions()
	o.Gain = 1e-13
	s := leastsquares.New(p, o, []float64{1, 5, 5, 1})
	count := drive(s, 500, func(x []float64) leastsquares.Evaluation {
		sphere := x[0]*x[0] + x[1]*x[1] + x[2]*x[2] + x[3]*x[3] - 40
		return leastsquares.Evaluation{Value: x[0]*x[3]*(x[0]+x[1]+x[2]) + x[2], G: []float64{25 - x[0]*x[1]*x[2]*x[3], sphere, -sphere}}
	})
	for i, want := range []float64{1, 4.7429994, 3.8211503, 1.3794082} {
		if math.Abs(s.X()[i]-want) > 2e-6 {
			t.Errorf("after %d evaluations: x%d is %.8g, published %.8g", count, i+1, s.X()[i], want)
		}
	}
	prices, ok := s.Prices()
	if !ok || math.Abs(prices.Limit[0]-0.55229366) > 1e-4 || math.Abs(prices.Limit[1]-prices.Limit[2]-0.1614686) > 1e-4 && math.Abs(prices.Limit[2]-prices.Limit[1]-0.1614686) > 1e-4 || math.Abs(prices.Bound[0]-1.08787121) > 1e-4 {
		t.Errorf("multipliers %v and %v; published 0.55229366, ±0.1614686 and 1.08787121", prices.Limit, prices.Bound)
	}
}

// bent is a flat curved valley in many dimensions: the chained function of Rosenbrock (1960), n residuals
// of weight 10 across the valley and n-1 of weight 1 along it.
func bent(x []float64) leastsquares.Evaluation {
	n := len(x)
	var e leastsquares.Evaluation
	row := func(r float64, at ...float64) {
		e.R = append(e.R, r)
		slope := make([]float64, n)
		for i := 0; i < len(at); i += 2 {
			slope[int(at[i])] = at[i+1]
		}
		e.JR = append(e.JR, slope...)
	}
	for i := range n - 1 {
		row(10*(x[i+1]-x[i]*x[i]), float64(i+1), 10, float64(i), -20*x[i])
		row(1-x[i], float64(i), -1)
	}
	return e
}

// A flat curved valley costs no more with bounds in force than without: two of eight variables may not
// come near to where they want.
func TestValleyAlongBounds(t *testing.T) {
	n := 8
	run := func(bounded bool) (int, *leastsquares.Solver) {
		p := leastsquares.Problem{Low: make([]float64, n), High: make([]float64, n), Scale: make([]float64, n)}
		start := make([]float64, n)
		for i := range n {
			p.Low[i], p.High[i], p.Scale[i], start[i] = -3, 3, 6, -1.2+2.2*float64(i%2)
		}
		if bounded {
			p.High[2], p.Low[6] = 0.7, 0.3
		}
		o := leastsquares.DefaultOptions()
		o.Gain = 1e-15
		s := leastsquares.New(p, o, start)
		return drive(s, 1000, bent), s
	}
	free, s := run(false)
	for i, x := range s.X() {
		if math.Abs(x-1) > 1e-6 {
			t.Errorf("x%d is %g after %d evaluations", i, x, free)
		}
	}
	bounded, s := run(true)
	if s.Ending() != leastsquares.Converged || s.X()[2] != 0.7 || s.X()[6] != 0.3 {
		t.Errorf("%v at %v after %d evaluations", s.Ending(), s.X(), bounded)
	}
	if bounded > 2*free+10 {
		t.Errorf("%d evaluations with bounds in force, %d without", bounded, free)
	}
	// Karush, Kuhn and Tucker: no slope inside the box, one outward at a bound.
	e := bent(s.X())
	for k := range n {
		slope := 0.0
		for i, r := range e.R {
			slope += r * e.JR[i*n+k]
		}
		if k == 2 || k == 6 {
			if (k == 2) != (slope < 0) {
				t.Errorf("x%d stands at its bound with the slope %g", k, slope)
			}
		} else if math.Abs(slope) > 1e-4 {
			t.Errorf("x%d stands inside the box with the slope %g", k, slope)
		}
	}
}

// torn is a random problem on a lattice with limits, coarse variables and a part where it fails.
type torn struct {
	p          leastsquares.Problem
	start      []float64
	centre     []float64
	sway, room float64
	tear       float64
}

func drawTorn(t *rapid.T) *torn {
	n := rapid.IntRange(1, 4).Draw(t, "n")
	c := &torn{p: leastsquares.Problem{Lattice: true}}
	for range n {
		coarse := rapid.Bool().Draw(t, "coarse")
		high := float64(rapid.IntRange(1, 20).Draw(t, "high"))
		if !coarse {
			high *= 1000
		}
		c.p.Low, c.p.High = append(c.p.Low, 0), append(c.p.High, high)
		c.p.Scale, c.p.Coarse = append(c.p.Scale, high), append(c.p.Coarse, coarse)
		c.start = append(c.start, math.Round(high*rapid.Float64Range(0, 1).Draw(t, "start")))
		c.centre = append(c.centre, rapid.Float64Range(-0.5, 1.5).Draw(t, "centre"))
	}
	c.sway = rapid.Float64Range(-2, 2).Draw(t, "sway")
	c.room = rapid.Float64Range(-0.5, 2).Draw(t, "room")
	c.tear = rapid.Float64Range(0, 2).Draw(t, "tear")
	return c
}

func (c *torn) evaluate(x []float64) leastsquares.Evaluation {
	n, e, sum := len(x), leastsquares.Evaluation{}, 0.0
	u := make([]float64, n)
	for i := range x {
		u[i] = x[i] / c.p.High[i]
		sum += u[i]
	}
	if u[0] > c.tear {
		return leastsquares.Evaluation{Failed: true}
	}
	limit := make([]float64, n)
	for i := range n {
		j := (i + 1) % n
		slope := make([]float64, n)
		e.R = append(e.R, u[i]-c.centre[i]+c.sway*u[j]*u[j])
		slope[i] += 1 / c.p.High[i]
		slope[j] += 2 * c.sway * u[j] / c.p.High[j]
		e.JR = append(e.JR, slope...)
		limit[i] = 2 * u[i] / c.p.High[i]
	}
	g := -c.room
	for i := range n {
		g += u[i] * u[i]
	}
	e.G, e.JG = []float64{g}, limit
	return e
}

// Whatever the problem: every point asked for is whole and in the box, the search ends unless it creeps
// along an edge beyond which all fails, and it stands no worse than where it started.
func TestPointsAreWholeAndInside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawTorn(t)
		s := leastsquares.New(c.p, leastsquares.DefaultOptions(), c.start)
		first := c.evaluate(c.start)
		count := drive(s, 1000, func(x []float64) leastsquares.Evaluation {
			for i, v := range x {
				if v != math.Round(v) || v < c.p.Low[i] || v > c.p.High[i] {
					t.Fatalf("asks for %v in the box %v to %v", x, c.p.Low, c.p.High)
				}
			}
			return c.evaluate(x)
		})
		if s.Ending() == leastsquares.Searching && s.Failures == 0 {
			t.Fatalf("goes on after %d evaluations", count)
		}
		if first.Failed {
			if s.Ending() != leastsquares.FailedAtOnce || count != 1 || s.Failures != 1 {
				t.Fatalf("%v after %d evaluations of a start that fails", s.Ending(), count)
			}
			return
		}
		last := c.evaluate(s.X())
		if last.Failed {
			t.Fatalf("ends at %v, which fails", s.X())
		}
		f := func(e *leastsquares.Evaluation) (sum float64) {
			for _, r := range e.R {
				sum += r * r
			}
			return sum
		}
		kept, was := last.G[0] <= 1e-6, first.G[0] <= 1e-6
		if was && (!kept || f(&last) > f(&first)+1e-12) || !was && !kept && last.G[0] > first.G[0]+1e-9 {
			t.Fatalf("from %v (sum %g, limit %g) to %v (sum %g, limit %g)", c.start, f(&first), first.G[0], s.X(), f(&last), last.G[0])
		}
	})
}

// A search restored after every answer goes the same way, bit for bit.
func TestRestored(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawTorn(t)
		by := rapid.Bool().Draw(t, "by differences")
		evaluate := func(x []float64) leastsquares.Evaluation {
			e := c.evaluate(x)
			if by {
				e.JR, e.JG = nil, nil
			}
			return e
		}
		o := leastsquares.DefaultOptions()
		a, b := leastsquares.New(c.p, o, c.start), leastsquares.New(c.p, o, c.start)
		for range 400 {
			var err error
			state := b.AppendState(nil)
			if b, err = leastsquares.Restore(c.p, o, state); err != nil {
				t.Fatal(err)
			}
			if again := b.AppendState(nil); !slices.Equal(again, state) {
				t.Fatal("a restored search has another state")
			}
			for n := 0; n < len(state); n += 1 + len(state)/7 {
				if _, err := leastsquares.Restore(c.p, o, state[:n]); err == nil {
					t.Fatalf("the first %d of %d numbers are taken for a whole state", n, len(state))
				}
			}
			x, y := a.Ask(), b.Ask()
			if len(x) != len(y) || a.Ending() != b.Ending() || a.Derivatives() != b.Derivatives() || a.Base() != b.Base() {
				t.Fatalf("asks for %v, restored for %v", x, y)
			}
			if len(x) == 0 {
				return
			}
			var es, fs []leastsquares.Evaluation
			for i := range x {
				if !slices.Equal(x[i], y[i]) {
					t.Fatalf("asks for %v, restored for %v", x, y)
				}
				es, fs = append(es, evaluate(x[i])), append(fs, evaluate(y[i]))
			}
			a.Tell(es)
			b.Tell(fs)
		}
	})
}

// Failures near the optimum shrink the region and are counted, and the optimum beside them is found.
func TestFailuresShrinkTheRegion(t *testing.T) {
	p := leastsquares.Problem{Low: []float64{0, 0}, High: []float64{1e6, 1e6}, Scale: []float64{1e6, 1e6}, Lattice: true}
	s := leastsquares.New(p, leastsquares.DefaultOptions(), []float64{1e5, 1e5})
	failed := 0
	drive(s, 500, func(x []float64) leastsquares.Evaluation {
		if x[0] > 600_000 { // beyond the optimum at (500000, 700000)
			failed++
			return leastsquares.Evaluation{Failed: true}
		}
		a, b := x[0]/1e6, x[1]/1e6
		return leastsquares.Evaluation{R: []float64{math.Sinh(3 * (a - 0.5)), b - 0.7}, JR: []float64{3e-6 * math.Cosh(3*(a-0.5)), 0, 0, 1e-6}}
	})
	if s.X()[0] != 500_000 || s.X()[1] != 700_000 || s.Failures != failed {
		t.Errorf("ended at %v with %d of %d failures", s.X(), s.Failures, failed)
	}
}

package objectives

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"
)

// robust is a target made robust, whose deviations stand behind its one sweep.
func robust(t Target) Target {
	t.Robust, t.Spread = true, 1
	return t
}

// TestBeyond: the second partial moment of the normal distribution and its slope agree with the standard library's
// complementary error function, where that does not cancel, and far out with Gauss-Legendre quadrature of gonum.
func TestBeyond(t *testing.T) {
	normal := distuv.UnitNormal
	for z := 0.0; z < 30; z += 0.037 {
		q, slope := beyond(z)
		want := (1+z*z)*math.Erfc(z/math.Sqrt2)/2 - z*normal.Prob(z)
		if math.Abs(q-want) > 1e-16*(10+10*z*z) { // the rounding of 1/2 and of what it is multiplied by, on either side
			t.Fatalf("q(%g) is %g, not %g", z, q, want)
		}
		moment := func(n int) float64 {
			return quad.Fixed(func(x float64) float64 { return math.Pow(x, float64(n)) * normal.Prob(z+x) }, 0, 12/(1+z/4), 120, quad.Legendre{}, 0)
		}
		if want := moment(2); math.Abs(q-want) > 1e-11*want {
			t.Fatalf("q(%g) is %g, by quadrature %g", z, q, want)
		}
		if want := -2 * moment(1); math.Abs(slope-want) > 1e-11*math.Abs(want) {
			t.Fatalf("the slope of q at %g is %g, by quadrature %g", z, slope, want)
		}
	}
	if q, slope := beyond(math.Inf(1)); q != 0 || slope != 0 {
		t.Errorf("beyond all numbers: %g and %g", q, slope)
	}
}

// TestExpectedLoss: the square of a robust target's miss is the mean of the squares of the misses of values that err
// normally, integrated by Gauss-Legendre quadrature of gonum over the plain target's own.
func TestExpectedLoss(t *testing.T) {
	for _, c := range []struct {
		name   string
		target Target
	}{
		{"near", target(1, Near, 2, 0.5, 0.5)},
		{"near, wider above", target(1, Near, 2, 4, 0.5)},
		{"near, wider below", target(1, Near, 2, 0.5, 3)},
		{"at most", target(1, AtMost, 2, 0.5, 9)},
		{"at least", target(1, AtLeast, 2, 9, 0.5)},
	} {
		plain, built := New([]Target{c.target}, nil), New([]Target{robust(c.target)}, nil)
		for _, y := range []float64{-3, 1.2, 1.9, 2, 2.1, 2.7, 6} {
			for _, s := range []float64{0, 0.05, 0.4, 2} {
				square := func(y float64) float64 {
					res, _, _ := evaluate(plain, []float64{y}, nil)
					return res.Targets[0].Miss * res.Targets[0].Miss
				}
				part := func(from, to float64) float64 { // either side of the kink
					return quad.Fixed(func(x float64) float64 { return square(y+s*x) * distuv.UnitNormal.Prob(x) }, from, to, 200, quad.Legendre{}, 0)
				}
				want := square(y)
				if s > 0 {
					kink := min(max((2-y)/s, -13), 13)
					want = part(-13, kink) + part(kink, 13)
				}
				r, res := make([]float64, len(built.R)), built.NewResult()
				built.Evaluate([][]float64{{y}, {s}}, nil, r, nil, res)
				got := res.Targets[0]
				if math.Abs(got.Miss*got.Miss-want) > 1e-11*(1+want) || !near(sumOfSquares(r), res.Score) {
					t.Errorf("%s at %g ± %g: the expected loss is %.12g, by quadrature %.12g; score %.12g, sum of squares %.12g", c.name, y, s, got.Miss*got.Miss, want, res.Score, sumOfSquares(r))
				}
				if !near(got.Drawn*got.Drawn, square(y)) || got.Met != (square(y) <= 1) {
					t.Errorf("%s at %g: drawn %g, met %v", c.name, y, got.Drawn, got.Met)
				}
			}
		}
	}
}

// TestDeviations: n values that err independently by sigma leave residuals about their mean whose squares add up to n - 1
// sigma² and about their line to n - 2 (the degrees of freedom of a fit: N. R. Draper and H. Smith, "Applied Regression
// Analysis", chapter 1, cited from memory), a step between two has 2 sigma², and a value that is missing has none.
func TestDeviations(t *testing.T) {
	const n, sigma = 6, 0.3
	for _, c := range []struct {
		shape Shape
		gap   bool
		sum   float64 // of the variances, in sigma²
	}{
		{Near, false, n}, {AtMost, false, n}, {AtLeast, true, n - 1},
		{Even, false, n - 1}, {Even, true, n - 2}, {Straight, false, n - 2}, {Straight, true, n - 3},
		{Rising, false, 2 * (n - 1)}, {Falling, true, 2 * (n - 2)},
	} {
		tg := target(n, c.shape, 1, 1, 1)
		values, slopes, s := make([]float64, n), make([]float64, n*n), make([]float64, n)
		for i := range n {
			slopes[i*n+i] = 1
		}
		rows := n
		if c.gap {
			values[2], rows = nan, n-1
			slopes[2*n+2] = 0
		}
		if got := tg.Deviations(values, slopes, n, sigma, s); got != rows {
			t.Errorf("shape %d: %d rows with a value, not %d", c.shape, got, rows)
		}
		if got := sumOfSquares(s) / (sigma * sigma); math.Abs(got-c.sum) > 1e-12 {
			t.Errorf("shape %d, gap %v: the variances add up to %g sigma², not %g", c.shape, c.gap, got, c.sum)
		}
		if c.gap && s[2] != 0 {
			t.Errorf("shape %d: a missing value deviates by %g", c.shape, s[2])
		}
		if k := testing.AllocsPerRun(20, func() { tg.Deviations(values, slopes, n, sigma, s) }); k != 0 {
			t.Errorf("shape %d: %v allocations", c.shape, k)
		}
	}
}

// TestDeviationsByHand: equation (10) of JCGM 100:2008 for two inputs, 3-4-5.
func TestDeviationsByHand(t *testing.T) {
	tg, s := target(1, Near, 0, 1, 1), make([]float64, 1)
	if tg.Deviations([]float64{7}, []float64{3, -4}, 2, 0.1, s); !near(s[0], 0.5) {
		t.Errorf("the deviation is %g, not 0.5", s[0])
	}
}

// TestEndGauge is the calibration of an end gauge of 50 mm in JCGM 100:2008, annex H.1, as far as first derivatives go
// (numbers from memory): l = ls + d - ls(δα θ + αs δθ) with u(ls) = 25 nm, u(d) = 9.7 nm, δα within ±1e-6 per degree and
// δθ within ±0.05 degrees, both rectangular, θ = -0.1 degrees and αs = 11.5e-6 per degree. The combined standard
// uncertainty is 32 nm.
func TestEndGauge(t *testing.T) {
	const length = 50e6 // nm
	wide := 1 / math.Sqrt(3)
	slopes := []float64{25, 9.7, length * 0.1 * 1e-6 * wide, length * 11.5e-6 * 0.05 * wide}
	tg, s := target(1, Near, 0, 1, 1), make([]float64, 1)
	if tg.Deviations([]float64{length}, slopes, len(slopes), 1, s); math.Abs(s[0]-32) > 0.5 {
		t.Errorf("the combined standard uncertainty is %g nm, not 32", s[0])
	}
}

// TestRobustAllocatesNothing: every shape, with derivatives.
func TestRobustAllocatesNothing(t *testing.T) {
	_, values, start, slopes := everything(9, 4)
	var targets []Target
	for s := Near; s <= AtLeast; s++ {
		targets = append(targets, robust(target(9, s, 1, 0.5, 0.25)))
	}
	o := New(targets, nil)
	values, slopes = append(values, flat(9, 0.2)), append(slopes, make(Slopes, 9*4))
	r, jr, res := make([]float64, len(o.R)), make([]float64, len(o.R)*4), o.NewResult()
	if n := testing.AllocsPerRun(100, func() {
		o.Evaluate(values, start, r, nil, res)
		o.Differentiate(values, start, slopes, res, jr, nil, 4)
	}); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

// TestRobustWithoutValue: what has no value misses as it does without errors.
func TestRobustWithoutValue(t *testing.T) {
	o := New([]Target{robust(target(2, Near, 0, 1, 1))}, nil)
	r, res := make([]float64, len(o.R)), o.NewResult()
	o.Evaluate([][]float64{{nan, nan}, {0, 0}}, nil, r, nil, res)
	if got := res.Targets[0]; got.Miss != Missing || got.Drawn != Missing || !near(sumOfSquares(r), Missing*Missing) {
		t.Errorf("miss %g, drawn %g, sum of squares %g", got.Miss, got.Drawn, sumOfSquares(r))
	}
}

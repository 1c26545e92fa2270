package objectives

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat"
)

var (
	nan = math.NaN()
	inf = math.Inf(1)
)

// series is the whole of a first column of a first sweep, over travels 0, 1, 2 ...
func series(n int) Series {
	s := Series{}
	for i := range n {
		s.Rows, s.Travel = append(s.Rows, i), append(s.Travel, float64(i))
	}
	return s
}

// flat is n times the same number.
func flat(n int, v float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = v
	}
	return out
}

// target is a target of weight 1 over the whole of a column of n values.
func target(n int, shape Shape, want, above, below float64) Target {
	return Target{Name: "t", Series: series(n), Shape: shape, Want: flat(n, want), Above: flat(n, above), Below: flat(n, below), Weight: 1}
}

// evaluate judges one column of values.
func evaluate(o *Objective, values, start []float64) (*Result, []float64, []float64) {
	r, g, res := make([]float64, len(o.R)), make([]float64, len(o.G)), o.NewResult()
	o.Evaluate([][]float64{values}, [][]float64{start}, r, g, res)
	return res, r, g
}

func near(a, b float64) bool {
	return math.IsNaN(a) && math.IsNaN(b) || math.Abs(a-b) <= 1e-12*(1+math.Abs(b))
}

func sumOfSquares(r []float64) (sum float64) {
	for _, x := range r {
		sum += x * x
	}
	return sum
}

// TestShapes works every shape by hand: departures over within, then their root mean square.
func TestShapes(t *testing.T) {
	follow := target(3, Near, 0, 1, 1)
	follow.Want = []float64{1, 2, 3}
	within := target(3, Near, 0, 1, 1)
	within.Above = []float64{1, 2, 4}
	relative := target(3, Near, 0.5, 1, 1)
	relative.Relative = true
	most := target(3, AtMost, 1, 1, 1)
	most.Relative = true
	for _, c := range []struct {
		name   string
		target Target
		values []float64
		start  []float64
		x      []float64 // departures over within; NaN: no value
		got    float64
	}{
		{"hold, on the spot", target(3, Near, 2, 0.5, 0.5), []float64{2, 2, 2}, nil, []float64{0, 0, 0}, 2},
		{"hold, above and below alike", target(2, Near, 2, 0.5, 0.5), []float64{3, 1.5}, nil, []float64{2, -1}, 3},
		{"hold, wider above", target(2, Near, 0, 4, 1), []float64{2, -2}, nil, []float64{0.5, -2}, -2},
		{"hold, wider below", target(2, Near, 0, 1, 4), []float64{2, -2}, nil, []float64{2, -0.5}, 2},
		{"follow a curve", follow, []float64{1, 3, 1}, nil, []float64{0, 1, -2}, 1},
		{"within is a curve", within, []float64{1, 1, 1}, nil, []float64{1, 0.5, 0.25}, 1},
		{"relative to design", relative, []float64{1, 2, 3.5}, []float64{0.5, 1.5, 2}, []float64{0, 0, 1}, 3.5},
		{"one value missing", target(3, Near, 0, 1, 1), []float64{1, nan, -2}, nil, []float64{1, nan, -2}, -2},
		{"at most, above it", target(3, AtMost, 1, 0.5, 9), []float64{0, 1, 2}, nil, []float64{0, 0, 2}, 2},
		{"at most, below it", target(2, AtMost, 1, 0.5, 9), []float64{0, -7}, nil, []float64{0, 0}, -7},
		{"at most, relative", most, []float64{3, 4, 5}, []float64{2, 2, 2}, []float64{0, 1, 2}, 5},
		{"at least, below it", target(3, AtLeast, 1, 9, 0.5), []float64{0, 1, 2}, nil, []float64{-2, 0, 0}, 0},
		{"at least, above it", target(2, AtLeast, 1, 9, 0.5), []float64{4, 3}, nil, []float64{0, 0}, 3},
		{"even, flat", target(3, Even, 0, 1, 1), []float64{5, 5, 5}, nil, []float64{0, 0, 0}, 0},
		{"even", target(4, Even, 0, 1, 2), []float64{1, 2, 3, 6}, nil, []float64{-1, -0.5, 0, 3}, 3},
		{"even, one missing", target(3, Even, 0, 1, 1), []float64{1, nan, 3}, nil, []float64{-1, nan, 1}, 1},
		{"straight, a line", target(4, Straight, 0, 1, 1), []float64{1, 3, 5, 7}, nil, []float64{0, 0, 0, 0}, 0},
		// The line through 0, 0, 3 at 0, 1, 2 is -1/2 + 3/2 x.
		{"straight, a kink", target(3, Straight, 0, 1, 0.5), []float64{0, 0, 3}, nil, []float64{0.5, -2, 0.5}, -1},
		{"straight, two values", target(3, Straight, 0, 1, 1), []float64{4, nan, -9}, nil, []float64{0, nan, 0}, 0},
		{"rising, it rises", target(4, Rising, 0, 1, 1), []float64{0, 1, 1, 5}, nil, []float64{0, 0, 0, 0}, 0},
		{"rising, it falls", target(4, Rising, 0, 1, 0.5), []float64{0, 2, 1, 3}, nil, []float64{0, 0, -2, 0}, -1},
		{"rising, over a gap", target(3, Rising, 0, 1, 1), []float64{2, nan, 1}, nil, []float64{0, nan, -1}, -1},
		{"falling, it falls", target(3, Falling, 0, 1, 1), []float64{5, 4, 4}, nil, []float64{0, 0, 0}, 0},
		{"falling, it rises", target(3, Falling, 0, 0.5, 1), []float64{5, 4, 6}, nil, []float64{0, 0, 4}, 2},
		{"no value at all", target(2, Near, 0, 1, 1), []float64{nan, nan}, nil, []float64{Missing, Missing}, nan},
	} {
		o := New([]Target{c.target}, nil)
		res, r, _ := evaluate(o, c.values, c.start)
		n, sum, worst := 0, 0.0, 0.0
		for _, x := range c.x {
			if !math.IsNaN(x) {
				n, sum, worst = n+1, sum+x*x, math.Max(worst, math.Abs(x))
			}
		}
		for i, x := range c.x {
			want := x / math.Sqrt(float64(n))
			if math.IsNaN(x) {
				want = 0
			}
			if !near(r[i], want) {
				t.Errorf("%s: residual %d is %v, want %v", c.name, i, r[i], want)
			}
		}
		got, miss := res.Targets[0], math.Sqrt(sum/float64(n))
		if !near(got.Miss, miss) || got.Met != (worst <= 1) || !near(got.Got, c.got) && math.Abs(got.Got-c.got) > 1e-12 {
			t.Errorf("%s: miss %v, met %v, got %v; want %v, %v, %v", c.name, got.Miss, got.Met, got.Got, miss, worst <= 1, c.got)
		}
		if !near(res.Score, miss*miss) {
			t.Errorf("%s: score %v, want %v", c.name, res.Score, miss*miss)
		}
	}
}

// TestRowsOfSeries: a series that takes some rows of a later column in an order of its own reads those.
func TestRowsOfSeries(t *testing.T) {
	tg := target(3, Near, 0, 1, 1)
	tg.Series = Series{Sweep: 1, Offset: 4, Rows: []int{3, 0, 2}, Travel: []float64{-1, 0, 1}}
	o := New([]Target{tg}, nil)
	r, res := make([]float64, 3), o.NewResult()
	o.Evaluate([][]float64{nil, {9, 9, 9, 9, 1, 9, 2, 3}}, nil, r, nil, res)
	for i, want := range []float64{3, 1, 2} {
		if !near(r[i]*math.Sqrt(3), want) {
			t.Errorf("residual %d is %v, want %v", i, r[i]*math.Sqrt(3), want)
		}
	}
	for i, want := range []Slot{{0, 1, 3, 7}, {0, 1, 0, 4}, {0, 1, 2, 6}} {
		if o.R[i] != want {
			t.Errorf("slot %d is %v, want %v", i, o.R[i], want)
		}
	}
}

// TestStraightAgainstRegression compares with the least-squares line of gonum's stat.LinearRegression.
func TestStraightAgainstRegression(t *testing.T) {
	x := []float64{-50, -31, -30.5, -2, 0, 7, 12, 44}
	y := []float64{0.71, 0.74, 0.69, 0.77, 0.72, 0.81, 0.86, 0.82}
	alpha, beta := stat.LinearRegression(x, y, nil, false)
	tg := target(len(x), Straight, 0, 0.01, 0.01)
	tg.Series.Travel = x
	_, r, _ := evaluate(New([]Target{tg}, nil), y, nil)
	for i := range x {
		want := (y[i] - alpha - beta*x[i]) / 0.01
		if got := r[i] * math.Sqrt(float64(len(x))); math.Abs(got-want) > 1e-10 {
			t.Errorf("at %g: departure over within %.12g, want %.12g", x[i], got, want)
		}
	}
}

// TestWeights: the score is the weighted mean of the squared misses, whatever the lengths of the series.
func TestWeights(t *testing.T) {
	a, b, c := target(4, Near, 0, 1, 1), target(1, Near, 0, 1, 1), target(2, Near, 0, 1, 1)
	a.Weight, b.Weight, c.Weight = 2, 3, 0
	o := New([]Target{a, b, c}, nil)
	res, r, _ := evaluate(o, []float64{2, 2, 2, 2}, nil)
	if want := (2*4 + 3*4 + 0) / 5.0; !near(res.Score, want) || !near(sumOfSquares(r), want) {
		t.Errorf("score %v, sum of squares %v; want %v", res.Score, sumOfSquares(r), want)
	}
	res, _, _ = evaluate(o, []float64{2, 0, 0, 0}, nil)
	if want := (2*1 + 3*4) / 5.0; !near(res.Score, want) {
		t.Errorf("score %v, want %v", res.Score, want)
	}
}

// TestNothingCounts: targets of no weight alone score 0, with or without values.
func TestNothingCounts(t *testing.T) {
	tg := target(2, Near, 0, 1, 1)
	tg.Weight = 0
	for _, values := range [][]float64{{3, 4}, {nan, nan}} {
		res, r, _ := evaluate(New([]Target{tg}, nil), values, nil)
		if res.Score != 0 || r[0] != 0 || r[1] != 0 {
			t.Errorf("values %v: score %v, residuals %v; want 0", values, res.Score, r)
		}
	}
	if res, _, _ := evaluate(New(nil, nil), nil, nil); res.Score != 0 || res.Violation != 0 {
		t.Errorf("without targets and limits: score %v, violation %v", res.Score, res.Violation)
	}
}

// TestLimits works limits by hand: how far each value passes, over the scale.
func TestLimits(t *testing.T) {
	for _, c := range []struct {
		name             string
		min, max, spread float64
		scale            float64
		values           []float64
		g                []float64
		over, got        float64
		violation        float64
	}{
		{"min kept", 1, inf, inf, 2, []float64{3, 5}, []float64{-1, -2}, -1, 3, 0},
		{"min broken", 1, inf, inf, 2, []float64{3, -1}, []float64{-1, 1}, 1, -1, 1},
		{"max broken", -inf, 10, inf, 4, []float64{12, 16, 0}, []float64{0.5, 1.5, -2.5}, 1.5, 16, 1.5},
		{"both ends", 0, 10, inf, 1, []float64{-1, 5, 13}, []float64{1, -5, 3}, 3, 13, 3},
		{"at the end itself", 0, 10, inf, 1, []float64{10, 0}, []float64{0, 0}, 0, 10, 0},
		{"a hair over, which is not broken", -inf, 10, inf, 1, []float64{10 + 0.5e-6}, []float64{0.5e-6}, 0.5e-6, 10 + 0.5e-6, 0},
		{"a little over, which is", -inf, 10, inf, 1, []float64{10 + 2e-6}, []float64{2e-6}, 2e-6, 10 + 2e-6, 2e-6},
		{"spread kept", -inf, inf, 20, 10, []float64{0, 15, 5}, []float64{-2, -0.5, -1.5}, -0.5, 15, 0},
		{"spread broken", -inf, inf, 20, 10, []float64{-5, 25, 5}, []float64{-2, 1, -1}, 1, 30, 1},
		{"spread and max", -inf, 100, 20, 10, []float64{90, 115}, []float64{-1, 1.5}, 1.5, 115, 1.5},
		{"one value missing", 0, inf, inf, 1, []float64{nan, -2}, []float64{-1, 2}, 2, -2, 2},
		{"spread over a gap", -inf, inf, 1, 1, []float64{0, nan, 3}, []float64{-1, -1, 2}, 2, 3, 2},
		{"no value at all", 0, 1, 1, 1, []float64{nan, nan}, []float64{Missing, Missing}, Missing, nan, Missing},
	} {
		o := New(nil, []Limit{{Name: "l", Series: []Series{series(len(c.values))}, Min: c.min, Max: c.max, Spread: c.spread, Scale: c.scale}})
		res, _, g := evaluate(o, c.values, nil)
		for i := range g {
			if math.Abs(g[i]-c.g[i]) > 1e-9 {
				t.Errorf("%s: place %d passes by %v, want %v", c.name, i, g[i], c.g[i])
			}
		}
		if l := res.Limits[0]; math.Abs(l.Over-c.over) > 1e-9 || !near(l.Got, c.got) || math.Abs(res.Violation-c.violation) > 1e-9 {
			t.Errorf("%s: over %v, got %v, violation %v; want %v, %v, %v", c.name, l.Over, l.Got, res.Violation, c.over, c.got, c.violation)
		}
	}
}

// TestLimitOverSeveralSeries: a limit that several motions share, beside another: each has its own places,
// the spread is over all of them, and violations of broken limits add up.
func TestLimitOverSeveralSeries(t *testing.T) {
	one := Series{Sweep: 0, Rows: []int{0, 1}, Travel: []float64{0, 1}}
	two := Series{Sweep: 1, Offset: 1, Rows: []int{0, 1}, Travel: []float64{0, 1}}
	o := New(nil, []Limit{
		{Name: "a", Series: []Series{one, two}, Min: -inf, Max: inf, Spread: 5, Scale: 1},
		{Name: "b", Series: []Series{two}, Min: 9, Max: inf, Spread: inf, Scale: 2},
		{Name: "c", Series: []Series{one}, Min: 0, Max: inf, Spread: inf, Scale: 1},
	})
	g, res := make([]float64, len(o.G)), o.NewResult()
	o.Evaluate([][]float64{{1, 2}, {77, 3, 8}}, nil, nil, g, res)
	want := []float64{-5, -4, -3, 2, 3, 0.5, -1, -2}
	slots := []Slot{{0, 0, 0, 0}, {0, 0, 1, 1}, {0, 1, 0, 1}, {0, 1, 1, 2}, {1, 1, 0, 1}, {1, 1, 1, 2}, {2, 0, 0, 0}, {2, 0, 1, 1}}
	for i := range want {
		if !near(g[i], want[i]) || o.G[i] != slots[i] {
			t.Errorf("place %d: %v at %v, want %v at %v", i, g[i], o.G[i], want[i], slots[i])
		}
	}
	if res.Violation != 5 {
		t.Errorf("violation %v, want 2 + 3", res.Violation)
	}
}

// TestShapeErrorsPanic: what a program puts together wrongly is refused.
func TestShapeErrorsPanic(t *testing.T) {
	short := target(2, Near, 0, 1, 1)
	short.Above = short.Above[:1]
	wantless := target(2, AtMost, 0, 1, 1)
	wantless.Want = nil
	negative := target(2, Near, 0, 1, 1)
	negative.Weight = -1
	good := New([]Target{target(2, Near, 0, 1, 1)}, nil)
	for name, f := range map[string]func(){
		"within of another length":    func() { New([]Target{short}, nil) },
		"no want":                     func() { New([]Target{wantless}, nil) },
		"negative weight":             func() { New([]Target{negative}, nil) },
		"no scale":                    func() { New(nil, []Limit{{Scale: 0}}) },
		"a scale that is no number":   func() { New(nil, []Limit{{Scale: nan}}) },
		"residuals of another layout": func() { good.Evaluate(nil, nil, make([]float64, 3), nil, good.NewResult()) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			f()
		}()
	}
}

// TestEvaluateAllocatesNothing runs every shape and kind of limit.
func TestEvaluateAllocatesNothing(t *testing.T) {
	var targets []Target
	for s := Near; s <= AtLeast; s++ {
		tg := target(5, s, 1, 0.5, 0.25)
		tg.Relative = s == Near
		targets = append(targets, tg)
	}
	o := New(targets, []Limit{{Name: "l", Series: []Series{series(5)}, Min: 0, Max: 3, Spread: 2, Scale: 1}})
	values, start := [][]float64{{1, nan, 3, 2, 9}}, [][]float64{{0, 1, 0, 1, 0}}
	r, g, res := make([]float64, len(o.R)), make([]float64, len(o.G)), o.NewResult()
	if n := testing.AllocsPerRun(100, func() { o.Evaluate(values, start, r, g, res) }); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

package objectives

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"
)

// differentiate takes the derivatives for one column of values.
func differentiate(o *Objective, values, start, slopes []float64, n int) (jr, jg []float64) {
	jr, jg = flat(len(o.R)*n, nan), flat(len(o.G)*n, nan)
	o.Differentiate([][]float64{values}, [][]float64{start}, []Slopes{slopes}, o.NewResult(), jr, jg, n)
	return jr, jg
}

func allNear(a, b []float64) bool { return slices.EqualFunc(a, b, near) }

// TestSlopesOfShapes works every shape by hand, the sides of kinks included: the derivatives of
// departures over within, before they are divided by the root of the number of values.
func TestSlopesOfShapes(t *testing.T) {
	relative := target(3, Near, 0.5, 1, 1)
	relative.Relative = true
	most := target(2, AtMost, 0, 0.5, 9)
	most.Relative = true
	within := target(3, Near, 0, 1, 1)
	within.Above = []float64{1, 2, 4}
	for _, c := range []struct {
		name   string
		target Target
		values []float64
		start  []float64
		slopes []float64 // one direction
		x      []float64
	}{
		{"hold, above and below", target(2, Near, 2, 0.5, 0.25), []float64{3, 1.5}, nil, []float64{3, 5}, []float64{6, 20}},
		{"hold, on the spot: above", target(2, Near, 2, 4, 1), []float64{2, 1}, nil, []float64{1, 1}, []float64{0.25, 1}},
		{"within is a curve", within, []float64{1, 1, 1}, nil, []float64{8, 8, 8}, []float64{8, 4, 2}},
		{"relative to design, which stands still", relative, []float64{1, 2, 3}, []float64{0.5, 1.5, 2}, []float64{1, -2, 3}, []float64{1, -2, 3}},
		{"relative, the design has no value", relative, []float64{1, 2, 3}, []float64{0, nan, 0}, []float64{1, nan, 3}, []float64{1, nan, 3}},
		{"one value missing", target(3, Near, 0, 1, 1), []float64{1, nan, -2}, nil, []float64{1, nan, 3}, []float64{1, nan, 3}},
		{"no value at all", target(2, Near, 0, 1, 1), []float64{nan, nan}, nil, []float64{nan, 7}, []float64{0, 0}},
		{"at most", target(3, AtMost, 1, 0.5, 9), []float64{0, 1, 2}, nil, []float64{1, 1, 3}, []float64{0, 2, 6}},
		{"at most, as the design has it", most, []float64{4, -3}, []float64{4, -3}, []float64{1, 2}, []float64{2, 4}},
		{"at least", target(3, AtLeast, 1, 9, 0.5), []float64{0, 1, 2}, nil, []float64{1, 3, 1}, []float64{2, 6, 0}},
		{"even: less the mean slope", target(3, Even, 0, 1, 0.5), []float64{1, 2, 6}, nil, []float64{1, 0, 5}, []float64{-2, -4, 3}},
		{"even, one missing", target(3, Even, 0, 1, 1), []float64{1, nan, 3}, nil, []float64{1, nan, 2}, []float64{-0.5, nan, 0.5}},
		{"even, one value", target(2, Even, 0, 1, 1), []float64{1, nan}, nil, []float64{1, 1}, []float64{0, nan}},
		{"straight: slopes on a line", target(4, Straight, 0, 1, 1), []float64{0, 1, 5, 7}, nil, []float64{1, 3, 5, 7}, []float64{0, 0, 0, 0}},
		// The line through 0, 0, 3 at 0, 1, 2 is -1/2 + 3/2 x; departures of the values are +, -, +.
		{"straight: a kink in the slopes", target(3, Straight, 0, 1, 0.5), []float64{5, 0, 5}, nil, []float64{0, 0, 3}, []float64{0.5, -2, 0.5}},
		{"straight, two values", target(3, Straight, 0, 1, 1), []float64{4, nan, -9}, nil, []float64{1, nan, 9}, []float64{0, nan, 0}},
		{"straight, one value", target(2, Straight, 0, 1, 1), []float64{4, nan}, nil, []float64{1, nan}, []float64{0, nan}},
		{"rising, it falls once", target(4, Rising, 0, 1, 0.5), []float64{0, 2, 1, 3}, nil, []float64{1, 2, 5, 9}, []float64{0, 0, 6, 0}},
		{"rising, over a gap", target(3, Rising, 0, 1, 1), []float64{2, nan, 1}, nil, []float64{1, nan, 5}, []float64{0, nan, 4}},
		{"rising, no step: all is well", target(2, Rising, 0, 1, 1), []float64{2, 2}, nil, []float64{1, -5}, []float64{0, 0}},
		{"rising, twice", target(3, Rising, 0, 1, 1), []float64{3, 2, 1}, nil, []float64{1, 2, 4}, []float64{0, 1, 2}},
		{"falling, it rises", target(3, Falling, 0, 0.5, 9), []float64{5, 4, 6}, nil, []float64{1, 2, 5}, []float64{0, 0, 6}},
		{"falling, no step: all is well", target(2, Falling, 0, 1, 1), []float64{2, 2}, nil, []float64{1, 5}, []float64{0, 0}},
	} {
		n := 0
		for _, x := range c.x {
			if !math.IsNaN(x) {
				n++
			}
		}
		jr, _ := differentiate(New([]Target{c.target}, nil), c.values, c.start, c.slopes, 1)
		for i, x := range c.x {
			if math.IsNaN(x) {
				x = 0
			}
			if want := x / math.Sqrt(float64(n)); math.Abs(jr[i]-want) > 1e-12 {
				t.Errorf("%s: slope of residual %d is %v, want %v", c.name, i, jr[i], want)
			}
		}
	}
}

// TestSlopesOfLimits works limits by hand, the sides of kinks included.
func TestSlopesOfLimits(t *testing.T) {
	for _, c := range []struct {
		name             string
		min, max, spread float64
		scale            float64
		values           []float64
		slopes           []float64 // one direction
		jg               []float64
	}{
		{"min, kept and broken", 1, inf, inf, 2, []float64{3, -1}, []float64{4, 6}, []float64{-2, -3}},
		{"max, kept and broken", -inf, 10, inf, 4, []float64{12, 0}, []float64{4, 8}, []float64{1, 2}},
		{"both ends: the nearer", 0, 10, inf, 1, []float64{1, 9, 13}, []float64{1, 2, 3}, []float64{-1, 2, 3}},
		{"both ends equally near: the greater", 0, 10, inf, 1, []float64{5}, []float64{3}, []float64{3}},
		{"spread: less the least's slope", -inf, inf, 20, 10, []float64{15, 0, 25}, []float64{30, 10, -5}, []float64{2, 0, -1.5}},
		{"spread, two least: the first's slope", -inf, inf, 20, 1, []float64{0, 5, 0}, []float64{1, 3, 7}, []float64{0, 2, 6}},
		{"max, where it is passed more than the spread", -inf, 100, 20, 10, []float64{90, 115}, []float64{10, 30}, []float64{1, 3}},
		{"spread, where it is passed more than max", -inf, 130, 20, 10, []float64{90, 115}, []float64{10, 30}, []float64{0, 2}},
		{"max and a spread as near: max", -inf, 20, 20, 1, []float64{0, 25}, []float64{1, 3}, []float64{1, 3}},
		{"one value missing", 0, inf, inf, 1, []float64{nan, -2}, []float64{nan, 3}, []float64{0, -3}},
		{"spread over a gap", -inf, inf, 1, 1, []float64{0, nan, 3}, []float64{1, nan, 4}, []float64{0, 0, 3}},
		{"no value at all", 0, 1, 1, 1, []float64{nan, nan}, []float64{nan, 3}, []float64{0, 0}},
		{"a spread of one value", -inf, inf, 1, 1, []float64{3}, []float64{nan}, []float64{0}},
		{"nothing bounded", -inf, inf, inf, 1, []float64{3, 4}, []float64{nan, nan}, []float64{0, 0}},
	} {
		o := New(nil, []Limit{{Name: "l", Series: []Series{series(len(c.values))}, Min: c.min, Max: c.max, Spread: c.spread, Scale: c.scale}})
		if _, jg := differentiate(o, c.values, nil, c.slopes, 1); !allNear(jg, c.jg) {
			t.Errorf("%s: slopes %v, want %v", c.name, jg, c.jg)
		}
	}
}

// TestSlopesOfASpreadOverSeveralSweeps: the least value moves the places of another sweep, and a sweep
// that nothing reads needs no slopes.
func TestSlopesOfASpreadOverSeveralSweeps(t *testing.T) {
	one := Series{Sweep: 0, Rows: []int{1, 0}, Travel: []float64{0, 1}}
	two := Series{Sweep: 2, Offset: 1, Rows: []int{0, 1}, Travel: []float64{0, 1}}
	o := New(nil, []Limit{{Name: "l", Series: []Series{one, two}, Min: -inf, Max: inf, Spread: 5, Scale: 2}})
	values := [][]float64{{4, 2}, {9}, {nan, 1, 8}}
	slopes := []Slopes{{10, 1, 30, 3}, nil, {nan, nan, 6, -4, 70, 7}}
	jg := make([]float64, 8)
	o.Differentiate(values, nil, slopes, o.NewResult(), nil, jg, 2)
	if want := []float64{12, 3.5, 2, 2.5, 0, 0, 32, 5.5}; !allNear(jg, want) {
		t.Errorf("slopes %v, want %v", jg, want)
	}
}

// TestSlopesOfWeights: two targets, two directions, rows of a later column in an order of its own.
func TestSlopesOfWeights(t *testing.T) {
	a, b, idle := target(1, Near, 0, 1, 1), target(2, Near, 0, 2, 1), target(1, Near, 0, 1, 1)
	a.Weight, b.Weight, idle.Weight = 1, 3, 0
	b.Series.Offset, b.Series.Rows, idle.Series.Offset = 1, []int{1, 0}, 3
	o := New([]Target{a, idle, b}, nil)
	jr, _ := differentiate(o, []float64{-1, 1, -1, 1}, nil, []float64{1, 2, 3, 4, 5, 6, nan, nan}, 2)
	u, v := math.Sqrt(1.0/4), math.Sqrt(3.0/4/2)
	if want := []float64{u, 2 * u, 0, 0, 5 * v, 6 * v, 3 * v / 2, 4 * v / 2}; !allNear(jr, want) {
		t.Errorf("slopes %v, want %v", jr, want)
	}
}

// TestSlopesOfStraightAgainstRegression: the slopes of a target for straight are what departs from the
// least-squares line through the slopes of the values, by gonum's stat.LinearRegression.
func TestSlopesOfStraightAgainstRegression(t *testing.T) {
	x := []float64{-50, -31, -30.5, -2, 0, 7, 12, 44}
	y := []float64{0.71, 0.74, 0.69, 0.77, 0.72, 0.81, 0.86, 0.82}
	slopes := []float64{3.1, -0.4, 2.2, 7.9, -6.3, 0.2, 1.7, 4.4}
	tg := target(len(x), Straight, 0, 0.01, 0.01)
	tg.Series.Travel = x
	jr, _ := differentiate(New([]Target{tg}, nil), y, nil, slopes, 1)
	alpha, beta := stat.LinearRegression(x, slopes, nil, false)
	for i := range x {
		want := (slopes[i] - alpha - beta*x[i]) / 0.01
		if got := jr[i] * math.Sqrt(float64(len(x))); math.Abs(got-want) > 1e-9 {
			t.Errorf("at %g: slope %.12g, want %.12g", x[i], got, want)
		}
	}
}

// TestReads names the values of one sweep that targets and limits depend on.
func TestReads(t *testing.T) {
	rows := func(tg Target) Target { // the second, third and fifth value
		tg.Series.Offset, tg.Series.Rows = 1, []int{3, 0, 1}
		return tg
	}
	elsewhere, idle := target(6, Near, 0, 1, 1), target(6, Near, 0, 1, 1)
	elsewhere.Series.Sweep, idle.Weight = 1, 0
	limit := func(n int, min, max, spread float64) []Limit {
		return []Limit{{Name: "l", Series: []Series{series(n)}, Min: min, Max: max, Spread: spread, Scale: 1}}
	}
	for _, c := range []struct {
		name    string
		targets []Target
		limits  []Limit
		want    string // R for read
	}{
		{"near", []Target{rows(target(3, Near, 0, 1, 1))}, nil, ".RR.R."},
		{"straight", []Target{rows(target(3, Straight, 0, 1, 1))}, nil, ".RR.R."},
		{"even", []Target{rows(target(3, Even, 0, 1, 1))}, nil, ".RR.R."},
		{"rising", []Target{rows(target(3, Rising, 0, 1, 1))}, nil, ".RR.R."},
		{"falling", []Target{rows(target(3, Falling, 0, 1, 1))}, nil, ".RR.R."},
		{"at most", []Target{rows(target(3, AtMost, 0, 1, 1))}, nil, ".RR.R."},
		{"at least", []Target{rows(target(3, AtLeast, 0, 1, 1))}, nil, ".RR.R."},
		{"of another sweep", []Target{elsewhere}, nil, "......"},
		{"of no weight", []Target{idle}, nil, "......"},
		{"of no weight beside one that counts", []Target{idle, target(1, Near, 0, 1, 1)}, nil, "R....."},
		{"one value", []Target{target(1, Near, 0, 1, 1)}, nil, "R....."},
		{"one value against itself", []Target{target(1, Even, 0, 1, 1), target(1, Straight, 0, 1, 1), target(1, Rising, 0, 1, 1), target(1, Falling, 0, 1, 1)}, nil, "......"},
		{"min", nil, limit(2, 0, inf, inf), "RR...."},
		{"max", nil, limit(3, -inf, 0, inf), "RRR..."},
		{"spread", nil, limit(4, -inf, inf, 0), "RRRR.."},
		{"spread of one value", nil, limit(1, -inf, inf, 0), "......"},
		{"nothing bounded", nil, limit(4, -inf, inf, inf), "......"},
		{"target and limit", []Target{rows(target(3, Even, 0, 1, 1))}, limit(1, 0, 1, inf), "RRR.R."},
	} {
		got := ""
		for _, read := range New(c.targets, c.limits).Reads(0, 6) {
			if read {
				got += "R"
			} else {
				got += "."
			}
		}
		if got != c.want {
			t.Errorf("%s: reads %s, want %s", c.name, got, c.want)
		}
	}
}

// TestDifferentiateRefusesOtherLayouts: what a program puts together wrongly is refused.
func TestDifferentiateRefusesOtherLayouts(t *testing.T) {
	o := New([]Target{target(2, Near, 0, 1, 1)}, nil)
	values, fits := [][]float64{{1, 2}}, []Slopes{make(Slopes, 6)}
	limit := New(nil, []Limit{{Name: "l", Series: []Series{series(2)}, Min: 0, Max: 1, Spread: 1, Scale: 1}})
	for name, f := range map[string]func(){
		"jr too short":           func() { o.Differentiate(values, nil, fits, o.NewResult(), make([]float64, 5), nil, 3) },
		"jg too long":            func() { o.Differentiate(values, nil, fits, o.NewResult(), make([]float64, 6), make([]float64, 3), 3) },
		"no slopes of the sweep": func() { o.Differentiate(values, nil, nil, o.NewResult(), make([]float64, 6), nil, 3) },
		"slopes too short":       func() { o.Differentiate(values, nil, []Slopes{fits[0][:5]}, o.NewResult(), make([]float64, 6), nil, 3) },
		"a limit's slopes": func() {
			limit.Differentiate(values, nil, []Slopes{fits[0][:5]}, limit.NewResult(), nil, make([]float64, 6), 3)
		},
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
	o.Differentiate(values, nil, []Slopes{{}}, o.NewResult(), nil, nil, 0) // no directions are fine
}

// everything is an objective of every shape and kind of limit over m values, with its arguments for n
// directions.
func everything(m, n int) (o *Objective, values, start [][]float64, slopes []Slopes) {
	var targets []Target
	for s := Near; s <= AtLeast; s++ {
		tg := target(m, s, 1, 0.5, 0.25)
		tg.Relative = s == Near
		targets = append(targets, tg)
	}
	o = New(targets, []Limit{{Name: "l", Series: []Series{series(m)}, Min: 0, Max: 3, Spread: 2, Scale: 1}})
	v, s := make([]float64, m), make([]float64, m)
	d := make(Slopes, m*n)
	for i := range v {
		v[i], s[i] = 3*math.Sin(float64(i)), float64(i%2)
	}
	for i := range d {
		d[i] = math.Cos(float64(i))
	}
	v[1] = nan
	return o, [][]float64{v}, [][]float64{s}, []Slopes{d}
}

// TestDifferentiateAllocatesNothing runs every shape and kind of limit.
func TestDifferentiateAllocatesNothing(t *testing.T) {
	o, values, start, slopes := everything(9, 4)
	jr, jg, res := make([]float64, len(o.R)*4), make([]float64, len(o.G)*4), o.NewResult()
	if n := testing.AllocsPerRun(100, func() { o.Differentiate(values, start, slopes, res, jr, jg, 4) }); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

// BenchmarkEvaluate judges 41 values by every shape and one limit of every kind.
func BenchmarkEvaluate(b *testing.B) {
	o, values, start, _ := everything(41, 1)
	r, g, res := make([]float64, len(o.R)), make([]float64, len(o.G)), o.NewResult()
	b.ReportAllocs()
	for b.Loop() {
		o.Evaluate(values, start, r, g, res)
	}
}

// BenchmarkDifferentiate takes the same with respect to 20 directions: all of it, and each shape alone.
func BenchmarkDifferentiate(b *testing.B) {
	all, values, start, slopes := everything(41, 20)
	run := func(name string, o *Objective) {
		jr, jg, res := make([]float64, len(o.R)*20), make([]float64, len(o.G)*20), o.NewResult()
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				o.Differentiate(values, start, slopes, res, jr, jg, 20)
			}
		})
	}
	run("all", all)
	for s, name := range []string{"near", "straight", "even", "rising", "falling", "at most", "at least"} {
		run(name, New(all.Targets[s:s+1], nil))
	}
	run("limit", New(nil, all.Limits))
}

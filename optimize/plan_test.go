package optimize

import (
	"math"
	"strings"
	"testing"
)

// The effects of a factorial plan in standard order, from published responses. Source: D. C. Montgomery,
// "Design and Analysis of Experiments", example 6.2 (filtration rate, 2⁴, one replicate).
func TestFactorialStandardOrder(t *testing.T) {
	responses := []float64{45, 71, 48, 65, 68, 60, 80, 65, 43, 100, 45, 104, 75, 86, 70, 96}
	want := map[string]float64{
		"": 70.0625, "A": 21.625, "B": 3.125, "C": 9.875, "D": 14.625, "AB": 0.125, "AC": -18.125, "AD": 16.625, "BC": 2.375,
		"BD": -0.375, "CD": -1.125, "ABC": 1.875, "ABD": 4.125, "ACD": -1.625, "BCD": -2.625, "ABCD": 1.375,
	}
	space := &Space{}
	for _, n := range []string{"A", "B", "C", "D"} {
		space.Dims = append(space.Dims, Dim{Name: n, Low: -1, High: 1, PerUnit: 1})
	}
	o := DefaultPlan()
	o.Kind = Factorial
	p, err := NewPlan(space, o)
	if err != nil {
		t.Fatal(err)
	}
	if p.Runs() != 16 {
		t.Fatalf("%d runs", p.Runs())
	}
	for term, effect := range want {
		var at Point
		sum := 0.0
		for i, y := range responses {
			p.At(&at, int64(i))
			for _, f := range term {
				y *= at.X[f-'A']
			}
			sum += y
		}
		if term == "" {
			sum /= 2
		}
		if got := sum / 8; math.Abs(got-effect) > 1e-12 {
			t.Errorf("effect %q is %g, published %g", term, got, effect)
		}
	}
}

func TestFactorialLevels(t *testing.T) {
	space := &Space{
		Dims: []Dim{
			{Name: "a", Low: 0, High: 10, Design: 3, PerUnit: 10},
			{Name: "b", Low: 0, High: 10, Design: 1, Step: 3, PerUnit: 1}, // 1 4 7 10
			{Name: "c", Low: 0, High: 10, Design: 99, PerUnit: 1},
		},
		Choices: []Choice{{Name: "side", Options: []string{"l", "r"}}},
	}
	o := DefaultPlan()
	o.Kind, o.Levels = Factorial, []int{3, 4, 1}
	p, err := NewPlan(space, o)
	if err != nil {
		t.Fatal(err)
	}
	i := int64(0)
	for side := range 2 {
		for _, b := range []float64{1, 4, 7, 10} {
			for _, a := range []float64{0, 0.5, 1} {
				var at Point
				p.At(&at, i)
				if at.X[0] != a || at.X[1] != b || at.X[2] != 10 || at.Choice[0] != side {
					t.Errorf("run %d is %v %v", i, at.X, at.Choice)
				}
				i++
			}
		}
	}
	if i != p.Runs() {
		t.Errorf("%d runs, not %d", p.Runs(), i)
	}
}

// A plan's points do not depend on how it is cut into blocks, nor on how many runs it has where it is a
// sequence.
func TestPlanIsAddressable(t *testing.T) {
	space := &Space{Dims: []Dim{{Name: "a", High: 1 << 30, PerUnit: 1}, {Name: "b", High: 1 << 30, PerUnit: 1}}}
	for _, kind := range []PlanKind{Sobol, Halton, Random, LatinHypercube} {
		o := DefaultPlan()
		o.Kind, o.Runs = kind, 300
		whole, err := NewPlan(space, o)
		if err != nil {
			t.Fatal(err)
		}
		o.BlockRows = 7
		if kind != LatinHypercube {
			o.Runs = 400
		}
		cut, err := NewPlan(space, o)
		if err != nil {
			t.Fatal(err)
		}
		var a, b Point
		distinct := map[float64]bool{}
		for i := range int64(300) {
			whole.At(&a, i)
			cut.At(&b, i)
			if a.X[0] != b.X[0] || a.X[1] != b.X[1] {
				t.Fatalf("%s: point %d is %v, cut otherwise %v", kind, i, a.X, b.X)
			}
			distinct[a.X[0]] = true
		}
		if len(distinct) != 300 {
			t.Errorf("%s: only %d values of 300 points differ", kind, len(distinct))
		}
		o.Seed++
		other, _ := NewPlan(space, o)
		other.At(&b, 1)
		cut.At(&a, 1)
		if a.X[0] == b.X[0] {
			t.Errorf("%s: two seeds give the same point", kind)
		}
	}
}

// A small plan is cut into enough blocks for many workers, a large one into few.
func TestPlanBlocks(t *testing.T) {
	space := &Space{Dims: []Dim{{Name: "a", High: 1000, PerUnit: 1}}}
	for _, c := range []struct {
		runs   int64
		blocks int
	}{{1, 1}, {8, 1}, {9, 2}, {100, 13}, {20_000, 64}, {1_000_000, 489}} {
		o := DefaultPlan()
		o.Runs = c.runs
		p, err := NewPlan(space, o)
		if err != nil {
			t.Fatal(err)
		}
		sum := int64(0)
		for b := range p.Blocks(0) {
			sum += int64(p.Budget(0, b))
		}
		if p.Blocks(0) != c.blocks || sum != c.runs || p.Blocks(1) != 0 {
			t.Errorf("%d runs are %d blocks of %d rows in all, not %d", c.runs, p.Blocks(0), sum, c.blocks)
		}
	}
}

func TestPlanSaysWhatIsWrong(t *testing.T) {
	space := &Space{Dims: []Dim{{Name: "a", High: 10, PerUnit: 1}, {Name: "b", High: 6, Step: 2, PerUnit: 1}}}
	wide := &Space{}
	for i := range 300 {
		wide.Dims = append(wide.Dims, Dim{Name: strings.Repeat("n", i+1), High: 9, PerUnit: 1})
	}
	fixed := &Space{Dims: []Dim{{Name: "a", PerUnit: 1}}}
	for _, c := range []struct {
		space  *Space
		change func(*PlanOptions)
		says   string
	}{
		{&Space{}, func(o *PlanOptions) {}, "nothing may vary"},
		{space, func(o *PlanOptions) { o.Runs = 0 }, "the plan sobol is to have 0 runs; it may have 1 to"},
		{space, func(o *PlanOptions) { o.Runs = 1 << 40 }, "it may have 1 to"},
		{space, func(o *PlanOptions) { o.BlockRows = 0 }, "blocks of 0 rows"},
		{space, func(o *PlanOptions) { o.BlockRows, o.Runs = 1, 1<<30 }, "the blocks must be larger"},
		{space, func(o *PlanOptions) { o.Stage = -1 }, "the stage has the number -1"},
		{space, func(o *PlanOptions) { o.Kind = 99 }, "plan number 99 is not known"},
		{wide, func(o *PlanOptions) {}, "the Sobol sequence is known for 256"},
		{wide, func(o *PlanOptions) { o.Kind = Halton }, "the Halton plan takes 256"},
		{wide, func(o *PlanOptions) { o.Kind = Factorial }, "all combinations of the levels are 2.04e+90 runs"},
		{space, func(o *PlanOptions) { o.Kind, o.Levels = Factorial, []int{2, 2, 2} }, "3 numbers of levels are given for 2 numbers that vary"},
		{space, func(o *PlanOptions) { o.Kind, o.Levels = Factorial, []int{0} }, "a is to have 0 levels"},
		{space, func(o *PlanOptions) { o.Kind, o.Levels = OneAtATime, []int{5} }, "b is to have 5 levels, but only 4 values are allowed"},
		{fixed, func(o *PlanOptions) { o.Kind = OneAtATime }, "no coordinate has a value besides design"},
		{space, func(o *PlanOptions) { o.Kind = Points }, "the table of points is empty"},
		{space, func(o *PlanOptions) { o.Kind, o.Points = Points, []Point{{X: []float64{1, 2}}, {X: []float64{1, 3}}} }, "row 2 of the table of points: b is 3, which is not allowed"},
	} {
		o := DefaultPlan()
		c.change(&o)
		if _, err := NewPlan(c.space, o); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%v does not say %q", err, c.says)
		}
	}
}

func TestDefaults(t *testing.T) {
	o := DefaultPlan()
	if o.Kind != Sobol || o.Seed != 1 || o.Runs != 4096 || o.BlockRows != 2048 || !o.Scramble {
		t.Errorf("the default plan is %+v", o)
	}
	for _, kind := range PlanKinds() {
		if o.Kind = kind; kind != Points {
			if _, err := NewPlan(&Space{Dims: []Dim{{Name: "a", High: 9, PerUnit: 1}}}, o); err != nil {
				t.Errorf("%s: the defaults are refused: %v", kind, err)
			}
		}
	}
}

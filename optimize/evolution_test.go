package optimize_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"trammel/optimize"
	"trammel/optimize/problems"
	"trammel/optimize/searchtest"
)

// evolve runs differential evolution on a problem and returns its rows.
func evolve(t *testing.T, p *problems.Problem, change func(*optimize.EvolutionOptions)) []searchtest.Row {
	t.Helper()
	o := optimize.DefaultEvolution(p.Space)
	change(&o)
	e, err := optimize.NewDifferentialEvolution(p.Space, o)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := searchtest.Run(e, o.Stage, p, 2)
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func best(rows []searchtest.Row) float64 {
	b := math.Inf(1)
	for i := range rows {
		if rows[i].Status == optimize.OK {
			b = min(b, rows[i].Score)
		}
	}
	return b
}

// Differential evolution with its default options reaches the published optimum of every problem within
// a thousandth, for each of three seeds. The rows allowed are what it needs with some room; the
// harder problems have more.
func TestDifferentialEvolutionFindsPublishedOptima(t *testing.T) {
	rows := map[string]int64{"griewank-5": 40_000, "g01": 40_000, "g07": 50_000, "pressure-vessel": 60_000, "schwefel-4": 20_000}
	for _, p := range problems.All() {
		t.Run(p.Name, func(t *testing.T) {
			for seed := uint64(1); seed <= 3; seed++ {
				got := best(evolve(t, p, func(o *optimize.EvolutionOptions) {
					o.Seed = seed
					if o.Runs = 20_000; rows[p.Name] > 0 {
						o.Runs = rows[p.Name]
					}
				}))
				allowed := 1e-3 * max(1, math.Abs(p.Best))
				if p.Name == "gear-train" {
					allowed = 1e-9 // the usual mark; the second best published is 9.9e-10
				}
				if got > p.Best+allowed {
					t.Errorf("seed %d: best is %.8g, published %.8g", seed, got, p.Best)
				}
			}
		})
	}
}

// The rows are exactly as many as asked for, for budgets that fill no round, no generation, or not even
// every island.
func TestDifferentialEvolutionRows(t *testing.T) {
	p := problems.ByName("branin")
	for _, n := range []int64{1, 3, 7, 8, 95, 96, 97, 959, 960, 961, 1500} {
		if rows := evolve(t, p, func(o *optimize.EvolutionOptions) { o.Runs = n }); int64(len(rows)) != n {
			t.Errorf("%d rows asked for, %d made", n, len(rows))
		}
	}
}

// A longer search begins with the rows of a shorter one that filled its rounds.
func TestDifferentialEvolutionGoesOn(t *testing.T) {
	p := problems.ByName("g04")
	rows := func(n int64) []string {
		var all []string
		for _, r := range evolve(t, p, func(o *optimize.EvolutionOptions) { o.Runs = n }) {
			all = append(all, fmt.Sprint(r))
		}
		return all
	}
	short, long := rows(8*12*10*2), rows(4000)
	if !slices.Equal(short, long[:len(short)]) {
		t.Error("the longer search begins otherwise")
	}
}

// Starts are evaluated first, dealt to the islands in turn, with the parents they came with, and a
// single good start is never lost: the best is at least as good.
func TestDifferentialEvolutionStarts(t *testing.T) {
	p := problems.ByName("rosenbrock-5")
	var starts []optimize.Point
	for i := range 10 {
		starts = append(starts, optimize.Point{X: []float64{1, 1, 1, 1, 1 + float64(i)/1000}, Parent: int64(100 + i)})
	}
	rows := evolve(t, p, func(o *optimize.EvolutionOptions) { o.Runs, o.Starts = 2000, starts })
	seen := 0
	for _, r := range rows {
		for i := range starts {
			if slices.Equal(r.X, starts[i].X) && r.Parent == starts[i].Parent {
				seen++
				if island, place := r.Run/optimize.BlockRows%8, r.Run%optimize.BlockRows; island != int64(i%8) || place != int64(i/8) {
					t.Errorf("start %d is row %d of island %d", i, place, island)
				}
			}
		}
	}
	if seen != len(starts) {
		t.Errorf("%d of %d starts evaluated", seen, len(starts))
	}
	if b := best(rows); b != 0 {
		t.Errorf("started at the optimum, but the best is %g", b)
	}
}

// Islands that begin anew do so from points that no beginning had before, and the starts are used once.
func TestDifferentialEvolutionBeginsAnew(t *testing.T) {
	p := problems.ByName("branin")
	start := optimize.Point{X: []float64{1.5, 2.5}, Parent: 77}
	rows := evolve(t, p, func(o *optimize.EvolutionOptions) { o.Spread, o.Runs, o.Starts = 0.9, 4000, []optimize.Point{start} })
	first := map[string]bool{}
	starts, anew := 0, 0
	for _, r := range rows {
		switch {
		case r.Parent == start.Parent:
			starts++
		case r.Parent == optimize.NoParent:
			if first[fmt.Sprint(r.X)] {
				t.Fatalf("run %d begins from %v for the second time", r.Run, r.X)
			}
			first[fmt.Sprint(r.X)] = true
			if r.Iteration > 0 {
				anew++
			}
		}
	}
	if starts != 1 || anew < 12*8 {
		t.Errorf("the start was used %d times, and %d members were begun anew", starts, anew)
	}
}

// In a stepped space few points are evaluated twice: with 961 points and 300 runs that crowd about
// three minima, less than one in ten.
func TestDifferentialEvolutionRepeatsLittle(t *testing.T) {
	p := *problems.ByName("branin")
	p.Space = &optimize.Space{Dims: []optimize.Dim{
		{Name: "a", Low: -5_000_000, High: 10_000_000, Design: -5_000_000, Step: 500_000, PerUnit: 1_000_000},
		{Name: "b", Low: 0, High: 15_000_000, Step: 500_000, PerUnit: 1_000_000},
	}}
	rows := evolve(t, &p, func(o *optimize.EvolutionOptions) { o.Runs, o.Islands = 300, 1 })
	known := map[string]bool{}
	for _, r := range rows {
		known[fmt.Sprint(r.X)] = true
	}
	if len(known) < 9*len(rows)/10 {
		t.Errorf("only %d of %d points differ", len(known), len(rows))
	}
}

// A search among failures comes out of them: nothing of the first generation assembles in the ruins for
// most islands, and yet it ends feasible.
func TestDifferentialEvolutionClimbsOutOfFailure(t *testing.T) {
	p := problems.ByName("island-in-ruins")
	for seed := uint64(1); seed <= 5; seed++ {
		rows := evolve(t, p, func(o *optimize.EvolutionOptions) { o.Runs, o.Seed = 8000, seed })
		failed := 0
		for _, r := range rows[:96] {
			if r.Status.Failed() {
				failed++
			}
		}
		if failed < 48 || math.IsInf(best(rows), 1) {
			t.Errorf("seed %d: %d of the first 96 failed, best is %g", seed, failed, best(rows))
		}
	}
}

func TestDifferentialEvolutionSaysWhatIsWrong(t *testing.T) {
	space := box(3)
	tiny := &optimize.Space{Dims: []optimize.Dim{{Name: "a", High: 7, PerUnit: 1}}}
	for _, c := range []struct {
		space  *optimize.Space
		change func(*optimize.EvolutionOptions)
		says   string
	}{
		{&optimize.Space{}, func(o *optimize.EvolutionOptions) {}, "nothing may vary"},
		{tiny, func(o *optimize.EvolutionOptions) {}, "only 8 points are allowed, no more than the 12 members of a population"},
		{space, func(o *optimize.EvolutionOptions) { o.Runs = 0 }, "the search is to have 0 runs"},
		{space, func(o *optimize.EvolutionOptions) { o.Islands = 0 }, "the search is to have 0 islands"},
		{space, func(o *optimize.EvolutionOptions) { o.Population = 4 }, "the search is to have 4 members of an island; 5 to 1000 are possible"},
		{space, func(o *optimize.EvolutionOptions) { o.Generations = 100_000 }, "a block has at most 100000 rows"},
		{space, func(o *optimize.EvolutionOptions) { o.Memory = 0 }, "0 places of the memory"},
		{space, func(o *optimize.EvolutionOptions) { o.Apart = -1 }, "-1 meetings apart"},
		{space, func(o *optimize.EvolutionOptions) { o.Renewal = math.NaN() }, "the chance of drawing a choice anew is NaN"},
		{space, func(o *optimize.EvolutionOptions) { o.Spread = 1 }, "the spread at which an island begins anew is 1"},
		{space, func(o *optimize.EvolutionOptions) { o.Stage = 900 }, "the stage has the number 900"},
		{space, func(o *optimize.EvolutionOptions) { o.Starts = make([]optimize.Point, 97) }, "97 starts are given; the first generation has room for 96"},
		{space, func(o *optimize.EvolutionOptions) { o.Starts = []optimize.Point{{X: []float64{0, 0, 21}}} }, "start 1 of the search: c is 21, which is not allowed"},
		{box(26), func(o *optimize.EvolutionOptions) {}, ""},
	} {
		o := optimize.DefaultEvolution(c.space)
		c.change(&o)
		_, err := optimize.NewDifferentialEvolution(c.space, o)
		if c.says == "" && err != nil || c.says != "" && (err == nil || !strings.Contains(err.Error(), c.says)) {
			t.Errorf("%v does not say %q", err, c.says)
		}
	}
}

func TestDefaultEvolution(t *testing.T) {
	got := optimize.DefaultEvolution(box(10))
	want := optimize.EvolutionOptions{Seed: 1, Stage: 1, Runs: 20_000, Islands: 8, Population: 14, Generations: 10, Memory: 6, Renewal: 0.1, Spread: 1e-6, Apart: 6}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("the defaults are %+v, documented %+v", got, want)
	}
}

// FuzzState hands damaged states to every searcher: an error or a searcher that goes on, never a panic,
// and never a point that is not allowed.
func FuzzState(f *testing.F) {
	p := problems.ByName("branin-three-sides")
	o := optimize.DefaultEvolution(p.Space)
	o.Islands, o.Population, o.Generations = 1, 6, 4
	e, err := optimize.NewDifferentialEvolution(p.Space, o)
	if err != nil {
		f.Fatal(err)
	}
	s := e.Start(0, 0)
	f.Add(s.AppendState(nil))
	learn := func(s optimize.Searcher) []optimize.Point {
		points := s.Propose(nil, 24)
		outcomes := make([]optimize.Outcome, len(points))
		for i := range points {
			outcomes[i].X = points[i].X
			p.Evaluator().Evaluate(&points[i], &outcomes[i])
		}
		s.Learn(outcomes)
		return points
	}
	learn(s)
	learn(s)
	f.Add(s.AppendState(nil))
	f.Fuzz(func(t *testing.T, state []byte) {
		s := e.Start(0, 0)
		if s.Restore(state) != nil {
			return
		}
		for range 3 {
			for _, at := range learn(s) {
				if err := p.Space.Allows(&at); err != nil {
					t.Fatal(err)
				}
			}
		}
		if s.Restore(s.AppendState(nil)) != nil {
			t.Fatal("a state made is not taken back")
		}
	})
}

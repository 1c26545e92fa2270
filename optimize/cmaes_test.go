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

// adapt runs the search on a problem and returns its rows.
func adapt(t *testing.T, p *problems.Problem, change func(*optimize.CMAOptions)) []searchtest.Row {
	t.Helper()
	o := optimize.DefaultCMA(p.Space)
	change(&o)
	c, err := optimize.NewCMA(p.Space, o)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := searchtest.Run(c, o.Stage, p, 2)
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// The search with its default options reaches the published optimum of every problem within a thousandth,
// for each of three seeds. The rows allowed are what it needs with some room; the problems of many minima
// have more.
func TestCMAFindsPublishedOptima(t *testing.T) {
	rows := map[string]int64{"rastrigin-4": 60_000, "griewank-5": 160_000, "schwefel-4": 60_000, "eggholder": 60_000, "g01": 160_000,
		"g07": 30_000, "g12": 120_000, "gear-train": 120_000, "rastrigin-4-stepped": 60_000}
	for _, p := range problems.All() {
		t.Run(p.Name, func(t *testing.T) {
			for seed := uint64(1); seed <= 3; seed++ {
				got := best(adapt(t, p, func(o *optimize.CMAOptions) {
					o.Seed = seed
					if o.Runs = 15_000; rows[p.Name] > 0 {
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

// valley returns a space of n numbers from -5 to 5 and a problem on it.
func valley(n int, score func(x []float64) float64) *problems.Problem {
	s := &optimize.Space{}
	for i := range n {
		s.Dims = append(s.Dims, optimize.Dim{Name: string(rune('a' + i)), Low: -5_000_000_000, High: 5_000_000_000, PerUnit: 1_000_000_000})
	}
	return &problems.Problem{Space: s, Score: func(x []float64, _ []int) float64 { return score(x) }}
}

// One restart needs about as many evaluations as are published for the sphere, the ellipsoid of condition
// 10⁶ and the function of Rosenbrock in 10 dimensions: about 1800, 6000 and 7000 to 1e-9, from memory of
// N. Hansen, "The CMA evolution strategy: a comparing review" (2006) and the BBOB-2009 tables; medians of
// five seeds within one and a half times that.
func TestCMAIsAsFastAsPublished(t *testing.T) {
	for _, c := range []struct {
		name      string
		score     func(x []float64) float64
		published int
	}{
		{"sphere", func(x []float64) (f float64) {
			for _, v := range x {
				f += (v - 1) * (v - 1)
			}
			return f
		}, 1800},
		{"ellipsoid", func(x []float64) (f float64) {
			for i, v := range x {
				f += math.Pow(10, 6*float64(i)/float64(len(x)-1)) * (v - 1) * (v - 1)
			}
			return f
		}, 6000},
		{"rosenbrock", func(x []float64) (f float64) {
			for i := range len(x) - 1 {
				f += 100*(x[i+1]-x[i]*x[i])*(x[i+1]-x[i]*x[i]) + (1-x[i])*(1-x[i])
			}
			return f
		}, 7000},
	} {
		var needed []int
		for seed := uint64(1); seed <= 5; seed++ {
			rows := adapt(t, valley(10, c.score), func(o *optimize.CMAOptions) { o.Seed, o.Islands, o.Runs = seed, 1, 20_000 })
			n := slices.IndexFunc(rows, func(r searchtest.Row) bool { return r.Score <= 1e-9 })
			if n < 0 {
				n = len(rows)
			}
			needed = append(needed, n)
		}
		slices.Sort(needed)
		if needed[2] > c.published*3/2 || needed[2] < c.published/3 {
			t.Errorf("%s: %d evaluations, published about %d", c.name, needed, c.published)
		}
	}
}

// A slope that ends in a corner is followed to the very corner, in a few hundred evaluations.
func TestCMAReachesBounds(t *testing.T) {
	p := valley(6, func(x []float64) (f float64) {
		for i, v := range x {
			f += float64(i+1) * v
		}
		return f
	})
	rows := adapt(t, p, func(o *optimize.CMAOptions) { o.Islands, o.Runs = 1, 3000 })
	if b := best(rows); b != -105 {
		t.Errorf("the best is %v; the corner has -105", b)
	}
}

// Rows are exactly as many as asked for, for budgets that fill no round, no generation or not even
// every island, and a longer search begins with the rows of a shorter one that filled its rounds.
func TestCMARows(t *testing.T) {
	p := problems.ByName("branin-three-sides")
	for _, n := range []int64{1, 3, 7, 8, 95, 499, 500, 501, 2000, 2001} {
		if rows := adapt(t, p, func(o *optimize.CMAOptions) { o.Runs = n }); int64(len(rows)) != n {
			t.Errorf("%d rows asked for, %d made", n, len(rows))
		}
	}
	short := adapt(t, p, func(o *optimize.CMAOptions) { o.Runs = 4000 })
	long := adapt(t, p, func(o *optimize.CMAOptions) { o.Runs = 5000 })
	if fmt.Sprint(short) != fmt.Sprint(long[:len(short)]) {
		t.Error("the longer search begins otherwise")
	}
}

// Each start is the first point of a restart, with the parent it came with, so that the best is at least as
// good as the best start.
func TestCMAStarts(t *testing.T) {
	p := problems.ByName("rosenbrock-5")
	var starts []optimize.Point
	for i := range 6 {
		starts = append(starts, optimize.Point{X: []float64{1, 1, 1, 1, 1 + float64(i)/1000}, Parent: int64(100 + i)})
	}
	rows := adapt(t, p, func(o *optimize.CMAOptions) { o.Runs, o.Starts = 20_000, starts })
	for i, s := range starts {
		if n := slices.IndexFunc(rows, func(r searchtest.Row) bool { return slices.Equal(r.X, s.X) && r.Parent == s.Parent }); n < 0 {
			t.Errorf("start %d is not among the rows", i)
		}
	}
	if b := best(rows); b != 0 {
		t.Errorf("started at the optimum, but the best is %g", b)
	}
}

// Restarts come in two regimes, and the small ones take every combination of the choices.
func TestCMATakesEveryCombination(t *testing.T) {
	p := *problems.ByName("branin")
	space := *p.Space
	for _, name := range []string{"spring", "joint"} {
		space.Choices = append(space.Choices, optimize.Choice{Name: name, Options: []string{"a", "b", "c"}})
	}
	p.Space = &space
	score := p.Score
	p.Score = func(x []float64, option []int) float64 { // the worse, the later all options but one look
		return score(x, nil) + 100*float64(option[0]) + 10*float64(option[1]) - 500*float64(option[0]/2*(option[1]/2))
	}
	rows := adapt(t, &p, func(o *optimize.CMAOptions) { o.Runs = 20_000 })
	if b := best(rows); b > 0.397888+220-500 {
		t.Errorf("the best is %g, but the last combination reaches %g", b, 0.397887+220-500)
	}
}

func TestCMASaysWhatIsWrong(t *testing.T) {
	space := box(3)
	tiny := &optimize.Space{Dims: []optimize.Dim{{Name: "a", High: 3, PerUnit: 1}}}
	fixed := &optimize.Space{Dims: []optimize.Dim{{Name: "a", PerUnit: 1}}, Choices: []optimize.Choice{{Name: "b", Options: []string{"c", "d"}}}}
	for _, c := range []struct {
		space  *optimize.Space
		change func(*optimize.CMAOptions)
		says   string
	}{
		{&optimize.Space{}, func(o *optimize.CMAOptions) {}, "nothing may vary"},
		{tiny, func(o *optimize.CMAOptions) {}, "only 4 points are allowed, no more than the 4 members of a population"},
		{fixed, func(o *optimize.CMAOptions) {}, "none has more than one value here"},
		{space, func(o *optimize.CMAOptions) { o.Runs = 0 }, "the search is to have 0 runs"},
		{space, func(o *optimize.CMAOptions) { o.Islands = 0 }, "the search is to have 0 islands"},
		{space, func(o *optimize.CMAOptions) { o.RoundRows = 0 }, "0 rows of an island in a round"},
		{space, func(o *optimize.CMAOptions) { o.Population = 3 }, "3 members of a population; 4 to 1000 are possible"},
		{space, func(o *optimize.CMAOptions) { o.Doublings = 13 }, "13 doublings"},
		{space, func(o *optimize.CMAOptions) { o.Width = 2 }, "a width of 2 of the box"},
		{space, func(o *optimize.CMAOptions) { o.Near = math.NaN() }, "a width of NaN of the box"},
		{space, func(o *optimize.CMAOptions) { o.Spread = -1 }, "the spread at which a restart is over is -1"},
		{space, func(o *optimize.CMAOptions) { o.Stage = 900 }, "the stage has the number 900"},
		{space, func(o *optimize.CMAOptions) { o.Starts = []optimize.Point{{X: []float64{0, 0, 21}}} }, "start 1 of the search: c is 21, which is not allowed"},
		{box(26), func(o *optimize.CMAOptions) {}, ""},
	} {
		o := optimize.DefaultCMA(c.space)
		c.change(&o)
		_, err := optimize.NewCMA(c.space, o)
		if c.says == "" && err != nil || c.says != "" && (err == nil || !strings.Contains(err.Error(), c.says)) {
			t.Errorf("%v does not say %q", err, c.says)
		}
	}
}

func TestDefaultCMA(t *testing.T) {
	got := optimize.DefaultCMA(box(10))
	want := optimize.CMAOptions{Seed: 1, Stage: 1, Runs: 20_000, Islands: 4, RoundRows: 500, Population: 10, Doublings: 9, Width: 0.3, Near: 0.05, Spread: 1e-9}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("the defaults are %+v, documented %+v", got, want)
	}
}

// fuzzStates hands damaged states to a searcher: an error or a searcher that goes on, never a panic, and
// never a point that is not allowed.
func fuzzStates(f *testing.F, p *problems.Problem, start func() optimize.Searcher) {
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
	s := start()
	for range 4 {
		f.Add(s.AppendState(nil))
		learn(s)
	}
	f.Fuzz(func(t *testing.T, state []byte) {
		s := start()
		if s.Restore(state) != nil {
			return
		}
		for range 4 {
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

func FuzzCMAState(f *testing.F) {
	p := problems.ByName("branin-three-sides")
	o := optimize.DefaultCMA(p.Space)
	o.Islands = 1
	c, err := optimize.NewCMA(p.Space, o)
	if err != nil {
		f.Fatal(err)
	}
	fuzzStates(f, p, func() optimize.Searcher { return c.Start(0, 0) })
}

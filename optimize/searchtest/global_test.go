package searchtest_test

import (
	"math"
	"testing"

	"trammel/optimize"
	"trammel/optimize/problems"
	"trammel/optimize/searchtest"
)

func TestCMA(t *testing.T) {
	searchtest.All(t, func(space *optimize.Space, seed uint64, rows int64) (optimize.Stage, error) {
		o := optimize.DefaultCMA(space)
		o.Seed, o.Stage, o.Runs, o.Islands, o.RoundRows = seed, searchtest.Stage, rows, 5, 77
		return optimize.NewCMA(space, o)
	})
}

// Restarts that come soon, with starts, keep every promise too.
func TestCMAWithStarts(t *testing.T) {
	for _, name := range []string{"branin-three-sides", "gear-train", "island-in-ruins"} {
		searchtest.One(t, func(space *optimize.Space, seed uint64, rows int64) (optimize.Stage, error) {
			o := optimize.DefaultCMA(space)
			o.Seed, o.Stage, o.Runs, o.Islands, o.RoundRows, o.Spread = seed, searchtest.Stage, rows, 3, 50, 0.5
			o.Starts = table(space, seed, 20)
			return optimize.NewCMA(space, o)
		}, problems.ByName(name))
	}
}

// traded returns a problem with two aims made of one without: its score above the optimum, and the distance from
// the middle of the box, as a share of it.
func traded(p *problems.Problem) *problems.Problem {
	q := *p
	q.Name = "traded " + p.Name
	q.Aims = func(r, x []float64, option []int) []float64 {
		far := 0.0
		for i := range x {
			d := &p.Space.Dims[i]
			low, high := p.Space.Value(i, d.Low), p.Space.Value(i, d.High)
			far += math.Abs(2*x[i]-low-high) / (high - low)
		}
		return append(r, p.Score(x, option)-p.Best, far)
	}
	return &q
}

func tradeBetween(m int, change func(*optimize.TradeOptions)) searchtest.Make {
	return func(space *optimize.Space, seed uint64, rows int64) (optimize.Stage, error) {
		var aims []optimize.Aim
		for k := range m {
			aims = append(aims, optimize.Aim{Rows: []int{k}, Scale: 1})
		}
		o := optimize.DefaultTrade(aims)
		o.Seed, o.Stage, o.Runs, o.Islands, o.Population, o.Generations, o.Archive = seed, searchtest.Stage, rows, 5, 11, 3, 30
		change(&o)
		return optimize.NewTrade(space, o)
	}
}

func TestTrade(t *testing.T) {
	for _, p := range problems.All() {
		t.Run(p.Name, func(t *testing.T) {
			searchtest.One(t, tradeBetween(2, func(*optimize.TradeOptions) {}), traded(p))
		})
	}
}

func TestTradeOfManyAims(t *testing.T) {
	for _, name := range []string{"dtlz2-3", "dtlz1-5", "bnh"} {
		t.Run(name, func(t *testing.T) {
			p := problems.FrontByName(name)
			searchtest.One(t, tradeBetween(p.Objectives, func(o *optimize.TradeOptions) { o.Reference = p.Reference }), &p.Problem)
		})
	}
}

func TestTradeWithStarts(t *testing.T) {
	p := traded(problems.ByName("branin-three-sides"))
	searchtest.One(t, tradeBetween(2, func(o *optimize.TradeOptions) { o.Starts = table(p.Space, 5, 40) }), p)
}

// A polish, with derivatives and limits, with derivatives that are not finite, and without any, keeps every
// promise too.
func TestTradeWithPolish(t *testing.T) {
	polish := func(o *optimize.TradeOptions) { o.Polish = 600 }
	for _, name := range []string{"bnh", "zdt1", "dtlz2-2"} {
		t.Run(name, func(t *testing.T) {
			searchtest.One(t, tradeBetween(2, polish), &problems.FrontByName(name).Problem)
		})
	}
	t.Run("choices", func(t *testing.T) {
		searchtest.One(t, tradeBetween(2, polish), traded(problems.ByName("branin-three-sides")))
	})
}

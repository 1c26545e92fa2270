package searchtest_test

import (
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

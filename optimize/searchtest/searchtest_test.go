package searchtest_test

import (
	"testing"

	"trammel/optimize"
	"trammel/optimize/problems"
	"trammel/optimize/searchtest"
)

// Every kind of plan and every search passes the suite on every problem. A new kind of plan is in
// PlanKinds and so comes here by itself.
func TestPlans(t *testing.T) {
	for _, kind := range optimize.PlanKinds() {
		t.Run(kind.String(), func(t *testing.T) {
			searchtest.All(t, func(space *optimize.Space, seed uint64, rows int64) (optimize.Stage, error) {
				o := optimize.DefaultPlan()
				o.Kind, o.Seed, o.Stage, o.Runs = kind, seed, searchtest.Stage, rows
				switch {
				case kind == optimize.Points:
					o.Points = table(space, seed, 100)
				case kind == optimize.Factorial && len(space.Dims) > 7:
					o.Levels = []int{1}
					for len(o.Levels) < len(space.Dims) {
						o.Levels = append(o.Levels, 1+len(o.Levels)%2)
					}
				case kind == optimize.OneAtATime:
					o.Levels = []int{6}
				}
				return optimize.NewPlan(space, o)
			})
		})
	}
}

// table returns allowed points to make a plan of.
func table(space *optimize.Space, seed uint64, n int) []optimize.Point {
	o := optimize.DefaultPlan()
	o.Kind, o.Seed, o.Runs = optimize.Random, seed+1, int64(n)
	p, err := optimize.NewPlan(space, o)
	if err != nil {
		panic(err)
	}
	points := make([]optimize.Point, n)
	for i := range points {
		p.At(&points[i], int64(i))
	}
	return points
}

func TestDifferentialEvolution(t *testing.T) {
	searchtest.All(t, func(space *optimize.Space, seed uint64, rows int64) (optimize.Stage, error) {
		o := optimize.DefaultEvolution(space)
		o.Seed, o.Stage, o.Runs, o.Islands, o.Generations = seed, searchtest.Stage, rows, 5, 4
		return optimize.NewDifferentialEvolution(space, o)
	})
}

// Islands that begin anew, with starts, keep every promise too.
func TestDifferentialEvolutionAnew(t *testing.T) {
	p := *problems.ByName("branin-three-sides")
	searchtest.One(t, func(space *optimize.Space, seed uint64, rows int64) (optimize.Stage, error) {
		o := optimize.DefaultEvolution(space)
		o.Seed, o.Stage, o.Runs, o.Islands, o.Population, o.Spread, o.Apart = seed, searchtest.Stage, rows, 3, 8, 0.5, 2
		o.Starts = table(space, seed, 20)
		return optimize.NewDifferentialEvolution(space, o)
	}, &p)
}

func refine(space *optimize.Space, seed uint64, _ int64) (optimize.Stage, error) {
	o := optimize.DefaultRefine(space)
	o.Seed, o.Stage, o.Searches, o.Together, o.Screen, o.Rows = seed, searchtest.Stage, 8, 4, 40, 150
	return optimize.NewRefine(space, o)
}

func TestRefine(t *testing.T) { searchtest.All(t, refine) }

// Refinements from given starts alone, with searches cut short, keep every promise too.
func TestRefineFromStarts(t *testing.T) {
	for _, name := range []string{"branin-three-sides", "pressure-vessel", "g09", "g04", "island-in-ruins"} {
		searchtest.One(t, func(space *optimize.Space, seed uint64, _ int64) (optimize.Stage, error) {
			o := optimize.DefaultRefine(space)
			o.Seed, o.Stage, o.Searches, o.Together, o.Screen, o.Rows = seed, searchtest.Stage, 12, 5, 0, 9
			o.Starts = table(space, seed, 40)
			return optimize.NewRefine(space, o)
		}, problems.ByName(name))
	}
}

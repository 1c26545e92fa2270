package optimize_test

import (
	"math"
	"slices"
	"testing"

	"trammel/optimize"
	"trammel/optimize/problems"
	"trammel/optimize/searchtest"
)

// seedsOf is how many seeds a measurement has: n, and three where it is only to be seen to work (-short).
func seedsOf(n int) int {
	if testing.Short() {
		return 3
	}
	return n
}

// evaluations returns after how many rows a score is reached, were the islands of a round to take turns, and
// more than all rows if it is not.
func evaluations(rows []searchtest.Row, islands, each int, target float64) int {
	least := math.MaxInt
	for i := range rows {
		r := &rows[i]
		if r.Status != optimize.OK || r.Score > target {
			continue
		}
		block, index := int(r.Run/optimize.BlockRows%optimize.StageBlocks), int(r.Run%optimize.BlockRows)
		least = min(least, block/islands*islands*each+index*islands+block%islands+1)
	}
	return least
}

// BenchmarkEvaluations measures how many evaluations the searches need to come within a thousandth of the
// published optimum: successes of 51 seeds, the median, and all evaluations spent over the successes.
func BenchmarkEvaluations(b *testing.B) {
	const rows = 40_000
	seeds := seedsOf(51)
	searches := []struct {
		name    string
		islands int
		start   func(p *problems.Problem, seed uint64) (optimize.Stage, int, error)
	}{
		{"cma-es-1", 1, func(p *problems.Problem, seed uint64) (optimize.Stage, int, error) {
			o := optimize.DefaultCMA(p.Space)
			o.Seed, o.Runs, o.Islands = seed, rows, 1
			s, err := optimize.NewCMA(p.Space, o)
			return s, o.RoundRows, err
		}},
		{"cma-es-4", 4, func(p *problems.Problem, seed uint64) (optimize.Stage, int, error) {
			o := optimize.DefaultCMA(p.Space)
			o.Seed, o.Runs = seed, rows
			s, err := optimize.NewCMA(p.Space, o)
			return s, o.RoundRows, err
		}},
		{"differential-evolution", 8, func(p *problems.Problem, seed uint64) (optimize.Stage, int, error) {
			o := optimize.DefaultEvolution(p.Space)
			o.Seed, o.Runs = seed, rows
			s, err := optimize.NewDifferentialEvolution(p.Space, o)
			return s, o.Population * o.Generations, err
		}},
	}
	for _, p := range problems.All() {
		target := p.Best + 1e-3*max(1, math.Abs(p.Best))
		if p.Name == "gear-train" {
			target = 1e-9
		}
		for _, s := range searches {
			b.Run(p.Name+"/"+s.name, func(b *testing.B) {
				for b.Loop() {
					var needed []int
					hits, spent := 0, 0
					for seed := uint64(1); seed <= uint64(seeds); seed++ {
						stage, each, err := s.start(p, seed)
						if err != nil {
							b.Fatal(err)
						}
						all, err := searchtest.Run(stage, 1, p, 1)
						if err != nil {
							b.Fatal(err)
						}
						n := evaluations(all, s.islands, each, target)
						needed = append(needed, n)
						if n <= rows {
							hits++
						}
						spent += min(n, rows)
					}
					slices.Sort(needed)
					b.ReportMetric(float64(hits), "successes")
					b.ReportMetric(float64(min(needed[seeds/2], rows+1)), "median")
					b.ReportMetric(float64(spent)/float64(max(hits, 1)), "spent/success")
					b.ReportMetric(0, "ns/op")
				}
			})
		}
	}
}

// BenchmarkFronts measures what a trade with its default options falls short of the published hypervolume
// of the whole front, and how far its points lie off it: medians of 11 seeds.
func BenchmarkFronts(b *testing.B) {
	frontSeeds := seedsOf(11)
	for _, p := range problems.Fronts() {
		b.Run(p.Name, func(b *testing.B) {
			for b.Loop() {
				var short, off []float64
				for seed := uint64(1); seed <= uint64(frontSeeds); seed++ {
					o := optimize.DefaultTrade(aims(p.Objectives))
					o.Seed, o.Runs, o.Reference, o.Archive = seed, 25_000, p.Reference, 100
					s, err := optimize.NewTrade(p.Space, o)
					if err != nil {
						b.Fatal(err)
					}
					if _, err := searchtest.Run(s, 1, &p.Problem, 1); err != nil {
						b.Fatal(err)
					}
					mean := 0.0
					for _, f := range s.Front() {
						mean += p.Off(f.F) / float64(len(s.Front()))
					}
					h := s.History()
					short, off = append(short, p.Volume-h[len(h)-1].Volume), append(off, mean)
				}
				slices.Sort(short)
				slices.Sort(off)
				b.ReportMetric(short[frontSeeds/2], "short")
				b.ReportMetric(off[frontSeeds/2], "off")
				b.ReportMetric(0, "ns/op")
			}
		})
	}
}

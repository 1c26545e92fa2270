package optimize_test

import (
	"context"
	"math"
	"slices"
	"testing"

	"trammel/optimize"
	"trammel/optimize/problems"
)

// target is the score that counts as reached: the published optimum and a thousandth of it, or 1e-6
// or the digits of its source where that is 0, but for the gear train its usual mark.
func target(p *problems.Problem) float64 {
	switch {
	case p.Name == "gear-train":
		return 1e-9
	case p.Best == 0:
		return max(1e-6, p.Tolerance)
	}
	return p.Best + 1e-3*math.Abs(p.Best)
}

// reach runs a stage until a row keeps the limits and reaches the target. It returns the rows until then, how
// many of them were asked with derivatives, and whether it was reached.
func reach(b *testing.B, stage optimize.Stage, p *problems.Problem, goal float64, most int) (rows, derived int, reached bool) {
	var scratch optimize.BlockScratch
	e := p.Evaluator()
	_, squares := p.SumsOfSquares()
	for round := 0; stage.Blocks(round) > 0 && !reached && rows < most; round++ {
		var states [][]byte
		for k := range stage.Blocks(round) {
			s := stage.Start(round, k)
			if _, err := optimize.RunBlock(context.Background(), s, e, stage.Budget(round, k), &scratch, func(_ int, at *optimize.Point, o *optimize.Outcome) {
				if reached {
					return
				}
				rows++
				if at.Derivatives && squares {
					derived++
				}
				reached = o.Status == optimize.OK && o.Score <= goal
			}); err != nil {
				b.Fatal(err)
			}
			states = append(states, s.AppendState(nil))
		}
		if err := stage.Meet(round, states); err != nil {
			b.Fatal(err)
		}
	}
	return rows, derived, reached
}

// BenchmarkToTarget tells how many rows refining and differential evolution need to come to a target, on
// every problem: the median over 51 seeds, those that never come there counted as infinite, the share
// that does, and how many of the median's rows bring derivatives. Run it with -benchtime 1x. Rows of blocks
// that stand side by side are counted as if they were run one after the other.
func BenchmarkToTarget(b *testing.B) {
	const most = 20_000
	seeds := seedsOf(51)
	for _, p := range problems.All() {
		for _, method := range []string{"refine", "evolution"} {
			b.Run(p.Name+"/"+method, func(b *testing.B) {
				type run struct{ rows, derived int }
				var runs []run
				successes := 0
				for seed := range uint64(seeds) {
					var stage optimize.Stage
					var err error
					if method == "refine" {
						o := optimize.DefaultRefine(p.Space)
						o.Seed, o.Searches = seed, 100_000
						stage, err = optimize.NewRefine(p.Space, o)
					} else {
						o := optimize.DefaultEvolution(p.Space)
						o.Seed, o.Runs = seed, most
						stage, err = optimize.NewDifferentialEvolution(p.Space, o)
					}
					if err != nil {
						b.Fatal(err)
					}
					rows, derived, reached := reach(b, stage, p, target(p), most)
					if reached {
						successes++
					} else {
						rows = math.MaxInt32
					}
					runs = append(runs, run{rows, derived})
				}
				slices.SortFunc(runs, func(x, y run) int { return x.rows - y.rows })
				median := runs[seeds/2]
				if median.rows == math.MaxInt32 {
					b.ReportMetric(math.Inf(1), "rows")
				} else {
					b.ReportMetric(float64(median.rows), "rows")
					b.ReportMetric(float64(median.derived), "derived")
				}
				b.ReportMetric(100*float64(successes)/float64(seeds), "%reached")
				b.ReportMetric(0, "ns/op")
			})
		}
	}
}

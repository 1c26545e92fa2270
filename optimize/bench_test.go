package optimize_test

import (
	"context"
	"testing"

	"trammel/optimize"
)

// box returns a space of n continuous numbers, -20 to 20 mm in thousandths.
func box(n int) *optimize.Space {
	s := &optimize.Space{}
	for i := range n {
		s.Dims = append(s.Dims, optimize.Dim{Name: string(rune('a' + i)), Low: -20_000, High: 20_000, PerUnit: 1000})
	}
	return s
}

// nothing is an evaluator that costs next to nothing.
type nothing struct{}

func (nothing) Evaluate(p *optimize.Point, o *optimize.Outcome) {
	for _, x := range p.X {
		o.Score += x * x
	}
}

func plan(tb testing.TB, s *optimize.Space, change func(*optimize.PlanOptions)) *optimize.Plan {
	tb.Helper()
	o := optimize.DefaultPlan()
	change(&o)
	p, err := optimize.NewPlan(s, o)
	if err != nil {
		tb.Fatal(err)
	}
	return p
}

// BenchmarkBookkeeping measures what a candidate costs besides its evaluation, in 10 dimensions: time
// and allocations per candidate over whole blocks.
func BenchmarkBookkeeping(b *testing.B) {
	space := box(10)
	for _, kind := range []optimize.PlanKind{optimize.Sobol, optimize.LatinHypercube, optimize.Halton, optimize.Random, optimize.Factorial} {
		b.Run(kind.String(), func(b *testing.B) {
			benchmarkStage(b, plan(b, space, func(o *optimize.PlanOptions) { o.Kind, o.Runs, o.Levels = kind, 1<<20, []int{4} }))
		})
	}
	b.Run("differential-evolution", func(b *testing.B) {
		o := optimize.DefaultEvolution(space)
		o.Runs, o.Generations = 1<<20, 1000
		e, err := optimize.NewDifferentialEvolution(space, o)
		if err != nil {
			b.Fatal(err)
		}
		benchmarkStage(b, e)
	})
}

func benchmarkStage(b *testing.B, s optimize.Stage) { benchmarkStageOf(b, s, nothing{}) }

func benchmarkStageOf(b *testing.B, s optimize.Stage, e optimize.Evaluator) {
	var scratch optimize.BlockScratch
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	b.ReportAllocs()
	rows, block := 0, 0
	for rows < b.N {
		if block == s.Blocks(0) {
			block = 0
		}
		_, err := optimize.RunBlock(ctx, s.Start(0, block), e, min(s.Budget(0, block), b.N-rows), &scratch, func(int, *optimize.Point, *optimize.Outcome) { rows++ })
		if err != nil {
			b.Fatal(err)
		}
		block++
	}
}

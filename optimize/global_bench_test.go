package optimize_test

import (
	"testing"

	"trammel/optimize"
)

// BenchmarkGlobalBookkeeping measures what a candidate of cma-es and of a trade costs besides its
// evaluation, in 10 dimensions, over whole blocks.
func BenchmarkGlobalBookkeeping(b *testing.B) {
	space := box(10)
	b.Run("cma-es", func(b *testing.B) {
		o := optimize.DefaultCMA(space)
		o.Runs, o.RoundRows = 1<<20, 10_000
		c, err := optimize.NewCMA(space, o)
		if err != nil {
			b.Fatal(err)
		}
		benchmarkStage(b, c)
	})
	b.Run("trade", func(b *testing.B) {
		o := optimize.DefaultTrade(aims(2))
		o.Runs, o.Generations = 1<<20, 1000
		s, err := optimize.NewTrade(space, o)
		if err != nil {
			b.Fatal(err)
		}
		benchmarkStageOf(b, s, twoAims{})
	})
}

// twoAims is an evaluator of two paraboloids that costs next to nothing.
type twoAims struct{}

func (twoAims) Evaluate(p *optimize.Point, o *optimize.Outcome) {
	var f, g float64
	for _, x := range p.X {
		f += (x - 3) * (x - 3)
		g += (x + 3) * (x + 3)
	}
	o.R = append(o.R, f, g)
	o.Score = f + g
}

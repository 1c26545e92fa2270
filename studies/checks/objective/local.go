package main

import (
	"context"
	"math"

	"trammel/optimize"
	"trammel/optimize/leastsquares"
	"trammel/studies"
)

// restart returns start number k of a sequence, in a box of length 1: point k + 1000·sequence of the additive recurrence
// of the generalised golden ratio (M. Roberts, "The unreasonable effectiveness of quasirandom sequences", 2018), which
// searches.py computes too, so that other searches start at the same points.
func restart(n, sequence, k int) []float64 {
	ratio := 2.0
	for range 50 {
		ratio = math.Pow(1+ratio, 1/float64(n+1))
	}
	u := make([]float64, n)
	for i := range u {
		_, u[i] = math.Modf(0.5 + float64(k+1+1000*sequence)/math.Pow(ratio, float64(i+1)))
	}
	return u
}

// local runs the local search of refine from one start of a sequence after the other, with nothing chosen between
// them. A choice stays as it is at the start.
func (t *trace) local(ctx context.Context, st *studies.Study) error {
	space := &st.Space
	n := len(space.Dims)
	o := optimize.DefaultRefine(space)
	p := leastsquares.Problem{Low: make([]float64, n), High: make([]float64, n), Scale: make([]float64, n), Lattice: true, Coarse: make([]bool, n)}
	for i := range n {
		last := space.Levels(i) - 1
		p.High[i], p.Scale[i] = float64(last), max(float64(last), 1)
		p.Coarse[i] = space.Dims[i].Step > 0 && last <= int64(o.Coarse)
	}
	e := st.NewEvaluator()
	for k := 0; ; k++ {
		start, choice := restart(space.Size(), t.Seed, k), make([]int, len(space.Choices))
		for i := range choice {
			choice[i] = int(start[n+i] * float64(len(space.Choices[i].Options)))
		}
		start = start[:n]
		for i := range start {
			start[i] = math.Round(start[i] * p.High[i])
		}
		s := leastsquares.New(p, o.Local, start)
		for rows := 0; rows < o.Rows; {
			asked := s.Ask()
			if len(asked) == 0 {
				break
			}
			var told []leastsquares.Evaluation
			for _, x := range asked {
				told = append(told, t.evaluate(st, e, x, choice, s.Derivatives()))
				if ctx.Err() != nil {
					return ctx.Err()
				}
			}
			rows += len(asked)
			s.Tell(told)
		}
	}
}

// evaluate evaluates whole coordinates, counted from the low end of the box, and counts it.
func (t *trace) evaluate(st *studies.Study, e *studies.Evaluator, levels []float64, choice []int, derivatives bool) leastsquares.Evaluation {
	space := &st.Space
	p := optimize.Point{X: make([]float64, len(levels)), Choice: choice, Derivatives: derivatives, Parent: optimize.NoParent}
	for i, k := range levels {
		p.X[i] = space.Value(i, space.Level(i, int64(k)))
	}
	o := optimize.Outcome{X: p.X}
	e.Evaluate(&p, &o)
	t.observe(0, &p, &o)
	for _, j := range [][]float64{o.JR, o.JG} {
		for i := range j {
			d := i % len(levels)
			j[i] *= space.Value(d, space.Level(d, 1)-space.Level(d, 0))
		}
	}
	return leastsquares.Evaluation{Failed: o.Status.Failed(), Value: o.Score / 2, R: o.R, G: o.G, JR: o.JR, JG: o.JG}
}

package leastsquares_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"trammel/optimize"
	"trammel/optimize/leastsquares"
	"trammel/optimize/problems"
)

// restart number k of a sequence is the point k + 1000·sequence of the additive recurrence of the generalised
// golden ratio in the box (M. Roberts, 2018), which the script beside the results computes too.
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

// BenchmarkRestarts counts the evaluations, each with its Jacobian, that local searches from a sequence of
// starts need until the target is reached: the median over 21 sequences. Run it with -benchtime 1x.
func BenchmarkRestarts(b *testing.B) {
	for _, name := range []string{"rosenbrock-5", "beale", "freudenstein-roth", "powell-singular", "helical-valley", "branin"} {
		p := problems.ByName(name)
		b.Run(name, func(b *testing.B) {
			var counts []int
			for sequence := range 21 {
				counts = append(counts, restarts(p, sequence))
			}
			slices.Sort(counts)
			b.ReportMetric(float64(counts[len(counts)/2]), "evaluations")
			b.ReportMetric(0, "ns/op")
		})
	}
	for _, g := range problems.Regressions() {
		for i := range g.Starts {
			b.Run(fmt.Sprint(g.Name, "/start ", i+1), func(b *testing.B) {
				b.ReportMetric(float64(fitted(g, g.Starts[i])), "evaluations")
				b.ReportMetric(0, "ns/op")
			})
		}
	}
}

// restarts returns how many evaluations a sequence needs, at most 5000.
func restarts(p *problems.Problem, sequence int) (count int) {
	n := len(p.Space.Dims)
	box := leastsquares.Problem{Low: make([]float64, n), High: make([]float64, n), Scale: make([]float64, n)}
	for i := range n {
		d := &p.Space.Dims[i]
		box.Low[i], box.High[i] = p.Space.Value(i, d.Low), p.Space.Value(i, d.High)
		box.Scale[i] = box.High[i] - box.Low[i]
	}
	goal, e := p.Best+max(1e-3*p.Best, 1e-6), p.Evaluator()
	reached := false
	for k := 0; !reached && count < 5000; k++ {
		start := restart(n, sequence, k)
		for i := range start {
			start[i] = box.Low[i] + box.Scale[i]*start[i]
		}
		s := leastsquares.New(box, leastsquares.DefaultOptions(), start)
		drive(s, 500, func(x []float64) leastsquares.Evaluation {
			var o optimize.Outcome
			e.Evaluate(&optimize.Point{X: x, Derivatives: true}, &o)
			if !reached {
				count++
				reached = o.Score <= goal
			}
			return leastsquares.Evaluation{R: o.R, JR: o.JR}
		})
	}
	return count
}

// fitted returns how many evaluations a regression needs until its squares are certified to six digits, 0 if
// they never are.
func fitted(g *problems.Regression, start []float64) (count int) {
	n := len(start)
	low, high := make([]float64, n), make([]float64, n)
	for i := range low {
		low[i], high[i] = math.Inf(-1), math.Inf(1)
	}
	o := leastsquares.DefaultOptions()
	o.Radius, o.Gain, o.Step = 1, 0, 1e-13
	s := leastsquares.New(leastsquares.Problem{Low: low, High: high}, o, start)
	reached := 0
	drive(s, 2000, func(x []float64) leastsquares.Evaluation {
		count++
		r, jr := g.Residuals(nil, nil, x)
		sum := 0.0
		for _, v := range r {
			sum += v * v
		}
		if reached == 0 && sum <= g.Squares*(1+1e-6) {
			reached = count
		}
		return leastsquares.Evaluation{R: r, JR: jr}
	})
	return reached
}

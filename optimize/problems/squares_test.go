package problems_test

import (
	"math"
	"slices"
	"testing"

	"trammel/optimize"
	"trammel/optimize/problems"
)

// Where a problem is a sum of squares, the squares sum to its score, and JR and JG are the central
// differences of R and G, at points of a Sobol sample.
func TestSquaresAndSlopes(t *testing.T) {
	for _, p := range problems.All() {
		rest, ok := p.SumsOfSquares()
		if !ok {
			continue
		}
		plan, err := optimize.NewPlan(p.Space, optimize.DefaultPlan())
		if err != nil {
			t.Fatal(err)
		}
		e := p.Evaluator()
		var at optimize.Point
		seen := 0
		for i := range int64(300) {
			plan.At(&at, i)
			at.Derivatives = true
			var o optimize.Outcome
			if e.Evaluate(&at, &o); o.Status.Failed() {
				continue
			}
			seen++
			sum, size := rest, math.Abs(rest)
			for _, r := range o.R {
				sum += r * r
				size += r * r
			}
			if math.Abs(sum-o.Score) > 1e-13*size {
				t.Fatalf("%s at %v: squares and rest sum to %.17g, the score is %.17g", p.Name, at.X, sum, o.Score)
			}
			if len(o.JR) != len(o.R)*len(at.X) || len(o.JG) != len(o.G)*len(at.X) {
				t.Fatalf("%s: derivatives of %d and %d numbers for %d residuals, %d limits, %d variables", p.Name, len(o.JR), len(o.JG), len(o.R), len(o.G), len(at.X))
			}
			for k := range at.X {
				h := 1e-5 * max(math.Abs(at.X[k]), 0.1)
				var side [2]optimize.Outcome
				for j, by := range [2]float64{h, -h} {
					moved := optimize.Point{X: slices.Clone(at.X), Choice: at.Choice}
					moved.X[k] += by
					e.Evaluate(&moved, &side[j])
				}
				if side[0].Status.Failed() || side[1].Status.Failed() {
					continue
				}
				compare(t, p.Name+" R", at.X, side[0].R, side[1].R, o.JR, k, h)
				compare(t, p.Name+" G", at.X, side[0].G, side[1].G, o.JG, k, h)
			}
		}
		if seen < 3 {
			t.Errorf("%s: %d points assembled", p.Name, seen)
		}
	}
}

// compare compares column k of a Jacobian with central differences over h to either side.
func compare(t *testing.T, what string, x, above, below, jacobian []float64, k int, h float64) {
	t.Helper()
	for i := range above {
		slope, exact := (above[i]-below[i])/(2*h), jacobian[i*len(x)+k]
		size := math.Abs(slope) + math.Abs(above[i]) + math.Abs(above[i]-below[i])/h*1e-2 + 1
		if math.Abs(slope-exact) > 2e-5*size {
			t.Fatalf("%s %d by variable %d at %v: %.10g, by differences %.10g", what, i, k, x, exact, slope)
		}
	}
}

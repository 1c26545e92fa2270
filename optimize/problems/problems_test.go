package problems_test

import (
	"math"
	"testing"

	"trammel/optimize"
	"trammel/optimize/problems"
)

// Every published optimum has the published score, keeps the limits to the digits printed, and lies in
// the box.
func TestPublishedOptima(t *testing.T) {
	seen := map[string]bool{}
	for _, p := range append(problems.All(), problems.Hard()...) {
		if seen[p.Name] || p.Name == "" || p.Source == "" || len(p.At) == 0 {
			t.Errorf("%q: a problem needs a name of its own, a source and an optimum", p.Name)
		}
		seen[p.Name] = true
		if err := p.Space.Check(); err != nil {
			t.Errorf("%s: %v", p.Name, err)
		}
		for _, at := range p.At {
			var o optimize.Outcome
			p.Evaluator().Evaluate(&at, &o)
			if o.Status.Failed() || o.Violation > 2e-5 {
				t.Errorf("%s at %v: %v, limits broken by %g", p.Name, at.X, o.Status, o.Violation)
			}
			if math.Abs(o.Score-p.Best) > p.Tolerance {
				t.Errorf("%s at %v: score %.12g, published %.12g, apart by %g", p.Name, at.X, o.Score, p.Best, o.Score-p.Best)
			}
			for i, x := range at.X {
				if d := &p.Space.Dims[i]; x < p.Space.Value(i, d.Low)-1e-12 || x > p.Space.Value(i, d.High)+1e-12 {
					t.Errorf("%s: %s is %v, outside the box", p.Name, d.Name, x)
				}
			}
		}
	}
}

// No point of a Sobol sample is better than the published optimum.
func TestNothingBetter(t *testing.T) {
	for _, p := range append(problems.All(), problems.Hard()...) {
		o := optimize.DefaultPlan()
		plan, err := optimize.NewPlan(p.Space, o)
		if err != nil {
			t.Fatal(err)
		}
		var at optimize.Point
		for i := range plan.Runs() {
			plan.At(&at, i)
			var out optimize.Outcome
			p.Evaluator().Evaluate(&at, &out)
			if out.Feasible() && out.Score < p.Best-p.Tolerance-1e-6*math.Abs(p.Best) {
				t.Errorf("%s at %v: score %g is better than the published %g", p.Name, at.X, out.Score, p.Best)
			}
		}
	}
}

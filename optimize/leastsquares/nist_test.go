package leastsquares_test

import (
	"math"
	"testing"

	"trammel/optimize/leastsquares"
	"trammel/optimize/problems"
)

// fit runs a search on a regression and returns where it ended and how many evaluations it had.
func fit(g *problems.Regression, start []float64, most int) (*leastsquares.Solver, int) {
	n := len(start)
	low, high := make([]float64, n), make([]float64, n)
	for i := range low {
		low[i], high[i] = math.Inf(-1), math.Inf(1)
	}
	o := leastsquares.DefaultOptions()
	o.Radius, o.Gain, o.Step = 1, 0, 1e-13
	s := leastsquares.New(leastsquares.Problem{Low: low, High: high}, o, start)
	count := 0
	for ask := s.Ask(); len(ask) > 0 && count < most; ask = s.Ask() {
		var es []leastsquares.Evaluation
		for _, x := range ask {
			r, jr := g.Residuals(nil, nil, x)
			es = append(es, leastsquares.Evaluation{R: r, JR: jr})
			count++
		}
		s.Tell(es)
	}
	return s, count
}

// From both starts of NIST, the certified numbers to at least eight digits (log relative error, as NIST
// defines it for its reference data sets).
func TestCertifiedDigits(t *testing.T) {
	for _, g := range problems.Regressions() {
		for i, start := range g.Starts {
			s, count := fit(g, start, 2000)
			digits := 11.0
			for k, x := range s.X() {
				digits = min(digits, -math.Log10(math.Abs(x-g.Certified[k])/math.Abs(g.Certified[k])))
			}
			t.Logf("%s from start %d: %.1f digits after %d evaluations, %v, %d failed, at %v", g.Name, i+1, digits, count, s.Ending(), s.Failures, s.X())
			if !(digits >= 8) {
				t.Errorf("%s from start %d: %.1f digits after %d evaluations: %v, certified %v", g.Name, i+1, digits, count, s.X(), g.Certified)
			}
		}
	}
}

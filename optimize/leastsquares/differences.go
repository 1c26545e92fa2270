package leastsquares

import "math"

// askDifferences asks for one neighbour in every variable.
func (s *Solver) askDifferences() {
	s.column = s.column[:0]
	for i, x := range s.next.x {
		low, high := s.problem.Low[i], s.problem.High[i]
		scale := s.scale[i]
		if scale == 0 {
			scale = max(math.Abs(x), 1)
		}
		by := 1e-7 * max(math.Abs(x), scale)
		if s.problem.Lattice {
			by = max(1, math.Round(1e-8*(high-low)))
		}
		if x+by > high {
			by = -by
		}
		if x+by < low {
			continue // it has one value only
		}
		s.ask(s.next.x)
		s.asked[len(s.asked)-1][i] = x + by
		s.column = append(s.column, i)
	}
}

// takeDifferences turns the neighbours into derivatives; a neighbour that failed leaves its column 0.
func (s *Solver) takeDifferences(es []Evaluation) {
	it, n := &s.next, s.n
	it.jr, it.jg, it.slope = sized(it.jr, len(it.r)*n), sized(it.jg, len(it.g)*n), sized(it.slope, n)
	clear(it.jr)
	clear(it.jg)
	clear(it.slope)
	for c, k := range s.column {
		e := &es[c]
		if e.Failed || len(e.R) != len(it.r) || len(e.G) != len(it.g) {
			continue
		}
		by := s.asked[c][k] - it.x[k]
		for i := range it.r {
			it.jr[i*n+k] = (e.R[i] - it.r[i]) / by
		}
		for i := range it.g {
			it.jg[i*n+k] = (e.G[i] - it.g[i]) / by
		}
		it.slope[k] = (e.f() - it.f) / by
	}
	s.stand(s.after)
}

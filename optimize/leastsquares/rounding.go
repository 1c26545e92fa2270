package leastsquares

import "math"

// How many trials the search of the lattice has, and how many times it corrects the limits for one.
const (
	polishTrials    = 12
	polishCorrected = 3
)

// better tells whether an evaluation ranks before where the search stands: limits kept first, then the
// sum of squares; otherwise the lesser breach.
func (s *Solver) better(f, h float64) bool {
	kept, was := h <= s.options.Broken, s.at.h <= s.options.Broken
	switch {
	case kept != was:
		return kept
	case kept:
		return f < s.at.f
	}
	return h < s.at.h
}

// round makes the step to the best whole point near by that keeps the limits, by the model. It returns
// false when there is none better.
func (s *Solver) round() bool {
	if s.polishes >= polishTrials {
		return false
	}
	s.layWhole()
	nodes := s.options.Nodes
	if !s.anyCoarse() { // one way down and a few more: the steps are too small to be worth a proof
		nodes = min(nodes, 20+4*s.n)
	}
	if !s.searchWhole(nodes) || s.length() == 0 {
		return false
	}
	if s.at.h <= s.options.Broken && -s.p.curve(s.zOf(s.step)) <= s.tolerance() {
		return false
	}
	return true
}

// layWhole lays the program of the rounding phase: a small region, and a price of the limits that no
// rounding outbids.
func (s *Solver) layWhole() {
	s.lay(s.spread, 2)
	for i := range s.n {
		if !s.coarse(i) {
			continue
		}
		half := max(s.spread, 1/s.scale[i])
		s.p.low[i], s.p.high[i] = max(s.p.low[i], -half), min(s.p.high[i], half)
	}
	s.p.rho = 1e4 * (s.rho + math.Abs(s.at.f))
}

// searchWhole fills the step with the best whole point of the program as laid.
func (s *Solver) searchWhole(nodes int) bool {
	whole := make([]bool, s.n)
	for i := range whole {
		whole[i] = true
	}
	s.l.nodes = nodes
	z, found := s.l.search(&s.p, s.at.x, s.scale, whole, s.tolerance())
	if found {
		s.stepOf(z)
	}
	return found
}

// judgeRounded moves to a whole point that ranks before. One that breaks limits, because they bend, is
// sought again with what they bent by; otherwise the region shrinks.
func (s *Solver) judgeRounded(e *Evaluation) {
	s.polishes++
	f, h := e.of()
	switch {
	case e.Failed:
		s.shrinkSpread()
	case s.better(f, h):
		s.take(0, e, rounding)
	case h > s.options.Broken && s.corrections < polishCorrected && len(e.G) == len(s.at.g):
		s.corrections++
		for i, g := range e.G {
			bend := g - s.at.g[i] - dot(s.at.jg[i*s.n:(i+1)*s.n], s.step)
			s.shift[i] = max(s.shift[i], bend)
		}
	default:
		s.shrinkSpread()
	}
}

func (s *Solver) shrinkSpread() {
	s.spread /= 8
	s.corrections = 0
	s.clearShift()
}

// neighbours asks for the points one step aside in each coarse variable, with the rest fitted by the
// model.
func (s *Solver) neighbours() {
	s.clearShift()
	for i := range s.n {
		if !s.coarse(i) {
			continue
		}
		for _, by := range [2]float64{-1, 1} {
			if x := s.at.x[i] + by; x < s.problem.Low[i] || x > s.problem.High[i] {
				continue
			}
			s.layWhole()
			s.p.low[i], s.p.high[i] = by/s.scale[i], by/s.scale[i]
			if s.searchWhole(max(s.options.Nodes/4, 20)) {
				s.askAside()
			}
		}
	}
}

// askAside asks for the point that the step leads to unless it is asked for already.
func (s *Solver) askAside() {
	s.ask(s.at.x)
	last := len(s.asked) - 1
	for i, d := range s.step {
		s.asked[last][i] += d
	}
	for _, x := range s.asked[:last] {
		same := true
		for i := range x {
			same = same && x[i] == s.asked[last][i]
		}
		if same {
			s.asked = s.asked[:last]
			return
		}
	}
}

// judgeNeighbours goes on from the best neighbour that ranks before, or ends the search.
func (s *Solver) judgeNeighbours(es []Evaluation) {
	s.rounds++
	best := -1
	var bestF, bestH float64
	for i := range es {
		if es[i].Failed {
			continue
		}
		f, h := es[i].of()
		kept, was := h <= s.options.Broken, bestH <= s.options.Broken
		if best < 0 || kept && !was || kept == was && (kept && f < bestF || !kept && h < bestH) {
			best, bestF, bestH = i, f, h
		}
	}
	if best < 0 || !s.better(bestF, bestH) {
		s.phase = finished
		return
	}
	s.radius = max(s.radius, s.options.Radius/4)
	s.take(best, &es[best], stepping)
}

// Prices are the multipliers at the end of a search: by how much half the sum of squares would fall for
// each unit by which a bound or a limit gave way.
type Prices struct {
	Bound []float64 // of each variable: positive at its low end, negative at its high end, 0 inside
	Limit []float64 // of each limit, not negative
	Left  float64   // what the model still promises if nothing had to be whole; 0 at an exact optimum
}

// Prices returns the multipliers where the search stands, false if it never stood anywhere. On a lattice they
// are those of the optimum beside the point, as if fine variables were not whole; coarse ones stay.
func (s *Solver) Prices() (Prices, bool) {
	if len(s.at.slope) == 0 {
		return Prices{}, false
	}
	s.clearShift()
	s.lay(math.Inf(1), 0)
	for i := range s.n {
		if s.coarse(i) {
			s.p.low[i], s.p.high[i] = 0, 0
		}
	}
	if s.at.h <= s.options.Broken { // limits can be kept, so that none is paid for
		s.p.rho = 1e6 * (s.rho + math.Abs(s.at.f))
	}
	s.p.solve()
	out := Prices{Bound: make([]float64, s.n), Limit: append([]float64(nil), s.p.row...), Left: max(-s.p.curve(s.p.z), 0)}
	for i, m := range s.p.bound {
		if s.coarse(i) && !(s.at.x[i] == s.problem.Low[i] && m > 0 || s.at.x[i] == s.problem.High[i] && m < 0) {
			continue
		}
		out.Bound[i] = m / s.scale[i]
	}
	return out, true
}

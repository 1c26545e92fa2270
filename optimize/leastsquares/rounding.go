package leastsquares

import "math"

// How many trials the search of the lattice has, and how many times it corrects the limits for one.
const (
	polishTrials    = 12
	polishCorrected = 3
)

// ranks tells whether a point ranks before another: limits kept first, then by the sum of squares;
// otherwise the lesser breach.
func (s *Solver) ranks(f float64, h breach, thanF float64, thanH breach) bool {
	kept, was := h.most <= s.options.Broken, thanH.most <= s.options.Broken
	switch {
	case kept != was:
		return kept
	case kept:
		return f < thanF
	}
	return h.sum < thanH.sum
}

// better tells whether an evaluation ranks before where the search stands, and if so raises the price of
// the limits to where the sum of both says the same.
func (s *Solver) better(f float64, h breach) bool {
	if !s.ranks(f, h, s.at.f, s.at.h) {
		return false
	}
	if gain := s.at.h.cost - h.cost; gain > 0 && s.rho*gain < 2*(f-s.at.f) {
		s.rho = 2 * (f - s.at.f) / gain
	}
	return true
}

// round makes the step to the best whole point near by that keeps the limits, by the model. It returns
// false when there is none better.
func (s *Solver) round() bool {
	if s.polishes >= polishTrials {
		return false
	}
	s.roundInside()
	if s.length() == 0 {
		return false
	}
	if s.at.h.most <= s.options.Broken && -s.p.curve(s.zOf(s.step)) <= s.tolerance() {
		return false
	}
	return true
}

// The fine variables may move by so many whole numbers in the search of the lattice, the least first: the
// search ended beside the optimum. A fine variable beside a coarse one that moves has aside of its scale.
var rooms = [...]float64{16, 128, 1024, math.Inf(1)}

const aside = 0.1

// margins are the shares of a full rounding margin that are tried in turn, until the point found keeps the
// linear limits: with the full one, every rounding does.
var margins = [...]float64{0, 0.3, 0.6, 1}

// roundInside fills the step with the best whole point near by that keeps the linear limits, or comes near
// to where that is not possible.
func (s *Solver) roundInside() {
	keeps := s.options.Broken / 2
	for _, room := range rooms {
		s.layRoom(room, 0)
		s.p.solve()
		cannot := s.p.t.most > keeps // not even between whole numbers
		if cannot && !math.IsInf(room, 1) {
			continue
		}
		for _, share := range margins {
			s.layRoom(room, share)
			// One way down and a few more: steps this small are not worth a proof.
			if s.searchWhole(20+4*s.n) && s.stepKeeps(room) {
				return
			}
			s.layRoom(room, share)
			s.p.solve()
			if s.stepOf(s.p.z); cannot || s.stepKeeps(room) { // rounded to the nearest
				return
			}
		}
	}
}

// stepKeeps tells whether the step keeps the linear limits; the program is without margins then.
func (s *Solver) stepKeeps(room float64) bool {
	s.layRoom(room, 0)
	return s.p.broken(s.zOf(s.step)).most <= s.options.Broken/2
}

// layRoom lays the program of the rounding phase: fine variables have some room, coarse ones stay, and the
// price of the limits is one that no rounding outbids. The limits are nearer by a share of what rounding
// can move them.
func (s *Solver) layRoom(room, share float64) {
	s.lay(0, room)
	for i := range s.n {
		if s.coarse(i) {
			s.p.low[i], s.p.high[i] = 0, 0
		} else if half := aside / 2; room > half*s.scale[i] {
			s.p.low[i], s.p.high[i] = max(s.p.low[i], -half), min(s.p.high[i], half)
		}
	}
	s.margin(share)
	s.p.rho = s.dear()
}

// dear is a price of the limits that no rounding outbids.
func (s *Solver) dear() float64 { return 1e4 * (s.rho + math.Abs(s.at.f)) }

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
// sought again with what they bent by; with any other the search of the lattice is over.
func (s *Solver) judgeRounded(e *Evaluation) {
	s.polishes++
	f, h := s.of(e)
	switch {
	case e.Failed:
		s.polishes = polishTrials
	case s.better(f, h):
		s.take(0, e, rounding)
	case h.most > s.options.Broken && s.corrections < polishCorrected && len(e.G) == len(s.at.g):
		s.corrections++
		for i, g := range e.G {
			bend := g - s.at.g[i] - dot(s.at.jg[i*s.n:(i+1)*s.n], s.step)
			s.shift[i] = max(s.shift[i], bend)
		}
	default:
		s.polishes = polishTrials
	}
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
			s.layAside(i, by)
			if s.searchWhole(max(s.options.Nodes/8, 20)) {
				s.askAside()
			}
		}
	}
}

// layAside lays the program with coarse variable i moved by a step, the other coarse ones by one at most.
func (s *Solver) layAside(i int, by float64) {
	s.lay(aside, 1)
	for k := range s.n {
		if half := 1 / s.scale[k]; s.coarse(k) {
			s.p.low[k], s.p.high[k] = max(s.p.low[k], -half), min(s.p.high[k], half)
		}
	}
	s.p.low[i], s.p.high[i] = by/s.scale[i], by/s.scale[i]
	s.p.rho = s.dear()
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

// judgeNeighbours goes on from the best neighbour that ranks before. If none does, the model at each tells
// what fitting the rest anew would bring it to; the one that promises to rank before is followed, its
// coarse variables pinned. Otherwise the search is over.
func (s *Solver) judgeNeighbours(es []Evaluation) {
	s.rounds++
	best, promising := -1, -1
	var bestF float64
	var bestH breach
	least := (s.at.f + s.price(s.at.h)) - worthwhile*math.Abs(s.at.f)
	for i := range es {
		if es[i].Failed {
			continue
		}
		f, h := s.of(&es[i])
		if best < 0 || s.ranks(f, h, bestF, bestH) {
			best, bestF, bestH = i, f, h
		}
		if cost := s.foretold(s.asked[i], &es[i]); cost < least {
			promising, least = i, cost
		}
	}
	switch {
	case best >= 0 && s.better(bestF, bestH):
		s.radius = max(s.radius, s.options.Radius/4)
		s.take(best, &es[best], stepping)
	case promising >= 0:
		s.pinned, s.radius, s.held = true, aside, s.ending
		s.take(promising, &es[promising], stepping)
	default:
		s.finish()
	}
}

// worthwhile is the share of the sum of squares that a neighbour must promise to gain to be followed.
const worthwhile = 1e-4

// foretold returns what the model of Gauss and Newton at an evaluated point would come to, limits priced, with
// its coarse variables as they are; infinity if it has no derivatives.
func (s *Solver) foretold(x []float64, e *Evaluation) float64 {
	if len(e.R) == 0 || len(e.JR) != len(e.R)*s.n || len(e.JG) != len(e.G)*s.n || len(e.G) != len(s.at.g) {
		return math.Inf(1)
	}
	stood, augmented := s.at, s.augmented
	s.at = iterate{x: x, r: e.R, g: e.G, jr: e.JR, jg: e.JG, slope: make([]float64, s.n)}
	s.at.f, s.at.h = s.of(e)
	s.at.descend()
	s.augmented, s.stale = false, true
	s.clearShift()
	s.lay(aside, 0)
	for i := range s.n {
		if s.coarse(i) {
			s.p.low[i], s.p.high[i] = 0, 0
		}
	}
	s.p.solve()
	cost := s.at.f + s.p.value()
	s.at, s.augmented, s.stale = stood, augmented, true
	return cost
}

// Prices are the multipliers at the end of a search: by how much half the sum of squares would fall for
// each unit by which a bound or a limit gave way.
type Prices struct {
	Bound []float64 // of each variable: positive at its low end, negative at its high end, 0 inside
	Limit []float64 // of each limit, not negative
	Curve []float64 // the model's second derivatives, row-major, in scales
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
	if s.at.h.most <= s.options.Broken { // limits can be kept, so that none is paid for
		s.p.rho = 1e6 * (s.rho + math.Abs(s.at.f))
	}
	s.p.solve()
	out := Prices{Bound: make([]float64, s.n), Limit: append([]float64(nil), s.p.row...), Left: max(-s.p.curve(s.p.z), 0)}
	out.Curve = make([]float64, s.n*s.n)
	for i := range s.n {
		for k := range s.n {
			for row := range min(i, k) + 1 {
				out.Curve[i*s.n+k] += s.u[row*s.n+i] * s.u[row*s.n+k]
			}
		}
	}
	for i, m := range s.p.bound {
		if s.coarse(i) && !(s.at.x[i] == s.problem.Low[i] && m > 0 || s.at.x[i] == s.problem.High[i] && m < 0) {
			continue
		}
		out.Bound[i] = m / s.scale[i]
	}
	return out, true
}

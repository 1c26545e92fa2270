package leastsquares

import (
	"errors"
	"math"
)

var errState = errors.New("the saved state of a local search is damaged or of another search")

// AppendState appends what Restore needs to make an equal search go on from here, as numbers. It is
// called before the first Ask or after a Tell.
func (s *Solver) AppendState(b []float64) []float64 {
	b = append(b, s.counts()...)
	b = append(b, s.radius, s.rho, s.promise, s.bent)
	for _, list := range s.lists() {
		b = append(append(b, float64(len(*list))), *list...)
	}
	return append(b, s.at.f, s.next.f, s.best.f)
}

// counts are the whole numbers of the state.
func (s *Solver) counts() []float64 {
	var out []float64
	for _, n := range [...]int{
		int(s.phase), int(s.after), int(s.ending), int(s.held), s.corrections, s.polishes, s.rounds, s.quiet, s.told,
		s.Failures, s.Steps, s.at.number, s.next.number, s.best.number, s.lowered,
	} {
		out = append(out, float64(n))
	}
	for _, yes := range [...]bool{s.learned, s.augmented, s.switched, s.pinned, s.widened, s.again, s.strayed} {
		if yes {
			out = append(out, 1)
		} else {
			out = append(out, 0)
		}
	}
	return out
}

// lists are the vectors of the state; the point in waiting is one only while its derivatives are taken.
func (s *Solver) lists() []*[]float64 {
	list := []*[]float64{&s.scale, &s.secant, &s.lambda, &s.shift}
	at, best := s.at.lists(), s.best.lists()
	list = append(list, at[:]...)
	if s.strayed {
		list = append(list, best[:]...)
	}
	if s.phase == correcting {
		list = append(list, &s.bend, &s.straight)
	}
	if s.phase == differencing {
		list = append(list, &s.next.x, &s.next.r, &s.next.g)
	}
	return list
}

// Restore returns the search that AppendState was called on; problem and options are as they were.
func Restore(p Problem, o Options, state []float64) (*Solver, error) {
	s := New(p, o, make([]float64, len(p.Low)))
	blank := s.counts()
	next := func() (v float64) {
		if len(state) > 0 {
			v, state = state[0], state[1:]
		} else {
			state = nil
		}
		return v
	}
	if len(state) < len(blank)+4 {
		return nil, errState
	}
	whole := make([]int, len(blank))
	for i := range whole {
		v := next()
		if !(v >= 0 && v < 1e9) || v != math.Floor(v) {
			return nil, errState
		}
		whole[i] = int(v)
	}
	if whole[0] > int(finished) || whole[1] > int(finished) || whole[2] > int(FailedAtOnce) || whole[3] > int(FailedAtOnce) {
		return nil, errState
	}
	s.phase, s.after, s.ending, s.held = phase(whole[0]), phase(whole[1]), Ending(whole[2]), Ending(whole[3])
	for i, to := range [...]*int{
		&s.corrections, &s.polishes, &s.rounds, &s.quiet, &s.told, &s.Failures, &s.Steps, &s.at.number, &s.next.number, &s.best.number, &s.lowered,
	} {
		*to = whole[4+i]
	}
	for i, to := range [...]*bool{&s.learned, &s.augmented, &s.switched, &s.pinned, &s.widened, &s.again, &s.strayed} {
		*to = whole[15+i] == 1
	}
	s.radius, s.rho, s.promise, s.bent = next(), next(), next(), next()
	for _, list := range s.lists() {
		n := next()
		if !(n >= 0 && n <= float64(len(state))) || n != math.Floor(n) {
			return nil, errState
		}
		*list = append((*list)[:0], state[:int(n)]...)
		state = state[int(n):]
	}
	if len(state) != 3 || !s.fits() {
		return nil, errState
	}
	s.at.f, s.next.f, s.best.f = state[0], state[1], state[2]
	s.at.h, s.next.h, s.best.h = s.breach(s.at.g), s.breach(s.next.g), s.breach(s.best.g)
	s.stale = true
	return s, nil
}

// fits tells whether the vectors have the lengths that the search relies on.
func (s *Solver) fits() bool {
	n := s.n
	if len(s.scale) != n || len(s.secant) != n*n || !s.place(s.at.x) || s.phase == differencing && !s.place(s.next.x) {
		return false
	}
	for _, d := range s.scale {
		if !(d >= 0) || math.IsInf(d, 0) || d == 0 && len(s.at.slope) > 0 {
			return false
		}
	}
	if len(s.at.slope) == 0 { // nothing evaluated yet, or the first point waits for its derivatives
		return !s.strayed && (s.phase == beginning || s.phase == differencing || s.phase == finished)
	}
	k := len(s.at.g)
	if s.phase == correcting && (len(s.bend) != len(s.at.r) || len(s.straight) != s.n) {
		return false
	}
	return s.whole(&s.at) && (!s.strayed || s.whole(&s.best) && len(s.best.g) == k) && len(s.lambda) == k && len(s.shift) == k
}

// whole tells whether an iterate has all its derivatives.
func (s *Solver) whole(it *iterate) bool {
	return s.place(it.x) && len(it.slope) == s.n && len(it.jr) == len(it.r)*s.n && len(it.jg) == len(it.g)*s.n
}

// place tells whether x is a point that the search may stand on.
func (s *Solver) place(x []float64) bool {
	if len(x) != s.n {
		return false
	}
	for i, v := range x {
		if !(v >= s.problem.Low[i] && v <= s.problem.High[i]) || s.problem.Lattice && v != math.Floor(v) {
			return false
		}
	}
	return true
}

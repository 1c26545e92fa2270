package leastsquares

import "math"

// forward makes the next step of the trust region. It returns false when the search has converged.
func (s *Solver) forward() bool {
	s.lay(s.radius, 0)
	for i := range s.n {
		if s.pinned && s.coarse(i) {
			s.p.low[i], s.p.high[i] = 0, 0
		}
	}
	s.margin(1)
	s.steer()
	s.solveStep()
	s.margin(-1)
	if s.length() == 0 && s.anyCoarse() && !s.widened && !s.pinned {
		// No better whole point in the region: the model is asked once for one anywhere.
		s.widened = true
		s.radius = max(s.radius, 1)
		return s.forward()
	}
	gain, less := -s.p.curve(s.zOf(s.step)), s.at.h.cost-s.p.broken(s.zOf(s.step)).cost
	if s.anyCoarse() && less > 1e-9 && gain+s.rho*less <= 0 {
		s.rho = -2 * gain / less // between whole steps a limit is worth more than its multiplier
	}
	s.promise = gain + s.rho*less
	return !s.settled()
}

// settled tells whether the step made is not worth an evaluation, and says why in ending.
func (s *Solver) settled() bool {
	most, relative := 0.0, 0.0
	for i, d := range s.step {
		most = max(most, math.Abs(d))
		relative = max(relative, math.Abs(d)/max(math.Abs(s.at.x[i]), 1e-300))
	}
	inside := s.length() < 0.999*s.radius
	enough := s.options.Gain * (math.Abs(s.at.f) + s.price(s.at.h))
	switch {
	case most == 0 || !s.problem.Lattice && relative <= s.options.Step && inside:
		s.ending = Converged
		if !inside {
			s.ending = Shrunk
		}
	case s.promise <= enough && inside:
		s.ending = Converged
	case s.promise <= enough && s.problem.Lattice, s.radius < 1e-15 || s.promise <= 0:
		s.ending = Shrunk
		if inside && s.promise > -1e-13*(math.Abs(s.at.f)+s.price(s.at.h)) {
			s.ending = Converged // to rounding
		}
	default:
		return false
	}
	return true
}

// margin brings the linear limits nearer, or with a negative share farther again, by a share of what
// rounding the fine variables can move them; with all of it a rounded step keeps what the program keeps.
func (s *Solver) margin(share float64) {
	if !s.problem.Lattice {
		return
	}
	for i := range s.p.rows {
		for k := range s.n {
			if !s.coarse(k) {
				s.p.b[i] -= share / 2 * math.Abs(s.at.jg[i*s.n+k])
			}
		}
	}
}

// steer solves the program of the step, and raises the price of the limits until the step takes at least
// half of the way to them that the region allows.
func (s *Solver) steer() {
	s.p.solve()
	if s.p.t.most > 1e-10 {
		paid := s.p.t.sum
		s.p.rho = s.rho * 1e6
		s.p.solve()
		least := s.p.t.sum
		for range 12 {
			if paid <= least+0.5*max(s.at.h.sum-least, 0)+1e-9 {
				break
			}
			s.rho *= 4
			s.p.rho = s.rho
			s.p.solve()
			paid = s.p.t.sum
		}
		s.p.rho = s.rho
		s.p.solve()
	}
	sum := 0.0
	for i, l := range s.p.row {
		s.lambda[i] = l
		sum += l
	}
	if s.p.t.most == 0 && sum > 0 && s.rho > 20*sum && s.lowered < 50 {
		s.rho = max(5*sum, s.rho/10) // far above what the limits cost: it would bend the way along them
		s.p.rho = s.rho
		s.lowered++
	}
}

// solveStep fills the step: of the program as laid, coarse variables whole, the others rounded on a
// lattice.
func (s *Solver) solveStep() {
	if s.anyCoarse() {
		s.l.nodes = s.options.Nodes
		s.p.rho = s.dear()
		z, found := s.l.search(&s.p, s.at.x, s.scale, s.problem.Coarse, s.tolerance())
		s.p.rho = s.rho
		if found {
			s.stepOf(z)
			return
		}
	}
	s.p.solve()
	s.stepOf(s.p.z)
}

// tolerance is the gain that is worth no further search.
func (s *Solver) tolerance() float64 {
	return s.options.Gain * (math.Abs(s.at.f) + s.price(s.at.h))
}

// stepOf fills the step from scaled variables, inside the box, whole on a lattice.
func (s *Solver) stepOf(z []float64) {
	for i, v := range z {
		x := s.at.x[i] + v*s.scale[i]
		if s.problem.Lattice {
			x = math.Round(x)
		}
		switch v { // exactly onto the side of the box
		case (s.problem.Low[i] - s.at.x[i]) / s.scale[i]:
			x = s.problem.Low[i]
		case (s.problem.High[i] - s.at.x[i]) / s.scale[i]:
			x = s.problem.High[i]
		}
		if s.step[i] = min(max(x, s.problem.Low[i]), s.problem.High[i]) - s.at.x[i]; math.IsNaN(s.step[i]) {
			s.step[i] = 0 // the model is beyond all numbers
		}
	}
}

// zOf returns a step in scaled variables, valid until the next call.
func (s *Solver) zOf(step []float64) []float64 {
	s.work = sized(s.work, max(len(s.work), s.n))
	z := s.work[:s.n]
	for i, d := range step {
		z[i] = d / s.scale[i]
	}
	return z
}

// length returns the greatest component of the step, in scales.
func (s *Solver) length() (most float64) {
	for i, d := range s.step {
		most = max(most, math.Abs(d)/s.scale[i])
	}
	return most
}

// judge accepts a trial or not, and sets the region.
func (s *Solver) judge(e *Evaluation) {
	size := s.length()
	if e.Failed {
		s.reject(0.25 * size)
		return
	}
	f, h := s.of(e)
	gained := s.at.f + s.price(s.at.h) - f - s.price(h)
	noise := 1e-14 * (math.Abs(s.at.f) + s.price(s.at.h))
	ratio := gained / s.promise
	if s.promise <= 10*noise && math.Abs(gained) <= 10*noise {
		// Rounding alone decides: a few more steps of the model are better than its judgement.
		if ratio, s.quiet = 1, s.quiet+1; s.quiet > 3 || s.problem.Lattice && gained <= 0 {
			s.ending = Converged
			s.leave()
			return
		}
	}
	before := s.augmented
	if s.phase == stepping {
		s.choose(e, f)
	}
	switch {
	case ratio > 1e-4:
		if s.phase == correcting {
			s.radius = size
		}
		if ratio > 0.75 && size > 0.8*s.radius {
			s.radius = max(s.radius, 2*size)
		} else if ratio < 0.25 {
			s.radius = max(0.5*size, 0.25*s.radius)
		}
		s.take(0, e, stepping)
	case s.phase == stepping && s.bendAlong(e):
		s.phase = correcting
	case s.augmented != before && !s.switched:
		s.switched = true // the other model at the same radius
	default:
		s.reject(max(0.1*size, min(0.5*size, size/(2*(1-ratio)))))
	}
}

// bendAlong keeps by how much residuals and limits at the end of a rejected step differ from their linear
// model, which tells how they bend on the way. It returns false if there is nothing to tell.
func (s *Solver) bendAlong(e *Evaluation) bool {
	if len(e.G) != len(s.at.g) || len(e.R) != len(s.at.r) || len(e.R)+len(e.G) == 0 {
		return false
	}
	s.bend, s.bent = sized(s.bend, len(e.R)), s.length()
	s.straight = append(s.straight[:0], s.step...)
	for i, r := range e.R {
		s.bend[i] = r - s.at.r[i] - dot(s.at.jr[i*s.n:(i+1)*s.n], s.step)
	}
	for i, g := range e.G {
		s.shift[i] = g - s.at.g[i] - dot(s.at.jg[i*s.n:(i+1)*s.n], s.step)
	}
	return true
}

// shares of a rejected step that are tried for a bent one.
var shares = [...]float64{1, 0.7, 0.5, 0.35, 0.25, 0.15}

// bentStep makes the step that a rejected one teaches: with residuals and limits that bend as the square of
// the way, for several shares of the way the program of Gauss and Newton about the bent values, and of
// these the one that promises most. It costs no evaluation: for the limits it is Fletcher's second-order
// correction, for the residuals what M. K. Transtrum and J. P. Sethna call geodesic acceleration,
// "Improvements to the Levenberg-Marquardt algorithm for nonlinear least-squares minimization"
// (2012). It returns false if none promises a tenth of what the linear model did.
func (s *Solver) bentStep() bool {
	if len(s.at.r) > 0 && s.augmented {
		s.augmented, s.stale = false, true // the bend is told, not estimated
		defer func() { s.augmented, s.stale = true, true }()
	}
	asked, best := 0.1*s.promise, append([]float64(nil), s.straight...)
	found := false
	for _, share := range shares {
		s.layBent(share)
		s.p.solve()
		s.stepOf(s.p.z)
		if promise := s.bentPromise(share); promise > asked && s.length() > 0 {
			asked, found = promise, true
			copy(best, s.step)
		}
	}
	copy(s.step, best)
	s.promise = asked
	return found
}

// layBent lays the program about the values bent over a share of the way.
func (s *Solver) layBent(share float64) {
	s.lay(share*s.bent, 0)
	for i := range s.n {
		if s.coarse(i) {
			v := s.straight[i] / s.scale[i]
			if share < 1 {
				v = 0 // a share of a whole step is none
			}
			s.p.low[i], s.p.high[i] = v, v
		}
	}
	for i, c := range s.bend {
		for k := range s.n {
			s.p.g[k] += share * share * c * s.at.jr[i*s.n+k] * s.scale[k]
		}
	}
	for i, c := range s.shift {
		s.p.b[i] += (1 - share*share) * c
	}
}

// bentPromise returns what the step promises by the bent values.
func (s *Solver) bentPromise(share float64) float64 {
	sum := 0.0
	for i, r := range s.at.r {
		v := r + share*share*s.bend[i] + dot(s.at.jr[i*s.n:(i+1)*s.n], s.step)
		sum += v * v / 2
	}
	if len(s.at.r) == 0 {
		sum = s.at.f + s.p.curve(s.zOf(s.step))
	}
	limits := make([]float64, len(s.at.g))
	for i, g := range s.at.g {
		limits[i] = g + share*share*s.shift[i] + dot(s.at.jg[i*s.n:(i+1)*s.n], s.step)
	}
	return s.at.f + s.price(s.at.h) - sum - s.price(s.breach(limits))
}

// reject stays and shrinks the region.
func (s *Solver) reject(radius float64) {
	s.radius = radius
	s.phase = stepping
	s.clearShift()
	if !s.problem.Lattice {
		return
	}
	for i := range s.scale {
		if s.radius*s.scale[i] >= 0.5 {
			return
		}
	}
	s.ending = Shrunk
	s.leave()
}

package kin

import "math"

// travels are numbers for both travels.
type travels [axisCount]float64

// seeker is a search for a least value near a position, between its neighbours.
type seeker struct {
	row    int
	lo, hi travels
	x      travels // the lowest place so far
	gap    float64
	slope  travels
	h      [axisCount]travels // inverse of the bend
}

// seekLeast searches near a position of a motion for less than what was found, by quasi-Newton steps from the lowest place so
// far; one that leads no lower makes the next shorter.
func (s *State) seekLeast(sw *Sweep, o *leastSpec, values []float64, row int, found *leastFound) {
	found.solved = false
	q := seeker{row: row, gap: values[row]}
	s.startLeast(sw, o, values, &q, found)
	to, ok := q.step()
	for range leastTries {
		if !ok {
			return
		}
		gap, slope, f := s.tryLeast(sw, o, q.row, to, found)
		bent := f == nil && update(&q.h, to, q.x, slope, q.slope)
		if f == nil && gap <= q.gap {
			q.x, q.gap, q.slope = to, gap, slope
			q.recentre(sw)
		} else if !bent {
			q.shorten()
		}
		to, ok = q.step()
	}
}

// startLeast sets a search to where parabolas through a position and those beside it are least, or to the position if that is no
// lower.
func (s *State) startLeast(sw *Sweep, o *leastSpec, values []float64, q *seeker, found *leastFound) {
	m := sw.Motion
	var home, to travels
	for a := range to {
		q.lo[a], q.hi[a] = sw.bracket(q.row, a)
		home[a] = m.along(m.Positions[q.row], a)
		var drop float64
		if to[a], drop = sw.vertex(values, q.row, a); drop > 0 {
			d := to[a] - home[a]
			q.h[a][a] = d * d / (2 * drop)
		}
	}
	q.x = home
	if to != home {
		gap, slope, f := s.tryLeast(sw, o, q.row, to, found)
		if f == nil && gap <= q.gap {
			q.x, q.gap, q.slope = to, gap, slope
		}
	}
	if q.x == home {
		gap, slope, f := s.tryLeast(sw, o, q.row, home, found)
		if f != nil {
			return // no slope, no step
		}
		q.gap, q.slope = gap, slope
	}
	for a := range to {
		if q.h[a][a] == 0 && q.slope[a] != 0 { // nothing is known of the bend: a quarter of the way
			q.h[a][a] = (q.hi[a] - q.lo[a]) / 4 / math.Abs(q.slope[a])
		}
	}
}

// tryLeast looks at a place, travels that a position of the motion has where its neighbours leave no other. What lies between
// two positions that close may still not close; then there is a failure, and no value is one too.
func (s *State) tryLeast(sw *Sweep, o *leastSpec, row int, x travels, found *leastFound) (gap float64, slope travels, f *Failure) {
	at := sw.Motion.Positions[row]
	for a := range x {
		if q := sw.beside[row][a]; q[0] >= 0 || q[1] >= 0 {
			at = sw.Motion.with(at, a, x[a])
		}
	}
	found.solved = false
	gap, f = s.between(sw, o, at, &slope)
	switch {
	case f != nil:
	case gap-gap != 0:
		f = s.fail(Failure{Member: -1})
	case gap <= found.gap:
		*found = leastFound{at: at, gap: gap, solved: true}
	}
	return gap, slope, f
}

// step returns where a quasi-Newton step leads, kept between neighbours; false where none is left to take.
func (q *seeker) step() (to travels, ok bool) {
	free := q.slope
	for a := range free {
		if q.hi[a] <= q.lo[a] || q.x[a] <= q.lo[a] && free[a] > 0 || q.x[a] >= q.hi[a] && free[a] < 0 || math.Abs(free[a]) <= leastFlat {
			free[a] = 0
		}
	}
	to = q.x
	for a := range free {
		if free[a] == 0 {
			continue
		}
		d := -q.h[a][a] * free[a]
		if b := 1 - a; free[b] != 0 {
			d -= q.h[a][b] * free[b]
		}
		to[a] = max(q.lo[a], min(q.hi[a], q.x[a]+d))
		ok = ok || math.Abs(to[a]-q.x[a]) > leastMove*(q.hi[a]-q.lo[a])
	}
	return to, ok
}

// shorten makes the next step a quarter.
func (q *seeker) shorten() {
	for a := range q.h {
		for b := range q.h[a] {
			q.h[a][b] /= 4
		}
	}
}

// recentre goes on beyond a neighbour towards which values still fall.
func (q *seeker) recentre(sw *Sweep) {
	for a := range q.x {
		k := int32(-1)
		switch {
		case q.x[a] >= q.hi[a] && q.slope[a] < 0:
			k = sw.beside[q.row][a][1]
		case q.x[a] <= q.lo[a] && q.slope[a] > 0:
			k = sw.beside[q.row][a][0]
		}
		if k >= 0 {
			q.row = int(k)
			q.lo[a], q.hi[a] = sw.bracket(q.row, a)
		}
	}
}

// update is the formula of Broyden, Fletcher, Goldfarb and Shanno for the inverse of the bend; along a single travel it
// is the secant's. It leaves the inverse where values bend down, and says so. J. Nocedal and S. J. Wright, "Numerical Optimization", 2nd ed., Springer 2006, (6.17).
func update(h *[axisCount]travels, x, x0, g, g0 travels) bool {
	var s, y, hy travels
	sy, yhy := 0.0, 0.0
	for a := range s {
		s[a], y[a] = x[a]-x0[a], g[a]-g0[a]
		if s[a] == 0 {
			y[a] = 0
		}
		sy += s[a] * y[a]
	}
	if !(sy > 0) {
		return false
	}
	for a := range s {
		for b := range s {
			hy[a] += h[a][b] * y[b]
		}
		yhy += y[a] * hy[a]
	}
	for a := range s {
		for b := range s {
			h[a][b] += (1+yhy/sy)*s[a]*s[b]/sy - (hy[a]*s[b]+s[a]*hy[b])/sy
		}
	}
	return true
}

// between solves a pose of a motion that is none of its positions, and computes a column's node there with its slopes along
// the two travels.
func (s *State) between(sw *Sweep, o *leastSpec, at Position, slope *travels) (float64, *Failure) {
	b := sw.between
	trunk := visit{from: slotDesign, to: slotTrunk, row: -1, at: Position{Wheel: at.Wheel}, wheel: true, rack: at.Rack != 0}
	if f := s.pose(b, &trunk); f != nil {
		return 0, f
	}
	last := uint8(slotTrunk)
	if sw.Motion.Rolls {
		bough := visit{from: last, to: slotBough, row: -1, at: Position{Wheel: at.Wheel, Roll: at.Roll}, rolled: true, rack: at.Rack != 0}
		if f := s.pose(b, &bough); f != nil {
			return 0, f
		}
		last = slotBough
	}
	if at.Rack != 0 {
		branch := visit{from: last, to: slotBranch, row: -1, at: at, rolled: sw.Motion.Rolls, rack: true}
		if f := s.pose(b, &branch); f != nil {
			return 0, f
		}
	}
	if f := s.forward(&o.plan, levelRack); f != nil {
		return 0, f
	}
	v := &s.num[o.node]
	if slope != nil {
		// Of a linkage drawn on the right rack and roll are kept the other way.
		*slope = travels{v[slotW], s.side() * v[slotK]}
		if sw.Motion.Rolls {
			*slope = travels{s.side() * v[slotW]}
		}
	}
	return v[0], nil
}

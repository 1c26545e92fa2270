package gap

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// narrowest is the tangent of a quarter of the arc that is taken to have one dip.
const narrowest = 0.0125

// widest is that of what look.near is asked about.
const widest = 0.3

// nearer looks for the place of a circle that is nearest to the ring, or for one in it, if it is nearer than best: from the place of a cosine and a sine
// on. Then t has it; the lesser is returned. Each place that it looks at leaves a part of the circle, or two, where something nearer may be.
func (v *view) nearer(m *rim, c, s, best float64, t *Touch) float64 {
	l := m.look(v.own, c, s)
	if l.d < best {
		if best, c, s = v.down(m, c, s, l.d, best, t); best < -met {
			return best
		}
		l = m.look(v.own, c, s)
	}
	from, to, ok := l.open(widest, best)
	if !ok {
		return best
	}
	var arcs [24]arc // halved down to the narrowest there are seven, and one for each dip
	far := arc{-c, -s, 0}
	arcs[0] = far.part(-1/from, -1/to)
	for n := 1; n > 0; {
		n--
		var left, right arc
		if best, left, right = v.thin(m, &arcs[n], best, t); best < -met {
			return best
		}
		for _, a := range [2]arc{left, right} {
			if a.w > 0 {
				arcs[n] = a
				n++
			}
		}
	}
	return best
}

// thin looks at the middle of an arc for something nearer than best, or at the bottom of the dip that it is in, and returns what is left of the arc.
func (v *view) thin(m *rim, a *arc, best float64, t *Touch) (least float64, left, right arc) {
	l := m.look(v.own, a.c, a.s)
	if l.d < best {
		best, _, _ = v.down(m, a.c, a.s, l.d, best, t)
	}
	lo, hi := -a.w, a.w
	from, to, ok := l.open(min(a.w, widest), best)
	if !ok || clear(from, to, lo, hi) {
		return best, left, right
	}
	b, dip := *a, false
	if a.w < widest && best > met && l.d-best < 0.1*m.r {
		var u float64
		if u, dip = v.bottom(m, &b, &l); dip {
			lo, hi = (lo-u)/(1+lo*u), (hi-u)/(1+hi*u)
			if l.d < best {
				best = l.d
				v.take(m, b.c, b.s, t)
			}
			if from, to, ok = l.open(min(a.w+math.Abs(u), widest), best); !ok || clear(from, to, lo, hi) {
				return best, left, right
			}
		}
	}
	switch {
	case a.w < narrowest && !dip:
		return v.descend(m, a.c, a.s, best, t), left, right
	case from < to:
		return best, b.part(max(from, lo), min(to, hi)), right
	case dip:
		from, to = max(from, narrowest), min(to, -narrowest)
	}
	if from < hi {
		right = b.part(from, hi)
	}
	if to > lo {
		left = b.part(lo, to)
	}
	return best, left, right
}

// clear tells whether what look.open leaves is off the arc from one tangent to another.
func clear(from, to, lo, hi float64) bool {
	if from < to {
		return from >= hi || to <= lo
	}
	return from >= hi && to <= lo
}

// bottom moves the middle of an arc to the bottom of the dip that it is in, if that is outside the ring and on the arc, and looks there. It returns the tangent
// of half the angle to it.
func (v *view) bottom(m *rim, a *arc, l *look) (u float64, ok bool) {
	c, s, ok := m.settle(v.own, a.c, a.s)
	if !ok {
		return 0, false
	}
	u = (s*a.c - c*a.s) / (1 + c*a.c + s*a.s)
	if !(math.Abs(u) < a.w) {
		return 0, false
	}
	if at := m.look(v.own, c, s); at.d > met && math.Abs(at.slope) < level*m.r {
		a.c, a.s, *l = c, s, at
		return u, true
	}
	return 0, false
}

// level is the slope, in parts of the radius, where a place counts as the nearest around it.
const level = 1e-8

// down goes from a place of a circle, d from the ring, to the nearest or the deepest around it. It sets t to that, and returns the distance and the place.
func (v *view) down(m *rim, c, s, d, best float64, t *Touch) (least, cos, sin float64) {
	k := v.own
	if d > met {
		c1, s1, ok := m.settle(k, c, s)
		if l := m.look(k, c1, s1); ok && l.d > met && l.d <= d && math.Abs(l.slope) < level*m.r {
			v.take(m, c1, s1, t)
			return l.d, c1, s1
		} else if l.d < -met {
			c, s, d = c1, s1, l.d
		}
	}
	if d <= met {
		if lo, hi, mix, ok := m.sink(k, c, s); ok {
			h := m.hoop(k)
			v.found(&h, &lo, &hi, mix, t)
			return lo.d, lo.cos, lo.sin
		}
	}
	return v.descend(m, c, s, best, t), c, s
}

// descend goes down from a place of a circle without steps of Newton's, sets t to what is nearer than best, and returns the lesser.
func (v *view) descend(m *rim, c, s, best float64, t *Touch) float64 {
	h := m.hoop(v.own)
	var p place
	h.at(c, s, &p)
	lo, hi, mix := h.descend(&p, best)
	if lo.d < best {
		best = lo.d
		v.found(&h, &lo, &hi, mix, t)
	}
	return best
}

// take sets t to a place of a circle outside the ring.
func (v *view) take(m *rim, c, s float64, t *Touch) {
	x, y, z := m.at(c, s)
	d, nx, ny, nz := v.own.point(x, y, z)
	v.touch(x, y, z, nx, ny, nz, d, t)
}

// found sets t to a place of an edge of the other ring.
func (v *view) found(h *hoop, lo, hi *place, mix float64, t *Touch) {
	h.touch(lo, hi, mix, v.other.round, v.own.round, v.own.c, &[3]r3.Vec{v.x, v.y, v.own.e}, v.swapped, t)
}

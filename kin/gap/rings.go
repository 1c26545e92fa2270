package gap

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// rings measures two rings.
func rings(a, b *Solid, t *Touch) {
	var ka, kb section
	ka.set(a)
	kb.set(b)
	p := coupled(&ka, &kb)
	var l lowest
	if !p.quick(&l, t) {
		p.search(&l, t)
	}
}

// quick measures two rings of which one is in the other's bore, which are nearest on their outside, or about a hole; false if it cannot prove that.
func (p *couple) quick(l *lowest, t *Touch) bool {
	a, b := p[1].own, p[0].own
	if a.ri > b.ro && ringInBore(b, a, t, true) || b.ri > a.ro && ringInBore(a, b, t, false) {
		return true
	}
	return p.outside(t) || p.through(l, t)
}

// parts returns how far a plane square to n, from a to b, parts what surrounds two rings; negative if it does not.
func (k *section) parts(o *section, n r3.Vec) float64 {
	return r3.Dot(n, r3.Sub(o.c, k.c)) - k.reach(n) - o.reach(n)
}

// hoopAbout looks at an outer edge of the ring k about a point p of its surface, on the same side. k is the second solid if swapped.
func hoopAbout(k, o *section, p r3.Vec, best float64, t *Touch, swapped bool) float64 {
	var h hoop
	h.ring = o
	u := o.axes()
	v := r3.Sub(p, k.c)
	h.set(k, k.ro, math.Copysign(k.h, r3.Dot(v, k.e)), o.c, &u)
	// The angle of p, counted from the axes that set takes.
	f := square(k.e)
	c, s := r3.Dot(v, f), r3.Dot(v, r3.Cross(k.e, f))
	l := math.Sqrt(c*c + s*s)
	if l == 0 {
		return best
	}
	var at place
	h.at(c/l, s/l, &at)
	lo, hi, mix := h.descend(&at, best)
	if lo.d >= best {
		return best
	}
	h.touch(&lo, &hi, mix, k.round, o.round, o.c, &u, swapped, t)
	return lo.d
}

// rim tells whether p, a point of the ring's surface, is on an outer edge.
func (k *section) rim(p r3.Vec) bool {
	v := r3.Sub(p, k.c)
	s := r3.Dot(k.e, v)
	slack := 1e-9 * (k.ro + k.h)
	return math.Abs(s) >= k.h-slack && length(axpy(v, -s, k.e)) >= k.ro-slack
}

// rings looks for the shortest way along the axis of one of the rings, or square to both.
func (w *apart) rings(a, b *section) {
	v := r3.Sub(b.c, a.c)
	if w.try(a.e, r3.Dot(a.e, v), a.h+b.reach(a.e)) {
		w.a = axpy(r3.Sub(b.c, b.support(w.n)), -w.gap, w.n)
	}
	if w.try(b.e, r3.Dot(b.e, v), b.h+a.reach(b.e)) {
		w.a = r3.Add(a.c, a.support(w.n))
	}
	if m := r3.Cross(a.e, b.e); r3.Dot(m, m) > 1e-12 {
		m = r3.Scale(1/length(m), m)
		if w.try(m, r3.Dot(m, v), a.ro+b.ro) {
			x, _ := feet(v, a.e, b.e)
			w.a = axpy(axpy(a.c, x, a.e), a.ro, w.n)
		}
	}
}

// bothHoops looks at the edges of both rings.
func bothHoops(a, b *section, best float64, t *Touch) float64 {
	best = hoops(a, b, best, t, false)
	// A single circle has nothing but itself that could be near.
	if a.circles() > 1 || a.ri < 0 {
		best = hoops(b, a, best, t, true)
	}
	return best
}

// hoops looks at the edges of the ring k against the ring o, those of the nearer side first. k is the second solid if swapped.
func hoops(k, o *section, best float64, t *Touch, swapped bool) float64 {
	u := o.axes()
	var h hoop
	h.ring = o
	side := math.Copysign(1, r3.Dot(k.e, r3.Sub(o.c, k.c)))
	for i := range k.circles() {
		r, s := k.circle(i)
		h.set(k, r, side*s, o.c, &u)
		if h.far(best) {
			continue
		}
		if p, q, mix, found := h.nearest(best); found {
			best = p.d
			h.touch(&p, &q, mix, k.round, o.round, o.c, &u, swapped, t)
		}
	}
	return best
}

// far tells, from how far the circle reaches, that no place of it is nearer to the solid than best: what surrounds the solid is convex.
func (h *hoop) far(best float64) bool {
	if h.box != nil {
		for i, half := range h.box.h {
			if math.Abs(h.c[i])-math.Sqrt(h.f[i]*h.f[i]+h.g[i]*h.g[i])-half >= best {
				return true
			}
		}
		return false
	}
	up := math.Sqrt(h.f[2]*h.f[2] + h.g[2]*h.g[2])
	rho := math.Sqrt(h.c[0]*h.c[0] + h.c[1]*h.c[1])
	return max(math.Abs(h.c[2])-up-h.ring.h, rho-h.r-h.ring.ro) >= best
}

// crossedRings looks at two outer cylinders whose axes pass one another within both: d − roA − roB. It takes an overlap for one of them as far
// as it is no deeper than the walls.
func crossedRings(a, b *section, best float64, t *Touch) float64 {
	m := r3.Cross(a.e, b.e)
	mm := r3.Dot(m, m)
	if mm < 1e-12 {
		return best
	}
	v := r3.Sub(b.c, a.c)
	sa, sb := feet(v, a.e, b.e)
	if math.Abs(sa) > a.h || math.Abs(sb) > b.h {
		return best
	}
	n := r3.Scale(1/math.Sqrt(mm), m)
	d := r3.Dot(n, v)
	if d < 0 {
		d, n = -d, r3.Scale(-1, n)
	}
	gap := d - a.ro - b.ro
	if gap >= best || gap < -min(a.wall(), b.wall()) {
		return best
	}
	t.mix = 0
	t.Gap, t.N = gap-a.round-b.round, n
	t.A = axpy(axpy(a.c, sa, a.e), a.ro+a.round, n)
	t.B = axpy(t.A, t.Gap, n)
	return gap
}

// wall returns how thick the ring is across its axis.
func (k *section) wall() float64 {
	if k.ri > 0 {
		return k.ro - k.ri
	}
	return k.ro
}

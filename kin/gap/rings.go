package gap

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// rings measures two rings. The nearest points of separate ones are on an edge circle of one of them, or on both outer cylinders, where
// the common normal of the axes leaves them. A circle's nearest place is looked for from posts around it.
func rings(a, b *Solid, t *Touch) {
	var ka, kb section
	ka.set(a)
	kb.set(b)
	best := math.Inf(1)
	best = crossedRings(&ka, &kb, best, t)
	best = hoops(&ka, &kb, best, t, false)
	// A single circle has nothing but itself that could be near.
	if ka.circles() > 1 || ka.ri < ka.ro && ka.ri < 0 {
		best = hoops(&kb, &ka, best, t, true)
	}
	if best <= 0 {
		return
	}
	skewer(&ka, &kb, best, t)
}

// hoops looks at the edges of the ring k against the ring o. k is the second solid if swapped.
func hoops(k, o *section, best float64, t *Touch, swapped bool) float64 {
	u := o.axes()
	var h hoop
	h.ring = o
	for i := range k.circles() {
		r, s := k.circle(i)
		h.set(k, r, s, o.c, &u)
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

// far tells, from the circle's centre, that no place of it is nearer to the ring than best: what surrounds the ring is convex.
func (h *hoop) far(best float64) bool {
	rho := math.Sqrt(h.c[0]*h.c[0] + h.c[1]*h.c[1])
	// How far the circle reaches along the other's axis, and across it.
	up := math.Sqrt(h.f[2]*h.f[2] + h.g[2]*h.g[2])
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
	// The feet of the common normal.
	sa, sb := r3.Dot(r3.Cross(v, b.e), m)/mm, r3.Dot(r3.Cross(v, a.e), m)/mm
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

// skewer looks whether the axis of a solid cylinder runs through the other ring where no edge does. Then the gap is minus the shortest
// way along either axis, or square to both, that moves them apart.
func skewer(a, b *section, best float64, t *Touch) {
	if !(b.ri < 0 && a.holds(b)) && !(a.ri < 0 && b.holds(a)) {
		return
	}
	v := r3.Sub(b.c, a.c)
	w := apart{gap: math.Inf(-1)}
	w.try(a.e, r3.Dot(a.e, v), a.h+b.reach(a.e))
	w.try(b.e, r3.Dot(b.e, v), b.h+a.reach(b.e))
	if m := r3.Cross(a.e, b.e); r3.Dot(m, m) > 1e-20 {
		m = r3.Unit(m)
		w.try(m, r3.Dot(m, v), a.reach(m)+b.reach(m))
	}
	t.mix = 0
	t.Gap, t.N = w.gap-a.round-b.round, w.n
	t.A = r3.Add(a.c, axpy(a.support(w.n), a.round, w.n))
	t.B = axpy(t.A, t.Gap, w.n)
}

// holds tells whether the axis of o enters k.
func (k *section) holds(o *section) bool {
	var c chord
	c.set(k, r3.Sub(axpy(o.c, -o.h, o.e), k.c), r3.Scale(2*o.h, o.e))
	_, d := k.segment(&c)
	return d < 0
}

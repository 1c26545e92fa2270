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
	if !p.quick(t) {
		p.look(t)
	}
}

// quick measures two rings of which one is in the other's bore, or which are nearest on their outside; false if it cannot prove that.
func (p *couple) quick(t *Touch) bool {
	a, b := p[1].own, p[0].own
	return a.ri > b.ro && ringInBore(b, a, t, true) || b.ri > a.ro && ringInBore(a, b, t, false) || p.outside(t)
}

// look measures two rings by a look at their edges, or where that proves nothing, by the search.
func (p *couple) look(t *Touch) {
	var q survey
	if !p.through(&q, t) {
		p.search(&q, t)
	}
}

// parts returns how far a plane square to n, from a to b, parts what surrounds two rings; negative if it does not.
func (k *section) parts(o *section, n r3.Vec) float64 {
	return r3.Dot(n, r3.Sub(o.c, k.c)) - k.reach(n) - o.reach(n)
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

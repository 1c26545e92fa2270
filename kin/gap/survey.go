package gap

import "math"

// survey is what a first look at the edges of two rings tells: each circle, the ring that sees it, a place of it that may be nearest, and the distance there.
type survey struct {
	all  [8]sighted
	n    int
	best float64 // the least distance that is known; the touch has it
}

// sighted is a circle that a ring has had a first look at.
type sighted struct {
	rim
	view    int
	c, s, d float64
}

// sight looks at both edges of one side of the ring that view i sees.
func (q *survey) sight(p *couple, i int, inner bool) {
	v := &p[i]
	r := v.other.ro
	if inner {
		if r = v.other.ri; !(r > 0 && r < v.other.ro) {
			return
		}
	}
	for _, h := range [2]float64{v.other.h, -v.other.h} {
		a := &q.all[q.n]
		a.rim, a.view = v.rim(r, h), i
		a.c, a.s = a.toward(v.own)
		a.d = v.own.distance(a.at(a.c, a.s))
		q.n++
		if h == 0 {
			return
		}
	}
}

// nearest returns the circle whose place is nearest, or deepest.
func (q *survey) nearest() *sighted {
	a := &q.all[0]
	for i := range q.all[:q.n] {
		if q.all[i].d < a.d {
			a = &q.all[i]
		}
	}
	return a
}

// toward returns a place of the circle that may be nearest to the ring: the one that looks from the circle's middle to the nearest place of what surrounds the
// ring, or off its axis if the middle is in there.
func (m *rim) toward(k *section) (c, s float64) {
	x, y, z, side, end := k.hold(m.x, m.y, m.z)
	if side || end {
		x, y, z = x-m.x, y-m.y, z-m.z
	} else {
		z = 0
	}
	c, s = m.rc*x-m.rs*z, m.r*y
	ll := c*c + s*s
	if !(ll > 1e-18*m.r*m.r) {
		return compass[0][0], compass[0][1]
	}
	f := 1 / math.Sqrt(ll)
	return f * c, f * s
}

// halfway looks at both places of the circle that are half up the ring, or nearest to that, and takes one of them if it is in the ring and deeper.
func (a *sighted) halfway(k *section) {
	if math.Abs(a.z)-math.Abs(a.rs) >= k.h {
		return
	}
	c := 0.0
	if a.rs != 0 {
		c = min(max(a.z/a.rs, -1), 1)
	}
	s := math.Sqrt(1 - c*c)
	for range 2 {
		if d := k.distance(a.at(c, s)); d < a.d && d <= met {
			a.c, a.s, a.d = c, s, d
		}
		s = -s
	}
}

// through measures two rings of which one may be in the hole of the other, or in the other, from places of their edges; false if it cannot prove what it
// finds. Then q has that.
func (p *couple) through(q *survey, t *Touch) bool {
	q.best = math.Inf(1)
	for i := range p {
		q.sight(p, i, false)
	}
	if a := q.nearest(); a.d > met {
		v := &p[a.view]
		if c, s, ok := a.settle(v.own, a.c, a.s); ok {
			if q.best, ok = v.prove(&a.rim, c, s, t); ok {
				return true
			}
			a.c, a.s, a.d = c, s, v.own.distance(a.at(c, s))
		}
	}
	for i := range p {
		q.sight(p, i, true)
	}
	for i := range q.all[:q.n] {
		q.all[i].halfway(p[q.all[i].view].own)
	}
	if a := q.nearest(); a.d < -met {
		q.best, _, _ = p[a.view].down(&a.rim, a.c, a.s, a.d, q.best, t)
	}
	return q.best < -met
}

// search measures two rings wherever they are. The nearest points of separate ones are on an edge circle of one of them, or on both outer cylinders, where the
// common normal of the axes leaves them. Circles of the ring that may be in the other's hole are looked at first; of the other's it is enough to look
// at what is nearest to a face, for two edges are seen from either side.
func (p *couple) search(q *survey, t *Touch) {
	a, b := p[1].own, p[0].own
	best := crossedRings(a, b, q.best, t)
	if best < -met {
		return
	}
	first := 0
	if b.ri < 0 || a.ri > 0 && a.ro > b.ro {
		first = 1
	}
	for _, view := range [2]int{first, 1 - first} {
		v := &p[view]
		for i := range q.all[:q.n] {
			m := &q.all[i]
			if m.view != view || best <= met && v.own.flat() || m.apart(v.own) >= best || view != first && m.aside(v.own, best) {
				continue
			}
			if best = v.nearer(&m.rim, m.c, m.s, best, t); best < -met {
				return
			}
		}
	}
	w := apart{gap: math.Inf(-1)}
	w.rings(a, b)
	if (best <= met || w.gap >= 0 || a.parts(b, t.N) > 0) && !(math.Abs(best) <= met && a.fills(body{ring: b})) {
		return
	}
	if best > met && (p[0].threads() || p[1].threads()) || best <= met && (a.meets(body{ring: b}) || b.meets(body{ring: a})) {
		w.touch(a.round, b.round, t)
	}
}

// aside tells that no place of the circle is in the ring, or over one of its faces and nearer than best. Over a flat the nearest is at its highest or lowest
// place. Over a side it is within the ring's height, where the cosine C is from lo to hi, and there
//
//	ρ² = x² + y² + r² + C·(2·x·rc − rs²·C) ± 2·|y|·r·√(1 − C²)
func (m *rim) aside(k *section, best float64) bool {
	for _, c := range [2]float64{1, -1} {
		x, y, z := m.at(c, 0)
		if math.Abs(z)-k.h < best {
			if rr := x*x + y*y; rr <= k.ro*k.ro && (k.ri < 0 || rr >= k.ri*k.ri) {
				return false
			}
		}
	}
	lo, hi := -1.0, 1.0
	if rs := math.Abs(m.rs); rs > 0 {
		mid, w := m.z/m.rs, k.h/rs
		lo, hi = max(lo, mid-w), min(hi, mid+w)
	} else if math.Abs(m.z) > k.h {
		return true
	}
	if lo > hi {
		return true
	}
	g, rss := 2*m.x*m.rc, m.rs*m.rs
	fixed := m.x*m.x + m.y*m.y + m.r*m.r
	at, to := lo*(g-rss*lo), hi*(g-rss*hi)
	low, high := min(at, to), max(at, to)
	if v := 0.5 * g; v > lo*rss && v < hi*rss {
		high = v * v / rss
	}
	f := 2 * math.Abs(m.y) * m.r
	most := f
	if lo > 0 {
		most = f * math.Sqrt(1-lo*lo)
	} else if hi < 0 {
		most = f * math.Sqrt(1-hi*hi)
	}
	least := f * math.Sqrt(max(1-max(lo*lo, hi*hi), 0))
	out := k.ro + best
	out *= out
	in := k.ri - best
	if in = in * in; k.ri < best {
		in = -1
	}
	near := fixed+low-most >= out || fixed+high-least <= in
	if !near {
		// The parabola is above its chord, and with that for it the least is in closed form.
		chord := g - rss*(lo+hi)
		c := min(max(-chord/math.Sqrt(chord*chord+f*f), lo), hi)
		near = fixed+at+chord*(c-lo)-f*math.Sqrt(1-c*c) >= out
	}
	return near && (fixed+low+least >= out || fixed+high+most <= in)
}

// flat tells whether the ring is a sheet that no place is in.
func (k *section) flat() bool { return k.h == 0 || k.ri == k.ro }

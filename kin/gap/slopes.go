package gap

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// Slopes sets ga and gb to the gradient of t.Gap, as Between found it for a and b, with each of At of both solids: mm per
// mm, or mm for a direction; zero for those that do not count. The gap's derivative along a motion is the sum of their dot products with
// the velocities of At. Directions keep their length and a box its right angles: gradients hold along such motions.
//
// By the envelope theorem the nearest points may be held on their solids. Where two pairs of points are equally near the gap
// has a kink, and the gradient is that of the pair that Between found.
func (t *Touch) Slopes(a, b *Solid, ga, gb *[5]r3.Vec) {
	*ga, *gb = [5]r3.Vec{}, [5]r3.Vec{}
	if t.mix == 0 {
		a.pull(t.A, t.N, -1, ga)
		b.pull(t.B, r3.Scale(-1, t.N), -1, gb)
		return
	}
	p, q, f, n := t.A, t.B, 1.0, t.N
	sp, sq := t.side.a, t.side.b
	if t.second {
		a, b, ga, gb = b, a, gb, ga
		p, q, f = q, p, -1
		sp, sq = sq, sp
	}
	m := t.side.n
	// The deepest point is one and the same, so its solid sees both directions as one; the other has two surfaces.
	a.pull(blend(p, sp, t.mix), r3.Scale(f, blend(n, m, t.mix)), -1, ga)
	b.pull(q, r3.Scale(-f, n), t.mix-1, gb)
	b.pull(sq, r3.Scale(-f, m), -t.mix, gb)
}

// blend returns (1 − x)·a + x·b.
func blend(a, b r3.Vec, x float64) r3.Vec { return axpy(r3.Scale(1-x, a), x, b) }

// pull adds to g, f times, how far the surface at p moves along its outward direction n with each of s.At.
func (s *Solid) pull(p, n r3.Vec, f float64, g *[5]r3.Vec) {
	switch s.Kind {
	case Capsule:
		// p = (1 − x)·At0 + x·At1 + R·n
		u := r3.Sub(s.At[1], s.At[0])
		x := share(r3.Dot(u, r3.Sub(axpy(p, -s.R, n), s.At[0])), r3.Dot(u, u))
		g[0] = axpy(g[0], f*(1-x), n)
		g[1] = axpy(g[1], f*x, n)
	case Box:
		s.pullBox(p, n, f, g)
	case Ring:
		s.pullRing(p, n, f, g)
	case Plane:
		// m·p = m·At0
		g[0] = axpy(g[0], f, n)
		g[1] = axpy(g[1], f, r3.Sub(s.At[0], p))
	}
}

// pullBox is pull of a box. Along each edge direction u the point keeps its share x of the way from corner to corner, which is 0 or 1 where
// n looks out of a face: u·p = u·c with c = (1 − x)·At0 + x·At1, so u·dp = u·dc + (c − p)·du.
func (s *Solid) pullBox(p, n r3.Vec, f float64, g *[5]r3.Vec) {
	diagonal := r3.Sub(s.At[1], s.At[0])
	for i := 2; i < 5; i++ {
		u := s.At[i]
		w, x := r3.Dot(diagonal, u), 0.5
		if w != 0 {
			x = within(r3.Dot(u, r3.Sub(p, s.At[0])) / w)
		}
		nu := f * r3.Dot(n, u)
		g[0] = axpy(g[0], nu*(1-x), u)
		g[1] = axpy(g[1], nu*x, u)
		g[i] = axpy(g[i], nu, r3.Sub(axpy(s.At[0], x, diagonal), p))
	}
}

// pullRing is pull of a ring. The point is at p = c + k·e + ρ·r, c the end on its side of the middle, e the axis and r square to it:
//
//	n·dp = n·dc + (k·nρ − ρ·ns)·r·de,   de = (1 − e·eᵀ)·(dAt1 − dAt0)/L
func (s *Solid) pullRing(p, n r3.Vec, f float64, g *[5]r3.Vec) {
	d := r3.Sub(s.At[1], s.At[0])
	l := length(d)
	e := r3.Scale(1/l, d)
	ns := r3.Dot(n, e)
	end := 0
	if r3.Dot(e, r3.Sub(p, s.At[0]))-0.5*l-s.Round*ns > 0 {
		end = 1
	}
	g[end] = axpy(g[end], f, n)
	v := r3.Sub(p, s.At[end])
	k := r3.Dot(v, e)
	out := axpy(v, -k, e)
	rho := length(out)
	// On the axis r is the direction that n takes off it, if any.
	if rho <= 1e-12*s.R {
		out, rho = axpy(n, -ns, e), 0
	}
	size := math.Sqrt(r3.Dot(out, out))
	if size <= 1e-12 {
		return
	}
	r := r3.Scale(1/size, out)
	arm := f * (k*r3.Dot(n, r) - rho*ns) / l
	g[0] = axpy(g[0], -arm, r)
	g[1] = axpy(g[1], arm, r)
}

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
	f := t.mix - 1
	a.pull(t.A, t.N, f, ga)
	b.pull(t.B, r3.Scale(-1, t.N), f, gb)
	if t.mix != 0 {
		a.pull(t.side.a, t.side.n, -t.mix, ga)
		b.pull(t.side.b, r3.Scale(-1, t.side.n), -t.mix, gb)
	}
}

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

// pullBox is pull of a box. The point stands on the faces that its direction looks out of: u·p = u·c for each edge direction u, c the
// corner on that face, so u·dp = u·dc + (c − p)·du.
func (s *Solid) pullBox(p, n r3.Vec, f float64, g *[5]r3.Vec) {
	diagonal := r3.Sub(s.At[1], s.At[0])
	for i := 2; i < 5; i++ {
		u := s.At[i]
		k, nu := 0, r3.Dot(n, u)
		if (nu > 0) == (r3.Dot(diagonal, u) > 0) {
			k = 1
		}
		g[k] = axpy(g[k], f*nu, u)
		g[i] = axpy(g[i], f*nu, r3.Sub(s.At[k], p))
	}
}

// pullRing is pull of a ring. The point is at p = c + k·e + ρ·r, c the end on the side that n looks to, e the axis and r square to it:
//
//	n·dp = n·dc + (k·nρ − ρ·ns)·r·de,   de = (1 − e·eᵀ)·(dAt1 − dAt0)/L
func (s *Solid) pullRing(p, n r3.Vec, f float64, g *[5]r3.Vec) {
	d := r3.Sub(s.At[1], s.At[0])
	l := length(d)
	e := r3.Scale(1/l, d)
	ns := r3.Dot(n, e)
	end := 0
	if ns > 0 {
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

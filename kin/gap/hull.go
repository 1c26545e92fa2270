package gap

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// Most pairs with a ring are nearest on the outside of both, where the ring's hole does not matter. There a few steps between the nearest
// points of what surrounds them tell which faces and edges face one another, Newton's steps find the nearest points of those, and the plane
// that parts the two surrounding bodies there proves that nothing is nearer. Whatever fails that proof is left to the full search.

// foot is the nearest point of the solid cylinder around a ring to a point, and where that point is, seen from the ring.
type foot struct {
	q      r3.Vec  // on the cylinder; the point itself if that is inside
	radial r3.Vec  // unit vector from the axis to the point
	qr, qs float64 // how far the point is beyond the side, and beyond the end
	s      float64 // the point's place along the axis, from the centre
}

// foot finds it for p. On the axis radial is zero, and near it not square to the axis to the last digits.
func (k *section) foot(p r3.Vec) (f foot) {
	v := r3.Sub(p, k.c)
	f.s = r3.Dot(k.e, v)
	across := axpy(v, -f.s, k.e)
	rho := length(across)
	if rho > 0 {
		f.radial = r3.Scale(1/rho, across)
	}
	f.qr, f.qs = rho-k.ro, math.Abs(f.s)-k.h
	f.q = p
	if f.qr > 0 {
		f.q = axpy(f.q, -f.qr, f.radial)
	}
	if f.qs > 0 {
		f.q = axpy(f.q, -math.Copysign(f.qs, f.s), k.e)
	}
	return f
}

// out returns the distance of the point from the cylinder and the outward direction; false if the point is inside, or over the ring's hole.
func (k *section) out(f *foot) (d float64, n r3.Vec, ok bool) {
	switch {
	case f.qr > 0 && f.qs > 0:
		d = math.Sqrt(f.qr*f.qr + f.qs*f.qs)
		x := 1 / d
		return d, axpy(r3.Scale(x*f.qr, f.radial), math.Copysign(x*f.qs, f.s), k.e), true
	case f.qr > 0:
		return f.qr, f.radial, true
	}
	return f.qs, r3.Scale(math.Copysign(1, f.s), k.e), f.qs > 0 && f.qr+k.ro >= k.ri
}

// proof is by how much in mm the distance between two planes may fall short of that of the points that they stand on.
const proof = 1e-10

// boxRingOutside measures a box and a ring whose nearest points are on the outside of the ring; false if it cannot prove that they are.
func boxRingOutside(k *cuboid, s *section, t *Touch) bool {
	p, _ := k.nearest(s.c)
	var f foot
	var x [3]float64
	for range 2 {
		f = s.foot(p)
		if f.qr <= 0 && f.qs <= 0 {
			return false // a point in common
		}
		x = k.local(r3.Sub(f.q, k.c))
		p = r3.Add(k.c, k.hold(&x))
	}
	// The axes along which the near point of the ring is over the box; there the box's nearest point is free.
	free, axis := 0, 0
	for i, h := range k.h {
		if math.Abs(x[i]) < h {
			free++
			axis = i
		}
	}
	switch free {
	case 1:
		p = k.along(s, axis, &x)
	case 2:
		return k.faces(s, &x, t)
	case 3:
		return false
	}
	f = s.foot(p)
	d, n, ok := s.out(&f)
	if !ok || d <= met || k.parts(s, r3.Scale(-1, n)) < d-proof {
		return false
	}
	t.Gap = d - s.round
	t.A, t.N = p, r3.Scale(-1, n)
	t.B = axpy(p, t.Gap, t.N)
	return true
}

// hold returns the nearest vector of the box to x, in the box's axes, as it stands.
func (k *cuboid) hold(x *[3]float64) r3.Vec {
	var y [3]float64
	for i, h := range k.h {
		y[i] = x[i]
		if y[i] > h {
			y[i] = h
		} else if y[i] < -h {
			y[i] = -h
		}
	}
	return k.world(&y)
}

// faces looks at the face of the box that x is over, and the ring's farthest point towards it.
func (k *cuboid) faces(s *section, x *[3]float64, t *Touch) bool {
	i := 0
	for i < 2 && math.Abs(x[i]) < k.h[i] {
		i++
	}
	n := r3.Scale(math.Copysign(1, x[i]), k.u[i])
	q := r3.Sub(s.c, s.support(n))
	y := k.local(r3.Sub(q, k.c))
	for j, h := range k.h {
		if j != i && math.Abs(y[j]) > h {
			return false
		}
	}
	d := math.Copysign(1, x[i])*y[i] - k.h[i]
	if d <= met {
		return false
	}
	t.corner(q, n, d, s.round)
	return true
}

// bend is a curve as a ring sees it at one place: the square of its distance ρ from the axis and its height s, and their derivatives.
type bend struct {
	rr, r1, r2 float64 // ρ², ρ·ρ', (ρ·ρ')'
	s, s1, s2  float64 // s, s', s''
}

// newton returns slope and curvature of a measure of the distance from the ring: beyond its edge half the square,
//
//	E' = qr·ρ' + qs·s',   E'' = ρ'² + s'² + qr·ρ'' + qs·s'',   ρ'' = ((ρ·ρ')' − ρ'²)/ρ,   qr = ρ − ro,   qs = |s| − h
//
// and elsewhere ρ or |s| itself; within ri it is −ρ, and qr = ri − ρ. False inside the ring.
func (k *section) newton(b *bend) (slope, curve float64, ok bool) {
	rho := math.Sqrt(b.rr)
	qr, qs := rho-k.ro, math.Abs(b.s)-k.h
	s1, s2 := b.s1, b.s2
	if b.s < 0 {
		s1, s2 = -s1, -s2
	}
	f := 1 / rho
	if in := k.ri - rho; in > qr {
		qr, f = in, -f
	}
	if qr <= 0 {
		return s1, s2, qs > 0
	}
	rise := f * b.r1
	curve = f * (b.r2 - rise*rise)
	if qs <= 0 {
		return rise, curve, true
	}
	return qr*rise + qs*s1, rise*rise + s1*s1 + qr*curve + qs*s2, true
}

// fine is how short the last of Newton's steps is, in mm: the next would be its square over the size of a solid.
const fine = 1e-6

// along returns the nearest point to the solid cylinder around the ring on the edge of the box that runs along axis i on the side of x, starting
// over x. The distance is convex along the edge, so that its slope tells on which side the least is.
func (k *cuboid) along(s *section, i int, x *[3]float64) r3.Vec {
	u := k.u[i]
	mid := k.c
	for j, h := range k.h {
		if j != i {
			mid = axpy(mid, math.Copysign(h, x[j]), k.u[j])
		}
	}
	v := r3.Sub(mid, s.c)
	rise, level := r3.Dot(u, s.e), r3.Dot(v, s.e)
	v, side := axpy(v, -level, s.e), axpy(u, -rise, s.e)
	vv, vu, uu := r3.Dot(v, v), r3.Dot(v, side), r3.Dot(side, side)
	at, lo, hi := x[i], -k.h[i], k.h[i]
	ends := [2]bool{}
	for range 20 {
		slope, curve, ok := s.newton(&bend{vv + at*(2*vu+at*uu), vu + at*uu, uu, level + at*rise, rise, 0})
		if !ok || slope == 0 {
			break
		}
		end, past := 0, &lo
		if slope < 0 {
			end, past = 1, &hi
			lo = at
		} else {
			hi = at
		}
		next := at - slope/curve
		if !(next > lo && next < hi) {
			// Where no step is to be had, the end of the edge, and then the middle.
			if next = 0.5 * (lo + hi); !ends[end] {
				ends[end], next = true, *past
			}
		}
		step := next - at
		if at = next; math.Abs(step) < fine {
			break
		}
	}
	return axpy(mid, at, u)
}

// ringsOutside measures two rings whose nearest points are on the outside of both; false if it cannot prove that they are.
func ringsOutside(a, b *section, t *Touch) bool {
	p := b.c
	var f, g foot
	for range 2 {
		f = a.foot(p)
		g = b.foot(f.q)
		p = g.q
		if f.qr <= 0 && f.qs <= 0 || g.qr <= 0 && g.qs <= 0 {
			return false // a point in common
		}
	}
	// Ends that face one another are left to the search. Two sides are nearest where their axes pass, anything else on an edge.
	if g.qr <= 0 && f.qr <= 0 {
		return false
	}
	if g.qr > 0 && g.qs <= 0 && f.qr > 0 && f.qs <= 0 && crossedOutside(a, b, t) {
		return true
	}
	if g.qs > 0 && g.qr > 0 || f.qs <= 0 {
		return hoopOutside(b, a, &g, t, true) || hoopOutside(a, b, &f, t, false)
	}
	return hoopOutside(a, b, &f, t, false) || hoopOutside(b, a, &g, t, true)
}

// crossedOutside measures two cylinders that pass one another within both.
func crossedOutside(a, b *section, t *Touch) bool {
	m := r3.Cross(a.e, b.e)
	mm := r3.Dot(m, m)
	if mm < 1e-12 {
		return false
	}
	v := r3.Sub(b.c, a.c)
	sa, sb := feet(v, a.e, b.e)
	if math.Abs(sa) > a.h || math.Abs(sb) > b.h {
		return false
	}
	n := r3.Scale(1/math.Sqrt(mm), m)
	d := r3.Dot(n, v)
	if d < 0 {
		d, n = -d, r3.Scale(-1, n)
	}
	if d -= a.ro + b.ro; d <= met {
		return false
	}
	t.Gap, t.N = d-a.round-b.round, n
	t.A = axpy(axpy(a.c, sa, a.e), a.ro+a.round, n)
	t.B = axpy(t.A, t.Gap, n)
	return true
}

// hoopOutside looks from f for the place of an outer edge of the ring k nearest to the ring o. k is the second solid if swapped.
func hoopOutside(k, o *section, f *foot, t *Touch, swapped bool) bool {
	// The edge circle is mid + ro·(cos·r + sin·w), from the place f, in the coordinates of o: ρ² is a polynomial of cos and sin.
	r := f.radial
	if f.qr+k.ro < 1e-3*(math.Abs(f.s)+k.ro) {
		// Near the axis it has lost digits: it is made square to e again.
		r = axpy(r, -r3.Dot(r, k.e), k.e)
		l := length(r)
		if !(l > 0.5) {
			return false
		}
		r = r3.Scale(1/l, r)
	}
	w := r3.Cross(k.e, r)
	mid := axpy(k.c, math.Copysign(k.h, f.s), k.e)
	v := r3.Sub(mid, o.c)
	cs, rs, ws := r3.Dot(v, o.e), k.ro*r3.Dot(r, o.e), k.ro*r3.Dot(w, o.e)
	// What lies across the axis of o loses what lies along it.
	cc, cr, cw := r3.Dot(v, v)-cs*cs, k.ro*r3.Dot(v, r)-cs*rs, k.ro*r3.Dot(v, w)-cs*ws
	rr, rw, ww := k.ro*k.ro-rs*rs, -rs*ws, k.ro*k.ro-ws*ws
	cos, sin := 1.0, 0.0
	for range 12 {
		x, y := cos*cos-sin*sin, cos*sin
		slope, curve, ok := o.newton(&bend{
			cc + 2*(cr*cos+cw*sin) + rr*cos*cos + 2*rw*y + ww*sin*sin,
			cw*cos - cr*sin + (ww-rr)*y + rw*x,
			(ww-rr)*x - 4*rw*y - cr*cos - cw*sin,
			cs + rs*cos + ws*sin,
			ws*cos - rs*sin,
			-rs*cos - ws*sin,
		})
		if !ok {
			return false
		}
		// Where the distance bends down, a step downhill.
		step := -slope / math.Abs(curve)
		step = min(max(step, -0.5), 0.5)
		// tan(step/2) is step/2 but for its cube.
		u := 0.5 * step
		z := 1 / (1 + u*u)
		c, s := (1-u*u)*z, 2*u*z
		cos, sin = cos*c-sin*s, sin*c+cos*s
		if math.Abs(step)*k.ro < fine {
			break
		}
	}
	p := axpy(axpy(mid, k.ro*cos, r), k.ro*sin, w)
	at := o.foot(p)
	d, n, ok := o.out(&at)
	if !ok || d <= met {
		return false
	}
	// n looks from o to k.
	if o.parts(k, n) < d-proof {
		return false
	}
	t.Gap = d - k.round - o.round
	x := t.witness(p, n, k.round, swapped)
	t.A, t.B, t.N = x.a, x.b, x.n
	return true
}

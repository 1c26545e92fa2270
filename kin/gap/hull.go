package gap

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// Most pairs with a ring are nearest on the outside of both, where the ring's hole does not matter. There a few steps between the nearest
// points of what surrounds them tell which faces and edges face one another, Newton's steps find the nearest points of those, and the plane
// that parts the two surrounding bodies there proves that nothing is nearer. Where one reaches into the other's hole, a bowl or a cone in the hole proves it
// (hole.go, crate.proved). Whatever fails these proofs is left to the full search.

// foot is where a point is, seen from a ring.
type foot struct {
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
	return f
}

// hull returns the nearest point to p of the solid cylinder around the ring, from the ring's centre; false if p is inside.
func (k *section) hull(p r3.Vec) (q r3.Vec, ok bool) {
	v := r3.Sub(p, k.c)
	s := r3.Dot(k.e, v)
	v = axpy(v, -s, k.e)
	if rr := r3.Dot(v, v); rr > k.ro*k.ro {
		v, ok = r3.Scale(k.ro/math.Sqrt(rr), v), true
	}
	if s > k.h {
		s, ok = k.h, true
	} else if s < -k.h {
		s, ok = -k.h, true
	}
	return axpy(v, s, k.e), ok
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
	v := r3.Sub(s.c, k.c)
	x := k.local(v)
	p := r3.Add(k.c, k.hold(&x))
	for range 2 {
		q, ok := s.hull(p)
		if !ok {
			return false // a point in common
		}
		x = k.local(r3.Add(v, q))
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
	f := s.foot(p)
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

// newton returns slope and curvature of a measure of the distance from the ring along a curve, both times a number that is not negative. It takes the
// square of the curve's distance ρ from the axis, u = ρ·ρ' and u', and its height s, s' and s”. Beyond the ring's edge the measure is half the square E,
//
//	ρ·E' = ±qr·u + ρ·qs·s',   ρ·E'' = ±qr·u' + r·u²/ρ² + ρ·(s'² + qs·s''),   qr = ±(ρ − r),   qs = |s| − h
//
// with ro for r, and above the hole with ri and the lower signs; elsewhere it is ρ or |s|, or −ρ in the hole. False inside the ring.
func (k *section) newton(rr, u, u1, s, s1, s2 float64) (slope, curve float64, ok bool) {
	vv := u * u / rr
	rho := math.Sqrt(rr)
	r := k.ro
	qr, qs := rho-r, math.Abs(s)-k.h
	if s < 0 {
		s1, s2 = -s1, -s2
	}
	if in := k.ri - rho; in > qr {
		qr, r, u, u1 = in, k.ri, -u, -u1
		if qs <= 0 {
			vv = -vv
		}
	}
	switch {
	case qr <= 0:
		return s1, s2, qs > 0
	case qs <= 0:
		return u, u1 - vv, true
	}
	return qr*u + rho*qs*s1, qr*u1 + r*vv + rho*(s1*s1+qs*s2), true
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
		slope, curve, ok := s.newton(vv+at*(2*vu+at*uu), vu+at*uu, uu, level+at*rise, rise, 0)
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

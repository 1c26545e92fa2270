package gap

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// nearlyParallel is the squared sine of the angle between two cores below which their ends are looked at too.
const nearlyParallel = 1e-8

// capsules measures two capsules: the distance of their cores less the radii. It minimises
//
//	|w + s·u − x·v|²   over 0 ≤ s, x ≤ 1,   w = p − q
//
// first along the line of one core, then the other's, as C. Ericson does (Real-Time Collision Detection, 2005, 5.1.9). Cores
// that are nearly parallel lose the digits of the determinant; then the nearest point is an end's or near enough, as D. Eberly
// argues (Robust Computation of Distance Between Line Segments, 2015). Both cited from memory.
func capsules(a, b *Solid, t *Touch) {
	p, q := a.At[0], b.At[0]
	u, v, w := r3.Sub(a.At[1], p), r3.Sub(b.At[1], q), r3.Sub(p, q)
	uu, uv, vv := r3.Dot(u, u), r3.Dot(u, v), r3.Dot(v, v)
	uw, vw := r3.Dot(u, w), r3.Dot(v, w)
	det := uu*vv - uv*uv
	var s, x float64
	if det > nearlyParallel*uu*vv {
		s = within((uv*vw - vv*uw) / det)
		x = (vw + s*uv) / vv
		if x < 0 {
			x, s = 0, within(-uw/uu)
		} else if x > 1 {
			x, s = 1, within((uv-uw)/uu)
		}
	} else {
		s, x = slender(w, u, v, uu, uv, vv)
	}
	// From the core of a to that of b.
	n := r3.Vec{
		X: x*v.X - s*u.X - w.X,
		Y: x*v.Y - s*u.Y - w.Y,
		Z: x*v.Z - s*u.Z - w.Z,
	}
	dd := r3.Dot(n, n)
	d := math.Sqrt(dd)
	if dd > 1e-24*(uu+vv) && dd > 0 {
		n = r3.Scale(1/d, n)
	} else {
		n = crossing(u, v, n)
	}
	t.mix = 0
	t.Gap = d - a.R - b.R
	t.N = n
	t.A = axpy(axpy(p, s, u), a.R, n)
	t.B = axpy(t.A, t.Gap, n)
}

// slender returns the nearest places on two cores that are nearly parallel, or of which one is a point: the best of
// each end with the other core, and of what the determinant says if there is one.
func slender(w, u, v r3.Vec, uu, uv, vv float64) (s, x float64) {
	best := math.Inf(1)
	try := func(si, xi float64) {
		n := axpy(axpy(w, si, u), -xi, v)
		if dd := r3.Dot(n, n); dd < best {
			best, s, x = dd, si, xi
		}
	}
	for _, end := range [2]float64{0, 1} {
		try(end, share(r3.Dot(v, axpy(w, end, u)), vv))
		try(share(-r3.Dot(u, axpy(w, -end, v)), uu), end)
	}
	if c := r3.Cross(u, v); r3.Dot(c, c) > 0 {
		// The determinant as the squared cross product keeps its digits: s = −(w × v)·c/|c|².
		si := within(-r3.Dot(r3.Cross(w, v), c) / r3.Dot(c, c))
		try(si, share(r3.Dot(v, axpy(w, si, u)), vv))
	}
	return s, x
}

// share returns num/den held to 0..1, and 0 if the core has no length.
func share(num, den float64) float64 {
	if den > 0 {
		return within(num / den)
	}
	return 0
}

// crossing returns the direction between cores that meet: square to both, to the side of n as far as that tells.
func crossing(u, v, n r3.Vec) r3.Vec {
	c := r3.Cross(u, v)
	cc := r3.Dot(c, c)
	if cc <= 1e-24*r3.Dot(u, u)*r3.Dot(v, v) || cc == 0 {
		if r3.Dot(u, u) < r3.Dot(v, v) {
			u = v
		}
		c, cc = square(u), 1
	}
	f := 1 / math.Sqrt(cc)
	if r3.Dot(c, n) < 0 {
		f = -f
	}
	return r3.Scale(f, c)
}

// capsulePlane measures a capsule and a plane: gap = min m·(p − o) − R over both ends p, m the normal.
func capsulePlane(a, b *Solid, t *Touch) {
	o, m := b.At[0], b.At[1]
	d0, d1 := r3.Dot(m, r3.Sub(a.At[0], o)), r3.Dot(m, r3.Sub(a.At[1], o))
	p, d := a.At[0], d0
	if d1 < d0 {
		p, d = a.At[1], d1
	} else if d1 == d0 {
		p = r3.Scale(0.5, r3.Add(p, a.At[1]))
	}
	t.plane(p, a.R, d, m)
}

// plane sets t for a point p of the first solid that, rounded by r, is nearest to a plane at the distance d with the normal m.
func (t *Touch) plane(p r3.Vec, r, d float64, m r3.Vec) {
	t.mix = 0
	t.Gap = d - r
	t.N = r3.Scale(-1, m)
	t.A = axpy(p, -r, m)
	t.B = axpy(t.A, -t.Gap, m)
}

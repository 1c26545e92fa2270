package gap

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// prove takes a place of a circle, at a cosine and sine, for the nearest points of both rings, and proves it; false if it cannot. It returns the distance
// there, and sets t to it; infinite where it is none.
func (v *view) prove(m *rim, c, s float64, t *Touch) (d float64, ok bool) {
	k := v.own
	x, y, z := m.at(c, s)
	rho := math.Sqrt(x*x + y*y)
	qr, qs := rho-k.ro, math.Abs(z)-k.h
	if rho < k.ri {
		return v.hole(m, c, s, x, y, z, rho, t)
	}
	var nr, nz float64
	switch {
	case qr > 0 && qs > 0:
		d = math.Sqrt(qr*qr + qs*qs)
		f := 1 / d
		nr, nz = f*qr, math.Copysign(f*qs, z)
	case qr > qs:
		d, nr = qr, 1
	default:
		d, nz = qs, math.Copysign(1, z)
	}
	if d <= met {
		return math.Inf(1), false
	}
	nx, ny := 0.0, 0.0
	if nr > 0 {
		g := nr / rho
		nx, ny = g*x, g*y
	}
	// The plane through the ring's point, square to n, has the ring on one side. The other is beyond it by d if p is its nearest.
	o := v.other
	ox, oz := v.cos*nx-v.sin*nz, v.sin*nx+v.cos*nz
	reach := o.ro*math.Sqrt(ox*ox+ny*ny) + o.h*math.Abs(oz)
	v.touch(x, y, z, nx, ny, nz, d, t)
	return d, nx*(x-v.c[0])+ny*(y-v.c[1])+nz*(z-v.c[2]) <= proof-reach
}

// touch sets t to the place (x, y, z) of the other ring, d along n from this one.
func (v *view) touch(x, y, z, nx, ny, nz, d float64, t *Touch) {
	k, o := v.own, v.other
	t.Gap, t.mix = d-k.round-o.round, 0
	w := t.witness(r3.Add(k.c, v.world(x, y, z)), v.world(nx, ny, nz), o.round, v.swapped)
	t.A, t.B, t.N = w.a, w.b, w.n
}

// hole is prove of a place within ri of the axis. The distance to the ring from a point at ρ and s is at least
//
//	cosφ·(ri − ρ) + sinφ·(|s| − h),   ρ ≤ (ρ² + ρ0²)/(2·ρ0)
//
// whatever φ and ρ0 are, and with those of the nearest point it is just its distance there. So where it is d there is a paraboloid about the
// axis, or a cylinder: the other ring is at least d away if both of its outer edges are in it.
func (v *view) hole(m *rim, c, s, x, y, z, rho float64, t *Touch) (d float64, ok bool) {
	k, o := v.own, v.other
	qr, qs := k.ri-rho, math.Abs(z)-k.h
	cosphi, sinphi := 1.0, 0.0
	d = qr
	if qs > 0 {
		d = math.Sqrt(qr*qr + qs*qs)
		cosphi, sinphi = qr/d, qs/d
	}
	if d <= met || rho < 1e-3*k.ri {
		return math.Inf(1), false
	}
	g := -cosphi / rho
	v.touch(x, y, z, g*x, g*y, math.Copysign(sinphi, z), d, t)
	if cosphi < 1e-3 {
		return d, false
	}
	w := bowl{math.Copysign(sinphi/cosphi*rho, z), 0}
	w.most = 0.5*rho*rho - w.tilt*z + proof*rho/cosphi
	for _, h := range [2]float64{o.h, -o.h} {
		n := v.rim(o.ro, h)
		if n == *m && !w.holds(v, m, c, s) || n != *m && !w.around(v, &n) {
			return d, false
		}
	}
	return d, true
}

// bowl is the paraboloid ρ²/2 − tilt·s ≤ most about a ring's axis, or a cylinder.
type bowl struct{ tilt, most float64 }

// On a circle ρ²/2 − tilt·s is half of r² − sin²·u² + 2·(a·v + b·u) and of what is fixed, with u = r·C and v = r·S.
func (w *bowl) terms(v *view, m *rim) (a, b, fixed float64) {
	return m.y, m.x*v.cos + w.tilt*v.sin, m.x*m.x + m.y*m.y - 2*w.tilt*m.z
}

// around tells whether a circle is in the bowl.
func (w *bowl) around(v *view, m *rim) bool {
	a, b, fixed := w.terms(v, m)
	_, _, top := farthestOnCircle(a, b, v.sin*v.sin, m.r)
	return 0.5*(fixed+top) <= w.most
}

// holds does so from where the circle is nearest to the bowl's outside, or may be: that place tells the multiplier.
func (w *bowl) holds(v *view, m *rim, c, s float64) bool {
	a, b, fixed := w.terms(v, m)
	tt := v.sin * v.sin
	mult := b/(m.r*c) - tt
	if math.Abs(s) > math.Abs(c) {
		mult = a / (m.r * s)
	}
	return mult >= 0 && 0.5*(fixed+bound(a, b, tt, m.r, mult)) <= w.most
}

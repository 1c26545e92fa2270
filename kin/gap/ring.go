package gap

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// section is a ring as its half section sees it: a rectangle of ρ from ri to ro and |s| ≤ h, ρ the distance from the axis e and s
// the place along it from the centre c, with round edges of radius round about it. A solid cylinder has ri = −∞.
type section struct {
	c, e             r3.Vec
	ri, ro, h, round float64
}

// set sets k to the ring s.
func (k *section) set(s *Solid) {
	d := r3.Sub(s.At[1], s.At[0])
	l := length(d)
	k.e = r3.Scale(1/l, d)
	k.c = axpy(s.At[0], 0.5, d)
	k.h = max(0.5*l-s.Round, 0)
	k.ro = s.R - s.Round
	k.ri = math.Inf(-1)
	if s.In > 0 {
		k.ri = min(s.In+s.Round, k.ro)
	}
	k.round = s.Round
}

// depth returns the signed distance of a point at (ρ, s) from the rectangle.
func (k *section) depth(rho, s float64) float64 {
	qr, qs := max(rho-k.ro, k.ri-rho), math.Abs(s)-k.h
	if qr > 0 && qs > 0 {
		return math.Sqrt(qr*qr + qs*qs)
	}
	return max(qr, qs)
}

// outward returns the outward direction (ρ, s) at the nearest point of the rectangle's border.
func (k *section) outward(rho, s float64) (nr, ns float64) {
	qr, qs := rho-k.ro, math.Abs(s)-k.h
	sr, ss := 1.0, math.Copysign(1, s)
	if in := k.ri - rho; in > qr {
		qr, sr = in, -1
	}
	switch {
	case qr > 0 && qs > 0:
		f := 1 / math.Sqrt(qr*qr+qs*qs)
		return f * qr * sr, f * qs * ss
	case qr > qs:
		return sr, 0
	}
	return 0, ss
}

// chord is a segment as a ring sees it: the point at x, 0 ≤ x ≤ 1, is at (a + da·x, m, s + ds·x) along f, g and the ring's
// axis, so that ρ² = (a + da·x)² + m².
type chord struct {
	a, da, m, s, ds float64
	f, g            r3.Vec
}

// set sets c to the segment p + x·d, p from the ring's centre.
func (c *chord) set(k *section, p, d r3.Vec) {
	c.s, c.ds = r3.Dot(k.e, p), r3.Dot(k.e, d)
	across := axpy(d, -c.ds, k.e)
	c.da = length(across)
	switch {
	case c.da > 1e-3*math.Abs(c.ds):
		c.f = r3.Scale(1/c.da, across)
	case c.da > 1e-13*math.Abs(c.ds):
		// What is left of d has lost digits: f is made square to e again.
		c.f = r3.Scale(1/c.da, across)
		c.f = axpy(c.f, -r3.Dot(c.f, k.e), k.e)
		c.f = r3.Scale(1/length(c.f), c.f)
		c.da = r3.Dot(c.f, d)
	default:
		c.f, c.da = square(k.e), 0
	}
	c.g = r3.Cross(k.e, c.f)
	c.a, c.m = r3.Dot(c.f, p), r3.Dot(c.g, p)
}

// rho returns the distance from the axis at x.
func (c *chord) rho(x float64) float64 {
	a := c.a + c.da*x
	return math.Sqrt(a*a + c.m*c.m)
}

// seeker keeps the least of what it looked at.
type seeker struct {
	k    *section
	c    *chord
	x, d float64
}

// try looks at x if the segment has it.
func (b *seeker) try(x float64) {
	if !(x >= 0 && x <= 1) {
		return
	}
	if d := b.k.depth(b.c.rho(x), b.c.s+b.c.ds*x); d < b.d {
		b.d, b.x = d, x
	}
}

// segment returns the place on a chord that is nearest to the rectangle turned about the axis, or deepest in it, and the signed
// distance.
//
// Along the chord the distance is made of pieces: to the outer or inner cylinder, to a flat, or to one of the four edges, which are
// circles. The least is at an end, where two pieces meet, where the chord is nearest to the axis, or at a stationary point of the
// distance to a circle.
func (k *section) segment(c *chord) (x, d float64) {
	b := seeker{k: k, c: c, d: math.Inf(1)}
	b.try(0)
	b.try(1)
	foot := -c.a / c.da // not a number where the chord is parallel to the axis
	b.try(foot)
	s1, s2 := (-k.h-c.s)/c.ds, (k.h-c.s)/c.ds
	b.try(s1)
	b.try(s2)
	// Where ρ = ro and ρ = ri: x = foot ∓ w/da.
	mm := c.m * c.m
	wo, wi := 0.0, -1.0
	if ww := k.ro*k.ro - mm; ww > 0 {
		wo = math.Sqrt(ww) / c.da
		b.try(foot - wo)
		b.try(foot + wo)
	}
	if ww := k.ri*k.ri - mm; k.ri > 0 && ww > 0 {
		wi = math.Sqrt(ww) / c.da
		b.try(foot - wi)
		b.try(foot + wi)
	}
	if c.da > 0 {
		if c.s > k.h || c.s+c.ds > k.h {
			b.beyond(1, s2, foot, wo, wi)
		}
		if c.s < -k.h || c.s+c.ds < -k.h {
			b.beyond(-1, s1, foot, wo, wi)
		}
	}
	if b.d <= met {
		b.inside(foot)
	}
	return b.x, b.d
}

// beyond looks for the nearest points to both circles of one side (+1 or -1), where the chord lies beyond the flat; it passes the flat at cut.
func (b *seeker) beyond(side, cut, foot, wo, wi float64) {
	lo, hi := 0.0, 1.0
	if rise := side * b.c.ds; rise > 0 && cut > 0 {
		lo = min(cut, 1)
	} else if rise < 0 && cut < 1 {
		hi = max(cut, 0)
	}
	b.circle(b.k.ro, side, lo, min(hi, foot-wo), 1)
	b.circle(b.k.ro, side, hi, max(lo, foot+wo), -1)
	if wi > 0 {
		b.circle(b.k.ri, side, max(lo, foot-wi), min(hi, foot), 1)
		b.circle(b.k.ri, side, min(hi, foot+wi), max(lo, foot), -1)
	}
}

// circle looks for a stationary point of the distance to the circle of radius r at side·h, going from one place to another, both on one side
// of the foot and the first the farther from it (way +1: upward). With half the squared distance E,
//
//	E' = (ρ − r)·ρ' + (s − side·h)·s',   ρ' = a·a'/ρ,   E''  = ρ'² + s'² + (ρ − r)·ρ'',   ρ'' = a'²·m²/ρ³
//
// E' is concave before the foot and convex behind it (its second derivative is -r·ρ”'). So Newton's steps from the far end
// never pass a minimum, and where E' bends down before one, there is none.
func (b *seeker) circle(r, side, from, to, way float64) {
	c := b.c
	flat := side * b.k.h
	x := from
	for range 40 {
		if way*(to-x) < 0 {
			return
		}
		a := c.a + c.da*x
		rho := math.Sqrt(a*a + c.m*c.m)
		if rho == 0 {
			return
		}
		rise := c.da * a / rho
		bend := c.da * c.m / rho
		e := rho - r
		g := e*rise + (c.s+c.ds*x-flat)*c.ds
		if way*g >= 0 && x == from {
			return // rising already: the end is nearest
		}
		gg := rise*rise + c.ds*c.ds + e*bend*bend/rho
		if gg <= 0 {
			return
		}
		step := g / gg
		x -= step
		if math.Abs(step) < 1e-8 {
			break
		}
	}
	if way*(to-x) >= 0 {
		b.try(x)
	}
}

// inside looks where the chord is deepest in the rectangle: the distance there is the greatest of ρ − ro, ri − ρ and |s| − h, and
// least in the middle of the flats or where two of them are equal.
func (b *seeker) inside(foot float64) {
	k, c := b.k, b.c
	b.try(-c.s / c.ds)
	if k.ri > 0 {
		mid := 0.5 * (k.ri + k.ro)
		if ww := mid*mid - c.m*c.m; ww > 0 {
			w := math.Sqrt(ww) / c.da
			b.try(foot - w)
			b.try(foot + w)
		}
	}
	for _, j := range [2]float64{1, -1} {
		b.equal(k.ro-k.h, j)
		if k.ri > 0 {
			b.equal(k.ri+k.h, j)
		}
	}
}

// equal looks where ρ = r + j·s: (a + da·x)² + m² = (r + j·(s + ds·x))².
func (b *seeker) equal(r, j float64) {
	c := b.c
	q := r + j*c.s
	qa := c.da*c.da - c.ds*c.ds
	qb := c.a*c.da - j*c.ds*q
	qc := c.a*c.a + c.m*c.m - q*q
	disc := qb*qb - qa*qc
	if disc < 0 {
		return
	}
	w := -qb - math.Copysign(math.Sqrt(disc), qb)
	b.try(w / qa)
	b.try(qc / w)
}

// capsuleRing measures a capsule and a ring.
func capsuleRing(a, b *Solid, t *Touch) {
	var k section
	k.set(b)
	d := r3.Sub(a.At[1], a.At[0])
	var c chord
	c.set(&k, r3.Sub(a.At[0], k.c), d)
	x, gap := k.segment(&c)
	p := axpy(a.At[0], x, d)
	k.touch(&c, x, gap, p, a.R, t)
}

// touch sets t to the point p, at x of a chord and rounded by r, and the ring.
func (k *section) touch(c *chord, x, gap float64, p r3.Vec, r float64, t *Touch) {
	aa, s := c.a+c.da*x, c.s+c.ds*x
	rho := math.Sqrt(aa*aa + c.m*c.m)
	radial := c.g // on the axis: square to it and to the chord
	if rho > 0 {
		radial = axpy(r3.Scale(aa/rho, c.f), c.m/rho, c.g)
	}
	t.Gap = gap - r - k.round
	nr, ns := k.outward(rho, s)
	out := axpy(r3.Scale(nr, radial), ns, k.e)
	t.N = r3.Scale(-1, out)
	t.A = axpy(p, -r, out)
	t.B = axpy(t.A, -t.Gap, out)
	t.mix = 0
	if gap > 1e-9*(k.ro+k.h) || x <= 0 || x >= 1 || rho == 0 {
		return
	}
	mr, ms, mix := k.ridge(rho, s, c.da*aa/rho, c.ds)
	if mix == 0 {
		return
	}
	out = axpy(r3.Scale(mr, radial), ms, k.e)
	t.mix, t.second = mix, false
	t.side.n = r3.Scale(-1, out)
	t.side.a = axpy(p, -r, out)
	t.side.b = axpy(t.side.a, -t.Gap, out)
}

// ridge tells whether a deepest point inside is as far from two surfaces, and then the outward direction of the second and its
// part in the derivative. Along the chord both distances f change at their rates f', and at the deepest point (1 − mix)·f' + mix·g' = 0.
func (k *section) ridge(rho, s, rise, ds float64) (nr, ns, mix float64) {
	f := [4]float64{rho - k.ro, k.ri - rho, s - k.h, -s - k.h}
	rate := [4]float64{rise, -rise, ds, -ds}
	first, second := 0, 1
	if f[1] > f[0] {
		first, second = 1, 0
	}
	for i := 2; i < 4; i++ {
		if f[i] > f[first] {
			first, second = i, first
		} else if f[i] > f[second] {
			second = i
		}
	}
	if f[first]-f[second] > 1e-9*(k.ro+k.h) || rate[first]*rate[second] >= 0 {
		return 0, 0, 0
	}
	a, b := k.outward(rho, s)
	// outward may have taken either of the two for the first.
	n := [4][2]float64{{1, 0}, {-1, 0}, {0, 1}, {0, -1}}
	if n[second] == [2]float64{a, b} {
		first, second = second, first
	}
	return n[second][0], n[second][1], rate[first] / (rate[first] - rate[second])
}

// support returns the ring's farthest point along n before its rounding, from its centre, on its outer edge.
func (k *section) support(n r3.Vec) r3.Vec {
	ns := r3.Dot(n, k.e)
	across := axpy(n, -ns, k.e)
	size := length(across)
	switch {
	case size <= 1e-14:
		across, size = square(k.e), 1
	case size < 1e-3:
		// What is left of n has lost digits: it is made square to e again.
		across = axpy(across, -r3.Dot(across, k.e), k.e)
		size = length(across)
	}
	return axpy(r3.Scale(k.ro/size, across), math.Copysign(k.h, ns), k.e)
}

// ringPlane measures a ring and a plane by the ring's lowest point.
func ringPlane(a, b *Solid, t *Touch) {
	var k section
	k.set(a)
	m := b.At[1]
	p := r3.Sub(k.c, k.support(m))
	t.plane(p, k.round, r3.Dot(m, r3.Sub(p, b.At[0])), m)
}

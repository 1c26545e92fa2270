package gap

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// cuboid is a box in its own axes: centre, edge directions and half edges.
type cuboid struct {
	c r3.Vec
	u [3]r3.Vec
	h [3]float64
}

// cuboid sets k to the box s. The corners may come in either order.
func (k *cuboid) set(s *Solid) {
	k.c = r3.Scale(0.5, r3.Add(s.At[0], s.At[1]))
	d := r3.Scale(0.5, r3.Sub(s.At[1], s.At[0]))
	for i := range k.u {
		k.u[i] = s.At[2+i]
		k.h[i] = math.Abs(r3.Dot(d, k.u[i]))
	}
}

// local returns the vector v in the box's axes.
func (k *cuboid) local(v r3.Vec) [3]float64 {
	return [3]float64{r3.Dot(k.u[0], v), r3.Dot(k.u[1], v), r3.Dot(k.u[2], v)}
}

// world returns the vector x in the box's axes as it stands.
func (k *cuboid) world(x *[3]float64) r3.Vec {
	return axpy(axpy(r3.Scale(x[0], k.u[0]), x[1], k.u[1]), x[2], k.u[2])
}

// capsuleBox measures a capsule and a box: the signed distance of the core less the radius.
func capsuleBox(a, b *Solid, t *Touch) {
	var k cuboid
	k.set(b)
	p := k.local(r3.Sub(a.At[0], k.c))
	d := r3.Sub(a.At[1], a.At[0])
	dl := k.local(d)
	x, gap, n := k.segment(&p, &dl)
	out := k.world(&n)
	t.N = r3.Scale(-1, out)
	t.Gap = gap - a.R
	t.A = axpy(axpy(a.At[0], x, d), -a.R, out)
	t.B = axpy(t.A, -t.Gap, out)
}

// segment returns the place x on the segment p + x·d, 0 ≤ x ≤ 1, that is nearest to the box or deepest in it, the signed
// distance, and the outward direction there, all in the box's axes.
//
// The squared distance f(x) = Σ max(|p + x·d| − h, 0)² is convex and its slope linear between the places where the segment passes a
// plane of the box. They narrow down where the slope is zero; there it is solved for.
func (k *cuboid) segment(p, d *[3]float64) (x, gap float64, n [3]float64) {
	var at [6]float64
	// What of the segment lies between all three pairs of planes is in the box.
	in, out := 0.0, 1.0
	for i, h := range k.h {
		if d[i] == 0 {
			at[2*i], at[2*i+1] = -1, -1
			if p[i] > h || p[i] < -h {
				in = 2
			}
			continue
		}
		f := 1 / d[i]
		x0, x1 := (-h-p[i])*f, (h-p[i])*f
		if x0 > x1 {
			x0, x1 = x1, x0
		}
		at[2*i], at[2*i+1] = x0, x1
		if x0 > in {
			in = x0
		}
		if x1 < out {
			out = x1
		}
	}
	if in <= out {
		return k.pierced(p, d)
	}
	switch {
	case k.slope(p, d, 0) >= 0:
		x = 0
	case k.slope(p, d, 1) <= 0:
		x = 1
	default:
		x = k.level(p, d, &at)
	}
	dd := 0.0
	for i, h := range k.h {
		y := p[i] + x*d[i]
		if y > h {
			n[i] = y - h
		} else if y < -h {
			n[i] = y + h
		}
		dd += n[i] * n[i]
	}
	if dd == 0 {
		return k.pierced(p, d)
	}
	gap = math.Sqrt(dd)
	f := 1 / gap
	n[0], n[1], n[2] = f*n[0], f*n[1], f*n[2]
	return x, gap, n
}

// slope returns half the slope of the squared distance at x.
func (k *cuboid) slope(p, d *[3]float64, x float64) (g float64) {
	for i, h := range k.h {
		if y := p[i] + x*d[i]; y > h {
			g += d[i] * (y - h)
		} else if y < -h {
			g += d[i] * (y + h)
		}
	}
	return g
}

// level returns where the slope of the squared distance is zero, between 0 and 1 where it is below and above.
func (k *cuboid) level(p, d *[3]float64, at *[6]float64) float64 {
	lo, hi := 0.0, 1.0
	for _, x := range at {
		if x > lo && x < hi {
			if k.slope(p, d, x) < 0 {
				lo = x
			} else {
				hi = x
			}
		}
	}
	// Between lo and hi the same planes count: 0 = Σ d·(p + x·d ∓ h).
	mid := 0.5 * (lo + hi)
	num, den := 0.0, 0.0
	for i, h := range k.h {
		if y := p[i] + mid*d[i]; y > h {
			num += d[i] * (p[i] - h)
			den += d[i] * d[i]
		} else if y < -h {
			num += d[i] * (p[i] + h)
			den += d[i] * d[i]
		}
	}
	if den == 0 {
		return mid
	}
	x := -num / den
	if x > hi {
		return hi
	}
	if x > lo {
		return x
	}
	return lo
}

// pierced returns what segment does where the segment is in the box: the shortest way out, square to a face or to an edge and the
// segment. The sum of a segment and a box has no other faces.
func (k *cuboid) pierced(p, d *[3]float64) (x, gap float64, n [3]float64) {
	gap = math.Inf(-1)
	for i, h := range k.h {
		q := p[i] + d[i]
		if g := min(p[i], q) - h; g > gap {
			gap, n = g, [3]float64{}
			n[i], x = 1, lower(d[i])
		}
		if g := -max(p[i], q) - h; g > gap {
			gap, n = g, [3]float64{}
			n[i], x = -1, lower(-d[i])
		}
	}
	dd := d[0]*d[0] + d[1]*d[1] + d[2]*d[2]
	for i := range k.h {
		j, l := (i+1)%3, (i+2)%3
		size := d[j]*d[j] + d[l]*d[l]
		if size <= 1e-20*dd || size == 0 {
			continue // along the edge; the faces tell
		}
		// n = edge × segment; the segment is at one distance c along it.
		f := 1 / math.Sqrt(size)
		nj, nl := -d[l]*f, d[j]*f
		c := nj*p[j] + nl*p[l]
		if c < 0 {
			c, nj, nl = -c, -nj, -nl
		}
		if g := c - k.h[j]*math.Abs(nj) - k.h[l]*math.Abs(nl); g > gap {
			gap, n = g, [3]float64{}
			n[j], n[l] = nj, nl
			// Beside the edge: the foot of the corner on the segment, seen along the edge.
			cj, cl := math.Copysign(k.h[j], nj), math.Copysign(k.h[l], nl)
			x = within((d[j]*(cj-p[j]) + d[l]*(cl-p[l])) / size)
		}
	}
	return x, gap, n
}

// lower returns which end of a segment is lower along an axis where it rises by d; its middle if it is level.
func lower(d float64) float64 {
	switch {
	case d > 0:
		return 0
	case d < 0:
		return 1
	}
	return 0.5
}

// support returns the box's farthest point along n, from the box's centre.
func (k *cuboid) support(n r3.Vec) (v r3.Vec) {
	for i, u := range k.u {
		if r3.Dot(u, n) >= 0 {
			v = axpy(v, k.h[i], u)
		} else {
			v = axpy(v, -k.h[i], u)
		}
	}
	return v
}

// point returns the signed distance of a point, in the box's axes, and the outward direction at its nearest surface.
func (k *cuboid) point(x, y, z float64) (gap, nx, ny, nz float64) {
	qx, qy, qz := math.Abs(x)-k.h[0], math.Abs(y)-k.h[1], math.Abs(z)-k.h[2]
	if qx > 0 {
		nx = math.Copysign(qx, x)
	}
	if qy > 0 {
		ny = math.Copysign(qy, y)
	}
	if qz > 0 {
		nz = math.Copysign(qz, z)
	}
	if dd := nx*nx + ny*ny + nz*nz; dd > 0 {
		gap = math.Sqrt(dd)
		f := 1 / gap
		return gap, f * nx, f * ny, f * nz
	}
	switch {
	case qx >= qy && qx >= qz:
		return qx, math.Copysign(1, x), 0, 0
	case qy >= qz:
		return qy, 0, math.Copysign(1, y), 0
	}
	return qz, 0, 0, math.Copysign(1, z)
}

// distance returns the signed distance of a point, in the box's axes.
func (k *cuboid) distance(x, y, z float64) float64 {
	x, y, z = math.Abs(x)-k.h[0], math.Abs(y)-k.h[1], math.Abs(z)-k.h[2]
	dd, in := 0.0, x
	if x > 0 {
		dd = x * x
	}
	if y > 0 {
		dd += y * y
	}
	if z > 0 {
		dd += z * z
	}
	if dd > 0 {
		return math.Sqrt(dd)
	}
	if y > in {
		in = y
	}
	if z > in {
		in = z
	}
	return in
}

// boxPlane measures a box and a plane by the box's lowest corner.
func boxPlane(a, b *Solid, t *Touch) {
	var k cuboid
	k.set(a)
	m := b.At[1]
	p := r3.Sub(k.c, k.support(m))
	t.plane(p, 0, r3.Dot(m, r3.Sub(p, b.At[0])), m)
}

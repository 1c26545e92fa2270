package gap

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// view is how one ring sees another: in axes of its own, of which z is its axis and y is square to both axes. The other's centre is at c
// and its axis at (sin, 0, cos), so that its own x is at (cos, 0, −sin), and y is the same for both.
type view struct {
	own, other *section
	x          r3.Vec
	y          r3.Vec
	c          [3]float64
	cos, sin   float64
	swapped    bool // the other is the second solid
}

// couple is how two rings see one another: the second the first, and the first the second.
type couple [2]view

// coupled returns how the rings a and b see one another.
func coupled(a, b *section) couple {
	y := r3.Cross(b.e, a.e)
	sin := length(y)
	switch {
	case sin > 1e-3:
		y = r3.Scale(1/sin, y)
	case sin > 1e-14:
		// What is left has lost digits: it is made square to both again.
		y = r3.Scale(1/sin, y)
		y = axpy(y, -r3.Dot(y, a.e), a.e)
		y = axpy(y, -r3.Dot(y, b.e), b.e)
		y = r3.Scale(1/length(y), y)
	default:
		y, sin = square(b.e), 0
	}
	cos := r3.Dot(a.e, b.e)
	xa, xb := r3.Cross(y, a.e), r3.Cross(y, b.e)
	d := r3.Sub(a.c, b.c)
	up := r3.Dot(y, d)
	return couple{
		{own: b, other: a, x: xb, y: y, c: [3]float64{r3.Dot(xb, d), up, r3.Dot(b.e, d)}, cos: cos, sin: sin},
		{own: a, other: b, x: xa, y: y, c: [3]float64{-r3.Dot(xa, d), -up, -r3.Dot(a.e, d)}, cos: cos, sin: -sin, swapped: true},
	}
}

// sees returns where a point is that the other ring sees at x, y, z.
func (v *view) sees(x, y, z float64) (float64, float64, float64) {
	return v.c[0] + v.cos*x + v.sin*z, v.c[1] + y, v.c[2] - v.sin*x + v.cos*z
}

// world returns a vector in the axes of the view as it stands.
func (v *view) world(x, y, z float64) r3.Vec {
	return axpy(axpy(r3.Scale(x, v.x), y, v.y), z, v.own.e)
}

// hold returns the nearest point of the solid cylinder around the ring to one in its axes, and whether that was beyond its side, and beyond its end.
func (k *section) hold(x, y, z float64) (qx, qy, qz float64, side, end bool) {
	if rr := x*x + y*y; rr > k.ro*k.ro {
		g := k.ro / math.Sqrt(rr)
		x, y, side = g*x, g*y, true
	}
	if z > k.h {
		z, end = k.h, true
	} else if z < -k.h {
		z, end = -k.h, true
	}
	return x, y, z, side, end
}

// outside measures two rings whose nearest points are on the outside of both; false if it cannot prove that they are.
func (p *couple) outside(t *Touch) bool {
	a, b := p[1].own, p[0].own
	// In the axes of a: a point of b, and the nearest to it of a; in the axes of b, that one, and the nearest to it of b.
	var ax, ay, az, bx, by, bz float64
	var sideA, endA, sideB, endB bool
	x, y, z := p[1].c[0], p[1].c[1], p[1].c[2]
	for range 2 {
		ax, ay, az = x, y, z
		x, y, z, sideA, endA = a.hold(x, y, z)
		if !sideA && !endA {
			return false // a point in common
		}
		bx, by, bz = p[0].sees(x, y, z)
		x, y, z, sideB, endB = b.hold(bx, by, bz)
		if !sideB && !endB {
			return false
		}
		x, y, z = p[1].sees(x, y, z)
	}
	// Ends that face one another are left to the search. Two sides are nearest where their axes pass, anything else on an edge.
	switch {
	case !sideA && !sideB:
		return false
	case sideA && !endA && sideB && !endB && p[0].crossed(t):
		return true
	case endB && sideB || !endA:
		return p[1].from(bx, by, bz, t)
	}
	return p[0].from(ax, ay, az, t)
}

// from looks for the place of an outer edge of the other ring that is nearest to this one, from a point that the other sees at x, y, z.
func (v *view) from(x, y, z float64, t *Touch) bool {
	rho := math.Sqrt(x*x + y*y)
	if rho < 1e-6*v.other.ro {
		return false
	}
	m := v.rim(v.other.ro, math.Copysign(v.other.h, z))
	c, s, ok := m.settle(v.own, x/rho, y/rho)
	if ok {
		_, ok = v.prove(&m, c, s, t)
	}
	return ok
}

// crossed measures two cylinders that pass one another within both.
func (v *view) crossed(t *Touch) bool {
	if v.sin < 1e-6 {
		return false
	}
	at := -v.c[0] / v.sin
	z := v.c[2] + at*v.cos
	k, o := v.own, v.other
	if math.Abs(at) > o.h || math.Abs(z) > k.h {
		return false
	}
	side := math.Copysign(1, v.c[1])
	d := math.Abs(v.c[1]) - k.ro - o.ro
	if d <= met {
		return false
	}
	v.touch(0, side*(k.ro+d), z, 0, side, 0, d, t)
	return true
}

// threads tells whether the other ring runs through a wall of this one where no edge of either is in the other. Where two surfaces meet off all edges, they do so
// along closed curves. A curve that goes around the other's outer side crosses every straight line of that side. One that does not is where two outer
// sides bulge into one another, for nothing else bends away from the other on both sides; and there the line that faces this ring's axis runs in.
func (v *view) threads() bool {
	o := v.other
	m := v.rim(o.ro, -o.h)
	x, y, z := m.at(0, -math.Copysign(1, v.c[1]))
	var c chord
	c.set(v.own, v.world(x, y, z), v.world(2*o.h*v.sin, 0, 2*o.h*v.cos))
	_, d := v.own.segment(&c)
	return d <= met
}

package gap

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// body is a box or a ring, the other nil.
type body struct {
	box  *cuboid
	ring *section
}

// nearest returns the body's nearest point to p, before its rounding, and the distance; p itself if the body holds it.
func (b body) nearest(p r3.Vec) (q r3.Vec, d float64) {
	if b.box != nil {
		return b.box.nearest(p)
	}
	return b.ring.nearest(p)
}

func (k *cuboid) nearest(p r3.Vec) (q r3.Vec, d float64) {
	x := k.local(r3.Sub(p, k.c))
	dd := 0.0
	for i, h := range k.h {
		y := min(max(x[i], -h), h)
		dd += (x[i] - y) * (x[i] - y)
		x[i] = y
	}
	if dd == 0 {
		return p, 0
	}
	return r3.Add(k.c, k.world(&x)), math.Sqrt(dd)
}

func (k *section) nearest(p r3.Vec) (q r3.Vec, d float64) {
	v := r3.Sub(p, k.c)
	s := r3.Dot(k.e, v)
	across := axpy(v, -s, k.e)
	rho := length(across)
	if d = k.depth(rho, s); d <= 0 {
		return p, 0
	}
	nr, ns := k.outward(rho, s)
	r := across
	if rho > 0 {
		r = r3.Scale(1/rho, across)
	} else {
		r = square(k.e)
	}
	return axpy(axpy(p, -d*nr, r), -d*ns, k.e), d
}

// approach goes to and fro between the nearest points of the ring and a body, from the point p of the body, as often as it helps, and
// returns both points and their distance: no less than that of the two.
func (k *section) approach(o body, p r3.Vec, steps int) (q, r r3.Vec, d float64) {
	least := math.Inf(1)
	for range steps {
		q, d = k.nearest(p)
		if d <= met || d > least*(1-1e-3) {
			break
		}
		p, least = o.nearest(q)
		if d = least; least <= met {
			break
		}
	}
	return q, p, d
}

// reaches tells whether approach finds a point in common.
func (k *section) reaches(o body, p r3.Vec) bool {
	_, _, d := k.approach(o, p, 30)
	return d <= met
}

// patches is how many parts a ring is cut into where a body is looked for in it.
const patches = 8

// meets looks for a point that the ring and a body have in common: near each patch of the ring that the body may reach.
func (k *section) meets(o body) bool {
	u := k.axes()
	in := max(k.ri, 0)
	r := 0.5 * (in + k.ro)
	// No point of a patch is farther from its middle.
	reach := math.Sqrt(0.25*(k.ro-in)*(k.ro-in)+k.h*k.h) + k.ro*math.Pi/patches
	for i := range patches {
		c := &compass[i*posts/patches]
		p := axpy(axpy(k.c, r*c[0], u[0]), r*c[1], u[1])
		q, d := o.nearest(p)
		if d <= met || d < reach && k.reaches(o, q) {
			return true
		}
	}
	return false
}

// fills tells whether the middle of a patch of the ring is well within a body: edges that only lie on a surface do not tell of that.
func (k *section) fills(o body) bool {
	u := k.axes()
	r := 0.5 * (max(k.ri, 0) + k.ro)
	for i := range patches {
		c := &compass[i*posts/patches]
		if o.depth(axpy(axpy(k.c, r*c[0], u[0]), r*c[1], u[1])) < -1e-6 {
			return true
		}
	}
	return false
}

// depth returns the signed distance of p from the body before its rounding.
func (b body) depth(p r3.Vec) float64 {
	if b.box != nil {
		x := b.box.local(r3.Sub(p, b.box.c))
		return b.box.distance(x[0], x[1], x[2])
	}
	v := r3.Sub(p, b.ring.c)
	s := r3.Dot(b.ring.e, v)
	return b.ring.depth(length(axpy(v, -s, b.ring.e)), s)
}

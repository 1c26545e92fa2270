package gap

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// posts are how many places of a circle are looked at before the nearest are found exactly.
const posts = 16

// compass holds the cosine and sine of each place.
var compass = func() (c [posts][2]float64) {
	for i := range c {
		c[i][1], c[i][0] = math.Sincos(2 * math.Pi * float64(i) / posts)
	}
	return c
}()

// hoop is a circle c + f·cos + g·sin as another solid sees it, in axes of that solid: a box's own, or any two square to
// a ring's axis and that axis last. One of box and ring is nil.
type hoop struct {
	c, f, g [3]float64
	r       float64
	box     *cuboid
	ring    *section
}

// place is a place of a hoop: its cosine and sine, signed distance, outward direction of the solid there, and the slope of the distance with the angle.
type place struct {
	cos, sin float64
	d, slope float64
	n        [3]float64
}

// at sets p to the place at a cosine and sine.
func (h *hoop) at(cos, sin float64, p *place) {
	p.cos, p.sin = cos, sin
	x := [3]float64{h.c[0] + cos*h.f[0] + sin*h.g[0], h.c[1] + cos*h.f[1] + sin*h.g[1], h.c[2] + cos*h.f[2] + sin*h.g[2]}
	if h.box != nil {
		p.d, p.n = h.box.point(&x)
	} else {
		p.d, p.n = h.ring.point(&x)
	}
	p.slope = 0
	for i := range 3 {
		p.slope += p.n[i] * (cos*h.g[i] - sin*h.f[i])
	}
}

// point returns the signed distance of a point in axes whose last is the ring's, and the outward direction.
func (k *section) point(x *[3]float64) (d float64, n [3]float64) {
	rho := math.Sqrt(x[0]*x[0] + x[1]*x[1])
	nr, ns := k.outward(rho, x[2])
	if rho > 0 {
		n[0], n[1] = nr*x[0]/rho, nr*x[1]/rho
	} else {
		n[0] = nr
	}
	n[2] = ns
	return k.depth(rho, x[2]), n
}

// nearest looks for the place nearest to the solid, or deepest in it, if it is nearer than best. At a ridge, lo and hi are both sides of it
// and mix is the part of hi; otherwise mix is 0 and lo the place.
func (h *hoop) nearest(best float64) (lo, hi place, mix float64, found bool) {
	var all [posts]place
	for i := range all {
		h.at(compass[i][0], compass[i][1], &all[i])
	}
	// Between posts the distance falls by no more than half the arc.
	fall := h.r * math.Pi / posts
	for i := range all {
		p := &all[i]
		before, after := &all[(i+posts-1)%posts], &all[(i+1)%posts]
		if p.d-fall >= best || p.d > before.d || p.d > after.d {
			continue
		}
		l, r, m := h.descend(p, before, after)
		if l.d < best {
			best, lo, hi, mix, found = l.d, l, r, m, true
		}
	}
	return lo, hi, mix, found
}

// descend goes down from p to the least between its neighbours.
func (h *hoop) descend(p, before, after *place) (lo, hi place, mix float64) {
	lo, hi = *p, *after
	if p.slope > 0 {
		hi = *before
	}
	// The angle from lo towards hi is counted in u = tan(angle/2): cos = (1 − u²)/(1 + u²), sin = 2u/(1 + u²).
	way := 1.0
	if p.slope > 0 {
		way = -1
	}
	from := *p
	span := math.Tan(math.Pi / posts)
	ul, uh := 0.0, span
	gl, gh := way*lo.slope, way*hi.slope
	var m place
	for i := range 100 {
		if uh-ul < 1e-13 || gl == 0 {
			break
		}
		u := 0.5 * (ul + uh)
		if gh > 0 && i%3 != 2 {
			u = (ul*gh - uh*gl) / (gh - gl)
			// Off the ends, lest it creeps up on one of them.
			edge := 1e-3 * (uh - ul)
			u = min(max(u, ul+edge), uh-edge)
		}
		f := 1 / (1 + u*u)
		c, s := (1-u*u)*f, 2*u*f*way
		h.at(from.cos*c-from.sin*s, from.sin*c+from.cos*s, &m)
		if g := way * m.slope; g < 0 && (gh > 0 || m.d <= lo.d) {
			lo, ul, gl = m, u, g
		} else {
			hi, uh, gh = m, u, g
		}
		if math.Abs(m.slope) < 1e-11*h.r {
			return m, m, 0
		}
	}
	if gl < 0 && gh > 0 && gh-gl > 1e-5*h.r {
		mix = gl / (gl - gh)
	}
	if hi.d < lo.d && mix == 0 {
		lo = hi
	}
	return lo, hi, mix
}

// set sets the hoop to the circle of radius r at height s of the ring k, as a solid with the centre c and the axes u sees it.
func (h *hoop) set(k *section, r, s float64, c r3.Vec, u *[3]r3.Vec) {
	f := square(k.e)
	g := r3.Cross(k.e, f)
	mid := r3.Sub(axpy(k.c, s, k.e), c)
	for i := range 3 {
		h.c[i], h.f[i], h.g[i] = r3.Dot(u[i], mid), r*r3.Dot(u[i], f), r*r3.Dot(u[i], g)
	}
	h.r = r
}

// sees returns the vector x in axes u as it stands.
func sees(u *[3]r3.Vec, x *[3]float64) r3.Vec {
	return axpy(axpy(r3.Scale(x[0], u[0]), x[1], u[1]), x[2], u[2])
}

// touch sets t to a place of the hoop, on a ring's edge rounded by r, against the solid with the centre c and the axes u whose own rounding
// is round. The ring is the first solid; swapped, the second.
func (h *hoop) touch(p, q *place, mix, r, round float64, c r3.Vec, u *[3]r3.Vec, swapped bool, t *Touch) {
	x := [3]float64{h.c[0] + p.cos*h.f[0] + p.sin*h.g[0], h.c[1] + p.cos*h.f[1] + p.sin*h.g[1], h.c[2] + p.cos*h.f[2] + p.sin*h.g[2]}
	at := r3.Add(c, sees(u, &x))
	t.Gap = p.d - r - round
	t.mix = mix
	w := t.witness(at, sees(u, &p.n), r, swapped)
	t.A, t.B, t.N = w.a, w.b, w.n
	if mix != 0 {
		t.side = t.witness(at, sees(u, &q.n), r, swapped)
	}
}

// witness returns the nearest points where the solid's outward direction is out and a point of the other, rounded by r, is at p.
func (t *Touch) witness(p, out r3.Vec, r float64, swapped bool) (w witness) {
	w.a = axpy(p, -r, out)
	w.b = axpy(w.a, -t.Gap, out)
	w.n = r3.Scale(-1, out)
	if swapped {
		w.a, w.b, w.n = w.b, w.a, out
	}
	return w
}

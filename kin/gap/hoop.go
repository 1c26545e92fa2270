package gap

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// posts are how many places of a circle are looked at before the nearest are found exactly.
const posts = 16

// compass holds the cosine and sine of each place. None is where two rings or a ring and a box, as they see one another, are alike to both sides: there the
// distance is level, and tells of no way down.
var compass = func() (c [posts][2]float64) {
	for i := range c {
		c[i][1], c[i][0] = math.Sincos(2 * math.Pi * (float64(i) + 0.3) / posts)
	}
	return c
}()

// span is tan(angle/2) of the angle between two posts.
var span = math.Tan(math.Pi / posts)

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
	cos, sin   float64
	d, slope   float64
	nx, ny, nz float64
	rr         float64 // the square of the distance from the ring's axis
}

// at sets p to the place at a cosine and sine.
func (h *hoop) at(cos, sin float64, p *place) {
	f, g := &h.f, &h.g
	x, y, z := h.c[0]+cos*f[0]+sin*g[0], h.c[1]+cos*f[1]+sin*g[1], h.c[2]+cos*f[2]+sin*g[2]
	p.cos, p.sin, p.rr = cos, sin, x*x+y*y
	var nx, ny, nz float64
	if h.box != nil {
		p.d, nx, ny, nz = h.box.point(x, y, z)
	} else {
		p.d, nx, ny, nz = h.ring.point(x, y, z)
	}
	p.nx, p.ny, p.nz = nx, ny, nz
	p.slope = nx*(cos*g[0]-sin*f[0]) + ny*(cos*g[1]-sin*f[1]) + nz*(cos*g[2]-sin*f[2])
}

// point returns the signed distance of a point in axes whose last is the ring's, and the outward direction.
func (k *section) point(x, y, z float64) (d, nx, ny, nz float64) {
	rho := math.Sqrt(x*x + y*y)
	qr, qs, nr := rho-k.ro, math.Abs(z)-k.h, 1.0
	if in := k.ri - rho; in > qr {
		qr, nr = in, -1
	}
	switch {
	case qr <= qs && qr <= 0:
		return qs, 0, 0, math.Copysign(1, z)
	case qs > 0:
		d = math.Sqrt(qr*qr + qs*qs)
		f := 1 / d
		nr *= f * qr
		nz = math.Copysign(f*qs, z)
	default:
		d = qr
	}
	if rho == 0 {
		return d, nr, 0, nz
	}
	g := nr / rho
	return d, g * x, g * y, nz
}

// distances sets all to the signed distances of the posts from the box, those of opposite ones together.
func (h *hoop) distances(all *[posts]float64) {
	c := &h.c
	for i := range posts / 2 {
		cos, sin := compass[i][0], compass[i][1]
		x, y, z := cos*h.f[0]+sin*h.g[0], cos*h.f[1]+sin*h.g[1], cos*h.f[2]+sin*h.g[2]
		all[i] = h.box.distance(c[0]+x, c[1]+y, c[2]+z)
		all[i+posts/2] = h.box.distance(c[0]-x, c[1]-y, c[2]-z)
	}
}

// distance returns the signed distance of a point in axes whose last is the ring's.
func (k *section) distance(x, y, z float64) float64 {
	rho := math.Sqrt(x*x + y*y)
	q, qs := rho-k.ro, math.Abs(z)-k.h
	if in := k.ri - rho; in > q {
		q = in
	}
	if q > 0 && qs > 0 {
		return math.Sqrt(q*q + qs*qs)
	}
	if qs > q {
		return qs
	}
	return q
}

// nearest looks for the place nearest to the box, or deepest in it, if it is nearer than best. At a ridge, lo and hi are both sides of it
// and mix is the part of hi; otherwise mix is 0 and lo the place.
func (h *hoop) nearest(best float64) (lo, hi place, mix float64, found bool) {
	var all [posts]float64
	h.distances(&all)
	for i := range all {
		before, after := all[(i+posts-1)%posts], all[(i+1)%posts]
		d := all[i]
		// Between two posts the distance falls from both by no more than the arc.
		if d > before || d > after || 0.5*(d+min(before, after))-h.r*math.Pi/posts >= best {
			continue
		}
		var p place
		h.at(compass[i][0], compass[i][1], &p)
		l, r, m := h.descend(&p, best)
		if l.d < best {
			best, lo, hi, mix, found = l.d, l, r, m, true
		}
	}
	if best < -met {
		return lo, hi, mix, found
	}
	// A second dip may be between the same posts.
	var p, q place
	last := -1 // post that q is at
	for i := range all {
		after := (i + 1) % posts
		if 0.5*(all[i]+all[after])-h.r*math.Pi/posts >= best {
			continue
		}
		if p = q; last != i {
			h.at(compass[i][0], compass[i][1], &p)
		}
		h.at(compass[after][0], compass[after][1], &q)
		last = after
		if l, r, m := h.between(&p, &q, span, 0, best); l.d < best {
			best, lo, hi, mix, found = l.d, l, r, m, true
		}
	}
	return lo, hi, mix, found
}

// far tells, from how far the circle reaches, that no place of it is nearer to the box than best.
func (h *hoop) far(best float64) bool {
	for i, half := range h.box.h {
		if math.Abs(h.c[i])-math.Sqrt(h.f[i]*h.f[i]+h.g[i]*h.g[i])-half >= best {
			return true
		}
	}
	return false
}

// toward returns the place of the circle that is nearest to the box's middle.
func (h *hoop) toward() (c, s float64) {
	for i := range 3 {
		c -= h.c[i] * h.f[i]
		s -= h.c[i] * h.g[i]
	}
	ll := c*c + s*s
	if !(ll > 1e-18*h.r*h.r) {
		return compass[0][0], compass[0][1]
	}
	f := 1 / math.Sqrt(ll)
	return f * c, f * s
}

// distance returns the signed distance of a place from the box.
func (h *hoop) distance(c, s float64) float64 {
	return h.box.distance(h.c[0]+c*h.f[0]+s*h.g[0], h.c[1]+c*h.f[1]+s*h.g[1], h.c[2]+c*h.f[2]+s*h.g[2])
}

// off tells, from one place of the circle and the plane that parts it from the box there, that no place is nearer to the box than best.
func (h *hoop) off(best float64) bool {
	c, s := h.toward()
	var p place
	h.at(c, s, &p)
	l := look{d: p.d, low: p.d, slope: p.slope}
	for i, n := range [3]float64{p.nx, p.ny, p.nz} {
		l.bulge += n * (c*h.f[i] + s*h.g[i])
	}
	_, _, open := l.bare(best)
	return p.d >= best && !open
}

// halvings is how often an arc between two posts is halved where it may hold something nearer.
const halvings = 3

// between looks between two places for something nearer than best: u is the tangent of half the angle between them. Where both slopes look into
// the last of its parts it goes down there.
func (h *hoop) between(p, q *place, u float64, depth int, best float64) (lo, hi place, mix float64) {
	lo.d = math.Inf(1)
	v := valley{lo: *p, hi: *q, uh: u, gl: p.slope, gh: q.slope}
	if h.floor(&v, 1) >= best {
		return lo, hi, 0
	}
	if depth == halvings {
		if p.slope < 0 && q.slope > 0 {
			v.bend = max((v.gh-v.gl)/u, h.r)
			return h.narrow(p, &v, 1, best)
		}
		return lo, hi, 0
	}
	half := u / (1 + math.Sqrt(1+u*u))
	var m place
	h.beside(p, half, &m)
	lo, hi, mix = h.between(p, &m, half, depth+1, best)
	if l, r, x := h.between(&m, q, half, depth+1, min(best, lo.d)); l.d < lo.d {
		return l, r, x
	}
	return lo, hi, mix
}

// floor returns a lower bound of the distance between the ends of a valley. What surrounds the solid is convex, so along a straight line its
// distance bends upward, and on the circle down by no more than r per rad². Into a hole it bends down by no more than 1/ρ. So nothing lies
// below the parabolas that bend down so much and touch the distance at both ends: the least is where they meet.
func (h *hoop) floor(v *valley, way float64) float64 {
	w := 2 * (v.uh - v.ul) // no less than the angle
	bend := h.r
	if h.ring != nil && h.ring.ri > 0 {
		rho := math.Sqrt(min(v.lo.rr, v.hi.rr)) - 0.5*w*h.r
		if rho <= 0 {
			return math.Inf(-1)
		}
		if rho < h.ring.ri {
			bend += h.r * h.r / rho
		}
	}
	fall, rise := way*v.lo.slope, way*v.hi.slope
	t := (v.lo.d - v.hi.d + w*(rise+0.5*w*bend)) / (rise - fall + w*bend)
	t = min(max(t, 0), w)
	return v.lo.d + t*(fall-0.5*t*bend)
}

// valley is what a descent between two places knows: at lo the distance falls, at hi it rises or is no less than at lo. The angle from the post is
// counted in u = tan(angle/2): cos = (1 − u²)/(1 + u²), sin = 2u/(1 + u²). gl and gh are the slopes, lessened where an end stays.
type valley struct {
	lo, hi place
	ul, uh float64
	gl, gh float64
	bend   float64 // (gh - gl)/(uh - ul) at first, or the radius
	stays  int     // for how many steps hi has stayed, or, negative, lo
}

// descend goes down from p, by the angle between two posts while it still falls there, and then to the least between. It gives up where
// nothing below best is left.
func (h *hoop) descend(p *place, best float64) (lo, hi place, mix float64) {
	way := 1.0
	if p.slope > 0 {
		way = -1
	}
	v := valley{lo: *p, uh: span}
	h.beside(p, span*way, &v.hi)
	for i := 0; i < posts && way*v.hi.slope < 0 && v.hi.d < v.lo.d; i++ {
		*p, v.lo = v.hi, v.hi
		h.beside(p, span*way, &v.hi)
	}
	v.gl, v.gh = way*v.lo.slope, way*v.hi.slope
	v.bend = max((v.gh-v.gl)/span, h.r)
	return h.narrow(p, &v, way, best)
}

// narrow goes to the least of a valley beside p, the way it is counted from there.
func (h *hoop) narrow(p *place, v *valley, way, best float64) (lo, hi place, mix float64) {
	var m place
	for i := 0; i < 100 && v.gl < 0 && !v.narrow(); i++ {
		if v.lo.d > 0 && best < math.MaxFloat64 && h.floor(v, way) >= best {
			break
		}
		u, ok := 0.0, false
		if i < 6 && h.ring != nil {
			u, ok = h.newton(v, way)
		}
		if !ok {
			u = v.split(i, way)
		}
		h.beside(p, u*way, &m)
		g := way * m.slope
		switch {
		case math.Abs(g) < 1e-10*h.r:
			return m, m, 0
		case g < 0 && (v.gh > 0 || m.d <= v.lo.d):
			if v.stays = max(v.stays+1, 1); v.stays > 1 {
				v.gh *= 0.5
			}
			v.lo, v.ul, v.gl = m, u, g
		default:
			if v.stays = min(v.stays-1, -1); v.stays < -1 {
				v.gl *= 0.5
			}
			v.hi, v.uh, v.gh = m, u, g
		}
	}
	rise, fall := way*v.hi.slope, way*v.lo.slope
	switch {
	case rise > 0 && fall < 0 && rise-fall > 1e-5*h.r:
		// So near to the ridge both sides are straight, and meet on it.
		h.beside(p, way*v.meet(way), &m)
		v.lo.cos, v.lo.sin, v.lo.d = m.cos, m.sin, m.d
		return v.lo, v.hi, fall / (fall - rise)
	case v.hi.d < v.lo.d:
		return v.hi, v.hi, 0
	}
	return v.lo, v.lo, 0
}

// newton returns where Newton's step goes from the end with the lesser slope, if that is between both ends and outside the ring: from an angle of tangent
// u of half of it, by an angle of 2·x and so, but for x³, to the tangent (u + x)/(1 − u·x).
func (h *hoop) newton(v *valley, way float64) (u float64, ok bool) {
	p, from := &v.lo, v.ul
	if math.Abs(v.hi.slope) < math.Abs(v.lo.slope) {
		p, from = &v.hi, v.uh
	}
	if p.d <= met {
		return 0, false
	}
	f, g := &h.f, &h.g
	zx, zy, zz := -p.cos*f[0]-p.sin*g[0], -p.cos*f[1]-p.sin*g[1], -p.cos*f[2]-p.sin*g[2]
	yx, yy, yz := p.cos*g[0]-p.sin*f[0], p.cos*g[1]-p.sin*f[1], p.cos*g[2]-p.sin*f[2]
	x, y := h.c[0]-zx, h.c[1]-zy
	slope, curve, ok := h.ring.newton(x*x+y*y, x*yx+y*yy, yx*yx+yy*yy+x*zx+y*zy, h.c[2]-zz, yz, zz)
	if !ok || curve <= 0 {
		return 0, false
	}
	half := -0.5 * way * slope / curve
	u = (from + half) / (1 - from*half)
	return u, u > v.ul && u < v.uh
}

// beside sets m to the place at an angle from p whose half has the tangent u.
func (h *hoop) beside(p *place, u float64, m *place) {
	f := 1 / (1 + u*u)
	c, s := (1-u*u)*f, 2*u*f
	h.at(p.cos*c-p.sin*s, p.sin*c+p.cos*s, m)
}

// ridge tells whether the slopes stay apart as the ends close in.
func (v *valley) ridge() bool {
	rise := math.Abs(v.hi.slope - v.lo.slope)
	return rise > 4*v.bend*(v.uh-v.ul) && v.hi.slope*v.lo.slope < 0
}

// narrow tells whether the ends are near enough.
func (v *valley) narrow() bool {
	w := v.uh - v.ul
	return w < 1e-14 || w < 1e-10 && v.ridge()
}

// meet returns where the tangents of both ends meet.
func (v *valley) meet(way float64) float64 {
	// The slopes with u are twice those with the angle, over 1 + u².
	dl, dh := 2*way*v.lo.slope/(1+v.ul*v.ul), 2*way*v.hi.slope/(1+v.uh*v.uh)
	u := (v.hi.d - v.lo.d + dl*v.ul - dh*v.uh) / (dl - dh)
	return min(max(u, v.ul), v.uh)
}

// split returns where to look next: where a straight line through both slopes is zero. Where the slopes stay apart as the ends close in there is a ridge
// between them, and the tangents of both sides find it. Every fourth step halves the rest.
func (v *valley) split(i int, way float64) float64 {
	if v.gh <= 0 || i%4 == 3 {
		return 0.5 * (v.ul + v.uh)
	}
	u := (v.ul*v.gh - v.uh*v.gl) / (v.gh - v.gl)
	if i%2 == 0 && v.ridge() {
		u = v.meet(way)
	}
	// Off the ends, and farther the longer the other end stays.
	w := v.uh - v.ul
	off := [4]float64{1e-4, 1e-3, 1e-2, 0.2}
	return min(max(u, v.ul+w*off[min(max(v.stays, 0), 3)]), v.uh-w*off[min(max(-v.stays, 0), 3)])
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
	w := t.witness(at, sees(u, &[3]float64{p.nx, p.ny, p.nz}), r, swapped)
	t.A, t.B, t.N = w.a, w.b, w.n
	if mix != 0 {
		t.side = t.witness(at, sees(u, &[3]float64{q.nx, q.ny, q.nz}), r, swapped)
		t.second = swapped
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

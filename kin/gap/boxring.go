package gap

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// axes returns three directions square to one another, the last along the ring's axis.
func (k *section) axes() [3]r3.Vec {
	f := square(k.e)
	return [3]r3.Vec{f, r3.Cross(k.e, f), k.e}
}

// reach returns how far the ring goes from its centre along the unit vector n, without its rounding: ro·|n − (n·e)·e| + h·|n·e|.
func (k *section) reach(n r3.Vec) float64 {
	ns := r3.Dot(n, k.e)
	return k.ro*length(axpy(n, -ns, k.e)) + k.h*math.Abs(ns)
}

// met is the distance in mm below which bodies have met: a section or a box without thickness is reached, but never entered.
const met = 1e-9

// boxRing measures a box and a ring.
func boxRing(a, b *Solid, t *Touch) {
	var k cuboid
	k.set(a)
	var s section
	s.set(b)
	if !s.embraces(k.c) && boxRingOutside(&k, &s, t) {
		return
	}
	q := crated(&k, &s)
	if !q.corners(t) {
		q.search(t)
	}
}

// crate is a box as a ring sees it: in axes of the ring, of which the last is its own, the box's centre, its half edges, and its corners with
// their distances from the ring.
type crate struct {
	box     *cuboid
	ring    *section
	u       [3]r3.Vec
	c       [3]float64
	e       [3][3]float64
	v       [8][3]float64
	d       [8]float64
	nearest int
	best    float64 // the least distance yet; t has it
	clear   uint8   // a bit for each corner that a cone keeps at least best off the ring, with all between such
}

// crated returns how the ring sees the box.
func crated(k *cuboid, s *section) (q crate) {
	q.box, q.ring, q.u = k, s, s.axes()
	mid := r3.Sub(k.c, s.c)
	q.c = [3]float64{r3.Dot(q.u[0], mid), r3.Dot(q.u[1], mid), r3.Dot(q.u[2], mid)}
	for i, w := range k.u {
		q.e[i] = [3]float64{k.h[i] * r3.Dot(w, q.u[0]), k.h[i] * r3.Dot(w, q.u[1]), k.h[i] * r3.Dot(w, q.u[2])}
	}
	corners(&q.c, &q.e, &q.v)
	for i := range q.v {
		x := &q.v[i]
		q.d[i] = s.distance(x[0], x[1], x[2])
		if q.d[i] < q.d[q.nearest] {
			q.nearest = i
		}
	}
	q.best = math.Inf(1)
	return q
}

// corners measures a box of which the corner that is nearest to the ring, or a place on an edge from there, is nearest, or in the ring, or one that holds a place
// of the ring's edges; false if it cannot tell.
func (q *crate) corners(t *Touch) bool {
	k, s := q.box, q.ring
	x := &q.v[q.nearest]
	d, nx, ny, nz := s.point(x[0], x[1], x[2])
	q.best = d
	t.Gap, t.mix = d-s.round, 0
	w := t.witness(q.world(x), sees(&q.u, &[3]float64{nx, ny, nz}), 0, false)
	t.A, t.B, t.N = w.a, w.b, w.n
	parted := false
	if d > met {
		var ok bool
		if ok, parted = q.proved(x, d, t); ok {
			return true
		}
	}
	if d < -met || parted {
		// Down the edges that fall.
		for i := range q.e {
			e := &q.e[i]
			slope := nx*e[0] + ny*e[1] + nz*e[2]
			if q.nearest>>i&1 == 1 {
				slope = -slope
			}
			if slope >= -1e-9*k.h[i] {
				continue
			}
			if before := q.best; q.edge(i, q.nearest&^(1<<i), t) < before && q.best > met && k.parts(s, t.N) >= q.best-proof {
				return true
			}
		}
	}
	if !parted {
		q.rims(t)
	}
	return q.best < -met
}

// world returns a point in the ring's axes as it stands.
func (q *crate) world(x *[3]float64) r3.Vec { return r3.Add(q.ring.c, sees(&q.u, x)) }

// proved tells whether nothing is nearer than a point x of the box, d from the ring along t.N: where a plane parts the box from what surrounds the ring,
// or, with x over the hole, where the box is in the cone about the ring's axis that keeps off the ring's edge by d all around (view.hole has
// a paraboloid for it). It also tells whether a plane parts the two at all.
func (q *crate) proved(x *[3]float64, d float64, t *Touch) (ok, parted bool) {
	k, s := q.box, q.ring
	rho := math.Sqrt(x[0]*x[0] + x[1]*x[1])
	if rho >= s.ri {
		parts := k.parts(s, t.N)
		return parts >= d-proof, parts > met
	}
	qs := math.Abs(x[2]) - s.h
	cosphi, sinphi := 1.0, 0.0
	if qs > 0 {
		cosphi, sinphi = (s.ri-rho)/d, math.Copysign(qs/d, x[2])
	}
	least := d - proof + sinphi*math.Copysign(s.h, x[2])
	for i := range q.v {
		v := &q.v[i]
		if cosphi*(s.ri-math.Sqrt(v[0]*v[0]+v[1]*v[1]))+sinphi*v[2] >= least {
			q.clear |= 1 << i
		}
	}
	if q.clear == 1<<8-1 {
		return true, true
	}
	return false, k.parts(s, t.N) > met
}

// ahead is straight on, and to both sides by an eighth of a turn.
var ahead = [3][2]float64{{1, 0}, {math.Sqrt2 / 2, math.Sqrt2 / 2}, {math.Sqrt2 / 2, -math.Sqrt2 / 2}}

// rims looks at three places of each of the ring's edges, about the one that is nearest to the box's middle, and goes down from the deepest if that is
// in the box and deeper than best.
func (q *crate) rims(t *Touch) {
	k, s := q.box, q.ring
	floor := -min(k.h[0], k.h[1], k.h[2])
	low := min(q.best, -met)
	if low <= floor {
		return // no place of the box is deeper
	}
	c, u := k.local(r3.Sub(s.c, k.c)), [3][3]float64{k.local(q.u[0]), k.local(q.u[1]), k.local(q.u[2])}
	var h, least hoop
	h.box = k
	cos, sin := 0.0, 0.0
	for i := range s.circles() {
		r, at := s.circle(i)
		h.r = r
		for j := range 3 {
			h.c[j], h.f[j], h.g[j] = c[j]+at*u[2][j], r*u[0][j], r*u[1][j]
		}
		if h.far(low) {
			continue
		}
		x, y := h.toward()
		for _, o := range ahead {
			c, s := x*o[0]-y*o[1], x*o[1]+y*o[0]
			if d := h.distance(c, s); d < low {
				low, cos, sin, least = d, c, s, h
			}
		}
	}
	if least.box == nil {
		return
	}
	lo, hi, mix, ok := least.sink(cos, sin)
	if !ok {
		var p place
		least.at(cos, sin, &p)
		lo, hi, mix = least.descend(&p, math.Inf(1))
	}
	q.best = lo.d
	least.touch(&lo, &hi, mix, s.round, 0, k.c, &k.u, true, t)
}

// search measures a box and a ring wherever they are. The nearest points of separate ones lie on an edge of the box, which is a chord of the ring, or on a
// face, and then the ring's is the farthest that it has towards that face.
func (q *crate) search(t *Touch) {
	k, s := q.box, q.ring
	c := k.local(r3.Sub(s.c, k.c))
	bound := math.Inf(-1)
	for i, u := range k.u {
		sep := math.Abs(c[i]) - k.h[i] - s.reach(u)
		bound = max(bound, sep)
		if sep <= 0 {
			continue
		}
		p := r3.Sub(s.c, s.support(r3.Scale(math.Copysign(1, c[i]), u)))
		x := k.local(r3.Sub(p, k.c))
		if gap, nx, ny, nz := k.point(x[0], x[1], x[2]); gap < q.best {
			q.best = gap
			t.mix = 0
			t.corner(p, k.world(&[3]float64{nx, ny, nz}), gap, s.round)
		}
	}
	if q.best <= bound+1e-12 {
		return
	}
	proved := q.edges(t)
	if q.best < -met || proved || q.best > met && (bound >= 0 || k.parts(s, t.N) > 0) {
		return
	}
	pierce(k, s, q.best, t)
}

// corner sets t where the point q of the second solid, rounded by round, is over a face of the first that looks along n.
func (t *Touch) corner(q, n r3.Vec, d, round float64) {
	t.Gap, t.N = d-round, n
	t.B = axpy(q, -round, n)
	t.A = axpy(t.B, -t.Gap, n)
}

// stud is a corner of a box as a ring sees it: in the ring's axes, its distance d from the ring, and around, from the solid cylinder that
// surrounds it, with the outward direction n there.
type stud struct {
	d, around float64
	n         [3]float64
}

// set sets c to the point x and returns its distance from the axis.
func (c *stud) set(k *section, x *[3]float64) (rho float64) {
	rho = math.Sqrt(x[0]*x[0] + x[1]*x[1])
	qr, qs := rho-k.ro, math.Abs(x[2])-k.h
	switch {
	case qr > 0 && qs > 0:
		c.around = math.Sqrt(qr*qr + qs*qs)
		f := 1 / c.around
		g := f * qr / rho
		c.n = [3]float64{g * x[0], g * x[1], math.Copysign(f*qs, x[2])}
	case qr > qs && rho > 0:
		c.around = qr
		g := 1 / rho
		c.n = [3]float64{g * x[0], g * x[1], 0}
	default:
		c.around = max(qr, qs)
		c.n = [3]float64{0, 0, math.Copysign(1, x[2])}
	}
	c.d = c.around
	if k.ri-rho > qr {
		c.d = k.depth(rho, x[2])
	}
	return rho
}

// least returns a lower bound of the distance of the ring from the edge between two corners, e from one to the other and of the length l. The distance
// from the solid cylinder around the ring is convex along the edge, so no less than its tangents at both ends; and no point of the edge is nearer
// than half of what both ends and the length leave.
func (c *stud) least(o *stud, e *[3]float64, l float64) float64 {
	low := 0.5 * (c.d + o.d - l)
	g := c.n[0]*e[0] + c.n[1]*e[1] + c.n[2]*e[2]
	f := o.n[0]*e[0] + o.n[1]*e[1] + o.n[2]*e[2]
	switch {
	case g >= 0:
		return max(low, c.around)
	case f <= 0:
		return max(low, o.around)
	}
	return max(low, c.around+g*(o.around-f-c.around)/(g-f))
}

// parts returns how far a plane square to n, from the box to the ring, parts the box from what surrounds the ring; negative if it does not.
func (k *cuboid) parts(s *section, n r3.Vec) float64 {
	return r3.Dot(n, r3.Sub(s.c, k.c)) - k.reach(n) - s.reach(n)
}

// edges looks at the edges of the box that may be nearer to the ring than best, until one is in it. It also tells whether it has proved that nothing is nearer.
func (q *crate) edges(t *Touch) bool {
	k, s := q.box, q.ring
	var studs [8]stud
	widest := 0.0
	for i := range q.v {
		widest = max(widest, studs[i].set(s, &q.v[i]))
	}
	var e [3][3]float64
	for i, x := range q.e {
		e[i] = [3]float64{2 * x[0], 2 * x[1], 2 * x[2]}
	}
	for _, edge := range edges {
		axis, from := edge[0], edge[1]
		if ends := uint8(1<<from | 1<<(from|1<<axis)); q.clear&ends == ends {
			continue
		}
		if studs[from].least(&studs[from|1<<axis], &e[axis], 2*k.h[axis]) < q.best-1e-12 {
			if q.edge(int(axis), int(from), t) < -met {
				return false
			}
		}
	}
	return widest < s.ri
}

// edge looks at the edge along an axis from a corner, and returns best.
func (q *crate) edge(axis, from int, t *Touch) float64 {
	k, s := q.box, q.ring
	p := k.c
	for j, u := range k.u {
		h := k.h[j]
		if from>>j&1 == 0 {
			h = -h
		}
		p = axpy(p, h, u)
	}
	d := r3.Scale(2*k.h[axis], k.u[axis])
	var c chord
	c.set(s, r3.Sub(p, s.c), d)
	x, gap := s.segment(&c)
	if gap < q.best {
		s.touch(&c, x, gap, axpy(p, x, d), 0, t)
		q.best = gap
	}
	return q.best
}

// pierce looks at what only overlapping solids have: edges of the ring in the box, and a box that fills the ring's section where no edge of either
// reaches the other.
func pierce(k *cuboid, s *section, best float64, t *Touch) {
	mid := k.local(r3.Sub(s.c, k.c))
	radius := math.Sqrt(k.h[0]*k.h[0] + k.h[1]*k.h[1] + k.h[2]*k.h[2])
	// Seen from the ring, the box's centre.
	back := r3.Sub(k.c, s.c)
	along := r3.Dot(s.e, back)
	rho := length(axpy(back, -along, s.e))
	if s.depth(rho, along) > radius {
		return
	}
	hit := best <= met
	var h hoop
	h.box = k
	for i := range s.circles() {
		r, at := s.circle(i)
		h.set(s, r, at, k.c, &k.u)
		if h.far(min(best, 0)) || h.off(min(best, 0)) {
			continue
		}
		if p, q, mix, found := h.nearest(min(best, 0)); found {
			best, hit = p.d, true
			h.touch(&p, &q, mix, s.round, 0, k.c, &k.u, true, t)
			if best < -met {
				return
			}
		}
	}
	o := body{box: k}
	switch {
	case hit && !(math.Abs(best) <= met && s.fills(o)):
		return
	case !hit && !s.threads(k) && !s.reaches(o, k.c) && !s.meets(o):
		return
	}
	s.part(k, mid, along, t)
}

// threads tells whether the ring runs right through the box where no edge of either is in the other: then every straight line of its outer side does.
func (s *section) threads(k *cuboid) bool {
	p := k.local(r3.Sub(axpy(axpy(s.c, -s.h, s.e), s.ro, square(s.e)), k.c))
	d := k.local(r3.Scale(2*s.h, s.e))
	_, g, _ := k.segment(&p, &d)
	return g <= met
}

// part sets t to the shortest way that moves a box and the ring apart along an axis of either, or square to the ring's axis and an edge. The
// ring's centre is at mid in the box's axes, the box's at along on the ring's.
func (s *section) part(k *cuboid, mid [3]float64, along float64, t *Touch) {
	a := apart{gap: math.Inf(-1)}
	v := r3.Sub(s.c, k.c)
	for i, u := range k.u {
		if a.try(u, mid[i], k.h[i]+s.reach(u)) {
			a.a = axpy(r3.Sub(s.c, s.support(a.n)), -a.gap, a.n)
		}
	}
	if a.try(s.e, -along, k.reach(s.e)+s.h) {
		a.a = r3.Add(k.c, k.support(a.n))
	}
	for _, u := range k.u {
		if m := r3.Cross(u, s.e); r3.Dot(m, m) > 1e-12 {
			m = r3.Unit(m)
			if a.try(m, r3.Dot(m, v), k.reach(m)+s.ro) {
				p := r3.Add(k.c, k.support(a.n))
				x, _ := feet(r3.Sub(s.c, p), u, s.e)
				a.a = axpy(p, x, u)
			}
		}
	}
	a.touch(0, s.round, t)
}

// feet returns where the common normal of two lines along u and v stands on each, counted in u and v from points that are w apart.
func feet(w, u, v r3.Vec) (x, y float64) {
	m := r3.Cross(u, v)
	mm := r3.Dot(m, m)
	return r3.Dot(r3.Cross(w, v), m) / mm, r3.Dot(r3.Cross(w, u), m) / mm
}

// apart keeps the direction along which two solids are parted by the shortest way, and the point of the first, before its rounding, that
// faces the second along it.
type apart struct {
	gap  float64
	n, a r3.Vec
}

// try looks at a direction n along which the second solid's centre is at from the first's and both together reach so far. It tells whether
// that is the shortest way yet; then the point is still to be set.
func (a *apart) try(n r3.Vec, at, reach float64) bool {
	g := math.Abs(at) - reach
	if !(g > a.gap) {
		return false
	}
	a.gap, a.n = g, r3.Scale(math.Copysign(1, at), n)
	return true
}

// touch sets t to the point, rounded by ra, and what faces it, rounded by rb.
func (a *apart) touch(ra, rb float64, t *Touch) {
	t.mix = 0
	t.Gap, t.N = a.gap-ra-rb, a.n
	t.A = axpy(a.a, ra, a.n)
	t.B = axpy(t.A, t.Gap, a.n)
}

// reach returns how far the box goes from its centre along n.
func (k *cuboid) reach(n r3.Vec) (r float64) {
	for i, u := range k.u {
		r += k.h[i] * math.Abs(r3.Dot(u, n))
	}
	return r
}

// circles returns how many different edges the ring's rectangle has, and circle the radius and the height of each.
func (k *section) circles() int {
	if k.ri > 0 && k.ri < k.ro {
		return 4
	}
	if k.h > 0 {
		return 2
	}
	return 1
}

func (k *section) circle(i int) (r, s float64) {
	r, s = k.ro, k.h
	if i&1 == 1 {
		s = -s
	}
	if i&2 == 2 {
		r = k.ri
	}
	return r, s
}

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

// reach returns how far the ring goes from its centre along the unit vector n, without its rounding: ro·√(1 − (n·e)²) + h·|n·e|.
func (k *section) reach(n r3.Vec) float64 {
	ns := r3.Dot(n, k.e)
	return k.ro*math.Sqrt(max(1-ns*ns, 0)) + k.h*math.Abs(ns)
}

// met is the distance in mm below which bodies have met: a section or a box without thickness is reached, but never entered.
const met = 1e-9

// boxRing measures a box and a ring. The nearest points of separate ones lie on an edge of the box, which is a chord of the ring, or on a face,
// and then the ring's is the farthest that it has towards that face.
func boxRing(a, b *Solid, t *Touch) {
	var k cuboid
	k.set(a)
	var s section
	s.set(b)
	v := r3.Sub(s.c, k.c)
	c := k.local(v)
	best, bound := math.Inf(1), math.Inf(-1)
	for i, u := range k.u {
		sep := math.Abs(c[i]) - k.h[i] - s.reach(u)
		bound = max(bound, sep)
		if sep <= 0 {
			continue
		}
		q := r3.Sub(s.c, s.support(r3.Scale(math.Copysign(1, c[i]), u)))
		x := k.local(r3.Sub(q, k.c))
		if gap, n := k.point(&x); gap < best {
			best = gap
			t.corner(q, k.world(&n), gap, s.round)
		}
	}
	if best <= bound+1e-12 {
		return
	}
	best = boxEdges(&k, &s, best, t)
	if best > met && bound >= 0 {
		return
	}
	pierce(&k, &s, best, t)
}

// corner sets t where the point q of the second solid, rounded by round, is over a face of the first that looks along n.
func (t *Touch) corner(q, n r3.Vec, d, round float64) {
	t.Gap, t.N = d-round, n
	t.B = axpy(q, -round, n)
	t.A = axpy(t.B, -t.Gap, n)
}

// boxEdges looks at the edges of the box that may be nearer to the ring than best, or deeper in it.
func boxEdges(k *cuboid, s *section, best float64, t *Touch) float64 {
	u := s.axes()
	mid := r3.Sub(k.c, s.c)
	c := [3]float64{r3.Dot(u[0], mid), r3.Dot(u[1], mid), r3.Dot(u[2], mid)}
	var e [3][3]float64
	for i, w := range k.u {
		for j := range 3 {
			e[i][j] = k.h[i] * r3.Dot(w, u[j])
		}
	}
	var v [8][3]float64
	corners(&c, &e, &v)
	var d [8]float64
	for i := range v {
		d[i] = s.depth(math.Sqrt(v[i][0]*v[i][0]+v[i][1]*v[i][1]), v[i][2])
	}
	// No point of an edge is nearer than half of what both ends and its length leave.
	var low [12]float64
	first := 0
	for i, edge := range edges {
		low[i] = 0.5*(d[edge[1]]+d[edge[1]|1<<edge[0]]) - k.h[edge[0]]
		if low[i] < low[first] {
			first = i
		}
	}
	best = boxEdge(k, s, first, best, t)
	for i := range edges {
		if i != first && low[i] < best {
			best = boxEdge(k, s, i, best, t)
		}
	}
	return best
}

// boxEdge looks at one edge.
func boxEdge(k *cuboid, s *section, i int, best float64, t *Touch) float64 {
	axis, from := edges[i][0], edges[i][1]
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
	if gap >= best {
		return best
	}
	s.touch(&c, x, gap, axpy(p, x, d), 0, t)
	return gap
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
		if h.far(min(best, 0)) {
			continue
		}
		if p, q, mix, found := h.nearest(min(best, 0)); found {
			best, hit = p.d, true
			h.touch(&p, &q, mix, s.round, 0, k.c, &k.u, true, t)
		}
	}
	if hit || s.approach(body{box: k}, k.c, 30) > met && !s.meets(body{box: k}) {
		return
	}
	// The shortest way along an axis of either.
	a := apart{gap: math.Inf(-1)}
	for i, u := range k.u {
		a.try(u, mid[i], k.h[i]+s.reach(u))
	}
	flat := a.try(s.e, -along, k.reach(s.e)+s.h)
	t.mix = 0
	t.Gap, t.N = a.gap-s.round, a.n
	if flat {
		t.A = r3.Add(k.c, k.support(a.n))
		t.B = axpy(t.A, t.Gap, a.n)
		return
	}
	t.B = r3.Sub(s.c, axpy(s.support(a.n), s.round, a.n))
	t.A = axpy(t.B, -t.Gap, a.n)
}

// apart keeps the direction along which two solids are parted by the shortest way.
type apart struct {
	gap float64
	n   r3.Vec
}

// try looks at a direction n along which the second solid's centre is at from the first's and both together reach so far. It tells whether
// that is the shortest way yet.
func (a *apart) try(n r3.Vec, at, reach float64) bool {
	g := math.Abs(at) - reach
	if !(g > a.gap) {
		return false
	}
	a.gap, a.n = g, r3.Scale(math.Copysign(1, at), n)
	return true
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

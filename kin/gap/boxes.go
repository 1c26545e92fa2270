package gap

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// edges are the twelve edges of a box: the axis along which each runs, and the corner that it starts from. Bit i of a corner's
// number says that it is on the upper side along axis i.
var edges = [12][2]uint8{
	{0, 0}, {0, 2}, {0, 4}, {0, 6},
	{1, 0}, {1, 1}, {1, 4}, {1, 5},
	{2, 0}, {2, 1}, {2, 2}, {2, 3},
}

// corners sets v to the corners of a box with the centre c and the half edges e, in any axes.
func corners(c *[3]float64, e *[3][3]float64, v *[8][3]float64) {
	for i := range 3 {
		x, y, z := e[0][i], e[1][i], e[2][i]
		v[0][i], v[1][i], v[2][i], v[3][i] = c[i]-x-y-z, c[i]+x-y-z, c[i]-x+y-z, c[i]+x+y-z
		v[4][i], v[5][i], v[6][i], v[7][i] = c[i]-x-y+z, c[i]+x-y+z, c[i]-x+y+z, c[i]+x+y+z
	}
}

// boxes measures two boxes. Their axes and the cross products of their edges part them if anything does (S. Gottschalk, M. Lin,
// D. Manocha, OBBTree, 1996, cited from memory): overlapping boxes are apart by the shortest way along one of the fifteen. The nearest points
// of separate ones are a corner and a face, or lie on an edge of a.
func boxes(a, b *Solid, t *Touch) {
	var p pairing
	p.set(a, b)
	if !p.separate() {
		if gap, n := p.crossed(); gap <= 0 {
			p.overlap(gap, n, t)
			return
		}
	}
	p.nearest(t)
}

// pairing is two boxes: turn[i][j] is how much of a's axis i runs along b's axis j, c the centre of a from that of b in b's axes.
type pairing struct {
	a, b cuboid
	c    r3.Vec
	turn [3][3]float64
	ca   [3]float64    // c in a's axes
	cb   [3]float64    // c in b's axes
	sep  [2][3]float64 // how far each box's own axes part them
}

// set sets p to two boxes.
func (p *pairing) set(first, second *Solid) {
	a, b := &p.a, &p.b
	a.set(first)
	b.set(second)
	p.c = r3.Sub(a.c, b.c)
	p.ca, p.cb = a.local(p.c), b.local(p.c)
	for i := range 3 {
		p.turn[i] = b.local(a.u[i])
	}
	for i := range 3 {
		reachB, reachA := 0.0, 0.0
		for j := range 3 {
			reachB += b.h[j] * math.Abs(p.turn[i][j])
			reachA += a.h[j] * math.Abs(p.turn[j][i])
		}
		p.sep[0][i] = math.Abs(p.ca[i]) - a.h[i] - reachB
		p.sep[1][i] = math.Abs(p.cb[i]) - b.h[i] - reachA
	}
}

// separate tells whether an axis of one of the boxes parts them.
func (p *pairing) separate() bool {
	return p.sep[0][0] > 0 || p.sep[0][1] > 0 || p.sep[0][2] > 0 || p.sep[1][0] > 0 || p.sep[1][1] > 0 || p.sep[1][2] > 0
}

// crossed returns the greatest separation along any of the fifteen directions, and that direction, from a to b.
func (p *pairing) crossed() (gap float64, n r3.Vec) {
	gap = math.Inf(-1)
	for i := range 3 {
		if p.sep[0][i] > gap {
			gap, n = p.sep[0][i], r3.Scale(-math.Copysign(1, p.ca[i]), p.a.u[i])
		}
		if p.sep[1][i] > gap {
			gap, n = p.sep[1][i], r3.Scale(-math.Copysign(1, p.cb[i]), p.b.u[i])
		}
	}
	for i := range 3 {
		for j := range 3 {
			m := r3.Cross(p.a.u[i], p.b.u[j])
			mm := r3.Dot(m, m)
			if mm < 1e-20 {
				continue // edges side by side; the axes tell
			}
			m = r3.Scale(1/math.Sqrt(mm), m)
			along := r3.Dot(m, p.c)
			g := math.Abs(along)
			for l := range 3 {
				g -= p.a.h[l]*math.Abs(r3.Dot(m, p.a.u[l])) + p.b.h[l]*math.Abs(r3.Dot(m, p.b.u[l]))
			}
			// Equal ways, to the last digits, are left to the axes of a box.
			if g > gap+1e-13*math.Abs(gap) {
				gap, n = g, r3.Scale(-math.Copysign(1, along), m)
			}
		}
	}
	return gap, n
}

// overlap sets t for boxes that are apart by gap < 0 along n. The derivative needs a point of a and one of b that face one another along n.
func (p *pairing) overlap(gap float64, n r3.Vec, t *Touch) {
	pa, pb := r3.Add(p.a.c, p.a.support(n)), r3.Add(p.b.c, p.b.support(r3.Scale(-1, n)))
	ia, ib := p.a.across(n), p.b.across(n)
	fa, fb := p.a.facing(n), p.b.facing(n)
	t.Gap, t.N = gap, n
	switch {
	case fa: // the corner of b
		t.B = pb
		t.A = axpy(pb, -gap, n)
	case fb:
		t.A = pa
		t.B = axpy(pa, gap, n)
	default: // the nearest points of two edges
		u, v := p.a.u[ia], p.b.u[ib]
		m := r3.Cross(u, v)
		x := r3.Dot(r3.Cross(r3.Sub(pb, pa), v), m) / r3.Dot(m, m)
		t.A = axpy(pa, x, u)
		t.B = axpy(t.A, gap, n)
	}
}

// facing tells whether n is an edge direction of the box, so that a face looks along it.
func (k *cuboid) facing(n r3.Vec) bool {
	for _, u := range k.u {
		if math.Abs(r3.Dot(u, n)) > 1-1e-14 {
			return true
		}
	}
	return false
}

// across returns the edge direction that is most square to n.
func (k *cuboid) across(n r3.Vec) (axis int) {
	least := math.Inf(1)
	for i, u := range k.u {
		if d := math.Abs(r3.Dot(u, n)); d < least {
			axis, least = i, d
		}
	}
	return axis
}

// nearest sets t for separate boxes.
func (p *pairing) nearest(t *Touch) {
	best := math.Inf(1)
	bound := math.Inf(-1)
	for i := range 3 {
		bound = max(bound, p.sep[0][i], p.sep[1][i])
		// The corner of one box that stands over the face of the other, or on it.
		if p.sep[0][i] > -met {
			best = t.over(&p.a, &p.b, i, p.ca[i] < 0, best, false)
		}
		if p.sep[1][i] > -met {
			best = t.over(&p.b, &p.a, i, p.cb[i] > 0, best, true)
		}
	}
	if best <= bound+1e-12 {
		return // nothing is nearer than what parts them
	}
	var e [3][3]float64
	for i := range 3 {
		for j := range 3 {
			e[i][j] = p.a.h[i] * p.turn[i][j]
		}
	}
	var v [8][3]float64
	corners(&p.cb, &e, &v)
	var low [12]float64
	first := 0
	for i := range edges {
		low[i] = p.b.least(&v[edges[i][1]], &e[edges[i][0]])
		if low[i] < low[first] {
			first = i
		}
	}
	best = p.edge(first, &v, &e, best, t)
	for i := range edges {
		if i != first && low[i] < best*best {
			best = p.edge(i, &v, &e, best, t)
		}
	}
}

// over looks at the corner of the box o that is nearest to the face of k along axis i, upper or lower. k is the second box if swapped.
func (t *Touch) over(k, o *cuboid, i int, upper bool, best float64, swapped bool) float64 {
	n := k.u[i]
	if !upper {
		n = r3.Scale(-1, n)
	}
	q := r3.Sub(o.c, o.support(n))
	x := k.local(r3.Sub(q, k.c))
	gap, nx, ny, nz := k.point(x[0], x[1], x[2])
	if gap >= best {
		return best
	}
	n = k.world(&[3]float64{nx, ny, nz})
	t.Gap = gap
	if swapped {
		t.N, t.A = r3.Scale(-1, n), q
		t.B = axpy(q, -gap, n)
	} else {
		t.N, t.B = n, q
		t.A = axpy(q, -gap, n)
	}
	return gap
}

// least returns a lower bound of the squared distance of an edge from the box: from v over 2·e, in the box's axes.
func (k *cuboid) least(v, e *[3]float64) (dd float64) {
	for i, h := range k.h {
		// The nearest to 0 that the edge comes along axis i.
		g := math.Abs(v[i]+e[i]) - math.Abs(e[i]) - h
		if g > 0 {
			dd += g * g
		}
	}
	return dd
}

// edge looks at an edge of a.
func (p *pairing) edge(i int, v *[8][3]float64, e *[3][3]float64, best float64, t *Touch) float64 {
	axis := edges[i][0]
	d := [3]float64{2 * e[axis][0], 2 * e[axis][1], 2 * e[axis][2]}
	from := &v[edges[i][1]]
	x, gap, n := p.b.segment(from, &d)
	if gap >= best {
		return best
	}
	at := [3]float64{from[0] + x*d[0], from[1] + x*d[1], from[2] + x*d[2]}
	out := p.b.world(&n)
	t.Gap, t.N = gap, r3.Scale(-1, out)
	t.A = r3.Add(p.b.c, p.b.world(&at))
	t.B = axpy(t.A, -gap, out)
	return gap
}

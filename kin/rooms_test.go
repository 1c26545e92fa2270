package kin_test

import (
	"math"
	"slices"

	"trammel/kin"

	"gonum.org/v1/gonum/spatial/r3"
)

// piece is a convex part of a solid, or a ring, as it stands in the car: what its kind's signed distance needs.
type piece struct {
	shape    kin.Shape
	a, b     r3.Vec    // Tube: ends of its core; Block: corners; Drum: middles of its flats; Ground: a point and its normal
	edge     [3]r3.Vec // Block
	r, in, o float64   // radius, of the hole, of the edges' rounding
}

// clearanceOf takes the gap of a pair again from the places of its solids' points, each carried by its own body: the least of
// a signed distance is sought by sampling and golden section, which knows neither edges nor feet of perpendiculars. J. Kiefer,
// "Sequential minimax search for a maximum", Proceedings of the American Mathematical Society 4 (1953), 502-506.
func (c *corner) clearanceOf(m *kin.Member, p spot, side kin.Side, ground float64) float64 {
	least := math.Inf(1)
	for _, one := range m.Between[0] {
		for _, two := range m.Between[1] {
			a, as := c.taken(one, side)
			b, bs := c.taken(two, side)
			leave := m.Leave
			if leave == 0 {
				leave = 2 * (a.Space.Radius + b.Space.Radius)
			}
			for _, x := range c.rooms(a, as, p, ground, leave, c.shares(a, as, b, bs)) {
				for _, y := range c.rooms(b, bs, p, ground, leave, c.shares(b, bs, a, as)) {
					least = math.Min(least, between(&x, &y))
				}
			}
		}
	}
	return least
}

// taken returns a solid of a pair and the side it is on.
func (c *corner) taken(t kin.Taken, side kin.Side) (*kin.Member, kin.Side) {
	m := &c.link.Members[t.Member]
	switch {
	case m.Across:
		return m, kin.Once
	case t.Side != kin.Once:
		return m, t.Side
	}
	return m, side
}

// shares tells which points of a tube or damper are also points of another of the same side.
func (c *corner) shares(m *kin.Member, side kin.Side, o *kin.Member, other kin.Side) []bool {
	out := make([]bool, len(m.Points))
	if m.Space.Shape > kin.Slider || o.Space.Shape > kin.Slider {
		return out
	}
	for i, p := range m.Points {
		for _, q := range o.Points {
			out[i] = out[i] || r3.Norm(r3.Sub(c.drawn(p, side), c.drawn(q, other))) == 0
		}
	}
	return out
}

// rooms returns the parts of a solid where they stand.
func (c *corner) rooms(m *kin.Member, side kin.Side, p spot, ground, leave float64, shared []bool) []piece {
	sp := m.Space
	var at []r3.Vec
	for k := range m.Points {
		q, _ := c.end(m, side, k, m.Bodies[k])
		at = append(at, q)
	}
	// toward returns the place so far from one towards another.
	toward := func(a, b r3.Vec, by float64) r3.Vec {
		d := r3.Sub(b, a)
		return r3.Add(a, r3.Scale(by/r3.Norm(d), d))
	}
	end := func(k, to int) r3.Vec {
		if shared[k] {
			return toward(at[k], at[to], leave)
		}
		return at[k]
	}
	var out []piece
	switch sp.Shape {
	case kin.Tube:
		if len(at) == 1 {
			return []piece{{shape: kin.Tube, a: at[0], b: at[0], r: sp.Radius}}
		}
		for k := range len(at) - 1 {
			out = append(out, piece{shape: kin.Tube, a: end(k, k+1), b: end(k+1, k), r: sp.Radius})
		}
	case kin.Slider:
		gland := toward(at[0], at[1], sp.Length)
		out = append(out, piece{shape: kin.Tube, a: end(0, 1), b: gland, r: sp.Radius}, piece{shape: kin.Tube, a: gland, b: end(1, 0), r: sp.Rod})
	case kin.Block:
		q := piece{shape: kin.Block, a: at[0], b: at[1]}
		name, of := bodyOf(m.Bodies[0], side)
		for k, e := range []r3.Vec{{X: 1}, {Y: 1}, {Z: 1}} {
			corner := c.drawn(m.Points[0], side)
			q.edge[k] = r3.Sub(c.s.Carry(name, of, r3.Add(corner, e)), at[0])
		}
		out = append(out, q)
	case kin.Drum:
		out = append(out, piece{shape: kin.Drum, a: at[0], b: at[1], r: sp.Radius, in: sp.Inner, o: sp.Round})
	case kin.Hoop:
		s := c.look(side, p.at.Roll)
		half := r3.Scale(sp.Width/2, seen(s.spin, side))
		mid := seen(s.centre, side)
		out = append(out, piece{shape: kin.Drum, a: r3.Sub(mid, half), b: r3.Add(mid, half), r: sp.Radius, in: sp.Inner, o: sp.Round})
	case kin.Ground:
		out = append(out, c.standsOn(p, ground))
	}
	return out
}

// standsOn is the ground under the wheels: turned by the body's roll, or the plane through both contacts and along the car.
func (c *corner) standsOn(p spot, ground float64) piece {
	if p.rolls {
		return piece{shape: kin.Ground, a: r3.Vec{Z: ground + p.at.Wheel}, b: c.look(kin.Left, p.at.Roll).normal}
	}
	left, right := c.look(kin.Left, 0).contact, seen(c.look(kin.Right, 0).contact, kin.Right)
	lean := math.Atan2(left.Z-right.Z, left.Y-right.Y)
	return piece{shape: kin.Ground, a: left, b: r3.Vec{Y: -math.Sin(lean), Z: math.Cos(lean)}}
}

// from returns the signed distance of a place from a solid: to a segment less the radius; to a box's faces; to the
// rectangle that a ring is in the half plane of its axis; above the ground.
func (q *piece) from(x r3.Vec) float64 {
	switch q.shape {
	case kin.Tube:
		d, w := r3.Sub(q.b, q.a), r3.Sub(x, q.a)
		t := 0.
		if dd := r3.Dot(d, d); dd > 0 {
			t = math.Max(0, math.Min(1, r3.Dot(w, d)/dd))
		}
		return r3.Norm(r3.Sub(w, r3.Scale(t, d))) - q.r
	case kin.Block:
		var over [3]float64
		for k, e := range q.edge {
			lo, hi, at := r3.Dot(q.a, e), r3.Dot(q.b, e), r3.Dot(x, e)
			over[k] = math.Max(math.Min(lo, hi)-at, at-math.Max(lo, hi))
		}
		return outside(over[:]...)
	case kin.Drum:
		axis := r3.Unit(r3.Sub(q.b, q.a))
		w := r3.Sub(x, q.a)
		s, l := r3.Dot(w, axis), r3.Norm(r3.Sub(q.b, q.a))
		rho := r3.Norm(r3.Cross(axis, w))
		wide := rho - q.r
		if q.in > 0 {
			wide = math.Max(wide, q.in-rho)
		}
		return outside(wide+q.o, math.Max(-s, s-l)+q.o) - q.o
	}
	return r3.Dot(q.b, r3.Sub(x, q.a))
}

// outside is the signed distance from a box by how far a place is over its faces.
func outside(over ...float64) float64 {
	sum, most := 0., math.Inf(-1)
	for _, v := range over {
		most = max(most, v)
		sum += max(v, 0) * max(v, 0)
	}
	if most > 0 {
		return math.Sqrt(sum)
	}
	return most
}

// between returns the gap of two solids: the least signed distance from the one of what makes up the core of the other. A
// ring is made up of a rectangle at every angle about its axis.
func between(x, y *piece) float64 {
	if y.shape == kin.Tube || x.shape != kin.Tube && y.shape == kin.Drum {
		x, y = y, x
	}
	switch x.shape {
	case kin.Tube:
		d := r3.Sub(x.b, x.a)
		return sought(1, 60, r3.Norm(d), 1e-10, func(t float64) float64 {
			return y.from(r3.Add(x.a, r3.Scale(t, d)))
		}) - x.r
	case kin.Drum:
		axis := r3.Unit(r3.Sub(x.b, x.a))
		one := r3.Unit(r3.Cross(axis, r3.Vec{X: 0.31, Y: 0.37, Z: 0.87}))
		two := r3.Cross(axis, one)
		l := r3.Norm(r3.Sub(x.b, x.a))
		// Distances from what is apart are smooth, so that what these searches leave costs its square.
		return sought(2*math.Pi, 18, x.r, 1e-7, func(angle float64) float64 {
			out := r3.Add(r3.Scale(math.Cos(angle), one), r3.Scale(math.Sin(angle), two))
			return golden(x.in+x.o, x.r-x.o, 1e-6, func(rho float64) float64 {
				return golden(x.o, l-x.o, 1e-6, func(s float64) float64 {
					return y.from(r3.Add(x.a, r3.Add(r3.Scale(s, axis), r3.Scale(rho, out))))
				})
			})
		}) - x.o
	}
	panic("no second way for these")
}

// sought returns the least of f between 0 and end, by golden section about every sample from which f, whose slope is at most
// steep, can be lower than the lowest.
func sought(end float64, n int, steep, tol float64, f func(x float64) float64) float64 {
	step := end / float64(n)
	v := make([]float64, n+1)
	for i := range v {
		v[i] = f(float64(i) * step)
	}
	least := slices.Min(v)
	for i := range v {
		a, b := max(i-1, 0), min(i+1, n)
		if v[i] <= v[a] && v[i] <= v[b] && v[i]-steep*step < least {
			least = math.Min(least, golden(float64(a)*step, float64(b)*step, tol, f))
		}
	}
	return least
}

// golden returns the least of a function that falls and then rises.
func golden(lo, hi, tol float64, f func(x float64) float64) float64 {
	const g = 0.6180339887498949
	x, y := hi-g*(hi-lo), lo+g*(hi-lo)
	fx, fy := f(x), f(y)
	least := math.Min(f(lo), f(hi))
	for hi-lo > tol*math.Max(1, math.Abs(lo)+math.Abs(hi)) {
		if fx < fy {
			hi, y, fy = y, x, fx
			x = hi - g*(hi-lo)
			fx = f(x)
		} else {
			lo, x, fx = x, y, fy
			y = lo + g*(hi-lo)
			fy = f(y)
		}
	}
	return math.Min(least, math.Min(fx, fy))
}

package kin_test

import (
	"math"
	"slices"

	"trammel/kin"
	"trammel/kin/kintest"

	"gonum.org/v1/gonum/spatial/r3"
)

// carriedLine returns where a direction of a body points now in the car: the way from one point of it to another.
func (c *corner) carriedLine(body string, side kin.Side, v r3.Vec) r3.Vec {
	name, of := bodyOf(body, side)
	q := r3.Vec{X: 100, Y: 200, Z: 300}
	return r3.Sub(c.s.Carry(name, of, r3.Add(q, v)), c.s.Carry(name, of, q))
}

// between is the angle between two lines without sense, deg, by the triangle of two steps of length 1.
func between(a, b r3.Vec) float64 {
	a, b = r3.Unit(a), r3.Unit(b)
	return 2 * math.Asin(min(r3.Norm(r3.Sub(a, b)), r3.Norm(r3.Add(a, b)))/2) / deg
}

// defineJoint takes what is measured of a joint, in the car's coordinates.
func (c *corner) defineJoint(want map[string]float64, m *kin.Member, side kin.Side) {
	b, name := m.Bearing, prefix(side)+m.Name
	member := slices.IndexFunc(c.link.Members, func(o kin.Member) bool { return o.Name == m.Name })
	held := b.Housing // by the body from which the other is seen
	if b.RodEnd {
		held = b.Bolt
	}
	if b.Auto() {
		held = kintest.FoundAxis(c.link, member)
	}
	body := m.Bodies[0]
	axis := c.carriedLine(body, side, seen(held, side))
	var line r3.Vec
	if b.RodEnd {
		near, _ := c.end(m, side, 0, m.Bodies[0])
		far, _ := c.end(m, side, 1, m.Bodies[1])
		line = r3.Sub(far, near)
		want[name+".tilt"] = math.Abs(90 - between(axis, line))
	} else {
		line = c.carriedLine(b.BoltBody, side, seen(b.Bolt, side))
		want[name+".tilt"] = between(axis, line)
	}
	line = r3.Unit(line)
	for k, e := range []r3.Vec{{X: 1}, {Y: 1}, {Z: 1}} {
		// The cosine of an angle, by the triangle that the two lines make.
		d := r3.Norm(r3.Sub(line, c.carriedLine(body, side, seen(e, side))))
		want[name+".axis_"+string(rune('x'+k))] = 1 - d*d/2
	}
}

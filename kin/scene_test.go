package kin_test

import (
	"math"
	"slices"
	"strings"

	"trammel/kin"

	"gonum.org/v1/gonum/spatial/r3"
)

// spot is a position of a motion.
type spot struct {
	wheels kin.Wheels
	rolls  bool
	at     kin.Position
}

// spots are one position of every way to move, for tests that want them all.
func spots() []spot {
	at := func(w, r, roll float64) kin.Position { return kin.Position{Wheel: w, Rack: r, Roll: roll * deg} }
	return []spot{
		{kin.BothWheels, false, at(0, 0, 0)},
		{kin.BothWheels, false, at(-28, 9, 0)},
		{kin.LeftWheel, false, at(21, 0, 0)},
		{kin.RightWheel, false, at(-17, -6, 0)},
		{kin.BothWheels, true, at(0, 0, 1.7)},
		{kin.BothWheels, true, at(11, 7, -2.3)},
	}
}

// moves tells whether a side's wheel is one that travels.
func (p spot) moves(side kin.Side) bool {
	return p.wheels == kin.BothWheels || (p.wheels == kin.LeftWheel) == (side == kin.Left)
}

// bothSides returns all columns, those of the wheel and of members of one side also for the other.
func (c *corner) bothSides() []kin.Column {
	if c.both != nil {
		return c.both
	}
	c.both = c.prog.Columns()
	for _, col := range c.prog.Columns() {
		if other, err := c.prog.Column("right." + col.Name); err == nil {
			c.both = append(c.both, other)
		}
	}
	return c.both
}

// tableOf runs columns at positions of one motion, out[column][position], and leaves the state at the last one solved.
func (c *corner) tableOf(wheels kin.Wheels, rolls bool, at []kin.Position, cols []kin.Column) [][]float64 {
	c.t.Helper()
	sw := c.prog.NewSweep(kin.NewMotion("test", wheels, rolls, at), cols)
	out := make([]float64, sw.Size())
	if _, f := c.s.Run(sw, out); f.Status != kin.OK {
		c.t.Fatalf("at %v: %s", f.At, c.prog.Describe(f))
	}
	return slices.Collect(slices.Chunk(out[:len(cols)*len(at)], len(at)))
}

// stand brings both sides to a spot, with every body that turns.
func (c *corner) stand(p spot) {
	c.t.Helper()
	cols := c.columns("camber", "right.camber")
	for _, col := range c.bothSides() {
		if col.Measure.Name == "angle" {
			cols = append(cols, col)
		}
	}
	c.tableOf(p.wheels, p.rolls, []kin.Position{p.at}, cols)
}

// drawn is where a point stands at design on a side.
func (c *corner) drawn(point int, side kin.Side) r3.Vec {
	q := c.link.Points[point].At
	if side != kin.Right {
		return q
	}
	if c.link.Opposite != nil && c.link.Opposite[point] >= 0 {
		return c.link.Points[c.link.Opposite[point]].At
	}
	return mirror(q)
}

func mirror(v r3.Vec) r3.Vec { v.Y = -v.Y; return v }

// seen turns a place of the car into the coordinates in which its side is the left one, and back.
func seen(v r3.Vec, side kin.Side) r3.Vec {
	if side == kin.Right {
		return mirror(v)
	}
	return v
}

// instances returns the sides on which a member exists.
func instances(m *kin.Member) []kin.Side {
	if m.Across {
		return []kin.Side{kin.Once}
	}
	return []kin.Side{kin.Left, kin.Right}
}

// bodyOf parts the name that an instance gives a body.
func bodyOf(name string, side kin.Side) (string, kin.Side) {
	for _, s := range []kin.Side{kin.Left, kin.Right} {
		if rest, ok := strings.CutPrefix(name, s.String()+"."); ok {
			return rest, s
		}
	}
	return name, side
}

// end returns where point k of a member's instance stands now as a part of one of the member's bodies, and where it
// stood at design.
func (c *corner) end(m *kin.Member, side kin.Side, k int, body string) (now, design r3.Vec) {
	name, of := bodyOf(body, side)
	if m.Across && m.Sides != nil {
		side = m.Sides[k]
	}
	design = c.drawn(m.Points[k], side)
	return c.s.Carry(name, of, design), design
}

// span is the distance between the two ends of a member, now and at design.
func (c *corner) span(m *kin.Member, side kin.Side) (now, design float64) {
	a, a0 := c.end(m, side, 0, m.Bodies[0])
	b, b0 := c.end(m, side, 1, m.Bodies[1])
	return r3.Norm(r3.Sub(a, b)), r3.Norm(r3.Sub(a0, b0))
}

// member finds one by name.
func (c *corner) member(name string) *kin.Member {
	for i := range c.link.Members {
		if c.link.Members[i].Name == name {
			return &c.link.Members[i]
		}
	}
	panic("no member " + name)
}

// turning returns the member that makes a body of this name, nil for the frame, the rack and carriers.
func (c *corner) turning(body string) *kin.Member {
	for i := range c.link.Members {
		m := &c.link.Members[i]
		switch m.Kind {
		case kin.Arm, kin.HArm, kin.Rocker, kin.Centre:
			if m.Name == body {
				return m
			}
		case kin.Kingpin:
			if body == kin.Upright {
				return m
			}
		}
	}
	return nil
}

// axisOf returns the two points of a body's axis as drawn, of the side where it exists.
func (c *corner) axisOf(m *kin.Member, side kin.Side) (p, q r3.Vec) {
	if m.Kind == kin.Centre {
		first, of := bodyOf(c.member(m.Bodies[0]).Bodies[0], side)
		return c.axisOf(c.member(first), of)
	}
	return c.drawn(m.Points[0], side), c.drawn(m.Points[1], side)
}

// angleOf returns how far a body has turned against what carries its axis, rad, about the axis from its first point to
// its second in the car's coordinates, by the triangle that a point of it off the axis makes with its old place.
func (c *corner) angleOf(m *kin.Member, side kin.Side) float64 {
	base, of := kin.Frame, kin.Once
	if m.Kind != kin.Centre {
		base, of = bodyOf(m.Bodies[0], side)
	}
	name := m.Name
	if m.Kind == kin.Kingpin {
		name = kin.Upright
	}
	p, q := c.axisOf(m, side)
	k := r3.Unit(r3.Sub(q, p))
	off := r3.Add(p, r3.Scale(100, r3.Unit(r3.Cross(k, r3.Vec{X: 0.3, Y: 0.5, Z: 0.7}))))
	from, to := c.s.Carry(base, of, off), c.s.Carry(name, side, off)
	foot, tip := c.s.Carry(base, of, p), c.s.Carry(base, of, q)
	a := 2 * math.Asin(r3.Norm(r3.Sub(to, from))/200)
	return math.Copysign(a, r3.Dot(r3.Sub(tip, foot), r3.Cross(r3.Sub(from, foot), r3.Sub(to, foot))))
}

// scene is a wheel as it stands, in the coordinates in which its side is the left one.
type scene struct {
	centre, contact r3.Vec
	spin            r3.Vec // outward
	normal          r3.Vec // of the ground
	level           r3.Vec // the wheel plane's level direction forward
	along           r3.Vec // the wheel plane's line on the ground, forward
}

// look takes a wheel's scene from places alone: the contact is the point of a circle that is lowest to the ground's
// normal.
func (c *corner) look(side kin.Side, roll float64) scene {
	w := c.link.Wheel
	body := carrierOf(c.link)
	centre := seen(c.drawn(w.Centre, side), side)
	now := func(q r3.Vec) r3.Vec { return seen(c.s.Carry(body, side, seen(q, side)), side) }
	// At design: a level axle, cambered about x so that the top goes outward, then toed about z so that the
	// front goes inward, both by turning the axle itself.
	axle := rodrigues(rodrigues(r3.Vec{Y: 1}, r3.Vec{X: 1}, -w.Camber), r3.Vec{Z: 1}, -w.Toe)
	s := scene{centre: now(centre)}
	s.spin = r3.Sub(now(r3.Add(centre, axle)), s.centre)
	// The body leans right about x; seen from it, the ground leans the other way.
	s.normal = seen(rodrigues(r3.Vec{Z: 1}, r3.Vec{X: 1}, -roll), side)
	s.level = r3.Unit(r3.Cross(s.spin, r3.Vec{Z: 1}))
	s.along = r3.Unit(r3.Cross(s.spin, s.normal))
	other := r3.Cross(s.spin, s.along)
	// The circle: centre + R (cos a along + sin a other); its slope changes sign at the lowest point.
	slope := func(a float64) float64 {
		return -math.Sin(a)*r3.Dot(s.along, s.normal) + math.Cos(a)*r3.Dot(other, s.normal)
	}
	lo, hi := math.Pi/2-1, math.Pi/2+1
	if r3.Dot(other, s.normal) > 0 {
		lo, hi = -math.Pi/2-1, -math.Pi/2+1
	}
	for range 60 {
		if mid := (lo + hi) / 2; slope(mid) < 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	a := (lo + hi) / 2
	s.contact = r3.Add(s.centre, r3.Scale(w.LoadedRadius, r3.Add(r3.Scale(math.Cos(a), s.along), r3.Scale(math.Sin(a), other))))
	return s
}

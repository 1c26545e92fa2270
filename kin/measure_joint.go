package kin

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// tiltSpec is what a joint needs: two bodies and a direction that each carries. Of a spherical bearing, those of the
// housing and of the bolt. Where a rod is in it, the first is that of the body at the joint, and the rod goes along the instance's
// ends.
type tiltSpec struct {
	bodies [2]int
	axes   [2]int // in the table of directions; where a rod is in it the first alone
	rod    bool   // the second direction is a rod's line
	square bool   // tilt counts from square, as of a rod end
}

// bearing finds the bodies and directions of a joint.
func (c *compiler) bearing(in *instance, m *Member) error {
	of := m.Bearing
	if of == nil {
		return fmt.Errorf("%s %s does not say what bearing it is", m.Kind, m.Name)
	}
	if of.RodEnd || of.InLine {
		in.tilt.rod, in.tilt.square = true, of.RodEnd
		axis := of.Housing
		if of.RodEnd {
			axis = of.Bolt
		}
		first, name, ok := c.end(in, 0, m.Bodies[0])
		if !ok {
			return noBody(m, name)
		}
		far, name, ok := c.end(in, 1, m.Bodies[1])
		if !ok {
			return noBody(m, name)
		}
		in.ends, in.tilt.bodies = [2]end{first, far}, [2]int{first.body, far.body}
		in.tilt.axes[0] = c.carries(in, first.body, axis)
		return nil
	}
	// Where the bearing is says nothing of its tilt: no part has a point for it.
	for k, body := range [2]string{m.Bodies[0], of.BoltBody} {
		name := c.nameOf(in, body)
		b, ok := c.body[name]
		if !ok {
			return noBody(m, name)
		}
		in.tilt.bodies[k] = b
		if k == 1 && b == in.tilt.bodies[0] {
			return fmt.Errorf("%s %s has its housing and its bolt on one body, %s, and cannot tilt", m.Kind, m.Name, name)
		}
	}
	if of.Bolt == (r3.Vec{}) {
		return fmt.Errorf("%s %s does not say where its bolt points", m.Kind, m.Name)
	}
	in.tilt.axes = [2]int{c.carries(in, in.tilt.bodies[0], of.Housing), c.carries(in, in.tilt.bodies[1], of.Bolt)}
	return nil
}

func noBody(m *Member, name bodyName) error {
	return fmt.Errorf("%s %s is on %s, which is no body of this geometry", m.Kind, m.Name, name)
}

// carries adds a direction that an instance's body carries, given at design in coordinates in which the instance's side is
// the left one; the zero vector leaves it to State.SetAxis.
func (c *compiler) carries(in *instance, body int, v r3.Vec) int {
	d := direction{how: given, side: in.side, m: in.member, v: v}
	if v == (r3.Vec{}) {
		d.how = found
	}
	// Frame and rack are kept in either coordinates; any other body in those of one side.
	d.mirror = body > bodyRack && c.p.flips(body) != (in.side == Right)
	return c.direction(d)
}

// SetAxis gives a joint whose axis is to be found (Bearing.Auto) the direction from which tilt is measured: of a spherical
// bearing that of its bore, of a rod end that of its bolt, at design, in coordinates in which its side is the left one, as
// the measures axis_x, axis_y and axis_z have it. Both sides of the car take it, the other its mirror image. It stays until
// it is set anew; without one, tilt has no value. Derivatives take it as standing still on its body.
func (s *State) SetAxis(member int, axis r3.Vec) {
	if s.prog.linkage.Members[member].Across {
		axis.Y *= s.prog.side()
	}
	s.axes[member] = r3.Scale(1/norm(axis), axis)
	for i := range s.prog.directions {
		if d := &s.prog.directions[i]; d.how == found && d.m == member {
			s.setDirection(i)
		}
	}
}

// Finds tells whether a member is a joint whose axis State.SetAxis gives.
func (p *Program) Finds(member int) bool {
	b := p.linkage.Members[member].Bearing
	return b != nil && b.Auto()
}

// carried is direction k of the joint as the side being built sees it.
func (b *builder) carried(k int) ref { return b.direction(b.in.tilt.bodies[k], b.in.tilt.axes[k]) }

// rod is the line of a joint's rod, from the joint to its other end.
func (b *builder) rod() ref { return b.sub(b.at(b.in.ends[1]), b.at(b.in.ends[0])) }

// tilt is the angle of a joint, rad. With the unit vectors m of the bore, n of the bolt and the rod's line r:
//
//	spherical bearing:  asin |m × n|, between two lines that have no sense; exact where they are nearly one
//	in line with a rod: asin (|m × r|/|r|), the same with the rod for a bolt; how it spins makes no difference
//	rod end:            asin (|n·r|/|r|), how far the bolt leans from square to the rod, which spins as it likes
func (b *builder) tilt() ref {
	switch spec := &b.in.tilt; {
	case spec.square:
		rod := b.rod()
		along := b.div(b.dot(b.carried(0), rod), b.g.norm(rod))
		return b.g.one(opAsin, b.g.one(opSqrt, b.square(along)))
	case spec.rod:
		rod := b.rod()
		return b.g.one(opAsin, b.div(b.g.norm(b.cross(b.carried(0), rod)), b.g.norm(rod)))
	}
	return b.g.one(opAsin, b.g.norm(b.cross(b.carried(0), b.carried(1))))
}

// seen is component k of what tilts, as the body that holds it sees it: of the bolt from the housing, or of the rod from the
// body at the joint. The body's own axes lie along the car's at design, so that each component is a cosine with one of them.
func (b *builder) seen(k int) ref {
	spec := &b.in.tilt
	var line ref
	if spec.rod {
		line = b.rod()
		line = b.times(b.div(b.g.constant(1), b.g.norm(line)), line)
	} else {
		line = b.carried(1)
	}
	body := spec.bodies[0]
	sign := 1.0
	if k == 1 {
		if body > bodyRack && b.p.flips(body) != b.flip() {
			sign = -1 // its y is the other way
		}
		if b.in.side == Once {
			sign *= b.p.side()
		}
	}
	x := b.dot(line, b.direction(body, b.axisIndex(k)))
	if sign < 0 {
		return b.minus(x)
	}
	return x
}

const axisLong = " of the direction of a spherical bearing's bolt as its housing sees it, or, where a rod is in the joint, of the rod from there to its other end, as the body at the joint sees it: along the axes that the car has at design, which the body carries along. From the directions over all motions follows the bore, or the bolt, that leaves the least tilt."

var jointMeasures = []Measure{
	{Name: "tilt", Of: ofKinds(Joint), Unit: Degree, Scale: 0.5,
		Null: "where the joint's axis is to be found and no motion has shown it yet",
		Line: "how far a joint is tilted",
		Long: "Of a spherical bearing, the angle between its bore and its bolt, two lines that have no sense; one of them is the rod's own where a rod is the bolt, or the housing. Of a rod end, asin of the bolt's axis along the rod's: how far the bolt leans from square to the rod, which is free to spin about itself. Where the axis is auto, against the bore, or the bolt, that leaves the least tilt over all motions.",
		build: func(b *builder) ref {
			return b.degrees(b.tilt())
		}},
	{Name: "axis_x", Of: ofKinds(Joint), Unit: None, Scale: 0.01, Sign: "+ forward",
		Line:  "how far what tilts in a joint points forward, 1 = all the way",
		Long:  "Component forward" + axisLong,
		build: func(b *builder) ref { return b.seen(0) }},
	{Name: "axis_y", Of: ofKinds(Joint), Unit: None, Scale: 0.01, Sign: "+ outward; of a joint that exists once, + left",
		Line:  "how far what tilts in a joint points outward, 1 = all the way",
		Long:  "Component outward, or to the left of a joint that exists once," + axisLong,
		build: func(b *builder) ref { return b.seen(1) }},
	{Name: "axis_z", Of: ofKinds(Joint), Unit: None, Scale: 0.01, Sign: "+ up",
		Line:  "how far what tilts in a joint points up, 1 = all the way",
		Long:  "Component upward" + axisLong,
		build: func(b *builder) ref { return b.seen(2) }},
}

// noAxis is the direction of an axis that nothing has found yet.
var noAxis = r3.Vec{X: math.NaN(), Y: math.NaN(), Z: math.NaN()}

package kin_test

import (
	"math"
	"testing"

	"trammel/kin"
	"trammel/kin/kintest"

	"gonum.org/v1/gonum/spatial/r3"
	"pgregory.net/rapid"
)

// TestDefinitions takes every value measure of random linkages again, of both sides and across, in heave, under lock,
// with one wheel and in roll, from the places of points alone and by other ways than kin's: the contact is the lowest
// point of a circle, trails are cut from drawn lines, angles come from sides of triangles. Axes and signs: ISO 8855,
// as the measures' own definitions say.
func TestDefinitions(t *testing.T) {
	forEvery(t, func(t *rapid.T, l *kin.Linkage) {
		c := newCorner(t, l)
		c.stand(spot{})
		design := map[kin.Side]scene{kin.Left: c.look(kin.Left, 0), kin.Right: c.look(kin.Right, 0)}
		for _, p := range append(spots(), drawSpot(t), drawSpot(t)) {
			c.define(p, design)
		}
	})
}

func (c *corner) define(p spot, design map[kin.Side]scene) {
	t, l := c.t, c.link
	cols := c.bothSides()
	got := c.tableOf(p.wheels, p.rolls, []kin.Position{p.at}, cols)
	want := map[string]float64{}
	for _, side := range []kin.Side{kin.Left, kin.Right} {
		c.defineWheel(want, p, side, design[side])
		c.defineSteering(want, p, side)
	}
	for i := range l.Members {
		for _, side := range instances(&l.Members[i]) {
			c.defineMember(want, &l.Members[i], side)
			if m := &l.Members[i]; m.Kind == kin.Pair {
				ground := (design[kin.Left].contact.Z + design[kin.Right].contact.Z) / 2
				want[prefix(side)+m.Name+".clearance"] = c.clearanceOf(m, p, side, ground)
			}
		}
	}
	for k, col := range cols {
		w, ok := want[col.Name]
		switch {
		case ok:
			near(t, col.Name, got[k][0], w, 2e-7)
		case !kin.IsSlope(col.Measure) && !elsewhere(l, col.Measure.Name):
			t.Errorf("%s is taken again nowhere", col.Name)
		}
	}
	// The wheels that are told to travel do, the other stands still; on rolled ground both contacts lie.
	for _, side := range []kin.Side{kin.Left, kin.Right} {
		travel := want[prefix(side)+"wheel_travel"]
		now := c.look(side, p.at.Roll)
		switch {
		case p.rolls:
			ground := (design[kin.Left].contact.Z+design[kin.Right].contact.Z)/2 + p.at.Wheel
			near(t, "contact above the ground", r3.Dot(now.normal, r3.Sub(now.contact, r3.Vec{Z: ground})), 0, 1e-8)
		case p.moves(side):
			near(t, "travel", travel, p.at.Wheel, 1e-9)
		default:
			near(t, "travel", travel, 0, 1e-9)
		}
	}
}

// elsewhere are the measures that have tests of their own: TestAckermannTable and TestInstantAxis.
func elsewhere(l *kin.Linkage, measure string) bool {
	switch measure {
	case "ackermann", "turn_radius":
		return true
	case "caster", "kingpin_inclination", "caster_trail", "kingpin_offset", "hub_trail", "hub_offset", "lever_angle", "dead_centre":
		return l.Members[0].Name == "link1" // five links
	}
	return false
}

func prefix(side kin.Side) string {
	if side == kin.Right {
		return "right."
	}
	return ""
}

// defineWheel takes what is measured of a wheel.
func (c *corner) defineWheel(want map[string]float64, p spot, side kin.Side, design scene) {
	s := c.look(side, p.at.Roll)
	steer := math.Atan2(s.level.Y, s.level.X) / deg // towards the middle of the left is to the right
	car := 1.
	if side == kin.Right {
		car = -1
	}
	for name, v := range map[string]float64{
		"wheel_travel":      s.centre.Z - design.centre.Z,
		"rack_travel":       p.at.Rack,
		"body_roll":         p.at.Roll / deg,
		"camber":            math.Acos(s.spin.Z)/deg - 90,
		"camber_to_ground":  math.Acos(r3.Dot(s.spin, s.normal))/deg - 90,
		"toe":               -steer,
		"steer_angle":       car * steer,
		"contact_x":         s.contact.X,
		"contact_y":         car * s.contact.Y,
		"contact_z":         s.contact.Z,
		"half_track_change": s.contact.Y - design.contact.Y,
		"contact_x_change":  s.contact.X - design.contact.X,
	} {
		want[prefix(side)+name] = v
	}
}

// steeringLine returns two points of the steering axis, the lower first, where the layout shows one.
func (c *corner) steeringLine(side kin.Side) (low, high r3.Vec, ok bool) {
	var strut *kin.Member
	var balls []r3.Vec
	for i := range c.link.Members {
		m := &c.link.Members[i]
		switch m.Kind {
		case kin.Kingpin:
			low, _ = c.end(m, side, 0, kin.Upright)
			high, _ = c.end(m, side, 1, kin.Upright)
			return low, high, true
		case kin.Strut:
			strut = m
		case kin.Arm:
			b, _ := c.end(m, side, 2, kin.Upright)
			balls = append(balls, b)
		}
	}
	switch {
	case strut != nil && len(balls) == 1:
		high, _ = c.end(strut, side, 0, kin.Frame)
		return balls[0], high, true
	case len(balls) == 2:
		return balls[0], balls[1], true
	}
	return low, high, false
}

// defineSteering takes what is measured of the steering axis.
func (c *corner) defineSteering(want map[string]float64, p spot, side kin.Side) {
	low, high, ok := c.steeringLine(side)
	if !ok {
		return
	}
	low, high = seen(low, side), seen(high, side)
	s := c.look(side, p.at.Roll)
	outward := r3.Cross(s.normal, s.along)
	rise := high.Z - low.Z
	// cut returns where the axis goes through the plane parallel to the ground through a place.
	cut := func(q r3.Vec) r3.Vec {
		k := r3.Sub(high, low)
		return r3.Add(low, r3.Scale(r3.Dot(s.normal, r3.Sub(q, low))/r3.Dot(s.normal, k), k))
	}
	ground, hub := cut(s.contact), cut(s.centre)
	for name, v := range map[string]float64{
		"caster":              math.Atan((low.X-high.X)/rise) / deg,
		"kingpin_inclination": math.Atan((low.Y-high.Y)/rise) / deg,
		"caster_trail":        r3.Dot(r3.Sub(ground, s.contact), s.along),
		"kingpin_offset":      r3.Dot(r3.Sub(s.contact, ground), outward),
		"hub_trail":           r3.Dot(r3.Sub(hub, s.centre), s.along),
		"hub_offset":          r3.Dot(r3.Sub(s.centre, hub), outward),
	} {
		want[prefix(side)+name] = v
	}
}

// defineMember takes what is measured of a member.
func (c *corner) defineMember(want map[string]float64, m *kin.Member, side kin.Side) {
	name := prefix(side) + m.Name
	mirrored := 1.
	if side == kin.Right {
		mirrored = -1
	}
	switch m.Kind {
	case kin.Damper, kin.Spring, kin.Distance, kin.Strut:
		c.defineStroke(want, m, side)
	case kin.Link:
		if now, design := c.span(m, side); m.Soft {
			want[name+".bind"] = now - design
		}
	case kin.Arm, kin.HArm, kin.Rocker, kin.Kingpin, kin.Centre:
		want[name+".angle"] = mirrored * c.angleOf(m, side) / deg
	case kin.Bar:
		left, right := c.barAngles(m)
		want[name+".twist"] = (left - right) / deg
	case kin.Shaft:
		now, design := c.span(m, side)
		want[name+".plunge"] = now - design
		a, a0 := c.end(m, side, 0, m.Bodies[0])
		b, _ := c.end(m, side, 1, m.Bodies[1])
		// The bend at each end, by the triangle of the shaft with a unit along the joint's axis.
		bend := func(axis r3.Vec) float64 {
			d := r3.Norm(r3.Sub(r3.Unit(r3.Sub(b, a)), r3.Unit(axis)))
			return math.Abs(math.Mod(2*math.Asin(math.Min(1, d/2))/deg+90, 180) - 90)
		}
		inner := r3.Sub(c.s.Carry(m.Bodies[0], side, r3.Add(a0, seen(r3.Vec{Y: 1}, side))), a)
		want[name+".joint_angle_inner"] = bend(inner)
		want[name+".joint_angle_outer"] = bend(seen(c.look(side, 0).spin, side))
	}
	c.defineLevers(want, m, side)
	if m.Kind == kin.Joint {
		c.defineJoint(want, m, side)
	}
	if m.Kind == kin.Centre {
		left, right := c.barAngles(c.member(m.Bodies[0]))
		want[name+".angle"] = (left + right) / 2 / deg
	}
}

// barAngles returns how far both ends of a bar have turned about the first's axis, the second's direction taken so
// that it is most nearly the first's.
func (c *corner) barAngles(m *kin.Member) (first, second float64) {
	var angle [2]float64
	var axis [2]r3.Vec
	for k := range angle {
		name, of := bodyOf(m.Bodies[k], kin.Once)
		angle[k] = c.angleOf(c.member(name), of)
		p, q := c.axisOf(c.member(name), of)
		axis[k] = r3.Sub(q, p)
	}
	if r3.Dot(axis[0], axis[1]) < 0 {
		angle[1] = -angle[1]
	}
	return angle[0], angle[1]
}

// TestNoValue: measures that have no value say so by NaN, and only then.
func TestNoValue(t *testing.T) {
	l := kintest.EqualArms().Builder().L
	c := newCorner(t, &l)
	for _, name := range []string{"front_view_swing_arm", "side_view_swing_arm"} {
		if v := c.get(0, 0, name); !math.IsNaN(v) {
			t.Errorf("%s of parallel arms is %g", name, v)
		}
	}
	near(t, "roll centre of level parallel arms", c.get(0, 0, "roll_centre_height"), 0, 1e-9)
	for _, name := range []string{"ackermann", "turn_radius"} {
		if _, err := c.prog.Column(name); err == nil || err.Error() != name+" needs the wheelbase: vehicle: {wheelbase: ...}" {
			t.Errorf("%s without a wheelbase: %v", name, err)
		}
	}
	p := newCorner(t, kintest.Pushrod())
	for _, name := range []string{"ackermann", "turn_radius"} {
		if v := p.get(0, 0, name); !math.IsNaN(v) {
			t.Errorf("%s straight ahead is %g", name, v)
		}
		if v := p.get(0, 30, name); math.IsNaN(v) {
			t.Errorf("%s at a lock of 30 mm has no value", name)
		}
	}
	// What is made of travel has no value where the wheel does not travel; what is made of roll, none without.
	for _, name := range []string{"right.camber_gain", "right.bump_steer", "right.contact_path_y", "right.damper.installation_ratio", "roll_camber", "roll_steer"} {
		cols := p.columns(name)
		if v := p.tableOf(kin.LeftWheel, false, []kin.Position{{Wheel: 9}}, cols)[0][0]; !math.IsNaN(v) {
			t.Errorf("%s of a left wheel's travel is %g", name, v)
		}
		if v := p.tableOf(kin.BothWheels, true, []kin.Position{{Wheel: 9}}, cols)[0][0]; math.IsNaN(v) {
			t.Errorf("%s in roll has no value", name)
		}
	}
	a := newCorner(t, kintest.ThreeLink())
	if v := a.get(0, 0, "roll_centre_height"); !math.IsNaN(v) {
		t.Errorf("the roll centre of an axle that does not roll is %g", v)
	}
	if v := a.tableOf(kin.BothWheels, true, []kin.Position{{}}, a.columns("roll_centre_height"))[0][0]; math.IsNaN(v) {
		t.Error("the roll centre of an axle that rolls has no value")
	}
}

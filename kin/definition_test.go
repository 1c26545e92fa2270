package kin_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"trammel/kin"
	"trammel/kin/kintest"

	"gonum.org/v1/gonum/spatial/r3"
	"pgregory.net/rapid"
)

// TestDefinitions takes every value measure of random corners again, from the places of points alone and by
// other ways than kin's: the contact is the lowest point of a circle, trails are cut from drawn lines, angles
// come from sides of triangles. Axes and signs: ISO 8855, as the measures' own definitions say.
func TestDefinitions(t *testing.T) {
	forLayouts(t, func(t *rapid.T, l *kin.Linkage) {
		c := newCorner(t, l)
		p := drawPosition(t)
		c.get(0, 0, "wheel_travel")
		_, _, contact0 := wheel(c)
		angle := c.angles(p.Wheel, p.Rack)
		spin, forward, contact := wheel(c)
		up := r3.Vec{Z: 1}
		outward := r3.Cross(up, forward)
		want := map[string]float64{
			"wheel_travel":      p.Wheel,
			"rack_travel":       p.Rack,
			"camber":            math.Acos(spin.Z)/deg - 90,
			"toe":               -math.Atan2(forward.Y, forward.X) / deg,
			"steer_angle":       math.Atan2(forward.Y, forward.X) / deg,
			"contact_x":         contact.X,
			"contact_y":         contact.Y,
			"contact_z":         contact.Z,
			"half_track_change": contact.Y - contact0.Y,
			"contact_x_change":  contact.X - contact0.X,
		}
		if slices.ContainsFunc(l.Members, func(m kin.Member) bool { return m.Kind == kin.Arm }) {
			low, high := c.carried(at(l, "lower_ball")), c.carried(at(l, "upper_ball"))
			rise := high.Z - low.Z
			centre := c.carried(l.Points[l.Wheel.Centre].At)
			ground := r3.Add(low, r3.Scale((contact.Z-low.Z)/rise, r3.Sub(high, low)))
			hub := r3.Add(low, r3.Scale((centre.Z-low.Z)/rise, r3.Sub(high, low)))
			want["caster"] = math.Atan((low.X-high.X)/rise) / deg
			want["kingpin_inclination"] = math.Atan((low.Y-high.Y)/rise) / deg
			want["caster_trail"] = r3.Dot(r3.Sub(ground, contact), forward)
			want["kingpin_offset"] = r3.Dot(r3.Sub(contact, ground), outward)
			want["hub_trail"] = r3.Dot(r3.Sub(hub, centre), forward)
			want["hub_offset"] = r3.Dot(r3.Sub(centre, hub), outward)
		}
		for _, m := range l.Members {
			if m.Kind == kin.Damper || m.Kind == kin.Spring {
				want[m.Name+".length"] = r3.Norm(r3.Sub(c.where(m.Bodies[0], m.Points[0], p.Rack, angle), c.where(m.Bodies[1], m.Points[1], p.Rack, angle)))
			}
			if m.Kind == kin.Arm {
				want[m.Name+".angle"] = armAngle(c, m)
			}
		}
		for _, m := range l.Members {
			if body := leverOf(l, m); body != "" {
				want[m.Name+".lever_angle"] = leverAngle(c, m, body, p.Rack, angle)
			}
		}
		for name, w := range want {
			near(t, name, c.get(p.Wheel, p.Rack, name), w, 2e-7)
		}
		for _, col := range c.columns() {
			if _, ok := want[col.Name]; !ok && !kin.IsSlope(col.Measure) && !elsewhere[col.Measure.Name] {
				t.Errorf("%s is taken again nowhere", col.Name)
			}
		}
	})
}

// elsewhere are the measures that have tests of their own: TestAckermannTable, TestIndependentSolver.
var elsewhere = map[string]bool{"ackermann": true, "turn_radius": true, "angle": true}

// turned are the rods of the layouts that turn a rocker, and the rocker.
var turned = map[string]string{"pushrod": "rocker", "rod": "rocker", "coupler": "second", "drag_link": "bell_crank"}

// leverOf says at which arm or rocker a rod, damper or spring is measured: the one it turns, else the one it
// stands on; "" for none.
func leverOf(l *kin.Linkage, m kin.Member) string {
	if m.Kind == kin.Arm || m.Kind == kin.Rocker {
		return ""
	}
	if r := turned[m.Name]; r != "" {
		return r
	}
	for _, b := range m.Bodies {
		for _, body := range l.Members {
			if body.Name == b {
				return b
			}
		}
	}
	return ""
}

// wheel returns the spin axis, the wheel plane's level direction forward and the lowest point of the circle of
// loaded radius in the wheel plane.
func wheel(c *corner) (spin, forward, contact r3.Vec) {
	w := c.link.Wheel
	centre := c.link.Points[w.Centre].At
	// At design: a level axle, cambered about x so that the top goes outward, then toed about z so that the
	// front goes inward, both by turning the axle itself.
	axle := rodrigues(rodrigues(r3.Vec{Y: 1}, r3.Vec{X: 1}, -w.Camber), r3.Vec{Z: 1}, -w.Toe)
	now := c.carried(centre)
	spin = r3.Sub(c.carried(r3.Add(centre, axle)), now)
	forward = r3.Unit(r3.Cross(spin, r3.Vec{Z: 1}))
	other := r3.Cross(spin, forward)
	// The circle: centre + R (cos a forward + sin a other); its slope changes sign at the lowest point.
	slope := func(a float64) float64 { return -math.Sin(a)*forward.Z + math.Cos(a)*other.Z }
	lo, hi := math.Pi/2-1, math.Pi/2+1
	if other.Z > 0 {
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
	return spin, forward, r3.Add(now, r3.Scale(w.LoadedRadius, r3.Add(r3.Scale(math.Cos(a), forward), r3.Scale(math.Sin(a), other))))
}

// armAngle returns how far the ball of an arm has gone round its axis, by the triangle of its two places and
// the foot; the sign by the side it went to.
func armAngle(c *corner, m kin.Member) float64 {
	p, q := c.link.Points[m.Points[0]].At, c.link.Points[m.Points[1]].At
	ball := c.link.Points[m.Points[2]].At
	now := c.carried(ball)
	k := r3.Unit(r3.Sub(q, p))
	radius := r3.Norm(r3.Cross(k, r3.Sub(ball, p)))
	a := 2 * math.Asin(r3.Norm(r3.Sub(now, ball))/(2*radius)) / deg
	return math.Copysign(a, r3.Dot(k, r3.Cross(r3.Sub(ball, p), r3.Sub(now, p))))
}

// leverAngle returns the angle at a rod's end on a body between the rod and the line to the body's axis, by
// the law of cosines.
func leverAngle(c *corner, m kin.Member, body string, rack float64, angle map[string]float64) float64 {
	e := 0
	if m.Bodies[1] == body {
		e = 1
	}
	on := c.where(m.Bodies[e], m.Points[e], rack, angle)
	far := c.where(m.Bodies[1-e], m.Points[1-e], rack, angle)
	var p, q r3.Vec
	for _, b := range c.link.Members {
		if b.Name == body {
			p, q = c.link.Points[b.Points[0]].At, c.link.Points[b.Points[1]].At
		}
	}
	k := r3.Unit(r3.Sub(q, p))
	foot := r3.Add(p, r3.Scale(r3.Dot(k, r3.Sub(on, p)), k))
	a, b, o := r3.Norm(r3.Sub(far, on)), r3.Norm(r3.Sub(foot, on)), r3.Norm(r3.Sub(far, foot))
	return math.Acos((a*a+b*b-o*o)/(2*a*b)) / deg
}

// TestNoValue: measures that have no value say so by NaN, and only then.
func TestNoValue(t *testing.T) {
	l := kintest.EqualArms().Builder().L
	c := newCorner(t, &l)
	for _, name := range []string{"front_view_swing_arm", "side_view_swing_arm", "ackermann", "turn_radius"} {
		if v := c.get(0, 0, name); !math.IsNaN(v) {
			t.Errorf("%s of parallel arms, straight ahead and without a wheelbase, is %g", name, v)
		}
	}
	near(t, "roll centre of level parallel arms", c.get(0, 0, "roll_centre_height"), 0, 1e-9)
	for _, name := range []string{"ackermann", "turn_radius"} {
		if _, err := c.prog.Column(name); err == nil || !strings.Contains(err.Error(), "needs the wheelbase") {
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
}

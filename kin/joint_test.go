package kin_test

import (
	"math"
	"slices"
	"testing"

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
func angleOfLines(a, b r3.Vec) float64 {
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
	if b.RodEnd || b.InLine {
		near, _ := c.end(m, side, 0, m.Bodies[0])
		far, _ := c.end(m, side, 1, m.Bodies[1])
		line = r3.Sub(far, near)
	} else {
		line = c.carriedLine(b.BoltBody, side, seen(b.Bolt, side))
	}
	want[name+".tilt"] = angleOfLines(axis, line)
	if b.RodEnd {
		want[name+".tilt"] = math.Abs(90 - angleOfLines(axis, line))
	}
	line = r3.Unit(line)
	for k, e := range []r3.Vec{{X: 1}, {Y: 1}, {Z: 1}} {
		// The cosine of an angle, by the triangle that the two lines make.
		d := r3.Norm(r3.Sub(line, c.carriedLine(body, side, seen(e, side))))
		want[name+".axis_"+string(rune('x'+k))] = 1 - d*d/2
	}
}

// TestTiltOfFourBar: on a four-bar a joint's tilt is a difference of two of its angles. The bar is Example 4-1 of R. L.
// Norton, Design of Machinery (its lengths; from memory: crank 40 deg, coupler 20.30, rocker 57.33), whose angles at other
// cranks come from the closed form.
func TestTiltOfFourBar(t *testing.T) {
	bar := kintest.FourBar{Ground: 100, Crank: 40, Coupler: 120, Rocker: 80}
	const from = 40 * deg
	coupler0, rocker0, _ := bar.Close(from)
	near(t, "coupler at 40 deg, Norton", coupler0/deg, 20.30, 0.005)
	near(t, "rocker at 40 deg, Norton", rocker0/deg, 57.33, 0.01)
	b := kintest.With(bar.Corner(from, 60, 30))
	up := r3.Vec{Z: 1}
	b.Spherical("ball_a", "a", kin.Upright, "crank", up, up)
	b.Spherical("ball_b", "b", "rocker", kin.Upright, up, r3.Vec{})
	b.RodEnd("end_a", "a", "b", "crank", "rocker", up)
	b.RodEnd("end_b", "b", "a", "rocker", "crank", r3.Vec{})
	b.InLine("line_a", "a", "b", "crank", "rocker", up)
	c := newCorner(t, &b.L)
	turned := func(k float64) r3.Vec { return r3.Vec{Y: -math.Sin(k * deg), Z: math.Cos(k * deg)} }
	c.s.SetAxis(slices.IndexFunc(b.L.Members, func(m kin.Member) bool { return m.Name == "ball_b" }), turned(5))
	c.s.SetAxis(slices.IndexFunc(b.L.Members, func(m kin.Member) bool { return m.Name == "end_b" }), turned(-30))
	line := func(a float64) float64 { return math.Abs(wrap(2*a/deg)) / 2 } // of two lines without sense
	for _, z := range []float64{-12, -5, 0, 3, 9} {
		got := c.one(z, 0, "crank.angle", "ball_a.tilt", "ball_b.tilt", "end_a.tilt", "end_b.tilt", "line_a.tilt")
		crank := from + got[0]*deg
		coupler, rocker, ok := bar.Close(crank)
		if !ok {
			t.Fatalf("it does not close at %g", z)
		}
		near(t, "ball_a", got[1], line((coupler-coupler0)-(crank-from)), 1e-9)
		near(t, "ball_b", got[2], line((coupler-coupler0)-(rocker-rocker0)-5*deg), 1e-9)
		near(t, "end_a", got[3], math.Abs(90-line(90*deg+(crank-from)-coupler)), 1e-9)
		near(t, "end_b", got[4], math.Abs(90-line(60*deg+(rocker-rocker0)-coupler)), 1e-9)
		near(t, "line_a", got[5], line(90*deg+(crank-from)-coupler), 1e-9)
	}
}

// TestTiltNearNothing: an angle that is next to nothing keeps its digits, which an arc cosine would lose, and has no slope.
func TestTiltNearNothing(t *testing.T) {
	b := kintest.With(kintest.Pushrod())
	b.Spherical("a", "lower_ball", kin.Upright, "lower_arm", r3.Vec{Z: 1}, r3.Vec{Z: 1})
	b.Spherical("b", "lower_ball", kin.Upright, "lower_arm", r3.Vec{Z: 1}, r3.Vec{X: 1e-9, Z: -1})
	points := b.L.Points
	at := func(name string) *r3.Vec {
		return &points[slices.IndexFunc(points, func(p kin.Point) bool { return p.Name == name })].At
	}
	rackEnd := slices.IndexFunc(points, func(p kin.Point) bool { return p.Name == "rack_end" })
	*at("steering_arm") = r3.Add(*at("rack_end"), r3.Vec{Y: 400})
	b.InLine("c", "rack_end", "steering_arm", kin.Rack, kin.Upright, r3.Vec{Y: 1})
	b.InLine("d", "rack_end", "steering_arm", kin.Rack, kin.Upright, r3.Vec{Y: -1, Z: 1e-9})
	c := newCorner(t, &b.L)
	got := c.one(0, 0, "a.tilt", "b.tilt", "c.tilt", "d.tilt")
	for i := 0; i < 4; i += 2 {
		near(t, "one line", got[i], 0, 1e-13)
		near(t, "1e-9 rad", got[i+1]/(1e-9/deg), 1, 1e-7)
	}
	sw := c.prog.NewSweep(kin.NewMotion("design", kin.BothWheels, false, []kin.Position{{}}), c.columns("a.tilt", "c.tilt"))
	d := kin.Slopes{Directions: make([]kin.Direction, 2), At: []float64{math.NaN(), math.NaN(), math.NaN(), math.NaN()}}
	c.prog.Move(&d.Directions[0], 0, r3.Vec{X: 1})
	c.prog.Move(&d.Directions[1], rackEnd, r3.Vec{Z: 1})
	if _, f := c.s.RunSlopes(sw, make([]float64, 2), &d); f.Status != kin.OK || slices.ContainsFunc(d.At, func(v float64) bool { return !(math.Abs(v) <= 1e-9) }) {
		t.Errorf("slope of no tilt: %v", d.At)
	}
}

// TestAxisToBeFound: without an axis there is no tilt, and with one it stays through other designs until another is set.
func TestAxisToBeFound(t *testing.T) {
	l := kintest.JointedPushrod()
	c := newCorner(t, l)
	i := slices.IndexFunc(l.Members, func(m kin.Member) bool { return m.Name == "lower_joint" })
	if !c.prog.Finds(i) || c.prog.Finds(i+1) || c.prog.Finds(0) {
		t.Error("another joint's axis is to be found")
	}
	s := c.prog.NewState()
	sw := c.prog.NewSweep(kin.NewMotion("one", kin.BothWheels, false, []kin.Position{{Wheel: 20}}), c.columns("lower_joint.tilt", "right.lower_joint.tilt"))
	tilt := func() float64 {
		t.Helper()
		s.SetDesign(c.prog.Points())
		out := make([]float64, 2)
		if _, f := s.Run(sw, out); f.Status != kin.OK {
			t.Fatal(c.prog.Describe(f))
		}
		if math.IsNaN(out[0]) != math.IsNaN(out[1]) || math.Abs(out[0]-out[1]) > 1e-9 {
			t.Errorf("left %g and right %g", out[0], out[1])
		}
		return out[0]
	}
	if v := tilt(); !math.IsNaN(v) {
		t.Errorf("without an axis the tilt is %g", v)
	}
	s.SetAxis(i, r3.Vec{Z: 2})
	first := tilt()
	if again := tilt(); math.IsNaN(first) || again != first {
		t.Errorf("the tilt is %g and then %g", first, again)
	}
	s.SetAxis(i, r3.Vec{Z: -7})
	if v := tilt(); math.Abs(v-first) > 1e-12 {
		t.Errorf("the axis has a sense: %g and %g", first, v)
	}
	s.SetAxis(i, r3.Vec{X: 1, Z: 1})
	if v := tilt(); math.Abs(v-first) < 1 {
		t.Errorf("another axis leaves %g at %g", first, v)
	}
}

// TestJointsRefused: what is no joint is said in a sentence.
func TestJointsRefused(t *testing.T) {
	up := r3.Vec{Z: 1}
	for want, add := range map[string]func(b *kintest.Builder){
		"joint a has its housing and its bolt on one body, left.upright, and cannot tilt": func(b *kintest.Builder) { b.Spherical("a", "lower_ball", kin.Upright, kin.Upright, up, up) },
		"joint a does not say where its bolt points":                                      func(b *kintest.Builder) { b.Spherical("a", "lower_ball", kin.Upright, "lower_arm", r3.Vec{}, up) },
		"joint a is on left.pushrod, which is no body of this geometry":                   func(b *kintest.Builder) { b.Spherical("a", "pushrod_foot", "pushrod", "lower_arm", up, up) },
		"joint a is on left.nobody, which is no body of this geometry":                    func(b *kintest.Builder) { b.Spherical("a", "lower_ball", kin.Upright, "nobody", up, up) },
		"joint a is on left.none, which is no body of this geometry":                      func(b *kintest.Builder) { b.RodEnd("a", "rack_end", "steering_arm", kin.Rack, "none", up) },
		"joint a is on left.no_one, which is no body of this geometry":                    func(b *kintest.Builder) { b.InLine("a", "rack_end", "steering_arm", "no_one", kin.Upright, up) },
		"joint a does not say what bearing it is": func(b *kintest.Builder) {
			b.Member("a", kin.Joint, []string{"lower_ball"}, []string{kin.Upright})
		},
	} {
		b := kintest.With(kintest.Pushrod())
		add(b)
		if _, err := kin.Compile(&b.L); err == nil || err.Error() != want {
			t.Errorf("%v\nand not: %s", err, want)
		}
	}
}

// TestShaftOnAxleRight: the inner joint of a drive shaft on an axle's right side turns about the mirror image of the left's
// axis, on the frame as on any other body.
func TestShaftOnAxleRight(t *testing.T) {
	for _, body := range []string{kin.Frame, kin.Axle} {
		b := kintest.With(kintest.SteeredAxle())
		b.Point("joint_in", 30, 90, 410).Point("joint_out", 10, 600, 395)
		b.Member("shaft", kin.Shaft, []string{"joint_in", "joint_out"}, []string{body, kin.Upright})
		b.L.Members[len(b.L.Members)-1].Axis = r3.Vec{X: 0.2, Y: 1, Z: 0.1}
		c := newCorner(t, &b.L)
		if got := c.one(0, 0, "left.shaft.joint_angle_inner", "right.shaft.joint_angle_inner"); math.Abs(got[0]-got[1]) > 1e-9 || got[0] < 1 {
			t.Errorf("on the %s: left %g deg, right %g", body, got[0], got[1])
		}
	}
}

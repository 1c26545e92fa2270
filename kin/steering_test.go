package kin_test

import (
	"math"
	"strings"
	"testing"

	"trammel/kin"
	"trammel/kin/kintest"

	"gonum.org/v1/gonum/spatial/r3"
	"pgregory.net/rapid"
)

// linked returns Pushrod's wishbones and tie rod with one or both arms drawn as two links whose outer ends are two
// points at one place, so that no joint shows; the wheel and the steering axis are the same. A damper stands on the
// lower arm, or where there is none on the upright at the lower ball, which the arm's angle holds as well.
func linked(lower, upper bool) *kintest.Builder {
	b := &kintest.Builder{}
	l := kintest.Pushrod()
	for _, p := range l.Points {
		b.Point(p.Name, p.At.X, p.At.Y, p.At.Z)
	}
	for _, arm := range []struct {
		name  string
		links bool
	}{{"lower", lower}, {"upper", upper}} {
		ball := at(l, arm.name+"_ball")
		if !arm.links {
			b.Arm(arm.name+"_arm", arm.name+"_front", arm.name+"_rear", arm.name+"_ball")
			continue
		}
		b.Point(arm.name+"_again", ball.X, ball.Y, ball.Z)
		b.Link(arm.name+"_link1", arm.name+"_front", arm.name+"_ball", kin.Frame, kin.Upright)
		b.Link(arm.name+"_link2", arm.name+"_rear", arm.name+"_again", kin.Frame, kin.Upright)
	}
	b.Link("tie_rod", "rack_end", "steering_arm", kin.Rack, kin.Upright)
	b.Point("damper_top", -10, 400, 520)
	if lower {
		b.Member("damper", kin.Damper, []string{"lower_ball", "damper_top"}, []string{kin.Upright, kin.Frame})
	} else {
		b.Member("damper", kin.Damper, []string{"pushrod_foot", "damper_top"}, []string{"lower_arm", kin.Frame})
	}
	b.Wheel("wheel_centre", -1.2, 0.08, 246)
	b.L.Vehicle.Wheelbase = 2350
	return b
}

// TestInstantAxisIsTheBallLine: the axis about which the upright turns as the rack moves and the damper on the arm keeps
// its length is the line through the two balls, wherever the wheel is.
func TestInstantAxisIsTheBallLine(t *testing.T) {
	names := []string{"caster", "kingpin_inclination", "caster_trail", "kingpin_offset", "hub_trail", "hub_offset", "caster_gain", "ackermann", "turn_radius"}
	plain := newCorner(t, &linked(false, false).L)
	held := linked(false, true).L
	held.Hold = "lower_arm"
	for _, other := range []*kin.Linkage{&linked(false, true).L, &linked(true, true).L, &held} {
		c := newCorner(t, other)
		for _, m := range motions() {
			names := names
			switch m.wheels {
			case kin.RightWheel:
				continue
			case kin.LeftWheel:
				names = names[:7] // the other two look at both wheels
			}
			a, b := plain.tableOf(m.wheels, m.rolls, m.at, plain.columns(names...)), c.tableOf(m.wheels, m.rolls, m.at, c.columns(names...))
			for k, name := range names {
				for i := range m.at {
					if math.IsNaN(a[k][i]) && math.IsNaN(b[k][i]) {
						continue
					}
					near(t, name, b[k][i], a[k][i], 1e-7*math.Max(1, math.Abs(a[k][i])))
				}
			}
		}
	}
}

// TestArmsAreTwoLinks: the rows of an arm, a plane and a circle, hold the upright as the two distances do that are the
// same set.
func TestArmsAreTwoLinks(t *testing.T) {
	names := []string{"camber", "toe", "contact_x", "contact_y", "contact_z", "camber_gain", "bump_steer", "contact_path_x", "contact_path_y", "roll_centre_height"}
	plain := newCorner(t, &linked(false, false).L)
	for _, other := range []*kin.Linkage{&linked(false, true).L, &linked(true, true).L} {
		c := newCorner(t, other)
		at := grid(7, 5, 42, 20)
		a, b := plain.run(at, names...), c.run(at, names...)
		for k, name := range names {
			for i := range at {
				near(t, name, b[k][i], a[k][i], 1e-9*math.Max(1, math.Abs(a[k][i])))
			}
		}
	}
}

// TestInstantAxis takes the virtual steering axis of five links from places alone: the rack moves a little either way,
// the wheel rises or falls so that the damper keeps its length, and the axis is where the carrier's points do not move
// but along it.
func TestInstantAxis(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := newCorner(t, drawCorner(t, layoutOf(t, "five links"), 8))
		p := drawPosition(t)
		names := []string{"caster", "kingpin_inclination", "caster_trail", "kingpin_offset", "hub_trail", "hub_offset"}
		got := c.one(p.Wheel, p.Rack, names...)
		length := c.get(p.Wheel, p.Rack, "damper.length")
		s := c.look(kin.Left, 0)
		home := c.pose(kin.Left)
		// steered returns the carrier with the rack at h from here and the damper as long as here.
		steered := func(h float64) pose {
			a, b := p.Wheel, p.Wheel+0.05
			fa := c.get(a, p.Rack+h, "damper.length") - length
			for range 12 {
				fb := c.get(b, p.Rack+h, "damper.length") - length
				if math.Abs(fb) < 1e-12 || fa == fb {
					break
				}
				a, b, fa = b, b-fb*(b-a)/(fb-fa), fb
			}
			c.get(b, p.Rack+h, "wheel_travel")
			return c.pose(kin.Left)
		}
		var poses [6]pose
		for i, h := range []float64{2, -2, 1, -1, 0.5, -0.5} {
			poses[i] = steered(h)
		}
		velocity := func(q r3.Vec) r3.Vec {
			design := home.back(q)
			part := func(of func(r3.Vec) float64) float64 {
				i := -1
				v, _ := kintest.Slope(func(float64) float64 { i++; return of(poses[i].carried(design)) }, 0, 2)
				return v
			}
			return r3.Vec{X: part(func(v r3.Vec) float64 { return v.X }), Y: part(func(v r3.Vec) float64 { return v.Y }), Z: part(func(v r3.Vec) float64 { return v.Z })}
		}
		// The angular velocity, from three points square to each other 100 mm apart: v(q + e) − v(q) = w × e.
		v := velocity(s.centre)
		var d [3]r3.Vec
		for i, e := range []r3.Vec{{X: 100}, {Y: 100}, {Z: 100}} {
			d[i] = r3.Scale(0.01, r3.Sub(velocity(r3.Add(s.centre, e)), v))
		}
		w := r3.Scale(0.5, r3.Vec{X: d[1].Z - d[2].Y, Y: d[2].X - d[0].Z, Z: d[0].Y - d[1].X})
		low := r3.Add(s.centre, r3.Scale(1/r3.Norm2(w), r3.Cross(w, v)))
		cut := func(q r3.Vec) r3.Vec { return r3.Add(low, r3.Scale((q.Z-low.Z)/w.Z, w)) }
		outward := r3.Cross(r3.Vec{Z: 1}, s.level)
		ground, hub := cut(s.contact), cut(s.centre)
		for i, want := range []float64{
			-math.Atan(w.X/w.Z) / deg, -math.Atan(w.Y/w.Z) / deg,
			r3.Dot(r3.Sub(ground, s.contact), s.level), r3.Dot(r3.Sub(s.contact, ground), outward),
			r3.Dot(r3.Sub(hub, s.centre), s.level), r3.Dot(r3.Sub(s.centre, hub), outward),
		} {
			near(t, names[i], got[i], want, 2e-5)
		}
		// The tie rod works on the upright about that axis.
		c.one(p.Wheel, p.Rack, "wheel_travel")
		tie := c.member("link5")
		far, _ := c.end(tie, kin.Left, 0, kin.Rack)
		on, _ := c.end(tie, kin.Left, 1, kin.Upright)
		foot := nearest(low, r3.Add(low, w), on)
		flat := r3.Sub(far, r3.Scale(r3.Dot(w, r3.Sub(far, on))/r3.Norm2(w), w))
		lever := c.one(p.Wheel, p.Rack, "link5.lever_angle", "link5.dead_centre")
		near(t, "lever angle", lever[0], cornerAt(on, far, foot), 2e-5)
		near(t, "dead centre", lever[1], 90-math.Abs(cornerAt(on, flat, foot)-90), 2e-5)
	})
}

func layoutOf(t tester, name string) *kin.Linkage {
	t.Helper()
	for _, l := range everyLayout() {
		if l.Name == name {
			return l.Link
		}
	}
	t.Fatalf("no layout %s", name)
	return nil
}

// TestHArm: two wishbones on one axis whose two balls lie in one plane with it hold one freedom twice and are refused at
// design; the H-arm that they are meant to be holds the upright, whatever the plane.
func TestHArm(t *testing.T) {
	for _, coplanar := range []bool{true, false} {
		l := kintest.HArm()
		if coplanar {
			p, q, a := at(l, "lower_front"), at(l, "lower_rear"), at(l, "ball_front")
			n := r3.Cross(r3.Sub(q, p), r3.Sub(a, p))
			b := at(l, "ball_rear")
			b.Z = p.Z - (n.X*(b.X-p.X)+n.Y*(b.Y-p.Y))/n.Z
			place(l, "ball_rear", b)
		}
		c := newCorner(t, l)
		for _, p := range spots() {
			p.at.Rack = 0
			c.stand(p)
			for _, side := range []kin.Side{kin.Left, kin.Right} {
				c.holds(c.member("h_arm"), side)
				c.holds(c.member("upper_link"), side)
			}
		}
		if !coplanar {
			continue
		}
		two := *l
		two.Members = nil
		for _, m := range l.Members {
			switch m.Kind {
			case kin.HArm:
				for k, name := range []string{"front_arm", "rear_arm"} {
					two.Members = append(two.Members, kin.Member{Name: name, Kind: kin.Arm, Points: []int{m.Points[0], m.Points[1], m.Points[2+k]}, Bodies: m.Bodies})
				}
			case kin.Link:
				two.Members = append(two.Members, m)
			}
		}
		prog, err := kin.Compile(&two)
		if err != nil {
			t.Fatal(err)
		}
		f := prog.NewState().SetDesign(prog.Points())
		if says := "the members hold the upright in a singular way: at design some of them work against the same freedom"; f.Status != kin.BadGeometry || prog.Describe(f) != says {
			t.Errorf("two wishbones for an H-arm: status %d: %s", f.Status, prog.Describe(f))
		}
	}
}

// TestLongerTieRod: a tie rod that is built 0.5 mm too long turns the upright about an upright steering axis until its arm
// is where the rod reaches: the triangle of axis, rack end and steering arm in plan, by the law of cosines. Toe changes
// by about 0.5 over the arm's lever.
func TestLongerTieRod(t *testing.T) {
	l := steering(r3.Vec{Y: 660, Z: 150}, r3.Vec{Y: 660, Z: 450}, r3.Vec{Y: 720, Z: 300}, 300)
	c := newCorner(t, l)
	rack, arm, axis := at(l, "rack_end"), at(l, "steering_arm"), r3.Vec{Y: 660}
	flat := func(a, b r3.Vec) float64 { return math.Hypot(a.X-b.X, a.Y-b.Y) }
	rise := arm.Z - rack.Z
	rod := r3.Norm(r3.Sub(arm, rack))
	angle := func(length float64) float64 { // at the axis, between rack end and steering arm
		a, b, o := flat(axis, rack), flat(axis, arm), math.Sqrt(length*length-rise*rise)
		return math.Acos((a*a + b*b - o*o) / (2 * a * b))
	}
	before := c.get(0, 0, "toe")
	dir := kin.Direction{}
	errors := make([]r3.Vec, len(c.prog.PartPoints()))
	out := r3.Unit(r3.Sub(arm, rack))
	for i, p := range c.prog.PartPoints() {
		if p.Owner == "tie_rod" && p.Side == kin.Left && l.Points[p.Point].Name == "steering_arm" {
			errors[i] = r3.Scale(0.5, out)
			dir = kin.Direction{Parts: []int{i}, By: []r3.Vec{out}}
		}
	}
	sw := c.prog.NewSweep(kin.NewMotion("design", kin.BothWheels, false, []kin.Position{{}}), c.columns("toe", "right.toe", "wheel_travel"))
	v, d := make([]float64, 3), kin.Slopes{Directions: []kin.Direction{dir}, At: make([]float64, 3)}
	if _, f := c.s.RunSlopes(sw, v, &d); f.Status != kin.OK {
		t.Fatal(c.prog.Describe(f))
	}
	if f := c.s.SetBuild(errors); f.Status != kin.OK {
		t.Fatal(c.prog.Describe(f))
	}
	got := c.one(0, 0, "toe", "right.toe", "wheel_travel")
	// The arm lies ahead of the axis: a longer rod pushes its front outward.
	near(t, "toe", got[0]-before, -(angle(rod+0.5)-angle(rod))/deg, 1e-9)
	near(t, "the other wheel's toe", got[1], before, 1e-9)
	near(t, "wheel travel", got[2], 0, 1e-12)
	// The lever with which the rod turns the upright about its axis; its own rise takes a small share.
	lever := math.Abs(out.X*(axis.Y-arm.Y) - out.Y*(axis.X-arm.X))
	near(t, "slope", d.At[0], -1/lever/deg, 1e-9)
	near(t, "about half a millimetre over the lever", got[0]-before, -0.5/lever/deg, 2e-3*0.5/lever/deg)
}

// TestAxisOfOneSide: where only one side's links meet in two points and nothing steers, the axis of the other is refused
// rather than looked for.
func TestAxisOfOneSide(t *testing.T) {
	l := kintest.Pushrod()
	l.Points = append(l.Points, kin.Point{Name: "apart", At: r3.Add(at(l, "upper_ball"), r3.Vec{X: 30})})
	apart := len(l.Points) - 1
	link := func(name string, side kin.Side, from, to int) kin.Member {
		return kin.Member{Name: name, Kind: kin.Link, Across: true, Points: []int{from, to}, Sides: []kin.Side{side, side}, Bodies: []string{kin.Frame, side.String() + ".upright"}}
	}
	var members []kin.Member
	for _, m := range l.Members {
		switch m.Name {
		case "upper_arm":
			front, rear, ball := m.Points[0], m.Points[1], m.Points[2]
			members = append(members, link("left_front", kin.Left, front, ball), link("left_rear", kin.Left, rear, ball),
				link("right_front", kin.Right, front, apart), link("right_rear", kin.Right, rear, ball))
		case "tie_rod":
			m.Bodies = []string{kin.Frame, kin.Upright}
			members = append(members, m)
		default:
			members = append(members, m)
		}
	}
	l.Members = members
	c := newCorner(t, l)
	for _, name := range []string{"caster", "right.caster", "caster_trail", "right.caster_gain", "ackermann"} {
		if _, err := c.prog.Column(name); err == nil || !strings.Contains(err.Error(), "needs a steering axis on both sides: two ball joints") {
			t.Errorf("%s: %v", name, err)
		}
	}
	c.values(c.prog.NewSweep(kin.NewMotion("any", kin.BothWheels, false, kintest.Line(3, 20, 0)), c.bothSides()))
}

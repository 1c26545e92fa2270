package kin_test

import (
	"errors"
	"math"
	"slices"
	"testing"

	"trammel/kin"
	"trammel/kin/kintest"

	"gonum.org/v1/gonum/spatial/r3"
)

// space gives the last member room.
func space(s kin.Space) edit {
	return func(l *kin.Linkage) { l.Members[len(l.Members)-1].Space = &s }
}

// against adds a pair of the last member and what is taken.
func against(taken ...kin.Taken) edit {
	return func(l *kin.Linkage) {
		one := []kin.Taken{{Member: len(l.Members) - 1}}
		l.Members = append(l.Members, kin.Member{Name: "pair", Kind: kin.Pair, Between: [2][]kin.Taken{one, taken}})
	}
}

// TestSolidsRefused: solids that do not stand on anything or have not the points of their shape, and pairs that name what
// is no solid, are refused with a sentence about themselves.
func TestSolidsRefused(t *testing.T) {
	solid := func(points []int, bodies ...string) edit { return more("room", kin.Solid, points, bodies...) }
	for _, tc := range []struct {
		change []edit
		says   string
	}{
		{[]edit{solid([]int{0, 1}, kin.Frame, "gearbox"), space(kin.Space{Shape: kin.Tube, Radius: 9})}, "solid room is on left.gearbox, which is no body of this geometry"},
		{[]edit{solid(nil), space(kin.Space{Shape: kin.Tube, Radius: 9})}, "solid room has 0 points; a tube takes the points along it, at least one"},
		{[]edit{solid([]int{0, 1, 2}, kin.Frame, kin.Frame, kin.Frame), space(kin.Space{Shape: kin.Slider, Radius: 9})}, "solid room has 3 points; a damper takes its two ends"},
		{[]edit{solid([]int{0}, kin.Frame), space(kin.Space{Shape: kin.Block})}, "solid room has 1 point; a box takes two opposite corners"},
		{[]edit{solid([]int{0, 1}, kin.Frame, kin.Upright), space(kin.Space{Shape: kin.Block})}, "solid room has its corners on two bodies; a box is on one"},
		{[]edit{solid([]int{0}, kin.Frame), space(kin.Space{Shape: kin.Drum, Radius: 9})}, "solid room has 1 point; a cylinder takes the middles of its two flat ends"},
		{[]edit{solid([]int{0, 1}, kin.Frame), space(kin.Space{Shape: kin.Drum, Radius: 9})}, "solid room has 2 points on 1 body; name the body of each"},
		{[]edit{solid([]int{0}, kin.Upright), space(kin.Space{Shape: kin.Hoop, Radius: 9})}, "solid room has 1 point; a ring about the wheel's axis takes none"},
		{[]edit{solid(nil), space(kin.Space{Shape: kin.Hoop, Radius: 9}), func(l *kin.Linkage) { l.Members[len(l.Members)-1].Across = true }},
			"solid room is about a wheel's axis and exists once; let it exist on both sides, as wheels do"},
		{[]edit{solid([]int{0}, kin.Frame), space(kin.Space{Shape: kin.Ground})}, "solid room has 1 point; the ground takes none"},
		{[]edit{solid([]int{0}, kin.Frame), space(kin.Space{})}, "solid room has no shape; say what room it takes"},
		{[]edit{solid([]int{0}, kin.Frame)}, "solid room has no shape; say what room it takes"},
		{[]edit{solid([]int{0}, kin.Frame), space(kin.Space{Shape: kin.Tube}), against(kin.Taken{Member: 2})}, "clearance pair names tie_rod, which is no solid; name solids that are to be clear of each other"},
		{[]edit{solid([]int{0}, kin.Frame), space(kin.Space{Shape: kin.Tube}), against(kin.Taken{Member: 99})}, "clearance pair names a solid that is not there"},
		{[]edit{solid([]int{0}, kin.Frame), space(kin.Space{Shape: kin.Tube}), against(kin.Taken{Member: -1})}, "clearance pair names a solid that is not there"},
		{[]edit{solid([]int{0}, kin.Frame), space(kin.Space{Shape: kin.Tube}), against()}, "clearance pair has no solid on one of its two sides; name at least one on each"},
		{[]edit{solid([]int{0}, kin.Frame), space(kin.Space{Shape: kin.Tube}), against(), func(l *kin.Linkage) {
			pair := &l.Members[len(l.Members)-1]
			pair.Between[1] = pair.Between[0]
		}}, "clearance pair has room on both of its sides; nothing is clear of itself"},
		{[]edit{solid([]int{0}, kin.Frame), space(kin.Space{Shape: kin.Tube}), against(), func(l *kin.Linkage) {
			l.Members[len(l.Members)-1].Across = true
		}}, "clearance pair exists once and room on both sides; say which: left.room or right.room"},
		{[]edit{solid(nil), space(kin.Space{Shape: kin.Ground}), more("floor", kin.Solid, nil), space(kin.Space{Shape: kin.Ground}), against(), func(l *kin.Linkage) {
			l.Members[len(l.Members)-1].Between[1] = []kin.Taken{{Member: len(l.Members) - 3}}
		}}, "clearance pair has the ground on both of its sides, as floor and as room; there is one ground, so take one out"},
	} {
		l := layout(t, "pushrod on lower arm")
		for _, e := range tc.change {
			e(l)
		}
		_, err := kin.Compile(l)
		if err == nil || err.Error() != tc.says {
			t.Errorf("got  %v\nwant %s", err, tc.says)
			continue
		}
		var f *kin.Fault
		if !errors.As(err, &f) || f.Member != len(l.Members)-1 {
			t.Errorf("%v is not about the last member", err)
		}
	}
}

// TestSolidsWithoutSize: what a candidate's points leave of a solid may be a point, a line or a plate, and has a gap like
// any other; a cylinder without a length has no axis and is refused.
func TestSolidsWithoutSize(t *testing.T) {
	for _, tc := range []struct{ point, onto, pair string }{
		{"hub_in", "hub_out", ""},
		{"rocker_front", "rocker_rear", ""},
		{"rack_left", "rack_right", "rods_to_tub"},
		{"footwell_low", "footwell_high", "rods_to_tub"},
		{"caliper_low", "caliper_high", "caliper_to_arm"},
		{"brace_low", "brace_bend", "damper_to_brace"},
		{"brace_high", "brace_bend", "damper_to_brace"},
	} {
		c := newCorner(t, kintest.Roomy())
		points := c.prog.Points()
		to := -1
		for i, p := range c.link.Points {
			if p.Name == tc.onto {
				to = i
			}
		}
		for i, p := range c.link.Points {
			if p.Name == tc.point {
				points[i] = points[to]
			}
		}
		f := c.s.SetDesign(points)
		if tc.pair == "" {
			if f.Status != kin.BadGeometry || f.Member < 0 {
				t.Errorf("%s on %s: status %d: %s", tc.point, tc.onto, f.Status, c.prog.Describe(f))
			}
			continue
		}
		if f.Status != kin.OK {
			t.Fatalf("%s on %s: %s", tc.point, tc.onto, c.prog.Describe(f))
		}
		for _, m := range motions() {
			sw := c.prog.NewSweep(kin.NewMotion("any", m.wheels, m.rolls, m.at), c.columns(tc.pair+".clearance"))
			d := kin.Slopes{Directions: make([]kin.Direction, 1), At: make([]float64, sw.Size())}
			c.prog.Move(&d.Directions[0], to, r3.Vec{X: 1, Y: 0.4, Z: -0.3})
			out := make([]float64, sw.Size())
			if _, f := c.s.RunSlopes(sw, out, &d); f.Status != kin.OK {
				t.Fatalf("%s on %s: %s", tc.point, tc.onto, c.prog.Describe(f))
			}
			for i := range out {
				if v := out[i] + d.At[i]; v-v != 0 || math.Abs(out[i]) > 1000 {
					t.Errorf("%s on %s: value %d is %g with a slope of %g", tc.point, tc.onto, i, out[i], d.At[i])
				}
			}
		}
	}
	c := newCorner(t, kintest.Roomy())
	points := c.prog.Points()
	for i, p := range c.link.Points {
		if p.Name == "hub_in" {
			points[i] = at(c.link, "hub_out")
		}
	}
	const says = "disc is a cylinder whose ends are at one place, so that it has no axis, or one of them is nowhere; move them apart"
	if f := c.s.SetDesign(points); c.prog.Describe(f) != says {
		t.Errorf("got  %s\nwant %s", c.prog.Describe(f), says)
	}
}

// level is a wheel on an arm about a lateral axis, upright at design, so that its contact goes straight up and down.
func level() *kintest.Builder {
	b := &kintest.Builder{}
	b.Point("inner", 400, 200, 240).Point("outer", 400, 560, 240).Point("wheel_centre", 0, 700, 280)
	b.Member("arm", kin.Hinge, []string{"inner", "outer"}, []string{kin.Frame, kin.Upright})
	return b.Wheel("wheel_centre", 0, 0, 275)
}

// TestGroundBelowTheBody: how high a ball of the body is above the ground: less by the travel when both wheels travel; when one
// does, over the line through both contacts; in roll over a ground that turns about the middle of the design ground.
func TestGroundBelowTheBody(t *testing.T) {
	const y, z, r, track, ground = 310., 130., 12., 1400., 5.
	b := level().Point("sill", -90, y, z)
	b.Solid("sill", kin.Space{Shape: kin.Tube, Radius: r}, []string{"sill"}, kin.Frame)
	b.Solid("road", kin.Space{Shape: kin.Ground}, nil).Once()
	c := newCorner(t, &b.Clear("belly", 0, []string{"sill"}, []string{"road"}).L)
	cols := c.columns("belly.clearance", "right.belly.clearance")
	for _, w := range []float64{-50, -7, 0, 21, 48} {
		for k, v := range c.tableOf(kin.BothWheels, false, []kin.Position{{Wheel: w}}, cols) {
			near(t, cols[k].Name+" in heave", v[0], z-r-ground-w, 1e-9)
		}
		lean := math.Atan(w / track)
		for k, wheels := range []kin.Wheels{kin.LeftWheel, kin.RightWheel} {
			v := c.tableOf(wheels, false, []kin.Position{{Wheel: w}}, cols)
			near(t, "under the wheel that travels", v[k][0], (z-ground-w*(track/2+y)/track)*math.Cos(lean)-r, 1e-9)
			near(t, "under the other", v[1-k][0], (z-ground-w*(track/2-y)/track)*math.Cos(lean)-r, 1e-9)
		}
		// The body leans right: its right side comes down.
		roll := w / 20 * deg
		v := c.tableOf(kin.BothWheels, true, []kin.Position{{Wheel: 4, Roll: roll}}, cols)
		for k, out := range []float64{y, -y} {
			near(t, cols[k].Name+" in roll", v[k][0], (z-ground-4)*math.Cos(roll)+out*math.Sin(roll)-r, 1e-9)
		}
	}
}

// TestShortTube: of a tube that is shorter than what is left out where it meets another, its far end counts, and the gap
// follows that end and not the joint.
func TestShortTube(t *testing.T) {
	joint, tip, far := r3.Vec{X: -40, Y: 300, Z: 200}, r3.Vec{X: -40, Y: 330, Z: 220}, r3.Vec{X: 260, Y: 300, Z: 200}
	b := level()
	for name, q := range map[string]r3.Vec{"joint": joint, "tip": tip, "far": far} {
		b.Point(name, q.X, q.Y, q.Z)
	}
	b.Solid("stub", kin.Space{Shape: kin.Tube, Radius: 5}, []string{"joint", "tip"}, kin.Frame)
	b.Solid("buts", kin.Space{Shape: kin.Tube, Radius: 5}, []string{"tip", "joint"}, kin.Frame)
	b.Solid("bar", kin.Space{Shape: kin.Tube, Radius: 8}, []string{"joint", "far"}, kin.Frame)
	b.Clear("one", 60, []string{"stub"}, []string{"bar"}).Clear("other", 60, []string{"buts"}, []string{"bar"})
	c := newCorner(t, &b.L)
	sw := c.prog.NewSweep(kin.NewPlaces("design", kin.BothWheels, false, []kin.Position{{}}), c.columns("one.clearance", "other.clearance"))
	var d kin.Slopes
	for i := range c.link.Points {
		for k := range 3 {
			var dir kin.Direction
			c.prog.Move(&dir, i, [3]r3.Vec{{X: 1}, {Y: 1}, {Z: 1}}[k])
			d.Directions = append(d.Directions, dir)
		}
	}
	d.At = make([]float64, 2*len(d.Directions))
	out := make([]float64, 2)
	c.s.RunSlopes(sw, out, &d)
	begins := r3.Vec{X: joint.X + 60, Y: joint.Y, Z: joint.Z}
	away := r3.Sub(tip, begins)
	for i, v := range out {
		near(t, "gap", v, r3.Norm(away)-13, 1e-9)
		for k, p := range c.link.Points {
			g := d.At[i*len(d.Directions)+3*k:]
			want := r3.Vec{} // the bar begins where joint and far put it: along x with the joint, across by its part of the length
			n := r3.Unit(away)
			switch p.Name {
			case "tip":
				want = n
			case "joint":
				want = r3.Vec{X: -n.X, Y: -n.Y * 240 / 300, Z: -n.Z * 240 / 300}
			case "far":
				want = r3.Vec{Y: -n.Y * 60 / 300, Z: -n.Z * 60 / 300}
			}
			near(t, "slope with "+p.Name, r3.Norm(r3.Sub(r3.Vec{X: g[0], Y: g[1], Z: g[2]}, want)), 0, 1e-9)
		}
	}
}

// TestAlike: a clearance is the same on both sides but where it looks at what exists once and stands to one side.
func TestAlike(t *testing.T) {
	b := level().Point("front", 100, 150, 300).Point("middle", 140, 0, 400).Point("low", 90, -120, 200).Point("high", 200, 120, 330).Point("off", 200, 119, 330)
	room := kin.Space{Shape: kin.Tube, Radius: 5}
	b.Solid("arm", room, []string{"inner", "outer"}, "upright")
	b.Solid("road", kin.Space{Shape: kin.Ground}, nil).Once()
	b.Solid("pole", room, []string{"middle"}, kin.Frame).Once()
	b.Solid("box", kin.Space{Shape: kin.Block}, []string{"low", "high"}, kin.Frame).Once()
	b.Solid("lopsided", kin.Space{Shape: kin.Block}, []string{"low", "off"}, kin.Frame).Once()
	b.Solid("bar", room, []string{"low", "high"}, kin.Frame).Once() // askew: one end is before and above the other
	b.Solid("cross", room, []string{"front", "front"}, kin.Frame).Once()
	b.L.Members[len(b.L.Members)-1].Sides = []kin.Side{kin.Left, kin.Right}
	for name, want := range map[string]struct{ still, moved bool }{
		"road": {true, true}, "cross": {true, true}, "pole": {true, false}, "box": {true, false}, "lopsided": {}, "bar": {},
	} {
		l := *b
		l.L.Members = slices.Clone(b.L.Members)
		c := newCorner(t, &l.Clear("pass", 0, []string{"arm"}, []string{name}).L)
		col := c.columns("pass.clearance")[0]
		still := c.prog.Alike(&col, func(int) bool { return true })
		moved := c.prog.Alike(&col, func(int) bool { return false })
		if still != want.still || moved != want.moved {
			t.Errorf("%s: alike %v where its points stay and %v where they move, not %v and %v", name, still, moved, want.still, want.moved)
		}
	}
}

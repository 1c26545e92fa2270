package kin_test

import (
	"fmt"
	"math"
	"testing"

	"trammel/kin"
	"trammel/kin/kintest"

	"gonum.org/v1/gonum/spatial/r3"
)

// fails runs positions that cannot all be solved and returns how it ended.
func (c *corner) fails(at []kin.Position, names ...string) (solved int, f kin.Failure) {
	c.t.Helper()
	sw := c.prog.NewSweep(kin.NewMotion("test", kin.BothWheels, false, at), c.columns(names...))
	solved, f = c.s.Run(sw, make([]float64, sw.Size()))
	if f.Status == kin.OK {
		c.t.Fatalf("%v should not be reached", at)
	}
	return solved, f
}

func (c *corner) reaches(z, rack float64) bool {
	sw := c.prog.NewSweep(kin.NewMotion("test", kin.BothWheels, false, []kin.Position{{Wheel: z, Rack: rack}}), c.columns("wheel_travel"))
	_, f := c.s.Run(sw, make([]float64, 1))
	return f.Status == kin.OK
}

// TestReachIsTheLinkages: a four-bar's wheel rises until it turns back; the solver goes as far and no farther.
// The height at which it turns is found by closed form.
func TestReachIsTheLinkages(t *testing.T) {
	f := kintest.FourBar{Ground: 220, Crank: 300, Coupler: 230, Rocker: 260}
	start, along := 0.2, 140.
	height := func(a float64) float64 {
		coupler, _, ok := f.Close(a)
		if !ok {
			t.Fatalf("the four-bar does not close at %g", a)
		}
		_, z := f.Centre(a, coupler, along, 0)
		return z
	}
	// Climb by golden section on the closed form: from start the height rises to a maximum.
	top := start
	for step := 0.01; step > 1e-9; {
		if height(top+step) > height(top) {
			top += step
		} else {
			step /= 2
		}
	}
	most := height(top) - height(start)
	if most < 20 || most > 400 {
		t.Fatalf("the example is no good: it rises by %g", most)
	}
	c := newCorner(t, f.Corner(start, along, 0))
	lo, hi := 0., most+50
	for range 40 {
		if mid := (lo + hi) / 2; c.reaches(mid, 0) {
			lo = mid
		} else {
			hi = mid
		}
	}
	near(t, "highest position", lo, most, 1e-3)
	solved, fail := c.fails([]kin.Position{{Wheel: 0}, {Wheel: most - 5}, {Wheel: most + 1}, {Wheel: -10}}, "wheel_travel")
	if solved != 2 || (fail.At != kin.Position{Wheel: most + 1}) {
		t.Errorf("solved %d, failed at %v", solved, fail.At)
	}
	if fail.Status != kin.CannotAssemble && fail.Status != kin.Folds {
		t.Errorf("status %d", fail.Status)
	}
}

func TestCannotAssemble(t *testing.T) {
	cases := []struct {
		layout string
		at     []kin.Position
		where  kin.Position
		says   map[string]bool
	}{
		{"pushrod on lower arm", []kin.Position{{Wheel: -500}, {Wheel: 20}}, kin.Position{Wheel: -500}, map[string]bool{"lower_arm does not reach": true, "upper_arm does not reach": true, "tie_rod does not reach": true}},
		{"pushrod on lower arm", []kin.Position{{Wheel: 10}, {Wheel: 10, Rack: 150}}, kin.Position{Wheel: 10, Rack: 150}, map[string]bool{"tie_rod does not reach": true}},
		{"steering bell crank", []kin.Position{{Wheel: -5, Rack: -60}}, kin.Position{Wheel: -5, Rack: -60}, map[string]bool{"drag_link and bell_crank line up": true}},
	}
	for _, tc := range cases {
		t.Run(fmt.Sprintf("%s to %v", tc.layout, tc.where), func(t *testing.T) {
			c := newCorner(t, layout(t, tc.layout))
			_, f := c.fails(tc.at, "camber")
			if f.Status != kin.CannotAssemble || f.At != tc.where || !tc.says[c.prog.Describe(f)] {
				t.Errorf("status %d at %v: %s", f.Status, f.At, c.prog.Describe(f))
			}
			// It is usable afterwards.
			c.get(5, 2, "camber")
		})
	}
}

func layout(t *testing.T, name string) *kin.Linkage {
	for _, l := range everyLayout() {
		if l.Name == name {
			return l.Link
		}
	}
	t.Fatalf("no layout %s", name)
	return nil
}

// TestRockerLinesUp: the rod of a rocker reaches as far as the straight line through rod and lever, found here
// from the arm's circle: a planar corner, its rod on the lower arm.
func TestRockerLinesUp(t *testing.T) {
	b := kintest.EqualArms().Builder()
	b.Point("foot", 0, 620, 180).Point("head", 0, 400, 450).Point("axis_rear", -40, 340, 410).Point("axis_front", 40, 340, 410)
	b.Link("pushrod", "foot", "head", "lower_arm", "rocker")
	b.Member("rocker", kin.Rocker, []string{"axis_rear", "axis_front"}, []string{kin.Frame})
	c := newCorner(t, &b.L)
	rod, lever := math.Hypot(220, 270), math.Hypot(60, 40)
	// The foot runs on a circle of 300 about (320, 180); it is rod + lever from (340, 410) where they line up.
	gap := func(arm float64) float64 {
		return math.Hypot(320+300*math.Cos(arm)-340, 180+300*math.Sin(arm)-410) - (rod + lever)
	}
	lo, hi := 0., -1.2
	for range 60 {
		if mid := (lo + hi) / 2; gap(mid) < 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	limit := 350 * math.Sin(lo)
	if !(limit < -30 && limit > -300) {
		t.Fatalf("the example is no good: %g", limit)
	}
	if !c.reaches(limit+0.01, 0) {
		t.Errorf("%g should be reached", limit+0.01)
	}
	_, f := c.fails([]kin.Position{{Wheel: limit - 0.01}}, "wheel_travel")
	if f.Status != kin.CannotAssemble || c.prog.Describe(f) != "pushrod and rocker line up" {
		t.Errorf("status %d: %s", f.Status, c.prog.Describe(f))
	}
}

// TestFold: where crank and coupler come into one line, a link beside the crank no longer keeps the upright
// from turning about that line; beyond it the carrier's determinant has the other sign.
func TestFold(t *testing.T) {
	f := kintest.FourBar{Ground: 320, Crank: 200, Coupler: 280, Rocker: 240}
	start := 20 * deg
	l := f.Corner(start, 420, 0)
	// Beside the crank, whatever Corner chose.
	place(l, "beside", r3.Vec{X: 640})
	place(l, "beside_ball", r3.Add(at(l, "a"), r3.Vec{X: 640}))
	c := newCorner(t, l)
	coupler, _, _ := f.Close(start)
	_, z0 := f.Centre(start, coupler, 420, 0)
	// The crank's angle at which the coupler has the same direction.
	differs := func(a float64) float64 { b, _, _ := f.Close(a); return a - b }
	step := 0.001
	if math.Abs(differs(start+step)) > math.Abs(differs(start)) {
		step = -step
	}
	a := start
	for ; differs(a)*differs(start) > 0; a += step {
	}
	height := func(a float64) float64 {
		b, _, ok := f.Close(a)
		if !ok {
			t.Fatal("the example does not close")
		}
		_, z := f.Centre(a, b, 420, 0)
		return z - z0
	}
	short, beyond := height(a-20*step), height(a+20*step)
	if !c.reaches(short, 0) {
		t.Errorf("%g lies before the dead centre and should be reached", short)
	}
	_, fail := c.fails([]kin.Position{{Wheel: beyond}}, "wheel_travel")
	if fail.Status != kin.Folds || fail.At.Wheel != beyond || c.prog.Describe(fail) != "it passes a dead centre and would come back on another branch" {
		t.Errorf("status %d at %v: %s", fail.Status, fail.At, c.prog.Describe(fail))
	}
}

func TestBadGeometry(t *testing.T) {
	cases := []struct {
		layout, point, onto string
		k                   float64 // moves point onto onto + k (onto − to)
		to                  string
		says                string
	}{
		{"pushrod on lower arm", "lower_rear", "lower_front", 0, "", "lower_arm has no length, a point on its own axis, or one that is nowhere"},
		{"pushrod on lower arm", "upper_ball", "upper_front", 0.4, "upper_rear", "upper_arm has no length, a point on its own axis, or one that is nowhere"},
		{"pushrod on lower arm", "steering_arm", "rack_end", 0, "", "tie_rod has no length, a point on its own axis, or one that is nowhere"},
		{"pushrod on lower arm", "pushrod_foot", "pushrod_head", 0, "", "pushrod has no length, or it lines up with rocker at design"},
		{"pushrod on lower arm", "pushrod_head", "rocker_front", 0.3, "rocker_rear", "rocker has no axis, or pushrod_head, where pushrod meets it, lies on that axis and cannot turn it; move that point off the axis"},
		{"pushrod on lower arm", "damper_frame", "damper_rocker", 0, "", "damper has no length, a point on its own axis, or one that is nowhere"},
		{"five links", "q3", "p3", 0, "", "link3 has no length, a point on its own axis, or one that is nowhere"},
		{"steering bell crank", "drag_crank", "drag_rack", 0, "", "drag_link has no length, or it lines up with bell_crank at design"},
	}
	for _, tc := range cases {
		l := layout(t, tc.layout)
		prog, err := kin.Compile(l)
		if err != nil {
			t.Fatal(err)
		}
		target := at(l, tc.onto)
		if tc.to != "" {
			target = r3.Add(target, r3.Scale(tc.k, r3.Sub(target, at(l, tc.to))))
		}
		place(l, tc.point, target)
		f := prog.NewState().SetDesign(positions(l))
		if f.Status != kin.BadGeometry || prog.Describe(f) != tc.says {
			t.Errorf("%s on %s: status %d: %s", tc.point, tc.onto, f.Status, prog.Describe(f))
		}
	}
}

func positions(l *kin.Linkage) []r3.Vec {
	var out []r3.Vec
	for _, p := range l.Points {
		out = append(out, p.At)
	}
	return out
}

// TestDeadDesigns: a rod in line with its lever, and two links doing one link's work, are refused at design.
func TestDeadDesigns(t *testing.T) {
	l := kintest.Pushrod()
	axis := r3.Scale(0.5, r3.Add(at(l, "rocker_front"), at(l, "rocker_rear")))
	head := at(l, "pushrod_head")
	head.X = axis.X
	place(l, "pushrod_head", head)
	place(l, "pushrod_foot", r3.Add(head, r3.Scale(4, r3.Sub(head, axis))))
	prog, err := kin.Compile(l)
	if err != nil {
		t.Fatal(err)
	}
	f := prog.NewState().SetDesign(positions(l))
	if f.Status != kin.BadGeometry || prog.Describe(f) != "pushrod has no length, or it lines up with rocker at design" {
		t.Errorf("status %d: %s", f.Status, prog.Describe(f))
	}

	l = layout(t, "five links")
	place(l, "p4", at(l, "p3"))
	place(l, "q4", at(l, "q3"))
	if prog, err = kin.Compile(l); err != nil {
		t.Fatal(err)
	}
	f = prog.NewState().SetDesign(positions(l))
	if f.Status != kin.BadGeometry || prog.Describe(f) != "the members hold the upright in a singular way: at design some of them work against the same freedom" {
		t.Errorf("status %d: %s", f.Status, prog.Describe(f))
	}
}

// TestNotANumber: a coordinate that is no number is bad geometry, whichever it is, and never a result.
func TestNotANumber(t *testing.T) {
	for _, ly := range everyLayout() {
		prog, err := kin.Compile(ly.Link)
		if err != nil {
			t.Fatal(err)
		}
		s := prog.NewState()
		for i, p := range ly.Link.Points {
			for _, bad := range []float64{math.NaN(), math.Inf(1)} {
				points := prog.Points()
				points[i].Y = bad
				if f := s.SetDesign(points); f.Status != kin.BadGeometry {
					t.Errorf("%s: %s at %g gives status %d", ly.Name, p.Name, bad, f.Status)
				}
			}
		}
	}
}

// TestBuildFailsAtDesign: parts that do not fit fail at design, wherever the state stood before.
func TestBuildFailsAtDesign(t *testing.T) {
	c := newCorner(t, layout(t, "pushrod on lower arm"))
	errors := make([]r3.Vec, len(c.prog.PartPoints()))
	for i, q := range c.prog.PartPoints() {
		if q.Owner == "tie_rod" {
			errors[i].Y = 300
			break
		}
	}
	c.run([]kin.Position{{Wheel: 30, Rack: 8}}, "toe")
	f := c.s.SetBuild(errors)
	if says := c.prog.Describe(f); f.Status != kin.CannotAssemble || f.At != (kin.Position{}) || says != "tie_rod does not reach" {
		t.Errorf("status %d at %v: %s", f.Status, f.At, says)
	}
}

// TestBuildNowhere: an error that is no number is refused for every part, whatever the part does, and leaves the state
// as it was.
func TestBuildNowhere(t *testing.T) {
	c := newCorner(t, layout(t, "pushrod on lower arm"))
	want := c.get(10, 0, "damper.length")
	for i := range c.prog.PartPoints() {
		for _, bad := range []float64{math.NaN(), math.Inf(1)} {
			errors := make([]r3.Vec, len(c.prog.PartPoints()))
			errors[i].Z = bad
			if f := c.s.SetBuild(errors); f.Status != kin.BadGeometry {
				t.Errorf("part %d by %g: %s", i, bad, c.prog.Describe(f))
			}
		}
	}
	near(t, "damper afterwards", c.get(10, 0, "damper.length"), want, 0)
}

// TestNoMemberToBlame: where no member gives way the sentence says what the wheel does not reach.
func TestNoMemberToBlame(t *testing.T) {
	c := newCorner(t, kintest.ThreeLink())
	for at, want := range map[kin.Position]string{
		{Wheel: 9, Roll: 4 * deg}: "a wheel does not reach the ground that the body's roll turns",
		{Wheel: 900}:              "a wheel does not reach its travel",
	} {
		if says := c.prog.Describe(kin.Failure{Status: kin.CannotAssemble, At: at, Member: -1}); says != want {
			t.Errorf("at %v: %s", at, says)
		}
	}
}

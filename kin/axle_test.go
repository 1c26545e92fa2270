package kin_test

import (
	"fmt"
	"math"
	"testing"

	"trammel/kin"
	"trammel/kin/kintest"

	"gonum.org/v1/gonum/spatial/r3"
)

func ends(a, b string) []string { return []string{a, b} }

// parallelLinks is a beam axle on two pairs of links that are level, parallel in side view and 600 long there: in heave it
// only shifts, and every point of it goes round a circle of 600. The pairs point inward differently in plan, so that
// they hold it sideways too.
func parallelLinks() *kintest.Builder {
	b := &kintest.Builder{}
	b.Point("lower_frame", 620, 410, 300).Point("lower_axle", 20, 440, 300).
		Point("upper_frame", 560, 250, 480).Point("upper_axle", -40, 480, 480).
		Point("panhard_frame", -110, 430, 400).Point("panhard_axle", -120, -470, 380).
		Point("wheel_centre", 0, 760, 390)
	b.Link("lower_link", "lower_frame", "lower_axle", kin.Frame, kin.Axle)
	b.Link("upper_link", "upper_frame", "upper_axle", kin.Frame, kin.Axle)
	b.Wheel("wheel_centre", 0, 0, 400)
	return b
}

// TestParallelLinks: an analytic case: links of equal length, parallel in side view, let a beam axle go round a circle;
// a Panhard rod between the same bodies would have to change its length, by what the shift makes of its two ends.
func TestParallelLinks(t *testing.T) {
	b := parallelLinks()
	b.Across("panhard", kin.Link, ends("panhard_frame", "panhard_axle"), ends(kin.Frame, kin.Axle)).Soft()
	c := newCorner(t, &b.L)
	at := kintest.Line(9, 100, 0)
	got := c.run(at, "contact_x_change", "half_track_change", "contact_z", "camber", "toe", "panhard.bind", "contact_path_x")
	for i, p := range at {
		dx := 600 - math.Sqrt(600*600-p.Wheel*p.Wheel)
		near(t, "forward", got[0][i], dx, 1e-9)
		near(t, "outward", got[1][i], 0, 1e-9)
		near(t, "up", got[2][i], -10+p.Wheel, 1e-9)
		near(t, "camber", got[3][i], 0, 1e-10)
		near(t, "toe", got[4][i], 0, 1e-10)
		rod := r3.Sub(at3(-120, -470, 380), at3(-110, 430, 400))
		near(t, "bind", got[5][i], r3.Norm(r3.Add(rod, at3(dx, 0, p.Wheel)))-r3.Norm(rod), 1e-9)
		near(t, "path", got[6][i], p.Wheel/math.Sqrt(600*600-p.Wheel*p.Wheel), 1e-12)
	}
}

func at3(x, y, z float64) r3.Vec { return r3.Vec{X: x, Y: y, Z: z} }

// TestPanhardRod: an axle on three level links of 600 along the car and a level Panhard rod of 900 only shifts in heave:
// by d with |L + d| = 600 for each link and |P + d| = 900 for the rod, two equations for its two unknowns.
func TestPanhardRod(t *testing.T) {
	b := &kintest.Builder{}
	b.Point("lower_frame", 620, 410, 300).Point("lower_axle", 20, 410, 300).
		Point("upper_frame", 560, 0, 480).Point("upper_axle", -40, 0, 480).
		Point("panhard_frame", -110, 450, 400).Point("panhard_axle", -110, -450, 400).
		Point("wheel_centre", 0, 760, 390)
	b.Link("lower_link", "lower_frame", "lower_axle", kin.Frame, kin.Axle)
	b.Across("upper_link", kin.Link, ends("upper_frame", "upper_axle"), ends(kin.Frame, kin.Axle))
	b.Across("panhard", kin.Link, ends("panhard_frame", "panhard_axle"), ends(kin.Frame, kin.Axle))
	b.Wheel("wheel_centre", 0, 0, 400)
	c := newCorner(t, &b.L)
	at := kintest.Line(9, 120, 0)
	got := c.run(at, "contact_x_change", "half_track_change", "right.half_track_change", "camber", "toe")
	for i, p := range at {
		var dx, dy float64
		for range 60 { // each feeds the other by a small share
			dx = 600 - math.Sqrt(600*600-dy*dy-p.Wheel*p.Wheel)
			dy = 900 - math.Sqrt(900*900-dx*dx-p.Wheel*p.Wheel)
		}
		near(t, "forward", got[0][i], dx, 1e-9)
		near(t, "to the left", got[1][i], dy, 1e-9)
		near(t, "right wheel outward", got[2][i], -dy, 1e-9)
		near(t, "camber", got[3][i], 0, 1e-10)
		near(t, "toe", got[4][i], 0, 1e-10)
	}
}

// TestWattLinkage: the middle of the coupler of a Watt linkage with equal arms of r and a coupler of 2c leaves the straight
// line by about y⁵/(8 c r³): of the fifth order, and odd. Analytic: with the coupler turned by θ the ends of the arms stand
// at ±c(sin θ, cos θ) from its middle, and y = r sin φ where both arms have turned by about φ. Links along the car are
// long, so that the axle hardly moves along it.
func TestWattLinkage(t *testing.T) {
	const r, half, long = 400., 60., 1e5
	b := &kintest.Builder{}
	b.Point("lower_frame", long, 410, 300).Point("lower_axle", 0, 410, 300).
		Point("upper_frame", long, 0, 480).Point("upper_axle", 0, 0, 480).
		Point("crank_front", 20, 0, 400).Point("crank_rear", -20, 0, 400).
		Point("up", 0, 0, 400+half).Point("down", 0, 0, 400-half).
		Point("left", 0, r, 400+half).Point("right", 0, -r, 400-half).
		Point("wheel_centre", 0, 760, 390)
	b.Link("lower_link", "lower_frame", "lower_axle", kin.Frame, kin.Axle)
	b.Across("upper_link", kin.Link, ends("upper_frame", "upper_axle"), ends(kin.Frame, kin.Axle))
	b.Across("crank", kin.Rocker, ends("crank_front", "crank_rear"), []string{kin.Axle})
	b.Across("watt_upper", kin.Link, ends("left", "up"), ends(kin.Frame, "crank"))
	b.Across("watt_lower", kin.Link, ends("right", "down"), ends(kin.Frame, "crank"))
	b.Wheel("wheel_centre", 0, 0, 400)
	c := newCorner(t, &b.L)
	var at []kin.Position
	for _, y := range []float64{12, 24, 48, 96, -12, -24, -48, -96} {
		at = append(at, kin.Position{Wheel: y})
	}
	got := c.run(at, "half_track_change", "camber")
	for i := range 4 {
		y, x := at[i].Wheel, got[0][i]
		near(t, "upright", got[1][i], 0, 1e-9)
		near(t, fmt.Sprintf("error at %g against its leading term", y), math.Abs(x)*8*half*r*r*r/math.Pow(y, 5), 1, 3*y*y/(half*half))
		near(t, fmt.Sprintf("error at %g is odd", y), got[0][i+4], -x, 1e-3*math.Abs(x)+2e-8)
		if i > 0 && i < 3 {
			order := math.Log2(math.Abs(x / got[0][i-1]))
			near(t, fmt.Sprintf("order at %g", y), order, 5, 0.45*float64(i))
		}
	}
}

// anti is a corner whose wheel turns about a lateral axis that lies ahead of and above the contact centre (0, 750, 0).
func anti(ahead, above float64, v kin.Vehicle) *kin.Linkage {
	b := &kintest.Builder{}
	b.Point("inner", ahead, 200, above).Point("outer", ahead, 600, above).Point("wheel_centre", 0, 750, 300)
	b.Member("arm", kin.Hinge, ends("inner", "outer"), ends(kin.Frame, kin.Upright))
	b.Wheel("wheel_centre", 0, 0, 300)
	b.L.Vehicle = v
	return &b.L
}

// TestAntis: 100·share·tan φ·l/h with φ the slope of the line from the contact (outboard brakes) or the wheel centre (drive
// from the frame) to the instant centre in side view; standard formulae from memory (W. F. and D. L. Milliken, Race Car
// Vehicle Dynamics, chapter 17; T. D. Gillespie, Fundamentals of Vehicle Dynamics, chapter 7), the numbers exact
// consequences of the inputs.
func TestAntis(t *testing.T) {
	car := kin.Vehicle{Wheelbase: 2500, CentreZ: 500}
	with := func(change func(v *kin.Vehicle)) kin.Vehicle { v := car; change(&v); return v }
	cases := []struct {
		name, measure string
		ahead, above  float64
		vehicle       kin.Vehicle
		want          float64
	}{
		{"centre 1000 behind and 80 above the contact, 60 % of the braking", "anti_dive", -1000, 80, with(func(v *kin.Vehicle) { v.BrakeShare = 0.6 }), 24},
		{"the same, brakes on the frame: 220 below the wheel centre", "anti_dive", -1000, 80, with(func(v *kin.Vehicle) { v.BrakeShare, v.Inboard = 0.6, true }), -66},
		{"centre 1200 ahead and 150 above the contact, 40 % of the braking", "anti_lift_brake", 1200, 150, with(func(v *kin.Vehicle) { v.BrakeShare, v.Rear = 0.4, true }), 25},
		{"centre 1200 ahead and 60 above the wheel centre, driven from the frame", "anti_squat", 1200, 360, with(func(v *kin.Vehicle) { v.DriveShare, v.Rear = 1, true }), 25},
		{"centre 1000 behind and 60 above the wheel centre of a driven front", "anti_lift_drive", -1000, 360, with(func(v *kin.Vehicle) { v.DriveShare = 1 }), 30},
	}
	for _, tc := range cases {
		got := newCorner(t, anti(tc.ahead, tc.above, tc.vehicle)).one(0, 0, tc.measure, "side_view_swing_arm")
		near(t, tc.name, got[0], tc.want, 1e-9)
		near(t, tc.name+", swing arm", got[1], tc.ahead, 1e-6)
	}
}

// TestAntiSquatOfAnAxle: an axle that carries its differential squats by the slope of its own point at the contact; where
// that slope e/d is h/l, nothing is left: 100 % (standard formula as above; e = 205, d = 1085, h/l = 20.5/108.5).
func TestAntiSquatOfAnAxle(t *testing.T) {
	b := &kintest.Builder{}
	b.Point("ball", 1085, 0, 205).Point("panhard_frame", -90, 430, 310).Point("panhard_axle", -90, -430, 310).Point("wheel_centre", 0, 750, 310)
	b.Across("torque_tube", kin.Ball, []string{"ball"}, ends(kin.Frame, kin.Axle))
	b.Across("panhard", kin.Link, ends("panhard_frame", "panhard_axle"), ends(kin.Frame, kin.Axle))
	b.Wheel("wheel_centre", 0, 0, 310)
	b.L.Vehicle = kin.Vehicle{Wheelbase: 2170, CentreZ: 410, Rear: true, DriveShare: 1, LiveAxle: true}
	c := newCorner(t, &b.L)
	near(t, "live axle", c.get(0, 0, "anti_squat"), 100, 1e-9)
	// Pitch lifts both wheels alike. Rolling, or over a kerb on one wheel, the contact goes another way, which is no squat.
	roll := c.tableOf(kin.BothWheels, true, []kin.Position{{}}, c.columns("anti_squat"))[0][0]
	kerb := c.tableOf(kin.LeftWheel, false, []kin.Position{{}}, c.columns("anti_squat"))[0][0]
	if !math.IsNaN(roll) || !math.IsNaN(kerb) {
		t.Errorf("anti_squat of an axle is %g in roll and %g on one wheel; it has no value there", roll, kerb)
	}
	// It rolls about the line through the ball and the middle of the level rod, which passes above the contacts here.
	height := c.tableOf(kin.BothWheels, true, []kin.Position{{}}, c.columns("roll_centre_height"))[0][0]
	near(t, "roll centre", height, 205+(310-205)*1085./1175, 1e-8)
}

package kin_test

import (
	"math"
	"slices"
	"testing"

	"trammel/kin"
	"trammel/kin/kintest"

	"gonum.org/v1/gonum/spatial/r3"
)

// shaft is a wheel that swings about an axis along the car through the inner joint of its drive shaft, which rises
// outward by 20° at design.
func shaft() *kin.Linkage {
	b := &kintest.Builder{}
	y, z := 120+500*math.Cos(20*deg), 300+500*math.Sin(20*deg)
	b.Point("rear", -200, 120, 300).Point("front", 200, 120, 300).Point("inner", 0, 120, 300).Point("outer", 0, y, z).Point("wheel_centre", 0, y+80, z)
	b.Member("arm", kin.Hinge, []string{"rear", "front"}, []string{kin.Frame, kin.Upright})
	b.Member("shaft", kin.Shaft, []string{"inner", "outer"}, []string{kin.Frame, kin.Upright})
	b.Wheel("wheel_centre", 0, 0, 300)
	return &b.L
}

// TestHookeJoint: a shaft that drives another through a Hooke joint bent by 20° at 1000 rev/min turns it at up to 111.4 and
// down to 98.4 rad/s: T. Bevan, The Theory of Machines, chapter 4, example 1 (read in a secondary copy; 111.44044 and
// 98.40438 recomputed). The ratios are 1/cos and cos of the bend, which is what a drive shaft's joint angle is.
func TestHookeJoint(t *testing.T) {
	c := newCorner(t, shaft())
	in := 1000 * 2 * math.Pi / 60
	got := c.one(0, 0, "shaft.joint_angle_inner", "shaft.joint_angle_outer", "shaft.plunge")
	for _, bend := range got[:2] {
		near(t, "fastest, as printed", in/math.Cos(bend*deg), 111.4, 0.05)
		near(t, "slowest, as printed", in*math.Cos(bend*deg), 98.4, 0.05)
		near(t, "fastest", in/math.Cos(bend*deg), 111.44044, 5e-6)
		near(t, "slowest", in*math.Cos(bend*deg), 98.40438, 5e-6)
	}
	// The wheel swings about the inner joint: that one bends on by as much as the wheel leans, the outer one keeps its bend,
	// and nothing plunges.
	for _, p := range kintest.Line(7, 90, 0) {
		got := c.one(p.Wheel, 0, "shaft.joint_angle_inner", "shaft.joint_angle_outer", "shaft.plunge", "camber")
		near(t, "inner", got[0], math.Abs(20-got[3]), 1e-9)
		near(t, "outer", got[1], 20, 1e-9)
		near(t, "plunge", got[2], 0, 1e-9)
		// The centre rises by the swing about the hinge.
		r := r3.Sub(at(c.link, "wheel_centre"), at(c.link, "inner"))
		s, k := math.Sincos(-got[3] * deg)
		near(t, "swing", r.Y*s+r.Z*k-r.Z, p.Wheel, 1e-9)
	}
}

// TestTorsionBar: rockers about one lateral line turn alike in heave, and the bar that joins them is not twisted; about
// lines along the car they turn against each other and twist it by twice their angle. In roll it is the other way about
// where the car is symmetric.
func TestTorsionBar(t *testing.T) {
	c := newCorner(t, kintest.CentreSpring())
	at := kintest.Line(5, 30, 0)
	for i, v := range c.run(at, "bar.twist", "rocker.angle", "centre_arm.angle", "roll_damper.installation_ratio")[0] {
		near(t, "twist in heave of a lateral bar", v, 0, 1e-9)
		got := c.one(at[i].Wheel, 0, "rocker.angle", "centre_arm.angle", "roll_damper.installation_ratio")
		near(t, "centre arm", got[1], got[0], 1e-9)
		near(t, "roll damper's ratio in heave", got[2], 0, 1e-12)
	}
	// One wheel alone: the centre arm turns by half.
	cols := c.columns("left.rocker.angle", "right.rocker.angle", "centre_arm.angle", "bar.twist")
	one := c.tableOf(kin.LeftWheel, false, []kin.Position{{Wheel: 22}}, cols)
	near(t, "right rocker", one[1][0], 0, 1e-9)
	near(t, "centre arm with one wheel", one[2][0], one[0][0]/2, 1e-9)
	near(t, "twist with one wheel", one[3][0], one[0][0], 1e-9)
	lean := []kin.Position{{}, {Roll: 1.5 * deg}}
	roll := c.tableOf(kin.BothWheels, true, lean, c.columns("heave_spring.installation_ratio", "roll_damper.installation_ratio", "bar.twist", "rocker.angle", "right.rocker.angle", "centre_arm.angle"))
	near(t, "centre spring's ratio in roll", roll[0][0], 0, 1e-12)
	// The roll damper lies square to where its ends go: it works as they have gone.
	near(t, "roll damper's ratio at design", roll[1][0], 0, 1e-12)
	if r := math.Abs(roll[1][1]); r < 0.01 {
		t.Errorf("the roll damper's ratio is %g in a roll of 1.5°", r)
	}
	// A mirrored turn about a lateral line is a turn the same way: both sides' angles count alike.
	near(t, "twist in roll", roll[2][1], roll[3][1]-roll[4][1], 1e-9)
	near(t, "centre arm in roll", roll[5][1], (roll[3][1]+roll[4][1])/2, 1e-9)
	if math.Abs(roll[2][1]) < 1 {
		t.Errorf("roll of 1.5° twists the bar by %g°", roll[2][1])
	}

	l := kintest.Pushrod()
	l.Members = append(l.Members, kin.Member{Name: "bar", Kind: kin.Bar, Bodies: []string{"left.rocker", "right.rocker"}, Across: true})
	d := newCorner(t, l)
	got := d.run(at, "bar.twist", "rocker.angle")
	for i := range at {
		near(t, "twist in heave of bars along the car", got[0][i], 2*got[1][i], 1e-9)
	}
	near(t, "twist", d.tableOf(kin.BothWheels, true, lean, d.columns("bar.twist"))[0][0], 0, 1e-9)
}

// TestTieRodsAcross: tie rods drawn across, another for each side, steer as one that is drawn for both sides with its end
// apart on the other.
func TestTieRodsAcross(t *testing.T) {
	apart := kintest.Pushrod()
	end := at(apart, "rack_end")
	end = r3.Vec{X: end.X + 14, Y: -end.Y, Z: end.Z + 9}
	across := kintest.Pushrod()
	n := len(apart.Points)
	for _, l := range []*kin.Linkage{apart, across} {
		l.Points = append(l.Points, kin.Point{Name: "other_end", At: end})
	}
	apart.Opposite = slices.Repeat([]int{-1}, n+1)
	i := slices.IndexFunc(across.Members, func(m kin.Member) bool { return m.Name == "tie_rod" })
	inner, outer := across.Members[i].Points[0], across.Members[i].Points[1]
	apart.Opposite[inner] = n
	across.Members = append(slices.Delete(across.Members, i, i+1),
		kin.Member{Name: "left_tie", Kind: kin.Link, Across: true, Points: []int{inner, outer}, Sides: []kin.Side{kin.Left, kin.Left}, Bodies: []string{kin.Rack, "left.upright"}},
		kin.Member{Name: "right_tie", Kind: kin.Link, Across: true, Points: []int{n, outer}, Sides: []kin.Side{kin.Once, kin.Right}, Bodies: []string{kin.Rack, "right.upright"}})
	c, d := newCorner(t, across), newCorner(t, apart)
	if c.prog.Symmetric() {
		t.Error("tie rods that differ pass for symmetric")
	}
	for _, m := range motions() {
		cols := d.columns("toe", "right.toe", "right.camber", "right.caster_trail", "right.damper.length")
		a, b := c.tableOf(m.wheels, m.rolls, m.at, c.columns("toe", "right.toe", "right.camber", "right.caster_trail", "right.damper.length")), d.tableOf(m.wheels, m.rolls, m.at, cols)
		for k, col := range cols {
			for i := range m.at {
				same(t, col, a[k][i], b[k][i])
			}
		}
	}
}

// TestDesignSweeps: a sweep for design changes says of both sides what one says that solves both, and of their derivatives,
// also where what is across turns the two sides differently.
func TestDesignSweeps(t *testing.T) {
	heave := kin.NewMotion("heave", kin.BothWheels, false, kintest.Line(3, 30, 0))
	for _, layout := range everyLayout() {
		c := newCorner(t, layout.Link)
		for _, col := range c.bothSides() {
			whole, half := c.prog.NewSweep(heave, []kin.Column{col}), c.prog.NewDesignSweep(heave, []kin.Column{col})
			var got [2][]float64
			var d [2]kin.Slopes
			for k, sw := range []*kin.Sweep{whole, half} {
				d[k].Directions = make([]kin.Direction, len(layout.Link.Points))
				for i := range d[k].Directions {
					c.prog.Move(&d[k].Directions[i], i, r3.Vec{X: 0.3, Y: -0.5, Z: 0.8})
				}
				got[k] = make([]float64, sw.Size())
				d[k].At = make([]float64, sw.Size()*len(d[k].Directions))
				if _, f := c.s.RunSlopes(sw, got[k], &d[k]); f.Status != kin.OK {
					t.Fatalf("%s: %s", layout.Name, c.prog.Describe(f))
				}
			}
			for i := range got[0] {
				same(t, col, got[1][i], got[0][i])
			}
			for i, want := range d[0].At {
				near(t, layout.Name+": slope of "+col.Name, d[1].At[i], want, 1e-9*math.Max(math.Abs(want), col.Measure.Scale))
			}
		}
	}
}

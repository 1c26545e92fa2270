package kin_test

import (
	"math"
	"slices"
	"testing"

	"trammel/kin"
	"trammel/kin/kintest"

	"gonum.org/v1/gonum/spatial/r3"
	"pgregory.net/rapid"
)

// pose is how the carrier of a side stands, in the coordinates in which that side is the left one.
type pose struct {
	o r3.Vec
	e [3]r3.Vec
}

func (c *corner) pose(side kin.Side) pose {
	at := func(q r3.Vec) r3.Vec { return seen(c.s.Carry(carrierOf(c.link), side, seen(q, side)), side) }
	p := pose{o: at(r3.Vec{})}
	for i, q := range []r3.Vec{{X: 1}, {Y: 1}, {Z: 1}} {
		p.e[i] = r3.Sub(at(q), p.o)
	}
	return p
}

func (p pose) carried(q r3.Vec) r3.Vec {
	return r3.Add(r3.Add(p.o, r3.Scale(q.X, p.e[0])), r3.Add(r3.Scale(q.Y, p.e[1]), r3.Scale(q.Z, p.e[2])))
}

func (p pose) back(q r3.Vec) r3.Vec {
	d := r3.Sub(q, p.o)
	return r3.Vec{X: r3.Dot(d, p.e[0]), Y: r3.Dot(d, p.e[1]), Z: r3.Dot(d, p.e[2])}
}

// course is what values alone say of a linkage about one spot: no derivative of kin goes into it, but for the
// installation ratio whose slope progression is.
type course struct {
	t       tester
	p       spot
	link    *kin.Linkage
	value   map[string][]float64 // by step of steps
	left    []pose
	right   []pose
	contact map[kin.Side]r3.Vec // here, in the side's coordinates
	centre  map[kin.Side]r3.Vec
}

// firsts are the steps from which differences start, surest is best: near a dead centre a long one sees another
// curve.
var firsts = []float64{4, 1, 0.25}

// steps are all that differences with any of firsts look at.
var steps = []float64{0, 4, -4, 2, -2, 1, -1, 0.5, -0.5, 0.25, -0.25, 0.125, -0.125, 0.0625, -0.0625}

func newCourse(c *corner, p spot) *course {
	k := &course{t: c.t, p: p, link: c.link, value: map[string][]float64{}, contact: map[kin.Side]r3.Vec{}, centre: map[kin.Side]r3.Vec{}}
	var cols []kin.Column
	for _, col := range c.bothSides() {
		if !kin.IsSlope(col.Measure) || col.Measure.Name == "installation_ratio" {
			cols = append(cols, col)
		}
	}
	var at []kin.Position
	for _, h := range steps {
		q := p
		if p.rolls {
			q.at.Roll += h / 4 * deg
		} else {
			q.at.Wheel += h
		}
		at = append(at, q.at)
		c.stand(q)
		k.left, k.right = append(k.left, c.pose(kin.Left)), append(k.right, c.pose(kin.Right))
		for _, side := range []kin.Side{kin.Left, kin.Right} {
			if s := c.look(side, q.at.Roll); h == 0 {
				k.contact[side], k.centre[side] = s.contact, s.centre
			}
		}
	}
	for i, row := range c.tableOf(p.wheels, p.rolls, at, cols) {
		k.value[cols[i].Name] = row
	}
	return k
}

// slope differentiates what is a function of the step.
func (k *course) slope(f func(i int) float64) float64 {
	best, least := math.NaN(), math.Inf(1)
	for _, step := range firsts {
		v, doubt := kintest.Slope(func(h float64) float64 {
			for i, s := range steps {
				if s == h {
					return f(i)
				}
			}
			panic("no such step")
		}, 0, step)
		if doubt < least {
			best, least = v, doubt
		}
	}
	return best
}

func (k *course) of(name string) float64 {
	v, ok := k.value[name]
	if !ok {
		k.t.Fatalf("no values of %s", name)
	}
	return k.slope(func(i int) float64 { return v[i] })
}

// per is the slope of a column for a mm of a side's travel.
func (k *course) per(name string, side kin.Side) float64 {
	return k.of(name) / k.of(prefix(side)+"wheel_travel")
}

// velocity of a side's carrier's own point that stands at q now.
func (k *course) velocity(side kin.Side, q r3.Vec) r3.Vec {
	poses := k.left
	if side == kin.Right {
		poses = k.right
	}
	design := poses[0].back(q)
	at := func(of func(r3.Vec) float64) float64 {
		return k.slope(func(i int) float64 { return of(poses[i].carried(design)) })
	}
	return r3.Vec{
		X: at(func(v r3.Vec) float64 { return v.X }),
		Y: at(func(v r3.Vec) float64 { return v.Y }),
		Z: at(func(v r3.Vec) float64 { return v.Z }),
	}
}

// arm returns how far along a level direction from the contact the carrier has no vertical velocity.
func (k *course) arm(side kin.Side, along r3.Vec) float64 {
	q := k.contact[side]
	v := k.velocity(side, q)
	far := k.velocity(side, r3.Add(q, r3.Scale(100, along)))
	// The vertical velocity is 0 where along the line it has fallen by all of v.Z.
	return -100 * v.Z / (far.Z - v.Z)
}

// anti returns the share in percent that a path's slope takes up: of the carrier's own point at the contact, or of
// the wheel centre.
func (k *course) anti(side kin.Side, share float64, carried bool) float64 {
	q := k.centre[side]
	if carried {
		q = k.contact[side]
	}
	v := k.velocity(side, q)
	return 100 * share * v.X / v.Z * k.link.Vehicle.Wheelbase / k.link.Vehicle.CentreZ
}

// probes returns what each slope measure must be, by differences of values. Every slope of the table has one. Names
// of members come with their side.
var probes = map[string]func(k *course, side kin.Side, member string) float64{
	"camber_gain": func(k *course, s kin.Side, _ string) float64 { return k.per(prefix(s)+"camber", s) },
	"bump_steer":  func(k *course, s kin.Side, _ string) float64 { return k.per(prefix(s)+"toe", s) },
	"caster_gain": func(k *course, s kin.Side, _ string) float64 { return k.per(prefix(s)+"caster", s) },
	"roll_camber": func(k *course, s kin.Side, _ string) float64 {
		return k.of(prefix(s)+"camber_to_ground") / k.of("body_roll")
	},
	"roll_steer": func(k *course, s kin.Side, _ string) float64 {
		return k.of(prefix(s)+"steer_angle") / k.of("body_roll")
	},
	"contact_path_y": func(k *course, s kin.Side, _ string) float64 {
		return k.of(prefix(s)+"half_track_change") / k.of(prefix(s)+"contact_z")
	},
	"contact_path_x": func(k *course, s kin.Side, _ string) float64 {
		return k.of(prefix(s)+"contact_x") / k.of(prefix(s)+"contact_z")
	},
	"front_view_swing_arm": func(k *course, s kin.Side, _ string) float64 { return k.arm(s, r3.Vec{Y: -1}) },
	"side_view_swing_arm":  func(k *course, s kin.Side, _ string) float64 { return k.arm(s, r3.Vec{X: 1}) },
	"roll_centre_height":   func(k *course, _ kin.Side, _ string) float64 { _, h := k.rollCentre(); return h },
	"roll_centre_lateral":  func(k *course, _ kin.Side, _ string) float64 { l, _ := k.rollCentre(); return l },
	"installation_ratio":   func(k *course, s kin.Side, m string) float64 { return -k.per(m+".length", s) },
	"progression":          func(k *course, s kin.Side, m string) float64 { return k.per(m+".installation_ratio", s) },
	"anti_dive": func(k *course, s kin.Side, _ string) float64 {
		return k.anti(s, k.link.Vehicle.BrakeShare, !k.link.Vehicle.Inboard)
	},
	"anti_lift_brake": func(k *course, s kin.Side, _ string) float64 {
		return -k.anti(s, k.link.Vehicle.BrakeShare, !k.link.Vehicle.Inboard)
	},
	"anti_lift_drive": func(k *course, s kin.Side, _ string) float64 {
		return k.anti(s, k.link.Vehicle.DriveShare, k.link.Vehicle.LiveAxle)
	},
	"anti_squat": func(k *course, s kin.Side, _ string) float64 {
		return -k.anti(s, k.link.Vehicle.DriveShare, k.link.Vehicle.LiveAxle)
	},
}

// rollCentre cuts the two lines from the contacts square to the velocities of the carriers' points there,
// in the axes of the ground through both contacts, whose origin is their middle.
func (k *course) rollCentre() (lateral, height float64) {
	ql, qr := k.contact[kin.Left], mirror(k.contact[kin.Right])
	vl, vr := k.velocity(kin.Left, ql), mirror(k.velocity(kin.Right, k.contact[kin.Right]))
	// (p − q)·v = 0 for both: two equations for p in (y, z).
	ra, rb := vl.Y*ql.Y+vl.Z*ql.Z, vr.Y*qr.Y+vr.Z*qr.Z
	det := vl.Y*vr.Z - vl.Z*vr.Y
	y, z := (ra*vr.Z-vl.Z*rb)/det, (vl.Y*rb-ra*vr.Y)/det
	ground := r3.Unit(r3.Vec{Y: ql.Y - qr.Y, Z: ql.Z - qr.Z})
	y, z = y-(ql.Y+qr.Y)/2, z-(ql.Z+qr.Z)/2
	return y*ground.Y + z*ground.Z, z*ground.Y - y*ground.Z
}

func TestSlopesAreProbed(t *testing.T) {
	for _, m := range kin.Measures() {
		if _, ok := probes[m.Name]; kin.IsSlope(&m) && !ok {
			t.Errorf("%s is made of derivatives and has no probe", m.Name)
		}
	}
}

// TestSlopes compares every slope measure of random linkages, of both sides, along every motion, with differences.
func TestSlopes(t *testing.T) {
	count := map[string]int{}
	forEvery(t, func(t *rapid.T, l *kin.Linkage) {
		c := newCorner(t, l)
		p := drawSpot(t)
		k := newCourse(c, p)
		cols := c.bothSides()
		got := c.tableOf(p.wheels, p.rolls, []kin.Position{p.at}, cols)
		for i, col := range cols {
			if !kin.IsSlope(col.Measure) {
				continue
			}
			side, member := kin.Left, col.Member
			if col.Side == kin.Right {
				side, member = kin.Right, "right."+member
			}
			v := got[i][0]
			if none(l, p, side, col.Measure.Name) {
				if !math.IsNaN(v) {
					t.Errorf("%s in %v is %g and should have no value", col.Name, p, v)
				}
				continue
			}
			want := probes[col.Measure.Name](k, side, member)
			if math.IsNaN(v) && far(col.Measure.Name) && math.Abs(want) > 0.9e6 {
				continue
			}
			scale := math.Max(math.Abs(want), col.Measure.Scale)
			if far(col.Measure.Name) {
				// A distance that is the quotient of a small slope: as exact as the slope itself.
				scale = math.Max(scale, want*want/1e5)
			}
			near(t, col.Name, v, want, 1e-6*scale)
			count[col.Measure.Name]++
		}
	})
	for name := range probes {
		if count[name] == 0 {
			t.Errorf("%s was never probed", name)
		}
	}
}

// none tells whether a slope measure has no value at a spot.
func none(l *kin.Linkage, p spot, side kin.Side, name string) bool {
	switch name {
	case "roll_camber", "roll_steer":
		return !p.rolls
	case "roll_centre_height", "roll_centre_lateral":
		return p.wheels != kin.BothWheels || !p.rolls && beam(l)
	case "anti_dive", "anti_lift_drive", "anti_lift_brake", "anti_squat":
		return !p.moves(side) || beam(l) && (p.rolls || p.wheels != kin.BothWheels)
	}
	return !p.moves(side)
}

// beam tells whether one body holds both wheels.
func beam(l *kin.Linkage) bool {
	return slices.ContainsFunc(l.Members, func(m kin.Member) bool { return slices.Contains(m.Bodies, kin.Axle) })
}

func far(name string) bool {
	switch name {
	case "front_view_swing_arm", "side_view_swing_arm", "roll_centre_lateral", "roll_centre_height":
		return true
	}
	return false
}

// TestRodAlongItsArm: where a damper's line runs through the axis of the arm that it works on, its lever angle is 0, it is at a
// dead centre, and both pass through an edge there: rounding takes no value away, and their derivatives are numbers.
func TestRodAlongItsArm(t *testing.T) {
	for k := range 8 {
		b := kintest.EqualArms().Builder()
		// EqualArms' lower arm turns about a line along the car through (320, 180).
		out := 100 + 17.3*float64(k)
		b.Point("foot", 0, 320+out, 180+out/3).Point("top", 0, 320-2*out/7, 180-2*out/21)
		b.Member("damper", kin.Damper, []string{"foot", "top"}, []string{"lower_arm", kin.Frame})
		c := newCorner(t, &b.L)
		sw := c.prog.NewSweep(kin.NewMotion("design", kin.BothWheels, false, []kin.Position{{}}), c.columns("damper.lever_angle", "damper.dead_centre"))
		values := make([]float64, 2)
		d := kin.Slopes{Directions: make([]kin.Direction, len(b.L.Points)), At: make([]float64, 2*len(b.L.Points))}
		for i := range d.Directions {
			c.prog.Move(&d.Directions[i], i, r3.Vec{X: 1, Y: 0.5, Z: 0.2})
		}
		if _, f := c.s.RunSlopes(sw, values, &d); f.Status != kin.OK {
			t.Fatal(c.prog.Describe(f))
		}
		near(t, "lever angle", values[0], 0, 1e-5)
		near(t, "dead centre", values[1], 0, 1e-5)
		for i, v := range d.At {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Errorf("k %d: derivative with point %d is %g", k, i, v)
			}
		}
	}
}

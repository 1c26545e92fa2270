package kin_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"trammel/kin"
	"trammel/kin/kintest"

	"gonum.org/v1/gonum/spatial/r3"
	"pgregory.net/rapid"
)

// motion is a way to move, with more than one position.
type motion struct {
	wheels kin.Wheels
	rolls  bool
	at     []kin.Position
}

func motions() []motion {
	return []motion{
		{kin.BothWheels, false, grid(5, 3, 38, 14)},
		{kin.LeftWheel, false, grid(3, 2, 20, 8)},
		{kin.RightWheel, false, grid(3, 2, 20, 8)},
		{kin.BothWheels, true, append(rolled(9, 8, 1.8*deg), kin.Position{}, kin.Position{Roll: 1 * deg}, kin.Position{Wheel: 5})},
	}
}

// pair draws two ways to move.
func pair(t *rapid.T) []motion {
	ms := motions()
	k := rapid.IntRange(0, len(ms)-1).Draw(t, "motions")
	return []motion{ms[k], ms[(k+1)%len(ms)]}
}

// values runs a sweep.
func (c *corner) values(sw *kin.Sweep) []float64 {
	c.t.Helper()
	out := make([]float64, sw.Size())
	if _, f := c.s.Run(sw, out); f.Status != kin.OK {
		c.t.Fatalf("%s at %v: %s", sw.Motion.Name, f.At, c.prog.Describe(f))
	}
	return out
}

func sameBits(t tester, what string, a, b []float64) {
	t.Helper()
	for i := range a {
		if math.Float64bits(a[i]) != math.Float64bits(b[i]) {
			t.Fatalf("%s: value %d is %v and then %v", what, i, a[i], b[i])
		}
	}
}

// grid returns n×m positions over ±wheel and ±rack.
func grid(n, m int, wheel, rack float64) []kin.Position {
	var out []kin.Position
	for _, w := range kintest.Line(n, wheel, 0) {
		for _, r := range kintest.Line(m, 0, rack) {
			out = append(out, kin.Position{Wheel: w.Wheel, Rack: r.Rack})
		}
	}
	return out
}

// TestRerunsAreIdentical: a second run, a run after another design, after errors of parts, and a run in a poisoned
// state give the same bits.
func TestRerunsAreIdentical(t *testing.T) {
	forEvery(t, func(t *rapid.T, l *kin.Linkage) {
		c := newCorner(t, l)
		var sweeps []*kin.Sweep
		var first [][]float64
		for _, m := range motions() {
			sweeps = append(sweeps, c.prog.NewSweep(kin.NewMotion("any", m.wheels, m.rolls, m.at), c.bothSides()))
			first = append(first, c.values(sweeps[len(sweeps)-1]))
		}
		check := func(what string) {
			t.Helper()
			for i := range sweeps {
				i = (i + 2) % len(sweeps) // in another order
				sameBits(t, what, first[i], c.values(sweeps[i]))
			}
		}
		check("rerun")

		other := c.prog.Points()
		for i := range other {
			other[i].Z += 1.5 * math.Sin(float64(i))
		}
		sw := c.prog.NewSweep(kin.NewMotion("other", kin.BothWheels, false, kintest.Line(3, 20, 0)), c.bothSides())
		if f := c.s.SetDesign(other); f.Status == kin.OK {
			c.s.Run(sw, make([]float64, sw.Size()))
		}
		c.s.SetDesign(c.prog.Points())
		check("after another design")

		errors := make([]r3.Vec, len(c.prog.PartPoints()))
		for i := range errors {
			errors[i].X = 0.3 * math.Sin(float64(i))
		}
		if f := c.s.SetBuild(errors); f.Status == kin.OK {
			c.s.Run(sw, make([]float64, sw.Size()))
		}
		c.s.SetDesign(c.prog.Points())
		check("after errors of parts")

		c.s.Poison()
		if f := c.s.SetDesign(c.prog.Points()); f.Status != kin.OK {
			t.Fatalf("poisoned design: %s", c.prog.Describe(f))
		}
		check("poisoned")
		c.s.Poison()
		c.s.SetDesign(c.prog.Points())
		for _, name := range []string{"camber", "contact_y", "wheel_travel"} { // what needs little leaves much unset
			c.run(grid(2, 2, 20, 8), name)
			c.tableOf(kin.BothWheels, true, []kin.Position{{Roll: 1 * deg}}, c.columns(name))
		}
		check("after less")
	})
}

// TestOrderDoesNotMatter: the order of positions, their number, and positions listed twice change nothing that
// could be measured.
func TestOrderDoesNotMatter(t *testing.T) {
	forEvery(t, func(t *rapid.T, l *kin.Linkage) {
		c := newCorner(t, l)
		cols := c.bothSides()
		seed := rapid.Uint64().Draw(t, "seed")
		for _, m := range pair(t) {
			want := c.tableOf(m.wheels, m.rolls, m.at, cols)
			order := rand.New(rand.NewPCG(seed, 0)).Perm(len(m.at))
			order = append(order, order[1], order[2], order[1])
			var mixed []kin.Position
			for _, i := range order {
				mixed = append(mixed, m.at[i])
			}
			got := c.tableOf(m.wheels, m.rolls, mixed, cols)
			for k, col := range cols {
				for j, i := range order {
					same(t, col, got[k][j], want[k][i])
				}
			}
			// Each alone, in one long step or what it takes.
			for i := 1; i < len(m.at); i += 6 {
				for k, v := range c.tableOf(m.wheels, m.rolls, m.at[i:i+1], cols) {
					same(t, cols[k], v[0], want[k][i])
				}
			}
		}
	})
}

// same allows what poses 1e-9 mm apart may differ by.
func same(t tester, col kin.Column, got, want float64) {
	t.Helper()
	if math.IsNaN(got) && math.IsNaN(want) {
		return
	}
	tol := 1e-9 * math.Max(1, math.Abs(want))
	switch {
	case col.Measure.Name == "ackermann":
		tol = 1e-6 // at a degree of lock the ideal difference is 2e-4 rad
	case far(col.Measure.Name):
		if math.Max(math.Abs(got), math.Abs(want)) > 1e5 || math.IsNaN(got) != math.IsNaN(want) {
			return // quotients of numbers that are nothing but rounding
		}
		tol = 1e-9 * math.Max(1, want*want) // quotients of small numbers
	}
	near(t, col.Name, got, want, tol)
}

// TestLongSteps: five positions over the range equal a fine sweep at the same places, in heave and in roll.
func TestLongSteps(t *testing.T) {
	forEvery(t, func(t *rapid.T, l *kin.Linkage) {
		c := newCorner(t, l)
		cols := c.bothSides()
		coarse, fine := c.run(kintest.Line(5, 42, 0)), c.run(kintest.Line(169, 42, 0))
		for k, col := range c.columns() {
			for i := range 5 {
				same(t, col, coarse[k][i], fine[k][42*i])
			}
		}
		lean := func(n int) (out []kin.Position) {
			for _, p := range kintest.Line(n, 1.8*deg, 0) {
				out = append(out, kin.Position{Wheel: 6, Roll: p.Wheel})
			}
			return out
		}
		coarse, fine = c.tableOf(kin.BothWheels, true, lean(3), cols), c.tableOf(kin.BothWheels, true, lean(41), cols)
		for k, col := range cols {
			for i := range 3 {
				same(t, col, coarse[k][i], fine[k][20*i])
			}
		}
	})
}

// TestRightIsLeftMirrored: the same linkage said to be drawn on the right, with mirrored positions, gives mirrored
// results to the bit.
func TestRightIsLeftMirrored(t *testing.T) {
	// The measures whose sign turns with the side of the car.
	flips := map[string]bool{"rack_travel": true, "steer_angle": true, "contact_y": true, "roll_centre_lateral": true, "body_roll": true, "roll_camber": true}
	forEvery(t, func(t *rapid.T, l *kin.Linkage) {
		left := newCorner(t, l)
		mirrored := *l
		mirrored.Right = true
		right := newCorner(t, &mirrored)
		var far []kin.Column // in the order of left.bothSides
		for _, col := range left.bothSides() {
			name := col.Name
			if col.Side == kin.Right {
				name = "left." + name[len("right."):]
			}
			far = append(far, right.columns(name)...)
		}
		for _, m := range pair(t) {
			other := motion{m.wheels, m.rolls, slices.Clone(m.at)}
			for i := range other.at {
				other.at[i].Rack, other.at[i].Roll = -m.at[i].Rack, -m.at[i].Roll
			}
			if m.wheels != kin.BothWheels {
				other.wheels = kin.LeftWheel + kin.RightWheel - m.wheels
			}
			a, b := left.tableOf(m.wheels, m.rolls, m.at, left.bothSides()), right.tableOf(other.wheels, other.rolls, other.at, far)
			for k, col := range left.bothSides() {
				sign := 1.
				if flips[col.Measure.Name] || col.Measure.Name == "axis_y" && left.member(col.Member).Across {
					sign = -1
				}
				for i := range m.at {
					if math.IsNaN(a[k][i]) && math.IsNaN(b[k][i]) {
						continue
					}
					near(t, col.Name, b[k][i], sign*a[k][i], 0)
				}
			}
		}
	})
}

// TestOppositeOfItself: a right side drawn point by point as the mirror image is the mirror image.
func TestOppositeOfItself(t *testing.T) {
	forEvery(t, func(t *rapid.T, l *kin.Linkage) {
		if l.Opposite != nil {
			return
		}
		drawn := *l
		drawn.Points, drawn.Opposite = slices.Clone(l.Points), nil
		for i, p := range l.Points {
			drawn.Opposite = append(drawn.Opposite, len(l.Points)+i)
			drawn.Points = append(drawn.Points, kin.Point{Name: "opposite." + p.Name, At: mirror(p.At)})
		}
		for range l.Points {
			drawn.Opposite = append(drawn.Opposite, -1)
		}
		c, d := newCorner(t, l), newCorner(t, &drawn)
		for _, m := range pair(t) {
			cols := c.bothSides()
			a, b := c.tableOf(m.wheels, m.rolls, m.at, cols), d.tableOf(m.wheels, m.rolls, m.at, d.bothSides())
			for k, col := range cols {
				for i := range m.at {
					same(t, col, b[k][i], a[k][i])
				}
			}
		}
	})
}

// TestBothSides: what the axle has of its two wheels is the same whichever of the two is asked, and the wheel on the
// other side, at the opposite rack, is the mirror image.
func TestBothSides(t *testing.T) {
	forEvery(t, func(t *rapid.T, l *kin.Linkage) {
		across := func(m kin.Member) bool { return m.Across && m.Kind == kin.Link }
		if l.Opposite != nil || slices.ContainsFunc(l.Members, across) || beam(l) {
			return
		}
		c := newCorner(t, l)
		p := drawPosition(t)
		q := p
		q.Rack = -p.Rack
		for _, col := range c.columns() {
			name := "right." + col.Name
			if _, err := c.prog.Column(name); err != nil {
				continue // across
			}
			if col.Measure.Name == "clearance" && c.lopsided(c.member(col.Member)) {
				continue
			}
			a, b := c.get(p.Wheel, p.Rack, col.Name), c.get(q.Wheel, q.Rack, name)
			switch col.Measure.Name {
			case "rack_travel", "steer_angle", "contact_y", "roll_centre_lateral":
				b = -b
			}
			same(t, col, b, a)
		}
	})
}

// lopsided tells whether a pair has a solid that exists once and is no mirror image of itself.
func (c *corner) lopsided(pair *kin.Member) bool {
	for _, of := range pair.Between {
		for _, t := range of {
			m := &c.link.Members[t.Member]
			if m.Across && m.Space.Shape != kin.Ground {
				return true
			}
		}
	}
	return false
}

// TestShiftOfTheCar: a shift of every point along x or z moves the contacts and nothing else.
func TestShiftOfTheCar(t *testing.T) {
	forEvery(t, func(t *rapid.T, l *kin.Linkage) {
		c := newCorner(t, l)
		shift := r3.Vec{X: rapid.Float64Range(-900, 900).Draw(t, "dx"), Z: rapid.Float64Range(-300, 300).Draw(t, "dz")}
		d := newCorner(t, moved(l, func(q r3.Vec) r3.Vec { return r3.Add(q, shift) }))
		for _, m := range pair(t) {
			cols := c.bothSides()
			a, b := c.tableOf(m.wheels, m.rolls, m.at, cols), d.tableOf(m.wheels, m.rolls, m.at, cols)
			for k, col := range cols {
				for i := range m.at {
					want := a[k][i]
					switch col.Measure.Name {
					case "contact_x":
						want += shift.X
					case "contact_z":
						want += shift.Z
					}
					same(t, col, b[k][i], want)
				}
			}
		}
	})
}

func moved(l *kin.Linkage, to func(r3.Vec) r3.Vec) *kin.Linkage {
	out := *l
	out.Points = slices.Clone(l.Points)
	for i := range out.Points {
		out.Points[i].At = to(out.Points[i].At)
	}
	return &out
}

// turnJoints turns the directions of joints as TestFrontToRear turns the points.
func turnJoints(l *kin.Linkage) *kin.Linkage {
	l.Members = slices.Clone(l.Members)
	for i := range l.Members {
		if b := l.Members[i].Bearing; b != nil {
			turned := *b
			turned.Bolt.X, turned.Housing.X = -b.Bolt.X, -b.Housing.X
			l.Members[i].Bearing = &turned
		}
	}
	return l
}

// TestFrontToRear: a car mirrored in a transverse plane does the same, but that front is rear: what points ahead points
// behind, and turns about all but the x axis go the other way.
func TestFrontToRear(t *testing.T) {
	flips := map[string]bool{"toe": true, "steer_angle": true, "caster": true, "caster_trail": true, "hub_trail": true, "contact_x": true,
		"contact_x_change": true, "bump_steer": true, "caster_gain": true, "contact_path_x": true, "side_view_swing_arm": true, "roll_steer": true,
		"anti_dive": true, "anti_lift_drive": true, "anti_lift_brake": true, "anti_squat": true, "angle": true, "twist": true, "axis_x": true}
	forEvery(t, func(t *rapid.T, l *kin.Linkage) {
		c := newCorner(t, l)
		back := moved(l, func(q r3.Vec) r3.Vec { q.X = -q.X; return q })
		back.Wheel.Toe, back.RackAxis.X = -l.Wheel.Toe, -l.RackAxis.X
		d := newCorner(t, turnJoints(back))
		for i := range l.Members {
			if b := l.Members[i].Bearing; b != nil && b.Auto() {
				v := kintest.FoundAxis(l, i)
				v.X = -v.X
				d.s.SetAxis(i, v)
			}
		}
		for _, m := range pair(t) {
			cols := c.bothSides()
			a, b := c.tableOf(m.wheels, m.rolls, m.at, cols), d.tableOf(m.wheels, m.rolls, m.at, cols)
			for k, col := range cols {
				if n := col.Measure.Name; n == "ackermann" || n == "turn_radius" {
					continue // the rear axle is behind in both
				}
				for i := range m.at {
					want := a[k][i]
					if flips[col.Measure.Name] {
						want = -want
					}
					same(t, col, b[k][i], want)
				}
			}
		}
	})
}

// TestSlantRack: the rack's end goes along its own axis, and the tie rod keeps its length to it.
func TestSlantRack(t *testing.T) {
	l := kintest.Pushrod()
	c := newCorner(t, l)
	straight := c.get(0, 10, "steer_angle")
	l.RackAxis = r3.Unit(r3.Vec{X: 0.02, Y: 1, Z: -0.03})
	d := newCorner(t, l)
	slant := d.get(0, 10, "steer_angle")
	if math.Abs(slant-straight) < 1e-4 {
		t.Errorf("a slant rack steers as a straight one does: %g", slant)
	}
	end := r3.Add(at(l, "rack_end"), r3.Scale(10, l.RackAxis))
	length := r3.Norm(r3.Sub(at(l, "rack_end"), at(l, "steering_arm")))
	near(t, "tie rod", r3.Norm(r3.Sub(end, d.carried(at(l, "steering_arm")))), length, 1e-9)
}

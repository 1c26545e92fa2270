package kin_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"trammel/kin"
	"trammel/kin/kintest"

	"gonum.org/v1/gonum/spatial/r3"
	"pgregory.net/rapid"
)

// table runs a motion with all columns, as one list.
func (c *corner) table(at []kin.Position) []float64 {
	c.t.Helper()
	return slices.Concat(c.run(at)...)
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

// TestRerunsAreIdentical: a second run, a run after another design, and a run in a poisoned state give the
// same bits.
func TestRerunsAreIdentical(t *testing.T) {
	forLayouts(t, func(t *rapid.T, l *kin.Linkage) {
		c := newCorner(t, l)
		at := grid(5, 3, 40, 20)
		first := c.table(at)
		sameBits(t, "rerun", first, c.table(at))

		other := c.prog.Points()
		for i := range other {
			other[i].Z += 3 * math.Sin(float64(i))
		}
		if f := c.s.SetDesign(other); f.Status == kin.OK {
			c.table(kintest.Line(3, 30, 0))
		}
		c.s.SetDesign(c.prog.Points())
		sameBits(t, "after another design", first, c.table(at))

		c.s.Poison()
		if f := c.s.SetDesign(c.prog.Points()); f.Status != kin.OK {
			t.Fatalf("poisoned design: %s", c.prog.Describe(f))
		}
		sameBits(t, "poisoned", first, c.table(at))
		c.s.Poison()
		c.s.SetDesign(c.prog.Points())
		for _, name := range []string{"camber", "contact_y", "wheel_travel"} { // what needs little leaves much unset
			c.table(at[:4])
			c.run(at, name)
		}
		sameBits(t, "after less", first, c.table(at))
	})
}

// TestOrderDoesNotMatter: the order of positions, their number, and positions listed twice change nothing that
// could be measured.
func TestOrderDoesNotMatter(t *testing.T) {
	forLayouts(t, func(t *rapid.T, l *kin.Linkage) {
		c := newCorner(t, l)
		at := grid(5, 5, 40, 16)
		want := c.run(at)
		order := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0)).Perm(len(at))
		mixed := make([]kin.Position, 0, len(at)+3)
		for _, i := range order {
			mixed = append(mixed, at[i])
		}
		mixed = append(mixed, mixed[1], mixed[2], mixed[1])
		got := c.run(mixed)
		cols := c.columns()
		for k, col := range cols {
			for j, i := range append(slices.Clone(order), order[1], order[2], order[1]) {
				same(t, col, got[k][j], want[k][i])
			}
		}
		// Each alone, in one long step or what it takes.
		for i := 0; i < len(at); i += 4 {
			for k, v := range c.one(at[i].Wheel, at[i].Rack) {
				same(t, cols[k], v, want[k][i])
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
	case far(col.Measure.Name) || col.Measure.Name == "roll_centre_height":
		tol = 1e-9 * math.Max(1, want*want) // quotients of small numbers
	}
	near(t, col.Name, got, want, tol)
}

// TestLongSteps: five positions over the range equal a fine sweep at the same places.
func TestLongSteps(t *testing.T) {
	forLayouts(t, func(t *rapid.T, l *kin.Linkage) {
		c := newCorner(t, l)
		cols := c.columns()
		coarse, fine := c.run(kintest.Line(5, 42, 0)), c.run(kintest.Line(169, 42, 0))
		for k, col := range cols {
			for i := range 5 {
				same(t, col, coarse[k][i], fine[k][42*i])
			}
		}
	})
}

// flips are the measures whose sign turns with the side of the car.
var flips = map[string]bool{"rack_travel": true, "steer_angle": true, "contact_y": true, "roll_centre_lateral": true}

// TestRightIsLeftMirrored: the same linkage said to be drawn on the right, at mirrored rack travel, gives
// mirrored results.
func TestRightIsLeftMirrored(t *testing.T) {
	forLayouts(t, func(t *rapid.T, l *kin.Linkage) {
		left := newCorner(t, l)
		mirrored := *l
		mirrored.Right = true
		right := newCorner(t, &mirrored)
		at := grid(3, 3, 30, 12)
		other := slices.Clone(at)
		for i := range other {
			other[i].Rack = -other[i].Rack
		}
		a, b := left.run(at), right.run(other)
		for k, col := range left.columns() {
			sign := 1.
			if flips[col.Measure.Name] {
				sign = -1
			}
			for i := range at {
				if math.IsNaN(a[k][i]) && math.IsNaN(b[k][i]) {
					continue
				}
				near(t, col.Name, b[k][i], sign*a[k][i], 0)
				if col.Measure.Name == "rack_travel" && (b[k][i] != other[i].Rack || math.Signbit(b[k][i]) != (other[i].Rack < 0)) {
					t.Errorf("rack_travel of a right side at %g is %g", other[i].Rack, b[k][i])
				}
			}
		}
	})
}

// TestBothSides: the wheel on the other side, at the mirrored rack, is the same corner at the opposite rack
// travel: what measures of the axle see of it does not depend on which of the two is asked.
func TestBothSides(t *testing.T) {
	forLayouts(t, func(t *rapid.T, l *kin.Linkage) {
		l.Vehicle.Wheelbase = 2400
		c := newCorner(t, l)
		names := []string{"roll_centre_height", "roll_centre_lateral"}
		if l.Members[0].Kind != kin.Link {
			names = append(names, "ackermann", "turn_radius")
		}
		p := drawPosition(t)
		a, b := c.one(p.Wheel, p.Rack, names...), c.one(p.Wheel, -p.Rack, names...)
		b[1] = -b[1]
		for k, col := range c.columns(names...) {
			same(t, col, a[k], b[k])
		}
	})
}

// TestShiftOfTheCar: a shift of every point along x or z moves the contact and nothing else.
func TestShiftOfTheCar(t *testing.T) {
	forLayouts(t, func(t *rapid.T, l *kin.Linkage) {
		c := newCorner(t, l)
		shift := r3.Vec{X: rapid.Float64Range(-900, 900).Draw(t, "dx"), Z: rapid.Float64Range(-300, 300).Draw(t, "dz")}
		moved := *l
		moved.Points = slices.Clone(l.Points)
		for i := range moved.Points {
			moved.Points[i].At = r3.Add(moved.Points[i].At, shift)
		}
		d := newCorner(t, &moved)
		at := grid(3, 3, 40, 16)
		a, b := c.run(at), d.run(at)
		for k, col := range c.columns() {
			for i := range at {
				want := a[k][i]
				switch col.Name {
				case "contact_x":
					want += shift.X
				case "contact_z":
					want += shift.Z
				}
				same(t, col, b[k][i], want)
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

func TestNoAllocations(t *testing.T) {
	for _, layout := range kintest.Layouts() {
		prog, err := kin.Compile(layout.Link)
		if err != nil {
			t.Fatal(err)
		}
		s, points := prog.NewState(), prog.Points()
		for _, cols := range [][]kin.Column{nil, prog.Columns()} {
			for _, at := range [][]kin.Position{kintest.Line(41, 40, 0), grid(5, 5, 30, 10)} {
				sw := prog.NewSweep(kin.NewMotion("any", kin.BothWheels, false, at), cols)
				out := make([]float64, sw.Size())
				n := testing.AllocsPerRun(5, func() {
					if f := s.SetDesign(points); f.Status != kin.OK {
						panic(prog.Describe(f))
					}
					if _, f := s.Run(sw, out); f.Status != kin.OK {
						panic(prog.Describe(f))
					}
				})
				if n != 0 {
					t.Errorf("%s, %d columns: %g allocations per run", layout.Name, len(cols), n)
				}
			}
		}
	}
}

// TestMeasureTable walks the table: what validation, help and columns take from it must be there.
func TestMeasureTable(t *testing.T) {
	names := map[string]bool{}
	for _, m := range kin.Measures() {
		if names[m.Name] {
			t.Errorf("%s stands twice in the table", m.Name)
		}
		names[m.Name] = true
		if m.Name != strings.ToLower(m.Name) || strings.ContainsAny(m.Name, " .-") {
			t.Errorf("%s is no lower_snake name", m.Name)
		}
		if m.Line == "" || strings.HasSuffix(m.Line, ".") || m.Line[:1] != strings.ToLower(m.Line[:1]) {
			t.Errorf("%s: the line %q should be a phrase without capital and full stop", m.Name, m.Line)
		}
		if !strings.HasSuffix(m.Long, ".") || m.Long[:1] != strings.ToUpper(m.Long[:1]) || len(strings.Fields(m.Long)) < 5 {
			t.Errorf("%s: the definition %q should be sentences", m.Name, m.Long)
		}
		if !(m.Scale > 0) {
			t.Errorf("%s has no scale", m.Name)
		}
		_ = m.Unit.String()
		if got, ok := kin.LookupMeasure(m.Name); !ok || got.Name != m.Name {
			t.Errorf("%s is not found by its name", m.Name)
		}
		if want := m.Name + m.Unit.Suffix(); m.Column("") != want || m.Column("x") != "x_"+want {
			t.Errorf("%s is the column %s", m.Name, m.Column(""))
		}
	}
	for _, layout := range kintest.Layouts() {
		prog, err := kin.Compile(layout.Link)
		if err != nil {
			t.Fatal(err)
		}
		columns := map[string]bool{}
		for _, c := range prog.Columns() {
			name := c.Measure.Column(c.Member)
			if columns[name] {
				t.Errorf("%s: two columns are called %s", layout.Name, name)
			}
			columns[name] = true
			if again, err := prog.Column(c.Name); err != nil || again != c {
				t.Errorf("%s: %s leads to another column", layout.Name, c.Name)
			}
		}
	}
}

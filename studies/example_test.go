package studies

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"trammel/kin"
	"trammel/studies/record"
)

// TestExamplesAreSensible holds the example to what a chassis engineer would call sensible for a light
// single-seater's front axle (common practice, no source).
func TestExamplesAreSensible(t *testing.T) {
	ranges := []struct {
		measure  string
		from, to float64
	}{
		{"caster", 4, 6}, {"kingpin_inclination", 8, 10}, {"caster_trail", 10, 30}, {"kingpin_offset", 5, 30},
		{"roll_centre_height", 30, 60}, {"damper.installation_ratio", 0.5, 0.9},
	}
	for _, x := range Examples() {
		st, err := ReadExample(x.Name)
		if err != nil {
			t.Fatal(err)
		}
		m, err := newMover(st.Geometry)
		if err != nil {
			t.Fatal(err)
		}
		c := &check{mover: m}
		for _, r := range ranges {
			if v := c.at(r.measure)[0]; !(v >= r.from && v <= r.to) {
				t.Errorf("%s: %s is %g at design; want %g to %g", x.Name, r.measure, v, r.from, r.to)
			}
		}
	}
}

// TestExamplesSayTheCaution: a file that someone could build from says what it is not.
func TestExamplesSayTheCaution(t *testing.T) {
	for _, x := range Examples() {
		for _, name := range x.Files() {
			text, err := x.Text(name)
			if err != nil {
				t.Fatal(err)
			}
			flat := strings.Join(strings.Fields(strings.ReplaceAll(string(text), "\n#", " ")), " ")
			for _, want := range []string{"no proof of strength", "qualified engineer", "local rules", "kinematics"} {
				if !strings.Contains(flat, want) {
					t.Errorf("%s does not say %q", name, want)
				}
			}
		}
	}
}

// TestInchesGiveTheSame: the inch file is the same car on other axes, so every measure agrees within what
// rounding its points to 0.0001 in (at most 0.00127 mm each way) can do: a few hundredths of a mm at
// the end of long instant levers, a few thousandths of a degree.
func TestInchesGiveTheSame(t *testing.T) {
	table := func(name string) *Table {
		st, err := ReadExample(name)
		if err != nil {
			t.Fatal(err)
		}
		tb, err := Cycle(st.Geometry, CycleOptions{})
		if err != nil {
			t.Fatal(err)
		}
		return tb
	}
	mm, in := table("corncrake"), table("corncrake-inch")
	if mm.Rows.Len() != 62 || in.Rows.Len() != 62 {
		t.Fatalf("%d and %d rows; want 41 + 21 of both", mm.Rows.Len(), in.Rows.Len())
	}
	within := map[string]float64{"": 1e-4, "mm": 0.05, "deg": 0.003, "deg/mm": 1e-5, "1/mm": 1e-5, "%": 0.1}
	for c, col := range mm.Schema.Columns {
		if col.Type == record.Text {
			continue
		}
		for r := range mm.Rows.Len() {
			a, okA := mm.Rows.FloatAt(c, r)
			b, okB := in.Rows.FloatAt(c, r)
			least := within[col.Unit]
			if col.Name == "turn_radius_mm" {
				least = 0.01 * math.Abs(a) // a length over the sine of a small angle
			}
			if okA != okB || math.Abs(a-b) > least {
				t.Errorf("%s row %d: %g (%v) in mm and %g (%v) in inches", col.Name, r, a, okA, b, okB)
			}
		}
	}
}

// TestBothExamplesMissEverythingAtDesign and break no limit: there is something to mend.
func TestBothExamplesMissEverythingAtDesign(t *testing.T) {
	for _, x := range Examples() {
		f, err := ReadExample(x.Name)
		if err != nil {
			t.Fatal(err)
		}
		st, err := Bind(f)
		if err != nil {
			t.Fatal(err)
		}
		if st.start == nil {
			t.Fatalf("%s does not go through its motions at design", x.Name)
		}
		o := st.Objective
		res := o.NewResult()
		o.Evaluate(st.start, st.start, make([]float64, len(o.R)), make([]float64, len(o.G)), res)
		if n := len(f.Targets); n < 5 || n > 7 {
			t.Errorf("%s has %d targets; want 5 to 7", x.Name, n)
		}
		for i := range res.Targets {
			if res.Targets[i].Met {
				t.Errorf("%s: %s is met at design", x.Name, o.Targets[i].Name)
			}
		}
		if res.Violation != 0 {
			t.Errorf("%s breaks a limit at design: %g", x.Name, res.Violation)
		}
	}
}

func TestWriteExample(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new", "car")
	study, err := WriteExample(dir, "corncrake")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := ReadStudy(study); err != nil {
		t.Errorf("the written study does not read: %v", err)
	}
	if _, err := WriteExample(dir, "corncrake"); err != nil {
		t.Errorf("writing the same again: %v", err)
	}
	mine := []byte("mine\n")
	if err := os.WriteFile(study, mine, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := WriteExample(dir, "corncrake"); err == nil || !IsUsage(err) {
		t.Errorf("a changed file gives %v; want a usage error", err)
	}
	if text, _ := os.ReadFile(study); string(text) != string(mine) {
		t.Error("the changed file was overwritten")
	}
	if _, err := WriteExample(dir, "heron"); err == nil || !IsUsage(err) || !strings.Contains(err.Error(), "corncrake") {
		t.Errorf("an unknown example gives %v; want a usage error that lists the names", err)
	}
}

// TestSetEqualsMove: a coordinate set to a value and moved to the same value give the same table.
func TestSetEqualsMove(t *testing.T) {
	st, err := ReadExample("corncrake")
	if err != nil {
		t.Fatal(err)
	}
	g := st.Geometry
	table := func(text string, by bool) *Table {
		c, err := ParseChange(g, text, by)
		if err != nil {
			t.Fatal(err)
		}
		tb, err := Cycle(g, CycleOptions{Changes: []Change{c}, Measures: []string{"all"}})
		if err != nil {
			t.Fatal(err)
		}
		return tb
	}
	a, b := table("upper_ball.z=345", false), table("upper_ball.z=-5", true)
	plain, err := Cycle(g, CycleOptions{Measures: []string{"all"}})
	if err != nil {
		t.Fatal(err)
	}
	differs := false
	for c := range a.Schema.Columns {
		for r := range a.Rows.Len() {
			if a.Rows.Cell(c, r) != b.Rows.Cell(c, r) {
				t.Fatalf("%s row %d: %v set, %v moved", a.Schema.Columns[c].Name, r, a.Rows.Cell(c, r), b.Rows.Cell(c, r))
			}
			differs = differs || a.Rows.Cell(c, r) != plain.Rows.Cell(c, r)
		}
	}
	if !differs {
		t.Error("moving a point changes nothing")
	}
	if len(a.Schema.Columns) != len(kinColumns(t, g.Linkage())) { // the motion stands before them, and nothing rolls
		t.Errorf("all gives %d columns; the linkage has %d, of which body_roll stays away for the motion", len(a.Schema.Columns), len(kinColumns(t, g.Linkage())))
	}
}

func kinColumns(t *testing.T, l *kin.Linkage) []kin.Column {
	p, err := kin.Compile(l)
	if err != nil {
		t.Fatal(err)
	}
	return p.Columns()
}

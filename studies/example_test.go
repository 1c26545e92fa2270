package studies

import (
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"trammel/kin"
	"trammel/objectives"
	"trammel/studies/files"
	"trammel/studies/record"
)

// sensible holds what a chassis engineer would call ordinary at design, for every example (common practice, no source).
// What begins with "roll: " is taken in a motion in which the body rolls, at 0 deg.
var sensible = map[string][]struct {
	measure  string
	from, to float64
}{
	"corncrake": {
		{"caster", 4, 6}, {"kingpin_inclination", 8, 10}, {"caster_trail", 10, 30}, {"kingpin_offset", 5, 30}, {"roll_centre_height", 30, 60},
		{"camber_gain", -0.04, -0.01}, {"damper.installation_ratio", 0.5, 0.9}, {"pushrod.lever_angle", 70, 110},
	},
	"corncrake-rear": {
		{"roll_centre_height", 30, 80}, {"camber_gain", -0.045, -0.01}, {"bump_steer", -0.02, 0.02}, {"anti_squat", 0, 40}, {"anti_lift_brake", 0, 60},
		{"heave_spring.installation_ratio", 0.4, 0.9}, {"roll_damper.installation_ratio", -1e-9, 1e-9}, {"roll: roll_damper.installation_ratio", 0.1, 0.5},
		{"shaft.joint_angle_outer", 0, 8}, {"pushrod.lever_angle", 70, 110},
	},
	"dunlin": {
		{"caster", 3, 6}, {"kingpin_inclination", 9, 14}, {"caster_trail", 10, 30}, {"kingpin_offset", 5, 30}, {"roll_centre_height", 40, 110},
		{"camber_gain", -0.03, -0.005}, {"strut.installation_ratio", 0.9, 1}, {"drop_link.lever_angle", 75, 105}, {"anti_dive", -10, 30}, {"bump_steer", -0.01, 0.01},
	},
	"whinchat": {
		{"roll_centre_height", 60, 130}, {"camber_gain", -0.045, -0.01}, {"bump_steer", -0.01, 0.01}, {"anti_squat", 10, 80}, {"anti_lift_brake", 0, 80},
		{"damper.installation_ratio", 0.8, 1}, {"shaft.joint_angle_outer", 0, 8}, {"roll: roll_steer", -0.1, 0.1},
	},
	"wheatear": {
		{"roll_centre_height", 30, 100}, {"camber_gain", -0.045, -0.01}, {"bump_steer", -0.002, 0.002}, {"anti_squat", 0, 60}, {"damper.installation_ratio", 0.6, 0.9},
		{"damper.lever_angle", 60, 120}, {"shaft.joint_angle_outer", 0, 8},
	},
	"ptarmigan": {
		{"roll_centre_height", 100, 250}, {"camber_gain", -0.03, 0}, {"bump_steer", -0.01, 0.01}, {"anti_squat", -20, 80}, {"damper.installation_ratio", 0.5, 0.8},
		{"shaft.joint_angle_outer", 0, 8}, {"roll: roll_steer", -0.1, 0.1},
	},
	"dotterel": {
		{"roll: roll_centre_height", 250, 400}, {"anti_squat", 20, 120}, {"anti_lift_brake", 10, 100}, {"spring.installation_ratio", 0.95, 1.05}, {"damper.installation_ratio", 0.9, 1.05},
		{"roll: spring.installation_ratio", 0.5, 0.8}, {"roll: roll_steer", -0.15, 0.15}, {"bump_steer", -0.002, 0.002},
	},
	"pipit": {
		{"roll: roll_centre_height", 200, 350}, {"anti_squat", 20, 120}, {"damper.installation_ratio", 0.9, 1.05}, {"roll: damper.installation_ratio", 0.5, 0.8},
		{"roll: roll_steer", -0.15, 0.15}, {"bump_steer", -0.0001, 0.0001}, {"watt_upper.lever_angle", 80, 100}, {"watt_lower.lever_angle", 80, 100},
	},
	"twite": {
		{"caster", 4, 9}, {"kingpin_inclination", 6, 12}, {"caster_trail", 20, 80}, {"kingpin_offset", 30, 100}, {"roll: roll_centre_height", 350, 550},
		{"anti_dive", 0, 60}, {"spring.installation_ratio", 0.9, 1.05}, {"bump_steer", -0.015, 0.015}, {"shaft.joint_angle_outer", 0, 3},
	},
}

func TestExamplesAreSensible(t *testing.T) {
	sensible["corncrake-inch"] = sensible["corncrake"]
	for _, x := range Examples() {
		st, err := ReadExample(x.Name)
		if err != nil {
			t.Fatal(err)
		}
		if len(sensible[x.Name]) < 5 {
			t.Errorf("%s: say what is sensible of it", x.Name)
		}
		for _, r := range sensible[x.Name] {
			o := CycleOptions{Wheel: []float64{0}}
			name, rolls := strings.CutPrefix(r.measure, "roll: ")
			if rolls {
				o.Roll = []float64{0}
			}
			o.Measures = []string{name}
			tb, err := Cycle(st.Geometry, o)
			if err != nil {
				t.Errorf("%s: %s: %v", x.Name, r.measure, err)
				continue
			}
			if v, ok := tb.Rows.FloatAt(len(tb.Schema.Columns)-1, 0); !ok || v < r.from || v > r.to {
				t.Errorf("%s: %s is %g (%v) at design; want %g to %g", x.Name, r.measure, v, ok, r.from, r.to)
			}
		}
	}
}

// TestExamplesCloseBeyondTheirTravel: a fifth more of wheel travel and 5 deg of roll leave every example in one piece, and
// within its travel no damper, strut or strap is on its stop.
func TestExamplesCloseBeyondTheirTravel(t *testing.T) {
	for _, x := range Examples() {
		st, err := ReadExample(x.Name)
		if err != nil {
			t.Fatal(err)
		}
		g := st.Geometry
		u := g.Units
		ends := []float64{-u.ToMM(g.Travel.Droop), 0, u.ToMM(g.Travel.Bump)}
		far := []float64{1.2 * ends[0], 0, 1.2 * ends[2]}
		var rack []float64
		if g.Travel.Rack > 0 {
			rack = []float64{-u.ToMM(g.Travel.Rack), u.ToMM(g.Travel.Rack)}
		}
		for _, o := range []CycleOptions{
			{Wheel: far, Rack: rack}, {Wheel: far, Wheels: "left"}, {Wheel: far, Wheels: "right"}, {Roll: []float64{-5, 5}},
		} {
			if _, err := Cycle(g, o); err != nil {
				t.Errorf("%s: %v", x.Name, err)
			}
		}
		for _, wheels := range []string{"both", "left"} {
			tb, err := Cycle(g, CycleOptions{Wheel: ends, Wheels: wheels})
			if err != nil {
				t.Errorf("%s: %v", x.Name, err)
				continue
			}
			for _, note := range tb.Notes {
				if strings.Contains(note, "on its stop") {
					t.Errorf("%s: %s", x.Name, note)
				}
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

// TestExamplesHaveRoom: every example says what takes room, what must keep clear and which joints may tilt how far.
func TestExamplesHaveRoom(t *testing.T) {
	for _, x := range Examples() {
		f, err := ReadExample(x.Name)
		if err != nil {
			t.Fatal(err)
		}
		g := f.Geometry
		tubes := 0
		for i := range g.Members {
			if g.Members[i].Tube.Diameter > 0 {
				tubes++
			}
		}
		if tubes < 2 || len(g.Solids) < 1 || len(g.Clearances) < 2 || len(g.Joints) < 1 || g.Wheel.Tyre.Diameter == 0 || g.Wheel.Rim.Diameter == 0 {
			t.Errorf("%s has %d tubes, %d solids, %d clearances and %d joints, a tyre of %d and a rim of %d", x.Name, tubes, len(g.Solids), len(g.Clearances), len(g.Joints), g.Wheel.Tyre.Diameter, g.Wheel.Rim.Diameter)
		}
		for _, n := range g.Notes {
			if !strings.Contains(n.Message, "is used by no member") { // of a line in space, along which a study moves something
				t.Errorf("%s: %s", x.Name, n)
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

// clashes are what the examples break at design, of the faults that their studies mend; the others break nothing.
var clashes = map[string][]string{
	"corncrake-rear": {"arms_in_rim clearance", "pushrod_room clearance"},
	"dunlin":         {"tyre_room clearance", "drop_link_top tilt"},
	"whinchat":       {"damper_room clearance"},
}

// TestExamplesMissEverythingAtDesign and break no limit but those that their faults are about: there is something to mend.
func TestExamplesMissEverythingAtDesign(t *testing.T) {
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
		var broken []string
		for i := range res.Limits {
			if res.Limits[i].Over > objectives.Broken {
				broken = append(broken, o.Limits[i].Name)
			}
		}
		if !slices.Equal(broken, clashes[x.Name]) {
			t.Errorf("%s breaks %q at design; want %q", x.Name, broken, clashes[x.Name])
		}
	}
}

// TestExamplesImprove: a sixth of its own runs and local searches takes every study to less than a fifth of the design's score, within
// every limit and with half of its targets met. TestExampleFindsItsTargets runs the corncrake's front in full.
func TestExamplesImprove(t *testing.T) {
	for _, x := range Examples() {
		if strings.HasPrefix(x.Geometry, "corncrake-front") {
			continue
		}
		f, err := ReadExample(x.Name)
		if err != nil {
			t.Fatal(err)
		}
		f.Curves = files.Curves{Keep: files.KeepNone}
		for i := range f.Stages {
			f.Stages[i].Runs /= 6
			f.Stages[i].Locals /= 6
		}
		dir := filepath.Join(t.TempDir(), "runs")
		run(t, f, RunOptions{Dir: dir})
		a, err := OpenArchive(dir)
		if err != nil {
			t.Fatal(err)
		}
		ans, err := a.Rank()
		if err != nil {
			t.Fatal(err)
		}
		if !ans.AnyFeasible || ans.Design == nil {
			t.Fatalf("%s: nothing feasible, or the design does not assemble", x.Name)
		}
		best := &ans.Answers[0]
		if best.Score > 0.2*ans.Design.Score {
			t.Errorf("%s: the best score is %g where the design has %g", x.Name, best.Score, ans.Design.Score)
		}
		if met, missed := split(best.Targets); len(met) < len(missed) {
			t.Errorf("%s: the best run misses %v", x.Name, missed)
		}
		t.Logf("%s: score %g of %g", x.Name, best.Score, ans.Design.Score)
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

// TestRollLiftsOneWheel: in roll one wheel rises as the other falls, though no measure of the other is asked for.
func TestRollLiftsOneWheel(t *testing.T) {
	st, err := ReadExample("corncrake-rear")
	if err != nil {
		t.Fatal(err)
	}
	tb, err := Cycle(st.Geometry, CycleOptions{Roll: []float64{-2, 2}, Measures: []string{"camber"}})
	if err != nil {
		t.Fatal(err)
	}
	at := func(name string, row int) float64 {
		v, ok := tb.Rows.FloatAt(tb.Rows.Index(name), row)
		if !ok {
			t.Fatalf("%s has no value", name)
		}
		return v
	}
	for row := range 2 {
		own, other := at("wheel_travel_mm", row), at("right_wheel_travel_mm", 1-row)
		if math.Abs(own) < 20 || math.Abs(own-other) > 1e-9 {
			t.Errorf("row %d: the left wheel travels %g, and the right one %g where the body leans the other way", row, own, other)
		}
	}
}

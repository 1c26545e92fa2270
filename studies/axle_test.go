package studies

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"trammel/kin"
	"trammel/studies/files"
)

// geometryOf reads a geometry of the files package.
func geometryOf(t testing.TB, name string) *files.Geometry {
	t.Helper()
	return geometryFrom(t, goodFile(t, name))
}

func geometryFrom(t testing.TB, text string) *files.Geometry {
	t.Helper()
	g, err := files.ReadGeometry(func(string) ([]byte, error) { return []byte(text), nil }, "geometry.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// swapped replaces a text that must be there.
func swapped(t testing.TB, text string, pairs ...string) string {
	t.Helper()
	for i := 0; i+1 < len(pairs); i += 2 {
		if strings.Count(text, pairs[i]) != 1 {
			t.Fatalf("%q stands there %d times", pairs[i], strings.Count(text, pairs[i]))
		}
		text = strings.Replace(text, pairs[i], pairs[i+1], 1)
	}
	return text
}

// TestColumnNames: one rule for sides, members, sums and differences.
func TestColumnNames(t *testing.T) {
	prog, err := kin.Compile(geometryOf(t, "rockers.yaml").Linkage())
	if err != nil {
		t.Fatal(err)
	}
	for measure, want := range map[string]string{
		"camber":                             "camber_deg",
		"right.camber":                       "right_camber_deg",
		"left.damper.installation_ratio":     "left_damper_installation_ratio",
		"right.toe - left.toe":               "right_toe_minus_left_toe_deg",
		"damper.length + roll_damper.length": "damper_length_plus_roll_damper_length_mm",
		"centre_arm_1.angle":                 "centre_arm_1_angle_deg",
		"roll_steer":                         "roll_steer_deg_per_deg",
		"shaft.joint_angle_outer":            "shaft_joint_angle_outer_deg",
	} {
		c, err := prog.Column(measure)
		if err != nil {
			t.Errorf("%s: %v", measure, err)
		} else if got := columnOf(&c); got != want {
			t.Errorf("%s is column %s, want %s", measure, got, want)
		} else if says := meaningOf(&c); !strings.HasSuffix(says, ".") {
			t.Errorf("%s means %q", measure, says)
		}
	}
}

// TestColumnsCollide: a member whose measure would share a column with another is refused, not dropped.
func TestColumnsCollide(t *testing.T) {
	geometry := strings.ReplaceAll(text(t, "corncrake", "corncrake-front.yaml"), "  damper: ", "  right_damper: {damper: [damper_rocker, damper_frame], ends: [rocker, frame]}\n  damper: ")
	_, err := Cycle(geometryFrom(t, geometry), CycleOptions{Wheel: []float64{0}, Measures: []string{"right.damper.length", "right_damper.length"}})
	if want := "the column right_damper_length_mm would hold two things (right.damper.length and right_damper.length)"; err == nil || !IsUsage(err) || !strings.Contains(err.Error(), want) {
		t.Errorf("%v; want %q", err, want)
	}
}

// TestRollMirrors: what the left wheel does in roll to one side, the right one does in roll to the other (an axle that is
// its own mirror image), and the steering of the one is that of the other reversed.
func TestRollMirrors(t *testing.T) {
	g := geometryFrom(t, text(t, "corncrake", "corncrake-front.yaml"))
	tb, err := Cycle(g, CycleOptions{Roll: []float64{-2, -0.7, 0, 0.7, 2}, Rack: []float64{-9, 0, 9},
		Measures: []string{"camber_to_ground", "right.camber_to_ground", "steer_angle", "right.steer_angle", "damper.length", "right.damper.length"}})
	if err != nil {
		t.Fatal(err)
	}
	at := func(name string, row int) float64 {
		v, ok := tb.Rows.FloatAt(tb.Schema.Index(name), row)
		if !ok {
			t.Fatalf("no %s in row %d", name, row)
		}
		return v
	}
	n := tb.Rows.Len()
	if n != 15 {
		t.Fatalf("%d rows", n)
	}
	for r := range n {
		o := n - 1 - r // the grid is its own mirror image
		if at("body_roll_deg", r) != -at("body_roll_deg", o) || at("rack_travel_mm", r) != -at("rack_travel_mm", o) {
			t.Fatalf("rows %d and %d are not opposite", r, o)
		}
		for _, m := range []struct {
			left, right string
			sign        float64
		}{{"wheel_travel_mm", "right_wheel_travel_mm", 1}, {"camber_to_ground_deg", "right_camber_to_ground_deg", 1},
			{"steer_angle_deg", "right_steer_angle_deg", -1}, {"damper_length_mm", "right_damper_length_mm", 1}} {
			if a, b := at(m.left, r), at(m.right, o); math.Abs(a-m.sign*b) > 1e-8 {
				t.Errorf("row %d: %s %v, mirrored %v", r, m.left, a, b)
			}
		}
	}
	if at("wheel_travel_mm", 0) == at("right_wheel_travel_mm", 0) {
		t.Error("the wheels do the same in roll")
	}
}

// TestPlacesOfEachWay: a place is reached the way its motion moves, so that its values are those that cycle lists there,
// and the plain places begin with design.
func TestPlacesOfEachWay(t *testing.T) {
	st := bind(t, rolling, text(t, "corncrake", "corncrake-front.yaml"))
	e := st.NewEvaluator()
	p := st.Space.Design()
	if o := outcome(st, e, &p); o.Status.Failed() {
		t.Fatal(st.Program.Describe(e.failure))
	}
	g := st.File.Geometry
	for i, want := range []struct {
		options CycleOptions
		column  string
		way     way
	}{
		1: {CycleOptions{Roll: []float64{0}, Measures: []string{"roll_camber"}}, "roll_camber_deg_per_deg", way{rolls: true}},
		2: {CycleOptions{Roll: []float64{1}, Measures: []string{"roll_steer"}}, "roll_steer_deg_per_deg", way{rolls: true}},
		3: {CycleOptions{Wheel: []float64{10}, Wheels: "left", Measures: []string{"camber"}}, "camber_deg", way{wheels: kin.LeftWheel}},
	} {
		if want.column == "" {
			continue
		}
		tg := &st.Objective.Targets[i]
		m := st.sweeps[tg.Series.Sweep].Motion
		if m.Rolls != want.way.rolls || m.Wheels != want.way.wheels || len(tg.Series.Rows) != 1 {
			t.Errorf("%s is taken in %s at %v", tg.Name, m.Name, tg.Series.Rows)
		}
		tb, err := Cycle(g, want.options)
		if err != nil {
			t.Fatal(err)
		}
		v, ok := tb.Rows.FloatAt(tb.Schema.Index(want.column), 0)
		if got := e.values[tg.Series.Sweep][tg.Series.Offset+tg.Series.Rows[0]]; !ok || math.Abs(got-v) > 1e-10 {
			t.Errorf("%s: %v, by cycle %v", tg.Name, got, v)
		}
	}
	first := st.sweeps[st.places].Motion
	if first.Rolls || first.Wheels != kin.BothWheels || first.Positions[0] != (kin.Position{}) {
		t.Errorf("the places begin with %v of %s", first.Positions, first.Name)
	}
	names := map[string]bool{}
	for _, s := range st.sweeps {
		if names[s.Motion.Name] {
			t.Errorf("two sweeps are called %s", s.Motion.Name)
		}
		names[s.Motion.Name] = true
	}
}

// TestPartLengthsOnBothSides: a part's own limits hold on the side that the file does not draw, in every motion that takes
// it elsewhere. The expected extremes are those of cycle.
func TestPartLengthsOnBothSides(t *testing.T) {
	const head = "format: 1\nstudy: a test\ngeometry: geometry.yaml\nvary:\n  upper_ball.z: {by: 1}\ntargets:\n  camber: {measure: camber, place: {wheel_travel: 0}, value: -1, within: 1}\nmotions:\n"
	symmetric := text(t, "corncrake", "corncrake-front.yaml")
	apart := swapped(t, symmetric, "\nmembers:", "\nopposite:\n  damper_frame: [-4, -20, 438]\n\nmembers:")
	onUpright := swapped(t, symmetric, "ends: [rocker, frame], length", "ends: [upright, frame], length")
	for _, c := range []struct {
		name, geometry, motion string
		options                CycleOptions
		values                 int
	}{
		{"heave of mirror images", symmetric, "{wheel_travel: [-40, 40], positions: 5}", CycleOptions{Wheel: []float64{-40, -20, 0, 20, 40}}, 5},
		{"heave of two sides", apart, "{wheel_travel: [-40, 40], positions: 5}", CycleOptions{Wheel: []float64{-40, -20, 0, 20, 40}}, 10},
		{"roll to one side", symmetric, "{body_roll: [0, 3], positions: 3}", CycleOptions{Roll: []float64{0, 1.5, 3}}, 6},
		{"the right wheel", symmetric, "{wheel_travel: [0, 40], wheels: right, positions: 3}", CycleOptions{Wheel: []float64{0, 20, 40}, Wheels: "right"}, 6},
		{"both locks", onUpright, "{rack_travel: [-20, 20], positions: 3}", CycleOptions{Rack: []float64{-20, 0, 20}}, 3},
		{"both locks of a rack that lies askew", swapped(t, onUpright, "\nvehicle:", "\nrack: {axis: [0, 1, 0.2]}\nvehicle:"), "{rack_travel: [-20, 20], positions: 3}", CycleOptions{Rack: []float64{-20, 0, 20}}, 6},
		{"one lock", onUpright, "{rack_travel: [0, 20], positions: 3}", CycleOptions{Rack: []float64{0, 10, 20}}, 6},
	} {
		st := bind(t, head+"  moves: "+c.motion+"\n", c.geometry)
		if len(st.Objective.G) != c.values {
			t.Errorf("%s: the part's limit looks at %d values, want %d", c.name, len(st.Objective.G), c.values)
		}
		c.options.Measures = []string{"damper.length", "right.damper.length"}
		tb, err := Cycle(st.File.Geometry, c.options)
		if err != nil {
			t.Fatal(err)
		}
		over, nearest := math.Inf(-1), ""
		for r := range tb.Rows.Len() {
			for _, column := range []string{"damper_length_mm", "right_damper_length_mm"} {
				v, _ := tb.Rows.FloatAt(tb.Schema.Index(column), r)
				if by := max(v-288, 208-v); by > over { // the example's damper
					over, nearest = by, column
				}
			}
		}
		e := st.NewEvaluator()
		p := st.Space.Design()
		outcome(st, e, &p)
		says, _ := st.nearestOf(0, &e.result.Limits[0], e.values, e)
		if strings.HasPrefix(says, "right.damper.length ") != (nearest == "right_damper_length_mm") {
			t.Errorf("%s: the part's limit says %q", c.name, says)
		}
		if got := e.result.Limits[0].Over; math.Abs(got-over) > 1e-9 {
			t.Errorf("%s: the part's limit is passed by %v mm, by cycle %v", c.name, got, over)
		}
	}
}

// TestBindRefusesOneWheelInRoll: with its place and what would be right.
func TestBindRefusesOneWheelInRoll(t *testing.T) {
	study := swapped(t, rolling, "wheels: left, positions: 3}", "wheels: left, body_roll: 1, positions: 3}")
	_, err := Bind(read(t, study, text(t, "corncrake", "corncrake-front.yaml")))
	if err == nil || !IsUsage(err) || !strings.Contains(err.Error(), "study.yaml:6:3: left moves the left wheel alone and rolls the body") {
		t.Errorf("%v", err)
	}
}

// TestRollStopsInWords: a body that cannot roll so far is told how far it does, and a row says where it failed.
func TestRollStopsInWords(t *testing.T) {
	geometry := text(t, "corncrake", "corncrake-front.yaml")
	g := geometryFrom(t, geometry)
	_, err := Cycle(g, CycleOptions{Roll: []float64{-20, 0, 20}})
	if err == nil || !IsUsage(err) {
		t.Fatalf("%v; want a usage error", err)
	}
	var low, high float64
	_, tail, _ := strings.Cut(err.Error(), "the body rolls from ")
	if _, serr := fmt.Sscanf(tail, "%f to %f deg", &low, &high); serr != nil || low != -high || high < 3 {
		t.Fatalf("%v: %v to %v", err, low, high)
	}
	for roll, closes := range map[float64]bool{high: true, low: true, high + 0.03: false, low - 0.03: false} {
		steps := []float64{}
		for k := range 101 {
			steps = append(steps, roll*float64(k)/100)
		}
		if _, err := Cycle(g, CycleOptions{Roll: steps}); (err == nil) != closes {
			t.Errorf("roll to %v: %v", roll, err)
		}
	}
	f := read(t, swapped(t, rolling, "lean: {body_roll: [-2.5, 2.5]", "lean: {body_roll: [-20, 20]"), geometry)
	st := mustBind(t, f)
	columns, err := st.runLayout()
	if err != nil {
		t.Fatal(err)
	}
	e, p := st.NewEvaluator(), st.Space.Design()
	o := outcome(st, e, &p)
	tb := newTable(columns.schema)
	columns.fill(tb.Rows, 1, 1, 0, &p, &o, e)
	roll, ok := tb.Rows.FloatAt(colRoll, 0)
	if !o.Status.Failed() || !ok || math.Abs(roll) < high || math.Mod(roll, 10) != 0 {
		t.Errorf("%v at roll %v", o.Status, roll)
	}
}

// TestParseRoll: degrees, with the mistakes of lengths told in degrees.
func TestParseRoll(t *testing.T) {
	for text, want := range map[string][]float64{
		"2.5": {2.5}, "-3..3:3": {-3, 0, 3}, " 1 deg ": {1}, "0 deg..1:2": {0, 1}, "-1/2..1/2:3": {-0.5, 0, 0.5},
	} {
		if got, err := ParseRoll(text); err != nil || !slices.Equal(got, want) {
			t.Errorf("%q: %v, %v; want %v", text, got, err, want)
		}
	}
	for text, says := range map[string]string{
		"2,5": "decimal comma", "3 mm": "write degrees", "-3..3": "-3..3:41", "60": "turned over", "1:3": "-3..3:13", "x": "write degrees",
	} {
		if _, err := ParseRoll(text); err == nil || !IsUsage(err) || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v; want %q", text, err, says)
		}
	}
}

// TestCycleOneSide: where the sides differ a table says which one it lists, and not where they do not or a side was asked for.
func TestCycleOneSide(t *testing.T) {
	mirrored := geometryFrom(t, text(t, "corncrake", "corncrake-front.yaml"))
	right := geometryFrom(t, twin(text(t, "corncrake", "corncrake-front.yaml")))
	for _, c := range []struct {
		g       *files.Geometry
		options CycleOptions
		note    string
	}{
		{mirrored, CycleOptions{Wheel: []float64{5}}, ""},
		{mirrored, CycleOptions{Rack: []float64{5}, Measures: []string{"toe"}}, ""},
		{mirrored, CycleOptions{Roll: []float64{1}, Measures: []string{"toe"}}, "the table lists the left one; ask for the other with --measures right.toe"},
		{mirrored, CycleOptions{Roll: []float64{1}, Measures: []string{"toe", "right.toe"}}, ""},
		{mirrored, CycleOptions{Wheel: []float64{5}, Wheels: "left", Measures: []string{"damper.length"}}, "right.damper.length"},
		{mirrored, CycleOptions{Wheel: []float64{5}, Wheels: "right"}, ""},
		{right, CycleOptions{Wheel: []float64{5}, Wheels: "left"}, ""},
		{right, CycleOptions{Roll: []float64{1}}, "the table lists the right one; ask for the other with --measures left.camber"},
		{geometryOf(t, "beam.yaml"), CycleOptions{Wheel: []float64{5}, Measures: []string{"second_link.bind"}}, ""},
		{geometryOf(t, "beam.yaml"), CycleOptions{Wheel: []float64{5}}, "--measures right.toe"},
	} {
		tb, err := Cycle(c.g, c.options)
		if err != nil {
			t.Fatal(err)
		}
		notes := strings.Join(slices.DeleteFunc(tb.Notes, func(s string) bool { return strings.Contains(s, "on its stop") }), "; ")
		if (notes == "") != (c.note == "") || !strings.Contains(notes, c.note) {
			t.Errorf("%+v: %q, want %q", c.options, notes, c.note)
		}
	}
	tb, err := Cycle(right, CycleOptions{Wheel: []float64{5}, Wheels: "left"})
	if err != nil || tb.Schema.Index("left_camber_deg") < 0 || tb.Schema.Index("left_wheel_travel_mm") < 0 {
		t.Errorf("the wheel that moves is not listed (%v)", err)
	}
}

// TestCycleRefusesWheels: what no motion can be.
func TestCycleRefusesWheels(t *testing.T) {
	g := geometryOf(t, "front.yaml")
	for _, c := range []struct {
		options CycleOptions
		says    string
	}{
		{CycleOptions{Wheel: []float64{5}, Wheels: "port"}, "both, left or right"},
		{CycleOptions{Roll: []float64{1}, Wheels: "left"}, "in roll both wheels stay on the ground"},
	} {
		if _, err := Cycle(g, c.options); err == nil || !IsUsage(err) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%v; want %q", err, c.says)
		}
	}
}

// TestRefusalsAgree: a measure that a study file refuses for what the vehicle lacks is refused by the linkage, and the other way round.
func TestRefusalsAgree(t *testing.T) {
	base := geometryFrom(t, text(t, "corncrake", "corncrake-front.yaml"))
	for mask := range 32 {
		g := *base
		g.Vehicle = files.Vehicle{}
		if mask&1 != 0 {
			g.Vehicle.Wheelbase = 2_340_000
		}
		if mask&2 != 0 {
			g.Vehicle.CentreOfGravity = 300_000
		}
		if mask&4 != 0 {
			g.Vehicle.BrakeShare = 0.6
		}
		if mask&8 != 0 {
			g.Vehicle.DriveShare = 1
		}
		g.Vehicle.Rear = mask&16 != 0
		prog, err := kin.Compile(g.Linkage())
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range kin.Measures() {
			if m.Of != kin.OfCorner {
				continue
			}
			lacks := g.Lacks(m.Name)
			if _, err := prog.Column(m.Name); (err == nil) != (lacks == "") {
				t.Errorf("%s with %+v: the file says %q, the linkage %v", m.Name, g.Vehicle, lacks, err)
			}
		}
	}
}

// TestRefusedMeasureKeepsItsPlace: what only the linkage knows is said at the target's place.
func TestRefusedMeasureKeepsItsPlace(t *testing.T) {
	study := "format: 1\nstudy: a test\ngeometry: geometry.yaml\nvary:\n  pivot_inner.z: {by: 5}\ntargets:\n  caster: {measure: caster, place: {wheel_travel: 0}, value: 5, within: 1}\n"
	_, err := Bind(read(t, study, goodFile(t, "trailing.yaml")))
	if err == nil || !IsUsage(err) || !strings.Contains(err.Error(), "study.yaml:7:3: caster") || !strings.Contains(err.Error(), "needs a steering axis") {
		t.Errorf("%v", err)
	}
}

// TestBothSidesThroughRunAndExport: what is varied on the other side and across comes through the record into the exported
// geometry, which is read back as the same linkage.
func TestBothSidesThroughRunAndExport(t *testing.T) {
	f := read(t, sides+"stages:\n  - {plan: sobol, runs: 64}\n", goodFile(t, "rockers.yaml"))
	dir := t.TempDir() + "/night"
	run(t, f, RunOptions{Dir: dir})
	a := open(t, dir)
	g, err := a.Geometry(-1)
	if err != nil {
		t.Fatal(err)
	}
	n, p, err := a.point(-1)
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	if err := ExportGeometry(&b, g, "a test", "geometry"); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"\nopposite:", "\nacross:", "torsion_bar: [left.rocker, right.rocker]", "centre_arm: bar", "steering_axis: {hold: damper}", "axis: [0.02, -1, 0]", "brakes: inboard"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("run %d: the exported geometry lacks %q:\n%s", n, want, b.String())
		}
	}
	back := geometryFrom(t, b.String())
	// The exported geometry as it stands is the run: the varied numbers at their new design.
	e := a.Study.NewEvaluator()
	o := outcome(a.Study, e, p)
	own := *f
	own.Geometry, own.Vary = back, slices.Clone(f.Vary)
	for i := range own.Vary {
		if v := &own.Vary[i]; v.Kind == files.VaryCoordinate {
			v.DesignN = back.Points[back.Point(v.Points[0])].N[v.Axis-'x']
		}
	}
	st := mustBind(t, &own)
	design := st.Space.Design()
	if got := outcome(st, nil, &design); got.Status != o.Status || math.Abs(got.Score-o.Score) > 1e-9*(1+o.Score) || math.Abs(got.Violation-o.Violation) > 1e-9 {
		t.Errorf("run %d: %v, score %v, violation %v; its exported geometry %v, %v, %v", n, o.Status, o.Score, o.Violation, got.Status, got.Score, got.Violation)
	}
	if k := back.Point("opposite.damper_frame"); back.Points[k].N[2] != int64(math.Round(p.X[1]*1000)) || back.Points[k].N == f.Geometry.Points[k].N {
		t.Errorf("the point of the other side stands at %v, and its height was %v", back.Points[k].N, p.X[1])
	}
}

// TestCurvesOfBothSides: curves tell of the roll as it was asked, of the other wheel's travel, and of what else the study
// measures, and are those of cycle to the bit.
func TestCurvesOfBothSides(t *testing.T) {
	f := read(t, rolling+"stages:\n  - {plan: one-at-a-time, levels: 2}\n", text(t, "corncrake", "corncrake-front.yaml"))
	dir := t.TempDir() + "/night"
	run(t, f, RunOptions{Dir: dir})
	a := open(t, dir)
	tb, err := a.Curves([]int64{0})
	if err != nil {
		t.Fatal(err)
	}
	lean, err := Cycle(f.Geometry, CycleOptions{Roll: []float64{-2.5, -1.25, 0, 1.25, 2.5}, Measures: []string{"camber", "right.damper.progression", "right.toe - left.toe", "roll_camber"}})
	if err != nil {
		t.Fatal(err)
	}
	for c, col := range lean.Schema.Columns {
		at := tb.Schema.Index(col.Name)
		if at < 0 {
			t.Errorf("curves have no %s", col.Name)
			continue
		}
		for r := range lean.Rows.Len() {
			if got, want := tb.Rows.Cell(at, r), lean.Rows.Cell(c, r); got != want {
				t.Errorf("%s at position %d: %v, by cycle %v", col.Name, r+1, got, want)
			}
		}
	}
	if v, _ := tb.Rows.FloatAt(tb.Schema.Index("body_roll_deg"), 3); v != 1.25 {
		t.Errorf("the roll of position 4 is %v", v)
	}
	plain := mustBind(t, example(t)).curveLayout()
	for _, name := range []string{"body_roll_deg", "right_wheel_travel_mm"} {
		if plain.schema.Index(name) >= 0 {
			t.Errorf("curves of a study that neither rolls nor moves one wheel have %s", name)
		}
	}
	ans, err := a.Rank()
	if err != nil {
		t.Fatal(err)
	}
	for _, target := range ans.Answers[0].Targets {
		if target.Name == "lean" && !strings.Contains(target.Place, "roll ") || target.Name == "one wheel" && target.Place != "left wheel 10 mm" {
			t.Errorf("%s is farthest off at %q", target.Name, target.Place)
		}
	}
}

package studies

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"trammel/kin"
	"trammel/studies/files"
)

// checked returns the check of a geometry and what it says under Remarks.
func checked(t *testing.T, g *files.Geometry) (text, remarks string) {
	t.Helper()
	text, err := CheckGeometry(g)
	if text == "" {
		t.Fatal(err)
	}
	_, remarks, _ = strings.Cut(text, "\nRemarks:\n")
	return text, remarks
}

// TestCheckCountsFreedoms: what each member takes, by the count of its kind (a link 1, an arm, a strut 2, a ball joint 3, an
// H-arm 4, a hinge 5), and where the others stand.
func TestCheckCountsFreedoms(t *testing.T) {
	for name, want := range map[string][]string{
		"strut":             {"wishbone 2, leg 2 and tie_rod 1 hold 5 of the upright's 6; wheel travel takes the last", "Free in length: leg."},
		"h-arm":             {"plate 4 and upper_link 1 hold 5 of the upright's 6", "Carried along: crank and pushrod."},
		"trailing":          {"arm_rear 5 holds 5 of the upright's 6", "Looked at only: shaft.", "Free in length: coil."},
		"long-arm":          {"arm_joint 3, high_link 1 and low_link 1 hold 5"},
		"beam":              {"left.lower_link 1, right.lower_link 1, upper_link 1 and panhard 1 hold 4 of the axle's 6; the travel of its two wheels takes the rest", "On their bushes, with the bind measured: second_link.", "Looked at only: strap."},
		"torque-tube":       {"tube 3 and lower_watt 1 hold 4 of the axle's 6"},
		"steered-beam-inch": {"upper_arm 2, right.lower_link 1 and left.lower_link 1 hold 4 of the axle's 6", "Carried along: pin, tie_rod and drag_link."},
		"rockers":           {"lower_arm 2, upper_arm 2 and tie_rod 1 hold 5", "Twisted: bar.", "Carried along: pushrod, rocker and centre_arm_1."},
	} {
		text, _ := checked(t, geometryOf(t, name+".yaml"))
		for _, s := range want {
			if !strings.Contains(text, s) {
				t.Errorf("%s: the check does not say %q:\n%s", name, s, text)
			}
		}
	}
}

// TestCheckSaysTheSteeringAxis: from a strut's top and its arm's ball, and of a kingpin; the angles are arc tangents of the
// file's own coordinates.
func TestCheckSaysTheSteeringAxis(t *testing.T) {
	angle := func(a, b float64) string { return rounded(math.Atan2(a, b)*180/math.Pi, 1) }
	for name, want := range map[string]string{
		// top [-35, 490, 740] over arm_ball [0, 620, 140]
		"strut": "top is 35.0 mm behind and 130.0 mm inboard of arm_ball, 600.0 mm above it: caster " + angle(35, 600) + " deg, kingpin inclination " + angle(130, 600) + " deg.",
		// pin_high [-4.4, 24.5, 17] over pin_low [-4, 25.5, 9], x to the rear
		"steered-beam-inch": "pin_high is 0.40 in ahead of and 1.00 in inboard of pin_low, 8.00 in above it: caster " + angle(-0.4, 8) + " deg, kingpin inclination " + angle(1, 8) + " deg.",
	} {
		if text, _ := checked(t, geometryOf(t, name+".yaml")); !strings.Contains(text, want) {
			t.Errorf("%s: the check does not say %q:\n%s", name, want, text)
		}
	}
}

// TestCheckSaysTheBends: a shaft's joints at design, by the angle between its points and the two axes (arc cosine of the dot
// product; the wheel's axis from the declared camber and toe).
func TestCheckSaysTheBends(t *testing.T) {
	g := geometryOf(t, "rockers.yaml")
	at := func(name string) r3.Vec { return g.ToISO(g.Points[g.Point(name)].N) }
	shaft := r3.Unit(r3.Sub(at("shaft_outer"), at("shaft_inner")))
	bend := func(axis r3.Vec) string {
		return rounded(math.Acos(math.Abs(r3.Dot(shaft, r3.Unit(axis))))*180/math.Pi, 1)
	}
	camber, toe := g.Wheel.Camber*math.Pi/180, g.Wheel.Toe*math.Pi/180
	want := fmt.Sprintf("shaft is bent by %s deg at its inner joint and by %s deg at its outer one.",
		bend(r3.Vec{Y: 1, Z: 0.05}), bend(r3.Vec{X: math.Sin(toe) * math.Cos(camber), Y: math.Cos(toe) * math.Cos(camber), Z: -math.Sin(camber)}))
	if text, _ := checked(t, g); !strings.Contains(text, want) {
		t.Errorf("the check does not say %q:\n%s", want, text)
	}
}

// TestCheckSaysTheTies: bind of a soft link, twist of a bar and what ties the sides, with both wheels and with one, in the
// extremes that cycle lists.
func TestCheckSaysTheTies(t *testing.T) {
	extremes := func(g *files.Geometry, measure, column, wheels string, digits int) string {
		m, err := newMover(g)
		if err != nil {
			t.Fatal(err)
		}
		ms, err := m.motions(CycleOptions{})
		if err != nil {
			t.Fatal(err)
		}
		tb, err := Cycle(g, CycleOptions{Wheel: ms[0].wheel, Wheels: wheels, Measures: []string{measure}})
		if err != nil {
			t.Fatal(err)
		}
		least, most := math.Inf(1), math.Inf(-1)
		for r := range tb.Rows.Len() {
			v, _ := tb.Rows.FloatAt(tb.Schema.Index(column), r)
			least, most = min(least, v), max(most, v)
		}
		unit := " deg"
		if digits == 1 {
			unit = " mm"
		}
		return fmt.Sprintf("  %s goes from %s%s to %s%s.", measure, rounded(least, digits), unit, rounded(most, digits), unit)
	}
	beam, rockers := geometryOf(t, "beam.yaml"), geometryOf(t, "rockers.yaml")
	for _, c := range []struct {
		g        *files.Geometry
		both, on string
	}{
		{beam, extremes(beam, "second_link.bind", "second_link_bind_mm", "both", 1), extremes(beam, "second_link.bind", "second_link_bind_mm", "left", 1)},
		{rockers, extremes(rockers, "bar.twist", "bar_twist_deg", "both", 2), extremes(rockers, "bar.twist", "bar_twist_deg", "left", 2)},
	} {
		text, _ := checked(t, c.g)
		before, after, ok := strings.Cut(text, "With the left wheel alone over the same travel:\n")
		if !ok || !strings.Contains(before, c.both) || !strings.HasPrefix(after, c.on) || c.both == c.on {
			t.Errorf("the check does not say %q and with one wheel %q:\n%s", c.both, c.on, text)
		}
	}
	// Rockers about the car's length turn against each other in heave, so that the middle of their bar stands still.
	text, _ := checked(t, rockers)
	if want := "heave_spring is 211.0 mm long; for each unit of bump it keeps its length with both wheels, and shortens by"; !strings.Contains(text, want) {
		t.Errorf("the check does not say %q:\n%s", want, text)
	}
}

// TestCheckSaysTheRollCentreOfAnAxle: it shows in roll alone, and is that which cycle lists there.
func TestCheckSaysTheRollCentreOfAnAxle(t *testing.T) {
	g := geometryOf(t, "beam.yaml")
	tb, err := Cycle(g, CycleOptions{Roll: []float64{0}, Measures: []string{"roll_centre_height"}})
	if err != nil {
		t.Fatal(err)
	}
	height, _ := tb.Rows.FloatAt(tb.Schema.Index("roll_centre_height_mm"), 0)
	text, _ := checked(t, g)
	if want := "The roll centre stands " + rounded(height, 1) + " mm above the ground."; height <= 0 || !strings.Contains(text, want) {
		t.Errorf("the check does not say %q:\n%s", want, text)
	}
}

// TestRemarksOnAxles: each slip gets its remark; the files as they are get none but those on the bar whose ends are apart.
func TestRemarksOnAxles(t *testing.T) {
	coaxial := swapped(t, goodFile(t, "rockers.yaml"), "rocker_front:", "rocker_in:", "rocker_rear:", "rocker_out:", "[rocker_front, rocker_rear]", "[rocker_in, rocker_out]")
	for _, line := range strings.Split(coaxial, "\n") {
		switch {
		case strings.HasPrefix(line, "  rocker_in:"):
			coaxial = strings.Replace(coaxial, line, "  rocker_in: [45, 180, 440]", 1)
		case strings.HasPrefix(line, "  rocker_out:"):
			coaxial = strings.Replace(coaxial, line, "  rocker_out: [45, 260, 440]", 1)
		}
	}
	bent := strings.Replace(coaxial, "rocker_out: [45, 260, 440]", "rocker_out: [45, 260, 440.5]", 1)
	strut := goodFile(t, "strut.yaml")
	for _, c := range []struct{ name, geometry, want string }{
		{"strut", swapped(t, strut, "steering_axis: {hold: leg}\n", ""), ""},
		{"strut that holds its leg", strut, "holding leg changes nothing, because two joints show the steering axis"},
		{"trailing", goodFile(t, "trailing.yaml"), ""},
		{"long arm", goodFile(t, "long-arm.yaml"), ""},
		{"H-arm whose damper lies along its crank", goodFile(t, "h-arm.yaml"), "damper comes within 0.3 deg of pointing at the axis of crank, at wheel_travel +30 mm"},
		{"beam", goodFile(t, "beam.yaml"), ""},
		{"torque tube", goodFile(t, "torque-tube.yaml"), ""},
		{"longitudinal rockers", goodFile(t, "rockers.yaml"), "bar joins left.rocker and right.rocker, which do not turn about one line: the axis of right.rocker passes 48"},
		{"rockers on one line", coaxial, ""},
		{"rockers a little off", bent, "which do not turn about one line"},
		{"strut on its head", swapped(t, strut, "[top, foot]", "[foot, top]"), "leg has its top, foot, below its foot, top"},
	} {
		g, err := files.ReadGeometry(func(string) ([]byte, error) { return []byte(c.geometry), nil }, "geometry.yaml")
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		text, err := CheckGeometry(g)
		if text == "" {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		_, remarks, _ := strings.Cut(text, "\nRemarks:\n")
		var others []string
		for _, line := range strings.Split(remarks, "\n") {
			if strings.HasPrefix(line, "  geometry.yaml:") && !strings.Contains(line, "is used by no member") && !strings.Contains(line, "is kept as") && (strings.Contains(line, "bar") || c.geometry != coaxial) {
				others = append(others, line)
			}
		}
		if c.want == "" && len(others) > 0 || c.want != "" && (len(others) == 0 || !strings.Contains(strings.Join(others, "\n"), c.want)) {
			t.Errorf("%s: %q; want %q", c.name, others, c.want)
		}
	}
}

// TestCheckSaysWhichMotionStops: a study whose design does not go through a motion is told so, with the closing range.
func TestCheckSaysWhichMotionStops(t *testing.T) {
	f := read(t, strings.Replace(rolling, "lean: {body_roll: [-2.5, 2.5]", "lean: {body_roll: [-20, 20]", 1), text(t, "corncrake", "corncrake-front.yaml"))
	text, err := CheckStudy(f)
	if err != nil {
		t.Fatal(err)
	}
	if want := "The design does not go through lean (study.yaml:5:3): at body_roll"; !strings.Contains(text, want) || !strings.Contains(text, "the body rolls from -") || strings.Contains(text, "does not go through left") {
		t.Errorf("the check does not say %q:\n%s", want, text)
	}
}

// TestCheckSaysWhyThereIsNoValue: a target that has no value where it is asked for is told why; one that never can is
// refused.
func TestCheckSaysWhyThereIsNoValue(t *testing.T) {
	why := "no value; ackermann has none " + measureNamed(t, "ackermann").Null
	front := text(t, "corncrake", "corncrake-front.yaml")
	for place, said := range map[string]bool{"{rack_travel: 25}": false, "{rack_travel: 0}": true} {
		f := read(t, "format: 1\nstudy: a test\ngeometry: geometry.yaml\nvary:\n  upper_ball.z: {by: 5}\ntargets:\n  lock: {measure: ackermann, place: "+place+", value: 40, within: 5}\n", front)
		got, err := CheckStudy(f)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(got, why) != said {
			t.Errorf("the check of %s says %q: %v, want %v:\n%s", place, why, !said, said, got)
		}
	}
	const heave, lean = "{measure: roll_centre_height, place: {wheel_travel: 0}, ", "{measure: roll_centre_height, place: {body_roll: 0}, "
	study := strings.Replace(text(t, "pipit", "pipit-first-night.yaml"), "pipit-rear.yaml", "geometry.yaml", 1)
	f := read(t, swapped(t, study, lean, heave), text(t, "pipit", "pipit-rear.yaml"))
	if _, err := CheckStudy(f); err == nil || !IsUsage(err) || !strings.Contains(err.Error(), "roll_centre_height has a value only where the body rolls") {
		t.Errorf("%v", err)
	}
}

func measureNamed(t *testing.T, name string) *kin.Measure {
	t.Helper()
	m, ok := kin.LookupMeasure(name)
	if !ok {
		t.Fatalf("no measure %s", name)
	}
	return m
}

package studies

import (
	"bytes"
	"regexp"
	"strings"
	"testing"

	"trammel/studies/files"
)

// TestBindRefusesWhatHasNoValue: a measure that no position of its motion can have, and a rack that moves nothing, are
// refused at their line with what to write.
func TestBindRefusesWhatHasNoValue(t *testing.T) {
	front, beam := text(t, "corncrake", "corncrake-front.yaml"), goodFile(t, "beam.yaml")
	point := regexp.MustCompile(`(?m)^  (panhard\w*|\w*link\w*|\w+): *\[`).FindStringSubmatch(beam)[1]
	head := "format: 1\nstudy: a test\ngeometry: geometry.yaml\n"
	vary := "vary:\n  " + point + ".z: {by: 2}\n"
	const says = "roll_centre_height has a value only where the body rolls, for in heave a beam axle only shifts; ask it in a motion with body_roll, or at place: {body_roll: 0}"
	for _, c := range []struct{ name, study, geometry, says string }{
		{"axle at a place", head + vary + "targets:\n  centre: {measure: roll_centre_height, place: {wheel_travel: 0}, value: 300, within: 5}\n", beam, "study.yaml:7:3: " + says},
		{"axle in heave", head + vary + "targets:\n  centre: {measure: roll_centre_height, in: heave, even: true, within: 5}\n", beam, "study.yaml:7:3: " + says},
		{"axle at a roll", head + vary + "targets:\n  centre: {measure: roll_centre_height, place: {body_roll: 0}, value: 300, within: 5}\n", beam, ""},
		{"slope in heave", head + "vary:\n  upper_ball.z: {by: 5}\ntargets:\n  steer: {measure: roll_steer, in: heave, hold: 0, within: 1}\n", front, "study.yaml:7:3: roll_steer has a value only where the body rolls; ask"},
		{"sides at a place", head + "vary:\n  upper_ball.z: {by: 5}\ntargets:\n  centre: {measure: roll_centre_height, place: {wheel_travel: 0}, value: 40, within: 5}\n", front, ""},
		{"a rack that is not there", head + "motions:\n  lock: {rack_travel: [-10, 10], positions: 3}\n" + vary + "targets:\n  toe: {measure: toe, in: lock, even: true, within: 1}\n", beam, "study.yaml:5:3: lock moves the rack, and nothing is on the rack"},
		{"anti of an axle in roll", head + "motions:\n  lean: {body_roll: [-1, 1], positions: 3}\n" + vary + "targets:\n  squat: {measure: anti_squat, in: lean, even: true, within: 1}\n", beam, "study.yaml:9:3: anti_squat of a beam axle has a value only where both wheels travel alike"},
		{"one wheel", head + "motions:\n  kerb: {wheel_travel: [-1, 1], wheels: left, positions: 3}\nvary:\n  upper_ball.z: {by: 5}\ntargets:\n  centre: {measure: roll_centre_height, in: kerb, even: true, within: 1}\n", front, "roll_centre_height has no value where one wheel travels alone"},
		{"one measure twice", head + "vary:\n  upper_ball.z: {by: 5}\ntargets:\n  toe: {measure: toe - left.toe, in: heave, even: true, within: 1}\n", front, "toe - left.toe names one measure twice"},
	} {
		_, err := Bind(read(t, c.study, c.geometry))
		switch {
		case c.says == "" && err != nil:
			t.Errorf("%s: %v", c.name, err)
		case c.says != "" && (err == nil || !strings.Contains(err.Error(), c.says)):
			t.Errorf("%s: %v; want %s", c.name, err, c.says)
		}
	}
	if _, err := Cycle(geometryOf(t, "beam.yaml"), CycleOptions{Rack: []float64{5}}); err == nil || !strings.Contains(err.Error(), "--rack moves the rack, and nothing is on the rack") {
		t.Errorf("%v", err)
	}
}

// TestRackThatMovesNothing: travel of a rack on which nothing is gets a remark, and no motion is made of it.
func TestRackThatMovesNothing(t *testing.T) {
	g := geometryFrom(t, swapped(t, goodFile(t, "beam.yaml"), "{bump: 70, droop: 80}", "{bump: 70, droop: 80, rack: 20}"))
	if len(g.Notes) != 1 || !strings.Contains(g.Notes[0].String(), "travel: rack moves nothing, for no member has an end on the rack") {
		t.Errorf("%v", g.Notes)
	}
	tb, err := Cycle(g, CycleOptions{})
	if err != nil || tb.Rows.Len() != files.DefaultHeavePositions {
		t.Errorf("%v; %d rows, want those of heave alone", err, tb.Rows.Len())
	}
}

// TestCycleRefusesMeasures: names that are nearly right get the right one.
func TestCycleRefusesMeasures(t *testing.T) {
	g := geometryOf(t, "front.yaml")
	for _, c := range []struct{ name, says string }{
		{"toe - toe", "toe - toe names one measure twice; name two different ones, such as right.toe - left.toe"},
		{"left.body_roll", "body_roll exists once, for both sides; write body_roll"},
		{"right.roll_centre_height", "roll_centre_height exists once, for both sides; write roll_centre_height"},
		{"right.toe-left.toe", "needs a blank on both sides: right.toe - left.toe"},
		{"rigth.camber", "rigth.camber is no measure; write right.camber"},
		{"toe - tow", "tow is no measure; write toe"},
		{"all", "all stands alone"},
		{"motion_ratio", "motion_ratio is measured of a part; write damper.installation_ratio, which is damper shortening per wheel travel"},
		{"right.motion_ratio", "is measured of a part; write right.damper.installation_ratio, which"},
		{"misalignment", "misalignment is tilt here, a measure of a joint, and the geometry has none"},
	} {
		_, err := Cycle(g, CycleOptions{Wheel: []float64{5}, Measures: []string{"camber", c.name}})
		if err == nil || !IsUsage(err) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v; want %s", c.name, err, c.says)
		}
	}
}

// TestStopsOfWhatIsNotListed: a length beyond its stop is said whether or not it is a column, and a number is never
// minus nothing.
func TestStopsOfWhatIsNotListed(t *testing.T) {
	g := altered(t, "length: {min: 208, max: 288}", "length: {min: 208, max: 240}")
	for _, measures := range [][]string{{"camber"}, {"damper.length"}, nil} {
		tb, err := Cycle(g, CycleOptions{Measures: measures})
		if err != nil || !strings.Contains(strings.Join(tb.Notes, "\n"), "and the most that the geometry allows is 240 mm: it is on its stop") {
			t.Errorf("%v: %v, and no stop", measures, err)
		}
	}
	tb, err := Cycle(geometryOf(t, "beam.yaml"), CycleOptions{Wheel: []float64{-20, 0, 20}, Measures: []string{"all"}})
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := tb.Write(&b, FormatCSV); err != nil {
		t.Fatal(err)
	}
	if regexp.MustCompile(`(^|,)-0(,|\r)`).MatchString(b.String()) {
		t.Errorf("minus nothing in\n%s", b.String())
	}
}

// TestAlikeSides: sides that do the same are not said to differ, of whatever kind the axle and the motion are.
func TestAlikeSides(t *testing.T) {
	front := geometryFrom(t, text(t, "corncrake", "corncrake-front.yaml"))
	for _, o := range []CycleOptions{
		{Wheel: []float64{-20, 20}, Roll: []float64{0}, Measures: []string{"camber", "steer_angle", "contact_y", "roll_camber", "roll_steer"}},
		{Wheel: []float64{-20, 20}, Rack: []float64{10}, Measures: []string{"camber", "steer_angle", "damper.length"}},
	} {
		tb, err := Cycle(front, o)
		if err != nil || len(tb.Notes) != 0 {
			t.Errorf("%+v: %v, %q", o, err, tb.Notes)
		}
	}
	tb, err := Cycle(geometryOf(t, "torque-tube.yaml"), CycleOptions{Wheel: []float64{10}, Measures: []string{"contact_x"}})
	if err != nil {
		t.Fatal(err)
	}
	other, err := Cycle(geometryOf(t, "torque-tube.yaml"), CycleOptions{Wheel: []float64{10}, Measures: []string{"contact_x", "right.contact_x"}})
	if err != nil {
		t.Fatal(err)
	}
	a, _ := other.Rows.FloatAt(other.Schema.Index("contact_x_mm"), 0)
	b, _ := other.Rows.FloatAt(other.Schema.Index("right_contact_x_mm"), 0)
	if said := len(tb.Notes) > 0; said != (a-b > 1e-4 || b-a > 1e-4) {
		t.Errorf("left %v, right %v, and the notes are %q", a, b, tb.Notes)
	}
}

// TestOtherSideStops: where only the places of the other side keep it from closing, the sentence says that it is that side.
func TestOtherSideStops(t *testing.T) {
	for _, c := range []struct {
		opposite string
		travel   float64
		says     string
	}{
		{"upper_ball: [ -12, -300, 350]", 100, " on the other side of the car; the wheel closes from "},
		{"damper_frame: [ -4, -30, 438]", 300, "; the wheel closes from "},
	} {
		g := altered(t, "\nmembers:", "\nopposite: {"+c.opposite+"}\nmembers:")
		_, err := Cycle(g, CycleOptions{Wheel: []float64{-c.travel, 0, c.travel}, Measures: []string{"camber"}})
		if err == nil || !strings.Contains(err.Error(), c.says) || strings.Contains(err.Error(), "other side") != strings.Contains(c.says, "other side") {
			t.Errorf("%s: %v; want %s", c.opposite, err, c.says)
		}
	}
}

// TestExportFitsTheName: a geometry whose name is as long as a file allows is exported as one that can be read.
func TestExportFitsTheName(t *testing.T) {
	long := strings.Repeat("a long name ", 6) + "of 80"
	g := *altered(t)
	g.Name = long + ", run 20001234567890"
	var b bytes.Buffer
	if err := ExportGeometry(&b, &g, "what it is", "geometry"); err != nil {
		t.Fatal(err)
	}
	back, err := files.ReadGeometry(func(string) ([]byte, error) { return b.Bytes(), nil }, "again.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if n := len(back.Name); n < 79 || n > 80 || !strings.HasSuffix(back.Name, ", run 20001234567890") || !strings.HasPrefix(back.Name, "a long name a long") {
		t.Errorf("%q has %d letters", back.Name, n)
	}
}

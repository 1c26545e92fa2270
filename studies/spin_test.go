package studies

import (
	"regexp"
	"strings"
	"testing"
)

// TestBothEndsInRoll: a trailing link along the car between a frame and an axle, with bolts across the car at both ends. When the body rolls
// by φ either way, the bolts turn against each other about the link by 2φ, by hand, and each end has at least φ/2 to take. The study's check, its answer and
// cycle say so over motions that roll; the geometry's own travel does not.
func TestBothEndsInRoll(t *testing.T) {
	geometry := func(tilt string) string {
		g, _, _ := strings.Cut(edited(t, text(t, "dotterel", "dotterel-rear.yaml"), map[string]string{"lower_frame": "640, 150, 268", "lower_axle": "20, 150, 268"}), "\njoints:")
		return g + "\njoints:\n  lower_front: {rod_end: lower_link, at: lower_frame, bolt_axis: [0, 1, 0], tilt: " + tilt +
			"}\n  lower_back: {rod_end: lower_link, at: lower_axle, bolt_axis: [0, 1, 0], tilt: " + tilt + "}\n"
	}
	study := func(roll, tilt string) string {
		return "format: 1\nstudy: leaning\ngeometry: geometry.yaml\nmotions: {lean: {body_roll: [-" + roll + ", " + roll + "], positions: 9}}\nvary: {lower_frame.z: {by: 2}}\n" +
			"targets: {steer: {measure: roll_steer, place: {body_roll: 0}, value: 0, within: 0.1}}\nstages: [{plan: sobol, runs: 4}]\n"
	}
	says := regexp.MustCompile(`ver the study's motions lower_link spins as one, and cannot relieve lower_front and lower_back both: seen along it, their bolts turn against each other by 16\.[01] deg`)
	for _, c := range []struct {
		roll, tilt string
		want       bool
	}{{"8", "3", true}, {"8", "3.9", true}, {"8", "4.5", false}, {"5", "3", false}} {
		f := read(t, study(c.roll, c.tilt), geometry(c.tilt))
		check, err := CheckStudy(f)
		if err != nil {
			t.Fatal(err)
		}
		if got := says.MatchString(check); got != c.want || got && !strings.Contains(check, "geometry.yaml:") {
			t.Errorf("%+v: check says %v:\n%s", c, got, check)
		}
		if answer := ranked(t, f).Text(); says.MatchString(answer) != c.want {
			t.Errorf("%+v: the answer says %v:\n%s", c, !c.want, answer)
		}
	}
	// The check of a geometry moves the wheels against each other, which rolls the axle by itself.
	for tilt, want := range map[string]bool{"3": true, "14": false} {
		if alone, _ := checked(t, geometryFrom(t, geometry(tilt))); strings.Contains(alone, "spins as one") != want {
			t.Errorf("tilt %s, a warning should be there %v:\n%s", tilt, want, alone)
		}
	}
	// A bolt that leans out of the plane square to its link by itself, with none of the two turning, is said of the joint alone.
	leans := strings.NewReplacer("[ 640, 430, 322]", "[ 640, 430, 268]", "tilt: 14", "tilt: 3").Replace(text(t, "dotterel", "dotterel-rear.yaml"))
	leans = strings.Replace(leans, "\njoints:", "\njoints:\n  lower_back: {rod_end: lower_link, at: lower_axle, bolt_axis: [0, 1, 0], tilt: 3}", 1)
	tb, err := Cycle(geometryFrom(t, leans), CycleOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if alone := strings.Join(tb.Notes, "\n"); strings.Contains(alone, "lower_link spins as one") || !strings.Contains(alone, "lower_back.tilt goes up to 7.1") {
		t.Errorf("a leaning bolt:\n%s", alone)
	}
	for _, c := range []struct {
		roll float64
		want bool
	}{{8, true}, {5, false}} {
		tb, err := Cycle(geometryFrom(t, geometry("3")), CycleOptions{Roll: []float64{-c.roll, 0, c.roll}})
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(strings.Join(tb.Notes, "\n"), "lower_link spins as one"); got != c.want {
			t.Errorf("rolling by %g: %q", c.roll, tb.Notes)
		}
	}
}

package studies

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// twiteStudy is the study of the steered beam axle, whose drag link makes its sides differ, with other limits.
func twiteStudy(t *testing.T, limits string) string {
	t.Helper()
	study := text(t, "twite", "twite-first-night.yaml")
	head, _, _ := strings.Cut(study, "\nlimits:")
	return strings.Replace(head, "twite-front.yaml", "geometry.yaml", 1) + "\nlimits:\n" + limits
}

// TestOtherSide: a limit over a motion that looks at one side is remarked on where the other side is worse: that breaks it, or has less
// than half of the room. What the sides come to is what cycle lists.
func TestOtherSide(t *testing.T) {
	geometry := text(t, "twite", "twite-front.yaml")
	rack := make([]float64, 9)
	for i := range rack {
		rack[i] = -72 + 18*float64(i)
	}
	tb, err := Cycle(geometryFrom(t, geometry), CycleOptions{Rack: rack, Measures: []string{"shaft.joint_angle_outer", "right.shaft.joint_angle_outer"}})
	if err != nil {
		t.Fatal(err)
	}
	left, right := slices.Max(column(t, tb, "shaft_joint_angle_outer_deg")), slices.Max(column(t, tb, "right_shaft_joint_angle_outer_deg"))
	if right < left+3 {
		t.Fatalf("the shafts bend by %g and %g deg; the sides are to differ for the check to be one", left, right)
	}
	comes := fmt.Sprintf("where shaft.joint_angle_outer comes to %.4g deg at wheel_travel 0 mm with rack_travel -72 mm; in the same motion right.shaft.joint_angle_outer comes to %.4g deg at wheel_travel 0 mm with rack_travel -72 mm", left, right)
	between, near := (left+right)/2, right+(right-left)/2
	for _, c := range []struct{ limits, says string }{
		{fmt.Sprintf("  joint: {measure: shaft.joint_angle_outer, in: steer, max: %g}\n", near), comes + "; if it counts"},
		{fmt.Sprintf("  joint: {measure: shaft.joint_angle_outer, in: steer, max: %g}\n", between), comes + ", which breaks it; if it counts"},
		{"  joint: {measure: shaft.joint_angle_outer, in: steer, max: 60}\n", ""}, // room enough on both sides
		{fmt.Sprintf("  joint: {measure: shaft.joint_angle_outer, in: steer, max: %g}\n  other: {measure: right.shaft.joint_angle_outer, in: steer, max: 42}\n", near), ""},
		{fmt.Sprintf("  joint: {measure: left.shaft.joint_angle_outer, in: steer, max: %g}\n", near), ""},            // a side was asked for
		{fmt.Sprintf("  joint: {measure: shaft.joint_angle_outer, place: {rack_travel: -72}, max: %g}\n", near), ""}, // as at a place
		{"  lock: {measure: steer_angle, in: steer, max: 33}\n", ""},                                                 // the other wheel turns less or more by intent
		{"  centre: {measure: roll_centre_height, in: lean, max: 600}\n", ""},                                        // of the whole axle
		{"  joint: {measure: shaft.joint_angle_outer, in: steer, spread: 20}\n", "right.shaft.joint_angle_outer spreads over"},
	} {
		f := read(t, twiteStudy(t, c.limits), geometry)
		m, err := newMover(f.Geometry)
		if err != nil {
			t.Fatal(err)
		}
		says := fmt.Sprint((&check{mover: m}).sideRemarks(mustBind(t, f)))
		at := regexp.MustCompile(`study.yaml:(\d+):3: joint watches the left side of the car alone, (.*)`).FindStringSubmatch(says)
		switch {
		case c.says == "" && at == nil && !strings.Contains(says, "side of the car alone"):
		case c.says == "" || at == nil || !strings.Contains(at[2], c.says):
			t.Errorf("%s%q; want %q", c.limits, at, c.says)
		case at[1] != fmt.Sprint(f.Limits[0].Pos.Line):
			t.Errorf("line %s; the limit is in %d", at[1], f.Limits[0].Pos.Line)
		}
	}

	// A wheel that goes alone on the side that is not drawn.
	one := read(t, "format: 1\nstudy: a test\ngeometry: geometry.yaml\nmotions: {kerb: {wheel_travel: [-20, 20], wheels: right, positions: 5}}\nvary: {rack_end.z: {by: 5}}\n"+
		"targets: {bump: {measure: toe, in: kerb, hold: 0, within: 1}}\nlimits: {leverage: {measure: damper.length, in: kerb, max: 254}}\n", text(t, "corncrake", "corncrake-front.yaml"))
	if says, err := CheckStudy(one); err != nil || !strings.Contains(says, "in the same motion right.damper.length comes to ") {
		t.Errorf("%v:\n%s", err, says)
	}
}

// TestOtherSideOfTheAnswer: rank names a limit that the best geometry keeps on the side it looks at and breaks on the other.
func TestOtherSideOfTheAnswer(t *testing.T) {
	for _, c := range []struct {
		limits string
		want   bool
	}{
		{"  joint: {measure: shaft.joint_angle_outer, in: steer, max: 34}\n", true},
		{"  joint: {measure: shaft.joint_angle_outer, in: steer, max: 60}\n", false},
	} {
		ans := ranked(t, read(t, twiteStudy(t, c.limits)+"stages: [{plan: sobol, runs: 32}]\n", text(t, "twite", "twite-front.yaml")))
		if got := strings.Contains(ans.Text(), ": joint watches the left side of the car alone, "); got != c.want || ans.Answers[0].Status != "ok" {
			t.Errorf("%s%s", c.limits, ans.Text())
		}
	}
}

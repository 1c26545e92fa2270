package studies

import (
	"strings"
	"testing"

	"trammel/studies/files"
)

// TestCorners: check says how near solids come where wheel and rack travel at once. The arm's gap to the rim was worked out
// from the geometry by a model of its own (upright, arms and tie rod solved by a general root finder, the arm's tube sampled
// along its axis against the turned rectangle of the barrel): 18.557 mm on lock and 13.017 mm on lock in full bump.
func TestCorners(t *testing.T) {
	f, err := ReadExample("corncrake")
	if err != nil {
		t.Fatal(err)
	}
	says, err := CheckGeometry(f.Geometry)
	want := "  arm_in_wheel: 18.6 mm (10 mm or more), at wheel_travel 0 mm with rack_travel +32 mm; with both travels at once 13 mm, at wheel_travel +50 mm with rack_travel +32 mm.\n"
	if err != nil || !strings.Contains(says, want) {
		t.Errorf("check does not say %q (%v):\n%s", want, err, says)
	}
}

// TestBeyondMotions: rank says what the best geometry does not keep where the study did not look. With the rack at r the gap is
// 23 + r mm, by hand, so it is enough in a study that never steers and -7 mm at the rack's end, and a study that goes there
// is told that the limit blocks, and no more.
func TestBeyondMotions(t *testing.T) {
	study := func(motion string) *files.Study {
		return read(t, "format: 1\nstudy: room\ngeometry: geometry.yaml\nmotions:\n  go: "+motion+
			"\nvary:\n  steering_arm.z: {by: 1}\ntargets:\n  toe: {measure: toe, in: go, hold: 0, within: 1}\nstages: [{plan: sobol, runs: 4}]\n", besideBox)
	}
	for _, c := range []struct {
		motion string
		says   bool
	}{
		{"{wheel_travel: [-50, 50], positions: 3}", true},
		{"{wheel_travel: [-50, 50], rack_travel: [-30, 30], positions: [3, 3]}", false},
	} {
		ans := refined(t, study(c.motion))
		notes := strings.Join(ans.Notes, "\n")
		for _, want := range []string{"eye_to_box.clearance goes down to -7 mm", "{wheel_travel: [-50, 50], rack_travel: [-30, 30], positions: [5, 5]}"} {
			if strings.Contains(notes, want) != c.says {
				t.Errorf("%s: says %q: %v, not %v: %q", c.motion, want, !c.says, c.says, notes)
			}
		}
		if ans.AnyFeasible != c.says {
			t.Errorf("%s: feasible %v", c.motion, ans.AnyFeasible)
		}
	}
}

// TestRoomless: check names the members that take no room, for no gap to them is looked at. Of besideBox none has a tube; a ball
// on an arm stands for it.
func TestRoomless(t *testing.T) {
	for _, c := range []struct{ was, is, says string }{
		{"", "", "No room is drawn for lower_arm, upper_arm and tie_rod, so"},
		{"steering_arm], ends: [rack, upright]}", "steering_arm], ends: [rack, upright], tube: 20}", "No room is drawn for lower_arm and upper_arm, so"},
		{"  box: {box", "  nut: {ball: lower_ball, diameter: 20, on: lower_arm}\n  box: {box", "No room is drawn for upper_arm and tie_rod, so"},
	} {
		text := strings.Replace(besideBox, c.was, c.is, 1)
		if says, err := CheckGeometry(geometryFrom(t, text)); err != nil || !strings.Contains(says, c.says) {
			t.Errorf("check does not say %q (%v):\n%s", c.says, err, says)
		}
	}
}

// TestTwiceOnAxle: check says which solids an axle carries twice, for an axle is one body and its differential one thing.
func TestTwiceOnAxle(t *testing.T) {
	const says = "hub stands on the axle twice, as drawn and mirrored; write once: true on what is one thing"
	for _, c := range []struct {
		is   string
		says bool
	}{
		{"hub: {ball: wheel_centre, diameter: 90, on: axle}", true},
		{"hub: {ball: left.wheel_centre, diameter: 90, on: axle, once: true}", false},
		{"hub: {ball: wheel_centre, diameter: 90}", false},
	} {
		text := goodFile(t, "beam.yaml") + "solids:\n  " + c.is + "\nclearances:\n  belly: {between: [hub, ground]}\n"
		if got, err := CheckGeometry(geometryFrom(t, text)); err != nil || strings.Contains(got, says) != c.says {
			t.Errorf("%s: check says that it is there twice: %v (%v):\n%s", c.is, !c.says, err, got)
		}
	}
}

// TestMeasuredOf: every measure says what it is taken of.
func TestMeasuredOf(t *testing.T) {
	for name, want := range map[string]string{"clearance": "clearance", "tilt": "joint", "camber": "corner", "twist": "torsion_bar"} {
		says, err := MeasureText(name)
		if err != nil || !strings.Contains(says, "\n  of      "+want+"\n") {
			t.Errorf("%s is not of %s (%v):\n%s", name, want, err, says)
		}
	}
}

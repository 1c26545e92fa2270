package studies

import (
	"strings"
	"testing"
)

// parallelRocker is a corner of parallel arms in the plane across the car, whose pushrod turns a rocker; lengths by hand.
const parallelRocker = `format: 1
name: rocker
units: mm
axes: {x: forward, y: left, z: up}
side: left
points:
  lower_front:  [150, 300, 200]
  lower_rear:   [-150, 300, 200]
  lower_ball:   [0, 600, 200]
  upper_front:  [150, 300, 400]
  upper_rear:   [-150, 300, 400]
  upper_ball:   [0, 600, 400]
  rack_end:     [-100, 300, 300]
  steering_arm: [-100, 600, 300]
  wheel_centre: [0, 700, 300]
  foot:         [0, 560, 200]
  head:         [0, 420, 500]
  rocker_front: [40, 360, 480]
  rocker_rear:  [-40, 360, 480]
  damper_out:   [0, 280, 480]
  damper_in:    [0, 100, 480]
members:
  lower_arm: {arm: [lower_front, lower_rear], ball: lower_ball}
  upper_arm: {arm: [upper_front, upper_rear], ball: upper_ball}
  tie_rod:   {link: [rack_end, steering_arm], ends: [rack, upright]}
  push:      {link: [foot, head], ends: [lower_arm, rocker]}
  rocker:    {rocker: [rocker_front, rocker_rear]}
  damper:    {damper: [damper_out, damper_in], ends: [rocker, frame], length: {min: 100, max: 400}}
wheel: {centre: wheel_centre, loaded_radius: 300}
travel: {bump: 60, droop: 60}
`

// TestDeadCentreInWords: a damper that lies in line with its rocker's axis at design, all three at z = 480, neither shortens nor
// lengthens there; of a nothing it is not said that it lengthens by it.
func TestDeadCentreInWords(t *testing.T) {
	text, remarks := checked(t, geometryFrom(t, parallelRocker))
	if !strings.Contains(text, "damper is 180.0 mm long and at design neither shortens nor lengthens with bump (installation ratio 0.000); the ratio is ") {
		t.Error(text)
	}
	if !strings.Contains(remarks, "turns back on its way") {
		t.Errorf("the remarks: %s", remarks)
	}
}

// TestDesignFaultsHaveAPlace: a pushrod whose line runs through its rocker's axis, at y = 370, z = 460 by hand, is refused with the
// line of the pushrod.
func TestDesignFaultsHaveAPlace(t *testing.T) {
	geometry := strings.NewReplacer("[0, 560, 200]", "[0, 480, 240]", "[0, 420, 500]", "[0, 400, 400]", "[40, 360, 480]", "[40, 370, 460]", "[-40, 360, 480]", "[-40, 370, 460]").Replace(parallelRocker)
	const want = "geometry.yaml:26:3: at design push points at the axis of rocker and cannot turn it."
	g := geometryFrom(t, geometry)
	if _, err := CheckGeometry(g); err == nil || err.Error() != want || !IsUsage(err) {
		t.Errorf("%v; want %s", err, want)
	}
	if _, err := Cycle(g, CycleOptions{}); err == nil || err.Error() != want {
		t.Errorf("%v; want %s", err, want)
	}
}

// TestGapsAtDesign: a file that gives no travel is told what overlaps as drawn. By hand: the rack end's ball, at y = 247 with a radius of 9,
// and the box, whose face is at y = 242, are 4 mm into each other.
func TestGapsAtDesign(t *testing.T) {
	without := strings.Replace(besideBox, "travel: {bump: 50, droop: 50, rack: 30}\n", "", 1)
	for _, c := range []struct{ face, says string }{
		{"242", "Clearances, at design alone:\n  eye_to_box: -4 mm (6 mm or more), which overlap.\n"},
		{"235", "Clearances, at design alone:\n  eye_to_box: 3 mm (6 mm or more), which is too little.\n"},
		{"215", "Clearances, at design alone:\n  eye_to_box: 23 mm (6 mm or more).\n"},
	} {
		if text, _ := checked(t, geometryFrom(t, strings.Replace(without, "[  60, 215, 420]", "[  60, "+c.face+", 420]", 1))); !strings.Contains(text, c.says) {
			t.Errorf("no %q in\n%s", c.says, text)
		}
	}
	if text, _ := checked(t, geometryFrom(t, besideBox)); strings.Contains(text, "at design alone") {
		t.Error(text)
	}
}

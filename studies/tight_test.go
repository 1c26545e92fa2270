package studies

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"trammel/studies/files"
)

// cornerArms begins geometries of an invented corner: two arms, and what follows is more of its points.
const cornerArms = `units: mm
axes: {x: forward, y: left, z: up}
side: left
points:
  lower_front:   [ 165, 230, 142]
  lower_rear:    [-150, 242, 136]
  lower_ball:    [   6, 650, 135]
  upper_front:   [ 130, 285, 316]
  upper_rear:    [-136, 293, 309]
  upper_ball:    [ -13, 615, 349]
`

// besideBox is a corner whose rack end carries a ball beside a box. With the rack at r the gap is, by hand,
// 247 + r (the ball's middle) - 9 (its radius) - 215 (the face) = 23 + r mm, whatever the wheels do.
const besideBox = "format: 1\nname: beside a box\n" + cornerArms + `  rack_end:      [ -75, 247, 180]
  steering_arm:  [ -85, 632, 184]
  wheel_centre:  [   0, 688, 250]
  low:           [-600,  40, 120]
  high:          [  60, 215, 420]
members:
  lower_arm: {arm: [lower_front, lower_rear], ball: lower_ball}
  upper_arm: {arm: [upper_front, upper_rear], ball: upper_ball}
  tie_rod:   {link: [rack_end, steering_arm], ends: [rack, upright]}
wheel:  {centre: wheel_centre, loaded_radius: 250}
travel: {bump: 50, droop: 50, rack: 30}
solids:
  eye: {ball: rack_end, diameter: 18, on: rack}
  box: {box: [low, high]}
clearances:
  eye_to_box: {between: [eye, box], min: 6}
`

// TestTooNear: cycle and check say how near solids come, and cycle says it only where it is too near.
func TestTooNear(t *testing.T) {
	for _, c := range []struct {
		least, cycle, check string
		o                   CycleOptions
	}{
		{"6", "eye_to_box.clearance goes down to -7 mm (at wheel_travel 0 mm with rack_travel -30 mm), and the least that the geometry allows is 6 mm",
			"  eye_to_box: -7 mm (6 mm or more), which overlap, at wheel_travel 0 mm with rack_travel -30 mm.", CycleOptions{Rack: []float64{-30, 0, 30}}},
		{"6", "eye_to_box.clearance goes down to 3 mm (at wheel_travel +20 mm with rack_travel -20 mm), and the least that the geometry allows is 6 mm",
			"", CycleOptions{Rack: []float64{-20}, Wheel: []float64{20}}},
		{"2", "", "", CycleOptions{Rack: []float64{-20}, Wheel: []float64{20}}},
		{"6", "", "", CycleOptions{Wheel: []float64{-50, 50}}},
		{"6", "", "", CycleOptions{Roll: []float64{-2, 0, 2}}},
	} {
		g := geometryFrom(t, strings.Replace(besideBox, "min: 6", "min: "+c.least, 1))
		tb, err := Cycle(g, c.o)
		if err != nil {
			t.Fatal(err)
		}
		said := slices.DeleteFunc(slices.Clone(tb.Notes), func(s string) bool { return !strings.Contains(s, "clearance") })
		if c.cycle == "" && len(said) > 0 || c.cycle != "" && !slices.Equal(said, []string{c.cycle}) {
			t.Errorf("least %s, %+v: cycle says %q, not %q", c.least, c.o, said, c.cycle)
		}
		if text, err := CheckGeometry(g); err != nil || c.check != "" && !strings.Contains(text, c.check+"\n") {
			t.Errorf("check does not say %q (%v):\n%s", c.check, err, text)
		}
	}
}

// TestConstantGap: what turns with the wheel's rim and what stands on the upright never move to each other, and their gap is told
// without a place. By hand, at the rim's middle: the inside of the barrel is 155 mm from the axis, and the ball's skin 88 + 20 mm
// below and 38 mm inboard of the wheel's centre.
func TestConstantGap(t *testing.T) {
	text := swapped(t, besideBox, "loaded_radius: 250}", "camber: 0, loaded_radius: 250, tyre: {diameter: 520, width: 190}, rim: {diameter: 330, width: 200, wall: 10}}",
		"solids:", "solids:\n  caliper: {ball: pad, diameter: 40, on: upright}", "eye_to_box: {between: [eye, box], min: 6}", "in_rim: {between: [caliper, rim], min: 5}",
		"  low: ", "  pad:           [   0, 650, 162]\n  low: ")
	const study = "format: 1\nstudy: room\ngeometry: geometry.yaml\nvary:\n  wheel_centre.z: {by: 1}\ntargets:\n  toe: {measure: toe, in: heave, hold: 0, within: 1}\n  gap: {measure: in_rim.clearance, in: heave, at_least: 40, within: 1}\nlimits:\n  pad: {measure: in_rim.clearance, in: heave, min: 40}\n"
	says, err := CheckStudy(read(t, study, text))
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"  in_rim: 47 mm (5 mm or more), everywhere.\n", "in_rim clearance: 64 values, kept at design (allowed at least 5 mm; 47 mm everywhere)", "gap: 42 values, met at design (asked at least 40 mm ± 1 mm; 47 mm everywhere)", "pad: 42 values, kept at design (allowed at least 40 mm; 47 mm everywhere)"} {
		if !strings.Contains(says, want) {
			t.Errorf("check does not say %q:\n%s", want, says)
		}
	}
	tb, err := Cycle(geometryFrom(t, swapped(t, text, "min: 5}", "min: 50}")), CycleOptions{Wheel: []float64{-20, 0, 20}})
	if want := "in_rim.clearance is 47 mm everywhere, and the least that the geometry allows is 50 mm"; err != nil || !slices.Contains(tb.Notes, want) {
		t.Errorf("cycle does not say %q (%v): %q", want, err, tb.Notes)
	}
}

// TestChoice: rank and check of a study name the two nearest solids where a clearance has more than two, in a group too.
func TestChoice(t *testing.T) {
	study := "format: 1\nstudy: room\ngeometry: geometry.yaml\nvary:\n  wheel_centre.z: {by: 1}\ntargets:\n  toe: {measure: toe, in: heave, hold: 0, within: 1}\n"
	for _, c := range []struct{ between, says string }{
		{"[eye, box]", "-7 mm at rack -30 mm"},
		{"[[eye, nut], box]", "-7 mm, eye to box at rack -30 mm"},
		{"[both, box]", "-7 mm, eye to box at rack -30 mm"},
	} {
		text := strings.Replace(besideBox, "[eye, box]", c.between, 1)
		text = strings.Replace(text, "clearances:", "  nut: {ball: upper_ball, diameter: 20, on: upright}\ngroups:\n  both: [eye, nut]\nclearances:", 1)
		if says, err := CheckStudy(read(t, study, text)); err != nil || !strings.Contains(says, c.says) {
			t.Errorf("%s: check does not say %q (%v):\n%s", c.between, c.says, err, says)
		}
	}
}

// TestNoPriceOfWhatBlocks: where nothing keeps every limit, rank says which limit blocks, and no price of it, which would
// not be one of the score. The gap is 23 - 30 mm and at most 5 more, by hand, where 6 are asked.
func TestNoPriceOfWhatBlocks(t *testing.T) {
	study := func(by string) *files.Study {
		return read(t, "format: 1\nstudy: room\ngeometry: geometry.yaml\nmotions:\n  steer: {rack_travel: [-30, 30], positions: 3}\nvary:\n  rack_end.y: {by: "+by+
			"}\ntargets:\n  length: {measure: eye_to_box.clearance, in: steer, at_most: 0, within: 50}\nstages: [{plan: sobol, runs: 16}, {refine: 2}]\n", besideBox)
	}
	blocked := refined(t, study("5"))
	if blocked.AnyFeasible || len(blocked.Blocking) != 1 || blocked.Blocking[0] != "eye_to_box clearance" || len(blocked.Answers[0].Prices) > 0 {
		t.Errorf("blocked: feasible %v, blocking %q, prices %+v", blocked.AnyFeasible, blocked.Blocking, blocked.Answers[0].Prices)
	}
	if says := blocked.Text(); !strings.Contains(says, "Distinct answers, those that break the limits least first") || !strings.Contains(says, fmt.Sprintf("  violation %s  score ", short(blocked.Answers[0].Violation))) {
		t.Errorf("rank does not say by how much the answers break the limits:\n%s", says)
	}
	if free := refined(t, study("25")); !free.AnyFeasible || !slices.ContainsFunc(free.Answers[0].Prices, func(p Price) bool { return p.Of == "eye_to_box clearance" && p.Slope > 0 }) {
		t.Errorf("free: feasible %v, prices %+v", free.AnyFeasible, free.Answers[0].Prices)
	}
}

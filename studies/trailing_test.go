package studies

import (
	"math"
	"strings"
	"testing"
)

// TestTiltAtATrailingArm: the joint of a trailing arm with the frame is on both. The arm is one piece with the wheel's carrier, so
// with bore and bolt straight across, as the wheel's axis is at design, the bearing tilts as far as that axis leans from
// straight across: by camber and toe, cos(tilt) = cos(camber)·cos(toe).
func TestTiltAtATrailingArm(t *testing.T) {
	st, err := ReadExample("ptarmigan")
	if err != nil {
		t.Fatal(err)
	}
	text := string(st.Geometry.Text)
	const auto = "bolt_axis: [0, 1, 0], tilt: 13}"
	if !strings.Contains(text, auto) {
		t.Fatalf("the arm's joint is not written %q any more", auto)
	}
	g := geometryFrom(t, strings.Replace(text, auto, "bolt_axis: [0, 1, 0], housing_axis: [0, 1, 0], tilt: 13}", 1))
	table, err := Cycle(g, CycleOptions{Wheel: []float64{-170, -60, 0, 90, 200}, Measures: []string{"arm_ball.tilt", "camber", "toe"}})
	if err != nil {
		t.Fatal(err)
	}
	tilt, camber, toe := column(t, table, "arm_ball_tilt_deg"), column(t, table, "camber_deg"), column(t, table, "toe_deg")
	most := 0.0
	for i := range tilt {
		want := math.Acos(math.Cos(camber[i]*radians)*math.Cos(toe[i]*radians)) / radians
		if math.Abs(tilt[i]-want) > 1e-6 {
			t.Errorf("row %d: it tilts by %g deg; camber %g and toe %g make %g", i, tilt[i], camber[i], toe[i], want)
		}
		most = max(most, tilt[i])
	}
	if most < 3 {
		t.Errorf("it tilts by no more than %g deg, which shows nothing", most)
	}
}

// TestTiltAtAHinge: about the hinge of a semi-trailing arm, which holds all but the turn about its axis, a bolt along the axis keeps
// its angle to any bore, here 10 deg.
func TestTiltAtAHinge(t *testing.T) {
	g := geometryFrom(t, `format: 1
name: semi-trailing
units: mm
axes: {x: forward, y: left, z: up}
side: left
points:
  inner: [ 400, 200, 300]
  outer: [ 400, 520, 300]
  wheel_centre: [0, 700, 300]
members:
  arm: {hinge: [inner, outer]}
wheel:  {centre: wheel_centre, loaded_radius: 300}
travel: {bump: 60, droop: 60}
joints:
  eye: {spherical: outer, housing: upright, bolt: frame, bolt_axis: [0, 1, 0], housing_axis: [0, 0.984807753012208, 0.17364817766693], tilt: 12}
`)
	table, err := Cycle(g, CycleOptions{Wheel: []float64{-60, 0, 60}, Measures: []string{"eye.tilt"}})
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range column(t, table, "eye_tilt_deg") {
		if math.Abs(v-10) > 1e-6 {
			t.Errorf("row %d: it tilts by %g deg; want 10", i, v)
		}
	}
}

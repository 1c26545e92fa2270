package studies

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// levelArms is a corner with two level arms of 300 mm, one above the other, so that the upright only shifts with the wheel and only
// turns about the upright line through the balls with the rack: all that follows can be written down. The shaft's outer joint stands on
// that line.
const levelArms = `format: 1
name: level arms
units: mm
axes: {x: forward, y: left, z: up}
side: left
points:
  lower_front:  [ 150, 300, 200]
  lower_rear:   [-150, 300, 200]
  lower_ball:   [   0, 600, 200]
  upper_front:  [ 150, 300, 400]
  upper_rear:   [-150, 300, 400]
  upper_ball:   [   0, 600, 400]
  rack_end:     [-100, 300, 300]
  steering_arm: [-100, 600, 300]
  wheel_centre: [   0, 700, 300]
  shaft_inner:  [   0, 100, 300]
  shaft_outer:  [   0, 600, 300]
  drop_top:     [   0, 500, 200]
  drop_low:     [   0, 500, 100]
  blade_inner:  [ 200, 300, 100]
  blade_outer:  [ 200, 500, 100]
members:
  lower_arm: {arm: [lower_front, lower_rear], ball: lower_ball}
  upper_arm: {arm: [upper_front, upper_rear], ball: upper_ball}
  tie_rod:   {link: [rack_end, steering_arm], ends: [rack, upright]}
  shaft:     {shaft: [shaft_inner, shaft_outer], ends: [frame, upright], plunge: {min: -1, max: 14}, angle: 15}
`

// leaning ties the two sides of levelArms with a bar.
const leaning = `  blade:     {rocker: [blade_inner, blade_outer]}
  drop_link: {link: [drop_top, drop_low], ends: [lower_arm, blade]}
across:
  bar: {torsion_bar: [left.blade, right.blade], twist: 15}
`

func wheelOf(travel string) string {
	return "wheel: {centre: wheel_centre, camber: 0, toe: 0, loaded_radius: 300}\ntravel: " + travel + "\n"
}

// steeredTo is by how much the left upright of levelArms is turned to the left with the wheel at z and the rack at r, rad, by a root finder of
// its own on the length of the tie rod, and how far the tie rod then is from pointing at the steering axis, deg. The arms lie
// asin(z/300) from level.
func steeredTo(z, r float64) (turn, dead float64) {
	out := math.Sqrt(300*300 - z*z) // of the balls from the pivots
	miss := func(a float64) float64 {
		x, y := 100-100*math.Cos(a), out-r-100*math.Sin(a)
		return x*x + y*y + z*z - 300*300
	}
	low, high := 0.0, 0.0
	for step := math.Copysign(1e-4, -r); r != 0 && miss(low)*miss(high) >= 0; {
		low, high = high, high+step
	}
	for range 60 {
		if m := (low + high) / 2; miss(low)*miss(m) <= 0 {
			high = m
		} else {
			low = m
		}
	}
	turn = (low + high) / 2
	s, c := math.Sincos(turn)
	rod, lever := [2]float64{100 - 100*c, out - r - 100*s}, [2]float64{-100 * c, -100 * s}
	along := (rod[0]*lever[0] + rod[1]*lever[1]) / math.Hypot(rod[0], rod[1]) / 100
	return turn, math.Acos(math.Abs(along)) / radians
}

// mostOf is where a value is greatest over the grid of both travels, 5 by 5 from end to end, in the words of a check.
func mostOf(bump, droop, rack float64, of func(z, r float64) float64) (most float64, place string) {
	most = math.Inf(-1)
	for i := range 5 {
		for k := range 5 {
			z, r := -droop+(bump+droop)*float64(i)/4, -rack+rack*float64(k)/2
			if v := of(z, r); v > most+1e-6 {
				most, place = v, fmt.Sprintf("wheel_travel %s mm", shortNumber(z, 1, nearest))
				if r != 0 {
					place += fmt.Sprintf(" with rack_travel %s mm", shortNumber(r, 1, nearest))
				}
			}
		}
	}
	return most, place
}

// TestCheckLooksAtBothTravels: what check says of shafts, tilts and dead centres is that of both travels at once, with the place and
// with what is allowed.
func TestCheckLooksAtBothTravels(t *testing.T) {
	const bump, droop, rack = 60, 10, 85
	text := levelArms + wheelOf("{bump: 60, droop: 10, rack: 85}") + `joints:
  fixed: {spherical: lower_ball, housing: upright, bolt: lower_arm, bolt_axis: [0, 0, 1], housing_axis: [0, -0.10510424, 1], tilt: 9}
`
	says, remarks := checked(t, geometryFrom(t, text))
	reach := func(z float64) float64 { return 200 + math.Sqrt(300*300-z*z) }
	plunge := math.Hypot(reach(bump), bump) - 500
	steered := func(z, r float64) float64 {
		turn, _ := steeredTo(z, r)
		return turn
	}
	outer := func(z, r float64) float64 { // between the shaft and the wheel's axis, which stays level
		return math.Acos(math.Cos(steered(z, r))*reach(z)/math.Hypot(reach(z), z)) / radians
	}
	bend, bendAt := mostOf(bump, droop, rack, outer)
	steerBend, steerAt := mostOf(0, 0, rack, outer)
	// The bolt leans with the arm, and the bore, 6 deg from upright, turns with the upright.
	tilt := func(z, r float64) float64 {
		lean, turn := math.Asin(z/300), steered(z, r)
		return math.Acos(math.Sin(6*radians)*math.Cos(turn)*math.Sin(lean)+math.Cos(6*radians)*math.Cos(lean)) / radians
	}
	most, mostAt := mostOf(bump, droop, rack, tilt)
	if alone, _ := mostOf(bump, droop, 0, tilt); most < alone+0.5 {
		t.Fatalf("%g with both travels and %g without: the example shows nothing", most, alone)
	}
	dead, deadAt := mostOf(bump, droop, rack, func(z, r float64) float64 { _, d := steeredTo(z, r); return -d })
	for _, want := range []string{
		fmt.Sprintf("  shaft.plunge goes from %s mm to 0.0 mm, where -1 to 14 mm are allowed: it is pushed in too far at wheel_travel +60 mm.\n", rounded(plunge, 1)),
		fmt.Sprintf("deg to %s deg, within the allowed 15 deg.\n", rounded(math.Atan2(bump, reach(bump))/radians, 2)),
		fmt.Sprintf("to %s deg, where 15 deg are allowed: it is bent too far at %s.\n", rounded(steerBend, 2), steerAt),
		fmt.Sprintf("to %s deg, where 15 deg are allowed: it is bent too far at %s.\n", rounded(bend, 2), bendAt),
		fmt.Sprintf("  fixed: tilt %s of 9 deg, which is too much, at %s.\n", rounded(most, 1), mostAt),
		"Travel: with both at once it closes everywhere.\n",
	} {
		if !strings.Contains(says, want) {
			t.Errorf("check does not say %q:\n%s", want, says)
		}
	}
	if want := fmt.Sprintf("tie_rod comes within %s deg of pointing at the steering axis, at %s;", trimmed(-dead, 1), deadAt); -dead < nearDeadCentre && !strings.Contains(remarks, want) || -dead > nearDeadCentre {
		t.Errorf("check does not remark %q: %s", want, remarks)
	}
}

// TestUnreachedCorner: a corner of the two travels that cannot be reached is said, with how far the rack goes there, and all else is looked
// at. By hand: with the balls R from the pivots, R² = 300² - z², and the rod as long in plan, rod and lever line up where
// (R - r)² + 100² = (R + 100)², which is at a rack travel of -87.29 mm at design and -87.09 mm in full bump.
func TestUnreachedCorner(t *testing.T) {
	straight := func(z float64) float64 { r := math.Sqrt(300*300 - z*z); return math.Sqrt(r*r+200*r) - r }
	if straight(0) < 87.2 || straight(60) > 87.2 || straight(35) < 87.2 {
		t.Fatal("the example shows nothing")
	}
	text := strings.Replace(levelArms, "members:", "  post_middle: [0, 490, 460]\nmembers:", 1) + wheelOf("{bump: 60, droop: 10, rack: 87.2}") + "solids:\n  nut: {ball: steering_arm, diameter: 20, on: upright}\n  post: {ball: post_middle, diameter: 20}\nclearances:\n  gap: {between: [nut, post], min: 5}\n"
	end := shortNumber(straight(60), 1, inward)
	g := geometryFrom(t, text)
	says, _ := checked(t, g)
	for _, want := range []string{
		"Travel: with both at once it does not close everywhere, and what follows is of where it does:\n",
		"\n  at wheel_travel +60 mm with rack_travel " + end + " mm tie_rod does not reach", // the right wheel's
		fmt.Sprintf("; the rack closes from %s to %s mm.\n", strings.Replace(end, "+", "-", 1), end),
		", at wheel_travel +60 mm with rack_travel " + strings.Replace(end, "+", "-", 1) + " mm.\n", // the gap
	} {
		if !strings.Contains(says, want) {
			t.Errorf("check does not say %q:\n%s", want, says)
		}
	}
	text = strings.Replace(text, ", plunge: {min: -1, max: 14}, angle: 15", "", 1)
	ans := refined(t, read(t, "format: 1\nstudy: s\ngeometry: geometry.yaml\nmotions:\n  heave: {wheel_travel: [-10, 60], positions: 5}\nvary:\n  steering_arm.z: {from: 300, to: 300.5}\ntargets:\n  toe: {measure: toe, in: heave, hold: 0, within: 1}\nstages: [{plan: sobol, runs: 4}]\n", text))
	notes := strings.Join(ans.Notes, "\n")
	if want := "it does not close there everywhere: at wheel_travel +60 mm with rack_travel"; !strings.Contains(notes, want) {
		t.Errorf("rank does not say %q: %q", want, notes)
	}
}

// TestBeyondOnTheBore: rank looks beyond a study's motions at joints on the axes that the study found, and says where, what is allowed,
// and what the best axis for both would leave.
func TestBeyondOnTheBore(t *testing.T) {
	const bump, droop, rack, allowed = 60, 10, 75, 8
	text := levelArms + wheelOf("{bump: 60, droop: 10, rack: 75}") + "joints:\n  ball: {spherical: lower_ball, housing: upright, bolt: lower_arm, bolt_axis: [0, 0, 1], tilt: 8}\n"
	text = strings.Replace(text, ", plunge: {min: -1, max: 14}, angle: 15", "", 1)
	ans := refined(t, read(t, "format: 1\nstudy: s\ngeometry: geometry.yaml\nmotions:\n  heave: {wheel_travel: [-10, 60], positions: 5}\nvary:\n  steering_arm.z: {by: 0.001}\ntargets:\n  toe: {measure: toe, in: heave, hold: 0, within: 1}\nstages: [{plan: sobol, runs: 4}]\n", text))
	bore := (math.Asin(bump/300.) + math.Asin(-droop/300.)) / 2 // in the middle of heave
	most, place := mostOf(bump, droop, rack, func(z, r float64) float64 {
		lean := math.Asin(z / 300)
		turn, _ := steeredTo(z, r)
		return math.Acos(math.Sin(bore)*math.Cos(turn)*math.Sin(lean)+math.Cos(bore)*math.Cos(lean)) / radians
	})
	if len(ans.Answers[0].Joints) != 1 || ans.Answers[0].Joints[0].Tilt > allowed || most < allowed {
		t.Fatalf("the example shows nothing: %+v, %g", ans.Answers[0].Joints, most)
	}
	notes := strings.Join(ans.Notes, "\n")
	for _, want := range []string{
		fmt.Sprintf("ball.tilt goes up to %s deg (at %s), and the most that the geometry allows is 8 deg", trimmed(most, 2), place),
		"ball with the best bore for the study's motions and these would tilt by ",
		"{wheel_travel: [-10, 60], rack_travel: [-75, 75], positions: [5, 5]}",
	} {
		if !strings.Contains(notes, want) {
			t.Errorf("rank does not say %q: %q", want, notes)
		}
	}
}

// TestOneWheelAgainstTheOther: a bar is twisted by one wheel at full bump with the other at full droop as by each alone together, for
// each arm follows its own wheel; check says so and rank does, and beside the bar's limit that the study does not ask it.
func TestOneWheelAgainstTheOther(t *testing.T) {
	text := strings.Replace(levelArms, ", plunge: {min: -1, max: 14}, angle: 15", "", 1) + leaning + wheelOf("{bump: 60, droop: 50, rack: 30}")
	g := geometryFrom(t, text)
	tb, err := Cycle(g, CycleOptions{Wheel: []float64{-50, 60}, Wheels: "left", Measures: []string{"bar.twist"}})
	if err != nil {
		t.Fatal(err)
	}
	alone := column(t, tb, "bar_twist_deg")
	want := math.Abs(alone[0]) + math.Abs(alone[1])
	m, err := newMover(g)
	if err != nil {
		t.Fatal(err)
	}
	looks := m.looks()
	low, high, ok := m.peaks("bar.twist", true, ways(looks[len(looks)-1:]))
	if !ok || math.Abs(high.value-want) > 0.05 || math.Abs(low.value+want) > 0.05 {
		t.Fatalf("the bar is twisted from %g to %g deg; by each wheel alone together %g", low.value, high.value, want)
	}
	v := m.values(&looks[len(looks)-1].travels, m.bothWheels(wheelTravel))
	if n := len(v) / 2; math.Abs(v[0]-60) > 0.2 || math.Abs(v[n]+50) > 0.2 || math.Abs(v[n-1]+50) > 0.2 || math.Abs(v[2*n-1]-60) > 0.2 {
		t.Errorf("the wheels go to %v", v)
	}
	twisted := fmt.Sprintf("bar.twist goes from %s deg to %s deg, where 15 deg to either side are allowed: it is twisted too far at ", rounded(low.value, 2), rounded(high.value, 2))
	if says, _ := checked(t, g); !strings.Contains(says, twisted) || !strings.Contains(says, "Travel: with one wheel at full bump and the other at full droop (body_roll to +") {
		t.Errorf("check does not say %q:\n%s", twisted, says)
	}
	const idle = "no motion of the study moves one wheel against the other, as one with wheels: left or with body_roll does"
	study := func(motion string) string {
		return "format: 1\nstudy: s\ngeometry: geometry.yaml\nmotions:\n  go: " + motion + "\nvary:\n  steering_arm.z: {by: 1}\ntargets:\n  toe: {measure: toe, in: go, hold: 0, within: 1}\nstages: [{plan: sobol, runs: 4}]\n"
	}
	for motion, silent := range map[string]bool{
		"{wheel_travel: [-50, 60], positions: 5}":              false,
		"{wheel_travel: [-5, 6], wheels: left, positions: 5}":  true,
		"{body_roll: [-0.5, 0.5], positions: 3}":               true,
		"{rack_travel: [-30, 30], positions: 3}":               false,
		"{wheel_travel: [-5, 6], wheels: right, positions: 5}": true,
	} {
		f := read(t, study(motion), text)
		says, err := CheckStudy(f)
		if err != nil || strings.Contains(says, idle) == silent {
			t.Errorf("%s: check says of the bar's limit that %s: %v (%v)", motion, idle, !silent, err)
		}
		ans := refined(t, f)
		if strings.Contains(ans.Text(), "yes, but "+idle) == silent {
			t.Errorf("%s: rank says of the bar's limit that %s: %v", motion, idle, silent)
		}
		if notes, want := strings.Join(ans.Notes, "\n"), fmt.Sprintf("bar.twist goes up to %s deg (at ", trimmed(high.value, 2)); !strings.Contains(notes, want) {
			t.Errorf("%s: rank does not say %q: %q", motion, want, notes)
		}
	}
	// Without anything across, neither wheel is anything to the other.
	if says, _ := checked(t, geometryFrom(t, levelArms+wheelOf("{bump: 60, droop: 50, rack: 30}"))); strings.Contains(says, "the other at full droop") {
		t.Errorf("the wheels go against each other for nothing:\n%s", says)
	}
}

// TestPlacesAndSides: what cycle says of a tilt, of a shaft's joint and of a dead centre has the side and the place.
func TestPlacesAndSides(t *testing.T) {
	text := strings.Replace(levelArms, "angle: 15", "angle: 5", 1) + wheelOf("{bump: 60, droop: 10, rack: 85}") + `joints:
  fixed: {spherical: lower_ball, housing: upright, bolt: lower_arm, bolt_axis: [0, 0, 1], housing_axis: [0, -0.10510424, 1], tilt: 5}
`
	// To the right the left wheel's tie rod nears its dead centre, and to the left the right one's.
	for r, side := range map[float64]string{-85: "", 85: "right."} {
		tb, err := Cycle(geometryFrom(t, text), CycleOptions{Wheel: []float64{60}, Rack: []float64{r}})
		if err != nil {
			t.Fatal(err)
		}
		turn, dead := steeredTo(60, -85)
		lean, reach := math.Asin(0.2), 200+300*math.Sqrt(1-0.04)
		place := fmt.Sprintf("at wheel_travel +60 mm with rack_travel %s mm", shortNumber(r, 1, nearest))
		for _, want := range []string{
			fmt.Sprintf("%sshaft.joint_angle_outer goes up to %s deg (%s), and the most", side, trimmed(math.Acos(math.Cos(turn)*reach/math.Hypot(reach, 60))/radians, 2), place),
			fmt.Sprintf("%sfixed.tilt goes up to %s deg (%s), and the most", side, trimmed(math.Acos(math.Sin(6*radians)*math.Cos(turn)*math.Sin(lean)+math.Cos(6*radians)*math.Cos(lean))/radians, 2), place),
			fmt.Sprintf("%stie_rod comes within %s deg of pointing at the steering axis, %s;", side, trimmed(dead, 1), place),
		} {
			if !strings.Contains("\n"+strings.Join(tb.Notes, "\n"), "\n"+want) {
				t.Errorf("cycle does not say %q: %q", want, tb.Notes)
			}
		}
	}
}

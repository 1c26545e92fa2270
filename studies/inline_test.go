package studies

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// TestTiltByTriangle: the tilt of a joint in line with a rod is an angle of a triangle: from the joint to the rod's other end, and to
// a point of the body at the joint that lies along the given axis. Its sides are lengths that cycle tells, and the law of cosines makes
// the angle. On rack, frame, upright's bar arm and rocker, on both sides of the car, in heave, on lock, in roll and with one wheel alone.
func TestTiltByTriangle(t *testing.T) {
	type joint struct {
		rod, at, far, ends string
		mark, axis         string // a point along the axis from at, on the body at the joint; the way there
		housing            bool   // the rod is the housing
	}
	for _, tt := range []struct {
		example, file string
		joints        []joint
	}{
		{"dunlin", "dunlin-front.yaml", []joint{
			{"tie_rod", "rack_end", "steering_arm", "rack, upright", "[-98, 428, 196]", "[20, 90, -30]", false},
			{"tie_rod", "steering_arm", "rack_end", "upright, rack", "[-118, 564, 204]", "[10, -90, -10]", false},
			{"strut", "strut_top", "strut_foot", "frame, upright", "[-49, 515, 832]", "[-15, -45, 90]", false},
			{"drop_link", "bar_end", "drop_upper", "bar_arm, upright", "[72, 562, 335]", "[10, -20, 95]", true},
		}},
		{"corncrake-inch", "corncrake-front-inch.yaml", []joint{
			{"tie_rod", "rack_end", "steering_arm", "rack, upright", "[27.2134, -13.685, 6.1654]", "[0.3, -4, 0.5]", false},
			{"pushrod", "pushrod_head", "pushrod_foot", "rocker, lower_arm", "[24.3575, -15.1496, 13.0591]", "[0.2, -2, -3]", true},
			{"damper", "damper_frame", "damper_rocker", "frame, rocker", "[24.1575, -5.2598, 15.7441]", "[0, 4, 0]", false},
		}},
	} {
		var points, members, joints strings.Builder
		var measures []string
		for i, j := range tt.joints {
			fmt.Fprintf(&points, "  mark_%d: %s\n", i, j.mark)
			fmt.Fprintf(&members, "  own_%d: {distance: [%s, %s], ends: [%s]}\n  third_%d: {distance: [mark_%d, %s], ends: [%s]}\n", i, j.at, j.far, j.ends, i, i, j.far, j.ends)
			body, _, _ := strings.Cut(j.ends, ",")
			if j.housing {
				fmt.Fprintf(&joints, "  joint_%d: {spherical: %s, housing: %s, bolt: %s, bolt_axis: %s, tilt: 80}\n", i, j.at, j.rod, body, j.axis)
			} else {
				fmt.Fprintf(&joints, "  joint_%d: {spherical: %s, housing: %s, bolt: %s, housing_axis: %s, tilt: 80}\n", i, j.at, body, j.rod, j.axis)
			}
			for _, side := range []string{"", "right."} {
				measures = append(measures, fmt.Sprintf("%sjoint_%d.tilt", side, i), fmt.Sprintf("%sown_%d.length", side, i), fmt.Sprintf("%sthird_%d.length", side, i))
			}
		}
		g := geometryFrom(t, swapped(t, text(t, tt.example, tt.file), "\nmembers:\n", points.String()+"\nmembers:\n"+members.String())+"\njoints:\n"+joints.String())
		seen := 0.0
		for _, o := range []CycleOptions{
			{Wheel: []float64{-45, 0, 20, 45}},
			{Wheel: []float64{-30, 30}, Rack: []float64{-30, -7, 25}},
			{Wheel: []float64{0}, Roll: []float64{-3, 2}},
			{Wheel: []float64{-20, 35}, Wheels: "left"},
			{Wheel: []float64{10}, Rack: []float64{20}, Roll: []float64{1.5}},
		} {
			o.Measures = measures
			table, err := Cycle(g, o)
			if err != nil {
				t.Fatal(tt.example, err)
			}
			for i, j := range tt.joints {
				var way [3]float64
				if _, err := fmt.Sscanf(strings.ReplaceAll(j.axis, ",", ""), "[%g %g %g]", &way[0], &way[1], &way[2]); err != nil {
					t.Fatal(err)
				}
				a := g.Units.ToMM(g.Units.PerUnit()) * math.Sqrt(way[0]*way[0]+way[1]*way[1]+way[2]*way[2])
				for _, side := range []string{"", "right_"} {
					tilts := column(t, table, fmt.Sprintf("%sjoint_%d_tilt_deg", side, i))
					own, third := column(t, table, fmt.Sprintf("%sown_%d_length_mm", side, i)), column(t, table, fmt.Sprintf("%sthird_%d_length_mm", side, i))
					for k, got := range tilts {
						want := math.Acos((a*a+own[k]*own[k]-third[k]*third[k])/(2*a*own[k])) / radians
						if want = min(want, 180-want); math.Abs(got-want) > 1e-8 {
							t.Errorf("%s %+v: %sjoint_%d tilts by %.12g deg, and the triangle has %.12g", tt.example, o, side, i, got, want)
						}
						seen = max(seen, got)
					}
				}
			}
		}
		if seen < 10 {
			t.Errorf("%s: nothing tilts by more than %g deg", tt.example, seen)
		}
	}
}

// TestInLineTiltHasAPrice: a tie rod that a target wants shorter turns farther in its ball, which binds; what another degree of tilt would be
// worth, for an axis that is found as for one that is given, is what a night with a little more tilt gains.
func TestInLineTiltHasAPrice(t *testing.T) {
	const study = `format: 1
study: a test
geometry: geometry.yaml
motions:
  heave: {wheel_travel: [-40, 40], positions: 9}
  steer: {rack_travel: [-20, 20], positions: 5}
vary:
  steering_arm.y: {by: 40}
targets:
  rod: {measure: rod.length, place: {wheel_travel: 0}, value: 360, within: 10}
stages:
  - {plan: sobol, runs: 24}
  - {refine: 3}
`
	best := func(axis string, most float64) *Verdict {
		t.Helper()
		geometry := swapped(t, text(t, "corncrake", "corncrake-front.yaml"), "\nmembers:\n", "\nmembers:\n  rod: {distance: [rack_end, steering_arm], ends: [rack, upright]}\n") +
			fmt.Sprintf("\njoints:\n  ball: {spherical: rack_end, housing: rack, bolt: tie_rod, %s, tilt: %g}\n", axis, most)
		dir := t.TempDir()
		run(t, read(t, study, geometry), RunOptions{Dir: dir})
		ans, err := open(t, dir).Rank()
		if err != nil {
			t.Fatal(err)
		}
		return &ans.Answers[0]
	}
	for _, axis := range []string{"housing_axis: auto", "housing_axis: [0, 1, 0]"} {
		loose := best(axis, 30)
		var free float64
		for _, l := range loose.Limits {
			if l.Name == "ball tilt" {
				free = *l.Got
			}
		}
		// A little less than the rod would take, it binds.
		most := math.Round(98*free) / 100
		tight, wider := best(axis, most), best(axis, most+0.01)
		for _, p := range tight.Prices {
			if p.Of == "ball tilt" {
				if gain := (tight.Score - wider.Score) / 0.01; !(gain > 0) || math.Abs(p.Slope-gain) > 0.1*gain {
					t.Errorf("%s: %+v, and 0.01 deg more gain %g a degree", axis, p, gain)
				}
				free = 0
			}
		}
		if free != 0 {
			t.Errorf("%s: at %g deg of %g there is no price: %+v", axis, most, free, tight.Prices)
		}
	}
}

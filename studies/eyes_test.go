package studies

import (
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// TestEyesAreLengths: as drawn, what kin measures as the length of a damper, spring, strut or strap of an example, on either side, is what its eyes are apart.
func TestEyesAreLengths(t *testing.T) {
	seen := 0
	for _, x := range Examples() {
		f, err := ReadExample(x.Name)
		if err != nil {
			t.Fatal(err)
		}
		m, err := newMover(f.Geometry)
		if err != nil {
			t.Fatal(err)
		}
		c := &check{mover: m}
		all := eyes(f.Geometry)
		for i := range f.Geometry.Members {
			of := &f.Geometry.Members[i]
			for _, name := range m.bothSides(of.Name, of.Across) {
				is := c.at(name + ".length")[0]
				if math.IsNaN(is) {
					continue
				}
				k := slices.IndexFunc(all, func(e Eyes) bool { return e.Of == name })
				if k < 0 {
					k = slices.IndexFunc(all, func(e Eyes) bool { return e.Of == of.Name })
				}
				if k < 0 || math.Abs(all[k].mm-is) > 1e-3 {
					t.Errorf("%s: %s is %g long", x.Name, name, is)
				}
				seen++
			}
		}
	}
	if seen < 20 {
		t.Errorf("only %d lengths were compared", seen)
	}
}

// eyesGeometry has rods that are sides of right-angled triangles: its damper of 3, 4 and 5, its right tie rod of 5, 12 and 13.
const eyesGeometry = "format: 1\nname: eyes\n" + cornerArms + `  rack_end:      [ -85, 332, 184]
  steering_arm:  [ -85, 632, 184]
  wheel_centre:  [   0, 688, 250]
  damper_foot:   [  30, 556, 152]
  damper_frame:  [  30, 256, 552]
opposite:
  rack_end:      [ -85, -332, 309]
members:
  lower_arm: {arm: [lower_front, lower_rear], ball: lower_ball}
  upper_arm: {arm: [upper_front, upper_rear], ball: upper_ball}
  tie_rod:   {link: [rack_end, steering_arm], ends: [rack, upright]}
  damper:    {damper: [damper_foot, damper_frame], ends: [lower_arm, frame], length: {min: 330, max: 900}}
wheel:  {centre: wheel_centre, camber: -1, toe: 0.1, loaded_radius: 250}
travel: {bump: 10, droop: 10, rack: 5}
`

// TestEyesByHeart: check lists eyes in the unit of the file, those of the other side where they are others, and on an arm what stands on it.
func TestEyesByHeart(t *testing.T) {
	study := "format: 1\nstudy: eyes\ngeometry: geometry.yaml\nmotions: {heave: {wheel_travel: [-5mm, 5mm], positions: 3}}\nvary: {rack_end.x: {by: 1mm}}\ntargets: {toe: {measure: toe, in: heave, hold: 0, within: 1}}\n"
	mm := read(t, study, eyesGeometry).Geometry
	text, err := CheckGeometry(mm)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"\nEye to eye as drawn, in mm:\n", "\n  tie_rod: 300.\n", "\n  right.tie_rod: 325.\n", "\n  damper: 500.\n", "lower_ball to damper_foot "} {
		if strings.Count(text, want) != 1 {
			t.Errorf("check does not say %q, or more than once:\n%s", want, text)
		}
	}
	if _, list, _ := strings.Cut(text, "\nEye to eye"); strings.Contains(list, "right.damper") || strings.Contains(list, "right.lower_arm") {
		t.Errorf("what is the same on both sides is said twice:\n%s", text)
	}
	// The rack's end goes 80 mm forward and 75 in: 300 becomes the hypotenuse of 375 and 80.
	n := make([][3]int64, len(mm.Points))
	for i, p := range mm.Points {
		n[i] = p.N
	}
	n[mm.Point("rack_end")] = [3]int64{-5_000, 257_000, 184_000}
	changed := changedEyes(mm, mm.WithPoints(n))
	if len(changed) != 1 || changed[0].Of != "tie_rod" || changed[0].Was != 300 || changed[0].Now != 383.44 { // sqrt(375² + 80²) = 383.438
		t.Errorf("%+v", changed)
	}
	// Where it comes to stand as the right one does, in the mirror, the right rod is no other any more, and has not changed.
	n[mm.Point("rack_end")] = [3]int64{-85_000, 332_000, 309_000}
	changed = changedEyes(mm, mm.WithPoints(n))
	if len(changed) != 1 || changed[0].Of != "tie_rod" || changed[0].Now != 325 {
		t.Errorf("%+v", changed)
	}
}

// TestEyesOfAnAnswer: rank and export give the lengths of what moved, and those of rods whose ends stay are not among them.
func TestEyesOfAnAnswer(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "night")
	run(t, read(t, strings.Replace(bracketStudy, "  steering_arm.z: {from: 172, to: 196}\n", "", 1), bracketGeometry), RunOptions{Dir: dir})
	a := open(t, dir)
	ans, err := a.Rank()
	if err != nil {
		t.Fatal(err)
	}
	x, err := a.Export(BestRun, false)
	if err != nil {
		t.Fatal(err)
	}
	at := func(point string) (v [3]float64) {
		for i, n := range x.Geometry.Points[x.Geometry.Point(point)].N {
			v[i] = float64(n) / 1000
		}
		return v
	}
	end, arm := at("rack_end"), at("steering_arm")
	long := math.Sqrt((end[0]-arm[0])*(end[0]-arm[0]) + (end[1]-arm[1])*(end[1]-arm[1]) + (end[2]-arm[2])*(end[2]-arm[2]))
	want := "  tie_rod: " + decimals(math.Round(long*100)/100) + " (was 385.15)"
	if !slices.Contains(x.Notes, want) {
		t.Errorf("export has no %q:\n%s", want, strings.Join(x.Notes, "\n"))
	}
	text := ans.Text()
	if !strings.Contains(text, "eye to eye as drawn at ride height (mm):") || !strings.Contains(text, "upper_arm, upper_front to upper_ball") || strings.Contains(text, "lower_arm, lower_front to lower_rear") {
		t.Errorf("rank says:\n%s", text)
	}
}

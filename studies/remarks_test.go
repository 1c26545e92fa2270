package studies

import (
	"strings"
	"testing"

	"trammel/studies/files"
)

// altered reads the example geometry after changes to its text, each of which must be found.
func altered(t *testing.T, changes ...string) *files.Geometry {
	t.Helper()
	const name = "corncrake-front.yaml"
	text := text(t, "corncrake", name)
	for i := 0; i+1 < len(changes); i += 2 {
		if !strings.Contains(text, changes[i]) {
			t.Fatalf("the example has no %q", changes[i])
		}
		text = strings.Replace(text, changes[i], changes[i+1], 1)
	}
	g, err := files.ReadGeometry(func(string) ([]byte, error) { return []byte(text), nil }, name)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// TestRemarks: each slip of the hand gets its one remark, and the example as it is gets none beside that on
// the points that only its study uses. What counts as a slip is common practice, no source.
func TestRemarks(t *testing.T) {
	const centre = "wheel_centre:  [   0, 690, 250]"
	const lined = "of pointing at" // follows from other slips too
	for _, x := range []struct {
		name, want string
		changes    []string
	}{
		{"as it is", "", nil},
		{"damper outside the rocker", "damper lengthens by 0.7", []string{"damper_frame:  [  -4, 32, 438]", "damper_frame:  [  -4, 520, 500]", ", length: {min: 208, max: 288}", ""}},
		{"rocker by itself", "rocker drives no damper", []string{"ends: [rocker, frame], length: {min: 208, max: 288}", "ends: [lower_arm, frame]"}},
		{"wheel too high", "lower_front, lower_rear, lower_ball, rack_end, steering_arm and pushrod_foot stand below the ground", []string{centre, "wheel_centre: [0, 690, 450]"}},
		{"wheel too low", "every point of the upright stands above the top of the wheel", []string{centre, "wheel_centre: [0, 690, -250]"}},
		{"wheel far behind", "farther than the wheel is high", []string{centre, "wheel_centre: [-900, 690, 250]"}},
		{"radius in inches", "wheel: loaded_radius is 9.84 mm, and of cars it lies between 100 and 800 mm", []string{"loaded_radius: 250}", "loaded_radius: 9.84}"}},
		{"steering arm outside", "stands 44.0 mm outboard of wheel_centre", []string{"steering_arm:  [ -84, 634, 184]", "steering_arm: [-84, 734, 184]"}},
		{"wheel far out", "221.5 mm inboard of the contact centre, where cars have less than 150.0 mm", []string{centre, "wheel_centre: [0, 890, 250]"}},
		{"leaning axis", "leans 42 deg from upright", []string{"upper_ball:    [ -12, 617, 350]", "upper_ball: [-12, 457, 350]"}},
		{"ends exchanged", "rack_end on the upright, and yet steering_arm lies", []string{"ends: [rack, upright]", "ends: [upright, rack]"}},
		{"beyond the middle", "lies 226.0 mm beyond the middle of the car", []string{"lower_front:   [ 168, 226", "lower_front:   [ 168, -226"}},
		{"rack along the car", "rack: axis leads more along the car than across it", []string{"\nmembers:", "\nrack: {axis: [5, 1, 0.1]}\nmembers:"}},
		{"opposite with a digit too many", "from the mirror image of damper_frame", []string{"\nmembers:", "\nopposite: {damper_frame: [-4, -32, 4380]}\nmembers:"}},
		{"tie rod along its arm", lined, []string{"rack_end:      [ -74, 246, 182]", "rack_end: [-350, 500, 182]", "rack: 32", "rack: 8"}},
		{"hold that is idle", "two joints show the steering axis", []string{"\nmembers:", "\nsteering_axis: {hold: damper}\nmembers:"}},
	} {
		g := altered(t, x.changes...)
		text, err := CheckGeometry(g)
		if err != nil {
			t.Errorf("%s: %v", x.name, err)
			continue
		}
		var others []string
		_, remarks, _ := strings.Cut(text, "\nRemarks:\n")
		for _, line := range strings.Split(remarks, "\n") {
			if strings.HasPrefix(line, "  corncrake-front.yaml:") && !strings.Contains(line, "is used by no member") && (x.want == lined || !strings.Contains(line, lined)) {
				others = append(others, line)
			}
		}
		switch {
		case x.want == "" && len(others) > 0:
			t.Errorf("%s: %q", x.name, others)
		case x.want != "" && (len(others) != 1 || !strings.Contains(others[0], x.want)):
			t.Errorf("%s: %q; want one remark with %q", x.name, others, x.want)
		}
	}
}

// TestCheckSaysTheRatios at both ends of the travel: those that cycle tabulates, and the way of a damper that
// is pulled.
func TestCheckSaysTheRatios(t *testing.T) {
	for _, g := range []*files.Geometry{
		altered(t),
		altered(t, "damper_frame:  [  -4, 32, 438]", "damper_frame:  [  -4, 520, 500]", ", length: {min: 208, max: 288}", ""),
	} {
		tb, err := Cycle(g, CycleOptions{Wheel: []float64{-50, 0, 50}, Measures: []string{"damper.installation_ratio"}})
		if err != nil {
			t.Fatal(err)
		}
		var r [3]string
		for i := range r {
			r[i] = rounded(tb.Rows.Cell(2, i), 3)
		}
		want := "shortens by " + r[1]
		if size, negative := strings.CutPrefix(r[1], "-"); negative {
			want = "lengthens by " + size
		}
		text, err := CheckGeometry(g)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range []string{want, "the ratio is " + r[0] + " at full droop, " + r[1] + " at design and " + r[2] + " at full bump"} {
			if !strings.Contains(text, s) {
				t.Errorf("the report lacks %q:\n%s", s, text)
			}
		}
	}
}

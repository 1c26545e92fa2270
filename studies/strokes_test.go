package studies

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"trammel/studies/files"
)

// corncrakeDamper is what the example's file says of its damper.
const corncrakeDamper = "length: {min: 208, max: 288}"

// lengthAt is the example's damper at a wheel travel.
func lengthAt(t *testing.T, travel float64) float64 {
	t.Helper()
	tb, err := Cycle(altered(t), CycleOptions{Wheel: []float64{travel}, Measures: []string{"damper.length"}})
	if err != nil {
		t.Fatal(err)
	}
	v, _ := tb.Rows.FloatAt(tb.Schema.Index("damper_length_mm"), 0)
	return v
}

// TestStrokeInWords: what check and cycle say of a damper's stroke is what its length does at the ends of the travel, and the
// bump stop is met where the length is that of the stop.
func TestStrokeInWords(t *testing.T) {
	short, long := lengthAt(t, 50), lengthAt(t, -50)
	used := fmt.Sprintf("%s of 80 mm used; %s mm left at wheel_travel +50 mm, %s mm at wheel_travel -50 mm", trimmed(long-short, 1), trimmed(short-208, 1), trimmed(288-long, 1))
	met := lengthAt(t, 38)
	for _, c := range []struct {
		name, length, want string
	}{
		{"both ends", corncrakeDamper, used},
		{"a stop that is met", fmt.Sprintf("length: {min: 208, max: 288, stop: %.3f}", met), fmt.Sprintf("%s; its bump stop is met at wheel_travel +38 mm and crushed by %s mm", used, trimmed(met-short, 1))},
		{"a stop that is not met", "length: {min: 208, max: 288, stop: 210}", fmt.Sprintf("%s; %s mm left to its bump stop, at wheel_travel +50 mm", used, trimmed(short-210, 1))},
		{"a stop always met", "length: {min: 208, max: 288, stop: 285}", fmt.Sprintf("%s; it is on its bump stop all the way, crushed by up to %s mm", used, trimmed(285-short, 1))},
		{"the least alone", "length: {min: 208}", trimmed(short-208, 1) + " mm left until it is closed, at wheel_travel +50 mm"},
		{"the most alone", "length: {max: 288}", trimmed(288-long, 1) + " mm left until it is taut, at wheel_travel -50 mm"},
	} {
		g := altered(t, corncrakeDamper, c.length)
		text, err := CheckGeometry(g)
		if err != nil {
			t.Fatal(err)
		}
		if want := fmt.Sprintf("\n  damper goes from %s mm to %s mm: %s.\n", rounded(short, 1), rounded(long, 1), c.want); !strings.Contains(text, want) {
			t.Errorf("%s: check does not say %q:\n%s", c.name, want, text)
		}
		tb, err := Cycle(g, CycleOptions{})
		if err != nil || !slices.Contains(tb.Notes, "damper: "+c.want) {
			t.Errorf("%s: cycle says %q (%v), not %q", c.name, tb.Notes, err, c.want)
		}
		if tb, err = Cycle(g, CycleOptions{Measures: []string{"camber"}}); err != nil || tb.Notes != nil {
			t.Errorf("%s: where the damper is not listed, cycle says %q (%v)", c.name, tb.Notes, err)
		}
	}
}

// TestStrokeInInches: the same geometry in inches says the same lengths in inches.
func TestStrokeInInches(t *testing.T) {
	inches := geometryFrom(t, text(t, "corncrake-inch", "corncrake-front-inch.yaml"))
	tb, err := Cycle(inches, CycleOptions{})
	if err != nil {
		t.Fatal(err)
	}
	short, long := lengthAt(t, 50), lengthAt(t, -50)
	want := fmt.Sprintf("damper: %s of 3.15 in used; ", trimmed((long-short)/25.4, 2))
	if !slices.ContainsFunc(tb.Notes, func(s string) bool { return strings.HasPrefix(s, want) && !strings.Contains(s, "mm") }) {
		t.Errorf("%q; want %q", tb.Notes, want)
	}
}

// TestCoilsTouch: a spring that is pressed together to its coils says so in check and cycle, and breaks the limit of its part
// in a study; a longer least length goes before.
func TestCoilsTouch(t *testing.T) {
	spring := func(length string) *files.Geometry {
		return altered(t, "  damper:", "  coil: {spring: [damper_rocker, damper_frame], ends: [rocker, frame], length: "+length+"}\n  damper:")
	}
	g := spring("{solid: 220}")
	text, err := CheckGeometry(g)
	if want := "coil goes from 212.2 mm to 280.7 mm: its coils touch (220 mm) at wheel_travel +50 mm."; err != nil || !strings.Contains(text, want) {
		t.Errorf("check does not say %q (%v):\n%s", want, err, text)
	}
	tb, err := Cycle(g, CycleOptions{})
	if want := "and the least that the geometry allows is 220 mm: its coils touch"; err != nil || !strings.Contains(strings.Join(tb.Notes, "\n"), want) {
		t.Errorf("%q (%v); want %q", tb.Notes, err, want)
	}
	tb, err = Cycle(spring("{solid: 200}"), CycleOptions{Measures: []string{"coil.solid_left"}})
	if want := fmt.Sprintf("coil: %s mm left until its coils touch, at wheel_travel +50 mm", trimmed(lengthAt(t, 50)-200, 1)); err != nil || !slices.Contains(tb.Notes, want) {
		t.Errorf("%q (%v); want %q", tb.Notes, err, want)
	}
	for length, least := range map[string]float64{"{solid: 150}": 150, "{min: 160, solid: 150}": 160} {
		for _, l := range spring(length).PartLimits() {
			if l.Name == "coil part length" && (l.Min == nil || *l.Min != least) {
				t.Errorf("%s: the least length is %v", length, l.Min)
			}
		}
	}
}

// TestRackTravel: cycle says when it is asked for more than the rack has, and not when it is not.
func TestRackTravel(t *testing.T) {
	const says = "the rack is moved by 32 mm to a side, and it can go 30 mm: rack: {travel: 30}"
	g := altered(t, "\nmembers:", "\nrack: {travel: 30}\nmembers:", "rack: 32", "rack: 30")
	for _, asked := range [][]float64{{-32, 0, 32}, {32}, {-32}} {
		if tb, err := Cycle(g, CycleOptions{Rack: asked}); err != nil || !slices.Contains(tb.Notes, says) {
			t.Errorf("%v: %q (%v); want %q", asked, tb.Notes, err, says)
		}
	}
	if tb, err := Cycle(g, CycleOptions{}); err != nil || slices.ContainsFunc(tb.Notes, func(s string) bool { return strings.Contains(s, "rack") }) {
		t.Errorf("%q (%v) of what the rack has", tb.Notes, err)
	}
}

// TestBeyondTheParts: twist, plunge and the bends of a shaft beyond what the geometry allows are said by cycle, with both numbers,
// and are limits of a study.
func TestBeyondTheParts(t *testing.T) {
	rear := text(t, "corncrake-rear", "corncrake-rear.yaml")
	for _, line := range strings.Split(rear, "\n") {
		switch {
		case strings.HasPrefix(line, "  shaft:"):
			rear = strings.Replace(rear, line, strings.Replace(line, "{shaft:", "{plunge: {min: -2, max: 1}, angle: 3, shaft:", 1), 1)
		case strings.Contains(line, "{torsion_bar:"):
			rear = strings.Replace(rear, line, strings.Replace(line, "{torsion_bar:", "{twist: 10, torsion_bar:", 1), 1)
		}
	}
	g := geometryFrom(t, rear)
	tb, err := Cycle(g, CycleOptions{Wheel: []float64{-45, 0, 45}, Wheels: "left", Measures: []string{"shaft.plunge", "shaft.joint_angle_inner", "shaft.joint_angle_outer", "bar.twist"}})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		measure, column string
		min, max        float64
		unit            string
		digits          int
	}{
		{"shaft.plunge", "shaft_plunge_mm", -2, 1, "mm", 3},
		{"shaft.joint_angle_inner", "shaft_joint_angle_inner_deg", 0, 3, "deg", 2},
		{"shaft.joint_angle_outer", "shaft_joint_angle_outer_deg", 0, 3, "deg", 2},
		{"bar.twist", "bar_twist_deg", -10, 10, "deg", 2},
	} {
		values, places := column(t, tb, c.column), []string{"-45", "0", "+45"}
		least, most := slices.Min(values), slices.Max(values)
		says := func(goes string, v float64, end string, limit float64) string {
			return fmt.Sprintf("%s goes %s to %s %s (at wheel_travel %s mm), and the %s that the geometry allows is %g %s", c.measure, goes, trimmed(v, c.digits), c.unit, places[slices.Index(values, v)], end, limit, c.unit)
		}
		want := []string{says("up", most, "most", c.max)}
		if c.min < 0 {
			want = append(want, says("down", least, "least", c.min))
		}
		for _, w := range want {
			if !slices.Contains(tb.Notes, w) {
				t.Errorf("cycle does not say %q: %q", w, tb.Notes)
			}
		}
	}
	study := "format: 1\nstudy: parts\ngeometry: geometry.yaml\nvary:\n  wheel_centre.z: {by: 1}\ntargets:\n  toe: {measure: toe, in: heave, hold: 0, within: 1}\n"
	st := bind(t, study, rear)
	for _, want := range []string{"shaft part plunge", "shaft part inner angle", "shaft part outer angle", "bar part twist"} {
		if !slices.Contains(st.limits, want) {
			t.Errorf("limits %q lack %q", st.limits, want)
		}
	}
}

// TestSquareAtFullBump: how far a damper is from square there is its lever angle there, less 90, and said once; a spring is
// looked at in its stead where there is one; on an arm that it is square to, nothing is said.
func TestSquareAtFullBump(t *testing.T) {
	tb, err := Cycle(altered(t), CycleOptions{Wheel: []float64{50}, Measures: []string{"damper.lever_angle"}})
	if err != nil {
		t.Fatal(err)
	}
	lever, _ := tb.Rows.FloatAt(tb.Schema.Index("damper_lever_angle_deg"), 0)
	sentence := "  At full bump damper is " + rounded(math.Abs(lever-90), 0) + " deg from square to the arm it works on; a spring is best set square to its arm near full bump, where it has its full leverage (common practice, no source)."
	if text, err := CheckGeometry(altered(t)); err != nil || strings.Count(text, sentence) != 1 {
		t.Errorf("check does not say %q (%v):\n%s", sentence, err, text)
	}
	// A spring from the lower arm straight up, square to the arm some way up.
	upright := altered(t, "\nmembers:", "\n  coil_foot: [0, 440, 150]\n  coil_top: [0, 420, 520]\n\nmembers:", "  damper:", "  coil: {spring: [coil_foot, coil_top], ends: [lower_arm, frame]}\n  damper:")
	if text, err := CheckGeometry(upright); err != nil || strings.Contains(text, "At full bump") {
		t.Errorf("something is said of a spring that is square (%v):\n%s", err, text)
	}
}

// TestLeverEnds: the ends at which members work are those whose angles exist.
func TestLeverEnds(t *testing.T) {
	m, err := newMover(altered(t))
	if err != nil {
		t.Fatal(err)
	}
	for member, want := range map[string][]int{"pushrod": {0, 1}, "damper": {0}, "tie_rod": {1}, "rocker": nil, "lower_arm": nil, "nobody": nil} {
		if got := m.prog.LeverEnds(member); !slices.Equal(got, want) {
			t.Errorf("%s works at %v, not %v", member, got, want)
		}
		for _, c := range []struct {
			measure string
			ends    int
		}{{"dead_centre", 1}, {"lever_angle_first", 2}, {"dead_centre_second", 2}} {
			if _, err := m.prog.Column(member + "." + c.measure); (err == nil) != (len(want) >= c.ends) {
				t.Errorf("%s.%s: %v", member, c.measure, err)
			}
		}
	}
}

// TestLeversAsGoals: README's full leverage at a chosen place is a target, and its distances to a dead centre and to the bump
// stop are limits; the search's derivatives follow them, and those of a tie rod.
func TestLeversAsGoals(t *testing.T) {
	readme, err := os.ReadFile("../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, after, _ := strings.Cut(strings.ReplaceAll(string(readme), "\r\n", "\n"), "Full leverage at a chosen place")
	_, after, _ = strings.Cut(after, "```yaml\n")
	goals, _, found := strings.Cut(after, "```")
	if !found || !strings.Contains(goals, "lever_angle") {
		t.Fatal("README shows no full leverage")
	}
	study := "format: 1\nstudy: levers\ngeometry: geometry.yaml\n" + goals +
		"  tie rod: {measure: tie_rod.dead_centre, in: steer, min: 25}\n  closing: {measure: damper.closing_left, in: heave, min: 3}\n" +
		"vary:\n  damper_rocker.y: {by: 20}\n  damper_rocker.z: {by: 20}\n  rack_end.x: {by: 20}\n"
	geometry := strings.Replace(text(t, "corncrake", "corncrake-front.yaml"), corncrakeDamper, "length: {min: 208, max: 288, stop: 226}", 1)
	st := bind(t, study, geometry)
	if want := []string{"pushrod off centre", "above the bump stop", "tie rod", "closing", "damper part length"}; !slices.Equal(st.limits, want) {
		t.Errorf("limits %v, want %v", st.limits, want)
	}
	p := offLattice(st, rand.New(rand.NewPCG(5, 2)))
	if probed, left := probeSlopes(t, st, &p); probed < 100 || left > probed/10 {
		t.Errorf("%d derivatives are probed and %d left out", probed, left)
	}
}

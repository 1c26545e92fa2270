package studies

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"trammel/studies/files"
)

// parallelArms is a corner whose arms and tie rod are level, parallel and 100 mm long.
const parallelArms = `format: 1
name: parallel arms
units: UNITS
axes: {x: forward, y: left, z: up}
side: left
points:
  lower_front: [100mm, 300mm, 100mm]
  lower_rear: [-100mm, 300mm, 100mm]
  lower_ball: [0, 400mm, 100mm]
  upper_front: [100mm, 300mm, 300mm]
  upper_rear: [-100mm, 300mm, 300mm]
  upper_ball: [0, 400mm, 300mm]
  rack_end: [-80mm, 300mm, 200mm]
  steering_arm: [-80mm, 400mm, 200mm]
  wheel_centre: [0, 450mm, 200mm]
members:
  lower_arm: {arm: [lower_front, lower_rear], ball: lower_ball}
  upper_arm: {arm: [upper_front, upper_rear], ball: upper_ball}
  tie_rod: {link: [rack_end, steering_arm], ends: [rack, upright]}
wheel: {centre: wheel_centre, loaded_radius: 200mm}
`

func parallel(t *testing.T, units string) *files.Geometry {
	t.Helper()
	g, err := files.ReadGeometry(func(string) ([]byte, error) { return []byte(strings.Replace(parallelArms, "UNITS", units, 1)), nil }, "arms.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// TestClosingRange: a level arm of 100 mm can rise or fall by 100 mm and no more (exact limit).
func TestClosingRange(t *testing.T) {
	closes := regexp.MustCompile(`the wheel closes from (\S+) to (\S+) (mm|in)$`)
	for units, per := range map[string]float64{"mm": 1, "in": 25.4} {
		_, err := Cycle(parallel(t, units), CycleOptions{Wheel: []float64{-150, -75, 0, 75, 150}})
		if err == nil || !IsUsage(err) {
			t.Fatalf("%s: %v; want a usage error", units, err)
		}
		m := closes.FindStringSubmatch(err.Error())
		if m == nil || m[3] != units || !strings.HasPrefix(err.Error(), "arms.yaml: at wheel_travel ") {
			t.Fatalf("%s: %q", units, err)
		}
		if _, place, _ := strings.Cut(err.Error(), "wheel_travel "); !strings.HasPrefix(place, m[1]+" ") && !strings.HasPrefix(place, m[2]+" ") {
			t.Errorf("%s: it stops elsewhere than where it ceases to close: %v", units, err)
		}
		for i, want := range []float64{-100, 100} {
			got, perr := strconv.ParseFloat(m[i+1], 64)
			if perr != nil || math.Abs(got*per) > 100 || math.Abs(got*per-want) > 0.6 {
				t.Errorf("%s: closes to %s; want just inside %g mm", units, m[i+1], want)
			}
		}
	}
}

// TestCycleParallelArms: equal parallel arms keep camber and toe, and the contact's path is a circle of the
// arm's radius (exact limit).
func TestCycleParallelArms(t *testing.T) {
	wheel, err := ParseTravel("-60..60:13", files.Millimetre)
	if err != nil {
		t.Fatal(err)
	}
	tb, err := Cycle(parallel(t, "mm"), CycleOptions{Wheel: wheel, Measures: []string{"camber", "toe", "half_track_change"}})
	if err != nil {
		t.Fatal(err)
	}
	for r, z := range wheel {
		at, _ := tb.Rows.FloatAt(0, r)
		camber, _ := tb.Rows.FloatAt(2, r)
		toe, _ := tb.Rows.FloatAt(3, r)
		track, _ := tb.Rows.FloatAt(4, r)
		if want := math.Sqrt(100*100-z*z) - 100; at != z || math.Abs(camber) > 1e-9 || math.Abs(toe) > 1e-9 || math.Abs(track-want) > 1e-8 {
			t.Errorf("at %g: travel %g, camber %g, toe %g, half track change %g (want %g)", z, at, camber, toe, track, want)
		}
	}
}

// TestRightSideSteersTheSameCar: the example drawn on its right side, at rack travel r, is the mirror image
// of its left side at -r: toe and camber agree, steer changes sign.
func TestRightSideSteersTheSameCar(t *testing.T) {
	st, err := ReadExample("corncrake")
	if err != nil {
		t.Fatal(err)
	}
	right := *st.Geometry
	right.Side = files.Right
	right.Points = append([]files.Point(nil), right.Points...)
	for i := range right.Points {
		right.Points[i].N[1] = -right.Points[i].N[1]
	}
	o := CycleOptions{Rack: []float64{-30, -10, 0, 10, 30}, Measures: []string{"camber", "steer_angle", "ackermann"}}
	a, err := Cycle(st.Geometry, o)
	if err != nil {
		t.Fatal(err)
	}
	b, err := Cycle(&right, o)
	if err != nil {
		t.Fatal(err)
	}
	for r := range 5 {
		for c, sign := range map[int]float64{1: -1, 2: 1, 3: -1, 4: 1} {
			va, okA := a.Rows.FloatAt(c, r)
			vb, okB := b.Rows.FloatAt(c, 4-r)
			if okA != okB || math.Abs(va-sign*vb) > 1e-9 {
				t.Errorf("%s row %d: left %g, right %g", a.Schema.Columns[c].Name, r, va, vb)
			}
		}
	}
}

func TestParseTravel(t *testing.T) {
	for _, x := range []struct {
		text string
		unit files.Unit
		want []float64
		says string
	}{
		{"-60..60:5", files.Millimetre, []float64{-60, -30, 0, 30, 60}, ""},
		{"-1..1:3", files.Inch, []float64{-25.4, 0, 25.4}, ""},
		{"-1in..1in:3", files.Millimetre, []float64{-25.4, 0, 25.4}, ""},
		{"10..-10:2", files.Millimetre, []float64{10, -10}, ""},
		{"1 1/2in", files.Millimetre, []float64{38.1}, ""},
		{"12.5", files.Millimetre, []float64{12.5}, ""},
		{".5", files.Inch, []float64{12.7}, ""},
		{"-60..60", files.Millimetre, nil, "how many positions"},
		{"-60..60:1", files.Millimetre, nil, "from 2 to"},
		{"-60..60:x", files.Millimetre, nil, "from 2 to"},
		{"-60..60:99999999999999999999", files.Millimetre, nil, "from 2 to"},
		{"5:3", files.Millimetre, nil, "single value"},
		{"5..5:3", files.Millimetre, nil, "begins where it ends"},
		{"1,5", files.Millimetre, nil, "write 1.5"},
		{"1/0in", files.Millimetre, nil, "0 below the line"},
		{"nan", files.Millimetre, nil, "no length"},
		{"", files.Millimetre, nil, "no length"},
		{"999999999..1:4", files.Millimetre, nil, "farther than"},
	} {
		got, err := ParseTravel(x.text, x.unit)
		if x.says != "" {
			if err == nil || !IsUsage(err) || !strings.Contains(err.Error(), x.says) {
				t.Errorf("%q: %v; want a usage error with %q", x.text, err, x.says)
			}
			continue
		}
		if err != nil || len(got) != len(x.want) {
			t.Errorf("%q: %v, %v", x.text, got, err)
			continue
		}
		for i := range got {
			if got[i] != x.want[i] || math.Signbit(got[i]) != math.Signbit(x.want[i]) {
				t.Errorf("%q: %v; want %v", x.text, got, x.want)
			}
		}
	}
}

func TestParseChange(t *testing.T) {
	g := parallel(t, "mm")
	for text, says := range map[string]string{
		"upper_ball.z":          "POINT.AXIS=VALUE",
		"z=3":                   "POINT.AXIS=VALUE",
		"upper_ball.w=3":        "names no axis",
		"upper_ball.=3":         "names no axis",
		"upper_ball.xy=3":       "names no axis",
		"top_ball.z=3":          "upper_ball",
		"upper_ball.z=much":     "no length",
		"upper_ball.z=16,45":    "write 16.45",
		"upper_ball.z=1/2 1in":  "no length",
		"upper_ball.z=1e400000": "no length",
	} {
		if _, err := ParseChange(g, text, false); err == nil || !IsUsage(err) || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v; want a usage error with %q", text, err, says)
		}
	}
	twice := []Change{{Point: 0, Axis: 2, N: 1}, {Point: 0, Axis: 2, N: 2}}
	if _, err := Changed(g, twice); err == nil || !strings.Contains(err.Error(), "lower_front.z is set twice") {
		t.Errorf("set twice: %v", err)
	}
}

func TestParseUntil(t *testing.T) {
	now := time.Date(2026, 3, 31, 22, 15, 0, 0, time.UTC)
	for text, want := range map[string]time.Time{
		"06:30": time.Date(2026, 4, 1, 6, 30, 0, 0, time.UTC),
		"23:00": time.Date(2026, 3, 31, 23, 0, 0, 0, time.UTC),
		"22:15": time.Date(2026, 4, 1, 22, 15, 0, 0, time.UTC),
	} {
		if got, err := ParseUntil(text, now); err != nil || !got.Equal(want) {
			t.Errorf("%s is %v, %v; want %v", text, got, err, want)
		}
	}
	for _, text := range []string{"25:00", "half past six", "", "6"} {
		if _, err := ParseUntil(text, now); err == nil || !IsUsage(err) {
			t.Errorf("%q: %v; want a usage error", text, err)
		}
	}
}

// TestCycleNeedsATravel: nothing is guessed where the file gives none.
func TestCycleNeedsATravel(t *testing.T) {
	if _, err := Cycle(parallel(t, "mm"), CycleOptions{}); err == nil || !IsUsage(err) || !strings.Contains(err.Error(), "travel: {bump: 60, droop: 60}") {
		t.Errorf("%v; want a usage error that says what to write", err)
	}
}

// TestCycleTellsMotionsApart: the travel of the file gives heave and steer, named in a column and parted by
// a blank line; a single motion has neither.
func TestCycleTellsMotionsApart(t *testing.T) {
	g := parallel(t, "mm")
	g.Travel = files.Travel{Bump: 30_000, Droop: 30_000, Rack: 10_000}
	both, err := Cycle(g, CycleOptions{Measures: []string{"camber"}})
	if err != nil {
		t.Fatal(err)
	}
	one, err := Cycle(g, CycleOptions{Measures: []string{"camber"}, Wheel: []float64{-30, 0, 30}})
	if err != nil {
		t.Fatal(err)
	}
	if both.Rows.Index("motion") != 0 || one.Rows.Index("motion") >= 0 {
		t.Errorf("column motion is %d of two motions and %d of one; want 0 and none", both.Rows.Index("motion"), one.Rows.Index("motion"))
	}
	for r := range both.Rows.Len() {
		word, _ := both.Rows.TextAt(0, r)
		rack, _ := both.Rows.FloatAt(2, r)
		if want := map[bool]string{true: "heave", false: "steer"}[r < files.DefaultHeavePositions]; word != want || (word == "heave" && rack != 0) {
			t.Errorf("row %d, rack at %g, is called %s; want %s", r, rack, word, want)
		}
	}
	for tb, blanks := range map[*Table]int{both: 1, one: 0} {
		var b strings.Builder
		if err := tb.Write(&b, FormatTable); err != nil {
			t.Fatal(err)
		}
		if n := strings.Count(b.String(), "\n\n"); n != blanks {
			t.Errorf("%d blank lines; want %d:\n%s", n, blanks, b.String())
		}
	}
}

// TestCycleSaysWhyThereIsNoValue: of what was asked for by name, and only of that.
func TestCycleSaysWhyThereIsNoValue(t *testing.T) {
	g := parallel(t, "mm")
	wheel := []float64{-10, 0, 10}
	for _, x := range []struct {
		measures []string
		want     []string
	}{
		{[]string{"front_view_swing_arm"}, []string{"front_view_swing_arm has no value at any of these positions; it has none where it is longer than 1 km"}},
		{[]string{"camber"}, nil},
		{[]string{"all"}, nil},
		{nil, nil},
	} {
		tb, err := Cycle(g, CycleOptions{Measures: x.measures, Wheel: wheel})
		if err != nil {
			t.Fatal(err)
		}
		if len(tb.Notes) != len(x.want) {
			t.Errorf("%v: %q; want %q", x.measures, tb.Notes, x.want)
			continue
		}
		for i := range x.want {
			if !strings.Contains(tb.Notes[i], x.want[i]) {
				t.Errorf("%v: %q; want %q", x.measures, tb.Notes[i], x.want[i])
			}
		}
	}
}

// TestBuildersWordsForMeasures: what a study file answers to a builder's other word, cycle and measures answer too.
func TestBuildersWordsForMeasures(t *testing.T) {
	for name, want := range map[string]string{
		"scrub_radius":        "scrub_radius is no measure; write kingpin_offset",
		"damper.motion_ratio": "write damper.installation_ratio, which is damper shortening per wheel travel",
		"ride_steer":          "ride_steer is no measure; write bump_steer",
		"wheel_rate":          "wheel_rate is not built yet",
	} {
		_, err := Cycle(parallel(t, "mm"), CycleOptions{Wheel: []float64{0}, Measures: []string{name}})
		if err == nil || !IsUsage(err) || !strings.Contains(err.Error(), want) {
			t.Errorf("cycle: %v; want %q", err, want)
		}
		if _, err := MeasureText(name); err == nil || !IsUsage(err) || !strings.Contains(err.Error(), want) {
			t.Errorf("measures: %v; want %q", err, want)
		}
	}
}

// TestCycleOffersTheOtherSide: where a measure of one side is listed and the sides differ, and not for what is the axle's or, as
// the camber of a beam whose wheels stay on the ground, the same on both.
func TestCycleOffersTheOtherSide(t *testing.T) {
	g := geometryOf(t, "beam.yaml")
	for measure, offers := range map[string]bool{"toe": true, "right.toe": false, "camber_to_ground": false, "roll_centre_height": false} {
		tb, err := Cycle(g, CycleOptions{Measures: []string{measure}, Roll: []float64{-1, 1}})
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(strings.Join(tb.Notes, "\n"), "ask for the other with --measures right."+measure); got != offers {
			t.Errorf("%s: the other side is offered: %v, want %v: %q", measure, got, offers, tb.Notes)
		}
	}
}

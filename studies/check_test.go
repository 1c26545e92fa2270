package studies

import (
	"math"
	"regexp"
	"strings"
	"testing"

	"trammel/studies/files"
)

// TestCheckSaysTheAngles: caster and kingpin inclination in the sentence are the arc tangents of the same
// sentence's lengths (definition; an independent sum of the example's own coordinates).
func TestCheckSaysTheAngles(t *testing.T) {
	back, in, up := 19.0, 35.0, 216.0 // of the upper ball from the lower one, read off the example
	caster := rounded(math.Atan2(back, up)*180/math.Pi, 1)
	kingpin := rounded(math.Atan2(in, up)*180/math.Pi, 1)
	for name, lengths := range map[string]string{
		"corncrake":      "19.0 mm behind and 35.0 mm inboard of lower_ball, 216.0 mm above it",
		"corncrake-inch": "0.75 in behind and 1.38 in inboard of lower_ball, 8.50 in above it",
	} {
		f, err := ReadExample(name)
		if err != nil {
			t.Fatal(err)
		}
		text, err := CheckGeometry(f.Geometry)
		if err != nil {
			t.Fatal(err)
		}
		want := "upper_ball is " + lengths + ": caster " + caster + " deg, kingpin inclination " + kingpin + " deg."
		if !strings.Contains(text, want) {
			t.Errorf("%s: the check does not say %q:\n%s", name, want, text)
		}
		if !strings.HasSuffix(text, Caution+"\n") {
			t.Errorf("%s: the check does not end with the caution", name)
		}
	}
}

// TestCheckSaysWhereItStops: what does not close over its own travel is a bad file, and the report still
// says what could be said.
func TestCheckSaysWhereItStops(t *testing.T) {
	g := parallel(t, "mm")
	g.Travel = files.Travel{Bump: 150_000, Droop: 50_000}
	text, err := CheckGeometry(g)
	if err == nil || !IsUsage(err) || !strings.Contains(err.Error(), "the wheel closes from -50 to +") {
		t.Errorf("%v; want a usage error with the closing range", err)
	}
	for _, want := range []string{"At design:", "Travel: at wheel_travel +"} {
		if !strings.Contains(text, want) {
			t.Errorf("the report lacks %q:\n%s", want, text)
		}
	}
}

// TestCheckSaysTheStops: a damper that the travel drives onto its stops is said to be.
func TestCheckSaysTheStops(t *testing.T) {
	f, err := ReadExample("corncrake")
	if err != nil {
		t.Fatal(err)
	}
	g := *f.Geometry
	least, most := int64(240_000), int64(250_000)
	g.Members = append([]files.Member(nil), g.Members...)
	g.Members[g.Member("damper")].Length = files.Range{Min: &least, Max: &most}
	text, err := CheckGeometry(&g)
	if err != nil {
		t.Fatal(err)
	}
	if want := "it is on its stop at wheel_travel +50 mm and it is pulled out to its end at wheel_travel -50 mm"; !strings.Contains(text, want) {
		t.Errorf("the report lacks %q:\n%s", want, text)
	}
	if text, err = CheckGeometry(f.Geometry); err != nil || strings.Contains(text, "on its stop") {
		t.Errorf("the example's damper is said to be on its stop (%v)", err)
	}
}

// TestCheckCountsTheStudy: a residual for each position of a target, a row for each run and the design.
func TestCheckCountsTheStudy(t *testing.T) {
	f, err := ReadExample("corncrake")
	if err != nil {
		t.Fatal(err)
	}
	text, err := CheckStudy(f)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"7 targets, 127 residuals", // 3 along 41 positions of heave, 4 at one place
		"camber in bump: 41 values, missed", "trail: 1 value, missed",
		"damper stroke: 41 values, kept", "lock: 1 value, kept",
		"At most ", // local searches end when they have arrived
		"damper mount     -20 to 20 mm, now 0, in steps of 1",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the check lacks %q:\n%s", want, text)
		}
	}
	f.Budget.Runs = 500
	if text, err = CheckStudy(f); err != nil || !strings.Contains(text, "500 runs of") || !strings.Contains(text, "by the budget") {
		t.Errorf("the budget does not count (%v):\n%s", err, text)
	}
}

// TestInchesAlone: nothing that check says of a file in inches is in millimetres, and what it tells to write where the file has
// no travel is in inches too: 60 mm are 2.4 of them.
func TestInchesAlone(t *testing.T) {
	f, err := ReadExample("corncrake-inch")
	if err != nil {
		t.Fatal(err)
	}
	says, err := CheckStudy(f)
	if err != nil {
		t.Fatal(err)
	}
	if mm := regexp.MustCompile(`.*[0-9] mm\b.*`).FindString(says); mm != "" {
		t.Errorf("check says %q", mm)
	}
	f.Geometry.Travel = files.Travel{}
	const want = "{bump: 2.4, droop: 2.4"
	if says, err := CheckGeometry(f.Geometry); err != nil || !strings.Contains(says, "add travel: "+want+", rack: 1.2}.") {
		t.Errorf("check of a file without travel does not say %q (%v):\n%s", want, err, says)
	}
	if _, err := Cycle(f.Geometry, CycleOptions{}); err == nil || !strings.Contains(err.Error(), "write travel: "+want+"} in it, or --travel -2.4..2.4:41") {
		t.Errorf("cycle of a file without travel: %v", err)
	}
}

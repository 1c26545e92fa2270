package files

import (
	"path/filepath"
	"strings"
	"testing"
)

// Lengths that no car has get a remark at their place, with the unit that was probably meant, and are no mistake.
func TestLengthsThatNoCarHas(t *testing.T) {
	raw, err := testdata("good/solids.yaml")
	if err != nil {
		t.Fatal(err)
	}
	mm := string(raw)
	for _, c := range []struct{ was, is, want string }{
		{"wheel:  {", "vehicle: {wheelbase: 2.45}\nwheel:  {", "vehicle: wheelbase is 2.45 mm, and of cars it lies between 800 and 8000 mm (common practice, no source); if it is in metres, write 2450"},
		{"wheel:  {", "vehicle: {wheelbase: 96}\nwheel:  {", "vehicle: wheelbase is 96 mm, and of cars it lies between 800 and 8000 mm (common practice, no source); if it is in inches, write 96in"},
		{"wheel:  {", "vehicle: {wheelbase: 245}\nwheel:  {", "vehicle: wheelbase is 245 mm, and of cars it lies between 800 and 8000 mm (common practice, no source); if it is in centimetres, write 2450"},
		{"wheel:  {", "vehicle: {wheelbase: 2450}\nwheel:  {", ""},
		{"wheel:  {", "vehicle: {wheelbase: 2450, centre_of_gravity: 0.45}\nwheel:  {", "vehicle: centre_of_gravity is 0.45 mm, and of cars it lies between 100 and 2000 mm (common practice, no source); if it is in metres, write 450"},
		{"bump: 50", "bump: 0.05", "travel: bump is 0.05 mm, and of cars it lies between 3 and 600 mm (common practice, no source); if it is in metres, write 50"},
		{"bump: 50", "bump: 0", ""},
		{"bump: 50", "bump: 900", "travel: bump is 900 mm, and of cars it lies between 3 and 600 mm (common practice, no source); look at its number and unit"},
		{"width: 205, round: 30", "width: 8, round: 2", "wheel: tyre: width is 8 mm, and of cars it lies between 40 and 700 mm (common practice, no source); if it is in inches, write 8in"},
		{"rack: 28}", "rack: 28}\nbuild: {error: 50}", "build: error is 50 mm, and of cars it lies up to 10 mm (common practice, no source); look at its number and unit"},
		{"rack: 28}", "rack: 28}\nbuild: {error: 0.5}", ""},
	} {
		if !strings.Contains(mm, c.was) {
			t.Fatalf("the file has no %q", c.was)
		}
		text := strings.Replace(mm, c.was, c.is, 1)
		g, err := ReadGeometry(oneFile("x", text), "x")
		if err != nil {
			t.Fatalf("%s: %v", c.is, err)
		}
		var notes []string
		for _, n := range g.Notes {
			if strings.Contains(n.Message, "common practice") {
				if line := strings.Split(text, "\n")[n.Line-1]; !strings.Contains(c.is, line[n.Column-1:][:1]) {
					t.Errorf("%s: the remark stands at %d:%d", c.is, n.Line, n.Column)
				}
				notes = append(notes, n.Message)
			}
		}
		if got := strings.Join(notes, "\n"); got != c.want {
			t.Errorf("%s:\n%s\nwant\n%s", c.is, got, c.want)
		}
	}
	// In inches.
	inch, err := testdata("good/front-inch.yaml")
	if err != nil {
		t.Fatal(err)
	}
	g, err := ReadGeometry(oneFile("x", string(inch)+"\nvehicle: {wheelbase: 2450}\n"), "x")
	if err != nil {
		t.Fatal(err)
	}
	if want := "vehicle: wheelbase is 2450 in, and of cars it lies between 31 and 315 in (common practice, no source); if it is in millimetres, write 2450mm"; !hasNote(g, want) {
		t.Errorf("%v, want %s", g.Notes, want)
	}
	// A wheel whose point stands in the middle of the car.
	g, err = ReadGeometry(oneFile("x", strings.Replace(mm, "wheel_centre:  [   0, 682, 276]", "wheel_centre:  [   0, 68.2, 276]", 1)), "x")
	if err != nil {
		t.Fatal(err)
	}
	if want := "wheel_centre lies 68.2 mm from the centre line, so that the track is 136.4 mm, and of cars it lies between 500 and 3500 mm (common practice, no source); look at the point, units and origin"; !hasNote(g, want) {
		t.Errorf("%v, want %s", g.Notes, want)
	}
}

func hasNote(g *Geometry, message string) bool {
	for _, n := range g.Notes {
		if n.Message == message {
			return true
		}
	}
	return false
}

// Of no good file there is anything to remark on.
func TestUsualSizes(t *testing.T) {
	names, err := filepath.Glob("testdata/good/*.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		raw, err := testdata("good/" + filepath.Base(name))
		if err != nil {
			t.Fatal(err)
		}
		if IsStudy(raw) {
			continue
		}
		for _, n := range mustGeometry(t, "good/"+filepath.Base(name)).Notes {
			if strings.Contains(n.Message, "of cars it lies") {
				t.Error(n)
			}
		}
	}
}

package studies

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"trammel/kin"
)

// solidsNight binds the study of solids, in heave alone, with a geometry in which something is written otherwise.
func solidsNight(t *testing.T, was, now string) *Study {
	t.Helper()
	text := func(name string) string {
		b, err := os.ReadFile(filepath.Join("files", "testdata", "good", name))
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	geometry := text("solids.yaml")
	if !strings.Contains(geometry, was) {
		t.Fatalf("solids.yaml has no %q", was)
	}
	study := strings.NewReplacer("solids.yaml", "geometry.yaml", "  steer: {rack_travel: [-40, 40], positions: 5}\n", "", "in: steer", "in: heave").Replace(text("solids-night.yaml"))
	return bind(t, study, strings.Replace(geometry, was, now, 1))
}

// TestOffCentre: what exists once and reaches farther to one side comes nearer to the parts of that side, though they are
// mirror images of the others: the limit of the clearance is that of the side on which it is less.
func TestOffCentre(t *testing.T) {
	for _, c := range []struct{ low, high, nearer string }{{"-180", "210", "engine_bay"}, {"-235", "180", "right.engine_bay"}} {
		st := solidsNight(t, "engine_low:    [-900, -180, 120]\n  engine_high:   [-400, 210, 480]", "engine_low:    [-900, "+c.low+", 120]\n  engine_high:   [-400, "+c.high+", 480]")
		p := st.Space.Design()
		e := st.NewEvaluator()
		if o := outcome(st, e, &p); o.Status.Failed() {
			t.Fatal(o.Status)
		}
		want, limit := 0.0, -1
		for i, name := range st.limits {
			if name == "engine_bay clearance" {
				limit = i
			}
		}
		for i, m := range st.sweeps[:st.places] {
			col, err := st.Program.Column(c.nearer + ".clearance")
			if err != nil {
				t.Fatal(err)
			}
			sw := st.Program.NewSweep(m.Motion, []kin.Column{col})
			v := make([]float64, sw.Size())
			if _, f := e.state.Run(sw, v); f.Status != kin.OK {
				t.Fatal(st.Program.Describe(f))
			}
			if at, _ := sw.Least(0); i == 0 || v[at] < want {
				want = v[at]
			}
		}
		if got := e.result.Limits[limit].Got; got != want {
			t.Errorf("an engine from %s to %s: its least clearance is %g, that of %s %g", c.low, c.high, got, c.nearer, want)
		}
	}
}

// TestWhichSolids: where a clearance has several solids, in a list, in a group or on both sides, what is said of it names the
// two that are nearest, and where it has two alone it does not. At a pivot in a rail's tube, and of a caliper in the rim, the gap is
// the same everywhere.
func TestWhichSolids(t *testing.T) {
	text, err := CheckStudy(onDisk(t, "solids-night.yaml").File)
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{
		"links_to_tub":   "-10.29 mm, lower_arm to rail everywhere)",
		"right_links":    "right.lower_arm to cross_tube at wheel 30 mm)",
		"caliper_in_rim": "-6 mm, caliper to rim everywhere)",
		"under_roll":     "-23.92 mm, right.damper to roll_damper at wheel 30 mm)",
		"arm_in_rim":     "9.164 mm at rack -40 mm)",
		"dampers_apart":  "-18 mm everywhere)",
	} {
		found := false
		for line := range strings.Lines(text) {
			if strings.HasPrefix(line, "  "+name+" clearance: ") {
				found = true
				if !strings.HasSuffix(strings.TrimSpace(line), want) {
					t.Errorf("got  %swant ... %s", line, want)
				}
			}
		}
		if !found {
			t.Errorf("nothing is said of %s", name)
		}
	}
}

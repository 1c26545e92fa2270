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

package studies

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"trammel/optimize"
)

// TestRetarget: old runs scored by new targets stand as the same runs of a study made with these, to the
// last bit, whether columns suffice or every run is solved again; and which of the two is said.
func TestRetarget(t *testing.T) {
	base := t.TempDir()
	geometry := text(t, "corncrake", "corncrake-front.yaml")
	if err := os.WriteFile(filepath.Join(base, "geometry.yaml"), []byte(geometry), 0o644); err != nil {
		t.Fatal(err)
	}
	old := filepath.Join(base, "old")
	run(t, asWritten(t, plans), RunOptions{Dir: old})
	first := string(asWritten(t, plans).Text)
	for _, c := range []struct {
		name, says string
		columns    bool
		change     []string // pairs: what stands there, what stands there instead
	}{
		{"the same", "from the columns", true, nil},
		{"other weights and names", "from the columns", true, []string{"weight: 3", "weight: 0.5", "bump steer:", "toe through bump:"}},
		{"a target dropped", "from the columns", true, []string{"  ratio: {measure: damper.installation_ratio, place: {wheel_travel: 0}, value: 0.72, within: 0.02}\n", ""}},
		{"a limit dropped", "from the columns", true, []string{"limits:\n  stroke: {measure: damper.length, in: heave, min: 215, max: 270}\n", ""}},
		{"another within", "target bump steer is none of theirs", false, []string{"within: 0.05", "within: 0.04"}},
		{"made robust", "target bump steer is none of theirs", false, []string{"within: 0.05", "within: 0.05, robust: true"}},
		{"another limit", "limit stroke is none of theirs", false, []string{"max: 270", "max: 262"}},
		{"more positions", "its motions are others", false, []string{"positions: 9", "positions: 11"}},
		{"nothing feasible", "limit stroke is none of theirs", false, []string{"min: 215, max: 270", "min: 300"}},
	} {
		text := strings.NewReplacer(c.change...).Replace(first)
		if (text == first) != (c.change == nil) {
			t.Fatalf("%s: the change changes nothing", c.name)
		}
		path := filepath.Join(base, "new.yaml")
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		f, err := ReadStudy(path)
		if err != nil {
			t.Fatal(err)
		}
		dir := filepath.Join(t.TempDir(), "new")
		run(t, f, RunOptions{Dir: dir})
		_, want := rank(t, dir)
		a := open(t, old)
		how, err := a.Retarget(path)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(how, c.says) || strings.Contains(how, "solving the 2,601 recorded runs again") == c.columns {
			t.Errorf("%s: it says %q", c.name, how)
		}
		got, err := a.Rank()
		if err != nil {
			t.Fatal(err)
		}
		scores := outcomes(t, open(t, dir))
		for run, o := range outcomes(t, a) {
			if o != scores[run] {
				t.Fatalf("%s: run %d comes to %+v, and run anew to %+v", c.name, run, o, scores[run])
			}
		}
		got.Folder, got.Columns = want.Folder, want.Columns
		x, _ := json.Marshal(got)
		y, _ := json.Marshal(want)
		if string(x) != string(y) {
			t.Errorf("%s: scored anew\n%s\nrun anew\n%s", c.name, x, y)
		}
		if (len(got.Answers) == 0) || got.AnyFeasible != (got.Answers[0].Status == "ok") {
			t.Errorf("%s: %d answers, feasible %v", c.name, len(got.Answers), got.AnyFeasible)
		}
	}
	if _, err := open(t, old).Retarget(filepath.Join(base, "none.yaml")); err == nil {
		t.Error("a study file that is not there is taken")
	}
}

// came is what a run came to.
type came struct {
	status           optimize.Status
	score, violation uint64 // bits
}

func outcomes(t *testing.T, a *Archive) map[int64]came {
	t.Helper()
	all := map[int64]came{}
	err := a.scan(func(run int64, _ *optimize.Point, o *optimize.Outcome) {
		c := came{status: o.Status}
		if !o.Status.Failed() {
			c.score, c.violation = math.Float64bits(o.Score), math.Float64bits(o.Violation)
		}
		all[run] = c
	})
	if err != nil || len(all) != 2601 {
		t.Fatalf("%d runs (%v)", len(all), err)
	}
	return all
}

// TestRetargetOtherGeometry: the runs keep their geometry, and that is said.
func TestRetargetOtherGeometry(t *testing.T) {
	base := t.TempDir()
	old := filepath.Join(base, "old")
	run(t, asWritten(t, "{plan: sobol, runs: 64}"), RunOptions{Dir: old})
	geometry := strings.Replace(text(t, "corncrake", "corncrake-front.yaml"), "loaded_radius: ", "loaded_radius: 1", 1)
	for name, text := range map[string]string{"geometry.yaml": geometry, "new.yaml": string(asWritten(t, "{plan: sobol, runs: 64}").Text)} {
		if err := os.WriteFile(filepath.Join(base, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	how, err := open(t, old).Retarget(filepath.Join(base, "new.yaml"))
	if err != nil || !strings.Contains(how, "the geometry is that of the runs, and not") {
		t.Errorf("%q, %v", how, err)
	}
}

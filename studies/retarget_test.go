package studies

import (
	"encoding/json"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
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
	all := scored(t, a)
	if len(all) != 2601 {
		t.Fatalf("%d runs", len(all))
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

// TestRetargetRoom: runs are scored by what the parts of the new study's geometry allow and by the room that they take: as the same
// runs of a study made with these, to the last bit. Points that members use stay where the runs have them.
func TestRetargetRoom(t *testing.T) {
	base := t.TempDir()
	bare := text(t, "corncrake", "corncrake-front.yaml")
	const stages = "{plan: sobol, runs: 200}"
	const joint = "  lower_joint: {spherical: lower_ball, housing: upright, bolt: lower_arm, bolt_axis: [0, 0, 1], tilt: 6}\n"
	drawn := strings.NewReplacer("ball: upper_ball}", "ball: upper_ball, tube: 22}", "ends: [lower_arm, rocker]}", "ends: [lower_arm, rocker], tube: 22}",
		"members:", "  legs_low: [-420, -190, 216]\n  legs_high: [190, 190, 394]\n\nmembers:").Replace(bare) +
		"solids:\n  legs: {box: [legs_low, legs_high], once: true}\nclearances:\n  room: {between: [pushrod, upper_arm], min: 9}\n  feet: {between: [pushrod, legs], min: 20}\njoints:\n" + joint
	changed := func(text string, pairs ...string) string { return swapped(t, text, pairs...) }
	for _, c := range []struct {
		name, old, new, same, says string // same is the geometry of the runs that new means
	}{
		{"a longer stroke", bare, changed(bare, "max: 288", "max: 275"), changed(bare, "max: 288", "max: 275"), ", and by what parts allow and the room that they take in "},
		{"room drawn afterwards", bare, drawn, drawn, "(what its parts allow, or the room that they take, is other than theirs)"},
		{"room taken away", drawn, bare, bare, "by solving the 201 recorded runs again"},
		{"a smaller tilt and gap", drawn, changed(drawn, "tilt: 6", "tilt: 4", "min: 9", "min: 14"), changed(drawn, "tilt: 6", "tilt: 4", "min: 9", "min: 14"), "by what parts allow"},
		{"legs elsewhere", drawn, changed(drawn, "[190, 190, 394]", "[190, 240, 394]"), changed(drawn, "[190, 190, 394]", "[190, 240, 394]"), "by what parts allow"},
		{"a member's point elsewhere too", drawn, changed(drawn, "tilt: 6", "tilt: 4", "[   7, 652, 134]", "[   7, 655, 134]"), changed(drawn, "tilt: 6", "tilt: 4"), "all else of the geometry is that of the runs"},
		{"a member's point elsewhere", drawn, changed(drawn, "[   7, 652, 134]", "[   7, 655, 134]"), drawn, "the geometry is that of the runs, and not "},
	} {
		write := func(name, text string) string {
			path := filepath.Join(base, name)
			if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
			return path
		}
		study := string(asWritten(t, stages).Text)
		old, again := filepath.Join(t.TempDir(), "old"), filepath.Join(t.TempDir(), "again")
		run(t, read(t, study, c.old), RunOptions{Dir: old})
		run(t, read(t, study, c.same), RunOptions{Dir: again})
		write("geometry.yaml", c.new)
		a := open(t, old)
		how, err := a.Retarget(write("new.yaml", study))
		if err != nil || !strings.Contains(how, c.says) {
			t.Errorf("%s: it says %q (%v)", c.name, how, err)
			continue
		}
		got, err := a.Rank()
		if err != nil {
			t.Fatal(err)
		}
		_, want := rank(t, again)
		if x, y := scored(t, a), scored(t, open(t, again)); !maps.Equal(x, y) {
			t.Errorf("%s: scored anew the runs come to other than run anew", c.name)
		}
		if x, y := len(got.Answers[0].Limits), len(want.Answers[0].Limits); x != y || got.Answers[0].Run != want.Answers[0].Run {
			t.Errorf("%s: run %d of %d limits, run anew %d of %d", c.name, got.Answers[0].Run, x, want.Answers[0].Run, y)
		}
	}
}

// TestRetargetLinesElsewhere: the order of a geometry's lines is no difference.
func TestRetargetLinesElsewhere(t *testing.T) {
	const stages = "{plan: sobol, runs: 8}"
	lines := strings.SplitAfter(text(t, "corncrake", "corncrake-front.yaml"), "\n")
	exchange := func(a, b string) {
		i := slices.IndexFunc(lines, func(s string) bool { return strings.HasPrefix(s, "  "+a+":") })
		j := slices.IndexFunc(lines, func(s string) bool { return strings.HasPrefix(s, "  "+b+":") })
		lines[i], lines[j] = lines[j], lines[i]
	}
	plain := strings.Join(lines, "") + "solids:\n  wishbone_guard: {ball: upper_front, diameter: 8}\nclearances:\n  one: {between: [pushrod, upper_arm], min: 2}\n  two: {between: [pushrod, wishbone_guard], min: 2}\n"
	plain = strings.NewReplacer("ball: upper_ball}", "ball: upper_ball, tube: 22}", "ball: lower_ball}", "ball: lower_ball, tube: 22}", "ends: [lower_arm, rocker]}", "ends: [lower_arm, rocker], tube: 22}").Replace(plain)
	base, study := t.TempDir(), string(asWritten(t, stages).Text)
	old := filepath.Join(base, "old")
	run(t, read(t, study, plain), RunOptions{Dir: old})
	lines = strings.SplitAfter(plain, "\n")
	exchange("upper_front", "steering_arm")
	exchange("upper_arm", "tie_rod")
	exchange("one", "two")
	other := strings.Join(lines, "")
	if other == plain {
		t.Fatal("nothing was exchanged")
	}
	for name, text := range map[string]string{"geometry.yaml": other, "new.yaml": study} {
		if err := os.WriteFile(filepath.Join(base, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	how, err := open(t, old).Retarget(filepath.Join(base, "new.yaml"))
	if err != nil || strings.Contains(how, "by solving") || strings.Contains(how, "differs") {
		t.Errorf("it says %q (%v)", how, err)
	}
}

// TestRetargetOtherCar: a geometry whose lengths, axes or parts cannot be those of the runs is refused with a sentence.
func TestRetargetOtherCar(t *testing.T) {
	base := t.TempDir()
	bare := text(t, "corncrake", "corncrake-front.yaml")
	study := string(asWritten(t, "{plan: sobol, runs: 4}").Text)
	old := filepath.Join(base, "old")
	run(t, read(t, study, bare), RunOptions{Dir: old})
	for _, c := range []struct{ geometry, says string }{
		{swapped(t, bare, "origin: [0, 0, 0] ", "origin: [0, 1, 0] "), "geometry.yaml has another origin, other axes or another side than the geometry of the runs; name the geometry of the runs in it"},
		{swapped(t, bare, "\nvehicle:", "\njoints:\n  eye: {rod_end: pushrod, at: pushrod_foot, tilt: 9}\nvehicle:"), ""},
		{swapped(t, bare, "\nmembers:", "\nmembers:\n  push_rod:   {link: [pushrod_foot, pushrod_head], ends: [lower_arm, rocker]}", "  pushrod:   {link: [pushrod_foot, pushrod_head], ends: [lower_arm, rocker]}\n", "",
			"\nvehicle:", "\njoints:\n  eye: {rod_end: push_rod, at: pushrod_foot, tilt: 9}\nvehicle:"),
			"the parts of " + filepath.Join(base, "geometry.yaml") + " do not go with the points and members of the runs: eye: rod_end is \"push_rod\""},
	} {
		for name, text := range map[string]string{"geometry.yaml": c.geometry, "new.yaml": study} {
			if err := os.WriteFile(filepath.Join(base, name), []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		how, err := open(t, old).Retarget(filepath.Join(base, "new.yaml"))
		if c.says == "" && err != nil || c.says != "" && (err == nil || !IsUsage(err) || !strings.Contains(err.Error(), c.says)) {
			t.Errorf("it says %q, %v; want %q", how, err, c.says)
		}
	}
}

// scored is what every run comes to under the archive's study.
func scored(t *testing.T, a *Archive) map[int64]came {
	t.Helper()
	all := map[int64]came{}
	err := a.scan(func(run int64, _ *optimize.Point, o *optimize.Outcome) {
		c := came{status: o.Status}
		if !o.Status.Failed() {
			c.score, c.violation = math.Float64bits(o.Score), math.Float64bits(o.Violation)
		}
		all[run] = c
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

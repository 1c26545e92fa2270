package studies

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"trammel/studies/files"
	"trammel/studies/record"
)

// night is a small study with a plan and a search, of some two thousand runs that take a moment each.
func night(t testing.TB) *files.Study {
	t.Helper()
	study := `format: 1
study: a short night
geometry: geometry.yaml
vary:
  upper_ball.z: {from: 335, to: 365}
  rack: {move: [rack_end], along: z, by: 9, step: 0.5}
  steering_arm.z: {by: 9}
  pushrod_head.y: {from: 290, to: 380}
  damper mount: {move: [damper_frame], along: [tube_inner, tube_outer], by: 20}
motions:
  heave: {wheel_travel: [-40, 40], positions: 9}
targets:
  camber: {measure: camber, in: heave, follow: {-40: 0.4, 40: -3}, within: 0.2}
  bump steer: {measure: toe, in: heave, hold: 0.08, within: 0.05, weight: 3}
  ratio: {measure: damper.installation_ratio, place: {wheel_travel: 0}, value: 0.72, within: 0.02}
limits:
  stroke: {measure: damper.length, in: heave, min: 215, max: 270}
stages:
  - {plan: sobol, runs: 600}
  - {search: differential-evolution, runs: 1600, islands: 4}
`
	return read(t, study, text(t, "corncrake", "corncrake-front.yaml"))
}

// often makes parts close at every block, so that a stop anywhere leaves some behind.
func often() record.Options {
	o := record.DefaultOptions()
	o.PartAge = 0
	return o
}

// after returns options whose hook calls do at every n-th closed part.
func after(n int, do func()) record.Options {
	o, closed := often(), 0
	o.Hook = func(point string) error {
		if point == record.CrashAfterLogSync {
			if closed++; closed%n == 0 {
				do()
			}
		}
		return nil
	}
	return o
}

// wantUsage fails the test unless err is a usage error that says all of the words.
func wantUsage(t *testing.T, name string, err error, words ...string) {
	t.Helper()
	if err == nil || !IsUsage(err) {
		t.Errorf("%s: %v; want a usage error", name, err)
		return
	}
	for _, w := range words {
		if !strings.Contains(err.Error(), w) {
			t.Errorf("%s: %q does not say %q", name, err, w)
		}
	}
}

// What a child process is told by its environment: the folder, and at which passing of which point of
// its record it waits to be killed.
const (
	childDir    = "TRAMMEL_TEST_CHILD_DIR"
	childPoint  = "TRAMMEL_TEST_CHILD_POINT"
	childCount  = "TRAMMEL_TEST_CHILD_COUNT"
	childStages = "TRAMMEL_TEST_CHILD_STAGES" // other stages than the night's
)

// TestChild is the child process of TestKilled: a run of its own, when the environment asks for one.
func TestChild(t *testing.T) {
	dir := os.Getenv(childDir)
	if dir == "" {
		return // nobody asks
	}
	left, _ := strconv.Atoi(os.Getenv(childCount))
	o := often()
	o.Hook = func(point string) error {
		if point == os.Getenv(childPoint) {
			if left--; left == 0 {
				if err := os.WriteFile(dir+".waits", nil, 0o644); err != nil {
					t.Error(err)
				}
				time.Sleep(time.Minute)
			}
		}
		return nil
	}
	f := night(t)
	if stages := os.Getenv(childStages); stages != "" {
		f = asWritten(t, stages)
	}
	if res := run(t, f, RunOptions{Dir: dir, Workers: 2, Record: o}); res.Ended != Finished {
		t.Fatal(res.Sentence)
	}
}

// child starts this test binary as a process of its own that runs the night into dir.
func child(t *testing.T, dir, point string, count int) *exec.Cmd {
	t.Helper()
	c := exec.Command(os.Args[0], "-test.run=^TestChild$", "-test.count=1")
	c.Env = append(os.Environ(), childDir+"="+dir, childPoint+"="+point, childCount+"="+strconv.Itoa(count))
	c.Stderr = os.Stderr
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	return c
}

// kill runs a child until it passes a point for the count-th time, and kills it there.
func kill(t *testing.T, dir, point string, count int) {
	t.Helper()
	c := child(t, dir, point, count)
	waits := dir + ".waits"
	for tries := 0; ; tries++ {
		if _, err := os.Stat(waits); err == nil {
			break
		}
		if time.Sleep(time.Millisecond); tries > 60_000 {
			c.Process.Kill()
			t.Fatalf("the child does not come %s for the %dth time", point, count)
		}
	}
	if err := c.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	if c.Wait() == nil {
		t.Fatalf("the child that waited %s ended well; it should be killed", point)
	}
	if err := os.Remove(waits); err != nil {
		t.Fatal(err)
	}
}

// finished counts the blocks that the manifest of a folder names; 0 while there is none.
func finished(dir string) (n int) {
	if !record.Exists(dir) {
		return 0
	}
	v, err := record.Read(dir)
	if err != nil {
		return 0 // it is being made
	}
	for _, s := range v.Finished() {
		n += s.Last - s.First + 1
	}
	return n
}

// TestCrashBeforeCurves: a run that ends after its last block and before its curves writes them when it
// is run again.
func TestCrashBeforeCurves(t *testing.T) {
	base := t.TempDir()
	alone, dir := filepath.Join(base, "alone"), filepath.Join(base, "crashed")
	run(t, night(t), RunOptions{Dir: alone})
	pulled := errors.New("the plug was pulled")
	blocks := finished(alone)
	o := often()
	o.Hook = func(point string) error {
		if point == record.CrashInPart && finished(dir) == blocks {
			return pulled
		}
		return nil
	}
	if _, err := Run(context.Background(), night(t), RunOptions{Dir: dir, Record: o}); !errors.Is(err, pulled) {
		t.Fatalf("%v; want the crash", err)
	}
	if n := finished(dir); n != blocks {
		t.Fatalf("%d of %d blocks finished before the crash", n, blocks)
	}
	if digest(t, dir) == digest(t, alone) {
		t.Fatal("the crash came after the curves")
	}
	res := run(t, night(t), RunOptions{Dir: dir})
	if res.Made != 0 || digest(t, dir) != digest(t, alone) {
		t.Errorf("run again, %d runs made: other curves than in one piece", res.Made)
	}
}

// TestInterrupted: a run whose context ends says so in a sentence, and going on as often as it takes gives
// the rows of one in one piece.
func TestInterrupted(t *testing.T) {
	base := t.TempDir()
	alone, dir := filepath.Join(base, "alone"), filepath.Join(base, "stopped")
	run(t, night(t), RunOptions{Dir: alone})
	var runs int64
	for session := 1; ; session++ {
		ctx, cancel := context.WithCancel(context.Background())
		res, err := Run(ctx, night(t), RunOptions{Dir: dir, Workers: 1 + session%3, Record: after(12, cancel)})
		cancel()
		if err != nil {
			t.Fatal(err)
		}
		if runs += res.Made; res.Runs != runs {
			t.Fatalf("session %d: %d runs in the folder after %d were made", session, res.Runs, runs)
		}
		if res.Ended == Finished {
			if session < 3 {
				t.Errorf("only %d sessions; it should be stopped more often", session)
			}
			break
		}
		if want := fmt.Sprintf("Stopped; %d runs are kept. To go on: trammel run study.yaml --out %s", runs, dir); res.Ended != Interrupted || res.Sentence != want {
			t.Fatalf("ended %v: %q; want %q", res.Ended, res.Sentence, want)
		}
		if session > 100 {
			t.Fatal("it never ends")
		}
	}
	if digest(t, dir) != digest(t, alone) {
		t.Error("other rows than in one piece")
	}
	again := run(t, night(t), RunOptions{Dir: dir})
	if again.Made != 0 || again.Ended != Finished || digest(t, dir) != digest(t, alone) {
		t.Errorf("a finished study run again made %d runs", again.Made)
	}
}

// TestBudgetOfRuns: a budget is never passed, used as far as whole blocks go, and the same whether the run
// was stopped on the way or not; with a larger one the study goes on to the rows of one in one piece.
func TestBudgetOfRuns(t *testing.T) {
	base := t.TempDir()
	alone := filepath.Join(base, "alone")
	whole := run(t, night(t), RunOptions{Dir: alone})
	for _, budget := range []int64{1, 30, 599, 601, 1000, 1777} {
		f := night(t)
		f.Budget.Runs = budget
		one, two := filepath.Join(base, fmt.Sprint("one-", budget)), filepath.Join(base, fmt.Sprint("two-", budget))
		res := run(t, f, RunOptions{Dir: one})
		if res.Ended != BudgetSpent || res.Runs > budget || res.Runs < budget-budget/2-160 || res.Runs < 1 {
			t.Errorf("budget %d: ended %v after %d runs", budget, res.Ended, res.Runs)
		}
		if !strings.Contains(res.Sentence, "The budget is spent") || !strings.Contains(res.Sentence, "goes on") {
			t.Errorf("budget %d: %q", budget, res.Sentence)
		}
		if again := run(t, f, RunOptions{Dir: one}); again.Ended != BudgetSpent || again.Made != 0 {
			t.Errorf("budget %d, run again: %d more", budget, again.Made)
		}
		for ended := Interrupted; ended == Interrupted; {
			ctx, cancel := context.WithCancel(context.Background())
			r, err := Run(ctx, f, RunOptions{Dir: two, Workers: 3, Record: after(20, cancel)})
			cancel()
			if err != nil {
				t.Fatal(err)
			}
			ended = r.Ended
		}
		if digest(t, one) != digest(t, two) {
			t.Errorf("budget %d: other rows in several sessions than in one", budget)
		}
		f.Budget.Runs = whole.Runs
		if res := run(t, f, RunOptions{Dir: one}); res.Ended != Finished || res.Runs != whole.Runs || digest(t, one) != digest(t, alone) {
			t.Errorf("budget %d, then a larger one: ended %v after %d runs of %d, or other rows", budget, res.Ended, res.Runs, whole.Runs)
		}
	}
}

// TestBudgetOfTimeAndDisk: both end a study cleanly, and with more it goes on.
func TestBudgetOfTimeAndDisk(t *testing.T) {
	base := t.TempDir()
	alone := filepath.Join(base, "alone")
	whole := run(t, night(t), RunOptions{Dir: alone})
	for name, b := range map[string]files.Budget{"time": {Time: time.Nanosecond}, "disk": {Disk: 1}} {
		f, dir := night(t), filepath.Join(base, name)
		f.Budget = b
		res := run(t, f, RunOptions{Dir: dir, Record: often()})
		if res.Ended != BudgetSpent || res.Runs >= whole.Runs {
			t.Errorf("%s: ended %v after %d of %d runs", name, res.Ended, res.Runs, whole.Runs)
		}
		f.Budget = files.Budget{Time: time.Hour, Disk: 1 << 40}
		if res := run(t, f, RunOptions{Dir: dir}); res.Ended != Finished || digest(t, dir) != digest(t, alone) {
			t.Errorf("%s, then more: ended %v, or other rows", name, res.Ended)
		}
	}
	dir := filepath.Join(base, "until")
	if res := run(t, night(t), RunOptions{Dir: dir, Until: time.Now().Add(-time.Second)}); res.Ended != BudgetSpent {
		t.Errorf("until a moment ago: ended %v", res.Ended)
	}
}

// TestChangedStudyIsRefused: what the rows depend on may not change under a folder. The message says what
// changed and what to type; the folder stays as it was.
func TestChangedStudyIsRefused(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "night")
	run(t, night(t), RunOptions{Dir: dir})
	want := digest(t, dir)
	for _, c := range []struct {
		says   string
		change func(f *files.Study)
	}{
		{"vary", func(f *files.Study) { f.Vary[0].ToN++ }},
		{"motions", func(f *files.Study) { f.Motions[0].Wheel[0]-- }},
		{"targets", func(f *files.Study) { f.Targets[0].Weight = 2 }},
		{"limits", func(f *files.Study) { *f.Limits[0].Max++ }},
		{"seed", func(f *files.Study) { f.Seed++ }},
		{"record", func(f *files.Study) { f.Record.Rows = files.NoRows }},
		{"curves", func(f *files.Study) { f.Curves.Keep = files.KeepAll }},
		{"geometry", func(f *files.Study) { f.Geometry.Points[0].N[0]++ }},
		{"(plan: sobol) has", func(f *files.Study) { f.Stages[0].Runs++ }},
		{"was plan: sobol and is plan: halton", func(f *files.Study) { f.Stages[0].Method = "halton" }},
		{"(search: differential-evolution) is gone", func(f *files.Study) { f.Stages = f.Stages[:1] }},
	} {
		f := night(t)
		c.change(f)
		_, err := Run(context.Background(), f, RunOptions{Dir: dir})
		wantUsage(t, c.says, err, c.says, dir, "trammel run study.yaml --out "+dir+"-2")
	}
	if digest(t, dir) != want {
		t.Error("the folder changed")
	}
}

// TestFreeChanges: places in the file, comments, the budget and the number of best curves change no row.
func TestFreeChanges(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "night")
	run(t, night(t), RunOptions{Dir: dir})
	f := night(t)
	for i := range f.Targets {
		f.Targets[i].Pos.Line += 7
	}
	f.Stages[1].Pos.Line += 7
	f.Budget = files.Budget{Time: time.Hour, Runs: 1e6}
	f.Curves.Best = 3
	if res := run(t, f, RunOptions{Dir: dir}); res.Made != 0 || res.Ended != Finished {
		t.Errorf("ended %v, %d more runs", res.Ended, res.Made)
	}
	if n := len(curvesOfRuns(t, dir)); n != 3 {
		t.Errorf("curves of %d runs are kept after `best 3`", n)
	}
}

// TestAppendedStage: a stage put behind the others goes on in the same folder, to the rows of a study that
// had it from the start.
func TestAppendedStage(t *testing.T) {
	base := t.TempDir()
	one, two := filepath.Join(base, "one"), filepath.Join(base, "two")
	run(t, night(t), RunOptions{Dir: one})
	f := night(t)
	f.Stages = f.Stages[:1]
	first := run(t, f, RunOptions{Dir: two})
	second := run(t, night(t), RunOptions{Dir: two})
	if first.Runs+second.Made != second.Runs || second.Made == 0 {
		t.Errorf("%d runs, then %d more, and %d in all", first.Runs, second.Made, second.Runs)
	}
	if digest(t, one) != digest(t, two) {
		t.Error("other rows than with both stages from the start")
	}
	_, err := Run(context.Background(), f, RunOptions{Dir: two})
	wantUsage(t, "without the stage again", err, "is gone")
}

// TestTwoRunsAtOnce: the second is refused, and the first goes on undisturbed.
func TestTwoRunsAtOnce(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "night")
	tried := 0
	o := after(5, func() {
		tried++
		if _, err := Run(context.Background(), night(t), RunOptions{Dir: dir}); !errors.Is(err, record.ErrLocked) || !strings.Contains(err.Error(), dir) {
			t.Errorf("a second run: %v; want one that says that %s is taken", err, dir)
		}
	})
	if res := run(t, night(t), RunOptions{Dir: dir, Record: o}); res.Ended != Finished || tried == 0 {
		t.Errorf("ended %v after %d attempts at a second run", res.Ended, tried)
	}
}

// TestProgress: the last word of a run is its end, and going on counts what was there.
func TestProgress(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "night")
	f := night(t)
	f.Budget.Runs = 900
	var last Progress
	told := func(p Progress) { last = p }
	a := run(t, f, RunOptions{Dir: dir, Progress: told})
	if last.Runs != a.Runs || last.Expected != 900 {
		t.Errorf("the first run ends at %+v after %d runs", last, a.Runs)
	}
	b := run(t, night(t), RunOptions{Dir: dir, Progress: told})
	if last.Runs != b.Runs || last.Expected != b.Runs || last.Left != 0 || !(last.Best > 0) || last.Stage != "search: differential-evolution" {
		t.Errorf("the second ends at %+v after %d runs", last, b.Runs)
	}
}

// curvesOfRuns returns the runs that a folder has curves of, in order.
func curvesOfRuns(t *testing.T, dir string) (runs []int64) {
	t.Helper()
	v, err := record.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	err = v.Scan(record.TableCurves, []string{"run"}, func(r *record.Rows) error {
		for i := range r.Len() {
			n, _ := r.IntAt(0, i)
			runs = append(runs, n)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(runs)
	return slices.Compact(runs)
}

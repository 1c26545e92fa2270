package studies

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"trammel/optimize"
	"trammel/studies/files"
	"trammel/studies/record"
)

// searches are stages of every kind that learns, small ones.
var searches = map[string]string{
	"refine": "{refine: 20}",
	"cma-es": "{search: cma-es, runs: 1500, islands: 2}",
	"trade":  "{trade: [camber, bump steer, ratio], runs: 1800, islands: 3}",
}

// TestEverySearchAgain: whatever kind of search a study has, any number of workers, any interruption, a crash and
// a budget on the way give the rows of a run in one piece.
func TestEverySearchAgain(t *testing.T) {
	for name, stage := range searches {
		t.Run(name, func(t *testing.T) {
			stages := "{plan: sobol, runs: 200}, " + stage + ", {search: differential-evolution, runs: 200, islands: 2}"
			f, base := asWritten(t, stages), t.TempDir()
			alone := filepath.Join(base, "alone")
			whole := run(t, f, RunOptions{Dir: alone, Workers: 1})
			want := digest(t, alone)
			dir := filepath.Join(base, "workers")
			if run(t, f, RunOptions{Dir: dir, Workers: 7}); digest(t, dir) != want {
				t.Error("other rows with 7 workers than with 1")
			}

			dir = filepath.Join(base, "stopped")
			sessions := 0
			for ended := Interrupted; ended == Interrupted; sessions++ {
				ctx, cancel := context.WithCancel(context.Background())
				res, err := Run(ctx, f, RunOptions{Dir: dir, Workers: 1 + sessions%3, Record: after(15, cancel)})
				cancel()
				if err != nil {
					t.Fatal(err)
				}
				ended = res.Ended
			}
			if digest(t, dir) != want || sessions < 3 {
				t.Errorf("other rows in %d sessions than in one", sessions)
			}

			// A budget stops it at the same run however often it was interrupted, and a larger one goes on.
			small := asWritten(t, stages)
			small.Budget.Runs = whole.Runs / 2
			one, two := filepath.Join(base, "one"), filepath.Join(base, "two")
			res := run(t, small, RunOptions{Dir: one})
			if res.Ended != BudgetSpent || res.Runs > small.Budget.Runs || res.Runs < small.Budget.Runs/3 {
				t.Errorf("a budget of %d runs: ended %v after %d", small.Budget.Runs, res.Ended, res.Runs)
			}
			for ended := Interrupted; ended == Interrupted; {
				ctx, cancel := context.WithCancel(context.Background())
				res, err := Run(ctx, small, RunOptions{Dir: two, Workers: 3, Record: after(9, cancel)})
				cancel()
				if err != nil {
					t.Fatal(err)
				}
				ended = res.Ended
			}
			if digest(t, one) != digest(t, two) {
				t.Error("a budget: other rows in several sessions than in one")
			}
			if res := run(t, f, RunOptions{Dir: one}); res.Ended != Finished || res.Runs != whole.Runs || digest(t, one) != want {
				t.Errorf("a budget and then none: ended %v after %d of %d runs, or other rows", res.Ended, res.Runs, whole.Runs)
			}
		})
	}
}

// TestEverySearchKilled: killed outright in the middle of a search, a run goes on to the rows of one that was left
// alone.
func TestEverySearchKilled(t *testing.T) {
	for name, stage := range searches {
		t.Run(name, func(t *testing.T) {
			stages := "{plan: sobol, runs: 64}, " + stage
			t.Setenv(childStages, stages)
			f, base := asWritten(t, stages), t.TempDir()
			alone, dir := filepath.Join(base, "alone"), filepath.Join(base, "night")
			run(t, f, RunOptions{Dir: alone})
			all := finished(alone)
			kill(t, dir, record.CrashAfterLogSync, 6)
			kill(t, dir, record.CrashInPart, 3)
			if n := finished(dir); n < 3 || n >= all {
				t.Fatalf("killed after %d of %d blocks; it should be in the middle", n, all)
			}
			if run(t, f, RunOptions{Dir: dir, Workers: 3}); digest(t, dir) != digest(t, alone) {
				t.Error("other rows than left alone")
			}
		})
	}
}

// TestDefaultStages: a study without stages samples and refines; with a budget it goes on, in the folder of one
// that had none, and the rows do not depend on how it came there.
func TestDefaultStages(t *testing.T) {
	study, _, _ := strings.Cut(string(night(t).Text), "stages:")
	geometry, base := text(t, "corncrake", "corncrake-front.yaml"), t.TempDir()
	f := read(t, study, geometry)
	dir := filepath.Join(base, "night")
	var last Progress
	first := run(t, f, RunOptions{Dir: dir, Progress: func(p Progress) { last = p }})
	if first.Ended != Finished || first.Feasible == 0 || !last.AtMost || last.Expected <= first.Runs || last.Answers < 1 || last.Left != 0 {
		t.Fatalf("ended %v: %+v", first.Ended, last)
	}
	if again := run(t, f, RunOptions{Dir: dir}); again.Made != 0 || again.Ended != Finished {
		t.Errorf("run again it makes %d runs", again.Made)
	}
	more := read(t, study+fmt.Sprintf("budget: {runs: %d}\n", first.Runs+1500), geometry)
	res := run(t, more, RunOptions{Dir: dir})
	if res.Ended != BudgetSpent || res.Runs <= first.Runs || res.Runs > first.Runs+1500 {
		t.Errorf("with a budget of %d runs it ended %v after %d", first.Runs+1500, res.Ended, res.Runs)
	}
	other := filepath.Join(base, "other")
	if run(t, more, RunOptions{Dir: other, Workers: 3}); digest(t, other) != digest(t, dir) {
		t.Error("other rows in one piece than after one without a budget")
	}
	// Without a budget once more: it has more than it asks, and says so by making nothing.
	if res := run(t, f, RunOptions{Dir: dir}); res.Made != 0 || res.Ended != Finished {
		t.Errorf("without a budget again: ended %v, %d runs made", res.Ended, res.Made)
	}
	if _, err := open(t, dir).Rank(); err != nil {
		t.Error(err)
	}
}

// ranked runs a study and returns what its folder says.
func ranked(t testing.TB, f *files.Study) *Answer {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "night")
	run(t, f, RunOptions{Dir: dir})
	a, err := OpenArchive(dir)
	if err != nil {
		t.Fatal(err)
	}
	ans, err := a.Rank()
	if err != nil {
		t.Fatal(err)
	}
	return ans
}

// TestPrices: the slope of what a limit and the end of a range cost is what a study gains in which they have been
// moved by a little either way: the derivative of its best score. And what a whole step is said to be worth is what a study comes to
// that is run anew with that step of room.
func TestPrices(t *testing.T) {
	stages := "{plan: sobol, runs: 256}, {refine: 8}"
	study := func(change func(f *files.Study)) *Answer {
		f := asWritten(t, stages)
		*f.Limits[0].Max = 258
		f.Vary[0].ToN = 352_000
		f.Vary[1].Step = 1 // no steps, over which the best would jump
		change(f)
		return refined(t, f)
	}
	ans := study(func(*files.Study) {})
	best := ans.Answers[0]
	if best.Hits < 2 || ans.Search == nil || ans.Search.Searches < 4 || ans.Search.Answers < 1 {
		t.Errorf("%d hits, search %+v", best.Hits, ans.Search)
	}
	kinds := map[string]int{}
	for _, p := range best.Prices {
		t.Logf("%+v", p)
		if p.Slope*p.Step < 1e-3*best.Score {
			continue // lost in the lattice
		}
		if p.Gain == nil || p.Left == nil || *p.Gain < 0 || *p.Gain > 1.01*p.Slope*p.Step || math.Abs(*p.Gain+*p.Left-best.Score) > 1e-3*best.Score {
			t.Errorf("%+v of a score of %g", p, best.Score)
			continue
		}
		var move func(f *files.Study, by float64)
		switch {
		case p.Kind == "limit" && p.End == "max":
			move = func(f *files.Study, by float64) { *f.Limits[0].Max += by }
		case p.Kind == "limit":
			move = func(f *files.Study, by float64) { *f.Limits[0].Min -= by }
		default:
			for i := range night(t).Vary {
				if v := &night(t).Vary[i]; v.Name == p.Of && !v.Stepped() {
					move = func(f *files.Study, by float64) {
						if p.End == "to" {
							f.Vary[i].ToN += int64(by * 1000)
						} else {
							f.Vary[i].FromN -= int64(by * 1000)
						}
					}
				}
			}
		}
		if move == nil {
			continue
		}
		kinds[p.Kind]++
		by := 0.1 // mm; the lattice of 0.001 mm blurs a smaller step, the curvature a larger one
		if p.Kind == "range" {
			by = 1
		}
		wide := study(func(f *files.Study) { move(f, by) }).Answers[0].Score
		narrow := study(func(f *files.Study) { move(f, -by) }).Answers[0].Score
		if slope := (narrow - wide) / (2 * by); math.Abs(slope-p.Slope) > 0.03*p.Slope {
			t.Errorf("%+v; the slope is %.4g by runs with it moved.", p, slope)
		}
		anew := study(func(f *files.Study) { move(f, p.Step) }).Answers[0].Score
		t.Logf("%s Run anew: %.4g.", p.Says, anew)
		if math.Abs(anew-*p.Left) > 0.02**p.Gain {
			t.Errorf("%s It is %.4g in a study with that room.", p.Says, anew)
		}
	}
	if kinds["limit"] == 0 || kinds["range"] == 0 {
		t.Errorf("%v; want prices of both kinds", kinds)
	}
}

// refined ranks a study that was changed after it was read: what a folder freezes is the file, so it is asked
// under the study in memory.
func refined(t testing.TB, f *files.Study) *Answer {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "night")
	run(t, f, RunOptions{Dir: dir})
	view, err := record.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	st, err := Bind(f)
	if err != nil {
		t.Fatal(err)
	}
	ans, err := (&Archive{Study: st, view: view, e: st.NewEvaluator()}).Rank()
	if err != nil {
		t.Fatal(err)
	}
	return ans
}

// TestClaimIsRefused: an answer that a search claims keeps every limit, or has another score than it has, is
// solved again and refused.
func TestClaimIsRefused(t *testing.T) {
	f := asWritten(t, "{plan: sobol, runs: 256}, {refine: 8}")
	dir := filepath.Join(t.TempDir(), "night")
	run(t, f, RunOptions{Dir: dir})
	a := open(t, dir)
	stage, err := a.Study.ended(a.view, 2)
	if err != nil {
		t.Fatal(err)
	}
	honest := stage.(*optimize.Refine).Answers()
	if kept, refused := a.checked(honest); len(kept) != len(honest) || len(refused) != 0 {
		t.Fatalf("%d of %d honest answers kept; %q", len(kept), len(honest), refused)
	}
	// The manifest has them as well, should the states be gone.
	flip(t, checkpoint(t, dir))
	b := open(t, dir)
	if ans, err := b.Rank(); err != nil || ans.Search == nil || slices.ContainsFunc(ans.Notes, func(s string) bool { return strings.Contains(s, "is refused") }) || ans.Answers[0].Hits != honest[0].Hits || len(ans.Answers[0].Prices) != len(honest[0].Bounds)+len(honest[0].Limits) {
		t.Errorf("without states: %+v (%v)", ans, err)
	}
	breaks := a.Study.Space.Design() // in the end, the last run that breaks a limit
	found := false
	err = a.scan(func(_ int64, p *optimize.Point, o *optimize.Outcome) {
		if o.Status == optimize.OverLimit {
			breaks.Set(p)
			found = true
		}
	})
	if err != nil || !found {
		t.Fatalf("no run breaks a limit (%v)", err)
	}
	lies := map[string]func(x *optimize.Answer){
		"solved again it is over_limit": func(x *optimize.Answer) { x.Point.X = breaks.X },
		"gives it a score of 0,":        func(x *optimize.Answer) { x.Outcome.Score = 0 },
		"not allowed":                   func(x *optimize.Answer) { x.Point.X = append([]float64{1e4}, breaks.X[1:]...) },
	}
	for says, lie := range lies {
		x := honest[0]
		lie(&x)
		kept, refused := a.checked([]optimize.Answer{x})
		if len(kept) != 0 || len(refused) != 1 || !strings.Contains(refused[0], says) {
			t.Errorf("%d kept, %q; want %q", len(kept), refused, says)
		}
	}
}

// TestFront: the front of a trade is told by the misses of its targets, whatever their weights; none is better in
// all than another, and its knee is one of its points.
func TestFront(t *testing.T) {
	ans := ranked(t, asWritten(t, "{trade: [camber, bump steer], runs: 4000, islands: 4}"))
	f := ans.Front
	if f == nil || len(f.Points) < 5 || len(f.Volume) == 0 || len(f.Beyond) != 2 || strings.Join(f.Targets, ",") != "camber,bump steer" {
		t.Fatalf("%+v", f)
	}
	for i := 1; i < len(f.Points); i++ {
		if a, b := f.Points[i-1].Misses, f.Points[i].Misses; a[0] >= b[0] || a[1] <= b[1] {
			t.Errorf("points %d and %d of the front: %v and %v", i, i+1, a, b)
		}
	}
	// By the record: the misses of the run that a point names.
	row, err := ans.archive.view.ReadRun(f.Points[0].Run)
	if err != nil {
		t.Fatal(err)
	}
	schema := ans.archive.view.Schema(record.TableRuns)
	for k, column := range []string{"miss_camber", "miss_bump_steer"} {
		if got, ok := row.FloatAt(schema.Index(column), 0); !ok || !agree(got, f.Points[0].Misses[k]) {
			t.Errorf("%s is %v in the record and %v on the front", column, got, f.Points[0].Misses[k])
		}
	}
	text := ans.Text()
	for _, want := range []string{"best compromises between camber and bump steer", "hypervolume", "knee"} {
		if !strings.Contains(text, want) {
			t.Errorf("the text does not say %q", want)
		}
	}
	if n := len(f.shown()); n > frontShown {
		t.Errorf("%d rows of the front are shown", n)
	}
}

// TestFrom: a night that begins with an older one's best runs it first, keeps it, and goes on without the older
// folder; another older night is refused.
func TestFrom(t *testing.T) {
	base := t.TempDir()
	first, second := filepath.Join(base, "first"), filepath.Join(base, "second")
	run(t, asWritten(t, "{plan: sobol, runs: 256}, {refine: 8}"), RunOptions{Dir: first})
	old, err := open(t, first).Rank()
	if err != nil {
		t.Fatal(err)
	}
	f := asWritten(t, "{plan: sobol, runs: 16}, {refine: 4}")
	pulled := errors.New("the plug was pulled")
	o := after(2, func() {})
	count := 0
	o.Hook = func(point string) error {
		if count++; count > 30 {
			return pulled
		}
		return nil
	}
	if _, err := Run(context.Background(), f, RunOptions{Dir: second, From: first, Record: o}); !errors.Is(err, pulled) {
		t.Fatalf("%v; want the crash", err)
	}
	if err := os.RemoveAll(first); err != nil {
		t.Fatal(err)
	}
	run(t, f, RunOptions{Dir: second})
	a := open(t, second)
	ans, err := a.Rank()
	if err != nil {
		t.Fatal(err)
	}
	if ans.Answers[0].Score > old.Answers[0].Score+1e-12 {
		t.Errorf("score %v after a night that found %v", ans.Answers[0].Score, old.Answers[0].Score)
	}
	// Run 1, after the design, is the best of the older night.
	_, p, err := a.point(1)
	if err != nil {
		t.Fatal(err)
	}
	for i, m := range old.Answers[0].Moved {
		if p.X[i] != m.Now {
			t.Errorf("run 1: %s is %v, and was %v in the older night", m.Name, p.X[i], m.Now)
		}
	}
	third := filepath.Join(base, "third")
	run(t, f, RunOptions{Dir: third})
	_, err = Run(context.Background(), f, RunOptions{Dir: second, From: third})
	wantUsage(t, "another older night", err, "was begun from "+first, "--out")
	_, err = Run(context.Background(), f, RunOptions{Dir: third, From: second})
	wantUsage(t, "an older night for a folder begun without", err, "without an older night", "--out")
	_, err = Run(context.Background(), f, RunOptions{Dir: filepath.Join(base, "fourth"), From: filepath.Join(base, "nowhere")})
	wantUsage(t, "no folder", err, "--from", "nowhere")
}

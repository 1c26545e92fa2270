package studies

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"trammel/studies/files"
	"trammel/studies/record"
)

// records are the policies of rows that a study may have.
var records = map[string]files.Record{
	"all": {Rows: files.AllRows}, "improving": {Rows: files.ImprovingRows}, "every 7": {Rows: files.EveryRows, Every: 7}, "none": {Rows: files.NoRows},
}

// TestAnyPartLost: whichever part is lost, of a plan or from the middle of a search, repairing gives the
// rows, totals and curves of a folder that lost nothing, and makes again only what was lost.
func TestAnyPartLost(t *testing.T) {
	for name, policy := range records {
		if policy.Rows == files.NoRows {
			continue
		}
		f := night(t)
		f.Record = policy
		alone := filepath.Join(t.TempDir(), "alone")
		o := often()
		run(t, f, RunOptions{Dir: alone, Record: o})
		want := digest(t, alone)
		parts, err := filepath.Glob(filepath.Join(alone, "runs", "part-*.parquet"))
		if err != nil || len(parts) < 3 {
			t.Fatalf("rows: %s: %d parts (%v)", name, len(parts), err)
		}
		for i := 0; i < len(parts); i += 1 + len(parts)/5 {
			dir := filepath.Join(t.TempDir(), "night")
			if err := os.CopyFS(dir, os.DirFS(alone)); err != nil {
				t.Fatal(err)
			}
			flip(t, filepath.Join(dir, "runs", filepath.Base(parts[i])))
			_, err = Run(context.Background(), f, RunOptions{Dir: dir})
			var damage *record.DamageError
			if !errors.As(err, &damage) || !strings.Contains(err.Error(), filepath.Base(parts[i])) || !strings.Contains(err.Error(), "--repair") {
				t.Fatalf("rows: %s: part %d with a flipped bit: %v", name, i+1, err)
			}
			res := run(t, f, RunOptions{Dir: dir, Repair: true, Record: o})
			if res.Ended != Finished || res.Made == 0 || res.Made == res.Runs {
				t.Errorf("rows: %s: part %d lost: ended %v, %d of %d runs made again", name, i+1, res.Ended, res.Made, res.Runs)
			}
			if digest(t, dir) != want {
				t.Errorf("rows: %s: part %d lost and repaired: other rows, totals or curves", name, i+1)
			}
		}
	}
}

// flip changes one bit in the middle of a file.
func flip(t *testing.T, path string) {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	text[len(text)/2] ^= 8
	if err := os.WriteFile(path, text, 0o644); err != nil {
		t.Fatal(err)
	}
}

// TestStoppedAnywhere: whatever rows are kept, a run stopped after any number of blocks, also with its
// checkpoint gone or older than its manifest, goes on to the rows of one in one piece.
func TestStoppedAnywhere(t *testing.T) {
	for name, policy := range records {
		f := night(t)
		f.Record = policy
		alone := filepath.Join(t.TempDir(), "alone")
		whole := run(t, f, RunOptions{Dir: alone})
		want := digest(t, alone)
		for _, n := range []int{1, 2, 4, 7, 13} {
			dir := filepath.Join(t.TempDir(), fmt.Sprint(n))
			o := after(n, func() {})
			stop := errors.New("stopped")
			count := 0
			o.Hook = func(point string) error {
				if point == record.CrashBeforeLogSync {
					if count++; count > n {
						return stop
					}
				}
				return nil
			}
			if _, err := Run(context.Background(), f, RunOptions{Dir: dir, Record: o, Workers: 2}); err != nil && !errors.Is(err, stop) {
				t.Fatal(err)
			}
			if n%2 == 1 { // the checkpoint is gone too
				list, _ := filepath.Glob(filepath.Join(dir, "states-*.bin"))
				for _, p := range list {
					os.Remove(p)
				}
			}
			res := run(t, f, RunOptions{Dir: dir})
			if res.Runs != whole.Runs || res.Feasible != whole.Feasible {
				t.Errorf("rows: %s, stopped after %d entries: %d runs, %d feasible; want %d and %d", name, n, res.Runs, res.Feasible, whole.Runs, whole.Feasible)
			}
			if digest(t, dir) != want {
				t.Errorf("rows: %s, stopped after %d entries: other rows", name, n)
			}
			if list, _ := filepath.Glob(filepath.Join(dir, "states-*.bin")); len(list) > 1 {
				t.Errorf("rows: %s: %v lie there; want one checkpoint", name, list)
			}
		}
	}
}

// TestManifestStaysSmall: the manifest does not grow with the runs of a search: the best are told once for
// each part, and the states stand in the one checkpoint.
func TestManifestStaysSmall(t *testing.T) {
	var sizes []int64
	for _, runs := range []int64{20_000, 80_000} {
		f := asWritten(t, fmt.Sprintf("{search: differential-evolution, runs: %d, islands: 4}", runs), "record: {rows: none}")
		dir := filepath.Join(t.TempDir(), "night")
		run(t, f, RunOptions{Dir: dir})
		info, err := os.Stat(filepath.Join(dir, "manifest.log"))
		if err != nil {
			t.Fatal(err)
		}
		sizes = append(sizes, info.Size())
	}
	if more := sizes[1] - sizes[0]; more > 60_000 { // a byte for each run
		t.Errorf("60,000 more runs add %d bytes to the manifest (%d and %d)", more, sizes[0], sizes[1])
	}
}

// TestFlippedBitIsTold: every command that reads rows says that a part has changed.
func TestFlippedBitIsTold(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "night")
	run(t, night(t), RunOptions{Dir: dir})
	if text, err := Check(dir); err != nil || !strings.Contains(text, "as it was written") {
		t.Fatalf("a sound folder: %q, %v", text, err)
	}
	flip(t, filepath.Join(dir, "runs", "part-000001.parquet"))
	for name, do := range map[string]func(a *Archive) error{
		"rank":   func(a *Archive) error { _, err := a.Rank(); return err },
		"curves": func(a *Archive) error { _, err := a.Curves([]int64{BestRun}); return err },
		"run 0":  func(a *Archive) error { _, err := a.Geometry(0); return err },
		"check":  func(*Archive) error { _, err := Check(dir); return err },
	} {
		var damage *record.DamageError
		if err := do(open(t, dir)); !errors.As(err, &damage) || !strings.Contains(err.Error(), "runs/part-000001.parquet") {
			t.Errorf("%s: %v; want a sentence about the part", name, err)
		}
	}
}

// TestEndedStage: a finished search can be asked again, from the folder alone and after later stages, for
// what its last round left: its islands, whose best is the best of its runs.
func TestEndedStage(t *testing.T) {
	f := asWritten(t, "{plan: sobol, runs: 600}, "+search+", "+search)
	dir := filepath.Join(t.TempDir(), "night")
	run(t, f, RunOptions{Dir: dir})
	a := open(t, dir)
	for number, want := range []bool{false, false, true, true} {
		stage, err := a.Study.ended(a.view, number)
		if err != nil || (stage != nil) != want {
			t.Errorf("stage %d: %v (%v); want one: %v", number, stage, err, want)
		}
	}
	flip(t, checkpoint(t, dir))
	if _, err := open(t, dir).Study.ended(a.view, 2); err != nil {
		t.Errorf("the states are in memory: %v", err)
	}
	b := open(t, dir)
	if stage, err := b.Study.ended(b.view, 2); err == nil || stage != nil || !strings.Contains(err.Error(), "states-") {
		t.Errorf("a changed checkpoint: %v, %v", stage, err)
	}
	// Without it, a run that has nothing to do says so and leaves all as it is.
	want := digest(t, dir)
	if res := run(t, f, RunOptions{Dir: dir}); res.Made != 0 || digest(t, dir) != want || !strings.Contains(strings.Join(res.Notes, " "), "cannot be used") {
		t.Errorf("%d runs made; notes %q", res.Made, res.Notes)
	}
}

// checkpoint returns the one checkpoint of a folder.
func checkpoint(t *testing.T, dir string) string {
	t.Helper()
	list, err := filepath.Glob(filepath.Join(dir, "states-*.bin"))
	if err != nil || len(list) != 1 {
		t.Fatalf("%v (%v); want one checkpoint", list, err)
	}
	return list[0]
}

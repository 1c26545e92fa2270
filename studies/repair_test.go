package studies

import (
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"trammel/optimize"
	"trammel/studies/files"
	"trammel/studies/record"
)

// TestRepair: a folder with a part gone is refused with what to type; with Repair the lost runs are made
// again, and the rows are those of an undamaged folder.
func TestRepair(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "night")
	run(t, night(t), RunOptions{Dir: dir, Record: often()})
	want := digest(t, dir)
	parts, err := filepath.Glob(filepath.Join(dir, "runs", "part-*.parquet"))
	if err != nil || len(parts) < 3 {
		t.Fatalf("%d parts (%v); the test needs three or more", len(parts), err)
	}
	if err := os.Remove(parts[1]); err != nil {
		t.Fatal(err)
	}
	_, err = Run(context.Background(), night(t), RunOptions{Dir: dir})
	var damage *record.DamageError
	if !errors.As(err, &damage) || !strings.Contains(err.Error(), "--repair") {
		t.Fatalf("a folder with a part gone: %v; want a refusal that says --repair", err)
	}
	res := run(t, night(t), RunOptions{Dir: dir, Repair: true})
	if res.Made == 0 || res.Ended != Finished {
		t.Errorf("repaired: %d runs made again, ended %v", res.Made, res.Ended)
	}
	if digest(t, dir) != want {
		t.Error("the repaired folder has other rows than the undamaged one")
	}
}

// TestFrozenFiles: input files in the folder that are gone or changed are told by every command in the same words; with
// Repair they are written again from the study, where it is still the same.
func TestFrozenFiles(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "night")
	f := asWritten(t, "{plan: sobol, runs: 60}")
	run(t, f, RunOptions{Dir: dir})
	study := filepath.Join(dir, frozenStudy)
	spoil := map[string]func() error{
		"geometry.yaml in " + dir + " is gone":                        func() error { return os.Remove(filepath.Join(dir, frozenGeometry)) },
		"study.yaml in " + dir + " has changed since the study began": func() error { return os.WriteFile(study, append(f.Text, "# more\n"...), 0o644) },
	}
	for says, do := range spoil {
		if err := do(); err != nil {
			t.Fatal(err)
		}
		_, checked := CheckFolder(dir)
		_, ranked := OpenArchive(dir)
		_, ran := Run(context.Background(), f, RunOptions{Dir: dir})
		for name, err := range map[string]error{"check": checked, "rank": ranked, "run": ran} {
			if err == nil || IsUsage(err) || !strings.Contains(err.Error(), says) || !strings.Contains(err.Error(), "--repair") {
				t.Errorf("%s: %v; want a refusal that says %q and --repair", name, err, says)
			}
		}
		res := run(t, f, RunOptions{Dir: dir, Repair: true})
		if res.Made != 0 || !strings.Contains(strings.Join(res.Notes, " "), "was not as it was when the study began, and was written again") {
			t.Errorf("repaired: %d runs made, notes %q", res.Made, res.Notes)
		}
		if _, err := CheckFolder(dir); err != nil {
			t.Errorf("repaired: %v", err)
		}
	}
	// A study with another stage appended goes on, and is not what was kept.
	if err := os.Remove(study); err != nil {
		t.Fatal(err)
	}
	_, err := Run(context.Background(), asWritten(t, "{plan: sobol, runs: 60}, {plan: halton, runs: 20}"), RunOptions{Dir: dir, Repair: true})
	if err == nil || !strings.Contains(err.Error(), "cannot be written again: the text that it is made from now is another than the study began with") {
		t.Errorf("a study that is not the one kept: %v", err)
	}
}

// TestTornIsTold: checking a folder whose manifest has a torn end says so.
func TestTornIsTold(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "night")
	run(t, asWritten(t, "{plan: sobol, runs: 60}"), RunOptions{Dir: dir})
	log := filepath.Join(dir, "manifest.log")
	whole, err := os.ReadFile(log)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(log, int64(len(whole)-5)); err != nil {
		t.Fatal(err)
	}
	if text, err := CheckFolder(dir); err != nil || !strings.Contains(text, "is torn, as a run that is killed leaves it") {
		t.Errorf("%q, %v", text, err)
	}
	run(t, asWritten(t, "{plan: sobol, runs: 60}"), RunOptions{Dir: dir})
	if text, err := CheckFolder(dir); err != nil || strings.Contains(text, "torn") {
		t.Errorf("gone on with: %q, %v", text, err)
	}
}

// TestBeyondAllNumbers: a departure that overflows over its within makes a failed row with a reason, and
// neither stops the run nor counts as a score.
func TestBeyondAllNumbers(t *testing.T) {
	f := night(t)
	tiny := files.Curve{{0, math.SmallestNonzeroFloat64}}
	f.Targets[0].Within = files.Within{Above: tiny, Below: tiny}
	st := mustBind(t, f)
	e, p := st.NewEvaluator(), st.Space.Design()
	var o optimize.Outcome
	o.X = append(o.X, p.X...)
	e.Evaluate(&p, &o)
	if o.Status != optimize.BadGeometry || o.Score != 0 || len(o.R) != 0 {
		t.Errorf("status %v, score %v, %d residuals; want bad_geometry and nothing else", o.Status, o.Score, len(o.R))
	}
	layout, err := st.runLayout()
	if err != nil {
		t.Fatal(err)
	}
	rows := record.NewRows(&layout.schema)
	layout.fill(rows, 0, 0, 0, &p, &o, e)
	if why, _ := rows.TextAt(colReason, 0); !strings.Contains(why, "beyond all numbers") || rows.Err() != nil {
		t.Errorf("the row says %q (%v)", why, rows.Err())
	}
}

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

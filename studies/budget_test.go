package studies

import (
	"context"
	"errors"
	"math"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"trammel/studies/files"
	"trammel/studies/record"
)

// diskOf returns options for a disk with so much room.
func diskOf(bytes int64) record.Options {
	o := record.DefaultOptions()
	o.Free = func(string) (int64, bool) { return bytes, true }
	return o
}

// TestForecastMeetsTheRecord: what is foretold of the disk is what a run then takes, within a third, with
// rows of every policy; a plan, for a search's rows are alike and shrink.
func TestForecastMeetsTheRecord(t *testing.T) {
	for _, c := range []struct {
		name   string
		record files.Record
		curves files.Keep
	}{
		{"all", files.Record{}, files.KeepNone},
		{"every 4", files.Record{Rows: files.EveryRows, Every: 4}, files.KeepNone},
		{"single", files.Record{Single: true}, files.KeepNone},
		{"curves of all", files.Record{}, files.KeepAll},
	} {
		f := example(t)
		f.Stages = f.Stages[:1]
		f.Record, f.Curves.Keep = c.record, c.curves
		if c.curves == files.KeepAll {
			f.Stages[0].Runs = 512
		}
		st := mustBind(t, f)
		fc, err := st.forecast(1, deadline{})
		if err != nil {
			t.Fatal(err)
		}
		dir := filepath.Join(t.TempDir(), "night")
		res := run(t, f, RunOptions{Dir: dir})
		v, err := record.Read(dir)
		if err != nil {
			t.Fatal(err)
		}
		const once = 30_000 // what a part has once: the texts of study and geometry, the index
		got, want := float64(v.Bytes()), fc.perRun()*float64(res.Runs)+once*float64(len(v.Parts(record.TableRuns))+len(v.Parts(record.TableCurves)))
		if fc.runs != res.Runs || got < want/1.33 || got > want*1.33 {
			t.Errorf("rows: %s: %d runs and %.0f bytes foretold, %d and %.0f came", c.name, fc.runs, want, res.Runs, got)
		}
	}
}

// TestDiskTooSmall: a study that cannot fit is refused before anything is made, and each of the ways out
// that the sentence names is one.
func TestDiskTooSmall(t *testing.T) {
	big := func() *files.Study {
		f := night(t)
		f.Stages[0].Runs = 100_000_000
		return f
	}
	fc, err := mustBind(t, big()).forecast(1, deadline{})
	if err != nil {
		t.Fatal(err)
	}
	need := fc.perRun() * 1e8
	small := int64(0.3 * need)
	dir := filepath.Join(t.TempDir(), "night")
	refused := func(f *files.Study, bytes int64) string {
		t.Helper()
		var said string
		ctx, cancel := context.WithCancel(context.Background())
		cancel() // what is not refused ends at once
		_, err := Run(ctx, f, RunOptions{Dir: dir, Record: diskOf(bytes), Announce: func(s string) { said = s }})
		wantUsage(t, "a study of 100 million runs", err, "GB of disk", "--out", "study.yaml")
		if !strings.Contains(said, "100,001,601 runs") || !strings.Contains(said, "are free") {
			t.Errorf("it is announced as %q", said)
		}
		if record.Exists(dir) {
			t.Fatal("a folder was made")
		}
		return err.Error()
	}
	text := refused(big(), small)
	match := regexp.MustCompile("`record: {rows: every ([0-9]+)}`").FindStringSubmatch(text)
	if match == nil {
		t.Fatalf("no way to write fewer rows: %s", text)
	}
	every, _ := strconv.ParseInt(match[1], 10, 64)
	fits := func(f *files.Study, bytes int64) error {
		st := mustBind(t, f)
		fc, err := st.forecast(1, deadline{})
		if err != nil {
			t.Fatal(err)
		}
		return st.fits(fc, dir, record.Counts{}, 0, diskOf(bytes).Free)
	}
	for _, c := range []struct {
		every int64
		fits  bool
	}{{every + 1, true}, {max(every/2, 1), false}} { // trials differ a little
		f := big()
		f.Record = files.Record{Rows: files.EveryRows, Every: c.every}
		if err := fits(f, small); (err == nil) != c.fits {
			t.Errorf("every %d of %s: %v", c.every, text, err)
		}
	}
	match = regexp.MustCompile("`budget: {disk: ([0-9]+)MB}`").FindStringSubmatch(text)
	if match == nil {
		t.Fatalf("no budget of disk: %s", text)
	}
	f := big()
	megabytes, _ := strconv.ParseInt(match[1], 10, 64)
	f.Budget.Disk = megabytes * 1e6
	if err := fits(f, small); err != nil {
		t.Errorf("a budget of %d MB: %v", megabytes, err)
	}
	// With room for six tenths, half precision is offered.
	if text := refused(big(), int64(0.75*need)); !strings.Contains(text, "precision: single") {
		t.Errorf("it does not offer single precision: %s", text)
	}
	if err := fits(big(), math.MaxInt64); err != nil {
		t.Errorf("a large disk: %v", err)
	}
	unknown := func(string) (int64, bool) { return 0, false }
	if err := mustBind(t, big()).fits(fc, dir, record.Counts{}, 0, unknown); err != nil {
		t.Errorf("a disk that does not say: %v", err)
	}
}

// TestSleepIsNoWork: a night in which the machine slept has its whole budget of time, and says so; one
// whose clock is set back neither ends early nor counts backwards.
func TestSleepIsNoWork(t *testing.T) {
	for name, jump := range map[string]time.Duration{"asleep": 9 * time.Hour, "set back": -9 * time.Hour} {
		f, dir := night(t), filepath.Join(t.TempDir(), "night")
		f.Budget.Time = time.Hour
		now, readings := time.Date(2026, 11, 25, 22, 0, 0, 0, time.UTC), 0
		o := record.DefaultOptions()
		o.Now = func() time.Time {
			if readings++; readings == 40 {
				now = now.Add(jump)
			}
			now = now.Add(10 * time.Millisecond)
			return now
		}
		res := run(t, f, RunOptions{Dir: dir, Record: o})
		if res.Ended != Finished {
			t.Errorf("%s: ended %v: %s", name, res.Ended, res.Sentence)
		}
		v, err := record.Read(dir)
		if err != nil {
			t.Fatal(err)
		}
		if e := v.Elapsed(); e <= 0 || e > 10*time.Second {
			t.Errorf("%s: %v of work", name, e)
		}
		if slept := strings.Contains(strings.Join(res.Notes, " "), "The machine slept for about 9.0 hours"); slept != (jump > 0) {
			t.Errorf("%s: notes %q", name, res.Notes)
		}
		// The time of another session is added.
		before := v.Elapsed()
		run(t, f, RunOptions{Dir: dir, Record: o})
		if v, err = record.Read(dir); err != nil || v.Elapsed() <= before {
			t.Errorf("%s: %v of work after another session, %v before (%v)", name, v.Elapsed(), before, err)
		}
	}
}

// TestUntilWhileAsleep: the time of day to stop at is one of the clock on the wall.
func TestUntilWhileAsleep(t *testing.T) {
	now, readings := time.Date(2026, 11, 25, 22, 0, 0, 0, time.UTC), 0
	o := record.DefaultOptions()
	o.Now = func() time.Time {
		if readings++; readings == 40 {
			now = now.Add(9 * time.Hour)
		}
		return now
	}
	res := run(t, night(t), RunOptions{Dir: filepath.Join(t.TempDir(), "night"), Record: o, Until: now.Add(time.Hour)})
	if res.Ended != BudgetSpent || !strings.Contains(res.Sentence, "at the time asked for") || res.Made == 0 {
		t.Errorf("ended %v: %s", res.Ended, res.Sentence)
	}
}

// TestLeftOutIsCounted: rows that are not written are counted and said.
func TestLeftOutIsCounted(t *testing.T) {
	for name, policy := range records {
		f := night(t)
		f.Record = policy
		dir := filepath.Join(t.TempDir(), "night")
		res := run(t, f, RunOptions{Dir: dir})
		says := strings.Contains(res.Sentence, "are left out as the study asks (rows: "+name+")")
		if says != (policy.Rows != files.AllRows) {
			t.Errorf("rows: %s: %s", name, res.Sentence)
		}
		v, err := record.Read(dir)
		if err != nil {
			t.Fatal(err)
		}
		if n := v.Totals(); n.Kept != v.NumRows(record.TableRuns) || policy.Rows == files.EveryRows && n.Kept != (n.Evaluated+policy.Every-1)/policy.Every {
			t.Errorf("rows: %s: %d kept of %d, and %d rows", name, n.Kept, n.Evaluated, v.NumRows(record.TableRuns))
		}
	}
}

// TestSinglePrecision: measures and losses are those of a study in full, rounded once to IEEE 754 binary32;
// varied numbers, scores and ranks are the same to the last bit.
func TestSinglePrecision(t *testing.T) {
	base := t.TempDir()
	full, half := filepath.Join(base, "full"), filepath.Join(base, "half")
	run(t, night(t), RunOptions{Dir: full})
	f := night(t)
	f.Record.Single = true
	run(t, f, RunOptions{Dir: half})
	for _, table := range []string{record.TableRuns, record.TableCurves} {
		a, b := wholeTable(t, full, table), wholeTable(t, half, table)
		if a.Len() != b.Len() {
			t.Fatalf("%s: %d rows and %d", table, a.Len(), b.Len())
		}
		singles := 0
		for c, col := range b.Columns() {
			full := a.Columns()[c]
			if col.Type == record.Float32 {
				singles++
				if strings.HasPrefix(col.Name, "vary_") || col.Name == "score" || col.Name == "violation" {
					t.Errorf("%s is single", col.Name)
				}
			}
			if col.Name != full.Name || col.Type != record.Float32 && col.Type != full.Type {
				t.Errorf("column %s is %v where %s is %v", col.Name, col.Type, full.Name, full.Type)
			}
			for row := range a.Len() {
				want := a.Cell(c, row)
				if x, ok := want.(float64); ok && col.Type == record.Float32 {
					want = float64(float32(x))
				}
				if got := b.Cell(c, row); got != want {
					t.Fatalf("%s, column %s, row %d: %v, want %v", table, col.Name, row, got, want)
				}
			}
		}
		if singles < 3 {
			t.Errorf("%s has %d columns in single precision", table, singles)
		}
	}
	_, one := rank(t, full)
	_, two := rank(t, half)
	if one.Answers[0].Run != two.Answers[0].Run || one.Answers[0].Score != two.Answers[0].Score || len(one.Answers) != len(two.Answers) {
		t.Error("other answers in single precision")
	}
	_, err := Run(context.Background(), night(t), RunOptions{Dir: half})
	if wantUsage(t, "another precision", err, "record"); errors.Is(err, record.ErrLocked) {
		t.Error(err)
	}
}

// wholeTable returns all rows of a table.
func wholeTable(t *testing.T, dir, table string) *record.Rows {
	t.Helper()
	v, err := record.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	all := record.NewRows(v.Schema(table))
	err = v.Scan(table, nil, func(r *record.Rows) error {
		for i := range r.Len() {
			all.Copy(r, i)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

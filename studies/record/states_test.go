package record

import (
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// checkpoints returns the checkpoints that lie in a folder.
func checkpoints(t *testing.T, dir string) []string {
	t.Helper()
	list, err := filepath.Glob(filepath.Join(dir, "states-*.bin"))
	if err != nil {
		t.Fatal(err)
	}
	return list
}

// TestStateOfAnUnfinishedBlock: a checkpoint that no entry names when the run ends is removed, and what
// it held does not become the state of a block that is made again.
func TestStateOfAnUnfinishedBlock(t *testing.T) {
	n := night{blocks: []int{4}}
	dir := filepath.Join(t.TempDir(), "larch")
	pulled := errors.New("the plug was pulled")
	o := quickOptions()
	count := 0
	o.Hook = func(point string) error {
		if point == CrashAfterStatesRename {
			if count++; count == 2 {
				return pulled
			}
		}
		return nil
	}
	f, err := n.create(dir, o)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(f.Append(n.block(0, 0)), f.Flush(), f.Append(n.block(0, 3))); err != nil {
		t.Fatal(err)
	}
	if err := f.Flush(); !errors.Is(err, pulled) {
		t.Fatalf("%v; want the crash", err)
	}
	f.Close()
	if n := checkpoints(t, dir); len(n) != 2 {
		t.Fatalf("%v lie there; the crash should leave two", n)
	}
	f, err = Open(dir, "again", quickOptions())
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if s, err := f.State(0, 3); s != nil || err != nil {
		t.Errorf("the unfinished block has the state %q (%v)", s, err)
	}
	if s, err := f.State(0, 0); string(s) != "state of 0 in 0" || err != nil {
		t.Errorf("the finished block has the state %q (%v)", s, err)
	}
	if left := checkpoints(t, dir); len(left) != 1 || !strings.Contains(strings.Join(f.Notes(), " "), "states-000002.bin was left by a run that did not end") {
		t.Errorf("%v lie there, notes %q", left, f.Notes())
	}
}

// TestOneCheckpoint: however many states come and are let go, one checkpoint lies in the folder, as long
// as what is needed, and the manifest does not grow with them.
func TestOneCheckpoint(t *testing.T) {
	n := night{blocks: []int{1}}
	dir := filepath.Join(t.TempDir(), "larch")
	f, err := n.create(dir, quickOptions())
	if err != nil {
		t.Fatal(err)
	}
	const size = 10_000
	for block := range 60 {
		state := make([]byte, size)
		state[0] = byte(block)
		f.Forget(0, block-2)
		if err := errors.Join(f.Append(Block{Block: block, State: state, Counts: Counts{Evaluated: 7}}), f.Flush()); err != nil {
			t.Fatal(err)
		}
	}
	list := checkpoints(t, dir)
	if len(list) != 1 {
		t.Fatalf("%v; want one", list)
	}
	if info, err := os.Stat(list[0]); err != nil || info.Size() > 3*size+100 {
		t.Errorf("the checkpoint of three states has %d bytes (%v)", info.Size(), err)
	}
	if info, err := os.Stat(filepath.Join(dir, manifestName)); err != nil || info.Size() > 60*size/2 {
		t.Errorf("the manifest has %d bytes (%v)", info.Size(), err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	v, err := Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	for block := range 60 {
		s, err := v.State(0, block)
		if err != nil || (block >= 57) != (len(s) == size && s[0] == byte(block)) {
			t.Errorf("block %d: %d bytes of state (%v)", block, len(s), err)
		}
	}
}

// TestCheckpointGone: a checkpoint that is missing or changed is said, and loses no finished block.
func TestCheckpointGone(t *testing.T) {
	n := night{blocks: []int{4}}
	for name, spoil := range map[string]func(string) error{
		"missing": os.Remove,
		"changed": func(p string) error { return os.WriteFile(p, []byte(statesTitle), 0o644) },
	} {
		dir := filepath.Join(t.TempDir(), "larch")
		if err := n.work(dir, quickOptions()); err != nil {
			t.Fatal(err)
		}
		if err := spoil(checkpoints(t, dir)[0]); err != nil {
			t.Fatal(err)
		}
		v, err := Read(dir)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := v.State(0, 0); err == nil || !strings.Contains(err.Error(), "states-000001.bin in") {
			t.Errorf("%s: %v; a reader should be told", name, err)
		}
		f, err := Open(dir, "again", quickOptions())
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if s, err := f.State(0, 0); s != nil || err != nil || !f.Done(0, 3) || !strings.Contains(strings.Join(f.Notes(), " "), "cannot be used") {
			t.Errorf("%s: state %q (%v), notes %q", name, s, err, f.Notes())
		}
		// The next checkpoint stands in its place.
		if err := errors.Join(f.Append(Block{Block: 9, State: []byte("new"), Counts: Counts{Evaluated: 1}}), f.Close()); err != nil {
			t.Fatal(err)
		}
		if v, err = Read(dir); err != nil {
			t.Fatal(err)
		}
		if s, err := v.State(0, 9); string(s) != "new" || err != nil {
			t.Errorf("%s: afterwards the state is %q (%v)", name, s, err)
		}
	}
}

// TestSummaries: what is kept with blocks comes back, and goes when they are lost.
func TestSummaries(t *testing.T) {
	n := night{blocks: []int{6}}
	dir := filepath.Join(t.TempDir(), "larch")
	f, err := n.create(dir, quickOptions())
	if err != nil {
		t.Fatal(err)
	}
	said := 0
	f.Summarise(func() any { said++; return said })
	for block := range 6 {
		b := n.block(0, block)
		b.Rows.Next() // so that every entry has a part
		b.Rows.Int(0, RunNumber(0, block, 999))
		for c := 1; c < len(b.Rows.columns); c++ {
			if !b.Rows.columns[c].Nullable {
				fillOne(b.Rows, c)
			}
		}
		b.Counts.Kept++
		b.Counts.Evaluated++
		if err := errors.Join(f.Append(b), f.Flush()); err != nil {
			t.Fatal(err)
		}
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(filepath.Join(dir, "runs", partName(3))); err != nil {
		t.Fatal(err)
	}
	if _, err := Repair(dir, "again", quickOptions()); err != nil {
		t.Fatal(err)
	}
	v, err := Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	if got := fmt.Sprintf("%s", v.Summaries()); got != "[1 2 4 5 6]" {
		t.Errorf("summaries %s", got)
	}
	if v.Done(0, 2) || !v.Done(0, 3) {
		t.Error("another block was lost")
	}
}

// fillOne sets one cell that may not be null.
func fillOne(r *Rows, c int) {
	switch r.columns[c].Type {
	case Int64:
		r.Int(c, 1)
	case Bool:
		r.Bool(c, true)
	case Text:
		r.Text(c, "x")
	default:
		r.Float(c, 1)
	}
}

// TestCountsOf: the counts of any blocks are the sums of what was handed over, however they were finished.
func TestCountsOf(t *testing.T) {
	base, k := t.TempDir(), 0
	rapid.Check(t, func(t *rapid.T) {
		k++
		dir := filepath.Join(base, fmt.Sprint(k))
		defer os.RemoveAll(dir)
		f, err := night{blocks: []int{1}}.create(dir, quickOptions())
		if err != nil {
			t.Fatal(err)
		}
		blocks := rapid.IntRange(1, 12).Draw(t, "blocks")
		each := make([]Counts, blocks)
		for block := range blocks {
			c := Counts{Evaluated: rapid.Int64Range(0, 100_000).Draw(t, "evaluated"), Feasible: rapid.Int64Range(0, 9).Draw(t, "feasible"), Status: map[string]int64{}}
			for _, w := range []string{"ok", "folds", "over_limit"} {
				if n := rapid.Int64Range(0, 300).Draw(t, w); n > 0 {
					c.Status[w] = n
				}
			}
			each[block] = c
			if err := f.Append(Block{Block: block, Counts: c}); err != nil {
				t.Fatal(err)
			}
			if rapid.IntRange(0, 3).Draw(t, "flush") == 0 {
				if err := f.Flush(); err != nil {
					t.Fatal(err)
				}
			}
		}
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
		v, err := Read(dir)
		if err != nil {
			t.Fatal(err)
		}
		for range 10 {
			first := rapid.IntRange(0, blocks-1).Draw(t, "first")
			last := rapid.IntRange(first-1, blocks-1).Draw(t, "last")
			var want Counts
			for b := first; b <= last; b++ {
				want.Add(each[b])
			}
			got, ok := v.CountsOf(0, first, last)
			maps.DeleteFunc(got.Status, func(_ string, n int64) bool { return n == 0 })
			if !ok || got.Evaluated != want.Evaluated || got.Feasible != want.Feasible || !maps.Equal(got.Status, want.Status) {
				t.Fatalf("blocks %d to %d: %+v (%v), want %+v", first, last, got, ok, want)
			}
		}
		if _, ok := v.CountsOf(0, 0, blocks); ok {
			t.Fatal("a block that was never made is counted")
		}
	})
}

// TestSleep: time in which nobody can have worked is told from work.
func TestSleep(t *testing.T) {
	c := newClock()
	n := night{blocks: []int{1}}
	f, err := n.create(filepath.Join(t.TempDir(), "larch"), c.options())
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for _, d := range []time.Duration{time.Second, 3 * time.Hour, 2 * time.Second, -8 * time.Hour, time.Second, time.Minute} {
		c.t = c.t.Add(d)
		if err := f.Tick(); err != nil {
			t.Fatal(err)
		}
	}
	if f.Elapsed() != time.Minute+4*time.Second || f.Slept() != 3*time.Hour {
		t.Errorf("worked %v and slept %v; want 1m4s and 3h", f.Elapsed(), f.Slept())
	}
}

// TestNoRowFromAChangedPart: whatever byte of a part is flipped, nothing that reads rows returns one, a
// run that goes on is told at once, and Check names the part.
func TestNoRowFromAChangedPart(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "larch")
	n := night{blocks: []int{5}, curves: true}
	if err := n.work(dir, quickOptions()); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "runs", partName(1))
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	run := RunNumber(0, 1, 0)
	nothing := func(*Rows) error { t.Error("a row came"); return nil }
	readers := map[string]func(v *View) error{
		"Scan":    func(v *View) error { return v.Scan(TableRuns, []string{"run"}, nothing) },
		"ScanRun": func(v *View) error { return v.ScanRun(TableRuns, run, nil, nothing) },
		"ReadRun": func(v *View) error { _, err := v.ReadRun(run); return err },
		"Digest":  func(v *View) error { _, err := v.Digest(TableRuns); return err },
		"Best":    func(v *View) error { _, err := v.Best(1, "must_float64"); return err },
		"Check":   func(v *View) error { return v.Check(1 << 40) },
		"Verify":  (*View).Verify,
		"Open":    func(*View) error { _, err := Open(dir, "again", quickOptions()); return err },
	}
	names := slices.Sorted(maps.Keys(readers))
	for i := 0; i < len(whole); i += 1 + len(whole)/40 {
		changed := slices.Clone(whole)
		changed[i] ^= 1 << (i % 8)
		if err := os.WriteFile(path, changed, 0o644); err != nil {
			t.Fatal(err)
		}
		for _, name := range names {
			v, err := Read(dir)
			if err != nil {
				t.Fatal(err)
			}
			damage := new(DamageError)
			if err := readers[name](v); !errors.As(err, &damage) || !strings.Contains(err.Error(), "runs/part-000001.parquet") || !strings.Contains(err.Error(), "--repair") {
				t.Fatalf("byte %d of %d flipped: %s says %v", i, len(whole), name, err)
			}
			if err := v.ScanRun(TableCurves, run, []string{"run"}, func(*Rows) error { return nil }); err != nil {
				t.Fatalf("the table that is whole does not read: %v", err)
			}
		}
	}
	// A run that may read little at first finds the newest part, and the others when it reads them.
	o := quickOptions()
	o.CheckBytes = 0
	f, err := Open(dir, "again", o)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := f.Check(1 << 40); err == nil {
		t.Error("Check of everything finds nothing")
	}
}

func FuzzStates(f *testing.F) {
	f.Add(encodeStates(map[blockKey][]byte{{0, 1}: []byte("abc"), {2, 70_000}: {}}))
	f.Add([]byte(statesTitle))
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, b []byte) {
		states, err := decodeStates(b)
		if err != nil {
			return
		}
		again, err := decodeStates(encodeStates(states))
		if err != nil || !maps.EqualFunc(states, again, slices.Equal) {
			t.Fatalf("%v, written and read again: %v (%v)", states, again, err)
		}
	})
}

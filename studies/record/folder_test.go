package record

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestSpreadOverPartsDoesNotMatter(t *testing.T) {
	var want outcome
	for i, spread := range []int{0, 1, 3, 7} {
		n := night{blocks: []int{12, 9}, curves: true, perSync: spread}
		dir := filepath.Join(t.TempDir(), "larch")
		if err := n.work(dir, quickOptions()); err != nil {
			t.Fatal(err)
		}
		got := n.read(t, dir)
		if i == 0 {
			want = got
		}
		if got != want {
			t.Errorf("a flush every %d blocks gives %v, want %v", spread, got, want)
		}
	}
}

func TestDigestTellsRowsApart(t *testing.T) {
	var seen []string
	for _, blocks := range [][]int{{3}, {2}, {2, 1}} {
		n := night{blocks: blocks}
		dir := filepath.Join(t.TempDir(), "larch")
		if err := n.work(dir, DefaultOptions()); err != nil {
			t.Fatal(err)
		}
		if d := n.read(t, dir).runs; slices.Contains(seen, d) {
			t.Errorf("%v has the digest of another study", blocks)
		} else {
			seen = append(seen, d)
		}
	}
}

// TestRandomNights stops and goes on at random, with and without flushes and rotations, and with
// blocks in an order that shards might make.
func TestRandomNights(t *testing.T) {
	n := night{blocks: []int{5, 4}, curves: true}
	base := t.TempDir()
	plain := filepath.Join(base, "plain")
	if err := n.work(plain, quickOptions()); err != nil {
		t.Fatal(err)
	}
	want := n.read(t, plain)
	k := 0
	rapid.Check(t, func(t *rapid.T) {
		k++
		dir := filepath.Join(base, fmt.Sprint(k))
		defer os.RemoveAll(dir)
		c := newClock()
		o := c.options()
		o.PartBytes = int64(rapid.SampledFrom([]int{1, 20_000, 1 << 30}).Draw(t, "part bytes"))
		f, err := n.create(dir, o)
		if err != nil {
			t.Fatal(err)
		}
		var order []blockKey
		for stage, blocks := range n.blocks {
			for block := range blocks {
				order = append(order, blockKey{stage, block})
			}
		}
		if rapid.Bool().Draw(t, "shuffled") {
			order = rapid.Permutation(order).Draw(t, "order")
		}
		for _, b := range order {
			if err := f.Append(n.block(b.stage, b.block)); err != nil {
				t.Fatal(err)
			}
			c.t = c.t.Add(time.Duration(rapid.SampledFrom([]int{0, 1, 61, -3600}).Draw(t, "seconds")) * time.Second)
			switch rapid.IntRange(0, 4).Draw(t, "then") {
			case 0:
				err = f.Flush()
			case 1:
				err = f.Tick()
			case 2:
				if err = f.Close(); err == nil {
					f, err = Open(dir, "again", o)
				}
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
		v, err := Read(dir)
		if err != nil {
			t.Fatal(err)
		}
		if err := v.Verify(); err != nil {
			t.Fatal(err)
		}
		runs, err1 := v.Digest(TableRuns)
		curves, err2 := v.Digest(TableCurves)
		got := outcome{runs, curves, fmt.Sprintf("%+v", v.Totals())}
		if got != want || err1 != nil || err2 != nil {
			t.Fatalf("got %v, want %v (%v, %v)", got, want, err1, err2)
		}
	})
}

func TestRotation(t *testing.T) {
	c := newClock()
	n := night{blocks: []int{20}}
	dir := filepath.Join(t.TempDir(), "larch")
	f, err := n.create(dir, c.options())
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := f.Append(n.block(0, 0)); err != nil {
		t.Fatal(err)
	}
	c.t = c.t.Add(59 * time.Second)
	if err := f.Tick(); err != nil || f.Done(0, 0) {
		t.Fatalf("finished after 59 s: %v", err)
	}
	c.t = c.t.Add(time.Second)
	if err := f.Tick(); err != nil || !f.Done(0, 0) {
		t.Fatalf("not finished after a minute: %v", err)
	}
	c.t = c.t.Add(-time.Hour) // set back: the time since counts from there
	if err := f.Append(n.block(0, 1)); err != nil || f.Done(0, 1) {
		t.Fatalf("finished at once: %v", err)
	}
	c.t = c.t.Add(time.Minute)
	if err := f.Append(n.block(0, 2)); err != nil || !f.Done(0, 1) || !f.Done(0, 2) {
		t.Fatalf("not finished after another minute: %v", err)
	}
	if f.Elapsed() != 2*time.Minute {
		t.Fatalf("elapsed %v, want 2m", f.Elapsed())
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	c.t = c.t.Add(time.Hour) // nobody works
	f, err = Open(dir, "again", c.options())
	if err != nil {
		t.Fatal(err)
	}
	c.t = c.t.Add(time.Minute)
	if err := f.Close(); err != nil || f.Elapsed() != 3*time.Minute {
		t.Fatalf("elapsed %v over both sessions, want 3m (%v)", f.Elapsed(), err)
	}
	v, err := Read(dir)
	if err != nil || v.Elapsed() != 3*time.Minute {
		t.Fatalf("elapsed %v in the manifest, want 3m (%v)", v.Elapsed(), err)
	}
	if got := fmt.Sprint(v.Sessions()); got != "[{2026-11-25T22:00:00Z first} {2026-11-25T22:02:00Z again}]" {
		t.Fatalf("sessions %s", got)
	}
}

func TestBlocksWithoutRows(t *testing.T) {
	n := night{blocks: []int{3}}
	dir := filepath.Join(t.TempDir(), "larch")
	f, err := n.create(dir, DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	for block := range 1000 {
		if err := f.Append(Block{Block: block, Counts: Counts{Evaluated: 50, Feasible: 7}, State: []byte{byte(block)}}); err != nil {
			t.Fatal(err)
		}
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	v, err := Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	if got := v.Totals(); got.Evaluated != 50_000 || got.Feasible != 7000 || got.Kept != 0 {
		t.Fatalf("totals %+v", got)
	}
	if got := v.Finished(); len(got) != 1 || got[0].Last != 999 || !v.Done(0, 999) || v.Done(0, 1000) || v.Done(1, 0) {
		t.Fatalf("finished %+v", got)
	}
	if s, err := v.State(0, 258); err != nil || string(s) != "\x02" {
		t.Fatalf("state %q, %v", s, err)
	}
	if len(v.Parts(TableRuns)) != 0 {
		t.Fatal("parts without rows")
	}
}

func TestAppendRefuses(t *testing.T) {
	n := night{blocks: []int{3}}
	s := small(TableRuns)
	row := func(run int64) *Rows {
		r := NewRows(&s)
		r.Next()
		r.Int(0, run)
		fillRow(r, 1, rand.New(rand.NewPCG(1, 1)))
		return r
	}
	one := Counts{Evaluated: 1, Kept: 1}
	twice := row(5)
	twice.Copy(twice, 0)
	empty := NewRows(&s)
	empty.Next()
	empty.Int(0, 7)
	other := NewRows(&Schema{Columns: s.Columns[:1]})
	other.Next()
	other.Int(0, 5)
	cases := []struct {
		name string
		b    Block
		want string
	}{
		{"finished", Block{Block: 1}, "block 1 of stage 0 cannot be recorded: it is finished already"},
		{"waiting", Block{Block: 2}, "block 2 of stage 0 cannot be recorded: it is finished already"},
		{"stage", Block{Stage: -1}, "stages go from 0"},
		{"kept", Block{Rows: row(5)}, "its counts say that 0 rows are kept, and 1 are handed over"},
		{"evaluated", Block{Rows: row(5), Counts: Counts{Kept: 1}}, "fewer than the 1 rows kept"},
		{"run of another block", Block{Rows: row(100_005), Counts: one}, "row 1 of table runs has run 100005; runs of this block go from 0 to 99999"},
		{"run twice", Block{Rows: twice, Counts: Counts{Evaluated: 2, Kept: 2}}, "row 2 of table runs has run 5; runs of this block go from 6"},
		{"missing cell", Block{Rows: empty, Counts: one}, "column must_int64 has no value in row 1"},
		{"other columns", Block{Rows: other, Counts: one}, "table runs has 1 columns where 11 belong"},
		{"no such table", Block{Curves: row(5)}, "table curves, which the folder does not have"},
	}
	f, err := n.create(filepath.Join(t.TempDir(), "larch"), DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := errors.Join(f.Append(Block{Block: 1}), f.Flush(), f.Append(Block{Block: 2})); err != nil {
		t.Fatal(err)
	}
	for _, c := range cases {
		if err := f.Append(c.b); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %q", c.name, err, c.want)
		}
	}
	if err := f.Append(n.block(0, 0)); err != nil {
		t.Fatalf("the folder does not go on: %v", err)
	}
}

func TestRunsAndBest(t *testing.T) {
	n := night{blocks: []int{12, 12}, curves: true, perSync: 5}
	dir := filepath.Join(t.TempDir(), "larch")
	if err := n.work(dir, quickOptions()); err != nil {
		t.Fatal(err)
	}
	v, err := Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	type key struct {
		a, b float64
		run  int64
	}
	var all []key
	last := int64(-1)
	for stage := range 2 {
		for block := range 12 {
			b := n.block(stage, block)
			for i := range b.Rows.Len() {
				run, _ := b.Rows.IntAt(0, i)
				if run <= last {
					t.Fatal("runs do not rise")
				}
				last = run
				got, err := v.ReadRun(run)
				if err != nil || got.Len() != 1 {
					t.Fatalf("run %d: %v", run, err)
				}
				if err := same(b.Rows, i, got, 0); err != nil {
					t.Fatalf("run %d: %v", run, err)
				}
				x, ok1 := b.Rows.FloatAt(4, i)
				y, ok2 := b.Rows.FloatAt(3, i)
				if ok1 && ok2 {
					all = append(all, key{x, y, run})
				}
			}
			for i := range b.Curves.Len() / 3 {
				run, _ := b.Curves.IntAt(0, 3*i)
				k := 3 * i
				err := v.ScanRun(TableCurves, run, nil, func(r *Rows) error {
					for j := range r.Len() {
						if err := same(b.Curves, k, r, j); err != nil {
							return err
						}
						k++
					}
					return nil
				})
				if err != nil || k != 3*i+3 {
					t.Fatalf("curves of run %d: %d rows, %v", run, k-3*i, err)
				}
			}
		}
	}
	slices.SortFunc(all, func(a, b key) int {
		if a.a != b.a {
			return int(max(-1, min(1, (a.a-b.a)*1e300)))
		}
		return int(a.run - b.run)
	})
	best, err := v.Best(10, "may_float64", "must_float64")
	if err != nil {
		t.Fatal(err)
	}
	for i, run := range best {
		if run != all[i].run {
			t.Fatalf("place %d has run %d, want %d", i, run, all[i].run)
		}
	}
	if len(best) != 10 {
		t.Fatalf("%d of the best 10", len(best))
	}
	if many, err := v.Best(1_000_000, "may_float64"); err != nil || len(many) != len(all) {
		t.Fatalf("%d ranked, want %d (%v)", len(many), len(all), err)
	}
	if _, err := v.Best(3, "must_text"); err == nil || !strings.Contains(err.Error(), "column must_text holds text") {
		t.Fatal(err)
	}
	for _, run := range []int64{-1, RunNumber(0, 0, 99_999), RunNumber(5, 0, 0)} {
		if _, err := v.ReadRun(run); !errors.Is(err, ErrNoRun) {
			t.Errorf("run %d: %v", run, err)
		}
	}
}

func TestReplaceTable(t *testing.T) {
	n := night{blocks: []int{4}, curves: true}
	dir := filepath.Join(t.TempDir(), "larch")
	f, err := n.create(dir, DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	s := small(TableCurves)
	fill := func(rows int) func(func(*Rows) error) error {
		return func(add func(*Rows) error) error {
			r := NewRows(&s)
			for i := range rows {
				r.Reset()
				r.Next()
				r.Int(0, int64(i))
				fillRow(r, 1, rand.New(rand.NewPCG(1, uint64(i))))
				if err := add(r); err != nil {
					return err
				}
			}
			return nil
		}
	}
	f.options.PartBytes = 10_000
	for _, rows := range []int{400, 30, 0, 50} {
		if err := f.Replace(TableCurves, fill(rows)); err != nil {
			t.Fatal(err)
		}
		at := int64(0)
		err := f.Scan(TableCurves, []string{RunColumn}, func(r *Rows) error {
			for i := range r.Len() {
				if run, _ := r.IntAt(0, i); run != at {
					return fmt.Errorf("run %d, want %d", run, at)
				}
				at++
			}
			return nil
		})
		if err != nil || at != int64(rows) || f.NumRows(TableCurves) != int64(rows) {
			t.Fatalf("%d rows, want %d: %v", at, rows, err)
		}
		if on, _ := filepath.Glob(filepath.Join(dir, TableCurves, "*")); len(on) != len(f.Parts(TableCurves)) {
			t.Fatalf("%v on the disk, %v in the manifest", on, f.Parts(TableCurves))
		}
	}
	if err := f.Append(n.block(0, 1)); err == nil || !strings.Contains(err.Error(), "written as a whole") {
		t.Fatalf("curves of a block beside a whole table: %v", err)
	}
	if err := f.Replace(TableRuns, fill(1)); err == nil {
		t.Fatal("the runs are replaced")
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	if f, err = Open(dir, "again", DefaultOptions()); err != nil || len(f.Notes()) != 0 {
		t.Fatalf("%v, %v", f.Notes(), err)
	}
	f.Close()
}

func TestFactsAndIdentity(t *testing.T) {
	n := night{blocks: []int{2}}
	dir := filepath.Join(t.TempDir(), "larch")
	f, err := n.create(dir, DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	if err := f.Append(n.block(0, 0)); err != nil {
		t.Fatal(err)
	}
	if err := f.SetFact("cut", map[string]int{"stage": 0}); err != nil || !f.Done(0, 0) {
		t.Fatalf("a fact stands before the blocks that came before it: %v", err)
	}
	if err := f.SetFact("cut", map[string]int{"stage": 4}); err != nil {
		t.Fatal(err)
	}
	old, _ := f.Identity()
	if err := f.SetIdentity(append(slices.Clone(old), StageIdentity{Stage: "search: differential-evolution"})); err != nil {
		t.Fatal(err)
	}
	if err := f.SetIdentity(Identity{{Stage: "plan: sobol", Sums: []Sum{SumOf("geometry", []byte("h"))}}}); err == nil || !strings.Contains(err.Error(), "stage 1 (plan: sobol) has another geometry") {
		t.Fatalf("another geometry is taken: %v", err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	v, err := Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	var cut map[string]int
	if ok, err := v.Fact("cut", &cut); !ok || err != nil || cut["stage"] != 4 {
		t.Fatalf("fact %v, %v, %v", cut, ok, err)
	}
	if ok, _ := v.Fact("none", &cut); ok {
		t.Fatal("a fact that nobody kept")
	}
	if id, err := v.Identity(); err != nil || len(id) != 2 {
		t.Fatalf("identity %v, %v", id, err)
	}
}

func TestCheckIdentity(t *testing.T) {
	stage := func(name string, sums ...string) StageIdentity {
		s := StageIdentity{Stage: name}
		for i := 0; i < len(sums); i += 2 {
			s.Sums = append(s.Sums, SumOf(sums[i], []byte(sums[i+1])))
		}
		return s
	}
	old := Identity{stage("plan: sobol", "geometry", "a", "limits", "b"), stage("search", "islands", "4")}
	cases := []struct {
		name string
		now  Identity
		want []string
	}{
		{"same", old, nil},
		{"stage added", append(slices.Clone(old), stage("more")), nil},
		{"limits", Identity{stage("plan: sobol", "geometry", "a", "limits", "c"), old[1]}, []string{"stage 1 (plan: sobol) has another limits"}},
		{"gone and new", Identity{stage("plan: sobol", "geometry", "a", "targets", "c")}, []string{"stage 1 (plan: sobol) no longer has limits", "stage 1 (plan: sobol) has targets, which was not there", "stage 2 (search) is gone"}},
		{"another stage", Identity{old[0], stage("refine")}, []string{"stage 2 was search and is refine"}},
	}
	for _, c := range cases {
		var got []string
		for _, d := range CheckIdentity(old, c.now) {
			got = append(got, d.String())
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
	if SumOf("a", []byte("x"), []byte("yz")) == SumOf("a", []byte("xy"), []byte("z")) {
		t.Error("where one piece ends does not count")
	}
}

func TestRunNumber(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		stage, block, index := rapid.IntRange(0, maxStages-1).Draw(t, "stage"), rapid.IntRange(0, int(blocksInStage)-1).Draw(t, "block"), rapid.IntRange(0, runsPerBlock-1).Draw(t, "index")
		run := RunNumber(stage, block, index)
		a, b, c := SplitRun(run)
		if a != stage || b != block || c != index || run < 0 || run >= 1<<53 {
			t.Fatalf("%d, %d, %d is run %d, which is %d, %d, %d", stage, block, index, run, a, b, c)
		}
	})
}

package record

import (
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"testing"
	"time"
)

// small is a table with every type of column, required and nullable.
func small(table string) Schema {
	s := Schema{Table: table, Meta: map[string]string{"study": "larch"}, Columns: []Column{{Name: RunColumn, Type: Int64, Meaning: "The number of the run."}}}
	for t := Int64; t <= Text; t++ {
		s.Columns = append(s.Columns, Column{Name: "must_" + t.String(), Type: t, Unit: "mm"},
			Column{Name: "may_" + t.String(), Type: t, Nullable: true})
	}
	return s
}

// fillRow sets the cells of the row begun last, from column first on; about a quarter of the
// nullable ones stay null.
func fillRow(r *Rows, first int, random *rand.Rand) {
	for c, column := range r.columns {
		if c < first || column.Nullable && random.IntN(4) == 0 {
			continue
		}
		switch column.Type {
		case Int64:
			r.Int(c, random.Int64()>>random.IntN(64))
		case Float64, Float32:
			r.Float(c, random.NormFloat64()*100)
		case Bool:
			r.Bool(c, random.IntN(2) == 0)
		case Text:
			r.Text(c, fmt.Sprintf("reason %d", random.IntN(20)))
		}
	}
}

// night is a small study: what its blocks hold depends on their numbers alone.
type night struct {
	blocks  []int // of each stage
	curves  bool
	perSync int  // blocks between flushes; 0 leaves it to the rotation
	lossy   bool // states may be gone, as the newest checkpoint may be
}

func (n night) schemas() []Schema {
	s := []Schema{small(TableRuns)}
	if n.curves {
		s = append(s, small(TableCurves))
	}
	return s
}

// block makes a block anew; the same every time.
func (n night) block(stage, block int) Block {
	s := n.schemas()
	random := rand.New(rand.NewPCG(uint64(stage), uint64(block)))
	b := Block{Stage: stage, Block: block, Rows: NewRows(&s[0])}
	if n.curves {
		b.Curves = NewRows(&s[1])
	}
	for i := range random.IntN(60) { // some blocks have none
		b.Rows.Next()
		b.Rows.Int(0, RunNumber(stage, block, 2*i))
		fillRow(b.Rows, 1, random)
		for range 3 {
			if n.curves {
				b.Curves.Next()
				b.Curves.Int(0, RunNumber(stage, block, 2*i))
				fillRow(b.Curves, 1, random)
			}
		}
	}
	kept := int64(b.Rows.Len())
	b.Counts = Counts{Evaluated: kept + 3, Kept: kept, Feasible: kept / 2, Status: map[string]int64{"ok": kept, "folds": 3}}
	if block%3 == 0 {
		b.State = fmt.Appendf(nil, "state of %d in %d", block, stage)
	}
	return b
}

// create makes the folder of the night.
func (n night) create(dir string, o Options) (*Folder, error) {
	h := Header{Study: "larch", Build: "first", Identity: Identity{{Stage: "plan: sobol", Sums: []Sum{SumOf("geometry", []byte("g"))}}}}
	return Create(dir, h, map[string][]byte{"study.yaml": []byte("format: 1\n")}, o, n.schemas()...)
}

// work opens or makes the folder, makes every block that is not finished, and closes it.
func (n night) work(dir string, o Options) (err error) {
	var f *Folder
	if Exists(dir) {
		f, err = Open(dir, "again", o)
	} else {
		f, err = n.create(dir, o)
	}
	if err != nil {
		return err
	}
	made := 0
	for stage, blocks := range n.blocks {
		for block := range blocks {
			if f.Done(stage, block) {
				continue
			}
			if err := f.Append(n.block(stage, block)); err != nil {
				f.Close()
				return err
			}
			if made++; n.perSync > 0 && made%n.perSync == 0 {
				if err := f.Flush(); err != nil {
					f.Close()
					return err
				}
			}
		}
	}
	return f.Close()
}

// outcome is what must be the same however a night was interrupted and its rows were spread.
type outcome struct {
	runs, curves, totals string
}

// read returns the outcome of a folder after reading all of it.
func (n night) read(t testing.TB, dir string) outcome {
	t.Helper()
	v, err := Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	if err := v.Verify(); err != nil {
		t.Fatal(err)
	}
	var out outcome
	if out.runs, err = v.Digest(TableRuns); err != nil {
		t.Fatal(err)
	}
	if n.curves {
		if out.curves, err = v.Digest(TableCurves); err != nil {
			t.Fatal(err)
		}
	}
	out.totals = fmt.Sprintf("%+v", v.Totals())
	for stage, blocks := range n.blocks {
		for block := range blocks {
			if !v.Done(stage, block) {
				t.Fatalf("block %d of stage %d is not finished", block, stage)
			}
			state, err := v.State(stage, block)
			if err != nil {
				t.Fatal(err)
			}
			if want := n.block(stage, block).State; string(state) != string(want) && !(n.lossy && state == nil) {
				t.Fatalf("state of block %d of stage %d is %q, want %q", block, stage, state, want)
			}
		}
	}
	if on, _ := filepath.Glob(filepath.Join(dir, "*", ".*"+tmpSuffix)); len(on) > 0 {
		t.Fatalf("left behind: %v", on)
	}
	if on, _ := filepath.Glob(filepath.Join(dir, "*", "part-*.parquet")); len(on) != len(v.ledger.parts()) {
		t.Fatalf("%d parts on the disk, %d in the manifest", len(on), len(v.ledger.parts()))
	}
	return out
}

// clock is a clock that tests turn by hand.
type clock struct{ t time.Time }

func newClock() *clock { return &clock{time.Date(2026, 11, 25, 22, 0, 0, 0, time.UTC)} }

func (c *clock) now() time.Time { return c.t }

func (c *clock) options() Options {
	o := quickOptions()
	o.Now = c.now
	return o
}

// quick is a disk that leaves syncing to the system: for tests that cut no power and write much.
type quick struct{ system }

func (quick) Create(path string) (file, error) { return unsynced(system{}.Create(path)) }
func (quick) Append(path string) (file, error) { return unsynced(system{}.Append(path)) }
func (quick) SyncDir(string) error             { return nil }

func unsynced(f file, err error) (file, error) { return quickFile{f}, err }

type quickFile struct{ file }

func (quickFile) Sync() error { return nil }

// quickOptions are DefaultOptions on a quick disk.
func quickOptions() Options {
	o := DefaultOptions()
	o.disk = quick{}
	return o
}

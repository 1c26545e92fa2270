package record

import (
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestRowsRefuse(t *testing.T) {
	s := Schema{Table: "t", Columns: []Column{{Name: "a", Type: Float64}, {Name: "b", Type: Float32, Nullable: true}, {Name: "c", Type: Text, Nullable: true}}}
	cases := []struct {
		name string
		fill func(*Rows)
		want string
	}{
		{"not a number", func(r *Rows) { r.Float(0, math.NaN()) }, "column a is not a number (NaN) in row 1 of the batch; a cell without a finite value is left null"},
		{"infinite", func(r *Rows) { r.Float(0, math.Inf(-1)) }, "column a is not finite (-Inf) in row 1"},
		{"infinite in single precision", func(r *Rows) { r.Float(0, 1); r.Float(1, math.Inf(-1)) }, "column b is not finite (-Inf) in row 1"},
		{"required and missing", func(r *Rows) { r.Float(1, 1) }, "column a has no value in row 1 of the batch; it may not be null"},
		{"required and taken back", func(r *Rows) { r.Float(0, 1); r.Null(0) }, "column a has no value in row 1"},
		{"set twice", func(r *Rows) { r.Float(0, 1); r.Float(0, 2) }, "column a is set twice in row 1"},
		{"no UTF-8", func(r *Rows) { r.Float(0, 1); r.Text(2, "\xff") }, "column c has a text in row 1 of the batch that is not UTF-8"},
		{"long text", func(r *Rows) { r.Float(0, 1); r.Text(2, strings.Repeat("x", maxText+1)) }, "column c has a text of 65537 bytes in row 1"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			r := NewRows(&s)
			r.Next()
			c.fill(r)
			if err := r.Err(); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Fatalf("got %v, want %q", err, c.want)
			}
			path := filepath.Join(t.TempDir(), "t.parquet")
			table, err := CreateTable(path, s, DefaultOptions())
			if err != nil {
				t.Fatal(err)
			}
			if err := table.Append(r); err == nil || table.Rows() != 0 {
				t.Fatalf("written: %v, %d rows", err, table.Rows())
			}
			r.Reset()
			if r.Err() != nil {
				t.Fatal("Reset keeps the error")
			}
			r.Next()
			r.Float(0, 1)
			if err := table.Append(r); err != nil {
				t.Fatalf("a refused batch spoils the table: %v", err)
			}
			table.Abandon()
		})
	}
}

func TestRowsPanic(t *testing.T) {
	s := Schema{Table: "t", Columns: []Column{{Name: "a", Type: Float64}}}
	for name, do := range map[string]func(*Rows){
		"wrong type":  func(r *Rows) { r.Next(); r.Int(0, 1) },
		"no row":      func(r *Rows) { r.Float(0, 1) },
		"no such row": func(r *Rows) { r.Next(); r.IsNull(0, 1) },
	} {
		t.Run(name, func(t *testing.T) {
			defer func() {
				if recover() == nil {
					t.Fatal("no panic")
				}
			}()
			do(NewRows(&s))
		})
	}
}

func TestRowsAllocateNothing(t *testing.T) {
	s := small("t")
	r := NewRows(&s)
	texts := []string{"ok", "folds", "over_limit"}
	fill := func() {
		r.Reset()
		for i := range 500 {
			r.Next()
			for c, column := range s.Columns {
				switch column.Type {
				case Int64:
					r.Int(c, int64(i))
				case Bool:
					r.Bool(c, i%2 == 0)
				case Text:
					r.Text(c, texts[i%3])
				default:
					r.Float(c, float64(i))
				}
			}
		}
	}
	fill()
	if n := testing.AllocsPerRun(10, fill); n != 0 {
		t.Fatalf("filling rows again allocates %v times", n)
	}
}

// drawRows fills a batch with anything that may be written.
func drawRows(t *rapid.T, s *Schema, most int) *Rows {
	r := NewRows(s)
	text := rapid.OneOf(rapid.SampledFrom([]string{"", "ok", "überfahren", "a\x00b"}), rapid.String())
	for range rapid.IntRange(0, most).Draw(t, "rows") {
		r.Next()
		for c, column := range s.Columns {
			if column.Nullable && rapid.Bool().Draw(t, "null") {
				continue
			}
			switch column.Type {
			case Int64:
				r.Int(c, rapid.Int64().Draw(t, "int"))
			case Float64:
				r.Float(c, rapid.Float64().Draw(t, "float"))
			case Float32:
				r.Float(c, float64(rapid.Float32().Draw(t, "single")))
			case Bool:
				r.Bool(c, rapid.Bool().Draw(t, "bool"))
			case Text:
				r.Text(c, text.Draw(t, "text"))
			}
		}
	}
	return r
}

// same says in which cell two rows differ; doubles are compared bit by bit.
func same(a *Rows, i int, b *Rows, j int) error {
	for c := range a.columns {
		x, y := a.Cell(c, i), b.Cell(c, j)
		if f, ok := x.(float64); ok {
			if g, ok := y.(float64); ok && math.Float64bits(f) == math.Float64bits(g) {
				continue
			}
		}
		if x != y {
			return fmt.Errorf("column %s is %v in row %d, want %v", a.columns[c].Name, y, j, x)
		}
	}
	return nil
}

func TestRoundTrip(t *testing.T) {
	dir := t.TempDir()
	s := small("anything")
	rapid.Check(t, func(t *rapid.T) {
		path := filepath.Join(dir, "t.parquet")
		table, err := CreateTable(path, s, quickOptions())
		if err != nil {
			t.Fatal(err)
		}
		all := NewRows(&s)
		for range rapid.IntRange(0, 4).Draw(t, "batches") {
			r := drawRows(t, &s, 12)
			for i := range r.Len() {
				all.Copy(r, i)
			}
			if err := table.Append(r); err != nil {
				t.Fatal(err)
			}
		}
		if err := table.Close(); err != nil {
			t.Fatal(err)
		}
		at := 0
		err = ScanTable(path, nil, func(r *Rows) error {
			for i := range r.Len() {
				if err := same(all, at, r, i); err != nil {
					return err
				}
				at++
			}
			return nil
		})
		if err != nil || at != all.Len() {
			t.Fatalf("%d of %d rows: %v", at, all.Len(), err)
		}
	})
}

func TestTableCarriesItsSchema(t *testing.T) {
	path := filepath.Join(t.TempDir(), "t.parquet")
	s := small("anything")
	table, err := CreateTable(path, s, DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	if err := table.Close(); err != nil { // no row at all
		t.Fatal(err)
	}
	got, err := TableSchema(path)
	if err != nil {
		t.Fatal(err)
	}
	if fmt.Sprint(got) != fmt.Sprint(&s) {
		t.Fatalf("got %v\nwant %v", got, &s)
	}
	err = ScanTable(path, []string{"may_text"}, func(r *Rows) error { return fmt.Errorf("%d rows", r.Len()) })
	if err != nil {
		t.Fatal(err)
	}
	if err := ScanTable(path, []string{"camber"}, nil); err == nil || !strings.Contains(err.Error(), "has no column camber") {
		t.Fatal(err)
	}
}

// TestManyRows goes over pages, row groups and the end of a text column's dictionary.
func TestManyRows(t *testing.T) {
	path := filepath.Join(t.TempDir(), "t.parquet")
	s := Schema{Table: "t", Columns: []Column{{Name: "n", Type: Int64}, {Name: "x", Type: Float64, Nullable: true}, {Name: "few", Type: Text}, {Name: "many", Type: Text, Nullable: true}, {Name: "yes", Type: Bool, Nullable: true}}}
	const n = groupRows + 70_000
	row := func(r *Rows, i int) {
		r.Int(0, int64(i)*int64(i))
		if i%5 != 0 {
			r.Float(1, math.Sqrt(float64(i)))
		}
		r.Text(2, []string{"ok", "folds"}[i%2])
		if i%7 != 0 {
			r.Text(3, fmt.Sprintf("a text of its own, number %d", i))
		}
		if i%3 != 0 {
			r.Bool(4, i%2 == 0)
		}
	}
	table, err := CreateTable(path, s, DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	r := NewRows(&s)
	random := rand.New(rand.NewPCG(1, 1))
	for i := 0; i < n; {
		r.Reset()
		for range random.IntN(20_000) {
			if i < n {
				r.Next()
				row(r, i)
				i++
			}
		}
		if err := table.Append(r); err != nil {
			t.Fatal(err)
		}
	}
	if err := table.Close(); err != nil {
		t.Fatal(err)
	}
	want, at := NewRows(&s), 0
	err = ScanTable(path, nil, func(r *Rows) error {
		for i := range r.Len() {
			want.Reset()
			want.Next()
			row(want, at)
			if err := same(want, 0, r, i); err != nil {
				return err
			}
			at++
		}
		return nil
	})
	if err != nil || at != n {
		t.Fatalf("%d rows: %v", at, err)
	}
}

func TestAbandonedTableIsNotThere(t *testing.T) {
	dir := t.TempDir()
	table, err := CreateTable(filepath.Join(dir, "t.parquet"), small("t"), DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	table.Abandon()
	if left, _ := filepath.Glob(filepath.Join(dir, "*")); len(left) != 0 {
		t.Fatalf("left: %v", left)
	}
	if err := table.Close(); err == nil {
		t.Fatal("an abandoned table closes as if it were written")
	}
}

func TestReadBackFindsWhatChanged(t *testing.T) {
	// The memory of the machine fails between hand-over and disk: one bit of the sums differs.
	table, err := CreateTable(filepath.Join(t.TempDir(), "t.parquet"), small("t"), DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	s := small("t")
	r := NewRows(&s)
	r.Next()
	fillRow(r, 0, rand.New(rand.NewPCG(3, 3)))
	if err := table.Append(r); err != nil {
		t.Fatal(err)
	}
	table.digests[3].floats([]float64{1})
	if err := table.Close(); err == nil || !strings.Contains(err.Error(), "does not read back: column must_float64 has other values than were handed over") {
		t.Fatalf("got %v", err)
	}
}

func TestSchemaCheck(t *testing.T) {
	s := Schema{Table: "runs", Columns: []Column{{Name: "Bump Steer", Type: Float64}, {Name: "a"}, {Name: "a", Type: Text}}, Meta: map[string]string{reservedMeta + "x": ""}}
	err := s.Check()
	for _, want := range []string{`column 1 of table runs is called "Bump Steer"`, `such as "bump_steer"`, "column a of table runs has no type", "columns 2 and 3 of table runs are both called a", "do not begin with"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("missing %q in: %v", want, err)
		}
	}
	if _, err := CreateTable(filepath.Join(t.TempDir(), "t"), s, DefaultOptions()); err == nil {
		t.Error("a faulty schema is written")
	}
}

// TestBeyondSingle: a finite number beyond the range of single precision (IEEE 754 binary32) is left null,
// or refused where null may not be; the largest one is kept.
func TestBeyondSingle(t *testing.T) {
	s := Schema{Table: "t", Columns: []Column{{Name: "a", Type: Float32, Nullable: true}, {Name: "b", Type: Float32}}}
	r := NewRows(&s)
	r.Next()
	r.Float(0, -1e300)
	r.Float(1, math.MaxFloat32)
	if x, ok := r.FloatAt(1, 0); !r.IsNull(0, 0) || !ok || x != math.MaxFloat32 || r.Err() != nil {
		t.Errorf("null %v; %v, %v; %v", r.IsNull(0, 0), x, ok, r.Err())
	}
	r.Next()
	r.Float(1, 1e39)
	if err := r.Err(); err == nil || !strings.Contains(err.Error(), "column b has no value in row 2") {
		t.Errorf("%v", err)
	}
}

// TestRowsReadWhileFilled: a row may be read while it is filled, and filled on; what was read before stays, whatever
// number of rows there is room for.
func TestRowsReadWhileFilled(t *testing.T) {
	s := small(TableRuns)
	random := rand.New(rand.NewPCG(3, 4))
	for _, n := range []int{1, 63, 64, 65, 3*64 + 7} {
		whole, read := NewRows(&s), NewRows(&s)
		for i := range n {
			whole.Next()
			whole.Int(0, int64(i))
			fillRow(whole, 1, random)
		}
		for i := range n {
			read.Next()
			for c := range s.Columns {
				if random.IntN(3) == 0 { // looks at a row that is here, the one under way among them
					row := random.IntN(i + 1)
					if row < i && read.Cell(0, row) != int64(row) {
						t.Fatalf("%d rows: row %d says %v while row %d is filled", n, row, read.Cell(0, row), i)
					}
					_ = read.IsNull(c, i)
				}
				switch x := whole.Cell(c, i).(type) {
				case int64:
					read.Int(c, x)
				case float64:
					read.Float(c, x)
				case bool:
					read.Bool(c, x)
				case string:
					read.Text(c, x)
				}
			}
		}
		if where := unequal(whole, read); where != "" || read.Err() != nil {
			t.Errorf("%d rows: %s (%v)", n, where, read.Err())
		}
		read.Reset()
		if read.Next(); read.Err() == nil {
			t.Error("an empty row has what the one before the reset had")
		}
	}
}

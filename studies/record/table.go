package record

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"github.com/cespare/xxhash/v2"
	"github.com/parquet-go/parquet-go"
)

// Table is one Parquet file being written. The file appears under its name when Close has read
// it back and found what was handed over; before, and after Abandon, there is none.
type Table struct {
	schema  *Schema
	options Options
	path    string
	out     *output
	*kit
	digests []digest
	rows    int64
	inGroup int   // rows of the row group under way
	group   int   // rows of a full row group
	err     error // sticky
}

// kit is what one table after another of the same schema can use: a study's parts share one, so
// that memory stays flat over a night.
type kit struct {
	writer  *parquet.GenericWriter[any]
	columns []*parquet.ColumnWriter
	scratch scratch
}

// scratch is room for one column of one tile.
type scratch struct {
	lifted
	values []parquet.Value
}

func newScratch() scratch {
	return scratch{newLifted(), make([]parquet.Value, tileRows)}
}

// output is the file under a hidden name, with size and hash of what went through.
type output struct {
	file  file
	path  string
	bytes int64
	hash  *xxhash.Digest
	begun func() error // called once, when some bytes are written
}

func (o *output) Write(b []byte) (int, error) {
	n, err := o.file.Write(b)
	o.bytes += int64(n)
	o.hash.Write(b[:n])
	if err == nil && o.begun != nil {
		err, o.begun = o.begun(), nil
	}
	return n, err
}

// CreateTable begins a Parquet file of its own, outside any study folder.
func CreateTable(path string, s Schema, o Options) (*Table, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	return createTable(path, &s, o, nil)
}

// createTable begins a file. The kit is that of a finished table of the same schema, or nil.
func createTable(path string, s *Schema, o Options, k *kit) (*Table, error) {
	tmp := hidden(path)
	f, err := o.disk.Create(tmp)
	if err != nil {
		return nil, trouble("creating", tmp, err)
	}
	t := &Table{
		schema: s, options: o, path: path,
		out:     &output{file: f, path: tmp, hash: xxhash.New(), begun: func() error { return o.at(CrashInPart) }},
		digests: newDigests(s.Columns),
		group:   rowsPerGroup(s),
		kit:     k,
	}
	if k != nil {
		k.writer.Reset(t.out)
		return t, nil
	}
	t.kit = &kit{scratch: newScratch()}
	if t.writer, err = newWriter(t.out, s); err != nil {
		return nil, t.fail(err)
	}
	t.columns = t.writer.ColumnWriters()
	return t, nil
}

// Append writes all rows of the batch, whose columns are the table's. Rows with an error of their
// own (see Rows.Err) are refused and none of them is written.
func (t *Table) Append(r *Rows) error {
	if t.err != nil {
		return t.err
	}
	if len(r.columns) != len(t.schema.Columns) {
		panic(fmt.Sprintf("record: a batch of %d columns for a table of %d", len(r.columns), len(t.schema.Columns)))
	}
	if err := r.Err(); err != nil {
		return err
	}
	for from := 0; from < r.n; {
		to := min(r.n, from+tileRows, from+t.group-t.inGroup)
		for c := range t.columns {
			if err := t.write(c, r, from, to); err != nil {
				return t.fail(trouble("writing", t.path, err))
			}
		}
		t.rows += int64(to - from)
		t.inGroup += to - from
		if t.inGroup == t.group {
			if err := t.writer.Flush(); err != nil {
				return t.fail(trouble("writing", t.path, err))
			}
			t.inGroup = 0
		}
		from = to
	}
	return nil
}

// write hands one column of the rows from..to to its writer and its digest.
func (t *Table) write(c int, r *Rows, from, to int) error {
	s := &t.scratch
	r.lift(c, from, to, &s.lifted)
	column := &t.schema.Columns[c]
	t.digests[c].take(column.Type, &s.lifted)
	values := s.dense(column)
	if s.nulls > 0 {
		values = spread(values, s.set)
	}
	n, err := t.columns[c].WriteRowValues(values)
	if err == nil && n != len(s.set) {
		err = fmt.Errorf("column %s took %d of %d rows", column.Name, n, len(s.set))
	}
	return err
}

// dense returns the values that are not null as Parquet's, in the scratch room.
func (s *scratch) dense(c *Column) []parquet.Value {
	out := s.values[:len(s.set)-s.nulls]
	level := 0 // a value without its level would become null
	if c.Nullable {
		level = 1
	}
	switch c.Type {
	case Float64:
		for i, x := range s.floats {
			out[i] = parquet.DoubleValue(x)
			out[i].SetDefinitionLevel(level)
		}
	case Float32:
		for i, x := range s.floats {
			out[i] = parquet.FloatValue(float32(x))
			out[i].SetDefinitionLevel(level)
		}
	case Int64:
		for i, x := range s.ints {
			out[i] = parquet.Int64Value(x)
			out[i].SetDefinitionLevel(level)
		}
	case Bool:
		for i, x := range s.bools {
			out[i] = parquet.BooleanValue(x)
			out[i].SetDefinitionLevel(level)
		}
	case Text:
		for i, k := range s.words {
			out[i] = s.texts[k].value
			out[i].SetDefinitionLevel(level)
		}
	}
	return out
}

// spread puts nulls between the values, from the back so that nothing is overwritten unread.
func spread(dense []parquet.Value, set []byte) []parquet.Value {
	all, next := dense[:len(set)], len(dense)-1
	for i := len(set) - 1; i >= 0; i-- {
		if set[i] == 0 {
			all[i] = parquet.NullValue()
			continue
		}
		all[i] = all[next]
		next--
	}
	return all
}

// Rows returns the number of rows appended.
func (t *Table) Rows() int64 { return t.rows }

// size returns about how large the file will be.
func (t *Table) size() int64 { return t.writer.Size() }

// Close finishes the file: it is closed and synced, read back and compared with what was handed
// over, and put in its place.
func (t *Table) Close() error {
	_, err := t.finish()
	return err
}

// Part is one finished file of a table, as the manifest names it.
type Part struct {
	Table   string `json:"table"`
	File    string `json:"file"` // relative to the study folder, with forward slashes
	Rows    int64  `json:"rows"`
	Bytes   int64  `json:"bytes"`
	Hash    string `json:"hash"`    // xxHash64 of the file
	Content string `json:"content"` // hash over counts, nulls, sums and hashes of the columns
}

func (t *Table) finish() (Part, error) {
	if t.err != nil {
		return Part{}, t.err
	}
	if err := t.writer.Close(); err != nil {
		return Part{}, t.fail(trouble("writing", t.path, err))
	}
	if err := t.settle(); err != nil {
		return Part{}, t.fail(trouble("writing", t.path, err))
	}
	sums := totals(t.digests)
	p := Part{Table: t.schema.Table, File: filepath.Base(t.path), Rows: t.rows, Bytes: t.out.bytes,
		Hash: hex64(t.out.hash.Sum64()), Content: content(sums)}
	if err := t.readBack(&p, sums); err != nil {
		return Part{}, t.fail(fmt.Errorf("what was written to %s does not read back: %w. The disk or the memory of this machine may be failing; everything finished before is safe", t.path, err))
	}
	if err := t.place(); err != nil {
		return Part{}, t.fail(trouble("renaming", t.path, err))
	}
	t.err = errors.New("the table " + t.path + " is closed")
	return p, nil
}

// settle syncs and closes the hidden file.
func (t *Table) settle() error {
	if err := t.options.at(CrashBeforePartSync); err != nil {
		return err
	}
	if err := t.out.file.Sync(); err != nil {
		return err
	}
	err := t.out.file.Close()
	t.out.file = nil
	if err != nil {
		return err
	}
	return t.options.at(CrashAfterPartSync)
}

// readBack reads the hidden file and compares it with what was handed over.
func (t *Table) readBack(p *Part, sums []total) error {
	f, err := os.Open(t.out.path)
	if err != nil {
		return err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	got, err := checkPart(f, info.Size(), p, t.schema)
	if got != nil { // read to the end: name the column, if one differs
		if d := differ(t.schema.Columns, sums, got); d != nil {
			return d
		}
	}
	return err
}

// place renames the hidden file and syncs its directory.
func (t *Table) place() error {
	if err := t.options.at(CrashBeforeRename); err != nil {
		return err
	}
	if err := t.options.disk.Rename(t.out.path, t.path); err != nil {
		return err
	}
	if err := t.options.at(CrashAfterRename); err != nil {
		return err
	}
	if err := t.options.disk.SyncDir(filepath.Dir(t.path)); err != nil {
		return err
	}
	return t.options.at(CrashAfterDirSync)
}

// Abandon gives the file up and removes what was written. After Close it does nothing.
func (t *Table) Abandon() {
	if t.err == nil {
		t.fail(errors.New("the table " + t.path + " was given up"))
	}
}

// fail closes and removes the hidden file and keeps the error for every later call.
func (t *Table) fail(err error) error {
	if t.out.file != nil {
		t.out.file.Close()
		t.out.file = nil
	}
	os.Remove(t.out.path)
	t.err = err
	return err
}

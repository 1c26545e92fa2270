package record

import (
	"bytes"
	"fmt"
	"math"
	"unicode/utf8"

	"github.com/parquet-go/parquet-go"
)

// maxText is the longest text of a cell, in bytes.
const maxText = 1 << 16

// maxWords is how many distinct texts a column of Rows keeps over a Reset.
const maxWords = 1 << 14

// Rows is a batch of rows, for writing and for reading.
//
// To write, call Next, then set the cells of that row; a cell not set is null. What cannot be
// written (NaN, an infinity, a required cell left out, a cell set twice) is kept as the first
// error and refused when the rows are handed over: see Err. A setter that does not fit the
// column's type panics, as the mistake is in the program and not in the data.
//
// Rows are meant to be used again: after Reset, filling the same number of rows allocates
// nothing. One goroutine at a time may use them.
//
// A row lies in one piece, as between two rows a worker solves a candidate: cells kept by columns lie far apart, and their
// places have left the processor's caches by then. They are put into columns on the way to a file, see lift.
type Rows struct {
	columns []Column
	types   []Type // of the columns, none 0: what the cells of a new row are open for
	texts   []texts
	n, room int
	base    int      // where the last row begins
	raw     []uint64 // what the cells hold: bits of a double, a whole number, 0 or 1, an index into texts
	open    []Type   // what a cell may be set to, 0 where it is set; row 0 is open for nothing, and the last while there is no other
	err     error
}

// texts are the distinct texts of a column.
type texts struct {
	words []word
	index map[string]int32
	last  int32 // the word set last, or -1
}

// word is a distinct text of a column, with its hash and as Parquet takes it.
type word struct {
	text  string
	hash  uint64
	value parquet.Value
}

func newWord(text string) word {
	return word{text: text, hash: hashText(text), value: parquet.ByteArrayValue([]byte(text))}
}

// NewRows returns an empty batch for the schema's columns.
func NewRows(s *Schema) *Rows { return newRows(s.Columns) }

func newRows(columns []Column) *Rows {
	r := &Rows{columns: columns, types: make([]Type, len(columns)), texts: make([]texts, len(columns))}
	for c := range columns {
		r.types[c] = columns[c].Type
		r.texts[c].last = -1
		if r.types[c] == Text {
			r.texts[c].index = map[string]int32{}
		}
	}
	r.open = make([]Type, len(columns))
	r.raw = make([]uint64, len(columns))
	return r
}

// Reset forgets the rows and the error, and keeps the room.
func (r *Rows) Reset() {
	for c := range r.texts {
		if t := &r.texts[c]; len(t.words) > maxWords {
			t.forget()
		}
	}
	r.n, r.base, r.err = 0, 0, nil
}

// forget drops the distinct texts of the column.
func (t *texts) forget() {
	clear(t.index)
	clear(t.words)
	t.words, t.last = t.words[:0], -1
}

// Next begins a row, with every cell null.
func (r *Rows) Next() {
	if r.n == r.room {
		r.grow(max(64, 2*r.room))
	}
	r.n++
	r.base = r.n * len(r.types)
	copy(r.open[r.base:], r.types)
}

// grow makes room for that many rows in all.
func (r *Rows) grow(room int) {
	if room <= r.room {
		return
	}
	width, have := len(r.types), (r.n+1)*len(r.types)
	r.raw = append(make([]uint64, 0, (room+1)*width), r.raw[:have]...)[:(room+1)*width]
	r.open = append(make([]Type, 0, (room+1)*width), r.open[:have]...)[:(room+1)*width]
	r.room = room
}

// extend makes a batch of n rows, whose cells hold anything.
func (r *Rows) extend(n int) {
	r.grow(n)
	r.n, r.base = n, n*len(r.types)
}

// at returns the place of a cell. The row is one of the batch.
func (r *Rows) at(column, row int) int {
	if uint(row) >= uint(r.n) {
		panic(fmt.Sprintf("record: row %d of a batch of %d", row, r.n))
	}
	return (row+1)*len(r.types) + column
}

// Len returns the number of rows.
func (r *Rows) Len() int { return r.n }

// Columns returns the columns of the batch, in order. The caller does not change them.
func (r *Rows) Columns() []Column { return r.columns }

// Index returns the place of a column, or -1.
func (r *Rows) Index(name string) int {
	return (&Schema{Columns: r.columns}).Index(name)
}

// Float sets a cell of a Float64 or Float32 column in the row begun last. A finite value that is beyond
// single precision has no value in a Float32 column: the cell is null, or missing if it may not be.
func (r *Rows) Float(column int, v float64) {
	at := r.base + column
	if r.open[at] != Float64 || v-v != 0 {
		r.special(column, v)
		return
	}
	r.open[at], r.raw[at] = 0, math.Float64bits(v)
}

// Number is Float for what may have no value: a cell stays null where v is not finite, and there is no zero below zero.
func (r *Rows) Number(column int, v float64) {
	if v-v == 0 {
		r.Float(column, v+0)
	}
}

// special sets a cell that is kept in single precision, one that is set already, or notes one that is no finite number.
func (r *Rows) special(column int, v float64) {
	t := Float64
	if r.types[column] == Float32 {
		t = Float32
	}
	at := r.mark(column, t)
	switch s := float64(float32(v)); {
	case v-v != 0:
		r.notFinite(column, v)
	case t == Float64:
		r.raw[at] = math.Float64bits(v)
	case s-s != 0:
		r.open[at] = t
	default:
		r.raw[at] = math.Float64bits(s)
	}
}

// Int sets a cell of an Int64 column in the row begun last.
func (r *Rows) Int(column int, v int64) {
	r.raw[r.mark(column, Int64)] = uint64(v)
}

// Bool sets a cell of a Bool column in the row begun last.
func (r *Rows) Bool(column int, v bool) {
	raw := &r.raw[r.mark(column, Bool)]
	*raw = 0
	if v {
		*raw = 1
	}
}

// Text sets a cell of a Text column in the row begun last.
func (r *Rows) Text(column int, v string) {
	r.raw[r.mark(column, Text)] = uint64(r.wordOf(column, v))
}

// Null says that a cell of the row begun last has no value. Cells that are not set are null as
// well; the call is for the reader of the code, and it takes back a value set before.
func (r *Rows) Null(column int) {
	if r.n == 0 {
		panic(noRow)
	}
	r.open[r.base+column] = r.types[column]
}

const noRow = "record: a cell is set before the first Next"

// mark says that the cell of the last row is set, and returns its place.
func (r *Rows) mark(column int, t Type) int {
	at := r.base + column
	if r.open[at] != t {
		r.unusual(column, t)
	}
	r.open[at] = 0
	return at
}

// unusual says what is wrong with a cell that is not open for a type.
func (r *Rows) unusual(column int, t Type) {
	switch {
	case r.n == 0:
		panic(noRow)
	case r.types[column] != t:
		panic(fmt.Sprintf("record: column %s holds %v and was given %v", r.columns[column].Name, r.types[column], t))
	}
	r.fail(fmt.Errorf("column %s is set twice in row %d of the batch; each cell has one value", r.columns[column].Name, r.n))
}

func (r *Rows) notFinite(column int, v float64) {
	what := "not a number"
	if !math.IsNaN(v) {
		what = "not finite"
	}
	r.fail(fmt.Errorf("column %s is %s (%v) in row %d of the batch; a cell without a finite value is left null", r.columns[column].Name, what, v, r.n))
}

func (r *Rows) fail(err error) {
	if r.err == nil {
		r.err = err
	}
}

// wordOf returns the index of a text among the column's distinct texts.
func (r *Rows) wordOf(column int, v string) int32 {
	d := &r.texts[column]
	if d.last >= 0 && d.words[d.last].text == v {
		return d.last
	}
	k, ok := d.index[v]
	if !ok {
		if !utf8.ValidString(v) {
			r.fail(fmt.Errorf("column %s has a text in row %d of the batch that is not UTF-8: %q", r.columns[column].Name, r.n, v))
			v = string(bytes.ToValidUTF8([]byte(v), []byte("?")))
		}
		if len(v) > maxText {
			r.fail(fmt.Errorf("column %s has a text of %d bytes in row %d of the batch; the longest allowed is %d", r.columns[column].Name, len(v), r.n, maxText))
			v = ""
		}
		k = int32(len(d.words))
		d.words = append(d.words, newWord(v))
		d.index[v] = k
	}
	d.last = k
	return k
}

// Err returns the first thing that keeps these rows from being written, or nil.
func (r *Rows) Err() error {
	if r.err != nil {
		return r.err
	}
	for row := range r.n {
		open := r.open[(row+1)*len(r.types):]
		for c := range r.columns {
			if open[c] != 0 && !r.columns[c].Nullable {
				return fmt.Errorf("column %s has no value in row %d of the batch; it may not be null", r.columns[c].Name, row+1)
			}
		}
	}
	return nil
}

// IsNull says whether a cell has no value.
func (r *Rows) IsNull(column, row int) bool { return r.open[r.at(column, row)] != 0 }

// FloatAt returns a cell of a Float64 or Float32 column; false when it is null.
func (r *Rows) FloatAt(column, row int) (float64, bool) {
	at := r.at(column, row)
	if r.open[at] != 0 {
		return 0, false
	}
	return math.Float64frombits(r.raw[at]), true
}

// IntAt returns a cell of an Int64 column; false when it is null.
func (r *Rows) IntAt(column, row int) (int64, bool) {
	at := r.at(column, row)
	if r.open[at] != 0 {
		return 0, false
	}
	return int64(r.raw[at]), true
}

// BoolAt returns a cell of a Bool column; false as the second when it is null.
func (r *Rows) BoolAt(column, row int) (value, ok bool) {
	at := r.at(column, row)
	if r.open[at] != 0 {
		return false, false
	}
	return r.raw[at] != 0, true
}

// TextAt returns a cell of a Text column; false when it is null.
func (r *Rows) TextAt(column, row int) (string, bool) {
	at := r.at(column, row)
	if r.open[at] != 0 {
		return "", false
	}
	return r.texts[column].words[r.raw[at]].text, true
}

// Cell returns any cell as int64, float64, bool or string; nil when it is null.
func (r *Rows) Cell(column, row int) any {
	at := r.at(column, row)
	if r.open[at] != 0 {
		return nil
	}
	switch raw := r.raw[at]; r.types[column] {
	case Int64:
		return int64(raw)
	case Bool:
		return raw != 0
	case Text:
		return r.texts[column].words[raw].text
	default:
		return math.Float64frombits(raw)
	}
}

// Copy appends row of from, which has the same columns, as a new row.
func (r *Rows) Copy(from *Rows, row int) {
	r.Next()
	for c, t := range r.types {
		at := from.at(c, row)
		if from.open[at] != 0 {
			continue
		}
		switch raw := from.raw[at]; t {
		case Int64:
			r.Int(c, int64(raw))
		case Bool:
			r.Bool(c, raw != 0)
		case Text:
			r.Text(c, from.texts[c].words[raw].text)
		default:
			r.Float(c, math.Float64frombits(raw))
		}
	}
}

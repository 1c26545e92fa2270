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

// Rows is a batch of rows kept by columns, for writing and for reading.
//
// To write, call Next, then set the cells of that row; a cell not set is null. What cannot be
// written (NaN, an infinity, a required cell left out, a cell set twice) is kept as the first
// error and refused when the rows are handed over: see Err. A setter that does not fit the
// column's type panics, as the mistake is in the program and not in the data.
//
// Rows are meant to be used again: after Reset, filling the same number of rows allocates
// nothing. One goroutine at a time may use them.
type Rows struct {
	columns []Column
	data    []cells
	n, room int
	err     error
	stage   stage
}

// cells is one column of a batch. Exactly one of f, i, b, w has room values, by the column's type.
type cells struct {
	set   []byte // 1 where a value is set, 0 where null; also Parquet's definition levels
	f     []float64
	i     []int64
	b     []bool
	w     []int32 // indexes into words
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
	r := &Rows{columns: columns, data: make([]cells, len(columns)), stage: newStage(columns)}
	for c := range r.data {
		r.data[c].last = -1
		if columns[c].Type == Text {
			r.data[c].index = map[string]int32{}
		}
	}
	return r
}

// Reset forgets the rows and the error, and keeps the room.
func (r *Rows) Reset() {
	for c := range r.data {
		if d := &r.data[c]; len(d.words) > maxWords {
			d.forget()
		}
	}
	r.stage.clear()
	r.n, r.err = 0, nil
}

// forget drops the distinct texts of the column.
func (d *cells) forget() {
	clear(d.index)
	clear(d.words)
	d.words, d.last = d.words[:0], -1
}

// Next begins a row, with every cell null.
func (r *Rows) Next() {
	if r.stage.n == stageRows {
		r.settle()
	}
	if r.n == r.room {
		r.grow(max(2*stageRows, 2*r.room))
	}
	r.n++
	r.stage.next()
}

// grow makes room for that many rows in all.
func (r *Rows) grow(room int) {
	if room <= r.room {
		return
	}
	for c := range r.data {
		d := &r.data[c]
		d.set = append(make([]byte, 0, room), d.set[:r.n]...)[:room]
		switch r.columns[c].Type {
		case Float64, Float32:
			d.f = append(make([]float64, 0, room), d.f[:r.n]...)[:room]
		case Int64:
			d.i = append(make([]int64, 0, room), d.i[:r.n]...)[:room]
		case Bool:
			d.b = append(make([]bool, 0, room), d.b[:r.n]...)[:room]
		case Text:
			d.w = append(make([]int32, 0, room), d.w[:r.n]...)[:room]
		}
	}
	r.room = room
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
	s := &r.stage
	at := s.base + column
	if s.open[at] != Float64 || v-v != 0 {
		r.special(column, v)
		return
	}
	s.open[at], s.raw[at] = 0, math.Float64bits(v)
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
	if r.stage.types[column] == Float32 {
		t = Float32
	}
	at := r.mark(column, t)
	switch s := float64(float32(v)); {
	case v-v != 0:
		r.notFinite(column, v)
	case t == Float64:
		r.stage.raw[at] = math.Float64bits(v)
	case s-s != 0:
		r.stage.open[at] = t
	default:
		r.stage.raw[at] = math.Float64bits(s)
	}
}

// Int sets a cell of an Int64 column in the row begun last.
func (r *Rows) Int(column int, v int64) {
	r.stage.raw[r.mark(column, Int64)] = uint64(v)
}

// Bool sets a cell of a Bool column in the row begun last.
func (r *Rows) Bool(column int, v bool) {
	raw := &r.stage.raw[r.mark(column, Bool)]
	*raw = 0
	if v {
		*raw = 1
	}
}

// Text sets a cell of a Text column in the row begun last.
func (r *Rows) Text(column int, v string) {
	r.stage.raw[r.mark(column, Text)] = uint64(r.wordOf(column, v))
}

// Null says that a cell of the row begun last has no value. Cells that are not set are null as
// well; the call is for the reader of the code, and it takes back a value set before.
func (r *Rows) Null(column int) {
	s := &r.stage
	if s.n == 0 {
		r.recall()
	}
	s.open[s.base+column] = s.types[column]
}

// mark says that the cell of the last row is set, and returns its place in the stage.
func (r *Rows) mark(column int, t Type) int {
	s := &r.stage
	at := s.base + column
	if s.open[at] != t {
		at = r.unusual(column, t)
	}
	s.open[at] = 0
	return at
}

// unusual is mark for a cell that is set already, one of another type, and the first of a row that was read.
func (r *Rows) unusual(column int, t Type) int {
	s := &r.stage
	if s.n == 0 {
		r.recall()
	}
	if s.types[column] != t {
		panic(fmt.Sprintf("record: column %s holds %v and was given %v", r.columns[column].Name, s.types[column], t))
	}
	at := s.base + column
	if s.open[at] == 0 {
		r.fail(fmt.Errorf("column %s is set twice in row %d of the batch; each cell has one value", r.columns[column].Name, r.n))
	}
	return at
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
	d := &r.data[column]
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
	r.settle()
	for c, column := range r.columns {
		if column.Nullable {
			continue
		}
		if row := bytes.IndexByte(r.data[c].set[:r.n], 0); row >= 0 {
			return fmt.Errorf("column %s has no value in row %d of the batch; it may not be null", column.Name, row+1)
		}
	}
	return nil
}

// IsNull says whether a cell has no value.
func (r *Rows) IsNull(column, row int) bool {
	if row >= r.n-r.stage.n {
		r.settle()
	}
	return r.data[column].set[:r.n][row] == 0
}

// FloatAt returns a cell of a Float64 or Float32 column; false when it is null.
func (r *Rows) FloatAt(column, row int) (float64, bool) {
	if r.IsNull(column, row) {
		return 0, false
	}
	return r.data[column].f[row], true
}

// IntAt returns a cell of an Int64 column; false when it is null.
func (r *Rows) IntAt(column, row int) (int64, bool) {
	if r.IsNull(column, row) {
		return 0, false
	}
	return r.data[column].i[row], true
}

// BoolAt returns a cell of a Bool column; false as the second when it is null.
func (r *Rows) BoolAt(column, row int) (value, ok bool) {
	if r.IsNull(column, row) {
		return false, false
	}
	return r.data[column].b[row], true
}

// TextAt returns a cell of a Text column; false when it is null.
func (r *Rows) TextAt(column, row int) (string, bool) {
	if r.IsNull(column, row) {
		return "", false
	}
	d := &r.data[column]
	return d.words[d.w[row]].text, true
}

// Cell returns any cell as int64, float64, bool or string; nil when it is null.
func (r *Rows) Cell(column, row int) any {
	if r.IsNull(column, row) {
		return nil
	}
	d := &r.data[column]
	switch r.columns[column].Type {
	case Int64:
		return d.i[row]
	case Bool:
		return d.b[row]
	case Text:
		return d.words[d.w[row]].text
	}
	return d.f[row]
}

// Copy appends row of from, which has the same columns, as a new row.
func (r *Rows) Copy(from *Rows, row int) {
	r.Next()
	for c := range r.columns {
		if from.IsNull(c, row) {
			continue
		}
		d := &from.data[c]
		switch r.columns[c].Type {
		case Int64:
			r.Int(c, d.i[row])
		case Bool:
			r.Bool(c, d.b[row])
		case Text:
			r.Text(c, d.words[d.w[row]].text)
		default:
			r.Float(c, d.f[row])
		}
	}
}

package record

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/encoding"
)

// cursor reads one column of a file, page by page and across row groups.
type cursor struct {
	part  *opened
	c     int
	group int // the next row group to open
	pages parquet.Pages
	page  parquet.Page
	row   int // next row of the page
	val   int // next value of the page, nulls not counted
	rows  int // rows of the page
	nulls int

	sought bool // the next page begins where a seek ended, and may be the rest of one

	set    []byte // of a nullable column: 1 set, 0 null
	floats []float64
	single []float32
	ints   []int64
	index  []int32
	bools  []bool
	words  []word // what index points into
	dict   parquet.Dictionary
	values []parquet.Value
	wide   []float64 // single, widened
}

func newCursor(p *opened, c int) *cursor { return &cursor{part: p, c: c} }

// close lets go of pages. The cursor is not used again.
func (k *cursor) close() {
	if k.page != nil {
		parquet.Release(k.page)
		k.page = nil
	}
	if k.pages != nil {
		k.pages.Close()
		k.pages = nil
	}
}

// seek goes to a row of the file.
func (k *cursor) seek(row int64) error {
	k.close()
	for k.group = 0; k.group < len(k.part.groups); k.group++ {
		n := k.part.groups[k.group].NumRows()
		if row < n {
			break
		}
		row -= n
	}
	k.rows, k.row = 0, 0
	if k.group == len(k.part.groups) {
		return nil
	}
	k.pages = k.part.groups[k.group].ColumnChunks()[k.c].Pages()
	k.dict = nil
	k.group++
	k.sought = true
	return k.pages.SeekToRow(row)
}

// nextPage reads the next page; io.EOF after the last.
func (k *cursor) nextPage() error {
	if k.page != nil {
		parquet.Release(k.page)
		k.page = nil
	}
	for {
		if k.pages == nil {
			if k.group == len(k.part.groups) {
				return io.EOF
			}
			k.pages = k.part.groups[k.group].ColumnChunks()[k.c].Pages()
			k.dict = nil
			k.group++
		}
		page, err := k.pages.ReadPage()
		if err == nil {
			k.page = page
			return k.take()
		}
		if !errors.Is(err, io.EOF) {
			return err
		}
		k.pages.Close()
		k.pages = nil
	}
}

// take looks into the page just read.
func (k *cursor) take() error {
	column := &k.part.schema.Columns[k.c]
	k.row, k.val = 0, 0
	k.rows, k.nulls, k.set = int(k.page.NumRows()), 0, nil
	if column.Nullable {
		k.set = k.page.DefinitionLevels()
		k.nulls = int(k.page.NumNulls())
		if len(k.set) != k.rows {
			return fmt.Errorf("a page of column %s has %d levels for %d rows", column.Name, len(k.set), k.rows)
		}
	}
	data := k.page.Data()
	have := 0
	switch column.Type {
	case Float64:
		k.floats = data.Double()
		have = len(k.floats)
	case Float32:
		k.single = data.Float()
		have = len(k.single)
	case Int64:
		k.ints = data.Int64()
		have = len(k.ints)
	case Bool:
		if err := k.takeBools(data.Boolean()); err != nil {
			return err
		}
		have = len(k.bools)
	case Text:
		if err := k.takeTexts(data); err != nil {
			return err
		}
		have = len(k.index)
	}
	k.sought = false
	if have != k.rows-k.nulls {
		return fmt.Errorf("a page of column %s has %d values for %d rows and %d nulls", column.Name, have, k.rows, k.nulls)
	}
	return nil
}

// takeBools unpacks true values, which Parquet keeps as bits, the lowest first. Where the rest of a page begins among
// its bits the library alone knows.
func (k *cursor) takeBools(bits []byte) error {
	k.bools = k.bools[:0]
	if n := k.rows - k.nulls; !k.sought && n <= 8*len(bits) {
		k.bools = slices.Grow(k.bools, n)[:n]
		for i := range k.bools {
			k.bools[i] = bits[i>>3]>>(i&7)&1 != 0
		}
		return nil
	}
	k.values = slices.Grow(k.values[:0], 1024)[:1024]
	r := k.page.Values()
	for {
		n, err := r.ReadValues(k.values)
		for _, v := range k.values[:n] {
			if !v.IsNull() {
				k.bools = append(k.bools, v.Boolean())
			}
		}
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
	}
}

// takeTexts finds the page's texts in its dictionary, or in the page where it has none.
func (k *cursor) takeTexts(data encoding.Values) error {
	dict := k.page.Dictionary()
	if dict == nil || data.Kind() == encoding.ByteArray {
		k.dict, k.words, k.index = nil, k.words[:0], k.index[:0:0]
		bytes, offsets := data.ByteArray()
		for i := 1; i < len(offsets); i++ {
			k.words = append(k.words, newWord(string(bytes[offsets[i-1]:offsets[i]])))
			k.index = append(k.index, int32(i-1))
		}
		return nil
	}
	if dict != k.dict {
		k.dict, k.words = dict, k.words[:0]
		for i := range dict.Len() {
			k.words = append(k.words, newWord(string(dict.Index(int32(i)).ByteArray())))
		}
	}
	k.index = data.Int32()
	for _, i := range k.index {
		if i < 0 || int(i) >= len(k.words) {
			return fmt.Errorf("a page of column %s points outside its dictionary", k.part.schema.Columns[k.c].Name)
		}
	}
	return nil
}

// widened returns the page's single-precision values as doubles.
func (k *cursor) widened() []float64 {
	k.wide = k.wide[:0]
	for _, x := range k.single {
		k.wide = append(k.wide, float64(x))
	}
	return k.wide
}

// sum takes the whole page into a digest.
func (k *cursor) sum(d *digest) {
	if k.set == nil {
		d.rows += int64(k.rows)
	} else {
		d.levels(k.set, k.nulls)
	}
	switch k.part.schema.Columns[k.c].Type {
	case Float64:
		d.floats(k.floats)
	case Float32:
		d.floats(k.widened())
	case Int64:
		d.ints(k.ints)
	case Bool:
		d.bools(k.bools)
	case Text:
		d.texts(k.index, k.words)
	}
}

// read fills the first n rows of a column of a batch, which has room for them.
func (k *cursor) read(dst *Rows, column, n int) error {
	for at := 0; at < n; {
		if k.row == k.rows {
			if err := k.nextPage(); err == io.EOF {
				return fmt.Errorf("column %s ends %d rows early", k.part.schema.Columns[k.c].Name, n-at)
			} else if err != nil {
				return err
			}
			continue
		}
		m := min(n-at, k.rows-k.row)
		k.copy(dst, column, at, m)
		at += m
	}
	return nil
}

// copy moves the page's next m rows to the batch.
func (k *cursor) copy(dst *Rows, column, at, m int) {
	var set []byte
	if k.set != nil {
		set = k.set[k.row : k.row+m]
	}
	typ, to, width := dst.types[column], (at+1)*len(dst.types)+column, len(dst.types)
	for i := range m {
		cell := to + i*width
		if set != nil && set[i] == 0 {
			dst.open[cell] = typ
			continue
		}
		dst.open[cell] = 0
		raw := &dst.raw[cell]
		switch typ {
		case Float64:
			*raw = math.Float64bits(k.floats[k.val])
		case Float32:
			*raw = math.Float64bits(float64(k.single[k.val]))
		case Int64:
			*raw = uint64(k.ints[k.val])
		case Bool:
			*raw = 0
			if k.bools[k.val] {
				*raw = 1
			}
		case Text:
			*raw = uint64(dst.wordOf(column, k.words[k.index[k.val]].text))
		}
		k.val++
	}
	k.row += m
}

package record

import (
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"math"

	"github.com/cespare/xxhash/v2"
)

// digest sums up a column: rows, nulls, sum of the values, and hashes of the values and of where
// the nulls stand. It does not depend on how the rows were cut into batches or pages, so that what
// was handed over and what is read back compare whatever lies between.
type digest struct {
	rows, nulls int64
	float       float64       // running sum, in row order
	whole       int64         // running sum of integers, true values or bytes of text; wraps
	values      xxhash.Digest // of the values, eight bytes each
	nullable    bool
	where       xxhash.Digest // of one byte per row: 1 set, 0 null; only of nullable columns
	buffer      []byte
}

const digestChunk = 512 // values hashed at a time

func newDigests(columns []Column) []digest {
	d := make([]digest, len(columns))
	for i := range d {
		d[i].nullable = columns[i].Nullable
		d[i].buffer = make([]byte, 8*digestChunk)
		d[i].values.Reset()
		d[i].where.Reset()
	}
	return d
}

// hashText is the hash that stands for a text among a column's values.
func hashText(s string) uint64 { return xxhash.Sum64String(s) }

// levels takes in which of the rows have values.
func (d *digest) levels(set []byte, nulls int) {
	d.rows += int64(len(set))
	d.nulls += int64(nulls)
	if d.nullable {
		d.where.Write(set)
	}
}

// floats takes in values that are not null.
func (d *digest) floats(v []float64) {
	sum := d.float
	for len(v) > 0 {
		n := min(len(v), digestChunk)
		for i, x := range v[:n] {
			binary.LittleEndian.PutUint64(d.buffer[8*i:], math.Float64bits(x))
			sum += x
		}
		d.values.Write(d.buffer[:8*n])
		v = v[n:]
	}
	d.float = sum
}

// ints takes in values that are not null.
func (d *digest) ints(v []int64) {
	sum := d.whole
	for len(v) > 0 {
		n := min(len(v), digestChunk)
		for i, x := range v[:n] {
			binary.LittleEndian.PutUint64(d.buffer[8*i:], uint64(x))
			sum += x
		}
		d.values.Write(d.buffer[:8*n])
		v = v[n:]
	}
	d.whole = sum
}

// bools takes in values that are not null.
func (d *digest) bools(v []bool) {
	for len(v) > 0 {
		n := min(len(v), 8*digestChunk)
		for i, x := range v[:n] {
			var b byte
			if x { // no jump, which half of all values would take by surprise
				b = 1
			}
			d.buffer[i] = b
			d.whole += int64(b)
		}
		d.values.Write(d.buffer[:n])
		v = v[n:]
	}
}

// texts takes in values that are not null, as indexes into words.
func (d *digest) texts(v []int32, words []word) {
	for len(v) > 0 {
		n := min(len(v), digestChunk)
		for i, k := range v[:n] {
			w := &words[k]
			binary.LittleEndian.PutUint64(d.buffer[8*i:], w.hash)
			d.whole += int64(len(w.text))
		}
		d.values.Write(d.buffer[:8*n])
		v = v[n:]
	}
}

// take takes in a column of a tile.
func (d *digest) take(t Type, l *lifted) {
	d.levels(l.set, l.nulls)
	switch t {
	case Int64:
		d.ints(l.ints)
	case Bool:
		d.bools(l.bools)
	case Text:
		d.texts(l.words, l.texts)
	default:
		d.floats(l.floats)
	}
}

// total is a finished digest.
type total struct {
	Rows, Nulls   int64
	Sum           uint64 // bits of the float sum, or the whole sum
	Values, Where uint64
}

func (d *digest) total() total {
	return total{d.rows, d.nulls, math.Float64bits(d.float) ^ uint64(d.whole), d.values.Sum64(), d.where.Sum64()}
}

// totals finishes the digests of all columns.
func totals(d []digest) []total {
	t := make([]total, len(d))
	for i := range d {
		t[i] = d[i].total()
	}
	return t
}

// differ names the first column, and what of it, in which two sums differ.
func differ(columns []Column, was, is []total) error {
	for i, c := range columns {
		a, b := was[i], is[i]
		switch {
		case a.Rows != b.Rows:
			return fmt.Errorf("column %s has %d rows where %d were handed over", c.Name, b.Rows, a.Rows)
		case a.Nulls != b.Nulls:
			return fmt.Errorf("column %s has %d nulls where %d were handed over", c.Name, b.Nulls, a.Nulls)
		case a != b:
			return fmt.Errorf("column %s has other values than were handed over", c.Name)
		}
	}
	return nil
}

// content returns one hash, as 16 hexadecimal digits, over the sums of all columns.
func content(t []total) string {
	h := xxhash.New()
	var b [40]byte
	for _, c := range t {
		binary.LittleEndian.PutUint64(b[0:], uint64(c.Rows))
		binary.LittleEndian.PutUint64(b[8:], uint64(c.Nulls))
		binary.LittleEndian.PutUint64(b[16:], c.Sum)
		binary.LittleEndian.PutUint64(b[24:], c.Values)
		binary.LittleEndian.PutUint64(b[32:], c.Where)
		h.Write(b[:])
	}
	return hex.EncodeToString(h.Sum(nil))
}

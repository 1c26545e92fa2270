package record

import "math"

// tileRows is how many rows of a batch are put into columns at a time: so few that they stay in the processor's caches
// while one column after another is taken from them.
const tileRows = 256

// lifted is a column of a tile: which of its rows have a value, and those values. Exactly one of floats, ints, bools and words
// is of the column's type; words are indexes into texts.
type lifted struct {
	set    []byte // 1 where a row has a value, else 0; also Parquet's definition levels
	nulls  int
	floats []float64
	ints   []int64
	bools  []bool
	words  []int32
	texts  []word
}

func newLifted() lifted {
	return lifted{
		set: make([]byte, tileRows), floats: make([]float64, tileRows), ints: make([]int64, tileRows),
		bools: make([]bool, tileRows), words: make([]int32, tileRows),
	}
}

// lift sets l to a column of the rows from..to, at most tileRows of them.
func (r *Rows) lift(c, from, to int, l *lifted) {
	l.set = l.set[:to-from]
	width, at, m := len(r.types), (from+1)*len(r.types)+c, 0
	open, raw := r.open, r.raw
	switch r.types[c] {
	case Float64, Float32:
		v := l.floats[:tileRows]
		for k := range l.set {
			v[m] = math.Float64frombits(raw[at])
			l.set[k], m = isSet(open[at], m)
			at += width
		}
		l.floats = v[:m]
	case Int64:
		v := l.ints[:tileRows]
		for k := range l.set {
			v[m] = int64(raw[at])
			l.set[k], m = isSet(open[at], m)
			at += width
		}
		l.ints = v[:m]
	case Bool:
		v := l.bools[:tileRows]
		for k := range l.set {
			v[m] = raw[at] != 0
			l.set[k], m = isSet(open[at], m)
			at += width
		}
		l.bools = v[:m]
	case Text:
		v := l.words[:tileRows]
		for k := range l.set {
			v[m] = int32(raw[at])
			l.set[k], m = isSet(open[at], m)
			at += width
		}
		l.words, l.texts = v[:m], r.texts[c].words
	}
	l.nulls = len(l.set) - m
}

// isSet returns 1 for a cell that is set, and 0 for one that is open, and how many are set with it.
func isSet(open Type, before int) (set byte, n int) {
	if open == 0 {
		set = 1
	}
	return set, before + int(set)
}

package record

import "math"

// stageRows is how many rows of a batch stand side by side before they go into the columns.
const stageRows = 32

// stage is where the last rows of a batch are filled, row after row. A batch is kept by columns, so that the cells of a
// row lie far apart; between two rows a worker solves a candidate, and the places of all those cells have left the
// processor's caches meanwhile. A row of the stage lies in one piece, and its rows go into the columns together.
type stage struct {
	types []Type // of the columns, all not 0: what a new row is open for
	n     int    // rows in the stage, the last of the batch
	base  int    // where the last row begins; where none is, the guard
	raw   []uint64
	open  []Type // what a cell may be set to, 0 where it is set; behind the rows the guard, a row open for nothing
}

func newStage(columns []Column) stage {
	width := len(columns)
	s := stage{types: make([]Type, width), raw: make([]uint64, stageRows*width), open: make([]Type, (stageRows+1)*width), base: stageRows * width}
	for c := range columns {
		s.types[c] = columns[c].Type
	}
	return s
}

// next begins a row; there is room for it.
func (s *stage) next() {
	s.base = s.n * len(s.types)
	copy(s.open[s.base:], s.types)
	s.n++
}

// clear forgets the rows.
func (s *stage) clear() {
	s.n, s.base = 0, stageRows*len(s.types)
}

// settle moves the rows of the stage into the columns.
func (r *Rows) settle() {
	s := &r.stage
	if s.n == 0 {
		return
	}
	first, width := r.n-s.n, len(s.types)
	open, raw := s.open, s.raw
	for c, t := range s.types {
		d := &r.data[c]
		set, at := d.set[first:r.n], c
		switch t {
		case Float64, Float32:
			f := d.f[first:r.n]
			for k := range set {
				set[k] = isSet(open[at])
				f[k] = math.Float64frombits(raw[at])
				at += width
			}
		case Int64:
			i := d.i[first:r.n]
			for k := range set {
				set[k] = isSet(open[at])
				i[k] = int64(raw[at])
				at += width
			}
		case Bool:
			b := d.b[first:r.n]
			for k := range set {
				set[k] = isSet(open[at])
				b[k] = raw[at] != 0
				at += width
			}
		case Text:
			w := d.w[first:r.n]
			for k := range set {
				set[k] = isSet(open[at])
				w[k] = int32(raw[at])
				at += width
			}
		}
	}
	s.clear()
}

// isSet returns 1 for a cell that is set, and 0 for one that is open.
func isSet(open Type) byte {
	if open == 0 {
		return 1
	}
	return 0
}

// recall brings the last row back into an empty stage, for a cell that is set after the row was read.
func (r *Rows) recall() {
	if r.n == 0 {
		panic("record: a cell is set before the first Next")
	}
	s, row := &r.stage, r.n-1
	s.next()
	for c, t := range s.types {
		d := &r.data[c]
		if d.set[row] != 0 {
			s.open[c] = 0
		}
		switch t {
		case Float64, Float32:
			s.raw[c] = math.Float64bits(d.f[row])
		case Int64:
			s.raw[c] = uint64(d.i[row])
		case Bool:
			s.raw[c] = 0
			if d.b[row] {
				s.raw[c] = 1
			}
		case Text:
			s.raw[c] = uint64(d.w[row])
		}
	}
}

package record

import "math"

// stageRows is how many rows of a batch stand side by side before they go into the columns.
const stageRows = 32

// stage is where the last rows of a batch are filled, row after row. A batch is kept by columns, so that the cells of a
// row lie far apart; between two rows a worker solves a candidate, and the places of all those cells have left the
// processor's caches meanwhile. A row of the stage lies in one piece, and its rows go into the columns together.
type stage struct {
	types []Type // of the columns
	n     int    // rows in the stage, the last of the batch
	base  int    // where the last row begins; where none is, the guard
	raw   []uint64
	set   []byte // 1 where a cell is set; behind the rows the guard, a row in which all are
}

func newStage(columns []Column) stage {
	width := len(columns)
	s := stage{types: make([]Type, width), raw: make([]uint64, stageRows*width), set: make([]byte, (stageRows+1)*width), base: stageRows * width}
	for c := range columns {
		s.types[c] = columns[c].Type
		s.set[s.base+c] = 1
	}
	return s
}

// next begins a row; there is room for it.
func (s *stage) next() {
	s.base = s.n * len(s.types)
	s.n++
}

// clear forgets the rows.
func (s *stage) clear() {
	clear(s.set[:s.n*len(s.types)])
	s.n, s.base = 0, stageRows*len(s.types)
}

// settle moves the rows of the stage into the columns.
func (r *Rows) settle() {
	s := &r.stage
	if s.n == 0 {
		return
	}
	first, width := r.n-s.n, len(s.types)
	for c, t := range s.types {
		d := &r.data[c]
		set := d.set[first:r.n]
		for k := range set {
			set[k] = s.set[k*width+c]
		}
		switch t {
		case Float64, Float32:
			for k := range d.f[first:r.n] {
				d.f[first+k] = math.Float64frombits(s.raw[k*width+c])
			}
		case Int64:
			for k := range d.i[first:r.n] {
				d.i[first+k] = int64(s.raw[k*width+c])
			}
		case Bool:
			for k := range d.b[first:r.n] {
				d.b[first+k] = s.raw[k*width+c] != 0
			}
		case Text:
			for k := range d.w[first:r.n] {
				d.w[first+k] = int32(s.raw[k*width+c])
			}
		}
	}
	s.clear()
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
		s.set[c] = d.set[row]
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

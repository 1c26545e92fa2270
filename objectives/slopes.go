package objectives

import (
	"fmt"
	"math"
)

// Slopes are the derivatives of the values of one sweep with respect to some directions: a row-major
// matrix with a row for each value and a column for each direction, in the value's unit for one unit of
// the direction.
type Slopes []float64

// Differentiate fills jr and jg with the derivatives of the residuals and limits that Evaluate finds for
// the same values, with respect to n directions: row-major, one row for each of o.R and of o.G. slopes
// holds, by sweep, the derivatives of values, and so those of the Deviations of robust targets; the design geometry that
// start was taken from stands still.
// res is one from NewResult, which lends its room and is left as it was. It allocates nothing.
//
// Of slopes it reads what Reads names, and only where there is a value: other rows may hold anything, and
// a sweep that nothing reads may have none. Where a value is missing the row is 0, and how many are
// missing counts as constant. Where a residual or limit has a kink, the slope is that of the side which
// Evaluate takes: Above at no departure (Below for AtLeast), at Want itself the departing side of AtMost
// and AtLeast, no departure for a step of Rising or Falling that is 0, of two bounds equally near the
// greater, and of several least values of a spread the first.
func (o *Objective) Differentiate(values, start [][]float64, slopes []Slopes, res *Result, jr, jg []float64, n int) {
	if len(jr) != len(o.R)*n || len(jg) != len(o.G)*n {
		panic("objectives: Differentiate: derivatives of another layout")
	}
	clear(jr)
	clear(jg)
	for i := range o.Targets {
		t := &o.Targets[i]
		if from, rows := o.firstR[i], len(t.Series.Rows); t.reads() {
			m := matrix{jr[from*n : (from+rows)*n], n}
			t.differentiate(values, start, slopes, res.scratch[:rows], m, o.weights)
			if t.Robust {
				m.data = jr[(from+rows)*n : (from+2*rows)*n]
				t.differentiateExcess(values, start, slopes, res.scratch[:rows], m, o.weights)
			}
		}
	}
	for i := range o.Limits {
		l := &o.Limits[i]
		if from, to := o.placesOf(i); l.Axis != NoAxis {
			l.differentiateFit(values, slopes, res, matrix{jg[from*n : to*n], n})
		} else if l.reads() {
			l.differentiate(values, slopes, matrix{jg[from*n : to*n], n})
		}
	}
}

// Reads tells for each of the size values of a sweep whether any residual or limit ever depends on it:
// whether Differentiate may read its slopes. Targets of no weight and comparisons of one value with
// itself do not.
func (o *Objective) Reads(sweep, size int) []bool {
	out := make([]bool, size)
	o.mark(sweep, out, true)
	return out
}

// mark is Reads into out, with the directions of limits that find an axis or without.
func (o *Objective) mark(sweep int, out []bool, directions bool) {
	mark := func(s *Series) {
		if s.Sweep != sweep {
			return
		}
		for _, row := range s.Rows {
			out[s.Offset+row] = true
		}
	}
	for i := range o.Targets {
		if t := &o.Targets[i]; t.reads() {
			mark(&t.Series)
			if t.Robust {
				mark(t.deviations())
			}
		}
	}
	for i := range o.Limits {
		if l := &o.Limits[i]; l.reads() && (directions || l.Axis == NoAxis) {
			for k := range l.Series {
				mark(&l.Series[k])
			}
		}
	}
}

// fewest is how many values a shape needs for a departure that is not 0 whatever they are.
func (s Shape) fewest() int {
	if s >= Straight && s <= Falling {
		return 2
	}
	return 1
}

func (t *Target) reads() bool { return t.Weight > 0 && len(t.Series.Rows) >= t.Shape.fewest() }

func (l *Limit) reads() bool {
	rows := 0
	for _, s := range l.Series {
		rows += len(s.Rows)
	}
	return !math.IsInf(l.Max, 1) || !math.IsInf(l.Min, -1) || !math.IsInf(l.Spread, 1) && rows > 1
}

// matrix is row-major, of n columns.
type matrix struct {
	data []float64
	n    int
}

func (m matrix) row(i int) []float64 { return m.data[i*m.n:][:m.n] }

// add adds f·row to row i.
func (m matrix) add(i int, f float64, row []float64) {
	to := m.row(i)
	for k, x := range row[:len(to)] {
		to[k] += f * x
	}
}

// slopesOf returns the slopes of a series' column.
func (s *Series) slopesOf(values [][]float64, slopes []Slopes, n int) matrix {
	if s.Sweep >= len(slopes) || len(slopes[s.Sweep]) != len(values[s.Sweep])*n {
		panic(fmt.Sprintf("objectives: Differentiate: the slopes of sweep %d do not fit its values", s.Sweep))
	}
	return matrix{slopes[s.Sweep][s.Offset*n:], n}
}

// differentiate fills jr, which is 0, with factor·(row - what the shape takes from it). f is room for a
// number for each row of the series.
func (t *Target) differentiate(values, start [][]float64, slopes []Slopes, f []float64, jr matrix, weights float64) {
	column, origin := t.columns(values, start)
	count := t.departures(column, origin, f)
	if count < t.Shape.fewest() {
		return
	}
	t.factors(column, origin, f, t.scale(count, weights))
	from := t.Series.slopesOf(values, slopes, jr.n)
	before := -1 // the last row with a value
	for i, row := range t.Series.Rows {
		switch {
		case math.IsNaN(f[i]):
			continue
		case t.Shape == Straight || t.Shape == Even:
			copy(jr.row(i), from.row(row)) // project multiplies
		case f[i] != 0:
			jr.add(i, f[i], from.row(row))
			if t.Shape == Rising || t.Shape == Falling {
				jr.add(i, -f[i], from.row(t.Series.Rows[before]))
			}
		}
		before = i
	}
	if t.Shape == Straight || t.Shape == Even {
		t.project(f, jr, count)
	}
}

// factors replaces the departures in d by what a residual gains for one unit of departure, on the side
// of 0 on which the residual is; 0 where it does not depart and NaN where there is no value.
func (t *Target) factors(column, origin, d []float64, scale float64) {
	for i, y := range d {
		if math.IsNaN(y) {
			continue
		}
		within := t.Above[i]
		if y < 0 || t.Shape == AtLeast {
			within = t.Below[i]
		}
		d[i] = scale / within
		step := t.Shape == Rising || t.Shape == Falling
		if step && y == 0 || t.content(t.raw(i, t.Series.Rows[i], column, origin)) {
			d[i] = 0
		}
	}
}

// project takes from every column of jr its mean, or its least-squares line over travel, as departures
// do with values, and multiplies the rows by their factors. Rows without a value have none.
func (t *Target) project(f []float64, jr matrix, count int) {
	var mx, sxx float64
	if t.Shape == Straight {
		mx, sxx = t.travelOf(f, count)
	}
	for k := range jr.n {
		var sum, moment float64
		for i, c := range f {
			if !math.IsNaN(c) {
				y := jr.data[i*jr.n+k]
				sum += y
				moment += (t.Series.Travel[i] - mx) * y
			}
		}
		mean, slope := sum/float64(count), 0.0
		if sxx > 0 {
			slope = moment / sxx
		}
		for i, c := range f {
			if !math.IsNaN(c) {
				at := i*jr.n + k
				jr.data[at] = c * (jr.data[at] - mean - slope*(t.Series.Travel[i]-mx))
			}
		}
	}
}

// differentiate fills jg, which is 0, with the slopes of the bound that each value passes most, over the
// scale. A spread moves with the least value too.
func (l *Limit) differentiate(values [][]float64, slopes []Slopes, jg matrix) {
	ends := l.extremes(values)
	var least []float64
	if ends.at >= 0 {
		least = l.slopesAt(ends.at, values, slopes, jg.n)
	}
	k := 0
	for i := range l.Series {
		s := &l.Series[i]
		from, column := s.slopesOf(values, slopes, jg.n), values[s.Sweep][s.Offset:]
		for _, row := range s.Rows {
			over, by := l.worst(column[row], ends.least)
			switch {
			case math.IsNaN(over):
			case by == tooHigh:
				jg.add(k, 1/l.Scale, from.row(row))
			case by == tooLow:
				jg.add(k, -1/l.Scale, from.row(row))
			default: // of the least itself nothing remains
				jg.add(k, 1/l.Scale, from.row(row))
				jg.add(k, -1/l.Scale, least)
			}
			k++
		}
	}
}

// slopesAt returns the slopes of one of a limit's rows, counted through its series.
func (l *Limit) slopesAt(at int, values [][]float64, slopes []Slopes, n int) []float64 {
	for i := range l.Series {
		s := &l.Series[i]
		if at < len(s.Rows) {
			return s.slopesOf(values, slopes, n).row(s.Rows[at])
		}
		at -= len(s.Rows)
	}
	panic("objectives: a limit has fewer rows than were counted")
}

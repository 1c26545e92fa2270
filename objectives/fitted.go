package objectives

import (
	"fmt"
	"math"
)

// FitOf finds the axis for unit lines, of which there has to be one at least. It gives d senses.
func FitOf(of Axis, d []Vec) Fit {
	if of == Band {
		return LeastBand(d)
	}
	return LeastCone(d)
}

// directions checks that the series of a limit with an Axis stand in threes, and counts the directions.
func (l *Limit) directions() (n int) {
	if len(l.Series) == 0 || len(l.Series)%3 != 0 || !math.IsInf(l.Spread, 1) {
		panic(fmt.Sprintf("objectives: limit %s finds an axis; its series have to stand in threes, and it bounds no spread", l.Name))
	}
	for i := 0; i < len(l.Series); i += 3 {
		x := &l.Series[i]
		n += len(x.Rows)
		for _, s := range l.Series[i+1 : i+3] {
			if s.Sweep != x.Sweep || len(s.Rows) != len(x.Rows) {
				panic(fmt.Sprintf("objectives: limit %s has directions whose parts do not fit each other", l.Name))
			}
		}
	}
	if n == 0 {
		panic(fmt.Sprintf("objectives: limit %s has no directions", l.Name))
	}
	return n
}

// Place returns where a place of a limit is: the series, and which of its rows. Places are counted through the rows of
// the series; of a limit with an Axis, through directions, whose place is that of their x.
func (l *Limit) Place(at int) (series, row int) {
	step := 1
	if l.Axis != NoAxis {
		step = 3
	}
	for i := 0; i < len(l.Series); i += step {
		if n := len(l.Series[i].Rows); at < n {
			return i, at
		} else {
			at -= n
		}
	}
	panic("objectives: a limit has fewer places than were counted")
}

// direction returns a place's direction as the values have it.
func (l *Limit) direction(values [][]float64, series, row int) vec {
	part := func(k int) float64 {
		s := &l.Series[series+k]
		return values[s.Sweep][s.Offset+s.Rows[row]]
	}
	return vec{part(0), part(1), part(2)}
}

// fit finds the axis of all directions that have a value; ok is false where none has. res lends its room.
func (l *Limit) fit(values [][]float64, res *Result) (f Fit, ok bool) {
	lines, places, at := res.lines[:0], res.places[:0], 0
	for i := 0; i < len(l.Series); i += 3 {
		for row := range l.Series[i].Rows {
			if d := l.direction(values, i, row); !math.IsNaN(d.X + d.Y + d.Z) {
				lines, places = append(lines, d), append(places, at)
			}
			at++
		}
	}
	if len(lines) == 0 {
		return f, false
	}
	f = FitOf(l.Axis, lines)
	for k := range max(1, f.Held) {
		f.Rows[k] = places[f.Rows[k]]
	}
	return f, true
}

// fitted is passing for a limit with an Axis: one angle, at the place that most holds it.
func (l *Limit) fitted(values [][]float64, g []float64, res *Result) LimitResult {
	f, ok := l.fit(values, res)
	if !ok {
		g[0] = Missing
		return LimitResult{Over: Missing, Got: math.NaN(), At: -1}
	}
	r := LimitResult{Got: f.Angle * 180 / math.Pi, Fit: f}
	heaviest := 0
	for k := range f.Held {
		if f.Weight[k] > f.Weight[heaviest] {
			heaviest = k
		}
	}
	r.At = f.Rows[heaviest]
	r.Over, _ = l.worst(r.Got, math.Inf(1))
	r.Over /= l.Scale
	g[0] = r.Over
	return r
}

// differentiateFit fills jg, one row of zeros, with the slope of the angle that a limit with an Axis bounds, over the scale.
func (l *Limit) differentiateFit(values [][]float64, slopes []Slopes, res *Result, jg matrix) {
	f, ok := l.fit(values, res)
	if !ok || !l.reads() {
		return
	}
	_, by := l.worst(f.Angle*180/math.Pi, math.Inf(1))
	k := 180 / math.Pi / l.Scale
	if by == tooLow {
		k = -k
	}
	for i := range f.Held {
		series, row := l.Place(f.Rows[i])
		v := f.slope(l.Axis, i, l.direction(values, series, row))
		for c, x := range [3]float64{v.X, v.Y, v.Z} {
			s := &l.Series[series+c]
			jg.add(0, k*x, s.slopesOf(values, slopes, jg.n).row(s.Rows[row]))
		}
	}
}

// ReadsNow is Reads for the values that were just evaluated into res: of the directions of limits with an Axis it names
// those alone that hold it now. out has the size of the sweep's values.
func (o *Objective) ReadsNow(sweep int, res *Result, out []bool) {
	clear(out)
	o.mark(sweep, out, false)
	for i := range o.Limits {
		l := &o.Limits[i]
		if l.Axis == NoAxis || !l.reads() {
			continue
		}
		f := &res.Limits[i].Fit
		for k := range f.Held {
			series, row := l.Place(f.Rows[k])
			for _, s := range l.Series[series : series+3] {
				if s.Sweep == sweep {
					out[s.Offset+s.Rows[row]] = true
				}
			}
		}
	}
}

// Package objectives turns solved motions into residuals, limits and one score, and derivatives of the
// one into those of the other. It takes the values of measures that a kin.Sweep tabulated and never a
// solver; it knows no files and no search.
package objectives

import (
	"fmt"
	"math"
)

// Broken is how far a limit may be passed, over its scale, before it counts as broken.
const Broken = 1e-6

// Missing is the departure, over within, of a target whose measure has no value at any of its
// positions, and by how much of its scale such a limit is broken. Where there is a value at some
// positions, the others are left out.
const Missing = 10

// Shape is what a target asks of its measure.
type Shape uint8

// The shapes of targets.
const (
	Near     Shape = iota // departure from Want: follow, hold and value
	Straight              // departure from the best-fit line over travel
	Even                  // departure from the mean
	Rising                // what it falls from one position to the next
	Falling               // what it rises
	AtMost                // what it stands above Want
	AtLeast               // what it stands below Want
)

// Series is where a target or limit finds its values: some positions of one column of one sweep, in
// order of travel.
type Series struct {
	Sweep  int       // index of the sweep
	Offset int       // where the column begins in the sweep's values
	Rows   []int     // positions within the column
	Travel []float64 // mm, of each of Rows; rising
}

// Target is something wanted. Want, Above and Below have one value for each row of its series, in the
// measure's unit; Above and Below are positive.
type Target struct {
	Name         string
	Series       Series
	Shape        Shape
	Want         []float64 // Near, AtMost, AtLeast
	Above, Below []float64
	Weight       float64
	Relative     bool // Want is the difference from the design's value at the same row
	Robust       bool // what counts is the loss expected of what is built with errors: see expected in robust.go
	Spread       int  // of a robust target: the index, among the values by sweep, of its Deviations
}

// Limit is something that must not happen. Min and Max bound every value, Spread the greatest less the
// least; what is not asked is infinite.
//
// With an Axis it bounds one angle, in deg, that is made of directions over all of its series: these then stand in threes,
// the x, y and z of a direction at the same rows of one sweep, and the limit has one place in G.
type Limit struct {
	Name     string
	Series   []Series
	Axis     Axis
	Min, Max float64
	Spread   float64
	Scale    float64 // in the measure's unit; positive
}

// Slot says which target or limit, and which place of which sweep, an element of R or G belongs to; of a limit with an Axis
// its first place.
type Slot struct {
	Entry int // index of the target or limit
	Sweep int
	Row   int
	At    int // index among the sweep's values
}

// Objective is a list of targets and limits with the one layout of residuals that search and record
// share. It is immutable after New.
type Objective struct {
	Targets []Target
	Limits  []Limit
	R, G    []Slot // what each element of the residuals and of the limits is
	firstR  []int
	firstG  []int
	weights float64
	rowsMax int

	linesMax int // most directions of a limit with an Axis
}

// TargetResult is how a candidate stands to one target.
type TargetResult struct {
	Miss float64 // root mean square of the departures over within; of a robust target the root of what is expected of that square
	Got  float64 // value at the greatest departure; for straight, even, rising and falling the departure itself; NaN if none
	Met  bool    // the greatest departure is within
	At   int     // which row of the series departs most; -1 without a value

	Drawn float64 // the miss of what is drawn, which Miss is too where the target is not robust
}

// LimitResult is how a candidate stands to one limit.
type LimitResult struct {
	Over float64 // greatest passing over the scale, negative while there is room
	Got  float64 // the value there; for a spread the spread; NaN if none
	At   int     // which of the limit's places (see Place); -1 without a value
	Fit  Fit     // of a limit with an Axis; Rows are places
}

// Result is how a candidate stands to everything. NewResult makes one; it belongs to one worker.
type Result struct {
	Targets   []TargetResult
	Limits    []LimitResult
	Score     float64   // sum of weight·miss² over the sum of weights: the sum of squares of R
	Violation float64   // sum of Over of the broken limits
	scratch   []float64 // of Differentiate: a number for each row of the longest target
	lines     []vec     // of a limit with an Axis
	places    []int     // of each of lines
}

// New checks targets and limits and lays out their residuals. It panics where series and numbers do not
// fit each other.
func New(targets []Target, limits []Limit) *Objective {
	o := &Objective{Targets: targets, Limits: limits}
	for i := range targets {
		t := &targets[i]
		if !t.fits() {
			panic(fmt.Sprintf("objectives: target %s does not fit its series", t.Name))
		}
		o.firstR = append(o.firstR, len(o.R))
		o.weights += t.Weight
		o.rowsMax = max(o.rowsMax, len(t.Series.Rows))
		for range t.parts() {
			for _, row := range t.Series.Rows {
				o.R = append(o.R, Slot{i, t.Series.Sweep, row, t.Series.Offset + row})
			}
		}
	}
	for i := range limits {
		o.firstG = append(o.firstG, len(o.G))
		if !(limits[i].Scale > 0) {
			panic(fmt.Sprintf("objectives: limit %s has no scale", limits[i].Name))
		}
		if l := &limits[i]; l.Axis != NoAxis {
			o.linesMax = max(o.linesMax, l.directions())
			s := &l.Series[0]
			o.G = append(o.G, Slot{i, s.Sweep, s.Rows[0], s.Offset + s.Rows[0]})
			continue
		}
		for _, s := range limits[i].Series {
			for _, row := range s.Rows {
				o.G = append(o.G, Slot{i, s.Sweep, row, s.Offset + row})
			}
		}
	}
	return o
}

// fits tells whether a target has a number for each row of its series wherever one is needed.
func (t *Target) fits() bool {
	n := len(t.Series.Rows)
	wants := t.Shape == Near || t.Shape == AtMost || t.Shape == AtLeast
	return len(t.Above) == n && len(t.Below) == n && len(t.Series.Travel) == n && (!wants || len(t.Want) == n) && t.Weight >= 0
}

// NewResult returns a result with room for every target and limit.
func (o *Objective) NewResult() *Result {
	return &Result{
		Targets: make([]TargetResult, len(o.Targets)),
		Limits:  make([]LimitResult, len(o.Limits)),
		scratch: make([]float64, o.rowsMax),
		lines:   make([]vec, o.linesMax),
		places:  make([]int, o.linesMax),
	}
}

// Evaluate fills r and g, of the lengths of o.R and o.G, and res. values holds, by sweep, what Run
// filled, and at Spread of each robust target its Deviations; start the same of the design geometry, or nil if no target is relative. It allocates nothing.
func (o *Objective) Evaluate(values, start [][]float64, r, g []float64, res *Result) {
	if len(r) != len(o.R) || len(g) != len(o.G) {
		panic("objectives: Evaluate: residuals of another layout")
	}
	res.Score, res.Violation = 0, 0
	for i := range o.Targets {
		t := &o.Targets[i]
		part := r[o.firstR[i] : o.firstR[i]+t.parts()*len(t.Series.Rows)]
		res.Targets[i] = t.residuals(values, start, part, o.weights)
		res.Score += t.Weight * res.Targets[i].Miss * res.Targets[i].Miss
	}
	if o.weights > 0 {
		res.Score /= o.weights
	}
	for i := range o.Limits {
		from, to := o.placesOf(i)
		if l := &o.Limits[i]; l.Axis != NoAxis {
			res.Limits[i] = l.fitted(values, g[from:to], res)
		} else {
			res.Limits[i] = l.passing(values, g[from:to])
		}
		if over := res.Limits[i].Over; over > Broken {
			res.Violation += over
		}
	}
}

// placesOf returns where the places of a limit begin and end in G.
func (o *Objective) placesOf(limit int) (from, to int) {
	if limit+1 < len(o.Limits) {
		return o.firstG[limit], o.firstG[limit+1]
	}
	return o.firstG[limit], len(o.G)
}

// columns returns the column that a target reads, and the design's if it is relative.
func (t *Target) columns(values, start [][]float64) (column, origin []float64) {
	column = values[t.Series.Sweep][t.Series.Offset:]
	if t.Relative {
		origin = start[t.Series.Sweep][t.Series.Offset:]
	}
	return column, origin
}

// scale is what a departure over within is multiplied by to be a residual: sqrt(weight/(weights·n)).
func (t *Target) scale(n int, weights float64) float64 {
	share := 0.0 // of all weights
	if weights > 0 {
		share = t.Weight / weights
	}
	return math.Sqrt(share / float64(n))
}

// residuals fills r with sqrt(weight/(weights·n))·departure/within, n the number of rows with a value; those of a robust
// target are followed by as many for what errors add.
func (t *Target) residuals(values, start [][]float64, r []float64, weights float64) TargetResult {
	column, origin := t.columns(values, start)
	r, more := r[:len(t.Series.Rows)], r[len(t.Series.Rows):]
	n := t.departures(column, origin, r)
	if n == 0 {
		for i := range r {
			r[i] = Missing * t.scale(len(r), weights)
		}
		clear(more)
		return TargetResult{Miss: Missing, Got: math.NaN(), At: -1, Drawn: Missing}
	}
	var sum, worst float64
	at := 0
	for i, d := range r {
		if math.IsNaN(d) {
			r[i] = 0
			continue
		}
		x := d / t.Above[i]
		if d < 0 {
			x = d / t.Below[i]
		}
		if math.Abs(x) >= worst {
			worst, at = math.Abs(x), i
		}
		sum += x * x
		r[i] = x
	}
	got := column[t.Series.Rows[at]]
	if t.Shape >= Straight && t.Shape <= Falling {
		got = r[at] * t.Above[at]
		if r[at] < 0 {
			got = r[at] * t.Below[at]
		}
	}
	scale := t.scale(n, weights)
	for i := range r {
		r[i] *= scale
	}
	res := TargetResult{Miss: math.Sqrt(sum / float64(n)), Got: got, Met: worst <= 1, At: at}
	if res.Drawn = res.Miss; t.Robust {
		sum += t.excesses(column, origin, values[t.Spread], more, scale)
		res.Miss = math.Sqrt(sum / float64(n))
	}
	return res
}

// departures fills d with the signed departures in the measure's unit, NaN where there is no value, and
// returns how many there are.
func (t *Target) departures(column, origin, d []float64) (n int) {
	n = t.leanings(column, origin, d)
	for i, y := range d {
		if t.content(y) || t.Shape == Rising && y > 0 || t.Shape == Falling && y < 0 {
			d[i] = 0
		}
	}
	return n
}

// leanings is departures before what lies on the side that a target asks for is let be.
func (t *Target) leanings(column, origin, d []float64) (n int) {
	for i, row := range t.Series.Rows {
		d[i] = t.raw(i, row, column, origin)
		if !math.IsNaN(d[i]) {
			n++
		}
	}
	if n == 0 {
		return 0
	}
	switch t.Shape {
	case Even:
		mean := meanOf(d, n)
		for i := range d {
			d[i] -= mean
		}
	case Straight:
		t.straighten(d, n)
	case Rising, Falling:
		steps(d)
	}
	return n
}

// raw is a value less what is wanted and less the design's, whichever of the two counts.
func (t *Target) raw(i, row int, column, origin []float64) float64 {
	y := column[row]
	if t.Shape == Near || t.Shape == AtMost || t.Shape == AtLeast {
		y -= t.Want[i]
	}
	if origin != nil {
		y -= origin[row]
	}
	return y
}

// content tells whether a value lies on the side that a target asks for, where it does not depart.
func (t *Target) content(raw float64) bool {
	return t.Shape == AtMost && raw < 0 || t.Shape == AtLeast && raw > 0
}

func meanOf(d []float64, n int) float64 {
	var sum float64
	for _, y := range d {
		if !math.IsNaN(y) {
			sum += y
		}
	}
	return sum / float64(n)
}

// straighten subtracts the least-squares line over travel.
func (t *Target) straighten(d []float64, n int) {
	my := meanOf(d, n)
	mx, sxx := t.travelOf(d, n)
	sxy := 0.0
	for i, y := range d {
		if !math.IsNaN(y) {
			sxy += (t.Series.Travel[i] - mx) * (y - my)
		}
	}
	slope := 0.0
	if sxx > 0 {
		slope = sxy / sxx
	}
	for i := range d {
		d[i] -= my + slope*(t.Series.Travel[i]-mx)
	}
}

// travelOf returns the mean travel of the rows with a value, and the sum of the squares about it.
func (t *Target) travelOf(d []float64, n int) (mean, squares float64) {
	for i, y := range d {
		if !math.IsNaN(y) {
			mean += t.Series.Travel[i]
		}
	}
	mean /= float64(n)
	for i, y := range d {
		if !math.IsNaN(y) {
			x := t.Series.Travel[i] - mean
			squares += x * x
		}
	}
	return mean, squares
}

// steps replaces each value by how much it stands above the one before it, the first by 0.
func steps(d []float64) {
	before := math.NaN()
	for i, y := range d {
		if math.IsNaN(y) {
			continue
		}
		d[i] = 0
		if !math.IsNaN(before) {
			d[i] = y - before
		}
		before = y
	}
}

// passing fills g with how far each value passes the limit, over the scale. A position without a value
// is left out, which is -1; a limit without any value is broken by Missing.
func (l *Limit) passing(values [][]float64, g []float64) LimitResult {
	res := LimitResult{Over: math.Inf(-1), Got: math.NaN(), At: -1}
	ends := l.extremes(values)
	k := 0
	for _, s := range l.Series {
		column := values[s.Sweep][s.Offset:]
		for _, row := range s.Rows {
			y := column[row]
			over, by := l.worst(y, ends.least)
			got := y
			if by == tooWide {
				got = ends.greatest - ends.least
			}
			over /= l.Scale
			if math.IsNaN(over) {
				over = -1
			} else if over > res.Over {
				res.Over, res.Got, res.At = over, got, k
			}
			g[k] = over
			k++
		}
	}
	if res.At < 0 && k > 0 {
		res.Over = Missing
		for i := range g {
			g[i] = Missing
		}
	}
	return res
}

// extremes are the ends of all values of a limit that bounds their spread.
type extremes struct {
	least, greatest float64 // +Inf and -Inf if no spread is bounded or nothing has a value
	at              int     // which of the limit's rows, counted through its series, is the first of the least
}

func (l *Limit) extremes(values [][]float64) extremes {
	e := extremes{math.Inf(1), math.Inf(-1), -1}
	if math.IsInf(l.Spread, 1) {
		return e
	}
	k := 0
	for _, s := range l.Series {
		column := values[s.Sweep][s.Offset:]
		for _, row := range s.Rows {
			y := column[row]
			if y < e.least {
				e.least, e.at = y, k
			}
			if y > e.greatest {
				e.greatest = y
			}
			k++
		}
	}
	return e
}

// end is one of the three things that a limit can bound.
type end uint8

const (
	tooHigh end = iota // Max
	tooLow             // Min
	tooWide            // Spread
)

// worst returns by how much a value passes the bound that it comes nearest to or passes most, in the
// measure's unit, and which that is. It is NaN where there is no value.
func (l *Limit) worst(y, least float64) (over float64, by end) {
	over = y - l.Max
	if low := l.Min - y; low > over {
		over, by = low, tooLow
	}
	if wide := y - least - l.Spread; wide > over {
		over, by = wide, tooWide
	}
	return over, by
}

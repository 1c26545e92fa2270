package studies

import (
	"fmt"
	"math"
	"slices"

	"trammel/objectives"
	"trammel/optimize"
	"trammel/studies/files"
)

// standstill is which values of a study's sweeps nothing that varies moves.
type standstill struct {
	st          *Study
	values      [][]float64 // of the first geometry that assembles: the design, where it does
	g           []float64   // the elements of G there
	result      *objectives.Result
	drawn       bool        // that is the design
	moved       [][]bool    // by sweep and value
	low, high   [][]float64 // of all that assemble, by sweep and value
	lowG, highG []float64
	looks       int // geometries that assemble
}

// How many geometries are looked at, of how many the derivatives, and how many have to assemble for a claim.
const (
	stillLooks  = 64
	stillSlopes = 4
	stillLeast  = 8
	stillHardly = 3 // times farther off than what varies moves it: then nobody waits for it
)

// stands solves the design and a sample of the box, in which every option of each choice comes up, and finds the values that are the same all
// through it and that, at the design and the first of the sample, have no derivative with any number. It is nil where too few of the
// geometries assemble to tell.
func (st *Study) stands() *standstill {
	o := optimize.DefaultPlan()
	o.Runs = stillLooks
	plan, err := optimize.NewPlan(&st.Space, o)
	if err != nil {
		return nil // too many numbers for the plan
	}
	s := &standstill{st: st}
	for _, sw := range st.sweeps {
		s.moved = append(s.moved, make([]bool, sw.Size()))
	}
	e := st.NewEvaluator()
	p := st.Space.Design()
	for i := range int64(stillLooks) {
		if i > 0 {
			plan.At(&p, i)
		}
		p.Derivatives = i < stillSlopes
		o := optimize.Outcome{X: p.X}
		e.Evaluate(&p, &o)
		if o.Status.Failed() {
			continue
		}
		s.looks++
		if s.values == nil {
			s.begin(e, &o, i == 0)
		}
		s.compare(e, &o)
		if p.Derivatives && len(st.moves) > 0 {
			s.slopes(e)
		}
	}
	if s.looks < stillLeast {
		return nil
	}
	return s
}

// begin keeps what all else is compared with.
func (s *standstill) begin(e *Evaluator, o *optimize.Outcome, drawn bool) {
	for i := range s.st.sweeps {
		s.values = append(s.values, slices.Clone(e.values[i]))
		s.low, s.high = append(s.low, slices.Clone(e.values[i])), append(s.high, slices.Clone(e.values[i]))
	}
	s.g, s.lowG, s.highG, s.drawn = slices.Clone(o.G), slices.Clone(o.G), slices.Clone(o.G), drawn
	s.result = s.st.Objective.NewResult()
	s.st.Objective.Evaluate(e.values, s.st.start, make([]float64, len(o.R)), make([]float64, len(o.G)), s.result)
}

// compare finds which values of a geometry are others than those of the first, and between which they go.
func (s *standstill) compare(e *Evaluator, o *optimize.Outcome) {
	for i := range s.values {
		for k, v := range e.values[i] {
			low, high := &s.low[i][k], &s.high[i][k]
			*low, *high = min(*low, v), max(*high, v) // not a number once one of them is not
			if *high-*low > s.scale(i, k) || math.IsNaN(*high) {
				s.moved[i][k] = true
			}
		}
	}
	for k, v := range o.G {
		s.lowG[k], s.highG[k] = min(s.lowG[k], v), max(s.highG[k], v)
	}
}

// slopes finds which values have a derivative.
func (s *standstill) slopes(e *Evaluator) {
	n := len(s.st.moves)
	for i := range s.st.sweeps {
		of := &e.slopes.sweeps[i]
		for k, wanted := range of.Wanted {
			if !wanted || math.IsNaN(e.values[i][k]) {
				continue
			}
			for d, x := range of.At[k*n : k*n+n] {
				dim := &s.st.Space.Dims[d]
				if math.Abs(x)*float64(dim.High-dim.Low)/float64(dim.PerUnit) > s.scale(i, k) {
					s.moved[i][k] = true
				}
			}
		}
	}
}

// scale is how far a value of a sweep may be from another and still be the same.
func (s *standstill) scale(sweep, value int) float64 {
	sw := s.st.sweeps[sweep]
	column := value / len(sw.Motion.Positions)
	if column >= len(sw.Columns) {
		return alike // what is least between positions, a length, and where that is
	}
	return alike * sw.Columns[column].Measure.Scale
}

// still tells whether a value of a series has one and is never moved.
func (s *standstill) still(of *objectives.Series, row int) bool {
	at := of.Offset + of.Rows[row]
	return !s.moved[of.Sweep][at]
}

// all tells whether no value of some series is ever moved.
func (s *standstill) all(series ...objectives.Series) bool {
	for i := range series {
		for row := range series[i].Rows {
			if !s.still(&series[i], row) {
				return false
			}
		}
	}
	return true
}

// at says what a value is and where.
func (s *standstill) at(of *objectives.Series, row int) (is, place string) {
	k := of.Offset + of.Rows[row]
	is = s.st.say(s.values[of.Sweep][k], s.st.columnAt(*of).Measure.Unit.String())
	return is, s.st.sayPlace(s.values, of.Sweep, k)
}

// unmoved is a remark about a target or a limit that nothing which varies moves.
type unmoved struct {
	files.Problem
	limit int  // its index; -1 of a target
	never bool // no run can meet it, or keep it, or none is to be expected to
}

// remarks says which targets and limits nothing that varies moves, wholly or in the place that decides: those that no run can meet or keep,
// and those that steer nothing.
func (s *standstill) remarks() (out []unmoved) {
	for i := range s.st.targets {
		if says, never := s.target(i); says != "" {
			t := s.st.targets[i]
			out = append(out, unmoved{files.Problem{File: s.st.File.Path, Position: t.Pos, Path: "targets." + t.Name, Message: says}, -1, never})
		}
	}
	for i := range s.st.limits {
		says, never := s.limit(i)
		if says == "" || !never && i >= len(s.st.File.Limits) {
			continue // what parts allow is kept, as it should be
		}
		p := files.Problem{File: s.st.File.Path, Path: "limits." + s.st.limits[i], Message: says}
		if i < len(s.st.File.Limits) {
			p.Position = s.st.File.Limits[i].Pos
		} else {
			p.File = s.st.File.Geometry.Path
			for _, l := range s.st.File.Geometry.PartLimits() {
				if l.Name == s.st.limits[i] {
					p.Position, p.Path = l.Pos, l.Name
				}
			}
		}
		out = append(out, unmoved{p, i, never})
	}
	return out
}

// nothing begins a remark: what is not moved, and where.
func (s *standstill) nothing(measure, is, where string) string {
	says := fmt.Sprintf("nothing that varies moves %s: it is %s", measure, is)
	if where != everywhere && where != "" {
		says = fmt.Sprintf("nothing that varies moves %s at %s: it is %s there", measure, where, is)
	} else if where == everywhere {
		says += " " + everywhere
	}
	if s.drawn {
		says += " as drawn"
	}
	return says
}

func (s *standstill) target(i int) (says string, never bool) {
	t := &s.st.Objective.Targets[i]
	if t.Weight == 0 {
		return "", false
	}
	measure, asked := s.st.columnAt(t.Series).Name, s.st.askedOf(i)
	worst, row := 1.0, -1
	for k := range t.Series.Rows {
		if s.still(&t.Series, k) {
			if x := s.departs(t, k); x > worst*(1+alike) {
				worst, row = x, k
			}
		}
	}
	if row >= 0 {
		is, where := s.at(&t.Series, row)
		if len(t.Series.Rows) == 1 {
			where = ""
		}
		return fmt.Sprintf("%s, and %s is asked, so that no run can meet target %s", s.nothing(measure, is, where), asked, t.Name), true
	}
	if !s.all(t.Series) || t.Robust {
		return "", false
	}
	got, where := s.st.gotOf(i, &s.result.Targets[i], s.values)
	if len(t.Series.Rows) == 1 {
		where = ""
	}
	if !s.result.Targets[i].Met {
		return fmt.Sprintf("%s, and %s is asked, so that no run can meet target %s", s.nothing(measure, got, where), asked, t.Name), true
	}
	return fmt.Sprintf("nothing that varies moves %s: target %s asks %s and has %s in every run, so that it steers nothing", measure, t.Name, asked, at(got, where)), false
}

// departs is the departure over within of one value of a target that looks at each alone, 0 of any other.
func (s *standstill) departs(t *objectives.Target, row int) float64 {
	k := t.Series.Offset + t.Series.Rows[row]
	switch t.Shape {
	case objectives.Near, objectives.AtMost, objectives.AtLeast:
	default:
		return 0
	}
	y := s.values[t.Series.Sweep][k] - t.Want[row]
	if t.Relative {
		y -= s.st.start[t.Series.Sweep][k]
	}
	switch {
	case t.Shape == objectives.AtMost && y < 0, t.Shape == objectives.AtLeast && y > 0:
		return 0
	case y < 0:
		return -y / t.Below[row]
	}
	return y / t.Above[row]
}

func (s *standstill) limit(i int) (says string, never bool) {
	o := s.st.Objective
	l := &o.Limits[i]
	first := slices.IndexFunc(o.G, func(g objectives.Slot) bool { return g.Entry == i })
	measure, allowed := s.st.limitColumn(i).Name, s.st.limitOf(i)
	all := s.all(l.Series...) || l.Axis != objectives.NoAxis && s.highG[first]-s.lowG[first] <= alike
	spread := !math.IsInf(l.Spread, 1)
	if !all && !spread && l.Axis == objectives.NoAxis {
		return s.place(i, first)
	}
	if !all {
		return "", false
	}
	got, where := s.st.nearestOf(i, &s.result.Limits[i], s.values, nil)
	if s.result.Limits[i].At < 0 {
		return "", false
	}
	if len(l.Series) == 1 && len(l.Series[0].Rows) == 1 {
		where = ""
	}
	if s.result.Limits[i].Over > objectives.Broken {
		return fmt.Sprintf("%s, and %s is allowed, so that no run can keep limit %s", s.nothing(measure, got, where), allowed, s.st.limits[i]), true
	}
	return fmt.Sprintf("nothing that varies moves %s: limit %s allows %s and has %s in every run, so that it steers nothing", measure, s.st.limits[i], allowed, at(got, where)), false
}

// place says where a limit, whose elements of G begin at first, cannot be kept: one place alone may decide, where nothing moves it or by far too little.
func (s *standstill) place(i, first int) (says string, never bool) {
	l := &s.st.Objective.Limits[i]
	worst, series, row := objectives.Broken, -1, -1
	for _, hardly := range []bool{false, true} {
		g := first
		for j := range l.Series {
			of := &l.Series[j]
			for r := range of.Rows {
				is, by := s.lowG[g], s.highG[g]-s.lowG[g]
				g++
				if is > worst && (s.still(of, r) || hardly && is > stillHardly*by && !math.IsNaN(s.high[of.Sweep][of.Offset+of.Rows[r]])) {
					worst, series, row = is, j, r
				}
			}
		}
		if row >= 0 {
			break
		}
	}
	if row < 0 {
		return "", false
	}
	of := &l.Series[series]
	measure, allowed := s.st.columnAt(*of).Name, s.st.limitOf(i)
	is, where := s.at(of, row)
	if s.still(of, row) {
		return fmt.Sprintf("%s, and %s is allowed, so that no run can keep limit %s", s.nothing(measure, is, where), allowed, s.st.limits[i]), true
	}
	unit, k := s.st.columnAt(*of).Measure.Unit.String(), of.Offset+of.Rows[row]
	return fmt.Sprintf("what varies moves %s by far too little: in %d geometries from all over the ranges it goes from %s to %s at %s, and %s is allowed, so that no run is to be expected to keep limit %s",
		measure, s.looks, s.st.say(s.low[of.Sweep][k], unit), s.st.say(s.high[of.Sweep][k], unit), where, allowed, s.st.limits[i]), true
}

// unmoved says which targets and limits nothing that varies moves.
func (st *Study) unmoved() (notes files.Problems) {
	if s := st.stands(); s != nil {
		for _, r := range s.remarks() {
			notes = append(notes, r.Problem)
		}
	}
	return notes
}

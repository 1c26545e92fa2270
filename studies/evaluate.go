package studies

import (
	"math"

	"trammel/kin"
	"trammel/objectives"
	"trammel/optimize"
	"trammel/studies/files"

	"gonum.org/v1/gonum/spatial/r3"
)

// Evaluator solves and judges candidates of a study. It belongs to one worker and, after its first few
// candidates, allocates nothing.
type Evaluator struct {
	st      *Study
	state   *kin.State
	n       [][3]int64 // the candidate's points, quanta of the file
	points  []r3.Vec   // mm, of the solver
	values  [][]float64
	r, g    []float64
	result  *objectives.Result
	slopes  *slopes   // nil until derivatives are asked for
	forgive *forgiver // nil where no target is robust

	failure kin.Failure // of the last candidate
	sweep   int         // where it failed
	beyond  bool        // it assembled, and its score or violation is beyond all numbers
	told    map[kin.Failure]failureWords
}

// NewEvaluator returns an evaluator for one worker.
func (st *Study) NewEvaluator() *Evaluator {
	e := &Evaluator{
		st: st, state: st.Program.NewState(),
		n: make([][3]int64, len(st.base)), points: make([]r3.Vec, len(st.base)),
		r: make([]float64, len(st.Objective.R)), g: make([]float64, len(st.Objective.G)),
		result: st.Objective.NewResult(), told: map[kin.Failure]failureWords{},
	}
	for _, s := range st.sweeps {
		e.values = append(e.values, make([]float64, s.Size()))
	}
	if st.forgive != nil {
		e.forgive = st.newForgiver()
		for _, t := range st.forgive.built.Targets {
			e.values = append(e.values, make([]float64, len(t.Series.Rows)))
		}
	}
	return e
}

// place turns a point of the space into a geometry: choices first, then moves along the file's axes on
// whole quanta, then slides along lines, then turns.
func (e *Evaluator) place(p *optimize.Point) {
	st := e.st
	st.chosen(e.n, p.Choice)
	for i := range st.moves {
		m := &st.moves[i]
		if m.kind == files.VaryCoordinate || m.kind == files.VaryMove {
			by := st.Space.Quanta(i, p.X[i]) - m.design
			for _, k := range m.points {
				e.n[k][m.axis] += by
			}
		}
	}
	units := st.File.Geometry.Units
	for i := range e.n {
		var v [3]float64
		for k, axis := range st.iso {
			v[axis.axis] = axis.sign * units.ToMM(e.n[i][k]-st.origin[k])
		}
		e.points[i] = r3.Vec{X: v[0], Y: v[1], Z: v[2]}
	}
	e.between(p)
	for i := range st.moves {
		if m := &st.moves[i]; m.kind == files.VaryAlong && p.X[i] != 0 {
			by := r3.Scale(p.X[i]*m.scale, m.dir)
			for _, k := range m.points {
				e.points[k] = r3.Add(e.points[k], by)
			}
		}
	}
	for i := range st.moves {
		if m := &st.moves[i]; m.kind == files.VaryTurn && p.X[i] != 0 {
			e.turn(m, p.X[i]*m.scale)
		}
	}
}

// chosen fills n with the points where options place them.
func (st *Study) chosen(n [][3]int64, options []int) {
	copy(n, st.base)
	for i, o := range options {
		for _, at := range st.choices[i].options[o] {
			for k, by := range at.by {
				n[at.point][k] += by
			}
		}
	}
}

// between adds what a number has beyond its lattice value, which is nothing unless a search works on
// continuous numbers.
func (e *Evaluator) between(p *optimize.Point) {
	st := e.st
	for i := range st.moves {
		m := &st.moves[i]
		if m.kind != files.VaryCoordinate && m.kind != files.VaryMove {
			continue
		}
		rest := p.X[i] - st.Space.Value(i, st.Space.Quanta(i, p.X[i]))
		if rest == 0 {
			continue
		}
		units := st.File.Geometry.Units
		by := r3.Scale(rest*units.ToMM(units.PerUnit()), st.File.Geometry.Direction(byte('x'+m.axis)))
		for _, k := range m.points {
			e.points[k] = r3.Add(e.points[k], by)
		}
	}
}

// turn rotates points about a line by an angle, rad.
func (e *Evaluator) turn(m *move, angle float64) {
	for _, k := range m.points {
		e.points[k] = r3.Add(m.from, rotated(r3.Sub(e.points[k], m.from), m.dir, angle))
	}
}

// solve runs every sweep of the placed geometry, with what targets and limits need of derivatives where they are asked
// for, and tells whether all of it assembled.
func (e *Evaluator) solve(o *optimize.Outcome, derivatives bool) bool {
	e.sweep, e.beyond = -1, false
	if e.failure = e.state.SetDesign(e.points); e.failure.Status != kin.OK {
		o.Status, o.Reached = statusOf(e.failure.Status), 0
		return false
	}
	solved := 0
	for i := range e.st.sweeps {
		n, f := e.run(i, derivatives)
		solved += n
		if f.Status != kin.OK {
			e.failure, e.sweep = f, i
			o.Status, o.Reached = statusOf(f.Status), float64(solved)/float64(e.st.poses)
			return false
		}
	}
	if e.forgive != nil {
		n, i, f := e.deviate(e.values[len(e.st.sweeps):], e.forgive.rows)
		if solved += n; f.Status != kin.OK {
			e.failure, e.sweep = f, i
			o.Status, o.Reached = statusOf(f.Status), float64(solved)/float64(e.st.poses)
			return false
		}
	}
	o.Status, o.Reached = optimize.OK, 1
	return true
}

func statusOf(s kin.Status) optimize.Status {
	switch s {
	case kin.OK:
		return optimize.OK
	case kin.Folds:
		return optimize.Folds
	case kin.BadGeometry:
		return optimize.BadGeometry
	}
	return optimize.CannotAssemble
}

// Evaluate solves and judges one candidate. It implements optimize.Evaluator.
func (e *Evaluator) Evaluate(p *optimize.Point, o *optimize.Outcome) {
	e.place(p)
	if p.Derivatives {
		e.aim(p)
	}
	if !e.solve(o, p.Derivatives && e.st.found == nil) {
		return
	}
	e.st.Objective.Evaluate(e.values, e.st.start, e.r, e.g, e.result)
	o.R = append(o.R, e.r...)
	o.G = append(o.G, e.g...)
	if p.Derivatives {
		if e.st.found != nil {
			e.again()
		}
		if e.forgive != nil {
			e.forgiveSlopes(p)
		}
		e.differentiate(o)
	}
	o.Score, o.Violation = e.result.Score, e.result.Violation
	if o.Violation > 0 {
		o.Status = optimize.OverLimit
	}
	if bad := o.Score + o.Violation; math.IsNaN(bad) || math.IsInf(bad, 0) {
		// A departure beyond all numbers, over a within or scale next to nothing.
		o.Reset()
		o.X = append(o.X, p.X...)
		o.Status, o.Reached = optimize.BadGeometry, 0
		e.failure, e.sweep, e.beyond = kin.Failure{Status: kin.BadGeometry, Member: -1}, -1, true
	}
}

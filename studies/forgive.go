package studies

import (
	"math"
	"slices"

	"trammel/kin"
	"trammel/objectives"
	"trammel/optimize"
	"trammel/studies/files"
)

// What a build error is. With `build: {error: a}` every coordinate of every point, as each part holds it (the bracket on
// the frame and the eye of the rod that sits in it are two), ends up anywhere from -a to +a from where it was drawn, each
// place as likely and each error independent of the others: a rectangular distribution, which is what is to be assumed
// where a bound alone is known (JCGM 100:2008, 4.3.7), with the variance
//
//	sigma² = a²/3
//
// Every other part keeps its shape and the car is assembled with these parts (kin.State.SetBuild); nothing is adjusted
// afterwards.

// forgiveness is what robust targets need of the solver: each motion that they look at once more, with their measures
// alone, both sides of the car and the derivatives with every part point.
type forgiveness struct {
	bound   float64               // mm: no coordinate errs by more
	sigma   float64               // mm: standard deviation of each
	sweeps  []*kin.Sweep          // with the columns of the robust targets
	of      []int                 // by sweep: the study's sweep of the same motion
	columns [][]kin.Column        // by sweep
	targets []int                 // which of the study's targets are robust
	built   *objectives.Objective // these targets, of one car as it is built, over these sweeps
	start   [][]float64           // their values at design; nil where it fails
}

// errorsKnown refuses robust targets of a geometry that does not say how large errors are, which files does already unless
// the runs of an older geometry are to be scored by them.
func errorsKnown(f *files.Study) error {
	for i := range f.Targets {
		if t := &f.Targets[i]; t.Robust && f.Geometry.Build.Error <= 0 {
			return files.Problems{{File: f.Path, Position: t.Pos, Path: "targets." + t.Name,
				Message: "robust needs build: {error: ...} in the geometry, and that of the runs has none; solve them anew with a geometry that has it"}}
		}
	}
	return nil
}

// bindForgiveness makes targets robust that the file says are. Their deviations stand behind the values of all sweeps.
func (st *Study) bindForgiveness(f *files.Study, targets []objectives.Target) {
	bound := f.Geometry.Units.ToMM(f.Geometry.Build.Error)
	fg := &forgiveness{bound: bound, sigma: bound / math.Sqrt(3)}
	var built []objectives.Target
	for i := range targets {
		if !f.Targets[i].Robust {
			continue
		}
		t := targets[i]
		sweep, column := fg.column(t.Series.Sweep, st.columnAt(t.Series))
		t.Series.Offset = column * len(st.sweeps[t.Series.Sweep].Motion.Positions)
		t.Series.Sweep = sweep
		targets[i].Robust, targets[i].Spread = true, len(st.sweeps)+len(built)
		built, fg.targets = append(built, t), append(fg.targets, i)
	}
	if built == nil {
		return
	}
	for j, of := range fg.of {
		sw := st.Program.NewSweep(st.sweeps[of].Motion, fg.columns[j])
		fg.sweeps = append(fg.sweeps, sw)
		st.poses += sw.Poses()
	}
	for k := range built {
		s := &built[k].Series
		s.Rows = fg.rows(s)
	}
	fg.built = objectives.New(built, nil)
	st.forgive = fg
}

// column returns where a column of one of the study's sweeps stands, and adds it where it does not yet.
func (fg *forgiveness) column(of int, col *kin.Column) (sweep, column int) {
	sweep = slices.Index(fg.of, of)
	if sweep < 0 {
		sweep = len(fg.of)
		fg.of, fg.columns = append(fg.of, of), append(fg.columns, nil)
	}
	column = slices.IndexFunc(fg.columns[sweep], func(c kin.Column) bool { return c.Name == col.Name })
	if column < 0 {
		column = len(fg.columns[sweep])
		fg.columns[sweep] = append(fg.columns[sweep], *col)
	}
	return sweep, column
}

// rows returns a series' rows where the sweeps of robust targets have them: a least value stands behind the columns, of
// which there are others here.
func (fg *forgiveness) rows(s *objectives.Series) []int {
	sw := fg.sweeps[s.Sweep]
	n := len(sw.Motion.Positions)
	out := slices.Clone(s.Rows)
	for i, row := range out {
		if at, ok := sw.Least(s.Offset / n); ok && row >= n {
			out[i] = at - s.Offset
		}
	}
	return out
}

// startForgiveness keeps the values of the design, which an evaluator has just solved.
func (st *Study) startForgiveness(e *Evaluator) {
	if st.forgive == nil {
		return
	}
	for _, v := range e.forgive.values {
		st.forgive.start = append(st.forgive.start, slices.Clone(v))
	}
}

// forgiver is an Evaluator's room for that.
type forgiver struct {
	values [][]float64      // by sweep
	slopes []kin.Slopes     // by sweep: derivatives with part points
	rows   []int            // by target: how many have a value
	beside optimize.Point   // the candidate with one number changed
	sides  [2]besideTargets // what became of it
}

// besideTargets is what robust targets come to at a candidate with one number changed.
type besideTargets struct {
	ok   bool
	rows []int
	s    [][]float64
}

func (st *Study) newForgiver() *forgiver {
	fg := st.forgive
	fr := &forgiver{rows: make([]int, len(fg.targets))}
	for j, sw := range fg.sweeps {
		fr.values = append(fr.values, make([]float64, sw.Size()))
		fr.slopes = append(fr.slopes, kin.Slopes{Wanted: fg.built.Reads(j, sw.Size()), Parts: make([]float64, sw.Size()*st.Program.Coordinates())})
	}
	for i := range fr.sides {
		b := &fr.sides[i]
		b.rows = make([]int, len(fg.targets))
		for _, t := range fg.built.Targets {
			b.s = append(b.s, make([]float64, len(t.Series.Rows)))
		}
	}
	return fr
}

// deviate fills s and rows, by robust target, with the deviations of the geometry that the state was set to. It returns how
// many poses were solved, and the study's sweep in which it failed.
func (e *Evaluator) deviate(s [][]float64, rows []int) (solved, sweep int, f kin.Failure) {
	fg, fr := e.st.forgive, e.forgive
	for j, sw := range fg.sweeps {
		n, f := e.state.RunSlopes(sw, fr.values[j], &fr.slopes[j])
		if solved += n; f.Status != kin.OK {
			return solved, fg.of[j], f
		}
	}
	for k := range fg.built.Targets {
		t := &fg.built.Targets[k]
		j := t.Series.Sweep
		rows[k] = t.Deviations(fr.values[j], fr.slopes[j].Parts, e.st.Program.Coordinates(), fg.sigma, s[k])
	}
	return solved, -1, kin.Failure{}
}

// besideStep is how far a varied number goes to either side for the derivative of a deviation: about a fiftieth of a
// millimetre at the wheel. Deviations are made of exact derivatives and change over centimetres, so that neither the
// step, whose square counts, nor rounding over it takes more than a millionth.
func besideStep(unit string) float64 {
	switch unit {
	case "in":
		return 0.0008
	case "deg":
		return 0.004
	}
	return 0.02
}

// forgiveSlopes fills the derivatives of the deviations of a candidate with each varied number: central differences of the
// exact first derivatives, to one side where the other does not assemble or has other values, 0 where neither does. The
// points are the candidate's own again when it returns.
//
//	∂s/∂x ≈ (s(x + h) - s(x - h))/2h
func (e *Evaluator) forgiveSlopes(p *optimize.Point) {
	fr := e.forgive
	behind, n := len(e.st.sweeps), len(e.st.moves)
	for k := range e.st.moves {
		h := besideStep(e.st.varyOf(k).Unit)
		e.lookBeside(p, k, h, &fr.sides[0])
		e.lookBeside(p, k, -h, &fr.sides[1])
		for t, s := range e.values[behind:] {
			up, down := &fr.sides[0], &fr.sides[1]
			hasUp, hasDown := up.ok && up.rows[t] == fr.rows[t], down.ok && down.rows[t] == fr.rows[t]
			into := e.slopes.at[behind+t]
			for i := range s {
				d := 0.0
				switch {
				case hasUp && hasDown:
					d = (up.s[t][i] - down.s[t][i]) / (2 * h)
				case hasUp:
					d = (up.s[t][i] - s[i]) / h
				case hasDown:
					d = (s[i] - down.s[t][i]) / h
				}
				into[i*n+k] = d
			}
		}
	}
	e.place(p)
}

// lookBeside finds the deviations of a candidate with number k changed by h.
func (e *Evaluator) lookBeside(p *optimize.Point, k int, h float64, b *besideTargets) {
	q := &e.forgive.beside
	q.X, q.Choice = append(q.X[:0], p.X...), append(q.Choice[:0], p.Choice...)
	q.X[k] += h
	e.place(q)
	b.ok = false
	if e.state.SetDesign(e.points).Status == kin.OK {
		_, _, f := e.deviate(b.s, b.rows)
		b.ok = f.Status == kin.OK
	}
}

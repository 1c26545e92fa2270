// Package studies ties kin, objectives and optimize together: it binds the names of study files to
// numbers, runs studies and goes on with them, keeps the record, and reads it for the answer.
package studies

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"trammel/kin"
	"trammel/objectives"
	"trammel/optimize"
	"trammel/studies/files"

	"gonum.org/v1/gonum/spatial/r3"
)

// Study is a study file bound to numbers: what varies, how a candidate is solved and how it is judged.
// It is immutable and serves any number of Evaluators.
type Study struct {
	File      *files.Study
	Space     optimize.Space
	Program   *kin.Program
	Objective *objectives.Objective

	moves   []move
	choices []choice
	iso     [3]isoAxis
	base    [][3]int64 // the file's points, quanta
	origin  [3]int64
	sweeps  []*kin.Sweep // one per motion, then the places, by the way in which they move
	places  int          // the first sweep of places, where nothing rolls and both wheels travel; its first place is design
	poses   int          // of all sweeps
	start   [][]float64  // values of the design geometry, by sweep; nil where it fails
	design  []int        // columns of the places whose value at design is recorded
	targets []*files.Target
	limits  []string // names, those of parts included
	found   []foundAxis
	reasons []string     // by limit: what a row says when it is broken
	forgive *forgiveness // nil where no target is robust
	older   older        // the best of an older night, run with the design
	onward  bool         // something ends the study: a stage that has no end of its own goes on until then
}

// isoAxis says to which axis of the solver an axis of the file goes.
type isoAxis struct {
	axis int
	sign float64
}

// move is how a varied number moves points.
type move struct {
	kind   files.VaryKind
	points []int
	axis   int     // of the file
	design int64   // quanta
	from   r3.Vec  // a point of the line along or about which it moves, as the file draws it
	dir    r3.Vec  // the line's direction, unit
	scale  float64 // mm, or rad, per unit of the number
}

// choice is how a choice places points: by option, the points and how far from where the file draws them.
type choice struct {
	options [][]placed
}

type placed struct {
	point int
	by    [3]int64 // quanta
}

// Bind compiles a study. An error is files.Problems, or a sentence about the geometry as a whole.
func Bind(f *files.Study) (*Study, error) {
	st := &Study{File: f, onward: f.Budget != files.Budget{}}
	g := f.Geometry
	prog, err := kin.Compile(g.Linkage())
	if err != nil {
		return nil, compileProblem(g, err)
	}
	st.Program = prog
	st.points(g)
	st.bindVary(f)
	if err := st.Space.Check(); err != nil {
		return nil, usageError{err}
	}
	if err := errorsKnown(f); err != nil {
		return nil, err
	}
	if err := st.bindGoals(f); err != nil {
		return nil, err
	}
	st.takeStart()
	for _, t := range st.targets {
		if t.Relative && st.start == nil {
			return nil, files.Problems{{File: f.Path, Position: t.Pos, Path: "targets." + t.Name,
				Message: "it is relative to design, and the design geometry does not go through every motion; `trammel check` says where it stops"}}
		}
	}
	return st, nil
}

func (st *Study) points(g *files.Geometry) {
	for _, p := range g.Points {
		st.base = append(st.base, p.N)
	}
	st.origin = g.Origin
	for i, name := range []byte{'x', 'y', 'z'} {
		d := g.Direction(name)
		for k, v := range []float64{d.X, d.Y, d.Z} {
			if v != 0 {
				st.iso[i] = isoAxis{k, v}
			}
		}
	}
}

func (st *Study) bindVary(f *files.Study) {
	g := f.Geometry
	index := func(names []string) []int {
		var out []int
		for _, n := range names {
			out = append(out, g.Point(n))
		}
		return out
	}
	for i := range f.Vary {
		v := &f.Vary[i]
		if v.Kind == files.VaryChoose {
			st.bindChoice(v, g)
			continue
		}
		step := v.Step
		if !v.Stepped() {
			step = 0
		}
		st.Space.Dims = append(st.Space.Dims, optimize.Dim{Name: v.Name, Low: v.FromN, High: v.ToN, Design: v.DesignN, Step: step, PerUnit: v.PerUnit})
		m := move{kind: v.Kind, points: index(v.Points), design: v.DesignN, scale: 1}
		switch v.Kind {
		case files.VaryCoordinate, files.VaryMove:
			m.axis = int(v.Axis - 'x')
		case files.VaryAlong:
			m.from, m.dir = line(g, v)
			if v.Unit == "in" {
				m.scale = 25.4
			}
		case files.VaryTurn:
			m.from, m.dir = line(g, v)
			m.scale = math.Pi / 180
			if g.Side == files.Right {
				m.scale = -m.scale // the mirror turns the other way
			}
		}
		st.moves = append(st.moves, m)
	}
}

// line returns the line of a slide or a turn, where the file draws its points.
func line(g *files.Geometry, v *files.Vary) (from, dir r3.Vec) {
	from = g.ToISO(g.Points[g.Point(v.LineFrom)].N)
	to := g.ToISO(g.Points[g.Point(v.LineTo)].N)
	return from, r3.Unit(r3.Sub(to, from))
}

func (st *Study) bindChoice(v *files.Vary, g *files.Geometry) {
	var c choice
	var names []string
	for _, o := range v.Options {
		names = append(names, o.Name)
		var set []placed
		for name, n := range o.Points {
			at := placed{point: g.Point(name)}
			for k := range n {
				at.by[k] = n[k] - st.base[at.point][k]
			}
			set = append(set, at)
		}
		slices.SortFunc(set, func(a, b placed) int { return a.point - b.point })
		c.options = append(c.options, set)
	}
	st.choices = append(st.choices, c)
	st.Space.Choices = append(st.Space.Choices, optimize.Choice{Name: v.Name, Options: names, Design: int(v.DesignN)})
}

// request is a measure wanted at some positions of a sweep, before the sweep's columns are known.
type request struct {
	sweep  int
	column int // within the sweep
	rows   []int
	travel []float64
	least  bool // over a whole motion: what is least between its positions counts as well
}

// goals collects what targets and limits ask of the sweeps.
type goals struct {
	st      *Study
	motions []*kin.Motion
	travels [][]float64    // by motion: the travel of each position that curves are drawn over
	places  []placing      // the first is that of both wheels without roll, and begins with design
	columns [][]kin.Column // by sweep, the places last
}

// placing is places that are reached in one way, so that slopes there go along the same travel.
type placing struct {
	way way
	at  []kin.Position
}

func (st *Study) bindGoals(f *files.Study) error {
	var problems files.Problems
	complain := func(pos files.Position, path, format string, args ...any) {
		problems = append(problems, files.Problem{File: f.Path, Position: pos, Path: path, Message: fmt.Sprintf(format, args...)})
	}
	q := &goals{st: st, places: []placing{{at: []kin.Position{{}}}}}
	for i := range f.Motions {
		m := &f.Motions[i]
		tr := travelsOf(m)
		if tr.way.rolls && tr.way.wheels != kin.BothWheels {
			complain(m.Pos, "motions."+m.Name, "%s moves the %s wheel alone and rolls the body; in roll both wheels stay on the ground, so take wheels or body_roll out", m.Name, m.Wheels)
			tr.way.wheels = kin.BothWheels
		}
		if !st.Program.Steered() && (len(m.Rack) > 1 || m.Rack[0] != 0) {
			complain(m.Pos, "motions."+m.Name, "%s moves the rack, and %s", m.Name, noRack)
		}
		q.motions = append(q.motions, tr.motion(m.Name))
		q.travels = append(q.travels, tr.along(q.motions[i].Positions))
	}
	q.columns = make([][]kin.Column, len(q.motions)+1)

	var asked []request
	for i := range f.Targets {
		t := &f.Targets[i]
		if t.Motion >= 0 && t.Place == nil && f.Motions[t.Motion].Grid && (t.Shape == files.Straight || t.Shape == files.Rising || t.Shape == files.Falling) {
			complain(t.Pos, "targets."+t.Name, "%s is asked over a grid; it needs a motion in which one travel alone moves", t.Shape)
		}
		r, err := q.request(t.Measure, t.Motion, t.Place)
		if err != nil {
			complain(t.Pos, "targets."+t.Name, "%s", err)
		}
		asked = append(asked, r)
	}
	for i := range f.Limits {
		l := &f.Limits[i]
		r, err := q.request(l.Measure, l.Motion, l.Place)
		if err != nil {
			complain(l.Pos, "limits."+l.Name, "%s", err)
		}
		asked = append(asked, r)
	}
	if problems != nil {
		return problems
	}
	parts := q.parts(f.Geometry, func(l *files.PartLimit, err error) {
		problems = append(problems, files.Problem{File: f.Geometry.Path, Position: l.Pos, Path: l.Name, Message: fmt.Sprintf("%s: %s", l.Name, err)})
	})
	if problems != nil {
		return problems
	}
	st.objective(f, q, asked, parts)
	return nil
}

// request finds where a measure's values will stand.
func (q *goals) request(measure string, motion int, place *files.Place) (request, error) {
	col, err := q.st.Program.Column(measure)
	if err != nil {
		return request{}, err
	}
	by := q.way(motion, place)
	if err := q.findable(&col); err != nil {
		return request{}, err
	}
	if why := q.st.Program.Never(&col, by.wheels, by.rolls); why != "" {
		return request{}, fmt.Errorf("%s %s", measure, why)
	}
	r := request{sweep: motion}
	if place == nil {
		if motion < 0 {
			return r, fmt.Errorf("%s is asked neither in a motion nor at a place", measure)
		}
		n := len(q.motions[motion].Positions)
		for i := range n {
			r.rows = append(r.rows, i)
		}
		slices.SortStableFunc(r.rows, func(a, b int) int {
			return cmp.Compare(q.travels[motion][a], q.travels[motion][b])
		})
		for _, i := range r.rows {
			r.travel = append(r.travel, q.travels[motion][i])
		}
		r.column, r.least = q.column(motion, col), true
		return r, nil
	}
	at, by := q.at(motion, place)
	if motion >= 0 {
		if i := slices.Index(q.motions[motion].Positions, at); i >= 0 {
			r.rows, r.travel = []int{i}, []float64{q.travels[motion][i]}
			r.column = q.column(motion, col)
			return r, nil
		}
	}
	k := slices.IndexFunc(q.places, func(p placing) bool { return p.way == by })
	if k < 0 {
		k = len(q.places)
		q.places, q.columns = append(q.places, placing{way: by}), append(q.columns, nil)
	}
	p := &q.places[k]
	i := slices.Index(p.at, at)
	if i < 0 {
		i = len(p.at)
		p.at = append(p.at, at)
	}
	r.sweep = len(q.motions) + k
	r.rows, r.travel = []int{i}, []float64{0} // at a place a curve is one value
	r.column = q.column(r.sweep, col)
	return r, nil
}

// at returns the position of a place and the way to it: a travel that is not named is the one the motion holds, or 0;
// without a motion, both wheels travel, and a place that names a roll is reached by rolling.
func (q *goals) at(motion int, place *files.Place) (kin.Position, way) {
	by := way{rolls: place.Roll != nil}
	var wheel, rack, roll []float64
	if motion >= 0 {
		m := &q.st.File.Motions[motion]
		by = travelsOf(m).way
		wheel, rack, roll = m.Wheel, m.Rack, m.Roll
	}
	value := func(named *float64, of []float64) float64 {
		switch {
		case named != nil:
			return *named
		case len(of) == 1:
			return of[0]
		}
		return 0
	}
	return position(value(place.Wheel, wheel), value(place.Rack, rack), value(place.Roll, roll)), by
}

func (q *goals) column(sweep int, col kin.Column) int {
	for i, c := range q.columns[sweep] {
		if c.Name == col.Name {
			return i
		}
	}
	q.columns[sweep] = append(q.columns[sweep], col)
	return len(q.columns[sweep]) - 1
}

// objective makes the sweeps and lays out targets and limits over them.
func (st *Study) objective(f *files.Study, q *goals, asked []request, parts []part) {
	st.places = len(q.motions)
	for i := range f.Targets {
		q.wantDesign(f.Targets[i].Measure)
	}
	for i := range f.Limits {
		q.wantDesign(f.Limits[i].Measure)
	}
	for i := range st.design {
		st.design[i] *= len(q.places[0].at)
	}
	for _, p := range q.places {
		q.motions = append(q.motions, kin.NewPlaces("place"+p.way.addition(), p.way.wheels, p.way.rolls, p.at))
	}
	for i, m := range q.motions {
		st.sweeps = append(st.sweeps, st.Program.NewDesignSweep(m, q.columns[i]))
	}
	for _, s := range st.sweeps {
		st.poses += s.Poses()
	}
	var targets []objectives.Target
	for i := range f.Targets {
		st.targets = append(st.targets, &f.Targets[i])
		targets = append(targets, target(&f.Targets[i], st.series(asked[i], leastCounts(&f.Targets[i]))))
	}
	st.bindForgiveness(f, targets)
	var limits []objectives.Limit
	for i := range f.Limits {
		l, r := &f.Limits[i], asked[len(f.Targets)+i]
		scale := q.columns[r.sweep][r.column].Measure.Scale
		if l.Scale != nil {
			scale = *l.Scale
		}
		st.limits = append(st.limits, l.Name)
		limits = append(limits, objectives.Limit{Name: l.Name, Series: []objectives.Series{st.series(r, true)},
			Min: or(l.Min, -1), Max: or(l.Max, 1), Spread: or(l.Spread, 1), Scale: scale})
	}
	for _, p := range parts {
		l := objectives.Limit{Name: p.name, Axis: p.axis, Min: p.min, Max: p.max, Spread: math.Inf(1), Scale: p.scale}
		if p.axis != objectives.NoAxis {
			p.found.limit = len(limits)
			st.found = append(st.found, p.found)
		}
		for _, r := range p.requests {
			l.Series = append(l.Series, st.series(r, true))
		}
		st.limits = append(st.limits, p.name)
		limits = append(limits, l)
	}
	for _, l := range st.limits {
		st.reasons = append(st.reasons, "breaks "+l)
	}
	st.Objective = objectives.New(targets, limits)
}

func (q *goals) wantDesign(measure string) {
	col, err := q.st.Program.Column(measure)
	if err != nil {
		return
	}
	if c := q.column(len(q.motions), col); !slices.Contains(q.st.design, c) {
		q.st.design = append(q.st.design, c)
	}
}

// takeStart solves the design geometry once, for targets that are relative to it.
func (st *Study) takeStart() {
	e := st.NewEvaluator()
	var out optimize.Outcome
	p := st.Space.Design()
	e.place(&p)
	if e.solve(&out, false) {
		for _, v := range e.values {
			st.start = append(st.start, slices.Clone(v))
		}
		st.startForgiveness(e)
	}
}

type usageError struct{ error }

func (e usageError) Unwrap() error { return e.error }

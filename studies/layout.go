package studies

import (
	"fmt"
	"slices"
	"strings"

	"trammel/kin"
	"trammel/objectives"
	"trammel/optimize"
	"trammel/studies/files"
	"trammel/studies/record"
)

// runColumns is where the cells of a run's row stand.
type runColumns struct {
	schema record.Schema
	vary   int // first of the varied numbers, then the choices
	got    int // first of the design values, then targets' and limits' extremes
	miss   int
	met    int
	drawn  int // of robust targets
	over   int
	score  int
}

// The columns that every study has, in their order.
const (
	colRun = iota
	colStage
	colBlock
	colParent
	colIteration
	colStatus
	colReason
	colMotion
	colWheel
	colRack
	colRoll
	colMember
	colVary
)

// unitSuffix is what a varied number's unit adds to its column's name.
func unitSuffix(unit string) string {
	if unit == "" {
		return ""
	}
	return "_" + unit
}

// runLayout lays out the table of runs of a study, or says which names of the study collide.
func (st *Study) runLayout() (*runColumns, error) {
	c := &runColumns{schema: record.Schema{Table: record.TableRuns}}
	add := func(name string, t record.Type, nullable bool, unit, meaning string) {
		c.schema.Columns = append(c.schema.Columns, record.Column{Name: name, Type: t, Nullable: nullable, Unit: unit, Meaning: meaning})
	}
	add("run", record.Int64, false, "", "Number of the run: stage times ten to the 13th, plus block times ten to the 5th, plus its place in the block.")
	add("stage", record.Int64, false, "", "Stage of the study that asked for the run; 0 is the design itself.")
	add("block", record.Int64, false, "", "Block of the stage.")
	add("parent", record.Int64, true, "", "Run that this one was made from.")
	add("iteration", record.Int64, false, "", "Generation or iteration of the search; 0 in a plan.")
	add("status", record.Text, false, "", "What became of the run: ok, over_limit, cannot_assemble, folds or bad_geometry.")
	add("reason", record.Text, true, "", "Why the run is not ok, in words.")
	add("place_motion", record.Text, true, "", "Motion in which it failed, or broke its worst limit.")
	add("place_wheel_travel_mm", record.Float64, true, "mm", "Wheel travel there, of the wheels that the motion moves; where the body rolls, how far the ground is lifted.")
	add("place_rack_travel_mm", record.Float64, true, "mm", "Rack travel there.")
	add("place_body_roll_deg", record.Float64, true, "deg", "Body roll there.")
	add("place_member", record.Text, true, "", "Member that gave way there.")
	c.vary = colVary
	for i := range st.Space.Dims {
		v := st.varyOf(i)
		add(record.ColumnName("vary", v.Name)+unitSuffix(v.Unit), record.Float64, false, v.Unit, st.varyMeaning(v))
	}
	for i := range st.Space.Choices {
		add(record.ColumnName("vary", st.Space.Choices[i].Name), record.Text, false, "", "Option chosen for "+st.Space.Choices[i].Name+".")
	}
	c.got = len(c.schema.Columns)
	places := st.sweeps[st.places]
	n := len(places.Motion.Positions)
	for _, offset := range st.design {
		col := &places.Columns[offset/n]
		add("got_design_"+columnOf(col), record.Float64, true, col.Measure.Unit.String(), "At design: "+col.Name+".")
	}
	for i, t := range st.targets {
		col := st.columnAt(st.Objective.Targets[i].Series)
		what := "the value that departs most"
		if s := st.Objective.Targets[i].Shape; s >= objectives.Straight && s <= objectives.Falling {
			what = "the greatest departure"
		}
		add(record.ColumnName("got", t.Name)+col.Measure.Unit.Suffix(), record.Float64, true, col.Measure.Unit.String(), fmt.Sprintf("Target %s: %s of %s.", t.Name, what, col.Name))
	}
	for i, l := range st.Objective.Limits {
		col := st.limitColumn(i)
		add(record.ColumnName("got", st.limits[i])+col.Measure.Unit.Suffix(), record.Float64, true, col.Measure.Unit.String(), fmt.Sprintf("Limit %s: the value of %s that comes nearest or passes it most.", l.Name, col.Name))
	}
	c.miss = len(c.schema.Columns)
	for _, t := range st.targets {
		what := ": root mean square of the departures over within."
		if t.Robust {
			what = ": root of the mean square of the departures over within that is expected of a built car, by first derivatives."
		}
		add(record.ColumnName("miss", t.Name), record.Float64, true, "", "Target "+t.Name+what)
	}
	c.met = len(c.schema.Columns)
	for _, t := range st.targets {
		add(record.ColumnName("met", t.Name), record.Bool, true, "", "Target "+t.Name+": the greatest departure, as drawn, is within.")
	}
	c.drawn = len(c.schema.Columns)
	for _, t := range st.targets {
		if t.Robust {
			add(record.ColumnName("drawn", t.Name), record.Float64, true, "", "Target "+t.Name+": the miss as drawn, without errors: root mean square of the departures over within.")
		}
	}
	c.over = len(c.schema.Columns)
	for _, l := range st.limits {
		add(record.ColumnName("over", l), record.Float64, true, "", "Limit "+l+": the greatest passing over its scale; negative while there is room.")
	}
	c.score = len(c.schema.Columns)
	add("score", record.Float64, true, "", "Weighted mean of the squared misses; smaller is better.")
	add("violation", record.Float64, true, "", "Sum of what broken limits are passed by, over their scales; 0 when none is broken.")

	first := map[string]string{}
	for _, col := range c.schema.Columns {
		if other, taken := first[col.Name]; taken {
			return nil, usagef("%s: the column %s would hold two things (%s and %s); rename one of the two in the study",
				st.File.Path, col.Name, strings.TrimSuffix(other, "."), strings.TrimSuffix(col.Meaning, "."))
		}
		first[col.Name] = col.Meaning
	}
	return c, nil
}

// columnAt returns the column that a series reads.
func (st *Study) columnAt(s objectives.Series) *kin.Column {
	sw := st.sweeps[s.Sweep]
	return &sw.Columns[s.Offset/len(sw.Motion.Positions)]
}

// limitColumn returns what a limit bounds: the column that it reads, or the tilt of a joint whose axis is to be found.
func (st *Study) limitColumn(i int) *kin.Column {
	for k := range st.found {
		if f := &st.found[k]; f.limit == i {
			col, err := st.Program.Column(f.joint.Name + ".tilt")
			if err != nil {
				panic("studies: " + err.Error())
			}
			return &col
		}
	}
	return st.columnAt(st.Objective.Limits[i].Series[0])
}

// varyOf returns the entry of the study file for a dimension of the space.
func (st *Study) varyOf(dim int) *files.Vary {
	for i := range st.File.Vary {
		v := &st.File.Vary[i]
		if v.Kind == files.VaryChoose {
			continue
		}
		if dim == 0 {
			return v
		}
		dim--
	}
	panic("studies: no such dimension")
}

func (st *Study) varyMeaning(v *files.Vary) string {
	switch v.Kind {
	case files.VaryCoordinate:
		return "Coordinate " + v.Name + ", in the file's units and axes."
	case files.VaryTurn:
		return "Turn of " + v.Name + " from design."
	}
	return "Move of " + v.Name + " from design, in the file's units and axes."
}

// fill writes the row of a candidate that e has just evaluated.
func (c *runColumns) fill(rows *record.Rows, run int64, stage, block int, p *optimize.Point, o *optimize.Outcome, e *Evaluator) {
	rows.Next()
	rows.Int(colRun, run)
	rows.Int(colStage, int64(stage))
	rows.Int(colBlock, int64(block))
	if p.Parent != optimize.NoParent {
		rows.Int(colParent, p.Parent)
	}
	rows.Int(colIteration, int64(p.Iteration))
	rows.Text(colStatus, o.Status.String())
	for i, x := range p.X {
		rows.Float(c.vary+i, x)
	}
	for i, k := range p.Choice {
		rows.Text(c.vary+len(p.X)+i, e.st.Space.Choices[i].Options[k])
	}
	if o.Status.Failed() {
		c.fillFailure(rows, e)
		return
	}
	if o.Status == optimize.OverLimit {
		c.fillWorst(rows, e)
	}
	places := e.values[e.st.places]
	at := c.got
	for _, offset := range e.st.design {
		rows.Number(at, places[offset])
		at++
	}
	for i := range e.result.Targets {
		t := &e.result.Targets[i]
		rows.Number(at+i, t.Got)
		rows.Float(c.miss+i, t.Miss)
		rows.Bool(c.met+i, t.Met)
	}
	if fg := e.st.forgive; fg != nil {
		for k, i := range fg.targets {
			rows.Float(c.drawn+k, e.result.Targets[i].Drawn)
		}
	}
	at += len(e.result.Targets)
	for i := range e.result.Limits {
		rows.Number(at+i, e.result.Limits[i].Got)
		rows.Float(c.over+i, e.result.Limits[i].Over)
	}
	rows.Float(c.score, o.Score)
	rows.Float(c.score+1, o.Violation)
}

func (c *runColumns) fillFailure(rows *record.Rows, e *Evaluator) {
	f := e.failure
	if e.beyond {
		rows.Text(colReason, "a departure over its within, or a passing over its scale, is beyond all numbers")
		return
	}
	w := e.tellFailure(f)
	rows.Text(colReason, w.reason)
	if e.sweep >= 0 {
		rows.Text(colMotion, e.st.sweeps[e.sweep].Motion.Name)
		place(rows, f.At)
	}
	if f.Member >= 0 {
		rows.Text(colMember, w.member)
	}
}

// failureWords is what a row says of a failure.
type failureWords struct{ reason, member string }

// tellFailure says a failure in words, which do not depend on where it is, but for whether the body rolls there. There are
// few of them and many rows, so that each is put into words once.
func (e *Evaluator) tellFailure(f kin.Failure) failureWords {
	key := kin.Failure{Status: f.Status, Member: f.Member}
	if f.At.Roll != 0 {
		key.At.Roll = 1
	}
	w, known := e.told[key]
	if !known {
		w.reason = e.st.Program.Describe(f)
		if f.Member >= 0 {
			w.member = e.st.File.Geometry.Parts()[f.Member].Name
		}
		e.told[key] = w
	}
	return w
}

// fillWorst names the limit that is passed most, and where; of one on an axis, where the axis is held most.
func (c *runColumns) fillWorst(rows *record.Rows, e *Evaluator) {
	worst, results := 0, e.result.Limits
	for i := range results {
		if results[i].Over > results[worst].Over {
			worst = i
		}
	}
	l := &e.st.Objective.Limits[worst]
	series, row := l.Place(max(results[worst].At, 0))
	s := &l.Series[series]
	rows.Text(colReason, e.st.reasons[worst])
	rows.Text(colMotion, e.st.sweeps[s.Sweep].Motion.Name)
	place(rows, e.st.position(e.values, s.Sweep, s.Offset+s.Rows[row]))
}

// place says where in a motion something is.
func place(rows *record.Rows, at kin.Position) {
	rows.Float(colWheel, at.Wheel)
	rows.Float(colRack, at.Rack)
	rows.Float(colRoll, degreesOf(at))
}

// curveColumns lays out the table of curves: every measure that the geometry has.
type curveColumns struct {
	schema  record.Schema
	columns []kin.Column
	sweeps  []*kin.Sweep // one per motion
}

func (st *Study) curveLayout() *curveColumns {
	c := &curveColumns{schema: record.Schema{Table: record.TableCurves}}
	add := func(name string, t record.Type, nullable bool, unit, meaning string) {
		c.schema.Columns = append(c.schema.Columns, record.Column{Name: name, Type: t, Nullable: nullable, Unit: unit, Meaning: meaning})
	}
	add("run", record.Int64, false, "", "Number of the run.")
	add("motion", record.Text, false, "", "Motion of the study.")
	add("position", record.Int64, false, "", "Position in the motion, from 1.")
	c.columns = st.curveMeasures()
	for i := range c.columns {
		col := &c.columns[i]
		add(columnOf(col), record.Float64, true, col.Measure.Unit.String(), meaningOf(col))
	}
	for _, s := range st.sweeps[:st.places] {
		c.sweeps = append(c.sweeps, st.Program.NewSweep(s.Motion, c.columns))
	}
	return c
}

// curveMeasures are every measure of the drawn side and across, the travel of the other wheel where it has its own, and
// what else the study asks.
func (st *Study) curveMeasures() []kin.Column {
	own, rolls := false, false
	for _, s := range st.sweeps[:st.places] {
		own = own || s.Motion.Rolls || s.Motion.Wheels != kin.BothWheels
		rolls = rolls || s.Motion.Rolls
	}
	columns := slices.DeleteFunc(st.Program.Columns(), func(c kin.Column) bool { return c.Name == bodyRoll && !rolls })
	add := func(name string) {
		c, err := st.Program.Column(name)
		if err == nil && !slices.ContainsFunc(columns, func(o kin.Column) bool { return columnOf(&o) == columnOf(&c) }) {
			columns = append(columns, c)
		}
	}
	if own {
		add(otherSide(st.File.Geometry).String() + "." + wheelTravel)
	}
	for _, t := range st.targets {
		add(t.Measure)
	}
	for i := range st.File.Limits {
		add(st.File.Limits[i].Measure)
	}
	return columns
}

// fillCurves writes the rows of one run's curves: p solved anew through every motion. A motion that it
// does not go through is left out.
func (c *curveColumns) fillCurves(rows *record.Rows, run int64, p *optimize.Point, e *Evaluator) {
	e.place(p)
	e.axes()
	if e.state.SetDesign(e.points).Status != kin.OK {
		return
	}
	for _, sw := range c.sweeps {
		values := make([]float64, sw.Size())
		if _, f := e.state.Run(sw, values); f.Status != kin.OK {
			continue
		}
		n := len(sw.Motion.Positions)
		for i := range n {
			rows.Next()
			rows.Int(0, run)
			rows.Text(1, sw.Motion.Name)
			rows.Int(2, int64(i+1))
			for k := range c.columns {
				if c.columns[k].Name == bodyRoll {
					values[k*n+i] = degreesOf(sw.Motion.Positions[i])
				}
				rows.Number(3+k, values[k*n+i])
			}
		}
	}
}

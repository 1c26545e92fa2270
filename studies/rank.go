package studies

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"

	"trammel/objectives"
	"trammel/optimize"
	"trammel/studies/record"
)

// Answer is what a study folder says in the morning.
type Answer struct {
	Study       string           `json:"study"`
	Folder      string           `json:"folder"`
	Runs        int64            `json:"runs"`     // evaluated
	Recorded    int64            `json:"recorded"` // with a row in the record
	Status      map[string]int64 `json:"status"`   // runs by status
	AnyFeasible bool             `json:"any_feasible"`
	Design      *Verdict         `json:"design"` // null when the design does not assemble
	Answers     []Verdict        `json:"answers"`
	Fewest      *Fewest          `json:"fewest_moved,omitempty"` // of the first of Answers, where fewer numbers moved do as well
	Blocking    []string         `json:"blocking_limits,omitempty"`
	Stops       []Stop           `json:"stops,omitempty"`      // where runs stop, when none goes through every motion
	Never       []string         `json:"never_kept,omitempty"` // where nothing is feasible: limits that no run can keep, in sentences without their stops
	Columns     []record.Column  `json:"columns"`              // of the table of runs
	Search      *Search          `json:"search,omitempty"`     // of the last refinement
	Front       *Front           `json:"front,omitempty"`      // of the last trade
	Notes       []string         `json:"notes,omitempty"`
	Caution     string           `json:"caution"`

	archive *Archive
	ties    int // answers at the head of the list that are as good as each other
}

// Verdict is one candidate and how it stands to everything asked.
type Verdict struct {
	Run       int64         `json:"run"`
	Status    string        `json:"status"`
	Score     float64       `json:"score"`
	Violation float64       `json:"violation"`
	Moved     []Moved       `json:"moved"`
	Points    []MovedPoint  `json:"points"`
	Lengths   []Eyes        `json:"lengths,omitempty"` // eye to eye, that are others than at design
	Targets   []TargetState `json:"targets"`
	Limits    []LimitState  `json:"limits"`
	Joints    []JointState  `json:"joints,omitempty"`
	Near      int           `json:"near"`             // recorded runs of the same standing that lie close to it
	Hits      int           `json:"hits,omitempty"`   // local searches that ended here
	Prices    []Price       `json:"prices,omitempty"` // of an answer of a local search, the dearest first

	priced bool // Prices are known, of which there may be none
}

// Moved is a varied number: what it was and is.
type Moved struct {
	Name string  `json:"name"`
	Unit string  `json:"unit,omitempty"`
	Was  float64 `json:"was"`
	Now  float64 `json:"now"`
	Kind string  `json:"kind,omitempty"` // of a choice: the option
	Edge string  `json:"edge,omitempty"` // "low" or "high" where it stands at the end of its range
}

// MovedPoint is a point of the geometry that stands elsewhere than at design, in the file's units.
type MovedPoint struct {
	Name string     `json:"name"`
	Was  [3]float64 `json:"was"`
	Now  [3]float64 `json:"now"`
	By   [3]float64 `json:"by"`
}

// Rank reads the record and says what the study found.
func (a *Archive) Rank() (*Answer, error) {
	ans := &Answer{Study: a.Study.File.Name, Folder: a.Dir(), Columns: a.view.Schema(record.TableRuns).Columns, Caution: Caution, archive: a}
	best, err := a.answers(ans) // which counts, where runs are scored anew
	if err != nil {
		return nil, err
	}
	ans.Runs, ans.Recorded, ans.Status, ans.AnyFeasible = a.count()
	design := a.Study.Space.Design()
	if v, ok := a.verdict(optimize.RunNumber(0, 0, 0), &design); ok {
		a.forgiving(&v, &design)
		ans.Design = &v
	}
	ans.Front = a.front(ans)
	for _, k := range best {
		if v, ok := a.verdict(k.Run, &optimize.Point{X: k.X, Choice: k.Choice}); ok {
			v.Near = k.near
			if k.answer != nil {
				v.Hits = k.answer.Hits
				// Where a limit is broken, what it costs is that of coming nearer to it, and none of the score.
				if k.answer.Run == k.Run && v.Status == optimize.OK.String() {
					v.Prices, v.priced = a.Study.prices(k.answer, a.e, len(ans.Answers) == 0), true
				}
			}
			if len(ans.Answers) == 0 {
				p := &optimize.Point{X: k.X, Choice: k.Choice}
				a.forgiving(&v, p)
				ans.Fewest = a.fewest(k.Run, p)
				if v.Status == optimize.OK.String() {
					a.overMotions(ans, p)
				}
			}
			ans.Answers = append(ans.Answers, v)
		}
	}
	if len(ans.Answers) > 0 && ans.Answers[0].Status != optimize.OK.String() {
		for _, l := range ans.Answers[0].Limits {
			if l.Broken {
				ans.Blocking = append(ans.Blocking, l.Name)
			}
		}
		if s := a.Study.stands(); s != nil {
			for _, r := range s.remarks() {
				if r.limit >= 0 && r.never {
					ans.Never = append(ans.Never, r.Problem.Message)
				}
			}
		}
	}
	if len(ans.Answers) == 0 && a.re == nil && ans.Recorded > 0 {
		if ans.Stops, err = a.stuck(); err != nil {
			return nil, err
		}
	}
	a.outside(ans, best)
	return ans, nil
}

// verdict solves a candidate again and says how it stands.
func (a *Archive) verdict(run int64, p *optimize.Point) (Verdict, bool) {
	st, e := a.Study, a.e
	var o optimize.Outcome
	e.Evaluate(p, &o)
	if o.Status.Failed() {
		return Verdict{}, false
	}
	v := Verdict{Run: run, Status: o.Status.String(), Score: o.Score, Violation: o.Violation}
	for i := range st.targets {
		col, t := st.columnAt(st.Objective.Targets[i].Series), e.result.Targets[i]
		says, place := st.gotOf(i, &t, e.values)
		v.Targets = append(v.Targets, TargetState{st.targets[i].Name, col.Name, col.Measure.Unit.String(), value(t.Got), t.Miss, t.Met, st.askedOf(i), says, place, t.Drawn, nil})
	}
	for i := range st.limits {
		col, l := st.limitColumn(i), e.result.Limits[i]
		says, place := st.nearestOf(i, &l, e.values, e)
		v.Limits = append(v.Limits, LimitState{st.limits[i], col.Name, col.Measure.Unit.String(), value(l.Got), l.Over, st.Objective.Limits[i].Scale, l.Over > objectives.Broken, st.limitOf(i), says, place, st.unopposed(i)})
	}
	v.Joints = e.joints()
	for i, x := range p.X {
		d := &st.Space.Dims[i]
		m := Moved{Name: d.Name, Unit: st.varyOf(i).Unit, Was: st.Space.Value(i, d.Design), Now: x}
		switch st.Space.LevelOf(i, x) {
		case 0:
			m.Edge = "low"
		case st.Space.Levels(i) - 1:
			m.Edge = "high"
		}
		v.Moved = append(v.Moved, m)
	}
	for i, k := range p.Choice {
		v.Moved = append(v.Moved, Moved{Name: st.Space.Choices[i].Name, Kind: st.Space.Choices[i].Options[k]})
	}
	g := st.geometry(p, e)
	for i, q := range st.File.Geometry.Points {
		if g.Points[i].N == q.N {
			continue
		}
		mp := MovedPoint{Name: q.Name}
		for k := range 3 {
			mp.Was[k], mp.Now[k] = g.Units.Value(q.N[k]), g.Units.Value(g.Points[i].N[k])
			mp.By[k] = g.Units.Value(g.Points[i].N[k] - q.N[k])
		}
		v.Points = append(v.Points, mp)
	}
	if len(v.Points) > 0 {
		v.Lengths = changedEyes(st.File.Geometry, g)
	}
	return v, true
}

func value(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

// JSON returns the answer as a JSON document.
func (ans *Answer) JSON() ([]byte, error) {
	text, err := json.MarshalIndent(ans, "", "  ")
	return append(text, '\n'), err
}

// Text returns the answer as a screen to read: a paragraph, what moved, one line per distinct answer.
func (ans *Answer) Text() string {
	var b strings.Builder
	ans.paragraph(&b)
	if len(ans.Answers) > 0 {
		ans.moved(&b)
		ans.enough(&b)
		ans.wanted(&b)
		ans.bores(&b)
		ans.forgives(&b)
		ans.costs(&b)
		ans.lines(&b)
		ans.compromises(&b)
	}
	for _, n := range ans.Notes {
		fmt.Fprintf(&b, "\n%s\n", n)
	}
	fmt.Fprintf(&b, "\n%s\n", Caution)
	return b.String()
}

// Table returns one row for each varied number of each distinct answer.
func (ans *Answer) Table() *Table {
	s := record.Schema{Table: "answers", Columns: []record.Column{
		{Name: "run", Type: record.Int64, Meaning: "Number of the run."},
		{Name: "score", Type: record.Float64, Meaning: "Weighted mean of the squared misses."},
		{Name: "violation", Type: record.Float64, Meaning: "0 when every limit is kept."},
		{Name: "number", Type: record.Text, Meaning: "What varied."},
		{Name: "unit", Type: record.Text, Nullable: true, Meaning: "Its unit."},
		{Name: "was", Type: record.Float64, Nullable: true, Meaning: "At design."},
		{Name: "now", Type: record.Float64, Nullable: true, Meaning: "In this answer."},
		{Name: "chosen", Type: record.Text, Nullable: true, Meaning: "Option, of a choice."},
	}}
	t := &Table{Schema: s, Rows: record.NewRows(&s)}
	for _, v := range ans.Answers {
		for _, m := range v.Moved {
			t.Rows.Next()
			t.Rows.Int(0, v.Run)
			t.Rows.Float(1, v.Score)
			t.Rows.Float(2, v.Violation)
			t.Rows.Text(3, m.Name)
			if m.Kind != "" {
				t.Rows.Text(7, m.Kind)
				continue
			}
			t.Rows.Text(4, m.Unit)
			t.Rows.Float(5, m.Was)
			t.Rows.Float(6, m.Now)
		}
	}
	return t
}

package studies

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"trammel/optimize"
	"trammel/studies/files"
	"trammel/studies/record"
)

// leader is one of the best candidates of a block or a study: enough to start a search from it or to
// draw its curves again.
type leader struct {
	Run    int64           `json:"run"`
	X      []float64       `json:"x"`
	Choice []int           `json:"choice,omitempty"`
	Status optimize.Status `json:"status"`
	Score  float64         `json:"score"`
	Over   float64         `json:"violation"`
	Far    float64         `json:"reached"`
}

func (l *leader) outcome() optimize.Outcome {
	return optimize.Outcome{Status: l.Status, Score: l.Score, Violation: l.Over, Reached: l.Far}
}

// leaders are the best candidates, best first; equals in the order in which they came.
type leaders []leader

// blockLeaders is how many each block tells of, studyLeaders how many starts a search is given.
const (
	blockLeaders = 16
	studyLeaders = 64
)

// offer takes a candidate in if it is among the best n.
func (ls *leaders) offer(n int, run int64, p *optimize.Point, o *optimize.Outcome) {
	list := *ls
	if len(list) == n {
		last := list[n-1].outcome()
		if !optimize.Better(o, &last) {
			return
		}
	}
	at := len(list)
	for at > 0 {
		before := list[at-1].outcome()
		if !optimize.Better(o, &before) {
			break
		}
		at--
	}
	l := leader{Run: run, Status: o.Status, Score: o.Score, Over: o.Violation, Far: o.Reached}
	if len(list) == n {
		l.X, l.Choice = list[n-1].X[:0], list[n-1].Choice[:0]
		list = list[:n-1]
	}
	l.X, l.Choice = append(l.X, p.X...), append(l.Choice, p.Choice...)
	*ls = slices.Insert(list, at, l)
}

// merge takes in the leaders of a later block.
func (ls *leaders) merge(n int, more leaders) {
	for i := range more {
		o := more[i].outcome()
		ls.offer(n, more[i].Run, &optimize.Point{X: more[i].X, Choice: more[i].Choice}, &o)
	}
}

func (ls leaders) clone() leaders {
	out := slices.Clone(ls)
	for i := range out {
		out[i].X, out[i].Choice = slices.Clone(out[i].X), slices.Clone(out[i].Choice)
	}
	return out
}

// newStage makes stage number i of the study, counted from 1; 0 is the design, and what an older night found
// best. best are the leaders of all stages before, from which searches start.
func (st *Study) newStage(i int, best leaders) (optimize.Stage, error) {
	if i == 0 {
		points := append([]optimize.Point{st.Space.Design()}, st.older.Points...)
		return optimize.NewPlan(&st.Space, optimize.PlanOptions{Kind: optimize.Points, Points: points, BlockRows: len(points)})
	}
	s := &st.File.Stages[i-1]
	var stage optimize.Stage
	var err error
	switch s.Kind {
	case files.Plan:
		stage, err = st.newPlan(i, s)
	case files.Refine:
		stage, err = st.newRefine(i, s, best)
	case files.Trade:
		stage, err = st.newTrade(i, s, best)
	case files.Search:
		stage, err = st.newSearch(i, s, best)
	}
	if err != nil {
		return nil, usageError{fmt.Errorf("%s:%d:%d: %w", st.File.Path, s.Pos.Line, s.Pos.Column, err)}
	}
	return stage, nil
}

// starts returns the leaders as points to start from, the best first, n at most.
func (st *Study) starts(best leaders, n int) (starts []optimize.Point) {
	for _, l := range best {
		p := optimize.Point{X: l.X, Choice: l.Choice, Parent: l.Run}
		if st.Space.Allows(&p) == nil && len(starts) < n {
			starts = append(starts, p)
		}
	}
	return starts
}

func (st *Study) newSearch(i int, s *files.Stage, best leaders) (optimize.Stage, error) {
	if s.Method == "cma-es" {
		o := optimize.DefaultCMA(&st.Space)
		o.Seed, o.Stage, o.Runs, o.Islands = st.File.Seed, i, s.Runs, s.Islands
		o.Starts = st.starts(best, cmaStarts*o.Islands)
		return optimize.NewCMA(&st.Space, o)
	}
	o := optimize.DefaultEvolution(&st.Space)
	o.Seed, o.Stage, o.Runs, o.Islands = st.File.Seed, i, s.Runs, s.Islands
	o.Starts = st.starts(best, o.Islands*o.Population)
	return optimize.NewDifferentialEvolution(&st.Space, o)
}

// cmaStarts is how many restarts of an island begin at a leader; those after them look everywhere.
const cmaStarts = 1

// newRefine makes a stage of local searches. Where the number of searches is no part of what the stage is, it
// is made without an end, and the runner says when it is enough: its rounds are the same either way.
func (st *Study) newRefine(i int, s *files.Stage, best leaders) (optimize.Stage, error) {
	o := optimize.DefaultRefine(&st.Space)
	o.Seed, o.Stage, o.Searches = st.File.Seed, i, s.Locals
	if s.Onward {
		o.Searches = endless
	}
	o.Starts = st.starts(best, studyLeaders)
	return optimize.NewRefine(&st.Space, o)
}

// endless is more local searches than anyone waits for.
const endless = 1_000_000

// enough tells whether a stage that could go on has done what is asked: rounds of as many local searches as
// the stage has when nothing else ends it.
func (st *Study) enough(number, round int) bool {
	if number == 0 {
		return false
	}
	s := &st.File.Stages[number-1]
	together := optimize.DefaultRefine(&st.Space).Together
	return s.Onward && !st.onward && round >= optimize.RefineRounds(s.Locals, together)
}

// polishShare is the part of a trade's runs that goes along derivatives at the end.
const polishShare = 4

func (st *Study) newTrade(i int, s *files.Stage, best leaders) (optimize.Stage, error) {
	o := optimize.DefaultTrade(st.aims(s))
	o.Seed, o.Stage, o.Runs, o.Islands = st.File.Seed, i, s.Runs, s.Islands
	if len(st.Space.Dims) > 0 {
		o.Polish = s.Runs / polishShare
	}
	o.Starts = st.starts(best, o.Islands*o.Population)
	return optimize.NewTrade(&st.Space, o)
}

// aims returns each target of a trade as the root mean square of its own departures over within, whatever its
// weight: its miss.
func (st *Study) aims(s *files.Stage) []optimize.Aim {
	weights := 0.0
	for i := range st.Objective.Targets {
		weights += st.Objective.Targets[i].Weight
	}
	aims := make([]optimize.Aim, len(s.Between))
	for k, t := range s.Between {
		aims[k].Scale = weights / st.Objective.Targets[t].Weight
		for r := range st.Objective.R {
			if st.Objective.R[r].Entry == t {
				aims[k].Rows = append(aims[k].Rows, r)
			}
		}
	}
	return aims
}

// planBlockRows is how many rows a block of a plan has at most: the rows of five blocks for each worker
// are in memory at once.
const planBlockRows = 512

func (st *Study) newPlan(i int, s *files.Stage) (optimize.Stage, error) {
	o := optimize.DefaultPlan()
	o.Seed, o.Stage, o.BlockRows = st.File.Seed, i, planBlockRows
	if s.Runs > 0 {
		o.Runs = s.Runs
	}
	if s.Levels > 0 {
		o.Levels = []int{s.Levels}
	}
	kind := slices.IndexFunc(optimize.PlanKinds(), func(k optimize.PlanKind) bool { return k.String() == s.Method })
	if kind < 0 {
		return nil, fmt.Errorf("plan %s is not built yet", s.Method)
	}
	o.Kind = optimize.PlanKinds()[kind]
	if s.Table != nil {
		for _, row := range s.Table.Rows {
			o.Points = append(o.Points, st.tablePoint(row))
		}
	}
	return optimize.NewPlan(&st.Space, o)
}

// tablePoint turns a row of a table of designs, one number for each entry of vary, into a point.
func (st *Study) tablePoint(row []int64) optimize.Point {
	p := optimize.Point{Parent: optimize.NoParent}
	for i, n := range row {
		v := &st.File.Vary[i]
		if v.Kind == files.VaryChoose {
			p.Choice = append(p.Choice, int(n))
		} else {
			p.X = append(p.X, float64(n)/float64(v.PerUnit))
		}
	}
	return p
}

// stageTitle says a stage as a person would.
func (st *Study) stageTitle(i int) string {
	if i == 0 {
		return "design"
	}
	switch s := &st.File.Stages[i-1]; s.Kind {
	case files.Refine:
		return "refine"
	case files.Trade:
		var names []string
		for _, t := range s.Between {
			names = append(names, st.File.Targets[t].Name)
		}
		return "trade: " + strings.Join(names, ", ")
	default:
		return s.Kind.String() + ": " + s.Method
	}
}

// sumOlder is the name in an identity of what was taken over from an older night.
const sumOlder = "older night"

// identity is what the rows depend on: geometry, motions, vary, targets, limits and seed, and of each
// stage its own definition.
func (st *Study) identity() record.Identity {
	f := st.File
	sum := func(name string, v any) record.Sum {
		text, err := json.Marshal(v)
		if err != nil {
			panic("studies: an identity that cannot be written: " + err.Error())
		}
		return record.SumOf(name, text)
	}
	motions, vary := slices.Clone(f.Motions), slices.Clone(f.Vary)
	targets, limits := slices.Clone(f.Targets), slices.Clone(f.Limits)
	for i := range motions {
		motions[i].Pos = files.Position{}
	}
	for i := range vary {
		vary[i].Pos = files.Position{}
	}
	for i := range targets {
		targets[i].Pos = files.Position{}
	}
	for i := range limits {
		limits[i].Pos = files.Position{}
	}
	common := []record.Sum{
		record.SumOf("geometry", f.Geometry.Encode()), sum("motions", motions), sum("vary", vary),
		sum("targets", targets), sum("limits", limits), sum("seed", f.Seed),
		sum("record", f.Record), sum("curves", f.Curves.Keep == files.KeepAll),
	}
	if len(st.older.Points) > 0 {
		common = append(common, sum(sumOlder, st.older.Points))
	}
	// What is recorded changes no row, but a folder keeps to one policy of rows, and has the curves of all
	// of them or not.
	id := record.Identity{{Stage: st.stageTitle(0), Sums: common}}
	for i := range f.Stages {
		s := f.Stages[i]
		s.Pos = files.Position{}
		if s.Onward {
			s.Locals = 0
		}
		if s.Table != nil {
			s.Table = &files.Table{Rows: s.Table.Rows}
		}
		id = append(id, record.StageIdentity{Stage: st.stageTitle(i + 1), Sums: []record.Sum{sum("definition", s)}})
	}
	return id
}

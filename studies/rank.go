package studies

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"text/tabwriter"

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
	Blocking    []string         `json:"blocking_limits,omitempty"`
	Columns     []record.Column  `json:"columns"`          // of the table of runs
	Search      *Search          `json:"search,omitempty"` // of the last refinement
	Front       *Front           `json:"front,omitempty"`  // of the last trade
	Notes       []string         `json:"notes,omitempty"`
	Caution     string           `json:"caution"`

	archive *Archive
}

// Verdict is one candidate and how it stands to everything asked.
type Verdict struct {
	Run       int64         `json:"run"`
	Status    string        `json:"status"`
	Score     float64       `json:"score"`
	Violation float64       `json:"violation"`
	Moved     []Moved       `json:"moved"`
	Points    []MovedPoint  `json:"points"`
	Targets   []TargetState `json:"targets"`
	Limits    []LimitState  `json:"limits"`
	Joints    []JointState  `json:"joints,omitempty"`
	Near      int           `json:"near"`                 // recorded runs of the same standing that lie close to it
	Hits      int           `json:"hits,omitempty"`       // local searches that ended here
	Prices    []Price       `json:"prices,omitempty"`     // of an answer of a local search, the dearest first
	Idle      *Idle         `json:"could_stay,omitempty"` // of the best, where it keeps every limit
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

// LimitState is how a candidate stands to a limit.
type LimitState struct {
	Name    string   `json:"name"`
	Measure string   `json:"measure"`
	Unit    string   `json:"unit,omitempty"`
	Got     *float64 `json:"got"`
	Over    float64  `json:"over"`
	Broken  bool     `json:"broken"`
	Asked   string   `json:"asked"`
	Says    string   `json:"says"`
	Place   string   `json:"place"`
}

// What makes two answers distinct, and how many are looked at and shown.
const (
	apart       = 0.1 // of a number's range
	groupsKept  = 200
	answersKept = 8
)

// Rank reads the record and says what the study found.
func (a *Archive) Rank() (*Answer, error) {
	best, err := a.distinct()
	if err != nil {
		return nil, err
	}
	ans := &Answer{Study: a.Study.File.Name, Folder: a.Dir(), Columns: a.view.Schema(record.TableRuns).Columns, Caution: Caution, archive: a}
	ans.Runs, ans.Recorded, ans.Status, ans.AnyFeasible = a.count()
	design := a.Study.Space.Design()
	if v, ok := a.verdict(optimize.RunNumber(0, 0, 0), &design); ok {
		a.forgiving(&v, &design)
		ans.Design = &v
	}
	best = a.Study.withAnswers(best, a.refined(ans))
	ans.Front = a.front(ans)
	for _, k := range best {
		if v, ok := a.verdict(k.Run, &optimize.Point{X: k.X, Choice: k.Choice}); ok {
			v.Near = k.near
			if k.answer != nil {
				v.Hits = k.answer.Hits
				// Where a limit is broken, what it costs is that of coming nearer to it, and none of the score.
				if k.answer.Run == k.Run && v.Status == optimize.OK.String() {
					v.Prices = a.Study.prices(k.answer, a.e, len(ans.Answers) == 0)
				}
			}
			if len(ans.Answers) == 0 {
				p := &optimize.Point{X: k.X, Choice: k.Choice}
				a.forgiving(&v, p)
				if v.Status == optimize.OK.String() {
					v.Idle = a.e.idle(p, v.Score)
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
	}
	a.outside(ans, best)
	return ans, nil
}

// cluster is the best run of a neighbourhood and how many recorded runs lie near it.
type cluster struct {
	leader
	near   int
	answer *optimize.Answer // of a local search; nil if none ended here
}

// distinct groups the recorded runs that keep every limit, or where none does those that break one: a
// run belongs to the first group whose best it is near in every number and choice. The best groups come
// first.
func (a *Archive) distinct() ([]cluster, error) {
	var kept, broken []cluster
	err := a.scan(func(run int64, p *optimize.Point, o *optimize.Outcome) {
		switch {
		case o.Status == optimize.OK:
			kept = a.Study.join(kept, run, p, o)
		case o.Status == optimize.OverLimit && kept == nil:
			broken = a.Study.join(broken, run, p, o)
		}
	})
	if kept == nil {
		kept = broken
	}
	return a.Study.merged(kept), err
}

// join puts a run into its group, or makes one of it. Groups stay in order of their best.
func (st *Study) join(all []cluster, run int64, p *optimize.Point, o *optimize.Outcome) []cluster {
	l := leader{Run: run, X: p.X, Choice: p.Choice, Status: o.Status, Score: o.Score, Over: o.Violation}
	at := slices.IndexFunc(all, func(c cluster) bool { return st.near(&c.leader, &l) })
	c := cluster{near: 1}
	if at >= 0 {
		was := all[at].outcome()
		if !optimize.Better(o, &was) {
			all[at].near++
			return all
		}
		c.near += all[at].near
		c.X, c.Choice = all[at].X[:0], all[at].Choice[:0]
		all = slices.Delete(all, at, at+1)
	} else if len(all) == groupsKept {
		was := all[len(all)-1].outcome()
		if !optimize.Better(o, &was) {
			return all
		}
		all = all[:len(all)-1]
	}
	l.X, l.Choice = append(c.X, p.X...), append(c.Choice, p.Choice...)
	c.leader = l
	to := len(all)
	for to > 0 {
		was := all[to-1].outcome()
		if !optimize.Better(o, &was) {
			break
		}
		to--
	}
	return slices.Insert(all, to, c)
}

// merged joins groups whose bests have come near each other, and keeps the first of what is left.
func (st *Study) merged(all []cluster) []cluster {
	var out []cluster
	for _, c := range all {
		if at := slices.IndexFunc(out, func(k cluster) bool { return st.near(&k.leader, &c.leader) }); at >= 0 {
			out[at].near += c.near
		} else {
			out = append(out, c)
		}
	}
	return out[:min(len(out), answersKept)]
}

func (st *Study) near(a, b *leader) bool {
	for i := range a.X {
		d := &st.Space.Dims[i]
		if math.Abs(a.X[i]-b.X[i])*float64(d.PerUnit) > apart*float64(d.High-d.Low) {
			return false
		}
	}
	return slices.Equal(a.Choice, b.Choice)
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
		v.Limits = append(v.Limits, LimitState{st.limits[i], col.Name, col.Measure.Unit.String(), value(l.Got), l.Over, l.Over > objectives.Broken, st.limitOf(i), says, place})
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
		ans.stays(&b)
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

func (ans *Answer) paragraph(b *strings.Builder) {
	failed := ans.Runs - ans.Status["ok"] - ans.Status["over_limit"]
	if ans.archive.re != nil {
		failed = ans.Recorded - ans.Status["ok"] - ans.Status["over_limit"]
	}
	fmt.Fprintf(b, "%s: %d runs; %d keep every limit, %d break one, %d do not go through every motion.\n", ans.Study, ans.Runs, ans.Status["ok"], ans.Status["over_limit"], failed)
	if len(ans.Answers) == 0 {
		switch {
		case ans.Recorded == 0 && ans.Runs > 0:
			b.WriteString("The study keeps no rows, so there is no answer to show; `record: {rows: all}` keeps them.\n")
		case ans.Runs == 0:
			fmt.Fprintf(b, "Nothing has been run yet. Type: trammel run %s\n", ans.archive.Study.File.Path)
		default:
			b.WriteString("No run assembles through every motion. `trammel check` says how far the design closes; a smaller box or shorter motions may help.\n")
		}
		return
	}
	best := &ans.Answers[0]
	met, missed := split(best.Targets)
	if ans.Recorded < ans.Runs {
		fmt.Fprintf(b, "%d of the runs are recorded; the answer is the best of these.\n", ans.Recorded)
	}
	if best.Status == optimize.OK.String() {
		fmt.Fprintf(b, "The best geometry is run %d, with a score of %s", best.Run, short(best.Score))
	} else {
		fmt.Fprintf(b, "Nothing keeps every limit. The least violating geometry is run %d; what blocks it: %s. Its score is %s", best.Run, strings.Join(ans.Blocking, ", "), short(best.Score))
	}
	if ans.Design != nil {
		was, _ := split(ans.Design.Targets)
		fmt.Fprintf(b, " where the design has %s. It meets %d of %d targets (the design %d)", short(ans.Design.Score), len(met), len(best.Targets), len(was))
	} else {
		fmt.Fprintf(b, ". The design does not go through every motion. It meets %d of %d targets", len(met), len(best.Targets))
	}
	if len(missed) > 0 {
		fmt.Fprintf(b, "; it misses %s", strings.Join(missed, ", "))
	}
	b.WriteString(".\n")
	var edges []string
	for _, m := range best.Moved {
		if m.Edge != "" {
			edges = append(edges, fmt.Sprintf("%s (%s)", m.Name, decimals(m.Now)))
		}
	}
	if len(edges) > 0 {
		fmt.Fprintf(b, "At the end of their range, where more room might help: %s.\n", strings.Join(edges, ", "))
	}
}

func split(targets []TargetState) (met, missed []string) {
	for _, t := range targets {
		if t.Met {
			met = append(met, t.Name)
		} else {
			missed = append(missed, t.Name)
		}
	}
	return met, missed
}

func (ans *Answer) moved(b *strings.Builder) {
	best := &ans.Answers[0]
	g := ans.archive.Study.File.Geometry
	if len(best.Points) == 0 {
		b.WriteString("\nNothing moved: no run is better than the design.\n")
		return
	}
	fmt.Fprintf(b, "\nWhat moved, in the file's axes and unit (%s):\n", g.Units)
	w := tabwriter.NewWriter(b, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "point\taxis\twas\tnow\tby\t")
	for _, p := range best.Points {
		name := p.Name
		for k, axis := range []string{"x", "y", "z"} {
			if p.By[k] == 0 {
				continue
			}
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t\n", name, axis, decimals(p.Was[k]), decimals(p.Now[k]), plus(p.By[k]))
			name = ""
		}
	}
	w.Flush()
	for _, m := range best.Moved {
		if m.Kind != "" {
			fmt.Fprintf(b, "  %s: %s\n", m.Name, m.Kind)
		} else if m.Unit == "deg" && m.Now != m.Was {
			fmt.Fprintf(b, "  %s: turned by %s deg\n", m.Name, plus(m.Now))
		}
	}
}

func (ans *Answer) lines(b *strings.Builder) {
	broken := ans.Answers[0].Status != optimize.OK.String()
	order := "best first"
	if broken {
		order = "those that break the limits least first, and of equals the best by score (violation is the sum of what broken limits are passed by, each over its scale)"
	}
	if s := ans.Search; s != nil {
		fmt.Fprintf(b, "\n%s\nDistinct answers, %s:\n", s.sentence(), order)
	} else {
		fmt.Fprintf(b, "\nDistinct answers (at least %.0f %% of a range apart in some number), %s:\n", 100*apart, order)
	}
	w := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
	for _, v := range ans.Answers {
		met, _ := split(v.Targets)
		fmt.Fprintf(w, "  run %d\t", v.Run)
		if broken {
			fmt.Fprintf(w, "violation %s\t", short(v.Violation))
		}
		fmt.Fprintf(w, "score %s\tmeets %d of %d\t%s\t%s\n", short(v.Score), len(met), len(v.Targets), v.seen(), ans.summary(&v))
	}
	w.Flush()
	best := ans.Answers[0].Run
	fmt.Fprintf(b, "\nIts curves: trammel curves %s --run %d. Its points: trammel export %s --run %d.\n", ans.Folder, best, ans.Folder, best)
}

// summary says in few words where an answer lies: the three numbers that moved most of their range.
func (ans *Answer) summary(v *Verdict) string {
	st := ans.archive.Study
	type shift struct {
		name string
		by   float64
		part float64
	}
	var all []shift
	for i := range st.Space.Dims {
		d := &st.Space.Dims[i]
		by := v.Moved[i].Now - v.Moved[i].Was
		all = append(all, shift{d.Name, by, math.Abs(by) * float64(d.PerUnit) / math.Max(float64(d.High-d.Low), 1)})
	}
	slices.SortStableFunc(all, func(a, b shift) int {
		switch {
		case a.part > b.part:
			return -1
		case a.part < b.part:
			return 1
		}
		return 0
	})
	var words []string
	for _, s := range all[:min(3, len(all))] {
		words = append(words, s.name+" "+plus(s.by))
	}
	for _, m := range v.Moved[len(st.Space.Dims):] {
		words = append(words, m.Name+": "+m.Kind)
	}
	return strings.Join(words, ", ")
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

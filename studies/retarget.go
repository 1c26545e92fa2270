package studies

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"runtime"
	"time"

	"trammel/objectives"
	"trammel/optimize"
	"trammel/studies/files"
	"trammel/studies/record"
)

// rescoring says how the runs of a record are scored anew.
type rescoring struct {
	old *Study // as the record was made
	// From the columns of the record, where they suffice: the column of every target's miss and every
	// limit's passing, in the order of the new study. Otherwise both are nil, and every run is solved again.
	miss, over []string
	failed     bool // runs that failed are solved again all the same: a place where they failed is asked no more
	workers    []*Evaluator
	counts     map[string]int64
}

// Retarget lets the archive score its runs by the targets, limits and motions of another study file, and by what the parts of
// its geometry allow and the room that they take; points and members, and what varies, stay those of the runs. It returns a
// sentence that says how: from the columns of the record where each target and limit of the new study is one of the old (names
// and weights may differ), by solving every recorded run again otherwise.
func (a *Archive) Retarget(path string) (string, error) {
	f, err := ReadStudy(path)
	if err != nil {
		return "", err
	}
	old := a.Study
	merged := *old.File
	merged.Name, merged.Path, merged.Text = f.Name, f.Path, f.Text
	merged.Motions, merged.Targets, merged.Limits = f.Motions, f.Targets, f.Limits
	kept := old.File.Geometry
	if merged.Geometry, err = kept.WithRoom(f.Geometry, old.File.Moves); err != nil {
		return "", usagef("%s cannot score these runs: %w; name the geometry of the runs in it", path, err)
	}
	room := kept.Differs(merged.Geometry)
	if room {
		merged.Vary = files.Turning(old.File.Vary, merged.Geometry)
	} else {
		merged.Geometry = kept
	}
	st, err := Bind(&merged)
	if err != nil {
		return "", err
	}
	re := &rescoring{old: old, counts: map[string]int64{}}
	why := ""
	if room {
		why = "what its parts allow, or the room that they take, is other than theirs"
	} else {
		why = re.columns(st)
	}
	a.Study, a.e, a.re, a.first = st, st.NewEvaluator(), re, nil
	text := fmt.Sprintf("Scored by the targets and limits of %s", path)
	others := merged.Geometry.Differs(f.Geometry)
	switch {
	case others && room:
		text += fmt.Sprintf(", and by what parts allow and the room that they take in %s; all else of the geometry is that of the runs, and not %s, which differs", f.GeometryPath, f.GeometryPath)
	case others:
		text += fmt.Sprintf("; the geometry is that of the runs, and not %s, which differs", f.GeometryPath)
	case room:
		text += fmt.Sprintf(", and by what parts allow and the room that they take in %s", f.GeometryPath)
	}
	if why == "" {
		text += ", from the columns of the record"
		if old.File.Record.Single {
			text += ", which hold about seven digits"
		}
		return text + ".", nil
	}
	for range runtime.GOMAXPROCS(0) {
		re.workers = append(re.workers, st.NewEvaluator())
	}
	n := a.view.Totals().Kept
	text += fmt.Sprintf(", by solving the %s recorded runs again (%s)", thousands(n), why)
	if fc, err := st.forecast(len(re.workers), deadline{}); err == nil && fc.rate > 0 {
		if d := time.Duration(float64(n) / (fc.rate * float64(len(re.workers))) * float64(time.Second)); d > 10*time.Second {
			text += ", which takes " + roughly(d)
		}
	}
	return text + ".", nil
}

// columns finds the columns of the record that the new study can be scored from; if they do not suffice
// it says why.
func (re *rescoring) columns(st *Study) (why string) {
	was, is := re.old.File, st.File
	if same(motionsOf(was), motionsOf(is)) == "" {
		return "its motions are others"
	}
	used := map[string]bool{}
	var miss, over []string
	for i := range is.Targets {
		at := ""
		for j := range was.Targets {
			if same(targetOf(&was.Targets[j]), targetOf(&is.Targets[i])) != "" {
				at = was.Targets[j].Name
			}
		}
		if at == "" {
			return "target " + is.Targets[i].Name + " is none of theirs"
		}
		used["target "+at] = true
		miss = append(miss, record.ColumnName("miss", at))
	}
	for i := range is.Limits {
		at := ""
		for j := range was.Limits {
			if same(limitOf(&was.Limits[j]), limitOf(&is.Limits[i])) != "" {
				at = was.Limits[j].Name
			}
		}
		if at == "" {
			return "limit " + is.Limits[i].Name + " is none of theirs"
		}
		used["limit "+at] = true
		over = append(over, record.ColumnName("over", at))
	}
	for _, name := range st.limits[len(is.Limits):] { // of the geometry's parts, over the same motions
		over = append(over, record.ColumnName("over", name))
	}
	for _, t := range was.Targets {
		re.failed = re.failed || t.Place != nil && !used["target "+t.Name]
	}
	for _, l := range was.Limits {
		re.failed = re.failed || l.Place != nil && !used["limit "+l.Name]
	}
	re.miss, re.over = miss, over
	re.workers = []*Evaluator{st.NewEvaluator()}
	return ""
}

// same returns the text of two things if it is the same, and "" otherwise.
func same(a, b any) string {
	x, err1 := json.Marshal(a)
	y, err2 := json.Marshal(b)
	if err1 != nil || err2 != nil || string(x) != string(y) {
		return ""
	}
	return string(x)
}

func motionsOf(f *files.Study) []files.Motion {
	out := append([]files.Motion(nil), f.Motions...)
	for i := range out {
		out[i].Pos = files.Position{}
	}
	return out
}

func targetOf(t *files.Target) files.Target {
	c := *t
	c.Name, c.Weight, c.Pos = "", 0, files.Position{}
	return c
}

func limitOf(l *files.Limit) files.Limit {
	c := *l
	c.Name, c.Pos = "", files.Position{}
	return c
}

// scan visits every recorded run with what it comes to under the archive's study.
func (a *Archive) scan(visit func(run int64, p *optimize.Point, o *optimize.Outcome)) error {
	switch re := a.re; {
	case re == nil:
		return scanRuns(a.view, a.Study, nil, func(run int64, p *optimize.Point, o *optimize.Outcome, _ []float64) { visit(run, p, o) })
	case re.miss != nil:
		return a.scanColumns(visit)
	}
	return a.scanSolving(visit)
}

// scanColumns scores runs from the columns of the record.
func (a *Archive) scanColumns(visit func(run int64, p *optimize.Point, o *optimize.Outcome)) error {
	re, st := a.re, a.Study
	clear(re.counts)
	names := append(append([]string(nil), re.miss...), re.over...)
	return scanRuns(a.view, re.old, names, func(run int64, p *optimize.Point, o *optimize.Outcome, values []float64) {
		again := o.Status.Failed() && re.failed
		if !o.Status.Failed() {
			o.Score, o.Violation = st.sum(values[:len(re.miss)], values[len(re.miss):])
			o.Status = optimize.OK
			if o.Violation > 0 {
				o.Status = optimize.OverLimit
			}
			again = math.IsNaN(o.Score + o.Violation) // a value that single precision does not reach
		}
		if again {
			o.Reset()
			o.X = append(o.X, p.X...)
			re.workers[0].Evaluate(p, o)
		}
		re.counts[o.Status.String()]++
		visit(run, p, o)
	})
}

// solvedAtOnce is how many runs each worker solves before they are visited in order.
const solvedAtOnce = 1024

// scanSolving solves every recorded run again.
func (a *Archive) scanSolving(visit func(run int64, p *optimize.Point, o *optimize.Outcome)) error {
	re := a.re
	clear(re.counts)
	type one struct {
		run int64
		p   optimize.Point
		o   optimize.Outcome
	}
	batch := make([]one, 0, solvedAtOnce*len(re.workers))
	solve := func() error {
		var blocks []int
		for at := 0; at < len(batch); at += solvedAtOnce {
			blocks = append(blocks, at)
		}
		pool := optimize.Pool{Workers: len(re.workers), Window: 2 * len(re.workers)}
		_, err := optimize.Map(context.Background(), pool, blocks, func(_ context.Context, w, at int) (int, error) {
			for i := at; i < min(at+solvedAtOnce, len(batch)); i++ {
				b := &batch[i]
				b.o.Reset()
				b.o.X = append(b.o.X, b.p.X...)
				re.workers[w].Evaluate(&b.p, &b.o)
			}
			return at, nil
		}, func(_, at int) error {
			for i := at; i < min(at+solvedAtOnce, len(batch)); i++ {
				re.counts[batch[i].o.Status.String()]++
				visit(batch[i].run, &batch[i].p, &batch[i].o)
			}
			return nil
		})
		batch = batch[:0]
		return err
	}
	var failed error
	err := scanRuns(a.view, re.old, nil, func(run int64, p *optimize.Point, _ *optimize.Outcome, _ []float64) {
		batch = batch[:len(batch)+1]
		b := &batch[len(batch)-1]
		b.run, b.p.X, b.p.Choice = run, append(b.p.X[:0], p.X...), append(b.p.Choice[:0], p.Choice...)
		if len(batch) == cap(batch) && failed == nil {
			failed = solve()
		}
	})
	if err == nil && failed == nil {
		failed = solve()
	}
	if failed != nil {
		return failed
	}
	return err
}

// count says how many runs came to what: from the manifest, or as they were scored anew.
func (a *Archive) count() (runs, recorded int64, status map[string]int64, feasible bool) {
	t := a.view.Totals()
	if a.re == nil {
		return t.Evaluated, t.Kept, t.Status, t.Feasible > 0
	}
	return t.Evaluated, t.Kept, a.re.counts, a.re.counts[optimize.OK.String()] > 0
}

// sum returns the score and the violation of misses and passings, in the order of targets and limits. It
// is what Objective.Evaluate does with them, to the last bit.
func (st *Study) sum(miss, over []float64) (score, violation float64) {
	var weights float64
	for i := range miss {
		w := st.Objective.Targets[i].Weight
		weights += w
		score += w * miss[i] * miss[i]
	}
	if weights > 0 {
		score /= weights
	}
	for _, x := range over {
		if x > objectives.Broken {
			violation += x
		}
	}
	return score, violation
}

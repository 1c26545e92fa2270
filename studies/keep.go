package studies

import (
	"math"
	"slices"
	"time"

	"trammel/optimize"
	"trammel/studies/files"
	"trammel/studies/record"
)

// emit hands block b of the round to the record and takes it in. A block that is finished was computed
// again for its state alone.
func (g *gathering) emit(b int, out *batch) error {
	if g.folder.Done(g.stage, g.first+b) {
		g.take(b, out)
		g.past.before(optimize.RunNumber(g.stage, int64(g.first+b+1), 0), &g.best)
		g.tell(false)
		return g.pause()
	}
	rows, curves := out.rows, out.curves
	if policy := g.st.File.Record.Rows; policy == files.ImprovingRows || policy == files.EveryRows {
		rows, curves = g.chosen(out)
	}
	out.counts.Kept = int64(rows.Len())
	block := record.Block{Stage: g.stage, Block: g.first + b, Rows: rows, Curves: curves, Counts: out.counts}
	if g.states != nil {
		block.State = out.search
	}
	best := g.entering(out.best)
	g.best.merge(studyLeaders, best)
	g.fresh = append(g.fresh, best.clone()...)
	if len(g.fresh) > 16*studyLeaders {
		g.fresh = g.best.only(g.fresh)
	}
	if err := g.folder.Append(block); err != nil { // which may ask for the summary
		return err
	}
	g.made += out.counts.Evaluated
	g.feasible += out.counts.Feasible
	g.take(b, out)
	g.tell(false)
	return g.pause()
}

// take takes in a block and gives its memory back.
func (g *gathering) take(b int, out *batch) {
	g.spent += out.counts.Evaluated
	if g.states != nil {
		g.states[b] = slices.Clone(out.search)
	}
	g.taken = b + 1
	g.rows = append(g.rows, out.counts.Evaluated)
	g.batches <- out
}

// summary is what the manifest keeps with the blocks that are finished now.
func (r *runner) summary() any {
	r.settle()
	e := entry{Best: r.settled, At: r.met}
	r.settled = nil
	return e
}

// settle keeps of the leaders those that are still among the best. It is called at the end of a stage as
// well, for the next one starts from what was best then.
func (r *runner) settle() {
	r.settled = append(r.settled, r.best.only(r.fresh)...)
	r.fresh = nil
}

// pause ends the run when a budget is spent or the time to stop has come.
func (r *runner) pause() error {
	b := &r.st.File.Budget
	switch {
	case b.Disk > 0 && r.folder.Bytes() >= b.Disk, b.Time > 0 && r.folder.Elapsed() >= b.Time:
		return errBudget
	case !r.options.Until.IsZero() && !r.now().Before(r.options.Until.Round(0)):
		return errUntil
	}
	return nil
}

// now reads the clock on the wall, which goes on while the machine sleeps.
func (r *runner) now() time.Time { return r.options.Record.Now().Round(0) }

// entering returns those of a block's best that are among the best of the study so far.
func (r *runner) entering(best leaders) leaders {
	if len(r.best) < studyLeaders {
		return best
	}
	last := r.best[len(r.best)-1].outcome()
	for i := range best {
		if o := best[i].outcome(); !optimize.Better(&o, &last) {
			return best[:i]
		}
	}
	return best
}

// chosen returns the rows of a block that the study keeps where it does not keep all: those better than
// every one before them, or one in so many, counted through the study. Their curves come with them.
func (g *gathering) chosen(b *batch) (rows, curves *record.Rows) {
	policy := g.st.File.Record
	rows = record.NewRows(&g.columns.schema)
	var best *optimize.Outcome
	if len(g.best) > 0 {
		o := g.best[0].outcome()
		best = &o
	}
	for i := range b.rows.Len() {
		switch {
		case policy.Rows == files.EveryRows && (g.spent+int64(i))%policy.Every == 0:
			rows.Copy(b.rows, i)
		case policy.Rows == files.ImprovingRows && (best == nil || optimize.Better(&b.ranks[i], best)):
			best = &b.ranks[i]
			rows.Copy(b.rows, i)
		}
	}
	if b.curves == nil {
		return rows, nil
	}
	p := g.st.Space.Design()
	for i := range rows.Len() {
		run, _ := rows.IntAt(colRun, i)
		if word, _ := rows.TextAt(colStatus, i); word == optimize.OK.String() || word == optimize.OverLimit.String() {
			g.st.pointAt(&p, rows, i, g.columns.vary)
			g.curves.fillCurves(b.curves, run, &p, g.e)
		}
	}
	return rows, b.curves
}

// leastScore returns the score of the best run so far that keeps every limit, infinite when there is none.
func (r *runner) leastScore() float64 {
	if len(r.best) == 0 || r.best[0].Status != optimize.OK {
		return math.Inf(1)
	}
	return r.best[0].Score
}

// tell reports progress about once a second.
func (r *runner) tell(last bool) {
	now := time.Now()
	if r.options.Progress == nil || !last && now.Sub(r.told) < time.Second {
		return
	}
	r.told = now
	p := Progress{Runs: r.had + r.made, Expected: r.expected, Best: math.NaN(), Stage: r.st.stageTitle(r.stage), AtMost: r.atMost}
	if r.refine != nil {
		p.Answers = r.refine.Unseen().Answers
	}
	if s := now.Sub(r.began).Seconds(); s > 0 {
		p.PerSecond = float64(r.made) / s
	}
	if r.made > 0 {
		p.Feasible = float64(r.feasible) / float64(r.made)
	}
	if s := r.leastScore(); !math.IsInf(s, 1) {
		p.Best = s
	}
	if p.PerSecond > 0 && p.Expected > p.Runs && !p.AtMost {
		p.Left = time.Duration(float64(p.Expected-p.Runs) / p.PerSecond * float64(time.Second))
	}
	r.options.Progress(p)
}

// factCurves is the key in the manifest under which curvesOf stands.
const factCurves = "curves"

// curvesOf says of what the curves in the folder are the best.
type curvesOf struct {
	Runs int64 `json:"runs"` // evaluated
	Best int   `json:"best"`
}

// keepCurves writes the curves of the best runs in place of those that were there, unless those are
// of the same runs.
func (r *runner) keepCurves() error {
	if err := r.folder.Flush(); err != nil {
		return err
	}
	now := curvesOf{r.folder.Totals().Evaluated, r.st.File.Curves.Best}
	var was curvesOf
	if found, err := r.folder.Fact(factCurves, &was); err != nil || found && was == now {
		return err
	}
	best, err := bestRuns(&r.folder.View, r.st, now.Best)
	if err != nil {
		return err
	}
	if len(best) == 0 {
		best = r.best[:min(len(r.best), now.Best)]
	}
	rows := record.NewRows(&r.curves.schema)
	err = r.folder.Replace(record.TableCurves, func(add func(*record.Rows) error) error {
		for i := range best {
			rows.Reset()
			r.curves.fillCurves(rows, best[i].Run, &optimize.Point{X: best[i].X, Choice: best[i].Choice}, r.e)
			if err := add(rows); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	return r.folder.SetFact(factCurves, now)
}

package studies

import (
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"strings"
	"time"

	"trammel/optimize"
	"trammel/studies/files"
	"trammel/studies/record"
)

// RunOptions says how a study is run.
type RunOptions struct {
	Dir      string         // the study folder; DefaultDir of the study file when empty
	Workers  int            // 0: one for each processor
	Until    time.Time      // when to stop; zero: no such time
	Progress func(Progress) // called about once a second, and at the end; may be nil
	Record   record.Options // zero: record.DefaultOptions
}

// Progress is how far a run has come.
type Progress struct {
	Runs, Expected int64
	PerSecond      float64
	Feasible       float64       // share of the runs that keep every limit
	Best           float64       // least score of those; NaN when there is none
	Left           time.Duration // 0 when it cannot be said
	Stage          string
}

// Ending says why a run ended.
type Ending uint8

// The endings.
const (
	Finished Ending = iota
	BudgetSpent
	Interrupted
)

// RunResult is what a run came to.
type RunResult struct {
	Dir       string
	Ended     Ending
	Runs      int64 // in the folder
	Made      int64 // by this run
	Feasible  int64
	Elapsed   time.Duration // of this run
	IdleShare float64
	Sentence  string // how it ended and what goes on
	Notes     []string
}

// errBudget ends a run whose budget of time is spent.
var errBudget = errors.New("the budget is spent")

// DefaultDir returns the study folder that belongs to a study file: beside it, with -runs for .yaml.
func DefaultDir(path string) string {
	return strings.TrimSuffix(strings.TrimSuffix(path, ".yaml"), ".yml") + "-runs"
}

// IsUsage tells whether an error is a mistake in files or words, and not of the machine.
func IsUsage(err error) bool {
	var u usageError
	var p files.Problems
	return errors.As(err, &u) || errors.As(err, &p)
}

// Run solves the runs of a study, or goes on with them. When ctx ends it stops between two candidates,
// keeps what is finished and says so by Interrupted; the error is nil then.
func Run(ctx context.Context, f *files.Study, o RunOptions) (*RunResult, error) {
	st, err := Bind(f)
	if err != nil {
		return nil, err
	}
	r, err := st.newRunner(o)
	if err != nil {
		return nil, err
	}
	defer r.folder.Close()
	if !o.Until.IsZero() {
		var cancel context.CancelFunc
		ctx, cancel = context.WithDeadlineCause(ctx, o.Until, errBudget)
		defer cancel()
	}
	if left := f.Budget.Time - r.folder.Elapsed(); f.Budget.Time > 0 {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeoutCause(ctx, max(left, 0), errBudget)
		defer cancel()
	}
	ending, err := r.stages(ctx)
	if err != nil {
		return nil, err
	}
	if f.Curves.Keep == files.KeepBest && r.made > 0 {
		if err := r.keepCurves(); err != nil {
			return nil, err
		}
	}
	if err := r.folder.Close(); err != nil {
		return nil, err
	}
	return r.result(ending), nil
}

// runner is one run at work. Only the pool's workers run beside its goroutine.
type runner struct {
	st       *Study
	options  RunOptions
	folder   *record.Folder
	columns  *runColumns
	curves   *curveColumns
	workers  []*worker
	batches  chan *batch // free
	best     leaders     // of all finished blocks
	began    time.Time
	told     time.Time
	made     int64
	feasible int64
	expected int64
	seen     float64 // least score of a feasible run emitted; infinite when none
	stats    optimize.PoolStats
	stage    int
	spans    int   // finished spans when size was summed
	size     int64 // bytes of the closed parts
}

// worker is what one goroutine of the pool works in.
type worker struct {
	e       *Evaluator
	scratch optimize.BlockScratch
}

// batch is what a block brings back.
type batch struct {
	rows, curves *record.Rows
	counts       record.Counts
	best         leaders
	scores       []float64 // of each row, for `improving`
	search       []byte
	status       [8]int64
}

func (st *Study) newRunner(o RunOptions) (*runner, error) {
	if o.Dir == "" {
		o.Dir = DefaultDir(st.File.Path)
	}
	if o.Workers <= 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	if o.Record.Now == nil {
		o.Record = record.DefaultOptions()
	}
	columns, err := st.runLayout()
	if err != nil {
		return nil, err
	}
	r := &runner{st: st, options: o, columns: columns, curves: st.curveLayout(), began: time.Now(), seen: math.Inf(1)}
	for i := range st.File.Stages {
		stage, err := st.newStage(i+1, nil)
		if err != nil {
			return nil, err
		}
		r.expected += stage.Runs()
	}
	r.expected++ // design
	if b := st.File.Budget.Runs; b > 0 {
		r.expected = min(r.expected, b)
	}
	if err := r.open(); err != nil {
		return nil, err
	}
	window := 4 * o.Workers
	r.batches = make(chan *batch, window+o.Workers)
	for range window + o.Workers {
		b := &batch{rows: record.NewRows(&columns.schema)}
		if st.File.Curves.Keep == files.KeepAll {
			b.curves = record.NewRows(&r.curves.schema)
		}
		r.batches <- b
	}
	for range o.Workers {
		r.workers = append(r.workers, &worker{e: st.NewEvaluator()})
	}
	return r, nil
}

// open makes the study folder, or opens the one that is there if it belongs to this study and build.
func (r *runner) open() error {
	st, dir := r.st, r.options.Dir
	id := st.identity()
	build := Build()
	if !record.Exists(dir) {
		for _, s := range []*record.Schema{&r.columns.schema, &r.curves.schema} {
			s.Meta = st.meta()
		}
		folder, err := record.Create(dir, record.Header{Study: st.File.Name, Build: build, Identity: id}, st.frozen(), r.options.Record, r.columns.schema, r.curves.schema)
		if err != nil {
			return err
		}
		r.folder = folder
		return folder.SetFact(factInputs, st.inputs())
	}
	folder, err := record.Open(dir, build, r.options.Record)
	if err != nil {
		return err
	}
	r.folder = folder
	refuse := func(format string, args ...any) error {
		folder.Close()
		return usageError{fmt.Errorf(format, args...)}
	}
	old, err := folder.Identity()
	if err != nil {
		folder.Close()
		return err
	}
	if d := record.CheckIdentity(old, id); len(d) > 0 {
		var what []string
		for _, x := range d {
			what = append(what, x.String())
		}
		return refuse("%s holds runs of this study as it was before: %s. Put the study back as it was to go on, or run it into another folder: trammel run %s --out %s",
			dir, strings.Join(what, "; "), st.File.Path, dir+"-2")
	}
	if was := folder.Header().Build; was != build {
		return refuse("%s was made by another build of trammel (%s; this one is %s), whose rows may differ in the last digit. Go on with that build, or run into another folder: trammel run %s --out %s",
			dir, was, build, st.File.Path, dir+"-2")
	}
	var in inputs
	if found, err := folder.Fact(factInputs, &in); err != nil || !found {
		if err := folder.SetFact(factInputs, st.inputs()); err != nil {
			folder.Close()
			return err
		}
	}
	if len(id) > len(old) {
		if err := folder.SetIdentity(id); err != nil {
			folder.Close()
			return err
		}
	}
	return nil
}

// stages runs every stage that is not finished.
func (r *runner) stages(ctx context.Context) (Ending, error) {
	for i := range len(r.st.File.Stages) + 1 {
		r.stage = i
		stage, err := r.st.newStage(i, r.best)
		if err != nil {
			return Finished, err
		}
		ending, err := r.rounds(ctx, i, stage)
		if ending != Finished || err != nil {
			return ending, err
		}
	}
	r.tell(true)
	return Finished, nil
}

// rounds runs a stage, round by round.
func (r *runner) rounds(ctx context.Context, number int, stage optimize.Stage) (Ending, error) {
	first := 0 // number in the stage of the round's first block
	for round := 0; ; round++ {
		n := stage.Blocks(round)
		if n == 0 {
			return Finished, nil
		}
		states := make([][]byte, n)
		best := make([]leaders, n)
		var todo []int
		ended := Finished
		for b := range n {
			if r.folder.Done(number, first+b) {
				continue
			}
			if r.overBudget(stage, round, append(todo, b)) {
				ended = BudgetSpent
				break
			}
			todo = append(todo, b)
		}
		err := r.blocks(ctx, number, first, round, stage, todo, states, best)
		switch {
		case errors.Is(err, errBudget):
			return BudgetSpent, nil
		case err != nil && ctx.Err() != nil:
			return Interrupted, nil
		case err != nil:
			return Finished, err
		case ended != Finished:
			return ended, nil
		}
		if err := r.gather(number, first, states, best); err != nil {
			return Finished, err
		}
		if err := stage.Meet(round, states); err != nil {
			return Finished, err
		}
		first += n
	}
}

// gather completes the states and leaders of a round from the manifest, and takes in the leaders in
// the order of blocks.
func (r *runner) gather(number, first int, states [][]byte, best []leaders) error {
	for b := range states {
		if states[b] == nil {
			text, err := r.folder.State(number, first+b)
			if err != nil {
				return err
			}
			s, err := decodeState(text)
			if err != nil {
				return err
			}
			states[b], best[b] = s.Search, s.Best
		}
		r.best.merge(studyLeaders, best[b])
	}
	return nil
}

// overBudget tells whether the last of the blocks to do would pass the budget of runs.
func (r *runner) overBudget(stage optimize.Stage, round int, todo []int) bool {
	limit := r.st.File.Budget.Runs
	if limit <= 0 {
		return false
	}
	runs := r.folder.Totals().Evaluated
	for _, b := range todo {
		runs += int64(stage.Budget(round, b))
	}
	return runs > limit
}

// blocks runs the blocks of a round that are still to do and hands them to the record in order.
func (r *runner) blocks(ctx context.Context, number, first, round int, stage optimize.Stage, todo []int, states [][]byte, best []leaders) error {
	pool := optimize.Pool{Workers: r.options.Workers, Window: 4 * r.options.Workers, Clock: func() int64 { return int64(time.Since(r.began)) }}
	do := func(ctx context.Context, w, b int) (*batch, error) {
		return r.block(ctx, r.workers[w], number, first+b, stage.Start(round, b), stage.Budget(round, b))
	}
	emit := func(b int, out *batch) error {
		states[b], best[b] = out.search, out.best.clone()
		if states[b] == nil {
			states[b] = []byte{}
		}
		return r.emit(number, first+b, out)
	}
	stats, err := optimize.Map(ctx, pool, todo, do, emit)
	r.stats.Add(stats)
	return err
}

// block solves the candidates of one block.
func (r *runner) block(ctx context.Context, w *worker, number, block int, s optimize.Searcher, budget int) (*batch, error) {
	b := <-r.batches
	b.rows.Reset()
	if b.curves != nil {
		b.curves.Reset()
	}
	b.counts, b.best, b.scores, b.status = record.Counts{}, b.best[:0], b.scores[:0], [8]int64{}
	policy := r.st.File.Record
	_, err := optimize.RunBlock(ctx, s, w.e, budget, &w.scratch, func(i int, p *optimize.Point, o *optimize.Outcome) {
		run := optimize.RunNumber(number, int64(block), i)
		b.status[o.Status]++
		b.best.offer(blockLeaders, run, p, o)
		if policy.Rows == files.NoRows || policy.Rows == files.EveryRows && int64(i)%policy.Every != 0 {
			return
		}
		r.columns.fill(b.rows, run, number, block, p, o, w.e)
		if policy.Rows == files.ImprovingRows {
			b.scores = append(b.scores, rankNumber(o))
		}
		if b.curves != nil && !o.Status.Failed() {
			r.curves.fillCurves(b.curves, run, p, w.e)
		}
	})
	if err != nil {
		return nil, err
	}
	b.counts.Status = map[string]int64{}
	for i, n := range b.status {
		if n > 0 {
			b.counts.Status[optimize.Status(i).String()] = n
			b.counts.Evaluated += n
		}
	}
	b.counts.Feasible = b.status[optimize.OK]
	b.search = s.AppendState(nil)
	return b, nil
}

// rankNumber orders outcomes of one study as Better does, for `improving`: the score of a feasible one;
// what is not feasible never improves.
func rankNumber(o *optimize.Outcome) float64 {
	if !o.Feasible() {
		return math.Inf(1)
	}
	return o.Score
}

// emit hands a block to the record.
func (r *runner) emit(number, block int, b *batch) error {
	rows := b.rows
	if r.st.File.Record.Rows == files.ImprovingRows {
		rows = r.improving(b)
	}
	b.counts.Kept = int64(rows.Len())
	state := blockState{Search: b.search, Best: b.best}
	err := r.folder.Append(record.Block{Stage: number, Block: block, Rows: rows, Curves: b.curves, State: state.encode(), Counts: b.counts})
	if err != nil {
		return err
	}
	r.made += b.counts.Evaluated
	r.feasible += b.counts.Feasible
	if len(b.best) > 0 && b.best[0].Status == optimize.OK {
		r.seen = min(r.seen, b.best[0].Score)
	}
	r.batches <- b
	r.tell(false)
	if limit := r.st.File.Budget.Disk; limit > 0 && r.bytes() >= limit {
		return errBudget
	}
	return nil
}

// bytes returns what the closed parts of the folder take on the disk.
func (r *runner) bytes() (sum int64) {
	if n := len(r.folder.Finished()); n == r.spans {
		return r.size
	} else {
		r.spans = n
	}
	for _, table := range []string{record.TableRuns, record.TableCurves} {
		for _, p := range r.folder.Parts(table) {
			sum += p.Bytes
		}
	}
	r.size = sum
	return sum
}

// improving keeps the rows that are better than every one before them.
func (r *runner) improving(b *batch) *record.Rows {
	kept := record.NewRows(&r.columns.schema)
	best := math.Inf(1)
	if len(r.best) > 0 && r.best[0].Status == optimize.OK {
		best = r.best[0].Score
	}
	for i, s := range b.scores {
		if s < best {
			best = s
			kept.Copy(b.rows, i)
		}
	}
	return kept
}

// tell reports progress about once a second.
func (r *runner) tell(last bool) {
	now := time.Now()
	if r.options.Progress == nil || !last && now.Sub(r.told) < time.Second {
		return
	}
	r.told = now
	totals := r.folder.Totals()
	runs := max(totals.Evaluated, r.made)
	p := Progress{Runs: runs, Expected: r.expected, Best: math.NaN(), Stage: r.st.stageTitle(r.stage)}
	if s := now.Sub(r.began).Seconds(); s > 0 {
		p.PerSecond = float64(r.made) / s
	}
	if r.made > 0 {
		p.Feasible = float64(r.feasible) / float64(r.made)
	}
	if len(r.best) > 0 && r.best[0].Status == optimize.OK {
		r.seen = min(r.seen, r.best[0].Score)
	}
	if !math.IsInf(r.seen, 1) {
		p.Best = r.seen
	}
	if p.PerSecond > 0 && p.Expected > p.Runs {
		p.Left = time.Duration(float64(p.Expected-p.Runs) / p.PerSecond * float64(time.Second))
	}
	r.options.Progress(p)
}

// keepCurves writes the curves of the best runs in place of those that were there.
func (r *runner) keepCurves() error {
	if err := r.folder.Flush(); err != nil {
		return err
	}
	best, err := bestRuns(&r.folder.View, r.st, r.st.File.Curves.Best)
	if err != nil {
		return err
	}
	if len(best) == 0 {
		best = r.best
	}
	rows := record.NewRows(&r.curves.schema)
	return r.folder.Replace(record.TableCurves, func(add func(*record.Rows) error) error {
		for i := range best {
			rows.Reset()
			r.curves.fillCurves(rows, best[i].Run, &optimize.Point{X: best[i].X, Choice: best[i].Choice}, r.workers[0].e)
			if err := add(rows); err != nil {
				return err
			}
		}
		return nil
	})
}

func (r *runner) result(ending Ending) *RunResult {
	t := r.folder.Totals()
	res := &RunResult{Dir: r.options.Dir, Ended: ending, Runs: t.Evaluated, Made: r.made, Feasible: t.Feasible,
		Elapsed: time.Since(r.began), IdleShare: r.stats.IdleShare(), Notes: r.folder.Notes()}
	again := fmt.Sprintf("trammel run %s", r.st.File.Path)
	if r.options.Dir != DefaultDir(r.st.File.Path) {
		again += " --out " + r.options.Dir
	}
	switch ending {
	case Finished:
		res.Sentence = fmt.Sprintf("Finished: %d runs, %d of them keep every limit. The answer: trammel rank %s", t.Evaluated, t.Feasible, r.options.Dir)
	case BudgetSpent:
		res.Sentence = fmt.Sprintf("The budget is spent after %d runs, %d of them keep every limit. With a larger budget, %s goes on. The answer so far: trammel rank %s", t.Evaluated, t.Feasible, again, r.options.Dir)
	case Interrupted:
		res.Sentence = fmt.Sprintf("Stopped; %d runs are kept. To go on: %s", t.Evaluated, again)
	}
	return res
}

// meta is what every part of a study says of itself.
func (st *Study) meta() map[string]string {
	return map[string]string{
		"study": st.File.Name, "study_text": string(st.File.Text), "geometry_text": string(st.File.Geometry.Text),
		"seed": fmt.Sprint(st.File.Seed), "build": Build(), "units": st.File.Geometry.Units.String(),
		"caution": Caution,
	}
}

// Caution stands on everything that someone could build from.
const Caution = "Kinematics of ideal joints, no proof of strength. Parts that carry people need a qualified engineer's check, and local rules (road approval, sport regulations) come first."

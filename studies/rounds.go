package studies

import (
	"context"
	"errors"
	"time"

	"trammel/optimize"
	"trammel/studies/files"
	"trammel/studies/record"
)

// stages runs every stage that is not finished.
func (r *runner) stages(ctx context.Context) (Ending, error) {
	partial := false // a shard: some block before is another's
	for i := range len(r.st.File.Stages) + 1 {
		r.stage = i
		last, over, err := overAt(&r.folder.View, i)
		if err != nil {
			return Finished, err
		}
		if over && !(r.st.onward && i > 0 && r.st.File.Stages[i-1].Onward) {
			counts, _ := r.folder.CountsOf(i, 0, last.First+last.Blocks-1)
			r.spent += counts.Evaluated
			r.past.before(optimize.RunNumber(i+1, 0, 0), &r.best)
			continue
		}
		stage, err := r.st.newStage(i, r.best.clone())
		if err != nil {
			return Finished, err
		}
		if partial && !isPlan(stage) {
			return ShardDone, nil
		}
		ending, err := r.rounds(ctx, i, stage)
		r.settle()
		if ending == ShardDone && isPlan(stage) {
			partial = true
			ending = Finished
		}
		if ending != Finished || err != nil {
			return ending, err
		}
	}
	if partial {
		return ShardDone, nil
	}
	return Finished, nil
}

// isPlan tells whether a stage is a plan: its blocks know of nothing, neither of each other nor of what
// was found before.
func isPlan(s optimize.Stage) bool {
	_, plan := s.(*optimize.Plan)
	return plan
}

// rounds runs a stage, round by round.
func (r *runner) rounds(ctx context.Context, number int, stage optimize.Stage) (Ending, error) {
	round, first, err := r.resume(number, stage) // first: number in the stage of the round's first block
	if err != nil {
		return Finished, err
	}
	for ; ; round++ {
		n := stage.Blocks(round)
		if n == 0 || r.st.enough(number, round) {
			if isPlan(stage) {
				return Finished, nil
			}
			return Finished, r.folder.SetFact(stageOver(number), r.met)
		}
		g := &gathering{runner: r, stage: number, first: first, budget: func(b int) int { return stage.Budget(round, b) }}
		if !isPlan(stage) {
			g.states = make([][]byte, n)
		}
		others, ending, err := r.round(ctx, g, round, n, stage)
		if ending != Finished || err != nil {
			return ending, err
		}
		if others {
			return ShardDone, nil
		}
		if !isPlan(stage) {
			if err := stage.Meet(round, g.states); err != nil {
				return Finished, err
			}
			if refine, ok := stage.(*optimize.Refine); ok {
				r.refine = refine
			}
			r.met = &reached{number, round, first, n}
			r.folder.Forget(number, first)
		}
		first += n
	}
}

// round runs what is to be done of a round of n blocks, and tells whether some of it is another shard's. A
// block that ended before its rows were spent leaves them to those after it.
func (r *runner) round(ctx context.Context, g *gathering, round, n int, stage optimize.Stage) (others bool, ending Ending, err error) {
	g.before = r.spent
	for {
		todo, whole := g.todo(n)
		if !whole && len(todo.blocks) == 0 {
			return false, BudgetSpent, nil
		}
		err := r.blocks(ctx, g, round, stage, todo.blocks)
		switch {
		case errors.Is(err, errBudget):
			r.until = errors.Is(err, errUntil)
			return false, BudgetSpent, nil
		case err != nil && ctx.Err() != nil:
			return false, Interrupted, nil
		case err != nil:
			return false, Finished, err
		case whole:
			return todo.others, Finished, g.upTo(n)
		}
	}
}

// work is what is to be done of a round.
type work struct {
	blocks []int
	others bool // some blocks are another shard's
}

// todo returns the blocks of a round that are to be run, as far as the budget of runs allows, and whether
// that is all of them: those that are not finished, and those that are and whose states are needed and
// gone. A finished block counts with the rows it has, any other as full.
func (g *gathering) todo(n int) (w work, whole bool) {
	limit, runs := g.st.File.Budget.Runs, g.before
	from, to := g.options.Shard.part(n)
	for b := range n {
		if b < g.taken {
			runs += g.rows[b]
			continue
		}
		done := g.folder.Done(g.stage, g.first+b)
		if counts, known := g.folder.CountsOf(g.stage, g.first+b, g.first+b); done && known {
			runs += counts.Evaluated
		} else {
			runs += int64(g.budget(b))
		}
		switch {
		case done && !g.lacks(b):
		case limit > 0 && runs > limit && !done:
			return w, false
		case !done && (b < from || b >= to) && g.stage > 0: // every shard has the design
			w.others = true
		default:
			w.blocks = append(w.blocks, b)
		}
	}
	return w, true
}

// lacks tells whether the state of a finished block is needed and not kept.
func (g *gathering) lacks(b int) bool {
	if g.states == nil {
		return false
	}
	state, err := g.folder.State(g.stage, g.first+b)
	return err == nil && state == nil
}

// gathering takes in the blocks of a round in their order.
type gathering struct {
	*runner
	stage, first int
	states       [][]byte // of the searches; nil in a plan, which needs none
	taken        int      // blocks taken in
	rows         []int64  // runs of each of them
	before       int64    // runs of all blocks before the round
	budget       func(b int) int
}

// upTo takes in every block before block b of the round that was finished before.
func (g *gathering) upTo(b int) error {
	for g.taken < b {
		from := g.first + g.taken
		end := g.taken
		for end < b && g.folder.Done(g.stage, g.first+end) {
			end++
		}
		if end == g.taken { // another shard's, of a plan, whose blocks are always full
			g.spent += int64(g.budget(end))
			g.rows = append(g.rows, int64(g.budget(end)))
			g.taken++
			continue
		}
		counts, _ := g.folder.CountsOf(g.stage, from, g.first+end-1)
		g.spent += counts.Evaluated
		for ; g.taken < end; g.taken++ {
			one, _ := g.folder.CountsOf(g.stage, g.first+g.taken, g.first+g.taken)
			g.rows = append(g.rows, one.Evaluated)
			if g.states == nil {
				continue
			}
			state, err := g.folder.State(g.stage, g.first+g.taken)
			if err != nil {
				return err
			}
			g.states[g.taken] = state
		}
	}
	g.past.before(optimize.RunNumber(g.stage, int64(g.first+b), 0), &g.best)
	return nil
}

// blocks runs the blocks of a round that are still to do and hands them to the record in order.
func (r *runner) blocks(ctx context.Context, g *gathering, round int, stage optimize.Stage, todo []int) error {
	pool := optimize.Pool{Workers: r.options.Workers, Window: 4 * r.options.Workers, Clock: func() int64 { return int64(time.Since(r.began)) },
		Beat: beat, OnTick: r.tick}
	do := func(ctx context.Context, w, b int) (*batch, error) {
		return r.block(ctx, r.workers[w], g.stage, g.first+b, stage.Start(round, b), stage.Budget(round, b))
	}
	emit := func(b int, out *batch) error {
		if b > g.taken { // blocks that were finished before lie between: what is noted together stays in order
			if err := r.folder.Flush(); err != nil {
				return err
			}
		}
		if err := g.upTo(b); err != nil {
			return err
		}
		return g.emit(b, out)
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
	b.counts, b.best, b.ranks, b.status = record.Counts{}, b.best[:0], b.ranks[:0], [8]int64{}
	policy := r.st.File.Record
	_, err := optimize.RunBlock(ctx, s, w.e, budget, &w.scratch, func(i int, p *optimize.Point, o *optimize.Outcome) {
		run := optimize.RunNumber(number, int64(block), i)
		b.status[o.Status]++
		b.best.offer(blockLeaders, run, p, o)
		if policy.Rows == files.NoRows {
			return
		}
		r.columns.fill(b.rows, run, number, block, p, o, w.e)
		if policy.Rows == files.ImprovingRows {
			b.ranks = append(b.ranks, optimize.Outcome{Status: o.Status, Reached: o.Reached, Score: o.Score, Violation: o.Violation})
		}
		if b.curves != nil && policy.Rows == files.AllRows && !o.Status.Failed() {
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

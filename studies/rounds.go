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
	for i := range len(r.st.File.Stages) + 1 {
		r.stage = i
		stage, err := r.st.newStage(i, r.best.clone())
		if err != nil {
			return Finished, err
		}
		ending, err := r.rounds(ctx, i, stage)
		if ending != Finished || err != nil {
			return ending, err
		}
	}
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
		g := &gathering{runner: r, stage: number, first: first, states: make([][]byte, n)}
		todo, whole := r.todo(stage, number, first, round)
		err := r.blocks(ctx, g, round, stage, todo)
		switch {
		case errors.Is(err, errBudget):
			r.until = errors.Is(err, errUntil)
			return BudgetSpent, nil
		case err != nil && ctx.Err() != nil:
			return Interrupted, nil
		case err != nil:
			return Finished, err
		case !whole:
			return BudgetSpent, nil
		}
		if err := g.upTo(n); err != nil {
			return Finished, err
		}
		if err := stage.Meet(round, g.states); err != nil {
			return Finished, err
		}
		first += n
	}
}

// todo returns the blocks of a round that are not finished, as far as the budget of runs allows, and
// whether that is all of them. It counts every block of the round as full, finished or not, so that a
// resumed study stops where one in one piece does.
func (r *runner) todo(stage optimize.Stage, number, first, round int) (todo []int, whole bool) {
	limit, runs := r.st.File.Budget.Runs, r.spent
	for b := range stage.Blocks(round) {
		runs += int64(stage.Budget(round, b))
		switch {
		case r.folder.Done(number, first+b):
		case limit > 0 && runs > limit:
			return todo, false
		default:
			todo = append(todo, b)
		}
	}
	return todo, true
}

// gathering takes in the blocks of a round in their order, those that were finished before from the
// manifest.
type gathering struct {
	*runner
	stage, first int
	states       [][]byte // of the searches
	taken        int      // blocks taken in
}

// take takes in the next block.
func (g *gathering) take(s *blockState) {
	g.best.merge(studyLeaders, s.Best)
	g.spent += s.Runs
	g.states[g.taken] = s.Search
	g.taken++
}

// upTo takes in every finished block before block b of the round.
func (g *gathering) upTo(b int) error {
	for g.taken < b {
		text, err := g.folder.State(g.stage, g.first+g.taken)
		if err != nil {
			return err
		}
		s, err := decodeState(text)
		if err != nil {
			return err
		}
		g.take(&s)
	}
	return nil
}

// blocks runs the blocks of a round that are still to do and hands them to the record in order.
func (r *runner) blocks(ctx context.Context, g *gathering, round int, stage optimize.Stage, todo []int) error {
	pool := optimize.Pool{Workers: r.options.Workers, Window: 4 * r.options.Workers, Clock: func() int64 { return int64(time.Since(r.began)) }}
	do := func(ctx context.Context, w, b int) (*batch, error) {
		return r.block(ctx, r.workers[w], g.stage, g.first+b, stage.Start(round, b), stage.Budget(round, b))
	}
	emit := func(b int, out *batch) error {
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

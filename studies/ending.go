package studies

import (
	"fmt"
	"time"

	"trammel/studies/files"
)

// result says what the run came to.
func (r *runner) result(ending Ending) *RunResult {
	t := r.folder.Totals()
	res := &RunResult{Dir: r.options.Dir, Ended: ending, Runs: t.Evaluated, Made: r.made, Feasible: t.Feasible,
		Elapsed: time.Since(r.began), IdleShare: r.stats.IdleShare(), Notes: append(r.repaired, r.folder.Notes()...)}
	if s := r.folder.Slept(); s > 0 {
		res.Notes = append(res.Notes, fmt.Sprintf("The machine slept for %s meanwhile; that counts neither as work nor against the budget of time.", roughly(s)))
	}
	kept := ""
	if left := t.Evaluated - t.Kept; left > 0 {
		kept = fmt.Sprintf(" %d of them are recorded, and %d are left out as the study asks (%s).", t.Kept, left, policyOf(r.st.File.Record))
	}
	again := r.again()
	switch ending {
	case Finished:
		res.Sentence = fmt.Sprintf("Finished: %d runs, %d of them keep every limit.%s The answer: trammel rank %s", t.Evaluated, t.Feasible, kept, r.options.Dir)
	case BudgetSpent:
		if r.until {
			res.Sentence = fmt.Sprintf("Stopped at the time asked for, after %d runs, %d of them keep every limit.%s To go on: %s. The answer so far: trammel rank %s", t.Evaluated, t.Feasible, kept, again, r.options.Dir)
			break
		}
		res.Sentence = fmt.Sprintf("The budget is spent after %d runs, %d of them keep every limit.%s With a larger budget, %s goes on. The answer so far: trammel rank %s", t.Evaluated, t.Feasible, kept, again, r.options.Dir)
	case Interrupted:
		res.Sentence = fmt.Sprintf("Stopped; %d runs are kept. To go on: %s", t.Evaluated, again)
	case ShardDone:
		s := r.options.Shard
		res.Sentence = fmt.Sprintf("Shard %d of %d is done: %d runs, %d of them keep every limit.%s When all %d are done, join them: trammel gather %s", s.Index, s.Of, t.Evaluated, t.Feasible, kept, s.Of, r.gatherAll())
	}
	return res
}

// again is the command that goes on with this run.
func (r *runner) again() string {
	again := fmt.Sprintf("trammel run %s", r.st.File.Path)
	whole := DefaultDir(r.st.File.Path)
	if s := r.options.Shard; s.Of > 0 {
		again += fmt.Sprintf(" --shard %d/%d", s.Index, s.Of)
		whole = s.dirOf(whole)
	}
	if r.options.Dir != whole {
		again += " --out " + r.options.Dir
	}
	return again
}

// gatherAll names the folders of all shards, as they are called if nobody chose otherwise.
func (r *runner) gatherAll() string {
	s, whole := r.options.Shard, DefaultDir(r.st.File.Path)
	switch {
	case r.options.Dir != s.dirOf(whole):
		return "FOLDER FOLDER ... --out " + whole
	case s.Of <= 8:
		text := ""
		for i := range s.Of {
			text += (Shard{i + 1, s.Of}).dirOf(whole) + " "
		}
		return text[:len(text)-1]
	}
	return fmt.Sprintf("%s-shard-*-of-%d", whole, s.Of)
}

// policyOf says which rows a study records, as its file does.
func policyOf(r files.Record) string {
	switch r.Rows {
	case files.ImprovingRows:
		return "rows: improving"
	case files.EveryRows:
		return fmt.Sprintf("rows: every %d", r.Every)
	case files.NoRows:
		return "rows: none"
	}
	return "rows: all"
}

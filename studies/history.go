package studies

import (
	"cmp"
	"encoding/json"
	"fmt"
	"slices"

	"trammel/optimize"
	"trammel/studies/record"
)

// entry is what the manifest keeps with blocks that are finished together.
type entry struct {
	Best leaders  `json:"best,omitempty"` // those of each block that were among the best so far
	At   *reached `json:"at,omitempty"`   // the round that met last
}

// reached is a round of a stage: where its blocks stand in the stage.
type reached struct {
	Stage  int `json:"stage"`
	Round  int `json:"round"`
	First  int `json:"first"`
	Blocks int `json:"blocks"`
}

// history is what the record tells of the blocks that were finished before this run.
type history struct {
	leaders // of all of them, by number of run
	at      *reached
}

// only returns those of a list that are among the leaders.
func (ls leaders) only(list leaders) leaders {
	in := make(map[int64]bool, len(ls))
	for i := range ls {
		in[ls[i].Run] = true
	}
	return slices.DeleteFunc(list, func(l leader) bool { return !in[l.Run] })
}

// ofEachStage returns the best of each stage, by number of run.
func (ls leaders) ofEachStage() (out leaders) {
	by := map[int]*leaders{}
	for i := range ls {
		stage, _, _ := record.SplitRun(ls[i].Run)
		if by[stage] == nil {
			by[stage] = &leaders{}
		}
		by[stage].merge(studyLeaders, ls[i:i+1])
	}
	for _, best := range by {
		out = append(out, *best...)
	}
	slices.SortFunc(out, func(a, b leader) int { return cmp.Compare(a.Run, b.Run) })
	return out
}

func readHistory(v *record.View) (h history, err error) {
	for _, text := range v.Summaries() {
		var e entry
		if err := json.Unmarshal(text, &e); err != nil {
			return h, fmt.Errorf("%s: what the manifest keeps with finished blocks does not read: %w", v.Dir(), err)
		}
		h.leaders = append(h.leaders, e.Best...)
		if e.At != nil {
			h.at = e.At
		}
	}
	slices.SortFunc(h.leaders, func(a, b leader) int { return cmp.Compare(a.Run, b.Run) })
	h.leaders = slices.CompactFunc(h.leaders, func(a, b leader) bool { return a.Run == b.Run })
	return h, nil
}

// before takes the best of all blocks that stand before a run into the leaders. The order in which they
// come is that of a run in one piece, so that equals are kept alike.
func (h *history) before(run int64, best *leaders) {
	n, _ := slices.BinarySearchFunc(h.leaders, run, func(l leader, run int64) int { return cmp.Compare(l.Run, run) })
	best.merge(studyLeaders, h.leaders[:n])
	h.leaders = h.leaders[n:]
}

// stageOver is the key in the manifest of the last round of a finished stage.
func stageOver(stage int) string { return fmt.Sprint("stage ", stage) }

// overAt tells whether a stage is finished, and no block of it was lost since, and which was its last
// round. Plans are not told of: their blocks say it.
func overAt(v *record.View, stage int) (last reached, over bool, err error) {
	found, err := v.Fact(stageOver(stage), &last)
	if err != nil || !found || last.Stage != stage || last.Blocks < 1 {
		return reached{}, false, err
	}
	_, over = v.CountsOf(stage, 0, last.First+last.Blocks-1)
	return last, over, nil
}

// ended returns a search as it was after the last round that met, to ask it for what it found; nil
// when none has, or when the states of that round are gone.
func (st *Study) ended(v *record.View, number int) (optimize.Stage, error) {
	past, err := readHistory(v)
	if err != nil {
		return nil, err
	}
	last, over, err := overAt(v, number)
	if at := past.at; err == nil && at != nil && at.Stage == number {
		last = *at
		_, over = v.CountsOf(number, 0, last.First+last.Blocks-1)
	}
	if err != nil || !over {
		return nil, err
	}
	var best leaders
	past.before(optimize.RunNumber(number, 0, 0), &best)
	stage, err := st.newStage(number, best)
	if err != nil {
		return nil, err
	}
	states, err := roundStates(v, &last)
	if err != nil || states == nil {
		return nil, err
	}
	return stage, stage.Meet(last.Round, states)
}

// roundStates returns the states that the blocks of a round left; nil when one of them is gone.
func roundStates(v *record.View, at *reached) ([][]byte, error) {
	states := make([][]byte, at.Blocks)
	for b := range states {
		state, err := v.State(at.Stage, at.First+b)
		if err != nil || state == nil {
			return nil, err
		}
		states[b] = state
	}
	return states, nil
}

// resume returns the first round of a stage that has to be run, and the number of its first block: the
// one after the last that met, if everything that the stage needs to go on from there is kept. Otherwise
// it is the first of all, and finished blocks are computed again as far as the search needs them.
func (r *runner) resume(number int, stage optimize.Stage) (round, first int, err error) {
	at := r.past.at
	if at == nil || at.Stage != number {
		return 0, 0, nil
	}
	end := at.First + at.Blocks
	counts, whole := r.folder.CountsOf(number, 0, end-1)
	if !whole {
		return 0, 0, nil
	}
	states, err := roundStates(&r.folder.View, at)
	if err != nil || states == nil {
		return 0, 0, err
	}
	if err := stage.Meet(at.Round, states); err != nil {
		return 0, 0, err
	}
	r.met = at
	r.spent += counts.Evaluated
	r.past.before(optimize.RunNumber(number, int64(end), 0), &r.best)
	return at.Round + 1, end, nil
}

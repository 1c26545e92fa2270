package files

import (
	"cmp"
	"math/big"
	"slices"
	"strings"
)

// walkStages reads the list of stages.
func (s *studyDraft) walkStages(read ReadFile, f field) {
	s.Stages = nil
	items, ok := s.w.items(f, "stages such as - {plan: sobol, runs: 4096}")
	if !ok {
		return
	}
	if len(items) == 0 {
		s.w.bad(f, "has no stage; write one, such as - {plan: sobol, runs: 4096}, or take it out")
	}
	for i, it := range items {
		it.label = "stage " + formatQuanta(int64(i+1), 0)
		s.walkStage(read, it)
	}
}

// defaultStages are those of a study that names none. Where only alternatives vary there is nothing to refine: all
// combinations are tried, or, where these are more than anyone waits for, samples of them and a search that needs no derivatives.
func (s *studyDraft) defaultStages(at Position) {
	if s.onlyChoices() {
		if n, ok := s.boxSize(1); ok && n <= mostCombinations {
			s.Stages = []Stage{{Kind: Plan, Method: "factorial"}}
		} else {
			const method = "differential-evolution"
			s.Stages[1] = Stage{Kind: Search, Method: method, Runs: 20_000, Islands: DefaultIslands(Search, method)}
		}
	}
	for i := range s.Stages {
		s.Stages[i].Pos = at
	}
}

// mostCombinations is how many combinations of alternatives a study tries that names no stages.
const mostCombinations = 100_000

// stageNeeds says which keys go with a method: needed, and allowed. Levels are of numbers.
func stageNeeds(kind StageKind, method string, numbers bool) (need, may []string) {
	switch {
	case kind == Refine:
		return nil, nil
	case kind == Trade:
		return nil, []string{"runs", "islands"}
	case kind == Search:
		return []string{"runs"}, []string{"islands"}
	case (method == "factorial" || method == "one-at-a-time") && !numbers:
		return nil, nil
	case method == "factorial" || method == "one-at-a-time":
		return []string{"levels"}, nil
	case method == "points":
		return []string{"table"}, nil
	}
	return []string{"runs"}, nil
}

func (s *studyDraft) walkStage(read ReadFile, f field) {
	w := s.w
	m, ok := w.mapping(f, stageKeys)
	if !ok {
		return
	}
	out := Stage{Pos: f.pos()}
	var kinds []string
	for k, word := range stageWords {
		if _, is := m[word]; is {
			kinds = append(kinds, word)
			out.Kind = StageKind(k)
		}
	}
	switch {
	case len(kinds) == 2:
		w.bad(f, "is both %s; write two stages", list(kinds, "and"))
		return
	case len(kinds) > 2:
		w.bad(f, "is all of %s; write one stage for each", list(kinds, "and"))
		return
	case len(kinds) == 0:
		if !s.plannedStage(f) {
			w.bad(f, "does not say what to do; write plan: sobol, refine: 64, search: cma-es or trade: [TARGET, TARGET]")
		}
		return
	}
	if !s.stageMethod(m[kinds[0]], &out) {
		return
	}
	need, may := stageNeeds(out.Kind, out.Method, !s.onlyChoices())
	for _, k := range need {
		if f.keyIn(k) == nil {
			w.bad(f, "needs %s: %s", k, stageKeys.find(k).about)
		}
	}
	for _, k := range []string{"runs", "islands", "levels", "table"} {
		if c, given := m[k]; given && !slices.Contains(need, k) && !slices.Contains(may, k) {
			if k == "levels" && s.onlyChoices() && (out.Method == "factorial" || out.Method == "one-at-a-time") {
				w.at(c.keyPos(), c.path, "%s is of numbers, and only alternatives vary, of which %s takes all; take it out", c.label, out.Method)
			} else {
				w.at(c.keyPos(), c.path, "%s does not go with %s%s", c.label, cmp.Or(out.Method, kinds[0]), needsWhat(need))
			}
			delete(m, k)
		}
	}
	s.stageNumbers(read, m, &out)
	s.Stages = append(s.Stages, out)
}

// stageMethod reads what a stage's first word names: a method, a number of local searches or targets.
func (s *studyDraft) stageMethod(f field, out *Stage) (ok bool) {
	w := s.w
	switch out.Kind {
	case Plan:
		out.Method, ok = w.word(f, planMethods, laterPlans)
	case Search:
		out.Method, ok = w.word(f, searchMethods, nil)
	case Refine:
		n, whole := w.whole(f, 1, maxLocals)
		out.Locals, ok = int(n), whole
	case Trade:
		out.Runs = DefaultTradeRuns
		out.Between, ok = s.traded(f)
	}
	out.Islands = DefaultIslands(out.Kind, out.Method)
	return ok
}

// traded reads the targets of a trade.
func (s *studyDraft) traded(f field) (between []int, ok bool) {
	w := s.w
	items, ok := w.items(f, "two to five targets such as [bump steer, camber]")
	if !ok {
		return nil, false
	}
	if len(items) < 2 || len(items) > 5 {
		w.bad(f, "names %s; a trade is between two to five", count(len(items), "target"))
		return nil, false
	}
	var names []string
	for i := range s.Targets {
		names = append(names, s.Targets[i].Name)
	}
	for _, it := range items {
		name, isText := w.scalar(it, "the name of a target")
		if !isText {
			ok = false
			continue
		}
		k := slices.Index(names, name)
		switch {
		case k < 0:
			if len(names) > 0 {
				w.bad(it, "is %s, which is no target of this study; %s", quoted(clip(name)), instead(name, names))
			}
			ok = false
		case slices.Contains(between, k):
			w.bad(it, "is %s a second time; name each target once", quoted(clip(name)))
			ok = false
		default:
			between = append(between, k)
		}
	}
	return between, ok
}

// needsWhat says which keys a kind of stage needs, as the end of a sentence.
func needsWhat(need []string) string {
	if len(need) == 0 {
		return "; take it out"
	}
	return ", which needs " + list(need, "and")
}

// plannedStage tells whether a stage is of a kind that is not built yet, which was said already.
func (s *studyDraft) plannedStage(f field) bool {
	for _, k := range stageKeys.list {
		if k.later != "" && f.keyIn(k.name) != nil {
			return true
		}
	}
	return false
}

func (s *studyDraft) stageNumbers(read ReadFile, m map[string]field, out *Stage) {
	w := s.w
	if f, given := m["runs"]; given {
		out.Runs, _ = w.whole(f, 1, maxRuns)
	}
	if f, given := m["islands"]; given {
		n, _ := w.whole(f, 1, 1000)
		out.Islands = int(n)
	}
	if f, given := m["levels"]; given {
		n, ok := w.whole(f, 2, 1001)
		out.Levels = int(n)
		if _, fits := s.boxSize(out.Levels); ok && out.Method == "factorial" && !fits {
			w.bad(f, "is %d, which for %d varied numbers makes more than %d runs; use fewer levels, or plan: sobol", n, len(s.Vary), int64(maxRuns))
		}
	}
	if f, given := m["table"]; given {
		out.Table = s.designs(read, f)
	}
}

// designs reads a table of designs: a column for each entry of vary, a row for each run. Entries
// without a column stay at design.
func (s *studyDraft) designs(read ReadFile, f field) *Table {
	name, ok := s.w.scalar(f, "the name of a CSV table")
	if !ok {
		return nil
	}
	path := beside(s.Path, name)
	text, complaint := fetch(read, path)
	if complaint != "" {
		s.w.bad(f, "is %s: %s", quoted(name), complaint)
		return nil
	}
	w := *s.w
	w.file = path
	rows, ok := w.table(text)
	if !ok {
		return nil
	}
	if len(rows) < 2 {
		w.at(Position{1, 1}, "", "the table has no design; write the names of vary in the first line and one design in each line below")
		return nil
	}
	columns, ok := s.designColumns(&w, rows[0])
	if !ok {
		return nil
	}
	out := &Table{Path: path, Text: text}
	for _, row := range rows[1:] {
		if len(row) != len(columns) {
			w.at(row[0].pos, "", "this line has %s, but the first line names %s", count(len(row), "value"), count(len(columns), "column"))
			continue
		}
		out.Rows = append(out.Rows, s.design(&w, columns, row))
	}
	return out
}

// designColumns finds the entry of vary for each column.
func (s *studyDraft) designColumns(w *walk, header tableRow) ([]int, bool) {
	names := make([]string, len(s.Vary))
	for i := range s.Vary {
		names[i] = s.Vary[i].Name
	}
	columns, ok := make([]int, len(header)), true
	for i, c := range header {
		columns[i] = slices.Index(names, c.text)
		switch {
		case columns[i] < 0:
			if len(names) > 0 {
				w.at(c.pos, "", "the column %s is no entry of vary; %s", quoted(c.text), instead(c.text, names))
			}
			ok = false
		case slices.Contains(columns[:i], columns[i]):
			w.at(c.pos, "", "the column %s stands here a second time; take one out", quoted(c.text))
			ok = false
		}
	}
	return columns, ok
}

func (s *studyDraft) design(w *walk, columns []int, row tableRow) []int64 {
	out := make([]int64, len(s.Vary))
	for i := range s.Vary {
		out[i] = s.Vary[i].DesignN
	}
	for i, c := range row {
		v := &s.Vary[columns[i]]
		f := c.field("", v.Name)
		if v.Kind == VaryChoose {
			n := slices.IndexFunc(v.Options, func(o Option) bool { return strings.EqualFold(o.Name, c.text) })
			if n < 0 {
				w.bad(f, "is %s, which is no alternative of it", quoted(c.text))
			}
			out[columns[i]] = int64(n)
			continue
		}
		read := w.lengthIn
		if v.Kind == VaryTurn {
			read = w.angleIn
		}
		q, ok := read(f)
		switch {
		case !ok:
		case q < v.FromN || q > v.ToN:
			w.bad(f, "is %s, outside %s to %s", clip(c.text), showQuanta(v.FromN, v.PerUnit), showQuanta(v.ToN, v.PerUnit))
		case (q-v.DesignN)%v.Step != 0:
			w.bad(f, "is %s, which is no whole number of steps of %s from %s", clip(c.text), showQuanta(v.Step, v.PerUnit), showQuanta(v.DesignN, v.PerUnit))
		}
		out[columns[i]] = q
	}
	return out
}

// boxSize is the number of designs of a factorial plan: every combination of so many levels of each number and of all alternatives; ok is false
// beyond maxRuns.
func (s *studyDraft) boxSize(levels int) (n int64, ok bool) {
	p := big.NewInt(1)
	for i := range s.Vary {
		options := levels
		if s.Vary[i].Kind == VaryChoose {
			options = max(len(s.Vary[i].Options), 1)
		}
		p.Mul(p, big.NewInt(int64(options)))
	}
	return p.Int64(), p.IsInt64() && p.Int64() <= maxRuns
}

// onlyChoices tells whether nothing varies but alternatives.
func (s *studyDraft) onlyChoices() bool {
	return len(s.Vary) > 0 && !slices.ContainsFunc(s.Vary, func(v Vary) bool { return v.Kind != VaryChoose })
}

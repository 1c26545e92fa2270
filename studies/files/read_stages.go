package files

import (
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

// stageNeeds says which keys go with a method: needed, and allowed.
func stageNeeds(kind StageKind, method string) (need, may []string) {
	switch {
	case kind == Search:
		return []string{"runs"}, []string{"islands"}
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
	plan, isPlan := m["plan"]
	search, isSearch := m["search"]
	switch {
	case isPlan && isSearch:
		w.bad(f, "is both plan and search; write two stages")
		return
	case isPlan:
		out.Kind = Plan
		out.Method, ok = w.word(plan, planMethods, laterPlans)
	case isSearch:
		out.Kind = Search
		out.Method, ok = w.word(search, searchMethods, laterSearches)
	default:
		if !s.plannedStage(f) {
			w.bad(f, "does not say what to do; write plan: sobol or search: differential-evolution")
		}
		return
	}
	if !ok {
		return
	}
	need, may := stageNeeds(out.Kind, out.Method)
	for _, k := range need {
		if f.keyIn(k) == nil {
			w.bad(f, "needs %s: %s", k, stageKeys.find(k).about)
		}
	}
	for _, k := range []string{"runs", "islands", "levels", "table"} {
		if c, given := m[k]; given && !slices.Contains(need, k) && !slices.Contains(may, k) {
			w.at(c.keyPos(), c.path, "%s does not go with %s, which needs %s", c.label, out.Method, list(need, "and"))
			delete(m, k)
		}
	}
	s.stageNumbers(read, m, &out)
	s.Stages = append(s.Stages, out)
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
	if out.Kind == Search {
		for _, st := range DefaultStudy().Stages {
			if st.Kind == Search {
				out.Islands = st.Islands
			}
		}
	}
	if f, given := m["islands"]; given {
		n, _ := w.whole(f, 1, 1000)
		out.Islands = int(n)
	}
	if f, given := m["levels"]; given {
		n, ok := w.whole(f, 2, 1001)
		out.Levels = int(n)
		if _, fits := boxSize(out.Levels, len(s.Vary)); ok && out.Method == "factorial" && !fits {
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

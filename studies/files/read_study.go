package files

import (
	"math/big"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v4"
)

// studyDraft is a study while it is read.
type studyDraft struct {
	*Study
	w      *walk
	g      *draft
	ranges []reach // of each motion
	moved  map[coordinate]string
}

func readStudy(read ReadFile, path string, problems *Problems) *Study {
	out := DefaultStudy()
	out.Path = path
	s := &studyDraft{Study: &out, moved: map[coordinate]string{}}
	s.w = &walk{file: path, problems: problems, notes: &out.Notes}
	text, complaint := fetch(read, path)
	if complaint != "" {
		s.w.at(Position{1, 1}, "", "%s", complaint)
		return s.Study
	}
	out.Text = text
	root, bad := parseTree(path, text)
	if bad != nil {
		*problems = append(*problems, bad...)
		return s.Study
	}
	s.walkRoot(read, rootField(root))
	return s.Study
}

func (s *studyDraft) walkRoot(read ReadFile, root field) {
	w := s.w
	if root.node.Kind != yaml.MappingNode {
		w.at(Position{max(root.node.Line, 1), max(root.node.Column, 1)}, "", "a study file is a group of keys, each with a colon, a space and its value%s", found(root.node))
		return
	}
	if root.keyIn("study") == nil && root.keyIn("members") != nil {
		w.at(Position{1, 1}, "", "this is a geometry file, and a study file is wanted here; name the file that has vary and targets")
		return
	}
	m, _ := w.mapping(root, studyKeys)
	w.format(m)
	s.Name = w.title(m, "study")
	s.g = newDraft("")
	if f, given := m["geometry"]; given {
		s.walkGeometry(read, f)
	}
	w.units = s.g.Units
	if !s.g.read {
		w.units = Inch // unknown: the finer lattice raises no false alarm
	}
	s.walkMotions(root, m)
	if f, given := m["vary"]; given {
		s.walkVary(f)
	}
	s.walkWanted(m)
	s.walkSeed(m)
	if f, given := m["stages"]; given {
		s.walkStages(read, f)
	} else if f, given := m["vary"]; given {
		s.defaultStages(f.keyPos())
	}
	s.walkKeeping(m)
	if s.g.Geometry != nil {
		s.Notes = append(s.Notes, s.g.Notes...)
	}
	s.forgiveUnused()
}

func (s *studyDraft) walkGeometry(read ReadFile, f field) {
	name, ok := s.w.scalar(f, "the name of a geometry file")
	if !ok {
		return
	}
	s.GeometryPath = beside(s.Path, name)
	text, complaint := fetch(read, s.GeometryPath)
	if complaint != "" {
		s.w.bad(f, "is %s: %s", quoted(name), complaint)
		return
	}
	once := func(path string) ([]byte, error) {
		if path == s.GeometryPath {
			return text, nil
		}
		return read(path)
	}
	s.g = readGeometry(once, s.GeometryPath, s.w.problems)
	s.Geometry = s.g.Geometry
}

// forgiveUnused takes back the remarks on points that the study uses as a line or an axis.
func (s *studyDraft) forgiveUnused() {
	s.Notes = slices.DeleteFunc(s.Notes, func(p Problem) bool {
		for _, v := range s.Vary {
			if v.LineFrom != "" && (p.Path == unusedPath(v.LineFrom) || p.Path == unusedPath(v.LineTo)) {
				return true
			}
		}
		return false
	})
}

func (s *studyDraft) walkSeed(m map[string]field) {
	f, given := m["seed"]
	if !given {
		return
	}
	n, ok := s.w.number(f, "a whole number")
	if !ok {
		return
	}
	if n.unit != "" || !n.value.IsInt() || !n.value.Num().IsUint64() {
		s.w.bad(f, "is %s; it must be a whole number from 0 to 18446744073709551615", clip(f.node.Value))
		return
	}
	s.Seed = n.value.Num().Uint64()
}

var (
	bestForm  = regexp.MustCompile(`^best (\d{1,7})$`)
	everyForm = regexp.MustCompile(`^every (\d{1,12})$`)
	diskForm  = regexp.MustCompile(`^(\d{1,6}(?:\.\d{1,6})?) ?([MGT])B$`)
)

// walkKeeping reads budget, record and curves.
func (s *studyDraft) walkKeeping(m map[string]field) {
	w := s.w
	if f, given := m["budget"]; given {
		if b, ok := w.mapping(f, budgetKeys); ok {
			s.walkBudget(b)
		}
	}
	if f, given := m["record"]; given {
		if r, ok := w.mapping(f, recordKeys); ok {
			s.walkRecord(r)
		}
	}
	f, given := m["curves"]
	if !given {
		return
	}
	text, ok := w.scalar(f, "best 100, all or none")
	if !ok {
		return
	}
	match := bestForm.FindStringSubmatch(text)
	switch {
	case text == "all":
		s.Curves = Curves{Keep: KeepAll}
	case text == "none":
		s.Curves = Curves{Keep: KeepNone}
	case match != nil && strings.Trim(match[1], "0") != "":
		n, _ := strconv.Atoi(match[1])
		s.Curves = Curves{Keep: KeepBest, Best: n}
	default:
		w.bad(f, "is %s; write best 100 (or another number), all or none", quoted(text))
	}
}

func (s *studyDraft) walkBudget(m map[string]field) {
	w := s.w
	if f, given := m["time"]; given {
		if text, ok := w.scalar(f, "a time such as 8h"); ok {
			d, err := time.ParseDuration(strings.ReplaceAll(strings.ReplaceAll(text, " ", ""), "min", "m"))
			switch {
			case err != nil:
				w.bad(f, "is %s; write a time such as 8h, 90min or 7h30min", quoted(text))
			case d <= 0:
				w.bad(f, "is %s; it must be more than 0", clip(text))
			default:
				s.Budget.Time = d
			}
		}
	}
	if f, given := m["runs"]; given {
		s.Budget.Runs, _ = w.whole(f, 1, maxRuns)
	}
	if f, given := m["disk"]; given {
		text, ok := w.scalar(f, "a size such as 20GB")
		if !ok {
			return
		}
		match := diskForm.FindStringSubmatch(text)
		if match == nil {
			w.bad(f, "is %s; write a size such as 20GB or 500MB", quoted(text))
			return
		}
		size, _ := new(big.Rat).SetString(match[1])
		size.Mul(size, big.NewRat(map[string]int64{"M": 1e6, "G": 1e9, "T": 1e12}[match[2]], 1))
		bytes, _ := size.Float64()
		if bytes < 1e6 {
			w.bad(f, "is %s; a study needs at least 1MB", clip(text))
			return
		}
		s.Budget.Disk = int64(bytes)
	}
}

func (s *studyDraft) walkRecord(m map[string]field) {
	if f, given := m["precision"]; given {
		switch text, ok := s.w.scalar(f, "double or single"); {
		case ok && text == "single":
			s.Record.Single = true
		case ok && text != "double":
			s.w.bad(f, "is %s; write double or single", quoted(text))
		}
	}
	f, given := m["rows"]
	if !given {
		return
	}
	text, ok := s.w.scalar(f, "all, improving, every 100 or none")
	if !ok {
		return
	}
	match := everyForm.FindStringSubmatch(text)
	switch {
	case text == "all":
		s.Record.Rows = AllRows
	case text == "improving":
		s.Record.Rows = ImprovingRows
	case text == "none":
		s.Record.Rows = NoRows
	case match != nil && strings.Trim(match[1], "0") != "":
		n, _ := strconv.ParseInt(match[1], 10, 64)
		s.Record.Rows, s.Record.Every = EveryRows, n
	default:
		s.w.bad(f, "is %s; write all, improving, every 100 (or another number) or none", quoted(text))
	}
}

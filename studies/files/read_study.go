package files

import (
	"math/big"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v4"

	"trammel/kin"
)

// studyDraft is a study while it is read.
type studyDraft struct {
	*Study
	w      *walk
	g      *draft
	ranges []reach // of each motion
	moved  map[coordinate]string
}

// reach is how far a motion goes, in quanta.
type reach struct {
	wheel, rack [2]int64
	usable      bool
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
	s.g = &draft{Geometry: &Geometry{}, index: map[string]int{}}
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

// walkMotions reads the motions, or makes them from the geometry's travel.
func (s *studyDraft) walkMotions(root field, m map[string]field) {
	f, given := m["motions"]
	if !given {
		s.defaultMotions(root)
		return
	}
	entries, ok := s.w.entries(f)
	if !ok {
		return
	}
	s.titles(entries)
	s.w.distinct(entries, map[string]string{}, "motion")
	for _, e := range entries {
		s.walkMotion(e)
	}
}

func (s *studyDraft) titles(entries []field) {
	for _, e := range entries {
		if complaint := titleComplaint(e.key.Value); complaint != "" {
			s.w.at(e.keyPos(), e.path, "%s %s", quoted(e.key.Value), complaint)
		}
	}
}

func (s *studyDraft) defaultMotions(root field) {
	t := s.g.Travel
	if s.g.read && t.Bump+t.Droop == 0 && t.Rack == 0 {
		s.w.at(Position{1, 1}, "motions", "there are no motions, and the geometry has no travel to make them from; write motions: here, or travel: {bump: 60, droop: 60, rack: 30} there")
		return
	}
	add := func(name string, wheel, rack [2]int64, n int) {
		mo := Motion{Name: name, Wheel: []float64{0}, Rack: []float64{0}, Pos: Position{1, 1}}
		if wheel != [2]int64{} {
			mo.Wheel = spaced(s.g.Units, wheel, n)
		} else {
			mo.Rack = spaced(s.g.Units, rack, n)
		}
		s.Motions = append(s.Motions, mo)
		s.ranges = append(s.ranges, reach{wheel, rack, true})
	}
	if t.Bump+t.Droop > 0 {
		add("heave", [2]int64{-t.Droop, t.Bump}, [2]int64{}, DefaultHeavePositions)
	}
	if t.Rack > 0 {
		add("steer", [2]int64{}, [2]int64{-t.Rack, t.Rack}, DefaultSteerPositions)
	}
}

// spaced returns n values in mm from ends[0] to ends[1], each rounded once.
func spaced(u Unit, ends [2]int64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		// a fraction of whole numbers, all below 2^53
		above := ends[0]*int64(n-1-i) + ends[1]*int64(i)
		below := int64(n-1) * 1000
		if u == Inch {
			above, below = above*254, int64(n-1)*100000
		}
		out[i] = float64(above)/float64(below) + 0 // no negative zero
	}
	return out
}

const maxPositions = 10001

func (s *studyDraft) walkMotion(f field) {
	w := s.w
	out := Motion{Name: f.key.Value, Wheel: []float64{0}, Rack: []float64{0}, Pos: f.keyPos()}
	r := reach{usable: true}
	defer func() {
		s.Motions = append(s.Motions, out)
		s.ranges = append(s.ranges, r)
	}()
	m, ok := w.mapping(f, motionKeys)
	if !ok {
		r.usable = false
		return
	}
	_, wheel := m["wheel_travel"]
	_, rack := m["rack_travel"]
	if !wheel && !rack {
		if f.keyIn("body_roll") == nil && f.keyIn("wheel_travel") == nil && f.keyIn("rack_travel") == nil {
			w.at(f.keyPos(), f.path, "%s moves nothing; write wheel_travel: [-60, 60], or rack_travel: [-30, 30], or both", f.label)
		}
		r.usable = false
		return
	}
	wheelN, okWheel := s.travel(m, "wheel_travel")
	rackN, okRack := s.travel(m, "rack_travel")
	if !okWheel || !okRack {
		r.usable = false
		return
	}
	counts, ok := s.positions(f, m, wheelN, rackN)
	if !ok {
		r.usable = false
		return
	}
	out.Wheel, r.wheel = s.fill(wheelN, counts[0])
	out.Rack, r.rack = s.fill(rackN, counts[1])
	out.Grid = len(out.Wheel) > 1 && len(out.Rack) > 1
	if total := len(out.Wheel) * len(out.Rack); total > maxPositions {
		w.at(f.keyPos(), f.path, "%s has %d positions; %d is the most", f.label, total, maxPositions)
	}
}

// travel reads one value, a range or a list of values; nil when the key is not there.
func (s *studyDraft) travel(m map[string]field, name string) ([]int64, bool) {
	f, given := m[name]
	if !given {
		return nil, true
	}
	if f.node.Kind != yaml.SequenceNode {
		q, ok := s.w.length(f)
		return []int64{q}, ok
	}
	items, _ := s.w.items(f, "")
	if len(items) == 0 || len(items) > maxPositions {
		s.w.bad(f, "has %s; write from and to, such as [-60, 60], or a list of up to %d values", count(len(items), "value"), maxPositions)
		return nil, false
	}
	values, ok := make([]int64, len(items)), true
	for i, it := range items {
		q, good := s.w.length(it)
		values[i], ok = q, ok && good
	}
	if !ok {
		return nil, false
	}
	for i := 1; i < len(values); i++ {
		if values[i] <= values[i-1] {
			s.w.bad(f, "goes from %s to %s; write the smaller first, each value once", clip(items[i-1].node.Value), clip(items[i].node.Value))
			return nil, false
		}
	}
	return values, true
}

// positions works out how many positions each axis has; 0 for an axis whose values are listed or held.
func (s *studyDraft) positions(f field, m map[string]field, wheel, rack []int64) (counts [2]int, ok bool) {
	w := s.w
	p, given := m["positions"]
	if !given && f.keyIn("positions") != nil {
		return counts, false
	}
	if !given {
		for i, v := range [][]int64{wheel, rack} {
			if len(v) == 2 {
				w.at(f.keyPos(), f.path, "%s needs positions: how many to solve from one end of %s to the other, such as positions: 41", f.label, []string{"wheel_travel", "rack_travel"}[i])
				return counts, false
			}
		}
		return counts, true
	}
	var swept []int
	for i, v := range [][]int64{wheel, rack} {
		switch {
		case len(v) == 2:
			swept = append(swept, i)
		case len(v) > 2:
			w.bad(p, "does not go with a list of values; take it out, or write from and to only")
			return counts, false
		}
	}
	if len(swept) == 0 {
		w.bad(p, "has nothing to divide; write from and to, such as wheel_travel: [-60, 60]")
		return counts, false
	}
	if p.node.Kind != yaml.SequenceNode {
		if len(swept) == 2 {
			w.bad(p, "is one number, but both wheel and rack move; write two, such as [9, 7], the wheel's first")
			return counts, false
		}
		n, good := w.whole(p, 2, maxPositions)
		counts[swept[0]] = int(n)
		return counts, good
	}
	items, _ := w.items(p, "")
	if len(swept) != 2 || len(items) != 2 {
		w.bad(p, "has %s, but %d of wheel and rack move; write one number for each", count(len(items), "number"), len(swept))
		return counts, false
	}
	ok = true
	for i, it := range items {
		n, good := w.whole(it, 2, maxPositions)
		counts[i], ok = int(n), ok && good
	}
	return counts, ok
}

// fill turns read values into the grid's axis in mm and its ends in quanta.
func (s *studyDraft) fill(values []int64, count int) ([]float64, [2]int64) {
	if values == nil {
		return []float64{0}, [2]int64{}
	}
	ends := [2]int64{values[0], values[len(values)-1]}
	if count > 0 {
		return spaced(s.w.units, ends, count), ends
	}
	out := make([]float64, len(values))
	for i, v := range values {
		out[i] = s.w.units.ToMM(v)
	}
	return out, ends
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

// measure finds what a target or limit measures.
func (s *studyDraft) measure(f field) (name string, of *kin.Measure, ok bool) {
	name, ok = s.w.scalar(f, "the name of a measure such as camber or damper.length")
	if !ok {
		return "", nil, false
	}
	of, complaint := s.findMeasure(name)
	if complaint != "" {
		s.w.bad(f, "is %s, %s", quoted(name), complaint)
		return name, nil, false
	}
	return name, of, true
}

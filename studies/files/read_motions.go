package files

import (
	"slices"

	"go.yaml.in/yaml/v4"
)

// travelNames are what a motion moves, in the order of its grid.
var travelNames = [3]string{"wheel_travel", "rack_travel", "body_roll"}

const (
	alongWheel = iota
	alongRack
	alongRoll
)

// maxRoll is in deg; a body that leans farther has turned over.
const maxRoll = 45

// reach is how far a motion goes along each of travelNames: lengths in quanta, angles in 1/perDegree.
type reach struct {
	ends   [3][2]int64
	usable bool
}

// along is the axis of the curves of a motion: the first that moves.
func (r reach) along() int {
	for axis, e := range r.ends {
		if e[0] != e[1] {
			return axis
		}
	}
	return alongWheel
}

// travelled reads a length, or for body_roll an angle.
func (w *walk) travelled(f field, axis int) (int64, bool) {
	if axis != alongRoll {
		return w.length(f)
	}
	v, ok := w.degrees(f)
	if !ok {
		return 0, false
	}
	q, exact, ok := roundToQuanta(v, perDegree)
	switch {
	case !ok || q > maxRoll*perDegree || q < -maxRoll*perDegree:
		w.bad(f, "is %s; a body that leans by more than %d degrees has turned over", clip(f.node.Value), maxRoll)
	case !exact:
		w.bad(f, "is %s: angles go by 0.001 deg; write %s", quoted(f.node.Value), formatQuanta(q, 3))
	default:
		return q, true
	}
	return 0, false
}

// showTravel writes quanta of an axis.
func (w *walk) showTravel(axis int, q int64) string {
	if axis == alongRoll {
		return formatQuanta(q, 3)
	}
	return w.units.Format(q)
}

// travelValue is quanta of an axis in mm or deg.
func (w *walk) travelValue(axis int, q int64) float64 {
	if axis == alongRoll {
		return float64(q) / perDegree
	}
	return w.units.ToMM(q)
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
	if !s.g.onRack {
		t.Rack = 0 // it moves nothing, and the geometry has a remark that says so
	}
	if s.g.read && t.Bump+t.Droop == 0 && t.Rack == 0 {
		s.w.at(Position{1, 1}, "motions", "there are no motions, and the geometry has no travel to make them from; write motions: here, or travel: {bump: ~60, droop: ~60, rack: ~30} there")
		return
	}
	if t.Bump+t.Droop > 0 {
		ends := [2]int64{-t.Droop, t.Bump}
		mo := stillMotion("heave", Position{1, 1})
		mo.Wheel = spaced(s.g.Units, ends, DefaultHeavePositions)
		s.Motions, s.ranges = append(s.Motions, mo), append(s.ranges, reach{ends: [3][2]int64{alongWheel: ends}, usable: true})
	}
	if t.Rack > 0 {
		ends := [2]int64{-t.Rack, t.Rack}
		mo := stillMotion("steer", Position{1, 1})
		mo.Rack = spaced(s.g.Units, ends, DefaultSteerPositions)
		s.Motions, s.ranges = append(s.Motions, mo), append(s.ranges, reach{ends: [3][2]int64{alongRack: ends}, usable: true})
	}
}

// stillMotion is a motion in which nothing moves yet.
func stillMotion(name string, pos Position) Motion {
	return Motion{Name: name, Wheel: []float64{0}, Rack: []float64{0}, Roll: []float64{0}, Pos: pos}
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
	out, r := stillMotion(f.key.Value, f.keyPos()), reach{}
	defer func() {
		s.Motions = append(s.Motions, out)
		s.ranges = append(s.ranges, r)
	}()
	m, ok := w.mapping(f, motionKeys)
	if !ok {
		return
	}
	var read [3][]int64
	moves, misspelt := false, false
	for axis, name := range travelNames {
		values, good := s.travel(m, axis)
		read[axis], ok = values, ok && good
		_, given := m[name]
		moves, misspelt = moves || given, misspelt || f.keyIn(name) != nil
	}
	if c, given := m["wheels"]; given {
		word, good := w.word(c, wheelsWords, nil)
		out.Wheels = Wheels(max(0, slices.Index(wheelsWords, word)))
		if good && f.keyIn(travelNames[alongWheel]) == nil {
			w.bad(c, "is %s, but no wheel_travel stands here that could move it; add it, such as wheel_travel: [~-60, ~60]", word)
		}
	}
	if !moves && !misspelt {
		w.at(f.keyPos(), f.path, "%s moves nothing; write wheel_travel: [~-60, ~60], rack_travel: [~-30, ~30], body_roll: [-3, 3], or several of them", f.label)
	}
	if !moves || !ok {
		return
	}
	s.rackReaches(m[travelNames[alongRack]], read[alongRack])
	counts, ok := s.positions(f, m, read)
	if !ok {
		return
	}
	total, swept := 1, 0
	for axis, to := range []*[]float64{&out.Wheel, &out.Rack, &out.Roll} {
		*to, r.ends[axis] = s.fill(axis, read[axis], counts[axis])
		total *= len(*to)
		if len(*to) > 1 {
			swept++
		}
	}
	out.Grid, r.usable = swept > 1, true
	if total > maxPositions {
		w.at(f.keyPos(), f.path, "%s has %d positions; %d is the most", f.label, total, maxPositions)
	}
}

// rackReaches checks that no motion asks more of the rack than the geometry gives it.
func (s *studyDraft) rackReaches(f field, read []int64) {
	u, most := s.g.Units, s.g.RackTravel
	for _, q := range read {
		if most > 0 && (q > most || q < -most) {
			s.w.bad(f, "goes to %s, and in the geometry the rack goes no farther than %s to either side; write a value between, or look at travel under rack there", u.Format(q), u.Format(most))
			return
		}
	}
}

// travel reads one value, a range or a list of values; nil when the key is not there.
func (s *studyDraft) travel(m map[string]field, axis int) ([]int64, bool) {
	f, given := m[travelNames[axis]]
	if !given {
		return nil, true
	}
	if f.node.Kind != yaml.SequenceNode {
		q, ok := s.w.travelled(f, axis)
		return []int64{q}, ok
	}
	items, _ := s.w.items(f, "")
	if len(items) == 0 || len(items) > maxPositions {
		s.w.bad(f, "has %s; write from and to, such as [~-60, ~60], or a list of up to %d values", count(len(items), "value"), maxPositions)
		return nil, false
	}
	values, ok := make([]int64, len(items)), true
	for i, it := range items {
		q, good := s.w.travelled(it, axis)
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
func (s *studyDraft) positions(f field, m map[string]field, read [3][]int64) (counts [3]int, ok bool) {
	w := s.w
	p, given := m["positions"]
	if !given && f.keyIn("positions") != nil {
		return counts, false
	}
	var swept []int
	var names []string
	for axis, v := range read {
		switch {
		case len(v) == 2 && !given:
			w.at(f.keyPos(), f.path, "%s needs positions: how many to solve from one end of %s to the other, such as positions: 41", f.label, travelNames[axis])
			return counts, false
		case len(v) == 2:
			swept, names = append(swept, axis), append(names, travelNames[axis])
		case len(v) > 2 && given:
			w.bad(p, "does not go with a list of values; take it out, or write from and to only")
			return counts, false
		}
	}
	switch {
	case !given:
		return counts, true
	case len(swept) == 0:
		w.bad(p, "has nothing to divide; write from and to, such as wheel_travel: [~-60, ~60]")
		return counts, false
	case p.node.Kind != yaml.SequenceNode && len(swept) > 1:
		w.bad(p, "is one number, but %s move; write %s, in that order", list(names, "and"), pick(len(swept) == 2, "two, such as [9, 7]", "three, such as [9, 7, 5]"))
		return counts, false
	case p.node.Kind != yaml.SequenceNode:
		n, good := w.whole(p, 2, maxPositions)
		counts[swept[0]] = int(n)
		return counts, good
	}
	items, _ := w.items(p, "")
	if len(swept) == 1 || len(items) != len(swept) {
		w.bad(p, "has %s, but %s %s; write %s", count(len(items), "number"), list(names, "and"), pick(len(swept) == 1, "moves alone", "move"), pick(len(swept) == 1, "one number without brackets", "one number for each"))
		return counts, false
	}
	ok = true
	for i, it := range items {
		n, good := w.whole(it, 2, maxPositions)
		counts[swept[i]], ok = int(n), ok && good
	}
	return counts, ok
}

// fill turns read values into the grid's axis, in mm or deg, and its ends in quanta.
func (s *studyDraft) fill(axis int, values []int64, count int) ([]float64, [2]int64) {
	if values == nil {
		return []float64{0}, [2]int64{}
	}
	ends := [2]int64{values[0], values[len(values)-1]}
	unit := s.w.units
	if axis == alongRoll {
		unit = Millimetre // quanta of angles are as many to the degree as those of lengths to the millimetre
	}
	if count > 0 {
		return spaced(unit, ends, count), ends
	}
	out := make([]float64, len(values))
	for i, v := range values {
		out[i] = unit.ToMM(v)
	}
	return out, ends
}

package files

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"go.yaml.in/yaml/v4"

	"trammel/kin"
)

// walkWanted reads targets and limits, whose names share one set of columns.
func (s *studyDraft) walkWanted(m map[string]field) {
	columns, parts := map[string]string{}, map[string]string{} // parts has the limits that the geometry sets
	if s.Geometry != nil {
		for _, l := range s.Geometry.PartLimits() {
			parts[ColumnName(l.Name)] = l.Name
		}
	}
	for _, section := range []string{"targets", "limits"} {
		f, given := m[section]
		if !given {
			continue
		}
		entries, ok := s.w.entries(f)
		if !ok {
			continue
		}
		if len(entries) == 0 {
			s.w.bad(f, "has nothing in it; take it out or fill it")
		}
		s.titles(entries)
		own := slices.DeleteFunc(slices.Clone(entries), func(e field) bool {
			part, taken := parts[ColumnName(e.key.Value)]
			if taken {
				s.w.at(e.keyPos(), e.path, "%s is already the limit that the geometry sets, which binds in every study; for more reserve, or anything else, name this one otherwise", pick(part == e.key.Value, quoted(part), quoted(e.key.Value)+", or "+quoted(part)+","))
			}
			return taken
		})
		s.w.distinct(own, columns, "of them")
		for _, e := range entries {
			if section == "targets" {
				s.walkTarget(e)
			} else {
				s.walkLimit(e)
			}
		}
	}
}

// scope is where a target or limit looks.
type scope struct {
	motion int // -1 for none
	place  *Place
	known  bool // the motion, where one is named, could be read
}

// scope reads `in` and `place`.
func (s *studyDraft) scope(f field, m map[string]field) (out scope, ok bool) {
	out.motion, ok = -1, true
	if c, given := m["in"]; given {
		ok = false
		if name, good := s.w.scalar(c, "the name of a motion"); good {
			names := make([]string, len(s.Motions))
			for i := range s.Motions {
				names[i] = s.Motions[i].Name
			}
			out.motion = slices.Index(names, name)
			ok = out.motion >= 0
			if !ok && len(names) > 0 {
				s.w.bad(c, "is %s, but there is no such motion; %s", quoted(name), instead(name, names))
			}
		}
	}
	out.known = out.motion >= 0 && s.ranges[out.motion].usable
	if c, given := m["place"]; given {
		place, good := s.place(c, out)
		out.place, ok = place, ok && good
	}
	if f.keyIn("in") == nil && f.keyIn("place") == nil {
		s.w.at(f.keyPos(), f.path, "%s does not say where; write in: and a motion, or place: such as {wheel_travel: 0}", f.label)
		return out, false
	}
	return out, ok
}

// place reads a place and checks it against the motion, or against all motions.
func (s *studyDraft) place(f field, at scope) (*Place, bool) {
	m, ok := s.w.mapping(f, placeKeys)
	if !ok {
		return nil, false
	}
	if len(m) == 0 {
		s.w.bad(f, "names no place; write {wheel_travel: 0}, {rack_travel: 0}, {body_roll: 0}, or several of them")
		return nil, false
	}
	out := &Place{}
	for axis, to := range []**float64{&out.Wheel, &out.Rack, &out.Roll} {
		name := travelNames[axis]
		c, given := m[name]
		if !given {
			if at.known && f.keyIn(name) == nil {
				if r := s.ranges[at.motion].ends[axis]; r[0] != r[1] {
					s.w.bad(f, "leaves %s open, which moves in %s; add it", name, quoted(s.Motions[at.motion].Name))
					ok = false
				}
			}
			continue
		}
		q, good := s.w.travelled(c, axis)
		if !good {
			ok = false
			continue
		}
		v := s.w.travelValue(axis, q)
		*to = &v
		ok = s.insideMotions(c, q, at, axis) && ok
	}
	return out, ok
}

// insideMotions checks a travel against the named motion, or against the hull of all motions.
func (s *studyDraft) insideMotions(f field, q int64, at scope, axis int) bool {
	var lo, hi int64
	where := "every motion"
	if at.motion >= 0 {
		if !at.known {
			return true
		}
		r := s.ranges[at.motion].ends[axis]
		lo, hi, where = r[0], r[1], quoted(s.Motions[at.motion].Name)
	} else {
		for _, r := range s.ranges {
			if !r.usable {
				return true
			}
			lo, hi = min(lo, r.ends[axis][0]), max(hi, r.ends[axis][1])
		}
		if len(s.ranges) == 0 {
			return true
		}
	}
	switch {
	case q >= lo && q <= hi:
		return true
	case lo == hi:
		s.w.bad(f, "is %s, but %s holds it at %s; write that, or leave it out", clip(f.node.Value), where, s.w.showTravel(axis, lo))
	default:
		s.w.bad(f, "is %s, outside %s, which goes from %s to %s", clip(f.node.Value), where, s.w.showTravel(axis, lo), s.w.showTravel(axis, hi))
	}
	return false
}

// value reads a number in the unit of a measure; of is nil when the measure is not known.
func (s *studyDraft) value(f field, of *kin.Measure) (float64, bool) {
	n, ok := s.w.number(f, "a number")
	if !ok || of == nil {
		return 0, false
	}
	v, complaint := n.measured(of.Unit, s.w.units)
	if complaint != "" {
		s.w.bad(f, "is %s: %s", quoted(f.node.Value), complaint)
		return 0, false
	}
	return v, true
}

// above is a value greater than 0.
func (s *studyDraft) above(f field, of *kin.Measure) (float64, bool) {
	v, ok := s.value(f, of)
	if ok && v <= 0 {
		s.w.bad(f, "is %s; it must be more than 0", clip(f.node.Value))
		return 0, false
	}
	return v, ok
}

func (s *studyDraft) walkTarget(f field) {
	w := s.w
	m, ok := w.mapping(f, targetKeys)
	if !ok {
		return
	}
	out := Target{Name: f.key.Value, Weight: DefaultWeight, Pos: f.keyPos()}
	var of *kin.Measure
	if c, given := m["measure"]; given {
		out.Measure, out.Of, of = s.measure(c)
		if of != nil {
			out.Unit = of.Unit.String()
		}
	}
	at, ok := s.scope(f, m)
	out.Motion, out.Place = at.motion, at.place
	if form, given := s.shape(f, m); given {
		out.Shape = form
		ok = s.shapeFits(f, m, form, at) && ok
		s.shapeValue(m, &out, of, at)
	}
	if c, given := m["relative"]; given {
		_, out.Relative = w.word(c, []string{"design"}, nil)
		if noNumber(out.Shape) {
			w.bad(c, "does not go with %s, which has no number of its own", out.Shape)
		}
	}
	if c, given := m["within"]; given {
		out.Within = s.within(c, of, at)
	}
	if c, given := m["weight"]; given {
		if n, ok := w.number(c, "a number"); ok {
			out.Weight, _ = n.value.Float64()
			if n.unit != "" || !(out.Weight > 0) || out.Weight > 1e6 {
				w.bad(c, "is %s; a weight is a number greater than 0, and at most 1000000", clip(c.node.Value))
			}
		}
	}
	if c, given := m["robust"]; given {
		out.Robust = s.robust(c)
	}
	if ok {
		s.Targets = append(s.Targets, out)
	}
}

// robust reads whether a target is, which needs the size of the errors.
func (s *studyDraft) robust(f field) bool {
	if !s.w.isTrue(f) {
		return false
	}
	if g := s.Geometry; g != nil && g.Build.Error <= 0 {
		s.w.bad(f, "needs build: {error: ...} in the geometry, which says how far a point may end up from where it was drawn")
		return false
	}
	return true
}

func noNumber(f Shape) bool {
	return f == Straight || f == Even || f == Rising || f == Falling
}

// shape finds the one shape of a target.
func (s *studyDraft) shape(f field, m map[string]field) (Shape, bool) {
	found := ""
	for _, word := range shapeWords {
		if f.keyIn(word) == nil {
			continue
		}
		if found != "" {
			at := f.keyIn(word)
			s.w.at(Position{at.Line, at.Column}, f.path, "%s has both %s and %s; write two targets", f.label, found, word)
			return 0, false
		}
		found = word
	}
	if found == "" {
		if f.keyIn("min") == nil && f.keyIn("max") == nil {
			s.w.at(f.keyPos(), f.path, "%s does not say what is wanted; write one of %s", f.label, list(shapeWords[:], "or"))
		}
		return 0, false
	}
	if _, spelt := m[found]; !spelt {
		return 0, false
	}
	return Shape(slices.Index(shapeWords[:], found)), true
}

func positionsOf(m *Motion) int { return len(m.Wheel) * len(m.Rack) * len(m.Roll) }

// shapeFits checks that a shape has the motion or the place that it needs.
func (s *studyDraft) shapeFits(f field, m map[string]field, form Shape, at scope) bool {
	c := m[form.String()]
	placed := f.keyIn("place") != nil
	least := map[Shape]int{Straight: 3, Even: 2, Rising: 2, Falling: 2}[form]
	switch {
	case form == Value && !placed:
		s.w.bad(c, "needs place: where, such as {wheel_travel: 0}; for one value all through a motion write hold")
	case form == Hold && placed:
		s.w.bad(c, "is for a whole motion; at one place write value")
	case (form == Follow || noNumber(form)) && placed:
		s.w.bad(c, "is for a whole motion, so take place out")
	case !placed && f.keyIn("in") == nil: // said already
	case (form == Follow || form == Hold || noNumber(form)) && f.keyIn("in") == nil:
		s.w.bad(c, "needs in: the motion through which it counts")
	case at.known && form != Even && (form == Follow || noNumber(form)) && s.Motions[at.motion].Grid:
		s.w.bad(c, "needs a motion in which one travel alone moves; %s is a grid", quoted(s.Motions[at.motion].Name))
	case at.known && positionsOf(&s.Motions[at.motion]) < least:
		s.w.bad(c, "needs a motion of at least %d positions", least)
	default:
		return true
	}
	return false
}

// shapeValue reads the curve or number of a shape.
func (s *studyDraft) shapeValue(m map[string]field, out *Target, of *kin.Measure, at scope) {
	c, given := m[out.Shape.String()]
	if !given {
		return
	}
	switch {
	case noNumber(out.Shape):
		s.w.isTrue(c)
	case out.Shape == Follow:
		if c.node.Kind != yaml.MappingNode {
			s.w.bad(c, "must be a curve over the travel, such as {~-60: 0.6, 0: -1, ~60: -3.2}%s; for one value write hold", found(c.node))
			return
		}
		out.Curve = s.curve(c, of, at, false)
	default:
		out.Value, _ = s.value(c, of)
	}
}

// curve reads {TRAVEL: VALUE, ...} and checks that it covers the motion.
func (s *studyDraft) curve(f field, of *kin.Measure, at scope, positive bool) Curve {
	entries, ok := s.w.entries(f)
	if !ok {
		return nil
	}
	if len(entries) < 2 {
		s.w.bad(f, "has %s; a curve needs two or more", count(len(entries), "point"))
		return nil
	}
	type node struct {
		q int64
		v float64
	}
	var nodes []node
	axis, clear := alongWheel, at.known && !s.Motions[at.motion].Grid
	if clear {
		axis = s.ranges[at.motion].along()
	}
	for _, e := range entries {
		k := field{node: e.key, path: e.path, label: f.label + ": travel"}
		if !clear && strings.HasSuffix(e.key.Value, "deg") {
			continue // it may be a roll
		}
		q, good := s.w.travelled(k, axis)
		e.label = f.label + ": value at " + clip(e.key.Value)
		read := s.value
		if positive {
			read = s.above
		}
		v, goodV := read(e, of)
		if ok = ok && good && goodV; good {
			if slices.ContainsFunc(nodes, func(n node) bool { return n.q == q }) {
				s.w.bad(k, "%s stands here a second time", clip(e.key.Value))
				ok = false
			}
			nodes = append(nodes, node{q, v})
		}
	}
	slices.SortFunc(nodes, func(a, b node) int { return cmp.Compare(a.q, b.q) })
	if len(nodes) == len(entries) {
		ok = s.covers(f, nodes[0].q, nodes[len(nodes)-1].q, at) && ok
	}
	if !ok {
		return nil
	}
	out := make(Curve, len(nodes))
	for i, n := range nodes {
		out[i] = [2]float64{s.w.travelValue(axis, n.q), n.v}
	}
	return out
}

// covers checks that a curve reaches both ends of its motion: nothing is guessed beyond its ends.
func (s *studyDraft) covers(f field, lo, hi int64, at scope) bool {
	if !at.known || s.Motions[at.motion].Grid {
		return true
	}
	axis := s.ranges[at.motion].along()
	r := s.ranges[at.motion].ends[axis]
	if lo <= r[0] && hi >= r[1] {
		return true
	}
	missing := r[0]
	if hi < r[1] {
		missing = r[1]
	}
	show := func(q int64) string { return s.w.showTravel(axis, q) }
	s.w.bad(f, "goes from %s to %s, but %s goes from %s to %s; add a value at %s", show(lo), show(hi), quoted(s.Motions[at.motion].Name), show(r[0]), show(r[1]), show(missing))
	return false
}

// within reads the departure that counts as one: a number, a curve, or above and below.
func (s *studyDraft) within(f field, of *kin.Measure, at scope) Within {
	if f.node.Kind == yaml.MappingNode && (len(f.node.Content) == 0 || !startsLikeNumber(f.node.Content[0].Value)) {
		m, ok := s.w.mapping(f, withinKeys)
		if !ok {
			return Within{}
		}
		var out Within
		if c, given := m["above"]; given {
			out.Above = s.tolerance(c, of, at)
		}
		if c, given := m["below"]; given {
			out.Below = s.tolerance(c, of, at)
		}
		return out
	}
	c := s.tolerance(f, of, at)
	return Within{Above: c, Below: c}
}

func startsLikeNumber(s string) bool {
	return s != "" && (s[0] >= '0' && s[0] <= '9' || s[0] == '-' || s[0] == '+' || s[0] == '.')
}

func (s *studyDraft) tolerance(f field, of *kin.Measure, at scope) Curve {
	if f.node.Kind == yaml.MappingNode {
		if at.motion < 0 || at.known && s.Motions[at.motion].Grid {
			s.w.bad(f, "is a curve, which needs in: a motion in which one travel alone moves; write one number")
			return nil
		}
		return s.curve(f, of, at, true)
	}
	v, ok := s.above(f, of)
	if !ok {
		return nil
	}
	return Curve{{0, v}}
}

func (s *studyDraft) walkLimit(f field) {
	w := s.w
	m, ok := w.mapping(f, limitKeys)
	if !ok {
		return
	}
	out := Limit{Name: f.key.Value, Pos: f.keyPos()}
	var of *kin.Measure
	if c, given := m["measure"]; given {
		out.Measure, out.Of, of = s.measure(c)
		if of != nil {
			out.Unit = of.Unit.String()
		}
	}
	at, ok := s.scope(f, m)
	out.Motion, out.Place = at.motion, at.place
	out.Min = s.end(f, m, of, "min", "at_least")
	out.Max = s.end(f, m, of, "max", "at_most")
	if c, given := m["spread"]; given {
		if v, ok := s.above(c, of); ok {
			out.Spread = &v
		}
		if f.keyIn("place") != nil || f.keyIn("in") == nil {
			w.bad(c, "needs in: a motion, and no place; at one place there is nothing to spread")
		}
	}
	if c, given := m["scale"]; given {
		if v, ok := s.above(c, of); ok {
			out.Scale = &v
		}
	}
	asked := false
	for _, k := range []string{"min", "max", "at_least", "at_most", "spread"} {
		asked = asked || f.keyIn(k) != nil
	}
	if !asked {
		w.at(f.keyPos(), f.path, "%s limits nothing; write min, max or spread", f.label)
	}
	if out.Min != nil && out.Max != nil && *out.Min > *out.Max {
		w.at(f.keyPos(), f.path, "%s has a min of %s above its max of %s; exchange them", f.label, shown(m, "min", "at_least"), shown(m, "max", "at_most"))
	}
	if ok {
		s.Limits = append(s.Limits, out)
	}
}

// end reads one end of a limit, which has two spellings.
func (s *studyDraft) end(f field, m map[string]field, of *kin.Measure, name, other string) *float64 {
	c, given := m[name]
	d, twice := m[other]
	if given && twice {
		s.w.at(d.keyPos(), d.path, "%s has both %s and %s, which mean the same; write one", f.label, name, other)
		return nil
	}
	if twice {
		c, given = d, true
	}
	if !given {
		return nil
	}
	v, ok := s.value(c, of)
	if !ok || math.IsNaN(v) {
		return nil
	}
	return &v
}

// shown returns what the file says under one of two spellings of a key.
func shown(m map[string]field, name, other string) string {
	if f, ok := m[name]; ok {
		return clip(f.node.Value)
	}
	return clip(m[other].node.Value)
}

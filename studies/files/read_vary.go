package files

import (
	"slices"
	"strings"

	"go.yaml.in/yaml/v4"

	"trammel/kin"
)

// coordinate is one number of the geometry.
type coordinate struct {
	point string
	axis  int // of the file
}

// perDegree is the lattice of angles: 0.001 deg, whatever the unit of length.
const perDegree = 1000

func (s *studyDraft) walkVary(f field) {
	entries, ok := s.w.entries(f)
	if !ok {
		return
	}
	if len(entries) == 0 {
		s.w.bad(f, "has nothing in it; write what may move, such as upper_ball.z: {by: ~15}")
	}
	s.titles(entries)
	s.w.distinct(entries, map[string]string{}, "entry")
	for _, e := range entries {
		m, ok := s.w.mapping(e, varyKeys)
		if !ok {
			continue
		}
		v := Vary{Name: e.key.Value, Pos: e.keyPos(), Step: 1}
		if s.varyForm(e, m, &v) {
			s.Vary = append(s.Vary, v)
		}
	}
}

// formKeys are the keys that go with each form of an entry.
var formKeys = map[string][]string{
	"move":   {"move", "along", "from", "to", "by", "step"},
	"turn":   {"turn", "about", "from", "to", "by", "step"},
	"choose": {"choose"},
	"":       {"from", "to", "by", "step"},
}

func (s *studyDraft) varyForm(f field, m map[string]field, v *Vary) bool {
	form := ""
	for _, k := range []string{"move", "turn", "choose"} {
		if _, given := m[k]; !given {
			continue
		}
		if form != "" {
			s.w.at(f.keyPos(), f.path, "%s has both %s and %s; write two entries", f.label, form, k)
			return false
		}
		form = k
	}
	ok := true
	for _, k := range sortedKeys(m) {
		if !slices.Contains(formKeys[form], k) {
			s.w.at(m[k].keyPos(), m[k].path, "%s does not go with %s", m[k].label, orElse(form, "one coordinate; it goes with move or turn"))
			ok = false
		}
	}
	for _, p := range []string{"move", "turn", "choose"} {
		if form != p && f.keyIn(p) != nil && m[p].node == nil {
			return false
		}
	}
	if !ok {
		return false
	}
	if form != "" {
		if before, _, dotted := strings.Cut(f.key.Value, "."); dotted && s.g.read && slices.Contains(s.g.pointNames(), before) {
			s.w.at(f.keyPos(), f.path, "%s is written like one coordinate, but %s moves more; give the entry a name without a dot", f.label, form)
			return false
		}
	}
	switch form {
	case "move":
		return s.varyMove(f, m, v)
	case "turn":
		return s.varyTurn(f, m, v)
	case "choose":
		return s.varyChoose(m["choose"], v)
	}
	return s.varyCoordinate(f, m, v)
}

// varyCoordinate reads POINT.AXIS: {from, to} or {by}.
func (s *studyDraft) varyCoordinate(f field, m map[string]field, v *Vary) bool {
	w := s.w
	dot := strings.LastIndexByte(v.Name, '.')
	axis := -1
	if dot > 0 {
		axis = slices.Index([]string{"x", "y", "z"}, v.Name[dot+1:])
	}
	if axis < 0 {
		w.at(f.keyPos(), f.path, "%s does not say what moves; name it POINT.x, POINT.y or POINT.z, or add move: [POINT] and along: x, y or z", f.label)
		return false
	}
	point := v.Name[:dot]
	if !s.movable(Position{f.key.Line, f.key.Column}, f.path, f.label, point) {
		return false
	}
	v.Kind, v.Points, v.Axis = VaryCoordinate, []string{point}, byte('x'+axis)
	v.Unit, v.PerUnit = w.units.String(), w.units.PerUnit()
	known := s.g.read && !s.g.bad[point]
	if known {
		v.DesignN = s.g.Points[s.g.index[point]].N[axis]
	}
	ok := s.bounds(f, m, v, w.lengthIn, known)
	return s.claim(f, v, []coordinate{{point, axis}}) && ok
}

// movable checks that a point exists and that moving it moves something.
func (s *studyDraft) movable(pos Position, path, label, point string) bool {
	if !s.g.read {
		return true
	}
	_, there := s.g.index[point]
	switch {
	case !there:
		s.w.at(pos, path, "%s: there is no point %s in the geometry; %s", label, quoted(point), s.insteadPoint(point))
		return false
	case !s.g.used[point] && !s.g.inDoubt(point):
		s.w.at(pos, path, "%s: %s is used by no member, so moving it changes nothing; name a point that a member uses", label, point)
		return false
	}
	return true
}

// insteadPoint ends a sentence about a point that does not exist; a side before it chooses between the point as
// drawn and its other side.
func (s *studyDraft) insteadPoint(point string) string {
	side, bare := splitSide(point)
	_, there := s.g.index[bare]
	_, own := s.g.index[oppositePrefix+bare]
	base, cut := cutOpposite(point)
	_, mirrored := s.g.index[base]
	switch {
	case side == s.g.Side && there:
		return "write " + bare + pick(own, "", ", which moves both sides")
	case side != NoSide && there && own:
		return "write " + oppositePrefix + bare
	case cut && mirrored || side != NoSide && there:
		name := pick(cut, base, bare)
		return "its other side is its mirror image; give " + name + " a place of its own under opposite in the geometry file, or write " + name
	}
	return instead(point, s.g.pointNames())
}

// lengthIn and angleIn read a bound in whole numbers of the entry's lattice.
func (w *walk) lengthIn(f field) (int64, bool) { return w.length(f) }

func (w *walk) angleIn(f field) (int64, bool) {
	v, ok := w.degrees(f)
	if !ok {
		return 0, false
	}
	q, exact, ok := roundToQuanta(v, perDegree)
	if !ok || q > 90*perDegree || q < -90*perDegree {
		w.bad(f, "is %s; a part that turns by more than 90 degrees is surely a mistake", clip(f.node.Value))
		return 0, false
	}
	if !exact {
		w.bad(f, "is %s: angles go by 0.001 deg; write %s", quoted(f.node.Value), formatQuanta(q, 3))
		return 0, false
	}
	return q, true
}

// bounds reads from and to, or by, and step; and checks that design lies inside and a step fits.
func (s *studyDraft) bounds(f field, m map[string]field, v *Vary, read func(field) (int64, bool), known bool) bool {
	w := s.w
	from, hasFrom := m["from"]
	to, hasTo := m["to"]
	by, hasBy := m["by"]
	ok := true
	switch {
	case hasBy && (hasFrom || hasTo):
		w.bad(by, "does not go with from and to; write by, or from and to")
		return false
	case hasBy:
		q, good := read(by)
		if good && q <= 0 {
			w.bad(by, "is %s; it counts both ways, so write a number greater than 0", clip(by.node.Value))
			good = false
		}
		if !good {
			return false
		}
		v.FromN, v.ToN = v.DesignN-q, v.DesignN+q
	case hasFrom && hasTo:
		a, goodA := read(from)
		b, goodB := read(to)
		if !goodA || !goodB {
			return false
		}
		v.FromN, v.ToN = a, b
		ok = s.inside(f, from, v, known)
	case f.keyIn("from") != nil && f.keyIn("to") != nil: // one is misspelt, which was said
		return false
	case hasFrom || hasTo:
		w.at(f.keyPos(), f.path, "%s has %s but not %s; write both, or by", f.label, pick(hasFrom, "from", "to"), pick(hasFrom, "to", "from"))
		return false
	default:
		if f.keyIn("from") == nil && f.keyIn("to") == nil && f.keyIn("by") == nil {
			w.at(f.keyPos(), f.path, "%s does not say how far; write by: ~15, or from and to", f.label)
		}
		return false
	}
	if step, given := m["step"]; given {
		return s.step(step, v, read, known) && ok
	}
	return ok
}

func pick(first bool, a, b string) string {
	if first {
		return a
	}
	return b
}

// inside checks from < to and that the design lies between them.
func (s *studyDraft) inside(f, from field, v *Vary, known bool) bool {
	show := func(n int64) string { return showQuanta(n, v.PerUnit) }
	switch {
	case v.FromN >= v.ToN:
		s.w.bad(from, "is %s and to is %s; from must be the smaller", show(v.FromN), show(v.ToN))
	case v.Kind != VaryCoordinate && (v.FromN > 0 || v.ToN < 0):
		s.w.at(f.keyPos(), f.path, "%s goes from %s to %s, counted from design, and leaves design itself out; let 0 lie between them", f.label, show(v.FromN), show(v.ToN))
	case known && (v.DesignN < v.FromN || v.DesignN > v.ToN):
		s.w.at(f.keyPos(), f.path, "%s is %s in the geometry, outside %s to %s; widen the range so that design lies inside", f.label, show(v.DesignN), show(v.FromN), show(v.ToN))
	default:
		return true
	}
	return false
}

func showQuanta(n, per int64) string {
	decimals := 3
	if per == Inch.PerUnit() {
		decimals = 4
	}
	return formatQuanta(n, decimals)
}

func (s *studyDraft) step(f field, v *Vary, read func(field) (int64, bool), known bool) bool {
	q, ok := read(f)
	switch {
	case !ok:
		return false
	case q <= 0:
		s.w.bad(f, "is %s; it must be more than 0", clip(f.node.Value))
		return false
	case known && q > v.ToN-v.DesignN && q > v.DesignN-v.FromN:
		s.w.bad(f, "is %s, and not one step from design fits between %s and %s; make it smaller, or the range wider", clip(f.node.Value), showQuanta(v.FromN, v.PerUnit), showQuanta(v.ToN, v.PerUnit))
		return false
	}
	v.Step = q
	return true
}

// points reads a list of points that move, or the two points of a line.
func (s *studyDraft) points(f field, want string, moving bool) ([]string, bool) {
	items, ok := s.w.items(f, want)
	if !ok {
		return nil, false
	}
	if len(items) == 0 {
		s.w.bad(f, "names no point; write %s", want)
		return nil, false
	}
	var names []string
	for _, it := range items {
		it.label = f.label
		name, good := s.w.scalar(it, "the name of a point")
		switch _, there := s.g.index[name]; {
		case !good:
		case slices.Contains(names, name):
			s.w.bad(it, "names %s twice; once is enough", clip(name))
			good = false
		case moving:
			good = s.movable(it.pos(), f.path, f.label, name)
		case s.g.read && !there:
			s.w.bad(it, "is %s, but there is no such point in the geometry; %s", quoted(name), s.insteadPoint(name))
			good = false
		}
		names, ok = append(names, name), ok && good
	}
	return names, ok
}

// varyMove reads {move: [points], along: axis or line, by}.
func (s *studyDraft) varyMove(f field, m map[string]field, v *Vary) bool {
	w := s.w
	v.Unit, v.PerUnit = w.units.String(), w.units.PerUnit()
	points, ok := s.points(m["move"], "the points that move, such as [rack_end]", true)
	v.Points = points
	along, given := m["along"]
	if !given {
		w.at(f.keyPos(), f.path, "%s needs along: x, y, z, or two points of a line such as [tube_a, tube_b]", f.label)
		return false
	}
	var axes []int
	if along.node.Kind == yaml.SequenceNode {
		v.Kind = VaryAlong
		line, good := s.line(along, v)
		axes, ok = line, ok && good
	} else {
		v.Kind = VaryMove
		word, good := w.word(along, []string{"x", "y", "z"}, nil)
		if good {
			v.Axis = word[0]
			axes = []int{int(word[0] - 'x')}
		}
		ok = ok && good
	}
	ok = s.bounds(f, m, v, w.lengthIn, true) && ok
	if !ok {
		return false
	}
	return s.claimAll(f, v, axes)
}

func (s *studyDraft) claimAll(f field, v *Vary, axes []int) bool {
	var all []coordinate
	for _, p := range v.Points {
		for _, a := range axes {
			all = append(all, coordinate{p, a})
		}
	}
	return s.claim(f, v, all)
}

// line reads two points that make a line, and answers along which axes it leads.
func (s *studyDraft) line(f field, v *Vary) (axes []int, ok bool) {
	names, ok := s.points(f, "two points such as [tube_a, tube_b]", false)
	if !ok {
		return nil, false
	}
	if len(names) != 2 {
		s.w.bad(f, "names %d points; a line needs two", len(names))
		return nil, false
	}
	v.LineFrom, v.LineTo = names[0], names[1]
	if !s.g.read || s.g.bad[names[0]] || s.g.bad[names[1]] {
		return []int{0, 1, 2}, true
	}
	a, b := s.g.Points[s.g.index[names[0]]].N, s.g.Points[s.g.index[names[1]]].N
	for i := range a {
		if a[i] != b[i] {
			axes = append(axes, i)
		}
	}
	if axes == nil {
		s.w.bad(f, "has no direction: %s and %s stand at the same place", names[0], names[1])
		return nil, false
	}
	return axes, true
}

// varyTurn reads {turn: upright, about: [point, point], by}.
func (s *studyDraft) varyTurn(f field, m map[string]field, v *Vary) bool {
	w := s.w
	v.Kind, v.Unit, v.PerUnit = VaryTurn, "deg", perDegree
	later := map[string]string{}
	for _, b := range s.g.bodies {
		if b != kin.Upright {
			later[b] = "only the upright turns as a whole; move the points of other parts"
		}
	}
	body, ok := w.word(m["turn"], []string{kin.Upright}, later)
	v.Body = body
	about, given := m["about"]
	if !given {
		w.at(f.keyPos(), f.path, "%s needs about: two points on the axis of the turn, such as [axle_inner, axle_outer]", f.label)
		return false
	}
	_, good := s.line(about, v)
	ok = ok && good
	ok = s.bounds(f, m, v, w.angleIn, true) && ok
	if !ok {
		return false
	}
	if s.Geometry != nil {
		v.Points = s.g.bodyPoints(kin.Upright)
		if s.g.read && len(v.Points) == 0 && !s.g.doubtful {
			w.bad(m["turn"], "is upright, but the geometry has none; move the points of the axle instead")
			return false
		}
		for _, p := range v.Points {
			if _, own := s.g.index[oppositePrefix+p]; own {
				w.bad(m["turn"], "is upright, whose point %s has a place of its own on the other side, so that the two uprights would turn apart; move points instead", p)
				return false
			}
		}
	}
	return true // a turn acts after the others, so it shares its points with them
}

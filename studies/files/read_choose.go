package files

import "slices"

// varyChoose reads {choose: {NAME: {POINT: [x, y, z]}}}; the geometry as drawn must be one of them.
func (s *studyDraft) varyChoose(f field, v *Vary) bool {
	w := s.w
	v.Kind, v.PerUnit, v.DesignN = VaryChoose, 1, -1
	entries, ok := w.entries(f)
	if !ok {
		return false
	}
	if len(entries) < 2 {
		w.bad(f, "has %s; a choice needs two or more", count(len(entries), "alternative"))
		return false
	}
	s.titles(entries)
	w.distinct(entries, map[string]string{}, "alternative")
	for _, e := range entries {
		o, good := s.option(e, v)
		if ok = ok && good; good && s.asDrawn(o) {
			if v.DesignN >= 0 {
				w.at(e.keyPos(), e.path, "%s and %s are both the geometry as drawn; take one out", quoted(v.Options[v.DesignN].Name), quoted(o.Name))
				ok = false
			}
			v.DesignN = int64(len(v.Options))
		}
		v.Options = append(v.Options, o)
	}
	if ok && v.DesignN < 0 && s.g.read {
		w.bad(f, "has no alternative that is the geometry as drawn; add one that keeps its points, and call it for instance as drawn: {}")
		return false
	}
	v.ToN = int64(len(v.Options) - 1)
	return s.claim(f, v, s.places(v)) && ok
}

// places returns the coordinates that some option of a choice puts elsewhere than the geometry draws them; the others are free for
// numbers of their own.
func (s *studyDraft) places(v *Vary) (all []coordinate) {
	for _, name := range v.Points {
		i, there := s.g.index[name]
		if !there || s.g.bad[name] {
			continue
		}
		for axis := range 3 {
			if slices.ContainsFunc(v.Options, func(o Option) bool {
				n, given := o.Points[name]
				return given && n[axis] != s.g.Points[i].N[axis]
			}) {
				all = append(all, coordinate{name, axis})
			}
		}
	}
	return all
}

func (s *studyDraft) option(f field, v *Vary) (Option, bool) {
	o := Option{Name: f.key.Value, Points: map[string][3]int64{}}
	entries, ok := s.w.entries(f)
	for _, e := range entries {
		name := e.key.Value
		if !s.movable(e.keyPos(), e.path, f.label, name) {
			ok = false
			continue
		}
		n, good := s.w.triple(e)
		ok = ok && good
		o.Points[name] = n
		if !slices.Contains(v.Points, name) {
			v.Points = append(v.Points, name)
		}
	}
	return o, ok
}

func (s *studyDraft) asDrawn(o Option) bool {
	for name, n := range o.Points {
		if i, there := s.g.index[name]; !there || s.g.Points[i].N != n {
			return false
		}
	}
	return true
}

// mover is the entry that moves a coordinate.
type mover struct {
	name string
	kind VaryKind
}

// claim reports coordinates that another entry moves already: the two would undo each other. A choice and a number that counts from
// design go together, since the number then counts from where the option places the point.
func (s *studyDraft) claim(f field, v *Vary, all []coordinate) bool {
	ok := true
	is := mover{v.Name, v.Kind}
	own := s.moved
	if v.Kind == VaryChoose {
		own = s.placed
	}
	for _, c := range all {
		if other, taken := own[c]; taken && other.name != v.Name {
			if ok {
				s.w.at(f.keyPos(), f.path, "%s moves %s.%c, which %s moves already; let one of them move it", quoted(v.Name), c.point, 'x'+rune(c.axis), quoted(other.name))
			}
			ok = false
			continue
		}
		own[c] = is
		if number, both := s.moved[c]; both && number.kind == VaryCoordinate {
			if choice, both := s.placed[c]; both {
				if ok {
					s.w.at(f.keyPos(), f.path, "%s varies a place that the options of %s change; write it as a shift, which counts from each option's own place: NAME: {move: [%s], along: %c, by: ~15}",
						quoted(number.name), quoted(choice.name), c.point, 'x'+rune(c.axis))
				}
				ok = false
			}
		}
	}
	return ok
}

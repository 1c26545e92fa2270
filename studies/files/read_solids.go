package files

import (
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v4"

	"trammel/kin"
)

// claim is a name and the section that it stands in.
type claim struct{ name, section string }

// claim checks the name of a part and takes it: one name belongs to one part.
func (g *draft) claim(e field, section string) {
	name := e.key.Value
	complaint := nameComplaint(name)
	switch {
	case name == groundSolid:
		complaint = "is the name of the ground, which no one draws; choose another"
	case slices.Contains(ownSolids, name):
		complaint = "is the name of a solid that stands under wheel; choose another"
	}
	if complaint != "" {
		g.w.at(e.keyPos(), e.path, "%s %s", quoted(name), complaint)
	}
	for _, other := range g.claimed {
		if other.name == name {
			if section == "solids" && (other.section == "members" || other.section == "across") {
				continue // the solid of a member; walkSolid looks whether it has one
			}
			g.w.at(e.keyPos(), e.path, "%s stands under %s too; a name belongs to one part, so rename one", name, other.section)
			break
		}
		if strings.EqualFold(other.name, name) {
			g.w.at(e.keyPos(), e.path, "%s and %s differ only in capitals; rename one", other.name, name)
			break
		}
	}
	g.claimed = append(g.claimed, claim{name, section})
}

// claims reads the entries of a section of named parts and takes their names.
func (g *draft) claims(f field, section string, most int) ([]field, bool) {
	entries, ok := g.w.filled(f)
	if !ok {
		return nil, false
	}
	if len(entries) > most {
		g.w.bad(f, "are more than %d; that is the most", most)
		return nil, false
	}
	for _, e := range entries {
		g.claim(e, section)
	}
	return entries, true
}

// wordOf returns which of some words stands as a key in a mapping, or "".
func wordOf(f field, words []string) string {
	for _, k := range words {
		if f.keyIn(k) != nil {
			return k
		}
	}
	return ""
}

// kindless reports an entry that does not say what it is, or says two things. It answers with the word that it says.
func (g *draft) kindless(f field, words []string, patterns map[string]string) (word string, ok bool) {
	w := g.w
	if f.node.Kind != yaml.MappingNode {
		w.bad(f, "must be a group of keys such as {%s}%s", w.units.Example(patterns[words[0]]), found(f.node))
		return "", false
	}
	if word = wordOf(f, words); word == "" {
		for i := 0; i < len(f.node.Content); i += 2 {
			k := f.node.Content[i]
			if word := near(k.Value, words); word != "" {
				w.at(Position{max(k.Line, 1), max(k.Column, 1)}, f.path, "%s: %s is called %s here; write {%s}", f.label, quoted(k.Value), word, w.units.Example(patterns[word]))
				return "", false
			}
		}
		w.at(f.keyPos(), f.path, "%s does not say what it is; begin with %s, for instance {%s}", f.label, list(words, "or"), w.units.Example(patterns[words[0]]))
		return "", false
	}
	for _, other := range words {
		if at := f.keyIn(other); at != nil && other != word {
			w.at(Position{at.Line, at.Column}, f.path, "%s is both %s and %s; write two of them", f.label, word, other)
			return "", false
		}
	}
	return word, true
}

// walkSolids reads the solids.
func (g *draft) walkSolids(f field) {
	entries, ok := g.claims(f, "solids", maxSolids)
	if !ok {
		g.doubtful, g.anyPoint = true, true
		return
	}
	for _, e := range entries {
		solids := len(g.Solids)
		g.part(e, routeOf(e), func() bool { g.walkSolid(e); return len(g.Solids) > solids })
	}
}

// routeOf returns how many points an entry of solids has, by the list that it names.
func routeOf(e field) int {
	c, given := e.under(wordOf(e, solidWords))
	switch {
	case given && c.node.Kind == yaml.SequenceNode:
		return max(len(c.node.Content), 2)
	case given:
		return 1
	}
	return 2
}

const underSolids = "but a solid exists on both sides; write %s, or once: true where it exists once"

var shapeOf = map[string]kin.Shape{"tube": kin.Tube, "box": kin.Block, "cylinder": kin.Drum, "ball": kin.Tube}

func (g *draft) walkSolid(f field) {
	word, ok := g.kindless(f, solidWords, solidPatterns)
	if !ok {
		return
	}
	m, _ := g.w.mapping(f, solidKeys[word])
	s := Solid{Name: f.key.Value, Shape: shapeOf[word], Pos: f.keyPos()}
	if i := g.Member(s.Name); i >= 0 && g.Members[i].Tube.Diameter > 0 {
		g.w.at(f.keyPos(), f.path, "%s is a member with a tube, which makes a solid of that name; rename this one, or take tube out", s.Name)
		return
	}
	if c, given := m["once"]; given {
		s.Once = g.w.isTrue(c)
	}
	if !s.Once && f.keyIn("once") != nil { // its own mistake was reported, and none about sides follows from it
		return
	}
	body, ok := kin.Frame, true
	r := memberReader{draft: g, across: s.Once, both: underSolids, out: Member{Name: s.Name, Kind: kin.Solid}}
	if c, given := m["on"]; given {
		if body, ok = r.body(c); ok && !s.Once && g.once[body] && g.isAcross[body] {
			r.across = true // what exists once carries what exists once
		}
	}
	s.Across = r.across
	ok = g.solidSizes(&s, m) && ok
	if c, given := m[word]; given {
		ok = r.route(c, word) && ok
	} else {
		ok = false
	}
	if !ok {
		return
	}
	for range r.out.Points {
		r.out.Bodies = append(r.out.Bodies, body)
	}
	r.keepSides()
	s.Points, s.Sides, s.Bodies = r.out.Points, r.out.Sides, r.out.Bodies
	g.Solids = append(g.Solids, s)
}

// solidSizes reads diameter and hole.
func (g *draft) solidSizes(s *Solid, m map[string]field) bool {
	before := len(*g.w.problems)
	g.w.lengths(m, false, map[string]*int64{"diameter": &s.Diameter, "hole": &s.Hole})
	if c, given := m["hole"]; given && s.Diameter > 0 && s.Hole >= s.Diameter {
		g.w.bad(c, "is %s, and the diameter %s; the hole must be smaller", g.w.units.Format(s.Hole), g.w.units.Format(s.Diameter))
	}
	return len(*g.w.problems) == before && (s.Diameter > 0 || s.Shape == kin.Block)
}

// route reads the points of a solid: one without brackets, two, or two and more.
func (r *memberReader) route(f field, word string) bool {
	if word == "ball" {
		f.label = "the point of " + f.label
		return r.point(f)
	}
	items, ok := r.w.items(f, solidKeys[word].find(word).about)
	if !ok {
		return false
	}
	switch {
	case word == "tube" && len(items) > maxRoute:
		r.w.bad(f, "has %s; %d are the most", count(len(items), "point"), maxRoute)
		return false
	case word == "tube" && len(items) < 2:
		r.w.bad(f, "has %s; a tube needs two or more: {%s}", count(len(items), "point"), r.w.units.Example(solidPatterns[word]))
		return false
	case word != "tube" && len(items) != 2:
		r.w.bad(f, "has %s; a %s needs two: {%s}", count(len(items), "point"), word, r.w.units.Example(solidPatterns[word]))
		return false
	}
	for i, it := range items {
		it.label = "point " + strconv.Itoa(i+1) + " of " + f.label
		ok = r.point(it) && ok
	}
	for i := 1; ok && i < len(items); i++ {
		if r.out.Points[i] == r.out.Points[i-1] && r.sides[i] == r.sides[i-1] {
			r.w.bad(f, "names %s twice; it needs two different points", withSide(r.sides[i], r.out.Points[i]))
			return false
		}
	}
	return ok
}

// walkTyre reads the room that tyre and rim take.
func (g *draft) walkTyre(m map[string]field) {
	w, tyre, rim := g.w, &g.Wheel.Tyre, &g.Wheel.Rim
	var t, r map[string]field
	tf, tyreGiven := m["tyre"]
	rf, rimGiven := m["rim"]
	if tyreGiven {
		t, _ = w.mapping(tf, tyreKeys)
		w.lengths(t, false, map[string]*int64{"diameter": &tyre.Diameter, "width": &tyre.Width})
		w.lengths(t, true, map[string]*int64{"round": &tyre.Round})
	}
	if rimGiven {
		r, _ = w.mapping(rf, rimKeys)
		w.lengths(r, false, map[string]*int64{"diameter": &rim.Diameter, "width": &rim.Width, "wall": &rim.Wall})
	}
	if c, given := r["wall"]; given && rim.Wall > 0 && rim.Diameter > 0 && 2*rim.Wall >= rim.Diameter {
		w.bad(c, "is %s, which leaves nothing inside a barrel of diameter %s; it is the way from the outside of the barrel to its inside", w.units.Format(rim.Wall), w.units.Format(rim.Diameter))
	}
	if tyreGiven && !rimGiven {
		w.at(tf.keyPos(), tf.path, "%s needs rim beside it, for the tyre ends where the rim begins; write rim: {diameter: ~330, width: ~178, wall: ~10} with your own numbers", tf.label)
	}
	if c, given := t["diameter"]; given && tyre.Diameter > 0 {
		switch {
		case rim.Diameter >= tyre.Diameter:
			w.bad(c, "is %s, and the rim's %s; a tyre is larger than its rim", w.units.Format(tyre.Diameter), w.units.Format(rim.Diameter))
		case 2*g.Wheel.LoadedRadius > tyre.Diameter:
			w.bad(c, "is %s, but with a loaded_radius of %s it is at least %s", w.units.Format(tyre.Diameter), w.units.Format(g.Wheel.LoadedRadius), w.units.Format(2*g.Wheel.LoadedRadius))
		}
	} else if c, given := r["diameter"]; given && !tyreGiven && g.Wheel.LoadedRadius > 0 && rim.Diameter >= 2*g.Wheel.LoadedRadius {
		w.bad(c, "is %s, but the ground lies only %s below the wheel's centre", w.units.Format(rim.Diameter), w.units.Format(g.Wheel.LoadedRadius))
	}
	if c, given := t["round"]; given && tyre.Round > 0 && tyre.Width > 0 && tyre.Diameter > rim.Diameter && rim.Diameter > 0 {
		if most := min(tyre.Width, (tyre.Diameter-rim.Diameter)/2) / 2; tyre.Round > most {
			w.bad(c, "is %s; half the width and half the sidewall's height leave at most %s", w.units.Format(tyre.Round), w.units.Format(most))
		}
	}
}

package files

import (
	"maps"
	"slices"

	"go.yaml.in/yaml/v4"

	"trammel/kin"
)

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }

// eachEnd calls f for every point of a member, with its side, and for each body the point is on; an arm or
// rocker is a body too.
func eachEnd(m Member, f func(point string, side Side, body string)) {
	own := ""
	if makesBody(m.Kind) {
		own = m.Name
	}
	for i, p := range m.Points {
		side := NoSide
		if m.Sides != nil {
			side = m.Sides[i]
		}
		for _, b := range []string{m.Bodies[bodyOf(m.Kind, i)], own} {
			if b != "" {
				f(p, side, b)
			}
		}
		if m.Kind == kin.Kingpin { // its axis belongs to both
			f(p, side, m.Bodies[1])
		}
	}
}

// bodyOf returns which of a member's bodies its point i is on.
func bodyOf(k kin.Kind, i int) int {
	switch k {
	case kin.Arm, kin.HArm:
		return i / 2
	case kin.Rocker, kin.Hinge, kin.Ball, kin.Kingpin:
		return 0
	}
	return i
}

// makesBody tells whether a member of the kind is a body, called by its name.
func makesBody(k kin.Kind) bool {
	return k == kin.Arm || k == kin.HArm || k == kin.Rocker || k == kin.Centre
}

// section is what tells members from across.
type section struct {
	name   string
	kinds  []string
	tables map[string]keys
	across bool
}

var (
	sideSection   = section{"members", sideKinds, memberKeys, false}
	acrossSection = section{"across", acrossKinds, acrossKeys, true}
)

// survey finds, before any member is read, which members and bodies there are and what carries the wheel.
func (g *draft) survey(m map[string]field) {
	g.bodies = slices.Clone(reserved)
	g.once = map[string]bool{kin.Frame: true, kin.Rack: true, kin.Axle: true}
	for _, s := range []section{sideSection, acrossSection} {
		f, given := m[s.name]
		if !given || f.node.Kind != yaml.MappingNode {
			continue
		}
		for i := 0; i+1 < len(f.node.Content) && i < 2*maxMembers; i += 2 {
			name, e := f.node.Content[i].Value, field{node: f.node.Content[i+1]}
			kind := kindWord(e)
			g.names = append(g.names, name)
			g.unclear[name] = kind == ""
			if kind == "torsion_bar" && s.across {
				g.bars = append(g.bars, name)
			}
			if makesBody(kindOf[kind]) {
				g.bodies = append(g.bodies, name)
				g.once[name] = s.across
			}
			if kind == "kingpin" {
				g.kingpin, g.axle, g.upright = true, true, true
			}
			g.surveyBodies(e)
		}
	}
}

// surveyBodies looks whether a member names the axle or the upright.
func (g *draft) surveyBodies(e field) {
	if e.node.Kind != yaml.MappingNode {
		return
	}
	for i := 0; i+1 < len(e.node.Content); i += 2 {
		k, v := e.node.Content[i], e.node.Content[i+1]
		if k.Value != "ends" && k.Value != "on" {
			continue
		}
		for _, n := range append([]*yaml.Node{v}, v.Content...) {
			switch _, body := splitSide(n.Value); body {
			case kin.Axle:
				g.axle = true
				g.axles = append(g.axles, n)
			case kin.Rack:
				g.onRack = true
			case kin.Upright:
				g.upright = true
				g.uprights = append(g.uprights, n)
			}
		}
	}
}

// isMember tells whether a member of either section has the name.
func (g *draft) isMember(name string) bool { return slices.Contains(g.names, name) }

// carrier is the body that the members of both sides carry the wheel by.
func (g *draft) carrier() string {
	if g.axle && !g.upright {
		return kin.Axle
	}
	return kin.Upright
}

// walkMembers reads one section of members, each against its kind's table.
func (g *draft) walkMembers(f field, s section) {
	entries, ok := g.w.filled(f)
	if !ok {
		g.doubtful, g.anyPoint = true, true
		return
	}
	if len(entries) > maxMembers {
		g.w.bad(f, "are more than %d; a corner has about ten", maxMembers)
		g.doubtful, g.anyPoint = true, true
		return
	}
	for _, e := range entries {
		g.claim(e, s.name)
		g.members = append(g.members, e.key.Value)
		g.isAcross[e.key.Value] = s.across
	}
	for _, e := range entries {
		g.part(e, pointsOf(e), func() bool { g.walkMember(e, s); return g.Member(e.key.Value) >= 0 })
	}
}

// kindWord returns the word that says what a member is, or "".
func kindWord(f field) string {
	for _, k := range kindKeys {
		if f.keyIn(k) != nil {
			return k
		}
	}
	return ""
}

func (g *draft) walkMember(f field, s section) {
	w := g.w
	word := kindWord(f)
	if word == "" {
		g.noKind(f, s)
		return
	}
	for _, other := range kindKeys {
		if at := f.keyIn(other); at != nil && other != word && !(other == "ball_joint" && forms[kindOf[word]].balls > 0) {
			w.at(Position{at.Line, at.Column}, f.path, "%s is both %s and %s; write two members", f.label, word, other)
			return
		}
	}
	switch {
	case !slices.Contains(s.kinds, word) && s.across:
		w.at(f.keyPos(), f.path, "%s is a %s, which exists on both sides; write it under members", f.label, word)
		return
	case !slices.Contains(s.kinds, word):
		w.at(f.keyPos(), f.path, "%s is a %s, which exists once; write it under across", f.label, word)
		return
	}
	kind := kindOf[word]
	if s.across && forms[kind].ends == endsCarrier && !g.axle {
		w.at(f.keyPos(), f.path, "%s is %s across the car, which only an axle can have; name axle in its ends, or write it under members", f.label, acrossKeys[word].of)
		return
	}
	if kind == kin.Kingpin && !g.oneKingpin(f) {
		return
	}
	m, ok := w.mapping(f, s.tables[word])
	if !ok {
		return
	}
	r := memberReader{draft: g, out: Member{Name: f.key.Value, Kind: kind, Across: s.across, Pos: f.keyPos()}, across: s.across, both: underMembers}
	if r.read(f, m, word) {
		g.Members = append(g.Members, r.out)
	}
}

// oneKingpin refuses a second kingpin.
func (g *draft) oneKingpin(f field) bool {
	if g.firstKingpin != "" {
		g.w.at(f.keyPos(), f.path, "%s is a second kingpin, and %s is one already; it exists on both sides, so write it once", f.label, g.firstKingpin)
		return false
	}
	g.firstKingpin = f.key.Value
	if len(g.axles) == 0 {
		g.w.at(f.keyPos(), f.path, "%s is a kingpin, on which an upright turns on an axle, but no member is on the axle; name axle in the ends of the links that hold it, or take the kingpin out", f.label)
	}
	return true
}

// noKind reports a member that does not say what it is.
func (g *draft) noKind(f field, s section) {
	w := g.w
	entries, ok := w.entries(f)
	if !ok {
		return
	}
	for _, e := range entries {
		word := near(e.key.Value, kindKeys)
		if plain(e.key.Value) == "bar" && s.across && f.keyIn("ends") == nil {
			word = kin.Bar.String()
		}
		if word == "" || word == kin.Ball.String() {
			continue // ball may be an arm's
		}
		where := pick(slices.Contains(s.kinds, word), "", " under "+pick(s.across, "members", "across"))
		w.at(e.keyPos(), e.path, "%s: %s is called %s here; write {%s}%s", f.label, quoted(e.key.Value), word, forms[kindOf[word]].pattern, where)
		return
	}
	for _, e := range entries {
		if e.key.Value == "ball" || e.key.Value == "balls" {
			word := pick(e.key.Value == "ball", "arm", "h_arm")
			w.at(f.keyPos(), f.path, "%s does not say what it is; for a wishbone write {%s}, for a ball joint between frame and upright {%s}", f.label, forms[kindOf[word]].pattern, forms[kin.Ball].pattern)
			return
		}
		if near(e.key.Value, kindKeys) == kin.Ball.String() {
			w.at(e.keyPos(), e.path, "%s: %s is called ball_joint here; write {%s}", f.label, quoted(e.key.Value), forms[kin.Ball].pattern)
			return
		}
	}
	w.at(f.keyPos(), f.path, "%s does not say what it is; begin with %s, for instance {%s}", f.label, list(s.kinds, "or"), forms[kin.Link].pattern)
}

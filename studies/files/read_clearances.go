package files

import (
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v4"

	"trammel/kin"
)

// walkAsked reads groups, clearances and joints: what is asked of the parts that were read before.
func (g *draft) walkAsked(m map[string]field) {
	claimed := map[string][]field{} // all names first, so that each can say where another stands
	for _, section := range []string{"groups", "clearances", "joints"} {
		if f, given := m[section]; given {
			claimed[section], _ = g.claims(f, section, maxSolids)
		}
	}
	g.walkGroups(claimed["groups"])
	gaps := 0
	for _, e := range claimed["clearances"] {
		gaps += g.walkClearance(e)
	}
	if gaps > maxGaps {
		g.w.bad(m["clearances"], "ask for %d gaps between two solids, and %d are the most; take out of the groups what can never touch", gaps, maxGaps)
	}
	g.unwatched()
	for _, e := range claimed["joints"] {
		g.walkJoint(e)
	}
}

func (g *draft) walkGroups(entries []field) {
	for _, e := range entries {
		names, ok := g.solidNames(e, false, map[string]string{})
		if ok {
			g.Groups = append(g.Groups, Group{Name: e.key.Value, Names: names, Pos: e.keyPos()})
		}
	}
}

// solidNames reads a list of solids, of groups too where those may stand, or a single one. The map has the names
// that stand in it already, by the solid and its side.
func (g *draft) solidNames(f field, groups bool, seen map[string]string) ([]string, bool) {
	if f.node.Kind != yaml.SequenceNode {
		if !groups {
			_, ok := g.w.items(f, "solids such as [lower_arm, upper_arm, tie_rod]")
			return nil, ok
		}
		s, ok := g.solidName(f, groups, seen)
		return []string{s}, ok
	}
	items, ok := g.w.items(f, "solids")
	if ok && len(items) == 0 {
		g.w.bad(f, "has nothing in it; name one solid or more")
		return nil, false
	}
	if len(items) > maxSolids {
		g.w.bad(f, "has %d solids; %d are the most", len(items), maxSolids)
		return nil, false
	}
	var names []string
	for i, it := range items {
		it.label = "solid " + strconv.Itoa(i+1) + " of " + f.label
		s, good := g.solidName(it, groups, seen)
		names, ok = append(names, s), ok && good
	}
	return names, ok
}

// solidName reads the name of a solid, or of a group where one may stand, either with a side before it.
func (g *draft) solidName(f field, groups bool, seen map[string]string) (string, bool) {
	s, ok := g.w.scalar(f, "the name of a solid")
	if !ok {
		return "", false
	}
	found := g.occupants([]string{s}, g.asked(s), false)
	side, bare := splitSide(s)
	isGroup := slices.ContainsFunc(g.Groups, func(o Group) bool { return o.Name == bare })
	switch {
	case len(found) == 0 || isGroup && !groups:
		g.noSolid(f, s, groups)
		return "", false
	case side != NoSide && !slices.ContainsFunc(found, func(o occupant) bool { return o.side == side && !o.solid.Across }):
		g.w.bad(f, "is %s, but %s exists once; write %s", quoted(s), bare, bare)
		return "", false
	}
	for _, o := range found {
		name := withSide(o.side, o.solid.Name)
		if before, twice := seen[name]; twice {
			g.w.bad(f, "is %s, and %s stands here twice%s; name it once", s, name, pick(before != name, " ("+before+" has it too)", ""))
			return "", false
		}
		seen[name] = s
	}
	return s, true
}

// asked returns the solids among which a name is looked for: the ground exists where it is asked for.
func (g *draft) asked(name string) []taker {
	all := g.takers()
	if name == groundSolid && !slices.ContainsFunc(all, func(s taker) bool { return s.Name == groundSolid }) {
		all = append(all, taker{Solid: Solid{Name: groundSolid, Shape: kin.Ground, Across: true}})
	}
	return all
}

// noSolid says why a name is that of no solid.
func (g *draft) noSolid(f field, written string, groups bool) {
	w := g.w
	side, bare := splitSide(written)
	section := ""
	for _, c := range g.claimed {
		if c.name == bare {
			section = c.section
		}
	}
	i := g.Member(bare)
	_, isPoint := g.index[bare]
	switch {
	case side != NoSide && bare == groundSolid:
		w.bad(f, "is %s, but the ground exists once; write ground", quoted(written))
	case g.faulty[bare]: // its own mistake was reported, and no other follows from it
	case bare == tyreSolid || bare == rimSolid:
		w.bad(f, "is %s, but the wheel has none; write %s: {...} under wheel", written, bare)
	case section == "groups" && groups: // its own mistake was reported, and no other follows from it
	case section == "groups":
		w.bad(f, "is %s, which is a group; a group lists solids, so write those of %s", quoted(written), bare)
	case i >= 0 && hasTube(g.Members[i].Kind):
		w.bad(f, "is %s, which takes no room yet; write its tube on it, such as tube: ~28, or draw a solid of that name under solids", bare)
	case i >= 0:
		w.bad(f, "is %s, %s %s, which takes no room by itself; draw a solid of that name under solids: %s: {tube: [POINT, POINT], diameter: ~28, on: BODY}",
			bare, article(g.Members[i].Kind.String()), g.Members[i].Kind, bare)
	case section == "solids" || section == "members" || section == "across": // the same
	case section != "":
		w.bad(f, "is %s, which stands under %s; name solids here", quoted(written), section)
	case slices.Contains(reserved, bare):
		w.bad(f, "is %s, a body, which takes no room by itself; draw a solid on it under solids, such as {box: [POINT, POINT], on: %s}", bare, bare)
	case isPoint:
		w.bad(f, "is %s, a point; for room round a point draw a solid, such as {ball: %s, diameter: ~36, on: BODY}", bare, bare)
	default:
		w.bad(f, "is %s, but there is no such solid; %s", quoted(written), insteadSided(written, g.solidWords(groups)))
	}
}

// hasTube tells whether a member of the kind can have a tube.
func hasTube(k kin.Kind) bool {
	t := memberKeys[k.String()].find("tube")
	return t != nil && t.taken()
}

// solidWords are the names of what a clearance can name.
func (g *draft) solidWords(groups bool) []string {
	var names []string
	for _, s := range g.asked(groundSolid) {
		names = append(names, s.Name)
	}
	if groups {
		for _, o := range g.Groups {
			names = append(names, o.Name)
		}
	}
	return names
}

// walkClearance reads one clearance and returns how many gaps it asks for.
func (g *draft) walkClearance(f field) int {
	w := g.w
	m, ok := w.mapping(f, clearanceKeys)
	if !ok {
		return 0
	}
	c := Clearance{Name: f.key.Value, Pos: f.keyPos()}
	w.lengths(m, true, map[string]*int64{"min": &c.Min})
	w.lengths(m, false, map[string]*int64{"joint": &c.Joint})
	b, given := m["between"]
	if !given {
		return 0
	}
	items, ok := w.items(b, "two solids, groups or lists of them, such as [links, footwell]")
	if !ok {
		return 0
	}
	if len(items) != 2 {
		w.bad(b, "has %s; it needs two, such as [links, footwell], and several on one side stand in brackets of their own: [[lower_arm, tie_rod], footwell]", count(len(items), "part"))
		return 0
	}
	for k, it := range items {
		it.label = pick(k == 0, "the first of ", "the second of ") + b.label
		names, good := g.solidNames(it, true, map[string]string{})
		c.Between[k], ok = names, ok && good
	}
	if !ok {
		return 0
	}
	takers := g.takers()
	if !slices.ContainsFunc(takers, func(s taker) bool { return s.Name == groundSolid }) {
		takers = g.asked(groundSolid)
	}
	var lots [2][]occupant
	for k := range lots {
		lots[k] = g.occupants(c.Between[k], takers, false)
	}
	c.Across = existsOnce(lots)
	for k := range lots {
		lots[k] = g.occupants(c.Between[k], takers, c.Across)
	}
	if !g.canMove(b, lots) {
		return 0
	}
	if c.Joint > 0 && !meet(lots) {
		w.bad(m["joint"], "has no place here, for no tube on one side of between has a point of a tube on the other; take it out")
	}
	g.Clearances = append(g.Clearances, c)
	return len(lots[0]) * len(lots[1])
}

// existsOnce tells whether a clearance exists once: a side is named in it, or nothing in it has any.
func existsOnce(lots [2][]occupant) bool {
	once := true
	for _, lot := range lots {
		for _, o := range lot {
			if o.side != NoSide {
				return true
			}
			once = once && o.solid.Across
		}
	}
	return once
}

// canMove reports two solids of a clearance that can never move to each other. It looks at every pair, and speaks
// of the first.
func (g *draft) canMove(f field, lots [2][]occupant) bool {
	for _, a := range lots[0] {
		for _, b := range lots[1] {
			x, y := withSide(a.side, a.solid.Name), withSide(b.side, b.solid.Name)
			on := onBody(a)
			switch {
			case x == y:
				g.w.bad(f, "names %s in both its parts; a solid keeps no distance from itself, so take it out of one", x)
			case a.solid.Shape == kin.Ground && b.solid.Name == tyreSolid, b.solid.Shape == kin.Ground && a.solid.Name == tyreSolid:
				g.w.bad(f, "is between tyre and ground, and the tyre stands on the ground; name another part of the car")
			case on != "" && on == onBody(b):
				g.w.bad(f, "has %s and %s, which are both on %s and never move to each other; look at that gap in CAD, and take one of them out", x, y, on)
			default:
				continue
			}
			return false
		}
	}
	return true
}

// meet tells whether two tubes of a clearance share a point.
func meet(lots [2][]occupant) bool {
	for _, a := range lots[0] {
		for _, b := range lots[1] {
			if a.solid.Shape > kin.Slider || b.solid.Shape > kin.Slider {
				continue
			}
			if slices.ContainsFunc(a.solid.Points, func(p string) bool { return slices.Contains(b.solid.Points, p) }) {
				return true
			}
		}
	}
	return false
}

// onBody returns the body that a whole solid is on, with its side where it has one; "" where it is on several. The
// wheel turns on its axis, and so is a body of its own here.
func onBody(o occupant) string {
	s := o.solid
	switch {
	case s.Shape == kin.Hoop:
		return withSide(o.side, "wheel")
	case len(s.Bodies) == 0:
		return ""
	}
	for _, b := range s.Bodies {
		if b != s.Bodies[0] {
			return ""
		}
	}
	switch body := s.Bodies[0]; {
	case body == kin.Frame || body == kin.Rack || body == kin.Axle || strings.Contains(body, ".") || s.Across:
		return body
	default:
		return withSide(o.side, body)
	}
}

// unwatched notes solids that are in no clearance, for whoever draws one wants it watched. A tyre or a rim may be there for
// the sake of the other.
func (g *draft) unwatched() {
	watched := map[string]bool{}
	takers := g.takers()
	for i := range g.Clearances {
		for _, names := range g.Clearances[i].Between {
			for _, o := range g.occupants(names, takers, false) {
				watched[o.solid.Name] = true
			}
		}
	}
	wheel := slices.ContainsFunc(takers, func(s taker) bool { return s.Shape == kin.Hoop && watched[s.Name] })
	var names []string
	var first Position
	for _, s := range takers {
		if !watched[s.Name] && !(wheel && s.Shape == kin.Hoop) {
			if names = append(names, s.Name); len(names) == 1 {
				first = s.Pos
			}
		}
	}
	if len(names) > 0 && len(*g.w.problems) == 0 {
		g.w.note(first, "solids", "%s %s in no clearance, so nothing is asked of the gaps; write clearances: and what must keep away from %s, such as {between: [%s, OTHER], min: ~5}",
			clippedList(names), pick(len(names) == 1, "is", "are"), pick(len(names) == 1, "it", "each"), names[0])
	}
}

// clippedList is list for many words: the first few of them.
func clippedList(words []string) string {
	const most = 5
	if len(words) > most {
		words = append(slices.Clone(words[:most-1]), strconv.Itoa(len(words)-most+1)+" others")
	}
	return list(words, "and")
}

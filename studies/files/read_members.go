package files

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"trammel/kin"
)

var kindOf = map[string]kin.Kind{"arm": kin.Arm, "link": kin.Link, "rocker": kin.Rocker, "damper": kin.Damper, "spring": kin.Spring}

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }

// eachEnd calls f for every point of a member and the body it is on.
func eachEnd(m Member, f func(point, body string)) {
	switch m.Kind {
	case kin.Arm:
		f(m.Points[0], m.Bodies[0])
		f(m.Points[1], m.Bodies[0])
		f(m.Points[2], m.Bodies[1])
		for _, p := range m.Points {
			f(p, m.Name)
		}
	case kin.Rocker:
		for _, p := range m.Points {
			f(p, m.Bodies[0])
			f(p, m.Name)
		}
	default:
		f(m.Points[0], m.Bodies[0])
		f(m.Points[1], m.Bodies[1])
	}
}

// pointName returns the name of a point that exists.
func (g *draft) pointName(f field) (string, bool) {
	s, ok := g.w.scalar(f, "the name of a point")
	if !ok {
		return "", false
	}
	if _, there := g.index[s]; !there {
		if len(g.Points) > 0 {
			g.w.bad(f, "is %s, but there is no such point; %s", quoted(s), instead(s, g.pointNames()))
		}
		return "", false
	}
	g.used[s] = true
	return s, true
}

func (g *draft) pointNames() []string {
	names := make([]string, len(g.Points))
	for i, p := range g.Points {
		names[i] = p.Name
	}
	return names
}

// walkMembers reads the members: first which bodies there are, then each against its kind's table.
func (g *draft) walkMembers(f field) {
	entries, ok := g.w.entries(f)
	if !ok {
		return
	}
	if len(entries) > maxMembers {
		g.w.bad(f, "are more than %d; a corner has about ten", maxMembers)
		return
	}
	g.bodies = slices.Clone(reserved)
	kinds := make([]string, len(entries))
	for i, e := range entries {
		if complaint := nameComplaint(e.key.Value); complaint != "" {
			g.w.at(e.keyPos(), e.path, "%s %s", quoted(e.key.Value), complaint)
		}
		for _, other := range g.members {
			if strings.EqualFold(other, e.key.Value) {
				g.w.at(e.keyPos(), e.path, "%s and %s differ only in capitals; rename one", other, e.key.Value)
				break
			}
		}
		g.members = append(g.members, e.key.Value)
		kinds[i] = kindWord(e)
		if kinds[i] == "arm" || kinds[i] == "rocker" {
			g.bodies = append(g.bodies, e.key.Value)
		}
		g.unclear[e.key.Value] = kinds[i] == ""
	}
	for i, e := range entries {
		g.walkMember(e, kinds[i])
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

func (g *draft) walkMember(f field, kind string) {
	w := g.w
	if kind == "" {
		g.noKind(f)
		return
	}
	for _, other := range kindKeys {
		if at := f.keyIn(other); at != nil && other != kind {
			w.at(Position{at.Line, at.Column}, f.path, "%s is both %s and %s; write two members", f.label, kind, other)
			return
		}
	}
	m, ok := w.mapping(f, memberKeys[kind])
	if !ok {
		return
	}
	out := Member{Name: f.key.Value, Kind: kindOf[kind], Pos: f.keyPos()}
	points, ok := g.pair(m, kind, memberKeys[kind].find(kind).about)
	out.Points = points
	switch kind {
	case "arm":
		good := g.onFrame(m)
		b, given := m["ball"]
		if !given {
			return
		}
		ball, found := g.pointName(b)
		out.Points, out.Bodies = append(points, ball), []string{"frame", "upright"}
		ok = ok && good && found
	case "rocker":
		out.Bodies = []string{"frame"}
		ok = g.onFrame(m) && ok
	default:
		bodies, good := g.ends(m)
		out.Bodies, ok = bodies, ok && good
	}
	if l, given := m["length"]; given {
		out.Length = w.lengthRange(l)
	}
	if ok {
		g.Members = append(g.Members, out)
	}
}

// noKind reports a member that does not say what it is, or is what is not built yet.
func (g *draft) noKind(f field) {
	w := g.w
	entries, ok := w.entries(f)
	if !ok {
		return
	}
	for _, e := range entries {
		if do, planned := laterKinds[e.key.Value]; planned {
			w.at(e.keyPos(), e.path, "%s: %s is not built yet; %s", f.label, e.key.Value, do)
			return
		}
		if word := near(e.key.Value, kindKeys); word != "" {
			w.at(e.keyPos(), e.path, "%s: %s is called %s here; write {%s}", f.label, quoted(e.key.Value), word, memberPattern(word))
			return
		}
	}
	w.at(f.keyPos(), f.path, "%s does not say what it is; begin with %s, for instance {%s}", f.label, list(kindKeys, "or"), memberPattern("link"))
}

// memberPattern shows how a kind of member is written.
func memberPattern(kind string) string {
	switch kind {
	case "arm":
		return "arm: [PIVOT, PIVOT], ball: POINT"
	case "rocker":
		return "rocker: [POINT, POINT]"
	}
	return kind + ": [POINT, POINT], ends: [BODY, BODY]"
}

// pair reads the two points that make a member.
func (g *draft) pair(m map[string]field, kind, about string) ([]string, bool) {
	f, given := m[kind]
	if !given {
		return nil, false
	}
	items, ok := g.w.items(f, about)
	if !ok {
		return nil, false
	}
	if len(items) != 2 {
		g.w.bad(f, "has %s; %s needs two: {%s}", count(len(items), "point"), kind, memberPattern(kind))
		return nil, false
	}
	names := make([]string, 2)
	for i, it := range items {
		it.label = "point " + string(rune('1'+i)) + " of " + f.label
		name, good := g.pointName(it)
		names[i], ok = name, ok && good
	}
	if ok && names[0] == names[1] {
		g.w.bad(f, "names %s twice; it needs two different points", names[0])
		return nil, false
	}
	return names, ok
}

// ends reads the two bodies that a bar is on.
func (g *draft) ends(m map[string]field) ([]string, bool) {
	f, given := m["ends"]
	if !given {
		return nil, false
	}
	items, ok := g.w.items(f, "two bodies such as [rack, upright]")
	if !ok {
		return nil, false
	}
	if len(items) != 2 {
		g.w.bad(f, "names %s; it needs two, in the order of the points, such as [rack, upright]", pick(len(items) == 1, "1 body", fmt.Sprint(len(items), " bodies")))
		return nil, false
	}
	names := make([]string, 2)
	for i, it := range items {
		it.label = "body " + string(rune('1'+i)) + " of " + f.label
		name, good := g.bodyName(it)
		names[i], ok = name, ok && good
	}
	fixed := func(s string) bool { return s == kin.Frame || s == kin.Rack }
	switch {
	case !ok:
		return nil, false
	case names[0] == names[1]:
		g.w.bad(f, "puts both ends on %s, where nothing moves between them; name two different bodies", names[0])
		return nil, false
	case fixed(names[0]) && fixed(names[1]):
		g.w.bad(f, "is from %s to %s, which no wheel moves; name the body that the wheel moves", names[0], names[1])
		return nil, false
	}
	return names, true
}

// bodyName returns the name of a body that exists.
func (g *draft) bodyName(f field) (string, bool) {
	s, ok := g.w.scalar(f, "the name of a body")
	if !ok {
		return "", false
	}
	switch {
	case slices.Contains(g.bodies, s):
		return s, true
	case g.unclear[s]: // its own mistake was reported, and no other follows from it
	case slices.Contains(g.members, s):
		g.w.bad(f, "is %s, which is a member but no body; bodies are frame, rack, upright, and every arm and rocker", quoted(s))
	default:
		g.w.bad(f, "is %s, but there is no such body; %s", quoted(s), instead(s, g.bodies))
	}
	return "", false
}

// onFrame reads what carries an axis: in this build, the frame.
func (g *draft) onFrame(m map[string]field) bool {
	f, given := m["on"]
	if !given {
		return true
	}
	body, ok := g.bodyName(f)
	if ok && body != kin.Frame {
		g.w.bad(f, "is %s, and an axis on another body than the frame is not built yet; write frame, or leave it out", body)
		return false
	}
	return ok
}

func (w *walk) lengthRange(f field) (r Range) {
	m, ok := w.mapping(f, lengthKeys)
	if !ok {
		return r
	}
	if len(m) == 0 {
		w.bad(f, "has neither min nor max; write {min: 190, max: 265} with your own numbers")
		return r
	}
	if c, given := m["min"]; given {
		if q, ok := w.positive(c, false); ok {
			r.Min = &q
		}
	}
	if c, given := m["max"]; given {
		if q, ok := w.positive(c, false); ok {
			r.Max = &q
		}
	}
	if r.Min != nil && r.Max != nil && *r.Min >= *r.Max {
		w.bad(f, "has min %s and max %s; min must be less than max", w.units.Format(*r.Min), w.units.Format(*r.Max))
	}
	return r
}

// checkPlaces reports members that have no length, no radius or no axis, and notes a damper that does
// not fit at design.
func (g *draft) checkPlaces() {
	for _, m := range g.Members {
		var n [][3]int64
		for _, name := range m.Points {
			if !g.bad[name] {
				n = append(n, g.Points[g.index[name]].N)
			}
		}
		if len(n) != len(m.Points) {
			continue
		}
		path := "members." + m.Name
		if n[0] == n[1] {
			what := "has no length"
			if m.Kind == kin.Arm || m.Kind == kin.Rocker {
				what = "has no axis"
			}
			g.w.at(m.Pos, path, "%s %s: %s and %s stand at the same place", m.Name, what, m.Points[0], m.Points[1])
			continue
		}
		if m.Kind == kin.Arm && offLine(n[2], n[0], n[1]) < 1 {
			g.w.at(m.Pos, path, "%s has no radius: %s lies on the axis through %s and %s", m.Name, m.Points[2], m.Points[0], m.Points[1])
		}
		g.noteStroke(m, distance(n[0], n[1]), path)
	}
}

func (g *draft) noteStroke(m Member, length float64, path string) {
	at := int64(math.Round(length))
	if r := m.Length.Min; r != nil && at < *r {
		g.w.note(m.Pos, path, "%s is %s %s long at design, shorter than its min of %s", m.Name, g.Units.Format(at), g.Units, g.Units.Format(*r))
	}
	if r := m.Length.Max; r != nil && at > *r {
		g.w.note(m.Pos, path, "%s is %s %s long at design, longer than its max of %s", m.Name, g.Units.Format(at), g.Units, g.Units.Format(*r))
	}
}

// distance is in quanta.
func distance(a, b [3]int64) float64 {
	x, y, z := float64(a[0]-b[0]), float64(a[1]-b[1]), float64(a[2]-b[2])
	return math.Sqrt(x*x + y*y + z*z)
}

// offLine is the distance of p from the line through a and b, in quanta.
func offLine(p, a, b [3]int64) float64 {
	var u, v [3]float64
	for i := range u {
		u[i], v[i] = float64(b[i]-a[i]), float64(p[i]-a[i])
	}
	x, y, z := u[1]*v[2]-u[2]*v[1], u[2]*v[0]-u[0]*v[2], u[0]*v[1]-u[1]*v[0]
	return math.Sqrt((x*x + y*y + z*z) / (u[0]*u[0] + u[1]*u[1] + u[2]*u[2]))
}

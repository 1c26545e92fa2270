package files

import (
	"slices"
	"strings"

	"trammel/kin"
)

// lateral returns how far a point lies to the left of the centre line, in quanta.
func (g *draft) lateral(n [3]int64) int64 {
	for i := range n {
		if axis, sign := g.Axes[i].iso(); axis == 1 {
			return sign * (n[i] - g.Origin[i])
		}
	}
	return 0
}

// outward returns how far a point lies on the side that the file describes.
func (g *draft) outward(name string) (int64, bool) {
	i, ok := g.index[name]
	if !ok || g.bad[name] {
		return 0, false
	}
	d := g.lateral(g.Points[i].N)
	if g.Side == Right {
		d = -d
	}
	return d, true
}

// checkSide compares the declared side with where the wheel and the upright's points are.
func (g *draft) checkSide(side field) {
	if !g.framed {
		return
	}
	other := g.Side.other()
	d, ok := g.outward(g.Wheel.Centre)
	switch {
	case !ok:
		return
	case d == 0:
		g.w.bad(side, "is %s, but %s lies on the centre line; look at origin and axes", g.Side, g.Wheel.Centre)
		return
	case d < 0:
		g.w.bad(side, "is %s, but %s lies %s %s to the %s of the centre line; look at side, axes and origin", g.Side, g.Wheel.Centre, g.Units.Format(-d), g.Units, other)
		return
	}
	for _, name := range g.bodyPoints(kin.Upright) {
		if d, ok := g.outward(name); ok && d < 0 {
			p := g.Points[g.index[name]]
			g.pointProblem(p, "%s is on the upright, but lies %s %s to the %s of the centre line while the wheel is on the %s; look for a minus sign too many or too few",
				name, g.Units.Format(-d), g.Units, other, g.Side)
		}
	}
}

// pointProblem reports at the point, which may stand in a table.
func (g *draft) pointProblem(p Point, format string, args ...any) {
	w := g.walkOf(p)
	w.at(p.Pos, pointPath(p.Name), format, args...)
}

// walkOf is the walk of the file in which a point stands.
func (g *draft) walkOf(p Point) *walk {
	w := *g.w
	if p.InTable {
		w.file = g.TablePath
	}
	return &w
}

// pointPath is where a point stands in the structure of the file.
func pointPath(name string) string {
	if _, cut := cutOpposite(name); cut {
		return name
	}
	return "points." + name
}

// bodyPoints returns the points of the drawn side and of the middle that belong to a body, each once, in the
// order of the members and solids.
func (g *draft) bodyPoints(body string) []string {
	var names []string
	add := func(name string, _ Side, on string) {
		if bareName(on) == body && !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	for _, m := range g.Members {
		eachEnd(m, add)
	}
	for i := range g.Solids {
		s := &g.Solids[i]
		for k, p := range s.Points {
			add(p, NoSide, s.Bodies[k])
		}
	}
	if g.Wheel.Centre != "" {
		add(g.Wheel.Centre, NoSide, g.carrier())
	}
	return names
}

// cutOpposite returns the name of the point to which this one is the other side.
func cutOpposite(name string) (string, bool) { return strings.CutPrefix(name, oppositePrefix) }

// walkOpposite reads the places of the other side that are not mirror images.
func (g *draft) walkOpposite(f field) {
	entries, ok := g.w.filled(f)
	if !ok {
		return
	}
	for _, e := range entries {
		if side, bare := meantSide(e.key.Value); side != NoSide {
			g.w.at(e.keyPos(), e.path, "opposite: %s names its point by a side; opposite is the other side by itself, so write %s", clip(e.key.Value), clip(bare))
			continue
		}
		name := oppositePrefix + e.key.Value
		if i, there := g.index[name]; there {
			g.w.at(e.keyPos(), e.path, "opposite: %s stands in %s too, in line %d; take one out", labelOf(e.key.Value), g.TablePath, g.Points[i].Pos.Line)
			continue
		}
		if !g.addPoint(g.w, name, e.keyPos(), e.path) {
			return
		}
		e.label = "opposite: " + e.label
		n, ok := g.w.triple(e)
		g.place(name, n, ok)
	}
}

// oppositeLast puts the points of the other side behind all others.
func (g *draft) oppositeLast() {
	rank := func(p Point) int {
		if _, cut := cutOpposite(p.Name); cut {
			return 1
		}
		return 0
	}
	slices.SortStableFunc(g.Points, func(a, b Point) int { return rank(a) - rank(b) })
	for i, p := range g.Points {
		g.index[p.Name] = i
	}
}

// checkOpposite checks that each point of the other side has one that it belongs to, and lies where it can.
func (g *draft) checkOpposite() {
	carried := g.bodyPoints(kin.Upright)
	for _, p := range g.Points {
		base, cut := cutOpposite(p.Name)
		if !cut {
			continue
		}
		_, there := g.index[base]
		g.used[p.Name] = g.used[base]
		d, known := g.outward(p.Name)
		side, _ := meantSide(base)
		switch {
		case side != NoSide: // said already
		case !there:
			g.pointProblem(p, "opposite: there is no point %s to which this could be the other side; %s", quoted(base), instead(base, g.pointNames()))
		case g.inDoubt(base) && g.sided[base] == "": // a member with a mistake may use it
		case g.used[base] && g.sided[base] == "":
			g.pointProblem(p, "opposite: %s exists once, for nothing that both sides have uses it; take this out", base)
		case !g.used[base]:
			g.pointProblem(p, "opposite: %s is used by no member, so it needs no other side; take this out, or look for a wrong name in a member", base)
		case known && g.framed && d > 0 && (base == g.Wheel.Centre || slices.Contains(carried, base)):
			g.pointProblem(p, "opposite: %s lies %s %s to the %s of the centre line, on the side that the file draws; look for a minus sign too many or too few",
				base, g.Units.Format(d), g.Units, g.Side)
		case known && g.framed && d > 0:
			g.walkOf(p).note(p.Pos, pointPath(p.Name), "opposite: %s lies %s %s to the %s of the centre line, on the side that the file draws; look at its sign, unless the part crosses the middle",
				base, g.Units.Format(d), g.Units, g.Side)
		}
	}
}

// checkAcross checks that every point of a member under across is named with its side where it has one. A point
// has one where a member of both sides uses it, or where it is on a body that exists on both sides.
func (g *draft) checkAcross() {
	for _, e := range g.acrossEnds {
		if side, _ := splitSide(e.body); side != NoSide && side == e.side && g.sided[e.point] == "" {
			g.sided[e.point] = e.member
		}
	}
	for _, e := range g.acrossEnds {
		side, _ := splitSide(e.body)
		by := g.sided[e.point]
		switch {
		case side != NoSide && e.side == NoSide:
			g.w.bad(e.f, "is %s, but %s is on the %s; write %s", e.point, e.body, side, withSide(side, e.point))
		case side != NoSide && e.side != side:
			g.w.bad(e.f, "is %s, but its body is %s; let both be on one side", withSide(e.side, e.point), e.body)
		case e.side == NoSide && by != "":
			g.w.bad(e.f, "is %s, which exists on both sides, for %s uses it; write left.%s or right.%s", e.point, by, e.point, e.point)
		case by == "" && g.inDoubt(e.point): // a part with a mistake may use it
		case e.side != NoSide && by == "" && g.bothSidesOf(e):
			g.w.bad(e.f, "is %s, but %s exists once, for nothing that both sides have uses it; write %s here, and give the other side's place a name of its own under points", withSide(e.side, e.point), e.point, e.point)
		case e.side != NoSide && by == "":
			g.w.bad(e.f, "is %s, but %s, on %s, exists once, for nothing that both sides have uses it; write %s", withSide(e.side, e.point), e.point, e.body, e.point)
		}
	}
}

// bothSidesOf tells whether a member names the same point on the other side too.
func (g *draft) bothSidesOf(e acrossEnd) bool {
	return slices.ContainsFunc(g.acrossEnds, func(o acrossEnd) bool {
		return o.member == e.member && o.point == e.point && o.side == e.side.other()
	})
}

// checkAxle checks that axle and upright have a kingpin between them, and that only an axle carries a differential.
func (g *draft) checkAxle(m map[string]field) {
	if g.axle && g.upright && !g.kingpin && len(g.uprights) > 0 {
		// The word that stands there less often is the likelier slip.
		at, write := g.uprights[0], "write axle for what carries the wheels"
		if len(g.axles) < len(g.uprights) {
			at, write = g.axles[0], "write upright for what carries the wheel and frame for what does not move"
		}
		g.w.at(Position{at.Line, at.Column}, "members", "the file has an axle and an upright, but no kingpin between them; %s, or add kingpin: {kingpin: [LOW, HIGH], ends: [axle, upright]}", write)
	}
	if f, given := m["vehicle"]; given && g.Vehicle.LiveAxle && !g.axle {
		g.w.bad(f, "has its differential on the axle, but no member names a body axle; write differential: frame")
	}
}

// checkCycles reports bodies that carry one another.
func (g *draft) checkCycles() {
	parents := map[string][]string{}
	for _, m := range g.Members {
		switch m.Kind {
		case kin.Arm, kin.HArm, kin.Rocker:
			parents[m.Name] = []string{bareName(m.Bodies[0])}
		case kin.Centre:
			parents[m.Name] = m.Bodies
		case kin.Bar:
			parents[m.Name] = []string{bareName(m.Bodies[0]), bareName(m.Bodies[1])}
		}
	}
	for _, m := range g.Members {
		if !makesBody(m.Kind) {
			continue
		}
		if path := cycle(parents, m.Name); path != nil {
			g.w.at(m.Pos, memberPath(m), "%s is carried by %s, and so by itself; let one of them be on frame", m.Name, list(path, "and"))
			return // one sentence for the whole circle
		}
	}
}

// cycle returns what lies on the way from a body along what carries it back to the body; nil where it does not lead back.
func cycle(parents map[string][]string, from string) []string {
	seen := map[string]bool{}
	var walk func(at string, path []string) []string
	walk = func(at string, path []string) []string {
		for _, p := range parents[at] {
			if p == from {
				return append([]string{}, path...)
			}
			if !seen[p] {
				seen[p] = true
				if found := walk(p, append(path, p)); found != nil {
					return found
				}
			}
		}
		return nil
	}
	return walk(from, nil)
}

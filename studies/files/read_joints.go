package files

import (
	"slices"

	"trammel/kin"
)

// walkJoint reads one joint.
func (g *draft) walkJoint(f field) {
	word, ok := g.kindless(f, jointWords, jointPatterns)
	if !ok {
		return
	}
	m, _ := g.w.mapping(f, jointKeys[word])
	j := Joint{Name: f.key.Value, Pos: f.keyPos(), RodIs: RodEye}
	var rod *Member
	if word == "spherical" {
		if rod, j.RodIs, ok = g.rodIn(m); !ok {
			return
		}
	}
	if c, given := m["tilt"]; given {
		j.Tilt, ok = g.w.tilt(c, 90, false)
	} else {
		ok = false
	}
	ok = g.jointAxes(&j, f, m) && ok
	switch {
	case word == "rod_end":
		ok = g.rodEnd(&j, m) && ok
	case rod != nil:
		ok = g.inLine(&j, rod, m) && ok
	default:
		ok = g.spherical(&j, m) && ok
	}
	if ok {
		g.Joints = append(g.Joints, j)
	}
}

// jointAxes reads the directions of bolt and bore, of which one can be left to be found.
func (g *draft) jointAxes(j *Joint, f field, m map[string]field) bool {
	ok := true
	_, free := j.Free()
	for _, of := range []struct {
		key, side string
		own       RodIs // the rod itself is this side
		other     string
		to        *Direction
	}{{"bolt_axis", "bolt", RodBolt, "the direction of the bore is housing_axis", &j.Bolt},
		{"housing_axis", "housing", RodHousing, "the direction of the bolt is bolt_axis", &j.Housing}} {
		switch c, given := m[of.key]; {
		case given && j.RodIs == of.own:
			g.w.at(c.keyPos(), c.path, "%s has no place here; the %s is %s, whose own line is its axis, and %s", c.label, of.side, m[of.side].node.Value, of.other)
			ok = false
		case !given && of.key == "bolt_axis" && j.RodIs == NoRod:
			g.w.lacks(f, jointKeys["spherical"], of.key)
			ok = false
		case !given || c.node.Value == auto && of.key == free && (j.RodIs == RodEye || !isQuoted(c.node)):
		case c.node.Value == auto:
			g.w.bad(c, "is auto, which between two bodies only the bore can be; give the direction in which the bolt stands, such as [0, 0, 1], and housing_axis is found")
			ok = false
		default:
			d, good := g.w.direction(c)
			*of.to, ok = d, ok && good
		}
	}
	return ok
}

// underJoints says what to do with a side in a joint of both sides; it never comes to that, for a side makes the joint
// one that exists once.
const underJoints = "but this joint exists on both sides; write %s"

// spherical reads where a spherical bearing is and what it joins.
func (g *draft) spherical(j *Joint, m map[string]field) bool {
	c, given := m["spherical"]
	hf, hasHousing := m["housing"]
	bf, hasBolt := m["bolt"]
	if !given || !hasHousing || !hasBolt {
		return false
	}
	r := memberReader{draft: g, across: true, both: underJoints, rods: g.rods()}
	if !r.point(c) {
		return false
	}
	point, side := r.out.Points[0], r.sides[0]
	if g.inDoubt(point) { // a part with a mistake may put the point on a body and give it sides
		return g.namesBodies(hf, bf)
	}
	if side != NoSide && g.sided[point] == "" {
		g.w.bad(c, "is %s, but %s exists once; write %s", withSide(side, point), point, point)
		return false
	}
	// A point of both sides that is named without one makes a joint of both sides.
	j.Across = side != NoSide || g.sided[point] == ""
	r.across = j.Across
	housing, ok := r.body(hf)
	bolt, good := r.body(bf)
	if !ok || !good {
		return false
	}
	on := g.bodiesAt(point, side)
	switch {
	case housing == bolt:
		g.w.bad(bf, "is %s, and so is housing; a bearing is between two bodies", bolt)
	case !slices.Contains(on, housing):
		g.w.bad(hf, "is %s, but %s is not on it; %s", housing, withSide(side, point), atBodies(on))
	case !slices.Contains(on, bolt):
		g.w.bad(bf, "is %s, but %s is not on it; %s", bolt, withSide(side, point), atBodies(on))
	default:
		j.Points, j.Bodies = []string{point}, []string{housing, bolt}
		if side != NoSide {
			j.Sides = []Side{side}
		}
		return true
	}
	return false
}

// namesBodies looks whether there are bodies of these names at all, where it cannot be said how many sides they are on and what
// is on them. A joint is not read then: it answers false.
func (g *draft) namesBodies(fields ...field) bool {
	for _, f := range fields {
		side, _ := splitSide(f.node.Value)
		r := memberReader{draft: g, across: side != NoSide, both: underJoints, rods: g.rods()}
		r.body(f)
	}
	return false
}

// atBodies ends a sentence with the bodies that a point is on.
func atBodies(on []string) string {
	if len(on) == 0 {
		return "no member puts it on a body, so name a point where two bodies meet"
	}
	return "it is on " + list(on, "and")
}

// bodiesAt returns the bodies that a point is on by the members, in their order, each once. Of a member that exists on
// both sides they have the side that is asked for.
func (g *draft) bodiesAt(point string, side Side) []string {
	var on []string
	for i := range g.Members {
		m := g.Members[i]
		see := func(p string, s Side, body string) {
			if p != point || m.Across && s != side && s != NoSide {
				return
			}
			if !m.Across && side != NoSide && !g.once[body] {
				body = withSide(side, body)
			}
			if m.Across && side == NoSide && body != bareName(body) {
				body = bareName(body) // across, seen from one of the two sides
			}
			if !slices.Contains(on, body) {
				on = append(on, body)
			}
		}
		eachEnd(m, see)
		if m.Kind == kin.Ball || m.Kind == kin.Hinge { // its points are the frame's, and what it carries turns about them
			for k, p := range m.Points {
				s := NoSide
				if m.Sides != nil {
					s = m.Sides[k]
				}
				see(p, s, m.Bodies[1])
			}
		}
	}
	return on
}

// rodKinds are the members that can have a rod end: those that turn about the line between their two ends as they like.
var rodKinds = []kin.Kind{kin.Link, kin.Damper, kin.Spring, kin.Strut}

// rods are the names of those members.
func (g *draft) rods() (names []string) {
	for i := range g.Members {
		if slices.Contains(rodKinds, g.Members[i].Kind) {
			names = append(names, g.Members[i].Name)
		}
	}
	return names
}

// rodIn finds the rod that is the bolt or the housing of a spherical bearing, whatever side stands before it; nil where both
// are bodies. It answers false where both are rods, or where one is a member whose own mistake was reported.
func (g *draft) rodIn(m map[string]field) (rod *Member, is RodIs, ok bool) {
	for _, side := range []struct {
		key string
		is  RodIs
	}{{"housing", RodHousing}, {"bolt", RodBolt}} {
		c, given := m[side.key]
		if !given {
			continue
		}
		_, name := splitSide(c.node.Value)
		switch i := g.Member(name); {
		case i < 0 && g.isMember(name) && !slices.Contains(g.bodies, name):
			return nil, NoRod, false
		case i < 0 || !slices.Contains(rodKinds, g.Members[i].Kind):
		case rod != nil:
			g.w.bad(c, "is %s, and housing is %s; one of the two must be a body, that on which the other ends", name, rod.Name)
			return nil, NoRod, false
		default:
			rod, is = &g.Members[i], side.is
		}
	}
	return rod, is, true
}

// inLine reads where a spherical bearing is in line with a rod, and which body it joins it to.
func (g *draft) inLine(j *Joint, rod *Member, m map[string]field) bool {
	own, body := m["bolt"], m["housing"]
	if j.RodIs == RodHousing {
		own, body = body, own
	}
	at, given := m["spherical"]
	if !given || body.node == nil {
		return false
	}
	if s := own.node.Value; s != rod.Name {
		g.w.bad(own, "is %s; a bearing is that of both sides where its rod is, so write %s", quoted(s), rod.Name)
		return false
	}
	if !g.rodEndAt(j, rod, at) {
		return false
	}
	r := memberReader{draft: g, across: rod.Across, both: underJoints}
	switch name, ok := r.body(body); {
	case !ok:
	case name != j.Bodies[0]:
		g.w.bad(body, "is %s, but at %s %s is on %s; write %s", name, at.node.Value, rod.Name, j.Bodies[0], j.Bodies[0])
	default:
		return true
	}
	return false
}

// rodEnd reads whose end a rod end is.
func (g *draft) rodEnd(j *Joint, m map[string]field) bool {
	c, given := m["rod_end"]
	at, hasAt := m["at"]
	if !given || !hasAt {
		return false
	}
	name, ok := g.w.scalar(c, "the name of a link")
	if !ok {
		return false
	}
	i, rods := g.Member(name), g.rods()
	side, bare := splitSide(name)
	switch {
	case i < 0 && side != NoSide && g.Member(bare) >= 0:
		g.w.bad(c, "is %s; a rod end is that of both sides where its rod is, so write %s", quoted(name), bare)
		return false
	case i < 0 && g.isMember(name): // its own mistake was reported, and no other follows from it
		return false
	case i < 0:
		g.w.bad(c, "is %s, but there is no such member; %s", quoted(name), instead(name, rods))
		return false
	case !slices.Contains(rodKinds, g.Members[i].Kind):
		kind := g.Members[i].Kind
		g.w.bad(c, "is %s, %s %s, which does not turn about a line between two ends; for a bearing in it write {%s}", name, article(kind.String()), kind, jointPatterns["spherical"])
		return false
	}
	return g.rodEndAt(j, &g.Members[i], at)
}

// rodEndAt reads at which end of its rod a rod end is.
func (g *draft) rodEndAt(j *Joint, rod *Member, f field) bool {
	s, ok := g.w.scalar(f, "one of the two ends of "+rod.Name)
	if !ok {
		return false
	}
	end := func(i int) string {
		if rod.Sides != nil {
			return withSide(rod.Sides[i], rod.Points[i])
		}
		return rod.Points[i]
	}
	i := slices.Index([]string{end(0), end(1)}, s)
	switch {
	case i < 0:
		g.w.bad(f, "is %s, which is no end of %s; write %s or %s", quoted(s), rod.Name, end(0), end(1))
		return false
	case i == 1 && rod.Kind == kin.Strut:
		g.w.bad(f, "is %s, where the leg of %s is one piece with what carries the wheel; only its top can tilt: write %s", s, rod.Name, end(0))
		return false
	}
	j.Rod, j.Across = rod.Name, rod.Across
	for _, k := range []int{i, 1 - i} {
		j.Points, j.Bodies = append(j.Points, rod.Points[k]), append(j.Bodies, rod.Bodies[k])
		if rod.Sides != nil {
			j.Sides = append(j.Sides, rod.Sides[k])
		}
	}
	return true
}

package files

import (
	"fmt"
	"slices"
	"strings"

	"trammel/kin"
)

// memberReader reads what one member says beyond its kind: points, bodies, length.
type memberReader struct {
	*draft
	across bool
	both   string   // what a sentence says of a side that has no place here
	rods   []string // members that may stand where a body is read
	out    Member
	points []field // of out.Points: where a sentence about each points
	sides  []Side
}

// read fills out; it answers false where the member cannot be used.
func (r *memberReader) read(f field, m map[string]field, word string) bool {
	form, ok := forms[r.out.Kind], true
	switch c, given := m[word]; {
	case !given:
		ok = false
	case r.out.Kind == kin.Centre:
		ok = r.bar(c)
	case r.out.Kind == kin.Bar:
		ok = r.joined(c)
	case form.single:
		c.label = "the point of " + c.label
		ok = r.point(c)
	default:
		ok = r.pair(c, form, r.tables()[word].find(word).about)
	}
	if c, given := m["ball"]; given && form.balls == 1 {
		ok = r.point(c) && ok
	} else if c, given := m["balls"]; given {
		ok = r.pair(c, form, r.tables()[word].find("balls").about) && ok
	} else if form.balls > 0 {
		ok = false
	}
	if form.ends != endsNone {
		ok = r.ends(f, m, form) && ok
	}
	r.limits(m)
	if c, given := m["soft"]; given {
		r.out.Soft = r.w.isTrue(c)
	}
	if c, given := m["axis"]; given {
		r.out.Axis, _ = r.w.direction(c)
	}
	if ok {
		r.keepSides()
	}
	return ok
}

func (r *memberReader) tables() map[string]keys {
	if r.across {
		return acrossKeys
	}
	return memberKeys
}

// keepSides notes on which side each point is, and what has to be checked when all of across is known.
func (r *memberReader) keepSides() {
	for i, p := range r.out.Points {
		if !r.across {
			if r.sided[p] == "" {
				r.sided[p] = r.out.Name
			}
			continue
		}
		if r.sides[i] != NoSide {
			r.out.Sides = r.sides
		}
		body := r.out.Bodies[bodyOf(r.out.Kind, i)]
		r.acrossEnds = append(r.acrossEnds, acrossEnd{r.points[i], r.out.Name, p, r.sides[i], body})
	}
}

// pair reads two points.
func (r *memberReader) pair(f field, form form, about string) bool {
	items, ok := r.w.items(f, about)
	if !ok {
		return false
	}
	if len(items) != 2 {
		r.w.bad(f, "has %s; %s needs two: {%s}", count(len(items), "point"), r.out.Kind, form.pattern)
		return false
	}
	first := len(r.out.Points)
	for i, it := range items {
		it.label = "point " + string(rune('1'+i)) + " of " + f.label
		ok = r.point(it) && ok
	}
	if ok && r.out.Points[first] == r.out.Points[first+1] && r.sides[first] == r.sides[first+1] {
		r.w.bad(f, "names %s twice; it needs two different points", withSide(r.sides[first], r.out.Points[first]))
		return false
	}
	return ok
}

// point reads the name of a point, under across with its side, and adds it to the member's.
func (r *memberReader) point(f field) bool {
	name, side, ok := r.draft.point(f, r.across, r.both)
	r.out.Points, r.sides, r.points = append(r.out.Points, name), append(r.sides, side), append(r.points, f)
	return ok
}

// underMembers says of a point or body that was named with a side what else can be done.
const underMembers = "but parts under members exist on both sides; write %s, or put what exists once under across"

// point reads the name of a point that exists; a side is taken where sides is true, and refused with a sentence else.
func (g *draft) point(f field, sides bool, refusal string) (name string, side Side, ok bool) {
	s, ok := g.w.scalar(f, "the name of a point")
	if !ok {
		return "", NoSide, false
	}
	side, name = splitSide(s)
	if bare, cut := cutOpposite(s); cut {
		g.w.bad(f, "is %s; the other side takes its own place by itself, so write %s", quoted(s), clip(bare))
		return "", NoSide, false
	}
	if _, there := g.index[name]; !there {
		if len(g.Points) > 0 {
			g.w.bad(f, "is %s, but there is no such point; %s", quoted(s), insteadSided(s, g.pointNames()))
		}
		return "", NoSide, false
	}
	g.used[name] = true
	if side != NoSide && !sides {
		g.w.bad(f, "is %s, %s", quoted(s), fmt.Sprintf(refusal, name))
		return "", NoSide, false
	}
	return name, side, true
}

// insteadSided is instead for a name that may begin with a side.
func insteadSided(written string, allowed []string) string {
	side, bare := meantSide(written)
	if word := near(bare, allowed); side != NoSide && word != "" {
		return "write " + withSide(side, word) + difference(bare)
	}
	return instead(written, allowed)
}

// meantSide is splitSide for a name that may be misspelt: Left.rocker, rh.rocker.
func meantSide(written string) (Side, string) {
	if before, after, ok := strings.Cut(written, "."); ok {
		if word := near(before, []string{"left", "right"}); word != "" {
			return splitSide(word + "." + after)
		}
	}
	return splitSide(written)
}

func (g *draft) pointNames() []string {
	var names []string
	for _, p := range g.Points {
		if _, cut := cutOpposite(p.Name); !cut {
			names = append(names, p.Name)
		}
	}
	return names
}

// joined reads the two bodies that a torsion bar joins.
func (r *memberReader) joined(f field) bool {
	names, ok := r.bodies(f, "two arms or rockers such as [left.rocker, right.rocker]")
	if !ok {
		return false
	}
	for i, name := range names {
		if _, bare := splitSide(name); slices.Contains(reserved, bare) {
			it := f.item(i)
			it.label = "body " + string(rune('1'+i)) + " of " + f.label
			r.w.bad(it, "is %s, which does not turn about an axis; a torsion bar joins two arms or rockers", name)
			return false
		}
	}
	r.out.Bodies = names
	return true
}

// bar reads the name of the torsion bar that carries a centre arm.
func (r *memberReader) bar(f field) bool {
	name, ok := r.w.scalar(f, "the name of a torsion bar under across")
	switch {
	case !ok:
		return false
	case slices.Contains(r.bars, name):
		r.out.Bodies = []string{name}
		return true
	case r.unclear[name]: // its own mistake was reported, and no other follows from it
	case r.isMember(name):
		r.w.bad(f, "is %s, which is no torsion bar; a centre arm is fixed to the middle of one", quoted(name))
	default:
		r.w.bad(f, "is %s, but there is no such torsion bar; %s", quoted(name), instead(name, r.bars))
	}
	return false
}

// ends reads the bodies that a member is on.
func (r *memberReader) ends(f field, m map[string]field, form form) bool {
	c, given := m["ends"]
	on, hasOn := m["on"]
	switch {
	case given && hasOn:
		r.w.at(on.keyPos(), on.path, "%s does not go with ends, which names both bodies; take on out", on.label)
		return false
	case given:
		names, ok := r.bodies(c, "two bodies such as [rack, upright]")
		if !ok || !r.fits(c, names, form) {
			return false
		}
		r.out.Bodies = names
		return true
	case form.ends == endsNeeded:
		return false // said already
	case form.ends == endsOn:
		return r.on(on, hasOn)
	case form.ends == endsKingpin:
		r.out.Bodies = []string{kin.Axle, kin.Upright}
		return true
	case f.keyIn("ends") != nil:
		return false
	case r.kingpin && !r.across && len(r.axles) == 0: // the kingpin is the mistake, and it was reported
		return false
	case r.kingpin && !r.across:
		r.w.at(f.keyPos(), f.path, "%s needs ends: beside a kingpin there are two bodies that it may carry; write ends: [frame, axle] or [frame, upright]", f.label)
		return false
	}
	r.out.Bodies = []string{kin.Frame, r.carrier()}
	if r.across {
		r.out.Bodies[1] = kin.Axle
	}
	if hasOn {
		body, ok := r.body(on)
		r.out.Bodies[0] = body
		return ok && r.fits(on, r.out.Bodies, form)
	}
	return true
}

// on reads the body that carries the axis of a rocker.
func (r *memberReader) on(f field, given bool) bool {
	r.out.Bodies = []string{kin.Frame}
	if !given {
		return true
	}
	body, ok := r.body(f)
	if ok && body == r.out.Name {
		r.w.bad(f, "is %s itself; name the body that carries its axis", body)
		return false
	}
	r.out.Bodies[0] = body
	return ok
}

// fits checks the two bodies of a member against what its kind can be on.
func (r *memberReader) fits(f field, names []string, form form) bool {
	fixed := func(s string) bool { return s == kin.Frame || s == kin.Rack }
	carries := func(s string) bool { _, bare := splitSide(s); return bare == kin.Upright || bare == kin.Axle }
	kind := r.out.Kind
	switch {
	case form.ends == endsKingpin && !slices.Equal(names, []string{kin.Axle, kin.Upright}):
		r.w.bad(f, "must be [axle, upright]: a kingpin is where an upright turns on an axle")
	case names[0] == names[1]:
		r.w.bad(f, "puts both ends on %s, where nothing moves between them; name two different bodies", names[0])
	case makesBody(kind) && slices.Contains(names, r.out.Name):
		r.w.bad(f, "names %s itself; name the bodies that it joins", r.out.Name)
	case fixed(names[0]) && fixed(names[1]):
		r.w.bad(f, "is from %s to %s, which no wheel moves; name the body that the wheel moves", names[0], names[1])
	case (kind == kin.Strut || kind == kin.Hinge || kind == kin.Ball || kind == kin.Shaft) && !carries(names[1]):
		r.w.bad(f, "names %s second, where the body that carries the wheel must stand; write [%s, %s]", names[1], pick(carries(names[0]), names[1], names[0]), pick(carries(names[0]), names[0], r.carrier()))
	case kind == kin.Ball && names[0] != kin.Frame:
		r.w.bad(f, "is from %s, and a ball joint is between frame and what carries the wheel; write [frame, %s]", names[0], names[1])
	case kind == kin.Shaft && names[0] != kin.Frame && names[0] != kin.Axle:
		r.w.bad(f, "names %s first, where the body of the differential must stand; write [frame, %s] or [axle, %s]", names[0], names[1], names[1])
	default:
		return true
	}
	return false
}

// bodies reads two names of bodies.
func (r *memberReader) bodies(f field, want string) ([]string, bool) {
	items, ok := r.w.items(f, want)
	if !ok {
		return nil, false
	}
	if len(items) != 2 {
		r.w.bad(f, "names %s; it needs two, %s", pick(len(items) == 1, "1 body", fmt.Sprint(len(items), " bodies")), pick(r.out.Kind == kin.Bar, "such as [left.rocker, right.rocker]", "in the order of the points, such as [rack, upright]"))
		return nil, false
	}
	names := make([]string, 2)
	for i, it := range items {
		it.label = "body " + string(rune('1'+i)) + " of " + f.label
		name, good := r.body(it)
		names[i], ok = name, ok && good
	}
	if ok && names[0] == names[1] && r.out.Kind == kin.Bar {
		r.w.bad(f, "names %s twice; a torsion bar joins two bodies, such as left.%s and right.%s", names[0], bareName(names[0]), bareName(names[0]))
		return nil, false
	}
	return names, ok
}

func bareName(s string) string { _, bare := splitSide(s); return bare }

// body reads the name of a body that exists, under across with its side where it has one.
func (r *memberReader) body(f field) (string, bool) {
	s, ok := r.w.scalar(f, "the name of a body")
	if !ok {
		return "", false
	}
	side, name := splitSide(s)
	once := r.once[name]
	switch known := slices.Contains(r.draft.bodies, name); {
	case known && side != NoSide && !r.across:
		r.w.bad(f, "is %s, %s", quoted(s), fmt.Sprintf(r.both, name))
	case known && side != NoSide && once:
		r.w.bad(f, "is %s, but %s exists once; write %s", quoted(s), name, name)
	case known && side == NoSide && r.across && !once:
		r.w.bad(f, "is %s, which exists on both sides; write left.%s or right.%s", name, name, name)
	case known:
		return s, true
	case r.unclear[name]: // its own mistake was reported, and no other follows from it
	case r.isMember(name):
		r.w.bad(f, "is %s, which is a member but no body; bodies are frame, rack, upright, axle, and every arm, h_arm, rocker and centre_arm%s", quoted(s), pick(r.rods == nil, "", "; a link, damper, spring or strut can stand here too"))
	default:
		r.w.bad(f, "is %s, but there is no such body; %s", quoted(s), r.insteadBody(s))
	}
	return "", false
}

// insteadBody ends a sentence about a body that does not exist.
func (r *memberReader) insteadBody(written string) string {
	side, bare := meantSide(written)
	word, rod := near(bare, r.draft.bodies), near(bare, r.rods)
	switch {
	case word == "" && rod != "":
		return "write " + rod + difference(bare)
	case word == "":
		return instead(written, r.bodyNames())
	case !r.across || r.once[word]:
		return "write " + word + difference(bare)
	case side == NoSide:
		return "write left." + word + " or right." + word + difference(bare)
	}
	return "write " + withSide(side, word) + difference(bare)
}

// bodyNames are the bodies as the section that is read would name them.
func (r *memberReader) bodyNames() []string {
	if !r.across {
		return r.draft.bodies
	}
	var once, both []string
	for _, b := range r.draft.bodies {
		if r.once[b] {
			once = append(once, b)
		} else {
			both = append(both, "left."+b, "right."+b)
		}
	}
	return append(once, both...)
}

// direction reads a vector.
func (w *walk) direction(f field) (d Direction, ok bool) {
	items, ok := w.items(f, "a direction such as [0, 1, 0.05]")
	if !ok {
		return d, false
	}
	if len(items) != 3 {
		texts := make([]string, len(items))
		for i := range items {
			texts[i] = items[i].node.Value
		}
		w.bad(f, "%s", wrongCount(texts, "three such as [0, 1, 0.05]"))
		return d, false
	}
	for i, it := range items {
		it.label = f.label + ": " + string(rune('x'+i))
		n, good := w.number(it, "a number")
		if good && n.unit != "" {
			w.bad(it, "is %s: a direction has no unit; write the number alone", quoted(it.node.Value))
			good = false
		}
		if good {
			d[i], _ = n.value.Float64()
			if d[i] > 1e6 || d[i] < -1e6 {
				w.bad(it, "is %s; write a direction in smaller numbers", clip(it.node.Value))
				good = false
			}
		}
		ok = ok && good
	}
	if ok && max(d[0], -d[0], d[1], -d[1], d[2], -d[2]) < 1e-6 {
		w.bad(f, "leads nowhere; at least one of its numbers must not be 0")
		ok = false
	}
	return d, ok
}

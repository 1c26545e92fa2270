package kin

// leverMeasures are how a rod, damper or spring works on what it turns.
var leverMeasures = []Measure{
	{Name: "lever_angle", Of: ofKinds(Link, Damper, Spring), Unit: Degree, Scale: 1, Sign: "90 = square to the arm",
		Line:   "between a rod, damper or spring and the arm it works on",
		Long:   "Angle at its end on an arm, a rocker or the upright between the rod and the line square to the axis: the arm's or rocker's own, the upright's steering axis. A rod that drives a rocker is measured at that rocker. 90 is full leverage for a rod in the plane in which the arm turns; a rod out of that plane has less.",
		refuse: aLever,
		build:  func(b *builder) ref { return b.lever(b.in.works.chosen) }},
	{Name: "lever_angle_first", Of: ofKinds(Link, Damper, Spring), Unit: Degree, Scale: 1, Sign: "90 = square to the arm",
		Line:   "lever_angle at the first of its two points",
		Long:   "The lever_angle at the first point of a rod, damper or spring that has what it works on at both ends.",
		refuse: twoLevers,
		build:  func(b *builder) ref { return b.lever(0) }},
	{Name: "lever_angle_second", Of: ofKinds(Link, Damper, Spring), Unit: Degree, Scale: 1, Sign: "90 = square to the arm",
		Line:   "lever_angle at the second of its two points",
		Long:   "The lever_angle at the second point of a rod, damper or spring that has what it works on at both ends.",
		refuse: twoLevers,
		build:  func(b *builder) ref { return b.lever(1) }},
	{Name: "dead_centre", Of: ofKinds(Link, Damper, Spring), Unit: Degree, Scale: 1, Sign: deadSign, Null: deadNull,
		Line:   "how far a rod, damper or spring is from lining up with the arm it works on",
		Long:   "Angle between the rod and the arm, whichever way along it is nearer, both seen along the axis, at the end where lever_angle is taken: at 0 the rod points at the axis and turns nothing, whatever its lever_angle is out of the plane in which the arm turns. It has an edge at 90, where the rod is square to the arm, and at 0.",
		refuse: aLever,
		build:  func(b *builder) ref { return b.deadCentre(b.in.works.chosen) }},
	{Name: "dead_centre_first", Of: ofKinds(Link, Damper, Spring), Unit: Degree, Scale: 1, Sign: deadSign, Null: deadNull,
		Line:   "dead_centre at the first of its two points",
		Long:   "The dead_centre at the first point of a rod, damper or spring that has what it works on at both ends.",
		refuse: twoLevers,
		build:  func(b *builder) ref { return b.deadCentre(0) }},
	{Name: "dead_centre_second", Of: ofKinds(Link, Damper, Spring), Unit: Degree, Scale: 1, Sign: deadSign, Null: deadNull,
		Line:   "dead_centre at the second of its two points",
		Long:   "The dead_centre at the second point of a rod, damper or spring that has what it works on at both ends.",
		refuse: twoLevers,
		build:  func(b *builder) ref { return b.deadCentre(1) }},
}

const (
	deadSign = "0 = the rod points at the axis, 90 = square to the arm"
	deadNull = "where the rod runs along the axis, or its end lies on it"
)

// works says what an instance turns, or is turned by.
type works struct {
	on     [2]bool // by end
	chosen int     // the end that its lever_angle is taken at, -1 without
}

func aLever(_ *Program, in *instance) string {
	if in.works.chosen < 0 {
		return "works on no arm, rocker or steering axis, so it has no lever and no dead centre"
	}
	return ""
}

func twoLevers(p *Program, in *instance) string {
	if why := aLever(p, in); why != "" {
		return why
	}
	if in.works.on != [2]bool{true, true} {
		return "works on an arm, a rocker or a steering axis at one end only; write lever_angle or dead_centre, which are taken there"
	}
	return ""
}

// worksOn finds the ends of a link, damper or spring that lie on what turns about an axis. Of two, the one that the link
// itself turns is chosen, else the first of an arm or rocker, else that on the upright.
func (p *Program) worksOn(in *instance) works {
	out := works{chosen: -1}
	m := &p.linkage.Members[in.member]
	if m.Kind != Link && m.Kind != Damper && m.Kind != Spring {
		return out
	}
	holds := p.holds(in)
	for k := range 2 {
		body := in.ends[k].body
		if body < bodyFollower {
			out.on[k] = holds && p.steers(in, k)
			continue
		}
		f := &p.followers[body-bodyFollower]
		// A link that holds the upright and stands on one of its arms is carried by that arm and does not work on it.
		out.on[k] = !holds || f.how != byBall
		if out.on[k] && (out.chosen < 0 || f.how == byRod && f.rod == in.member) {
			out.chosen = k
		}
	}
	for k := range 2 {
		if out.on[k] && out.chosen < 0 {
			out.chosen = k
		}
	}
	return out
}

// LeverEnds returns the ends, 0 for the first and 1 for the second, at which a link, damper or spring works on what turns
// about an axis. At one end lever_angle and dead_centre are taken there; at two, lever_angle_first and so on as well.
func (p *Program) LeverEnds(member string) (ends []int) {
	for i := range p.instances {
		in := &p.instances[i]
		if p.linkage.Members[in.member].Name != member {
			continue
		}
		for k, on := range in.works.on {
			if on {
				ends = append(ends, k)
			}
		}
		return ends
	}
	return nil
}

// holds tells whether an instance is a constraint on a carrier.
func (p *Program) holds(in *instance) bool {
	for s := range p.carriers {
		for _, r := range p.carriers[s].rows {
			if r.member == in.member && r.side == in.side {
				return true
			}
		}
	}
	return false
}

// steers tells whether end k of a link is on an upright that it turns about its steering axis: not at a joint of that
// axis, and, where no joints show the axis, only from what the rack moves.
func (p *Program) steers(in *instance, k int) bool {
	s, carrier := carrierOf(in.ends[k].body)
	if !carrier || p.axle {
		return false
	}
	switch a := &p.steering[s]; a.how {
	case axisLine:
		return in.ends[k].part != a.ends[0].part && in.ends[k].part != a.ends[1].part
	case axisInstant:
		return p.onRack(in.ends[1-k].body)
	}
	return false
}

// onRack tells whether a body is the rack, or one that the rack moves and no wheel.
func (p *Program) onRack(body int) bool {
	return body == bodyRack || body >= bodyFollower && p.upon(body) == 0
}

// leverAt are the parts of a lever at end k: the rod from there to its other end, the arm square to the axis from the axis to
// there, and the axis. They are seen from the side of an upright that turns, for its steering axis is known there.
func (b *builder) leverAt(k int) (o *builder, rod, arm, axis ref) {
	o = b
	near, far := b.in.ends[k], b.in.ends[1-k]
	var foot ref
	if s, carrier := carrierOf(near.body); carrier {
		if !b.half && s != b.s {
			o = b.other()
		}
		foot, axis, _ = o.steering()
	} else {
		f := &b.p.followers[near.body-bodyFollower]
		foot = b.at(end{f.base, f.axis[0], f.flip})
		axis = b.sub(b.at(end{f.base, f.axis[1], f.flip}), foot)
	}
	at := o.at(near)
	rod = o.sub(o.at(far), at)
	arm = o.sub(at, foot)
	arm = o.sub(arm, o.times(o.div(o.dot(arm, axis), o.dot(axis, axis)), axis))
	return o, rod, arm, axis
}

// lever is the angle between a rod and the arm that its end k works on, deg: cos a = −rod·arm / (|rod| |arm|).
func (b *builder) lever(k int) ref {
	_, rod, arm, _ := b.leverAt(k)
	return b.degrees(b.g.one(opAcos, b.minus(b.div(b.dot(rod, arm), b.mul(b.g.norm(rod), b.g.norm(arm))))))
}

// deadCentre is the angle between rod and arm at end k, deg, seen along the axis: with t = axis·(arm × rod)/|axis| and
// c = arm·rod it is 2 atan(|t| / (√(t² + c²) + |c|)), which is atan(|t|/|c|) where c is not 0, and has a derivative at a dead centre
// and at full leverage too, on either side.
func (b *builder) deadCentre(k int) ref {
	_, rod, arm, axis := b.leverAt(k)
	t := b.div(b.dot(axis, b.cross(arm, rod)), b.g.norm(axis))
	c := b.dot(arm, rod)
	n := b.g.one(opSqrt, b.sum(b.square(t), b.square(c)))
	return b.g.times(2/degree, b.g.one(opAtan, b.div(b.size(t), b.sum(n, b.size(c)))))
}

// size is |x| = x (2 [x > 0] − 1).
func (b *builder) size(x ref) ref {
	return b.mul(x, b.diff(b.g.times(2, b.g.one(opStep, x)), b.g.constant(1)))
}

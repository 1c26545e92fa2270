package kin

// withoutAxis says why a linkage has no steering axis, or has one on one side only.
func withoutAxis(p *Program, _ *instance) string {
	none := func(s int) bool { return p.steering[s].how == axisNone }
	if !none(0) && !none(1) {
		return ""
	}
	if !p.steered && p.linkage.Hold != "" {
		return "needs a steering axis, and " + p.IdleHold()
	}
	where := ""
	if none(0) != none(1) {
		where = " on both sides"
	}
	if !p.steered {
		return "needs a steering axis" + where + ": two ball joints one above the other, a strut over a ball joint, a kingpin, or a link on the rack"
	}
	return "needs a steering axis" + where + ", which the length of a spring or damper shows where no two ball joints do: name the member that is held under steering_axis"
}

func withoutWheelbase(p *Program, in *instance) string {
	if !(p.linkage.Vehicle.Wheelbase > 0) {
		return "needs the wheelbase: vehicle: {wheelbase: ...}"
	}
	return withoutAxis(p, in)
}

// leastSteer is the least steer of the inner wheel, rad, at which ackermann has a value.
const leastSteer = 1 * degree

// steered is the steer of the inner and of the outer wheel from straight ahead, rad, and by how much each wheel is the
// inner one, 0 or 1: the toe that each has at this wheel travel with the rack centred is taken off, so that bump steer
// does not pass for steer. There is no value near centre and where the wheels steer opposite ways.
func (b *builder) steered() (inner, outer, left ref) {
	drawn := *b
	drawn.s = 0
	far := *drawn.other()
	turn := func(b *builder, sign float64) ref {
		toe := b.toe()
		return b.g.times(sign, b.diff(toe, b.remember(toe, true)))
	}
	this, other := turn(&drawn, -1), turn(&far, 1)
	left = b.g.one(opStep, this)
	right := b.diff(b.g.constant(1), left)
	pick := func(x, y ref) ref { return b.diff(b.mul(left, x), b.mul(right, y)) }
	from := func(x ref, k float64) ref { return b.g.add(node{op: opFrom, a: x, b: none, k: k}) }
	return from(pick(this, other), leastSteer), from(pick(other, this), 0), left
}

// trackAtAxes is the distance at the ground between the steering axes at design.
func (b *builder) trackAtAxes() ref {
	half := func(b *builder) ref {
		p, k, _ := b.steering()
		y := b.sum(b.y(p), b.mul(b.div(b.y(k), b.z(k)), b.diff(b.ground(), b.z(p))))
		return b.remember(y, false)
	}
	drawn := *b
	drawn.s = 0
	return b.sum(half(&drawn), half(drawn.other()))
}

const axisNull = "for a wheel that does not travel, where the steering axis is an instant one"

var steeringMeasures = []Measure{
	{Name: "caster", Unit: Degree, Scale: 0.1, Sign: "+ top rearward", refuse: withoutAxis,
		Null:  axisNull,
		Line:  "steering axis in side view",
		Long:  "Angle of the steering axis to the vertical in side view. The axis is the line through the carrier's two ball joints (a strut's top counts for one) or along the kingpin; else the instant axis of the carrier as the rack moves while the spring keeps its length.",
		build: func(b *builder) ref { return b.degrees(b.caster()) }},
	{Name: "kingpin_inclination", Unit: Degree, Scale: 0.1, Sign: "+ top inward", refuse: withoutAxis,
		Null:  axisNull,
		Line:  "steering axis in front view",
		Long:  "Angle of the steering axis to the vertical in front view.",
		build: func(b *builder) ref { return b.degrees(b.inclination()) }},
	{Name: "caster_trail", Unit: Millimetre, Scale: 1, Sign: "+ axis ahead", refuse: withoutAxis,
		Null:  axisNull,
		Line:  "contact centre to the steering axis at the ground, along the wheel",
		Long:  "From the contact centre to where the steering axis meets the ground, along the wheel's ground line.",
		build: func(b *builder) ref { a, _ := b.offsets(b.contact()); return a }},
	{Name: "kingpin_offset", Unit: Millimetre, Scale: 1, Sign: "+ axis inboard of the contact centre", refuse: withoutAxis,
		Null:  axisNull,
		Line:  "contact centre to the steering axis at the ground, across the wheel",
		Long:  "From the contact centre to where the steering axis meets the ground, across the wheel's ground line; builders also say scrub radius.",
		build: func(b *builder) ref { _, i := b.offsets(b.contact()); return i }},
	{Name: "hub_trail", Unit: Millimetre, Scale: 1, Sign: "+ axis ahead", refuse: withoutAxis,
		Null:  axisNull,
		Line:  "wheel centre to the steering axis at its height, along the wheel",
		Long:  "From the wheel centre to the steering axis at the wheel centre's height, along the wheel's ground line.",
		build: func(b *builder) ref { a, _ := b.offsets(b.centre()); return a }},
	{Name: "hub_offset", Unit: Millimetre, Scale: 1, Sign: "+ axis inboard", refuse: withoutAxis,
		Null:  axisNull,
		Line:  "wheel centre to the steering axis at its height, across the wheel",
		Long:  "From the wheel centre to the steering axis at the wheel centre's height, across the wheel's ground line.",
		build: func(b *builder) ref { _, i := b.offsets(b.centre()); return i }},
	{Name: "caster_gain", Unit: DegreePerMillimetre, Scale: 0.001, Sign: "+ caster grows in bump", refuse: withoutAxis,
		Null: "where this wheel does not travel",
		Line: "slope of caster with wheel travel",
		Long: "Exact derivative of caster with this wheel's travel along the motion, the rack held.",
		build: func(b *builder) ref {
			return b.degrees(b.perTravel(b.caster()))
		}},
	{Name: "ackermann", Axle: true, Unit: Percent, Scale: 1, Sign: "100 = both wheels turn about one point", refuse: withoutWheelbase,
		Null: "near centre, or where the wheels steer opposite ways",
		Line: "how much of the ideal difference of steer the wheels have",
		Long: "100 (inner - outer)/(inner - outer*), the toe at this wheel travel with the rack centred removed, cot outer* = cot inner + w/L; w between the steering axes at the ground at design, L the wheelbase.",
		build: func(b *builder) ref {
			inner, outer, _ := b.steered()
			cot := b.div(b.g.one(opCos, inner), b.g.one(opSin, inner))
			ideal := b.g.one(opAtan, b.div(b.g.constant(1), b.sum(cot, b.g.times(1/b.p.linkage.Vehicle.Wheelbase, b.trackAtAxes()))))
			return b.g.times(100, b.div(b.diff(inner, outer), b.diff(inner, ideal)))
		}},
	{Name: "turn_radius", Axle: true, Unit: Millimetre, Scale: 10, far: farAway, refuse: withoutWheelbase,
		Null: "near centre, or where the wheels steer opposite ways",
		Line: "radius of the circle that the outer wheel rolls",
		Long: "From the outer contact centre to the point of the rear axle's line about which that wheel alone would roll, the toe at this wheel travel with the rack centred removed. Below 100 % ackermann the inner wheel would roll about a farther point, and the car's own circle is wider.",
		build: func(b *builder) ref {
			_, outer, left := b.steered()
			outer = b.g.add(node{op: opFrom, a: outer, b: none, k: leastSteer})
			drawn := *b
			drawn.s = 0
			far := drawn.other()
			ahead := func(b *builder) ref { return b.diff(b.x(b.contact()), b.atDesign(0)) }
			x := b.sum(b.mul(left, ahead(far)), b.mul(b.diff(b.g.constant(1), left), ahead(&drawn)))
			return b.div(b.sum(b.g.constant(b.p.linkage.Vehicle.Wheelbase), x), b.g.one(opSin, outer))
		}},
}

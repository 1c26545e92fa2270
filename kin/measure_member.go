package kin

var memberMeasures = []Measure{
	{Name: "clearance", Of: ofKinds(Pair), Unit: Millimetre, Scale: 1, Sign: "+ apart, - overlapping",
		Line:  "least gap between the solids of a pair",
		Long:  "Least distance between the surfaces of any solid of the one and any of the other; where two overlap, less by how far they have to be drawn apart. Tubes that share a point begin so far from it as the clearance says.",
		build: func(b *builder) ref { return b.clearance() }},
	{Name: "length", Of: ofKinds(Damper, Spring, Strut, Distance), Unit: Millimetre, Scale: 1,
		Line:  "length between its two ends",
		Long:  "Distance between the two ends of a damper, spring, strut or distance.",
		build: func(b *builder) ref { return b.length() }},
	{Name: "installation_ratio", Of: ofKinds(Damper, Spring, Strut), Unit: None, Scale: 0.01, Sign: "+ shortens in bump",
		Null: "where this wheel does not travel",
		Line: "shortening per mm of wheel travel",
		Long: "Exact derivative of the shortening with the wheel's travel along the motion, the rack held: both wheels travel in heave, and in body roll one rises as the other falls. Across, it is the left wheel's travel (the drawn side's).",
		build: func(b *builder) ref {
			return b.minus(b.perTravel(b.length()))
		}},
	{Name: "progression", Of: ofKinds(Damper, Spring, Strut), Unit: PerMillimetre, Scale: 1e-4, Sign: "+ the ratio rises in bump",
		Null: "where this wheel does not travel",
		Line: "slope of the installation ratio with wheel travel",
		Long: "Exact derivative of the installation ratio with the wheel's travel along the motion, the rack held.",
		build: func(b *builder) ref {
			return b.minus(b.perTravel(b.perTravel(b.length())))
		}},
	{Name: "angle", Of: ofKinds(Arm, HArm, Rocker, Kingpin, Centre), Unit: Degree, Scale: 0.1, Sign: "+ right-handed about the axis from its first point to its second on the left side; mirrored on the right",
		Line: "turn about its axis, from design",
		Long: "How far an arm, a rocker, an upright on its kingpin or a centre arm has turned from design about its axis.",
		build: func(b *builder) ref {
			f := &b.p.followers[b.in.follow]
			if f.side == Right && !f.flip { // what turns on an axle is kept in the car's coordinates
				return b.minus(b.degrees(b.p.closes[b.in.follow]))
			}
			return b.degrees(b.p.closes[b.in.follow])
		}},
	{Name: "bind", Of: ofKinds(Link), Unit: Millimetre, Scale: 0.1, Sign: "+ it has to stretch",
		Line: "how much a soft link's length has to change",
		Long: "Distance between the ends of a soft link less its length at design: what its bushes have to give.",
		refuse: func(p *Program, in *instance) string {
			if !p.linkage.Members[in.member].Soft {
				return "is no soft link and keeps its length; bind is measured of a link with soft: true"
			}
			return ""
		},
		build: func(b *builder) ref { return b.diff(b.length(), b.g.leaf(opLength, b.in.rod)) }},
	{Name: "twist", Of: ofKinds(Bar), Unit: Degree, Scale: 0.1, Sign: "+ the first end turned more, right-handed about its own axis",
		Line: "angle between the two ends of a torsion bar, from design",
		Long: "Turn of the first end less that of the second, both about the axis of the first from its first point to its second.",
		build: func(b *builder) ref {
			bar := &b.p.bars[b.in.bar]
			second := b.mul(b.g.leaf(opTwistSign, b.in.bar), b.p.closes[bar.ends[1]])
			return b.degrees(b.diff(b.p.closes[bar.ends[0]], second))
		}},
	{Name: "plunge", Of: ofKinds(Shaft), Unit: Millimetre, Scale: 1, Sign: "+ pulled apart",
		Line:  "change of the distance between a drive shaft's joints, from design",
		Long:  "Distance between the centres of the two joints of a drive shaft less that at design.",
		build: func(b *builder) ref { return b.diff(b.length(), b.g.leaf(opLength, b.in.rod)) }},
	{Name: "joint_angle_inner", Of: ofKinds(Shaft), Unit: Degree, Scale: 1,
		Line: "bend of a drive shaft's inner joint",
		Long: "Angle between the shaft and the axis on which its inner joint turns.",
		build: func(b *builder) ref {
			return b.bend(b.in.ends[0].body, b.in.tilt.axes[0], b.sub(b.at(b.in.ends[1]), b.at(b.in.ends[0])))
		}},
	{Name: "joint_angle_outer", Of: ofKinds(Shaft), Unit: Degree, Scale: 1,
		Line: "bend of a drive shaft's outer joint",
		Long: "Angle between the shaft and the wheel's axis.",
		build: func(b *builder) ref {
			return b.bend(b.wheel().body, b.k(), b.sub(b.at(b.in.ends[1]), b.at(b.in.ends[0])))
		}},
}

// bend is the angle in degrees between a shaft and direction d of a body: asin of the cross product, which is exact
// where a shaft is nearly straight.
func (b *builder) bend(body, d int, shaft ref) ref {
	axis := b.direction(body, d)
	return b.degrees(b.g.one(opAsin, b.div(b.g.norm(b.cross(axis, shaft)), b.g.norm(shaft))))
}

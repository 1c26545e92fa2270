package kin

const contactLong = "The wheel centre plus the loaded radius down the wheel plane's steepest line to the ground's normal."

var wheelMeasures = []Measure{
	{Name: "wheel_travel", Unit: Millimetre, Scale: 1, Sign: "+ bump, - droop",
		Line:  "wheel centre, vertical, from design",
		Long:  "Height of the wheel centre relative to the body, from its height at design.",
		build: func(b *builder) ref { return b.travel() }},
	{Name: "rack_travel", Axle: true, Unit: Millimetre, Scale: 1, Sign: "+ to the left",
		Line:  "rack along its axis, from centre",
		Long:  "Travel of the rack along its axis. On a mirrored axle the right wheel at +r is the mirror image of the left one at -r.",
		build: func(b *builder) ref { return b.g.times(b.p.side(), b.g.leaf(opRackTravel, 0)) }},
	{Name: "body_roll", Axle: true, Unit: Degree, Scale: 0.1, Sign: "+ body leans right",
		Line:  "body against the ground, about the car's x axis",
		Long:  "The ground plane turns about the car's x axis in the design ground; contact centres lie on it.",
		build: func(b *builder) ref { return b.degrees(b.roll()) }},
	{Name: "camber", Unit: Degree, Scale: 0.1, Sign: "+ top outward",
		Line:  "wheel plane to the vertical",
		Long:  "Arc sine of the spin axis' vertical component. ISO 8855 words camber about the vehicle's x axis; the two differ under lock.",
		build: func(b *builder) ref { return b.degrees(b.camber()) }},
	{Name: "camber_to_ground", Unit: Degree, Scale: 0.1, Sign: "+ top outward",
		Line:  "wheel plane to the ground's normal",
		Long:  "Arc sine of the spin axis' component along the ground's normal, with its sign turned: camber, but for the body's roll.",
		build: func(b *builder) ref { return b.degrees(b.groundCamber()) }},
	{Name: "toe", Unit: Degree, Scale: 0.02, Sign: "+ front inward",
		Line:  "wheel plane to straight ahead, seen from above",
		Long:  "Arc tangent of the spin axis seen from above, of one wheel (half the axle's total toe), the same sense on both sides of the car.",
		build: func(b *builder) ref { return b.degrees(b.toe()) }},
	{Name: "steer_angle", Unit: Degree, Scale: 0.1, Sign: "+ to the left",
		Line:  "toe's angle about +z",
		Long:  "The angle of the wheel plane to straight ahead about +z, static toe included.",
		build: func(b *builder) ref { return b.g.times(-b.carSide()/degree, b.toe()) }},
	{Name: "camber_gain", Unit: DegreePerMillimetre, Scale: 0.001, Sign: "+ camber grows in bump",
		Null: "where this wheel does not travel",
		Line: "slope of camber with wheel travel",
		Long: "Exact derivative of camber with this wheel's travel along the motion, the rack held: both wheels travel in heave, and in body roll one rises as the other falls.",
		build: func(b *builder) ref {
			return b.degrees(b.perTravel(b.camber()))
		}},
	{Name: "bump_steer", Unit: DegreePerMillimetre, Scale: 0.001, Sign: "+ toes in in bump",
		Null: "where this wheel does not travel",
		Line: "slope of toe with wheel travel",
		Long: "Exact derivative of toe with this wheel's travel along the motion, the rack held.",
		build: func(b *builder) ref {
			return b.degrees(b.perTravel(b.toe()))
		}},
	{Name: "roll_camber", Unit: DegreePerDegree, Scale: 0.01, Sign: "+ camber to the ground grows as the body leans right",
		Null: "in a motion without body_roll",
		Line: "slope of camber to the ground with body roll",
		Long: "Exact derivative of camber_to_ground with body roll, both contact centres kept on the ground. -1 on the left for a wheel that leans with the body, 0 for one that stays upright.",
		build: func(b *builder) ref {
			return b.div(b.slope(b.groundCamber()), b.slope(b.roll()))
		}},
	{Name: "roll_steer", Unit: DegreePerDegree, Scale: 0.01, Sign: "+ to the left as the body leans right",
		Null: "in a motion without body_roll",
		Line: "slope of the steer angle with body roll",
		Long: "Exact derivative of steer_angle with body roll, both contact centres kept on the ground and the rack held.",
		build: func(b *builder) ref {
			return b.div(b.slope(b.g.times(-b.carSide(), b.toe())), b.slope(b.roll()))
		}},
	{Name: "contact_x", Unit: Millimetre, Scale: 1, Sign: "+ forward",
		Line:  "contact centre",
		Long:  contactLong,
		build: func(b *builder) ref { return b.x(b.contact()) }},
	{Name: "contact_y", Unit: Millimetre, Scale: 1, Sign: "+ left",
		Line:  "contact centre",
		Long:  contactLong,
		build: func(b *builder) ref { return b.g.times(b.carSide(), b.y(b.contact())) }},
	{Name: "contact_z", Unit: Millimetre, Scale: 1, Sign: "+ up",
		Line:  "contact centre",
		Long:  contactLong,
		build: func(b *builder) ref { return b.z(b.contact()) }},
	{Name: "half_track_change", Unit: Millimetre, Scale: 1, Sign: "+ outward",
		Line:  "contact centre's lateral move from design",
		Long:  "How far outward the contact centre stands of its place at design.",
		build: func(b *builder) ref { return b.diff(b.y(b.contact()), b.atDesign(1)) }},
	{Name: "contact_x_change", Unit: Millimetre, Scale: 1, Sign: "+ forward",
		Line:  "contact centre's longitudinal move from design",
		Long:  "How far ahead the contact centre stands of its place at design.",
		build: func(b *builder) ref { return b.diff(b.x(b.contact()), b.atDesign(0)) }},
	{Name: "contact_path_y", Unit: None, Scale: 0.01, Sign: "+ outward in bump",
		Null: "where this wheel does not travel",
		Line: "slope of the contact centre's path in front view",
		Long: "Lateral move of the contact centre for each mm that it rises; always finite.",
		build: func(b *builder) ref {
			c := b.contact()
			return b.moving(b.div(b.slope(b.y(c)), b.slope(b.z(c))))
		}},
	{Name: "contact_path_x", Unit: None, Scale: 0.01, Sign: "+ forward in bump",
		Null: "where this wheel does not travel",
		Line: "slope of the contact centre's path in side view",
		Long: "Longitudinal move of the contact centre for each mm that it rises; always finite.",
		build: func(b *builder) ref {
			c := b.contact()
			return b.moving(b.div(b.slope(b.x(c)), b.slope(b.z(c))))
		}},
}

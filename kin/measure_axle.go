package kin

// anti returns the percentage 100·share·tan φ·L/h of a path's slope φ in side view, forward in bump counted with sign:
// + of it resists the body's pitch. Common practice; the formulae stand in every text on vehicle dynamics. Pitch lifts
// both wheels alike: an axle's slope in roll or with one wheel alone is of another motion and says nothing of it.
func (b *builder) anti(share, sign float64, carried bool) ref {
	v := b.fixed()
	if !carried {
		v = b.g.one(opSlopeV, b.centre())
	}
	k := &b.p.linkage.Vehicle
	return b.g.times(100*share*sign*k.Wheelbase/k.CentreZ, b.together(b.moving(b.div(b.x(v), b.z(v)))))
}

// together is x where both wheels of an axle travel alike along the motion, and has no value elsewhere; where each wheel
// has a carrier of its own it is x.
func (b *builder) together(x ref) ref {
	if !b.p.axle {
		return x
	}
	alike := b.div(b.slope(b.other().travel()), b.slope(b.travel())) // 1 in heave, 0 on one wheel, about -1 in roll
	alike = b.g.add(node{op: opFrom, a: alike, b: none, k: 0.5})
	return b.mul(x, b.div(alike, alike))
}

// withoutVehicle says what of the vehicle is missing for a measure of the front (or rear) axle.
func withoutVehicle(rear bool, share func(v *Vehicle) float64, name, key string) func(*Program, *instance) string {
	return func(p *Program, _ *instance) string {
		v := &p.linkage.Vehicle
		switch {
		case rear && !v.Rear:
			return "is a measure of a rear axle: vehicle: {axle: rear}"
		case !rear && v.Rear:
			return "is a measure of a front axle, and the vehicle's axle is rear"
		case !(v.Wheelbase > 0):
			return "needs the wheelbase: vehicle: {wheelbase: ...}"
		case !(v.CentreZ > 0):
			return "needs the height of the centre of gravity above the ground: vehicle: {centre_of_gravity: ...}"
		case !(share(v) > 0):
			return "needs this axle's share of the " + name + ": vehicle: {" + key + ": ...}"
		}
		return ""
	}
}

func brakeShare(v *Vehicle) float64 { return v.BrakeShare }
func driveShare(v *Vehicle) float64 { return v.DriveShare }

const antiNull = "where this wheel does not travel, or for an axle in a motion with body_roll or of one wheel alone"

const antiLong = "100 times this axle's share, times the slope of a path in side view, times wheelbase over the height of the centre of gravity. The path is that of the carrier's own point at the contact for "

var axleMeasures = []Measure{
	{Name: "front_view_swing_arm", Unit: Millimetre, Scale: 10, Sign: "+ instant centre inboard", far: farAway,
		Null: "where it is longer than 1 km, or where this wheel does not travel",
		Line: "contact centre to the instant centre in front view",
		Long: "Lateral distance from the contact centre to the point of its transverse plane where the carrier has no velocity in front view. The tie rod counts: it equals the drawing through the arms where there is no bump steer.",
		build: func(b *builder) ref {
			return b.moving(b.div(b.z(b.fixed()), b.x(b.turning(opTurning, b.wheel().body))))
		}},
	{Name: "side_view_swing_arm", Unit: Millimetre, Scale: 10, Sign: "+ instant centre ahead", far: farAway,
		Null: "where it is longer than 1 km, or where this wheel does not travel",
		Line: "contact centre to the instant centre in side view",
		Long: "Longitudinal distance from the contact centre to the point of its longitudinal plane where the carrier has no velocity in side view.",
		build: func(b *builder) ref {
			return b.moving(b.div(b.z(b.fixed()), b.y(b.turning(opTurning, b.wheel().body))))
		}},
	{Name: "roll_centre_height", Axle: true, Unit: Millimetre, Scale: 1, Sign: "+ above the ground", far: farAway,
		Null:  "where the two lines meet farther than 1 km away, where one wheel travels alone, or for an axle in a motion without body_roll",
		Line:  "where the two contact lines meet, above the ground",
		Long:  "Height above the ground through both contact centres of the point where the lines from the contact centres to the front-view instant centres meet: each line is square to the velocity of its carrier's own point at the contact, along the motion. The tie rod counts: it equals the drawing through the arms where there is no bump steer. Of an axle it shows in a motion with body_roll alone; it stands in the transverse plane of the contacts, where the axle's roll axis passes: at the height of a Panhard rod or of a Watt crank's pivot that lies in that plane, and along the roll axis from one that lies ahead of it or behind.",
		build: func(b *builder) ref { _, h := b.rollCentre(); return h }},
	{Name: "roll_centre_lateral", Axle: true, Unit: Millimetre, Scale: 10, Sign: "+ left", far: farAway,
		Null:  "where the two lines meet farther than 1 km away, where one wheel travels alone, or for an axle in a motion without body_roll",
		Line:  "the roll centre, from the middle of the contacts",
		Long:  "Lateral distance of the roll centre from the middle of the two contact centres.",
		build: func(b *builder) ref { l, _ := b.rollCentre(); return l }},
	{Name: "anti_dive", Unit: Percent, Scale: 1, Sign: "+ the brakes push the front up", refuse: withoutVehicle(false, brakeShare, "braking", "brake_share"),
		Null: antiNull,
		Line: "how much of the front's dive the braking force takes up",
		Long: antiLong + "outboard brakes, and of the wheel centre for brakes on the frame. + where it goes forward in bump.",
		build: func(b *builder) ref {
			v := &b.p.linkage.Vehicle
			return b.anti(v.BrakeShare, 1, !v.Inboard)
		}},
	{Name: "anti_lift_drive", Unit: Percent, Scale: 1, Sign: "+ the drive pulls the front down", refuse: withoutVehicle(false, driveShare, "drive", "drive_share"),
		Null: antiNull,
		Line: "how much of a driven front's lift the driving force takes up",
		Long: antiLong + "an axle that carries its differential, and of the wheel centre for a differential on the frame. + where it goes forward in bump.",
		build: func(b *builder) ref {
			v := &b.p.linkage.Vehicle
			return b.anti(v.DriveShare, 1, v.LiveAxle)
		}},
	{Name: "anti_lift_brake", Unit: Percent, Scale: 1, Sign: "+ the brakes pull the rear down", refuse: withoutVehicle(true, brakeShare, "braking", "brake_share"),
		Null: antiNull,
		Line: "how much of the rear's lift the braking force takes up",
		Long: antiLong + "outboard brakes, and of the wheel centre for brakes on the frame. + where it goes rearward in bump.",
		build: func(b *builder) ref {
			v := &b.p.linkage.Vehicle
			return b.anti(v.BrakeShare, -1, !v.Inboard)
		}},
	{Name: "anti_squat", Unit: Percent, Scale: 1, Sign: "+ the drive pushes the rear up", refuse: withoutVehicle(true, driveShare, "drive", "drive_share"),
		Null: antiNull,
		Line: "how much of the rear's squat the driving force takes up",
		Long: antiLong + "an axle that carries its differential, and of the wheel centre for a differential on the frame. + where it goes rearward in bump.",
		build: func(b *builder) ref {
			v := &b.p.linkage.Vehicle
			return b.anti(v.DriveShare, -1, v.LiveAxle)
		}},
}

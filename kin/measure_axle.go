package kin

// anti returns the percentage 100·share·tan φ·L/h of a path's slope φ in side view, forward in bump counted with sign:
// + of it resists the body's pitch. Common practice; the formulae stand in every text on vehicle dynamics.
func (b *builder) anti(share, sign float64, carried bool) ref {
	v := b.fixed()
	if !carried {
		v = b.g.one(opSlopeV, b.centre())
	}
	k := &b.p.linkage.Vehicle
	return b.g.times(100*share*sign*k.Wheelbase/k.CentreZ, b.moving(b.div(b.x(v), b.z(v))))
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
	{Name: "roll_centre_height", Once: true, Unit: Millimetre, Scale: 1, Sign: "+ above the ground", far: farAway,
		Null:  "where the two lines meet farther than 1 km away; a beam axle has one in a motion with body_roll alone",
		Line:  "where the two contact lines meet, above the ground",
		Long:  "Height above the ground through both contact centres of the point where the lines from the contact centres to the front-view instant centres meet: each line is square to the velocity of its carrier's own point at the contact, along the motion. The tie rod counts: it equals the drawing through the arms where there is no bump steer. Of an axle it shows in a motion with body_roll alone.",
		build: func(b *builder) ref { _, h := b.rollCentre(); return h }},
	{Name: "roll_centre_lateral", Once: true, Unit: Millimetre, Scale: 10, Sign: "+ left", far: farAway,
		Null:  "where the two lines meet farther than 1 km away; a beam axle has one in a motion with body_roll alone",
		Line:  "the roll centre, from the middle of the contacts",
		Long:  "Lateral distance of the roll centre from the middle of the two contact centres.",
		build: func(b *builder) ref { l, _ := b.rollCentre(); return l }},
	{Name: "anti_dive", Unit: Percent, Scale: 1, Sign: "+ the brakes push the front up", refuse: withoutVehicle(false, brakeShare, "braking", "brake_share"),
		Line: "how much of the front's dive the braking force takes up",
		Long: antiLong + "outboard brakes, and of the wheel centre for brakes on the frame. + where it goes forward in bump.",
		build: func(b *builder) ref {
			v := &b.p.linkage.Vehicle
			return b.anti(v.BrakeShare, 1, !v.Inboard)
		}},
	{Name: "anti_lift_drive", Unit: Percent, Scale: 1, Sign: "+ the drive pulls the front down", refuse: withoutVehicle(false, driveShare, "drive", "drive_share"),
		Line: "how much of a driven front's lift the driving force takes up",
		Long: antiLong + "an axle that carries its differential, and of the wheel centre for a differential on the frame. + where it goes forward in bump.",
		build: func(b *builder) ref {
			v := &b.p.linkage.Vehicle
			return b.anti(v.DriveShare, 1, v.LiveAxle)
		}},
	{Name: "anti_lift_brake", Unit: Percent, Scale: 1, Sign: "+ the brakes pull the rear down", refuse: withoutVehicle(true, brakeShare, "braking", "brake_share"),
		Line: "how much of the rear's lift the braking force takes up",
		Long: antiLong + "outboard brakes, and of the wheel centre for brakes on the frame. + where it goes rearward in bump.",
		build: func(b *builder) ref {
			v := &b.p.linkage.Vehicle
			return b.anti(v.BrakeShare, -1, !v.Inboard)
		}},
	{Name: "anti_squat", Unit: Percent, Scale: 1, Sign: "+ the drive pushes the rear up", refuse: withoutVehicle(true, driveShare, "drive", "drive_share"),
		Line: "how much of the rear's squat the driving force takes up",
		Long: antiLong + "an axle that carries its differential, and of the wheel centre for a differential on the frame. + where it goes rearward in bump.",
		build: func(b *builder) ref {
			v := &b.p.linkage.Vehicle
			return b.anti(v.DriveShare, -1, v.LiveAxle)
		}},
}

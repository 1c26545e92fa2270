package kin

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// contactAt is the contact centre of a wheel and how it and the carrier's own point there move with
// wheel travel.
type contactAt struct {
	spin  r3.Vec // unit, along the axle, outward
	dspin r3.Vec // per mm
	at    r3.Vec
	path  r3.Vec // derivative of the contact centre
	fixed r3.Vec // velocity of the point of the carrier that is there
}

// takeContact finds the contact centre: the wheel centre plus the loaded radius down the wheel plane's
// steepest line. With m = ẑ − s_z s, |m|² = 1 − s_z², the line is −m/|m|.
func (s *State) takeContact(p *pose, c *contactAt) {
	spin := p.rotate(s.wheel.spin)
	v, w := p.dz.v(), p.dz.w()
	ds := r3.Cross(w, spin)
	n2 := 1 - spin.Z*spin.Z
	n := math.Sqrt(n2)
	m := r3.Vec{X: -spin.Z * spin.X, Y: -spin.Z * spin.Y, Z: n2}
	dm := r3.Vec{X: -ds.Z*spin.X - spin.Z*ds.X, Y: -ds.Z*spin.Y - spin.Z*ds.Y, Z: -2 * spin.Z * ds.Z}
	k := -s.wheel.radius / n
	arm := r3.Scale(k, m)
	// d(m/n) = dm/n + m (s_z s_z')/n³
	darm := r3.Add(r3.Scale(k, dm), r3.Scale(k*spin.Z*ds.Z/n2, m))
	c.spin, c.dspin = spin, ds
	c.at = r3.Add(p.t, arm)
	c.path = r3.Add(v, darm)
	c.fixed = r3.Add(v, r3.Cross(w, arm))
}

// side is +1 for a linkage drawn on the left, -1 for one drawn on the right and mirrored.
func (s *State) side() float64 {
	if s.prog.linkage.Right {
		return -1
	}
	return 1
}

// steeringAxis returns the lower ball and the unit direction from it to the upper one.
func (s *State) steeringAxis(p *pose) (low, dir r3.Vec) {
	low = s.place(s.axisLow, p)
	return low, r3.Unit(r3.Sub(s.place(s.axisHigh, p), low))
}

// axisOffset returns how far ahead of and how far inboard of the point at the steering axis passes, at
// at's height, along and across the wheel's ground line.
func (s *State) axisOffset(at r3.Vec) (ahead, inboard float64) {
	low, dir := s.steeringAxis(s.cur)
	q := r3.Add(low, r3.Scale((at.Z-low.Z)/dir.Z, dir))
	spin := s.contact.spin
	n := math.Hypot(spin.X, spin.Y)
	d := r3.Sub(q, at)
	return (d.X*spin.Y - d.Y*spin.X) / n, -(d.X*spin.X + d.Y*spin.Y) / n
}

// axisAtGround returns the lateral place at the ground of the steering axis at design, half the
// distance between the two; 0 without an axis. takeContact must have been done at design.
func (s *State) axisAtGround() float64 {
	if s.axisLow < 0 {
		return 0
	}
	low, dir := s.steeringAxis(s.cur)
	return low.Y + dir.Y*(s.wheel.contact.Z-low.Z)/dir.Z
}

func toeOf(spin r3.Vec) float64 { return math.Atan2(spin.X, spin.Y) }

func finite(x float64) float64 {
	if math.Abs(x) > farAway || math.IsNaN(x) {
		return math.NaN()
	}
	return x
}

// rollCentre returns where the two lines from the contact centres to the front-view instant centres
// meet: the lines are square to the velocities of the carriers' own points at the contacts. Lateral
// from the middle of the contacts, + left, and height, in the axes of the ground through both contacts.
func (s *State) rollCentre() (lateral, height float64) {
	l, r := &s.contact, &s.contact
	if s.opp != s.cur {
		r = &s.oppose
	}
	ml, mr := -l.fixed.Y/l.fixed.Z, -r.fixed.Y/r.fixed.Z
	yl, zl, yr, zr := l.at.Y, l.at.Z, -r.at.Y, r.at.Z
	y := 0.0
	if s.opp != s.cur {
		// zl + ml (y − yl) = zr − mr (y − yr)
		y = finite((zr - zl + ml*yl + mr*yr) / (ml + mr))
	}
	z := zl + ml*(y-yl)
	y0, z0 := (yl+yr)/2, (zl+zr)/2
	n := math.Hypot(yl-yr, zl-zr)
	c, sn := (yl-yr)/n, (zl-zr)/n
	y, z = y-y0, z-z0
	return s.side() * finite(c*y+sn*z), finite(c*z - sn*y)
}

// steered returns the steer of this wheel and of the other one from straight ahead, rad, + left: the toe
// that both have at this wheel travel with the rack centred is taken off, so that bump steer does not
// pass for steer.
func (s *State) steered() (this, other float64) {
	toe := toeOf(s.straight.rotate(s.wheel.spin))
	return -(toeOf(s.contact.spin) - toe), toeOf(s.oppose.spin) - toe
}

// ackermannFrom is the least steer of the inner wheel, rad, at which ackermann has a value.
const ackermannFrom = 1 * degree

func (s *State) ackermann() float64 {
	this, other := s.steered()
	inner, outer := math.Abs(this), math.Abs(other)
	if s.opp == s.cur || (this > 0) != (other > 0) {
		return math.NaN()
	}
	// A wheel on the left is the inner one of a turn to the left.
	if this < 0 {
		inner, outer = outer, inner
	}
	l := s.prog.linkage.Vehicle.Wheelbase
	if inner < ackermannFrom || !(l > 0) {
		return math.NaN()
	}
	ideal := math.Atan(1 / (1/math.Tan(inner) + 2*s.wheel.trackHalf/l))
	return 100 * (inner - outer) / (inner - ideal)
}

// turnRadius returns how far the outer contact centre is from the point of the rear axle's line about
// which the outer wheel alone would roll.
func (s *State) turnRadius() float64 {
	this, other := s.steered()
	outer, at := math.Abs(this), s.contact.at.X
	if this > 0 {
		outer, at = math.Abs(other), s.oppose.at.X
	}
	l := s.prog.linkage.Vehicle.Wheelbase
	if s.opp == s.cur || (this > 0) != (other > 0) || outer < ackermannFrom || !(l > 0) {
		return math.NaN()
	}
	return finite((l + at - s.wheel.contact.X) / math.Sin(outer))
}

const contactRates = needRates | needContact

var cornerMeasures = []Measure{
	{Name: "wheel_travel", Unit: Millimetre, Scale: 1, Sign: "+ bump, - droop",
		Line:  "wheel centre, vertical, from design",
		Long:  "Height of the wheel centre relative to the body, from its height at design.",
		value: func(s *State, _ int) float64 { return s.cur.z }},
	{Name: "rack_travel", Unit: Millimetre, Scale: 1, Sign: "+ to the left",
		Line:  "rack along its axis, from centre",
		Long:  "Travel of the rack along its axis. On a mirrored axle the right wheel at +r is the mirror image of the left one at -r.",
		value: func(s *State, _ int) float64 { return s.side()*s.cur.rack + 0 }},
	{Name: "camber", Unit: Degree, Scale: 0.1, Sign: "+ top outward",
		Line:  "wheel plane to the vertical",
		Long:  "Arc sine of the spin axis' vertical component. ISO 8855 words camber about the vehicle's x axis; the two differ under lock.",
		value: func(s *State, _ int) float64 { return -math.Asin(s.cur.rotate(s.wheel.spin).Z) / degree }},
	{Name: "toe", Unit: Degree, Scale: 0.02, Sign: "+ front inward",
		Line:  "wheel plane to straight ahead, seen from above",
		Long:  "Arc tangent of the spin axis seen from above, of one wheel (half the axle's total toe), the same sense on both sides of the car.",
		value: func(s *State, _ int) float64 { return toeOf(s.cur.rotate(s.wheel.spin)) / degree }},
	{Name: "steer_angle", Unit: Degree, Scale: 0.1, Sign: "+ to the left",
		Line:  "toe's angle about +z",
		Long:  "The angle of the wheel plane to straight ahead about +z, static toe included.",
		value: func(s *State, _ int) float64 { return -s.side() * toeOf(s.cur.rotate(s.wheel.spin)) / degree }},
	{Name: "caster", Unit: Degree, Scale: 0.1, Sign: "+ top rearward", needs: needAxis,
		Line: "steering axis in side view",
		Long: "Angle of the steering axis to the vertical in side view.",
		value: func(s *State, _ int) float64 {
			_, k := s.steeringAxis(s.cur)
			return math.Atan2(-k.X, k.Z) / degree
		}},
	{Name: "kingpin_inclination", Unit: Degree, Scale: 0.1, Sign: "+ top inward", needs: needAxis,
		Line: "steering axis in front view",
		Long: "Angle of the steering axis to the vertical in front view.",
		value: func(s *State, _ int) float64 {
			_, k := s.steeringAxis(s.cur)
			return math.Atan2(-k.Y, k.Z) / degree
		}},
	{Name: "caster_trail", Unit: Millimetre, Scale: 1, Sign: "+ axis ahead", needs: needAxis | needContact,
		Line:  "contact centre to the steering axis at the ground, along the wheel",
		Long:  "From the contact centre to where the steering axis meets the ground, along the wheel's ground line.",
		value: func(s *State, _ int) float64 { a, _ := s.axisOffset(s.contact.at); return a }},
	{Name: "kingpin_offset", Unit: Millimetre, Scale: 1, Sign: "+ axis inboard of the contact centre", needs: needAxis | needContact,
		Line:  "contact centre to the steering axis at the ground, across the wheel",
		Long:  "From the contact centre to where the steering axis meets the ground, across the wheel's ground line; builders also say scrub radius.",
		value: func(s *State, _ int) float64 { _, i := s.axisOffset(s.contact.at); return i }},
	{Name: "hub_trail", Unit: Millimetre, Scale: 1, Sign: "+ axis ahead", needs: needAxis | needContact,
		Line:  "wheel centre to the steering axis at its height, along the wheel",
		Long:  "From the wheel centre to the steering axis at the wheel centre's height, along the wheel's ground line.",
		value: func(s *State, _ int) float64 { a, _ := s.axisOffset(s.cur.t); return a }},
	{Name: "hub_offset", Unit: Millimetre, Scale: 1, Sign: "+ axis inboard", needs: needAxis | needContact,
		Line:  "wheel centre to the steering axis at its height, across the wheel",
		Long:  "From the wheel centre to the steering axis at the wheel centre's height, across the wheel's ground line.",
		value: func(s *State, _ int) float64 { _, i := s.axisOffset(s.cur.t); return i }},
	{Name: "camber_gain", Unit: DegreePerMillimetre, Scale: 0.001, Sign: "+ camber grows in bump", needs: needRates,
		Line: "slope of camber with wheel travel",
		Long: "Exact derivative of camber with wheel travel, the rack held.",
		value: func(s *State, _ int) float64 {
			spin := s.cur.rotate(s.wheel.spin)
			return -r3.Cross(s.cur.dz.w(), spin).Z / math.Sqrt(1-spin.Z*spin.Z) / degree
		}},
	{Name: "bump_steer", Unit: DegreePerMillimetre, Scale: 0.001, Sign: "+ toes in in bump", needs: needRates,
		Line: "slope of toe with wheel travel",
		Long: "Exact derivative of toe with wheel travel, the rack held.",
		value: func(s *State, _ int) float64 {
			spin := s.cur.rotate(s.wheel.spin)
			d := r3.Cross(s.cur.dz.w(), spin)
			return (d.X*spin.Y - spin.X*d.Y) / (spin.X*spin.X + spin.Y*spin.Y) / degree
		}},
	{Name: "caster_gain", Unit: DegreePerMillimetre, Scale: 0.001, Sign: "+ caster grows in bump", needs: needRates | needAxis,
		Line: "slope of caster with wheel travel",
		Long: "Exact derivative of caster with wheel travel, the rack held.",
		value: func(s *State, _ int) float64 {
			_, k := s.steeringAxis(s.cur)
			d := r3.Cross(s.cur.dz.w(), k)
			return (k.X*d.Z - d.X*k.Z) / (k.X*k.X + k.Z*k.Z) / degree
		}},
	{Name: "contact_x", Unit: Millimetre, Scale: 1, Sign: "+ forward", needs: needContact,
		Line:  "contact centre",
		Long:  "The wheel centre plus the loaded radius down the wheel plane's steepest line to the ground's normal.",
		value: func(s *State, _ int) float64 { return s.contact.at.X }},
	{Name: "contact_y", Unit: Millimetre, Scale: 1, Sign: "+ left", needs: needContact,
		Line:  "contact centre",
		Long:  "The wheel centre plus the loaded radius down the wheel plane's steepest line to the ground's normal.",
		value: func(s *State, _ int) float64 { return s.side() * s.contact.at.Y }},
	{Name: "contact_z", Unit: Millimetre, Scale: 1, Sign: "+ up", needs: needContact,
		Line:  "contact centre",
		Long:  "The wheel centre plus the loaded radius down the wheel plane's steepest line to the ground's normal.",
		value: func(s *State, _ int) float64 { return s.contact.at.Z }},
	{Name: "half_track_change", Unit: Millimetre, Scale: 1, Sign: "+ outward", needs: needContact,
		Line:  "contact centre's lateral move from design",
		Long:  "How far outward the contact centre stands of its place at design.",
		value: func(s *State, _ int) float64 { return s.contact.at.Y - s.wheel.contact.Y }},
	{Name: "contact_x_change", Unit: Millimetre, Scale: 1, Sign: "+ forward", needs: needContact,
		Line:  "contact centre's longitudinal move from design",
		Long:  "How far ahead the contact centre stands of its place at design.",
		value: func(s *State, _ int) float64 { return s.contact.at.X - s.wheel.contact.X }},
	{Name: "contact_path_y", Unit: None, Scale: 0.01, Sign: "+ outward in bump", needs: contactRates,
		Line:  "slope of the contact centre's path in front view",
		Long:  "Lateral move of the contact centre for each mm that it rises; always finite.",
		value: func(s *State, _ int) float64 { return finite(s.contact.path.Y / s.contact.path.Z) }},
	{Name: "contact_path_x", Unit: None, Scale: 0.01, Sign: "+ forward in bump", needs: contactRates,
		Line:  "slope of the contact centre's path in side view",
		Long:  "Longitudinal move of the contact centre for each mm that it rises; always finite.",
		value: func(s *State, _ int) float64 { return finite(s.contact.path.X / s.contact.path.Z) }},
	{Name: "front_view_swing_arm", Unit: Millimetre, Scale: 10, Sign: "+ instant centre inboard", needs: contactRates,
		Null: "farther than 1 km",
		Line: "contact centre to the instant centre in front view",
		Long: "Lateral distance from the contact centre to the point of its transverse plane where the carrier has no velocity in front view. The tie rod counts: it equals the drawing through the arms where there is no bump steer.",
		value: func(s *State, _ int) float64 {
			return finite(s.contact.fixed.Z / s.cur.dz.wx)
		}},
	{Name: "side_view_swing_arm", Unit: Millimetre, Scale: 10, Sign: "+ instant centre ahead", needs: contactRates,
		Null: "farther than 1 km",
		Line: "contact centre to the instant centre in side view",
		Long: "Longitudinal distance from the contact centre to the point of its longitudinal plane where the carrier has no velocity in side view.",
		value: func(s *State, _ int) float64 {
			return finite(s.contact.fixed.Z / s.cur.dz.wy)
		}},
	{Name: "roll_centre_height", Unit: Millimetre, Scale: 1, Sign: "+ above the ground", needs: contactRates | needOpposite,
		Null:  "the two lines meet farther than 1 km away",
		Line:  "where the two contact lines meet, above the ground",
		Long:  "Height above the ground through both contact centres of the point where the lines from the contact centres to the front-view instant centres meet. The tie rod counts: it equals the drawing through the arms where there is no bump steer.",
		value: func(s *State, _ int) float64 { _, h := s.rollCentre(); return h }},
	{Name: "roll_centre_lateral", Unit: Millimetre, Scale: 10, Sign: "+ left", needs: contactRates | needOpposite,
		Null:  "the two lines meet farther than 1 km away",
		Line:  "the roll centre, from the middle of the contacts",
		Long:  "Lateral distance of the roll centre from the middle of the two contact centres.",
		value: func(s *State, _ int) float64 { l, _ := s.rollCentre(); return l }},
	{Name: "ackermann", Unit: Percent, Scale: 1, Sign: "100 = both wheels turn about one point", needs: needContact | needOpposite | needAxis,
		Null:  "near centre, where the wheels steer opposite ways, or without a wheelbase",
		Line:  "how much of the ideal difference of steer the wheels have",
		Long:  "100 (inner - outer)/(inner - outer*), the toe at this wheel travel with the rack centred removed, cot outer* = cot inner + w/L; w between the steering axes at the ground at design, L the wheelbase.",
		value: func(s *State, _ int) float64 { return s.ackermann() }},
	{Name: "turn_radius", Unit: Millimetre, Scale: 10, needs: needContact | needOpposite | needAxis,
		Null:  "near centre, where the wheels steer opposite ways, or without a wheelbase",
		Line:  "radius of the circle that the outer wheel rolls",
		Long:  "From the outer contact centre to the point of the rear axle's line about which that wheel alone would roll, the toe at this wheel travel with the rack centred removed. Below 100 % ackermann the inner wheel would roll about a farther point, and the car's own circle is wider.",
		value: func(s *State, _ int) float64 { return s.turnRadius() }},
}

package kin

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"
)

// Pose returns the drawn side's carrier at the last solved position: its wheel centre and rotation from design.
func (s *State) Pose() (t r3.Vec, r [9]float64) { return s.corner[0].cur.t, s.corner[0].cur.r }

// Twist returns its first and second derivatives along the motion there.
func (s *State) Twist() (v, w, a, b r3.Vec) {
	p := *s.corner[0].cur
	s.rates(&s.corner[0], &p, knowMotion)
	return p.dz.v(), p.dz.w(), p.az.v(), p.az.w()
}

// RackTwist returns the same with rack travel.
func (s *State) RackTwist() (v, w, a, b r3.Vec) {
	p := *s.corner[0].cur
	s.rates(&s.corner[0], &p, knowRack)
	return p.dr.v(), p.dr.w(), p.ar.v(), p.ar.w()
}

// Poison fills everything that a state computes with NaN, as if it had been used for nonsense before.
func (s *State) Poison() {
	nan := math.NaN()
	bad := r3.Vec{X: nan, Y: nan, Z: nan}
	five := vjet{bad, bad, bad, bad, bad}
	for i := range s.points {
		s.points[i] = bad
	}
	for i := range s.own {
		s.own[i] = bad
	}
	for i := range s.num {
		s.num[i] = jet{nan, nan, nan, nan, nan}
		s.vec[i] = five
	}
	for i := range s.lengths {
		s.lengths[i] = nan
	}
	for i := range s.body {
		b := &s.body[i]
		*b = rigid{v: five, w: five, t: bad, c: bad}
		if i <= bodyRack {
			*b = rigid{r: [9]float64{1, 0, 0, 0, 1, 0, 0, 0, 1}}
		}
	}
	for i := range s.remembered {
		s.remembered[i].value = nan
	}
	s.rack, s.rackSlope, s.roll, s.rollRate = nan, nan, nan, nan
	for k := range s.footing {
		s.footing[k].gap[0] = nan // the second is an axle's alone, and 0 elsewhere
		s.footing[k].slope = [2][2]float64{{nan, nan}, {nan, nan}}
	}
	s.travel = [2]jet{{nan, nan, nan, nan, nan}, {nan, nan, nan, nan, nan}}
	for k := range s.corner {
		for i := range s.corner[k].slot {
			if p := s.corner[k].slot[i]; p != nil {
				*p = pose{t: bad, det: nan, qw: nan, dz: twist{nan, nan, nan, nan, nan, nan}}
			}
		}
	}
}

// Rests tells whether all bars are at nothing, as every pass backwards finds and leaves them. What a pass leaves on the
// frame and the rack, and on the wheels' travel, is looked at by nobody.
func (s *State) Rests() bool {
	b := &s.bar
	return !slices.ContainsFunc(b.num, func(x jet) bool { return x != jet{} }) &&
		!slices.ContainsFunc(b.vec, func(x vjet) bool { return x != vjet{} }) &&
		!slices.ContainsFunc(b.body[bodyLeft:], func(x twistBars) bool { return x != twistBars{} })
}

// Turning returns the first and second derivatives of a follower's angle along the motion, rad.
func (s *State) Turning(member string) (d1, d2 float64) {
	c := &s.corner[0]
	s.rates(c, c.cur, knowMotion)
	s.load(c, levelBend, &c.motion)
	for i, f := range s.prog.followers {
		if s.prog.linkage.Members[f.member].Name == member {
			r := s.prog.closes[i]
			p := s.prog.graph.plan([]ref{r}, []level{levelBend}, s.prog.closes)
			s.forward(&p, levelBend)
			return s.num[r][slotW], s.num[r][slotWW]
		}
	}
	panic("no member " + member)
}

// IsSlope tells whether a measure is made of derivatives along the motion.
func IsSlope(m *Measure) bool {
	switch m.Name {
	case "camber_gain", "bump_steer", "caster_gain", "contact_path_x", "contact_path_y", "front_view_swing_arm", "side_view_swing_arm",
		"roll_centre_height", "roll_centre_lateral", "installation_ratio", "progression", "roll_camber", "roll_steer",
		"anti_dive", "anti_lift_drive", "anti_lift_brake", "anti_squat":
		return true
	}
	return false
}

// Carry returns where the point of a body that is at q at design stands at the last solved position; both places
// are the car's. It knows bodies by name and side, as members do.
func (s *State) Carry(body string, side Side, q r3.Vec) r3.Vec {
	b := s.bodyNamed(body, side)
	flip := s.prog.flips(b)
	if flip {
		q = mirrored(q)
	}
	for ; b > bodyRack; b = s.prog.baseOf(b) {
		r := &s.body[b]
		q = r3.Add(r.t, r.turn(r3.Sub(q, r.c)))
	}
	if flip {
		q = mirrored(q)
	}
	if b == bodyRack {
		q = r3.Add(q, r3.Scale(s.rack, s.rackAxis))
	}
	return q
}

func (s *State) bodyNamed(name string, side Side) int {
	switch {
	case name == Frame:
		return bodyFrame
	case name == Rack:
		return bodyRack
	case name == Axle, name == Upright && !s.prog.axle && side == Left:
		return bodyLeft
	case name == Upright && !s.prog.axle:
		return bodyRight
	}
	for i, f := range s.prog.followers {
		m := &s.prog.linkage.Members[f.member]
		if f.side == side && (m.Name == name || name == Upright && m.Kind == Kingpin) {
			return bodyFollower + i
		}
	}
	if side != Once {
		return s.bodyNamed(name, Once)
	}
	panic("no body " + name)
}

// Predicted returns how far a body is predicted to go and to turn in the last of some steps, all in one direction, from the place before
// it. At tells how it moves: the velocity and the angular velocity, and their slopes.
func Predicted(steps []float64, at func(t float64) (v, w, a, b r3.Vec)) (way r3.Vec, turn [9]float64) {
	var from, to pose
	along := drive{z: 1}
	t := 0.0
	for _, h := range steps {
		v, w, a, b := at(t)
		from.reset(r3.Vec{})
		from.wake = to.wake
		to.predict(&from, h, &along, &twist{v.X, v.Y, v.Z, w.X, w.Y, w.Z}, &twist{a.X, a.Y, a.Z, b.X, b.Y, b.Z})
		t += h
	}
	return to.t, to.r
}

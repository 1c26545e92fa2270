package kin

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// gauge returns the length of member's gauge and its first and second derivatives with wheel travel:
// L' = n·ḋ, L” = (|ḋ|² − L'²)/L + n·d̈.
func (s *State) gauge(member int, order int) (l, l1, l2 float64) {
	g := &s.prog.gauges[s.prog.gaugeOf[member]]
	p := s.cur
	d := r3.Sub(s.place(g.a, p), s.place(g.b, p))
	l = norm(d)
	if order == 0 {
		return l, 0, 0
	}
	a1, a2 := s.motionOf(g.a, p, &p.dz, &p.az, 0)
	b1, b2 := s.motionOf(g.b, p, &p.dz, &p.az, 0)
	v := r3.Sub(a1, b1)
	l1 = r3.Dot(d, v) / l
	l2 = (r3.Dot(v, v) - l1*l1 + r3.Dot(d, r3.Sub(a2, b2))) / l
	return l, l1, l2
}

// leverAngle returns the angle between the rod and the arm it works on, rad.
func (s *State) leverAngle(member int) float64 {
	spec := &s.prog.levers[s.prog.leverOf[member]]
	f := &s.follow[spec.follower]
	at := s.place(spec.at, s.cur)
	rod := r3.Sub(s.place(spec.far, s.cur), at)
	rel := r3.Sub(at, f.origin)
	arm := r3.Sub(rel, r3.Scale(r3.Dot(rel, f.axis), f.axis))
	return math.Atan2(norm(r3.Cross(rod, arm)), -r3.Dot(rod, arm))
}

var memberMeasures = []Measure{
	{Name: "length", Of: ofKinds(Damper, Spring), Unit: Millimetre, Scale: 1, needs: needMembers,
		Line:  "length between its two ends",
		Long:  "Distance between the two ends of a damper or spring.",
		value: func(s *State, m int) float64 { l, _, _ := s.gauge(m, 0); return l }},
	{Name: "installation_ratio", Of: ofKinds(Damper, Spring), Unit: None, Scale: 0.01, Sign: "+ shortens in bump", needs: needMembers | needRates,
		Line:  "shortening per mm of wheel travel",
		Long:  "Exact derivative of the shortening with wheel travel, the rack held.",
		value: func(s *State, m int) float64 { _, d, _ := s.gauge(m, 1); return -d }},
	{Name: "progression", Of: ofKinds(Damper, Spring), Unit: PerMillimetre, Scale: 1e-4, Sign: "+ the ratio rises in bump", needs: needMembers | needRates | needSecond,
		Line:  "slope of the installation ratio with wheel travel",
		Long:  "Exact derivative of the installation ratio with wheel travel, the rack held.",
		value: func(s *State, m int) float64 { _, _, d := s.gauge(m, 2); return -d }},
	{Name: "angle", Of: ofKinds(Arm, Rocker), Unit: Degree, Scale: 0.1, Sign: "+ right-handed about the axis from its first point to its second on the left side; mirrored on the right", needs: needMembers,
		Line: "turn about its axis, from design",
		Long: "How far an arm or rocker has turned from design about its axis.",
		value: func(s *State, m int) float64 {
			f := &s.follow[s.prog.followOf[m]]
			return math.Atan2(f.s, f.c) / degree
		}},
	{Name: "lever_angle", Of: ofKinds(Link, Damper, Spring), Unit: Degree, Scale: 1, Sign: "90 = square to the arm", needs: needMembers | needLever,
		Line:  "between a rod, damper or spring and the arm it works on",
		Long:  "Angle at its end on an arm or rocker between the rod and the line square to the axis. A rod that drives a rocker is measured at that rocker. 90 is full leverage for a rod in the plane in which the arm turns; a rod out of that plane has less.",
		value: func(s *State, m int) float64 { return s.leverAngle(m) / degree }},
}

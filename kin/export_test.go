package kin

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// Pose returns the carrier's place at the last solved node: its wheel centre and rotation from design.
func (s *State) Pose() (t r3.Vec, r [9]float64) { return s.cur.t, s.cur.r }

// Twist returns the carrier's first and second derivatives with wheel travel at the last solved node.
func (s *State) Twist() (v, w, a, b r3.Vec) {
	p := *s.cur
	s.rates(&p, true, false)
	return p.dz.v(), p.dz.w(), p.az.v(), p.az.w()
}

// RackTwist returns the same with rack travel.
func (s *State) RackTwist() (v, w, a, b r3.Vec) {
	p := *s.cur
	s.rates(&p, false, true)
	return p.dr.v(), p.dr.w(), p.ar.v(), p.ar.w()
}

// Turning returns the first and second derivatives of a follower's angle with wheel travel, rad.
func (s *State) Turning(member string) (d1, d2 float64) {
	p := *s.cur
	s.rates(&p, true, false)
	s.close(&p)
	s.move(&p, everyFollower, true)
	for i, m := range s.prog.linkage.Members {
		if m.Name == member {
			f := &s.follow[s.prog.followOf[i]]
			return f.d1, f.d2
		}
	}
	panic("no member " + member)
}

// IsSlope tells whether a measure is made of derivatives, and so has to be probed.
func IsSlope(m *Measure) bool { return m.needs&(needRates|needSecond|needRackRate) != 0 }

// Poison fills everything that a state computes with NaN, as if it had been used for nonsense before.
func (s *State) Poison() {
	nan := math.NaN()
	bad := r3.Vec{X: nan, Y: nan, Z: nan}
	twists := twist{nan, nan, nan, nan, nan, nan}
	for i := range s.points {
		s.points[i] = bad
	}
	for _, rows := range []*[5]row{&s.design, &s.rows} {
		for i := range rows {
			rows[i] = row{u: bad, c: bad, n: bad, cdot: bad, length: nan, inv: nan}
		}
	}
	s.moved, s.sign = true, nan
	for i := range s.marks {
		s.marks[i] = markAt{a: bad, b: bad, c: bad}
	}
	for i := range s.follow {
		s.follow[i] = follower{axis: bad, origin: bad, foot: bad, e1: bad, e2: bad, radius: nan, rod: nan, sigma: nan,
			c: nan, s: nan, grad: [6]float64{nan, nan, nan, nan, nan, nan}, rack: nan, d1: nan, d2: nan}
	}
	s.wheel.centre, s.wheel.spin, s.wheel.contact = bad, bad, bad
	s.wheel.radius, s.wheel.trackHalf = nan, nan
	for i := range s.buffer {
		p := pose{z: nan, rack: nan, qw: nan, qx: nan, qy: nan, qz: nan, t: bad, det: nan,
			dz: twists, dr: twists, az: twists, ar: twists, hist: nan, histV: twists, histA: twists}
		for j := range p.r {
			p.r[j] = nan
		}
		for j := range p.rows {
			p.rows[j], p.zcol[j] = rowAt{bad, bad, nan}, nan
		}
		for j := range p.lu {
			p.lu[j] = nan
		}
		s.buffer[i] = p
	}
	s.contact = contactAt{bad, bad, bad, bad, bad}
	s.oppose = s.contact
}

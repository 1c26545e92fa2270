package kin

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// follower is a body that turns about an axis of the frame. Its angle θ from design is decided in
// closed form: for an arm by the direction of its ball from the axis, for a rocker by its rod.
type follower struct {
	axis, origin r3.Vec // unit direction and a point of it
	foot         r3.Vec // foot on the axis of the ball or the rod's end
	e1, e2       r3.Vec // from foot to the ball or rod's end at design, and a quarter turn on; unit
	radius       float64
	rod          float64 // length of the rod
	sigma        float64 // which of the two closures is design's

	c, s float64 // cos θ, sin θ

	// θ' = grad · (v, w) + rack·(rack's velocity): how the angle follows the carrier's twist.
	grad [6]float64
	rack float64
	// First and second derivatives of θ with wheel travel, rad/mm and rad/mm².
	d1, d2 float64
}

// norm returns the length of v. Lengths of a car neither overflow nor vanish when squared, so the care
// of math.Hypot is not needed.
func norm(v r3.Vec) float64 { return math.Sqrt(v.X*v.X + v.Y*v.Y + v.Z*v.Z) }

// setFollower gives follower i its numbers at design.
func (s *State) setFollower(i int) Failure {
	spec := &s.prog.followers[i]
	f := &s.follow[i]
	p, q := s.points[spec.axis[0]], s.points[spec.axis[1]]
	axis := r3.Sub(q, p)
	n := norm(axis)
	if !(n > coincide) {
		return s.bad(spec.member)
	}
	f.axis, f.origin = r3.Scale(1/n, axis), p
	own := s.points[s.prog.marks[spec.own].point]
	rel := r3.Sub(own, p)
	along := r3.Scale(r3.Dot(rel, f.axis), f.axis)
	f.foot = r3.Add(p, along)
	out := r3.Sub(rel, along)
	f.radius = norm(out)
	if !(f.radius > coincide) {
		return s.bad(spec.member)
	}
	f.e1 = r3.Scale(1/f.radius, out)
	f.e2 = r3.Cross(f.axis, f.e1)
	f.c, f.s = 1, 0
	if !spec.ball {
		d := r3.Sub(s.points[s.prog.marks[spec.far].point], own)
		f.rod = norm(d)
		det := r3.Dot(d, f.e2)
		if !(f.rod > coincide) || math.Abs(det) < 1e-9*f.rod {
			return s.bad(spec.rod)
		}
		f.sigma = -math.Copysign(1, det)
	}
	return Failure{}
}

// place returns where mark i stands at the pose; a follower's mark, where its follower was last closed.
func (s *State) place(i int, p *pose) r3.Vec {
	m := &s.marks[i]
	switch m.body {
	case bodyFrame:
		return m.a
	case bodyRack:
		return r3.Add(m.a, r3.Scale(p.rack, s.rackDir))
	case bodyUpright:
		return r3.Add(p.t, p.rotate(m.a))
	}
	f := &s.follow[m.body-bodyFollower]
	return r3.Vec{
		X: m.a.X + f.c*m.b.X + f.s*m.c.X,
		Y: m.a.Y + f.c*m.b.Y + f.s*m.c.Y,
		Z: m.a.Z + f.c*m.b.Z + f.s*m.c.Z,
	}
}

// tangent returns the velocity of mark m per rad of its follower, and the second derivative.
func (f *follower) tangent(m *markAt) (d1, d2 r3.Vec) {
	d1 = r3.Vec{X: f.c*m.c.X - f.s*m.b.X, Y: f.c*m.c.Y - f.s*m.b.Y, Z: f.c*m.c.Z - f.s*m.b.Z}
	d2 = r3.Vec{X: -f.c*m.b.X - f.s*m.c.X, Y: -f.c*m.b.Y - f.s*m.c.Y, Z: -f.c*m.b.Z - f.s*m.c.Z}
	return d1, d2
}

// pull returns how g · (place of mark i) follows the carrier's twist and the rack.
func (s *State) pull(i int, g r3.Vec, p *pose) (grad [6]float64, rack float64) {
	m := &s.marks[i]
	switch m.body {
	case bodyFrame:
	case bodyRack:
		rack = r3.Dot(g, s.rackDir)
	case bodyUpright:
		t := r3.Cross(p.rotate(m.a), g)
		grad = [6]float64{g.X, g.Y, g.Z, t.X, t.Y, t.Z}
	default:
		f := &s.follow[m.body-bodyFollower]
		d1, _ := f.tangent(m)
		k := r3.Dot(g, d1)
		for j := range grad {
			grad[j] = k * f.grad[j]
		}
		rack = k * f.rack
	}
	return grad, rack
}

// everyFollower is the set of all followers.
const everyFollower = ^uint64(0)

// close turns every follower to the pose, in the order in which they drive one another, with the
// gradients of their angles.
func (s *State) close(p *pose) Failure {
	for i := range s.follow {
		if f := s.closeOne(i, p, true); f.Status != OK {
			return f
		}
	}
	return Failure{}
}

// reach turns the followers of a set, with the gradients of their angles if slopes are asked for, and
// the others that rods depend on: it tells whether every rod reaches.
func (s *State) reach(p *pose, set uint64, slopes bool) Failure {
	for i := range s.follow {
		wanted := set&(1<<i) != 0
		if wanted || s.prog.followers[i].rods {
			if f := s.closeOne(i, p, wanted && slopes); f.Status != OK {
				return f
			}
		}
	}
	return Failure{}
}

func (s *State) closeOne(i int, p *pose, gradient bool) Failure {
	spec := &s.prog.followers[i]
	f := &s.follow[i]
	far := s.place(spec.far, p)
	d := r3.Sub(far, f.foot)
	a, b := r3.Dot(d, f.e1), r3.Dot(d, f.e2)
	h2 := a*a + b*b
	if spec.ball {
		// θ is the ball's direction about the axis; grad θ = (axis × ρ)/ρ².
		h := math.Sqrt(h2)
		if !(h > coincide) {
			return Failure{CannotAssemble, Position{p.z, p.rack}, spec.member}
		}
		f.c, f.s = a/h, b/h
		if !gradient {
			return Failure{}
		}
		across := r3.Scale(1/h2, r3.Sub(r3.Scale(a, f.e2), r3.Scale(b, f.e1)))
		f.grad, f.rack = s.pull(spec.far, across, p)
		return Failure{}
	}
	// |far − foot − radius(cos θ e1 + sin θ e2)| = rod:  a cos θ + b sin θ = k.
	k := (r3.Dot(d, d) + f.radius*f.radius - f.rod*f.rod) / (2 * f.radius)
	q := h2 - k*k
	if !(q > 1e-12*h2) {
		return Failure{CannotAssemble, Position{p.z, p.rack}, spec.rod}
	}
	root := f.sigma * math.Sqrt(q)
	inv := 1 / h2
	f.c, f.s = (a*k-b*root)*inv, (b*k+a*root)*inv
	if !gradient {
		return Failure{}
	}
	bar := r3.Sub(far, s.place(spec.own, p))
	d1, _ := f.tangent(&s.marks[spec.own])
	lever := 1 / r3.Dot(bar, d1)
	f.grad, f.rack = s.pull(spec.far, r3.Scale(lever, bar), p)
	return Failure{}
}

// move takes the derivatives of the angles of a set of followers with wheel travel, from those of the
// carrier. They must be closed at p with their gradients.
func (s *State) move(p *pose, set uint64, second bool) {
	for i := range s.follow {
		if set&(1<<i) == 0 {
			continue
		}
		f := &s.follow[i]
		g := &f.grad
		f.d1 = g[0]*p.dz.vx + g[1]*p.dz.vy + g[2]*p.dz.vz + g[3]*p.dz.wx + g[4]*p.dz.wy + g[5]*p.dz.wz
		if second {
			f.d2 = s.followerSecond(i, p, &p.dz, f.d1, &p.az, 0)
		}
	}
}

// followerSecond returns θ” of follower i for a carrier moving by v with second derivative a and the
// rack by rack; d1 is θ'. With a zero a it is the part that does not depend on it.
func (s *State) followerSecond(i int, p *pose, v *twist, d1 float64, a *twist, rack float64) float64 {
	spec := &s.prog.followers[i]
	f := &s.follow[i]
	own := &s.marks[spec.own]
	t1, t2 := f.tangent(own)
	_, far2 := s.motionOf(spec.far, p, v, a, rack)
	if spec.ball {
		return r3.Dot(t1, far2) / r3.Dot(t1, t1)
	}
	far1, _ := s.motionOf(spec.far, p, v, a, rack)
	bar := r3.Sub(s.place(spec.far, p), s.place(spec.own, p))
	rel := r3.Sub(far1, r3.Scale(d1, t1))
	return (r3.Dot(rel, rel) + r3.Dot(bar, far2) - d1*d1*r3.Dot(bar, t2)) / r3.Dot(bar, t1)
}

// motionOf returns the first and second derivatives of mark i's place. For a follower's mark it uses
// the follower's d1 and d2.
func (s *State) motionOf(i int, p *pose, v, a *twist, rack float64) (d1, d2 r3.Vec) {
	m := &s.marks[i]
	switch m.body {
	case bodyFrame:
	case bodyRack:
		d1 = r3.Scale(rack, s.rackDir)
	case bodyUpright:
		rho := p.rotate(m.a)
		turn := r3.Cross(v.w(), rho)
		d1 = r3.Add(v.v(), turn)
		d2 = r3.Add(r3.Add(a.v(), r3.Cross(a.w(), rho)), r3.Cross(v.w(), turn))
	default:
		f := &s.follow[m.body-bodyFollower]
		t1, t2 := f.tangent(m)
		d1 = r3.Scale(f.d1, t1)
		d2 = r3.Add(r3.Scale(f.d2, t1), r3.Scale(f.d1*f.d1, t2))
	}
	return d1, d2
}

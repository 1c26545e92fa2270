package kin

import "gonum.org/v1/gonum/spatial/r3"

// wake is what the steps that led to a pose, all in one direction of the drivers, leave for the prediction of the next: the
// derivatives at the place before, and two coefficients of the velocity's polynomial through that place and the one before it.
type wake struct {
	g, k  float64 // mm: how far back the last place lies and the one before it, signed like their steps; 0 where there is none
	along drive   // direction of the steps
	v, a  twist   // first and second derivatives at the last place
	c, d  twist   // c and d of stencil.extend for the step from there
}

// farthest is how many times longer than the step before it a step may be, for what lies behind to say something about it.
const farthest = 4

// stencil is what all components of a step from t = 0 to h share. The velocity is taken to be
//
//	v(t) = v + a t + c t² + d t²(t + g) + e t²(t + g)² + f t²(t + g)²(t + k)
//
// which has the values and the slopes that are known at 0, at −g and at −k (Newton's form with double nodes). Without a place at
// −k, e and f are 0; without one at −g, so are c and d.
type stencil struct {
	h, half        float64 // h²/2
	ig, ik         float64 // 1/g, 1/k, 0 without such a place
	sc, sd, se, sf float64 // integrals from 0 to h of what c, d, e and f multiply
	rc, rd, re, rf float64 // 12/h times the integrals of the same times t − h/2
	bc, bd, be     float64 // h³/2 times their bends at h/2, but for the last
}

// set makes it that of a step from a pose with the wake w.
func (s *stencil) set(w *wake, h float64, along *drive) {
	h2 := h * h
	*s = stencil{h: h, half: 0.5 * h2}
	g, k := w.g, w.k
	if r := h * g; !(r > 0 && r <= farthest*g*g) || *along != w.along {
		return
	}
	s.ig = 1 / g
	h3 := h2 * h
	m := 0.5 * h
	s.sc, s.sd = h3*(1./3), h3*(0.25*h+(1./3)*g)
	s.rc, s.rd = h3, h3*(0.9*h+g)
	s.bc, s.bd = h3, h3*(3*m+g)
	if k == 0 {
		return
	}
	s.ik = 1 / k
	h4 := h2 * h2
	s.se = h4*(0.2*h+0.5*g) + h3*(1./3)*g*g
	s.sf = h4*(h2*(1./6)+0.4*g*h+0.25*g*g) + k*s.se
	s.re = h3 * (0.8*h2 + 1.8*g*h + g*g)
	s.rf = h4*(h2*(5./7)+1.6*g*h+0.9*g*g) + k*s.re
	s.be = h3 * (6*m*(m+g) + g*g)
}

// extend returns the way of a component of the velocity and its coefficients. It has the derivatives v and a at 0, u and b at
// −g, and the step from there had the coefficients c0 and d0.
func (s *stencil) extend(v, a, u, b, c0, d0 float64) (way, c, d, e, f float64) {
	rise := (v - u) * s.ig
	c = (a - rise) * s.ig
	x := (rise - b) * s.ig
	d = (c - x) * s.ig
	y := (x - c0) * s.ik
	e = (d - y) * s.ik
	f = (e - (y-d0)*s.ik) * s.ik
	return s.h*v + s.half*a + s.sc*c + s.sd*d + s.se*e + s.sf*f, c, d, e, f
}

// predict moves p from a solved pose by h along a direction of the drivers, by the derivatives v and a there and what the pose's wake
// knows of the two places before, and leaves p a wake of its own. p may not be from.
//
// As the direction of the angular velocity ω turns, the rotation vector is not its integral alone. With t from the middle of the
// step and α₂ = 12/h ∫tω, α₃ = h³ω"/2, α₁ = ∫ω − α₃/12 it is to sixth order
//
//	∫ω + (C − 20α₁ − α₃)/240 × (α₂ − α₁ × (C + 2α₃)/60),   C = α₁ × α₂
//
// (S. Blanes, F. Casas, J. A. Oteo and J. Ros, "The Magnus expansion and some of its applications", Physics Reports 470,
// 2009, cited from memory; TestPrediction compares it with a motion that is known).
func (p *pose) predict(from *pose, h float64, along *drive, v, a *twist) {
	w, n := &from.wake, &p.wake
	var s stencil
	s.set(w, h, along)
	if n.g, n.k = h, 0; s.ig != 0 {
		n.k = h + w.g
	}
	n.along, n.v, n.a = *along, *v, *a

	var way, e, f float64
	way, n.c.vx, n.d.vx, _, _ = s.extend(v.vx, a.vx, w.v.vx, w.a.vx, w.c.vx, w.d.vx)
	p.t.X = from.t.X + way
	way, n.c.vy, n.d.vy, _, _ = s.extend(v.vy, a.vy, w.v.vy, w.a.vy, w.c.vy, w.d.vy)
	p.t.Y = from.t.Y + way
	way, n.c.vz, n.d.vz, _, _ = s.extend(v.vz, a.vz, w.v.vz, w.a.vz, w.c.vz, w.d.vz)
	p.t.Z = from.t.Z + way

	var all, a1, a2, a3 r3.Vec
	h2 := 2 * s.half
	all.X, n.c.wx, n.d.wx, e, f = s.extend(v.wx, a.wx, w.v.wx, w.a.wx, w.c.wx, w.d.wx)
	a2.X = h2*a.wx + s.rc*n.c.wx + s.rd*n.d.wx + s.re*e + s.rf*f
	a3.X = s.bc*n.c.wx + s.bd*n.d.wx + s.be*e
	all.Y, n.c.wy, n.d.wy, e, f = s.extend(v.wy, a.wy, w.v.wy, w.a.wy, w.c.wy, w.d.wy)
	a2.Y = h2*a.wy + s.rc*n.c.wy + s.rd*n.d.wy + s.re*e + s.rf*f
	a3.Y = s.bc*n.c.wy + s.bd*n.d.wy + s.be*e
	all.Z, n.c.wz, n.d.wz, e, f = s.extend(v.wz, a.wz, w.v.wz, w.a.wz, w.c.wz, w.d.wz)
	a2.Z = h2*a.wz + s.rc*n.c.wz + s.rd*n.d.wz + s.re*e + s.rf*f
	a3.Z = s.bc*n.c.wz + s.bd*n.d.wz + s.be*e

	a1 = axpy(all, -1./12, a3)
	c := r3.Cross(a1, a2)
	left := r3.Sub(axpy(c, -20, a1), a3)
	right := axpy(a2, -1./60, r3.Cross(a1, axpy(c, 2, a3)))
	turn := axpy(all, 1./240, r3.Cross(left, right))
	p.qw, p.qx, p.qy, p.qz = from.qw, from.qx, from.qy, from.qz
	p.turn(turn.X, turn.Y, turn.Z)
}

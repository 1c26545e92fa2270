package kin

import "gonum.org/v1/gonum/spatial/r3"

// pullMark passes the bars of the place of a body's part point to the body's motion, in tb, and to the drawing.
// A follower's place is A + R(x − A'), A its axis' point on the base and A' on itself; R carries its own axis' direction
// to the base's and then turns by the angle.
func (s *State) pullMark(body, part int, bo *vjet, l level, tb *twistBars) {
	b := &s.body[body]
	if body < bodyFollower {
		for k := 0; tb != nil && k < slotsOf(l); k++ {
			tb.t[k] = r3.Add(tb.t[k], bo[k])
		}
		q := b.pullSpin(b.turn(r3.Sub(s.own[part], b.c)), bo, l, tb)
		s.bar.own[part] = r3.Add(s.bar.own[part], b.back(q))
		return
	}
	spec := &s.prog.followers[body-bodyFollower]
	u := r3.Sub(s.own[part], s.own[spec.pivots[0]])
	s.bar.own[spec.axis[0]] = r3.Add(s.bar.own[spec.axis[0]], bo[0])
	q := s.pullTurned(body, u, bo, l, tb)
	s.bar.own[part] = r3.Add(s.bar.own[part], q)
	s.bar.own[spec.pivots[0]] = r3.Sub(s.bar.own[spec.pivots[0]], q)
}

// pullFixed is pullMark for a direction that the body carries.
func (s *State) pullFixed(body int, dir r3.Vec, bo *vjet, l level, tb *twistBars) {
	b := &s.body[body]
	if body < bodyFollower {
		b.pullSpin(b.turn(dir), bo, l, tb)
		return
	}
	s.pullTurned(body, dir, bo, l, tb)
}

// pullTurned passes the bars of a vector u that a follower turns, and returns those of u.
func (s *State) pullTurned(body int, u r3.Vec, bo *vjet, l level, tb *twistBars) r3.Vec {
	b := &s.body[body]
	rho := b.turn(u)
	q := b.back(b.pullSpin(rho, bo, l, tb))
	tilt := r3.Cross(rho, bo[0])
	if l > levelValue {
		moved := &s.moved
		b.spin(rho, l, moved)
		for k := 1; k < slotsOf(l); k++ {
			tilt = r3.Add(tilt, r3.Cross(moved[k], bo[k]))
		}
	}
	s.pullAxis(body-bodyFollower, tilt, r3.Cross(u, q))
	return q
}

// pullAxis passes on the bars of a tilt of a follower's axis on its base and, reversed, of its own.
func (s *State) pullAxis(i int, base, own r3.Vec) {
	spec := &s.prog.followers[i]
	f := &s.follow[i]
	// ω = n × δn, δn = (δB − δA)/d square to n
	t := r3.Scale(1/f.span, r3.Cross(base, f.axis))
	s.bar.own[spec.axis[1]] = r3.Add(s.bar.own[spec.axis[1]], t)
	s.bar.own[spec.axis[0]] = r3.Sub(s.bar.own[spec.axis[0]], t)
	t = r3.Scale(-1/f.span, r3.Cross(own, f.axis))
	s.bar.own[spec.pivots[1]] = r3.Add(s.bar.own[spec.pivots[1]], t)
	s.bar.own[spec.pivots[0]] = r3.Sub(s.bar.own[spec.pivots[0]], t)
}

// pullAngular passes the bars of a follower's angular velocity and its slope to the tilt of its axis.
func (s *State) pullAngular(body, first, second int, b *vjet) {
	if body < bodyFollower {
		return
	}
	w := &s.body[body].w
	s.pullAxis(body-bodyFollower, r3.Add(r3.Cross(w[first], b[0]), r3.Cross(w[second], b[1])), r3.Vec{})
}

// pullOut is pullMark for a place x that moves within the body, counted from its origin.
func (s *State) pullOut(body int, x, bo *vjet, l level, bx *vjet, place bool) {
	b := &s.body[body]
	tb := &s.bar.body[body]
	var got vjet
	b.pullOutward(x, bo, l, tb, &got)
	for k := range slotsOf(l) {
		bx[k] = r3.Add(bx[k], got[k])
	}
	if body < bodyFollower {
		if place {
			for k := range slotsOf(l) {
				tb.t[k] = r3.Add(tb.t[k], bo[k])
			}
		}
		return
	}
	spec := &s.prog.followers[body-bodyFollower]
	moved := &s.moved
	b.outward(x, l, moved)
	var tilt, own r3.Vec
	for k := range slotsOf(l) {
		tilt = r3.Add(tilt, r3.Cross(moved[k], bo[k]))
		own = r3.Add(own, r3.Cross(x[k], got[k]))
	}
	s.pullAxis(body-bodyFollower, tilt, own)
	if place {
		s.bar.own[spec.axis[0]] = r3.Add(s.bar.own[spec.axis[0]], bo[0])
		s.bar.own[spec.pivots[0]] = r3.Sub(s.bar.own[spec.pivots[0]], got[0])
	}
}

// pullInto: y is where outward carries it to the place given, so that its bars are those of −outward.
func (s *State) pullInto(st *step, by *vjet, l level) {
	body := int(st.b)
	b := &s.body[body]
	y := s.vec[st.at]
	y[0] = r3.Sub(y[0], b.c)
	var mu vjet
	b.pullInward(&y, by, l, nil, &mu)
	a := &s.bar.vec[st.a]
	for k := range slotsOf(l) {
		a[k] = r3.Add(a[k], mu[k])
		mu[k] = r3.Scale(-1, mu[k])
	}
	var unused vjet
	s.pullOut(body, &y, &mu, l, &unused, true)
	// The first point of its own pivots is where y is counted from, too; pullOut took it off.
}

// pullClose passes on the bars of a follower's angle: C(far, θ) = 0 is held by a multiplier.
func (s *State) pullClose(i int, st *step, l level) {
	spec := &s.prog.followers[i]
	f := &s.follow[i]
	tb := &s.bar.body[bodyFollower+i]
	b := s.bar.num[st.at]
	s.bar.num[st.at] = jet{}
	any := false
	for k := range slotsOf(l) {
		b[k] += r3.Dot(f.axis, tb.w[k])
		any = any || b[k] != 0
	}
	*tb = twistBars{}
	if !any {
		return
	}
	if spec.how == byMean {
		x, y := &s.bar.num[st.a], &s.bar.num[st.b]
		for k := range slotsOf(l) {
			x[k] += 0.5 * b[k]
			y[k] += 0.5 * s.barSign[spec.bar] * b[k]
		}
		return
	}
	body := &s.body[bodyFollower+i]
	var r, tau, g vjet
	body.spin(body.turn(f.arm), l, &r)
	for k := range slotsOf(l) {
		tau[k] = r3.Cross(f.axis, r[k])
	}
	g = tau
	if spec.how == byRod {
		far := &s.vec[st.a]
		for k := range slotsOf(l) {
			g[k] = r3.Sub(far[k], r[k])
		}
		g[0] = r3.Sub(g[0], f.origin)
	}
	var c, mu jet
	c.dot(&g, &tau, l) // −∂C/∂θ
	mu.holds(&b, &c, l)
	var be vjet
	be.setDot(&mu, &g, l)
	a := &s.bar.vec[st.a]
	for k := range slotsOf(l) {
		a[k] = r3.Add(a[k], be[k])
		be[k] = r3.Scale(-1, be[k])
	}
	s.pullMark(bodyFollower+i, spec.own, &be, l, nil)
	if spec.how == byRod {
		s.pullLength(spec.ends, -mu[0]*f.rod)
	}
}

// holds sets o to the multipliers of an equation held through its derivatives, whose slope with the unknown is
// −c, so that the unknown's bars b vanish: b = Σ c·o, from the highest slot down.
func (o *jet) holds(b, c *jet, l level) {
	i := 1 / c[0]
	switch {
	case l >= levelRack:
		o[4] = b[4] * i
		o[3] = (b[3] - o[4]*c[1]) * i
		o[2] = b[2] * i
		o[1] = (b[1] - 2*o[2]*c[1] - o[4]*c[3]) * i
		o[0] = (b[0] - o[1]*c[1] - o[2]*c[2] - o[3]*c[3] - o[4]*c[4]) * i
	case l == levelBend:
		o[2] = b[2] * i
		o[1] = (b[1] - 2*o[2]*c[1]) * i
		o[0] = (b[0] - o[1]*c[1] - o[2]*c[2]) * i
	case l == levelSlope:
		o[1] = b[1] * i
		o[0] = (b[0] - o[1]*c[1]) * i
	default:
		o[0] = b[0] * i
	}
}

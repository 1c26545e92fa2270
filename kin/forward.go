package kin

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// prepare computes what of a plan depends on the design alone.
func (s *State) prepare(p *plan) {
	for i := range p.still {
		if st := &p.still[i]; st.op.vector() {
			s.forwardVector(st, st.l)
		} else {
			s.forwardScalar(st, st.l)
		}
	}
}

// forward computes the nodes of a plan that move, each to its level but no higher than top. Bodies that carry must
// stand (their rigids loaded). It fails where a follower cannot close.
//
// Most nodes are asked for their values alone: those of the commonest operations are computed here, the rest by
// functions of their own.
func (s *State) forward(p *plan, top level) *Failure {
	num, vec := s.num, s.vec
	for i := range p.steps {
		st := &p.steps[i]
		l := min(st.l, top)
		if l == levelValue {
			switch st.op {
			case opX:
				num[st.at][0] = vec[st.a][0].X
				continue
			case opY:
				num[st.at][0] = vec[st.a][0].Y
				continue
			case opZ:
				num[st.at][0] = vec[st.a][0].Z
				continue
			case opDot:
				num[st.at][0] = r3.Dot(vec[st.a][0], vec[st.b][0])
				continue
			case opSum:
				num[st.at][0] = num[st.a][0] + num[st.b][0]
				continue
			case opDiff:
				num[st.at][0] = num[st.a][0] - num[st.b][0]
				continue
			case opMul:
				num[st.at][0] = num[st.a][0] * num[st.b][0]
				continue
			case opDiv:
				num[st.at][0] = num[st.a][0] / num[st.b][0]
				continue
			case opLinear:
				num[st.at][0] = st.k * num[st.a][0]
				continue
			case opSqrt:
				num[st.at][0] = math.Sqrt(num[st.a][0])
				continue
			case opSlope:
				num[st.at][0] = num[st.a][slotW]
				continue
			case opAdd:
				vec[st.at][0] = r3.Add(vec[st.a][0], vec[st.b][0])
				continue
			case opSub:
				vec[st.at][0] = r3.Sub(vec[st.a][0], vec[st.b][0])
				continue
			case opScale:
				vec[st.at][0] = r3.Scale(num[st.a][0], vec[st.b][0])
				continue
			case opSlopeV:
				vec[st.at][0] = vec[st.a][slotW]
				continue
			case opMark:
				b := &s.body[st.b]
				vec[st.at][0] = r3.Add(b.t, b.turn(r3.Sub(s.own[st.i], b.c)))
				continue
			case opFixed:
				vec[st.at][0] = s.body[st.b].turn(s.dirs[st.i])
				continue
			case opOut:
				b := &s.body[st.b]
				vec[st.at][0] = r3.Add(b.t, b.turn(r3.Sub(vec[st.a][0], b.c)))
				continue
			case opInto:
				b := &s.body[st.b]
				vec[st.at][0] = r3.Add(b.c, b.back(r3.Sub(vec[st.a][0], b.t)))
				continue
			case opRack:
				vec[st.at][0] = axpy(s.own[st.i], s.rack, s.rackOf(int(st.i)))
				continue
			case opTravel:
				num[st.at][0] = s.travel[st.i][0]
				continue
			}
		}
		switch {
		case st.op == opClose:
			if f := s.close(int(st.i), st, l); f != nil {
				return f
			}
		case st.op.vector():
			s.forwardVector(st, l)
		default:
			s.forwardScalar(st, l)
		}
	}
	return nil
}

func (s *State) forwardVector(st *step, l level) {
	o := &s.vec[st.at]
	switch st.op {
	case opOwn:
		*o = vjet{s.own[st.i]}
	case opRack:
		axis := s.rackOf(int(st.i))
		*o = vjet{axpy(s.own[st.i], s.rack, axis)}
		o[slotW], o[slotK] = r3.Scale(s.rackSlope, axis), axis
	case opMark:
		b := &s.body[st.b]
		b.spin(b.turn(r3.Sub(s.own[st.i], b.c)), l, o)
		b.shift(l, o)
	case opFixed:
		b := &s.body[st.b]
		b.spin(b.turn(s.dirs[st.i]), l, o)
	case opOut:
		b := &s.body[st.b]
		x := s.vec[st.a]
		x[0] = r3.Sub(x[0], b.c)
		b.outward(&x, l, o)
		b.shift(l, o)
	case opTurn:
		s.body[st.b].outward(&s.vec[st.a], l, o)
	case opInto:
		b := &s.body[st.b]
		q := s.vec[st.a]
		q[0] = r3.Sub(q[0], b.t)
		for k := 1; k < slotsOf(l); k++ {
			q[k] = r3.Sub(q[k], b.v[k])
		}
		b.inward(&q, l, o)
		o[0] = r3.Add(o[0], b.c)
	case opMirror:
		a := &s.vec[st.a]
		for k := range slotsOf(l) {
			o[k] = mirrored(a[k])
		}
	case opTurning:
		b := &s.body[st.b]
		o[0], o[1] = b.w[slotW], b.w[slotWW]
	case opSteering:
		// the derivative of w_k along w: the symmetric one and half of w_w × w_k
		b := &s.body[st.b]
		o[0], o[1] = b.w[slotK], axpy(b.w[slotWK], 0.5, r3.Cross(b.w[slotW], b.w[slotK]))
	case opAdd:
		a, b := &s.vec[st.a], &s.vec[st.b]
		for k := range slotsOf(l) {
			o[k] = r3.Add(a[k], b[k])
		}
	case opSub:
		a, b := &s.vec[st.a], &s.vec[st.b]
		for k := range slotsOf(l) {
			o[k] = r3.Sub(a[k], b[k])
		}
	case opScale:
		o.scale(&s.num[st.a], &s.vec[st.b], l)
	case opCross:
		o.cross(&s.vec[st.a], &s.vec[st.b], l)
	case opSlopeV:
		a := &s.vec[st.a]
		o[0], o[1] = a[slotW], a[slotWW]
	case opRackV:
		a := &s.vec[st.a]
		o[0], o[1] = a[slotK], a[slotWK]
	}
}

// rackOf is the direction of the rack in the coordinates of a part point.
func (s *State) rackOf(part int) r3.Vec {
	if s.prog.parts[part].flip {
		return mirrored(s.rackAxis)
	}
	return s.rackAxis
}

func (s *State) forwardScalar(st *step, l level) {
	o := &s.num[st.at]
	switch st.op {
	case opConst:
		*o = jet{st.k}
	case opTravel:
		*o = s.travel[st.i]
	case opRackTravel:
		*o = jet{slot0: s.rack, slotW: s.rackSlope, slotK: 1}
	case opRoll:
		*o = jet{slot0: s.roll, slotW: s.rollRate}
	case opTwistSign:
		*o = jet{s.barSign[st.i]}
	case opLength:
		*o = jet{s.lengths[st.i]}
	case opDeclared:
		*o = jet{s.own[st.i].Z}
	case opX:
		a := &s.vec[st.a]
		for k := range slotsOf(l) {
			o[k] = a[k].X
		}
	case opY:
		a := &s.vec[st.a]
		for k := range slotsOf(l) {
			o[k] = a[k].Y
		}
	case opZ:
		a := &s.vec[st.a]
		for k := range slotsOf(l) {
			o[k] = a[k].Z
		}
	case opDot:
		o.dot(&s.vec[st.a], &s.vec[st.b], l)
	case opSum:
		a, b := &s.num[st.a], &s.num[st.b]
		for k := range slotsOf(l) {
			o[k] = a[k] + b[k]
		}
	case opDiff:
		a, b := &s.num[st.a], &s.num[st.b]
		for k := range slotsOf(l) {
			o[k] = a[k] - b[k]
		}
	case opMul:
		o.mul(&s.num[st.a], &s.num[st.b], l)
	case opDiv:
		o.divide(&s.num[st.a], &s.num[st.b], l)
	case opShare:
		a, b := &s.num[st.a], &s.num[st.b]
		*o = jet{}
		if a[0] != 0 || b[0] != 0 {
			o.divide(a, b, l)
		}
	case opLinear:
		a := &s.num[st.a]
		for k := range slotsOf(l) {
			o[k] = st.k * a[k]
		}
	case opLift:
		*o = jet{s.place.Wheel}
	case opRemembered:
		*o = jet{s.remembered[st.i].value}
	case opStep:
		*o = jet{}
		if s.num[st.a][0] > 0 {
			o[0] = 1
		}
	case opFrom:
		*o = s.num[st.a]
		if !(o[0] >= st.k) {
			o[0] = math.NaN()
		}
	case opSlope:
		a := &s.num[st.a]
		o[0], o[1] = a[slotW], a[slotWW]
	case opAlong:
		a := &s.num[st.a]
		o[0], o[1] = a[slotK], a[slotWK]
	case opGap:
		s.leastGap(st.i, o, l)
	default:
		x := &s.num[st.a]
		f := unary(st.op, x[0])
		o.chain(x, f[0], f[1], f[2], l)
	}
}

// unary returns a function of one number with its first three derivatives.
func unary(o op, x float64) (f [4]float64) {
	switch o {
	case opSqrt:
		if x == 0 {
			return [4]float64{} // a length that vanishes has no direction to grow in
		}
		r := math.Sqrt(x)
		return [4]float64{r, 0.5 / r, -0.25 / (r * x), 0.375 / (r * x * x)}
	case opAsin:
		q := 1 - x*x
		if q <= 0 { // rounding may carry a direction's component past its end, where the angle has no slope
			return [4]float64{math.Copysign(math.Pi/2, x)}
		}
		r := math.Sqrt(q)
		return [4]float64{math.Asin(x), 1 / r, x / (r * q), (1 + 2*x*x) / (r * q * q)}
	case opAcos:
		q := 1 - x*x
		if q <= 0 {
			return [4]float64{math.Acos(math.Copysign(1, x))}
		}
		r := math.Sqrt(q)
		return [4]float64{math.Acos(x), -1 / r, -x / (r * q), -(1 + 2*x*x) / (r * q * q)}
	case opAtan:
		q := 1 / (1 + x*x)
		return [4]float64{math.Atan(x), q, -2 * x * q * q, (6*x*x - 2) * q * q * q}
	case opSin:
		sn, c := math.Sincos(x)
		return [4]float64{sn, c, -sn, -c}
	case opCos:
		sn, c := math.Sincos(x)
		return [4]float64{c, -sn, -c, sn}
	}
	panic("kin: no such operation")
}

// divide sets o to a/b.
func (o *jet) divide(a, b *jet, l level) {
	o[0] = a[0] / b[0] // as forward has it, to the bit
	if l == levelValue {
		return
	}
	i := 1 / b[0]
	o[1] = (a[1] - o[0]*b[1]) * i
	if l == levelSlope {
		return
	}
	o[2] = (a[2] - 2*o[1]*b[1] - o[0]*b[2]) * i
	if l == levelBend {
		return
	}
	o[3] = (a[3] - o[0]*b[3]) * i
	o[4] = (a[4] - o[1]*b[3] - o[3]*b[1] - o[0]*b[4]) * i
}

// close turns follower i to where its ball or rod puts it, and takes the derivatives of its angle.
func (s *State) close(i int, st *step, l level) *Failure {
	spec := &s.prog.followers[i]
	f := &s.follow[i]
	b := &s.body[bodyFollower+i]
	o := &s.num[st.at]
	if spec.how == byMean {
		x, y := &s.num[st.a], &s.num[st.b]
		for k := range slotsOf(l) {
			o[k] = 0.5 * (x[k] + s.barSign[spec.bar]*y[k])
		}
		sn, c := math.Sincos(o[0])
		f.stand(b, c, sn)
		f.carry(b, o, l)
		return nil
	}
	far := &s.vec[st.a]
	c, sn, ok := f.angle(spec.how, far[0])
	if !ok {
		return s.fail(Failure{Status: CannotAssemble, Member: spec.rod})
	}
	f.stand(b, c, sn)
	if st.angle {
		o[0] = math.Atan2(sn, c)
	}
	if l == levelValue {
		return nil
	}
	// C(far, θ) = 0 with gradients g with far and −g·τ with θ, τ the place's slope with θ and σ the slope of τ.
	r := b.turn(f.arm)
	tau := r3.Cross(f.axis, r)
	sigma := r3.Cross(f.axis, tau)
	e := tau
	if spec.how == byRod {
		e = r3.Sub(far[0], r3.Add(f.origin, r))
	}
	inv := 1 / r3.Dot(e, tau)
	o[1] = r3.Dot(e, far[1]) * inv
	if l >= levelBend {
		o[2] = f.second(spec.how, e, far[2], far[1], far[1], tau, sigma, o[1], o[1]) * inv
	}
	if l >= levelRack {
		o[3] = r3.Dot(e, far[3]) * inv
		o[4] = f.second(spec.how, e, far[4], far[1], far[3], tau, sigma, o[1], o[3]) * inv
	}
	f.carry(b, o, l)
	return nil
}

// second returns θ”·(e·τ) from the second derivative of the far end, its two first ones, and those of θ.
func (f *follower) second(how closing, e, far2, farA, farB, tau, sigma r3.Vec, a, b float64) float64 {
	x := r3.Dot(e, axpy(far2, -a*b, sigma))
	if how == byRod {
		x += r3.Dot(axpy(farA, -a, tau), axpy(farB, -b, tau))
	}
	return x
}

// angle returns the cosine and sine of the follower's angle for the far end at a place.
func (f *follower) angle(how closing, far r3.Vec) (c, sn float64, ok bool) {
	d := r3.Sub(far, f.foot)
	a, b := r3.Dot(d, f.e1), r3.Dot(d, f.e2)
	h2 := a*a + b*b
	if how == byBall {
		h := math.Sqrt(h2)
		return a / h, b / h, h > coincide
	}
	// |far − foot − radius(cos θ e1 + sin θ e2)| = rod:  a cos θ + b sin θ = k.
	k := (r3.Dot(d, d) + f.radius*f.radius - f.rod*f.rod) / (2 * f.radius)
	q := h2 - k*k
	if !(q > 1e-12*h2) {
		return 0, 0, false
	}
	root := f.sigma * math.Sqrt(q)
	inv := 1 / h2
	return (a*k - b*root) * inv, (b*k + a*root) * inv, true
}

// stand sets the body's rotation by the angle about the axis.
func (f *follower) stand(b *rigid, c, sn float64) {
	n, v := f.axis, 1-c
	b.r = [9]float64{
		c + v*n.X*n.X, v*n.X*n.Y - sn*n.Z, v*n.X*n.Z + sn*n.Y,
		v*n.X*n.Y + sn*n.Z, c + v*n.Y*n.Y, v*n.Y*n.Z - sn*n.X,
		v*n.X*n.Z - sn*n.Y, v*n.Y*n.Z + sn*n.X, c + v*n.Z*n.Z,
	}
	if f.bent {
		turned := b.r
		for i := range 3 {
			for j := range 3 {
				b.r[3*i+j] = turned[3*i]*f.bend[j] + turned[3*i+1]*f.bend[3+j] + turned[3*i+2]*f.bend[6+j]
			}
		}
	}
}

// carry sets the body's angular velocities from the derivatives of the angle.
func (f *follower) carry(b *rigid, o *jet, l level) {
	for k := 1; k < slotsOf(l); k++ {
		b.w[k] = r3.Scale(o[k], f.axis)
	}
}

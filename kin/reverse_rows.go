package kin

import "gonum.org/v1/gonum/spatial/r3"

// gradient returns how an output of rows follows the carrier's small shift and turn, and the drivers, at a pose whose nodes have
// their values. Nobody asks it for the drawing's part, nor for slopes, so it has a way backwards of its own.
func (s *State) gradient(c *corner, o *rowOutput) (shift, turn r3.Vec, push drive) {
	tb := &s.bar.body[bodyLeft+c.index]
	s.bar.rack, s.bar.travel[0][0], s.bar.travel[1][0] = 0, 0, 0
	s.bar.num[o.node][0] = 1
	s.reverseRow(&o.plan)
	shift, turn = tb.t[0], tb.w[0]
	tb.t[0], tb.w[0] = r3.Vec{}, r3.Vec{}
	push = drive{z: s.bar.travel[c.index][0], rack: s.bar.rack}
	if s.prog.axle {
		push.right = s.bar.travel[1][0]
	}
	return shift, turn, push
}

// reverseRow is reverse for values alone, and for what the carrier and the drivers do alone.
func (s *State) reverseRow(p *plan) {
	num, vec := s.bar.num, s.bar.vec
	for i := len(p.steps) - 1; i >= 0; i-- {
		st := &p.steps[i]
		switch {
		case st.op == opClose:
			s.reverseRowClose(st)
		case st.op.vector():
			if b := vec[st.at][0]; b != (r3.Vec{}) {
				vec[st.at][0] = r3.Vec{}
				s.reverseRowVector(st, b)
			}
		default:
			x := num[st.at][0]
			if x == 0 {
				continue
			}
			num[st.at][0] = 0
			switch st.op {
			case opTravel:
				s.bar.travel[st.i][0] += x
			case opZ:
				vec[st.a][0].Z += x
			case opDiff:
				num[st.a][0] += x
				num[st.b][0] -= x
			case opDot, opSum, opMul, opDiv, opLinear, opSqrt, opX, opY:
				s.reverseValue(st, x)
			default:
				panic("kin: no row has such a node")
			}
		}
	}
	for i := range p.still {
		st := &p.still[i]
		if st.op.vector() {
			vec[st.at][0] = r3.Vec{}
		} else {
			num[st.at][0] = 0
		}
	}
}

// reverseRowVector passes on the bar b of a vector. Where it turns with a body, rho below, the body's turn has the bar rho × b.
func (s *State) reverseRowVector(st *step, b r3.Vec) {
	vec := s.bar.vec
	switch st.op {
	case opRack:
		s.bar.rack += r3.Dot(b, s.rackOf(int(st.i)))
	case opMark, opOut:
		body, tb := &s.body[st.b], &s.bar.body[st.b]
		tb.w[0] = r3.Add(tb.w[0], r3.Cross(r3.Sub(s.vec[st.at][0], body.t), b))
		if st.b < bodyFollower {
			tb.t[0] = r3.Add(tb.t[0], b)
		}
		if st.op == opOut {
			vec[st.a][0] = r3.Add(vec[st.a][0], body.back(b))
		}
	case opFixed, opTurn:
		tb := &s.bar.body[st.b]
		tb.w[0] = r3.Add(tb.w[0], r3.Cross(s.vec[st.at][0], b))
		if st.op == opTurn {
			vec[st.a][0] = r3.Add(vec[st.a][0], s.body[st.b].back(b))
		}
	case opInto: // what it sees turns and shifts the other way
		body, tb := &s.body[st.b], &s.bar.body[st.b]
		b = body.turn(b)
		tb.w[0] = r3.Sub(tb.w[0], r3.Cross(r3.Sub(s.vec[st.a][0], body.t), b))
		if st.b < bodyFollower {
			tb.t[0] = r3.Sub(tb.t[0], b)
		}
		vec[st.a][0] = r3.Add(vec[st.a][0], b)
	case opMirror:
		vec[st.a][0] = r3.Add(vec[st.a][0], mirrored(b))
	case opAdd, opSub, opScale:
		s.reverseValueV(st, b)
	default:
		panic("kin: no row has such a node")
	}
}

// reverseRowClose passes on the bar of a follower's angle: see close.
func (s *State) reverseRowClose(st *step) {
	i := int(st.i)
	spec, f, w := &s.prog.followers[i], &s.follow[i], &s.bar.body[bodyFollower+i].w[0]
	x := s.bar.num[st.at][0] + r3.Dot(f.axis, *w)
	s.bar.num[st.at][0], *w = 0, r3.Vec{}
	if spec.how == byMean {
		s.bar.num[st.a][0] += 0.5 * x
		s.bar.num[st.b][0] += 0.5 * s.barSign[spec.bar] * x
		return
	}
	r := s.body[bodyFollower+i].turn(f.arm)
	tau := r3.Cross(f.axis, r)
	e := tau
	if spec.how == byRod {
		e = r3.Sub(s.vec[st.a][0], r3.Add(f.origin, r))
	}
	far := &s.bar.vec[st.a][0]
	*far = axpy(*far, x/r3.Dot(e, tau), e)
}

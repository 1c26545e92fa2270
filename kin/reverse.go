package kin

import "gonum.org/v1/gonum/spatial/r3"

// bars are the derivatives of one output with everything below it: nodes, the motion of bodies, drivers, and the
// part points of the drawing.
type bars struct {
	num    []jet
	vec    []vjet
	body   []twistBars
	travel [2]jet  // of the wheels' travel
	rack   float64 // of the rack's: see reverseRow
	own    []r3.Vec
}

// reverse runs a plan backwards from the bars that its outputs hold, and leaves them zero again. Followers pass
// theirs on; what carriers and drivers have is left for pullCarrier.
func (s *State) reverse(p *plan, top level) {
	s.reverseSteps(p.steps, top)
	s.reverseSteps(p.still, top)
}

// reverseSteps handles the commonest operations here where values alone are asked for, as forward does.
func (s *State) reverseSteps(steps []step, top level) {
	num, vec := s.bar.num, s.bar.vec
	for i := len(steps) - 1; i >= 0; i-- {
		st := &steps[i]
		l := min(st.l, top)
		if l == levelValue {
			switch st.op {
			case opX, opY, opZ, opDot, opSum, opDiff, opMul, opDiv, opLinear, opSqrt, opAtan, opSlope:
				if x := num[st.at][0]; x != 0 {
					num[st.at][0] = 0
					s.reverseValue(st, x)
				}
				continue
			case opAdd, opSub, opScale, opSlopeV:
				if x := vec[st.at][0]; x != (r3.Vec{}) {
					vec[st.at][0] = r3.Vec{}
					s.reverseValueV(st, x)
				}
				continue
			}
		}
		switch {
		case st.op == opClose:
			s.pullClose(int(st.i), st, l)
		case st.op.vector():
			s.reverseVector(st, l)
		default:
			s.reverseScalar(st, l)
		}
	}
}

func (s *State) reverseVector(st *step, l level) {
	bo := &s.bar.vec[st.at]
	zero := bo[0] == r3.Vec{}
	for k := 1; zero && k < slotsOf(l); k++ {
		zero = bo[k] == r3.Vec{}
	}
	if zero {
		return
	}
	b := *bo
	*bo = vjet{}
	switch st.op {
	case opOwn, opRack:
		s.bar.own[st.i] = r3.Add(s.bar.own[st.i], b[0])
	case opMark:
		s.pullMark(int(st.b), int(st.i), &b, l, &s.bar.body[st.b])
	case opFixed:
		s.pullFixed(int(st.b), s.dirs[st.i], &b, l, &s.bar.body[st.b])
	case opOut:
		x := s.vec[st.a]
		x[0] = r3.Sub(x[0], s.body[st.b].c)
		s.pullOut(int(st.b), &x, &b, l, &s.bar.vec[st.a], true)
	case opTurn:
		s.pullOut(int(st.b), &s.vec[st.a], &b, l, &s.bar.vec[st.a], false)
	case opInto:
		s.pullInto(st, &b, l)
	case opMirror:
		a := &s.bar.vec[st.a]
		for k := range slotsOf(l) {
			a[k] = r3.Add(a[k], mirrored(b[k]))
		}
	case opTurning:
		tb := &s.bar.body[st.b]
		tb.w[slotW] = r3.Add(tb.w[slotW], b[0])
		tb.w[slotWW] = r3.Add(tb.w[slotWW], b[1])
		s.pullAngular(int(st.b), slotW, slotWW, &b)
	case opSteering:
		tb, body := &s.bar.body[st.b], &s.body[st.b]
		tb.w[slotK] = axpy(r3.Add(tb.w[slotK], b[0]), 0.5, r3.Cross(b[1], body.w[slotW]))
		tb.w[slotW] = axpy(tb.w[slotW], 0.5, r3.Cross(body.w[slotK], b[1]))
		tb.w[slotWK] = r3.Add(tb.w[slotWK], b[1])
		s.pullAngular(int(st.b), slotK, slotWK, &b)
	case opAdd, opSub:
		sign := 1.0
		if st.op == opSub {
			sign = -1
		}
		x, y := &s.bar.vec[st.a], &s.bar.vec[st.b]
		for k := range slotsOf(l) {
			x[k] = r3.Add(x[k], b[k])
			y[k] = axpy(y[k], sign, b[k])
		}
	case opScale:
		pullScale(&b, &s.num[st.a], &s.vec[st.b], &s.bar.num[st.a], &s.bar.vec[st.b], l)
	case opCross:
		s.bar.vec[st.a].pullCross(&b, &s.vec[st.b], 1, l)
		s.bar.vec[st.b].pullCross(&b, &s.vec[st.a], -1, l)
	case opSlopeV:
		a := &s.bar.vec[st.a]
		a[slotW] = r3.Add(a[slotW], b[0])
		a[slotWW] = r3.Add(a[slotWW], b[1])
	case opRackV:
		a := &s.bar.vec[st.a]
		a[slotK] = r3.Add(a[slotK], b[0])
		a[slotWK] = r3.Add(a[slotWK], b[1])
	}
}

func (s *State) reverseScalar(st *step, l level) {
	bo := &s.bar.num[st.at]
	if bo[0] == 0 && (l == levelValue || *bo == (jet{})) {
		return
	}
	b := *bo
	*bo = jet{}
	n := slotsOf(l)
	switch st.op {
	case opConst, opRackTravel, opRoll, opTwistSign, opLift, opStep:
	case opRemembered:
		for i, o := range s.remembered[st.i].own {
			s.bar.own[i] = axpy(s.bar.own[i], b[0], o)
		}
	case opFrom:
		a := &s.bar.num[st.a]
		for k := range n {
			a[k] += b[k]
		}
	case opTravel:
		a := &s.bar.travel[st.i]
		for k := range n {
			a[k] += b[k]
		}
	case opLength:
		s.pullLength(s.prog.rods[st.i], b[0])
	case opDeclared:
		s.bar.own[st.i].Z += b[0]
	case opX:
		a := &s.bar.vec[st.a]
		for k := range n {
			a[k].X += b[k]
		}
	case opY:
		a := &s.bar.vec[st.a]
		for k := range n {
			a[k].Y += b[k]
		}
	case opZ:
		a := &s.bar.vec[st.a]
		for k := range n {
			a[k].Z += b[k]
		}
	case opDot:
		s.bar.vec[st.a].pullDot(&b, &s.vec[st.b], l)
		s.bar.vec[st.b].pullDot(&b, &s.vec[st.a], l)
	case opSum, opDiff:
		sign := 1.0
		if st.op == opDiff {
			sign = -1
		}
		x, y := &s.bar.num[st.a], &s.bar.num[st.b]
		for k := range n {
			x[k] += b[k]
			y[k] += sign * b[k]
		}
	case opMul:
		s.bar.num[st.a].pull(&b, &s.num[st.b], l)
		s.bar.num[st.b].pull(&b, &s.num[st.a], l)
	case opDiv, opShare:
		s.pullDivide(st, &b, l)
	case opLinear:
		a := &s.bar.num[st.a]
		for k := range n {
			a[k] += st.k * b[k]
		}
	case opSlope:
		a := &s.bar.num[st.a]
		a[slotW] += b[0]
		a[slotWW] += b[1]
	case opAlong:
		a := &s.bar.num[st.a]
		a[slotK] += b[0]
		a[slotWK] += b[1]
	case opGap:
		s.pullGap(st.i, b[0])
	default:
		x := &s.num[st.a]
		f := unary(st.op, x[0])
		var slope jet
		slope.chain(x, f[1], f[2], f[3], l)
		s.bar.num[st.a].pull(&b, &slope, l)
	}
}

// reverseValue is reverseScalar for the commonest operations where only values are asked for.
func (s *State) reverseValue(st *step, x float64) {
	num, vec := s.bar.num, s.bar.vec
	switch st.op {
	case opX:
		vec[st.a][0].X += x
	case opY:
		vec[st.a][0].Y += x
	case opZ:
		vec[st.a][0].Z += x
	case opDot:
		vec[st.a][0] = axpy(vec[st.a][0], x, s.vec[st.b][0])
		vec[st.b][0] = axpy(vec[st.b][0], x, s.vec[st.a][0])
	case opSum:
		num[st.a][0] += x
		num[st.b][0] += x
	case opDiff:
		num[st.a][0] += x
		num[st.b][0] -= x
	case opMul:
		num[st.a][0] += x * s.num[st.b][0]
		num[st.b][0] += x * s.num[st.a][0]
	case opDiv:
		x /= s.num[st.b][0]
		num[st.a][0] += x
		num[st.b][0] -= x * s.num[st.at][0]
	case opSqrt:
		if r := s.num[st.at][0]; r != 0 {
			num[st.a][0] += 0.5 * x / r
		}
	case opAtan:
		y := s.num[st.a][0]
		num[st.a][0] += x / (1 + y*y)
	case opSlope:
		num[st.a][slotW] += x
	case opLinear:
		num[st.a][0] += st.k * x
	}
}

// reverseValueV is the same for vectors.
func (s *State) reverseValueV(st *step, x r3.Vec) {
	vec := s.bar.vec
	switch st.op {
	case opAdd:
		vec[st.a][0] = r3.Add(vec[st.a][0], x)
		vec[st.b][0] = r3.Add(vec[st.b][0], x)
	case opSub:
		vec[st.a][0] = r3.Add(vec[st.a][0], x)
		vec[st.b][0] = r3.Sub(vec[st.b][0], x)
	case opScale:
		s.bar.num[st.a][0] += r3.Dot(x, s.vec[st.b][0])
		vec[st.b][0] = axpy(vec[st.b][0], s.num[st.a][0], x)
	case opSlopeV:
		vec[st.a][slotW] = r3.Add(vec[st.a][slotW], x)
	}
}

// pullDivide: o = a/b, so δo = (δa − o δb)/b.
func (s *State) pullDivide(st *step, b *jet, l level) {
	x, y, o := &s.num[st.a], &s.num[st.b], &s.num[st.at]
	if x[0] == 0 && y[0] == 0 {
		return
	}
	var inv, minus jet
	inv.divide(&jet{1}, y, l)
	s.bar.num[st.a].pull(b, &inv, l)
	var q jet
	q.mul(o, &inv, l)
	for k := range slotsOf(l) {
		minus[k] = -q[k]
	}
	s.bar.num[st.b].pull(b, &minus, l)
}

// pullLength: the distance of a link's own ends.
func (s *State) pullLength(ends [2]int, b float64) {
	d := r3.Sub(s.own[ends[0]], s.own[ends[1]])
	k := b / norm(d)
	s.bar.own[ends[0]] = axpy(s.bar.own[ends[0]], k, d)
	s.bar.own[ends[1]] = axpy(s.bar.own[ends[1]], -k, d)
}

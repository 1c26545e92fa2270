package kin

import "gonum.org/v1/gonum/spatial/r3"

// pullCarrier passes the bars of a carrier's place and motion, up to a level, on to its drivers and to the drawing.
// The rows are held through their derivatives: for each slot, from the highest down, multipliers λ with Jᵀλ = bars, and
// then −λ times that slot's rows has bars of its own in lower slots. What the rows take from the drawing is passed on
// at the end, for all slots of a row together.
func (s *State) pullCarrier(c *corner, l level) {
	p := c.cur
	tb := &s.bar.body[bodyLeft+c.index]
	c.weights, c.leadWeight = [5]jet{}, jet{}
	any := false
	for slot := slotsOf(l) - 1; slot >= 0; slot-- {
		shift, turn := tb.t[slot], tb.w[slot]
		tb.t[slot], tb.w[slot] = r3.Vec{}, r3.Vec{}
		if shift == (r3.Vec{}) && turn == (r3.Vec{}) {
			continue
		}
		any = true
		rows, lead := p.multipliers(shift, turn)
		for i := range rows {
			c.weights[i][slot] = -rows[i]
			s.pullRow(c, i, slot, -rows[i])
		}
		c.leadWeight[slot] = -lead
		s.pullLead(c, slot, -lead)
		// What the rows of this slot gave back to it only cancels the bars just met.
		tb.t[slot], tb.w[slot] = r3.Vec{}, r3.Vec{}
	}
	if any {
		for i := range c.weights {
			s.pullParts(c, i, l)
		}
		s.pullWheel(c, l)
	}
}

// pullLead passes on the multiplier m of slot of the leading row, the height of the wheel's centre, to the driver and
// to lower slots.
func (s *State) pullLead(c *corner, slot int, m float64) {
	if c.lead != nil {
		s.bar.num[c.lead.node][slot] += m
		s.reverse(&c.lead.plan, levelOf(slot))
		return
	}
	s.bar.travel[c.index][slot] -= m // t is the wheel's centre: it has no arm to turn on
}

// pullWheel passes on what the leading row takes from the wheel's centre on the carrier and as it was declared.
func (s *State) pullWheel(c *corner, l level) {
	if c.lead != nil {
		return
	}
	w := &s.prog.wheels[c.index]
	b := &s.scratch
	for k := range slotsOf(l) {
		b[k] = r3.Vec{Z: c.leadWeight[k]}
	}
	s.bar.own[w.declared].Z -= c.leadWeight[slot0]
	s.pullMark(bodyLeft+c.index, w.centre, b, l, nil)
}

// levelOf is the level that knows a slot.
func levelOf(slot int) level {
	return [...]level{levelValue, levelSlope, levelBend, levelRack, levelRack}[slot]
}

// takeJets takes p − c of each row and its derivatives, the rows in the pose's order.
func (s *State) takeJets(c *corner, l level) {
	p := c.cur
	b := &s.body[bodyLeft+c.index]
	for i := range c.jets {
		r := &c.rows[p.order[i]]
		if r.kind == rowNode {
			continue
		}
		d := &c.jets[i]
		b.spin(b.turn(r.u), l, d)
		b.shift(l, d)
		d[0] = r3.Sub(d[0], axpy(r.c, p.at.rack, r.cdot))
		d[slotK] = r3.Sub(d[slotK], r.cdot)
	}
}

// gradients sets bd to the bars of p − c where those of the row's slots are the weights.
func (c *corner) gradients(i int, b *rigid, weight *jet, l level, bd *vjet) {
	r := &c.rows[c.cur.order[i]]
	switch r.kind {
	case rowLength:
		var w jet
		for k := range slotsOf(l) {
			w[k] = weight[k] * r.inv
		}
		bd.setDot(&w, &c.jets[i], l)
	case rowPlane:
		for k := range slotsOf(l) {
			bd[k] = r3.Scale(weight[k], r.n)
		}
	case rowSlide:
		// F = −e·d, e turning with the carrier
		var e vjet
		b.spin(b.turn(r.n), l, &e)
		w := negative(weight)
		bd.setDot(&w, &e, l)
	}
}

func negative(a *jet) (b jet) {
	for k := range a {
		b[k] = -a[k]
	}
	return b
}

// pullNormal passes the bars of a normal that turns with the carrier to its motion, and returns those of the normal
// itself.
func (c *corner) pullNormal(i int, b *rigid, weight *jet, l level, tb *twistBars) r3.Vec {
	var be vjet
	w := negative(weight)
	be.setDot(&w, &c.jets[i], l)
	return b.back(b.pullSpin(b.turn(c.rows[c.cur.order[i]].n), &be, l, tb))
}

// pullRow passes the multiplier m of slot of row i, in the pose's order, on to the carrier's motion in lower slots and
// to the drivers; a node passes on everything.
func (s *State) pullRow(c *corner, i, slot int, m float64) {
	r := &c.rows[c.cur.order[i]]
	l := levelOf(slot)
	if r.kind == rowNode {
		s.bar.num[r.out.node][slot] += m
		s.reverse(&r.out.plan, l)
		return
	}
	if r.rise != 0 {
		s.bar.travel[1][slot] -= m * r.rise
	}
	if slot == slot0 {
		return
	}
	var weight jet
	weight[slot] = m
	b := &s.body[bodyLeft+c.index]
	tb := &s.bar.body[bodyLeft+c.index]
	bd := &s.scratch
	c.gradients(i, b, &weight, l, bd)
	if r.kind == rowSlide {
		c.pullNormal(i, b, &weight, l, tb)
	}
	for k := range slotsOf(l) {
		tb.t[k] = r3.Add(tb.t[k], bd[k])
	}
	b.pullSpin(b.turn(r.u), bd, l, tb)
}

// pullParts passes on what row i takes from the drawing under its weights.
func (s *State) pullParts(c *corner, i int, l level) {
	r := &c.rows[c.cur.order[i]]
	if r.kind == rowNode {
		return
	}
	spec := &c.spec.rows[c.cur.order[i]]
	weight := &c.weights[i]
	b := &s.body[bodyLeft+c.index]
	bd := &s.scratch
	if r.kind == rowSlide {
		s.pullLeg(spec, r, c.pullNormal(i, b, weight, l, nil))
	}
	c.gradients(i, b, weight, l, bd)
	s.bar.own[spec.at] = r3.Add(s.bar.own[spec.at], b.back(b.pullVector(bd, l)))
	back := r3.Scale(-1, bd[0]) // of c
	switch spec.source {
	case fromLink:
		s.bar.own[spec.other] = r3.Add(s.bar.own[spec.other], back)
		s.pullLength(spec.own, -weight[slot0])
	case fromArm, fromRadius:
		s.pullArm(spec, c, i, back, l)
	case fromHeight:
		s.bar.own[spec.other].Z -= weight[slot0]
	default:
		s.bar.own[spec.other] = r3.Add(s.bar.own[spec.other], back)
	}
}

// pullLeg passes on the bars of a normal e of a strut's leg, of which only the change along the leg matters: e stays
// square to it.
func (s *State) pullLeg(spec *rowSpec, r *row, be r3.Vec) {
	leg := r3.Sub(s.own[spec.own[1]], s.own[spec.own[0]])
	k := -r3.Dot(be, leg) / r3.Dot(leg, leg) // δe = −(e·δn)n, n the leg's direction
	s.bar.own[spec.own[1]] = axpy(s.bar.own[spec.own[1]], k, r.n)
	s.bar.own[spec.own[0]] = axpy(s.bar.own[spec.own[0]], -k, r.n)
}

// pullArm passes on what a row of an arm takes from its parts: back are the bars of the ball's foot A + along·n. The
// plane's place along the axis is that of the arm's own ball from its own first pivot; the circle's radius is the arm's
// own.
func (s *State) pullArm(spec *rowSpec, c *corner, i int, back r3.Vec, l level) {
	f := &s.follow[spec.follow]
	fs := &s.prog.followers[spec.follow]
	weight := &c.weights[i]
	along := r3.Dot(f.axis, f.arm)
	// foot = A + along n: with A, with n and with along.
	s.bar.own[fs.axis[0]] = r3.Add(s.bar.own[fs.axis[0]], back)
	tilt := r3.Scale(along, r3.Cross(f.axis, back))
	var arm r3.Vec // bars of the arm's own ball from its own pivot
	var own r3.Vec // and of a tilt of its own axis
	if spec.source == fromArm {
		// F = n·(p − foot) turns with n, and so do its derivatives
		for k := range slotsOf(l) {
			tilt = axpy(tilt, weight[k], r3.Cross(f.axis, c.jets[i][k]))
		}
	} else {
		// radius = |own ball − own foot|
		m := weight[slot0]
		arm = r3.Scale(-m, f.e1)
		own = r3.Scale(m*along, r3.Cross(f.axis, f.e1))
	}
	// along = n'·arm
	ba := r3.Dot(back, f.axis)
	arm = axpy(arm, ba, f.axis)
	own = axpy(own, ba, r3.Cross(f.axis, f.arm))
	s.bar.own[fs.own] = r3.Add(s.bar.own[fs.own], arm)
	s.bar.own[fs.pivots[0]] = r3.Sub(s.bar.own[fs.pivots[0]], arm)
	s.pullAxis(spec.follow, tilt, r3.Scale(-1, own))
}

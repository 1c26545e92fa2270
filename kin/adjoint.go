package kin

import "gonum.org/v1/gonum/spatial/r3"

// pullCarrier passes the bars of a carrier's place and motion, up to a level, on to its drivers and to the drawing.
// The rows are held through their derivatives: for each slot, from the highest down, multipliers λ with Jᵀλ = bars, and
// then −λ times that slot's rows has bars of its own in lower slots.
func (s *State) pullCarrier(c *corner, l level) {
	p := c.cur
	tb := &s.bar.body[bodyLeft+c.index]
	for slot := slotsOf(l) - 1; slot >= 0; slot-- {
		shift, turn := tb.t[slot], tb.w[slot]
		tb.t[slot], tb.w[slot] = r3.Vec{}, r3.Vec{}
		if shift == (r3.Vec{}) && turn == (r3.Vec{}) {
			continue
		}
		rows, lead := p.multipliers(shift, turn)
		for i := range rows {
			if rows[i] != 0 {
				s.pullRow(c, i, slot, -rows[i])
			}
		}
		s.pullLead(c, slot, lead)
		// What the rows of this slot gave back to it only cancels the bars just met.
		tb.t[slot], tb.w[slot] = r3.Vec{}, r3.Vec{}
	}
}

// pullLead passes on the multiplier of the leading row: the height of the wheel's centre.
func (s *State) pullLead(c *corner, slot int, lead float64) {
	if c.lead != nil {
		s.bar.num[c.lead.node][slot] -= lead
		s.reverse(&c.lead.plan, levelOf(slot))
		return
	}
	w := &s.prog.wheels[c.index]
	s.bar.travel[c.index][slot] += lead
	var b vjet
	b[slot].Z = -lead
	if slot == slot0 {
		s.bar.own[w.declared].Z += lead
	}
	s.pullMark(bodyLeft+c.index, w.centre, &b, levelOf(slot), &s.bar.body[bodyLeft+c.index])
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

// pullRow passes on the bars m of slot of row i, in the pose's order.
func (s *State) pullRow(c *corner, i, slot int, m float64) {
	r := &c.rows[c.cur.order[i]]
	l := levelOf(slot)
	if r.kind == rowNode {
		s.bar.num[r.out.node][slot] += m
		s.reverse(&r.out.plan, l)
		return
	}
	var weight jet
	weight[slot] = m
	var bd vjet // bars of p − c
	d := &c.jets[i]
	switch r.kind {
	case rowLength:
		weight[slot] *= r.inv
		bd.pullDot(&weight, d, l)
	case rowPlane:
		bd[slot] = r3.Scale(m, r.n)
	case rowSlide:
		// F = −e·d, e turning with the carrier
		weight[slot] = -m
		var e, be vjet
		b := &s.body[bodyLeft+c.index]
		b.spin(b.turn(r.n), l, &e)
		bd.pullDot(&weight, &e, l)
		be.pullDot(&weight, d, l)
		q := b.back(b.pullSpin(e[0], &be, l, &s.bar.body[bodyLeft+c.index]))
		s.pullLeg(c, i, q)
	}
	spec := &c.spec.rows[c.cur.order[i]]
	s.pullMark(bodyLeft+c.index, spec.at, &bd, l, &s.bar.body[bodyLeft+c.index])
	back := r3.Scale(-1, bd[0]) // of c
	switch spec.source {
	case fromLink:
		s.bar.own[spec.other] = r3.Add(s.bar.own[spec.other], back)
		if slot == slot0 {
			s.pullLength(spec.own, -m)
		}
	case fromArm, fromRadius:
		s.pullArm(spec, d[slot], back, slot, m)
	case fromHeight:
		s.bar.travel[1][slot] -= m
		if slot == slot0 {
			s.bar.own[spec.other].Z -= m
		}
	default:
		s.bar.own[spec.other] = r3.Add(s.bar.own[spec.other], back)
	}
}

// pullLeg passes on the bars of a normal e of a strut's leg, of which only the change along the leg matters: e stays
// square to it.
func (s *State) pullLeg(c *corner, i int, be r3.Vec) {
	spec := &c.spec.rows[c.cur.order[i]]
	e := c.rows[c.cur.order[i]].n
	leg := r3.Sub(s.own[spec.own[1]], s.own[spec.own[0]])
	n := norm(leg)
	k := -r3.Dot(be, leg) / (n * n) // δe = −(e·δn)n, n the leg's direction
	s.bar.own[spec.own[1]] = axpy(s.bar.own[spec.own[1]], k, e)
	s.bar.own[spec.own[0]] = axpy(s.bar.own[spec.own[0]], -k, e)
}

// pullArm passes on what the two rows of an arm take from its parts: back are the bars of the ball's foot A + along·n.
// The plane's place along the axis is that of the arm's own ball from its own first pivot; the circle's radius is the
// arm's own.
func (s *State) pullArm(spec *rowSpec, d, back r3.Vec, slot int, m float64) {
	f := &s.follow[spec.follow]
	fs := &s.prog.followers[spec.follow]
	along := r3.Dot(f.axis, f.arm)
	// foot = A + along n: with A, with n and with along.
	s.bar.own[fs.axis[0]] = r3.Add(s.bar.own[fs.axis[0]], back)
	tilt := r3.Scale(along, r3.Cross(f.axis, back))
	var arm r3.Vec // bars of the arm's own ball from its own pivot
	var own r3.Vec // and of a tilt of its own axis
	ba := r3.Dot(back, f.axis)
	if spec.source == fromArm {
		// F = n·(p − foot) turns with n, and so do its derivatives
		tilt = r3.Add(tilt, r3.Scale(m, r3.Cross(f.axis, d)))
	} else if slot == slot0 {
		// radius = |own ball − own foot|
		arm = axpy(arm, -m, f.e1)
		own = axpy(own, m*along, r3.Cross(f.axis, f.e1))
	}
	// along = n'·arm
	arm = axpy(arm, ba, f.axis)
	own = r3.Add(own, r3.Scale(ba, r3.Cross(f.axis, f.arm)))
	s.bar.own[fs.own] = r3.Add(s.bar.own[fs.own], arm)
	s.bar.own[fs.pivots[0]] = r3.Sub(s.bar.own[fs.pivots[0]], arm)
	s.pullAxis(spec.follow, tilt, r3.Scale(-1, own))
}

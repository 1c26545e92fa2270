package kin

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// setCorner gives a carrier its rows and solves it at design.
func (s *State) setCorner(k int) Failure {
	c := &s.corner[k]
	w := &s.prog.wheels[k]
	c.centre = s.own[w.centre]
	c.height = s.own[w.declared].Z
	s.body[bodyLeft+k].c = c.centre
	if f := s.setRows(c); f.Status != OK {
		return f
	}
	d := c.slot[slotDesign]
	d.reset(c.centre)
	d.t.Z = c.height
	if s.errs() {
		if f := s.assemble(c, d); f != nil {
			return *f
		}
	} else if f := s.solveDesign(c, d); f.Status != OK {
		return f
	}
	c.cur, c.set = d, true
	return Failure{}
}

// setRows gives the rows of a carrier their numbers. Followers must be set.
func (s *State) setRows(c *corner) Failure {
	for i := range c.spec.rows {
		if f := s.setRow(c, i); f.Status != OK {
			return f
		}
	}
	s.prepare(&c.spec.plan)
	return Failure{}
}

// setRow gives row i of a carrier its numbers. Followers must be set.
func (s *State) setRow(c *corner, i int) Failure {
	spec := &c.spec.rows[i]
	r := row{kind: spec.kind, member: spec.member, out: c.rows[i].out}
	if spec.kind == rowNode {
		c.rows[i] = r
		return Failure{}
	}
	r.u = r3.Sub(s.own[spec.at], c.centre)
	switch spec.source {
	case fromArm, fromRadius:
		f := &s.follow[spec.follow]
		r.n, r.c = f.axis, f.foot
		r.length = f.radius
	case fromLink:
		r.c = s.own[spec.other]
		if s.prog.parts[spec.other].owner == Rack {
			r.cdot = s.rackAxis
			if c.flip {
				r.cdot = mirrored(r.cdot)
			}
		}
		r.length = norm(r3.Sub(s.own[spec.own[0]], s.own[spec.own[1]]))
	case fromBall:
		r.c, r.n = s.own[spec.other], unitVector(spec.index)
	case fromHinge:
		axis := r3.Sub(s.own[spec.own[1]], s.own[spec.own[0]])
		if !(norm(axis) > coincide) {
			return s.bad(spec.member)
		}
		r.c, r.n = s.own[spec.other], square(axis)[spec.index]
	case fromStrut:
		axis := r3.Sub(s.own[spec.own[1]], s.own[spec.own[0]])
		if !(norm(axis) > coincide) {
			return s.bad(spec.member)
		}
		r.c, r.n = s.own[spec.other], square(axis)[spec.index]
	case fromHeight:
		r.c, r.n, r.rise = s.own[spec.other], r3.Vec{Z: 1}, 1
	}
	if spec.kind == rowLength {
		if !(r.length > coincide) {
			return s.bad(spec.member)
		}
		r.inv = 1 / r.length
	}
	c.rows[i] = r
	return Failure{}
}

// solveDesign orders the rows by pivoting and factors the design pose.
func (s *State) solveDesign(c *corner, d *pose) Failure {
	if f := s.evaluate(c, d); f != nil {
		f.Status = BadGeometry
		return *f
	}
	var scaled matrix5
	for i := range 25 {
		scaled[i] = d.lu[i]
		if i%5 >= 2 {
			scaled[i] *= rotationScale
		}
	}
	order, least := pivotOrder(scaled)
	if !(least > singular) {
		return s.bad(-1)
	}
	d.order, c.order = order, order
	s.evaluate(c, d)
	if d.det = d.lu.factor(0); d.det == 0 || math.IsNaN(d.det) {
		return s.bad(-1)
	}
	c.sign = math.Copysign(1, d.det)
	return Failure{}
}

// assemble solves the design pose of parts that err, from where they were drawn.
func (s *State) assemble(c *corner, d *pose) *Failure {
	d.order = c.order
	return s.settle(c, d)
}

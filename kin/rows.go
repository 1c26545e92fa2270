package kin

import (
	"gonum.org/v1/gonum/spatial/r3"
)

// row is a constraint with its numbers: see rowKind.
type row struct {
	kind   rowKind
	member int
	u      r3.Vec  // its point on the carrier at design, from the carrier's c
	c      r3.Vec  // the fixed point, or a point of the plane
	n      r3.Vec  // rowPlane: unit normal; rowSlide: unit normal at design, which turns with the carrier
	cdot   r3.Vec  // velocity of c with rack travel
	rise   float64 // velocity of the plane along its normal with the right wheel's travel
	length float64
	inv    float64 // 1/length
	out    *rowOutput
}

// rowOutput is a row that is a node.
type rowOutput struct {
	node ref
	plan plan
}

// corner is a carrier with its numbers and the poses of a sweep.
type corner struct {
	index      int // 0 or 1
	spec       *carrierSpec
	flip       bool
	rows       [5]row
	lead       *rowOutput
	centre     r3.Vec  // t at design
	height     float64 // declared height of its wheel's centre
	order      [5]uint8
	sign       float64 // of the determinant at design
	slot       [slots]*pose
	spare      [3]*pose
	motion     drive // direction of the motion in the drivers; its first that moves moves by +1
	cur        *pose
	jets       [5]vjet // of p − c at the position measured, rows in the pose's order
	weights    [5]jet  // multipliers of the rows and of the leading one, by slot
	leadWeight jet
	set        bool
}

// evaluate fills the rows of p, its Jacobian (5×5 by vx, vy, wx, wy, wz, unfactored, in p.lu) and the column of vz, and
// returns a failure if a follower that a row needs cannot close.
//
// A bar of length L from c to the carrier's point p: F = (|p − c|² − L²)/2L, gradient g = (p − c)/L
// with p. A plane: F = n·(p − c), g = n. Both are millimetres. With the carrier's twist (v, w) the
// point moves by v + w × ρ, so the row is (g, ρ × g), of which vz's column stands apart. A plane of the carrier moves past its point c: F = e·(c − p) has
// the row (−e, e × (c − t)).
func (s *State) evaluate(c *corner, p *pose) *Failure {
	if c.spec.nodes {
		if f := s.loadRows(c, p); f != nil {
			return f
		}
	}
	r0, r1, r2 := p.r[0], p.r[1], p.r[2]
	r3x, r4, r5 := p.r[3], p.r[4], p.r[5]
	r6, r7, r8 := p.r[6], p.r[7], p.r[8]
	tx, ty, tz, rack := p.t.X, p.t.Y, p.t.Z, p.at.rack
	for i := range p.rows {
		r := &c.rows[p.order[i]]
		at := &p.rows[i]
		ux, uy, uz := r.u.X, r.u.Y, r.u.Z
		x := r0*ux + r1*uy + r2*uz
		y := r3x*ux + r4*uy + r5*uz
		z := r6*ux + r7*uy + r8*uz
		dx, dy, dz := tx+x-r.c.X, ty+y-r.c.Y, tz+z-r.c.Z
		var gx, gy, gz float64
		switch r.kind {
		case rowLength:
			dx, dy, dz = dx-rack*r.cdot.X, dy-rack*r.cdot.Y, dz-rack*r.cdot.Z
			gx, gy, gz = dx*r.inv, dy*r.inv, dz*r.inv
			at.f = 0.5 * (gx*dx + gy*dy + gz*dz - r.length)
		case rowPlane:
			gx, gy, gz = r.n.X, r.n.Y, r.n.Z
			at.f = gx*dx + gy*dy + gz*dz - r.rise*p.at.right
		case rowSlide:
			e := p.rotate(r.n)
			gx, gy, gz = -e.X, -e.Y, -e.Z
			at.f = gx*dx + gy*dy + gz*dz
			x, y, z = x-dx, y-dy, z-dz // the plane turns about t and meets c
		default:
			s.nodeRow(c, p, i)
			continue
		}
		at.rho = r3.Vec{X: x, Y: y, Z: z}
		at.g = r3.Vec{X: gx, Y: gy, Z: gz}
		j := p.lu[5*i : 5*i+5 : 5*i+5]
		j[0], j[1] = gx, gy
		j[2], j[3], j[4] = y*gz-z*gy, z*gx-x*gz, x*gy-y*gx
		p.zcol[i] = gz
	}
	if c.lead != nil {
		s.eliminate(c, p)
	}
	return nil
}

// loadRows computes the nodes among a carrier's rows at p.
func (s *State) loadRows(c *corner, p *pose) *Failure {
	b := &s.body[bodyLeft+c.index]
	b.r, b.t, b.c = p.r, p.t, c.centre
	s.drive(c, p)
	return s.forward(&c.spec.plan, levelValue)
}

// drive tells the nodes where the drivers stand.
func (s *State) drive(c *corner, p *pose) {
	s.rack = p.at.rack
	s.travel[c.index] = jet{p.at.z}
	if s.prog.axle {
		s.travel[1] = jet{p.at.right}
	}
}

// nodeRow fills row i of p, a node.
func (s *State) nodeRow(c *corner, p *pose, i int) {
	r := &c.rows[p.order[i]]
	g, turn, push := s.gradient(c, r.out)
	at := &p.rows[i]
	at.f, at.push = s.num[r.out.node][0], push
	j := p.lu[5*i : 5*i+5 : 5*i+5]
	j[0], j[1], j[2], j[3], j[4] = g.X, g.Y, turn.X, turn.Y, turn.Z
	p.zcol[i] = g.Z
}

// eliminate takes vz out of the rows by the leading row l·x + lz vz = b.
func (s *State) eliminate(c *corner, p *pose) {
	g, turn, push := s.gradient(c, c.lead)
	p.led, p.push = true, push
	p.fLead = s.num[c.lead.node][0]
	p.inv = 1 / g.Z
	p.lead = [5]float64{g.X * p.inv, g.Y * p.inv, turn.X * p.inv, turn.Y * p.inv, turn.Z * p.inv}
	for i := range p.rows {
		z := p.zcol[i]
		for k := range 5 {
			p.lu[5*i+k] -= z * p.lead[k]
		}
	}
}

// solve returns the twist whose rows are b and whose leading row is lead.
func (p *pose) solve(b *[5]float64, lead float64) (t twist) {
	z := lead
	if p.led {
		z *= p.inv
	}
	k := &p.zcol
	t.vx, t.vy, t.wx, t.wy, t.wz = p.lu.solve(b[0]-z*k[0], b[1]-z*k[1], b[2]-z*k[2], b[3]-z*k[3], b[4]-z*k[4])
	if t.vz = z; !p.led {
		return t
	}
	t.vz = z - p.lead[0]*t.vx - p.lead[1]*t.vy - p.lead[2]*t.wx - p.lead[3]*t.wy - p.lead[4]*t.wz
	return t
}

// multipliers solves the transpose: the weights of the rows, and of the leading one, that make the bars of a shift
// and a turn.
func (p *pose) multipliers(shift, turn r3.Vec) (rows [5]float64, lead float64) {
	z := shift.Z
	if !p.led {
		rows[0], rows[1], rows[2], rows[3], rows[4] = p.lu.transposed(shift.X, shift.Y, turn.X, turn.Y, turn.Z)
		for i := range rows {
			z -= p.zcol[i] * rows[i]
		}
		return rows, z
	}
	rows[0], rows[1], rows[2], rows[3], rows[4] = p.lu.transposed(
		shift.X-z*p.lead[0], shift.Y-z*p.lead[1], turn.X-z*p.lead[2], turn.Y-z*p.lead[3], turn.Z-z*p.lead[4])
	for i := range rows {
		z -= p.zcol[i] * rows[i]
	}
	return rows, z * p.inv
}

// rate returns how the carrier moves for a motion d of the drivers.
func (s *State) rate(c *corner, p *pose, d drive) twist {
	var b [5]float64
	if d.rack != 0 || d.right != 0 || c.spec.nodes {
		for i := range b {
			r, at := &c.rows[p.order[i]], &p.rows[i]
			switch r.kind {
			case rowLength:
				b[i] = d.rack * r3.Dot(at.g, r.cdot)
			case rowPlane:
				b[i] = d.right * r.rise
			case rowNode:
				b[i] = -at.push.dot(d)
			}
		}
	}
	lead := d.z
	if p.led {
		lead = -p.push.dot(d)
	}
	return p.solve(&b, lead)
}

// driveAlong tells the nodes where the drivers stand and that they move by d.
func (s *State) driveAlong(c *corner, p *pose, d drive) {
	s.drive(c, p)
	s.rackSlope = d.rack
	s.travel[c.index][slotW] = d.z
	if s.prog.axle {
		s.travel[1][slotW] = d.right
	}
}

// second returns the second derivative for a carrier moving by v while the drivers move by d.
func (s *State) second(c *corner, p *pose, v *twist, d drive) twist {
	if c.spec.nodes {
		s.bendNodes(c, p, v, v, d, levelBend)
	}
	return s.bend(c, p, v, v, &d, &d, slotWW)
}

// crossed returns the second derivative with a motion d of the drivers, along which the carrier moves by v, and with
// rack travel, along which it moves by k.
func (s *State) crossed(c *corner, p *pose, v, k *twist, d drive) twist {
	if c.spec.nodes {
		s.bendNodes(c, p, v, k, d, levelRack)
	}
	return s.bend(c, p, v, k, &d, &rackDrive, slotWK)
}

// bend solves for a second derivative. The part of a row's second derivative that the carrier's first ones make is
// g·½(v × (k × ρ) + k × (v × ρ)) + ċv·ċk/L, v and k the angular velocities and ċ the velocities of the bar's end relative
// to the other, along the solution square to g; for a plane of the carrier, F = e·h with h from t to the point,
// −g·... of the same form and 2 e'·h'.
func (s *State) bend(c *corner, p *pose, v, k *twist, dv, dk *drive, slot int) twist {
	var b [5]float64
	same := v == k
	vk := v.wx*k.wx + v.wy*k.wy + v.wz*k.wz
	for i := range b {
		r, at := &c.rows[p.order[i]], &p.rows[i]
		if r.kind == rowNode {
			b[i] = -s.num[r.out.node][slot]
			continue
		}
		g, rho := &at.g, &at.rho
		vr := v.wx*rho.X + v.wy*rho.Y + v.wz*rho.Z
		vg := v.wx*g.X + v.wy*g.Y + v.wz*g.Z
		gr := g.X*rho.X + g.Y*rho.Y + g.Z*rho.Z
		q := gr*vk - vr*vg
		if !same {
			kr := k.wx*rho.X + k.wy*rho.Y + k.wz*rho.Z
			kg := k.wx*g.X + k.wy*g.Y + k.wz*g.Z
			q = gr*vk - 0.5*(vr*kg+kr*vg)
		}
		switch r.kind {
		case rowLength:
			x := v.vx + v.wy*rho.Z - v.wz*rho.Y - dv.rack*r.cdot.X
			y := v.vy + v.wz*rho.X - v.wx*rho.Z - dv.rack*r.cdot.Y
			z := v.vz + v.wx*rho.Y - v.wy*rho.X - dv.rack*r.cdot.Z
			if same {
				q -= (x*x + y*y + z*z) * r.inv
				break
			}
			x *= k.vx + k.wy*rho.Z - k.wz*rho.Y - dk.rack*r.cdot.X
			y *= k.vy + k.wz*rho.X - k.wx*rho.Z - dk.rack*r.cdot.Y
			z *= k.vz + k.wx*rho.Y - k.wy*rho.X - dk.rack*r.cdot.Z
			q -= (x + y + z) * r.inv
		case rowSlide:
			e := r3.Dot(r3.Cross(v.w(), *g), k.v()) + r3.Dot(r3.Cross(k.w(), *g), v.v())
			q = -q - e
		}
		b[i] = q
	}
	lead := 0.0
	if c.lead != nil {
		lead = -s.num[c.lead.node][slot]
	}
	return p.solve(&b, lead)
}

// bendNodes computes the second derivatives of the nodes among the rows for a carrier that moves without
// acceleration.
func (s *State) bendNodes(c *corner, p *pose, v, k *twist, d drive, l level) {
	b := &s.body[bodyLeft+c.index]
	b.r, b.t, b.c = p.r, p.t, c.centre
	b.v = vjet{slotW: v.v(), slotK: k.v()}
	b.w = vjet{slotW: v.w(), slotK: k.w()}
	s.driveAlong(c, p, d)
	s.forward(&c.spec.plan, l)
	s.rackSlope = 0
}

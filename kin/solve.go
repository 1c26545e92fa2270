package kin

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// evaluate fills the rows of p, its Jacobian (unfactored, in p.lu) and the column of the driver, and
// returns a failure if a follower that a row needs cannot close.
//
// A bar of length L from c to the carrier's point p: F = (|p − c|² − L²)/2L, gradient g = (p − c)/L
// with p. A plane: F = n·(p − c), g = n. Both are millimetres. With the carrier's twist (v, w) the
// point moves by v + w × ρ, so the row is (g, ρ × g).
func (s *State) evaluate(p *pose) Failure {
	if s.prog.coupled {
		if f := s.close(p); f.Status != OK {
			return f
		}
	}
	r0, r1, r2 := p.r[0], p.r[1], p.r[2]
	r3x, r4, r5 := p.r[3], p.r[4], p.r[5]
	r6, r7, r8 := p.r[6], p.r[7], p.r[8]
	tx, ty, tz, rack := p.t.X, p.t.Y, p.t.Z, p.rack
	for i := range s.rows {
		r := &s.rows[i]
		at := &p.rows[i]
		ux, uy, uz := r.u.X, r.u.Y, r.u.Z
		x := r0*ux + r1*uy + r2*uz
		y := r3x*ux + r4*uy + r5*uz
		z := r6*ux + r7*uy + r8*uz
		dx, dy, dz := tx+x-r.c.X, ty+y-r.c.Y, tz+z-r.c.Z
		var gx, gy, gz float64
		if r.kind == rowPlane {
			gx, gy, gz = r.n.X, r.n.Y, r.n.Z
			at.f = gx*dx + gy*dy + gz*dz
		} else {
			if r.kind == rowCoupled {
				c := s.place(r.other, p)
				dx, dy, dz = tx+x-c.X, ty+y-c.Y, tz+z-c.Z
			} else {
				dx, dy, dz = dx-rack*r.cdot.X, dy-rack*r.cdot.Y, dz-rack*r.cdot.Z
			}
			gx, gy, gz = dx*r.inv, dy*r.inv, dz*r.inv
			at.f = 0.5 * (gx*dx + gy*dy + gz*dz - r.length)
		}
		at.rho = r3.Vec{X: x, Y: y, Z: z}
		at.g = r3.Vec{X: gx, Y: gy, Z: gz}
		j := p.lu[5*i : 5*i+5 : 5*i+5]
		j[0], j[1] = gx, gy
		j[2], j[3], j[4] = y*gz-z*gy, z*gx-x*gz, x*gy-y*gx
		p.zcol[i] = gz
		if r.kind == rowCoupled {
			s.couple(p, i)
		}
	}
	return Failure{}
}

// couple subtracts from row i what the follower's own turning takes: F depends on p − c(θ), and θ on
// the carrier's twist by the follower's gradient.
func (s *State) couple(p *pose, i int) {
	g, _ := s.pull(s.rows[i].other, p.rows[i].g, p)
	j := p.lu[5*i : 5*i+5]
	j[0] -= g[0]
	j[1] -= g[1]
	p.zcol[i] -= g[2]
	j[2] -= g[3]
	j[3] -= g[4]
	j[4] -= g[5]
}

// worst returns the greatest residual of the rows at p, and which row has it.
func (p *pose) worst() (worst float64, row int) {
	for i := range p.rows {
		if f := math.Abs(p.rows[i].f); f > worst || f != f {
			worst, row = f, i
		}
	}
	return worst, row
}

// settle brings p from a prediction onto the constraints by Newton's method, with the wheel centre's
// height held, and leaves it factored.
func (s *State) settle(p *pose) Failure {
	for range maxIterations {
		if f := s.evaluate(p); f.Status != OK {
			return f
		}
		worst := math.Max(
			math.Max(math.Abs(p.rows[0].f), math.Abs(p.rows[1].f)),
			math.Max(math.Max(math.Abs(p.rows[2].f), math.Abs(p.rows[3].f)), math.Abs(p.rows[4].f)))
		p.det = p.lu.factor(pivotFloor)
		if p.det == 0 && !s.reorder(p) {
			break
		}
		if worst <= tolerance {
			if p.det*s.sign > 0 {
				return Failure{}
			}
			return Failure{Folds, Position{p.z, p.rack}, -1}
		}
		vx, vy, wx, wy, wz := p.lu.solve(-p.rows[0].f, -p.rows[1].f, -p.rows[2].f, -p.rows[3].f, -p.rows[4].f)
		if !(wx*wx+wy*wy+wz*wz < maxTurn*maxTurn) {
			break
		}
		p.t.X += vx
		p.t.Y += vy
		p.turn(wx, wy, wz)
	}
	_, row := p.worst()
	return Failure{CannotAssemble, Position{p.z, p.rack}, s.rows[row].member}
}

// reorder orders the rows anew at p and factors again; false if p is singular.
func (s *State) reorder(p *pose) bool {
	s.evaluate(p)
	order, least := pivotOrder(p.lu)
	if !(least > 0) {
		return false
	}
	odd := false
	rows := s.rows
	for i, k := range order {
		s.rows[i] = rows[k]
		for _, l := range order[:i] {
			odd = odd != (l > k)
		}
	}
	if odd {
		s.sign = -s.sign
	}
	s.moved = true
	s.evaluate(p)
	p.det = p.lu.factor(0)
	return p.det != 0 && !math.IsNaN(p.det)
}

// restore puts the rows back in the order of design.
func (s *State) restore() {
	if !s.moved {
		return
	}
	s.rows, s.moved = s.design, false
	s.sign = math.Copysign(1, s.slot[0][slotDesign].det)
}

// rates takes the first and second derivatives of p with wheel travel and rack travel, as asked. One
// back-substitution each with the factors at hand.
func (s *State) rates(p *pose, wheel, rack bool) {
	if wheel {
		vx, vy, wx, wy, wz := p.lu.solve(-p.zcol[0], -p.zcol[1], -p.zcol[2], -p.zcol[3], -p.zcol[4])
		p.dz = twist{vx, vy, 1, wx, wy, wz}
		s.second(p, &p.dz, &p.az, 0)
	}
	if rack {
		s.rackRate(p)
		s.second(p, &p.dr, &p.ar, 1)
	}
}

// rackRate takes the first derivative with rack travel, the wheel centre's height held.
func (s *State) rackRate(p *pose) {
	var b [5]float64
	for i := range s.rows {
		r, g := &s.rows[i], &p.rows[i].g
		b[i] = g.X*r.cdot.X + g.Y*r.cdot.Y + g.Z*r.cdot.Z
		if r.kind == rowCoupled {
			_, k := s.pull(r.other, p.rows[i].g, p)
			b[i] += k
		}
	}
	vx, vy, wx, wy, wz := p.lu.solve(b[0], b[1], b[2], b[3], b[4])
	p.dr = twist{vx, vy, 0, wx, wy, wz}
}

// second takes the second derivative for a carrier moving by v while the rack moves by rack:
// the rows' own second derivative is g·(a + α × ρ) + g·(w × (w × ρ)) + (|ċ|² − (ċ·g)²)/L with ċ the
// velocity of the bar's end relative to the other; along the solution ċ·g = 0.
func (s *State) second(p *pose, v, a *twist, rack float64) {
	var b [5]float64
	ww := v.wx*v.wx + v.wy*v.wy + v.wz*v.wz
	if s.prog.coupled {
		s.coupledSecond(p, v, rack)
	}
	for i := range s.rows {
		r, at := &s.rows[i], &p.rows[i]
		g, rho := &at.g, &at.rho
		wr := v.wx*rho.X + v.wy*rho.Y + v.wz*rho.Z
		wg := v.wx*g.X + v.wy*g.Y + v.wz*g.Z
		gr := g.X*rho.X + g.Y*rho.Y + g.Z*rho.Z
		q := gr*ww - wr*wg
		if r.kind != rowPlane {
			x := v.vx + v.wy*rho.Z - v.wz*rho.Y - rack*r.cdot.X
			y := v.vy + v.wz*rho.X - v.wx*rho.Z - rack*r.cdot.Y
			z := v.vz + v.wx*rho.Y - v.wy*rho.X - rack*r.cdot.Z
			if r.kind == rowCoupled {
				e1, e2 := s.motionOf(r.other, p, v, &twist{}, rack)
				x, y, z = x-e1.X, y-e1.Y, z-e1.Z
				q += r3.Dot(*g, e2)
			}
			q -= (x*x + y*y + z*z) * r.inv
		}
		b[i] = q
	}
	ax, ay, bx, by, bz := p.lu.solve(b[0], b[1], b[2], b[3], b[4])
	*a = twist{ax, ay, 0, bx, by, bz}
}

// coupledSecond leaves in each follower its θ' for the motion and the part of θ” that does not depend
// on the carrier's second derivative, in closing order.
func (s *State) coupledSecond(p *pose, v *twist, rack float64) {
	s.close(p)
	for i := range s.follow {
		f := &s.follow[i]
		g := &f.grad
		f.d1 = g[0]*v.vx + g[1]*v.vy + g[2]*v.vz + g[3]*v.wx + g[4]*v.wy + g[5]*v.wz + f.rack*rack
		f.d2 = s.followerSecond(i, p, v, f.d1, &twist{}, rack)
	}
}

// step solves the pose at the given travel into p, starting from a solved pose from which it differs in
// one driver. Where the whole step does not close, it goes in halves, quarters and so on.
func (s *State) step(from, p *pose, at Position) Failure {
	f := s.stride(from, p, at)
	if f.Status == OK || f.Status == BadGeometry {
		return f
	}
	mid, other := s.spare[1], s.spare[2]
	*mid = *from
	wheel, rack := at.Wheel-from.z, at.Rack-from.rack
	done, share := 0., 0.5
	for done < 1 {
		share = math.Min(share, 1-done)
		next := Position{from.z + (done+share)*wheel, from.rack + (done+share)*rack}
		if done+share == 1 {
			next = at
		}
		g := s.stride(mid, other, next)
		if g.Status != OK {
			if share *= 0.5; share < leastStep {
				g.At = at
				if g.Member < 0 {
					g.Member = f.Member
				}
				return g
			}
			continue
		}
		s.rates(other, wheel != 0, rack != 0)
		mid, other = other, mid
		done += share
	}
	*p = *mid
	p.hist = 0
	return Failure{}
}

// stride solves the pose at the given travel in one step. The derivatives of from in the direction of
// the step must be known.
func (s *State) stride(from, p *pose, at Position) Failure {
	p.z, p.rack = at.Wheel, at.Rack
	p.t.Z = s.wheel.centre.Z + at.Wheel
	if h := at.Wheel - from.z; h != 0 {
		p.predict(from, h, false, &from.dz, &from.az)
		p.remember(h, false, &from.dz, &from.az)
	} else {
		h = at.Rack - from.rack
		p.predict(from, h, true, &from.dr, &from.ar)
		p.remember(h, true, &from.dr, &from.ar)
	}
	return s.settle(p)
}

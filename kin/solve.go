package kin

import "math"

// worst returns the greatest residual of the rows at p, and which of the pose's rows has it.
func (p *pose) worst() (worst float64, row int) {
	for i := range p.rows {
		if f := math.Abs(p.rows[i].f); f > worst || f != f {
			worst, row = f, i
		}
	}
	return worst, row
}

// settle brings p from a prediction onto the constraints by Newton's method, with the drivers held, and leaves it
// factored.
func (s *State) settle(c *corner, p *pose) *Failure {
	for range maxIterations {
		if f := s.evaluate(c, p); f != nil {
			return f
		}
		p.det = p.lu.factor(pivotFloor)
		if p.det == 0 && !s.reorder(c, p) {
			break
		}
		lead := 0.0
		if c.lead != nil {
			lead = -p.fLead
		}
		near := p.closed(lead, nearClosed)
		if !near || !p.closed(lead, fullyClosed) {
			if !s.correct(c, p, lead) {
				break
			}
		}
		if near {
			if (p.det*c.sign > 0) != p.odd {
				return nil
			}
			return s.fail(Failure{Status: Folds, Member: -1})
		}
	}
	_, row := p.worst()
	return s.fail(Failure{Status: CannotAssemble, Member: c.rows[p.order[row]].member})
}

// correct takes a step of Newton's method; false where it turns the carrier too far.
func (s *State) correct(c *corner, p *pose, lead float64) bool {
	var t twist
	if c.lead == nil {
		t.vx, t.vy, t.wx, t.wy, t.wz = p.lu.solve(-p.rows[0].f, -p.rows[1].f, -p.rows[2].f, -p.rows[3].f, -p.rows[4].f)
	} else {
		t = p.solve(&[5]float64{-p.rows[0].f, -p.rows[1].f, -p.rows[2].f, -p.rows[3].f, -p.rows[4].f}, lead)
		p.t.Z += t.vz
	}
	if !(t.wx*t.wx+t.wy*t.wy+t.wz*t.wz < maxTurn*maxTurn) {
		return false
	}
	p.t.X += t.vx
	p.t.Y += t.vy
	p.turn(t.wx, t.wy, t.wz)
	return true
}

// closed tells whether all residuals are within a tolerance.
func (p *pose) closed(lead, tolerance float64) bool {
	r := &p.rows
	return math.Abs(r[0].f) <= tolerance && math.Abs(r[1].f) <= tolerance && math.Abs(r[2].f) <= tolerance &&
		math.Abs(r[3].f) <= tolerance && math.Abs(r[4].f) <= tolerance && math.Abs(lead) <= tolerance
}

// reorder orders the rows anew at p and factors again; false if p is singular.
func (s *State) reorder(c *corner, p *pose) bool {
	s.evaluate(c, p)
	order, least := pivotOrder(p.lu)
	if !(least > 0) {
		return false
	}
	rows := p.order
	for i, k := range order {
		p.order[i] = rows[k]
		for _, l := range order[:i] {
			p.odd = p.odd != (l > k)
		}
	}
	s.evaluate(c, p)
	p.det = p.lu.factor(0)
	return p.det != 0 && !math.IsNaN(p.det)
}

// step solves the pose at the drivers to into p, starting from a solved pose. Where the whole step does not close, it
// goes in halves, quarters and so on.
func (s *State) step(c *corner, from, p *pose, to drive) *Failure {
	f := s.stride(c, from, p, to)
	if f == nil {
		return nil
	}
	first := *f
	mid, other := c.spare[1], c.spare[2]
	*mid = *from
	mid.wake = wake{}
	way := to.minus(from.at)
	done, share := 0., 0.5
	for done < 1 {
		share = math.Min(share, 1-done)
		next := from.at.plus(done+share, way)
		if done+share == 1 {
			next = to
		}
		g := s.stride(c, mid, other, next)
		if g != nil {
			if share *= 0.5; share < leastStep {
				if g.Member < 0 {
					g.Member = first.Member
				}
				return g
			}
			continue
		}
		mid, other = other, mid
		done += share
	}
	*p = *mid
	p.wake = wake{}
	return nil
}

// stride solves the pose at the given drivers in one step. Derivatives of from along the motion and the rack are
// used where the step goes that way; any other direction takes its own.
func (s *State) stride(c *corner, from, p *pose, to drive) *Failure {
	way := to.minus(from.at)
	h, along := length(way)
	v, a := &from.dz, &from.az
	switch {
	case along == c.motion && from.known&knowMotion != 0:
	case along == rackDrive && from.known&knowRack != 0:
		v, a = &from.dr, &from.ar
	default:
		own := s.rate(c, from, along)
		bend := s.second(c, from, &own, along)
		v, a = &own, &bend
	}
	p.order, p.odd = from.order, from.odd
	p.at, p.known = to, 0
	p.predict(from, h, &along, v, a)
	if c.lead == nil {
		p.t.Z = c.height + to.z
	}
	return s.settle(c, p)
}

var rackDrive = drive{rack: 1}

// length parts a way of the drivers into a signed length and a direction in which the first driver that moves
// moves by +1.
func length(way drive) (h float64, along drive) {
	switch {
	case way.z != 0:
		h = way.z
	case way.right != 0:
		h = way.right
	default:
		h = way.rack
	}
	return h, drive{way.z / h, way.right / h, way.rack / h}
}

// know says which derivatives of a pose have been taken.
type know uint8

const (
	knowMotion know = 1 << iota // dz, az
	knowRack                    // dr, ar
	knowMixed                   // mixed
)

// rates takes the derivatives of p that are asked for and not known yet.
func (s *State) rates(c *corner, p *pose, want know) {
	if want&knowMixed != 0 {
		want |= knowMotion | knowRack
	}
	want &^= p.known
	if want&knowMotion != 0 {
		p.dz = s.rate(c, p, c.motion)
		p.az = s.second(c, p, &p.dz, c.motion)
	}
	if want&knowRack != 0 {
		p.dr = s.rate(c, p, rackDrive)
		p.ar = s.second(c, p, &p.dr, rackDrive)
	}
	p.known |= want
	if want&knowMixed != 0 {
		p.mixed = s.crossed(c, p, &p.dz, &p.dr, c.motion)
	}
}

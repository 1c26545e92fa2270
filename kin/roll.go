package kin

import "math"

// Where the body rolls, wheel travel is no longer given: the contact centres stand on the turned ground. One driver
// for each wheel is solved for, one gap of each contact centre above the ground at a time: independent carriers one by
// one, an axle with its two together.

const (
	gapTolerance = 1e-10 // mm
	maxGapSteps  = 20
)

// footing is how the drivers of one carrier, or of an axle, stand on the rolled ground.
type footing struct {
	n     int      // drivers: 1, or 2 for an axle
	unit  [2]drive // each driver alone
	twist [2]twist // the carrier's velocity with each
	gap   [2]float64
	slope [2][2]float64 // of gap i with driver j
}

// rollCorners brings the carriers of a visit to the rolled ground and loads how they move as the body rolls on.
func (s *State) rollCorners(sw *Sweep, v *visit) *Failure {
	for k := range s.prog.carriers {
		if sw.level[k] == levelNothing {
			continue
		}
		if f := s.rollCorner(sw, v, k); f != nil {
			return f
		}
	}
	s.rollRate = 1
	return nil
}

func (s *State) rollCorner(sw *Sweep, v *visit, k int) *Failure {
	c := &s.corner[k]
	for range maxGapSteps {
		ft := &s.footing[k]
		if f := s.takeFooting(sw, c, ft); f != nil {
			return f
		}
		if math.Max(math.Abs(ft.gap[0]), math.Abs(ft.gap[1])) <= gapTolerance {
			return s.rollRates(sw, v, c, ft)
		}
		d := ft.solve([2]float64{-ft.gap[0], -ft.gap[1]})
		to := c.cur.at
		for j := range ft.n {
			to = to.plus(d[j], ft.unit[j])
		}
		if to.z-to.z != 0 || to.right-to.right != 0 {
			break
		}
		p := c.spare[0]
		if f := s.step(c, c.cur, p, to); f != nil {
			return f
		}
		c.slot[v.to], c.spare[0] = p, c.slot[v.to]
		c.cur = p
	}
	return s.fail(Failure{Status: CannotAssemble, Member: -1})
}

// takeFooting finds the gaps of a carrier's wheels at its pose and how they follow its drivers.
func (s *State) takeFooting(sw *Sweep, c *corner, ft *footing) *Failure {
	ft.n = 1
	ft.unit = [2]drive{{z: 1}, {right: 1}}
	if s.prog.axle {
		ft.n = 2
	}
	s.rollRate = 0
	s.rack = c.cur.at.rack
	p := c.cur
	b := &s.body[bodyLeft+c.index]
	for j := range ft.n {
		ft.twist[j] = s.rate(c, p, ft.unit[j])
		b.r, b.t, b.c = p.r, p.t, c.centre
		b.v[slotW], b.w[slotW] = ft.twist[j].v(), ft.twist[j].w()
		s.driveAlong(c, p, ft.unit[j])
		s.rackSlope = 0
		for i := range ft.n {
			g := &sw.gaps[c.index+i]
			if f := s.forward(&g.plan, levelSlope); f != nil {
				return f
			}
			ft.gap[i], ft.slope[i][j] = s.num[g.node][0], s.num[g.node][slotW]
		}
	}
	return nil
}

// solve returns the drivers' moves that change the gaps by b.
func (ft *footing) solve(b [2]float64) [2]float64 {
	m := &ft.slope
	if ft.n == 1 {
		return [2]float64{b[0] / m[0][0], 0}
	}
	d := m[0][0]*m[1][1] - m[0][1]*m[1][0]
	return [2]float64{(b[0]*m[1][1] - b[1]*m[0][1]) / d, (b[1]*m[0][0] - b[0]*m[1][0]) / d}
}

// transposed returns the weights of the gaps whose sum follows the drivers by b.
func (ft *footing) transposed(b [2]float64) [2]float64 {
	t := footing{n: ft.n, slope: [2][2]float64{{ft.slope[0][0], ft.slope[1][0]}, {ft.slope[0][1], ft.slope[1][1]}}}
	return t.solve(b)
}

// rollRates loads a carrier's motion with roll: its drivers follow so that the gaps stay closed.
func (s *State) rollRates(sw *Sweep, v *visit, c *corner, ft *footing) *Failure {
	p := c.cur
	var fall [2]float64
	for i := range ft.n {
		f := &sw.floors[c.index+i]
		if g := s.forward(&f.plan, levelValue); g != nil {
			return g
		}
		fall[i] = -s.num[f.node][0]
	}
	d := ft.solve(fall)
	var along drive
	var w twist
	for j := range ft.n {
		along = along.plus(d[j], ft.unit[j])
		w = w.plus(d[j], &ft.twist[j])
	}
	l := sw.level[c.index]
	a := s.second(c, p, &w, along)
	want := know(0)
	if v.rack || l >= levelRack {
		want = knowRack
	}
	s.rates(c, p, want)
	s.travel[c.index] = jet{p.at.z, along.z}
	if s.prog.axle {
		s.travel[1] = jet{p.at.right, along.right}
	}
	b := &s.body[bodyLeft+c.index]
	b.r, b.t, b.c = p.r, p.t, c.centre
	b.v, b.w = vjet{slotW: w.v(), slotWW: a.v()}, vjet{slotW: w.w(), slotWW: a.w()}
	if l >= levelRack {
		m := s.crossed(c, p, &w, &p.dr, along)
		b.v, b.w = vjet{slotW: w.v(), slotWW: a.v()}, vjet{slotW: w.w(), slotWW: a.w()}
		b.v[slotK], b.w[slotK] = p.dr.v(), p.dr.w()
		b.v[slotWK], b.w[slotWK] = m.v(), m.w()
	}
	return s.rollBend(sw, c, ft)
}

// rollBend adds the second derivatives of the drivers, which keep the gaps' own at nothing.
func (s *State) rollBend(sw *Sweep, c *corner, ft *footing) *Failure {
	if sw.gaps[0].top < levelBend {
		return nil
	}
	s.rollRate = 1
	var fall [2]float64
	for i := range ft.n {
		g := &sw.gaps[c.index+i]
		if f := s.forward(&g.plan, levelBend); f != nil {
			return f
		}
		fall[i] = -s.num[g.node][slotWW]
	}
	s.rollRate = 0
	d := ft.solve(fall)
	b := &s.body[bodyLeft+c.index]
	for j := range ft.n {
		s.travel[c.index+j][slotWW] = d[j]
		b.v[slotWW] = axpy(b.v[slotWW], d[j], ft.twist[j].v())
		b.w[slotWW] = axpy(b.w[slotWW], d[j], ft.twist[j].w())
	}
	return nil
}

func (t twist) plus(k float64, o *twist) twist {
	return twist{t.vx + k*o.vx, t.vy + k*o.vy, t.vz + k*o.vz, t.wx + k*o.wx, t.wy + k*o.wy, t.wz + k*o.wz}
}

// holdGaps passes the bars of the drivers' travel on to what the gaps depend on.
func (s *State) holdGaps(sw *Sweep, c *corner) {
	ft := &s.footing[c.index]
	for _, slot := range [...]int{slotWW, slotW, slot0} {
		if slot > int(sw.gaps[0].top) {
			continue
		}
		var b [2]float64
		for j := range ft.n {
			t := &s.bar.travel[c.index+j]
			b[j], t[slot] = -t[slot], 0
		}
		if b == [2]float64{} {
			continue
		}
		m := ft.transposed(b)
		for i := range ft.n {
			g := &sw.gaps[c.index+i]
			s.bar.num[g.node][slot] += m[i]
			s.reverse(&g.plan, levelOf(slot))
		}
		s.pullCarrier(c, levelOf(slot))
		for j := range ft.n {
			s.bar.travel[c.index+j][slot] = 0
		}
	}
}

package kin

import (
	"cmp"
	"math"
	"slices"
)

// A clearance is wanted at its least, and that lies between the positions of a motion as a rule. After the positions
// of a sweep, the least of each such column is sought from the position where it is least, between that one's
// neighbours, by a quasi-Newton search on exact slopes; its pose is solved like any other. There the slope along the
// motion is nothing, so that the derivative with the drawing is that of the gap at the travel held.

// leastSpec is a column whose least value is looked for.
type leastSpec struct {
	output
	column int
}

// Numbers of the search for a least value.
const (
	leastTries = 12
	leastFlat  = 1e-9 // mm/mm, mm/rad: a slope that is none
	leastMove  = 1e-9 // of the way between neighbours: a step that is none
)

// axisCount counts the travels along which a least value is sought: the motion's own, w, and the rack's, k.
const axisCount = 2

// beside are the positions next to one along each of the two travels, in rising order; -1 where there is none.
type beside [axisCount][2]int32

// NewPlaces is NewMotion for places of their own: nothing lies between them.
func NewPlaces(name string, wheels Wheels, rolls bool, positions []Position) *Motion {
	m := NewMotion(name, wheels, rolls, positions)
	m.apart = true
	return m
}

// leastColumns adds what is needed to look for the least values of columns.
func (p *Program) leastColumns(sw *Sweep) {
	if sw.Motion.apart || len(sw.Motion.Positions) < 2 {
		return
	}
	var l level = levelSlope
	for _, at := range sw.Motion.Positions {
		if at.Rack != 0 {
			l = levelRack
		}
	}
	for c := range sw.Columns {
		if sw.Columns[c].plus != nil || sw.Columns[c].Measure.Of != ofKinds(Pair) {
			continue
		}
		o := leastSpec{column: c}
		o.node, o.top = sw.outputs[c].node, levelValue
		o.plan = sw.graph.plan([]ref{o.node}, []level{l}, p.closes)
		sw.least = append(sw.least, o)
	}
	if sw.least == nil {
		return
	}
	sw.beside = sw.Motion.neighbours()
	b := *sw // the same sweep, with the motion of its carriers known as far as slopes need
	b.least, b.between = nil, nil
	for k := range b.level {
		if b.level[k] != levelNothing {
			b.level[k] = l
		}
	}
	if sw.Motion.Rolls {
		for k := range b.gaps {
			b.gaps[k].plan, b.gaps[k].top = sw.graph.plan([]ref{b.gaps[k].node}, []level{levelBend}, p.closes), levelBend
		}
	}
	sw.between = &b
}

// along is a position's travel along w, of a motion that rolls its roll, or along the rack.
func (m *Motion) along(p Position, axis int) float64 {
	switch {
	case axis == 1:
		return p.Rack
	case m.Rolls:
		return p.Roll
	}
	return p.Wheel
}

func (m *Motion) with(p Position, axis int, v float64) Position {
	switch {
	case axis == 1:
		p.Rack = v
	case m.Rolls:
		p.Roll = v
	default:
		p.Wheel = v
	}
	return p
}

// neighbours finds what is beside each position: those that differ in one travel alone. In a motion that rolls, the
// rack's travel has no exact slope, for the wheels follow the ground, and what is beside along it does not count.
func (m *Motion) neighbours() []beside {
	out := make([]beside, len(m.Positions))
	order := make([]int32, len(m.Positions))
	for i := range out {
		out[i] = beside{{-1, -1}, {-1, -1}}
		order[i] = int32(i)
	}
	for axis := range axisCount {
		if axis == 1 && m.Rolls {
			break
		}
		others := func(i int32) Position { return m.with(m.Positions[i], axis, 0) }
		slices.SortFunc(order, func(a, b int32) int {
			p, q := others(a), others(b)
			return cmp.Or(cmp.Compare(p.Wheel, q.Wheel), cmp.Compare(p.Roll, q.Roll), cmp.Compare(p.Rack, q.Rack),
				cmp.Compare(m.along(m.Positions[a], axis), m.along(m.Positions[b], axis)), cmp.Compare(a, b))
		})
		for i := 1; i < len(order); i++ {
			a, b := order[i-1], order[i]
			if others(a) == others(b) && m.Positions[a] != m.Positions[b] {
				out[a][axis][1], out[b][axis][0] = b, a
			}
		}
	}
	return out
}

// leastSize is how many values a least takes: itself, and the position where it is.
const leastSize = 4

// Least says where a sweep's values hold the least of a column over the whole motion, between its positions too; false for
// a column of which no least is sought. Only clearances have one. The three values behind it are where it is: see LeastAt.
func (sw *Sweep) Least(column int) (at int, ok bool) {
	for i := range sw.least {
		if sw.least[i].column == column {
			return sw.leastIndex(i), true
		}
	}
	return 0, false
}

func (sw *Sweep) leastIndex(i int) int { return len(sw.Columns)*len(sw.Motion.Positions) + leastSize*i }

// LeastAt returns where the least value is that stands at an index of the values of a run (see Least).
func LeastAt(values []float64, at int) Position {
	return Position{Wheel: values[at+1], Rack: values[at+2], Roll: values[at+3]}
}

// takeLeast fills the least value of each column that has one. With slopes its pose is solved in any case, so that at is
// called with the index of the value and its node's plan run at the pose.
func (s *State) takeLeast(sw *Sweep, out []float64, at func(value int, o *output)) *Failure {
	n := len(sw.Motion.Positions)
	for i := range sw.least {
		o := &sw.least[i]
		values, at0 := out[o.column*n:(o.column+1)*n], sw.leastIndex(i)
		v := leastFound{gap: math.NaN()}
		if row := sw.lowest(values); row >= 0 {
			v = s.seekLeast(sw, o, values, row)
		}
		out[at0] = sw.Columns[o.column].finite(v.gap)
		out[at0+1], out[at0+2], out[at0+3] = v.at.Wheel, v.at.Rack, v.at.Roll
		if at == nil {
			continue
		}
		if v.gap == v.gap && !v.solved {
			if _, f := s.between(sw, o, v.at, nil); f != nil {
				return f
			}
		}
		at(at0, &o.output)
	}
	return nil
}

// lowest returns the position from which a least value is sought: of those no higher than what is beside them, the
// one where the parabola through them falls lowest; -1 where there is no value.
func (sw *Sweep) lowest(values []float64) int {
	best, low := -1, math.Inf(1)
	for i, v := range values {
		if v-v != 0 || sw.below(values, i) {
			continue
		}
		for axis := range axisCount {
			_, drop := sw.vertex(values, i, axis)
			v -= drop
		}
		if v < low {
			best, low = i, v
		}
	}
	return best
}

// below tells whether a neighbour's value is lower.
func (sw *Sweep) below(values []float64, i int) bool {
	for _, pair := range sw.beside[i] {
		for _, k := range pair {
			if k >= 0 && values[k] < values[i] {
				return true
			}
		}
	}
	return false
}

// vertex returns the travel along an axis at which the parabola through a position and those beside it is least, kept
// between its neighbours, and by how much it lies below the position. At an end of the travel the parabola goes through the
// two positions on its one side.
func (sw *Sweep) vertex(values []float64, i, axis int) (x, drop float64) {
	m := sw.Motion
	at := func(k int32) float64 { return m.along(m.Positions[k], axis) }
	x = at(int32(i))
	a, b := sw.beside[i][axis][0], sw.beside[i][axis][1]
	switch {
	case a < 0 && b < 0:
		return x, 0
	case a < 0:
		if a = sw.beside[b][axis][1]; a < 0 {
			return x, 0
		}
	case b < 0:
		if b = sw.beside[a][axis][0]; b < 0 {
			return x, 0
		}
	}
	// through (0, 0), (p, f), (q, g): the slope at 0 and half the bend
	p, q := at(a)-x, at(b)-x
	f, g := values[a]-values[i], values[b]-values[i]
	half := (f/p - g/q) / (p - q)
	slope := f/p - half*p
	if !(half > 0) || f-f != 0 || g-g != 0 {
		return x, 0
	}
	lo, hi := sw.bracket(i, axis)
	v := max(lo, min(hi, x-slope/(2*half)))
	d := v - x
	return v, max(0, -(slope+half*d)*d)
}

// bracket returns the travels of what is beside a position; its own at an end.
func (sw *Sweep) bracket(i, axis int) (lo, hi float64) {
	m := sw.Motion
	lo = m.along(m.Positions[i], axis)
	hi = lo
	if a := sw.beside[i][axis][0]; a >= 0 {
		lo = m.along(m.Positions[a], axis)
	}
	if b := sw.beside[i][axis][1]; b >= 0 {
		hi = m.along(m.Positions[b], axis)
	}
	return lo, hi
}

// leastFound is where a search ended.
type leastFound struct {
	at     Position
	gap    float64
	solved bool // the pose is the last solved
}

// seekLeast searches for the least value near a position, between its neighbours.
func (s *State) seekLeast(sw *Sweep, o *leastSpec, values []float64, row int) leastFound {
	m := sw.Motion
	found := leastFound{at: m.Positions[row], gap: values[row]}
	var lo, hi, x [axisCount]float64
	var h [axisCount][axisCount]float64 // inverse of the bend, by B. F. G. S.
	still := true
	for a := range x {
		lo[a], hi[a] = sw.bracket(row, a)
		var drop float64
		x[a], drop = sw.vertex(values, row, a)
		still = still && drop == 0
		if d := x[a] - m.along(m.Positions[row], a); drop > 0 {
			h[a][a] = d * d / (2 * drop)
		} else if hi[a] > lo[a] {
			h[a][a] = (hi[a] - lo[a]) / 4
		}
	}
	if still {
		return found
	}
	var before, slope [axisCount]float64
	var last [axisCount]float64
	for try := range leastTries {
		at := m.Positions[row]
		for a := range x {
			if hi[a] > lo[a] {
				at = m.with(at, a, x[a])
			}
		}
		gap, f := s.between(sw, o, at, &slope)
		if f != nil || gap-gap != 0 {
			return found // what lies between two positions that close may still not close; they say enough
		}
		if found.solved = gap <= found.gap; found.solved {
			found.at, found.gap = at, gap
		}
		if try > 0 {
			update(&h, x, last, slope, before)
		}
		last, before = x, slope
		if !descend(&x, &h, slope, lo, hi) {
			break
		}
	}
	return found
}

// descend takes a quasi-Newton step, kept between the neighbours; false where none is left to take.
func descend(x *[axisCount]float64, h *[axisCount][axisCount]float64, slope, lo, hi [axisCount]float64) bool {
	free := slope
	for a := range free {
		if hi[a] <= lo[a] || x[a] <= lo[a] && slope[a] > 0 || x[a] >= hi[a] && slope[a] < 0 {
			free[a] = 0
		}
	}
	moved := false
	for a := range free {
		if math.Abs(free[a]) <= leastFlat {
			continue
		}
		d := -h[a][a] * free[a]
		if b := 1 - a; free[b] != 0 {
			d -= h[a][b] * free[b]
		}
		to := max(lo[a], min(hi[a], x[a]+d))
		moved = moved || math.Abs(to-x[a]) > leastMove*(hi[a]-lo[a])
		x[a] = to
	}
	return moved
}

// update is the formula of Broyden, Fletcher, Goldfarb and Shanno for the inverse of the bend; along a single travel it
// is the secant's. J. Nocedal and S. J. Wright, "Numerical Optimization", 2nd ed., Springer 2006, (6.17).
func update(h *[axisCount][axisCount]float64, x, x0, g, g0 [axisCount]float64) {
	var s, y, hy [axisCount]float64
	sy, yhy := 0.0, 0.0
	for a := range s {
		s[a], y[a] = x[a]-x0[a], g[a]-g0[a]
		if s[a] == 0 {
			y[a] = 0
		}
		sy += s[a] * y[a]
	}
	if !(sy > 0) {
		return
	}
	for a := range s {
		for b := range s {
			hy[a] += h[a][b] * y[b]
		}
		yhy += y[a] * hy[a]
	}
	for a := range s {
		for b := range s {
			h[a][b] += (1+yhy/sy)*s[a]*s[b]/sy - (hy[a]*s[b]+s[a]*hy[b])/sy
		}
	}
}

// between solves a pose of a motion that is none of its positions, and computes a column's node there with its slopes along
// the two travels.
func (s *State) between(sw *Sweep, o *leastSpec, at Position, slope *[axisCount]float64) (float64, *Failure) {
	b := sw.between
	trunk := visit{from: slotDesign, to: slotTrunk, row: -1, at: Position{Wheel: at.Wheel}, wheel: true, rack: at.Rack != 0}
	if f := s.pose(b, &trunk); f != nil {
		return 0, f
	}
	last := uint8(slotTrunk)
	if sw.Motion.Rolls {
		bough := visit{from: last, to: slotBough, row: -1, at: Position{Wheel: at.Wheel, Roll: at.Roll}, rolled: true, rack: at.Rack != 0}
		if f := s.pose(b, &bough); f != nil {
			return 0, f
		}
		last = slotBough
	}
	if at.Rack != 0 {
		branch := visit{from: last, to: slotBranch, row: -1, at: at, rolled: sw.Motion.Rolls, rack: true}
		if f := s.pose(b, &branch); f != nil {
			return 0, f
		}
	}
	if f := s.forward(&o.plan, levelRack); f != nil {
		return 0, f
	}
	v := &s.num[o.node]
	if slope != nil {
		*slope = [axisCount]float64{v[slotW], v[slotK]}
		if sw.Motion.Rolls {
			slope[1] = 0
		}
	}
	return v[0], nil
}

package kin

import (
	"cmp"
	"math"
	"slices"
)

// A clearance is wanted at its least, and that lies between the positions of a motion as a rule. After the positions
// of a sweep, the least of each such column is sought from every position that may lead to it, between its neighbours, by
// quasi-Newton steps on exact slopes (seek.go); its pose is solved like any other. There the slope along the motion is
// nothing, so that the derivative with the drawing is that of the gap at the travel held.
//
// It is the least as far as the positions tell: a gap that falls and rises again between two of them, of which neither is
// lower than those beside it, is not looked for. Slopes at the two would not tell of it: they are those of the pieces that are
// nearest there, and what dips between may be another pair, or rise again before it comes to the next. Between positions of the
// rack in a motion that rolls it is not looked for either.

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
		at0 := sw.leastIndex(i)
		v := s.leastOf(sw, o, out[o.column*n:(o.column+1)*n])
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

// leastFound is where a search ended.
type leastFound struct {
	at     Position
	gap    float64 // NaN for none
	solved bool    // the pose is the last solved
}

// leastOf finds the least of a column from its values at the positions of a motion. It is sought from the position that
// promises most, and then from every other that is no higher than what is beside it and may still lead lower.
func (s *State) leastOf(sw *Sweep, o *leastSpec, values []float64) leastFound {
	found := leastFound{gap: math.NaN()}
	first, low := -1, math.Inf(1)
	for i, v := range values {
		if v-v != 0 || sw.below(values, i) {
			continue
		}
		if !(found.gap <= v) {
			found = leastFound{at: sw.Motion.Positions[i], gap: v}
		}
		for axis := range axisCount {
			_, drop := sw.vertex(values, i, axis)
			v -= drop
		}
		if v < low {
			first, low = i, v
		}
	}
	if first < 0 {
		return found
	}
	s.seekLeast(sw, o, values, first, &found)
	for i, v := range values {
		if i != first && v-v == 0 && !sw.below(values, i) && !(v-sw.fall(values, i) >= found.gap) && !sw.around(i, found.at) {
			s.seekLeast(sw, o, values, i, &found)
		}
	}
	return found
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

// fall is how far values may fall between a position and those beside it, neither of which is lower, if they bend one way and
// positions are evenly spread: no farther than a line through two of them goes on to fall. At an end of the travel that line is
// the one through the next two.
func (sw *Sweep) fall(values []float64, i int) (sum float64) {
	for axis, pair := range sw.beside[i] {
		a, b := pair[0], pair[1]
		if a < 0 {
			a, b = b, a
		}
		switch {
		case a < 0:
			continue
		case b >= 0:
			sum += max(values[a], values[b]) - values[i]
			continue
		}
		next := sw.beside[a][axis]
		if b = next[0]; b == int32(i) {
			b = next[1]
		}
		if b < 0 {
			return math.Inf(1)
		}
		sum += max(0, values[b]-2*values[a]+values[i])
	}
	return sum
}

// around tells whether a place lies between those beside a position.
func (sw *Sweep) around(i int, at Position) bool {
	if sw.Motion.Rolls && at.Wheel != sw.Motion.Positions[i].Wheel {
		return false // the ground is lifted elsewhere, and nothing is beside that way
	}
	for axis := range axisCount {
		lo, hi := sw.bracket(i, axis)
		if v := sw.Motion.along(at, axis); v < lo || v > hi {
			return false
		}
	}
	return true
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

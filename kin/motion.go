package kin

import (
	"cmp"
	"slices"
)

// Position is a place in an axle's travel, from design.
type Position struct {
	Wheel float64 // mm, + bump; with body roll, how far the ground is lifted
	Rack  float64 // mm, + left
	Roll  float64 // rad, + body leans right
}

// Wheels says which wheels travel.
type Wheels uint8

// The wheels of a motion. The other wheel of LeftWheel and RightWheel stays at design.
const (
	BothWheels Wheels = iota
	LeftWheel
	RightWheel
)

// drive is how the drivers of carrier k move for a millimetre of wheel travel.
func (w Wheels) drive(p *Program, k int) drive {
	if p.linkage.Right && w != BothWheels {
		w = LeftWheel + RightWheel - w
	}
	var side [2]float64
	if w != RightWheel {
		side[0] = 1
	}
	if w != LeftWheel {
		side[1] = 1
	}
	if p.axle {
		return drive{z: side[0], right: side[1]}
	}
	return drive{z: side[k]}
}

// Slots of poses that a sweep starts from. Every position is reached from design: along the trunk, by
// wheel travel with the rack centred, then along a bough, by body roll, then along a branch, by rack travel.
const (
	slotDesign = iota
	slotTrunk
	slotBough
	slotBranch
	slots
)

// visit is one pose of a sweep: where it starts and where it goes.
type visit struct {
	from, to uint8
	row      int32 // position in the table, or -1 for a pose that is only passed through
	at       Position
	rolled   bool // the wheels stand on the ground that the body's roll turns
	wheel    bool // a later pose goes on from here by wheel travel
	rack     bool // a later pose goes on from here by rack travel
}

// Motion is a named list of positions and the order in which they are solved: outward from design, so
// that the branch of every pose is the design's. It is immutable.
//
// Where it rolls, Wheel lifts the ground from where it is at design, and the ground then turns against the body about
// the car's x axis; both wheels' contact centres stand on it, so that a position without roll differs a little from
// the same wheel travel in a motion that does not roll.
type Motion struct {
	Name      string
	Positions []Position
	Wheels    Wheels
	Rolls     bool
	visits    []visit
	apart     bool // nothing lies between the positions
}

// NewMotion orders positions, given in the order of the table. Positions may repeat. It panics where the body rolls
// and not both wheels travel.
func NewMotion(name string, wheels Wheels, rolls bool, positions []Position) *Motion {
	if rolls && wheels != BothWheels {
		panic("kin: NewMotion: the body rolls on both wheels")
	}
	m := &Motion{Name: name, Positions: slices.Clone(positions), Wheels: wheels, Rolls: rolls}
	m.outward(slotDesign, slotDesign, distinct(positions, func(p Position) float64 { return p.Wheel }), func(z float64, from, to uint8) {
		m.trunk(from, to, Position{Wheel: z})
	})
	m.continueFrom()
	return m
}

// outward calls f for the values from zero up and then from zero down, each starting from the one before;
// zero itself, listed or not, comes first and stands in home.
func (m *Motion) outward(home, start uint8, values []float64, f func(v float64, from, to uint8)) {
	f(0, start, home)
	zero, there := slices.BinarySearch(values, 0)
	up := values[zero:]
	if there {
		up = up[1:]
	}
	slot := home + 1
	from := home
	for _, v := range up {
		f(v, from, slot)
		from = slot
	}
	from = home
	for _, v := range slices.Backward(values[:zero]) {
		f(v, from, slot)
		from = slot
	}
}

// trunk adds the pose at a wheel travel with the rack centred, and what starts there.
func (m *Motion) trunk(from, to uint8, at Position) {
	here := func(p Position) bool { return p.Wheel == at.Wheel }
	if !m.Rolls {
		m.branch(from, to, at, here)
		return
	}
	m.add(from, to, at, false, func(Position) bool { return false })
	var rolls []float64
	for _, p := range m.Positions {
		if here(p) {
			rolls = append(rolls, p.Roll)
		}
	}
	if rolls == nil {
		return
	}
	slices.Sort(rolls)
	// The unrolled ground is a pose like the others: it starts from the trunk's.
	m.rolled(to, 0, at, here)
	from = slotBough
	zero, _ := slices.BinarySearch(rolls, 0)
	for _, r := range slices.Compact(slices.Clone(rolls[zero:])) {
		if r != 0 {
			m.rolled(slotBough, r, at, here)
		}
	}
	if zero > 0 {
		m.rolled(to, 0, at, func(Position) bool { return false })
	}
	for _, r := range slices.Backward(slices.Compact(slices.Clone(rolls[:zero]))) {
		m.rolled(slotBough, r, at, here)
	}
}

func (m *Motion) rolled(from uint8, roll float64, at Position, here func(Position) bool) {
	at.Roll = roll
	m.branch(from, slotBough, at, func(p Position) bool { return here(p) && p.Roll == roll })
}

// branch adds a pose with the rack centred and those that the rack reaches from it.
func (m *Motion) branch(from, to uint8, at Position, here func(Position) bool) {
	var racks []float64
	for _, p := range m.Positions {
		if here(p) && p.Rack != 0 {
			racks = append(racks, p.Rack)
		}
	}
	m.add(from, to, at, m.Rolls, here)
	slices.Sort(racks)
	racks = slices.Compact(racks)
	zero, _ := slices.BinarySearch(racks, 0)
	start := to
	for _, r := range racks[zero:] {
		at.Rack = r
		m.add(start, slotBranch, at, m.Rolls, here)
		start = slotBranch
	}
	start = to
	for _, r := range slices.Backward(racks[:zero]) {
		at.Rack = r
		m.add(start, slotBranch, at, m.Rolls, here)
		start = slotBranch
	}
}

// add adds a visit for every row of the table at that position, or a single untabulated one.
func (m *Motion) add(from, to uint8, at Position, rolled bool, here func(Position) bool) {
	n := visit{from: from, to: to, row: -1, at: at, rolled: rolled}
	found := false
	for i, p := range m.Positions {
		if p != at || !here(p) {
			continue
		}
		n.row = int32(i)
		m.visits = append(m.visits, n)
		// The same pose again: it is already in its slot.
		n.from = to
		found = true
	}
	if !found {
		m.visits = append(m.visits, n)
	}
}

// continueFrom marks each visit with the directions in which later ones leave its pose.
func (m *Motion) continueFrom() {
	for i := range m.visits {
		n := &m.visits[i]
		for _, next := range m.visits[i+1:] {
			if next.from == n.to {
				n.wheel = n.wheel || next.at.Wheel != n.at.Wheel
				n.rack = n.rack || next.at.Rack != n.at.Rack
			}
			if next.to == n.to && next.at != n.at {
				break // another pose takes the slot; the same one, listed twice, stays
			}
		}
	}
}

func distinct(ps []Position, of func(Position) float64) []float64 {
	var out []float64
	for _, p := range ps {
		out = append(out, of(p))
	}
	slices.SortFunc(out, cmp.Compare[float64])
	return slices.Compact(out)
}

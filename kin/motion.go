package kin

import (
	"cmp"
	"slices"
)

// Position is a place in a corner's travel, in mm from design.
type Position struct {
	Wheel float64 // + bump
	Rack  float64 // + left
}

// Slots of poses that a sweep starts from. Every position is reached from design: along the trunk, by
// wheel travel with the rack centred, then along a branch, by rack travel.
const (
	slotDesign = iota
	slotTrunk
	slotBranch
	slots
)

// node is one pose of a sweep: where it starts and where it goes.
type node struct {
	from, to uint8
	row      int32 // position in the table, or -1 for a pose that is only passed through
	at       Position
	wheel    bool // a later node goes on from here by wheel travel
	rack     bool // a later node goes on from here by rack travel
}

// Motion is a named list of positions and the order in which they are solved: outward from design, so
// that the branch of every pose is the design's. It is immutable.
type Motion struct {
	Name      string
	Positions []Position
	nodes     []node
}

// NewMotion orders positions, given in the order of the table. Positions may repeat.
func NewMotion(name string, positions []Position) *Motion {
	m := &Motion{Name: name, Positions: slices.Clone(positions)}
	wheels := distinct(positions, func(p Position) float64 { return p.Wheel })
	m.trunk(slotDesign, 0)
	zero, _ := slices.BinarySearch(wheels, 0)
	from := uint8(slotDesign)
	for _, z := range wheels[zero:] {
		if z != 0 {
			m.trunk(from, z)
			from = slotTrunk
		}
	}
	from = slotDesign
	for _, z := range slices.Backward(wheels[:zero]) {
		m.trunk(from, z)
		from = slotTrunk
	}
	m.continueFrom()
	return m
}

// trunk adds the pose at wheel travel z with the rack centred, and the branches from it.
func (m *Motion) trunk(from uint8, z float64) {
	slot := uint8(slotTrunk)
	if z == 0 {
		slot = slotDesign
	}
	var racks []float64
	for _, p := range m.Positions {
		if p.Wheel == z && p.Rack != 0 {
			racks = append(racks, p.Rack)
		}
	}
	m.add(from, slot, Position{Wheel: z})
	slices.Sort(racks)
	racks = slices.Compact(racks)
	zero, _ := slices.BinarySearch(racks, 0)
	at := slot
	for _, r := range racks[zero:] {
		m.add(at, slotBranch, Position{z, r})
		at = slotBranch
	}
	at = slot
	for _, r := range slices.Backward(racks[:zero]) {
		m.add(at, slotBranch, Position{z, r})
		at = slotBranch
	}
}

// add adds a node for every row of the table at that position, or a single untabulated one.
func (m *Motion) add(from, to uint8, at Position) {
	n := node{from: from, to: to, row: -1, at: at}
	found := false
	for i, p := range m.Positions {
		if p != at {
			continue
		}
		n.row = int32(i)
		m.nodes = append(m.nodes, n)
		// The same pose again: it is already in its slot.
		n.from = to
		found = true
	}
	if !found {
		m.nodes = append(m.nodes, n)
	}
}

// continueFrom marks each node with the directions in which later nodes leave its pose.
func (m *Motion) continueFrom() {
	for i := range m.nodes {
		n := &m.nodes[i]
		for _, next := range m.nodes[i+1:] {
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

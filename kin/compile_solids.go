package kin

import (
	"fmt"
	"math"
)

// solidSpec is a solid on a side of the car.
type solidSpec struct {
	member int
	side   Side
	ends   []end // of its points
}

// pairSpec is the solids of a pair on a side of the car, by their numbers.
type pairSpec struct {
	of    [2][]int
	leave float64
}

// solids places every solid on its bodies, and then the pairs.
func (c *compiler) solids() error {
	for i := range c.p.instances {
		if c.l.Members[c.p.instances[i].member].Kind == Solid {
			if err := c.solid(i); err != nil {
				return c.of(i, err)
			}
		}
	}
	for i := range c.p.instances {
		if c.l.Members[c.p.instances[i].member].Kind == Pair {
			if err := c.pair(i); err != nil {
				return c.of(i, err)
			}
		}
	}
	return nil
}

// shapePoints says how many points a shape has at least and at most.
var shapePoints = map[Shape][2]int{Tube: {1, math.MaxInt}, Slider: {2, 2}, Block: {2, 2}, Drum: {2, 2}, Hoop: {0, 0}, Ground: {0, 0}}

func (c *compiler) solid(i int) error {
	in := &c.p.instances[i]
	m := &c.l.Members[in.member]
	want, known := shapePoints[m.Space.Shape]
	if n := len(m.Points); !known || n < want[0] || n > want[1] || len(m.Bodies) != n {
		return fmt.Errorf("solid %s has %d points and %d bodies, which do not make its shape", m.Name, n, len(m.Bodies))
	}
	spec := solidSpec{member: in.member, side: in.side}
	for k := range m.Points {
		e, name, ok := c.end(in, k, m.Bodies[k])
		if !ok {
			return fmt.Errorf("solid %s is on %s, which is no body of this geometry", m.Name, name)
		}
		spec.ends = append(spec.ends, e)
	}
	if m.Space.Shape == Block && (spec.ends[0].body != spec.ends[1].body) {
		return fmt.Errorf("solid %s has its corners on two bodies; a box is on one", m.Name)
	}
	c.p.solids = append(c.p.solids, spec)
	return nil
}

// pair finds the solids of a pair: those of its own side, those that exist once, and those that it names with a side.
func (c *compiler) pair(i int) error {
	in := &c.p.instances[i]
	m := &c.l.Members[in.member]
	spec := pairSpec{leave: m.Leave}
	for k := range m.Between {
		for _, t := range m.Between[k] {
			side := t.Side
			if side == Once {
				side = in.side
			}
			at := c.solidOn(t.Member, side)
			if at < 0 && t.Member >= 0 && t.Member < len(c.l.Members) {
				return fmt.Errorf("clearance %s names %s, which is no solid there", m.Name, bodyName{c.l.Members[t.Member].Name, t.Side})
			} else if at < 0 {
				return fmt.Errorf("clearance %s names a solid that is not there", m.Name)
			}
			spec.of[k] = append(spec.of[k], at)
		}
		if len(spec.of[k]) == 0 {
			return fmt.Errorf("clearance %s has no solid on one of its sides", m.Name)
		}
	}
	in.pair = len(c.p.pairs)
	c.p.pairs = append(c.p.pairs, spec)
	return nil
}

// solidOn returns the number of a member's solid on a side, or of the one that exists once; -1 for none.
func (c *compiler) solidOn(member int, side Side) int {
	for i, s := range c.p.solids {
		if s.member == member && (s.side == side || s.side == Once) {
			return i
		}
	}
	return -1
}

// oneSided tells whether a pair meets nothing that moves with the right side.
func (p *Program) oneSided(pair *pairSpec) bool {
	for _, of := range pair.of {
		for _, i := range of {
			s := &p.solids[i]
			switch shape := p.linkage.Members[s.member].Space.Shape; {
			case shape == Hoop && s.side != Left:
				return false
			case shape == Hoop && p.axle:
				return false
			}
			for _, e := range s.ends {
				if p.upon(e.body)&2 != 0 {
					return false
				}
			}
		}
	}
	return true
}

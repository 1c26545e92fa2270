package kin

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"
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

// shapePoints says how many points a shape has at least and at most, and in words.
var shapePoints = map[Shape]struct {
	least, most int
	takes       string
}{
	Tube:   {1, math.MaxInt, "a tube takes the points along it, at least one"},
	Slider: {2, 2, "a damper takes its two ends"},
	Block:  {2, 2, "a box takes two opposite corners"},
	Drum:   {2, 2, "a cylinder takes the middles of its two flat ends"},
	Hoop:   {0, 0, "a ring about the wheel's axis takes none"},
	Ground: {0, 0, "the ground takes none"},
}

func (c *compiler) solid(i int) error {
	in := &c.p.instances[i]
	m := &c.l.Members[in.member]
	if m.Space == nil || shapePoints[m.Space.Shape].takes == "" {
		return fmt.Errorf("solid %s has no shape; say what room it takes", m.Name)
	}
	want, n := shapePoints[m.Space.Shape], len(m.Points)
	if n < want.least || n > want.most {
		return fmt.Errorf("solid %s has %s; %s", m.Name, plural(n, "point", "points"), want.takes)
	}
	if len(m.Bodies) != n {
		return fmt.Errorf("solid %s has %s on %s; name the body of each", m.Name, plural(n, "point", "points"), plural(len(m.Bodies), "body", "bodies"))
	}
	if m.Space.Shape == Hoop && m.Across {
		return fmt.Errorf("solid %s is about a wheel's axis and exists once; let it exist on both sides, as wheels do", m.Name)
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
			if at < 0 {
				return c.noSolid(m.Name, t)
			}
			if k == 1 && slices.Contains(spec.of[0], at) {
				return fmt.Errorf("clearance %s has %s on both of its sides; nothing is clear of itself", m.Name, c.l.Members[t.Member].Name)
			}
			spec.of[k] = append(spec.of[k], at)
		}
		if len(spec.of[k]) == 0 {
			return fmt.Errorf("clearance %s has no solid on one of its two sides; name at least one on each", m.Name)
		}
	}
	if a, b := c.ground(spec.of[0]), c.ground(spec.of[1]); a != "" && b != "" {
		return fmt.Errorf("clearance %s has the ground on both of its sides, as %s and as %s; there is one ground, so take one out", m.Name, a, b)
	}
	in.pair = len(c.p.pairs)
	c.p.pairs = append(c.p.pairs, spec)
	return nil
}

// ground returns the name of the ground among some solids; "" where it is none of them.
func (c *compiler) ground(solids []int) string {
	for _, i := range solids {
		if m := &c.l.Members[c.p.solids[i].member]; m.Space.Shape == Ground {
			return m.Name
		}
	}
	return ""
}

// noSolid says what is wrong with what a pair names.
func (c *compiler) noSolid(pair string, t Taken) error {
	if t.Member < 0 || t.Member >= len(c.l.Members) {
		return fmt.Errorf("clearance %s names a solid that is not there", pair)
	}
	m := &c.l.Members[t.Member]
	if m.Kind == Solid && t.Side == Once {
		return fmt.Errorf("clearance %s exists once and %s on both sides; say which: left.%s or right.%s", pair, m.Name, m.Name, m.Name)
	}
	return fmt.Errorf("clearance %s names %s, which is no solid; name solids that are to be clear of each other", pair, bodyName{m.Name, t.Side})
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

// Alike tells whether a clearance is the same on both sides of the car where the sides do the same: what exists once in it
// has to be its own mirror image. The ground is, and so is what goes through points of both sides, or stands evenly about the
// middle of the car in points that stay where the linkage has them. Any other column is alike.
func (p *Program) Alike(c *Column, stays func(point int) bool) bool {
	if c.plus != nil && !p.Alike(c.plus, stays) {
		return false
	}
	if c.index < 0 || p.instances[c.index].pair < 0 {
		return true
	}
	for _, of := range p.pairs[p.instances[c.index].pair].of {
		for _, i := range of {
			if s := &p.solids[i]; s.side == Once && !p.ownImage(s, stays) {
				return false
			}
		}
	}
	return true
}

// ownImage tells whether a solid that exists once is its own mirror image.
func (p *Program) ownImage(s *solidSpec, stays func(point int) bool) bool {
	shape := p.linkage.Members[s.member].Space.Shape
	turned, through := shape != Slider, shape != Block // from its other end, or in the middle of the car
	for k, e := range s.ends {
		turned = turned && p.images(e, s.ends[len(s.ends)-1-k], shape == Block, stays)
		through = through && p.images(e, e, false, stays)
	}
	return turned || through
}

// images tells whether two places are mirror images of each other, of the corners of a box as far across the car.
func (p *Program) images(a, b end, corners bool, stays func(point int) bool) bool {
	points := p.Points()
	place := func(e end) r3.Vec {
		at := p.parts[e.part].at(points)
		if e.flip {
			return mirrored(at)
		}
		return at
	}
	x, y := &p.parts[a.part], &p.parts[b.part]
	if x.point == y.point && (x.mirror != a.flip) != (y.mirror != b.flip) {
		return true
	}
	d := r3.Sub(mirrored(place(a)), place(b))
	return d.Y == 0 && (corners || d == r3.Vec{}) && stays(x.point) && stays(y.point)
}

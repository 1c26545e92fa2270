package files

import (
	"slices"

	"trammel/kin"

	"gonum.org/v1/gonum/spatial/r3"
)

// taker is a solid of any origin, as the solver has it.
type taker struct {
	Solid
	tube   *Tube  // of a member
	member string // whose tube it is
}

// takers returns the solids in the order of the solver's members. The ground is one where a clearance names it.
func (g *Geometry) takers() []taker {
	var out []taker
	for i := range g.Members {
		if m := &g.Members[i]; m.Tube.Diameter > 0 {
			out = append(out, tubeOf(m))
		}
	}
	for i := range g.Solids {
		out = append(out, taker{Solid: g.Solids[i]})
	}
	if g.Wheel.Tyre.Diameter > 0 {
		out = append(out, taker{Solid: Solid{Name: tyreSolid, Shape: kin.Hoop, Pos: g.Wheel.Pos}})
	}
	if g.Wheel.Rim.Diameter > 0 {
		out = append(out, taker{Solid: Solid{Name: rimSolid, Shape: kin.Hoop, Pos: g.Wheel.Pos}})
	}
	if pos, named := g.grounded(); named {
		out = append(out, taker{Solid: Solid{Name: groundSolid, Shape: kin.Ground, Across: true, Pos: pos}})
	}
	return out
}

// grounded tells whether a clearance, or a group, names the ground, and where the first does.
func (g *Geometry) grounded() (Position, bool) {
	for i := range g.Groups {
		if slices.Contains(g.Groups[i].Names, groundSolid) {
			return g.Groups[i].Pos, true
		}
	}
	for i := range g.Clearances {
		for _, names := range g.Clearances[i].Between {
			if slices.Contains(names, groundSolid) {
				return g.Clearances[i].Pos, true
			}
		}
	}
	return Position{}, false
}

// legOrder says in which order a tube runs through the points of an arm: along its two legs; of an H-arm from the
// first pivot over both balls to the other.
var legOrder = map[kin.Kind][]int{kin.Arm: {0, 2, 1}, kin.HArm: {0, 2, 3, 1}}

// tubeOf returns the solid that a member's tube is.
func tubeOf(m *Member) taker {
	s := taker{Solid: Solid{Name: m.Name, Shape: kin.Tube, Diameter: m.Tube.Diameter, Across: m.Across, Pos: m.Pos}, tube: &m.Tube, member: m.Name}
	order := legOrder[m.Kind]
	if order == nil {
		order = []int{0, 1}
	}
	if m.Tube.Length > 0 {
		s.Shape = kin.Slider
	}
	if m.Tube.Reversed {
		order = []int{1, 0}
	}
	for _, i := range order {
		s.Points = append(s.Points, m.Points[i])
		if m.Sides != nil {
			s.Sides = append(s.Sides, m.Sides[i])
		}
		body := m.Name // an arm is a body of its own
		if !makesBody(m.Kind) {
			body = m.Bodies[bodyOf(m.Kind, i)]
		}
		s.Bodies = append(s.Bodies, body)
	}
	return s
}

// space returns the room that a solid takes, in mm.
func (g *Geometry) space(s *taker) *kin.Space {
	half := func(n int64) float64 { return g.Units.ToMM(n) / 2 }
	out := &kin.Space{Shape: s.Shape, Radius: half(s.Diameter), Inner: half(s.Hole)}
	rim, tyre := g.Wheel.Rim, g.Wheel.Tyre
	switch {
	case s.tube != nil:
		out.Length, out.Rod = g.Units.ToMM(s.tube.Length), half(s.tube.Rod)
	case s.Shape == kin.Hoop && s.Name == rimSolid:
		out.Radius, out.Inner, out.Width = half(rim.Diameter), half(rim.Diameter-2*rim.Wall), g.Units.ToMM(rim.Width)
	case s.Shape == kin.Hoop:
		out.Radius, out.Inner, out.Width, out.Round = half(tyre.Diameter), half(rim.Diameter), g.Units.ToMM(tyre.Width), g.Units.ToMM(tyre.Round)
	}
	return out
}

// solverParts returns what comes behind the members in the solver's linkage: solids, clearances and joints.
func (g *Geometry) solverParts(index map[string]int) []kin.Member {
	var out []kin.Member
	takers := g.takers()
	at := make(map[string]int, len(takers)) // of solids, among the solver's members
	for i := range takers {
		s := &takers[i]
		at[s.Name] = len(g.Members) + i
		m := g.solverMember(&Member{Name: s.Name, Kind: kin.Solid, Points: s.Points, Sides: s.Sides, Bodies: s.Bodies, Across: s.Across}, index)
		m.Space = g.space(s)
		out = append(out, m)
	}
	for i := range g.Clearances {
		c := &g.Clearances[i]
		m := kin.Member{Name: c.Name, Kind: kin.Pair, Across: c.Across, Leave: g.Units.ToMM(c.Joint)}
		for k := range c.Between {
			for _, o := range g.occupants(c.Between[k], takers, c.Across) {
				m.Between[k] = append(m.Between[k], kin.Taken{Member: at[o.solid.Name], Side: g.solverSide(o.side)})
			}
		}
		out = append(out, m)
	}
	for i := range g.Joints {
		out = append(out, g.solverJoint(&g.Joints[i], index))
	}
	return out
}

func (g *Geometry) solverJoint(j *Joint, index map[string]int) kin.Member {
	m := g.solverMember(&Member{Name: j.Name, Kind: kin.Joint, Points: j.Points, Sides: j.Sides, Bodies: j.Bodies, Across: j.Across}, index)
	m.Bearing = &kin.Bearing{RodEnd: j.RodIs == RodEye, InLine: j.RodIs == RodBolt || j.RodIs == RodHousing, Bolt: g.vector(j.Bolt), Housing: g.vector(j.Housing)}
	switch j.RodIs {
	case NoRod:
		m.Bearing.BoltBody, m.Bodies = m.Bodies[1], m.Bodies[:1]
	case RodHousing: // the angle between two lines is the same whichever of them is called the bolt
		m.Bearing.Bolt, m.Bearing.Housing = r3.Vec{}, m.Bearing.Bolt
	}
	return m
}

// occupant is a solid of a clearance and the side of the car that it is on: NoSide is the clearance's own side, or that of
// what exists once.
type occupant struct {
	solid *taker
	side  Side
}

// occupants resolves names of solids and groups. In a clearance that exists once a solid of both sides that is named
// without one is taken on both, the drawn one first. Names that lead nowhere are left out.
func (g *Geometry) occupants(names []string, takers []taker, once bool) []occupant {
	var out []occupant
	for _, name := range names {
		side, bare := splitSide(name)
		for i := range g.Groups {
			if g.Groups[i].Name != bare {
				continue
			}
			for _, o := range g.occupants(g.Groups[i].Names, takers, false) {
				if o.side == NoSide && !o.solid.Across {
					o.side = side
				}
				out = append(out, o)
			}
		}
		for i := range takers {
			if takers[i].Name == bare {
				out = append(out, occupant{&takers[i], side})
			}
		}
	}
	if !once {
		return out
	}
	var both []occupant
	for _, o := range out {
		if o.side == NoSide && !o.solid.Across {
			both = append(both, occupant{o.solid, g.Side}, occupant{o.solid, g.Side.other()})
		} else {
			both = append(both, o)
		}
	}
	return both
}

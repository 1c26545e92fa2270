package files

import (
	"math"

	"trammel/kin"
)

// checkSolids reports solids without length or thickness, and notes those that the mirror image doubles.
func (g *draft) checkSolids() {
	for i := range g.Solids {
		s := &g.Solids[i]
		n, ok := g.places(Member{Points: s.Points, Sides: s.Sides})
		if !ok {
			continue
		}
		name := func(i int) string {
			if s.Sides != nil {
				return withSide(s.Sides[i], s.Points[i])
			}
			return s.Points[i]
		}
		path := "solids." + s.Name
		flat := false
		for k := 1; k < len(n); k++ {
			switch {
			case s.Shape == kin.Block:
				flat = g.flatBox(s, n, name)
			case n[k] == n[k-1]:
				g.w.at(s.Pos, path, "%s has %s: %s and %s stand at the same place", s.Name, pick(len(n) > 2, "a piece of no length", "no length"), name(k-1), name(k))
				flat = true
			}
		}
		if !flat && g.framed && !s.Across {
			g.noteMiddle(s, n)
		}
	}
	for i := range g.Members {
		g.noteBody(&g.Members[i])
	}
}

// flatBox reports a box whose corners have a coordinate in common.
func (g *draft) flatBox(s *Solid, n [][3]int64, name func(int) string) bool {
	for i := range n[0] {
		if n[0][i] == n[1][i] {
			g.w.at(s.Pos, "solids."+s.Name, "%s has no thickness: %s and %s have the same %c; opposite corners differ in x, y and z", s.Name, name(0), name(1), 'x'+i)
			return true
		}
	}
	return false
}

// noteMiddle notes a solid of both sides that meets its own mirror image in the middle of the car: one that crosses the middle, or
// that lies nearer to it all along than it is thick. And it notes one that is drawn beyond the middle, whose gaps are those to parts on the far side
// of the car.
func (g *draft) noteMiddle(s *Solid, n [][3]int64) {
	body := s.Bodies[0]
	least, most := int64(math.MaxInt64), int64(math.MinInt64)
	for _, p := range n {
		d := g.lateral(p)
		if g.Side == Right {
			d = -d
		}
		least, most = min(least, d), max(most, d)
	}
	crosses := least < 0 && most > 0 || float64(max(most, -least)) < g.acrossReach(s, n)
	switch {
	case crosses && (body == kin.Frame || body == kin.Axle || body == kin.Rack):
		g.w.note(s.Pos, "solids."+s.Name, "%s crosses the centre line and has a mirror image on the other side as well; write once: true if it is one thing in the middle of the car", s.Name)
	case !crosses && least < 0 && body != kin.Upright: // of the upright it is a mistake, told at its points
		g.w.note(s.Pos, "solids."+s.Name, "%s lies %s %s to the %s of the centre line, where the file draws the %s side: its gaps to what is drawn are across the car, and its mirror image is the one beside it; write once: true if it is one thing on that side, or look for a minus sign too many or too few",
			s.Name, g.Units.Format(-most), g.Units, g.Side.other(), g.Side)
	}
}

// acrossReach is how far a solid reaches across the car from the line of its points, in quanta: a cylinder with its axis across
// the car not at all.
func (g *draft) acrossReach(s *Solid, n [][3]int64) float64 {
	radius := float64(s.Diameter) / 2
	if s.Shape != kin.Drum {
		return radius
	}
	along := float64(g.lateral(n[1])-g.lateral(n[0])) / distance(n[0], n[1])
	return radius * math.Sqrt(max(0, 1-along*along))
}

// noteBody notes a damper whose body reaches beyond its other end at design.
func (g *draft) noteBody(m *Member) {
	n, ok := g.places(*m)
	if !ok || m.Tube.Length == 0 || len(n) < 2 {
		return
	}
	if at := int64(math.Round(distance(n[0], n[1]))); m.Tube.Length >= at {
		g.w.note(m.Pos, memberPath(*m), "%s is %s %s long at design, and the body of its tube %s; the body must be shorter", m.Name, g.Units.Format(at), g.Units, g.Units.Format(m.Tube.Length))
	}
}

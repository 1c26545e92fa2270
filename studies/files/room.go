package files

import (
	"fmt"
	"slices"
)

// WithRoom returns a geometry with what another file says of how far its parts go and of the room that they take: the limits of
// members of the same name and kind, tubes, the tyre and the rim, the rack's travel, solids, groups, clearances and joints.
// Members, the wheel and the points that they use stay as they are, and so do those for which fixed is true; every other
// point stands where the other file has it. The error is a sentence that says why the two files do not go together.
func (g *Geometry) WithRoom(other *Geometry, fixed func(point string) bool) (*Geometry, error) {
	switch {
	case g.Units != other.Units:
		return nil, fmt.Errorf("%s is in %s, and the geometry of the runs in %s", other.Path, other.Units, g.Units)
	case g.Axes != other.Axes || g.Origin != other.Origin || g.Side != other.Side:
		return nil, fmt.Errorf("%s has another origin, other axes or another side than the geometry of the runs", other.Path)
	}
	c := *g
	c.Points = g.pointsWith(other, fixed)
	c.Members = slices.Clone(g.Members)
	for i := range c.Members {
		m := &c.Members[i]
		if k := other.Member(m.Name); k >= 0 && other.Members[k].Kind == m.Kind {
			o := &other.Members[k]
			m.Length, m.Stop, m.Solid, m.Twist, m.Plunge, m.Angle, m.Tube, m.Pos = o.Length, o.Stop, o.Solid, o.Twist, o.Plunge, o.Angle, o.Tube, o.Pos
		}
	}
	c.Solids = inOrderOf(g.Solids, other.Solids, func(s *Solid) string { return s.Name })
	c.Groups = inOrderOf(g.Groups, other.Groups, func(s *Group) string { return s.Name })
	c.Clearances = inOrderOf(g.Clearances, other.Clearances, func(s *Clearance) string { return s.Name })
	c.Joints = inOrderOf(g.Joints, other.Joints, func(s *Joint) string { return s.Name })
	c.Wheel.Tyre, c.Wheel.Rim, c.RackTravel = other.Wheel.Tyre, other.Wheel.Rim, other.RackTravel
	return c.again(other.Path)
}

// Differs tells whether two geometries say different things; the order of their lines is no difference.
func (g *Geometry) Differs(other *Geometry) bool {
	o := *other
	o.Points = inOrderOf(g.Points, other.Points, func(p *Point) string { return p.Name })
	o.Members = inOrderOf(g.Members, other.Members, func(m *Member) string { return m.Name })
	o.Solids = inOrderOf(g.Solids, other.Solids, func(s *Solid) string { return s.Name })
	o.Groups = inOrderOf(g.Groups, other.Groups, func(s *Group) string { return s.Name })
	o.Clearances = inOrderOf(g.Clearances, other.Clearances, func(s *Clearance) string { return s.Name })
	o.Joints = inOrderOf(g.Joints, other.Joints, func(s *Joint) string { return s.Name })
	return string(g.Encode()) != string(o.Encode())
}

// inOrderOf returns the entries of another file in the order that those of the same names have in this one, and the new ones after
// them: the order of lines is no difference between two files.
func inOrderOf[T any](these, others []T, name func(*T) string) []T {
	place := map[string]int{}
	for i := range these {
		place[name(&these[i])] = i - len(these)
	}
	out := slices.Clone(others)
	slices.SortStableFunc(out, func(a, b T) int { return place[name(&a)] - place[name(&b)] })
	return out
}

// pointsWith returns the points of another file, with those that members use, or that are fixed, where this one has them.
func (g *Geometry) pointsWith(other *Geometry, fixed func(point string) bool) []Point {
	used := map[string]bool{g.Wheel.Centre: true}
	for i := range g.Members {
		for _, p := range g.Members[i].Points {
			used[p] = true
		}
	}
	stays := func(name string) bool {
		base, _ := cutOpposite(name)
		return used[base] || fixed(base) || fixed(name)
	}
	var out []Point
	for _, p := range g.Points {
		if stays(p.Name) {
			out = append(out, p)
		} else if k := other.Point(p.Name); k >= 0 {
			out = append(out, other.Points[k])
		}
	}
	for _, p := range other.Points {
		if g.Point(p.Name) < 0 && !stays(p.Name) {
			out = append(out, p)
		}
	}
	slices.SortStableFunc(out, func(a, b Point) int {
		_, x := cutOpposite(a.Name)
		_, y := cutOpposite(b.Name)
		switch {
		case x == y:
			return 0
		case x:
			return 1
		}
		return -1
	})
	return out
}

// again returns a geometry that was put together as reading its own file would, with the places that its parts have.
func (g *Geometry) again(path string) (*Geometry, error) {
	text := g.Encode()
	c, err := ReadGeometry(func(string) ([]byte, error) { return text, nil }, path)
	if problems, ok := err.(Problems); ok {
		return nil, fmt.Errorf("the parts of %s do not go with the points and members of the runs: %s", path, problems[0].Message)
	} else if err != nil {
		return nil, err
	}
	for i := range c.Members {
		c.Members[i].Pos = g.Members[i].Pos
	}
	for i := range c.Solids {
		c.Solids[i].Pos = g.Solids[i].Pos
	}
	for i := range c.Clearances {
		c.Clearances[i].Pos = g.Clearances[i].Pos
	}
	for i := range c.Joints {
		c.Joints[i].Pos = g.Joints[i].Pos
	}
	c.Text, c.TablePath, c.Table = g.Text, g.TablePath, g.Table
	return c, nil
}

// Turning returns what varies with the points of a geometry's solids among those that turn with a body.
func Turning(vary []Vary, g *Geometry) []Vary {
	out := slices.Clone(vary)
	for i := range out {
		v := &out[i]
		if v.Kind != VaryTurn {
			continue
		}
		v.Points = slices.Clone(v.Points)
		for k := range g.Solids {
			for n, p := range g.Solids[k].Points {
				if bareName(g.Solids[k].Bodies[n]) == v.Body && !slices.Contains(v.Points, p) {
					v.Points = append(v.Points, p)
				}
			}
		}
	}
	return out
}

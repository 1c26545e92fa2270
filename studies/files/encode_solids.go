package files

import (
	"strings"

	"trammel/kin"
)

// pairs gathers KEY: VALUE of what is given.
type pairs []string

func (p *pairs) add(given bool, key, value string) {
	if given {
		*p = append(*p, key+": "+value)
	}
}

func (p pairs) String() string { return strings.Join(p, ", ") }

// length writes a length that is given where it is not 0.
func (g *Geometry) length(p *pairs, key string, n int64) { p.add(n != 0, key, g.Units.Format(n)) }

// ends writes the ends of a range that are given.
func (g *Geometry) ends(p *pairs, r Range) {
	if r.Min != nil {
		p.add(true, "min", g.Units.Format(*r.Min))
	}
	if r.Max != nil {
		p.add(true, "max", g.Units.Format(*r.Max))
	}
}

// limits writes how far a member can go and the room that it takes, beginning with a comma; points are its points as
// the file names them.
func (g *Geometry) limits(m *Member, points []string) string {
	var all, length, plunge, tube pairs
	g.ends(&length, m.Length)
	g.length(&length, "stop", m.Stop)
	g.length(&length, "solid", m.Solid)
	all.add(length != nil, "length", "{"+length.String()+"}")
	all.add(m.Twist > 0, "twist", decimal(m.Twist))
	g.ends(&plunge, m.Plunge)
	all.add(plunge != nil, "plunge", "{"+plunge.String()+"}")
	all.add(m.Angle > 0, "angle", decimal(m.Angle))
	if t := m.Tube; t.Length > 0 {
		g.length(&tube, "diameter", t.Diameter)
		g.length(&tube, "length", t.Length)
		g.length(&tube, "rod", t.Rod)
		if t.Reversed {
			tube.add(true, "from", points[1])
		}
		all.add(true, "tube", "{"+tube.String()+"}")
	} else {
		g.length(&all, "tube", t.Diameter)
	}
	if all == nil {
		return ""
	}
	return ", " + all.String()
}

func (g *Geometry) tyreAndRim() string {
	var tyre, rim pairs
	s := ""
	if t := g.Wheel.Tyre; t.Diameter > 0 {
		g.length(&tyre, "diameter", t.Diameter)
		g.length(&tyre, "width", t.Width)
		g.length(&tyre, "round", t.Round)
		s += ", tyre: {" + tyre.String() + "}"
	}
	if r := g.Wheel.Rim; r.Diameter > 0 {
		g.length(&rim, "diameter", r.Diameter)
		g.length(&rim, "width", r.Width)
		g.length(&rim, "wall", r.Wall)
		s += ", rim: {" + rim.String() + "}"
	}
	return s
}

func (g *Geometry) rack() string {
	var p pairs
	p.add(g.Rack != Direction{}, "axis", g.Rack.String())
	g.length(&p, "travel", g.RackTravel)
	return p.String()
}

// encodeSolids writes the sections of what takes room and of what can tilt.
func (g *Geometry) encodeSolids(line func(format string, args ...any)) {
	section := func(any bool, head string) {
		if any {
			line("")
			line("%s", head)
		}
	}
	section(g.Solids != nil, "solids:   # room that something takes")
	for i := range g.Solids {
		line("  %s: {%s}", g.Solids[i].Name, g.solid(&g.Solids[i]))
	}
	section(g.Groups != nil, "groups:")
	for i := range g.Groups {
		line("  %s: [%s]", g.Groups[i].Name, strings.Join(g.Groups[i].Names, ", "))
	}
	section(g.Clearances != nil, "clearances:   # what must not come nearer")
	for i := range g.Clearances {
		c := &g.Clearances[i]
		var p pairs
		p.add(true, "between", "["+lot(c.Between[0])+", "+lot(c.Between[1])+"]")
		p.add(true, "min", g.Units.Format(c.Min))
		g.length(&p, "joint", c.Joint)
		line("  %s: {%s}", c.Name, p)
	}
	section(g.Joints != nil, "joints:   # bearings that can tilt only so far, in deg")
	for i := range g.Joints {
		line("  %s: {%s}", g.Joints[i].Name, joint(&g.Joints[i]))
	}
}

// lot writes one side of a clearance.
func lot(names []string) string {
	if len(names) == 1 {
		return names[0]
	}
	return "[" + strings.Join(names, ", ") + "]"
}

func (g *Geometry) solid(s *Solid) string {
	points := make([]string, len(s.Points))
	for i, p := range s.Points {
		points[i] = p
		if s.Sides != nil {
			points[i] = withSide(s.Sides[i], p)
		}
	}
	var p pairs
	word := map[kin.Shape]string{kin.Tube: "tube", kin.Block: "box", kin.Drum: "cylinder"}[s.Shape]
	if len(points) == 1 {
		p.add(true, "ball", points[0])
	} else {
		p.add(true, word, "["+strings.Join(points, ", ")+"]")
	}
	g.length(&p, "diameter", s.Diameter)
	g.length(&p, "hole", s.Hole)
	p.add(s.Bodies[0] != kin.Frame, "on", s.Bodies[0])
	p.add(s.Once, "once", "true")
	return p.String()
}

func joint(j *Joint) string {
	at := j.Points[0]
	if j.Sides != nil {
		at = withSide(j.Sides[0], at)
	}
	var p pairs
	if j.RodIs == RodEye {
		p.add(true, "rod_end", j.Rod)
		p.add(true, "at", at)
	} else {
		sides := map[RodIs][2]string{NoRod: {j.Bodies[0], j.Bodies[1]}, RodBolt: {j.Bodies[0], j.Rod}, RodHousing: {j.Rod, j.Bodies[0]}}[j.RodIs]
		p.add(true, "spherical", at)
		p.add(true, "housing", sides[0])
		p.add(true, "bolt", sides[1])
	}
	p.add(j.Bolt != Direction{}, "bolt_axis", j.Bolt.String())
	p.add(j.Housing != Direction{}, "housing_axis", j.Housing.String())
	p.add(true, "tilt", decimal(j.Tilt))
	return p.String()
}

package files

import "trammel/kin"

// Names of the solids that no one has to draw: the wheel's tyre and rim, and the ground on which it stands.
const (
	tyreSolid   = "tyre"
	rimSolid    = "rim"
	groundSolid = "ground"
)

// ownSolids are those names in the order in which the solver's members have them.
var ownSolids = []string{tyreSolid, rimSolid, groundSolid}

// Tube is the room that a member takes: a round tube along it. The zero value says that the file gives none.
type Tube struct {
	Diameter int64
	Length   int64 // of a damper's body, from one of its ends; 0 for a tube from end to end
	Rod      int64 // diameter of the rod that comes out of it; 0 leaves the rod out
	Reversed bool  // the body begins at the member's second point
}

// Rim is a wheel's barrel; the zero value says that the file gives none.
type Rim struct {
	Diameter, Width int64 // outside
	Wall            int64 // from there to the inside of the barrel
}

// Tyre is what is round the rim; the zero value says that the file gives none.
type Tyre struct {
	Diameter, Width int64
	Round           int64 // by how much its edges are rounded
}

// Solid is room that something takes, drawn under solids. Points are in the order of the file, Bodies says of each
// what it is on; all are of one body.
type Solid struct {
	Name     string
	Shape    kin.Shape // Tube, of one point for a ball; Block, or Drum
	Points   []string
	Sides    []Side // of Points; nil where none has a side
	Bodies   []string
	Diameter int64 // 0 of a Block
	Hole     int64 // of a Drum: diameter of a hole through it; 0 for none
	Across   bool  // it exists once; every other solid exists on both sides
	Once     bool  // the file says so
	Pos      Position
}

// Group is a name for several solids. A side may stand before each.
type Group struct {
	Name  string
	Names []string
	Pos   Position
}

// Clearance is two lots of solids that must keep a distance. Between has names of solids and groups as the file
// writes them.
type Clearance struct {
	Name    string
	Between [2][]string
	Min     int64 // the least gap; 0 when the file says none
	Joint   int64 // tubes that share a point begin so far from it; 0 where the solver is to choose
	Across  bool  // it exists once; every other clearance exists on both sides
	Pos     Position
}

// RodIs says what the rod of a joint is in it.
type RodIs uint8

// What a rod can be in a joint. Of a spherical bearing it is in line with what it is.
const (
	NoRod      RodIs = iota // a spherical bearing between two bodies
	RodEye                  // a rod end: the bore is square to the rod
	RodBolt                 // of a spherical bearing
	RodHousing              // of a spherical bearing
)

// Joint is a bearing that can tilt only so far. Of a spherical bearing between two bodies Points has its centre, Bodies that of
// the housing and that of the bolt; where a rod is in it Points has its centre and the rod's other end, Bodies those that these are
// on.
type Joint struct {
	Name    string
	Rod     string // the member whose end it is; "" for a spherical bearing between two bodies
	RodIs   RodIs
	Points  []string
	Sides   []Side // of Points; nil where none has a side
	Bodies  []string
	Bolt    Direction // of the bolt, at design; zero: to be found, or the rod's own
	Housing Direction // of the bore of a spherical bearing, at design; zero: to be found, or the rod's own
	Tilt    float64   // deg, the most
	Across  bool      // it exists once
	Pos     Position
}

// Free returns which of a joint's two directions can be left to be found: "bore" or "bolt", and the key that gives it.
func (j *Joint) Free() (what, key string) {
	if j.RodIs == RodEye || j.RodIs == RodHousing {
		return "bolt", "bolt_axis"
	}
	return "bore", "housing_axis"
}

// Part is what the solver knows by a name: a member, a solid, a clearance or a joint.
type Part struct {
	Name   string
	Kind   kin.Kind
	Across bool
	Pos    Position
}

// Parts returns what has a name in the order of the solver's members: first the members, then the solids (those of
// members, those drawn, tyre, rim and ground), then clearances and joints.
func (g *Geometry) Parts() []Part {
	var out []Part
	for i := range g.Members {
		m := &g.Members[i]
		out = append(out, Part{m.Name, m.Kind, m.Across, m.Pos})
	}
	for _, s := range g.takers() {
		out = append(out, Part{s.Name, kin.Solid, s.Across, s.Pos})
	}
	for i := range g.Clearances {
		c := &g.Clearances[i]
		out = append(out, Part{c.Name, kin.Pair, c.Across, c.Pos})
	}
	for i := range g.Joints {
		j := &g.Joints[i]
		out = append(out, Part{j.Name, kin.Joint, j.Across, j.Pos})
	}
	return out
}

// Measured returns the part of which something of that name is measured: a member, a clearance or a joint; ok is false
// where there is none.
func (g *Geometry) Measured(name string) (p Part, ok bool) {
	for _, p := range g.Parts() {
		if p.Name == name && p.Kind != kin.Solid {
			return p, true
		}
	}
	return Part{}, false
}

// Clearance returns the clearance of that name, or nil.
func (g *Geometry) Clearance(name string) *Clearance {
	for i := range g.Clearances {
		if g.Clearances[i].Name == name {
			return &g.Clearances[i]
		}
	}
	return nil
}

// PartLimit is what a part itself sets, in every motion and on both sides of the car.
type PartLimit struct {
	Name     string   // of the limit: damper part length
	Measure  string   // damper.length, without a side
	Min, Max *float64 // in the measure's unit; nil where there is no end
	Across   bool     // the part exists once; every other exists on both sides
	Pos      Position
}

// PartLimits returns the limits that the parts of the geometry set, in the order of Parts.
func (g *Geometry) PartLimits() []PartLimit {
	var out []PartLimit
	for i := range g.Members {
		out = append(out, g.memberLimits(&g.Members[i])...)
	}
	for i := range g.Clearances {
		c := &g.Clearances[i]
		least := g.Units.ToMM(c.Min)
		out = append(out, PartLimit{c.Name + " clearance", c.Name + ".clearance", &least, nil, c.Across, c.Pos})
	}
	for i := range g.Joints {
		j := &g.Joints[i]
		out = append(out, PartLimit{j.Name + " tilt", j.Name + ".tilt", nil, &j.Tilt, j.Across, j.Pos})
	}
	return out
}

func (g *Geometry) memberLimits(m *Member) (out []PartLimit) {
	add := func(what, measure string, least, most *float64) {
		if least != nil || most != nil {
			out = append(out, PartLimit{m.Name + " part " + what, m.Name + "." + measure, least, most, m.Across, m.Pos})
		}
	}
	least := g.inMM(m.Length.Min)
	if least == nil && m.Solid > 0 { // a coil spring ends where its turns touch
		least = g.inMM(&m.Solid)
	}
	add("length", "length", least, g.inMM(m.Length.Max))
	if m.Twist > 0 {
		back := -m.Twist
		add("twist", "twist", &back, &m.Twist)
	}
	add("plunge", "plunge", g.inMM(m.Plunge.Min), g.inMM(m.Plunge.Max))
	if m.Angle > 0 {
		add("inner angle", "joint_angle_inner", nil, &m.Angle)
		add("outer angle", "joint_angle_outer", nil, &m.Angle)
	}
	return out
}

// inMM returns a length in mm; nil of nil.
func (g *Geometry) inMM(n *int64) *float64 {
	if n == nil {
		return nil
	}
	v := g.Units.ToMM(*n)
	return &v
}

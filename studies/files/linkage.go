package files

import (
	"strings"

	"gonum.org/v1/gonum/spatial/r3"

	"trammel/kin"
)

// oppositePrefix begins the name of a point of the other side that is not the mirror image.
const oppositePrefix = "opposite."

// Linkage returns the geometry for the solver: mm, ISO axes from the centre line, left side. A file that draws the
// right side is mirrored as a whole, so that the left and right of its across members change places, and says so
// by Linkage.Right.
func (g *Geometry) Linkage() *kin.Linkage {
	index := make(map[string]int, len(g.Points))
	l := &kin.Linkage{
		Points:   make([]kin.Point, len(g.Points)),
		Members:  make([]kin.Member, len(g.Members)),
		RackAxis: g.rackAxis(),
		Hold:     g.Hold,
		Right:    g.Side == Right,
		Vehicle: kin.Vehicle{
			Wheelbase:  g.Units.ToMM(g.Vehicle.Wheelbase),
			CentreZ:    g.Units.ToMM(g.Vehicle.CentreOfGravity),
			Rear:       g.Vehicle.Rear,
			BrakeShare: g.Vehicle.BrakeShare,
			DriveShare: g.Vehicle.DriveShare,
			Inboard:    g.Vehicle.Inboard,
			LiveAxle:   g.Vehicle.LiveAxle,
		},
	}
	for i, p := range g.Points {
		index[p.Name] = i
		l.Points[i] = kin.Point{Name: p.Name, At: g.ToISO(p.N)}
	}
	l.Opposite = g.opposite(index)
	for i := range g.Members {
		l.Members[i] = g.solverMember(&g.Members[i], index)
	}
	l.Members = append(l.Members, g.solverParts(index)...)
	l.Wheel = kin.Wheel{
		Centre:       index[g.Wheel.Centre],
		Camber:       radians(g.Wheel.Camber),
		Toe:          radians(g.Wheel.Toe),
		LoadedRadius: g.Units.ToMM(g.Wheel.LoadedRadius),
	}
	return l
}

func (g *Geometry) solverMember(m *Member, index map[string]int) kin.Member {
	to := kin.Member{Name: m.Name, Kind: m.Kind, Across: m.Across, Soft: m.Soft, Axis: g.vector(m.Axis), Stroke: g.stroke(m)}
	for _, name := range m.Points {
		to.Points = append(to.Points, index[name])
	}
	for _, s := range m.Sides {
		to.Sides = append(to.Sides, g.solverSide(s))
	}
	for _, b := range m.Bodies {
		side, name := splitSide(b)
		if side != NoSide {
			name = g.solverSide(side).String() + "." + name
		}
		to.Bodies = append(to.Bodies, name)
	}
	return to
}

// stroke returns the lengths between which a member works, in mm; 0 where the file does not say.
func (g *Geometry) stroke(m *Member) kin.Stroke {
	mm := func(n *int64) float64 {
		if n == nil {
			return 0
		}
		return g.Units.ToMM(*n)
	}
	return kin.Stroke{Closed: mm(m.Length.Min), Open: mm(m.Length.Max), Stop: mm(&m.Stop), Solid: mm(&m.Solid)}
}

// solverSide returns where a side of the car is in the solver's linkage.
func (g *Geometry) solverSide(s Side) kin.Side {
	switch s {
	case NoSide:
		return kin.Once
	case g.Side:
		return kin.Left
	}
	return kin.Right
}

// opposite returns for each point the one that takes its place on the other side, -1 for its mirror image;
// nil where the file gives none.
func (g *Geometry) opposite(index map[string]int) []int {
	var out []int
	for i, p := range g.Points {
		name, ok := strings.CutPrefix(p.Name, oppositePrefix)
		if !ok {
			continue
		}
		if out == nil {
			out = make([]int, len(g.Points))
			for k := range out {
				out[k] = -1
			}
		}
		out[index[name]] = i
	}
	return out
}

// rackAxis returns the direction of positive rack travel. It leads to the car's left, and so it does after the
// mirror of a right side, because the solver counts the rack travel of a mirrored linkage the other way.
func (g *Geometry) rackAxis() r3.Vec {
	d := g.vector(g.Rack)
	if d.Y < 0 {
		d = r3.Scale(-1, d)
	}
	return r3.Vec{X: d.X + 0, Y: d.Y, Z: d.Z + 0} // no negative zeros
}

// vector returns a direction of the file as a unit vector in ISO axes, left side; the zero vector where the file
// gives none.
func (g *Geometry) vector(d Direction) r3.Vec {
	if d == (Direction{}) {
		return r3.Vec{}
	}
	var v [3]float64
	for i := range d {
		axis, sign := g.isoAxis(i)
		v[axis] = float64(sign)*d[i] + 0
	}
	return r3.Unit(r3.Vec{X: v[0], Y: v[1], Z: v[2]})
}

// splitSide parts left.rocker into its side and rocker.
func splitSide(s string) (Side, string) {
	if before, after, ok := strings.Cut(s, "."); ok {
		switch before {
		case "left":
			return Left, after
		case "right":
			return Right, after
		}
	}
	return NoSide, s
}

// withSide writes a name with its side, as the file does.
func withSide(s Side, name string) string {
	if s == NoSide {
		return name
	}
	return s.String() + "." + name
}

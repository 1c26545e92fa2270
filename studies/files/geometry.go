package files

import (
	"gonum.org/v1/gonum/spatial/r3"

	"trammel/kin"
)

// Side is a side of the car: the one that the points of a geometry describe, or the one of a point or measure.
type Side uint8

// The two sides, and what has none because it exists once or because nothing was said.
const (
	NoSide Side = iota
	Left
	Right
)

// String returns "left", "right", or "" for NoSide.
func (s Side) String() string { return [...]string{"", "left", "right"}[s] }

// other returns the other side.
func (s Side) other() Side { return [...]Side{NoSide, Right, Left}[s] }

// Geometry is a geometry file as read: names, whole numbers, and where they stand in the text.
// Every N and every other int64 length is in quanta of Units, in the file's own axes.
type Geometry struct {
	Path       string
	Name       string
	Units      Unit
	Axes       Axes
	LeftHanded bool     // the axes are a left-handed set, and the file says so
	Origin     [3]int64 // a point on the car's centre line
	Side       Side
	Points     []Point  // in the order of the file; behind them those of `opposite`, named opposite.NAME
	Members    []Member // in the order of the file; behind them those of `across`
	Solids     []Solid
	Groups     []Group
	Clearances []Clearance
	Joints     []Joint
	Wheel      Wheel
	Rack       Direction // of positive rack_travel, or its reverse: Linkage turns it to the car's left
	RackTravel int64     // how far the rack can go to either side; 0 when the file does not say
	Hold       string    // the member that steering_axis holds; "" where the file leaves it open
	HoldPos    Position  // of steering_axis
	Vehicle    Vehicle
	Travel     Travel
	TravelPos  [3]Position // of bump, droop and rack
	Build      Build
	Notes      Problems // remarks that stop nothing: a point no member uses, a length that was rounded
	Text       []byte   // the file as read
	TablePath  string   // the file of points, when `points:` names one
	Table      []byte   // that file as read
}

// Point is a named point in the file's units and axes.
type Point struct {
	Name    string
	N       [3]int64
	Pos     Position
	InTable bool // Pos is in Geometry.TablePath, and not in the geometry file
}

// Member is a named part. Points and Bodies are in the order that kin.Kind gives. Sides and the sides in the
// names of Bodies, as in left.rocker, are those of the car.
type Member struct {
	Name   string
	Kind   kin.Kind
	Points []string // names of points, without a side
	Sides  []Side   // of Points; nil where none has a side
	Bodies []string
	Across bool      // it exists once; every other member exists on both sides
	Soft   bool      // of a link: it lives on its bushes
	Axis   Direction // of a shaft
	Length Range     // of a damper, spring, strut or distance
	Stop   int64     // of a damper, spring or strut: its length where the bump stop begins; 0 for none
	Solid  int64     // of a spring: its length where its turns touch; 0 when the file does not say
	Twist  float64   // of a torsion bar: deg, the most either way; 0 when the file does not say
	Plunge Range     // of a shaft, from design
	Angle  float64   // of a shaft: deg, the most in either joint; 0 when the file does not say
	Tube   Tube
	Pos    Position
}

// Direction is a vector in the file's axes of any length above 0; the zero value says that the file gives none.
type Direction [3]float64

// Range is a length between two ends, either of which may be open (nil).
type Range struct {
	Min, Max *int64
}

// Wheel is where the wheel stands at design.
type Wheel struct {
	Centre       string
	Camber, Toe  float64 // deg; + top outward, + front inward
	LoadedRadius int64
	Tyre         Tyre
	Rim          Rim
	Pos          Position
}

// Vehicle holds what some measures need beyond the axle. A number that the file does not give is 0.
type Vehicle struct {
	Wheelbase       int64
	CentreOfGravity int64   // height above the ground
	Rear            bool    // the file describes the rear axle
	BrakeShare      float64 // of this axle, 0 to 1
	DriveShare      float64 // of this axle, 0 to 1
	Inboard         bool    // the brakes are on the frame
	LiveAxle        bool    // the axle carries the differential
}

// Travel is how far the default motions go, each counted as a positive length; 0 when the file gives none.
type Travel struct {
	Bump, Droop, Rack int64
}

// Build is what the shop can do; 0 when the file does not say.
type Build struct {
	Error int64 // along each axis, a point may end up this far from where it was drawn
	Step  int64 // the finest adjustment
}

// ToISO turns a point of the file into mm, ISO axes from the centre line, left side.
func (g *Geometry) ToISO(n [3]int64) r3.Vec {
	var v [3]float64
	for i := range n {
		axis, sign := g.isoAxis(i)
		v[axis] = float64(sign) * g.Units.ToMM(n[i]-g.Origin[i])
		if v[axis] == 0 {
			v[axis] = 0 // no negative zeros
		}
	}
	return r3.Vec{X: v[0], Y: v[1], Z: v[2]}
}

// FromISO turns a point in mm, ISO axes, left side into the file's units and axes: the inverse of ToISO.
func (g *Geometry) FromISO(v r3.Vec) [3]float64 {
	in := [3]float64{v.X, v.Y, v.Z}
	var out [3]float64
	for i := range out {
		axis, sign := g.isoAxis(i)
		length := float64(sign) * in[axis]
		if g.Units == Inch {
			length /= 25.4
		}
		out[i] = length + g.Units.Value(g.Origin[i])
	}
	return out
}

// Direction returns the unit vector of the file's +x, +y or +z in ISO axes, left side. It panics for
// any other axis.
func (g *Geometry) Direction(axis byte) r3.Vec {
	if axis < 'x' || axis > 'z' {
		panic("files: no axis " + string(rune(axis)))
	}
	k, sign := g.isoAxis(int(axis - 'x'))
	var v [3]float64
	v[k] = float64(sign)
	return r3.Vec{X: v[0], Y: v[1], Z: v[2]}
}

// isoAxis returns the ISO axis of file axis i and its sign, the mirror of a right side included.
func (g *Geometry) isoAxis(i int) (axis int, sign int64) {
	axis, sign = g.Axes[i].iso()
	if axis == 1 && g.Side == Right {
		sign = -sign
	}
	return axis, sign
}

// Point returns the index of the named point, or -1.
func (g *Geometry) Point(name string) int {
	for i := range g.Points {
		if g.Points[i].Name == name {
			return i
		}
	}
	return -1
}

// Member returns the index of the named member, or -1.
func (g *Geometry) Member(name string) int {
	for i := range g.Members {
		if g.Members[i].Name == name {
			return i
		}
	}
	return -1
}

// WithPoints returns a copy of the geometry whose points stand at n, in the order of Points. It
// panics when the lengths differ.
func (g *Geometry) WithPoints(n [][3]int64) *Geometry {
	if len(n) != len(g.Points) {
		panic("files: WithPoints needs one place for each point")
	}
	c := *g
	c.Points = append([]Point(nil), g.Points...)
	for i := range n {
		c.Points[i].N = n[i]
	}
	return &c
}

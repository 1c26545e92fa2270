// Package kin moves a wheel suspension: it knows where every body, point and wheel goes when the
// wheel travels and the rack moves, how fast, and with what second derivative. It knows no files, no
// scores and no search.
//
// Axes are ISO 8855: x forward, y left, z up. Lengths are millimetres, angles radians; measures are
// given in the units of their table (see Measures). Every linkage is the left side of its axle; one
// that was drawn on the right is mirrored before it comes here and says so by Linkage.Right.
package kin

import "gonum.org/v1/gonum/spatial/r3"

// Names of the bodies that no member makes. Every arm and every rocker is a body too, by its own
// member's name.
const (
	Frame   = "frame"   // fixed to the car
	Rack    = "rack"    // slides along the rack axis by rack_travel
	Upright = "upright" // the wheel carrier
)

// Kind says what a member of a linkage is.
type Kind uint8

// The kinds of member. Points and Bodies of a Member are listed in the order given here.
const (
	Link   Kind = iota + 1 // a bar of fixed length; Points: end, end; Bodies: of each end
	Arm                    // a wishbone; Points: pivot, pivot, ball; Bodies: of the pivots, of the ball
	Rocker                 // a body turning about an axis; Points: two on the axis; Bodies: what carries the axis
	Damper                 // a length that is free; Points: end, end; Bodies: of each end
	Spring                 // the same as Damper
)

// String returns the word the geometry file uses for the kind.
func (k Kind) String() string {
	switch k {
	case Link:
		return "link"
	case Arm:
		return "arm"
	case Rocker:
		return "rocker"
	case Damper:
		return "damper"
	case Spring:
		return "spring"
	}
	return "unknown"
}

// Point is a named hardpoint at its design place, in mm.
type Point struct {
	Name string
	At   r3.Vec
}

// Member is a named part of a linkage. Points are indices into Linkage.Points; Bodies are names of
// bodies: Frame, Rack, Upright or the name of an arm or rocker.
type Member struct {
	Name   string
	Kind   Kind
	Points []int
	Bodies []string
}

// Wheel says where the wheel is and how it stands at design.
type Wheel struct {
	Centre       int     // index into Linkage.Points
	Camber       float64 // rad, + top outward
	Toe          float64 // rad, + front inward
	LoadedRadius float64 // mm, wheel centre to contact centre
}

// Linkage is one corner of an axle at design, as a builder named it. The other corner is its mirror
// image in the plane y = 0.
type Linkage struct {
	Points    []Point
	Members   []Member
	Wheel     Wheel
	RackAxis  r3.Vec  // unit direction in which the rack moves for positive rack_travel; zero means (0, 1, 0); for a mirrored linkage its mirror image reversed
	Right     bool    // the file drew the right side: rack travel, steer and lateral measures change sign, so that a Position is the car's
	Wheelbase float64 // mm; 0 when not given, and then measures that need it have no value
}

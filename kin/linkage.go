// Package kin moves a wheel suspension: it knows where every body, point and wheel goes when the
// wheels travel, the rack moves and the body rolls, how fast, with what second derivative, and how all of
// that follows the places of the points it was drawn from. It knows no files, no scores and no search.
//
// Axes are ISO 8855: x forward, y left, z up. Lengths are millimetres, angles radians; measures are
// given in the units of their table (see Measures). A linkage is drawn on the left side of its axle; one
// that was drawn on the right is mirrored before it comes here and says so by Linkage.Right.
package kin

import "gonum.org/v1/gonum/spatial/r3"

// Names of the bodies that no member makes. Every arm, rocker and centre arm is a body too, by its own
// member's name.
const (
	Frame   = "frame"   // fixed to the car
	Rack    = "rack"    // slides along the rack axis by rack_travel
	Upright = "upright" // the wheel carrier of one side; with an axle, what a kingpin hangs on it
	Axle    = "axle"    // a beam that carries both wheels
)

// Side says which side of the car a point or a body of an across member is on.
type Side uint8

// The sides. Once is what exists a single time: the frame, the rack, the axle, a point of the middle.
const (
	Once Side = iota
	Left
	Right
)

// String returns "left", "right", or "" for Once.
func (s Side) String() string { return [...]string{"", "left", "right"}[s] }

// Kind says what a member of a linkage is.
type Kind uint8

// The kinds of member. Points and Bodies of a Member are listed in the order given here; carrier stands for the
// upright, or for the axle where there is one.
const (
	Link     Kind = iota + 1 // a bar of fixed length; Points: end, end; Bodies: of each end
	Arm                      // a wishbone; Points: pivot, pivot, ball; Bodies: of the pivots, of the ball
	Rocker                   // a body turning about an axis; Points: two on the axis; Bodies: what carries the axis
	Damper                   // a length that is free; Points: end, end; Bodies: of each end
	Spring                   // the same as Damper
	HArm                     // a wishbone with two balls; Points: pivot, pivot, ball, ball; Bodies: of the pivots, of the balls
	Strut                    // a leg that slides and turns in a top joint; Points: top, foot; Bodies: of the top, of the foot (carrier)
	Hinge                    // the carrier turns about an axis; Points: pivot, pivot; Bodies: of the axis, carrier
	Ball                     // a ball joint; Points: its centre; Bodies: frame, carrier
	Kingpin                  // an upright turns on the axle; Points: low, high; Bodies: axle, upright
	Distance                 // a length that is looked at only: a limit strap; Points: end, end; Bodies: of each end
	Shaft                    // a drive shaft; Points: inner joint, outer joint; Bodies: of each
	Bar                      // a torsion bar, across; no Points; Bodies: the two arms or rockers it joins
	Centre                   // an arm fixed to the middle of a bar, across; no Points; Bodies: the bar's name
	Solid                    // room that something takes, as Space says; Points: of its shape; Bodies: of each
	Pair                     // solids that must not touch, as Between says; no Points, no Bodies
	Joint                    // a bearing that can tilt, as Bearing says; Points: its centre, then what Bearing asks for; Bodies: of each
)

var kindWords = [...]string{"unknown", "link", "arm", "rocker", "damper", "spring", "h_arm", "strut", "hinge", "ball_joint",
	"kingpin", "distance", "shaft", "torsion_bar", "centre_arm", "solid", "clearance", "joint"}

// String returns the word the geometry file uses for the kind.
func (k Kind) String() string {
	if int(k) >= len(kindWords) {
		k = 0
	}
	return kindWords[k]
}

// Point is a named hardpoint at its design place, in mm.
type Point struct {
	Name string
	At   r3.Vec
}

// Member is a named part of a linkage. Points are indices into Linkage.Points; Bodies are names of
// bodies: Frame, Rack, Upright, Axle or the name of an arm, rocker or centre arm.
//
// A member that is not Across exists on both sides of the car, and its points and bodies are those of its own
// side. An Across member exists once; Sides says of each of its points on which side it is, and a body that exists
// on both sides is named with its side: "left.rocker".
type Member struct {
	Name   string
	Kind   Kind
	Points []int
	Bodies []string
	Across bool
	Sides  []Side // of Points; nil where none has a side
	Soft   bool   // a Link that lives on its bushes: it constrains nothing, and its bind is measured
	Axis   r3.Vec // Shaft: direction of the axis on which the inner joint turns, on its body; zero means (0, 1, 0)

	Stroke Stroke // of a Damper, Spring, Strut or Distance

	Space   *Space     // of a Solid
	Between [2][]Taken // of a Pair: the gap is the least between any of the one and any of the other
	Leave   float64    // of a Pair, mm: tubes that share a point begin so far from it; 0 is twice the sum of their radii
	Bearing *Bearing   // of a Joint
}

// Stroke says between which lengths, in mm, a part that changes its length can work. They belong to the part, not to the points: what is
// not known is 0, and measures that need it are refused.
type Stroke struct {
	Closed float64 // shortest length: of a damper, fully closed
	Open   float64 // greatest length: of a damper, fully open; of a limit strap, taut
	Stop   float64 // length at which the bump stop is met
	Solid  float64 // length at which a spring's coils touch
}

// Shape says what room a Solid takes.
type Shape uint8

// The shapes of solids.
const (
	Tube   Shape = iota + 1 // round tubes of Radius along the line through its Points, with round ends; a single point makes a ball
	Slider                  // a damper: from its first point a tube of Radius for Length towards the second, and a rod of Rod from there to the second
	Block                   // a box between its two Points, opposite corners, with edges along the axes at design
	Drum                    // a cylinder of Radius between the middles of its flat ends, its two Points; Inner is the radius of a hole through it
	Hoop                    // a ring about the wheel's axis, no Points: Width wide, between Inner and Radius, its middle the wheel's centre: a tyre, a rim's barrel
	Ground                  // all below the ground on which the wheels stand; no Points
)

// Space is the room that a Solid takes, in mm.
type Space struct {
	Shape  Shape
	Radius float64 // outer
	Inner  float64 // Drum, Hoop: of the hole; 0 for none
	Round  float64 // Drum, Hoop: by how much the edges are rounded
	Width  float64 // Hoop
	Length float64 // Slider
	Rod    float64 // Slider; 0 leaves the rod out
}

// Taken names a solid of a Pair: a member's index, and the side of the car it is on. Once is the side of the pair
// itself, or what exists once.
type Taken struct {
	Member int
	Side   Side
}

// Bearing says which two directions a Joint holds to each other. Points of a Joint are its centre and, where a rod is in it, the
// rod's other end; Bodies are those that these are on: of a spherical bearing that of its housing, of a rod end that of the bolt,
// and that of the rod's other end.
type Bearing struct {
	RodEnd   bool   // the rod turns about its own axis as it likes; else a spherical bearing
	InLine   bool   // a spherical bearing whose bolt is a rod, along its own line; which of the two sits in the other makes no difference
	Bolt     r3.Vec // direction of the bolt on its body at design, unless InLine; zero: of a rod end, to be found (Auto)
	BoltBody string // of a spherical bearing that is not InLine: the body that the bolt is on
	Housing  r3.Vec // of a spherical bearing: direction of the bore on its body at design; zero: to be found (Auto)
}

// Auto tells whether the direction that a shop is free to choose is to be found from the motions.
func (b *Bearing) Auto() bool {
	if b.RodEnd {
		return b.Bolt == r3.Vec{}
	}
	return b.Housing == r3.Vec{}
}

// Wheel says where the wheel is and how it stands at design.
type Wheel struct {
	Centre       int     // index into Linkage.Points
	Camber       float64 // rad, + top outward
	Toe          float64 // rad, + front inward
	LoadedRadius float64 // mm, wheel centre to contact centre
}

// Vehicle is what some measures need beyond the axle. What is not known is 0, and then measures that need it
// are refused.
type Vehicle struct {
	Wheelbase  float64 // mm
	CentreZ    float64 // mm: height of the centre of gravity above the ground
	Rear       bool    // the linkage is the rear axle
	BrakeShare float64 // of this axle, 0 to 1
	DriveShare float64 // of this axle, 0 to 1
	Inboard    bool    // the brakes are on the frame
	LiveAxle   bool    // the axle carries the differential
}

// Linkage is an axle at design, as a builder named it: the left side and what ties the two sides. The right side is
// its mirror image in the plane y = 0, but for the points that Opposite lists.
type Linkage struct {
	Points   []Point
	Opposite []int // nil, or for each point the point that takes its place on the right side, -1 for its mirror image
	Members  []Member
	Wheel    Wheel
	RackAxis r3.Vec // direction in which the rack moves for positive rack_travel, + left; zero means (0, 1, 0); for a mirrored linkage its mirror image reversed
	Hold     string // member whose length, or arm whose angle, is held to find the steering axis where no balls show it; "" chooses
	Right    bool   // the file drew the right side: rack travel, steer and lateral measures change sign, so that a Position is the car's
	Vehicle  Vehicle
}

package kin

import (
	"strings"

	"gonum.org/v1/gonum/spatial/r3"
)

// bodies are numbered: the frame, the rack, the carriers of the two sides (an axle is the left one), then the
// followers in closing order.
const (
	bodyFrame = iota
	bodyRack
	bodyLeft
	bodyRight
	bodyFollower // the first follower
)

// maxFollowers is how many bodies that turn about an axis a linkage can hold.
const maxFollowers = 64

// partPoint is a point as one part holds it: the bracket on the frame, the eye of a rod. A design change moves all
// of a point's part points together; a build change moves one.
//
// Parts of the right side of an independent suspension are kept in coordinates mirrored to the left.
type partPoint struct {
	owner  string // body or link
	side   Side
	point  int  // of the linkage
	mirror bool // stands at the mirror image of the point
	flip   bool // kept in mirrored coordinates
}

type rowKind uint8

const (
	rowLength rowKind = iota // F = (|p − c|² − L²)/2L: a bar from a point c of the frame or the rack
	rowPlane                 // F = n·(p − c) − rise·z: a point of the carrier in a plane of the frame, which the right wheel's travel z may lift
	rowSlide                 // F = e·(c − p): a point c of the frame in a plane of the carrier; e turns with it
	rowNode                  // F is a node of the program's graph: the row depends on followers
)

// source says where the numbers of a row come from.
type source uint8

const (
	fromLink   source = iota // length between own points of a link
	fromArm                  // plane square to an arm's axis
	fromRadius               // circle about an arm's axis
	fromBall                 // one of the three planes of a ball joint
	fromHinge                // one of the two planes along a hinge's axis
	fromStrut                // one of the two planes along a strut
	fromHeight               // height of the right wheel's centre on an axle
	fromNode
)

// rowSpec is one scalar constraint on a carrier, before it has numbers.
type rowSpec struct {
	kind   rowKind
	source source
	member int
	side   Side
	at     int    // part point on the carrier
	other  int    // part point at the other end
	own    [2]int // fromLink: the link's own ends; fromHinge: the frame's pivots; fromStrut: the strut's foot and top
	follow int    // fromArm, fromRadius: the arm's follower
	index  int    // which of several planes
	node   ref    // rowNode
}

type closing uint8

const (
	byBall closing = iota // its own ball points where the far one is
	byRod                 // a rod of fixed length joins it to the far point
	byMean                // it turns by the mean of a bar's ends
)

// followerSpec is a body on an axis whose angle a ball, a rod or a bar decides.
type followerSpec struct {
	member int
	side   Side
	flip   bool   // kept in mirrored coordinates
	base   int    // the body that carries its axis
	axis   [2]int // part points of the base
	pivots [2]int // its own part points there
	how    closing
	own    int    // own part point: the ball, or the rod's end
	far    ref    // place of the far end in the base's coordinates
	farAt  int    // part point of the far end
	rod    int    // member that closes it
	ends   [2]int // own part points of the rod, of the near and the far end
	bar    int    // byMean
}

// barSpec is a torsion bar: the followers at its ends, the first of which gives the sense.
type barSpec struct {
	member int
	ends   [2]int
}

// carrierSpec is a body that is solved: five rows and the height that leads it.
type carrierSpec struct {
	rows  []rowSpec // five
	lead  ref       // node of the left wheel centre's height where it is not the carrier's own point; none
	nodes bool      // some rows are nodes
	plan  plan      // of the nodes among its rows and of lead
}

// wheelSpec is where a wheel is: its body and the part point of its centre.
type wheelSpec struct {
	body     int
	centre   int
	declared int // part point whose height stays as the drawing has it when parts err
}

// Program is a compiled linkage: what constrains what, in which order followers close, without any
// coordinates. It is immutable; States hold the numbers.
type Program struct {
	linkage    Linkage
	parts      []partPoint
	graph      *graph        // of the rows and followers; sweeps grow copies of it
	carriers   []carrierSpec // one for an axle, two otherwise
	followers  []followerSpec
	bars       []barSpec
	wheels     [2]wheelSpec
	closes     []ref // by follower
	instances  []instance
	axle       bool // one carrier holds both wheels
	symmetric  bool // the right side is the mirror image of the left
	steered    bool // something stands on the rack
	directions []direction
	rods       [][2]int // own ends of links that nodes ask the length of
	steering   [2]steeringSpec
	solids     []solidSpec
	pairs      []pairSpec
}

// instance is a member on one side of the car.
type instance struct {
	member int
	side   Side
	follow int      // its follower, -1
	bar    int      // its bar, -1
	ends   [2]end   // of what has two ends
	works  works    // on what turns about an axis
	rod    int      // its own length, of a soft link or a shaft
	pair   int      // its pair of solids, -1
	tilt   tiltSpec // of a joint; of a shaft its inner axis alone
}

// end is a place on a body: part point and body. flip tells in which coordinates.
type end struct {
	body, part int
	flip       bool
}

// Points returns the design points of the program's linkage, in mm: a start for SetDesign.
func (p *Program) Points() []r3.Vec {
	out := make([]r3.Vec, len(p.linkage.Points))
	for i, q := range p.linkage.Points {
		out[i] = q.At
	}
	return out
}

// Symmetric tells whether the right side is the mirror image of the left and moves without it: not where points stand
// opposite in places of their own, where an axle carries both wheels, or where what is across holds an upright or turns a
// body of one side.
func (p *Program) Symmetric() bool { return p.symmetric }

// Steered tells whether something stands on the rack.
func (p *Program) Steered() bool { return p.steered }

// Never says why a measure, or a part of a sum or difference, has no value anywhere in a way to move, and where it has, in
// a sentence that goes on from its name and has no full stop; "" where it may have one.
func (p *Program) Never(c *Column, w Wheels, rolls bool) string {
	name, alone := c.Measure.Name, w != BothWheels
	centre := name == "roll_centre_height" || name == "roll_centre_lateral"
	const inRoll = "; ask it in a motion with body_roll, or at place: {body_roll: 0}"
	switch {
	case c.Measure.Unit == DegreePerDegree && !rolls:
		return "has a value only where the body rolls" + inRoll
	case centre && p.axle && !rolls:
		return "has a value only where the body rolls, for in heave a beam axle only shifts" + inRoll
	case centre && alone:
		return "has no value where one wheel travels alone; ask it in a motion of both wheels"
	case strings.HasPrefix(name, "anti_") && p.axle && (rolls || alone):
		return "of a beam axle has a value only where both wheels travel alike; ask it in a motion of both wheels without body_roll"
	case c.plus != nil:
		return p.Never(c.plus, w, rolls)
	}
	return ""
}

// IdleHold says why the member that is to be held to find the steering axis has no say in it, in a sentence without its
// full stop; "" where it has, or where none is named.
func (p *Program) IdleHold() string {
	const leave = ", so leave steering_axis out"
	switch hold, how := p.linkage.Hold, p.steering[0].how; {
	case hold == "":
		return ""
	case how == axisLine:
		return "holding " + hold + " changes nothing, because two joints show the steering axis" + leave
	case p.axle:
		return "holding " + hold + " changes nothing, because an axle without kingpins does not steer" + leave
	case !p.steered:
		return "holding " + hold + " changes nothing, because no link is on the rack and nothing steers" + leave + ", or put the tie rod's inner end on the rack: ends: [rack, upright]"
	}
	return ""
}

// axisHow says how a steering axis is found.
type axisHow uint8

const (
	axisNone    axisHow = iota
	axisLine            // through two places
	axisInstant         // of the carrier's motion with the rack
)

// steeringSpec is the steering axis of a side.
type steeringSpec struct {
	how    axisHow
	ends   [2]end // of the line, or of what keeps its length
	follow int    // the arm that keeps its angle, -1
}

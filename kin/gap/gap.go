// Package gap measures how far solids are from one another: tubes, boxes, rings (a tyre, a rim's barrel, a disc) and the
// ground. The gap is signed, negative when two solids overlap, and has its exact derivative with the places that hold them.
//
// Far pairs are best left out first: where the balls around two solids ([Solid.Ball]) are apart, the solids are at least as far.
//
// Everything is in mm; directions are unit vectors. Nothing allocates.
package gap

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// Kind is what a solid is.
type Kind uint8

// The kinds of solids. Solid says what the places of each mean.
const (
	Capsule Kind = iota
	Box
	Ring
	Plane
)

// Places returns how many places of Solid.At hold a solid of this kind.
func (k Kind) Places() int {
	switch k {
	case Box:
		return 5
	default:
		return 2
	}
}

// String returns the kind in a word.
func (k Kind) String() string {
	switch k {
	case Capsule:
		return "capsule"
	case Box:
		return "box"
	case Ring:
		return "ring"
	case Plane:
		return "plane"
	}
	return "unknown solid"
}

// Solid is a solid where it stands. At holds its places (mm) and directions (unit vectors):
//
//   - Capsule: At[0] and At[1] are the ends of its core, R is its radius. Ends at one place make a sphere, R = 0 a line or a point.
//   - Box: At[0] and At[1] are two opposite corners, At[2], At[3], At[4] the directions of its edges, square to one another
//     and turning with it.
//   - Ring: what a rectangle makes that turns about the line At[0]-At[1]. It stands between the planes square to that line through
//     both ends, from radius In to radius R; its edges are rounded by Round. In = 0 is a solid cylinder, a thin ring the barrel of a
//     rim, one with rounded edges a tyre, and with Round half its width a torus.
//   - Plane: all below the plane through At[0] whose normal is At[1].
//
// Check says which solids make sense; Between and Slopes take only those.
type Solid struct {
	Kind         Kind
	At           [5]r3.Vec
	R, In, Round float64
}

// Touch is where two solids are nearest.
type Touch struct {
	// Gap is the signed gap in mm. Separate solids: the least distance. Overlapping ones: negative, continuous through 0.
	//
	//   - Capsules: the distance of the cores less both radii, so never below minus their sum.
	//   - Capsule or box with a box or a plane: minus the shortest way that moves them apart; the radius of a
	//     capsule is added to the way of its core.
	//   - Capsule with ring: minus the depth below the ring's surface of the deepest point of the core, less the radius. A tube right through
	//     a wall is as deep as the wall has it, wherever it goes, so its gradient may vanish until it nears an edge.
	//   - Box or ring with a ring: minus the depth of a place of an edge that is deepest around, in the other. It is looked for from the deepest of
	//     a few places of every circle and of the corners of a box, so that another place may be deeper, and the depth may step from one to another as
	//     the solids move. Where no edge reaches the other, minus the shortest way along an axis or an edge of either, or square to two of
	//     them, that moves them apart; where two outer cylinders cross, what their axes are nearer than both radii.
	Gap float64
	// A and B are the nearest points of the two surfaces, N the unit vector from A to B. In an overlap N still points out of the
	// first solid into the second: B = A + Gap·N always.
	A, B, N r3.Vec

	// On a ridge the deepest point of one solid is as far from two surfaces of the other. The derivative mixes those of both:
	// (1 - mix) of the first, mix of the second, whose nearest points are in side. Second tells that the deepest point is of the second solid.
	mix    float64
	side   witness
	second bool
}

// witness is a pair of nearest points and the direction between them.
type witness struct {
	a, b, n r3.Vec
}

// Between sets t to where a and b are nearest. Two planes have no gap to speak of: they either meet or are parallel, so
// Between reports minus infinity at their places. Where one of a solid's numbers is NaN, so is the gap.
func Between(a, b *Solid, t *Touch) {
	if a.Kind|b.Kind == Capsule {
		capsules(a, b, t)
		return
	}
	// Comparisons would pass over what is not a number.
	if x := a.sum() + b.sum(); x-x != 0 {
		none := r3.Scale(math.NaN(), r3.Vec{X: 1, Y: 1, Z: 1})
		*t = Touch{Gap: math.NaN(), A: none, B: none, N: none}
		return
	}
	if a.Kind > b.Kind {
		between(b, a, t)
		t.flip()
		return
	}
	between(a, b, t)
}

// between measures a pair in the order of the kinds.
func between(a, b *Solid, t *Touch) {
	t.mix = 0
	switch a.Kind {
	case Capsule:
		switch b.Kind {
		case Box:
			capsuleBox(a, b, t)
		case Ring:
			capsuleRing(a, b, t)
		default:
			capsulePlane(a, b, t)
		}
	case Box:
		switch b.Kind {
		case Box:
			boxes(a, b, t)
		case Ring:
			boxRing(a, b, t)
		default:
			boxPlane(a, b, t)
		}
	case Ring:
		if b.Kind == Ring {
			rings(a, b, t)
		} else {
			ringPlane(a, b, t)
		}
	default:
		t.Gap, t.A, t.B, t.N = math.Inf(-1), a.At[0], b.At[0], r3.Scale(1, a.At[1])
	}
}

// flip exchanges the two solids of a touch.
func (t *Touch) flip() {
	t.A, t.B, t.N = t.B, t.A, r3.Scale(-1, t.N)
	if t.mix != 0 {
		s := &t.side
		s.a, s.b, s.n = s.b, s.a, r3.Scale(-1, s.n)
		t.second = !t.second
	}
}

// sum adds all numbers that its kind has: finite, but for sizes beyond all bounds, if all of them are.
func (s *Solid) sum() float64 {
	p := r3.Add(s.At[0], s.At[1])
	x := 0.0
	switch s.Kind {
	case Capsule:
		x = s.R
	case Box:
		p = r3.Add(p, r3.Add(r3.Add(s.At[2], s.At[3]), s.At[4]))
	case Ring:
		x = s.R + s.In + s.Round
	}
	return x + p.X + p.Y + p.Z
}

// Ball returns a ball around the solid: its centre and radius in mm, infinite for a plane. Where the distance of two balls' centres less both
// radii is positive, the gap of their solids is no less. Where one of the solid's
// numbers is NaN, so is the radius.
func (s *Solid) Ball() (centre r3.Vec, radius float64) {
	if x := s.sum(); x-x != 0 {
		return s.At[0], math.NaN()
	}
	if s.Kind == Plane {
		return s.At[0], math.Inf(1)
	}
	half := r3.Scale(0.5, r3.Sub(s.At[1], s.At[0]))
	centre = r3.Add(s.At[0], half)
	hh := r3.Dot(half, half)
	switch s.Kind {
	case Capsule:
		return centre, math.Sqrt(hh) + s.R
	case Ring:
		return centre, math.Sqrt(hh + s.R*s.R)
	}
	return centre, math.Sqrt(hh)
}

// length returns |v|.
func length(v r3.Vec) float64 { return math.Sqrt(v.X*v.X + v.Y*v.Y + v.Z*v.Z) }

// axpy returns p + f·v.
func axpy(p r3.Vec, f float64, v r3.Vec) r3.Vec {
	return r3.Vec{X: p.X + f*v.X, Y: p.Y + f*v.Y, Z: p.Z + f*v.Z}
}

// within returns x, or the nearest of 0 and 1 outside them.
func within(x float64) float64 {
	if x > 1 {
		return 1
	}
	if x > 0 {
		return x
	}
	return 0
}

// square returns a unit vector square to v, which may have any length; along x if v has none.
func square(v r3.Vec) r3.Vec {
	x, y, z := math.Abs(v.X), math.Abs(v.Y), math.Abs(v.Z)
	// Crossing with the axis that v is farthest from leaves at least 0.8 of its length.
	w := r3.Vec{Y: v.Z, Z: -v.Y}
	if y < x && y <= z {
		w = r3.Vec{X: -v.Z, Z: v.X}
	} else if z < x {
		w = r3.Vec{X: v.Y, Y: -v.X}
	}
	if l := length(w); l > 0 {
		return r3.Scale(1/l, w)
	}
	return r3.Vec{X: 1}
}

package gap

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// farthest is how far from the origin a solid may be, and how large, in mm: 100 km.
const farthest = 1e8

// Check returns nil for a solid that Between takes, or says what is wrong with it. A capsule may have no length and no radius, a box
// no width in any direction, and a ring's section may be a line or a point; a ring needs two ends apart and a radius.
func (s *Solid) Check() error {
	if s.Kind > Plane {
		return fmt.Errorf("a solid is a capsule, a box, a ring or a plane; this one is of kind %d", s.Kind)
	}
	for i := range s.Kind.Places() {
		for _, x := range [3]float64{s.At[i].X, s.At[i].Y, s.At[i].Z} {
			if !(math.Abs(x) <= farthest) {
				return fmt.Errorf("place %d of the %v has a coordinate of %v; it must be within %g mm of the origin", i+1, s.Kind, x, farthest)
			}
		}
	}
	switch s.Kind {
	case Capsule:
		return s.size("radius", s.R)
	case Box:
		return s.checkBox()
	case Ring:
		return s.checkRing()
	}
	return s.unit(1)
}

// size refuses a size that is negative or not a number.
func (s *Solid) size(name string, x float64) error {
	if !(x >= 0 && x <= farthest) {
		return fmt.Errorf("the %s of the %v is %v mm; it must be from 0 to %g mm", name, s.Kind, x, farthest)
	}
	return nil
}

// unit refuses a direction whose length is not 1.
func (s *Solid) unit(i int) error {
	if l := length(s.At[i]); math.Abs(l-1) > 1e-6 {
		return fmt.Errorf("a direction of the %v (place %d) has the length %v; it must be 1", s.Kind, i+1, l)
	}
	return nil
}

func (s *Solid) checkBox() error {
	for i := 2; i < 5; i++ {
		if err := s.unit(i); err != nil {
			return err
		}
		for j := 2; j < i; j++ {
			if c := r3.Dot(s.At[i], s.At[j]); math.Abs(c) > 1e-6 {
				return fmt.Errorf("the edge directions %d and %d of the box are %.3g deg from square; they must be square to one another",
					j-1, i-1, math.Abs(math.Asin(min(max(c, -1), 1)))*180/math.Pi)
			}
		}
	}
	return nil
}

func (s *Solid) checkRing() error {
	for _, x := range []struct {
		name string
		size float64
	}{{"radius", s.R}, {"inner radius", s.In}, {"rounding", s.Round}} {
		if err := s.size(x.name, x.size); err != nil {
			return err
		}
	}
	l := length(r3.Sub(s.At[1], s.At[0]))
	// Rounding to half of a size is meant to fill it; digits lost on the way are forgiven.
	const most = 0.5 * (1 + 1e-9)
	switch {
	case s.R == 0:
		return fmt.Errorf("the ring has no radius; give it one, or make it a capsule")
	case l == 0:
		return fmt.Errorf("both ends of the ring are at one place, so it has no axis; move one along the axis, if only a little")
	case s.In > s.R:
		return fmt.Errorf("the inner radius of the ring, %v mm, is greater than the outer, %v mm; it must be less", s.In, s.R)
	case s.Round > most*l:
		return fmt.Errorf("the edges of the ring are rounded by %v mm, but it is %v mm wide; half the width is the most", s.Round, l)
	case s.In > 0 && s.Round > most*(s.R-s.In):
		return fmt.Errorf("the edges of the ring are rounded by %v mm, but it is %v mm thick; half of that is the most", s.Round, s.R-s.In)
	case s.Round > s.R:
		return fmt.Errorf("the edges of the ring are rounded by %v mm, more than its radius of %v mm", s.Round, s.R)
	}
	return nil
}

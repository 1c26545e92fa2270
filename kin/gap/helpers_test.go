package gap_test

import (
	"fmt"
	"math"
	"math/rand/v2"

	"trammel/kin/gap"

	"gonum.org/v1/gonum/spatial/r3"
)

// draw makes solids of a car's sizes from a source of its own.
type draw struct{ *rand.Rand }

func newDraw(seed uint64) draw { return draw{rand.New(rand.NewPCG(seed, 29))} }

func (d draw) between(lo, hi float64) float64 { return lo + (hi-lo)*d.Float64() }

func (d draw) vec(size float64) r3.Vec {
	return r3.Vec{X: d.between(-size, size), Y: d.between(-size, size), Z: d.between(-size, size)}
}

// direction is even over the sphere.
func (d draw) direction() r3.Vec {
	return r3.Unit(r3.Vec{X: d.NormFloat64(), Y: d.NormFloat64(), Z: d.NormFloat64()})
}

// triad returns three directions square to one another.
func (d draw) triad() (u [3]r3.Vec) {
	u[0] = d.direction()
	u[1] = r3.Unit(r3.Cross(u[0], d.direction()))
	u[2] = r3.Cross(u[0], u[1])
	return u
}

// solid draws a solid of a kind whose middle is within size of the origin.
func (d draw) solid(k gap.Kind, size float64) *gap.Solid {
	s := &gap.Solid{Kind: k}
	c := d.vec(size)
	switch k {
	case gap.Capsule:
		h := r3.Scale(d.between(1, 250), d.direction())
		s.At[0], s.At[1], s.R = r3.Sub(c, h), r3.Add(c, h), d.between(0, 30)
	case gap.Box:
		u := d.triad()
		copy(s.At[2:], u[:])
		var h r3.Vec
		for _, e := range u {
			h = r3.Add(h, r3.Scale(d.between(-150, 150), e))
		}
		s.At[0], s.At[1] = r3.Sub(c, h), r3.Add(c, h)
	case gap.Ring:
		l := d.between(2, 300)
		h := r3.Scale(l/2, d.direction())
		s.At[0], s.At[1] = r3.Sub(c, h), r3.Add(c, h)
		s.R = d.between(20, 350)
		thick := s.R
		if d.IntN(3) > 0 {
			s.In = s.R * d.between(0.1, 0.98)
			thick = s.R - s.In
		}
		switch d.IntN(3) {
		case 0:
			s.Round = min(thick, l) / 2
		case 1:
			s.Round = min(thick, l) / 2 * d.Float64()
		}
	case gap.Plane:
		s.At[0], s.At[1] = c, d.direction()
	}
	return s
}

// pairs are the pairs that have a gap, in the order of the kinds.
func pairs() (all [][2]gap.Kind) {
	for a := gap.Capsule; a <= gap.Plane; a++ {
		for b := a; b <= gap.Plane; b++ {
			if a != gap.Plane {
				all = append(all, [2]gap.Kind{a, b})
			}
		}
	}
	return all
}

func name(p [2]gap.Kind) string { return fmt.Sprintf("%v-%v", p[0], p[1]) }

// close tells whether two numbers agree to tol of their size, or of one mm.
func near(a, b, tol float64) bool {
	return math.Abs(a-b) <= tol*max(1, math.Abs(a), math.Abs(b))
}

// ballGap is the lower bound of the gap that the balls around two solids give.
func ballGap(a, b *gap.Solid) float64 {
	ca, ra := a.Ball()
	cb, rb := b.Ball()
	return r3.Norm(r3.Sub(ca, cb)) - ra - rb
}

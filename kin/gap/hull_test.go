package gap_test

import (
	"math"
	"testing"

	"trammel/kin/gap"

	"gonum.org/v1/gonum/spatial/r3"
)

// TestQuickWays compares the quick ways with the search, which knows nothing of them: gap, place and direction, for pairs anywhere, for such as are small
// beside one another, and for what is in a bore. That both are right is for the tests against projections to say.
func TestQuickWays(t *testing.T) {
	for _, kind := range []gap.Kind{gap.Box, gap.Ring} {
		for way, least := range map[string]float64{"anywhere": 0.5, "square": 0.3, "in a bore": 0.3} {
			d := newDraw(41)
			quick, apart := 0, 0
			for i := range cases() / 2 {
				a, b := d.solid(kind, 350), d.solid(gap.Ring, 150)
				switch way {
				case "square": // axes along one another, or nearly so
					b = alongY(b, d.between(-1, 1)*[4]float64{0, 1e-12, 1e-7, 1e-3}[i%4])
					if kind == gap.Ring {
						a = alongY(a, 0)
					} else {
						a.At[2], a.At[3], a.At[4] = r3.Vec{X: 1}, r3.Vec{Y: 1}, r3.Vec{Z: 1}
					}
				case "in a bore":
					a, b = inBore(d, kind, i)
				}
				var slow, fast gap.Touch
				answers := gap.Search(a, b, &slow, &fast)
				if slow.Gap >= 0 {
					apart++
				}
				if !answers {
					continue
				}
				quick++
				if core := fast.Gap + a.Round + b.Round; core < 0 {
					// The ways down may end in different places.
					if slow.Gap+a.Round+b.Round >= 0 {
						t.Fatalf("%v %s, case %d: gap %v, by the search %v\n%v\n%v", kind, way, i, fast.Gap, slow.Gap, a, b)
					}
					continue
				}
				if !near(slow.Gap, fast.Gap, 1e-9) {
					t.Fatalf("%v %s, case %d: gap %v, by the search %v\n%v\n%v", kind, way, i, fast.Gap, slow.Gap, a, b)
				}
				checkPoints(t, a, b, &fast)
			}
			t.Logf("%v %s: %d of %d that are apart", kind, way, quick, apart)
			if float64(quick) < least*float64(apart) {
				t.Errorf("%v %s: the quick ways answer in %d of %d cases, fewer than they should", kind, way, quick, apart)
			}
		}
	}
}

// alongY turns a ring's axis to y, but for an angle about x.
func alongY(s *gap.Solid, angle float64) *gap.Solid {
	m := *s
	c := r3.Scale(0.5, r3.Add(s.At[0], s.At[1]))
	h := r3.Norm(r3.Sub(s.At[1], s.At[0])) / 2
	sin, cos := math.Sincos(angle)
	v := r3.Vec{Y: h * cos, Z: h * sin}
	m.At[0], m.At[1] = r3.Sub(c, v), r3.Add(c, v)
	return &m
}

// inBore draws a rim, and a disc or a box within its barrel, every third on its axis to the last digits or nearly so.
func inBore(d draw, kind gap.Kind, i int) (a, b *gap.Solid) {
	b = ring(-150, 150, 190, 195, 0)
	if kind == gap.Ring {
		h := d.between(2, 10)
		a = ring(-h, h, 0, d.between(80, 140), h*d.Float64())
	} else {
		a = box(-d.between(1, 60), -d.between(1, 60), -d.between(1, 60), d.between(1, 60), d.between(1, 60), d.between(1, 60))
	}
	size := [3]float64{0, 1e-9, 1}[i%3]
	turn, by := r3.NewRotation(0.4*size*d.Float64(), d.direction()), r3.Scale(size, d.vec(25))
	return mapped(a, func(v r3.Vec) r3.Vec { return r3.Add(turn.Rotate(v), by) }, turn.Rotate), b
}

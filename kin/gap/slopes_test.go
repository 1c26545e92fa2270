package gap_test

import (
	"math"
	"testing"

	"trammel/kin/gap"
	"trammel/kin/kintest"

	"gonum.org/v1/gonum/spatial/r3"
)

// ways returns the ways in which a solid may move that keep its directions: velocities of its places.
func ways(s *gap.Solid) (all [][5]r3.Vec) {
	axes := [3]r3.Vec{{X: 1}, {Y: 1}, {Z: 1}}
	places := 2
	// A plane has one place. A ring whose rounding fills its width cannot become narrower, so both ends move together.
	full := s.Kind == gap.Ring && s.Round > 0.499*r3.Norm(r3.Sub(s.At[1], s.At[0]))
	if s.Kind == gap.Plane || full {
		places = 1
	}
	for i := range places {
		for _, e := range axes {
			var v [5]r3.Vec
			v[i] = e
			if full {
				v[1] = e
			}
			all = append(all, v)
		}
	}
	// Turns about the origin, in rad/100 so that they count about as much as a mm.
	for _, e := range axes {
		w := r3.Scale(0.01, e)
		var v [5]r3.Vec
		for i := range s.Kind.Places() {
			v[i] = r3.Cross(w, s.At[i])
		}
		all = append(all, v)
	}
	return all
}

// turns are the last three of ways.
const turns = 3

// move returns the solid after a way was followed for h; along arcs if it is a turn.
func move(s *gap.Solid, v *[5]r3.Vec, way, of int, h float64) *gap.Solid {
	m := *s
	if way < of-turns {
		for i := range m.At {
			m.At[i] = r3.Add(m.At[i], r3.Scale(h, v[i]))
		}
		return &m
	}
	axis := [3]r3.Vec{{X: 1}, {Y: 1}, {Z: 1}}[way-of+turns]
	turn := r3.NewRotation(0.01*h, axis)
	for i := range s.Kind.Places() {
		m.At[i] = turn.Rotate(m.At[i])
	}
	return &m
}

// TestSlopesAgainstDifferences probes the derivative of the gap with every place of both solids, apart and in one another. Where differences
// doubt themselves, because the nearest points leap or a surface ends nearby, nothing is compared; that must be rare.
func TestSlopesAgainstDifferences(t *testing.T) {
	for _, p := range append(pairs(), [2]gap.Kind{gap.Ring, gap.Box}, [2]gap.Kind{gap.Plane, gap.Capsule}) {
		t.Run(name(p), func(t *testing.T) {
			d := newDraw(11)
			tally := [2]int{}
			doubts := [2]int{}
			var touch gap.Touch
			for n := 0; n < 600; n++ {
				a, b := d.solid(p[0], 250), d.solid(p[1], 150)
				gap.Between(a, b, &touch)
				in := 0
				if touch.Gap < 0 {
					in = 1
				}
				var g [2][5]r3.Vec
				touch.Slopes(a, b, &g[0], &g[1])
				for side, s := range []*gap.Solid{a, b} {
					all := ways(s)
					for way, v := range all {
						want, doubt := kintest.Slope(func(h float64) float64 {
							var moved gap.Touch
							m := move(s, &v, way, len(all), h)
							if side == 0 {
								gap.Between(m, b, &moved)
							} else {
								gap.Between(a, m, &moved)
							}
							return moved.Gap
						}, 0, 0.01)
						tally[in]++
						if doubt > 1e-8 {
							doubts[in]++
							continue
						}
						got := 0.0
						for i := range v {
							got += r3.Dot(g[side][i], v[i])
						}
						if math.Abs(got-want) > 1e-6*max(1, math.Abs(want)) {
							t.Fatalf("case %d: slope of the gap %v with way %d of the %v: %v, by differences %v (doubt %v)\n%v\n%v",
								n, touch.Gap, way, s.Kind, got, want, doubt, a, b)
						}
					}
				}
			}
			t.Logf("apart %d, %d doubtful; overlapping %d, %d doubtful", tally[0], doubts[0], tally[1], doubts[1])
			for in, n := range tally {
				if n < 100 || doubts[in]*25 > n {
					t.Errorf("%d slopes compared, %d doubtful", n, doubts[in])
				}
			}
		})
	}
}

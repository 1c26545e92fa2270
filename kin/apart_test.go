package kin

import (
	"math"
	"math/rand/v2"
	"testing"

	"trammel/kin/gap"

	"gonum.org/v1/gonum/spatial/r3"
)

// TestPairsLeftOut: of tubes, rings and boxes that drift and turn, each in its own way and at a pace that changes, the least gap is that of all pairs measured one by
// one, to the last bit.
func TestPairsLeftOut(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 3))
	draw := func(size float64) r3.Vec {
		return r3.Vec{X: size * random.NormFloat64(), Y: size * random.NormFloat64(), Z: size * random.NormFloat64()}
	}
	measured, met := 0, 0
	for range 150 {
		kinds := []gap.Kind{gap.Capsule, gap.Capsule, gap.Capsule, gap.Ring, gap.Box, gap.Capsule, gap.Capsule, gap.Ring, gap.Box}
		var spec gapSpec
		s := &State{}
		for _, kind := range kinds {
			q := piece{kind: kind, r: 15}
			if kind == gap.Ring {
				q.r, q.in, q.round = 90, 60, 5
			}
			for k := range q.places() {
				q.at[k] = ref(len(s.vec))
				s.vec = append(s.vec, vjet{})
			}
			spec.pieces = append(spec.pieces, q)
		}
		for i := range int32(5) {
			for k := range int32(4) {
				spec.pairs = append(spec.pairs, [2]int32{i, 5 + k})
			}
		}
		// Each piece is given in its own coordinates, which stand somewhere and turn.
		own := make([]vjet, len(kinds))
		stands, turned := make([]r3.Vec, len(kinds)), make([][3]r3.Vec, len(kinds))
		for i, kind := range kinds {
			stands[i], turned[i] = draw(220), [3]r3.Vec{{X: 1}, {Y: 1}, {Z: 1}}
			own[i] = vjet{draw(50), draw(50)}
			if kind == gap.Box {
				own[i] = vjet{{X: -40, Y: -20, Z: -10}, {X: 40, Y: 20, Z: 10}, {X: 1}, {Y: 1}, {Z: 1}}
			}
		}
		drift, spin := make([]r3.Vec, len(kinds)), make([]r3.Vec, len(kinds))
		for i := range kinds {
			switch random.IntN(3) {
			case 0:
				drift[i] = draw(3)
			case 1:
				spin[i] = draw(0.05)
			}
		}
		s.growGaps(&Sweep{graph: &graph{gaps: []gapSpec{spec}}})
		for step := range 100 {
			if step%25 == 0 {
				for i := range kinds {
					stands[i] = r3.Scale(0.9, stands[i])
					drift[i] = r3.Scale(-1, drift[i])
				}
			}
			pace := math.Pow(10, -1.5+2*random.Float64())
			for i := range kinds {
				stands[i] = r3.Add(stands[i], r3.Scale(pace, drift[i]))
				if spin[i] != (r3.Vec{}) {
					turn := r3.NewRotation(pace*r3.Norm(spin[i]), spin[i])
					for k := range turned[i] {
						turned[i][k] = r3.Unit(turn.Rotate(turned[i][k]))
					}
				}
				for k, r := range spec.pieces[i].places() {
					u := own[i][k]
					v := r3.Add(r3.Add(r3.Scale(u.X, turned[i][0]), r3.Scale(u.Y, turned[i][1])), r3.Scale(u.Z, turned[i][2]))
					if k < 2 {
						v = r3.Add(v, stands[i])
					}
					s.vec[r][0] = v
				}
			}
			var o jet
			s.leastGap(0, &o, levelValue)
			at := &s.touches[0]
			least := math.Inf(1)
			var touch gap.Touch
			for _, q := range spec.pairs {
				gap.Between(&at.solid[q[0]], &at.solid[q[1]], &touch)
				least = math.Min(least, touch.Gap)
			}
			if o[0] != least {
				t.Fatalf("the least gap is %v, but a pair is %v apart", o[0], least)
			}
			if at.others > max(0, least)+beyondRounding {
				measured++
			}
			if least < 0 {
				met++
			}
		}
	}
	t.Logf("%d of 15000 had nothing near the nearest pair, %d met", measured, met)
	if measured < 3000 || met < 3000 || met > 12000 {
		t.Errorf("%d of 15000 had nothing near the nearest pair, %d met: the test does not see both", measured, met)
	}
}

// TestPairsThatMeet: of two pairs of balls one keeps its gap, while the balls of the other come to meet each other.
func TestPairsThatMeet(t *testing.T) {
	spec := gapSpec{pairs: [][2]int32{{0, 1}, {2, 3}}}
	for i := range ref(4) {
		spec.pieces = append(spec.pieces, piece{kind: gap.Capsule, at: [5]ref{i, i}, r: 1})
	}
	s := &State{vec: make([]vjet, 4)}
	s.growGaps(&Sweep{graph: &graph{gaps: []gapSpec{spec}}})
	for x := 16.0; x >= 0; x -= 2.5 {
		for i, at := range []r3.Vec{{}, {X: 12}, {X: -x, Y: 500}, {X: x, Y: 500}} {
			s.vec[i][0] = at
		}
		var o jet
		s.leastGap(0, &o, levelValue)
		if want := min(12, 2*x) - 2; o[0] != want {
			t.Errorf("%g from meeting, the least gap is %g, not %g", x, o[0], want)
		}
	}
}

package kin

import (
	"math"
	"testing"

	"trammel/kin/gap"

	"gonum.org/v1/gonum/spatial/r3"
)

// TestPieceNowhere: of three balls against one, a piece that stands nowhere leaves no value, whichever it is and however far; with none such, the
// value is the nearest's.
func TestPieceNowhere(t *testing.T) {
	for lost := range 5 {
		s := &State{vec: make([]vjet, 4)}
		spec := gapSpec{pairs: [][2]int32{{0, 3}, {1, 3}, {2, 3}}}
		for i, x := range []float64{20, 500, 90, 0} {
			s.vec[i][0] = r3.Vec{X: x}
			if i == lost {
				s.vec[i][0].Y = math.NaN()
			}
			spec.pieces = append(spec.pieces, piece{kind: gap.Capsule, at: [5]ref{ref(i), ref(i)}, r: 1})
		}
		for first := range spec.pairs {
			s.growGaps(&Sweep{graph: &graph{gaps: []gapSpec{spec}}})
			s.touches[0].pair = int32(first)
			var o jet
			s.leastGap(0, &o, levelValue)
			if lost < 4 && !math.IsNaN(o[0]) || lost == 4 && o[0] != 18 {
				t.Errorf("piece %d lost, pair %d first: the gap is %v", lost, first, o[0])
			}
		}
	}
}

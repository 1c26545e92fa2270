package gap_test

import (
	"math"
	"testing"

	"trammel/kin/gap"
)

// TestNoNumber: a NaN in any number of either solid makes the gap and the ball NaN, wherever the other solid is.
func TestNoNumber(t *testing.T) {
	d := newDraw(31)
	for _, p := range pairs() {
		for _, far := range []float64{50, 5000} {
			for e := range 2 {
				for i := range 15 + 3 {
					s := [2]*gap.Solid{d.solid(p[0], far), d.solid(p[1], far)}
					x := numbers(s[e])
					if i >= len(x) {
						break
					}
					*x[i] = math.NaN()
					var touch gap.Touch
					gap.Between(s[0], s[1], &touch)
					if !math.IsNaN(touch.Gap) {
						t.Errorf("%s: number %d of the %v is NaN, the gap %v", name(p), i, s[e].Kind, touch.Gap)
					}
					if _, r := s[e].Ball(); !math.IsNaN(r) {
						t.Errorf("number %d of the %v is NaN, the radius of its ball %v", i, s[e].Kind, r)
					}
				}
			}
		}
	}
}

// numbers returns every number that a solid of its kind has.
func numbers(s *gap.Solid) (all []*float64) {
	for i := range s.Kind.Places() {
		all = append(all, &s.At[i].X, &s.At[i].Y, &s.At[i].Z)
	}
	switch s.Kind {
	case gap.Capsule:
		all = append(all, &s.R)
	case gap.Ring:
		all = append(all, &s.R, &s.In, &s.Round)
	}
	return all
}

// TestNumbersOfOthers: what a kind does not have, a radius of a box or a plane, changes nothing, whatever it holds.
func TestNumbersOfOthers(t *testing.T) {
	d := newDraw(32)
	for _, p := range pairs() {
		for e := range 2 {
			if p[e] != gap.Box && p[e] != gap.Plane {
				continue
			}
			s := [2]*gap.Solid{d.solid(p[0], 50), d.solid(p[1], 50)}
			var want, got gap.Touch
			gap.Between(s[0], s[1], &want)
			_, ball := s[e].Ball()
			s[e].R, s[e].In, s[e].Round = math.NaN(), math.Inf(1), math.NaN()
			if gap.Between(s[0], s[1], &got); got != want {
				t.Errorf("%s: numbers that the %v does not have change the gap from %v to %v", name(p), s[e].Kind, want.Gap, got.Gap)
			}
			if _, r := s[e].Ball(); r != ball {
				t.Errorf("numbers that the %v does not have change the radius of its ball from %v to %v", s[e].Kind, ball, r)
			}
		}
	}
}

package kin_test

import (
	"math"
	"slices"
	"testing"

	"trammel/kin"
	"trammel/kin/kintest"

	"gonum.org/v1/gonum/spatial/r3"
	"pgregory.net/rapid"
)

// TestCarrierRates compares the carrier's first and second derivatives with wheel travel and with rack travel
// with differences: of the wheel centre's place and of the rotation, dR = [w]× R dh.
func TestCarrierRates(t *testing.T) {
	forLayouts(t, func(t *rapid.T, l *kin.Linkage) {
		c := newCorner(t, l)
		p := drawPosition(t)
		for _, along := range []string{"wheel", "rack"} {
			move := func(h float64) {
				if along == "wheel" {
					c.get(p.Wheel+h, p.Rack, "wheel_travel")
				} else {
					c.get(p.Wheel, p.Rack+h, "wheel_travel")
				}
			}
			rates := c.s.Twist
			if along == "rack" {
				rates = c.s.RackTwist
			}
			move(0)
			v, w, a, b := rates()
			_, r0 := c.s.Pose()
			// diff differentiates a vector, by the surest of three steps.
			diff := func(f func() r3.Vec) (out r3.Vec) {
				part := func(of func(r3.Vec) float64) float64 {
					best, least := 0., math.Inf(1)
					for _, step := range []float64{4, 1, 0.25} {
						d, doubt := kintest.Slope(func(h float64) float64 { move(h); return of(f()) }, 0, step)
						if doubt < least {
							best, least = d, doubt
						}
					}
					return best
				}
				return r3.Vec{X: part(func(q r3.Vec) float64 { return q.X }), Y: part(func(q r3.Vec) float64 { return q.Y }), Z: part(func(q r3.Vec) float64 { return q.Z })}
			}
			alike := func(what string, got, want r3.Vec, scale float64) {
				near(t, along+": "+what, r3.Norm(r3.Sub(got, want)), 0, 1e-6*math.Max(r3.Norm(want), scale))
			}
			alike("velocity", v, diff(func() r3.Vec { q, _ := c.s.Pose(); return q }), 0.01)
			alike("acceleration", a, diff(func() r3.Vec { v, _, _, _ := rates(); return v }), 1e-4)
			alike("angular acceleration", b, diff(func() r3.Vec { _, w, _, _ := rates(); return w }), 1e-6)
			// The skew part of R(h) R(0)ᵀ turns by w to first order.
			alike("angular velocity", w, diff(func() r3.Vec {
				_, r := c.s.Pose()
				m := func(i, j int) float64 { return r[3*i]*r0[3*j] + r[3*i+1]*r0[3*j+1] + r[3*i+2]*r0[3*j+2] }
				return r3.Scale(0.5, r3.Vec{X: m(2, 1) - m(1, 2), Y: m(0, 2) - m(2, 0), Z: m(1, 0) - m(0, 1)})
			}), 1e-4)
		}
	})
}

// TestRepeatedPositions: a position listed twice, in a motion of which little is asked and in a state that was
// poisoned, leaves the positions after it as they are.
func TestRepeatedPositions(t *testing.T) {
	for _, layout := range kintest.Layouts() {
		once := []kin.Position{{}, {Wheel: 10}, {Wheel: 20}, {Wheel: 30, Rack: 5}, {Wheel: 30, Rack: 10}, {Wheel: -10}, {Wheel: -30}}
		twice := slices.Concat(once, once, once[1:3])
		c := newCorner(t, layout.Link)
		want := c.run(once, "camber", "toe")
		c.s.Poison()
		c.s.SetDesign(c.prog.Points())
		got := c.run(twice, "camber", "toe")
		for k := range got {
			for i, p := range twice {
				j := slices.Index(once, p)
				if got[k][i] != want[k][j] {
					t.Errorf("%s: listed twice, %v gives %.17g and not %.17g", layout.Name, p, got[k][i], want[k][j])
				}
			}
		}
	}
}

// TestFailurePlace: a failure is told at the car's position, on a right side and when it is the other wheel that
// cannot follow.
func TestFailurePlace(t *testing.T) {
	l := kintest.Pushrod()
	left := newCorner(t, l)
	mirrored := *l
	mirrored.Right = true
	right := newCorner(t, &mirrored)
	var one float64 // a rack travel that only one direction reaches
	for r := 20.; r < 200 && one == 0; r += 2 {
		switch a, b := left.reaches(0, r), left.reaches(0, -r); {
		case a && !b:
			one = r
		case b && !a:
			one = -r
		}
	}
	if one == 0 {
		t.Fatal("the example steers as far one way as the other")
	}
	if right.reaches(0, one) || !right.reaches(0, -one) {
		t.Errorf("a right side should reach %g and not %g", -one, one)
	}
	_, f := right.fails([]kin.Position{{Rack: one}}, "camber")
	if (f.At != kin.Position{Rack: one}) {
		t.Errorf("a right side fails at %v, told as %v", one, f.At)
	}
	_, f = left.fails([]kin.Position{{Rack: one}}, "ackermann")
	if (f.At != kin.Position{Rack: one}) {
		t.Errorf("the other wheel fails at %v, told as %v", one, f.At)
	}
}

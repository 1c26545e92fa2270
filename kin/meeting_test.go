package kin_test

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"trammel/kin"
	"trammel/kin/kintest"
)

// TestTubesThatMeet: two tubes from one point at an angle, each beginning a length d along itself, are 2d sin(angle/2) less their
// radii apart, by the chord of an isosceles triangle. Where no length is given it is twice the sum of the radii.
func TestTubesThatMeet(t *testing.T) {
	const one, two = 14.0, 9.0
	for _, angle := range []float64{60, 90, 150} {
		for _, given := range []float64{0, 30, 46, 70} {
			b := kintest.With(kintest.Strut())
			b.Point("corner", 300, 200, 300).Point("first", 300, 400, 300)
			far := r3.Add(r3.Vec{X: 300, Y: 200, Z: 300}, r3.Scale(220, r3.Vec{Y: math.Cos(angle * math.Pi / 180), Z: math.Sin(angle * math.Pi / 180)}))
			b.Point("second", far.X, far.Y, far.Z)
			b.Solid("a", kin.Space{Shape: kin.Tube, Radius: one}, []string{"first", "corner"}, kin.Frame)
			b.Solid("b", kin.Space{Shape: kin.Slider, Radius: two, Length: 120, Rod: 3}, []string{"corner", "second"}, kin.Frame)
			b.Clear("meeting", given, []string{"a"}, []string{"b"})
			d := given
			if given == 0 {
				d = 2 * (one + two)
			}
			near(t, "gap", newCorner(t, &b.L).get(10, 0, "meeting.clearance"), 2*d*math.Sin(angle*math.Pi/360)-one-two, 1e-9)
		}
	}
}

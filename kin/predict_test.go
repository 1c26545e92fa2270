package kin_test

import (
	"math"
	"testing"

	"trammel/kin"

	"gonum.org/v1/gonum/spatial/r3"
)

// tumbling is a body that turns by p·t about x, then by q·t about z, both of the car, and whose point goes round an ellipse:
// R(t) = Rz(q t)·Rx(p t), ω = q z + p Rz x.
type tumbling struct{ p, q float64 }

func (m tumbling) at(t float64) (v, w, a, b r3.Vec) {
	s, c := math.Sincos(m.q * t)
	w = r3.Vec{X: m.p * c, Y: m.p * s, Z: m.q}
	b = r3.Vec{X: -m.p * m.q * s, Y: m.p * m.q * c}
	s, c = math.Sincos(m.p * t)
	v = r3.Vec{X: -3 * m.p * s, Y: 2 * m.p * c, Z: m.q * math.Exp(m.q*t)}
	a = r3.Vec{X: -3 * m.p * m.p * c, Y: -2 * m.p * m.p * s, Z: m.q * m.q * math.Exp(m.q*t)}
	return v, w, a, b
}

func (m tumbling) place(t float64) r3.Vec {
	s, c := math.Sincos(m.p * t)
	return r3.Vec{X: 3 * c, Y: 2 * s, Z: math.Exp(m.q * t)}
}

func (m tumbling) turned(t float64, u r3.Vec) r3.Vec {
	return rodrigues(rodrigues(u, r3.Vec{X: 1}, m.p*t), r3.Vec{Z: 1}, m.q*t)
}

func (m tumbling) back(t float64, u r3.Vec) r3.Vec {
	return rodrigues(rodrigues(u, r3.Vec{Z: 1}, -m.q*t), r3.Vec{X: 1}, -m.p*t)
}

// missed is by how much the last of some steps misses the way and the turn of the body.
func (m tumbling) missed(steps []float64) (way, turn float64) {
	d, r := kin.Predicted(steps, m.at)
	from := 0.0
	for _, h := range steps[:len(steps)-1] {
		from += h
	}
	to := from + steps[len(steps)-1]
	way = r3.Norm(r3.Sub(d, r3.Sub(m.place(to), m.place(from))))
	for _, u := range []r3.Vec{{X: 1}, {Y: 1}, {Z: 1}} {
		is := r3.Vec{X: r[0]*u.X + r[1]*u.Y + r[2]*u.Z, Y: r[3]*u.X + r[4]*u.Y + r[5]*u.Z, Z: r[6]*u.X + r[7]*u.Y + r[8]*u.Z}
		turn = math.Max(turn, r3.Norm(r3.Sub(is, m.turned(to, m.back(from, u)))))
	}
	return way, turn
}

// TestPrediction: what is predicted of a body that tumbles in a known way misses by a power of the step that grows with the places behind
// it: the third after one, the fifth after two, the seventh after three, also where steps are not alike.
func TestPrediction(t *testing.T) {
	m := tumbling{p: 0.9, q: -0.7}
	for _, shape := range [][]float64{{1}, {1, 1}, {0.6, 1}, {1, 1, 1}, {1.3, 0.8, 1}, {0.7, 1.1, 0.9}, {1, 1, 1, 1}, {-1, -1.2, -0.9}} {
		order := math.Min(float64(2*len(shape)+1), 7)
		var was [2]float64
		for i, h := range []float64{0.16, 0.08} {
			steps := make([]float64, len(shape))
			for k, s := range shape {
				steps[k] = s * h
			}
			way, turn := m.missed(steps)
			if i == 0 {
				was = [2]float64{way, turn}
				continue
			}
			for k, now := range [2]float64{way, turn} {
				what := [2]string{"way", "turn"}[k]
				if power := math.Log2(was[k] / now); !(power > order-0.7) {
					t.Errorf("steps like %v: half the step misses the %s by %.3g, %.3g before: the power is %.2f, not %g", shape, what, now, was[k], power, order)
				}
			}
		}
	}
}

// TestPredictionAfterOddSteps: places behind a step say nothing where it goes the other way or is much longer than the one before.
func TestPredictionAfterOddSteps(t *testing.T) {
	m := tumbling{p: 0.9, q: -0.7}
	for _, steps := range [][]float64{{0.08, -0.08}, {0.05, 0.05, -0.08}, {1e-9, 0.08}, {1e-300, 0.08}} {
		last, before := steps[len(steps)-1], 0.0
		for _, h := range steps[:len(steps)-1] {
			before += h
		}
		way, turn := kin.Predicted(steps, m.at)
		far, turned := kin.Predicted([]float64{last}, func(t float64) (v, w, a, b r3.Vec) { return m.at(before + t) })
		if way != far || turn != turned {
			t.Errorf("steps %v lead to %v and %v, the last alone to %v and %v", steps, way, turn, far, turned)
		}
	}
}

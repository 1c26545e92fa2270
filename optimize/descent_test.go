package optimize

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// leastOnSimplex meets the conditions of Karush, Kuhn and Tucker: no weight below 0, their sum 1, and the
// slope the same for all that have weight and no less for the others.
func TestLeastOnSimplex(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.IntRange(1, 7).Draw(t, "p")
		half := make([]float64, p*p)
		for i := range half {
			half[i] = rapid.Float64Range(-1, 1).Draw(t, "half")
		}
		q, h, w := make([]float64, p*p), make([]float64, p), make([]float64, p)
		for i := range p {
			h[i] = rapid.Float64Range(-0.3, 0).Draw(t, "h")
			for j := range p {
				for k := range p {
					q[i*p+j] += half[i*p+k] * half[j*p+k]
				}
			}
			q[i*p+i] += 0.01
		}
		leastOnSimplex(w, q, h)
		sum, least := 0.0, math.Inf(1)
		slope := make([]float64, p)
		for i := range p {
			sum += w[i]
			slope[i] = -h[i]
			for j := range p {
				slope[i] += q[i*p+j] * w[j]
			}
			least = min(least, slope[i])
		}
		if math.Abs(sum-1) > 1e-12 || slices.Min(w) < 0 {
			t.Fatalf("weights %v", w)
		}
		for i := range p {
			if w[i] > 0 && slope[i] > least+1e-7 {
				t.Fatalf("weights %v, slopes %v", w, slope)
			}
		}
	})
}

// No other step makes the greatest slope and the bend less than the one found; at a bound nothing goes
// outward.
func TestDescentStep(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, p := rapid.IntRange(1, 5).Draw(t, "n"), rapid.IntRange(1, 4).Draw(t, "p")
		number := rapid.Float64Range(-1, 1)
		var s descent
		for range p {
			slope := make([]float64, n)
			for i := range slope {
				slope[i] = number.Draw(t, "slope")
			}
			s.slopes, s.heights = append(s.slopes, slope), append(s.heights, rapid.Float64Range(-0.2, 0).Draw(t, "height"))
		}
		s.heights[0] = 0
		half, b, u, d := make([]float64, n*n), make([]float64, n*n), make([]float64, n), make([]float64, n)
		for i := range half {
			half[i] = number.Draw(t, "half")
		}
		for i := range n {
			for j := range n {
				for k := range n {
					b[i*n+j] += half[i*n+k] * half[j*n+k]
				}
			}
			b[i*n+i] += 0.1
			u[i] = rapid.SampledFrom([]float64{0, 0.5, 1}).Draw(t, "u")
		}
		value := func(d []float64) float64 {
			most, bend := math.Inf(-1), 0.0
			for k, slope := range s.slopes {
				v := s.heights[k]
				for i, x := range d {
					v += slope[i] * x
				}
				most = max(most, v)
			}
			for i, x := range d {
				for j, y := range d {
					bend += x * b[i*n+j] * y / 2
				}
			}
			return most + bend
		}
		gain := s.step(d, u, b)
		if gain > 0 || value(d) > 1e-6 {
			t.Fatalf("step %v promises %g and gives %g", d, gain, value(d))
		}
		for i := range d {
			if u[i] == 0 && d[i] < 0 || u[i] == 1 && d[i] > 0 {
				t.Fatalf("step %v leaves the box at %v", d, u)
			}
		}
		if slices.Contains(u, 0) || slices.Contains(u, 1) {
			return // fixing one number after the other may stop short of the best
		}
		for range 20 {
			other := slices.Clone(d)
			for i := range other {
				other[i] += 0.1 * number.Draw(t, "by")
			}
			if value(other) < value(d)-1e-7 {
				t.Fatalf("step %v has %g, but %v has %g", d, value(d), other, value(other))
			}
		}
	})
}

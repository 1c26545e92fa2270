package optimize

import (
	"math"
	"testing"
)

// TestScatter: of the first 2ᵏ points every even coordinate has one in each of 2ᵏ equal parts (a (t, m, s)-net in base 2
// seen along one axis: H. Niederreiter, "Random Number Generation and Quasi-Monte Carlo Methods", SIAM 1992, chapter 4,
// cited from memory), the others have the mean and variance of the uniform distribution within four standard errors, and
// the sequence is its seed's own.
func TestScatter(t *testing.T) {
	const n, points = 300, 1024
	s, again, other := NewScatter(n, 7), NewScatter(n, 7), NewScatter(n, 8)
	u, v, w := make([]float64, n), make([]float64, n), make([]float64, n)
	seen := make([][points]bool, sobolDims)
	sum, squares, differs := 0.0, 0.0, false
	for i := range points {
		s.At(u, uint32(i))
		again.At(v, uint32(i))
		other.At(w, uint32(i))
		for d, x := range u {
			if !(x >= 0 && x < 1) || x != v[d] {
				t.Fatalf("coordinate %d of point %d is %g, and again %g", d, i, x, v[d])
			}
			differs = differs || x != w[d]
			if d < sobolDims {
				seen[d][int(x*points)] = true
			} else {
				sum += x - 0.5
				squares += (x - 0.5) * (x - 0.5)
			}
		}
	}
	for d := range seen {
		for k, there := range seen[d] {
			if !there {
				t.Fatalf("coordinate %d has no point in part %d", d, k)
			}
		}
	}
	count := float64(points * (n - sobolDims))
	if z := sum / math.Sqrt(count/12); math.Abs(z) > 4 {
		t.Errorf("the mean of the random coordinates is %.1f standard errors off", z)
	}
	if z := (squares/count - 1./12) / math.Sqrt(1./180/count); math.Abs(z) > 4 {
		t.Errorf("their variance is %.1f standard errors off", z)
	}
	if !differs {
		t.Error("another seed has the same points")
	}
	if k := testing.AllocsPerRun(20, func() { s.At(u, 5) }); k != 0 {
		t.Errorf("%v allocations", k)
	}
}

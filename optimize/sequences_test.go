package optimize

import (
	"fmt"
	"math"
	"math/bits"
	"testing"

	"pgregory.net/rapid"
)

// The first 16 points of the Sobol sequence in 6 dimensions and the third in 10, in sixteenths and
// quarters. Source: the example that S. Joe and F. Y. Kuo print with their direction numbers
// new-joe-kuo-6.21201 (10×3 block and third point of 10 dimensions); the rest follows from the numbers.
func TestSobolJoeKuo(t *testing.T) {
	want := [16][6]float64{
		{0, 0, 0, 0, 0, 0}, {8, 8, 8, 8, 8, 8}, {12, 4, 4, 4, 12, 12}, {4, 12, 12, 12, 4, 4},
		{6, 6, 10, 14, 6, 2}, {14, 14, 2, 6, 14, 10}, {10, 2, 14, 10, 10, 14}, {2, 10, 6, 2, 2, 6},
		{3, 5, 15, 7, 9, 5}, {11, 13, 7, 15, 1, 13}, {15, 1, 11, 3, 5, 9}, {7, 9, 3, 11, 13, 1},
		{5, 3, 5, 9, 15, 7}, {13, 11, 13, 1, 7, 15}, {9, 7, 1, 13, 3, 11}, {1, 15, 9, 5, 11, 3},
	}
	s, err := newSobol(10, false, Key{})
	if err != nil {
		t.Fatal(err)
	}
	u, work := make([]float64, 10), make([]uint32, 10)
	for i := range want {
		s.fill(u, uint32(i), work)
		for d, w := range want[i] {
			if u[d] != w/16 {
				t.Errorf("point %d, coordinate %d: %g, published %g", i, d+1, u[d], w/16)
			}
		}
	}
	s.fill(u, 2, work)
	for d, w := range []float64{3, 1, 1, 1, 3, 3, 1, 3, 3, 3} {
		if u[d] != w/4 {
			t.Errorf("third point, coordinate %d: %g, published %g", d+1, u[d], w/4)
		}
	}
}

// High coordinates against another implementation of the same direction numbers: the first 777 points
// in 256 dimensions of scipy 1.17.1, stats.qmc.Sobol(256, scramble=False, bits=32), folded into an
// FNV-1a sum of 64 bits in 1/1024, and point 1000.
func TestSobolAgainstScipy(t *testing.T) {
	s, err := newSobol(256, false, Key{})
	if err != nil {
		t.Fatal(err)
	}
	u, work := make([]float64, 256), make([]uint32, 256)
	sum := uint64(0)
	for i := range uint32(777) {
		s.fill(u, i, work)
		for _, x := range u {
			sum = (sum ^ uint64(x*1024)) * 1099511628211
		}
	}
	if sum != 0x4540f4f0fed43124 {
		t.Errorf("the sum is %#x, of scipy %#x", sum, uint64(0x4540f4f0fed43124))
	}
	s.fill(u, 1000, work)
	for d, w := range map[int]float64{1: 99, 10: 87, 37: 851, 64: 133, 100: 787, 150: 45, 199: 863, 255: 255} {
		if u[d]*1024 != w {
			t.Errorf("point 1000, coordinate %d: %g, of scipy %g", d+1, u[d]*1024, w)
		}
	}
}

func TestSobolTooManyCoordinates(t *testing.T) {
	if _, err := newSobol(257, true, Key{}); err == nil {
		t.Error("257 coordinates are taken")
	}
}

// Nested uniform scrambling keeps nets: of the first 2^m points exactly one lies in each of the 2^m equal
// intervals of every coordinate, and, in the first two coordinates, in every elementary interval of area
// 2^-m (they form a (0,m,2)-net). Source: A. B. Owen (1995), proposition 1.
func TestScrambledSobolStratifies(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.IntRange(0, 9).Draw(t, "m")
		block := rapid.Uint32Range(0, 1000).Draw(t, "block")
		seed := rapid.Uint64().Draw(t, "seed")
		n := rapid.IntRange(1, 40).Draw(t, "coordinates")
		s, _ := newSobol(n, rapid.Bool().Draw(t, "scramble"), Key{Seed: seed})
		u, work := make([]float64, n), make([]uint32, n)
		size := uint32(1) << m
		strata, plane := make([]uint32, n), make([][]bool, m+1)
		hits := make([][]bool, n)
		for d := range hits {
			hits[d] = make([]bool, size)
		}
		for k := range plane {
			plane[k] = make([]bool, size)
		}
		for i := range size {
			s.fill(u, block*size+i, work)
			for d := range u {
				strata[d] = uint32(u[d] * float64(size))
				if hits[d][strata[d]] {
					t.Fatalf("coordinate %d: two of %d points in interval %d", d, size, strata[d])
				}
				hits[d][strata[d]] = true
			}
			for k := 0; k <= m && n > 1; k++ {
				cell := uint32(u[0]*float64(uint32(1)<<k))<<(m-k) | uint32(u[1]*float64(uint32(1)<<(m-k)))
				if plane[k][cell] {
					t.Fatalf("two of %d points in one elementary interval of 2^-%d by 2^-%d", size, k, m-k)
				}
				plane[k][cell] = true
			}
		}
	})
}

// Scrambling flips bit b by a hash of the bits above it in the number (below, reversed), so numbers that
// share their first b bits still do and those that differ in bit b first still differ there.
func TestScramblingIsNested(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b, seed := rapid.Uint32().Draw(t, "a"), rapid.Uint32().Draw(t, "b"), rapid.Uint32().Draw(t, "seed")
		same := bits.TrailingZeros32(a ^ b)
		if got := bits.TrailingZeros32(scramble(a, seed) ^ scramble(b, seed)); got != same {
			t.Fatalf("%#x and %#x share %d bits, scrambled %d", a, b, same, got)
		}
	})
}

// The mean of a scrambled sample is unbiased: over 400 scramblings the mean of x² over 16 points lies
// within 5 of its standard errors of 1/3, and points are not all alike.
func TestScramblingIsUnbiased(t *testing.T) {
	const scramblings, points = 400, 16
	means := map[string]func(seed uint64, i int) float64{}
	u, work := make([]float64, 3), make([]uint32, 3)
	means["sobol"] = func(seed uint64, i int) float64 {
		s, _ := newSobol(3, true, Key{Seed: seed})
		s.fill(u, uint32(i), work)
		return u[2] * u[2]
	}
	means["halton"] = func(seed uint64, i int) float64 {
		newHalton(3, true, Key{Seed: seed}).fill(u, uint64(i))
		return u[2] * u[2]
	}
	means["latin"] = func(seed uint64, i int) float64 {
		newLatin(3, points, Key{Seed: seed}).fill(u, uint64(i))
		return u[2] * u[2]
	}
	for name, f := range means {
		var sum, sum2 float64
		for seed := range uint64(scramblings) {
			m := 0.0
			for i := range points {
				m += f(seed, i) / points
			}
			sum += m
			sum2 += m * m
		}
		mean := sum / scramblings
		sd := math.Sqrt(sum2/scramblings - mean*mean)
		if sd == 0 || math.Abs(mean-1.0/3) > 5*sd/math.Sqrt(scramblings) {
			t.Errorf("%s: mean of x² is %g, exact 1/3; spread of a scrambling %g", name, mean, sd)
		}
	}
}

// The Halton sequence in bases 2 to 13, by definition: numerators and denominators. The first points in
// bases 2 and 3 are those usually published (from memory).
func TestHaltonByDefinition(t *testing.T) {
	want := map[int][6][2]float64{
		0:  {{0, 1}, {0, 1}, {0, 1}, {0, 1}, {0, 1}, {0, 1}},
		1:  {{1, 2}, {1, 3}, {1, 5}, {1, 7}, {1, 11}, {1, 13}},
		2:  {{1, 4}, {2, 3}, {2, 5}, {2, 7}, {2, 11}, {2, 13}},
		3:  {{3, 4}, {1, 9}, {3, 5}, {3, 7}, {3, 11}, {3, 13}},
		4:  {{1, 8}, {4, 9}, {4, 5}, {4, 7}, {4, 11}, {4, 13}},
		5:  {{5, 8}, {7, 9}, {1, 25}, {5, 7}, {5, 11}, {5, 13}},
		6:  {{3, 8}, {2, 9}, {6, 25}, {6, 7}, {6, 11}, {6, 13}},
		7:  {{7, 8}, {5, 9}, {11, 25}, {1, 49}, {7, 11}, {7, 13}},
		8:  {{1, 16}, {8, 9}, {16, 25}, {8, 49}, {8, 11}, {8, 13}},
		9:  {{9, 16}, {1, 27}, {21, 25}, {15, 49}, {9, 11}, {9, 13}},
		11: {{13, 16}, {19, 27}, {7, 25}, {29, 49}, {1, 121}, {11, 13}},
		13: {{11, 16}, {13, 27}, {17, 25}, {43, 49}, {23, 121}, {1, 169}},
		16: {{1, 32}, {16, 27}, {8, 25}, {16, 49}, {56, 121}, {40, 169}},
	}
	h := newHalton(6, false, Key{})
	u := make([]float64, 6)
	for i, row := range want {
		h.fill(u, uint64(i))
		for d, w := range row {
			if u[d] != w[0]/w[1] {
				t.Errorf("point %d, coordinate %d: %v, by definition %v/%v", i, d+1, u[d], w[0], w[1])
			}
		}
	}
}

// Of base^k points that begin at a multiple of base^k, each of the base^k equal intervals holds one.
func TestScrambledHaltonStratifies(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := newHalton(8, rapid.Bool().Draw(t, "scramble"), Key{Seed: rapid.Uint64().Draw(t, "seed")})
		d := rapid.IntRange(0, 7).Draw(t, "coordinate")
		base := h.axes[d].base
		size := base
		for range rapid.IntRange(0, 3).Draw(t, "k") {
			if size*base < 2000 {
				size *= base
			}
		}
		start := size * rapid.Uint64Range(0, 5000).Draw(t, "block")
		hit := make([]bool, size)
		u := make([]float64, 8)
		for i := range size {
			h.fill(u, start+i)
			cell := int(u[d]*float64(size) + 1e-6) // whole fractions may round to just below
			if !(u[d] >= 0 && u[d] < 1) || hit[cell] {
				t.Fatalf("base %d: %v is the second of %d points in its interval, or outside", base, u[d], size)
			}
			hit[cell] = true
		}
	})
}

// A Latin hypercube has one point in every share of every coordinate, for any number of points.
func TestLatinStratifies(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.OneOf(rapid.IntRange(1, 300), rapid.IntRange(storedPermutation-3, storedPermutation+3000)).Draw(t, "points")
		l := newLatin(3, int64(n), Key{Seed: rapid.Uint64().Draw(t, "seed")})
		u := make([]float64, 3)
		hit := make([][3]bool, n)
		for i := range n {
			l.fill(u, uint64(i))
			for d := range u {
				cell := int(u[d] * float64(n))
				if hit[cell][d] {
					t.Fatalf("two of %d points in share %d of coordinate %d", n, cell, d)
				}
				hit[cell][d] = true
			}
		}
	})
}

// Permutations are drawn evenly and independently: for 5 elements, over 4000 keys, each element comes to
// each place about equally often, the permutations of two coordinates meet as often as chance has it,
// and a large permutation, computed, does not follow its index (rank correlation within 5 standard errors)
// and brings tenths to tenths evenly.
func TestPermutationsAreEven(t *testing.T) {
	const n, keys = 5, 4000
	var place, pair [n][n]float64
	for seed := range uint64(keys) {
		l := newLatin(2, n, Key{Seed: seed})
		for i := range uint64(n) {
			place[i][l.axes[0].at(i)]++
			pair[l.axes[0].at(i)][l.axes[1].at(i)]++
		}
	}
	for name, counts := range map[string][n][n]float64{"places": place, "pairs": pair} {
		chi := 0.0
		for i := range counts {
			for _, c := range counts[i] {
				chi += (c - keys/n) * (c - keys/n) / (keys / n)
			}
		}
		if chi > 45 { // 16 degrees of freedom: exceeded by chance once in 7000
			t.Errorf("%s: chi squared is %g", name, chi)
		}
	}
	const large = 10_000
	for seed := range uint64(20) {
		l := newLatin(2, large, Key{Seed: seed})
		var a, b, chi float64
		var tenths [10][10]float64
		for i := range uint64(large) {
			p, q := float64(l.axes[0].at(i)), float64(l.axes[1].at(i))
			tenths[i/(large/10)][int(p)/(large/10)]++
			a += (p - (large-1)/2.0) * (float64(i) - (large-1)/2.0)
			b += (p - (large-1)/2.0) * (q - (large-1)/2.0)
		}
		for i := range tenths {
			for _, c := range tenths[i] {
				chi += (c - large/100) * (c - large/100) / (large / 100)
			}
		}
		if chi > 140 { // 81 degrees of freedom: exceeded by chance once in 20,000
			t.Errorf("seed %d: chi squared of tenths is %g", seed, chi)
		}
		v := large * (large*large - 1.0) / 12
		if max(math.Abs(a/v), math.Abs(b/v)) > 5/math.Sqrt(large) {
			t.Errorf("seed %d: correlation with the index %g, between coordinates %g", seed, a/v, b/v)
		}
	}
}

func ExamplePlan() {
	space := &Space{
		Dims:    []Dim{{Name: "upper_ball.z", Low: 405_000, High: 445_000, Design: 418_000, PerUnit: 1000}, {Name: "rack height", Low: -12_000, High: 12_000, Step: 6_000, PerUnit: 1000}},
		Choices: []Choice{{Name: "rocker side", Options: []string{"above", "below"}}},
	}
	o := DefaultPlan()
	o.Kind, o.Levels = OneAtATime, []int{3}
	plan, err := NewPlan(space, o)
	if err != nil {
		fmt.Println(err)
		return
	}
	var p Point
	for i := range plan.Runs() {
		plan.At(&p, i)
		fmt.Println(p.X, space.Choices[0].Options[p.Choice[0]])
	}
	// Output:
	// [405 0] above
	// [425 0] above
	// [445 0] above
	// [418 -12] above
	// [418 12] above
	// [418 0] below
}

package optimize

import (
	"math"
	"math/rand/v2"
	"testing"
)

var _ rand.Source = (*Stream)(nil)

// Known answers of Philox 4×64-10 for counter and key of zeros and of ones, as published with Salmon et
// al. (2011) and computed again with the Philox of numpy 2.4.6.
func TestPhiloxKnownAnswers(t *testing.T) {
	const ones = math.MaxUint64
	for _, c := range []struct {
		counter [4]uint64
		key     [2]uint64
		want    [4]uint64
	}{
		{want: [4]uint64{0x16554d9eca36314c, 0xdb20fe9d672d0fdc, 0xd7e772cee186176b, 0x7e68b68aec7ba23b}},
		{[4]uint64{ones, ones, ones, ones}, [2]uint64{ones, ones}, [4]uint64{0x87b092c3013fe90b, 0x438c3c67be8d0224, 0x9cc7d7c69cd777b6, 0xa09caebf594f0ba0}},
	} {
		if got := philox(c.counter, c.key); got != c.want {
			t.Errorf("philox(%x, %x) = %x, published %x", c.counter, c.key, got, c.want)
		}
	}
}

// The numbers of an index depend on key and index alone, and different keys differ in all of them.
func TestStreamSeek(t *testing.T) {
	seen := map[uint64]bool{}
	for _, k := range []Key{{}, {Seed: 1}, {Stage: 1}, {Block: 1}, {Stage: 1, Block: 1}, {Block: wholeStage}, {Seed: math.MaxUint64, Stage: 899, Block: StageBlocks}} {
		s := NewStream(k)
		first := map[uint64][7]uint64{}
		for _, index := range []uint64{0, 1, 2, 99_999, 1, 0, 2} {
			s.Seek(index)
			var got [7]uint64
			for i := range got {
				got[i] = s.Uint64()
			}
			if was, ok := first[index]; ok && was != got {
				t.Errorf("%+v: index %d gives %x, then %x", k, index, was, got)
			} else if !ok {
				for _, n := range got {
					if seen[n] {
						t.Errorf("%+v: index %d repeats %x", k, index, n)
					}
					seen[n] = true
				}
			}
			first[index] = got
		}
	}
}

// Means, spreads and quantiles of 200,000 numbers lie within 5 standard errors of their exact values.
func TestStreamDistributions(t *testing.T) {
	const n = 200_000
	s := NewStream(Key{Seed: 5})
	near := func(what string, got, want, sd float64) {
		t.Helper()
		if e := 5 * sd / math.Sqrt(n); math.Abs(got-want) > e {
			t.Errorf("%s is %g, exact %g, 5 standard errors are %g", what, got, want, e)
		}
	}
	var u, z, z2, within, below float64
	var faces [6]float64
	for range n {
		u += s.Float64()
		x := s.Normal()
		z += x
		z2 += x * x
		if math.Abs(x) < 1.959963984540054 {
			within++
		}
		if s.Cauchy() < 1 {
			below++ // the standard Cauchy distribution function is 3/4 at 1
		}
		faces[s.IntN(6)]++
	}
	near("the mean of Float64", u/n, 0.5, math.Sqrt(1.0/12))
	near("the mean of Normal", z/n, 0, 1)
	near("the variance of Normal", z2/n, 1, math.Sqrt2)
	near("the share of Normal within 1.96", within/n, 0.95, math.Sqrt(0.95*0.05))
	near("the share of Cauchy below 1", below/n, 0.75, math.Sqrt(0.75*0.25))
	for _, f := range faces {
		near("the share of a face", f/n, 1.0/6, math.Sqrt(5)/6)
	}
}

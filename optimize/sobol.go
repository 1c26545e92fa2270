package optimize

import (
	"fmt"
	"math/bits"
)

// sobolDims is how many coordinates the Sobol sequence is known for.
const sobolDims = len(joeKuo) + 1

// sobol is a Sobol sequence of 32 bits, addressable by index: the coordinates of point i are the
// exclusive or of the direction numbers that the set bits of i's Gray code select. It is read-only once
// made.
//
// Sources: I. M. Sobol, "On the distribution of points in a cube and the approximate evaluation of
// integrals", USSR Computational Mathematics and Mathematical Physics 7 (1967) 86-112; the Gray code
// order of I. A. Antonov and V. M. Saleev, same journal 19 (1979) 252-256. Nested uniform scrambling:
// A. B. Owen, "Randomly permuted (t,m,s)-nets and (t,s)-sequences" (1995); by a hash, so that it needs
// no memory: B. Burley, "Practical hash-based Owen scrambling", Journal of Computer Graphics Techniques
// 9 (2020) 1-20.
type sobol struct {
	direction [32][]uint32 // by bit, by coordinate; most significant bit lowest, ready for the scrambling
	seeds     []uint32     // one per coordinate; nil leaves the sequence unscrambled
}

// newSobol returns the sequence in n coordinates, scrambled by the stage's own stream if asked.
func newSobol(n int, scramble bool, k Key) (*sobol, error) {
	if n > sobolDims {
		return nil, fmt.Errorf("%d numbers and choices vary; the Sobol sequence is known for %d, so fewer must vary or another plan be used", n, sobolDims)
	}
	s := &sobol{}
	for b := range s.direction {
		s.direction[b] = make([]uint32, n)
	}
	for d := range n {
		v := directions(d)
		for b := range s.direction {
			s.direction[b][d] = bits.Reverse32(v[b])
		}
	}
	if scramble {
		k.Block = wholeStage
		stream := NewStream(k)
		s.seeds = make([]uint32, n)
		for d := range s.seeds {
			stream.Seek(uint64(d))
			s.seeds[d] = uint32(stream.Uint64() >> 32)
		}
	}
	return s, nil
}

// directions returns the 32 direction numbers of coordinate d, counted from 0, most significant bit
// first: vᵢ = mᵢ / 2ⁱ with mᵢ = 2a₁mᵢ₋₁ ⊕ ... ⊕ 2ˢmᵢ₋ₛ ⊕ mᵢ₋ₛ.
func directions(d int) (v [32]uint32) {
	if d == 0 {
		for i := range v {
			v[i] = 1 << (31 - i)
		}
		return v
	}
	row := joeKuo[d-1]
	s, a, m := int(row[0]), row[1], row[2:]
	for i := range v {
		if i < s {
			v[i] = m[i] << (31 - i)
			continue
		}
		v[i] = v[i-s] ^ v[i-s]>>s
		for k := 1; k < s; k++ {
			v[i] ^= (a >> (s - 1 - k) & 1) * v[i-k]
		}
	}
	return v
}

// fill stores point i in u. bits is memory to work in. Both have one element per coordinate.
func (s *sobol) fill(u []float64, i uint32, work []uint32) {
	clear(work)
	for gray := i ^ i>>1; gray != 0; gray &= gray - 1 {
		v := s.direction[bits.TrailingZeros32(gray)]
		for d := range work {
			work[d] ^= v[d]
		}
	}
	for d, x := range work {
		if s.seeds != nil {
			x = scramble(x, s.seeds[d])
		}
		u[d] = float64(bits.Reverse32(x)) * 0x1p-32
	}
}

// scramble permutes x so that bit b, counted from the least significant, is flipped or not by a hash of
// the bits below it: nested uniform scrambling on reversed bits. Source: Burley 2020, listing 2, after
// S. Laine and T. Karras (2011).
func scramble(x, seed uint32) uint32 {
	x += seed
	x ^= x * 0x6c50b47c
	x ^= x * 0xb82f1e52
	x ^= x * 0xc7afe638
	x ^= x * 0x8d22f6e6
	return x
}

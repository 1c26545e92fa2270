package optimize

import (
	"math"
	"math/bits"
)

// Key names a stream of random numbers: the seed of the study, the number of the stage and, counted
// through the stage, the block. Different keys give streams that have nothing to do with each other.
type Key struct {
	Seed  uint64
	Stage int   // 0 to 65535
	Block int64 // 0 to StageBlocks, or wholeStage
}

// wholeStage is the Block of numbers that a whole stage shares, such as the scrambling of a plan.
const wholeStage = int64(1)<<48 - 1

// Stream is a counter-based source of random numbers: the numbers after Seek(i) depend on the key and
// i alone, so nothing has to be remembered to go on from there. It serves as a math/rand/v2 Source. The
// zero value is the stream of the zero Key, at index 0.
//
// The generator is Philox 4×64 with 10 rounds: J. K. Salmon, M. A. Moraes, R. O. Dror, D. E. Shaw,
// "Parallel random numbers: as easy as 1, 2, 3", Proc. SC11 (2011), section 3.3. Key words: seed; stage
// and block. Counter words: position; index; 0; 0.
type Stream struct {
	key     [2]uint64
	index   uint64
	counter uint64
	buffer  [4]uint64
	left    int
}

// NewStream returns the stream of a key, at index 0.
func NewStream(k Key) Stream {
	return Stream{key: [2]uint64{k.Seed, uint64(k.Stage)<<48 | uint64(k.Block)&(1<<48-1)}}
}

// Seek goes to the first number of the given index.
func (s *Stream) Seek(index uint64) { s.index, s.counter, s.left = index, 0, 0 }

// Uint64 returns 64 random bits. An index holds 2⁶⁶ numbers before it repeats.
func (s *Stream) Uint64() uint64 {
	if s.left == 0 {
		s.buffer = philox([4]uint64{s.counter, s.index, 0, 0}, s.key)
		s.counter++
		s.left = 4
	}
	s.left--
	return s.buffer[3-s.left]
}

// Float64 returns a multiple of 2⁻⁵³ in [0, 1).
func (s *Stream) Float64() float64 { return float64(s.Uint64()>>11) * 0x1p-53 }

// IntN returns a whole number in [0, n), each equally likely to one part in 2⁶⁴/n. It panics if n < 1.
func (s *Stream) IntN(n int) int {
	if n < 1 {
		panic("optimize: IntN of a number below 1")
	}
	high, _ := bits.Mul64(s.Uint64(), uint64(n))
	return int(high)
}

// Normal returns a number of the standard normal distribution. It avoids math.Exp, whose last digit
// may depend on the processor.
//
// Source: the polar method, G. Marsaglia and T. A. Bray, "A convenient method for generating normal
// variables", SIAM Review 6 (1964) 260-264.
func (s *Stream) Normal() float64 {
	for {
		u, v := 2*s.Float64()-1, 2*s.Float64()-1
		if r := float64(u*u) + float64(v*v); r < 1 && r > 0 {
			return u * math.Sqrt(-2*math.Log(r)/r)
		}
	}
}

// Cauchy returns a number of the standard Cauchy distribution.
func (s *Stream) Cauchy() float64 { return math.Tan(math.Pi * (s.Float64() - 0.5)) }

// philox is the bijection of Salmon et al. on 4×64 bits, 10 rounds.
func philox(c [4]uint64, k [2]uint64) [4]uint64 {
	for range 10 {
		h0, l0 := bits.Mul64(0xD2E7470EE14C6C93, c[0])
		h1, l1 := bits.Mul64(0xCA5A826395121157, c[2])
		c = [4]uint64{h1 ^ c[1] ^ k[0], l1, h0 ^ c[3] ^ k[1], l0}
		k[0] += 0x9E3779B97F4A7C15
		k[1] += 0xBB67AE8584CAA73B
	}
	return c
}

// mix is a bijection of 64 bits that lets every input bit reach every output bit.
//
// Source: the finaliser of SplitMix64, G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom
// number generators", OOPSLA 2014, with D. Stafford's constants (variant 13).
func mix(z uint64) uint64 {
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

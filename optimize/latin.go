package optimize

import "math/bits"

// latin is a Latin hypercube of n points, addressable by index: along every coordinate each of n equal
// shares of [0, 1) holds exactly one point, at a random place within it. It is read-only once made.
//
// Source: M. D. McKay, R. J. Beckman, W. J. Conover, "A comparison of three methods for selecting
// values of input variables in the analysis of output from a computer code", Technometrics 21 (1979)
// 239-245. The permutations are computed, not stored.
type latin struct {
	n    uint64
	axes []permutation
	key  []uint64 // of the place within the share, one per coordinate
}

func newLatin(coordinates int, n int64, k Key) *latin {
	k.Block = wholeStage
	stream := NewStream(k)
	l := &latin{n: uint64(n), axes: make([]permutation, coordinates), key: make([]uint64, coordinates)}
	for d := range l.axes {
		stream.Seek(uint64(d))
		l.axes[d] = newPermutation(uint64(n), &stream)
		l.key[d] = stream.Uint64()
	}
	return l
}

// fill stores point i, below n, in u, which has one element per coordinate.
func (l *latin) fill(u []float64, i uint64) {
	for d := range u {
		within := (float64(mix(i^l.key[d])>>33) + 0.5) * 0x1p-31 // never on the edge of the share
		u[d] = min((float64(l.axes[d].at(i))+within)/float64(l.n), 1-0x1p-53)
	}
}

// permutation is a random permutation of 0 ... n-1. Up to storedPermutation elements it is shuffled and
// kept; a larger one needs no memory: a Feistel network on the bits of n-1, gone through again as long
// as it leaves the range. (On few bits such a network is far from drawing all permutations evenly.)
//
// Sources: M. Luby and C. Rackoff, "How to construct pseudorandom permutations from pseudorandom
// functions", SIAM Journal on Computing 17 (1988) 373-386; J. Black and P. Rogaway, "Ciphers with
// arbitrary finite domains", CT-RSA 2002, section 3 (cycle walking).
type permutation struct {
	stored   []uint16
	n        uint64
	low      int // bits of the lower half
	lowMask  uint64
	highMask uint64
	key      [6]uint64
}

// storedPermutation is the size up to which a permutation is kept in memory.
const storedPermutation = 1 << 13

func newPermutation(n uint64, stream *Stream) permutation {
	b := bits.Len64(n - 1)
	p := permutation{n: n, low: b / 2}
	p.lowMask, p.highMask = 1<<(b/2)-1, 1<<(b-b/2)-1
	for i := range p.key {
		p.key[i] = stream.Uint64()
	}
	if n <= storedPermutation {
		p.stored = make([]uint16, n)
		shuffle(p.stored, stream)
	}
	return p
}

// shuffle fills p with a random permutation of 0 ... len(p)-1, all equally likely. Source: R. Durstenfeld,
// Communications of the ACM 7 (1964) 420, inside out.
func shuffle(p []uint16, stream *Stream) {
	for i := range p {
		j := stream.IntN(i + 1)
		p[i] = p[j]
		p[j] = uint16(i)
	}
}

func (p *permutation) at(i uint64) uint64 {
	if p.stored != nil {
		return uint64(p.stored[i])
	}
	for {
		low, high := i&p.lowMask, i>>p.low
		for r := 0; r < len(p.key); r += 2 {
			low ^= mix(high^p.key[r]) & p.lowMask
			high ^= mix(low^p.key[r+1]) & p.highMask
		}
		if i = high<<p.low | low; i < p.n {
			return i
		}
	}
}

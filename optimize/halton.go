package optimize

// halton is a Halton sequence, addressable by index: coordinate d of point i mirrors the digits of i in
// the base of the d-th prime at the point. Scrambled, each digit place of each coordinate has a random
// permutation of its own, leading zeros included. It is read-only once made.
//
// Sources: J. H. Halton, "On the efficiency of certain quasi-random sequences of points in evaluating
// multi-dimensional integrals", Numerische Mathematik 2 (1960) 84-90; the scrambling is that of A. B.
// Owen, "A randomized Halton algorithm in R" (2017).
type halton struct {
	axes []haltonAxis
}

// haltonDims is how many coordinates a Halton plan may have: beyond, the bases are so large that
// neighbouring points climb in step for thousands of runs.
const haltonDims = 256

// haltonAxis is one coordinate: places digits in a base, the largest number for which base^places is
// exact in a float64.
type haltonAxis struct {
	base   uint64
	places int
	weight []uint64 // of a digit at each place: base^(places-1-place)
	digit  []uint16 // at place*base + digit: what the digit becomes; nil leaves it as it is
	tail   []uint64 // what zeros from a place on are worth
	whole  float64  // base^places
}

func newHalton(n int, scramble bool, k Key) *halton {
	k.Block = wholeStage
	stream := NewStream(k)
	h := &halton{axes: make([]haltonAxis, n)}
	prime := uint64(1)
	for d := range h.axes {
		prime = nextPrime(prime)
		a := &h.axes[d]
		a.base = prime
		whole := uint64(1)
		for ; whole <= (1<<53)/prime; whole *= prime {
			a.places++
		}
		a.whole = float64(whole)
		a.weight = make([]uint64, a.places)
		for place := range a.weight {
			whole /= prime
			a.weight[place] = whole
		}
		a.tail = make([]uint64, a.places+1)
		if scramble {
			stream.Seek(uint64(d))
			a.shuffle(&stream)
		}
	}
	return h
}

// shuffle draws a permutation of the digits for every place.
func (a *haltonAxis) shuffle(stream *Stream) {
	b := int(a.base)
	a.digit = make([]uint16, a.places*b)
	for place := a.places - 1; place >= 0; place-- {
		p := a.digit[place*b : (place+1)*b]
		shuffle(p, stream)
		a.tail[place] = a.tail[place+1] + uint64(p[0])*a.weight[place]
	}
}

// fill stores point i in u, which has one element per coordinate.
func (h *halton) fill(u []float64, i uint64) {
	for d := range u {
		a := &h.axes[d]
		sum, place := uint64(0), 0
		for rest := i; rest > 0 && place < a.places; place++ {
			next := rest / a.base
			digit := rest - next*a.base
			if a.digit != nil {
				digit = uint64(a.digit[uint64(place)*a.base+digit])
			}
			sum += digit * a.weight[place]
			rest = next
		}
		u[d] = float64(sum+a.tail[place]) / a.whole
	}
}

func nextPrime(after uint64) uint64 {
	for n := after + 1; ; n++ {
		prime := n >= 2
		for f := uint64(2); f*f <= n && prime; f++ {
			prime = n%f != 0
		}
		if prime {
			return n
		}
	}
}

package optimize

import (
	"errors"
	"fmt"
	"math"
)

// States are short byte strings: a tag that says what they are of, then numbers of variable length
// (seven bits a byte, the low ones first), words of four bytes and floats of eight.

var errState = errors.New("the saved state of a search is damaged or of another search")

func appendNumber(b []byte, n uint64) []byte {
	for n >= 0x80 {
		b = append(b, byte(n)|0x80)
		n >>= 7
	}
	return append(b, byte(n))
}

func appendFloat(b []byte, x float64) []byte {
	n := math.Float64bits(x)
	for range 8 {
		b = append(b, byte(n))
		n >>= 8
	}
	return b
}

// stateReader takes a state apart. After the first failure it returns zeros and keeps the error.
type stateReader struct {
	rest []byte
	err  error
}

// readState returns a reader behind the tag.
func readState(b []byte, tag string) *stateReader {
	if len(b) < len(tag) || string(b[:len(tag)]) != tag {
		return &stateReader{err: fmt.Errorf("%w: it does not begin with %q", errState, tag)}
	}
	return &stateReader{rest: b[len(tag):]}
}

func (r *stateReader) fail() {
	if r.err == nil {
		r.err = fmt.Errorf("%w: a number in it is missing or out of range", errState)
	}
	r.rest = nil
}

// number reads a whole number of at most most.
func (r *stateReader) number(most uint64) uint64 {
	n := uint64(0)
	for i := 0; i < len(r.rest) && i < 10; i++ {
		c := r.rest[i]
		n |= uint64(c&0x7f) << (7 * i)
		if c < 0x80 {
			r.rest = r.rest[i+1:]
			if n > most || (i == 9 && c > 1) {
				break
			}
			return n
		}
	}
	r.fail()
	return 0
}

func (r *stateReader) float() float64 {
	if len(r.rest) < 8 {
		r.fail()
		return 0
	}
	n := uint64(0)
	for i := range 8 {
		n |= uint64(r.rest[i]) << (8 * i)
	}
	r.rest = r.rest[8:]
	return math.Float64frombits(n)
}

// word reads 32 bits, the low ones first.
func (r *stateReader) word() uint32 {
	if len(r.rest) < 4 {
		r.fail()
		return 0
	}
	b := r.rest
	r.rest = b[4:]
	return uint32(b[0]) | uint32(b[1])<<8 | uint32(b[2])<<16 | uint32(b[3])<<24
}

// end returns the error, also if something is left over.
func (r *stateReader) end() error {
	if r.err == nil && len(r.rest) != 0 {
		r.fail()
	}
	return r.err
}

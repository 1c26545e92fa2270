package gap_test

import (
	"encoding/binary"
	"math"
	"testing"

	"trammel/kin/gap"

	"gonum.org/v1/gonum/spatial/r3"
)

// dice reads choices from what a fuzzer makes up.
type dice struct{ data []byte }

func (d *dice) byte() byte {
	if len(d.data) == 0 {
		return 0
	}
	b := d.data[0]
	d.data = d.data[1:]
	return b
}

// float is most often a whole number of mm, so that things touch, coincide and line up; at times it is off by a hair, and now and then anything at all.
func (d *dice) float() float64 {
	switch k := d.byte(); {
	case k < 200:
		return float64(k) - 100
	case k < 240:
		return float64(k) - 220 + math.Ldexp(1, -int(d.byte()%60))
	default:
		var raw [8]byte
		n := copy(raw[:], d.data)
		d.data = d.data[n:]
		return math.Float64frombits(binary.LittleEndian.Uint64(raw[:]))
	}
}

func (d *dice) vec() r3.Vec { return r3.Vec{X: d.float(), Y: d.float(), Z: d.float()} }

func (d *dice) solid() *gap.Solid {
	s := &gap.Solid{Kind: gap.Kind(d.byte() % 4)}
	s.At[0], s.At[1] = d.vec(), d.vec()
	switch s.Kind {
	case gap.Box:
		u, v := d.vec(), d.vec()
		s.At[2] = r3.Unit(u)
		s.At[3] = r3.Unit(r3.Cross(u, v))
		s.At[4] = r3.Cross(s.At[2], s.At[3])
	case gap.Plane:
		s.At[1] = r3.Unit(s.At[1])
	}
	s.R, s.In, s.Round = d.float(), d.float(), d.float()
	if d.byte()%2 == 0 {
		s.In = 0
	}
	if d.byte()%2 == 0 {
		s.Round = 0
	}
	return s
}

// FuzzBetween: of any two solids that Check takes, everything that comes out is finite, fits together, and is no less than what the balls around
// them allow.
func FuzzBetween(f *testing.F) {
	f.Add([]byte("capsules and boxes, boxes and rings, rings and planes"))
	for k := range byte(16) {
		seed := make([]byte, 40)
		for i := range seed {
			seed[i] = byte(i*int(37+k)) ^ k
		}
		seed[0] = k % 4
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		d := dice{data}
		a, b := d.solid(), d.solid()
		if a.Check() != nil || b.Check() != nil || a.Kind == gap.Plane && b.Kind == gap.Plane {
			return
		}
		var touch, back gap.Touch
		var ga, gb [5]r3.Vec
		gap.Between(a, b, &touch)
		touch.Slopes(a, b, &ga, &gb)
		size := 1.0
		for _, s := range []*gap.Solid{a, b} {
			for i := range s.Kind.Places() {
				size = max(size, r3.Norm(s.At[i]))
			}
			size = max(size, s.R)
		}
		if math.IsNaN(touch.Gap) || math.IsInf(touch.Gap, 0) || !finite(touch.A, touch.B, touch.N) || !finite(ga[:]...) || !finite(gb[:]...) {
			t.Fatalf("%+v\n%v\n%v\n%v\n%v", touch, ga, gb, a, b)
		}
		if off := r3.Norm(r3.Sub(touch.B, r3.Add(touch.A, r3.Scale(touch.Gap, touch.N)))); off > 1e-9*size || math.Abs(r3.Norm(touch.N)-1) > 1e-5 {
			t.Fatalf("B is %v from A + Gap·N, |N| = %v\n%v\n%v", off, r3.Norm(touch.N), a, b)
		}
		if bound := ballGap(a, b); bound > 0 && touch.Gap < bound-1e-5*size {
			t.Fatalf("gap %v is less than that of the balls, %v\n%v\n%v", touch.Gap, bound, a, b)
		}
		gap.Between(b, a, &back)
		if !deepStep(a, b, &touch) && !deepStep(a, b, &back) && math.Abs(back.Gap-touch.Gap) > 1e-5*size {
			t.Fatalf("gap %v, exchanged %v\n%v\n%v", touch.Gap, back.Gap, a, b)
		}
	})
}

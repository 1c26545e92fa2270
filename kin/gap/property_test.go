package gap_test

import (
	"math"
	"testing"

	"trammel/kin/gap"

	"gonum.org/v1/gonum/spatial/r3"
	"pgregory.net/rapid"
)

// drawn returns a pair of random solids.
func drawn(t *rapid.T) (a, b *gap.Solid) {
	all := pairs()
	p := all[rapid.IntRange(0, len(all)-1).Draw(t, "pair")]
	d := newDraw(rapid.Uint64().Draw(t, "seed"))
	a, b = d.solid(p[0], 300), d.solid(p[1], 150)
	if rapid.Bool().Draw(t, "swapped") {
		a, b = b, a
	}
	return a, b
}

// mapped returns the solid with its places and directions moved by functions of their own.
func mapped(s *gap.Solid, place, direction func(r3.Vec) r3.Vec) *gap.Solid {
	m := *s
	for i := range s.Kind.Places() {
		if i < 2 && (s.Kind != gap.Plane || i < 1) {
			m.At[i] = place(s.At[i])
		} else {
			m.At[i] = direction(s.At[i])
		}
	}
	return &m
}

// deepStep tells of a pair whose overlap may step from one feature to another, so that its depth is not told to the last digits.
func deepStep(a, b *gap.Solid, t *gap.Touch) bool {
	return t.Gap < 0 && a.Kind+b.Kind >= gap.Box+gap.Ring && a.Kind != gap.Plane && b.Kind != gap.Plane
}

// TestExchange: the gap of b and a is that of a and b, seen the other way.
func TestExchange(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := drawn(t)
		var ab, ba gap.Touch
		gap.Between(a, b, &ab)
		gap.Between(b, a, &ba)
		if deepStep(a, b, &ab) {
			if math.Signbit(ab.Gap) != math.Signbit(ba.Gap) {
				t.Fatalf("gap %v, and exchanged %v", ab.Gap, ba.Gap)
			}
			return
		}
		if !near(ab.Gap, ba.Gap, 1e-11) {
			t.Fatalf("gap %v, and exchanged %v", ab.Gap, ba.Gap)
		}
		if a.Kind != b.Kind && (ab.A != ba.B || ab.B != ba.A || ab.N != r3.Scale(-1, ba.N)) {
			t.Fatalf("nearest points %v %v, and exchanged %v %v", ab.A, ab.B, ba.B, ba.A)
		}
	})
}

// TestMovedAndMirrored: a shift, a turn and a reflection of both solids leave the gap as it was and take its gradient along.
func TestMovedAndMirrored(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := drawn(t)
		d := newDraw(rapid.Uint64().Draw(t, "motion"))
		shift := d.vec(500)
		turn := r3.NewRotation(d.between(-3, 3), d.direction())
		mirror := rapid.Bool().Draw(t, "mirror")
		direction := func(v r3.Vec) r3.Vec {
			if mirror {
				v.Y = -v.Y
			}
			return turn.Rotate(v)
		}
		place := func(v r3.Vec) r3.Vec { return r3.Add(direction(v), shift) }
		ma, mb := mapped(a, place, direction), mapped(b, place, direction)
		var one, other gap.Touch
		gap.Between(a, b, &one)
		gap.Between(ma, mb, &other)
		if deepStep(a, b, &one) {
			if math.Signbit(one.Gap) != math.Signbit(other.Gap) {
				t.Fatalf("gap %v, and moved %v", one.Gap, other.Gap)
			}
			return
		}
		if !near(one.Gap, other.Gap, 1e-10) {
			t.Fatalf("gap %v, and moved %v\n%v\n%v", one.Gap, other.Gap, a, b)
		}
	})
}

// TestStill: moved and turned together, two solids keep their gap, so the gradient adds up to nothing along such motions.
func TestStill(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := drawn(t)
		var touch gap.Touch
		gap.Between(a, b, &touch)
		var g [2][5]r3.Vec
		touch.Slopes(a, b, &g[0], &g[1])
		d := newDraw(rapid.Uint64().Draw(t, "motion"))
		v, w := d.direction(), r3.Scale(0.001, d.direction())
		rate := 0.0
		for i, s := range []*gap.Solid{a, b} {
			m := mapped(s, func(x r3.Vec) r3.Vec { return r3.Add(v, r3.Cross(w, x)) }, func(x r3.Vec) r3.Vec { return r3.Cross(w, x) })
			for j := range s.Kind.Places() {
				rate += r3.Dot(g[i][j], m.At[j])
			}
			for j := s.Kind.Places(); j < 5; j++ {
				if g[i][j] != (r3.Vec{}) {
					t.Fatalf("place %d of a %v does not count, its gradient is %v", j, s.Kind, g[i][j])
				}
			}
		}
		if math.Abs(rate) > 1e-8 {
			t.Fatalf("moving both changes the gap of %v by %v a mm\n%v\n%v", touch.Gap, rate, a, b)
		}
	})
}

// TestWayOut: following the normal, overlapping solids come apart: from however deep, but rings only from as deep as an eighth of their walls. A tube
// right through a wall is as deep as the wall has it, wherever it goes.
func TestWayOut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := drawn(t)
		var touch gap.Touch
		shift := func(by r3.Vec) {
			b = mapped(b, func(x r3.Vec) r3.Vec { return r3.Add(x, by) }, func(x r3.Vec) r3.Vec { return x })
			gap.Between(a, b, &touch)
		}
		gap.Between(a, b, &touch)
		step := 5.0
		if ringed := a.Kind == gap.Ring || b.Kind == gap.Ring; ringed && a.Kind != gap.Plane && b.Kind != gap.Plane {
			if touch.Gap < 0 {
				t.Skip("too deep")
			}
			// To where they are just in one another.
			step = min(thinnest(a), thinnest(b)) / 8
			for range 50 {
				if touch.Gap < 0 {
					break
				}
				shift(r3.Scale(-touch.Gap-step/2, touch.N))
			}
		}
		for range 400 {
			if touch.Gap >= 0 {
				return
			}
			shift(r3.Scale(step, touch.N))
		}
		t.Fatalf("after 400 steps of %v mm along the normal the gap is still %v\n%v\n%v", step, touch.Gap, a, b)
	})
}

// thinnest returns the least size of a solid.
func thinnest(s *gap.Solid) float64 {
	switch d := r3.Sub(s.At[1], s.At[0]); s.Kind {
	case gap.Ring:
		return min(r3.Norm(d), s.R-s.In)
	case gap.Box:
		return min(math.Abs(r3.Dot(d, s.At[2])), math.Abs(r3.Dot(d, s.At[3])), math.Abs(r3.Dot(d, s.At[4])))
	}
	return 100
}

// TestThroughZero: as b passes a along a line the gap changes by no more than the way. Only well inside may the gap of a box or a ring and a
// ring step.
func TestThroughZero(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := drawn(t)
		d := newDraw(rapid.Uint64().Draw(t, "motion"))
		way := d.direction()
		var last, now gap.Touch
		gap.Between(a, b, &last)
		for range 200 {
			b = mapped(b, func(x r3.Vec) r3.Vec { return r3.Add(x, r3.Scale(0.25, way)) }, func(x r3.Vec) r3.Vec { return x })
			gap.Between(a, b, &now)
			leap := math.Abs(now.Gap-last.Gap) - 0.25
			inside := deepStep(a, b, &last) && deepStep(a, b, &now)
			if leap > 1e-9 && !inside {
				t.Fatalf("the gap goes from %v to %v in 0.25 mm\n%v\n%v", last.Gap, now.Gap, a, b)
			}
			last = now
		}
	})
}

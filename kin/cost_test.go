package kin_test

import (
	"testing"

	"trammel/kin"

	"gonum.org/v1/gonum/spatial/r3"
)

// TestNoAllocations: a state that has run a sweep runs it again, of other points too, without allocating; so it does
// with derivatives.
func TestNoAllocations(t *testing.T) {
	for _, layout := range everyLayout() {
		c := newCorner(t, layout.Link)
		points := c.prog.Points()
		d := kin.Slopes{Directions: make([]kin.Direction, 3)}
		for i := range d.Directions {
			c.prog.Move(&d.Directions[i], i, r3.Vec{X: 1, Z: 0.5})
		}
		for _, cols := range [][]kin.Column{nil, c.bothSides()} {
			for _, m := range motions() {
				sw := c.prog.NewSweep(kin.NewMotion("any", m.wheels, m.rolls, m.at), cols)
				out := make([]float64, sw.Size())
				d.At = make([]float64, len(out)*len(d.Directions))
				for _, slopes := range []bool{false, true} {
					n := testing.AllocsPerRun(2, func() {
						if f := c.s.SetDesign(points); f.Status != kin.OK {
							panic(c.prog.Describe(f))
						}
						f := kin.Failure{}
						if slopes {
							_, f = c.s.RunSlopes(sw, out, &d)
						} else {
							_, f = c.s.Run(sw, out)
						}
						if f.Status != kin.OK {
							panic(c.prog.Describe(f))
						}
					})
					if n != 0 {
						t.Errorf("%s, %d columns, slopes %t: %g allocations per run", layout.Name, len(cols), slopes, n)
					}
				}
			}
		}
	}
}

// TestBuildsAllocateNothing: a state that has had errors of parts takes others, of other designs too, without allocating.
func TestBuildsAllocateNothing(t *testing.T) {
	for _, layout := range everyLayout() {
		c := newCorner(t, layout.Link)
		points, errors := c.prog.Points(), make([]r3.Vec, len(c.prog.PartPoints()))
		if n := testing.AllocsPerRun(2, func() {
			c.s.SetDesign(points)
			if f := c.s.SetBuild(errors); f.Status != kin.OK {
				panic(c.prog.Describe(f))
			}
		}); n != 0 {
			t.Errorf("%s: %g allocations", layout.Name, n)
		}
	}
}

// TestSlopesLeaveValues: a run with derivatives gives the values of a run without, to the bit, and asking for some
// derivatives changes neither the others nor a second run's.
func TestSlopesLeaveValues(t *testing.T) {
	for _, layout := range everyLayout() {
		c := newCorner(t, layout.Link)
		cols := c.bothSides()
		for _, m := range motions() {
			sw := c.prog.NewSweep(kin.NewMotion("any", m.wheels, m.rolls, m.at), cols)
			plain, with := make([]float64, sw.Size()), make([]float64, sw.Size())
			c.s.Run(sw, plain)
			d := kin.Slopes{Directions: make([]kin.Direction, 2), At: make([]float64, 2*sw.Size())}
			for i := range d.Directions {
				c.prog.Move(&d.Directions[i], i, r3.Vec{X: 0.3, Y: 1, Z: -0.2})
			}
			if _, f := c.s.RunSlopes(sw, with, &d); f.Status != kin.OK {
				t.Fatalf("%s: %s", layout.Name, c.prog.Describe(f))
			}
			sameBits(t, layout.Name, plain, with)
			some := kin.Slopes{Directions: d.Directions, At: make([]float64, 2*sw.Size()), Wanted: make([]bool, sw.Size())}
			for i := range some.Wanted {
				some.Wanted[i] = i%3 == 0
			}
			c.s.RunSlopes(sw, with, &some)
			sameBits(t, layout.Name, plain, with)
			for i, w := range some.Wanted {
				if w {
					sameBits(t, layout.Name+", "+placeAt(sw.Motion, i, len(cols)), some.At[2*i:2*i+2], d.At[2*i:2*i+2])
				} else if some.At[2*i] != 0 || some.At[2*i+1] != 0 {
					t.Errorf("%s: a derivative that nobody wants was filled", layout.Name)
				}
			}
		}
	}
}

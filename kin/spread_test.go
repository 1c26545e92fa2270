package kin_test

import (
	"math"
	"testing"

	"trammel/kin"

	"gonum.org/v1/gonum/spatial/r3"
)

// TestParts: the derivatives with all part points at once are those with each alone, which TestDerivatives probes, of every
// measure of every layout along every motion; what no build changes has none.
func TestParts(t *testing.T) {
	for _, layout := range everyLayout() {
		c := newCorner(t, layout.Link)
		parts := c.prog.PartPoints()
		var d kin.Slopes
		for i := range parts {
			for _, v := range []r3.Vec{{X: 1}, {Y: 1}, {Z: 1}} {
				d.Directions = append(d.Directions, kin.Direction{Parts: []int{i}, By: []r3.Vec{v}})
			}
		}
		n := c.prog.Coordinates()
		if n != len(d.Directions) {
			t.Fatalf("%s: %d coordinates of %d part points", layout.Name, n, len(parts))
		}
		for _, tr := range trials() {
			sw := c.prog.NewSweep(tr.motion, c.bothSides())
			out := make([]float64, sw.Size())
			d.At, d.Parts = make([]float64, sw.Size()*n), make([]float64, sw.Size()*n)
			if _, f := c.s.RunSlopes(sw, out, &d); f.Status != kin.OK {
				t.Fatalf("%s: %s", layout.Name, c.prog.Describe(f))
			}
			for i := range d.At {
				want := d.At[i]
				if parts[i%n/3].Owner == "" {
					want = 0
				}
				if d.Parts[i] != want {
					t.Fatalf("%s, %s: value %d with coordinate %d: %g, alone %g", layout.Name, tr.name, i/n, i%n, d.Parts[i], want)
				}
			}
		}
	}
}

// TestPartsAllocateNothing: in steady state.
func TestPartsAllocateNothing(t *testing.T) {
	c := newCorner(t, everyLayout()[0].Link)
	sw := c.prog.NewSweep(trials()[0].motion, c.columns("camber", "right.toe"))
	out := make([]float64, sw.Size())
	d := kin.Slopes{Parts: make([]float64, sw.Size()*c.prog.Coordinates())}
	points := c.prog.Points()
	one := func() {
		c.s.SetDesign(points)
		c.s.RunSlopes(sw, out, &d)
	}
	one()
	if n := testing.AllocsPerRun(50, one); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

// TestPartsOfADesignSweep: where the other side is not looked at, there is no answer to give.
func TestPartsOfADesignSweep(t *testing.T) {
	c := newCorner(t, everyLayout()[0].Link)
	sw := c.prog.NewDesignSweep(trials()[0].motion, c.columns("roll_centre_height"))
	defer func() {
		if recover() == nil {
			t.Error("a sweep of half a car gave derivatives with the parts of all of it")
		}
	}()
	c.s.RunSlopes(sw, make([]float64, sw.Size()), &kin.Slopes{Parts: make([]float64, sw.Size()*c.prog.Coordinates())})
}

// TestUncertaintyOfALength: with the wheel's height held, an error of a damper's bracket on the frame enters its length with
// the cosines of the damper's direction, whatever the rest of the linkage does. The law of propagation of uncertainty, JCGM
// 100:2008 (GUM), 5.1.2, equation (10), u² = Σ (∂f/∂x)² u(x)², then gives the length the bracket's own u: the squares of
// the cosines add up to 1.
func TestUncertaintyOfALength(t *testing.T) {
	looked := 0
	for _, layout := range everyLayout() {
		c := newCorner(t, layout.Link)
		for _, m := range layout.Link.Members {
			if m.Kind != kin.Damper || m.Across || m.Bodies[1] != kin.Frame {
				continue
			}
			sw := c.prog.NewSweep(trials()[0].motion, c.columns(m.Name+".length"))
			out, n := make([]float64, sw.Size()), c.prog.Coordinates()
			d := kin.Slopes{Parts: make([]float64, sw.Size()*n)}
			if _, f := c.s.RunSlopes(sw, out, &d); f.Status != kin.OK {
				t.Fatalf("%s: %s", layout.Name, c.prog.Describe(f))
			}
			for row := range out {
				for k, part := range c.prog.PartPoints() {
					if part.Point != m.Points[1] || part.Owner != kin.Frame || part.Side == kin.Right {
						continue
					}
					looked++
					g := d.Parts[row*n+3*k:]
					if u := math.Sqrt(g[0]*g[0] + g[1]*g[1] + g[2]*g[2]); math.Abs(u-1) > 1e-12 {
						t.Errorf("%s: %s at position %d: u is %.15g of the bracket's", layout.Name, m.Name, row, u)
					}
				}
			}
		}
	}
	if looked == 0 {
		t.Error("no layout has a damper on the frame")
	}
}

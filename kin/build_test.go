package kin_test

import (
	"fmt"
	"slices"
	"testing"

	"trammel/kin"

	"gonum.org/v1/gonum/spatial/r3"
	"pgregory.net/rapid"
)

// TestBuildOfEveryPartIsDesign: where every part that has a point is built with the same error there, the parts fit as if
// the point had been drawn there.
func TestBuildOfEveryPartIsDesign(t *testing.T) {
	forEvery(t, func(t *rapid.T, l *kin.Linkage) {
		built, drawn := newCorner(t, l), newCorner(t, l)
		points := built.prog.Points()
		errors := make([]r3.Vec, len(built.prog.PartPoints()))
		for i := range points {
			if i == l.Wheel.Centre || l.Opposite != nil && l.Opposite[l.Wheel.Centre] == i {
				continue // no build changes where the wheel is said to stand
			}
			move := rapid.Float64Range(-0.5, 0.5)
			v := r3.Vec{X: move.Draw(t, "x"), Y: move.Draw(t, "y"), Z: move.Draw(t, "z")}
			points[i] = r3.Add(points[i], v)
			for k, part := range built.prog.PartPoints() {
				switch {
				case part.Point != i || part.Owner == "":
				case part.Mirrored:
					errors[k] = mirror(v)
				default:
					errors[k] = v
				}
			}
		}
		if f := built.s.SetBuild(errors); f.Status != kin.OK {
			t.Fatalf("built: %s", built.prog.Describe(f))
		}
		if f := drawn.s.SetDesign(points); f.Status != kin.OK {
			t.Fatalf("drawn: %s", drawn.prog.Describe(f))
		}
		for _, m := range pair(t) {
			cols := built.bothSides()
			a, b := built.tableOf(m.wheels, m.rolls, m.at, cols), drawn.tableOf(m.wheels, m.rolls, m.at, cols)
			for k, col := range cols {
				for i := range m.at {
					same(t, col, a[k][i], b[k][i])
				}
			}
		}
	})
}

// TestBuiltLinks: a link that is built with an error at one end holds its two bodies apart by the length it then has, and
// a soft one has that much less to give; every other member keeps its shape.
func TestBuiltLinks(t *testing.T) {
	for _, layout := range everyLayout() {
		c := newCorner(t, layout.Link)
		for i := range layout.Link.Members {
			m := &layout.Link.Members[i]
			if m.Kind != kin.Link {
				continue
			}
			side := instances(m)[0]
			v := r3.Vec{X: 0.4, Y: -0.3, Z: 0.2}
			own := func(k int) (r3.Vec, kin.Side) {
				of := side
				if m.Across && m.Sides != nil {
					of = m.Sides[k]
				}
				return c.drawn(m.Points[k], of), of
			}
			a, of := own(0)
			b, _ := own(1)
			errors := make([]r3.Vec, len(c.prog.PartPoints()))
			at := slices.IndexFunc(c.prog.PartPoints(), func(p kin.PartPoint) bool {
				return p.Owner == m.Name && p.Side == of && p.Point == m.Points[0]
			})
			if at < 0 {
				if m.Soft {
					continue
				}
				t.Fatalf("%s: %s has no point of its own", layout.Name, m.Name)
			}
			errors[at] = v
			c.s.SetDesign(c.prog.Points())
			if f := c.s.SetBuild(errors); f.Status != kin.OK {
				t.Fatalf("%s: %s: %s", layout.Name, m.Name, c.prog.Describe(f))
			}
			for _, p := range spots() {
				c.stand(p)
				now, _ := c.span(m, side)
				if want := r3.Norm(r3.Sub(r3.Add(a, v), b)); !m.Soft {
					near(t, fmt.Sprintf("%s: %s", layout.Name, m.Name), now, want, 1e-9)
				} else {
					bind := c.tableOf(p.wheels, p.rolls, []kin.Position{p.at}, c.columns(m.Name+".bind"))
					near(t, fmt.Sprintf("%s: bind of %s", layout.Name, m.Name), bind[0][0], now-want, 1e-9)
				}
				for j := range layout.Link.Members {
					if other := &layout.Link.Members[j]; other != m {
						c.holds(other, instances(other)[0])
					}
				}
			}
		}
	}
}

package kin_test

import (
	"math"
	"testing"

	"trammel/kin"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/spatial/r3"
	"pgregory.net/rapid"
)

// loose is the same linkage formulated another way: the carrier has six unknowns and every arm and rocker its
// angle; a ball is three equations, a bar one, the wheel's height one. Nothing is eliminated and no closed form
// is used; gonum solves it by Newton with differences for a Jacobian.
type loose struct {
	l      *kin.Linkage
	bodies []string // that turn, in order of the unknowns from 6
	x      []float64
}

func newLoose(l *kin.Linkage) *loose {
	n := &loose{l: l}
	for _, m := range l.Members {
		if m.Kind == kin.Arm || m.Kind == kin.Rocker {
			n.bodies = append(n.bodies, m.Name)
		}
	}
	n.x = make([]float64, 6+len(n.bodies))
	return n
}

// place returns where a point stands as part of a body: x holds the shift of the wheel centre, the rotation
// vector of the carrier and the angles.
func (n *loose) place(body string, point int, x []float64, rack float64) r3.Vec {
	q := n.l.Points[point].At
	switch body {
	case kin.Frame:
		return q
	case kin.Rack:
		return r3.Add(q, r3.Vec{Y: rack})
	case kin.Upright:
		centre := n.l.Points[n.l.Wheel.Centre].At
		phi := r3.Vec{X: x[3], Y: x[4], Z: x[5]}
		u := r3.Sub(q, centre)
		if a := r3.Norm(phi); a > 0 {
			u = rodrigues(u, r3.Scale(1/a, phi), a)
		}
		return r3.Add(r3.Add(centre, r3.Vec{X: x[0], Y: x[1], Z: x[2]}), u)
	}
	for i, b := range n.bodies {
		if b == body {
			for _, m := range n.l.Members {
				if m.Name == body {
					o := n.l.Points[m.Points[0]].At
					k := r3.Unit(r3.Sub(n.l.Points[m.Points[1]].At, o))
					return r3.Add(o, rodrigues(r3.Sub(q, o), k, x[6+i]))
				}
			}
		}
	}
	panic("no body " + body)
}

func (n *loose) residual(x []float64, z, rack float64) []float64 {
	out := []float64{x[2] - z}
	for _, m := range n.l.Members {
		switch m.Kind {
		case kin.Arm:
			d := r3.Sub(n.place(m.Name, m.Points[2], x, rack), n.place(kin.Upright, m.Points[2], x, rack))
			out = append(out, d.X, d.Y, d.Z)
		case kin.Link:
			d := r3.Sub(n.place(m.Bodies[0], m.Points[0], x, rack), n.place(m.Bodies[1], m.Points[1], x, rack))
			d0 := r3.Sub(n.l.Points[m.Points[0]].At, n.l.Points[m.Points[1]].At)
			out = append(out, r3.Norm(d)-r3.Norm(d0))
		}
	}
	return out
}

// solve goes to a position in small steps from where x stands.
func (n *loose) solve(t tester, z, rack float64) {
	t.Helper()
	const steps = 16
	for i := 1; i <= steps; i++ {
		k := float64(i) / steps
		n.newton(t, k*z, k*rack)
	}
}

func (n *loose) newton(t tester, z, rack float64) {
	t.Helper()
	size := len(n.x)
	jac := mat.NewDense(size, size, nil)
	for range 20 {
		f := n.residual(n.x, z, rack)
		if len(f) != size {
			t.Fatalf("%d equations for %d unknowns", len(f), size)
		}
		worst := 0.
		for _, v := range f {
			worst = math.Max(worst, math.Abs(v))
		}
		if worst < 1e-11 {
			return
		}
		for j := range size {
			h := 1e-6
			if j < 3 {
				h = 1e-4
			}
			x := append([]float64(nil), n.x...)
			x[j] += h
			hi := n.residual(x, z, rack)
			x[j] -= 2 * h
			lo := n.residual(x, z, rack)
			for i := range size {
				jac.Set(i, j, (hi[i]-lo[i])/(2*h))
			}
		}
		var step mat.VecDense
		if err := step.SolveVec(jac, mat.NewVecDense(size, f)); err != nil {
			t.Fatalf("independent solver: %v", err)
		}
		for i := range size {
			n.x[i] -= step.AtVec(i)
		}
	}
	t.Fatalf("independent solver did not settle at %g, %g", z, rack)
}

// TestIndependentSolver compares random corners of every layout with the other formulation: every point of
// every member, every arm's and rocker's angle, every damper's length.
func TestIndependentSolver(t *testing.T) {
	forLayouts(t, func(t *rapid.T, l *kin.Linkage) {
		c := newCorner(t, l)
		p := drawPosition(t)
		angle := c.angles(p.Wheel, p.Rack)
		n := newLoose(l)
		n.solve(t, p.Wheel, p.Rack)
		for i, b := range n.bodies {
			near(t, b, angle[b]*deg, n.x[6+i], 1e-10)
		}
		for i, q := range l.Points {
			got, want := c.carried(q.At), n.place(kin.Upright, i, n.x, p.Rack)
			near(t, q.Name, r3.Norm(r3.Sub(got, want)), 0, 1e-8)
		}
		for _, m := range l.Members {
			for e, body := range m.Bodies {
				if m.Kind == kin.Link || m.Kind == kin.Damper || m.Kind == kin.Spring {
					got, want := c.s.Carry(body, kin.Left, l.Points[m.Points[e]].At), n.place(body, m.Points[e], n.x, p.Rack)
					near(t, m.Name, r3.Norm(r3.Sub(got, want)), 0, 1e-8)
				}
			}
			if m.Kind == kin.Damper || m.Kind == kin.Spring {
				a, b := n.place(m.Bodies[0], m.Points[0], n.x, p.Rack), n.place(m.Bodies[1], m.Points[1], n.x, p.Rack)
				near(t, m.Name+".length", c.get(p.Wheel, p.Rack, m.Name+".length"), r3.Norm(r3.Sub(a, b)), 1e-8)
			}
		}
	})
}

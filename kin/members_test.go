package kin_test

import (
	"math"
	"testing"

	"trammel/kin"

	"gonum.org/v1/gonum/spatial/r3"
	"pgregory.net/rapid"
)

// TestMembersKeepTheirShape: at every kind of position, of both sides: bars keep their lengths, balls and hinges hold
// together, a strut's top stays on its leg, and every body is turned and not bent.
func TestMembersKeepTheirShape(t *testing.T) {
	forEvery(t, func(t *rapid.T, l *kin.Linkage) {
		c := newCorner(t, l)
		for _, p := range append(spots(), drawSpot(t)) {
			c.stand(p)
			for i := range l.Members {
				for _, side := range instances(&l.Members[i]) {
					c.holds(&l.Members[i], side)
				}
			}
			for _, side := range []kin.Side{kin.Left, kin.Right} {
				c.isRigid(carrierOf(l), side)
			}
		}
	})
}

func (c *corner) holds(m *kin.Member, side kin.Side) {
	// together is the greatest distance between a point of one body and the same of another.
	together := func(k int, a, b string) {
		p, _ := c.end(m, side, k, a)
		q, _ := c.end(m, side, k, b)
		near(c.t, side.String()+" "+m.Name, r3.Norm(r3.Sub(p, q)), 0, 1e-9)
	}
	switch m.Kind {
	case kin.Link:
		if now, design := c.span(m, side); !m.Soft {
			near(c.t, side.String()+" "+m.Name, now, design, 1e-9)
		}
	case kin.Arm:
		together(2, m.Name, m.Bodies[1])
	case kin.HArm:
		together(2, m.Name, m.Bodies[1])
		together(3, m.Name, m.Bodies[1])
	case kin.Hinge:
		together(0, m.Bodies[0], m.Bodies[1])
		together(1, m.Bodies[0], m.Bodies[1])
	case kin.Ball:
		together(0, m.Bodies[0], m.Bodies[1])
	case kin.Strut:
		top, _ := c.end(m, side, 0, m.Bodies[0])
		p, _ := c.end(m, side, 0, m.Bodies[1])
		q, _ := c.end(m, side, 1, m.Bodies[1])
		near(c.t, side.String()+" "+m.Name, r3.Norm(r3.Cross(r3.Sub(top, p), r3.Unit(r3.Sub(q, p)))), 0, 1e-9)
	}
	switch m.Kind {
	case kin.Arm, kin.HArm, kin.Rocker, kin.Centre:
		c.isRigid(m.Name, side)
	}
	if m.Kind == kin.Rocker || m.Kind == kin.Kingpin {
		name := m.Name
		if m.Kind == kin.Kingpin {
			name = kin.Upright
		}
		together(0, m.Bodies[0], name)
		together(1, m.Bodies[0], name)
	}
}

// isRigid checks that a body's points stand to each other as at design, and in the same hand.
func (c *corner) isRigid(body string, side kin.Side) {
	at := func(q r3.Vec) r3.Vec { return c.s.Carry(body, side, q) }
	o := at(r3.Vec{})
	e := [3]r3.Vec{r3.Sub(at(r3.Vec{X: 1}), o), r3.Sub(at(r3.Vec{Y: 1}), o), r3.Sub(at(r3.Vec{Z: 1}), o)}
	for i := range e {
		for j := range e {
			want := 0.
			if i == j {
				want = 1
			}
			near(c.t, body+" is orthonormal", r3.Dot(e[i], e[j]), want, 1e-12)
		}
	}
	near(c.t, body+" is right-handed", r3.Dot(e[0], r3.Cross(e[1], e[2])), 1, 1e-12)
}

// TestCarriersTurn: the drawn side's rotation is orthonormal to rounding, whatever the way there.
func TestCarriersTurn(t *testing.T) {
	forEvery(t, func(t *rapid.T, l *kin.Linkage) {
		c := newCorner(t, l)
		p := drawSpot(t)
		c.stand(p)
		_, r := c.s.Pose()
		for i := range 3 {
			for j := range 3 {
				dot := r[3*i]*r[3*j] + r[3*i+1]*r[3*j+1] + r[3*i+2]*r[3*j+2]
				if i == j {
					dot--
				}
				if math.Abs(dot) > 4e-15 {
					t.Errorf("rows %d and %d of the rotation at %v: %g", i, j, p.at, dot)
				}
			}
		}
	})
}

package kin_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"trammel/kin"
	"trammel/kin/kintest"

	"gonum.org/v1/gonum/spatial/r3"
)

// defineStroke takes what is left of a length from its ends.
func (c *corner) defineStroke(want map[string]float64, m *kin.Member, side kin.Side) {
	name := prefix(side) + m.Name
	length, _ := c.span(m, side)
	want[name+".length"] = length
	want[name+".closing_left"] = length - m.Stroke.Closed
	want[name+".opening_left"] = m.Stroke.Open - length
	want[name+".stop_crush"] = m.Stroke.Stop - length
	want[name+".solid_left"] = length - m.Stroke.Solid
}

// lever is an end of a member on something that turns about the line through p and q.
type lever struct {
	p, q r3.Vec
}

// defineLevers takes the angles at a rod's, damper's or spring's ends. Where both ends are on bodies that turn about axes
// of their own, a rod is looked at where it turns the second, and a damper at its first.
func (c *corner) defineLevers(want map[string]float64, m *kin.Member, side kin.Side) {
	if m.Kind != kin.Link && m.Kind != kin.Damper && m.Kind != kin.Spring {
		return
	}
	name := prefix(side) + m.Name
	var ends [2]*lever
	var turns [2]bool
	var angles, dead [2]float64
	for k := range 2 {
		body, _ := bodyOf(m.Bodies[k], side)
		turns[k] = c.turning(body) != nil
		if ends[k] = c.leverOf(m, side, k); ends[k] == nil {
			continue
		}
		on, _ := c.end(m, side, k, m.Bodies[k])
		far, _ := c.end(m, side, 1-k, m.Bodies[1-k])
		p, q := ends[k].p, ends[k].q
		angles[k] = cornerAt(on, far, nearest(p, q, on))
		// Seen along the axis: the far end shifted along it into the plane of the arm.
		axis := r3.Unit(r3.Sub(q, p))
		flat := r3.Sub(far, r3.Scale(r3.Dot(axis, r3.Sub(far, on)), axis))
		dead[k] = 90 - math.Abs(cornerAt(on, flat, nearest(p, q, on))-90)
	}
	e := 0
	if ends[0] == nil || m.Kind == kin.Link && turns[1] {
		e = 1
	}
	if ends[e] != nil {
		want[name+".lever_angle"], want[name+".dead_centre"] = angles[e], dead[e]
	}
	if ends[0] != nil && ends[1] != nil {
		want[name+".lever_angle_first"], want[name+".lever_angle_second"] = angles[0], angles[1]
		want[name+".dead_centre_first"], want[name+".dead_centre_second"] = dead[0], dead[1]
	}
}

// nearest is the point of the line through p and q that is nearest to a place.
func nearest(p, q, to r3.Vec) r3.Vec {
	k := r3.Unit(r3.Sub(q, p))
	return r3.Add(p, r3.Scale(r3.Dot(k, r3.Sub(to, p)), k))
}

// cornerAt is the angle at a between the lines to b and to c, deg, by the law of cosines.
func cornerAt(a, b, c r3.Vec) float64 {
	x, y, z := r3.Norm(r3.Sub(b, a)), r3.Norm(r3.Sub(c, a)), r3.Norm(r3.Sub(b, c))
	return math.Acos((x*x+y*y-z*z)/(2*x*y)) / deg
}

// leverOf finds about what the body at end k of a member turns: its own axis, or, of an upright that the link holds or
// steers, the line through the joints of the steering axis, where it does not pass through the link's own end.
func (c *corner) leverOf(m *kin.Member, side kin.Side, k int) *lever {
	name, of := bodyOf(m.Bodies[k], side)
	holds := m.Kind == kin.Link && !m.Soft && c.carries(m)
	if t := c.turning(name); t != nil {
		s := of
		if t.Across {
			s = kin.Once
		}
		p, q := c.axisOf(t, s)
		arm := t.Kind == kin.Arm || t.Kind == kin.HArm
		if holds && arm {
			return nil
		}
		return &lever{c.s.Carry(name, of, p), c.s.Carry(name, of, q)}
	}
	if !holds || name != kin.Upright {
		return nil
	}
	p, q, ok := c.steeringLine(of)
	on, _ := c.end(m, side, k, m.Bodies[k])
	if !ok || r3.Norm(r3.Sub(on, p)) < 1 || r3.Norm(r3.Sub(on, q)) < 1 {
		return nil
	}
	return &lever{p, q}
}

// carries tells whether a link is one of those that hold what carries the wheel: it leads there, and turns no rocker of
// its own.
func (c *corner) carries(m *kin.Member) bool {
	carrier := func(b string) bool {
		name, _ := bodyOf(b, kin.Left)
		return name == kin.Axle || name == kin.Upright && c.turning(name) == nil
	}
	for k, b := range m.Bodies {
		name, _ := bodyOf(m.Bodies[1-k], kin.Left)
		if t := c.turning(name); carrier(b) && (t == nil || t.Kind != kin.Rocker || c.racked(name)) {
			return true
		}
	}
	return false
}

// racked tells whether a link from the rack turns a rocker.
func (c *corner) racked(rocker string) bool {
	return slices.ContainsFunc(c.link.Members, func(m kin.Member) bool {
		return slices.Contains(m.Bodies, kin.Rack) && slices.Contains(m.Bodies, rocker)
	})
}

// TestTransmissionAngle: the angle at the rocker's pin between coupler and rocker, which textbooks call the transmission
// angle and take acute (R. L. Norton, Design of Machinery, section 4.10; from memory), is the difference of their two directions,
// which the tables of fourBarRows publish. A damper that lies along the coupler has it for its lever angle there.
func TestTransmissionAngle(t *testing.T) {
	for _, row := range fourBarRows {
		for i, closure := range []string{"open", "crossed"} {
			coupler, rocker := row.want[2*i], row.want[2*i+1]
			if math.IsNaN(coupler) {
				continue
			}
			t.Run(fmt.Sprintf("%s, %s", row.source, closure), func(t *testing.T) {
				scale := 200 / row.ground
				f := kintest.FourBar{Ground: 200, Crank: scale * row.crank, Coupler: scale * row.coup, Rocker: scale * row.rod, Crossed: i == 1}
				start, along := startOf(t, f, row.angle*deg)
				l := f.Corner(start, along, 0)
				a, b := slices.IndexFunc(l.Points, func(p kin.Point) bool { return p.Name == "a" }), slices.IndexFunc(l.Points, func(p kin.Point) bool { return p.Name == "b" })
				l.Members = append(l.Members, kin.Member{Name: "rod", Kind: kin.Damper, Points: []int{a, b}, Bodies: []string{"crank", "rocker"}})
				c := newCorner(t, l)
				z := func(crank float64) float64 {
					coupler, _, _ := f.Close(crank)
					_, z := f.Centre(crank, coupler, along, 0)
					return z
				}
				got := c.one(z(row.angle*deg)-z(start), 0, "rod.lever_angle_first", "rod.lever_angle_second", "rod.dead_centre_first", "rod.dead_centre_second")
				atPin, atCrank := math.Abs(wrap(coupler-rocker)), 180-math.Abs(wrap(coupler-row.angle))
				near(t, "at the rocker", got[1], atPin, 2*row.tol)
				near(t, "transmission angle", got[3], math.Min(atPin, 180-atPin), 2*row.tol)
				near(t, "at the crank", got[0], atCrank, row.tol)
				near(t, "crank from its dead centre", got[2], math.Min(atCrank, 180-atCrank), row.tol)
			})
		}
	}
}

// TestDeadCentreOutOfPlane: a rod that leans out of the plane in which its arm turns by an angle is at a dead centre with that
// angle left between itself and the arm, and square to the arm is square whatever it leans. A rod along the axis has no
// dead centre. Both edges of the measure have derivatives.
func TestDeadCentreOutOfPlane(t *testing.T) {
	for _, row := range []struct{ along, in, up, lever, dead float64 }{ // of the rod from its end, of 100 mm, on the lower arm: along the axis, towards it, square to it
		{0, 100, 0, 0, 0}, {0, -100, 0, 180, 0}, {0, 0, 100, 90, 90}, {75, 0, 100, 90, 90},
		{100, 100, 0, 45, 0}, {-100, 100, 0, 45, 0}, {0, 100, 100, 45, 45}, {0, -100, 100, 135, 45},
		{100, 100, 100, math.Acos(1/math.Sqrt(3)) / deg, 45}, {100, 0, 0, 90, math.NaN()},
	} {
		b := kintest.EqualArms().Builder()
		b.Point("foot", 0, 495, 180).Point("head", row.along, 495-row.in, 180+row.up) // the arm turns about a line along the car through (320, 180)
		b.Member("damper", kin.Damper, []string{"foot", "head"}, []string{"lower_arm", kin.Frame})
		c := newCorner(t, &b.L)
		got := c.one(0, 0, "damper.lever_angle", "damper.dead_centre")
		near(t, fmt.Sprint("lever angle ", row), got[0], row.lever, 1e-6)
		if math.IsNaN(row.dead) != math.IsNaN(got[1]) || math.Abs(got[1]-row.dead) > 1e-6 {
			t.Errorf("%v: dead centre is %g", row, got[1])
		}
		if math.IsNaN(row.dead) {
			continue
		}
		sw := c.prog.NewSweep(kin.NewMotion("design", kin.BothWheels, false, []kin.Position{{}}), c.columns("damper.dead_centre"))
		d := kin.Slopes{Directions: make([]kin.Direction, 1), At: make([]float64, 1)}
		c.prog.Move(&d.Directions[0], len(b.L.Points)-1, r3.Vec{X: 0.2, Y: 0.3, Z: 1})
		if _, f := c.s.RunSlopes(sw, make([]float64, 1), &d); f.Status != kin.OK || math.IsNaN(d.At[0]) || math.IsInf(d.At[0], 0) {
			t.Errorf("%v: %s, derivative %g", row, c.prog.Describe(f), d.At[0])
		}
	}
}

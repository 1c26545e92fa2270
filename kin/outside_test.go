package kin_test

import (
	"fmt"
	"math"
	"testing"

	"trammel/kin"
	"trammel/kin/kintest"

	"gonum.org/v1/gonum/spatial/r3"
)

// TestRollCentreTextbook: the two arms' lines meet in the instant centre, the line from the contact centre to
// it cuts the car's middle at the roll centre, and camber changes by one radian for each length of the swing
// arm (W. F. and D. L. Milliken, Race Car Vehicle Dynamics, chapter 17; T. D. Gillespie, Fundamentals of Vehicle
// Dynamics, chapter 7; formulae from memory). The numbers are exact consequences of the inputs, taken as
// fractions outside this project: instant centre (−12700/7, 1790/7), roll centre 26850/359, swing arm 17950/7.
func TestRollCentreTextbook(t *testing.T) {
	p := kintest.Planar{UpperPivot: [2]float64{350, 400}, UpperBall: [2]float64{650, 420}, LowerPivot: [2]float64{300, 150}, LowerBall: [2]float64{700, 130},
		Centre: [2]float64{750, 300}, Radius: 300}
	c := newCorner(t, &p.Builder().L)
	got := c.one(0, 0, "roll_centre_height", "roll_centre_lateral", "front_view_swing_arm", "camber_gain", "contact_y", "contact_z", "bump_steer")
	near(t, "roll centre height", got[0], 26850./359, 1e-9)
	near(t, "roll centre lateral", got[1], 0, 1e-12)
	near(t, "swing arm", got[2], 17950./7, 1e-8)
	near(t, "camber gain", got[3], -0.022343758, 5e-10)
	near(t, "camber gain", got[3], -7./17950/deg, 1e-14)
	near(t, "contact y", got[4], 750, 1e-12)
	near(t, "contact z", got[5], 0, 1e-12)
	near(t, "bump steer", got[6], 0, 1e-14)
}

// steering returns a corner with the given steering axis: level arms, so that nothing but the axis matters.
func steering(low, high, centre r3.Vec, radius float64) *kin.Linkage {
	b := &kintest.Builder{}
	for _, a := range []struct {
		name string
		ball r3.Vec
	}{{"lower", low}, {"upper", high}} {
		b.Point(a.name+"_front", a.ball.X+150, 300, a.ball.Z).Point(a.name+"_rear", a.ball.X-150, 300, a.ball.Z).Point(a.name+"_ball", a.ball.X, a.ball.Y, a.ball.Z)
		b.Arm(a.name+"_arm", a.name+"_front", a.name+"_rear", a.name+"_ball")
	}
	b.Point("rack_end", 120, 320, low.Z+40).Point("steering_arm", 110, 670, low.Z+30).Point("wheel_centre", centre.X, centre.Y, centre.Z)
	b.Link("tie_rod", "rack_end", "steering_arm", kin.Rack, kin.Upright)
	b.Wheel("wheel_centre", 0, 0, radius)
	b.L.Vehicle.Wheelbase = 2500
	return &b.L
}

// TestSteeringAxisFormulae: standard formulae from memory (Milliken, chapter 17 and 19; signs of ISO 8855), with
// numbers computed outside this project.
func TestSteeringAxisFormulae(t *testing.T) {
	c := newCorner(t, steering(r3.Vec{Y: 700, Z: 150}, r3.Vec{X: -30, Y: 660, Z: 450}, r3.Vec{Y: 750, Z: 300}, 300))
	got := c.one(0, 0, "caster", "kingpin_inclination", "caster_trail", "kingpin_offset")
	near(t, "caster", got[0], 5.7105931, 1e-7)
	near(t, "kingpin inclination", got[1], 7.5946434, 1e-7)
	near(t, "caster trail", got[2], 15, 1e-9)
	near(t, "kingpin offset", got[3], 30, 1e-9)

	// An axis through the wheel centre, 6° of caster, R = 300: trail R tan 6°.
	dir := r3.Vec{X: -math.Tan(6 * deg), Z: 1}
	centre := r3.Vec{X: 3, Y: 700, Z: 300}
	c = newCorner(t, steering(r3.Add(centre, r3.Scale(-120, dir)), r3.Add(centre, r3.Scale(130, dir)), centre, 300))
	got = c.one(0, 0, "caster_trail", "hub_trail", "hub_offset", "caster", "kingpin_offset")
	near(t, "trail", got[0], 31.5312706, 5e-8)
	near(t, "hub trail", got[1], 0, 1e-9)
	near(t, "hub offset", got[2], 0, 1e-9)
	near(t, "caster", got[3], 6, 1e-9)
	near(t, "kingpin offset", got[4], 0, 1e-9)

	// 50 mm inboard of the wheel centre, 8° of inclination, R = 300: offset 50 − R tan 8°.
	dir = r3.Vec{Y: -math.Tan(8 * deg), Z: 1}
	centre = r3.Vec{Y: 740, Z: 300}
	through := r3.Vec{Y: 690, Z: 300}
	c = newCorner(t, steering(r3.Add(through, r3.Scale(-120, dir)), r3.Add(through, r3.Scale(130, dir)), centre, 300))
	got = c.one(0, 0, "kingpin_offset", "hub_offset", "kingpin_inclination", "caster_trail")
	near(t, "offset", got[0], 7.8377496, 5e-8)
	near(t, "hub offset", got[1], 50, 1e-9)
	near(t, "inclination", got[2], 8, 1e-9)
	near(t, "trail", got[3], 0, 1e-9)
}

// TestAckermannTable: cot outer = cot inner + w/L. S. S. Rattan, Theory of Machines: w/L 0.44, inner 18°, outer 15.9°
// (from memory; 15.869284 recomputed); the other rows, w = 1500 and L = 2500, were computed outside this project.
func TestAckermannTable(t *testing.T) {
	rows := []struct{ ratio, inner, ideal, tol float64 }{
		{0.44, 18, 15.9, 0.05}, {0.44, 18, 15.869284, 1e-6},
		{0.6, 5, 4.751796, 1e-6}, {0.6, 10, 9.059941, 1e-6}, {0.6, 15, 12.998333, 1e-6}, {0.6, 20, 16.632590, 1e-6},
		{0.6, 25, 20.019928, 1e-6}, {0.6, 30, 23.209998, 1e-6}, {0.6, 35, 26.246093, 1e-6}, {0.6, 40, 29.166430, 1e-6},
	}
	for _, row := range rows {
		t.Run(fmt.Sprintf("%g of %g", row.inner, row.ratio), func(t *testing.T) {
			// An upright steering axis at y = 660: w = 1320.
			l := steering(r3.Vec{Y: 660, Z: 150}, r3.Vec{Y: 660, Z: 450}, r3.Vec{Y: 720, Z: 300}, 300)
			l.Wheel.Toe = 0.3 * deg
			l.Vehicle.Wheelbase = 1320 / row.ratio
			c := newCorner(t, l)
			for _, side := range []float64{1, -1} { // to the left this wheel is the inner one, to the right the other
				lock := rackFor(c, row.inner) * side
				got := c.one(0, lock, "ackermann", "turn_radius", "steer_angle")
				outer := -(c.get(0, -math.Abs(lock), "steer_angle") + 0.3)
				want := 100 * (row.inner - outer) / (row.inner - row.ideal)
				near(t, "ackermann", got[0], want, math.Abs(want)*row.tol/(row.inner-row.ideal)*1.1)
				// The steering axis goes round at L/sin outer, and the contact centre 60 mm outside it.
				near(t, "turn radius", got[1], l.Vehicle.Wheelbase/math.Sin(outer*deg)+60, 1e-4)
				if got[2]*side <= 0 {
					t.Errorf("rack to %g steers to %g", lock, got[2])
				}
			}
		})
	}
}

// rackFor returns the travel of the rack to the left that steers the left wheel by the angle from straight
// ahead, static toe removed.
func rackFor(c *corner, angle float64) float64 {
	straight := c.get(0, 0, "steer_angle")
	lo, hi := 0., 1.
	for c.get(0, hi, "steer_angle")-straight < angle {
		lo, hi = hi, hi+4
	}
	for range 60 {
		mid := (lo + hi) / 2
		if c.get(0, mid, "steer_angle")-straight < angle {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// TestEqualParallelArms: the upright only shifts; camber stays to rounding, and the contact centre goes round
// a circle with the arms' radius. Exact.
func TestEqualParallelArms(t *testing.T) {
	c := newCorner(t, &kintest.EqualArms().Builder().L)
	at := kintest.Line(41, 100, 0)
	got := c.run(at, "camber", "contact_y", "contact_z", "camber_gain", "half_track_change", "toe")
	for i, p := range at {
		near(t, "camber", got[0][i], 0, 1e-12)
		near(t, "toe", got[5][i], 0, 1e-12)
		near(t, "camber gain", got[3][i], 0, 1e-14)
		near(t, "circle", math.Hypot(got[1][i]-(730-350), got[2][i]), 350, 1e-9)
		near(t, "contact z", got[2][i], p.Wheel, 1e-9)
		near(t, "half track", got[4][i], math.Sqrt(350*350-p.Wheel*p.Wheel)-350, 1e-9)
	}
}

// TestRodAtMidArm: common practice, no source: a rod or damper at the middle of an arm moves about half the
// wheel's travel. At design, with everything square, exactly half.
func TestRodAtMidArm(t *testing.T) {
	b := kintest.EqualArms().Builder()
	b.Point("foot", 0, 495, 180).Point("head", 0, 495, 560)
	b.Member("damper", kin.Damper, []string{"foot", "head"}, []string{"lower_arm", kin.Frame})
	c := newCorner(t, &b.L)
	at := kintest.Line(21, 50, 0)
	got := c.run(at, "damper.installation_ratio", "damper.length", "damper.lever_angle")
	near(t, "ratio at design", got[0][10], 0.5, 1e-12)
	near(t, "lever angle at design", got[2][10], 90, 1e-9)
	for i := range at {
		near(t, fmt.Sprint("ratio at ", at[i].Wheel), got[0][i], 0.5, 0.025)
	}
	near(t, "stroke", got[1][0]-got[1][20], 50, 1.5)
}

// TestTieRodThroughInstantAxis: two arms leave the upright a turn about the line in which their planes meet
// and no bump steer where that line is level and the tie rod points at it. Exact to first order. On general
// arms the upright turns about the line itself, and every slope follows from that turn.
func TestTieRodThroughInstantAxis(t *testing.T) {
	t.Run("level axis", func(t *testing.T) {
		p := kintest.Planar{UpperPivot: [2]float64{350, 400}, UpperBall: [2]float64{650, 420}, LowerPivot: [2]float64{300, 150}, LowerBall: [2]float64{700, 130},
			Centre: [2]float64{750, 300}, Radius: 300}
		l := p.Builder().L
		centre := r3.Vec{X: 40, Y: -12700. / 7, Z: 1790. / 7} // anywhere along the axis
		arm := r3.Vec{X: -115, Y: 690, Z: 240}
		place(&l, "steering_arm", arm)
		place(&l, "rack_end", r3.Add(arm, r3.Scale(340, r3.Unit(r3.Sub(centre, arm)))))
		c := newCorner(t, &l)
		got := c.one(0, 0, "bump_steer", "camber_gain", "roll_centre_height")
		near(t, "bump steer", got[0], 0, 1e-13)
		near(t, "camber gain", got[1], -7./17950/deg, 1e-12)
		near(t, "roll centre height", got[2], 26850./359, 1e-8)
		if v := c.get(30, 0, "bump_steer"); math.Abs(v) < 1e-5 {
			t.Errorf("bump steer 30 mm away should differ from 0, got %g", v)
		}
	})
	t.Run("any axis", func(t *testing.T) {
		l := kintest.Pushrod()
		n1 := r3.Cross(r3.Sub(at(l, "lower_rear"), at(l, "lower_front")), r3.Sub(at(l, "lower_ball"), at(l, "lower_front")))
		n2 := r3.Cross(r3.Sub(at(l, "upper_rear"), at(l, "upper_front")), r3.Sub(at(l, "upper_ball"), at(l, "upper_front")))
		k := r3.Unit(r3.Cross(n1, n2))
		// A point of both planes: (d1 n2 × k' + d2 k' × n1)/|k'|² with k' = n1 × n2.
		d1, d2, kk := r3.Dot(n1, at(l, "lower_ball")), r3.Dot(n2, at(l, "upper_ball")), r3.Cross(n1, n2)
		q := r3.Scale(1/r3.Norm2(kk), r3.Add(r3.Scale(d1, r3.Cross(n2, kk)), r3.Scale(d2, r3.Cross(kk, n1))))
		arm := at(l, "steering_arm")
		aim := r3.Add(q, r3.Scale(r3.Dot(k, r3.Sub(arm, q)), k))
		place(l, "rack_end", r3.Add(arm, r3.Scale(400, r3.Unit(r3.Sub(aim, arm)))))
		c := newCorner(t, l)
		got := c.one(0, 0, "camber_gain", "bump_steer", "contact_path_y", "contact_path_x", "caster_gain")
		centre := at(l, "wheel_centre")
		w := r3.Scale(1/r3.Cross(k, r3.Sub(centre, q)).Z, k) // turns the wheel centre up by 1
		spin := r3.Vec{X: math.Sin(l.Wheel.Toe) * math.Cos(l.Wheel.Camber), Y: math.Cos(l.Wheel.Toe) * math.Cos(l.Wheel.Camber), Z: -math.Sin(l.Wheel.Camber)}
		turned := func(h float64) (s, contact, axis r3.Vec) {
			turn := func(v r3.Vec) r3.Vec { return rodrigues(v, r3.Unit(w), h*r3.Norm(w)) }
			s = turn(spin)
			down := r3.Unit(r3.Sub(r3.Scale(s.Z, s), r3.Vec{Z: 1}))
			contact = r3.Add(r3.Add(q, turn(r3.Sub(centre, q))), r3.Scale(l.Wheel.LoadedRadius, down))
			return s, contact, turn(r3.Sub(at(l, "upper_ball"), at(l, "lower_ball")))
		}
		s0, c0, a0 := turned(-1e-3)
		s1, c1, a1 := turned(1e-3)
		near(t, "camber gain", got[0], (math.Asin(s0.Z)-math.Asin(s1.Z))/2e-3/deg, 1e-9)
		near(t, "bump steer", got[1], (math.Atan2(s1.X, s1.Y)-math.Atan2(s0.X, s0.Y))/2e-3/deg, 1e-9)
		near(t, "contact path y", got[2], (c1.Y-c0.Y)/(c1.Z-c0.Z), 1e-8)
		near(t, "contact path x", got[3], (c1.X-c0.X)/(c1.Z-c0.Z), 1e-8)
		near(t, "caster gain", got[4], (math.Atan2(-a1.X, a1.Z)-math.Atan2(-a0.X, a0.Z))/2e-3/deg, 1e-9)
	})
}

func place(l *kin.Linkage, name string, to r3.Vec) {
	for i := range l.Points {
		if l.Points[i].Name == name {
			l.Points[i].At = to
			return
		}
	}
	panic("no point " + name)
}

// meriam returns the two cranks and the rod of J. L. Meriam and L. G. Kraige, Engineering Mechanics: Dynamics,
// Sample Problems 7/3 and 7/4 (coordinates rebuilt from the book's vectors): crank CB about y through
// (0, 0, 100), which is an arm here and turns with the wheel, drives crank DA about z through (100, 100, 100),
// a rocker of radius 50, by the rod BA of 150. second draws the other closure at the same crank angle.
// The wheel rises by 400 sin b: two equal parallel arms of 400 carry it.
func meriam(second bool) *kin.Linkage {
	b := &kintest.Builder{}
	b.Point("c", 0, 0, 100).Point("c2", 0, -50, 100).Point("lower", 400, 20, 100).
		Point("e", 0, 0, 300).Point("e2", 0, -50, 300).Point("upper", 400, 20, 300).
		Point("f", 0, 220, 100).Point("toe", 400, 220, 100).
		Point("wheel_centre", 400, 120, 200).
		Point("b", 0, 0, 0).Point("d", 100, 100, 100).Point("d2", 100, 100, 0)
	if second {
		b.Point("a", 100, 50, 100)
	} else {
		b.Point("a", 50, 100, 100)
	}
	b.Arm("crank", "c", "c2", "lower").Arm("other", "e", "e2", "upper")
	b.Link("toe_link", "f", "toe", kin.Frame, kin.Upright)
	b.Link("rod", "b", "a", "crank", "rocker")
	b.Member("rocker", kin.Rocker, []string{"d", "d2"}, []string{kin.Frame})
	b.Wheel("wheel_centre", 0, 0, 200)
	return &b.L
}

// TestMeriamSpatialCranks: published: 6 rad/s follows from 6 rad/s, and −36 rad/s² (the latter from memory).
// Finite positions computed outside this project from the loop's closed form.
func TestMeriamSpatialCranks(t *testing.T) {
	rows := [][3]float64{
		{-10, -11.3346419173, -69.5302802551}, {0, 0, -90}, {10, 9.360455787, -110.223081877}, {20, 18.0396691947, -131.35144723},
		{30, 26.5650511771, -153.434948823}, {45, 39.7477899554, 172.902109918}, {60, 54.1468667592, 141.114613666},
	}
	for i, start := range []float64{0, -90} {
		c := newCorner(t, meriam(i == 1))
		for _, row := range rows {
			got := c.one(400*math.Sin(row[0]*deg), 0, "crank.angle", "rocker.angle")
			near(t, "crank", got[0], row[0], 1e-9)
			near(t, fmt.Sprintf("rocker at %g, closure %d", row[0], i+1), wrap(start+got[1]-row[1+i]), 0, 1e-9)
		}
	}
	c := newCorner(t, meriam(false))
	c.get(0, 0, "camber")
	b1, b2 := c.s.Turning("crank")
	a1, a2 := c.s.Turning("rocker")
	near(t, "speed", 6*a1/b1, 6, 1e-12)
	near(t, "acceleration", accelerate(6, 0, b1, b2, a1, a2), -36, 1e-10)

	// The rod's own turn, no spin about itself: ω = r × v/|r|² and α = r × a/|r|², v and a of its end A less those of B.
	// Published: 2√5 rad/s, and from memory (−8, 16, −12) rad/s²; the vector of 7/3 was recomputed.
	omega, alpha := 6*a1/b1, accelerate(6, 0, b1, b2, a1, a2)
	r := r3.Sub(at(c.link, "a"), at(c.link, "b"))
	v := r3.Sub(r3.Vec{Y: 50 * omega}, r3.Vec{X: 600})
	a := r3.Sub(r3.Vec{X: 50 * omega * omega, Y: 50 * alpha}, r3.Vec{Z: 3600})
	turn := r3.Scale(1/r3.Norm2(r), r3.Cross(r, v))
	near(t, "rod's turn", r3.Norm(turn), 2*math.Sqrt(5), 1e-12)
	near(t, "rod's turn", r3.Norm(r3.Sub(turn, r3.Vec{X: -4. / 3, Y: -8. / 3, Z: 10. / 3})), 0, 1e-12)
	near(t, "rod's acceleration", r3.Norm(r3.Sub(r3.Scale(1/r3.Norm2(r), r3.Cross(r, a)), r3.Vec{X: -8, Y: 16, Z: -12})), 0, 1e-11)

	// At −20° the rod no longer reaches, whatever is asked of the position.
	sw := c.prog.NewSweep(kin.NewMotion("droop", kin.BothWheels, false, []kin.Position{{Wheel: 400 * math.Sin(-20*deg)}}), c.columns("camber"))
	_, f := c.s.Run(sw, make([]float64, 1))
	if f.Status != kin.CannotAssemble || c.prog.Describe(f) != "rod and rocker line up" || f.At.Wheel != sw.Motion.Positions[0].Wheel {
		t.Errorf("got %+v: %s", f, c.prog.Describe(f))
	}
}

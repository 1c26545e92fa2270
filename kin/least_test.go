package kin_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"trammel/kin"
	"trammel/kin/kintest"

	"gonum.org/v1/gonum/spatial/r3"
	"pgregory.net/rapid"
)

// roomyLayouts are those whose solids must not touch.
func roomyLayouts() []kintest.Layout {
	return []kintest.Layout{{Name: "corner", Link: kintest.Roomy()}, {Name: "axle", Link: kintest.RoomyAxle()}}
}

// clearances are the columns of which a least is sought.
func (c *corner) clearances() []kin.Column {
	var out []kin.Column
	for _, col := range c.bothSides() {
		if col.Measure.Name == "clearance" {
			out = append(out, col)
		}
	}
	return out
}

// inside draws a position inside a motion, anywhere in the box that its positions fill.
func (m motion) inside(r *rand.Rand) kin.Position {
	lo, hi := m.at[0], m.at[0]
	for _, p := range m.at {
		lo = kin.Position{Wheel: min(lo.Wheel, p.Wheel), Rack: min(lo.Rack, p.Rack), Roll: min(lo.Roll, p.Roll)}
		hi = kin.Position{Wheel: max(hi.Wheel, p.Wheel), Rack: max(hi.Rack, p.Rack), Roll: max(hi.Roll, p.Roll)}
	}
	on := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
	return kin.Position{Wheel: on(lo.Wheel, hi.Wheel), Rack: on(lo.Rack, hi.Rack), Roll: on(lo.Roll, hi.Roll)}
}

// travels are the motions of an ordinary study.
func travels() []motion {
	lean := motion{kin.BothWheels, true, nil}
	for _, p := range kintest.Line(9, 2.4*deg, 0) {
		lean.at = append(lean.at, kin.Position{Wheel: 4, Roll: p.Wheel})
	}
	return []motion{
		{kin.BothWheels, false, kintest.Line(11, 44, 0)},
		{kin.BothWheels, false, kintest.Line(11, 0, 22)},
		{kin.BothWheels, false, grid(7, 5, 44, 22)},
		{kin.LeftWheel, false, kintest.Line(9, 34, 0)},
		{kin.RightWheel, false, kintest.Line(9, 34, 0)},
		lean,
	}
}

// TestLeast: at 500 positions inside a motion no gap is lower than the least by more than 0.05 mm, at its own positions by
// nothing; and the least is the gap at the place where it is said to be.
func TestLeast(t *testing.T) {
	forAll(t, roomyLayouts, func(t *rapid.T, l *kin.Linkage) {
		c := newCorner(t, l)
		cols := c.clearances()
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 5))
		for _, m := range travels() {
			name := [...]string{"both", "left", "right"}[m.wheels]
			sw := c.prog.NewSweep(kin.NewMotion(name, m.wheels, m.rolls, m.at), cols)
			v := c.values(sw)
			var places []kin.Position
			for range 500 {
				places = append(places, m.inside(random))
			}
			among := c.values(c.prog.NewSweep(kin.NewPlaces(name, m.wheels, m.rolls, places), cols))
			for k, col := range cols {
				at, ok := sw.Least(k)
				if !ok {
					t.Fatalf("%s: no least of %s is sought", name, col.Name)
				}
				for i := range m.at {
					if v[k*len(m.at)+i] < v[at] {
						t.Errorf("%s: the least %s is %.9g, but at %v it is %.9g", name, col.Name, v[at], m.at[i], v[k*len(m.at)+i])
					}
				}
				gaps := among[k*len(places) : (k+1)*len(places)]
				if low := slices.Min(gaps); low < v[at]-0.05 {
					t.Errorf("%s: the least %s is %.6g at %v, but at %v it is %.6g", name, col.Name, v[at], kin.LeastAt(v, at), places[slices.Index(gaps, low)], low)
				}
				alone := c.tableOf(m.wheels, m.rolls, []kin.Position{kin.LeastAt(v, at)}, cols[k:k+1])
				near(t, name+": the least "+col.Name, alone[0][0], v[at], 1e-9)
			}
		}
	})
}

// TestLeastOnTheRight: a linkage that is drawn on the right comes as near as its mirror image does, where rack and roll are
// the other way.
func TestLeastOnTheRight(t *testing.T) {
	for _, layout := range roomyLayouts() {
		left := newCorner(t, layout.Link)
		mirrored := *layout.Link
		mirrored.Right = true
		right := newCorner(t, &mirrored)
		cols := left.clearances()
		var far []kin.Column // in the order of cols
		for _, col := range cols {
			name := col.Name
			if col.Side == kin.Right {
				name = "left." + name[len("right."):]
			}
			far = append(far, right.columns(name)...)
		}
		for _, m := range travels() {
			other := motion{m.wheels, m.rolls, slices.Clone(m.at)}
			for i := range other.at {
				other.at[i].Rack, other.at[i].Roll = -m.at[i].Rack, -m.at[i].Roll
			}
			if m.wheels != kin.BothWheels {
				other.wheels = kin.LeftWheel + kin.RightWheel - m.wheels
			}
			one := left.prog.NewSweep(kin.NewMotion("left", m.wheels, m.rolls, m.at), cols)
			two := right.prog.NewSweep(kin.NewMotion("right", other.wheels, other.rolls, other.at), far)
			a, b := left.values(one), right.values(two)
			for k, col := range cols {
				i, _ := one.Least(k)
				j, _ := two.Least(k)
				near(t, layout.Name+": the least "+col.Name, b[j], a[i], 1e-9)
			}
		}
	}
}

// TestLeastAlongTheRack: a ball that goes along with the rack passes a ball of the frame steeply between two positions, on a
// car drawn on the left and on one drawn on the right.
func TestLeastAlongTheRack(t *testing.T) {
	const radius, across = 6., 13.
	for _, right := range []bool{false, true} {
		for _, ahead := range []float64{-17, -8, 3, 11} {
			b := level().Point("eye", 150, 240, 220).Point("post", 150+across, 240+ahead, 220)
			ball := kin.Space{Shape: kin.Tube, Radius: radius}
			b.Solid("eye", ball, []string{"eye"}, kin.Rack)
			b.Solid("post", ball, []string{"post"}, kin.Frame)
			b.Clear("pass", 0, []string{"eye"}, []string{"post"}).L.Right = right
			c := newCorner(t, &b.L)
			sw := c.prog.NewSweep(kin.NewMotion("steer", kin.BothWheels, false, kintest.Line(4, 0, 30)), c.columns("pass.clearance"))
			v := c.values(sw)
			at, _ := sw.Least(0)
			near(t, "gap", v[at], across-2*radius, 1e-9)
			if right { // the rack goes to the car's left, away from where the file draws + y
				near(t, "rack on the right", kin.LeastAt(v, at).Rack, -ahead, 1e-6)
			} else {
				near(t, "rack", kin.LeastAt(v, at).Rack, ahead, 1e-6)
			}
		}
	}
}

// trailing is a wheel on an arm about a lateral axis, with a ball on its upright that swings about that axis, and balls of
// the frame that it passes: each where the arm has turned by an angle, farther out by so much, so that this is how near their
// centres come, and a chord of the circle more anywhere else.
type trailing struct {
	axis, centre, ball r3.Vec
	radius             float64 // of the swinging ball and of the frame's
}

func (c trailing) turned(q r3.Vec, angle float64) r3.Vec {
	return r3.Add(c.axis, rodrigues(r3.Sub(q, c.axis), r3.Vec{Y: 1}, angle))
}

func (c trailing) travel(angle float64) float64 { return c.turned(c.centre, angle).Z - c.centre.Z }

func (c trailing) corner(angles, near []float64) *kin.Linkage {
	b := &kintest.Builder{}
	b.Point("inner", c.axis.X, 200, c.axis.Z).Point("outer", c.axis.X, 560, c.axis.Z).
		Point("wheel_centre", c.centre.X, c.centre.Y, c.centre.Z).Point("ball", c.ball.X, c.ball.Y, c.ball.Z)
	b.Member("arm", kin.Hinge, []string{"inner", "outer"}, []string{kin.Frame, kin.Upright})
	b.Wheel("wheel_centre", -1, 0, 280)
	round := kin.Space{Shape: kin.Tube, Radius: c.radius}
	b.Solid("ball", round, []string{"ball"}, kin.Upright)
	var posts []string
	for i, a := range angles {
		at := c.turned(c.ball, a)
		out := r3.Unit(r3.Vec{X: at.X - c.axis.X, Z: at.Z - c.axis.Z})
		at = r3.Add(at, r3.Scale(near[i], out))
		name := fmt.Sprint("post", i)
		b.Point(name, at.X, at.Y, at.Z)
		b.Solid(name, round, []string{name}, kin.Frame)
		posts = append(posts, name)
	}
	return &b.Clear("pass", 0, []string{"ball"}, posts).L
}

// TestLeastOfASwing: a ball on a circle passes balls of the frame steeply between a few positions: how near it comes is
// known, and where.
func TestLeastOfASwing(t *testing.T) {
	swing := trailing{axis: r3.Vec{X: 400, Y: 380, Z: 240}, centre: r3.Vec{Y: 700, Z: 280}, ball: r3.Vec{X: 40, Y: 450, Z: 310}, radius: 9}
	seen := 0
	for _, n := range []int{3, 4, 5, 7} {
		for _, a := range []float64{-0.11, -0.083, -0.041, 0.007, 0.022, 0.068, 0.12} {
			c := newCorner(t, swing.corner([]float64{a}, []float64{19}))
			sw := c.prog.NewSweep(kin.NewMotion("heave", kin.BothWheels, false, kintest.Line(n, 60, 0)), c.columns("pass.clearance"))
			v := c.values(sw)
			at, _ := sw.Least(0)
			near(t, "gap", v[at], 1, 1e-9)
			near(t, "travel", kin.LeastAt(v, at).Wheel, swing.travel(a), 1e-6)
			if slices.Min(v[:n]) > 1.5 {
				seen++
			}
		}
	}
	if seen < 20 {
		t.Errorf("only %d of these are missed by the positions", seen)
	}
}

// TestLeastOfTwo: of two balls that are passed in different parts of the travel, the nearer counts, and a position that
// happens to lie nearer to the other does not mislead.
func TestLeastOfTwo(t *testing.T) {
	swing := trailing{axis: r3.Vec{X: 400, Y: 380, Z: 240}, centre: r3.Vec{Y: 700, Z: 280}, ball: r3.Vec{X: 40, Y: 450, Z: 310}, radius: 9}
	rapid.Check(t, func(t *rapid.T) {
		angles := []float64{rapid.Float64Range(-0.14, -0.03).Draw(t, "first"), rapid.Float64Range(0.03, 0.14).Draw(t, "second")}
		reach := []float64{rapid.Float64Range(18.5, 26).Draw(t, "near first"), rapid.Float64Range(18.5, 26).Draw(t, "near second")}
		c := newCorner(t, swing.corner(angles, reach))
		for _, n := range []int{7, 9} {
			sw := c.prog.NewSweep(kin.NewMotion("heave", kin.BothWheels, false, kintest.Line(n, 60, 0)), c.columns("pass.clearance"))
			v := c.values(sw)
			at, _ := sw.Least(0)
			near(t, "gap", v[at], slices.Min(reach)-18, 1e-9)
		}
	})
}

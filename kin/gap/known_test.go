package gap_test

import (
	"math"
	"strings"
	"testing"

	"trammel/kin/gap"

	"gonum.org/v1/gonum/spatial/r3"
)

func tube(x0, y0, z0, x1, y1, z1, r float64) *gap.Solid {
	return &gap.Solid{Kind: gap.Capsule, At: [5]r3.Vec{{X: x0, Y: y0, Z: z0}, {X: x1, Y: y1, Z: z1}}, R: r}
}

func ball(x, y, z, r float64) *gap.Solid { return tube(x, y, z, x, y, z, r) }

// box is square to the axes.
func box(x0, y0, z0, x1, y1, z1 float64) *gap.Solid {
	return &gap.Solid{Kind: gap.Box, At: [5]r3.Vec{{X: x0, Y: y0, Z: z0}, {X: x1, Y: y1, Z: z1}, {X: 1}, {Y: 1}, {Z: 1}}}
}

// ring stands along y.
func ring(y0, y1, in, r, round float64) *gap.Solid {
	return &gap.Solid{Kind: gap.Ring, At: [5]r3.Vec{{Y: y0}, {Y: y1}}, R: r, In: in, Round: round}
}

// hoop is a circle of next to no section about a centre, its axis along n.
func hoop(c, n r3.Vec, r float64) *gap.Solid {
	const thin = 1e-7
	n = r3.Scale(thin, r3.Unit(n))
	return &gap.Solid{Kind: gap.Ring, At: [5]r3.Vec{r3.Sub(c, n), r3.Add(c, n)}, R: r, In: r - thin}
}

func ground(z float64) *gap.Solid {
	return &gap.Solid{Kind: gap.Plane, At: [5]r3.Vec{{Z: z}, {Z: 1}}}
}

// leaned turns a solid about the x axis.
func leaned(s *gap.Solid, angle float64) *gap.Solid {
	turn := r3.NewRotation(angle, r3.Vec{X: 1})
	return mapped(s, turn.Rotate, turn.Rotate)
}

// TestKnownGaps compares with values that need no computer. Elementary solid geometry, as in the handbook of Bronshtein and Semendyayev (cited
// from memory): opposite edges of a regular tetrahedron of edge a are a/√2 apart; a diagonal of a cube and an edge that it does not meet a/√2;
// crossing diagonals of neighbouring faces a/√3. Y. Villarceau (1848, cited from memory): the plane that touches a torus twice cuts it in two
// circles, for the radii 5 and 3 and an axis along y (4·cos, 3·cos, 3 + 5·sin). The others follow from the sentence beside them.
func TestKnownGaps(t *testing.T) {
	const camber = 0.05
	torus := ring(-1, 1, 4, 6, 1)
	for _, c := range []struct {
		name string
		a, b *gap.Solid
		want float64
		tol  float64
	}{
		{"a tetrahedron's opposite edges", tube(1, 1, 1, -1, -1, 1, 0), tube(1, -1, -1, -1, 1, -1, 0), 2, 1e-12},
		{"a cube's diagonal and edge", tube(0, 0, 0, 1, 1, 1, 0), tube(1, 0, 0, 1, 0, 1, 0), 1 / math.Sqrt2, 1e-12},
		{"diagonals of neighbouring faces", tube(0, 0, 0, 1, 1, 0, 0), tube(1, 0, 0, 1, 1, 1, 0), 1 / math.Sqrt(3), 1e-12},
		{"a cube's corner over the middle of a plate", leanedCorner(), box(-9, -9, -4, 9, 9, -3), 3 - math.Sqrt(3), 1e-12},
		{"a Villarceau circle is 3 from the circle within its torus, everywhere", hoop(r3.Vec{Z: 3}, r3.Vec{X: -3, Y: 4}, 5), torus, 3 - 1, 1e-6},
		{"two circles through one another's centres, square to one another, are a radius apart", hoop(r3.Vec{}, r3.Vec{Y: 1}, 7), hoop(r3.Vec{X: 7}, r3.Vec{Z: 1}, 7), 7, 1e-6},
		{"a tyre that leans stands on its shoulder: z − (R − r)·cos − (w/2 − r)·sin − r", leaned(ring(-100, 100, 200, 310, 40), camber), ground(-330),
			330 - 270*math.Cos(camber) - 60*math.Sin(camber) - 40, 1e-12},
		{"a ball joint in a rim", ball(30, 5, 40, 20), ring(-60, 80, 160, 165, 0), 160 - 50 - 20, 1e-12},
		{"a tube along the axis of a rim", tube(10, -500, 0, 10, 500, 0, 15), ring(-60, 80, 160, 165, 0), 160 - 10 - 15, 1e-12},
		{"a caliper in a rim: its far corners", box(-30, -20, 60, 40, 50, 110), ring(-60, 80, 160, 165, 0), 160 - math.Hypot(40, 110), 1e-12},
		{"a brake disc in a rim", ring(0, 20, 60, 140, 0), ring(-60, 80, 160, 165, 0), 20, 1e-9},
		{"crossing cylinders", leaned(ring(-200, 200, 0, 30, 0), 1), mapped(ring(-200, 200, 0, 20, 0), func(v r3.Vec) r3.Vec { v.X += 70; return v }, nil), 70 - 50, 1e-12},
		{"a bar right through the hole of a ring", box(-5, -400, -5, 5, 400, 5), ring(-10, 10, 30, 50, 10), 30 - 5*math.Sqrt2, 1e-12},
		{"tubes that cross", tube(-9, 0, 0, 9, 0, 0, 2), tube(0, -9, 0, 0, 9, 0, 3), -5, 1e-12},
		{"a tube through a box: out by its thinnest side", tube(-90, 0, 0, 90, 0, 0, 2), box(-50, -20, -10, 50, 20, 10), -12, 1e-12},
		{"a box in a box", box(0, 0, 0, 10, 10, 10), box(-50, -60, -2, 50, 60, 30), -12, 1e-12},
		{"a ball's centre in a tyre's wall", ball(0, 4, 250, 7), ring(-30, 30, 200, 310, 30), -(30 - 4) - 7, 1e-12},
	} {
		for range 2 {
			var touch gap.Touch
			gap.Between(c.a, c.b, &touch)
			if !near(touch.Gap, c.want, c.tol) {
				t.Errorf("%s: gap %v, not %v", c.name, touch.Gap, c.want)
			}
			checkPoints(t, c.a, c.b, &touch)
			c.a, c.b = c.b, c.a
		}
	}
}

// leanedCorner is a cube of edge 2 about the origin that stands on a corner: the corner is √3 below the middle.
func leanedCorner() *gap.Solid {
	s := box(-1, -1, -1, 1, 1, 1)
	to := r3.Unit(r3.Vec{X: 1, Y: -1})
	turn := r3.NewRotation(math.Acos(1/math.Sqrt(3)), to)
	if down := turn.Rotate(r3.Vec{X: -1, Y: -1, Z: -1}); down.Z > -1.7 {
		turn = r3.NewRotation(-math.Acos(1/math.Sqrt(3)), to)
	}
	return mapped(s, turn.Rotate, turn.Rotate)
}

// TestNearlyParallelCores takes the pair of segments with which D. Eberly (Robust Computation of Distance Between Line Segments, Geometric
// Tools, 2015; numbers cited from memory) shows that the plain formula with the determinant fails. The distance itself comes from exact arithmetic.
func TestNearlyParallelCores(t *testing.T) {
	a := tube(-1.0896217473782599, 9.7236145595088601e-007, 0, 0.91220578597858548, -9.4369829432107506e-007, 0, 0)
	b := tube(-0.90010447502136237, 9.0671446351334441e-007, 0, 1.0730877178721130, -9.8185787633992740e-007, 0, 0)
	want := exactCores(a, b)
	var touch gap.Touch
	gap.Between(a, b, &touch)
	if math.Abs(touch.Gap-want) > 1e-15 {
		t.Errorf("distance %v, exactly %v", touch.Gap, want)
	}
}

// TestDegenerate looks at solids without some size, at one place, touching, in one line: what comes out is finite and as it should be.
func TestDegenerate(t *testing.T) {
	rim := ring(-60, 80, 160, 165, 0)
	for _, c := range []struct {
		name string
		a, b *gap.Solid
		want float64
	}{
		{"one ball twice", ball(1, 2, 3, 4), ball(1, 2, 3, 4), -8},
		{"one point twice", ball(1, 2, 3, 0), ball(1, 2, 3, 0), 0},
		{"one tube twice", tube(0, 0, 0, 9, 9, 9, 2), tube(0, 0, 0, 9, 9, 9, 2), -4},
		{"tubes in one line", tube(0, 0, 0, 10, 0, 0, 1), tube(15, 0, 0, 25, 0, 0, 2), 2},
		{"tubes from one joint", tube(0, 0, 0, 10, 0, 0, 1), tube(0, 0, 0, 0, 10, 0, 2), -3},
		{"tubes end to end", tube(0, 0, 0, 10, 0, 0, 1), tube(10, 0, 0, 20, 0, 0, 2), -3},
		{"side by side", tube(0, 0, 0, 10, 0, 0, 1), tube(5, 6, 0, 25, 6, 0, 2), 3},
		{"a ball at the middle of a tube", ball(5, 0, 0, 1), tube(0, 0, 0, 10, 0, 0, 2), -3},
		{"a ball in the middle of a box", ball(0, 0, 0, 1), box(-2, -3, -4, 2, 3, 4), -3},
		{"a line in a face", tube(-1, 0, 4, 1, 0, 4, 0), box(-2, -3, -4, 2, 3, 4), 0},
		{"a tube along an edge", tube(-1, 3, 4, 1, 3, 4, 1), box(-2, -3, -4, 2, 3, 4), -1},
		{"a box without thickness", tube(0, 0, 5, 9, 0, 7, 1), box(-9, -9, 0, 9, 9, 0), 4},
		{"a line through a box without thickness", tube(0, 0, -5, 0, 0, 5, 1), box(-9, -9, 0, 9, 9, 0), -6},
		{"a box that is a point", box(3, 4, 0, 3, 4, 0), ball(0, 0, 0, 1), 4},
		{"two points as boxes", box(3, 4, 0, 3, 4, 0), box(0, 0, 0, 0, 0, 0), 5},
		{"one box twice", box(0, 0, 0, 2, 4, 6), box(2, 4, 6, 0, 0, 0), -2},
		{"boxes face to face", box(0, 0, 0, 2, 2, 2), box(2, 0, 0, 4, 2, 2), 0},
		{"boxes corner to corner", box(0, 0, 0, 2, 2, 2), box(2, 2, 2, 4, 4, 4), 0},
		{"a ball in the middle of a rim", ball(0, 10, 0, 30), rim, 130},
		{"a tube on the axis of a rim", tube(0, -9, 0, 0, 9, 0, 30), rim, 130},
		{"an axle across the axis of a disc", tube(-200, 0, 0, 200, 0, 0, 5), ring(-10, 10, 0, 100, 0), -15},
		{"a ball in the middle of a disc", ball(0, 0, 0, 5), ring(-10, 10, 0, 100, 0), -15},
		{"one rim twice: out along the axis", rim, rim, -140},
		{"a plate as thick as the disc about it", box(-30, 0, -40, 30, 10, 40), ring(0, 10, 0, 50, 0), -10},
		{"discs face to face", ring(0, 10, 0, 50, 0), ring(10, 20, 0, 50, 0), 0},
		{"discs on one axis", ring(0, 10, 0, 50, 3), ring(14, 20, 0, 70, 3), 4},
		{"a box on a disc", box(-5, 10, -5, 5, 20, 5), ring(0, 10, 0, 50, 0), 0},
		{"a disc flat on the ground", leaned(ring(0, 10, 0, 50, 0), math.Pi/2), ground(0), 0},
		{"a wheel on the ground", ring(0, 200, 100, 300, 50), ground(-300), 0},
		{"below the ground", ball(0, 0, -500, 10), ground(0), -510},
	} {
		for range 2 {
			var touch gap.Touch
			var ga, gb [5]r3.Vec
			gap.Between(c.a, c.b, &touch)
			touch.Slopes(c.a, c.b, &ga, &gb)
			if math.Abs(touch.Gap-c.want) > 1e-9 {
				t.Errorf("%s: gap %v, not %v", c.name, touch.Gap, c.want)
			}
			if !finite(touch.A, touch.B, touch.N) || !finite(ga[:]...) || !finite(gb[:]...) || math.Abs(r3.Norm(touch.N)-1) > 1e-9 {
				t.Errorf("%s: nearest points %v, %v, normal %v, slopes %v, %v", c.name, touch.A, touch.B, touch.N, ga, gb)
			}
			c.a, c.b = c.b, c.a
		}
	}
}

func finite(v ...r3.Vec) bool {
	for _, x := range v {
		if s := math.Abs(x.X) + math.Abs(x.Y) + math.Abs(x.Z); math.IsNaN(s) || math.IsInf(s, 0) {
			return false
		}
	}
	return true
}

// TestCheck: solids that make no sense are refused with a sentence, and those without some size are not.
func TestCheck(t *testing.T) {
	with := func(s *gap.Solid, change func(*gap.Solid)) *gap.Solid {
		change(s)
		return s
	}
	for _, c := range []struct {
		s    *gap.Solid
		want string // part of the sentence; empty if the solid is taken
	}{
		{ball(0, 0, 0, 0), ""},
		{tube(0, 0, 0, 1, 0, 0, -1), "radius of the capsule is -1 mm"},
		{tube(0, 0, 0, 1, 0, 0, math.NaN()), "radius of the capsule is NaN"},
		{tube(0, math.Inf(1), 0, 1, 0, 0, 1), "place 1 of the capsule has a coordinate of +Inf"},
		{tube(0, 0, 0, 1, 0, 2e8, 1), "place 2 of the capsule"},
		{box(1, 1, 1, 1, 1, 1), ""},
		{box(3, 2, 1, 0, 0, 0), ""},
		{with(box(0, 0, 0, 1, 1, 1), func(s *gap.Solid) { s.At[3] = r3.Vec{Y: 2} }), "has the length 2; it must be 1"},
		{with(box(0, 0, 0, 1, 1, 1), func(s *gap.Solid) { s.At[3] = r3.Vec{X: 0.6, Y: 0.8} }), "edge directions 1 and 2 of the box are 36.9 deg from square"},
		{ring(0, 10, 20, 30, 5), ""},
		{ring(0, 10, 30, 30, 0), ""},
		{ring(0, 10, 31, 30, 0), "inner radius of the ring, 31 mm, is greater than the outer, 30 mm"},
		{ring(0, 10, 20, 30, 5.1), "rounded by 5.1 mm, but it is 10 mm wide"},
		{ring(0, 20, 20, 30, 5.1), "rounded by 5.1 mm, but it is 10 mm thick"},
		{ring(0, 90, 0, 30, 31), "more than its radius"},
		{ring(0, 0, 20, 30, 0), "both ends of the ring are at one place"},
		{ring(0, 10, 0, 0, 0), "has no radius"},
		{ring(0, 10, -1, 30, 0), "inner radius of the ring is -1 mm"},
		{ground(0), ""},
		{&gap.Solid{Kind: gap.Plane}, "has the length 0"},
		{&gap.Solid{Kind: 7}, "of kind 7"},
	} {
		err := c.s.Check()
		if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v: %v, not %q", c.s, err, c.want)
		}
	}
}

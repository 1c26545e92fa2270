package gap_test

import (
	"math"
	"testing"

	"trammel/kin/gap"

	"gonum.org/v1/gonum/spatial/r3"
)

// cases is how many random cases each kind of pair is checked with.
func cases() int {
	if testing.Short() {
		return 1000
	}
	return 10000
}

// TestCapsulesAgainstExactArithmetic compares capsules with 700-bit arithmetic, among them parallel, nearly parallel and
// crossing cores, and cores without length.
func TestCapsulesAgainstExactArithmetic(t *testing.T) {
	d := newDraw(1)
	var touch gap.Touch
	for i := range cases() {
		a, b := d.solid(gap.Capsule, 300), d.solid(gap.Capsule, 300)
		u := r3.Sub(a.At[1], a.At[0])
		switch i % 5 {
		case 1: // parallel but for the last digits
			b.At[1] = r3.Add(b.At[0], r3.Scale(d.between(-2, 2), u))
		case 2: // nearly
			b.At[1] = r3.Add(b.At[0], r3.Add(r3.Scale(d.between(-2, 2), u), d.vec(math.Pow(10, d.between(-12, 0)))))
		case 3: // whole eighths of a mm, so truly parallel
			for _, s := range []*gap.Solid{a, b} {
				s.At[0] = eighths(s.At[0])
			}
			u = eighths(u)
			a.At[1], b.At[1] = r3.Add(a.At[0], u), r3.Add(b.At[0], r3.Scale(float64(d.IntN(5)-2), u))
		case 4: // nearly crossing
			b.At[0] = r3.Add(r3.Add(a.At[0], r3.Scale(d.Float64(), u)), d.vec(math.Pow(10, d.between(-6, 0))))
		}
		want := exactCores(a, b) - a.R - b.R
		gap.Between(a, b, &touch)
		if !near(touch.Gap, want, 1e-9) {
			t.Fatalf("case %d: gap %v, exactly %v\n%v\n%v", i, touch.Gap, want, a, b)
		}
		checkPoints(t, a, b, &touch)
	}
}

func eighths(v r3.Vec) r3.Vec {
	return r3.Vec{X: math.Round(8*v.X) / 8, Y: math.Round(8*v.Y) / 8, Z: math.Round(8*v.Z) / 8}
}

// TestCapsuleAndBoxAgainstSearch compares with a search for the nearest place of the core.
func TestCapsuleAndBoxAgainstSearch(t *testing.T) {
	d := newDraw(2)
	var touch gap.Touch
	for i := range cases() {
		a, b := d.solid(gap.Capsule, 250), d.solid(gap.Box, 50)
		if i%4 == 0 { // along an edge
			a.At[1] = r3.Add(a.At[0], r3.Scale(d.between(-200, 200), b.At[2+d.IntN(3)]))
		}
		u := r3.Sub(a.At[1], a.At[0])
		want := golden(func(x float64) float64 {
			p := r3.Add(a.At[0], r3.Scale(x, u))
			return r3.Norm(r3.Sub(p, project(b, p)))
		}, 0, 1)
		gap.Between(a, b, &touch)
		core := touch.Gap + a.R
		if want > 1e-7 && !near(core, want, 1e-9) {
			t.Fatalf("case %d: the core is %v away, by search %v\n%v\n%v", i, core, want, a, b)
		}
		if want < 1e-9 {
			line := *a
			line.R = 0
			checkWayOut(t, d, &line, b, core, touch.N)
		}
		checkPoints(t, a, b, &touch)
	}
}

// reach is how far a convex solid goes along n.
func reach(s *gap.Solid, n r3.Vec) float64 {
	switch s.Kind {
	case gap.Capsule:
		return max(r3.Dot(n, s.At[0]), r3.Dot(n, s.At[1])) + s.R
	case gap.Box:
		far := 0.0
		for i := 2; i < 5; i++ {
			u := s.At[i]
			far += r3.Dot(n, u) * r3.Dot(u, s.At[0])
			far += max(0, r3.Dot(n, u)*r3.Dot(u, r3.Sub(s.At[1], s.At[0])))
		}
		return far
	}
	panic("no reach of a " + s.Kind.String())
}

// checkWayOut checks that two convex solids that overlap are apart when one moves by -depth along n, and not when it moves less in any of
// many directions, random ones and such as look along edges and faces or square to two of them.
func checkWayOut(t *testing.T, d draw, a, b *gap.Solid, depth float64, n r3.Vec) {
	t.Helper()
	need := func(n r3.Vec) float64 { return reach(a, n) + reach(b, r3.Scale(-1, n)) }
	if w := need(n); !near(w, -depth, 1e-9) {
		t.Fatalf("moving apart along %v takes %v; the gap is %v\n%v\n%v", n, w, depth, a, b)
	}
	try := func(m r3.Vec) {
		if r3.Norm(m) < 1e-9 {
			return
		}
		if w := need(r3.Unit(m)); w < -depth-1e-9 {
			t.Fatalf("moving apart along %v takes %v; the gap is %v along %v\n%v\n%v", m, w, depth, n, a, b)
		}
	}
	for range 20 {
		try(d.direction())
		try(r3.Add(n, d.vec(0.1)))
	}
	sides := func(s *gap.Solid) []r3.Vec {
		if s.Kind == gap.Box {
			return s.At[2:]
		}
		return []r3.Vec{r3.Sub(s.At[1], s.At[0])}
	}
	for _, sign := range []float64{1, -1} {
		for _, u := range sides(a) {
			try(r3.Scale(sign, u))
			for _, v := range sides(b) {
				try(r3.Scale(sign, v))
				try(r3.Scale(sign, r3.Cross(u, v)))
			}
		}
	}
}

// TestCapsuleAndRingAgainstSearch compares with a search of 400 places along the core and of the dips between them, outside and inside.
func TestCapsuleAndRingAgainstSearch(t *testing.T) {
	d := newDraw(3)
	var touch gap.Touch
	sign := [2]int{}
	for i := range cases() {
		a, b := d.solid(gap.Capsule, 300), d.solid(gap.Ring, 50)
		axis := r3.Unit(r3.Sub(b.At[1], b.At[0]))
		switch i % 8 {
		case 1: // along the axis
			a.At[1] = r3.Add(a.At[0], r3.Scale(d.between(-200, 200), axis))
		case 2: // square to it
			u := r3.Sub(a.At[1], a.At[0])
			a.At[1] = r3.Sub(a.At[1], r3.Scale(r3.Dot(u, axis), axis))
		case 3: // through the axis
			m := r3.Add(b.At[0], r3.Scale(d.between(-1, 2), r3.Sub(b.At[1], b.At[0])))
			u := r3.Scale(d.between(10, 400), d.direction())
			a.At[0], a.At[1] = r3.Sub(m, u), r3.Add(m, r3.Scale(d.Float64(), u))
		}
		u := r3.Sub(a.At[1], a.At[0])
		want := lowest(func(x float64) float64 { return signedRing(b, r3.Add(a.At[0], r3.Scale(x, u))) }, 400)
		gap.Between(a, b, &touch)
		if core := touch.Gap + a.R; !near(core, want, 1e-9) {
			t.Fatalf("case %d: the core is %v away, by search %v\n%v\n%v", i, core, want, a, b)
		}
		if want < 0 {
			sign[0]++
		} else {
			sign[1]++
		}
		checkPoints(t, a, b, &touch)
	}
	if sign[0] < cases()/10 || sign[1] < cases()/10 {
		t.Errorf("cores run into rings in %d cases, past them in %d; both should be many", sign[0], sign[1])
	}
}

// TestPlanesAgainstPoints compares with the lowest of points around each solid.
func TestPlanesAgainstPoints(t *testing.T) {
	d := newDraw(4)
	var touch gap.Touch
	for _, k := range []gap.Kind{gap.Capsule, gap.Box, gap.Ring} {
		for range cases() {
			a, b := d.solid(k, 400), d.solid(gap.Plane, 100)
			// The lowest point is that nearest to a point far below, up to what the far point is off.
			c, _ := a.Ball()
			const far = 1e7
			low := project(a, r3.Sub(c, r3.Scale(far, b.At[1])))
			want := r3.Dot(b.At[1], r3.Sub(low, b.At[0]))
			gap.Between(a, b, &touch)
			if math.Abs(touch.Gap-want) > 1e-2 || touch.Gap > want+1e-6 {
				t.Fatalf("%v: gap %v, its lowest point is at %v\n%v\n%v", k, touch.Gap, want, a, b)
			}
			checkPoints(t, a, b, &touch)
		}
	}
}

// TestBoxesAgainstEdges compares boxes with all their edges and corners taken in pairs.
func TestBoxesAgainstEdges(t *testing.T) {
	d := newDraw(6)
	var touch gap.Touch
	for i := range cases() {
		a, b := d.solid(gap.Box, 200), d.solid(gap.Box, 200)
		if i%5 == 0 { // side by side
			copy(b.At[2:], []r3.Vec{a.At[3], a.At[4], a.At[2]})
		}
		gap.Between(a, b, &touch)
		checkPoints(t, a, b, &touch)
		want := edgesOf(a, b)
		if want > 1e-7 && !near(touch.Gap, want, 1e-9) {
			t.Fatalf("case %d: gap %v, by edges %v\n%v\n%v", i, touch.Gap, want, a, b)
		}
		if want < 1e-12 && touch.Gap > 1e-9 {
			t.Fatalf("case %d: gap %v, but edges run into the other\n%v\n%v", i, touch.Gap, a, b)
		}
		if touch.Gap < 0 {
			checkWayOut(t, d, a, b, touch.Gap, touch.N)
		}
	}
}

// edgesOf returns the least distance of every edge of one box from the other, each by a search: nothing else can be nearest, or meet.
func edgesOf(a, b *gap.Solid) float64 {
	least := math.Inf(1)
	for range 2 {
		for axis := range 3 {
			for side := range 4 {
				at := [3]int{(side) & 1, (side) & 1, (side) & 1}
				at[(axis+1)%3], at[(axis+2)%3] = side&1, side>>1
				var p [2]r3.Vec
				for end := range p {
					at[axis] = end
					p[end] = cornerOf(a, at)
				}
				u := r3.Sub(p[1], p[0])
				dist := func(x float64) float64 {
					q := r3.Add(p[0], r3.Scale(x, u))
					return r3.Norm(r3.Sub(q, project(b, q)))
				}
				// The distance falls by no more than the way to it.
				if dist(0.5)-r3.Norm(u)/2 < least {
					least = min(least, golden(dist, 0, 1))
				}
			}
		}
		a, b = b, a
	}
	return least
}

// cornerOf returns a corner by the end of the diagonal that each of its planes goes through.
func cornerOf(s *gap.Solid, at [3]int) (p r3.Vec) {
	for i, end := range at {
		u := s.At[2+i]
		p = r3.Add(p, r3.Scale(r3.Dot(u, s.At[end]), u))
	}
	return p
}

// TestAgainstProjections compares every pair of bodies with points that go to and fro between them. The nearest points that are reported lie
// on both, so the gap is no less than the distance; it must be no more than what is found.
func TestAgainstProjections(t *testing.T) {
	for _, p := range pairs() {
		if p[1] == gap.Plane {
			continue
		}
		t.Run(name(p), func(t *testing.T) {
			t.Parallel()
			d := newDraw(7)
			var touch gap.Touch
			dull, apart := 0, 0
			for i := range cases() {
				a, b := d.solid(p[0], 350), d.solid(p[1], 150)
				gap.Between(a, b, &touch)
				checkPoints(t, a, b, &touch)
				found := bruteGap(d, a, b)
				if touch.Gap > found+1e-9*max(1, found) {
					t.Fatalf("case %d: gap %v, but points are %v apart\n%v\n%v", i, touch.Gap, found, a, b)
				}
				if touch.Gap > 0 {
					apart++
				}
				if found-max(touch.Gap, 0) > 1e-6 {
					dull++
				}
			}
			t.Logf("%d of %d apart, %d not found to 1e-6", apart, cases(), dull)
			if dull > cases()/50 {
				t.Errorf("in %d cases of %d the points come no nearer than 1e-6 mm to the gap", dull, cases())
			}
		})
	}
}

// checkPoints checks that B = A + Gap·N with a unit N, and that the nearest points lie on both solids where these are apart.
func checkPoints(t *testing.T, a, b *gap.Solid, touch *gap.Touch) {
	t.Helper()
	if off := r3.Norm(r3.Sub(touch.B, r3.Add(touch.A, r3.Scale(touch.Gap, touch.N)))); off > 1e-9 || math.Abs(r3.Norm(touch.N)-1) > 1e-12 {
		t.Fatalf("B is %v from A + Gap·N, |N| = %v\n%v\n%v", off, r3.Norm(touch.N), a, b)
	}
	if touch.Gap < 0 {
		return
	}
	for i, s := range []*gap.Solid{a, b} {
		p := [2]r3.Vec{touch.A, touch.B}[i]
		if off := r3.Norm(r3.Sub(p, project(s, p))); off > 1e-9 {
			t.Fatalf("the nearest point of the %v is %v outside it; gap %v\n%v\n%v", s.Kind, off, touch.Gap, a, b)
		}
	}
	if bound := ballGap(a, b); touch.Gap < bound-1e-9 {
		t.Fatalf("gap %v is less than that of the balls, %v", touch.Gap, bound)
	}
}

// TestRodsThrough: a thin rod of which a place of the axis is within a box or a ring overlaps it, though no edge of either may be in the other.
func TestRodsThrough(t *testing.T) {
	for _, kind := range []gap.Kind{gap.Box, gap.Ring} {
		d := newDraw(43)
		var touch gap.Touch
		through := 0
		for i := range cases() {
			s := d.solid(kind, 100)
			s.Round = 0
			c, u := d.vec(150), r3.Scale(d.between(100, 300), d.direction())
			rod := &gap.Solid{Kind: gap.Ring, At: [5]r3.Vec{r3.Sub(c, u), r3.Add(c, u)}, R: d.between(1, 15)}
			in := false
			for k := range 200 {
				x := r3.Add(rod.At[0], r3.Scale(2*float64(k)/199, u))
				in = in || project(s, x) == x
			}
			if gap.Between(s, rod, &touch); in && touch.Gap > 0 {
				t.Fatalf("%v, case %d: gap %v, but the rod's axis is within\n%v\n%v", kind, i, touch.Gap, s, rod)
			}
			if in {
				through++
			}
		}
		if through < cases()/10 {
			t.Errorf("%v: %d rods of %d run into it; they should be many", kind, through, cases())
		}
	}
}

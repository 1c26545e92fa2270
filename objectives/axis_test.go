package objectives

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// tiltOf is the angle that an axis leaves, by an arc cosine and from nothing but the definition.
func tiltOf(of Axis, a vec, d []vec) (most float64) {
	for i := range d {
		x := min(1, math.Abs(dot(unit(a), unit(d[i]))))
		if of == Cone {
			most = max(most, math.Acos(x))
		} else {
			most = max(most, math.Pi/2-math.Acos(x))
		}
	}
	return most
}

// bruteForce finds the least angle by a grid of axes over half the sphere, of which the best few are polished by a pattern
// search: 3 directions square to each other, and steps that halve.
func bruteForce(of Axis, d []vec) float64 {
	type start struct {
		at  vec
		was float64
	}
	var all []start
	const n = 24
	for i := range n {
		z := (float64(i) + 0.5) / n
		for k := range 4 * n {
			s, c := math.Sincos(2 * math.Pi * float64(k) / (4 * n))
			r := math.Sqrt(1 - z*z)
			a := vec{r * c, r * s, z}
			all = append(all, start{a, tiltOf(of, a, d)})
		}
	}
	slices.SortFunc(all, func(a, b start) int { return cmp.Compare(a.was, b.was) })
	best := math.Inf(1)
	for _, s := range all[:12] {
		a, f := s.at, s.was
		random := rand.New(rand.NewPCG(1, 9))
		for step := 0.05; step > 1e-7; step *= 0.6 {
			for range 16 {
				u := squareTo(a)
				v := cross(a, u)
				sn, cs := math.Sincos(2 * math.Pi * random.Float64())
				b := unit(axpy(axpy(a, step*cs, u), step*sn, v))
				if g := tiltOf(of, b, d); g < f {
					a, f = b, g
				}
			}
		}
		best = min(best, f)
	}
	return best
}

// lines are sets of directions such as joints see, and others.
func lines(random *rand.Rand, kind int) []vec {
	normal := func() vec { return vec{random.NormFloat64(), random.NormFloat64(), random.NormFloat64()} }
	c := unit(normal())
	u := squareTo(c)
	v := cross(c, u)
	var d []vec
	n := 3 + random.IntN(60)
	spread := []float64{0.02, 0.2, 0.5, 0.8}[random.IntN(4)]
	p, q, r := random.NormFloat64(), random.NormFloat64(), random.NormFloat64()
	for i := range n {
		t := 2*float64(i)/float64(n-1) - 1
		switch kind {
		case 0: // a cloud
			d = append(d, unit(axpy(axpy(c, spread*(2*random.Float64()-1), u), spread*(2*random.Float64()-1), v)))
		case 1: // a bent curve, as a sweep makes it
			d = append(d, unit(axpy(axpy(c, spread*t, u), spread*0.3*(p*t*t+q*t*t*t), v)))
		case 2: // two curves that cross, the middle of both there twice
			if i%2 == 0 {
				d = append(d, unit(axpy(axpy(c, spread*t, u), spread*0.2*p*t*t, v)))
			} else {
				d = append(d, unit(axpy(axpy(c, spread*0.4*t*q, u), spread*0.5*t+spread*0.1*r*t*t, v)))
			}
			d = append(d, c)
		case 3: // a grid
			d = append(d, unit(axpy(axpy(c, spread*float64(i%5-2)/2, u), spread*float64(i/5%5-2)*0.3*math.Abs(p), v)))
		}
	}
	if random.IntN(3) == 0 { // lines have no sense
		for i := range d {
			if random.IntN(2) == 0 {
				d[i] = times(-1, d[i])
			}
		}
	}
	return d
}

// TestLeastAngles compares cones and bands of random sets with a search over half the sphere.
func TestLeastAngles(t *testing.T) {
	random := rand.New(rand.NewPCG(2, 5))
	for k := range 32 {
		d := lines(random, k%4)
		for _, of := range []Axis{Cone, Band} {
			f := FitOf(of, slices.Clone(d))
			want := bruteForce(of, d)
			if got := tiltOf(of, f.Axis, d); math.Abs(got-f.Angle) > 2e-8 { // the arc cosine's digits
				t.Errorf("set %d, %v: the axis leaves %.10g and not %.10g", k, of, got, f.Angle)
			}
			if f.Angle > want+1e-9 {
				t.Errorf("set %d of %d, %v: %.9g where a search finds %.9g", k, len(d), of, f.Angle, want)
			}
			holds(t, of, &f, d)
		}
	}
}

// holds looks at what makes an angle least: those that hold it are as far as the farthest, and their slopes with the axis,
// weighted, add up to nothing.
func holds(t *testing.T, of Axis, f *Fit, d []vec) {
	t.Helper()
	var sum vec
	total := 0.0
	for i := range f.Held {
		if x := tiltOf(of, f.Axis, d[f.Rows[i]:f.Rows[i]+1]); math.Abs(x-f.Angle) > 2e-8 {
			t.Errorf("%v: direction %d holds an angle of %g at %g", of, f.Rows[i], f.Angle, x)
		}
		r := d[f.Rows[i]]
		along := dot(r, f.Axis)
		v := unit(axpy(r, -along, f.Axis))
		if f.Weight[i] < 0 {
			t.Errorf("%v: a weight of %g", of, f.Weight[i])
		}
		total += f.Weight[i]
		k := f.Weight[i] * math.Copysign(1, along)
		sum = axpy(sum, k, v) // each angle changes by 1 for 1 rad along v
	}
	if f.Held > 0 && (math.Abs(total-1) > 1e-12 || norm(sum) > 1e-6) {
		t.Errorf("%v: the slopes of %d directions, weighted %v, add up to %g", of, f.Held, f.Weight, norm(sum))
	}
}

// TestDegenerateDirections: one direction, the same many times, two, and all in one plane.
func TestDegenerateDirections(t *testing.T) {
	x, y, back := vec{1, 0, 0}, vec{0, 1, 0}, vec{-1, 0, 0}
	s, c := math.Sincos(0.3)
	arc := []vec{{c, s, 0}, x, {c, -s, 0}, {math.Cos(0.1), math.Sin(0.1), 0}, back}
	for _, k := range []struct {
		name       string
		d          []vec
		cone, band float64
	}{
		{"one", []vec{x}, 0, 0},
		{"one, many times, either sense", []vec{x, back, x, x}, 0, 0},
		{"two", []vec{x, {c, s, 0}}, 0.15, 0},
		{"two, one of them twice", []vec{x, {c, s, 0}, x}, 0.15, 0},
		{"an arc", arc, 0.3, 0},
		{"nearly one", []vec{x, unit(vec{1, 1e-9, 0})}, 5e-10, 0},
		// Three ends square to each other: (1, 1, 1) is as far from each.
		{"a corner", []vec{x, y, {0, 0, 1}}, math.Acos(1 / math.Sqrt(3)), math.Asin(1 / math.Sqrt(3))},
	} {
		if f := LeastCone(slices.Clone(k.d)); math.Abs(f.Angle-k.cone) > 1e-12 {
			t.Errorf("%s: cone %.12g, want %.12g", k.name, f.Angle, k.cone)
		}
		f := LeastBand(slices.Clone(k.d))
		if math.Abs(f.Angle-k.band) > 1e-12 || math.Abs(norm(f.Axis)-1) > 1e-12 || math.Abs(tiltOf(Band, f.Axis, k.d)-f.Angle) > 2e-8 {
			t.Errorf("%s: band %.12g about %v, want %.12g", k.name, f.Angle, f.Axis, k.band)
		}
	}
}

// TestTinyDirections: however near lines are to each other, the angle told is the one that the axis leaves, and no more than
// a plane through two of them needs.
func TestTinyDirections(t *testing.T) {
	random := rand.New(rand.NewPCG(6, 2))
	for _, size := range []float64{1e-3, 1e-7, 1e-10, 1e-12, 3e-13, 1e-13, 1e-14, 1e-16} {
		for range 20 {
			var d []vec
			for range 12 {
				d = append(d, unit(vec{1, size * random.NormFloat64(), size * random.NormFloat64()}))
			}
			f := LeastBand(slices.Clone(d))
			most := 0.0
			for i := range d {
				most = max(most, math.Abs(dot(f.Axis, d[i])))
			}
			if math.Abs(math.Sin(f.Angle)-most) > 1e-12*size+1e-15 || f.Angle > 6*size+2e-16 || math.Abs(norm(f.Axis)-1) > 1e-12 {
				t.Errorf("lines %g apart: a band of %g about %v, which leaves %g", size, f.Angle, f.Axis, most)
			}
			c := LeastCone(d)
			if _, r2 := farthest(d, c.Axis); math.Abs(2*math.Sin(c.Angle/2)-math.Sqrt(r2)) > 1e-12*size+1e-15 || c.Angle > 6*size+2e-16 {
				t.Errorf("lines %g apart: a cone of %g", size, c.Angle)
			}
		}
	}
}

// cone returns n lines about x.
func cone(n int, half float64) (d []vec) {
	for i := range n {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		d = append(d, vec{math.Cos(half), math.Sin(half) * c, math.Sin(half) * s})
	}
	return d
}

// TestWideDirections: beyond what the walk can turn about, an axis is still told with the tilt that it leaves.
func TestWideDirections(t *testing.T) {
	d := append(cone(7, 1.2), cone(5, 1.56)...)
	f := LeastBand(slices.Clone(d))
	if math.Abs(tiltOf(Band, f.Axis, d)-f.Angle) > 2e-8 || f.Angle > math.Pi/2 || f.Held == 0 {
		t.Errorf("%+v", f)
	}
	// A rod that turns all the way round in a plane, a little out of it.
	d = nil
	for i := range 40 {
		s, c := math.Sincos(2 * math.Pi * float64(i) / 40)
		d = append(d, unit(vec{c, s, 0.01 * math.Sin(float64(3*i))}))
	}
	if f := LeastBand(d); f.Angle > 0.03 {
		t.Errorf("a rod that turns in a plane: a band of %g", f.Angle)
	}
}

// fitting is a limit with an Axis over two sweeps, and values of theirs at t: lines that a few numbers move.
func fitting(of Axis, most float64) (o *Objective, values func(p []float64) [][]float64) {
	rows := func(sweep, n int) (out []Series) {
		for k := range 3 {
			s := series(n)
			s.Sweep, s.Offset = sweep, (k+1)*n // behind a column of something else
			out = append(out, s)
		}
		return out
	}
	l := Limit{Name: "joint tilt", Axis: of, Series: append(rows(0, 9), rows(1, 6)...), Min: math.Inf(-1), Max: most, Spread: inf, Scale: 0.5}
	other := Limit{Name: "other", Series: []Series{series(9)}, Min: -inf, Max: 1, Spread: inf, Scale: 1}
	return New(nil, []Limit{other, l}), func(p []float64) [][]float64 {
		out := [][]float64{make([]float64, 36), make([]float64, 24)}
		for s, n := range []int{9, 6} {
			for i := range n {
				t := 2*float64(i)/float64(n-1) - 1
				d := unit(vec{1 + 0.1*p[0]*t, 0.3*t*(1+p[1]) + 0.05*float64(s)*p[2], 0.2*float64(s)*t + p[3]*0.3*t*t - 0.1*p[4]*t*t*t})
				for k, x := range []float64{d.X, d.Y, d.Z} {
					out[s][(k+1)*n+i] = x
				}
			}
		}
		return out
	}
}

// TestSlopeOfTheLeastAngle probes the derivative of a least angle with central differences of itself.
func TestSlopeOfTheLeastAngle(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 3))
	probed := 0
	for k := range 60 {
		of := Cone + Axis(k%2)
		o, values := fitting(of, 13)
		p := make([]float64, 5)
		for i := range p {
			p[i] = 2*random.Float64() - 1
		}
		res, r, g := o.NewResult(), []float64{}, make([]float64, len(o.G))
		at := func(i int, h float64) (over float64, fit Fit) {
			q := slices.Clone(p)
			q[i] += h
			o.Evaluate(values(q), nil, r, g, res)
			return res.Limits[1].Over, res.Limits[1].Fit
		}
		const n, h = 5, 1e-5
		slopes := []Slopes{make(Slopes, 36*n), make(Slopes, 24*n)}
		for i := range n {
			up, down := slices.Clone(p), slices.Clone(p)
			up[i], down[i] = up[i]+h, down[i]-h
			a, b := values(up), values(down)
			for s := range a {
				for v := range a[s] {
					slopes[s][v*n+i] = (a[s][v] - b[s][v]) / (2 * h)
				}
			}
		}
		jg := flat(len(o.G)*n, nan)
		o.Evaluate(values(p), nil, r, g, res)
		o.Differentiate(values(p), nil, slopes, res, nil, jg, n)
		// What nothing holds now is not read.
		for s := range slopes {
			now := make([]bool, len(slopes[s])/n)
			o.ReadsNow(s, res, now)
			for v := range now {
				if !now[v] {
					copy(slopes[s][v*n:], flat(n, nan))
				}
			}
		}
		again := flat(len(o.G)*n, nan)
		o.Differentiate(values(p), nil, slopes, res, nil, again, n)
		if !slices.Equal(jg, again) {
			t.Fatalf("slopes that ReadsNow does not name are read: %v and %v", jg, again)
		}
		_, here := at(0, 0)
		for i := range n {
			a, up := at(i, h)
			b, down := at(i, -h)
			if up.Rows != here.Rows || down.Rows != here.Rows {
				continue // others hold the axis on one side: a kink
			}
			probed++
			if got, want := jg[(len(o.G)-1)*n+i], (a-b)/(2*h); math.Abs(got-want) > 1e-6*math.Max(1, math.Abs(want)) {
				t.Errorf("set %d, %v: slope %d is %.9g, probed %.9g", k, of, i, got, want)
			}
		}
	}
	if probed < 150 {
		t.Errorf("only %d slopes could be probed", probed)
	}
}

// TestLimitWithAnAxis: one place in G, the angle in degrees against its bound, the place that holds it, missing directions
// left out, none at all.
func TestLimitWithAnAxis(t *testing.T) {
	o, values := fitting(Cone, 13)
	if len(o.G) != 10 || o.G[9] != (Slot{1, 0, 0, 9}) {
		t.Fatalf("places %v", o.G)
	}
	v := values([]float64{0, 0, 0, 0, 0})
	res, g := o.NewResult(), make([]float64, len(o.G))
	o.Evaluate(v, nil, nil, g, res)
	l := res.Limits[1]
	// Sweep 1 is (1, 0.3t, 0.2t), which reaches farther than sweep 0's (1, 0.3t, 0): from -1 to 1.
	want := math.Atan(math.Hypot(0.3, 0.2)) * 180 / math.Pi
	if math.Abs(l.Got-want) > 1e-9 || math.Abs(l.Over-(want-13)/0.5) > 1e-9 || g[9] != l.Over || (l.At != 9 && l.At != 14) {
		t.Errorf("%+v, want %g", l, want)
	}
	if s, row := o.Limits[1].Place(l.At); s != 3 || row != l.At-9 {
		t.Errorf("place %d is row %d of series %d", l.At, row, s)
	}
	v[1][6+0], v[1][6+5] = nan, nan // without the ends
	o.Evaluate(v, nil, nil, g, res)
	if l := res.Limits[1]; l.Got >= want || math.IsNaN(l.Got) {
		t.Errorf("without its ends %g", l.Got)
	}
	for s := range v {
		for i := range v[s] {
			v[s][i] = nan
		}
	}
	o.Evaluate(v, nil, nil, g, res)
	if l := res.Limits[1]; l.Over != Missing || g[9] != Missing || l.At != -1 || !math.IsNaN(l.Got) {
		t.Errorf("without any value %+v", l)
	}
	v = values([]float64{0.1, 0.2, 0.3, 0.4, 0.5})
	slopes := []Slopes{make(Slopes, 36*2), make(Slopes, 24*2)}
	jg := make([]float64, 20)
	if n := testing.AllocsPerRun(20, func() {
		o.Evaluate(v, nil, nil, g, res)
		o.Differentiate(v, nil, slopes, res, nil, jg, 2)
	}); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

// TestAxisRefusesOtherLayouts: series that are no directions are refused.
func TestAxisRefusesOtherLayouts(t *testing.T) {
	two := series(2)
	two.Sweep = 1
	for name, l := range map[string]Limit{
		"two series":   {Series: []Series{series(2), series(2)}, Spread: inf},
		"other rows":   {Series: []Series{series(2), series(2), series(3)}, Spread: inf},
		"other sweeps": {Series: []Series{series(2), series(2), two}, Spread: inf},
		"a spread":     {Series: []Series{series(2), series(2), series(2)}, Spread: 1},
		"no rows":      {Series: []Series{{}, {}, {}}, Spread: inf},
	} {
		l.Axis, l.Scale = Band, 1
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			New(nil, []Limit{l})
		}()
	}
}

// TestAxisOwesNothingToOrder: the least angle is the same for lines in any order and of either sense, turned as a whole.
func TestAxisOwesNothingToOrder(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 4))
	for k := range 40 {
		d := lines(random, k%4)
		q := unit(vec{random.NormFloat64(), random.NormFloat64(), random.NormFloat64()})
		other := slices.Clone(d)
		random.Shuffle(len(other), func(i, k int) { other[i], other[k] = other[k], other[i] })
		for i := range other {
			other[i] = axpy(times(-1, other[i]), 2*dot(q, other[i]), q) // half a turn about q
			if random.IntN(2) == 0 {
				other[i] = times(-1, other[i])
			}
		}
		for _, of := range []Axis{Cone, Band} {
			if a, b := FitOf(of, slices.Clone(d)), FitOf(of, other); math.Abs(a.Angle-b.Angle) > 1e-12 {
				t.Errorf("set %d, %v: %.15g and %.15g", k, of, a.Angle, b.Angle)
			}
		}
	}
}

// BenchmarkAxis finds the axis of the directions of 62 positions: a bent curve and a cloud.
func BenchmarkAxis(b *testing.B) {
	random := rand.New(rand.NewPCG(1, 1))
	for _, set := range []struct {
		name string
		kind int
	}{{"cloud", 0}, {"curves", 2}} {
		d := lines(random, set.kind)
		for len(d) < 62 {
			d = lines(random, set.kind)
		}
		d = d[:62]
		for _, of := range []Axis{Cone, Band} {
			b.Run(set.name+[]string{"", ", cone", ", band"}[of], func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					FitOf(of, d)
				}
			})
		}
	}
}

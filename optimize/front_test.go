package optimize_test

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"trammel/optimize"
)

// inclusion returns the volume by inclusion and exclusion over all subsets: exact, and of no use for more
// than some twenty values.
func inclusion(front [][]float64, reference []float64) (sum float64) {
	for subset := 1; subset < 1<<len(front); subset++ {
		corner := slices.Repeat([]float64{math.Inf(-1)}, len(reference))
		sign := -1.0
		for i, v := range front {
			if subset>>i&1 == 1 {
				sign = -sign
				for k := range corner {
					corner[k] = max(corner[k], v[k])
				}
			}
		}
		volume := 1.0
		for k := range corner {
			volume *= max(reference[k]-corner[k], 0)
		}
		sum += sign * volume
	}
	return sum
}

// The hypervolume is that of inclusion and exclusion, whatever the order of the values, and values that are
// dominated or equal add nothing.
func TestHypervolume(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.IntRange(1, 5).Draw(t, "objectives")
		n := rapid.IntRange(0, 8).Draw(t, "values")
		number := rapid.OneOf(rapid.Float64Range(0, 1.2), rapid.SampledFrom([]float64{0, 0.25, 0.5, 1}))
		front := make([][]float64, n)
		for i := range front {
			for range m {
				front[i] = append(front[i], number.Draw(t, "value"))
			}
		}
		reference := slices.Repeat([]float64{1}, m)
		want := inclusion(front, reference)
		if got := optimize.Hypervolume(front, reference); math.Abs(got-want) > 1e-12 {
			t.Fatalf("%v has %g, by inclusion and exclusion %g", front, got, want)
		}
		slices.Reverse(front)
		var only [][]float64
		for _, i := range optimize.Nondominated(front) {
			only = append(only, front[i])
		}
		if got := optimize.Hypervolume(only, reference); math.Abs(got-want) > 1e-12 {
			t.Fatalf("without what is dominated %v has %g, not %g", only, got, want)
		}
	})
}

// What is returned is what a comparison of all with all leaves, equal values and infinite ones included.
func TestNondominated(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.IntRange(1, 4).Draw(t, "objectives")
		number := rapid.SampledFrom([]float64{0, 1, 2, 3, math.Inf(1)})
		values := make([][]float64, rapid.IntRange(0, 20).Draw(t, "values"))
		for i := range values {
			for range m {
				values[i] = append(values[i], number.Draw(t, "value"))
			}
		}
		var want []int
		for i, v := range values {
			if !slices.ContainsFunc(values, func(w []float64) bool { return optimize.Dominates(w, v) }) {
				want = append(want, i)
			}
		}
		if got := optimize.Nondominated(values); !slices.Equal(got, want) {
			t.Fatalf("of %v %v are returned, not %v", values, got, want)
		}
	})
}

// Points evenly spread over the plane on which the aims have the sum 1/2 leave a staircase below it, whose
// cells can be counted: with d divisions and m aims they are (d-1+m over m) cubes of side 1/(2d).
func TestHypervolumeOfPlanes(t *testing.T) {
	for _, c := range [][2]int{{1, 1}, {2, 99}, {3, 30}, {4, 10}, {5, 6}} {
		m, d := c[0], float64(c[1])
		var front [][]float64
		for _, v := range optimize.Directions(m, c[1]) {
			for k := range v {
				v[k] /= 2
			}
			front = append(front, v)
		}
		want := 1.0
		for k := range m {
			want *= (d + float64(k)) / float64(k+1) / (2 * d)
		}
		want = 1 - want
		if got := optimize.Hypervolume(front, slices.Repeat([]float64{1}, m)); math.Abs(got-want) > 1e-12 {
			t.Errorf("%d aims: volume %.15g, counted %.15g", m, got, want)
		}
	}
}

// The numbers of directions are those of K. Deb and H. Jain (2014), table I: 91 for three aims and 12
// divisions, 210 for five and 6.
func TestDirections(t *testing.T) {
	for _, c := range [][3]int{{2, 99, 100}, {3, 12, 91}, {5, 6, 210}, {4, 1, 4}} {
		all := optimize.Directions(c[0], c[1])
		if len(all) != c[2] {
			t.Errorf("%d aims, %d divisions: %d directions, not %d", c[0], c[1], len(all), c[2])
		}
		for i, d := range all {
			sum := 0.0
			for _, v := range d {
				sum += v
			}
			if math.Abs(sum-1) > 1e-12 || slices.Min(d) < 0 || slices.ContainsFunc(all[:i], func(e []float64) bool { return slices.Equal(d, e) }) {
				t.Errorf("direction %v", d)
			}
		}
	}
}

// The knee of sqrt f1 + sqrt f2 = 1, in any units, lies at a quarter of either; that of a part of a sphere about a
// corner, which is nowhere below its plane, is none; that of two straight pieces is where they meet.
func TestKnee(t *testing.T) {
	var curve, bulge, bent [][]float64
	for i := range 101 {
		a := float64(i) / 100
		b := (1 - math.Sqrt(a)) * (1 - math.Sqrt(a))
		curve = append(curve, []float64{3 + 1000*a, 0.01 * b})
		bulge = append(bulge, []float64{math.Cos(a * math.Pi / 2), math.Sin(a * math.Pi / 2)})
		bent = append(bent, []float64{a, max(1-4*a, 0.2-0.2*(a-0.2)/0.8)})
	}
	if k := optimize.Knee(curve); k != 25 {
		t.Errorf("the knee is %v", curve[max(k, 0)])
	}
	if k := optimize.Knee(bulge); k != -1 {
		t.Errorf("the knee is %v", bulge[k])
	}
	if k := optimize.Knee(bent); k != 20 {
		t.Errorf("the knee is %v", bent[max(k, 0)])
	}
	if optimize.Knee(nil) != -1 || optimize.Knee(curve[:2]) != -1 || optimize.Knee([][]float64{{1, 1}, {1, 1}, {1, 1}}) != -1 {
		t.Error("a front without a middle has a knee")
	}
	corner := append(optimize.Directions(3, 8), []float64{0.2, 0.2, 0.3}) // one point below a plane
	if k := optimize.Knee(corner); k != len(corner)-1 {
		t.Errorf("the knee is %v", corner[max(k, 0)])
	}
}

package optimize_test

import (
	"context"
	"math"
	"testing"

	"trammel/optimize"
	"trammel/optimize/problems"
)

// corners are three points in six dimensions.
var corners = [3][6]float64{{1, 1, 0, 2, 1, 0}, {3, -1, 1, 0, 0, 1}, {-1, 2, 2, 1, -1, -1}}

// distances is a problem whose aims are the distances from the corners, roots of sums of squares, with the
// first number at most 2.
func distances() *problems.Front {
	s := &optimize.Space{}
	for i := range 6 {
		s.Dims = append(s.Dims, optimize.Dim{Name: string(rune('a' + i)), Low: -4_000_000, High: 4_000_000, PerUnit: 1_000_000})
	}
	p := &problems.Front{Problem: problems.Problem{Name: "distances", Space: s}, Objectives: 3, Reference: []float64{8, 8, 8}}
	p.Aims = func(f, x []float64, _ []int) []float64 {
		for _, c := range corners {
			for i, v := range x {
				f = append(f, v-c[i])
			}
		}
		return f
	}
	p.Score = func(x []float64, _ []int) (sum float64) {
		for _, v := range p.Aims(nil, x, nil) {
			sum += v * v
		}
		return sum
	}
	p.AimSlopes = func(j, x []float64) []float64 {
		for range corners {
			for i := range x {
				for k := range x {
					j = append(j, [2]float64{0, 1}[b2i(i == k)])
				}
			}
		}
		return j
	}
	p.Limits = func(g, x []float64) []float64 { return append(g, (x[0]-2)/2) }
	p.LimitSlopes = func(j, x []float64) []float64 { return append(j, 0.5, 0, 0, 0, 0, 0) }
	return p
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

// offDistances returns how far x lies from the set of the best compromises between the distances, by
// Euclid: the triangle of the corners, with what lies beyond the limit moved to it along the first number.
func offDistances(x []float64) float64 {
	var a, b, r [5]float64 // in all numbers but the first
	for i := range 5 {
		a[i], b[i], r[i] = corners[1][i+1]-corners[0][i+1], corners[2][i+1]-corners[0][i+1], x[i+1]-corners[0][i+1]
	}
	dot := func(u, v [5]float64) (s float64) {
		for i := range u {
			s += u[i] * v[i]
		}
		return s
	}
	det := dot(a, a)*dot(b, b) - dot(a, b)*dot(a, b)
	s := (dot(r, a)*dot(b, b) - dot(r, b)*dot(a, b)) / det
	t := (dot(r, b)*dot(a, a) - dot(r, a)*dot(a, b)) / det
	off := max(0, -s, -t, s+t-1)
	for i := range 5 {
		off = max(off, math.Abs(r[i]-s*a[i]-t*b[i]))
	}
	first := corners[0][0] + s*(corners[1][0]-corners[0][0]) + t*(corners[2][0]-corners[0][0])
	return max(off, math.Abs(x[0]-min(first, 2)))
}

// The polish brings a front of distances down to the set of best compromises, which geometry gives: by a
// factor of a thousand against the same rows spent on evolution, at the mean.
func TestPolishReachesTheFront(t *testing.T) {
	p := distances()
	off := func(polish int64) (mean float64, n int) {
		s, _ := trade(t, p, func(o *optimize.TradeOptions) {
			o.Runs, o.Polish = 10_000, polish
			for k := range o.Aims {
				o.Aims[k].Rows = []int{6 * k, 6*k + 1, 6*k + 2, 6*k + 3, 6*k + 4, 6*k + 5}
			}
		})
		for _, at := range s.Front() {
			mean += offDistances(at.X)
			if at.X[0] > 2 {
				t.Errorf("%v breaks the limit", at.X)
			}
		}
		return mean / float64(len(s.Front())), len(s.Front())
	}
	rough, _ := off(0)
	fine, n := off(4000)
	if fine > 1e-3*rough || n < 100 {
		t.Errorf("%d points are off by %g with polish, %g without", n, fine, rough)
	}
}

// With the exact derivatives of the published problems the polish brings the front closer to the published
// surface, concave and convex, with limits and without, though an aim of a single residual tells it little of
// the curvature.
func TestPolishOfPublishedFronts(t *testing.T) {
	for _, name := range []string{"zdt1", "zdt2", "bnh"} {
		p := problems.FrontByName(name)
		mean := func(polish int64) (m float64, volume float64) {
			s, _ := trade(t, p, func(o *optimize.TradeOptions) { o.Runs, o.Polish, o.Archive = 10_000+polish, polish, 100 })
			h := s.History()
			for _, at := range s.Front() {
				m += p.Off(at.F) / float64(len(s.Front()))
			}
			return m, h[len(h)-1].Volume
		}
		rough, before := mean(0)
		fine, after := mean(3000)
		if fine > rough/8 || after <= before {
			t.Errorf("%s: off by %g, hypervolume %g; polished off by %g, %g of %g", name, rough, before, fine, after, p.Volume)
		}
	}
}

// The derivatives of the published problems agree with central differences.
func TestSlopesOfFronts(t *testing.T) {
	for _, p := range append(problems.Fronts(), distances()) {
		if p.AimSlopes == nil {
			continue
		}
		x := make([]float64, len(p.Space.Dims))
		for i := range x {
			d := &p.Space.Dims[i]
			x[i] = p.Space.Value(i, d.Low+(d.High-d.Low)*int64(2+i%5)/9)
		}
		check := func(what string, values func() []float64, slopes []float64) {
			n := len(x)
			if len(slopes) != n*len(values()) {
				t.Fatalf("%s: %d slopes of %d %s in %d numbers", p.Name, len(slopes), len(values()), what, n)
			}
			for i := range x {
				const h = 1e-5
				x[i] += h
				up := values()
				x[i] -= 2 * h
				down := values()
				x[i] += h
				for k := range up {
					if want := (up[k] - down[k]) / (2 * h); math.Abs(slopes[k*n+i]-want) > 1e-6*(1+math.Abs(want)) {
						t.Errorf("%s: slope of %s %d by number %d is %g, by differences %g", p.Name, what, k, i, slopes[k*n+i], want)
					}
				}
			}
		}
		check("aims", func() []float64 { return p.Aims(nil, x, nil) }, p.AimSlopes(nil, x))
		if p.LimitSlopes != nil {
			check("limits", func() []float64 { return p.Limits(nil, x) }, p.LimitSlopes(nil, x))
		}
	}
}

// A polish that no derivatives come to ends at once.
func TestPolishWithoutDerivatives(t *testing.T) {
	_, rows := trade(t, problems.FrontByName("dtlz2-2"), func(o *optimize.TradeOptions) { o.Runs, o.Polish = 2000, 1000 })
	if n := len(rows); n < 1000 || n > 1030 {
		t.Errorf("%d rows, of which 1000 are of the evolution", n)
	}
}

func FuzzPolishState(f *testing.F) {
	p := problems.FrontByName("bnh")
	o := optimize.DefaultTrade(aims(2))
	o.Islands, o.Population, o.Generations, o.Runs, o.Polish, o.Archive = 1, 8, 5, 80, 40, 20
	s, err := optimize.NewTrade(p.Space, o)
	if err != nil {
		f.Fatal(err)
	}
	var scratch optimize.BlockScratch
	first := s.Start(0, 0)
	if _, err := optimize.RunBlock(context.Background(), first, p.Evaluator(), 40, &scratch, func(int, *optimize.Point, *optimize.Outcome) {}); err != nil {
		f.Fatal(err)
	}
	if err := s.Meet(0, [][]byte{first.AppendState(nil)}); err != nil {
		f.Fatal(err)
	}
	fuzzStates(f, &p.Problem, func() optimize.Searcher { return s.Start(1, 0) })
}

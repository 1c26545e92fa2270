package optimize

import (
	"fmt"
	"math"
	"slices"
)

// Dominates tells whether a is nowhere greater than b and somewhere less.
func Dominates(a, b []float64) bool {
	less := false
	for i, v := range a {
		if v > b[i] {
			return false
		}
		less = less || v < b[i]
	}
	return less
}

// Nondominated returns the places of the values that none of the others dominates, in order. Of equal
// values all are returned. Its time grows with the number of values times the size of the front.
func Nondominated(values [][]float64) (places []int) {
	order := make([]int, len(values))
	for i := range order {
		order[i] = i
	}
	// In lexicographic order nothing is dominated by what comes after it.
	slices.SortStableFunc(order, func(a, b int) int { return slices.Compare(values[a], values[b]) })
	for _, i := range order {
		if !slices.ContainsFunc(places, func(j int) bool { return Dominates(values[j], values[i]) }) {
			places = append(places, i)
		}
	}
	slices.Sort(places)
	return places
}

// Hypervolume returns the volume of what lies between a front and a reference point: of all points that
// some value of the front is nowhere greater than and that are nowhere greater than the reference. Values
// beyond the reference add nothing. It is exact, for any number of objectives; its time grows steeply
// with that: a front of 200 in five objectives takes some tenths of a second.
//
// Source: L. While, L. Bradstreet, L. Barone, "A fast way of calculating exact hypervolumes", IEEE
// Transactions on Evolutionary Computation 16 (2012) 86-95: a value adds what it dominates alone of the
// values before it, which, these being sorted by the last objective, is a volume of one dimension less.
func Hypervolume(front [][]float64, reference []float64) float64 {
	var w volumes
	inside := make([][]float64, 0, len(front))
	for _, v := range front {
		if len(v) != len(reference) {
			panic(fmt.Sprintf("optimize: a front in %d objectives and a reference in %d", len(v), len(reference)))
		}
		within := true
		for i, x := range v {
			within = within && x < reference[i]
		}
		if within {
			inside = append(inside, v)
		}
	}
	return w.volume(inside, reference, len(reference))
}

// volumes is memory to work in, one level for each number of objectives.
type volumes struct{ levels []limited }

// limited is memory for values cut off at one of them.
type limited struct {
	numbers []float64
	values  [][]float64
}

// volume returns the volume in the first m objectives. It sorts values.
func (w *volumes) volume(values [][]float64, reference []float64, m int) float64 {
	if len(values) == 0 {
		return 0
	}
	if m == 1 {
		least := values[0][0]
		for _, v := range values {
			least = min(least, v[0])
		}
		return reference[0] - least
	}
	slices.SortFunc(values, func(a, b []float64) int {
		for k := m - 1; k >= 0; k-- {
			if a[k] != b[k] {
				if a[k] < b[k] {
					return -1
				}
				return 1
			}
		}
		return 0
	})
	sum := 0.0
	if m == 2 {
		low := reference[0]
		for _, v := range values {
			if v[0] < low {
				sum += (low - v[0]) * (reference[1] - v[1])
				low = v[0]
			}
		}
		return sum
	}
	for i, v := range values {
		alone := 1.0
		for k := range m - 1 {
			alone *= reference[k] - v[k]
		}
		alone -= w.volume(w.limit(v, values[:i], m-1), reference, m-1)
		sum += alone * (reference[m-1] - v[m-1])
	}
	return sum
}

// limit returns what of the values lies within the first m objectives of v: each cut off at v, those that
// others dominate left out.
func (w *volumes) limit(v []float64, values [][]float64, m int) [][]float64 {
	for len(w.levels) <= m {
		w.levels = append(w.levels, limited{})
	}
	l := &w.levels[m]
	if need := len(values) * m; cap(l.numbers) < need {
		l.numbers, l.values = make([]float64, 2*need), make([][]float64, 0, 2*len(values))
	}
	cut, numbers := l.values[:0], l.numbers[:cap(l.numbers)]
	for _, u := range values {
		c := numbers[:m:m]
		for k := range c {
			c[k] = max(u[k], v[k])
		}
		if slices.ContainsFunc(cut, func(o []float64) bool { return nowhereGreater(o, c) }) {
			continue
		}
		cut = slices.DeleteFunc(cut, func(o []float64) bool { return nowhereGreater(c, o) })
		cut = append(cut, c)
		numbers = numbers[m:]
	}
	l.values = cut
	return cut
}

func nowhereGreater(a, b []float64) bool {
	for i, v := range a {
		if v > b[i] {
			return false
		}
	}
	return true
}

// Knee returns the place of the front's knee: the value that lies farthest below the plane through the
// ends of the front, when every objective runs from 0 at its least to 1 at its greatest value on the
// front. There to gain a little in one objective costs most in the others. The ends are the
// values with the least of each objective. It returns -1 for a front of fewer than three values and for
// one that nowhere lies below the plane.
//
// Source: I. Das, "On characterizing the 'knee' of the Pareto curve based on normal-boundary
// intersection", Structural Optimization 18 (1999) 107-115.
func Knee(front [][]float64) int {
	if len(front) < 3 {
		return -1
	}
	m := len(front[0])
	low, high := ends(front)
	scaled := func(v []float64, k int) float64 {
		return (v[k] - low[k]) / max(high[k]-low[k], math.SmallestNonzeroFloat64)
	}
	corners := make([][]float64, m)
	for k := range m {
		best := slices.MinFunc(front, func(a, b []float64) int { return compareFrom(a, b, k) })
		corners[k] = make([]float64, m)
		for j := range m {
			corners[k][j] = scaled(best, j)
		}
	}
	normal, ok := plane(corners)
	if !ok {
		return -1
	}
	at, most := -1, 1e-12
	for i, v := range front {
		below := 1.0
		for k, n := range normal {
			below -= n * scaled(v, k)
		}
		if below > most {
			at, most = i, below
		}
	}
	return at
}

// compareFrom compares by objective k, then by the others.
func compareFrom(a, b []float64, k int) int {
	for j := range a {
		if x, y := a[(k+j)%len(a)], b[(k+j)%len(a)]; x < y {
			return -1
		} else if x > y {
			return 1
		}
	}
	return 0
}

// ends returns the least and the greatest of every objective.
func ends(front [][]float64) (low, high []float64) {
	low, high = slices.Clone(front[0]), slices.Clone(front[0])
	for _, v := range front {
		for k, x := range v {
			low[k], high[k] = min(low[k], x), max(high[k], x)
		}
	}
	return low, high
}

// plane returns the n with n·p = 1 for each of as many points as there are objectives, and whether there
// is one whose numbers are all above 0.
func plane(points [][]float64) ([]float64, bool) {
	m := len(points)
	a := make([][]float64, m)
	for i, p := range points {
		a[i] = append(slices.Clone(p), 1)
	}
	if !eliminate(a, 1e-12) {
		return nil, false
	}
	n := make([]float64, m)
	for k := range m {
		if n[k] = a[k][m]; !(n[k] > 0) || math.IsInf(n[k], 0) {
			return nil, false
		}
	}
	return n, true
}

// eliminate solves linear equations in place, the right-hand side being the last column, which becomes the
// solution; false when a pivot is not above least.
func eliminate(a [][]float64, least float64) bool {
	m := len(a)
	for k := range m {
		pivot := k
		for i := k; i < m; i++ {
			if math.Abs(a[i][k]) > math.Abs(a[pivot][k]) {
				pivot = i
			}
		}
		if a[k], a[pivot] = a[pivot], a[k]; !(math.Abs(a[k][k]) > least) {
			return false
		}
		for i := range m {
			if i == k {
				continue
			}
			f := a[i][k] / a[k][k]
			for j := k; j <= m; j++ {
				a[i][j] -= f * a[k][j]
			}
		}
	}
	for k := range m {
		a[k][m] /= a[k][k]
	}
	return true
}

// Directions returns evenly spread directions in the first orthant: all vectors of m numbers, multiples
// of 1/divisions from 0, whose sum is 1. There are (divisions+m-1 over m-1) of them.
//
// Source: I. Das and J. E. Dennis, "Normal-boundary intersection", SIAM Journal on Optimization 8 (1998)
// 631-657.
func Directions(m, divisions int) [][]float64 {
	var all [][]float64
	parts := make([]int, m)
	var fill func(k, left int)
	fill = func(k, left int) {
		if k == m-1 {
			parts[k] = left
			d := make([]float64, m)
			for i, p := range parts {
				d[i] = float64(p) / float64(max(divisions, 1))
			}
			all = append(all, d)
			return
		}
		for p := range left + 1 {
			parts[k] = p
			fill(k+1, left-p)
		}
	}
	fill(0, divisions)
	return all
}

// directionsFor returns at most most directions for m objectives: as many as fit, and where that leaves
// none inside, a second layer half-way to the centre. Source of the second layer: K. Deb and H. Jain, IEEE
// Transactions on Evolutionary Computation 18 (2014) 577-601, section V.
func directionsFor(m, most int) [][]float64 {
	layer := func(most int) [][]float64 {
		divisions := 0
		for count := 1; ; divisions++ {
			count = count * (divisions + m) / (divisions + 1) // of divisions + 1
			if count > most {
				break
			}
		}
		if divisions == 0 {
			return nil
		}
		return Directions(m, divisions)
	}
	all := layer(most)
	if inside := slices.ContainsFunc(all, func(d []float64) bool { return slices.Min(d) > 0 }); inside || len(all) == 0 {
		return all
	}
	for _, d := range layer(most - len(all)) {
		for k := range d {
			d[k] = d[k]/2 + 1/float64(2*m)
		}
		all = append(all, d)
	}
	return all
}

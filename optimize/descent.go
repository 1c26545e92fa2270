package optimize

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
)

// descent looks for a step that lowers several values at once: the d that makes the greatest of slope·d +
// height, over all values, plus d'Bd/2 least. In a critical point there is none: some mean of the
// slopes is nought.
//
// Source: J. Fliege and B. F. Svaiter, "Steepest descent methods for multicriteria optimization",
// Mathematical Methods of Operations Research 51 (2000) 479-494, with a matrix B as in J. Fliege, L. M.
// Graña Drummond, B. F. Svaiter, "Newton's method for multiobjective optimization", SIAM Journal on
// Optimization 20 (2009) 602-626; limits join the values as in the method of feasible directions.
type descent struct {
	slopes  [][]float64 // of the values to be lowered, then of limits
	heights []float64   // 0, and of limits how far they are broken: below 0
	weights []float64   // of the mean that decides, one for each slope, of sum 1

	matrix, solved, inner []float64
	free                  []int
}

// step stores the step in d and returns by how much it lowers all values at least, to first order, as a
// number below 0; 0 when there is no such step. u are coordinates from 0 to 1, which the step does not
// leave; b is n×n, symmetric and positive definite.
func (s *descent) step(d, u, b []float64) float64 {
	n, p := len(u), len(s.slopes)
	s.matrix, s.solved = sized(s.matrix, n*n), sized(s.solved, n*p)
	s.inner, s.weights, s.free = sized(s.inner, p*p), sized(s.weights, p), sized(s.free, n)[:0]
	for i := range n {
		s.free = append(s.free, i)
	}
	for {
		if !s.solve(d, b, n) {
			clear(d)
			return 0
		}
		left := s.free[:0:len(s.free)]
		for _, i := range s.free {
			if u[i] <= 0 && d[i] < 0 || u[i] >= 1 && d[i] > 0 {
				d[i] = 0
			} else {
				left = append(left, i)
			}
		}
		if len(left) == len(s.free) {
			break
		}
		s.free = left
	}
	most := math.Inf(-1)
	for k, slope := range s.slopes {
		v := s.heights[k]
		for i := range d {
			v += slope[i] * d[i]
		}
		most = max(most, v)
	}
	return min(most, 0)
}

// solve finds the step among the free coordinates; false when there is none.
func (s *descent) solve(d, b []float64, n int) bool {
	m, p := len(s.free), len(s.slopes)
	if m == 0 {
		return false
	}
	for i, a := range s.free {
		for j, c := range s.free {
			s.matrix[i*m+j] = b[a*n+c]
		}
		for k := range p {
			s.solved[i*p+k] = s.slopes[k][a]
		}
	}
	factor, ok := lapack64.Potrf(blas64.Symmetric{Uplo: blas.Upper, N: m, Data: s.matrix, Stride: m})
	if !ok {
		return false
	}
	lapack64.Potrs(factor, blas64.General{Rows: m, Cols: p, Data: s.solved, Stride: p})
	for k := range p {
		for l := range p {
			v := 0.0
			for i, a := range s.free {
				v += s.slopes[k][a] * s.solved[i*p+l]
			}
			s.inner[k*p+l] = v
		}
	}
	leastOnSimplex(s.weights, s.inner, s.heights)
	clear(d)
	for i, a := range s.free {
		for k, w := range s.weights {
			d[a] -= w * s.solved[i*p+k]
		}
	}
	return true
}

// leastOnSimplex finds the w, none below 0 and of sum 1, that makes w'Qw/2 - h·w least, for a Q without
// negative eigenvalues: by an active set, as in C. L. Lawson and R. J. Hanson, Solving Least Squares
// Problems (1974), chapter 23, with the sum as one more equation.
func leastOnSimplex(w, q, h []float64) {
	p := len(w)
	scale, first := 0.0, 0
	for k := range w {
		w[k] = 0
		scale = max(scale, math.Abs(q[k*p+k]), math.Abs(h[k]))
		if q[k*p+k]/2-h[k] < q[first*p+first]/2-h[first] {
			first = k
		}
	}
	w[first] = 1
	active := []int{first}
	for range 10 * p {
		z, level, ok := equalSlopes(active, q, h, 1e-13*scale)
		if !ok {
			return
		}
		far, out := 1.0, -1
		for i, k := range active {
			if z[i] <= 0 && w[k] <= far*(w[k]-z[i]) {
				far, out = w[k]/(w[k]-z[i]), i
			}
		}
		for i, k := range active {
			w[k] = max(w[k]+far*(z[i]-w[k]), 0)
		}
		if out >= 0 {
			w[active[out]] = 0
			active = slices.Delete(active, out, out+1)
			continue
		}
		enter, least := -1, level-1e-11*scale
		for k := range w {
			v := -h[k]
			for _, l := range active {
				v += q[k*p+l] * w[l]
			}
			if v < least && !slices.Contains(active, k) {
				enter, least = k, v
			}
		}
		if enter < 0 {
			return
		}
		active = append(active, enter)
	}
}

// equalSlopes returns the weights of sum 1 that give all active values the same slope, and that slope.
func equalSlopes(active []int, q, h []float64, ridge float64) (z []float64, level float64, ok bool) {
	p, m := len(h), len(active)
	a := make([][]float64, m+1)
	for i, k := range active {
		a[i] = make([]float64, m+2)
		for j, l := range active {
			a[i][j] = q[k*p+l]
		}
		a[i][i] += ridge
		a[i][m], a[i][m+1] = -1, h[k]
	}
	a[m] = make([]float64, m+2)
	for j := range m {
		a[m][j] = 1
	}
	a[m][m+1] = 1
	if !eliminate(a, 0) {
		return nil, 0, false
	}
	z = make([]float64, m)
	for i := range z {
		z[i] = a[i][m+1]
	}
	return z, a[m][m+1], true
}

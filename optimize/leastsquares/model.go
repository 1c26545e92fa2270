package leastsquares

import (
	"math"

	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"
)

// factors is the memory of the factored model.
type factors struct {
	stale bool      // u belongs to another point or model
	tall  []float64 // rows to factor
	tau   []float64
	work  []float64
	u     []float64 // n×n triangle of the model's Hessian in scaled variables
}

// ridge is how curved, relative to the most curved direction, the model is at least: its square keeps a
// flat direction finite without bending the others.
const ridge = 1e-8

// factor computes the triangle of the model in use.
func (s *Solver) factor() {
	if !s.stale && len(s.u) == s.n*s.n {
		return
	}
	s.stale = false
	if s.augmented {
		s.factorAugmented()
	} else {
		s.factorGaussNewton()
	}
}

// factorGaussNewton factors the scaled Jacobian, so that its square is never formed.
func (s *Solver) factorGaussNewton() {
	n, m := s.n, len(s.at.r)
	s.tall = sized(s.tall, (m+n)*n)
	most := 0.0
	for k := range n {
		norm := 0.0
		for i := range m {
			v := s.at.jr[i*n+k] * s.scale[k]
			s.tall[i*n+k] = v
			norm += v * v
		}
		most = max(most, math.Sqrt(norm))
	}
	bottom := s.tall[m*n:]
	clear(bottom)
	for k := range n {
		bottom[k*n+k] = max(ridge*most, 1e-150)
	}
	s.triangle(m + n)
}

// factorAugmented factors the Jacobian's square plus the secant estimate, its negative curvatures made
// flat.
func (s *Solver) factorAugmented() {
	n := s.n
	sum := mat.NewSymDense(n, nil)
	for a := range n {
		for b := a; b < n; b++ {
			v := s.secant[a*n+b]
			for i := range s.at.r {
				v += s.at.jr[i*n+a] * s.at.jr[i*n+b]
			}
			sum.SetSym(a, b, v*s.scale[a]*s.scale[b])
		}
	}
	var e mat.EigenSym
	s.tall = sized(s.tall, n*n)
	if !e.Factorize(sum, true) {
		s.augmented = false
		s.factorGaussNewton()
		return
	}
	values := e.Values(nil)
	var vectors mat.Dense
	e.VectorsTo(&vectors)
	most := 0.0
	for _, v := range values {
		most = max(most, math.Abs(v))
	}
	for i, v := range values {
		root := math.Sqrt(max(v, ridge*most, 1e-300))
		for k := range n {
			s.tall[i*n+k] = root * vectors.At(k, i)
		}
	}
	s.triangle(n)
}

// triangle leaves in u the triangle of the orthogonal factorisation of tall.
func (s *Solver) triangle(rows int) {
	n := s.n
	a := blas64.General{Rows: rows, Cols: n, Stride: n, Data: s.tall}
	s.tau, s.work = sized(s.tau, n), sized(s.work, max(n, 1)*64)
	lapack64.Geqrf(a, s.tau, s.work, len(s.work))
	s.u = sized(s.u, n*n)
	clear(s.u)
	for i := range n {
		copy(s.u[i*n+i:(i+1)*n], s.tall[i*n+i:(i+1)*n])
	}
}

// lay writes the program of the model about the point: the box, the region of the given half-widths
// (in scales, at least least of a variable), the limits with their shift.
func (s *Solver) lay(radius, least float64) {
	s.factor()
	n, p := s.n, &s.p
	p.reset(n, len(s.at.g))
	copy(p.u, s.u)
	for k := range n {
		d := s.scale[k]
		p.g[k] = s.at.slope[k] * d
		half := max(radius, least/d)
		p.low[k] = max((s.problem.Low[k]-s.at.x[k])/d, -half)
		p.high[k] = min((s.problem.High[k]-s.at.x[k])/d, half)
	}
	for i, g := range s.at.g {
		for k := range n {
			p.a[i*n+k] = s.at.jg[i*n+k] * s.scale[k]
		}
		p.b[i] = -(g + s.shift[i])
	}
	p.rho = s.rho
}

// learn updates the secant estimate and the choice of model's data after a move from at to next. The
// limits take part with their multipliers.
func (s *Solver) learn() {
	n, a, b := s.n, &s.at, &s.next
	move, y, extra := make([]float64, n), make([]float64, n), make([]float64, n)
	for k := range n {
		move[k] = b.x[k] - a.x[k]
		y[k] = b.slope[k] - a.slope[k]
		if len(b.r) == 0 {
			extra[k] = y[k]
		}
	}
	for i, r := range b.r {
		for k := range n {
			extra[k] += r * (b.jr[i*n+k] - a.jr[i*n+k])
		}
	}
	for i, l := range s.lambda {
		if l == 0 || len(a.g) != len(b.g) {
			continue
		}
		for k := range n {
			v := l * (b.jg[i*n+k] - a.jg[i*n+k])
			y[k] += v
			extra[k] += v
		}
	}
	if len(b.r) == 0 {
		s.damped(move, y)
	} else {
		s.dennis(move, y, extra)
	}
	s.learned = true
}

// dennis is the update of Dennis, Gay and Welsch (1981), equations 2.11 and 2.12, with their sizing.
func (s *Solver) dennis(move, y, extra []float64) {
	n := s.n
	sm := s.timesSecant(move)
	curve, lengths := dot(y, move), math.Sqrt(dot(y, y)*dot(move, move))
	if math.Abs(curve) <= 1e-10*lengths || lengths == 0 {
		return
	}
	size := 1.0
	if old := math.Abs(dot(move, sm)); old > 0 {
		size = min(1, math.Abs(dot(move, extra))/old)
	}
	w := make([]float64, n)
	for k := range n {
		w[k] = extra[k] - size*sm[k]
	}
	both := dot(w, move) / (curve * curve)
	for i := range n {
		for k := range n {
			s.secant[i*n+k] = size*s.secant[i*n+k] + (w[i]*y[k]+y[i]*w[k])/curve - both*y[i]*y[k]
		}
	}
}

// damped is the update of Broyden, Fletcher, Goldfarb and Shanno with Powell's damping, which keeps the
// estimate positive definite. The first one sizes it.
func (s *Solver) damped(move, y []float64) {
	n := s.n
	if curve := dot(y, move); !s.learned && curve > 0 {
		sm := s.timesSecant(move)
		size := curve / dot(move, sm)
		for i := range s.secant {
			s.secant[i] *= size
		}
	}
	sm := s.timesSecant(move)
	old, curve := dot(move, sm), dot(y, move)
	if !(old > 0) {
		return
	}
	theta := 1.0
	if curve < 0.2*old {
		theta = 0.8 * old / (old - curve)
	}
	for k := range n {
		y[k] = theta*y[k] + (1-theta)*sm[k]
	}
	curve = dot(y, move)
	for i := range n {
		for k := range n {
			s.secant[i*n+k] += y[i]*y[k]/curve - sm[i]*sm[k]/old
		}
	}
}

func (s *Solver) timesSecant(v []float64) []float64 {
	out := make([]float64, s.n)
	for i := range out {
		out[i] = dot(s.secant[i*s.n:(i+1)*s.n], v)
	}
	return out
}

// choose takes the model that foretold better what the step to an evaluated point did to the Lagrangian.
func (s *Solver) choose(e *Evaluation, f float64) {
	if len(s.at.r) == 0 || !s.learned || len(e.G) != len(s.at.g) {
		return
	}
	n := s.n
	actual := f - s.at.f - dot(s.at.slope, s.step)
	for i, l := range s.lambda {
		if l != 0 {
			actual += l * (e.G[i] - s.at.g[i] - dot(s.at.jg[i*n:(i+1)*n], s.step))
		}
	}
	plain := 0.0
	for i := range s.at.r {
		v := dot(s.at.jr[i*n:(i+1)*n], s.step)
		plain += v * v / 2
	}
	missing := dot(s.step, s.timesSecant(s.step)) / 2
	better := math.Abs(actual-plain-missing) < math.Abs(actual-plain)
	if better != s.augmented {
		s.augmented, s.stale = better, true
	}
}

package optimize

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack"
	"gonum.org/v1/gonum/lapack/lapack64"
)

// pace holds the constants of covariance matrix adaptation for n numbers and a population.
//
// Source: N. Hansen, "The CMA evolution strategy: a tutorial", arXiv:1604.00772 (2016), table 1 and
// equations 49 to 58.
type pace struct {
	population, parents int
	weights             []float64 // of all members, best first; the worse half below 0
	mass                float64   // effective number of parents, mu_eff
	sigmaPath, covPath  float64   // c_sigma, c_c
	rankOne, rankMu     float64   // c_1, c_mu
	damping, length     float64   // d_sigma; expected length of a standard normal vector
	every               int       // generations from one decomposition to the next
}

func newPace(n, population int) pace {
	p := pace{population: population, parents: population / 2, weights: make([]float64, population)}
	var plus, plus2, minus, minus2 float64
	for i := range p.weights {
		w := math.Log(float64(population+1)/2) - math.Log(float64(i+1))
		p.weights[i] = w
		if i < p.parents {
			plus, plus2 = plus+w, plus2+w*w
		} else {
			minus, minus2 = minus+w, minus2+w*w
		}
	}
	m := float64(n)
	p.mass = plus * plus / plus2
	massMinus := minus * minus / minus2
	p.sigmaPath = (p.mass + 2) / (m + p.mass + 5)
	p.covPath = (4 + p.mass/m) / (m + 4 + 2*p.mass/m)
	p.rankOne = 2 / ((m+1.3)*(m+1.3) + p.mass)
	p.rankMu = min(1-p.rankOne, 2*(0.25+p.mass+1/p.mass-2)/((m+2)*(m+2)+p.mass))
	p.damping = 1 + 2*max(0, math.Sqrt((p.mass-1)/(m+1))-1) + p.sigmaPath
	p.length = math.Sqrt(m) * (1 - 1/(4*m) + 1/(21*m*m))
	p.every = max(1, int(1/(10*m*(p.rankOne+p.rankMu))))

	// Negative weights keep the matrix positive definite (equations 50 to 53).
	low := min(1+p.rankOne/p.rankMu, 1+2*massMinus/(p.mass+2), (1-p.rankOne-p.rankMu)/(m*p.rankMu))
	for i, w := range p.weights {
		if w >= 0 {
			p.weights[i] = w / plus
		} else {
			p.weights[i] = w * low / -minus
		}
	}
	return p
}

// gaussian is the distribution that a restart draws from: mean + sigma·scale∘(B D z), z standard normal,
// where B D² B' decomposes the covariance C.
type gaussian struct {
	mean, scale        []float64
	pathSigma, pathCov []float64
	c, b               []float64 // n×n, row-major; the columns of b are eigenvectors of c as last decomposed
	d                  []float64 // roots of the eigenvalues
	sigma              float64
	age                int // updates so far

	step, white, y []float64
	work           []float64
}

func newGaussian(n int) *gaussian {
	v := func(m int) []float64 { return make([]float64, m) }
	g := &gaussian{
		mean: v(n), scale: v(n), pathSigma: v(n), pathCov: v(n), c: v(n * n), b: v(n * n), d: v(n),
		step: v(n), white: v(n), y: v(n), work: v(max(1, 36*n)),
	}
	g.begin(1)
	return g
}

// begin makes the distribution round, of width sigma about the mean it has.
func (g *gaussian) begin(sigma float64) {
	n := len(g.mean)
	clear(g.c)
	clear(g.b)
	clear(g.pathSigma)
	clear(g.pathCov)
	for i := range n {
		g.c[i*n+i], g.b[i*n+i], g.d[i], g.scale[i] = 1, 1, 1, 1
	}
	g.sigma, g.age = sigma, 0
}

// stretch stores B D z in y.
func (g *gaussian) stretch(y, z []float64) {
	n := len(g.mean)
	for i := range y {
		s := 0.0
		for j, b := range g.b[i*n : i*n+n] {
			s += b * g.d[j] * z[j]
		}
		y[i] = s
	}
}

// point stores what the standard normal vector z stands for in u.
func (g *gaussian) point(u, z []float64) {
	g.stretch(u, z)
	for i := range u {
		u[i] = g.mean[i] + g.sigma*g.scale[i]*u[i]
	}
}

// deviation returns the standard deviation of coordinate i.
func (g *gaussian) deviation(i int) float64 {
	return g.sigma * g.scale[i] * math.Sqrt(g.c[i*len(g.mean)+i])
}

// update learns from one generation: z are the vectors drawn, best first. It returns false when the
// covariance can no longer be decomposed or has become worse conditioned than 1e14.
//
// Source: Hansen (2016), figure 6 (mean, paths, covariance with negative weights, step size); negative
// weights after N. Hansen and R. Ros, "Benchmarking a weighted negative covariance matrix update on the
// BBOB-2010 noiseless testbed", GECCO 2010 companion, 1673-1680.
func (g *gaussian) update(p *pace, z [][]float64) bool {
	n := len(g.mean)
	m := float64(n)
	clear(g.white)
	for k, w := range p.weights[:p.parents] {
		for j, v := range z[k] {
			g.white[j] += w * v
		}
	}
	g.stretch(g.step, g.white)
	length := 0.0
	push := math.Sqrt(p.sigmaPath * (2 - p.sigmaPath) * p.mass)
	for i := range n {
		g.mean[i] += g.sigma * g.scale[i] * g.step[i]
		turned := 0.0
		for j, b := range g.b[i*n : i*n+n] {
			turned += b * g.white[j]
		}
		g.pathSigma[i] = (1-p.sigmaPath)*g.pathSigma[i] + push*turned
		length += g.pathSigma[i] * g.pathSigma[i]
	}
	length = math.Sqrt(length)
	g.age++
	settled := 1 - exp(2*float64(g.age)*math.Log(1-p.sigmaPath))
	slow := length/math.Sqrt(settled) < (1.4+2/(m+1))*p.length
	pull, short := 0.0, p.covPath*(2-p.covPath)
	if slow {
		pull, short = math.Sqrt(p.covPath*(2-p.covPath)*p.mass), 0
	}
	for i := range n {
		g.pathCov[i] = (1-p.covPath)*g.pathCov[i] + pull*g.step[i]
	}
	sum := 0.0
	for _, w := range p.weights {
		sum += w
	}
	keep := 1 + p.rankOne*short - p.rankOne - p.rankMu*sum
	for i := range n {
		for j := range i + 1 {
			g.c[i*n+j] = keep*g.c[i*n+j] + p.rankOne*g.pathCov[i]*g.pathCov[j]
		}
	}
	for k, w := range p.weights {
		if w < 0 {
			l := 0.0
			for _, v := range z[k] {
				l += v * v
			}
			if w *= m / l; l == 0 {
				continue
			}
		}
		g.stretch(g.y, z[k])
		w *= p.rankMu
		for i := range n {
			for j := range i + 1 {
				g.c[i*n+j] += w * g.y[i] * g.y[j]
			}
		}
	}
	for i := range n {
		for j := range i {
			g.c[j*n+i] = g.c[i*n+j]
		}
	}
	g.sigma *= exp(min(1, p.sigmaPath/p.damping*(length/p.length-1)))
	if !(g.sigma > 1e-100 && g.sigma < 1e100) {
		return false
	}
	return g.age%p.every != 0 || g.decompose()
}

// decompose finds b and d of c.
func (g *gaussian) decompose() bool {
	n := len(g.mean)
	for _, v := range g.c {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	copy(g.b, g.c)
	if !lapack64.Syev(lapack.EVCompute, blas64.Symmetric{Uplo: blas.Upper, N: n, Data: g.b, Stride: n}, g.d, g.work, len(g.work)) {
		return false
	}
	if !(g.d[0] > 0 && g.d[n-1] < 1e14*g.d[0]) {
		return false
	}
	for i, v := range g.d {
		g.d[i] = math.Sqrt(v)
	}
	return true
}

// hold keeps the chance of leaving its present level above a margin for coordinate i, whose values are
// count steps evenly over 0 to 1: nothing that has steps ever freezes before the rest has settled.
//
// Source: R. Hamano, S. Saito, M. Nomura, S. Shirakawa, "CMA-ES with margin: lower-bounding marginal
// probability for mixed-integer black-box optimization", GECCO 2022, 639-647, sections 4.2 and 4.3.
func (g *gaussian) hold(i int, count int64, margin float64) {
	gap := 1 / float64(count-1)
	edge := func(k float64) float64 { return (k + 0.5) * gap } // between levels k and k + 1
	k := math.Floor(g.mean[i]/gap + 0.5)
	s := g.deviation(i)
	switch last := float64(count - 1); {
	case k <= 0:
		g.mean[i] = max(g.mean[i], edge(0)-s*quantile(margin))
		return
	case k >= last:
		g.mean[i] = min(g.mean[i], edge(last-1)+s*quantile(margin))
		return
	}
	low, high := edge(k-1), edge(k)
	below, above := tail((g.mean[i]-low)/s), tail((high-g.mean[i])/s)
	if below >= margin/2 && above >= margin/2 {
		return
	}
	within := max(1-below-above, 0)
	b, a := max(below, margin/2), max(above, margin/2)
	rest := (1 - b - a - within) / (b + a + within - 3*margin/2)
	b, a = b+rest*(b-margin/2), a+rest*(a-margin/2)
	qb, qa := quantile(b), quantile(a)
	g.mean[i] = (low*qa + high*qb) / (qa + qb)
	g.scale[i] *= (high - low) / (qa + qb) / s
}

// exp is e to the x, by way of a power of 2: the last digit of math.Exp depends on the processor.
func exp(x float64) float64 { return math.Exp2(x * math.Log2E) }

// quantile returns the number that a standard normal one exceeds with chance p, 0 < p < 1.
func quantile(p float64) float64 { return math.Sqrt2 * math.Erfinv(1-2*p) }

// tail returns the chance that a standard normal number exceeds x, to a ten-millionth of it. For x below
// 0 it is 1 less that of -x.
//
// Source: W. H. Press and others, Numerical Recipes, 2nd edition (1992), section 6.2, erfcc: a rational
// Chebyshev fit; coefficients from memory, compared with math.Erfc by a test.
func tail(x float64) float64 {
	z := math.Abs(x) / math.Sqrt2
	t := 1 / (1 + 0.5*z)
	poly := -1.26551223 + t*(1.00002368+t*(0.37409196+t*(0.09678418+t*(-0.18628806+t*(0.27886807+t*(-1.13520398+t*(1.48851587+t*(-0.82215223+t*0.17087277))))))))
	p := 0.5 * t * exp(-z*z+poly)
	if x < 0 {
		return 1 - p
	}
	return p
}

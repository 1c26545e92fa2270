package optimize

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// The tail of the normal distribution, its inverse and powers agree with the standard library's.
func TestNormalDistribution(t *testing.T) {
	for x := -6.0; x <= 12; x += 0.01 {
		want := math.Erfc(x/math.Sqrt2) / 2
		if got := tail(x); math.Abs(got-want) > 2e-7*want {
			t.Fatalf("tail(%g) is %g, not %g", x, got, want)
		}
		if p := tail(x); p > 1e-10 && p < 1-1e-3 && math.Abs(quantile(p)-x) > 1e-5 {
			t.Fatalf("quantile(tail(%g)) is %g", x, quantile(p))
		}
		if got, want := exp(-x*x), math.Exp(-x*x); math.Abs(got-want) > 1e-13*want {
			t.Fatalf("exp(%g) is %g, not %g", -x*x, got, want)
		}
		if x > 0 {
			if got, want := power(x, -1.7), math.Pow(x, -1.7); math.Abs(got-want) > 1e-13*want {
				t.Fatalf("power(%g, -1.7) is %g, not %g", x, got, want)
			}
		}
	}
}

// fold keeps to the box, reaches its bounds, joins smoothly, and is the identity inside; unfold undoes it.
func TestFold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.Float64Range(-20, 20).Draw(t, "u")
		f := fold(u)
		if !(f >= 0 && f <= 1) {
			t.Fatalf("fold(%g) is %g", u, f)
		}
		if u >= rim && u <= 1-rim && f != u {
			t.Fatalf("fold(%g) is %g", u, f)
		}
		if g := fold(u + 1e-9); math.Abs(g-f) > 1.01e-9 {
			t.Fatalf("fold jumps from %g to %g at %g", f, g, u)
		}
		if g := fold(-2*rim - u); math.Abs(g-f) > 1e-12 {
			t.Fatalf("fold is not mirrored at the lower bound: %g and %g", f, g)
		}
		v := rapid.Float64Range(0, 1).Draw(t, "v")
		if w := fold(unfold(v)); math.Abs(w-v) > 1e-15 {
			t.Fatalf("%g unfolds and folds to %g", v, w)
		}
	})
	if fold(-rim) != 0 || fold(1+rim) != 1 {
		t.Error("the bounds are not reached")
	}
}

// The constants have the properties that Hansen (2016), section B.1 and table 1, gives them: positive
// weights sum to 1 and fall; the sum of all learning rates leaves a part of the old matrix; approximate
// values of c_1, c_mu and c_sigma.
func TestPace(t *testing.T) {
	for _, n := range []int{1, 2, 5, 10, 30} {
		for _, m := range []int{4, 5, 10, 100, 1000} {
			p := newPace(n, m)
			sum, square := 0.0, 0.0
			for _, w := range p.weights[:p.parents] {
				sum += w
				square += w * w
			}
			if math.Abs(sum-1) > 1e-12 || math.Abs(p.mass*square-1) > 1e-9 || !slices.IsSortedFunc(p.weights, func(a, b float64) int { return -compareFrom([]float64{a}, []float64{b}, 0) }) {
				t.Errorf("%d numbers, population %d: weights %v", n, m, p.weights)
			}
			minus := 0.0
			for _, w := range p.weights[p.parents:] {
				minus -= w
			}
			if float64(n)*p.rankMu*minus > 1-p.rankOne-p.rankMu+1e-12 {
				t.Errorf("%d numbers, population %d: negative weights of %g may make the matrix indefinite", n, m, minus)
			}
			if !(p.rankOne > 0 && p.rankMu >= 0 && p.rankOne+p.rankMu <= 1 && p.damping >= 1 && p.sigmaPath < 1 && p.covPath <= 1) {
				t.Errorf("%d numbers, population %d: %+v", n, m, p)
			}
		}
	}
	// n = 10, population 10: mu_eff 3.167, from memory of printed runs; c_1 about 2/n², c_mu about mu_eff/n².
	p := newPace(10, 10)
	if math.Abs(p.mass-3.167) > 0.01 || math.Abs(p.rankOne*131-2) > 0.1 || p.rankMu > 3.167/100 || p.rankMu < 0.01 || p.parents != 5 {
		t.Errorf("%+v", p)
	}
}

// ranked runs generations in which order ranks the members.
func ranked(t *testing.T, g *gaussian, p *pace, r *Stream, generations int, value func(u []float64) float64) {
	t.Helper()
	n := len(g.mean)
	u := make([]float64, n)
	for range generations {
		z := make([][]float64, p.population)
		f := make([]float64, p.population)
		order := make([]int, p.population)
		for i := range z {
			order[i] = i
			for range n {
				z[i] = append(z[i], r.Normal())
			}
			g.point(u, z[i])
			f[i] = value(u)
		}
		slices.SortStableFunc(order, func(a, b int) int { return compareFrom(f[a:a+1], f[b:b+1], 0) })
		sorted := make([][]float64, p.population)
		for k, i := range order {
			sorted[k] = z[i]
		}
		if !g.update(p, sorted) {
			t.Fatal("the distribution cannot be decomposed")
		}
	}
}

// Without selection nothing is learnt: the logarithm of the step size and the mean drift by chance alone
// and the trace of the covariance keeps its size (Hansen 2016, section 0: stationarity, unbiasedness).
func TestNothingLearntFromChance(t *testing.T) {
	const n, times = 6, 200
	p := newPace(n, 9)
	r := NewStream(Key{Seed: 5})
	drift, trace := 0.0, 0.0
	for range times {
		g := newGaussian(n)
		g.begin(1)
		ranked(t, g, &p, &r, 30, func([]float64) float64 { return r.Float64() })
		drift += math.Log(g.sigma) / times
		for i := range n {
			trace += g.c[i*n+i] / n / times
		}
	}
	if math.Abs(drift) > 0.2 || math.Abs(trace-1) > 0.15 {
		t.Errorf("after 30 generations the step size has drifted by %g, the trace is %g", drift, trace)
	}
}

// On a quadratic function the covariance becomes proportional to the inverse of its matrix (Hansen 2016,
// section 1.4), here one of condition 10⁴ that lies across the coordinates.
func TestCovarianceLearnsTheInverse(t *testing.T) {
	const n = 5
	r := NewStream(Key{Seed: 9})
	var axes [n][n]float64 // orthonormal, by Gram and Schmidt
	for i := range n {
		for k := range n {
			axes[i][k] = r.Normal()
		}
		for j := range i {
			dot := 0.0
			for k := range n {
				dot += axes[i][k] * axes[j][k]
			}
			for k := range n {
				axes[i][k] -= dot * axes[j][k]
			}
		}
		length := 0.0
		for k := range n {
			length += axes[i][k] * axes[i][k]
		}
		for k := range n {
			axes[i][k] /= math.Sqrt(length)
		}
	}
	weight := func(i int) float64 { return math.Pow(10, float64(i)) }
	along := func(u []float64, i int) (a float64) {
		for k, v := range u {
			a += v * axes[i][k]
		}
		return a
	}
	p := newPace(n, 8)
	g := newGaussian(n)
	for i := range g.mean {
		g.mean[i] = 3
	}
	g.begin(1)
	ranked(t, g, &p, &r, 400, func(u []float64) (f float64) {
		for i := range n {
			f += weight(i) * along(u, i) * along(u, i)
		}
		return f
	})
	var low, high float64 = math.Inf(1), 0
	for i := range n {
		v := 0.0
		for j := range n {
			for k := range n {
				v += axes[i][j] * g.c[j*n+k] * axes[i][k]
			}
		}
		low, high = min(low, v*weight(i)), max(high, v*weight(i))
	}
	if high/low > 10 {
		t.Errorf("the covariance, weighed by the matrix, spans %g to %g", low, high)
	}
}

// The decomposition is one: b is orthonormal and b d² b' is c.
func TestDecompose(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 8).Draw(t, "n")
		g := newGaussian(n)
		g.begin(1)
		half := make([]float64, n*n)
		for i := range half {
			half[i] = rapid.Float64Range(-1, 1).Draw(t, "c")
		}
		for i := range n {
			for j := range n {
				g.c[i*n+j] = 0
				for k := range n {
					g.c[i*n+j] += half[i*n+k] * half[j*n+k]
				}
			}
			g.c[i*n+i] += 0.01
		}
		if !g.decompose() {
			t.Fatal("not decomposed")
		}
		for i := range n {
			for j := range n {
				c, unit := 0.0, 0.0
				for k := range n {
					c += g.b[i*n+k] * g.d[k] * g.d[k] * g.b[j*n+k]
					unit += g.b[i*n+k] * g.b[j*n+k]
				}
				want := 0.0
				if i == j {
					want = 1
				}
				if math.Abs(c-g.c[i*n+j]) > 1e-12 || math.Abs(unit-want) > 1e-12 {
					t.Fatalf("%d, %d: %g for %g, %g for %g", i, j, c, g.c[i*n+j], unit, want)
				}
			}
		}
	})
}

// After hold the chance of leaving a level is at least half the margin to either side (all of it at the
// ends), and a distribution that has that chance is left alone (Hamano et al. 2022, equations 11 to 19).
func TestHold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		count := rapid.Int64Range(2, 50).Draw(t, "levels")
		margin := rapid.Float64Range(1e-4, 0.25).Draw(t, "margin")
		g := newGaussian(1)
		g.mean[0] = rapid.Float64Range(-0.5, 1.5).Draw(t, "mean")
		g.begin(math.Pow(10, rapid.Float64Range(-9, 0).Draw(t, "width")))
		gap := 1 / float64(count-1)
		mean, s := g.mean[0], g.deviation(0)
		level := min(max(math.Floor(mean/gap+0.5), 0), float64(count-1))
		leave := func() (below, above float64) {
			return tail((g.mean[0] - (level-0.5)*gap) / g.deviation(0)), tail(((level+0.5)*gap - g.mean[0]) / g.deviation(0))
		}
		below, above := leave()
		g.hold(0, count, margin)
		b, a := leave()
		enough := func(b, a, slack float64) bool {
			switch level {
			case 0:
				return a >= margin*(1-slack)
			case float64(count - 1):
				return b >= margin*(1-slack)
			}
			return b >= margin/2*(1-slack) && a >= margin/2*(1-slack)
		}
		if !enough(b, a, 1e-4) {
			t.Fatalf("level %g of %d, mean %g, width %g: left with chances %g and %g, margin %g", level, count, mean, s, b, a, margin)
		}
		if enough(below, above, -1e-4) && (g.mean[0] != mean || g.scale[0] != 1) {
			t.Fatalf("level %g of %d, mean %g, width %g had chances %g and %g, margin %g, and was moved to %g", level, count, mean, s, below, above, margin, g.mean[0])
		}
	})
}

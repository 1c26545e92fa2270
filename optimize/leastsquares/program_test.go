package leastsquares

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// randomProgram draws a program; rows may contradict each other and bounds may pin a variable.
func randomProgram(t *rapid.T, most int) *program {
	n := rapid.IntRange(1, most).Draw(t, "n")
	rows := rapid.IntRange(0, 8).Draw(t, "rows")
	number := rapid.Float64Range(-2, 2)
	p := &program{}
	slacks := rapid.IntRange(1, 3).Draw(t, "slacks")
	group := make([]int, rows)
	for i := range group {
		group[i] = rapid.IntRange(0, slacks-1).Draw(t, "group")
	}
	p.reset(n, rows, slacks, group)
	clear(p.u)
	for i := range n {
		for k := i; k < n; k++ {
			p.u[i*n+k] = number.Draw(t, "u")
		}
		p.u[i*n+i] = rapid.Float64Range(0.5, 3).Draw(t, "diagonal")
		p.g[i] = number.Draw(t, "g")
		p.low[i] = number.Draw(t, "low")
		p.high[i] = p.low[i] + rapid.SampledFrom([]float64{0, 0.3, 2, math.Inf(1)}).Draw(t, "width")
		if rapid.Bool().Draw(t, "open") {
			p.low[i] = math.Inf(-1)
		}
	}
	for i := range p.a {
		p.a[i] = rapid.SampledFrom([]float64{0, 1, -1, 0.5, 1.7}).Draw(t, "a")
	}
	for i := range p.b {
		p.b[i] = number.Draw(t, "b")
	}
	p.rho = rapid.SampledFrom([]float64{0.1, 10, 1000}).Draw(t, "rho")
	return p
}

// The conditions of Karush, Kuhn and Tucker are necessary and sufficient for a convex program: J. Nocedal
// and S. J. Wright, Numerical Optimization (2006), theorem 16.4.
func TestProgramMeetsItsConditions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := randomProgram(t, 6)
		p.solve()
		if !p.complete {
			t.Fatal("not solved")
		}
		n := p.n
		size := 1.0
		for _, v := range append(append([]float64{p.rho * (1 + p.t.most)}, p.bound...), p.row...) {
			size = max(size, math.Abs(v))
		}
		near := func(what string, v, tolerance float64) {
			if !(math.Abs(v) <= tolerance*size) {
				t.Fatalf("%s is off by %g: z %v, t %v, bounds %v, rows %v", what, v, p.z, p.t, p.bound, p.row)
			}
		}
		slope := append([]float64(nil), p.g...)
		for i := range n {
			v := dot(p.u[i*n+i:(i+1)*n], p.z[i:])
			for k := i; k < n; k++ {
				slope[k] += p.u[i*n+k] * v
			}
		}
		sums := make([]float64, p.slacks)
		for i := range p.rows {
			gap := p.b[i] + p.x[p.slackOf(i)] - dot(p.a[i*n:(i+1)*n], p.z)
			if gap < -1e-9 || p.row[i] < 0 {
				t.Fatalf("row %d: gap %g, multiplier %g", i, gap, p.row[i])
			}
			near("complementarity", gap*p.row[i], 1e-8)
			sums[p.group[i]] += p.row[i]
			for k := range n {
				slope[k] += p.row[i] * p.a[i*n+k]
			}
		}
		for k := range n {
			near("slope", slope[k]-p.bound[k], 1e-8)
			switch {
			case p.z[k] < p.low[k] || p.z[k] > p.high[k]:
				t.Fatalf("z %v leaves the box", p.z)
			case p.z[k] > p.low[k] && p.z[k] < p.high[k]:
				near("multiplier inside the box", p.bound[k], 1e-9)
			case p.low[k] < p.high[k] && p.z[k] == p.low[k] && p.bound[k] < 0, p.low[k] < p.high[k] && p.z[k] == p.high[k] && p.bound[k] > 0:
				t.Fatalf("multiplier %g of the wrong sign", p.bound[k])
			}
		}
		for k, sum := range sums {
			if slack := p.x[n+k]; slack > 1e-12 {
				near("slope of the slack", p.rho*(1+slack)-sum, 1e-8)
			} else if slack < -1e-12 || sum > p.rho*(1+1e-8) {
				t.Fatalf("slack %d is %g, its multipliers sum to %g, the price is %g", k, slack, sum, p.rho)
			}
		}
	})
}

// The worked example of Nocedal and Wright (2006), example 16.4: minimise (x-1)² + (y-2.5)² subject to
// five lines; the minimum is (1.4, 1.7). From memory; the constraint active there, -x + 2y ≤ 2, gives it
// exactly.
func TestProgramOfNocedalAndWright(t *testing.T) {
	p := &program{}
	p.reset(2, 3, 1, nil)
	r := math.Sqrt2
	copy(p.u, []float64{r, 0, 0, r})
	copy(p.g, []float64{-2, -5})
	copy(p.low, []float64{0, 0})
	copy(p.high, []float64{math.Inf(1), math.Inf(1)})
	copy(p.a, []float64{-1, 2, 1, 2, 1, -2})
	copy(p.b, []float64{2, 6, 2})
	p.rho = 100
	p.solve()
	if math.Abs(p.z[0]-1.4) > 1e-14 || math.Abs(p.z[1]-1.7) > 1e-14 || math.Abs(p.row[0]-0.8) > 1e-13 || p.t.most != 0 {
		t.Errorf("minimum at %v, multipliers %v, slack %v; published (1.4, 1.7)", p.z, p.row, p.t)
	}
}

// Whole variables: branch and bound finds what trying every point finds.
func TestLatticeAgainstEnumeration(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := randomProgram(t, 3)
		p.rho = 50
		n := p.n
		l := &lattice{nodes: 100_000}
		origin, width := make([]float64, n), make([]float64, n)
		whole := make([]bool, n)
		for i := range n {
			origin[i] = rapid.Float64Range(0, 1).Draw(t, "origin")
			width[i] = rapid.SampledFrom([]float64{1, 2, 5}).Draw(t, "width")
			whole[i] = true
			p.low[i], p.high[i] = -origin[i]/width[i], (4-origin[i])/width[i]
		}
		z, found := l.search(p, origin, width, whole, 0)
		best := math.Inf(1)
		try := make([]float64, n)
		var walk func(i int)
		walk = func(i int) {
			if i == n {
				best = min(best, p.curve(try)+p.rho*p.broken(try).cost)
				return
			}
			for k := range 5 {
				try[i] = (float64(k) - origin[i]) / width[i]
				walk(i + 1)
			}
		}
		walk(0)
		for i := range z {
			z[i] = (math.Round(origin[i]+width[i]*z[i]) - origin[i]) / width[i]
		}
		if got := p.curve(z) + p.rho*p.broken(z).cost; !found || math.Abs(got-best) > 1e-7*(1+math.Abs(best)) {
			t.Fatalf("found %g (%v), the best of all is %g", got, found, best)
		}
	})
}

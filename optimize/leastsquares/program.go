package leastsquares

import "math"

// program is a strictly convex quadratic program in n variables with a box, and rows that may be broken at a
// price, those of one group together by one slack t:
//
//	minimise   ½ zᵀUᵀU z + gᵀz + ρ Σ (t + ½t²)        U n×n upper triangle
//	subject to low ≤ z ≤ high,  A z ≤ b + t,  t ≥ 0    A rows×n
//
// With low ≤ high it always has a solution. The price is exact: as long as the multipliers of a group's rows
// sum to less than ρ, its t is 0.
//
// It is solved by the dual active-set method of D. Goldfarb and A. Idnani, "A numerically stable dual
// method for solving strictly convex quadratic programs", Mathematical Programming 27 (1983) 1-33: it
// begins at the minimum without constraints and takes in the most violated one until none is. The
// factors are kept up by plane rotations. What is ours: the slacks, which are variables like the others.
type program struct {
	n, rows   int
	slacks    int
	group     []int // slack of each row; nil: all share the first
	u, g      []float64
	low, high []float64
	a, b      []float64
	rho       float64

	// Result.
	z        []float64 // n, in the box exactly
	t        breach
	bound    []float64 // n: multiplier of the box, positive at low, negative at high
	row      []float64 // rows: multipliers, not negative
	complete bool      // solved; otherwise z is the last, clipped to the box

	// Memory: size is n and the slacks.
	size          int
	j, r          []float64 // J with J Jᵀ the inverse Hessian, r the triangle of the active normals
	x, d, dir, rr []float64
	normal        []float64
	length        []float64 // of the rows' normals
	active        []int
	price         []float64 // multipliers of the active constraints
	isActive      []bool
	greatest      []float64
	live          []int // constraints that can be violated inside the box at all
}

// breach is how far limits are broken, group by group.
type breach struct {
	most float64 // greatest
	sum  float64 // of the greatest of each group
	cost float64 // of these, each with half its square: what a price is paid for
}

// add takes in the greatest of a group.
func (b *breach) add(h float64) {
	if h > 0 {
		b.most = max(b.most, h)
		b.sum += h
		b.cost += h + h*h/2
	}
}

// reset gives the program its shape. group says which slack each row has, of as many as there are slacks.
func (p *program) reset(n, rows, slacks int, group []int) {
	p.n, p.rows, p.slacks, p.group = n, rows, slacks, group
	if rows == 0 {
		p.slacks = 0
	}
	p.size = n + p.slacks
	p.greatest = sized(p.greatest, p.slacks)
	N := p.size
	p.u, p.g = sized(p.u, n*n), sized(p.g, n)
	p.low, p.high = sized(p.low, n), sized(p.high, n)
	p.a, p.b = sized(p.a, rows*n), sized(p.b, rows)
	p.z, p.bound, p.row = sized(p.z, n), sized(p.bound, n), sized(p.row, rows)
	p.j, p.r = sized(p.j, N*N), sized(p.r, N*N)
	p.x, p.d, p.dir, p.rr, p.normal = sized(p.x, N), sized(p.d, N), sized(p.dir, N), sized(p.rr, N), sized(p.normal, N)
	p.length = sized(p.length, rows)
	p.isActive = sized(p.isActive, 2*n+p.slacks+rows)
}

func sized[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n)
	}
	return s[:n]
}

// slackOf returns the variable that is the slack of a row.
func (p *program) slackOf(row int) int {
	if p.group == nil {
		return p.n
	}
	return p.n + p.group[row]
}

// Constraints are numbered: 0 to n-1 the low sides of the box, n to 2n-1 the high sides, then the slacks,
// then the rows. Each reads normal·x ≥ side.

// gap returns how far constraint c is kept, negative when violated, over the length of its normal.
func (p *program) gap(c int) float64 {
	switch n := p.n; {
	case c < n:
		return p.x[c] - p.low[c]
	case c < 2*n:
		return p.high[c-n] - p.x[c-n]
	case c < 2*n+p.slacks:
		return p.x[c-n]
	default:
		i := c - 2*n - p.slacks
		return (p.b[i] + p.x[p.slackOf(i)] - dot(p.a[i*n:(i+1)*n], p.x[:n])) / p.length[i]
	}
}

// setNormal stores the normal of constraint c, of length 1.
func (p *program) setNormal(c int) {
	clear(p.normal)
	switch n := p.n; {
	case c < n:
		p.normal[c] = 1
	case c < 2*n:
		p.normal[c-n] = -1
	case c < 2*n+p.slacks:
		p.normal[c-n] = 1
	default:
		i := c - 2*n - p.slacks
		for k := range n {
			p.normal[k] = -p.a[i*n+k] / p.length[i]
		}
		p.normal[p.slackOf(i)] = 1 / p.length[i]
	}
}

// solve fills z, t and the multipliers.
func (p *program) solve() {
	p.begin()
	p.complete = false
	for range 20 * (p.size + p.rows + 10) {
		c := p.worst()
		if c < 0 {
			p.complete = true
			break
		}
		if p.takeIn(c) {
			continue
		}
		if p.gap(c) < -1e-8*p.extent() {
			break
		}
		p.isActive[c] = true // kept but for rounding, and its normal depends on the active ones
	}
	p.finish()
}

// begin goes to the minimum without constraints.
func (p *program) begin() {
	n, N := p.n, p.size
	clear(p.j)
	for c := range n { // J is the inverse of U, column by column
		p.j[c*N+c] = 1 / p.u[c*n+c]
		for i := c - 1; i >= 0; i-- {
			sum := 0.0
			for k := i + 1; k <= c; k++ {
				sum += p.u[i*n+k] * p.j[k*N+c]
			}
			p.j[i*N+c] = -sum / p.u[i*n+i]
		}
	}
	for k := n; k < N; k++ {
		p.j[k*N+k] = 1 / math.Sqrt(p.rho)
	}
	for c := range N {
		p.d[c] = p.slope(c)
	}
	for i := range N {
		p.x[i] = -dot(p.j[i*N:(i+1)*N], p.d)
	}
	p.findLive()
	clear(p.isActive)
	p.active, p.price = p.active[:0], p.price[:0]
}

// findLive lists the constraints that the search has to look at: both sides of the box, the slacks, and the
// rows that some point of the box breaks.
func (p *program) findLive() {
	n, first := p.n, 2*p.n+p.slacks
	p.live = p.live[:0]
	for c := range 2 * n {
		p.live = append(p.live, c)
	}
	for k := range p.slacks {
		p.live = append(p.live, 2*n+k)
	}
	for i := range p.rows {
		most, length := 0.0, 1.0
		for k, v := range p.a[i*n : (i+1)*n] {
			length += v * v
			switch {
			case v > 0:
				most += v * p.high[k]
			case v < 0:
				most += v * p.low[k]
			}
		}
		if p.length[i] = math.Sqrt(length); !(most <= p.b[i]) {
			p.live = append(p.live, first+i)
		}
	}
}

// worst returns the most violated constraint, -1 if there is none.
func (p *program) worst() int {
	at, least := -1, -1e-13*p.extent()
	for _, c := range p.live {
		if p.isActive[c] || c < p.n && p.isActive[c+p.n] || c >= p.n && c < 2*p.n && p.isActive[c-p.n] {
			continue // of two opposite sides one alone can be active
		}
		if s := p.gap(c); s < least {
			at, least = c, s
		}
	}
	return at
}

// extent returns the size that rounding is measured by.
func (p *program) extent() float64 {
	size := 1.0
	for _, v := range p.x {
		size = max(size, math.Abs(v))
	}
	return size
}

// takeIn makes constraint c active, dropping those that stand in its way. It returns false if the
// arithmetic gives out.
func (p *program) takeIn(c int) bool {
	N, price := p.size, 0.0
	p.setNormal(c)
	for range 4 * (N + 1) {
		q := len(p.active)
		var all, free float64
		for k := range N {
			sum := 0.0
			for i := range N {
				sum += p.j[i*N+k] * p.normal[i]
			}
			p.d[k] = sum
			all += sum * sum
			if k >= q {
				free += sum * sum
			}
		}
		for i := q - 1; i >= 0; i-- { // rr = R⁻¹ d
			sum := p.d[i]
			for k := i + 1; k < q; k++ {
				sum -= p.r[i*N+k] * p.rr[k]
			}
			p.rr[i] = sum / p.r[i*N+i]
		}
		dual, leaves := math.Inf(1), -1
		for i := range q {
			if p.rr[i] > 0 && p.price[i]/p.rr[i] < dual {
				dual, leaves = p.price[i]/p.rr[i], i
			}
		}
		primal := math.Inf(1)
		if free > 1e-26*all {
			primal = max(-p.gap(c)/free, 0)
		}
		step := min(dual, primal)
		if math.IsInf(step, 1) || math.IsNaN(step) {
			return false
		}
		for i := range q {
			p.price[i] -= step * p.rr[i]
		}
		price += step
		if !math.IsInf(primal, 1) {
			for i := range N {
				sum := 0.0
				for k := q; k < N; k++ {
					sum += p.j[i*N+k] * p.d[k]
				}
				p.x[i] += step * sum
			}
		}
		if step == primal {
			p.add(c, price)
			return true
		}
		p.drop(leaves)
	}
	return false
}

// add appends constraint c, whose Jᵀnormal stands in d, to the active ones.
func (p *program) add(c int, price float64) {
	N, q := p.size, len(p.active)
	for k := N - 1; k > q; k-- {
		if p.d[k] == 0 {
			continue
		}
		h := math.Hypot(p.d[k-1], p.d[k])
		cos, sin := p.d[k-1]/h, p.d[k]/h
		p.d[k-1], p.d[k] = h, 0
		p.rotate(k-1, cos, sin)
	}
	for i := range q + 1 {
		p.r[i*N+q] = p.d[i]
	}
	p.active, p.price = append(p.active, c), append(p.price, price)
	p.isActive[c] = true
}

// rotate turns columns k and k+1 of J.
func (p *program) rotate(k int, cos, sin float64) {
	N := p.size
	for i := range N {
		a, b := p.j[i*N+k], p.j[i*N+k+1]
		p.j[i*N+k], p.j[i*N+k+1] = cos*a+sin*b, cos*b-sin*a
	}
}

// drop takes the active constraint at place l out.
func (p *program) drop(l int) {
	N, q := p.size, len(p.active)
	p.isActive[p.active[l]] = false
	p.active = append(p.active[:l], p.active[l+1:]...)
	p.price = append(p.price[:l], p.price[l+1:]...)
	for c := l; c < q-1; c++ {
		for i := range c + 2 {
			p.r[i*N+c] = p.r[i*N+c+1]
		}
	}
	for c := l; c < q-1; c++ { // the triangle again
		a, b := p.r[c*N+c], p.r[(c+1)*N+c]
		if b == 0 {
			continue
		}
		h := math.Hypot(a, b)
		cos, sin := a/h, b/h
		for k := c; k < q-1; k++ {
			a, b := p.r[c*N+k], p.r[(c+1)*N+k]
			p.r[c*N+k], p.r[(c+1)*N+k] = cos*a+sin*b, cos*b-sin*a
		}
		p.rotate(c, cos, sin)
	}
}

// settle computes the point and the multipliers anew from the active constraints, free of what rounding
// a long way to them has left: with normals N and sides s, Jᵀ N = (R; 0), so that
// x = J₁ R⁻ᵀ s - J₂ J₂ᵀ g and R price = J₁ᵀ g + R⁻ᵀ s.
func (p *program) settle() {
	N, q := p.size, len(p.active)
	for c := range N {
		p.d[c] = -p.slope(c)
	}
	for i, c := range p.active {
		sum := p.side(c)
		for k := range i {
			sum -= p.r[k*N+i] * p.rr[k]
		}
		p.rr[i] = sum / p.r[i*N+i]
	}
	for i := q - 1; i >= 0; i-- {
		sum := p.rr[i] - p.d[i]
		for k := i + 1; k < q; k++ {
			sum -= p.r[i*N+k] * p.price[k]
		}
		p.price[i] = sum / p.r[i*N+i]
	}
	for i := range q {
		p.price[i] = max(p.price[i], 0)
		p.d[i] = p.rr[i]
	}
	for i := range N {
		p.x[i] = dot(p.j[i*N:(i+1)*N], p.d)
	}
}

// side returns the right side of constraint c with its normal of length 1.
func (p *program) side(c int) float64 {
	switch n := p.n; {
	case c < n:
		return p.low[c]
	case c < 2*n:
		return -p.high[c-n]
	case c < 2*n+p.slacks:
		return 0
	default:
		return -p.b[c-2*n-p.slacks] / p.length[c-2*n-p.slacks]
	}
}

// slope returns column c of J times the gradient: that of the program and the price of each slack.
func (p *program) slope(c int) (sum float64) {
	N := p.size
	for i, v := range p.g {
		sum += p.j[i*N+c] * v
	}
	for k := p.n; k < N; k++ {
		sum += p.j[k*N+c] * p.rho
	}
	return sum
}

// finish takes the result out of the memory.
func (p *program) finish() {
	p.settle()
	n := p.n
	p.t = breach{}
	for _, t := range p.x[n:] {
		p.t.add(t)
	}
	clear(p.bound)
	clear(p.row)
	for i, c := range p.active {
		switch {
		case c < n:
			p.bound[c] += p.price[i]
			p.x[c] = p.low[c]
		case c < 2*n:
			p.bound[c-n] -= p.price[i]
			p.x[c-n] = p.high[c-n]
		case c >= 2*n+p.slacks:
			p.row[c-2*n-p.slacks] = p.price[i] / p.length[c-2*n-p.slacks]
		}
	}
	for i := range n {
		p.z[i] = min(max(p.x[i], p.low[i]), p.high[i])
	}
}

// value returns what is minimised, at the solution.
func (p *program) value() float64 { return p.curve(p.z) + p.rho*p.t.cost }

// curve returns ½ zᵀHz + gᵀz.
func (p *program) curve(z []float64) float64 {
	n, sum := p.n, dot(p.g, z)
	for i := range n {
		v := dot(p.u[i*n+i:(i+1)*n], z[i:n])
		sum += v * v / 2
	}
	return sum
}

// broken returns by how much A z passes b.
func (p *program) broken(z []float64) (t breach) {
	clear(p.greatest)
	for i := range p.rows {
		h := &p.greatest[p.slackOf(i)-p.n]
		*h = max(*h, dot(p.a[i*p.n:(i+1)*p.n], z)-p.b[i])
	}
	for _, h := range p.greatest {
		t.add(h)
	}
	return t
}

func dot(a, b []float64) (sum float64) {
	for i, v := range a {
		sum += v * b[i]
	}
	return sum
}

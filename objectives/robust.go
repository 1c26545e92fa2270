package objectives

import "math"

// A robust target counts what is expected of the squares of its residuals when the parts are built with errors: the
// expected quadratic loss, mean square plus variance, of M. S. Phadke, "Quality Engineering Using Robust Design" (1989),
// chapter 2, after G. Taguchi (both cited from memory). A departure of what is built is that of what is drawn, d, and a sum of many small
// independent errors, so that its distribution is near the normal one (JCGM 100:2008, annex G.2, the central limit
// theorem) with the standard deviation s that errors propagate to by the first derivatives (JCGM 100:2008, equation 10,
// inputs uncorrelated). With w₊ = 1/above² and w₋ = 1/below², 0 on the side on which nothing departs,
//
//	E = w₊ h(d, s) + w₋ h(-d, s),  h(d, s) = E[max(0, d + s·ξ)²],  ξ normal
//
// which is (d² + s²)/within² where both sides count alike, and smooth in d and s > 0 everywhere: what lies safely on the
// side that at_most or at_least asks for costs nothing, and what lies near its end costs before it gets there. E is
// convex in d, so by Jensen's inequality it is at least the square of the residual, and the root of the rest, the
// excess, is one more residual: the score stays a sum of squares.

// parts is how many residuals a target has for each row.
func (t *Target) parts() int {
	if t.Robust {
		return 2
	}
	return 1
}

// deviations returns where the target's deviations stand.
func (t *Target) deviations() *Series {
	s := &Series{Sweep: t.Spread}
	for i := range t.Series.Rows {
		s.Rows = append(s.Rows, i)
	}
	return s
}

// Deviations fills s with the standard deviation of each departure of the target, in the measure's unit, when n numbers err
// independently of each other with the standard deviation sigma. values and slopes are those of the target's sweep, slopes
// row-major with a column for each of the n. It returns how many rows have a value; the others have 0. It allocates
// nothing.
//
//	s² = sigma² Σ (∂d/∂e)²  with d as its shape makes it of the values: less their mean, their line, the value before
func (t *Target) Deviations(values, slopes []float64, n int, sigma float64, s []float64) (rows int) {
	column := values[t.Series.Offset:]
	g := matrix{slopes[t.Series.Offset*n:], n}
	for i, row := range t.Series.Rows {
		s[i] = column[row]
		if !math.IsNaN(s[i]) {
			rows++
		}
	}
	switch t.Shape {
	case Straight, Even:
		t.deviateProjected(g, s, rows)
	default:
		t.deviateAlone(g, s)
	}
	for i, x := range s {
		s[i] = sigma * math.Sqrt(x)
	}
	return rows
}

// deviateAlone replaces values by the sum of the squares of their slopes, or of those of their step from the value before.
func (t *Target) deviateAlone(g matrix, s []float64) {
	before := -1
	for i, row := range t.Series.Rows {
		if math.IsNaN(s[i]) {
			s[i] = 0
			continue
		}
		s[i] = 0
		switch {
		case t.Shape != Rising && t.Shape != Falling:
			for _, x := range g.row(row) {
				s[i] += x * x
			}
		case before >= 0:
			last := g.row(before)
			for k, x := range g.row(row) {
				x -= last[k]
				s[i] += x * x
			}
		}
		before = row
	}
}

// deviateProjected does the same for slopes less their mean, or less their least-squares line over travel.
func (t *Target) deviateProjected(g matrix, s []float64, rows int) {
	var mx, sxx float64
	if t.Shape == Straight && rows > 0 {
		mx, sxx = t.travelOf(s, rows)
	}
	for i, y := range s {
		if !math.IsNaN(y) {
			s[i] = 0
		}
	}
	for k := range g.n {
		var sum, moment float64
		for i, row := range t.Series.Rows {
			if !math.IsNaN(s[i]) {
				x := g.data[row*g.n+k]
				sum += x
				moment += (t.Series.Travel[i] - mx) * x
			}
		}
		mean, slope := sum/float64(max(rows, 1)), 0.0
		if sxx > 0 {
			slope = moment / sxx
		}
		for i, row := range t.Series.Rows {
			x := g.data[row*g.n+k] - mean - slope*(t.Series.Travel[i]-mx)
			s[i] += x * x
		}
	}
	for i, x := range s {
		if math.IsNaN(x) {
			s[i] = 0
		}
	}
}

// excesses fills r with scale times the excess of each row and returns the sum of their squares without scale.
func (t *Target) excesses(column, origin, spread, r []float64, scale float64) (sum float64) {
	if t.leanings(column, origin, r) < t.Shape.fewest() {
		clear(r)
		return 0
	}
	for i, d := range r {
		if r[i] = 0; math.IsNaN(d) {
			continue
		}
		x := t.excess(i, d, spread[i])
		sum += x.value * x.value
		r[i] = x.value * scale
	}
	return sum
}

// excess is the root of what errors add to the square of a residual, with its derivatives with the departure and with
// the deviation.
type excess struct{ value, withD, withS float64 }

// excess returns that of row i for a departure d, on either side, and a deviation s. With t = |d|, near and far the
// weights w of the side of d and of the other, and h(d) = d² + s² - h(-d),
//
//	e² = E - near·t² = near·s² + (far - near) h(-t, s) = s² c,  c = near + (far - near) q(z),  z = t/s
//
//	∂e/∂t = (far - near) q'(z)/2√c,  ∂e/∂s = √c - z ∂e/∂t
//
// and at s = 0 the derivatives are those for a vanishing s.
func (t *Target) excess(i int, d, s float64) excess {
	near, far := t.sides(i)
	sign := 1.0
	if d < 0 {
		near, far, sign = far, near, -1
	}
	if near == far {
		root := math.Sqrt(near)
		return excess{s * root, 0, root}
	}
	z := math.Inf(1)
	if s > 0 {
		z = math.Abs(d) / s
	} else if d == 0 {
		z = 0
	}
	q, slope := beyond(z)
	c := near + (far-near)*q
	if c == 0 {
		return excess{}
	}
	root := math.Sqrt(c)
	e := excess{s * root, 0, root}
	if slope != 0 {
		e.withD = (far - near) * slope / (2 * root)
		e.withS -= z * e.withD
		e.withD *= sign
	}
	return e
}

// sides returns the weights of departures above and below 0 at row i: 1/within², 0 where they are none.
func (t *Target) sides(i int) (above, below float64) {
	if t.Shape != AtLeast && t.Shape != Rising {
		above = 1 / (t.Above[i] * t.Above[i])
	}
	if t.Shape != AtMost && t.Shape != Falling {
		below = 1 / (t.Below[i] * t.Below[i])
	}
	return above, below
}

// beyond returns q(z) = E[max(0, ξ - z)²] for a normal ξ and z ≥ 0, and its slope.
//
//	q = (1 + z²) Φ(-z) - z φ(z),  q' = 2 z Φ(-z) - 2 φ(z)
//
// For small z Φ comes from the series of M. Abramowitz and I. A. Stegun, "Handbook of Mathematical Functions" (1964),
// 26.2.11. Elsewhere the terms would cancel; with D₋₁ = φ and Dₙ the integral of (t - z)ⁿ φ(t) from z on, which are the
// repeated integrals of the error function (7.2), Dₙ₊₁ = n Dₙ₋₁ - z Dₙ, so that Dₙ/Dₙ₋₁ = max(n, 1)/(z + Dₙ₊₁/Dₙ) is a
// continued fraction of positive numbers, 26.2.14 for n = 0; q is D₂ and q' is -2 D₁.
func beyond(z float64) (q, slope float64) {
	const series, none = 2, 38
	switch {
	case z > none: // below the least number
		return 0, 0
	case z < series:
		phi := density(z)
		sum, term := 0.0, z
		for k := 3.0; term > 1e-18; k += 2 {
			sum += term
			term *= z * z / k
		}
		tail := 0.5 - phi*sum
		return (1+z*z)*tail - z*phi, 2*z*tail - 2*phi
	}
	ratio := 0.0
	for n := 12 + math.Ceil(450/(z*z)); n > 2; n-- { // what it leaves falls as exp(-2z√n)
		ratio = n / (z + ratio)
	}
	second := 2 / (z + ratio)
	first := 1 / (z + second)
	one := density(z) / (z + first) * first
	return one * second, -2 * one
}

// density is the normal one, by way of a power of 2: the last digit of math.Exp depends on the processor.
func density(z float64) float64 {
	return math.Exp2(-0.5*math.Log2E*z*z) / math.Sqrt(2*math.Pi)
}

// differentiateExcess fills jr, which is 0, with the slopes of the excesses: those of the departure and of the deviation,
// each with its share. f is room for a number for each row of the series.
func (t *Target) differentiateExcess(values, start [][]float64, slopes []Slopes, f []float64, jr matrix, weights float64) {
	column, origin := t.columns(values, start)
	spread := values[t.Spread]
	count := t.leanings(column, origin, f)
	if count < t.Shape.fewest() {
		return
	}
	scale := t.scale(count, weights)
	from := t.Series.slopesOf(values, slopes, jr.n)
	deviations := matrix{slopes[t.Spread], jr.n}
	project, moves := t.Shape == Straight || t.Shape == Even, false
	before := -1
	for i, row := range t.Series.Rows {
		if math.IsNaN(f[i]) {
			continue
		}
		f[i] = scale * t.excess(i, f[i], spread[i]).withD
		switch step := t.Shape == Rising || t.Shape == Falling; {
		case f[i] == 0 || project || step && before < 0:
		default:
			jr.add(i, f[i], from.row(row))
			if step {
				jr.add(i, -f[i], from.row(before))
			}
		}
		moves, before = moves || f[i] != 0, row
	}
	// Where above and below count alike, an excess follows its deviation alone.
	if project && moves {
		for i, row := range t.Series.Rows {
			if !math.IsNaN(f[i]) {
				copy(jr.row(i), from.row(row))
			}
		}
		t.project(f, jr, count)
	}
	t.leanings(column, origin, f)
	for i, d := range f {
		if !math.IsNaN(d) {
			jr.add(i, scale*t.excess(i, d, spread[i]).withS, deviations.row(i))
		}
	}
}

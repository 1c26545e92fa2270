package kin

import "math"

// matrix5 is a 5×5 system in row order: the Jacobian of a carrier's rows by its five unknown rates
// (vx, vy, wx, wy, wz), and after factor its L (unit diagonal, below) and U (on and above, the
// diagonal inverted).
type matrix5 [25]float64

// factor replaces a by its LU factors without exchanging rows and returns the product of the pivots,
// which is the determinant. It returns 0, and leaves a as it is, as soon as a pivot is no greater than floor times the sum of
// the entries that it eliminates, which asks the caller to order the rows anew. The rows were ordered by pivoting
// at design (solveDesign), so a small pivot is rare.
func (a *matrix5) factor(floor float64) float64 {
	a00, a01, a02, a03, a04 := a[0], a[1], a[2], a[3], a[4]
	a10, a11, a12, a13, a14 := a[5], a[6], a[7], a[8], a[9]
	a20, a21, a22, a23, a24 := a[10], a[11], a[12], a[13], a[14]
	a30, a31, a32, a33, a34 := a[15], a[16], a[17], a[18], a[19]
	a40, a41, a42, a43, a44 := a[20], a[21], a[22], a[23], a[24]

	if math.Abs(a00) <= floor*(math.Abs(a10)+math.Abs(a20)+math.Abs(a30)+math.Abs(a40)) {
		return 0
	}
	det := a00
	i0 := 1 / a00
	m := a10 * i0
	a10, a11, a12, a13, a14 = m, a11-m*a01, a12-m*a02, a13-m*a03, a14-m*a04
	m = a20 * i0
	a20, a21, a22, a23, a24 = m, a21-m*a01, a22-m*a02, a23-m*a03, a24-m*a04
	m = a30 * i0
	a30, a31, a32, a33, a34 = m, a31-m*a01, a32-m*a02, a33-m*a03, a34-m*a04
	m = a40 * i0
	a40, a41, a42, a43, a44 = m, a41-m*a01, a42-m*a02, a43-m*a03, a44-m*a04

	if math.Abs(a11) <= floor*(math.Abs(a21)+math.Abs(a31)+math.Abs(a41)) {
		return 0
	}
	det *= a11
	i1 := 1 / a11
	m = a21 * i1
	a21, a22, a23, a24 = m, a22-m*a12, a23-m*a13, a24-m*a14
	m = a31 * i1
	a31, a32, a33, a34 = m, a32-m*a12, a33-m*a13, a34-m*a14
	m = a41 * i1
	a41, a42, a43, a44 = m, a42-m*a12, a43-m*a13, a44-m*a14

	if math.Abs(a22) <= floor*(math.Abs(a32)+math.Abs(a42)) {
		return 0
	}
	det *= a22
	i2 := 1 / a22
	m = a32 * i2
	a32, a33, a34 = m, a33-m*a23, a34-m*a24
	m = a42 * i2
	a42, a43, a44 = m, a43-m*a23, a44-m*a24

	if math.Abs(a33) <= floor*math.Abs(a43) {
		return 0
	}
	det *= a33
	i3 := 1 / a33
	m = a43 * i3
	a43, a44 = m, a44-m*a34
	det *= a44

	a[0], a[1], a[2], a[3], a[4] = i0, a01, a02, a03, a04
	a[5], a[6], a[7], a[8], a[9] = a10, i1, a12, a13, a14
	a[10], a[11], a[12], a[13], a[14] = a20, a21, i2, a23, a24
	a[15], a[16], a[17], a[18], a[19] = a30, a31, a32, i3, a34
	a[20], a[21], a[22], a[23], a[24] = a40, a41, a42, a43, 1/a44
	return det
}

// solve returns x with A·x = b, from the factors.
func (a *matrix5) solve(b0, b1, b2, b3, b4 float64) (x0, x1, x2, x3, x4 float64) {
	b1 -= a[5] * b0
	b2 -= a[10]*b0 + a[11]*b1
	b3 -= a[15]*b0 + a[16]*b1 + a[17]*b2
	b4 -= a[20]*b0 + a[21]*b1 + a[22]*b2 + a[23]*b3
	x4 = b4 * a[24]
	x3 = (b3 - a[19]*x4) * a[18]
	x2 = (b2 - a[13]*x3 - a[14]*x4) * a[12]
	x1 = (b1 - a[7]*x2 - a[8]*x3 - a[9]*x4) * a[6]
	x0 = (b0 - a[1]*x1 - a[2]*x2 - a[3]*x3 - a[4]*x4) * a[0]
	return x0, x1, x2, x3, x4
}

// transposed returns x with Aᵀ·x = b, from the factors.
func (a *matrix5) transposed(b0, b1, b2, b3, b4 float64) (x0, x1, x2, x3, x4 float64) {
	b0 *= a[0]
	b1 = (b1 - a[1]*b0) * a[6]
	b2 = (b2 - a[2]*b0 - a[7]*b1) * a[12]
	b3 = (b3 - a[3]*b0 - a[8]*b1 - a[13]*b2) * a[18]
	x4 = (b4 - a[4]*b0 - a[9]*b1 - a[14]*b2 - a[19]*b3) * a[24]
	x3 = b3 - a[23]*x4
	x2 = b2 - a[17]*x3 - a[22]*x4
	x1 = b1 - a[11]*x2 - a[16]*x3 - a[21]*x4
	x0 = b0 - a[5]*x1 - a[10]*x2 - a[15]*x3 - a[20]*x4
	return x0, x1, x2, x3, x4
}

// pivotOrder returns the order of rows that partial pivoting chooses for a, and the size of the least pivot it met. The
// columns of rotation hold millimetres: a caller that weighs the least pivot scales them first; the order does not
// depend on a column's scale.
func pivotOrder(a matrix5) (order [5]uint8, least float64) {
	for i := range order {
		order[i] = uint8(i)
	}
	least = math.Inf(1)
	for k := range 5 {
		best := k
		for i := k + 1; i < 5; i++ {
			if math.Abs(a[5*i+k]) > math.Abs(a[5*best+k]) {
				best = i
			}
		}
		if best != k {
			order[k], order[best] = order[best], order[k]
			for j := range 5 {
				a[5*k+j], a[5*best+j] = a[5*best+j], a[5*k+j]
			}
		}
		pivot := a[5*k+k]
		least = math.Min(least, math.Abs(pivot))
		if pivot == 0 {
			return order, 0
		}
		for i := k + 1; i < 5; i++ {
			m := a[5*i+k] / pivot
			for j := k; j < 5; j++ {
				a[5*i+j] -= m * a[5*k+j]
			}
		}
	}
	return order, least
}

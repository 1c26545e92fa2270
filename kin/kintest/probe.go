package kintest

import "math"

// Slope returns the derivative of f at x and an estimate of its error: Richardson's extrapolation of the
// central differences with steps h, h/2 and h/4, which leaves an error of h⁶.
func Slope(f func(float64) float64, x, h float64) (slope, doubt float64) {
	var d [3]float64
	for i := range d {
		d[i] = (f(x+h) - f(x-h)) / (2 * h)
		h /= 2
	}
	a, b := (4*d[1]-d[0])/3, (4*d[2]-d[1])/3
	slope = (16*b - a) / 15
	return slope, math.Abs(slope - b)
}

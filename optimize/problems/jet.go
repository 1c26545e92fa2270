package problems

import "math"

// jet is a number with its derivatives by the variables of a problem, so that a problem's formulas are
// written once and their derivatives are exact: forward differentiation, R. E. Wengert, "A simple automatic
// derivative evaluation program", Communications of the ACM 7 (1964) 463-464.
type jet struct {
	v float64
	d [jetVars]float64
}

// jetVars is how many variables a problem with derivatives can have.
const jetVars = 20

// variables returns x as jets, each with derivative 1 by itself.
func variables(x []float64) []jet {
	out := make([]jet, len(x))
	for i, v := range x {
		out[i].v, out[i].d[i] = v, 1
	}
	return out
}

func number(v float64) jet { return jet{v: v} }

// of returns a function of a whose value is v and whose slope is k.
func (a jet) of(v, k float64) jet {
	out := jet{v: v}
	for i, d := range a.d {
		out.d[i] = k * d
	}
	return out
}

func (a jet) plus(b jet) jet {
	out := jet{v: a.v + b.v}
	for i := range a.d {
		out.d[i] = a.d[i] + b.d[i]
	}
	return out
}

func (a jet) minus(b jet) jet { return a.plus(b.by(-1)) }

func (a jet) times(b jet) jet {
	out := jet{v: a.v * b.v}
	for i := range a.d {
		out.d[i] = a.d[i]*b.v + a.v*b.d[i]
	}
	return out
}

func (a jet) over(b jet) jet { return a.times(b.of(1/b.v, -1/(b.v*b.v))) }

func (a jet) by(k float64) jet { return a.of(k*a.v, k) }

func (a jet) add(k float64) jet {
	a.v += k
	return a
}

func (a jet) squared() jet { return a.of(a.v*a.v, 2*a.v) }

func (a jet) cubed() jet { return a.of(a.v*a.v*a.v, 3*a.v*a.v) }

func (a jet) exp() jet { e := math.Exp(a.v); return a.of(e, e) }

func (a jet) root() jet { r := math.Sqrt(a.v); return a.of(r, 0.5/r) }

func (a jet) sin() jet { return a.of(math.Sin(a.v), math.Cos(a.v)) }

func (a jet) cos() jet { return a.of(math.Cos(a.v), -math.Sin(a.v)) }

// angle is the direction of (x, y), rad.
func angle(y, x jet) jet {
	r := x.v*x.v + y.v*y.v
	out := jet{v: math.Atan2(y.v, x.v)}
	for i := range out.d {
		out.d[i] = (x.v*y.d[i] - y.v*x.d[i]) / r
	}
	return out
}

// values appends the values of jets, slopes their derivatives by n variables, row by row.
func values(dst []float64, js []jet) []float64 {
	for i := range js {
		dst = append(dst, js[i].v)
	}
	return dst
}

func slopes(dst []float64, js []jet, n int) []float64 {
	for i := range js {
		dst = append(dst, js[i].d[:n]...)
	}
	return dst
}

func logOf(a jet) jet { return a.of(math.Log(a.v), 1/a.v) }

// raise returns x to the power of a, for a positive x.
func raise(x float64, a jet) jet {
	v := math.Pow(x, a.v)
	return a.of(v, v*math.Log(x))
}

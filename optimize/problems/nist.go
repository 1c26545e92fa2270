package problems

// Regression is a model to fit to data, with the certified answer.
type Regression struct {
	Name, Source string
	X, Y         []float64
	Starts       [2][]float64
	Certified    []float64 // the numbers of the least squares, to 11 digits
	Deviations   []float64 // their standard deviations
	Squares      float64   // the residual sum of squares

	// Model is the value at x.
	Model func(b []jet, x float64) jet
}

// Residuals appends model minus data, and to jr the derivatives, row by row.
func (g *Regression) Residuals(r, jr, b []float64) ([]float64, []float64) {
	vars := variables(b)
	for i, x := range g.X {
		y := g.Model(vars, x).add(-g.Y[i])
		r = append(r, y.v)
		jr = append(jr, y.d[:len(b)]...)
	}
	return r, jr
}

func misra(b []jet, x float64) jet { return b[0].times(number(1).minus(b[1].by(-x).exp())) }

func danWood(b []jet, x float64) jet { return b[0].times(raise(x, b[1])) }

// decays is the sum of a number and two exponentials.
func decays(b []jet, x float64) jet {
	return b[0].plus(b[1].times(b[3].by(-x).exp())).plus(b[2].times(b[4].by(-x).exp()))
}

// rational is a cubic over a cubic.
func rational(b []jet, x float64) jet {
	top := b[0].plus(b[1].by(x)).plus(b[2].by(x * x)).plus(b[3].by(x * x * x))
	return top.over(b[4].by(x).plus(b[5].by(x * x)).plus(b[6].by(x * x * x)).add(1))
}

func logistic(b []jet, x float64) jet {
	return b[0].over(b[1].minus(b[2].by(x)).exp().add(1))
}

func richards(b []jet, x float64) jet {
	base := b[1].minus(b[2].by(x)).exp().add(1)
	return b[0].over(logOf(base).over(b[3]).exp())
}

func kowalik(b []jet, x float64) jet {
	return b[0].times(b[1].by(x).add(x * x)).over(b[2].by(x).plus(b[3]).add(x * x))
}

func meyer(b []jet, x float64) jet { return b[0].times(b[1].over(b[2].add(x)).exp()) }

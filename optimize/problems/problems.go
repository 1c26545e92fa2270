// Package problems holds published optimisation problems with their published optima, on the lattice
// and with the evaluator that package optimize searches, and a few made for the conformance suite.
//
// Every problem names its source. A value that is not exact in print is given to the digits the source
// prints; the package's tests evaluate every published optimum.
package problems

import (
	"math"

	"trammel/optimize"
)

// Problem is a function to minimise in a box, with limits and places where it fails.
type Problem struct {
	Name   string
	Source string
	Space  *optimize.Space

	// Score is the function to minimise; option is the option of each choice.
	Score func(x []float64, option []int) float64

	// Limits appends one value per limit, broken when it is positive. Nil means that there are none.
	Limits func(g, x []float64) []float64

	// Fails returns what goes wrong at x and how far a run comes; OK where nothing does. Nil means that
	// nothing does anywhere.
	Fails func(x []float64) (optimize.Status, float64)

	// Aims appends what a trade weighs to the residuals; option is the option of each choice. Nil means
	// that there are no residuals.
	Aims func(r, x []float64, option []int) []float64

	// AimSlopes and LimitSlopes append the derivatives of Aims and Limits, row by row, one for every number.
	// Nil means that there are none to be had.
	AimSlopes, LimitSlopes func(j, x []float64) []float64

	Best      float64          // least score of the points that keep every limit
	At        []optimize.Point // where; published, so rounded, and possibly off the lattice
	Tolerance float64          // of the score at At, from the digits printed
}

// Broken is how far a limit may be positive and still count as kept, as in the rest of the project.
const Broken = 1e-6

// Evaluator returns an evaluator of the problem. Any number of them may be used side by side.
func (p *Problem) Evaluator() optimize.Evaluator { return evaluator{p} }

type evaluator struct{ p *Problem }

// Evaluate scores one point. R stays empty where the problem is no sum of squares, and JR and JG stay
// empty with it: who needs derivatives there takes differences.
func (e evaluator) Evaluate(p *optimize.Point, o *optimize.Outcome) {
	o.Reached = 1
	if e.p.Fails != nil {
		if o.Status, o.Reached = e.p.Fails(p.X); o.Status.Failed() {
			return
		}
	}
	e.p.weigh(p, o)
	o.Score = e.p.Score(p.X, p.Choice)
	e.p.differentiate(p, o)
	if e.p.Limits == nil {
		return
	}
	o.G = e.p.Limits(o.G, p.X)
	sum := 0.0
	for _, g := range o.G {
		if g > Broken {
			sum += g * g
			o.Status = optimize.OverLimit
		}
	}
	o.Violation = math.Sqrt(sum)
}

// differentiate fills R, and JR and JG if they are asked for, where the problem has a form for them.
func (p *Problem) differentiate(at *optimize.Point, o *optimize.Outcome) {
	f, ok := forms[p.Name]
	if !ok {
		return
	}
	vars := variables(at.X)
	r := f.squares(vars, at.Choice)
	o.R = values(o.R, r)
	if !at.Derivatives {
		return
	}
	o.JR = slopes(o.JR, r, len(vars))
	if f.limits != nil {
		o.JG = slopes(o.JG, f.limits(vars), len(vars))
	}
}

// SumsOfSquares tells whether the problem brings residuals and derivatives, and by what its score exceeds
// the sum of their squares.
func (p *Problem) SumsOfSquares() (rest float64, ok bool) {
	f, ok := forms[p.Name]
	return f.rest, ok
}

// All returns every problem.
func All() []*Problem {
	return append(append(append(unlimited(), limited()...), mixed()...), broken()...)
}

// Hard returns problems that ask for more than the conformance suite has to give.
func Hard() []*Problem {
	return []*Problem{{
		Name: "g02", Source: cec2006 + "g02; A. J. Keane (1994); minimiser from memory",
		Space: cube(20, 0, 10), Best: -0.80361910412559, Tolerance: 1e-9,
		At: []optimize.Point{at(3.16246061572185, 3.12833142812967, 3.09479212988791, 3.06145059523469, 3.02792915885555,
			2.99382606701730, 2.95866871765285, 2.92184227312450, 0.49482511456933, 0.48835711005490, 0.48231642711865, 0.47664475092742,
			0.47129550835493, 0.46623099264167, 0.46142004984199, 0.45683664767217, 0.45245876903267, 0.44826762241853, 0.44424700958760, 0.44038285956317)},
		Score: func(x []float64, _ []int) float64 {
			sum, product, weighted := 0.0, 2.0, 0.0
			for i, v := range x {
				c := math.Cos(v) * math.Cos(v)
				sum += c * c
				product *= c
				weighted += float64(i+1) * v * v
			}
			if weighted == 0 {
				return 0
			}
			return -math.Abs(sum-product) / math.Sqrt(weighted)
		},
		Limits: func(g, x []float64) []float64 {
			product, sum := 1.0, 0.0
			for _, v := range x {
				product *= v
				sum += v
			}
			return append(g, 0.75-product, sum-7.5*float64(len(x)))
		},
	}}
}

// ByName returns the problem of that name, nil if there is none.
func ByName(name string) *Problem {
	for _, p := range append(All(), Hard()...) {
		if p.Name == name {
			return p
		}
	}
	return nil
}

// cube returns a space of n continuous numbers from low to high, in millionths; design is a third of the
// way up.
func cube(n int, low, high float64) *optimize.Space {
	bounds := make([][2]float64, n)
	for i := range bounds {
		bounds[i] = [2]float64{low, high}
	}
	return span(1_000_000, bounds...)
}

// span returns a space of continuous numbers within the bounds.
func span(perUnit int64, bounds ...[2]float64) *optimize.Space {
	s := &optimize.Space{}
	for i, b := range bounds {
		low, high := int64(math.Round(b[0]*float64(perUnit))), int64(math.Round(b[1]*float64(perUnit)))
		s.Dims = append(s.Dims, optimize.Dim{Name: "x" + string(rune('a'+i)), Low: low, High: high, Design: low + (high-low)/3, PerUnit: perUnit})
	}
	return s
}

func at(x ...float64) optimize.Point { return optimize.Point{X: x, Parent: optimize.NoParent} }

func sq(x float64) float64 { return x * x }

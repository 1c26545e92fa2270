package problems

import (
	"math"
	"slices"

	"trammel/optimize"
)

// unlimited returns problems in a box without limits.
func unlimited() []*Problem {
	zeros := func(n int) optimize.Point { return at(make([]float64, n)...) }
	return []*Problem{
		{
			Name:   "rosenbrock-5",
			Source: "H. H. Rosenbrock, Computer Journal 3 (1960) 175-184; chained to n dimensions",
			Space:  cube(5, -5, 10), Best: 0, At: []optimize.Point{at(1, 1, 1, 1, 1)}, Tolerance: 0,
			Score: func(x []float64, _ []int) (f float64) {
				for i := range len(x) - 1 {
					f += 100*sq(x[i+1]-x[i]*x[i]) + sq(1-x[i])
				}
				return f
			},
		},
		{
			Name:   "rastrigin-4",
			Source: "L. A. Rastrigin, Systems of Extremal Control (1974); from memory in n dimensions",
			Space:  cube(4, -5.12, 5.12), Best: 0, At: []optimize.Point{zeros(4)}, Tolerance: 0,
			Score: func(x []float64, _ []int) float64 {
				f := 10 * float64(len(x))
				for _, v := range x {
					f += v*v - 10*math.Cos(2*math.Pi*v)
				}
				return f
			},
		},
		{
			Name:   "ackley-6",
			Source: "D. H. Ackley, A Connectionist Machine for Genetic Hillclimbing (1987)",
			Space:  cube(6, -32.768, 32.768), Best: 0, At: []optimize.Point{zeros(6)}, Tolerance: 1e-15,
			Score: func(x []float64, _ []int) float64 {
				var s, c float64
				for _, v := range x {
					s += v * v
					c += math.Cos(2 * math.Pi * v)
				}
				n := float64(len(x))
				return -20*math.Exp(-0.2*math.Sqrt(s/n)) - math.Exp(c/n) + 20 + math.E
			},
		},
		{
			Name:   "griewank-5",
			Source: "A. O. Griewank, Journal of Optimization Theory and Applications 34 (1981) 11-39",
			Space:  cube(5, -600, 600), Best: 0, At: []optimize.Point{zeros(5)}, Tolerance: 0,
			Score: func(x []float64, _ []int) float64 {
				s, p := 0.0, 1.0
				for i, v := range x {
					s += v * v / 4000
					p *= math.Cos(v / math.Sqrt(float64(i+1)))
				}
				return s - p + 1
			},
		},
		{
			Name:   "schwefel-4",
			Source: "H.-P. Schwefel, Numerical Optimization of Computer Models (1981), problem 2.26; 418.9829 and 420.9687 as usually printed",
			Space:  cube(4, -500, 500), Best: 0, At: []optimize.Point{at(420.9687, 420.9687, 420.9687, 420.9687)}, Tolerance: 1e-3,
			Score: func(x []float64, _ []int) float64 {
				f := 418.9829 * float64(len(x))
				for _, v := range x {
					f -= v * math.Sin(math.Sqrt(math.Abs(v)))
				}
				return f
			},
		},
		{
			Name:   "eggholder",
			Source: "S. K. Mishra, Some new test functions for global optimization (2006)",
			Space:  cube(2, -512, 512), Best: -959.6407, At: []optimize.Point{at(512, 404.2319)}, Tolerance: 1e-4,
			Score: func(x []float64, _ []int) float64 {
				return -(x[1]+47)*math.Sin(math.Sqrt(math.Abs(x[0]/2+x[1]+47))) - x[0]*math.Sin(math.Sqrt(math.Abs(x[0]-x[1]-47)))
			},
		},
		{
			Name:   "branin",
			Source: "F. H. Branin, IBM Journal of Research and Development 16 (1972) 504-522",
			Space:  span(1_000_000, [2]float64{-5, 10}, [2]float64{0, 15}), Best: 0.397887,
			At:        []optimize.Point{at(-math.Pi, 12.275), at(math.Pi, 2.275), at(9.42478, 2.475)},
			Tolerance: 1e-6,
			Score:     func(x []float64, _ []int) float64 { return branin(x[0], x[1]) },
		},
		{
			Name:   "goldstein-price",
			Source: "A. A. Goldstein and J. F. Price, Mathematics of Computation 25 (1971) 569-574",
			Space:  cube(2, -2, 2), Best: 3, At: []optimize.Point{at(0, -1)}, Tolerance: 0,
			Score: func(x []float64, _ []int) float64 {
				a, b := x[0], x[1]
				return (1 + sq(a+b+1)*(19-14*a+3*a*a-14*b+6*a*b+3*b*b)) * (30 + sq(2*a-3*b)*(18-32*a+12*a*a+48*b-36*a*b+27*b*b))
			},
		},
		{
			Name:   "six-hump-camel",
			Source: "L. C. W. Dixon and G. P. Szegö, Towards Global Optimisation 2 (1978) 1-15",
			Space:  span(1_000_000, [2]float64{-3, 3}, [2]float64{-2, 2}), Best: -1.0316, At: []optimize.Point{at(0.0898, -0.7126), at(-0.0898, 0.7126)}, Tolerance: 5e-5,
			Score: func(x []float64, _ []int) float64 {
				a, b := x[0], x[1]
				return (4-2.1*a*a+a*a*a*a/3)*a*a + a*b + (4*b*b-4)*b*b
			},
		},
		{
			Name:   "hartmann-6",
			Source: "J. K. Hartman, Naval Research Logistics Quarterly 20 (1973) 569-576; table and minimiser as in Dixon and Szegö (1978), from memory",
			Space:  cube(6, 0, 1), Best: -3.32237, At: []optimize.Point{at(0.20169, 0.150011, 0.476874, 0.275332, 0.311652, 0.6573)}, Tolerance: 1e-5,
			Score: func(x []float64, _ []int) float64 { return hartmann(x) },
		},
		{
			Name:   "beale",
			Source: "E. M. L. Beale, On an iterative method for finding a local minimum (1958); Moré, Garbow, Hillstrom, ACM TOMS 7 (1981), problem 5",
			Space:  cube(2, -4.5, 4.5), Best: 0, At: []optimize.Point{at(3, 0.5)}, Tolerance: 0,
			Score: func(x []float64, _ []int) float64 {
				a, b := x[0], x[1]
				return sq(1.5-a*(1-b)) + sq(2.25-a*(1-b*b)) + sq(2.625-a*(1-b*b*b))
			},
		},
		{
			Name:   "freudenstein-roth",
			Source: "F. Freudenstein and B. Roth, Journal of the ACM 10 (1963) 550-556; Moré, Garbow, Hillstrom, ACM TOMS 7 (1981), problem 2",
			Space:  cube(2, -20, 20), Best: 0, At: []optimize.Point{at(5, 4)}, Tolerance: 0,
			Score: func(x []float64, _ []int) float64 {
				a, b := x[0], x[1]
				return sq(-13+a+((5-b)*b-2)*b) + sq(-29+a+((b+1)*b-14)*b)
			},
		},
		{
			Name:   "powell-singular",
			Source: "M. J. D. Powell, Computer Journal 5 (1962) 147-151; Moré, Garbow, Hillstrom, ACM TOMS 7 (1981), problem 13",
			Space:  cube(4, -4, 5), Best: 0, At: []optimize.Point{zeros(4)}, Tolerance: 0,
			Score: func(x []float64, _ []int) float64 {
				return sq(x[0]+10*x[1]) + 5*sq(x[2]-x[3]) + sq(sq(x[1]-2*x[2])) + 10*sq(sq(x[0]-x[3]))
			},
		},
		{
			Name:   "helical-valley",
			Source: "R. Fletcher and M. J. D. Powell, Computer Journal 6 (1963) 163-168; Moré, Garbow, Hillstrom, ACM TOMS 7 (1981), problem 7",
			Space:  cube(3, -10, 10), Best: 0, At: []optimize.Point{at(1, 0, 0)}, Tolerance: 0,
			Score: func(x []float64, _ []int) float64 {
				theta := math.Atan2(x[1], x[0]) / (2 * math.Pi)
				if x[0] < 0 && x[1] < 0 {
					theta++ // the source's angle runs from -1/4 to 3/4 of a turn
				}
				return 100*(sq(x[2]-10*theta)+sq(math.Hypot(x[0], x[1])-1)) + sq(x[2])
			},
		},
	}
}

func branin(a, b float64) float64 {
	return sq(b-5.1/(4*math.Pi*math.Pi)*a*a+5/math.Pi*a-6) + 10*(1-1/(8*math.Pi))*math.Cos(a) + 10
}

func hartmann(x []float64) (f float64) {
	a := [4][6]float64{{10, 3, 17, 3.5, 1.7, 8}, {0.05, 10, 17, 0.1, 8, 14}, {3, 3.5, 1.7, 10, 17, 8}, {17, 8, 0.05, 10, 0.1, 14}}
	p := [4][6]float64{
		{0.1312, 0.1696, 0.5569, 0.0124, 0.8283, 0.5886}, {0.2329, 0.4135, 0.8307, 0.3736, 0.1004, 0.9991},
		{0.2348, 0.1451, 0.3522, 0.2883, 0.3047, 0.6650}, {0.4047, 0.8828, 0.8732, 0.5743, 0.1091, 0.0381},
	}
	for i, c := range [...]float64{1, 1.2, 3, 3.2} {
		s := 0.0
		for j, v := range x {
			s += a[i][j] * sq(v-p[i][j])
		}
		f -= c * math.Exp(-s)
	}
	return f
}

// mixed returns problems with steps and choices.
func mixed() []*Problem {
	teeth := &optimize.Space{}
	for _, n := range []string{"driver 1", "driver 2", "driven 1", "driven 2"} {
		teeth.Dims = append(teeth.Dims, optimize.Dim{Name: n, Low: 12, High: 60, Design: 30, Step: 1, PerUnit: 1})
	}
	vessel := span(1_000_000, [2]float64{0.0625, 6.1875}, [2]float64{0.0625, 6.1875}, [2]float64{10, 200}, [2]float64{10, 200})
	for i := range 2 {
		vessel.Dims[i].Step, vessel.Dims[i].Design = 62_500, 62_500
	}
	valley := cube(2, -5, 15)
	valley.Choices = []optimize.Choice{{Name: "side", Options: []string{"above", "below", "beside"}, Design: 0}}
	rocky := cube(4, -5.12, 5.12)
	for i := range rocky.Dims {
		rocky.Dims[i].Step, rocky.Dims[i].Design = 80_000, -1_280_000
	}
	return []*Problem{
		{
			Name:   "gear-train",
			Source: "E. Sandgren, Journal of Mechanical Design 112 (1990) 223-229",
			Space:  teeth, Best: 2.700857e-12, At: []optimize.Point{at(16, 19, 43, 49), at(19, 16, 49, 43)}, Tolerance: 1e-18,
			Score: func(x []float64, _ []int) float64 { return sq(1/6.931 - x[0]*x[1]/(x[2]*x[3])) },
		},
		{
			Name:   "pressure-vessel",
			Source: "E. Sandgren, Journal of Mechanical Design 112 (1990) 223-229; thicknesses in sixteenths of an inch",
			Space:  vessel, Best: 6059.714335048436, At: []optimize.Point{at(0.8125, 0.4375, 42.0984455958549, 176.6365958424394)}, Tolerance: 1e-8,
			Score: func(x []float64, _ []int) float64 {
				return 0.6224*x[0]*x[2]*x[3] + 1.7781*x[1]*x[2]*x[2] + 3.1661*x[0]*x[0]*x[3] + 19.84*x[0]*x[0]*x[2]
			},
			Limits: func(g, x []float64) []float64 {
				return append(g, 0.0193*x[2]-x[0], 0.00954*x[2]-x[1], (1_296_000-math.Pi*x[2]*x[2]*x[3]-4*math.Pi/3*x[2]*x[2]*x[2])/1_296_000, (x[3]-240)/240)
			},
		},
		{
			Name:   "branin-three-sides",
			Source: "made for the suite: the function of Branin (1972), raised by 1 on one side and mirrored and raised by 2 on another",
			Space:  valley, Best: 0.397887, At: []optimize.Point{{X: []float64{math.Pi, 2.275}, Choice: []int{1}, Parent: optimize.NoParent}}, Tolerance: 1e-6,
			Score: func(x []float64, option []int) float64 {
				switch option[0] {
				case 0:
					return branin(x[0], x[1]) + 1
				case 1:
					return branin(x[0], x[1])
				}
				return branin(10-x[0], x[1]) + 2
			},
		},
		{
			Name:   "rastrigin-4-stepped",
			Source: "the function of Rastrigin (1974) on steps of 0.08 that meet the minimum",
			Space:  rocky, Best: 0, At: []optimize.Point{at(0, 0, 0, 0)}, Tolerance: 0,
			Score: unlimited()[slices.IndexFunc(unlimited(), func(p *Problem) bool { return p.Name == "rastrigin-4" })].Score,
		},
	}
}

package problems

import (
	"math"

	"trammel/optimize"
)

// The g-suite. Source of g01, g04, g06, g07, g08, g09, g12: J. J. Liang et al., "Problem definitions and
// evaluation criteria for the CEC 2006 special session on constrained real-parameter optimization",
// Nanyang Technological University, 2006. Minimisers from memory of that report; each is evaluated by a
// test.
const cec2006 = "J. J. Liang et al., CEC 2006 technical report, Nanyang Technological University, "

// hs names the collection of W. Hock and K. Schittkowski.
const hs = "W. Hock and K. Schittkowski, Test Examples for Nonlinear Programming Codes (1981), problem "

// limited returns problems with inequality limits.
func limited() []*Problem {
	g01 := cube(13, 0, 1)
	for _, i := range []int{9, 10, 11} {
		g01.Dims[i].High = 100_000_000
	}
	return []*Problem{
		{
			Name: "g01", Source: cec2006 + "g01",
			Space: g01, Best: -15, At: []optimize.Point{at(1, 1, 1, 1, 1, 1, 1, 1, 1, 3, 3, 3, 1)}, Tolerance: 0,
			Score: func(x []float64, _ []int) (f float64) {
				for i := range 4 {
					f += 5*x[i] - 5*x[i]*x[i]
				}
				for i := 4; i < 13; i++ {
					f -= x[i]
				}
				return f
			},
			Limits: func(g, x []float64) []float64 {
				return append(g,
					2*x[0]+2*x[1]+x[9]+x[10]-10, 2*x[0]+2*x[2]+x[9]+x[11]-10, 2*x[1]+2*x[2]+x[10]+x[11]-10,
					-8*x[0]+x[9], -8*x[1]+x[10], -8*x[2]+x[11],
					-2*x[3]-x[4]+x[9], -2*x[5]-x[6]+x[10], -2*x[7]-x[8]+x[11])
			},
		},
		{
			Name: "g04", Source: cec2006 + "g04; D. M. Himmelblau, Applied Nonlinear Programming (1972)",
			Space: span(1_000_000, [2]float64{78, 102}, [2]float64{33, 45}, [2]float64{27, 45}, [2]float64{27, 45}, [2]float64{27, 45}),
			Best:  -30665.53867178332, At: []optimize.Point{at(78, 33, 29.9952560256815985, 45, 36.7758129057882073)}, Tolerance: 1e-8,
			Score: func(x []float64, _ []int) float64 {
				return 5.3578547*x[2]*x[2] + 0.8356891*x[0]*x[4] + 37.293239*x[0] - 40792.141
			},
			Limits: func(g, x []float64) []float64 {
				u := 85.334407 + 0.0056858*x[1]*x[4] + 0.0006262*x[0]*x[3] - 0.0022053*x[2]*x[4]
				v := 80.51249 + 0.0071317*x[1]*x[4] + 0.0029955*x[0]*x[1] + 0.0021813*x[2]*x[2]
				w := 9.300961 + 0.0047026*x[2]*x[4] + 0.0012547*x[0]*x[2] + 0.0019085*x[2]*x[3]
				return append(g, u-92, -u, v-110, 90-v, w-25, 20-w)
			},
		},
		{
			Name: "g06", Source: cec2006 + "g06",
			Space: span(1_000_000, [2]float64{13, 100}, [2]float64{0, 100}),
			Best:  -6961.81387558015, At: []optimize.Point{at(14.095, 0.8429607892154795668)}, Tolerance: 1e-7,
			Score: func(x []float64, _ []int) float64 {
				return (x[0]-10)*(x[0]-10)*(x[0]-10) + (x[1]-20)*(x[1]-20)*(x[1]-20)
			},
			Limits: func(g, x []float64) []float64 {
				return append(g, -sq(x[0]-5)-sq(x[1]-5)+100, sq(x[0]-6)+sq(x[1]-5)-82.81)
			},
		},
		{
			Name: "g07", Source: cec2006 + "g07; " + hs + "113; minimum 24.3062091 from memory",
			Space: cube(10, -10, 10), Best: 24.3062091, Tolerance: 5e-7,
			At: []optimize.Point{at(2.17199634142692, 2.3636830416034, 8.77392573913157, 5.09598443745173, 0.990654756560493,
				1.43057392853463, 1.32164415364306, 9.82872576524495, 8.2800915887356, 8.3759266477347)},
			Score: func(x []float64, _ []int) float64 {
				return x[0]*x[0] + x[1]*x[1] + x[0]*x[1] - 14*x[0] - 16*x[1] + sq(x[2]-10) + 4*sq(x[3]-5) + sq(x[4]-3) +
					2*sq(x[5]-1) + 5*x[6]*x[6] + 7*sq(x[7]-11) + 2*sq(x[8]-10) + sq(x[9]-7) + 45
			},
			Limits: func(g, x []float64) []float64 {
				return append(g,
					-105+4*x[0]+5*x[1]-3*x[6]+9*x[7], 10*x[0]-8*x[1]-17*x[6]+2*x[7], -8*x[0]+2*x[1]+5*x[8]-2*x[9]-12,
					3*sq(x[0]-2)+4*sq(x[1]-3)+2*x[2]*x[2]-7*x[3]-120, 5*x[0]*x[0]+8*x[1]+sq(x[2]-6)-2*x[3]-40,
					x[0]*x[0]+2*sq(x[1]-2)-2*x[0]*x[1]+14*x[4]-6*x[5], 0.5*sq(x[0]-8)+2*sq(x[1]-4)+3*x[4]*x[4]-x[5]-30,
					-3*x[0]+6*x[1]+12*sq(x[8]-8)-7*x[9])
			},
		},
		{
			Name: "g08", Source: cec2006 + "g08",
			Space: cube(2, 0, 10), Best: -0.0958250414180359, At: []optimize.Point{at(1.22797135260752599, 4.24537336612274885)}, Tolerance: 1e-14,
			Score: func(x []float64, _ []int) float64 {
				if x[0] == 0 { // the limit of the quotient is not finite there; the point breaks a limit by 1 or more
					return 0
				}
				s := math.Sin(2 * math.Pi * x[0])
				return -s * s * s * math.Sin(2*math.Pi*x[1]) / (x[0] * x[0] * x[0] * (x[0] + x[1]))
			},
			Limits: func(g, x []float64) []float64 { return append(g, x[0]*x[0]-x[1]+1, 1-x[0]+sq(x[1]-4)) },
		},
		{
			Name: "g09", Source: cec2006 + "g09; " + hs + "100",
			Space: cube(7, -10, 10), Best: 680.630057374402, Tolerance: 1e-9,
			At: []optimize.Point{at(2.33049935147405174, 1.95137236847114592, -0.477541399510615805, 4.36572624923625874,
				-0.624486959100388983, 1.03813099410962173, 1.5942266780671519)},
			Score: func(x []float64, _ []int) float64 {
				return sq(x[0]-10) + 5*sq(x[1]-12) + sq(x[2]*x[2]) + 3*sq(x[3]-11) + 10*sq(x[4]*x[4])*x[4]*x[4] + 7*x[5]*x[5] +
					sq(x[6]*x[6]) - 4*x[5]*x[6] - 10*x[5] - 8*x[6]
			},
			Limits: func(g, x []float64) []float64 {
				return append(g,
					-127+2*x[0]*x[0]+3*sq(x[1]*x[1])+x[2]+4*x[3]*x[3]+5*x[4], -282+7*x[0]+3*x[1]+10*x[2]*x[2]+x[3]-x[4],
					-196+23*x[0]+x[1]*x[1]+6*x[5]*x[5]-8*x[6], 4*x[0]*x[0]+x[1]*x[1]-3*x[0]*x[1]+2*x[2]*x[2]+5*x[5]-11*x[6])
			},
		},
		{
			Name: "g12", Source: cec2006 + "g12: feasible in 729 separate balls",
			Space: cube(3, 0, 10), Best: -1, At: []optimize.Point{at(5, 5, 5)}, Tolerance: 0,
			Score: func(x []float64, _ []int) float64 { return -(100 - sq(x[0]-5) - sq(x[1]-5) - sq(x[2]-5)) / 100 },
			Limits: func(g, x []float64) []float64 {
				near := func(v float64) float64 { return sq(v - min(max(math.Round(v), 1), 9)) }
				return append(g, near(x[0])+near(x[1])+near(x[2])-0.0625)
			},
		},
		{
			Name: "hs35", Source: hs + "35, from memory; optimum exact",
			Space: cube(3, 0, 3), Best: 1.0 / 9, At: []optimize.Point{at(4.0/3, 7.0/9, 4.0/9)}, Tolerance: 1e-14,
			Score: func(x []float64, _ []int) float64 {
				a, b, c := x[0], x[1], x[2]
				return 9 - 8*a - 6*b - 4*c + 2*a*a + 2*b*b + c*c + 2*a*b + 2*a*c
			},
			Limits: func(g, x []float64) []float64 { return append(g, x[0]+x[1]+2*x[2]-3) },
		},
		{
			Name: "hs43", Source: hs + "43, from memory; optimum exact",
			Space: cube(4, -5, 5), Best: -44, At: []optimize.Point{at(0, 1, 2, -1)}, Tolerance: 0,
			Score: func(x []float64, _ []int) float64 {
				a, b, c, d := x[0], x[1], x[2], x[3]
				return a*a + b*b + 2*c*c + d*d - 5*a - 5*b - 21*c + 7*d
			},
			Limits: func(g, x []float64) []float64 {
				a, b, c, d := x[0], x[1], x[2], x[3]
				return append(g, a*a+b*b+c*c+d*d+a-b+c-d-8, a*a+2*b*b+c*c+2*d*d-a-d-10, 2*a*a+b*b+c*c+2*a-b-d-5)
			},
		},
		{
			Name: "hs65", Source: hs + "65, from memory",
			Space: span(1_000_000, [2]float64{-4.5, 4.5}, [2]float64{-4.5, 4.5}, [2]float64{-5, 5}), Best: 0.9535289, At: []optimize.Point{at(3.650462, 3.650462, 4.6204171)}, Tolerance: 5e-7,
			Score:  func(x []float64, _ []int) float64 { return sq(x[0]-x[1]) + sq(x[0]+x[1]-10)/9 + sq(x[2]-5) },
			Limits: func(g, x []float64) []float64 { return append(g, x[0]*x[0]+x[1]*x[1]+x[2]*x[2]-48) },
		},
		{
			Name: "hs76", Source: hs + "76, from memory",
			Space: cube(4, 0, 5), Best: -4.681818, At: []optimize.Point{at(0.2727273, 2.090909, 0, 0.5454545)}, Tolerance: 1e-6,
			Score: func(x []float64, _ []int) float64 {
				a, b, c, d := x[0], x[1], x[2], x[3]
				return a*a + 0.5*b*b + c*c + 0.5*d*d - a*c + c*d - a - 3*b + c - d
			},
			Limits: func(g, x []float64) []float64 {
				return append(g, x[0]+2*x[1]+x[2]+x[3]-5, 3*x[0]+x[1]+2*x[2]-x[3]-4, 1.5-x[1]-4*x[2])
			},
		},
		{
			Name: "tension-spring", Source: "A. D. Belegundu, thesis, University of Iowa (1982); best known 0.012665233",
			Space: span(100_000_000, [2]float64{0.05, 2}, [2]float64{0.25, 1.3}, [2]float64{2, 15}), Best: 0.012665233, At: []optimize.Point{at(0.051689061, 0.356717741, 11.28896566)}, Tolerance: 1e-9,
			Score: func(x []float64, _ []int) float64 { return (x[2] + 2) * x[1] * x[0] * x[0] },
			Limits: func(g, x []float64) []float64 {
				d, w, n := x[0], x[1], x[2]
				return append(g,
					1-w*w*w*n/(71785*d*d*d*d), (4*w*w-d*w)/(12566*(w*d*d*d-d*d*d*d))+1/(5108*d*d)-1,
					1-140.45*d/(w*w*n), (d+w)/1.5-1)
			},
		},
		{
			Name: "welded-beam", Source: "K. M. Ragsdell and D. T. Phillips, Journal of Engineering for Industry 98 (1976) 1021-1025, with the seven limits of C. A. Coello Coello, Computers in Industry 41 (2000) 113-127; formulas from memory, stresses over their limits; best known 1.724852",
			Space: span(1_000_000, [2]float64{0.1, 2}, [2]float64{0.1, 10}, [2]float64{0.1, 10}, [2]float64{0.1, 2}),
			Best:  1.724852, At: []optimize.Point{at(0.205730, 3.470489, 9.036624, 0.205730)}, Tolerance: 5e-6,
			Score:  func(x []float64, _ []int) float64 { return beamCost(variables(x)).v },
			Limits: func(g, x []float64) []float64 { return values(g, beamLimits(variables(x))) },
		},
		{
			Name: "three-bar-truss", Source: "T. Nowacki, Polish Academy of Sciences (1973); optimum in closed form",
			Space: cube(2, 0, 1), Best: 263.8958433765, At: []optimize.Point{at((3+math.Sqrt(3))/6, 1/math.Sqrt(6))}, Tolerance: 1e-9,
			Score: func(x []float64, _ []int) float64 { return 100 * (2*math.Sqrt2*x[0] + x[1]) },
			Limits: func(g, x []float64) []float64 {
				a, b := max(x[0], 1e-6), x[1] // a bar of no section has a stress of 1/0: broken by far
				d := math.Sqrt2*a*a + 2*a*b
				return append(g, (math.Sqrt2*a+b)/d*2-2, b/d*2-2, 2/(a+math.Sqrt2*b)-2)
			},
		},
	}
}

// broken returns problems that fail in parts of the box.
func broken() []*Problem {
	base := unlimited()
	var sphere, rosen Problem
	for _, p := range base {
		if p.Name == "rosenbrock-5" {
			rosen = *p
		}
	}
	rosen.Name, rosen.Source = "rosenbrock-5-torn", "made for the suite: the function of Rosenbrock (1960) that cannot be assembled where the first number exceeds the second by 2 or more"
	rosen.Fails = func(x []float64) (optimize.Status, float64) {
		if over := x[0] - x[1] - 2; over >= 0 {
			return optimize.CannotAssemble, 1 / (2 + over)
		}
		return optimize.OK, 1
	}
	sphere = Problem{
		Name: "island-in-ruins", Source: "made for the suite: a paraboloid that assembles only in a ball of 2 % of the box, with a fold around it and a limit across it",
		Space: cube(3, -10, 10), Best: 1, At: []optimize.Point{at(6, 5, 5)}, Tolerance: 0,
		Score:  func(x []float64, _ []int) float64 { return sq(x[0]-5) + sq(x[1]-5) + sq(x[2]-5) },
		Limits: func(g, x []float64) []float64 { return append(g, 6-x[0]) },
		Fails: func(x []float64) (optimize.Status, float64) {
			switch r := math.Sqrt(sq(x[0]-5) + sq(x[1]-5) + sq(x[2]-5)); {
			case r > 8:
				return optimize.BadGeometry, 0
			case r > 4:
				return optimize.CannotAssemble, (8 - r) / 8
			case r > 3.4:
				return optimize.Folds, 0.6
			}
			return optimize.OK, 1
		},
	}
	return []*Problem{&rosen, &sphere}
}

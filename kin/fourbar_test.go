package kin_test

import (
	"fmt"
	"math"
	"testing"

	"trammel/kin/kintest"
)

// A double wishbone with all pivot axes parallel to x is a planar four-bar linkage. Each row is one
// position of a textbook linkage and both its closures: angles in degrees of crank (given), coupler and
// rocker. want holds [coupler, rocker] of the open closure, then of the crossed one.
type fourBarRow struct {
	source                   string
	ground, crank, coup, rod float64
	angle                    float64
	want                     [4]float64
	tol                      float64 // deg
	omega                    float64 // of the crank, rad/s; 0 where no velocity is known
	speed                    [4]float64
	speedTol                 float64
}

// Inputs and answers: R. L. Norton, Design of Machinery, Example 4-1 and 6-7 (FB01, FB02), Tables P4-1 and
// P6-1 rows a to e; R. S. Khurmi and J. K. Gupta, Theory of Machines, Example 8.4 (FB07); K. Waldron and
// G. Kinzel, Kinematics, Dynamics and Design of Machinery, Example 7.1 (K); D. Constans and K. Dyer, Introduction
// to Mechanism Design (C); P. Nikravesh, Planar Multibody Dynamics, Example 5.2 style (N); a laboratory
// sheet (L). Inputs of Norton's tables are from memory; digits beyond the printed ones were recomputed from
// the inputs in multiple precision, outside this project.
var fourBarRows = []fourBarRow{
	{"Norton 4-1, 6-7, as printed", 100, 40, 120, 80, 40, [4]float64{20.30, 57.33, -60.98, -98.01}, 0.0065, 25, [4]float64{-4.121, 6.998, math.NaN(), math.NaN()}, 6e-4},
	{"Norton 4-1, 6-7, full digits", 100, 40, 120, 80, 40, [4]float64{20.297883, 57.324880, -60.977967, -98.004964}, 2e-6, 25, [4]float64{-4.120914, 6.997985, -9.258772, -20.377672}, 2e-6},
	{"Norton P4-1 a, as printed", 6, 2, 7, 9, 30, [4]float64{88.8, 117.3, -115.2, -143.6}, 0.065, 10, [4]float64{-6.0, -4.0, -0.66, -2.66}, 0.06},
	{"Norton P4-1 a", 6, 2, 7, 9, 30, [4]float64{88.83724, 117.28607, -115.21081, -143.65964}, 1e-5, 10, [4]float64{-5.99097, -3.99173, -0.66235, -2.66158}, 1e-5},
	{"Norton P4-1 b", 7, 9, 3, 8, 85, [4]float64{-43.23203, 120.24709, -67.30392, 129.21696}, 1e-5, -12, [4]float64{73.06017, -37.29154, -88.28656, 22.06515}, 1e-4},
	{"Norton P4-1 c", 3, 10, 6, 8, 45, [4]float64{-53.13203, 16.49121, 173.27087, 103.64762}, 1e-5, -15, [4]float64{-12.72887, -19.80051, -22.77476, -15.70311}, 1e-5},
	{"Norton P4-1 d", 8, 5, 7, 6, 25, [4]float64{27.40159, 62.76167, -90.10366, -125.46374}, 1e-5, 24, [4]float64{-18.14010, -1.44816, -14.60307, -31.29501}, 1e-5},
	{"Norton P4-1 e", 8, 5, 8, 6, 75, [4]float64{7.49734, 78.21243, -79.02062, -149.73570}, 1e-5, -50, [4]float64{1.85529, -40.78421, -23.30247, 19.33703}, 2e-5},
	{"Waldron and Kinzel 7.1 at 0", 1, 2, 3.5, 4, 0, [4]float64{-66.867604, -53.576426, 66.867604, 53.576426}, 2e-6, 0, [4]float64{}, 0},
	{"Waldron and Kinzel 7.1 at 90", 1, 2, 3.5, 4, 90, [4]float64{21.984557, 55.849115, -148.854455, 177.280988}, 2e-6, 0, [4]float64{}, 0},
	{"Waldron and Kinzel 7.1 at 150", 1, 2, 3.5, 4, 150, [4]float64{56.511964, 101.549836, -96.719783, -141.757655}, 2e-6, 0, [4]float64{}, 0},
	{"Waldron and Kinzel 7.1 at 180", 1, 2, 3.5, 4, 180, [4]float64{75.522488, 122.089951, -75.522488, -122.089951}, 2e-6, 0, [4]float64{}, 0},
	{"Waldron and Kinzel 7.1 at 300", 1, 2, 3.5, 4, 300, [4]float64{-176.453479, -150.847272, -3.546521, -29.152728}, 2e-6, 0, [4]float64{}, 0},
	{"Constans and Dyer at 0", 0.22, 0.13, 0.20, 0.17, 0, [4]float64{57.769047, 84.373729, -57.769047, -84.373729}, 2e-6, 0, [4]float64{}, 0},
	{"Constans and Dyer at 90", 0.22, 0.13, 0.20, 0.17, 90, [4]float64{11.051601, 98.016876, -72.210055, -159.175330}, 2e-6, 0, [4]float64{}, 0},
	{"Constans and Dyer at 270", 0.22, 0.13, 0.20, 0.17, 270, [4]float64{72.210055, 159.175330, -11.051601, -98.016876}, 2e-6, 0, [4]float64{}, 0},
	{"Nikravesh 5.2 style", 0.2, 0.1, 0.3, 0.22, 45, [4]float64{15.591599, 43.466350, -72.941699, -100.816450}, 2e-6, 0, [4]float64{}, 0},
	{"laboratory sheet", 120, 30, 120, 60, 60, [4]float64{16.022531, 80.078051, -43.818304, -107.873824}, 2e-6, 0, [4]float64{}, 0},
	// Printed: coupler 1.9, rocker 3.79 rad/s, read off a drawing; the digits are recomputed.
	{"Khurmi and Gupta 8.4", 200, 62.5, 175, 112.5, 60, [4]float64{math.NaN(), math.NaN(), math.NaN(), math.NaN()}, 0, -10, [4]float64{1.9800, -3.7871, math.NaN(), math.NaN()}, 1e-4},
}

// TestFourBarTables starts each linkage some degrees from the published position, moves the wheel to the
// height that the published crank angle gives, and compares crank, coupler and rocker there.
func TestFourBarTables(t *testing.T) {
	for _, row := range fourBarRows {
		for i, closure := range []string{"open", "crossed"} {
			t.Run(fmt.Sprintf("%s, %s", row.source, closure), func(t *testing.T) {
				scale := 200 / row.ground
				f := kintest.FourBar{Ground: 200, Crank: scale * row.crank, Coupler: scale * row.coup, Rocker: scale * row.rod, Crossed: i == 1}
				checkFourBar(t, f, row, row.want[2*i:2*i+2], row.speed[2*i:2*i+2])
			})
		}
	}
}

func checkFourBar(t *testing.T, f kintest.FourBar, row fourBarRow, want, speed []float64) {
	target := row.angle * deg
	start, along := startOf(t, f, target)
	c := newCorner(t, f.Corner(start, along, 0))
	coupler0, rocker0, _ := f.Close(start)
	_, z0 := f.Centre(start, coupler0, along, 0)
	coupler, _, _ := f.Close(target)
	_, z1 := f.Centre(target, coupler, along, 0)

	got := c.one(z1-z0, 0, "crank.angle", "rocker.angle")
	near(t, "crank", wrap(start/deg+got[0]-row.angle), 0, 1e-9)
	_, r := c.s.Pose()
	turned := math.Atan2(r[7], r[4]) / deg
	if !math.IsNaN(want[0]) {
		near(t, "coupler", wrap(coupler0/deg+turned-want[0]), 0, row.tol)
		near(t, "rocker", wrap(rocker0/deg+got[1]-want[1]), 0, row.tol)
	}
	if row.omega == 0 || math.IsNaN(speed[0]) {
		return
	}
	_, w, _, _ := c.s.Twist()
	crank, _ := c.s.Turning("crank")
	rocker, _ := c.s.Turning("rocker")
	near(t, "coupler's speed", row.omega*w.X/crank, speed[0], row.speedTol)
	near(t, "rocker's speed", row.omega*rocker/crank, speed[1], row.speedTol)
}

// startOf returns a crank angle near the target from which the linkage gets there, and how far along the
// coupler a wheel centre lies that rises or falls all the way.
func startOf(t *testing.T, f kintest.FourBar, target float64) (start, along float64) {
	for _, by := range []float64{12, -12, 7, -7, 4, -4} {
		for _, k := range []float64{0.5, 1.5, -1, 3, -3} {
			along, least, sign, good := k*f.Coupler, 0.25*f.Crank, 0., true
			for i := range 25 {
				a := target + by*deg*float64(i)/24
				c0, _, ok0 := f.Close(a - 1e-5)
				c1, _, ok1 := f.Close(a + 1e-5)
				if !ok0 || !ok1 {
					good = false
					break
				}
				_, z0 := f.Centre(a-1e-5, c0, along, 0)
				_, z1 := f.Centre(a+1e-5, c1, along, 0)
				slope := (z1 - z0) / 2e-5
				if sign == 0 {
					sign = slope
				}
				good = good && math.Abs(slope) > least && slope*sign > 0
			}
			if good {
				return target + by*deg, along
			}
		}
	}
	t.Fatalf("no start for %+v at %g", f, target/deg)
	return 0, 0
}

// TestFourBarAccelerations: R. L. Norton, Design of Machinery, Example 7-1 (FB01 with 25 rad/s and 15 rad/s²),
// printed 296.089 and 470.134 for the open closure; the crossed one recomputed. From memory, and recomputed.
func TestFourBarAccelerations(t *testing.T) {
	for i, want := range [][2]float64{{296.089, 470.134}, {597.622, 423.578}} {
		f := kintest.FourBar{Ground: 100, Crank: 40, Coupler: 120, Rocker: 80, Crossed: i == 1}
		_, along := startOf(t, f, 40*deg)
		c := newCorner(t, f.Corner(40*deg, along, 0))
		c.get(0, 0, "camber")
		_, w, _, b := c.s.Twist()
		crank1, crank2 := c.s.Turning("crank")
		rocker1, rocker2 := c.s.Turning("rocker")
		near(t, "coupler", accelerate(25, 15, crank1, crank2, w.X, b.X), want[0], 6e-4)
		near(t, "rocker", accelerate(25, 15, crank1, crank2, rocker1, rocker2), want[1], 6e-4)
	}
}

// accelerate returns the second derivative in time of an angle that follows a crank turning at omega and
// alpha, from the derivatives of both with wheel travel.
func accelerate(omega, alpha, crank1, crank2, d1, d2 float64) float64 {
	return d1/crank1*alpha + (d2*crank1-d1*crank2)/(crank1*crank1*crank1)*omega*omega
}

// TestMeriamFourBar: J. L. Meriam and L. G. Kraige, Engineering Mechanics: Dynamics, Sample Problems 5/8 and
// 5/14. O = (0, 0), A = (0, 100), B = (175, 50), C = (250, 50); CB turns at 2 rad/s, constant: AB at −6/7 and
// OA at −3/7 rad/s; −0.1050 and −4.34 rad/s² (from memory, recomputed to the digits here).
func TestMeriamFourBar(t *testing.T) {
	ground := math.Hypot(250, 50)
	tilt := math.Atan2(50, 250) // the page's x axis is not along OC
	f := kintest.FourBar{Ground: ground, Crank: 100, Coupler: math.Hypot(175, 50), Rocker: 75}
	coupler, _, _ := f.Close(math.Pi/2 - tilt)
	if math.Abs(coupler-(math.Atan2(-50, 175)-tilt)) > 1e-9 {
		f.Crossed = true
	}
	_, along := startOf(t, f, math.Pi/2-tilt)
	c := newCorner(t, f.Corner(math.Pi/2-tilt, along, 0))
	c.get(0, 0, "camber")
	_, w, _, b := c.s.Twist()
	oa1, oa2 := c.s.Turning("crank")
	cb1, cb2 := c.s.Turning("rocker")
	near(t, "AB", 2*w.X/cb1, -6./7, 1e-12)
	near(t, "OA", 2*oa1/cb1, -3./7, 1e-12)
	near(t, "AB's acceleration", accelerate(2, 0, cb1, cb2, w.X, b.X), -0.104956268, 1e-9)
	near(t, "OA's acceleration", accelerate(2, 0, cb1, cb2, oa1, oa2), -4.338192420, 1e-9)
}

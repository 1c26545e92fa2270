package kintest

import (
	"math"

	"trammel/kin"
)

// FourBar is a planar four-bar linkage: ground from O2 = (0, 0) to O4 = (Ground, 0), crank from O2 to A,
// coupler from A to B, rocker from O4 to B. Angles are directions of O2→A, A→B and O4→B in rad.
//
// Closure, as every textbook on machines has it: with δ = |O4 − A| and β the angle at A between
// A→O4 and A→B, cos β = (δ² + Coupler² − Rocker²)/(2 δ Coupler). The open closure has B to the left of A→O4.
type FourBar struct {
	Ground, Crank, Coupler, Rocker float64
	Crossed                        bool
}

// Close returns the angles of coupler and rocker for an angle of the crank; false where it does not close.
func (f FourBar) Close(crank float64) (coupler, rocker float64, ok bool) {
	ax, ay := f.Crank*math.Cos(crank), f.Crank*math.Sin(crank)
	dx, dy := f.Ground-ax, -ay
	d := math.Hypot(dx, dy)
	k := (d*d + f.Coupler*f.Coupler - f.Rocker*f.Rocker) / (2 * d * f.Coupler)
	if !(math.Abs(k) < 1) {
		return 0, 0, false
	}
	beta := math.Acos(k)
	if f.Crossed {
		beta = -beta
	}
	coupler = math.Atan2(dy, dx) + beta
	bx, by := ax+f.Coupler*math.Cos(coupler), ay+f.Coupler*math.Sin(coupler)
	return coupler, math.Atan2(by, bx-f.Ground), true
}

// Centre returns the place (y, z) of the point of the coupler that lies along on A→B and off to its left.
func (f FourBar) Centre(crank, coupler, along, off float64) (y, z float64) {
	s, c := math.Sincos(coupler)
	return f.Crank*math.Cos(crank) + along*c - off*s, f.Crank*math.Sin(crank) + along*s + off*c
}

// Corner returns the four-bar as a corner, standing at an angle of the crank that closes: two arms with
// their axes parallel to x, named crank and rocker, and the upright as coupler with the wheel centre at
// (along, off) of it, in the transverse plane x = 0. The plane's x is the car's y, the plane's y its z.
// A link beside one arm, parallel to it and as long, keeps the upright in its plane and asks nothing else of
// it; it would let go where its arm and the coupler line up, and stands beside the arm that is farther from that.
func (f FourBar) Corner(crank, along, off float64) *kin.Linkage {
	coupler, rocker, ok := f.Close(crank)
	if !ok {
		panic("kintest: this four-bar does not close there")
	}
	w := f.Ground
	ay, az := f.Crank*math.Cos(crank), f.Crank*math.Sin(crank)
	by, bz := f.Ground+f.Rocker*math.Cos(rocker), f.Rocker*math.Sin(rocker)
	cy, cz := f.Centre(crank, coupler, along, off)
	b := &Builder{}
	foot, gy, gz := 0.0, ay, az
	if math.Abs(math.Sin(rocker-coupler)) > math.Abs(math.Sin(crank-coupler)) {
		foot, gy, gz = f.Ground, by, bz
	}
	b.Point("crank_rear", -w, 0, 0).Point("crank_front", w, 0, 0).Point("a", 0, ay, az).
		Point("rocker_rear", -w, f.Ground, 0).Point("rocker_front", w, f.Ground, 0).Point("b", 0, by, bz).
		Point("beside", 2*w, foot, 0).Point("beside_ball", 2*w, gy, gz).
		Point("wheel_centre", 0, cy, cz)
	b.Arm("crank", "crank_rear", "crank_front", "a")
	b.Arm("rocker", "rocker_rear", "rocker_front", "b")
	b.Link("guide", "beside", "beside_ball", kin.Frame, kin.Upright)
	b.Wheel("wheel_centre", 0, 0, w)
	return &b.L
}

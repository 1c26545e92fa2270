package kin

import "gonum.org/v1/gonum/spatial/r3"

// twist is how a carrier moves for a unit of a driver or of a motion, a mm or a rad: v is the velocity of its point t,
// w the angular velocity, both in its own coordinates of the car. The same type holds second derivatives.
type twist struct {
	vx, vy, vz, wx, wy, wz float64
}

func (t *twist) v() r3.Vec { return r3.Vec{X: t.vx, Y: t.vy, Z: t.vz} }
func (t *twist) w() r3.Vec { return r3.Vec{X: t.wx, Y: t.wy, Z: t.wz} }

// rowAt is what a row of the carrier's constraints left at the last pose: the arm from t to its point on the carrier (to the
// frame's point that a plane of the carrier meets), and the gradient of its value with that point. Second derivatives are
// made of these. A row that is a node has its residual alone.
type rowAt struct {
	rho, g r3.Vec
	f      float64 // the residual, mm
}

// drive is where the drivers of a carrier stand, from design: its wheel, the right wheel if it is an axle, and the
// rack, all in mm. It also serves as a direction of theirs.
type drive struct {
	z, right, rack float64
}

func (d drive) minus(o drive) drive { return drive{d.z - o.z, d.right - o.right, d.rack - o.rack} }

func (d drive) plus(k float64, o drive) drive {
	return drive{d.z + k*o.z, d.right + k*o.right, d.rack + k*o.rack}
}

// pose is a place of a carrier and everything solved there.
//
// The rotation is a quaternion (qw, qx, qy, qz) and its matrix r in row order; both carry the carrier
// from its design attitude to this one. t is where the point is that stood at the wheel's centre.
type pose struct {
	at             drive
	qw, qx, qy, qz float64
	t              r3.Vec
	r              [9]float64

	order [5]uint8   // rows in the order in which the matrix holds them
	odd   bool       // that order is an odd permutation of design's
	rows  [5]rowAt   // in that order
	zcol  [5]float64 // the column of vz, which the leading row eliminates
	led   bool       // a leading row was eliminated; if not, the height of t leads
	lead  [5]float64 // the leading row's other columns, over its own of vz
	inv   float64    // 1/(the leading row's column of vz)
	fLead float64    // its residual
	lu    matrix5
	det   float64

	known  know
	dz, dr twist // first derivatives along the motion and with rack travel
	az, ar twist // second derivatives with the same
	mixed  twist // second derivative with both, symmetric: see rigid

	// What the last step in one direction left for the prediction of the next: its length and the
	// derivatives at its start. hist is 0 where there is no such step.
	hist         float64
	along        drive // its direction
	histV, histA twist
}

// turn rotates the pose by the vector phi (rad), given in the car's axes, and sets its matrix.
//
// The quaternion of phi is taken to fourth order in |phi|; the matrix is exactly orthonormal whatever
// the quaternion's length, which is pulled back to 1 here so that rounding never adds up.
func (p *pose) turn(x, y, z float64) {
	n := x*x + y*y + z*z
	w := 1 - n*(0.125-n*(1./384))
	k := 0.5 - n*(1./48)
	x, y, z = x*k, y*k, z*k
	qw := w*p.qw - x*p.qx - y*p.qy - z*p.qz
	qx := w*p.qx + x*p.qw + y*p.qz - z*p.qy
	qy := w*p.qy + y*p.qw + z*p.qx - x*p.qz
	qz := w*p.qz + z*p.qw + x*p.qy - y*p.qx
	half := 1.5 - 0.5*(qw*qw+qx*qx+qy*qy+qz*qz)
	qw, qx, qy, qz = qw*half, qx*half, qy*half, qz*half
	p.qw, p.qx, p.qy, p.qz = qw, qx, qy, qz
	s := 2 / (qw*qw + qx*qx + qy*qy + qz*qz)
	sx, sy, sz := qx*s, qy*s, qz*s
	p.r[0], p.r[1], p.r[2] = 1-(qy*sy+qz*sz), qx*sy-qw*sz, qx*sz+qw*sy
	p.r[3], p.r[4], p.r[5] = qx*sy+qw*sz, 1-(qx*sx+qz*sz), qy*sz-qw*sx
	p.r[6], p.r[7], p.r[8] = qx*sz-qw*sy, qy*sz+qw*sx, 1-(qx*sx+qy*sy)
}

// rotate carries a vector of the carrier at design to the pose.
func (p *pose) rotate(u r3.Vec) r3.Vec {
	return r3.Vec{
		X: p.r[0]*u.X + p.r[1]*u.Y + p.r[2]*u.Z,
		Y: p.r[3]*u.X + p.r[4]*u.Y + p.r[5]*u.Z,
		Z: p.r[6]*u.X + p.r[7]*u.Y + p.r[8]*u.Z,
	}
}

// reset puts the pose at design, with the wheel centre at t.
func (p *pose) reset(t r3.Vec) {
	*p = pose{qw: 1, t: t, order: [5]uint8{0, 1, 2, 3, 4}}
	p.r = [9]float64{1, 0, 0, 0, 1, 0, 0, 0, 1}
}

// predict moves p from a solved pose by h along a direction of the drivers, by the derivatives v and a there and, if
// the step before left its own (of the same length), by the cubic through both: the velocity is then
// known at four places and the prediction is of fifth order, except for the fourth-order turn of the
// angular velocity's own direction.
func (p *pose) predict(from *pose, h float64, along drive, v, a *twist) {
	p.qw, p.qx, p.qy, p.qz = from.qw, from.qx, from.qy, from.qz
	h2 := 0.5 * h
	// advance by h(v + h a/2 + J/6 + N/24), J and N the scaled third and fourth derivatives
	var j twist
	if from.hist == h && from.along == along {
		u, b := &from.histV, &from.histA
		j.vx = hermite(h, v.vx, a.vx, u.vx, b.vx)
		j.vy = hermite(h, v.vy, a.vy, u.vy, b.vy)
		j.vz = hermite(h, v.vz, a.vz, u.vz, b.vz)
		j.wx = hermite(h, v.wx, a.wx, u.wx, b.wx)
		j.wy = hermite(h, v.wy, a.wy, u.wy, b.wy)
		j.wz = hermite(h, v.wz, a.wz, u.wz, b.wz)
	}
	c := h * h * h * (1. / 12) // the part of the rotation vector from the turning of the axis: h³/12 (a × w)
	x := h*(v.wx+h2*a.wx+j.wx) + c*(a.wy*v.wz-a.wz*v.wy)
	y := h*(v.wy+h2*a.wy+j.wy) + c*(a.wz*v.wx-a.wx*v.wz)
	z := h*(v.wz+h2*a.wz+j.wz) + c*(a.wx*v.wy-a.wy*v.wx)
	p.t.X = from.t.X + h*(v.vx+h2*a.vx+j.vx)
	p.t.Y = from.t.Y + h*(v.vy+h2*a.vy+j.vy)
	p.t.Z = from.t.Z + h*(v.vz+h2*a.vz+j.vz)
	p.turn(x, y, z)
}

// hermite returns J/6 + N/24 for the cubic velocity with value v and slope a here and u and b one
// step h before: J = 6(u − v + ha) + 2h(b − a), N = 12(u − v + ha) + 6h(b − a).
func hermite(h, v, a, u, b float64) float64 {
	return 1.5*(u-v+h*a) + h*(b-a)*(7./12)
}

// remember leaves in p what the step of length h from a solved pose knew at its start. p may not be from.
func (p *pose) remember(h float64, along drive, v, a *twist) {
	p.hist, p.along, p.histV, p.histA = h, along, *v, *a
}

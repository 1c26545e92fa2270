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
// made of these. A row that is a node has neither, but how it follows the drivers while the carrier stands.
type rowAt struct {
	rho, g r3.Vec
	f      float64 // the residual, mm
	push   drive   // of a node, mm/mm
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

func (d drive) dot(o drive) float64 { return d.z*o.z + d.right*o.right + d.rack*o.rack }

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
	push  drive      // how it follows the drivers while the carrier stands
	lu    matrix5
	det   float64

	known  know
	dz, dr twist // first derivatives along the motion and with rack travel
	az, ar twist // second derivatives with the same
	mixed  twist // second derivative with both, symmetric: see rigid

	wake wake
}

// turn rotates the pose by the vector phi (rad), given in the car's axes, and sets its matrix.
//
// The quaternion of phi is taken to sixth order in |phi|; the matrix is exactly orthonormal whatever
// the quaternion's length, which is pulled back to 1 here so that rounding never adds up.
func (p *pose) turn(x, y, z float64) {
	n := x*x + y*y + z*z
	w := 1 - n*(0.125-n*(1./384-n*(1./46080)))
	k := 0.5 - n*(1./48-n*(1./3840))
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

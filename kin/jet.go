package kin

import "gonum.org/v1/gonum/spatial/r3"

// A jet is a quantity along a motion: its value and its derivatives with the parameter of the motion, w (mm of
// wheel travel, or rad of roll), and with rack travel, k. Derivatives, not Taylor coefficients.
type jet [5]float64

// vjet is a vector along a motion.
type vjet [5]r3.Vec

// Slots of a jet.
const (
	slot0  = iota // value
	slotW         // d/dw
	slotWW        // d²/dw²
	slotK         // d/dk
	slotWK        // d²/dw dk
)

// level says which slots of a jet are known: each level knows those of the levels below.
type level = uint8

const (
	levelValue   level = iota // slot0
	levelSlope                // and slotW
	levelBend                 // and slotWW
	levelRack                 // and slotK, slotWK
	levelNothing = level(255)
)

// slotsOf returns how many slots a level knows: the slots stand in the order of the levels.
func slotsOf(l level) int { return [...]int{1, 2, 3, 5}[l] }

// mul sets o to a·b.
func (o *jet) mul(a, b *jet, l level) {
	o[0] = a[0] * b[0]
	if l == levelValue {
		return
	}
	o[1] = a[0]*b[1] + a[1]*b[0]
	if l == levelSlope {
		return
	}
	o[2] = a[0]*b[2] + 2*a[1]*b[1] + a[2]*b[0]
	if l == levelBend {
		return
	}
	o[3] = a[0]*b[3] + a[3]*b[0]
	o[4] = a[0]*b[4] + a[1]*b[3] + a[3]*b[1] + a[4]*b[0]
}

// pull adds to o what a change of x does to the product x·y, weighted by the bars b of the product: the
// transpose of mul.
func (o *jet) pull(b, y *jet, l level) {
	o[0] += b[0] * y[0]
	if l == levelValue {
		return
	}
	o[0] += b[1] * y[1]
	o[1] += b[1] * y[0]
	if l == levelSlope {
		return
	}
	o[0] += b[2] * y[2]
	o[1] += 2 * b[2] * y[1]
	o[2] += b[2] * y[0]
	if l == levelBend {
		return
	}
	o[0] += b[3]*y[3] + b[4]*y[4]
	o[1] += b[4] * y[3]
	o[3] += b[3]*y[0] + b[4]*y[1]
	o[4] += b[4] * y[0]
}

// chain sets o to f(x) from f(x₀) and its first two derivatives there.
func (o *jet) chain(x *jet, f, f1, f2 float64, l level) {
	o[0] = f
	if l == levelValue {
		return
	}
	o[1] = f1 * x[1]
	if l == levelSlope {
		return
	}
	o[2] = f1*x[2] + f2*x[1]*x[1]
	if l == levelBend {
		return
	}
	o[3] = f1 * x[3]
	o[4] = f1*x[4] + f2*x[1]*x[3]
}

// dot sets o to a·b.
func (o *jet) dot(a, b *vjet, l level) {
	o[0] = r3.Dot(a[0], b[0])
	if l == levelValue {
		return
	}
	o[1] = r3.Dot(a[0], b[1]) + r3.Dot(a[1], b[0])
	if l == levelSlope {
		return
	}
	o[2] = r3.Dot(a[0], b[2]) + 2*r3.Dot(a[1], b[1]) + r3.Dot(a[2], b[0])
	if l == levelBend {
		return
	}
	o[3] = r3.Dot(a[0], b[3]) + r3.Dot(a[3], b[0])
	o[4] = r3.Dot(a[0], b[4]) + r3.Dot(a[1], b[3]) + r3.Dot(a[3], b[1]) + r3.Dot(a[4], b[0])
}

// pullDot adds to o what a change of the product of o's vector and y by a scalar of bars b takes: the
// transpose of dot, and of scale with its vector.
func (o *vjet) pullDot(b *jet, y *vjet, l level) {
	o[0] = axpy(o[0], b[0], y[0])
	if l == levelValue {
		return
	}
	o[0] = axpy(o[0], b[1], y[1])
	o[1] = axpy(o[1], b[1], y[0])
	if l == levelSlope {
		return
	}
	o[0] = axpy(o[0], b[2], y[2])
	o[1] = axpy(o[1], 2*b[2], y[1])
	o[2] = axpy(o[2], b[2], y[0])
	if l == levelBend {
		return
	}
	o[0] = axpy(axpy(o[0], b[3], y[3]), b[4], y[4])
	o[1] = axpy(o[1], b[4], y[3])
	o[3] = axpy(axpy(o[3], b[3], y[0]), b[4], y[1])
	o[4] = axpy(o[4], b[4], y[0])
}

// setDot sets the slots of o that l knows as pullDot would add to nothing.
func (o *vjet) setDot(b *jet, y *vjet, l level) {
	if l == levelValue {
		o[0] = r3.Scale(b[0], y[0])
		return
	}
	if l == levelSlope {
		o[0] = axpy(r3.Scale(b[0], y[0]), b[1], y[1])
		o[1] = r3.Scale(b[1], y[0])
		return
	}
	*o = vjet{}
	o.pullDot(b, y, l)
}

// scale sets o to s·a.
func (o *vjet) scale(s *jet, a *vjet, l level) {
	o[0] = r3.Scale(s[0], a[0])
	if l == levelValue {
		return
	}
	o[1] = axpy(r3.Scale(s[0], a[1]), s[1], a[0])
	if l == levelSlope {
		return
	}
	o[2] = axpy(axpy(r3.Scale(s[0], a[2]), 2*s[1], a[1]), s[2], a[0])
	if l == levelBend {
		return
	}
	o[3] = axpy(r3.Scale(s[0], a[3]), s[3], a[0])
	o[4] = axpy(axpy(axpy(r3.Scale(s[0], a[4]), s[1], a[3]), s[3], a[1]), s[4], a[0])
}

// pullScale adds to o, the bars of s, and v, those of a, what scale's bars b say.
func pullScale(b *vjet, s *jet, a *vjet, bs *jet, ba *vjet, l level) {
	if l == levelValue {
		bs[0] += r3.Dot(b[0], a[0])
		ba[0] = axpy(ba[0], s[0], b[0])
		return
	}
	// The scalar meets b like one factor of a dot product, the vector like one of a scaled one.
	for i, c := range [3]func(r3.Vec) float64{vecX, vecY, vecZ} {
		var bc, ac, d jet
		for k := range slotsOf(l) {
			bc[k], ac[k] = c(b[k]), c(a[k])
		}
		bs.pull(&bc, &ac, l)
		d.pull(&bc, s, l)
		for k := range slotsOf(l) {
			switch i {
			case 0:
				ba[k].X += d[k]
			case 1:
				ba[k].Y += d[k]
			default:
				ba[k].Z += d[k]
			}
		}
	}
}

func vecX(v r3.Vec) float64 { return v.X }
func vecY(v r3.Vec) float64 { return v.Y }
func vecZ(v r3.Vec) float64 { return v.Z }

// cross sets o to a × b.
func (o *vjet) cross(a, b *vjet, l level) {
	o[0] = r3.Cross(a[0], b[0])
	if l == levelValue {
		return
	}
	o[1] = r3.Add(r3.Cross(a[0], b[1]), r3.Cross(a[1], b[0]))
	if l == levelSlope {
		return
	}
	o[2] = r3.Add(axpy(r3.Cross(a[0], b[2]), 2, r3.Cross(a[1], b[1])), r3.Cross(a[2], b[0]))
	if l == levelBend {
		return
	}
	o[3] = r3.Add(r3.Cross(a[0], b[3]), r3.Cross(a[3], b[0]))
	o[4] = r3.Add(r3.Add(r3.Cross(a[0], b[4]), r3.Cross(a[1], b[3])), r3.Add(r3.Cross(a[3], b[1]), r3.Cross(a[4], b[0])))
}

// pullCross adds to o the bars of x where the bars of x × y are sign·b.
func (o *vjet) pullCross(b, y *vjet, sign float64, l level) {
	add := func(i int, k float64, yy, bb r3.Vec) { o[i] = axpy(o[i], k*sign, r3.Cross(yy, bb)) }
	add(0, 1, y[0], b[0])
	if l == levelValue {
		return
	}
	add(0, 1, y[1], b[1])
	add(1, 1, y[0], b[1])
	if l == levelSlope {
		return
	}
	add(0, 1, y[2], b[2])
	add(1, 2, y[1], b[2])
	add(2, 1, y[0], b[2])
	if l == levelBend {
		return
	}
	add(0, 1, y[3], b[3])
	add(0, 1, y[4], b[4])
	add(1, 1, y[3], b[4])
	add(3, 1, y[0], b[3])
	add(3, 1, y[1], b[4])
	add(4, 1, y[0], b[4])
}

// axpy returns a + k·x.
func axpy(a r3.Vec, k float64, x r3.Vec) r3.Vec {
	return r3.Vec{X: a.X + k*x.X, Y: a.Y + k*x.Y, Z: a.Z + k*x.Z}
}

func mirrored(v r3.Vec) r3.Vec { v.Y = -v.Y; return v }

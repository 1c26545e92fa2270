package kin

import "gonum.org/v1/gonum/spatial/r3"

// rigid is how a body stands and moves: a point x of it at design is at t + r(x − c). Slots of v and w hold the
// velocity of t and the angular velocity with each parameter, and their second derivatives; slot0 is unused.
// The mixed one is symmetric: its w is the mean of the derivative of w_w with k and of w_k with w.
type rigid struct {
	r    [9]float64
	c, t r3.Vec
	v, w vjet
}

func (b *rigid) turn(u r3.Vec) r3.Vec {
	return r3.Vec{
		X: b.r[0]*u.X + b.r[1]*u.Y + b.r[2]*u.Z,
		Y: b.r[3]*u.X + b.r[4]*u.Y + b.r[5]*u.Z,
		Z: b.r[6]*u.X + b.r[7]*u.Y + b.r[8]*u.Z,
	}
}

// back turns a vector from the car to the body's design attitude.
func (b *rigid) back(u r3.Vec) r3.Vec {
	return r3.Vec{
		X: b.r[0]*u.X + b.r[3]*u.Y + b.r[6]*u.Z,
		Y: b.r[1]*u.X + b.r[4]*u.Y + b.r[7]*u.Z,
		Z: b.r[2]*u.X + b.r[5]*u.Y + b.r[8]*u.Z,
	}
}

// spin sets o to the turned vector rho, fixed in the body, with its derivatives:
// ρ' = w × ρ, ρ” = α × ρ + w × (w × ρ), and for two parameters α × ρ + ½(w × (k × ρ) + k × (w × ρ)).
func (b *rigid) spin(rho r3.Vec, l level, o *vjet) {
	o[0] = rho
	if l == levelValue {
		return
	}
	w := b.w[slotW]
	wr := r3.Cross(w, rho)
	o[1] = wr
	if l == levelSlope {
		return
	}
	o[2] = r3.Add(r3.Cross(b.w[slotWW], rho), r3.Cross(w, wr))
	if l == levelBend {
		return
	}
	k := b.w[slotK]
	kr := r3.Cross(k, rho)
	o[3] = kr
	o[4] = axpy(r3.Cross(b.w[slotWK], rho), 0.5, r3.Add(r3.Cross(w, kr), r3.Cross(k, wr)))
}

// twistBars are the bars of a body's place and motion: of t and its derivatives, and of the angular quantities
// (in slot0 of a small turn).
type twistBars struct {
	t, w vjet
}

// pullSpin adds to bars.w what the bars b of spin's result say, and returns the bars of rho. Without bars it returns
// those alone.
func (b *rigid) pullSpin(rho r3.Vec, bo *vjet, l level, bars *twistBars) (brho r3.Vec) {
	brho = b.pullVector(bo, l)
	if bars == nil {
		return brho
	}
	if l >= levelSlope {
		bars.w[1] = r3.Add(bars.w[1], r3.Cross(rho, bo[1]))
	}
	if l >= levelBend {
		w, q := b.w[slotW], bo[2]
		bars.w[1] = axpy(axpy(axpy(bars.w[1], r3.Dot(w, rho), q), r3.Dot(w, q), rho), -2*r3.Dot(rho, q), w)
		bars.w[2] = r3.Add(bars.w[2], r3.Cross(rho, q))
	}
	if l >= levelRack {
		w, k, q := b.w[slotW], b.w[slotK], bo[4]
		rq := r3.Dot(rho, q)
		bars.w[3] = r3.Add(bars.w[3], r3.Cross(rho, bo[3]))
		bars.w[1] = axpy(axpy(axpy(bars.w[1], 0.5*r3.Dot(k, q), rho), 0.5*r3.Dot(k, rho), q), -rq, k)
		bars.w[3] = axpy(axpy(axpy(bars.w[3], 0.5*r3.Dot(w, q), rho), 0.5*r3.Dot(w, rho), q), -rq, w)
		bars.w[4] = r3.Add(bars.w[4], r3.Cross(rho, q))
	}
	bars.w[0] = r3.Add(bars.w[0], r3.Cross(rho, brho))
	return brho
}

// pullVector returns the bars of a vector that the body turns from those of what spin makes of it.
func (b *rigid) pullVector(bo *vjet, l level) r3.Vec {
	brho := bo[0]
	if l == levelValue {
		return brho
	}
	w := b.w[slotW]
	brho = r3.Add(brho, r3.Cross(bo[1], w))
	if l == levelSlope {
		return brho
	}
	q := bo[2]
	brho = r3.Add(brho, r3.Cross(q, b.w[slotWW]))
	brho = axpy(axpy(brho, r3.Dot(w, q), w), -r3.Dot(w, w), q)
	if l == levelBend {
		return brho
	}
	k := b.w[slotK]
	brho = r3.Add(brho, r3.Cross(bo[3], k))
	q = bo[4]
	brho = r3.Add(brho, r3.Cross(q, b.w[slotWK]))
	return axpy(axpy(axpy(brho, 0.5*r3.Dot(k, q), w), 0.5*r3.Dot(w, q), k), -r3.Dot(w, k), q)
}

// shift adds the motion of t to o.
func (b *rigid) shift(l level, o *vjet) {
	o[0] = r3.Add(o[0], b.t)
	for i := 1; i < slotsOf(l); i++ {
		o[i] = r3.Add(o[i], b.v[i])
	}
}

// terms lists how slot s of a product is made: factor·(slot a of one)·(slot b of the other).
var terms = [5][]struct {
	factor float64
	a, b   int
}{
	{{1, 0, 0}},
	{{1, 0, 1}, {1, 1, 0}},
	{{1, 0, 2}, {2, 1, 1}, {1, 2, 0}},
	{{1, 0, 3}, {1, 3, 0}},
	{{1, 0, 4}, {1, 1, 3}, {1, 3, 1}, {1, 4, 0}},
}

// outward sets o to the turned x, a vector that moves within the body.
func (b *rigid) outward(x *vjet, l level, o *vjet) {
	y := b.turn(x[0])
	o[0] = y
	if l == levelValue {
		return
	}
	w := b.w[slotW]
	wy, y1 := r3.Cross(w, y), b.turn(x[1])
	o[1] = r3.Add(wy, y1)
	if l == levelSlope {
		return
	}
	o[2] = r3.Add(r3.Add(r3.Cross(b.w[slotWW], y), r3.Cross(w, axpy(wy, 2, y1))), b.turn(x[2]))
	if l == levelBend {
		return
	}
	k := b.w[slotK]
	ky, y3 := r3.Cross(k, y), b.turn(x[3])
	o[3] = r3.Add(ky, y3)
	o[4] = r3.Add(r3.Add(r3.Cross(b.w[slotWK], y), r3.Cross(w, axpy(y3, 0.5, ky))), r3.Add(r3.Cross(k, axpy(y1, 0.5, wy)), b.turn(x[4])))
}

// pullOutward is the transpose of outward: bars of x are added to bx.
func (b *rigid) pullOutward(x *vjet, bo *vjet, l level, bars *twistBars, bx *vjet) {
	if l == levelValue {
		bx[0] = r3.Add(bx[0], b.back(b.pullSpin(b.turn(x[0]), bo, l, bars)))
		return
	}
	n := slotsOf(l)
	for j := range n {
		var t vjet
		for s := range n {
			for _, m := range terms[s] {
				if m.b == j {
					t[m.a] = axpy(t[m.a], m.factor, bo[s])
				}
			}
		}
		bx[j] = r3.Add(bx[j], b.back(b.pullSpin(b.turn(x[j]), &t, l, bars)))
	}
}

// inward sets o to what outward would turn into q.
func (b *rigid) inward(q *vjet, l level, o *vjet) {
	y := q[0]
	o[0] = b.back(y)
	if l == levelValue {
		return
	}
	w := b.w[slotW]
	wy := r3.Cross(w, y)
	y1 := r3.Sub(q[1], wy)
	o[1] = b.back(y1)
	if l == levelSlope {
		return
	}
	o[2] = b.back(r3.Sub(q[2], r3.Add(r3.Cross(b.w[slotWW], y), r3.Cross(w, axpy(wy, 2, y1)))))
	if l == levelBend {
		return
	}
	k := b.w[slotK]
	ky := r3.Cross(k, y)
	y3 := r3.Sub(q[3], ky)
	o[3] = b.back(y3)
	o[4] = b.back(r3.Sub(q[4], r3.Add(r3.Add(r3.Cross(b.w[slotWK], y), r3.Cross(w, axpy(y3, 0.5, ky))), r3.Cross(k, axpy(y1, 0.5, wy)))))
}

// pullInward is the transpose of inward: bars of q are added to bq. y is inward's result.
func (b *rigid) pullInward(y, by *vjet, l level, bars *twistBars, bq *vjet) {
	// q = outward(y): its bars μ solve outwardᵀ μ = by, from the highest slot down; the body's own bars are
	// those of −outward under μ.
	if l == levelValue {
		mu := b.turn(by[0])
		bq[0] = r3.Add(bq[0], mu)
		if bars != nil {
			b.pullSpin(b.turn(y[0]), &vjet{r3.Scale(-1, mu)}, l, bars)
		}
		return
	}
	n := slotsOf(l)
	var mu, minus vjet
	for _, j := range [...]int{4, 3, 2, 1, 0} {
		if j >= n {
			continue
		}
		sum := by[j]
		var got vjet
		b.pullOutward(y, &mu, l, nil, &got)
		mu[j] = b.turn(r3.Sub(sum, got[j]))
	}
	for s := range n {
		bq[s] = r3.Add(bq[s], mu[s])
		minus[s] = r3.Scale(-1, mu[s])
	}
	if bars == nil {
		return
	}
	var unused vjet
	b.pullOutward(y, &minus, l, bars, &unused)
}

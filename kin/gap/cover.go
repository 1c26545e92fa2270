package gap

import "math"

// look is what one place of a circle tells of all of it: the distance d there, and by how much it may fall on the way. For the sine σ and the versine κ
// of the angle from there, nothing is nearer than
//
//	low + slope·σ − bulge·κ
//
// Outside the hole, the plane through the nearest point of the ring has the ring on one side. Over the hole and in it the bowl does so that view.hole
// speaks of; along the circle ρ² grows by no more than what its slope says, and 2·r²·κ. near says more, of what is near.
type look struct {
	d, low, slope, bulge float64

	r, rho, qr, qs, nr float64
	bend               float64 // the bulge that the plane through the nearest point has
	along, up          float64 // how far the circle goes around the ring's axis with the sine, and with the versine back
}

// look looks at the place of a cosine and a sine.
func (m *rim) look(k *section, c, s float64) (l look) {
	ux, uy, uz := m.rc*c, m.r*s, -m.rs*c
	vx, vy, vz := -m.rc*s, m.r*c, m.rs*s
	x, y, z := m.x+ux, m.y+uy, m.z+uz
	rho := math.Sqrt(x*x+y*y) + 1e-300 // on the axis as well there is a direction off it, if no length
	qr, qs, nr := rho-k.ro, math.Abs(z)-k.h, 1.0
	if in := k.ri - rho; in > qr {
		qr, nr = in, -1
	}
	if qr <= qs && qr <= 0 {
		nz := math.Copysign(1, z)
		l.d, l.low, l.slope, l.bulge = qs, qs, nz*vz, nz*uz
		return l
	}
	nz := 0.0
	l.d = qr
	if qs > 0 {
		l.d = math.Sqrt(qr*qr + qs*qs)
		f := 1 / l.d
		nr *= f * qr
		nz = math.Copysign(f*qs, z)
	}
	l.low, l.r, l.rho, l.qr, l.qs, l.nr = l.d, m.r, rho, qr, qs, nr
	f := 1 / rho
	l.along, l.up = f*(x*vy-y*vx), f*(x*uy-y*ux)
	if r := k.ri / 16; nr < 0 && rho < r {
		// So near the axis, the bowl of a point that is farther off it.
		l.low += nr * (r - rho) * (r - rho) / (2 * r)
		f = 1 / r
	}
	g := nr * f
	l.slope = g*(vx*x+vy*y) + nz*vz
	l.bend = g*(ux*x+uy*y) + nz*uz
	l.bulge = l.bend
	if nr < 0 {
		l.bulge -= g * m.r * m.r
	}
	return l
}

// near says more of what is no farther to both sides than by an angle of which half has the tangent w. There the circle goes around the axis by b,
//
//	b = along·σ − up·κ,   2·κ·least ≤ b² ≤ 2·κ·most
//
// so that, with a the way off the axis, ρ is no less than ρ0 + a + b²/(2·ρ) of the greatest ρ, and no more than ρ0 + a + b²/(2·(ρ0 + a)). Over an edge the
// square of the distance is the sum of both squares, of which the circle leaves 2·r²·κ − b².
func (l *look) near(w, best float64) (n look) {
	n = *l
	if l.nr == 0 {
		return n
	}
	f := 1 / (1 + w*w)
	far, sine, versine := 2*w*l.r, 2*w*f, 2*w*w*f
	both := math.Abs(l.along*l.up) * sine
	most := l.along*l.along + both + 0.5*l.up*l.up*versine
	edge := l.qs > far && l.qr > far
	if l.nr > 0 {
		least := max(l.along*l.along*(1-0.5*versine)-both, 0) / (l.rho + far)
		n.bulge = l.bend - l.nr*least
		if x := l.bend - ((l.qr-far)*least+l.r*l.r-most)/l.d; edge && n.bulge > 0 && x < n.bulge {
			n.bulge = x
			n.low = best + (l.d-best)*(l.d+best)/(2*l.d)
		}
		return n
	}
	if l.rho <= far || l.low < l.d {
		return n
	}
	most, edge = most/(l.rho-far), edge && l.r*l.r > most
	n.bulge = min(l.bulge, l.bend-l.nr*most)
	if x := l.bend + ((l.qr+far)*most+most*(l.rho-far)-l.r*l.r)/l.d; edge && n.bulge > 0 && x < n.bulge {
		n.bulge = x
		n.low = best + (l.d-best)*(l.d+best)/(2*l.d)
	}
	return n
}

// bare returns between which tangents of half the angle from there something may be nearer than best: from and to, by way of the opposite place if from is
// greater; false if nothing is.
func (l *look) bare(best float64) (from, to float64, ok bool) {
	// With σ = 2u/(1 + u²) and κ = 2u²/(1 + u²) it is where a·u² + 2·slope·u + e is negative.
	e := max(l.low-best, 0) + proof
	a := e - 2*l.bulge
	disc := l.slope*l.slope - a*e
	if disc <= 0 {
		return 0, 0, false
	}
	q := -l.slope - math.Copysign(math.Sqrt(disc), l.slope)
	from, to = q/a, e/q
	if (from > to) == (a > 0) {
		from, to = to, from
	}
	return from, to, true
}

// open is bare with what near says of what is within the tangent w.
func (l *look) open(w, best float64) (from, to float64, ok bool) {
	from, to, ok = l.bare(best)
	if !ok || from < to || from >= w && to <= -w {
		return from, to, ok
	}
	n := l.near(w, best)
	f, t, ok := n.bare(best)
	switch {
	case !ok:
		f, t = w, -w
	case f < t && f > 0:
		t = -w
	case f < t:
		f = w
	}
	return max(from, min(f, w)), min(to, max(t, -w)), true
}

// arc is a part of a circle about the place with the cosine c and the sine s, to both sides by an angle of which half has the tangent w.
type arc struct{ c, s, w float64 }

// part returns the part from one tangent of half the angle from the middle to another that is greater.
func (a *arc) part(from, to float64) arc {
	root := math.Sqrt((1 + from*from) * (1 + to*to))
	mid := (from + to) / (1 - from*to + root)
	w := (to - from) / (1 + from*to + root)
	f := 1 / (1 + mid*mid)
	cos, sin := f*(1-mid*mid), 2*f*mid
	return arc{a.c*cos - a.s*sin, a.s*cos + a.c*sin, w}
}

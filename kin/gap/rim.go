package gap

import "math"

// rim is an edge of the other ring as a ring sees it: (x + rc·C, y + r·S, z − rs·C), from the angle with the cosine C and the sine S.
type rim struct {
	x, y, z, r, rc, rs float64
}

// rim returns the other's edge circle of radius r at height h.
func (v *view) rim(r, h float64) rim {
	return rim{v.c[0] + h*v.sin, v.c[1], v.c[2] + h*v.cos, r, r * v.cos, r * v.sin}
}

// apart returns a lower bound of the distance between the circle and the ring.
func (m *rim) apart(k *section) float64 {
	d := math.Abs(m.z) - math.Abs(m.rs) - k.h
	rho := math.Sqrt(m.x*m.x + m.y*m.y)
	if e := rho - m.r - k.ro; e > d {
		d = e
	}
	if e := k.ri - rho - m.r; e > d {
		d = e
	}
	// Seen along the axis the circle is an ellipse of half axes r and |rc|, which may go around the ring.
	if e := math.Abs(m.rc) - rho - k.ro; e > d {
		d = e
	}
	return d
}

// at returns a place of the circle.
func (m *rim) at(c, s float64) (x, y, z float64) { return m.x + m.rc*c, m.y + m.r*s, m.z - m.rs*c }

// settle goes from a place of the circle to the nearest one by Newton's steps; false if they lead into the ring.
func (m *rim) settle(k *section, c, s float64) (cos, sin float64, ok bool) {
	for range 12 {
		x, y, z := m.at(c, s)
		x1, y1, z1 := -m.rc*s, m.r*c, m.rs*s
		x2, y2, z2 := m.rc*c, m.r*s, m.rs*c
		slope, curve, ok := k.newton(x*x+y*y, x*x1+y*y1, x1*x1+y1*y1-x*x2-y*y2, z, z1, z2)
		if !ok {
			return c, s, false
		}
		// Where the distance bends down, a step downhill.
		w := -slope / math.Abs(curve)
		if w > 0.5 {
			w = 0.5
		} else if w < -0.5 {
			w = -0.5
		} else if w != w {
			return c, s, false
		}
		// On by the angle of tangent w, and back to the circle: by 1/√(1 + w²) but for w⁶, and for what the steps before left of that.
		f := (1 - w*w*(0.5-0.375*w*w)) * (1.5 - 0.5*(c*c+s*s))
		c, s = f*(c-w*s), f*(s+w*c)
		if math.Abs(w)*m.r < fine {
			break
		}
	}
	f := 1 / math.Sqrt(c*c+s*s)
	return f * c, f * s, true
}

// octants are the cosines and sines of four places of a circle, every second of the compass; the opposite ones are the other four.
var octants = [4][2]float64{compass[0], compass[2], compass[4], compass[6]}

// lowest looks at eight places of a circle and returns the one that is nearest to the ring, or deepest in it, if it is nearer than d.
func (m *rim) lowest(k *section, d float64) (least, c, s float64) {
	mid, half := 0.0, k.ro
	if k.ri > 0 {
		mid, half = 0.5*(k.ro+k.ri), 0.5*(k.ro-k.ri)
	}
	for i := range octants {
		c0, s0 := octants[i][0], octants[i][1]
		dx, dy, dz := m.rc*c0, m.r*s0, -m.rs*c0
		x, y := m.x+dx, m.y+dy
		v, w := m.x-dx, m.y-dy
		p, q := math.Sqrt(x*x+y*y), math.Sqrt(v*v+w*w)
		if e := offRectangle(math.Abs(p-mid)-half, math.Abs(m.z+dz)-k.h, d); e < d {
			d, c, s = e, c0, s0
		}
		if e := offRectangle(math.Abs(q-mid)-half, math.Abs(m.z-dz)-k.h, d); e < d {
			d, c, s = e, -c0, -s0
		}
	}
	return d, c, s
}

// offRectangle returns the distance from a rectangle of what is so far beyond its sides and its ends, or what is no less than d.
func offRectangle(qr, qs, d float64) float64 {
	e := qr
	if qs > qr {
		e = qs
	}
	if e < d && qr > 0 && qs > 0 {
		return math.Sqrt(qr*qr + qs*qs)
	}
	return e
}

// sink goes from a place of the circle in the ring down to the deepest around it. The distance is the greatest of that to the outer and the inner
// cylinder and to both flats: it is least where one of them is, or on a ridge, where one falls and another rises. Each step goes to the lowest of the
// greatest one by Newton, or to the first of the others that rises. False if that does not end at a deeper place.
func (m *rim) sink(k *section, c, s float64) (lo, hi place, mix float64, ok bool) {
	first := 0.0
	for i := range 20 {
		x, y, z := m.at(c, s)
		x1, y1, z1 := -m.rc*s, m.r*c, m.rs*s
		x2, y2, z2 := m.rc*c, m.r*s, m.rs*c
		rr := x*x + y*y
		rho := math.Sqrt(rr)
		g := 1 / rho
		rise := g * (x*x1 + y*y1)
		bend := g * (x1*x1 + y1*y1 - x*x2 - y*y2 - rise*rise)
		f := [4]float64{rho - k.ro, k.ri - rho, z - k.h, -z - k.h}
		slope := [4]float64{rise, -rise, z1, -z1}
		curve := [4]float64{bend, -bend, z2, -z2}
		top := 0
		for j := 1; j < 4; j++ {
			if f[j] > f[top] {
				top = j
			}
		}
		if i == 0 {
			first = f[top]
		}
		// Of those that are as great here, the one that falls least leads on; if it rises, this is a ridge.
		way := -math.Copysign(1, slope[top])
		lead := top
		for j := range f {
			if f[j] >= f[top]-1e-12*(k.ro+k.h) && way*slope[j] > way*slope[lead] {
				lead = j
			}
		}
		ridge, other := way*slope[lead] >= 0 && (lead != top || curve[top] >= 0), lead
		w := 0.0
		if !ridge {
			top = lead
			down := slope[top]
			w = -down / math.Abs(curve[top])
			if !(math.Abs(w) < 0.4) || curve[top] < 0 && math.Abs(w) < 0.1 {
				w = math.Copysign(0.4, way) // off a crest as well
			}
			for j := range f {
				// Where this one is as great, on the way down.
				if gain := slope[j] - down; j != top && gain*w > 0 {
					if at := (f[top] - f[j]) / gain; math.Abs(at) < math.Abs(w) {
						w = at
					}
				}
			}
		}
		if math.Abs(w)*m.r < 1e-10 {
			if !(f[top] <= first) || f[top] >= -met {
				return lo, hi, 0, false
			}
			n := [4][3]float64{{g * x, g * y, 0}, {-g * x, -g * y, 0}, {0, 0, 1}, {0, 0, -1}}
			down := slope[top]
			lo = place{cos: c, sin: s, d: f[top], slope: down, nx: n[top][0], ny: n[top][1], nz: n[top][2]}
			if other == top || slope[other]*down >= 0 {
				return lo, lo, 0, math.Abs(down) < 1e-6*m.r
			}
			hi = place{cos: c, sin: s, d: f[top], slope: slope[other], nx: n[other][0], ny: n[other][1], nz: n[other][2]}
			return lo, hi, down / (down - slope[other]), true
		}
		e := 1 / math.Sqrt((1+w*w)*(c*c+s*s))
		c, s = e*(c-w*s), e*(s+w*c)
	}
	return lo, hi, 0, false
}

// hoop returns the circle for a search.
func (m *rim) hoop(k *section) hoop {
	return hoop{c: [3]float64{m.x, m.y, m.z}, f: [3]float64{m.rc, 0, -m.rs}, g: [3]float64{0, m.r, 0}, r: m.r, ring: k}
}

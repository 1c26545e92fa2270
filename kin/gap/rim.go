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

// settle goes from a place of the circle to the nearest one by Newton's steps; false if they lead into the ring, and then the place is there.
func (m *rim) settle(k *section, c, s float64) (cos, sin float64, ok bool) {
	for range 12 {
		x, y, z := m.at(c, s)
		x1, y1, z1 := -m.rc*s, m.r*c, m.rs*s
		x2, y2, z2 := m.rc*c, m.r*s, m.rs*c
		var slope, curve, w float64
		slope, curve, ok = k.newton(x*x+y*y, x*x1+y*y1, x1*x1+y1*y1-x*x2-y*y2, z, z1, z2)
		// Where the distance bends down, a step downhill.
		if w = -slope / math.Abs(curve); w > 0.5 {
			w = 0.5
		} else if w < -0.5 {
			w = -0.5
		} else if w != w {
			ok = false
		}
		if !ok {
			break
		}
		// On by the angle of tangent w, and back to the circle: by 1/√(1 + w²) but for w⁶, and for what the steps before left of that.
		f := (1 - w*w*(0.5-0.375*w*w)) * (1.5 - 0.5*(c*c+s*s))
		c, s = f*(c-w*s), f*(s+w*c)
		if math.Abs(w)*m.r < settled {
			break
		}
	}
	f := 1 / math.Sqrt(c*c+s*s)
	return f * c, f * s, ok
}

// settled is how short the last of Newton's steps is, in mm. What they find is proved, or its slope is looked at.
const settled = 1e-4

// hoop returns the circle for a search.
func (m *rim) hoop(k *section) hoop {
	return hoop{c: [3]float64{m.x, m.y, m.z}, f: [3]float64{m.rc, 0, -m.rs}, g: [3]float64{0, m.r, 0}, r: m.r, ring: k}
}

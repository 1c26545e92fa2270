package gap

import "math"

// In a solid the distance is the greatest of those to its surfaces: to the outer and the inner cylinder and to both flats of a ring, to the six faces of
// a box. Along a circle it is least where one of them is, or on a ridge, where one falls and another rises.

// fall is the way down from a place of a circle by the distances from some surfaces there, with their slopes and curvatures by the angle. It returns the tangent of the
// angle to the lowest of the greatest of them by Newton, or to where another that falls less is as great: no angle on a ridge of two of them, top and
// other. Those that differ by no more than even are as great.
func fall(d, slope, curve []float64, even float64) (w float64, top, other int) {
	for j := range d {
		if d[j] > d[top] {
			top = j
		}
	}
	// Of those that are as great here, the one that falls least leads on; if it rises, this is a ridge.
	way := -math.Copysign(1, slope[top])
	lead := top
	for j := range d {
		if d[j] >= d[top]-even && way*slope[j] > way*slope[lead] {
			lead = j
		}
	}
	if way*slope[lead] >= 0 && (lead != top || curve[top] >= 0) {
		return 0, top, lead
	}
	down := slope[lead]
	w = -down / math.Abs(curve[lead])
	if !(math.Abs(w) < 0.4) || curve[lead] < 0 && math.Abs(w) < 0.1 {
		w = math.Copysign(0.4, way) // off a crest as well
	}
	for j := range d {
		// Where this one is as great, on the way down.
		if gain := slope[j] - down; j != lead && gain*w > 0 {
			if at := (d[lead] - d[j]) / gain; math.Abs(at) < math.Abs(w) {
				w = at
			}
		}
	}
	return w, lead, lead
}

// sunk returns the deepest place, and the other side of a ridge, from what fall found at a cosine and a sine: n are the outward directions of the surfaces. False if it
// is no place that is deepest around.
func sunk(c, s, r float64, d, slope []float64, n [][3]float64, top, other int) (lo, hi place, mix float64, ok bool) {
	down := slope[top]
	lo = place{cos: c, sin: s, d: d[top], slope: down, nx: n[top][0], ny: n[top][1], nz: n[top][2]}
	if other == top || slope[other]*down >= 0 {
		return lo, lo, 0, math.Abs(down) < 1e-6*r
	}
	hi = place{cos: c, sin: s, d: d[top], slope: slope[other], nx: n[other][0], ny: n[other][1], nz: n[other][2]}
	return lo, hi, down / (down - slope[other]), true
}

// sinkings is how many steps a way down may have, and still how short in mm the last one is.
const (
	sinkings = 20
	still    = 1e-10
)

// on goes on from a place of a circle by the angle of tangent w.
func on(c, s, w float64) (cos, sin float64) {
	e := 1 / math.Sqrt((1+w*w)*(c*c+s*s))
	return e * (c - w*s), e * (s + w*c)
}

// sink goes from a place of the circle in the ring, or on a sheet, down to the deepest around it. False if that does not end at a deeper place.
func (m *rim) sink(k *section, c, s float64) (lo, hi place, mix float64, ok bool) {
	first := 0.0
	for i := range sinkings {
		x, y, z := m.at(c, s)
		x1, y1, z1 := -m.rc*s, m.r*c, m.rs*s
		x2, y2, z2 := m.rc*c, m.r*s, m.rs*c
		rho := math.Sqrt(x*x + y*y)
		g := 1 / rho
		rise := g * (x*x1 + y*y1)
		bend := g * (x1*x1 + y1*y1 - x*x2 - y*y2 - rise*rise)
		d := [4]float64{rho - k.ro, k.ri - rho, z - k.h, -z - k.h}
		slope := [4]float64{rise, -rise, z1, -z1}
		curve := [4]float64{bend, -bend, z2, -z2}
		w, top, other := fall(d[:], slope[:], curve[:], 1e-12*(k.ro+k.h))
		if i == 0 {
			first = max(d[0], d[1], d[2], d[3])
		}
		if math.Abs(w)*m.r < still {
			if !(d[top] <= first) || d[top] > met || d[top] >= -met && !k.flat() {
				return lo, hi, 0, false
			}
			n := [4][3]float64{{g * x, g * y, 0}, {-g * x, -g * y, 0}, {0, 0, 1}, {0, 0, -1}}
			return sunk(c, s, m.r, d[:], slope[:], n[:], top, other)
		}
		c, s = on(c, s, w)
	}
	return lo, hi, 0, false
}

// faces are the outward directions of a box's faces in its own axes.
var faces = [6][3]float64{{1, 0, 0}, {-1, 0, 0}, {0, 1, 0}, {0, -1, 0}, {0, 0, 1}, {0, 0, -1}}

// sink goes from a place of the circle in the box down to the deepest around it. False if that does not end at a deeper place.
func (h *hoop) sink(c, s float64) (lo, hi place, mix float64, ok bool) {
	first := 0.0
	for i := range sinkings {
		var d, slope, curve [6]float64
		for j, half := range h.box.h {
			out := c*h.f[j] + s*h.g[j]
			x, rise := h.c[j]+out, c*h.g[j]-s*h.f[j]
			d[2*j], slope[2*j], curve[2*j] = x-half, rise, -out
			d[2*j+1], slope[2*j+1], curve[2*j+1] = -x-half, -rise, out
		}
		w, top, other := fall(d[:], slope[:], curve[:], 1e-12*(h.r+h.box.h[0]+h.box.h[1]+h.box.h[2]))
		if i == 0 {
			first = max(d[0], d[1], d[2], d[3], d[4], d[5])
		}
		if math.Abs(w)*h.r < still {
			if !(d[top] <= first) || d[top] >= -met {
				return lo, hi, 0, false
			}
			return sunk(c, s, h.r, d[:], slope[:], faces[:], top, other)
		}
		c, s = on(c, s, w)
	}
	return lo, hi, 0, false
}

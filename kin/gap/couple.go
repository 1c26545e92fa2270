package gap

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// view is how one ring sees another: in axes of its own, of which z is its axis and y is square to both axes. The other's centre is at c
// and its axis at (sin, 0, cos), so that its own x is at (cos, 0, −sin), and y is the same for both.
type view struct {
	own, other *section
	x          r3.Vec
	y          r3.Vec
	c          [3]float64
	cos, sin   float64
	swapped    bool // the other is the second solid
}

// couple is how two rings see one another: the second the first, and the first the second.
type couple [2]view

// coupled returns how the rings a and b see one another.
func coupled(a, b *section) couple {
	y := r3.Cross(b.e, a.e)
	sin := length(y)
	switch {
	case sin > 1e-3:
		y = r3.Scale(1/sin, y)
	case sin > 1e-14:
		// What is left has lost digits: it is made square to both again.
		y = r3.Scale(1/sin, y)
		y = axpy(y, -r3.Dot(y, a.e), a.e)
		y = axpy(y, -r3.Dot(y, b.e), b.e)
		y = r3.Scale(1/length(y), y)
	default:
		y, sin = square(b.e), 0
	}
	cos := r3.Dot(a.e, b.e)
	xa, xb := r3.Cross(y, a.e), r3.Cross(y, b.e)
	d := r3.Sub(a.c, b.c)
	up := r3.Dot(y, d)
	return couple{
		{own: b, other: a, x: xb, y: y, c: [3]float64{r3.Dot(xb, d), up, r3.Dot(b.e, d)}, cos: cos, sin: sin},
		{own: a, other: b, x: xa, y: y, c: [3]float64{-r3.Dot(xa, d), -up, -r3.Dot(a.e, d)}, cos: cos, sin: -sin, swapped: true},
	}
}

// sees returns where a point is that the other ring sees at x, y, z.
func (v *view) sees(x, y, z float64) (float64, float64, float64) {
	return v.c[0] + v.cos*x + v.sin*z, v.c[1] + y, v.c[2] - v.sin*x + v.cos*z
}

// world returns a vector in the axes of the view as it stands.
func (v *view) world(x, y, z float64) r3.Vec {
	return axpy(axpy(r3.Scale(x, v.x), y, v.y), z, v.own.e)
}

// hold returns the nearest point of the solid cylinder around the ring to one in its axes, and whether that was beyond its side, and beyond its end.
func (k *section) hold(x, y, z float64) (qx, qy, qz float64, side, end bool) {
	if rr := x*x + y*y; rr > k.ro*k.ro {
		g := k.ro / math.Sqrt(rr)
		x, y, side = g*x, g*y, true
	}
	if z > k.h {
		z, end = k.h, true
	} else if z < -k.h {
		z, end = -k.h, true
	}
	return x, y, z, side, end
}

// rim is an edge of the other ring as a ring sees it: (x + rc·C, y + r·S, z − rs·C), from the angle with the cosine C and the sine S.
type rim struct {
	x, y, z, r, rc, rs float64
}

// rim returns the other's edge circle of radius r at height h.
func (v *view) rim(r, h float64) rim {
	return rim{v.c[0] + h*v.sin, v.c[1], v.c[2] + h*v.cos, r, r * v.cos, r * v.sin}
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

// prove takes a place of a circle, at a cosine and sine, for the nearest points of both rings, and proves it; false if it cannot. It returns the distance
// there, and sets t to it; infinite where it is none.
func (v *view) prove(m *rim, c, s float64, t *Touch) (d float64, ok bool) {
	k := v.own
	x, y, z := m.at(c, s)
	rho := math.Sqrt(x*x + y*y)
	qr, qs := rho-k.ro, math.Abs(z)-k.h
	if rho < k.ri {
		return v.hole(m, c, s, x, y, z, rho, t)
	}
	var nr, nz float64
	switch {
	case qr > 0 && qs > 0:
		d = math.Sqrt(qr*qr + qs*qs)
		f := 1 / d
		nr, nz = f*qr, math.Copysign(f*qs, z)
	case qr > qs:
		d, nr = qr, 1
	default:
		d, nz = qs, math.Copysign(1, z)
	}
	if d <= met {
		return math.Inf(1), false
	}
	nx, ny := 0.0, 0.0
	if nr > 0 {
		g := nr / rho
		nx, ny = g*x, g*y
	}
	// The plane through the ring's point, square to n, has the ring on one side. The other is beyond it by d if p is its nearest.
	o := v.other
	ox, oz := v.cos*nx-v.sin*nz, v.sin*nx+v.cos*nz
	reach := o.ro*math.Sqrt(ox*ox+ny*ny) + o.h*math.Abs(oz)
	v.touch(x, y, z, nx, ny, nz, d, t)
	return d, nx*(x-v.c[0])+ny*(y-v.c[1])+nz*(z-v.c[2]) <= proof-reach
}

// touch sets t to the place (x, y, z) of the other ring, d along n from this one.
func (v *view) touch(x, y, z, nx, ny, nz, d float64, t *Touch) {
	k, o := v.own, v.other
	t.Gap, t.mix = d-k.round-o.round, 0
	w := t.witness(r3.Add(k.c, v.world(x, y, z)), v.world(nx, ny, nz), o.round, v.swapped)
	t.A, t.B, t.N = w.a, w.b, w.n
}

// hole is prove of a place within ri of the axis. The distance to the ring from a point at ρ and s is at least
//
//	cosφ·(ri − ρ) + sinφ·(|s| − h),   ρ ≤ (ρ² + ρ0²)/(2·ρ0)
//
// whatever φ and ρ0 are, and with those of the nearest point it is just its distance there. So where it is d there is a paraboloid about the
// axis, or a cylinder: the other ring is at least d away if both of its outer edges are in it.
func (v *view) hole(m *rim, c, s, x, y, z, rho float64, t *Touch) (d float64, ok bool) {
	k, o := v.own, v.other
	qr, qs := k.ri-rho, math.Abs(z)-k.h
	cosphi, sinphi := 1.0, 0.0
	d = qr
	if qs > 0 {
		d = math.Sqrt(qr*qr + qs*qs)
		cosphi, sinphi = qr/d, qs/d
	}
	if d <= met || rho < 1e-3*k.ri {
		return math.Inf(1), false
	}
	g := -cosphi / rho
	v.touch(x, y, z, g*x, g*y, math.Copysign(sinphi, z), d, t)
	if cosphi < 1e-3 {
		return d, false
	}
	w := bowl{math.Copysign(sinphi/cosphi*rho, z), 0}
	w.most = 0.5*rho*rho - w.tilt*z + proof*rho/cosphi
	for _, h := range [2]float64{o.h, -o.h} {
		n := v.rim(o.ro, h)
		if n == *m && !w.holds(v, m, c, s) || n != *m && !w.around(v, &n) {
			return d, false
		}
	}
	return d, true
}

// bowl is the paraboloid ρ²/2 − tilt·s ≤ most about a ring's axis, or a cylinder.
type bowl struct{ tilt, most float64 }

// On a circle ρ²/2 − tilt·s is half of r² − sin²·u² + 2·(a·v + b·u) and of what is fixed, with u = r·C and v = r·S.
func (w *bowl) terms(v *view, m *rim) (a, b, fixed float64) {
	return m.y, m.x*v.cos + w.tilt*v.sin, m.x*m.x + m.y*m.y - 2*w.tilt*m.z
}

// around tells whether a circle is in the bowl.
func (w *bowl) around(v *view, m *rim) bool {
	a, b, fixed := w.terms(v, m)
	_, _, top := farthestOnCircle(a, b, v.sin*v.sin, m.r)
	return 0.5*(fixed+top) <= w.most
}

// holds does so from where the circle is nearest to the bowl's outside, or may be: that place tells the multiplier.
func (w *bowl) holds(v *view, m *rim, c, s float64) bool {
	a, b, fixed := w.terms(v, m)
	tt := v.sin * v.sin
	mult := b/(m.r*c) - tt
	if math.Abs(s) > math.Abs(c) {
		mult = a / (m.r * s)
	}
	return mult >= 0 && 0.5*(fixed+bound(a, b, tt, m.r, mult)) <= w.most
}

// bound is farthestOnCircle's top for a multiplier 1 + m.
func bound(a, b, t, r, m float64) float64 {
	top := (1 + m) * r * r
	if a != 0 {
		top += a * a / m
	}
	if b != 0 {
		top += b * b / (m + t)
	}
	return top
}

// outside measures two rings whose nearest points are on the outside of both; false if it cannot prove that they are.
func (p *couple) outside(t *Touch) bool {
	a, b := p[1].own, p[0].own
	// In the axes of a: a point of b, and the nearest to it of a; in the axes of b, that one, and the nearest to it of b.
	var ax, ay, az, bx, by, bz float64
	var sideA, endA, sideB, endB bool
	x, y, z := p[1].c[0], p[1].c[1], p[1].c[2]
	for range 2 {
		ax, ay, az = x, y, z
		x, y, z, sideA, endA = a.hold(x, y, z)
		if !sideA && !endA {
			return false // a point in common
		}
		bx, by, bz = p[0].sees(x, y, z)
		x, y, z, sideB, endB = b.hold(bx, by, bz)
		if !sideB && !endB {
			return false
		}
		x, y, z = p[1].sees(x, y, z)
	}
	// Ends that face one another are left to the search. Two sides are nearest where their axes pass, anything else on an edge.
	switch {
	case !sideA && !sideB:
		return false
	case sideA && !endA && sideB && !endB && p[0].crossed(t):
		return true
	case endB && sideB || !endA:
		return p[1].from(bx, by, bz, t)
	}
	return p[0].from(ax, ay, az, t)
}

// from looks for the place of an outer edge of the other ring that is nearest to this one, from a point that the other sees at x, y, z.
func (v *view) from(x, y, z float64, t *Touch) bool {
	rho := math.Sqrt(x*x + y*y)
	if rho < 1e-6*v.other.ro {
		return false
	}
	m := v.rim(v.other.ro, math.Copysign(v.other.h, z))
	c, s, ok := m.settle(v.own, x/rho, y/rho)
	if ok {
		_, ok = v.prove(&m, c, s, t)
	}
	return ok
}

// crossed measures two cylinders that pass one another within both.
func (v *view) crossed(t *Touch) bool {
	if v.sin < 1e-6 {
		return false
	}
	at := -v.c[0] / v.sin
	z := v.c[2] + at*v.cos
	k, o := v.own, v.other
	if math.Abs(at) > o.h || math.Abs(z) > k.h {
		return false
	}
	side := math.Copysign(1, v.c[1])
	d := math.Abs(v.c[1]) - k.ro - o.ro
	if d <= met {
		return false
	}
	v.touch(0, side*(k.ro+d), z, 0, side, 0, d, t)
	return true
}

// octants are the cosines and sines of four places of a circle; the opposite ones are the other four.
var octants = [4][2]float64{{1, 0}, {math.Sqrt2 / 2, math.Sqrt2 / 2}, {0, 1}, {-math.Sqrt2 / 2, math.Sqrt2 / 2}}

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
		if e := apart2(math.Abs(p-mid)-half, math.Abs(m.z+dz)-k.h, d); e < d {
			d, c, s = e, c0, s0
		}
		if e := apart2(math.Abs(q-mid)-half, math.Abs(m.z-dz)-k.h, d); e < d {
			d, c, s = e, -c0, -s0
		}
	}
	return d, c, s
}

// apart2 returns the distance from a rectangle of what is so far beyond its sides and its ends, or what is no less than d.
func apart2(qr, qs, d float64) float64 {
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
		down := slope[top]
		w := 0.0
		if down != 0 {
			if w = -down / math.Abs(curve[top]); !(math.Abs(w) < 0.4) {
				w = math.Copysign(0.4, -down)
			}
		}
		other := -1
		for j := range f {
			// Where this one is as great, on the way down.
			if gain := slope[j] - down; j != top && gain*w > 0 {
				if at := (f[top] - f[j]) / gain; math.Abs(at) < math.Abs(w) {
					w, other = at, j
				}
			}
		}
		if math.Abs(w)*m.r < 1e-10 {
			if !(f[top] <= first) || f[top] >= -met {
				return lo, hi, 0, false
			}
			n := [4][3]float64{{g * x, g * y, 0}, {-g * x, -g * y, 0}, {0, 0, 1}, {0, 0, -1}}
			lo = place{cos: c, sin: s, d: f[top], slope: down, nx: n[top][0], ny: n[top][1], nz: n[top][2]}
			if other < 0 || slope[other]*down >= 0 {
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

// lowest is the nearest of some places of both rings' edges to the other ring, or the deepest in it.
type lowest struct {
	d, c, s float64
	rim     rim
	view    int
}

// edges looks at both edges of radius r of the other ring.
func (l *lowest) edges(p *couple, i int, r float64) {
	v := &p[i]
	for _, h := range [2]float64{v.other.h, -v.other.h} {
		m := v.rim(r, h)
		if m.apart(v.own) >= l.d {
			continue
		}
		if d, c, s := m.lowest(v.own, l.d); d < l.d {
			*l = lowest{d, c, s, m, i}
		}
	}
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

// through measures two rings of which one may be in the hole of the other, or in the other, from places of their edges; false if it cannot prove what it
// finds. Then t has it, and the distance is returned: infinite if there is nothing.
func (p *couple) through(t *Touch) (d float64, ok bool) {
	l := lowest{d: math.Inf(1)}
	for i := range p {
		l.edges(p, i, p[i].other.ro)
	}
	if l.d > met {
		v := &p[l.view]
		if c, s, ok := l.rim.settle(v.own, l.c, l.s); ok {
			if d, ok = v.prove(&l.rim, c, s, t); ok || d < math.Inf(1) {
				return d, ok
			}
			l.c, l.s, l.d = c, s, v.own.distance(l.rim.at(c, s))
		}
	}
	for i := range p {
		if r := p[i].other.ri; r > 0 {
			l.edges(p, i, r)
		}
	}
	d = p[l.view].descend(&l, math.Inf(1), t)
	return d, d < -met
}

// hoop returns the circle for a search.
func (m *rim) hoop(k *section) hoop {
	return hoop{c: [3]float64{m.x, m.y, m.z}, f: [3]float64{m.rc, 0, -m.rs}, g: [3]float64{0, m.r, 0}, r: m.r, ring: k}
}

// descend goes down from a place to the nearest or deepest around it, and sets t if that is nearer than best. It returns the lesser.
func (v *view) descend(l *lowest, best float64, t *Touch) float64 {
	h := l.rim.hoop(v.own)
	if l.d < -met {
		if lo, hi, mix, ok := l.rim.sink(v.own, l.c, l.s); ok && lo.d < best {
			v.found(&h, &lo, &hi, mix, t)
			return lo.d
		}
	}
	var at place
	h.at(l.c, l.s, &at)
	lo, hi, mix := h.descend(&at, best)
	if lo.d >= best {
		return best
	}
	v.found(&h, &lo, &hi, mix, t)
	return lo.d
}

// found sets t to a place of an edge of the other ring.
func (v *view) found(h *hoop, lo, hi *place, mix float64, t *Touch) {
	h.touch(lo, hi, mix, v.other.round, v.own.round, v.own.c, &[3]r3.Vec{v.x, v.y, v.own.e}, v.swapped, t)
}

// over looks at the nearest place of a circle that is over the hole, takes it if it is nearer than best, and proves by a bowl of this circle alone that no other
// is nearer then; false if it cannot.
func (v *view) over(m *rim, best float64, t *Touch) (least float64, ok bool) {
	k := v.own
	if m.x*m.x+m.y*m.y >= k.ri*k.ri {
		return best, false
	}
	d, c, s := m.lowest(k, math.Inf(1))
	if d <= met {
		return best, false
	}
	if c, s, ok = m.settle(k, c, s); !ok {
		return best, false
	}
	x, y, z := m.at(c, s)
	rr := x*x + y*y
	rho := math.Sqrt(rr)
	if rho >= k.ri {
		return best, false
	}
	d, nx, ny, nz := k.point(x, y, z)
	if d < best {
		best = d
		v.touch(x, y, z, nx, ny, nz, d, t)
	}
	cosphi := min((k.ri-rho)/d, 1)
	if d <= met || cosphi < 1e-3 || rho < 1e-3*k.ri {
		return best, false
	}
	w := bowl{rho * nz / cosphi, 0}
	w.most = 0.5*rr - w.tilt*z + (d-best+proof)*rho/cosphi
	return best, w.holds(v, m, c, s)
}

// search measures two rings wherever they are, from the distance of something that t has. The nearest points of separate ones are on an edge circle of
// one of them, or on both outer cylinders, where the common normal of the axes leaves them. A circle's nearest place is looked for from posts around it,
// but where it is over the hole and can be proved.
func (p *couple) search(best float64, t *Touch) {
	a, b := p[1].own, p[0].own
	if best = crossedRings(a, b, best, t); best < -met {
		return
	}
	for i := range p {
		v := &p[i]
		for c := range v.other.circles() {
			m := v.rim(v.other.circle(c))
			if m.apart(v.own) >= best {
				continue
			}
			var ok bool
			if best, ok = v.over(&m, best, t); ok {
				continue
			}
			h := m.hoop(v.own)
			if lo, hi, mix, found := h.nearest(best); found {
				best = lo.d
				v.found(&h, &lo, &hi, mix, t)
			}
			if best < -met {
				return
			}
		}
	}
	w := apart{gap: math.Inf(-1)}
	w.rings(a, b)
	if (best <= met || w.gap >= 0 || a.parts(b, t.N) > 0) && !(math.Abs(best) <= met && a.fills(body{ring: b})) {
		return
	}
	if a.meets(body{ring: b}) || b.meets(body{ring: a}) {
		w.touch(a.round, b.round, t)
	}
}

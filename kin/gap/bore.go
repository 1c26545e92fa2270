package gap

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// A ring's points are all at least ri from its axis. So what is within ri of the axis, by its farthest point at ρ, is no less than ri − ρ from
// the ring, and just so far if that point is between the ring's ends: a disc in a rim. (A caliper in a rim is for crate.proved.)

// embraces tells whether a point is in the ring's bore, between its ends.
func (k *section) embraces(p r3.Vec) bool {
	v := r3.Sub(p, k.c)
	s := r3.Dot(v, k.e)
	return k.ri > 0 && math.Abs(s) <= k.h && r3.Dot(v, v)-s*s < k.ri*k.ri
}

// ringInBore measures a ring k in the bore of o where k's farthest point from the axis of o is between the ends of o; false if it is not so. k is
// the second solid if swapped.
func ringInBore(k, o *section, t *Touch, swapped bool) bool {
	v := r3.Sub(k.c, o.c)
	height := r3.Dot(v, o.e)
	// Square to the tilt it is at least so far out.
	if r3.Dot(v, v)-height*height+k.ro*k.ro >= o.ri*o.ri || math.Abs(height) > o.h {
		return false
	}
	// Two directions across k, of which g is across o as well.
	ax := r3.Dot(k.e, o.e)
	w := axpy(o.e, -ax, k.e)
	tilt := length(w)
	if tilt > 1e-9 {
		w = r3.Scale(1/tilt, w)
	} else {
		w, tilt = square(k.e), 0
	}
	g := r3.Cross(k.e, w)
	most := 0.0
	var p r3.Vec
	for _, h := range [2]float64{k.h, -k.h} {
		mid := axpy(v, h, k.e)
		s := r3.Dot(mid, o.e)
		x, y, top := farthestOnCircle(r3.Dot(mid, g), r3.Dot(mid, w)-s*tilt, tilt*tilt, k.ro)
		if top += r3.Dot(mid, mid) - s*s; top > most {
			most = top
			p = axpy(axpy(r3.Add(o.c, mid), x, g), y, w)
		}
		if most >= o.ri*o.ri {
			return false
		}
	}
	f := o.foot(p)
	d := o.ri - f.qr - o.ro
	if d <= met || f.qs > 0 || f.radial == (r3.Vec{}) || o.ri-math.Sqrt(most) < d-proof {
		return false
	}
	t.Gap = d - k.round - o.round
	x := t.witness(p, r3.Scale(-1, f.radial), k.round, swapped)
	t.A, t.B, t.N = x.a, x.b, x.n
	return true
}

// farthestOnCircle looks for the greatest of x² + (1 − t)·y² + 2·(a·x + b·y) on the circle x² + y² = r², t ≥ 0, and returns a place near it and a
// bound that holds whatever m ≥ 0 is. With a multiplier 1 + m,
//
//	x = a/m,   y = b/(m + t),   top = (1 + m)·r² + a²/m + b²/(m + t)
//
// and m is where x² + y² = r²: the secular equation of a trust region (J. Moré, D. Sorensen, Computing a Trust Region Step, 1983, cited from
// memory), whose Newton steps on 1/|(x, y)| do not overshoot from below.
func farthestOnCircle(a, b, t, r float64) (x, y, top float64) {
	m := max(math.Abs(a)/r, math.Sqrt(a*a+b*b)/r-t)
	if m < 1e-12 {
		// Hardly off the axis: nothing tells one side from the other, and across the tilt it is farthest.
		if t == 0 {
			return r, 0, r*r + 2*r*math.Sqrt(a*a+b*b)
		}
		y = min(max(b/t, -r), r)
		x = math.Copysign(math.Sqrt(r*r-y*y), a)
		m = math.Abs(a) / r
	} else {
		for range 20 {
			x, y = a/m, b/(m+t)
			ll := x*x + y*y
			l := math.Sqrt(ll)
			step := ll * (l - r) / (r * (x*x/m + y*y/(m+t)))
			m += step
			if step <= 1e-9*m {
				break
			}
		}
		x, y = a/m, b/(m+t)
		f := r / math.Sqrt(x*x+y*y)
		x, y = f*x, f*y
	}
	return x, y, bound(a, b, t, r, m)
}

// bound returns the greatest value on the circle, or more, by a multiplier 1 + m.
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

package objectives

import "math"

// LeastBand finds the unit axis b that unit lines d come nearest to being square to: min over b of max over i of
// asin |b·d_i|. It turns d to one sense and has to have at least one line.
//
// With the ends ±d on the unit sphere, max |b·d_i| is the half width of their hull across b, and the least width of a hull
// that is symmetric about its middle is across one of its faces: three ends hold it (M. E. Houle and G. T. Toussaint, "Computing
// the width of a set", 1988, walk the pairs of faces and edges as here, those of a plane with rotating calipers). About the axis c of
// the lines' least cone, the band's plane is turned by calipers from the direction in which the lines reach farthest, either way: the
// two ends that it touches on either side stay while b turns square to their sum, until a third is touched. It ends where the
// two ends farthest from each other alone make the band wider than the best found.
//
// It is the least of all where the lines stay within 45 degrees of c; farther out a hole between ends of one side could be
// narrower still. Beyond 87 degrees it is the best of the planes through the outermost line and another.
func LeastBand(d []vec) Fit {
	cone := LeastCone(d)
	c := cone.Axis
	p, _ := farthest(d, c)
	q, r2 := farthest(d, d[p])
	if r2 < alike*alike {
		f := Fit{Axis: squareTo(c)} // one direction
		f.measure(d)
		return f
	}
	if cone.Angle > 87*math.Pi/180 {
		return throughTwo(d, p)
	}
	flat := Fit{Axis: unit(cross(d[p], d[q]))}
	if flat.measure(d); flat.Angle < alike {
		return flat // in one plane
	}
	w := calipers{d: d, c: c, best: math.Inf(1)}
	reach := axpy(times(1/dot(d[p], c), d[p]), -1/dot(d[q], c), d[q]) // square to c
	w.f = unit(reach)
	w.e = cross(w.f, c)
	t := math.Tan(cone.Angle)
	w.wide = norm(reach) / (1/dot(d[p], c) + 1/dot(d[q], c)) / math.Sqrt(1+4*t*t)
	b, high, low := w.touch()
	w.turn(b, high, low, 1)
	w.turn(b, high, low, -1)
	if w.fit.Held == 0 { // so near each other that rounding lets nothing be touched
		flat.Rows[0], flat.Weight[0], flat.Held = flat.measure(d), 1, 1
		return flat
	}
	w.fit.measure(d)
	return w.fit
}

// keep takes a band that three ends touch if it is narrower than those before. Where more than three touch it, the three
// that hold it are those whose slopes can add up to nothing.
func (w *calipers) keep(f Fit) {
	sine := dot(f.Axis, w.d[f.Rows[0]])
	if sine > w.best+alike {
		return
	}
	off := f.weigh(func(i int) vec {
		r := w.d[f.Rows[i]]
		along := dot(r, f.Axis)
		return times(math.Copysign(1, along), axpy(r, -along, f.Axis))
	})
	if sine < w.best-alike || off < w.off {
		w.best, w.fit, w.off = min(w.best, sine), f, off
	}
}

// measure takes the angle of the band about an axis, and keeps what holds it.
func (f *Fit) measure(d []vec) (at int) {
	most := -1.0
	for i := range d {
		if x := math.Abs(dot(f.Axis, d[i])); x > most {
			at, most = i, x
		}
	}
	f.Angle = math.Asin(min(1, most))
	return at
}

func squareTo(c vec) vec {
	least := vec{1, 0, 0}
	if math.Abs(c.Y) < math.Abs(c.X) {
		least = vec{0, 1, 0}
	}
	if math.Abs(c.Z) < math.Abs(dot(c, least)) {
		least = vec{0, 0, 1}
	}
	return unit(cross(c, least))
}

// throughTwo is the narrowest band about a plane through line p and another.
func throughTwo(d []vec, p int) Fit {
	best := Fit{Angle: math.Inf(1)}
	for i := range d {
		n := cross(d[p], d[i])
		if norm(n) < alike {
			continue
		}
		f := Fit{Axis: unit(n), Weight: [3]float64{1}, Held: 1}
		if f.Rows[0] = f.measure(d); f.Angle < best.Angle {
			best = f
		}
	}
	return best
}

// calipers are a band that turns about c: e and f span the plane square to it, f the way in which the lines reach farthest.
type calipers struct {
	d       []vec
	c, e, f vec
	wide    float64 // times |sin φ|: the least sine of a band whose axis, seen along c, has turned from e by φ
	best    float64 // sine of the narrowest so far
	fit     Fit     // it
	off     float64 // by how much its slopes fail to add up to nothing
}

// touch returns the band whose axis lies in the plane of e and c, and the ends that it touches on either side:
// b = e + τc with max b·d = −min b·d, which grows with τ throughout.
func (w *calipers) touch() (b vec, high, low int) {
	lo, hi := math.Inf(-1), math.Inf(1)
	tau := 0.0
	for range 100 {
		b = axpy(w.e, tau, w.c)
		most, least := math.Inf(-1), math.Inf(1)
		for i := range w.d {
			x := dot(b, w.d[i])
			if x > most {
				high, most = i, x
			}
			if x < least {
				low, least = i, x
			}
		}
		if most+least > 0 {
			hi = tau
		} else {
			lo = tau
		}
		sum := axpy(w.d[high], 1, w.d[low])
		next := -dot(w.e, sum) / dot(w.c, sum)
		if !(next > lo && next < hi) {
			next = (lo + hi) / 2
		}
		if math.IsInf(next, 0) || math.Abs(next-tau) <= 1e-15*(1+math.Abs(tau)) {
			break
		}
		tau = next
	}
	return unit(axpy(w.e, tau, w.c)), high, low
}

// turn turns the band about c, right-handed for a sense of +1, by at most a quarter turn.
func (w *calipers) turn(b vec, high, low int, sense float64) {
	for range 4*len(w.d) + 8 {
		g := unit(axpy(w.d[high], 1, w.d[low]))
		b = unit(axpy(b, -dot(b, g), g))
		ahead := times(sense, cross(g, b))
		// A third end k is touched at b + t·ahead, where it reaches as high as the one or as low as the other.
		t, at, above := math.Inf(1), -1, false
		top, floor := dot(w.d[high], b), dot(w.d[low], b)
		rise, fall := dot(w.d[high], ahead), dot(w.d[low], ahead)
		for k := range w.d {
			x, v := dot(w.d[k], b), dot(w.d[k], ahead)
			if v-rise > 1e-15 {
				if s := max(0, top-x) / (v - rise); s < t {
					t, at, above = s, k, true
				}
			}
			if fall-v > 1e-15 {
				if s := max(0, x-floor) / (fall - v); s < t {
					t, at, above = s, k, false
				}
			}
		}
		if at < 0 {
			return
		}
		b = unit(axpy(b, t, ahead))
		x, y := dot(b, w.e), dot(b, w.f)
		if x <= 0 {
			return
		}
		w.keep(Fit{Axis: b, Rows: [3]int{high, low, at}, Held: 3})
		if w.wide*math.Abs(y)/math.Hypot(x, y) > w.best {
			return
		}
		if above {
			high = at
		} else {
			low = at
		}
	}
}

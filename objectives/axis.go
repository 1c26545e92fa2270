package objectives

import "math"

// Axis says what a limit makes of directions.
type Axis uint8

// The ways to make one angle of directions. Both look for the axis that makes it least.
const (
	NoAxis Axis = iota
	Cone        // half the angle of the least cone that holds every line
	Band        // half the angle of the least band about a great circle that holds every line
)

// Fit is the axis that a Cone or Band finds, and what it owes to whom. At the least angle a few directions hold it: turning
// the axis away from one turns it towards another, Σ weight·slope of their angles with the axis = 0. By the envelope theorem
// (any text on optimisation under constraints) the derivative of the least angle is then the weighted sum of theirs with
// the axis standing still.
type Fit struct {
	Angle  float64    // rad
	Axis   Vec        // unit
	Rows   [3]int     // which directions hold it
	Weight [3]float64 // of each of those, at least 0; their sum is 1
	Held   int        // how many do: 0 where the angle is 0, and has no slope
}

// Vec is a direction, along the axes of its measures.
type Vec struct{ X, Y, Z float64 }

type vec = Vec

func dot(a, b vec) float64 { return a.X*b.X + a.Y*b.Y + a.Z*b.Z }
func cross(a, b vec) vec {
	return vec{a.Y*b.Z - a.Z*b.Y, a.Z*b.X - a.X*b.Z, a.X*b.Y - a.Y*b.X}
}
func axpy(a vec, k float64, b vec) vec { return vec{a.X + k*b.X, a.Y + k*b.Y, a.Z + k*b.Z} }
func times(k float64, a vec) vec       { return vec{k * a.X, k * a.Y, k * a.Z} }
func norm(a vec) float64               { return math.Sqrt(dot(a, a)) }
func unit(a vec) vec                   { return times(1/norm(a), a) }

// chord is the square of the distance of two ends on the unit sphere: it keeps the digits of a small angle.
func chord(a, b vec) float64 { d := axpy(a, -1, b); return dot(d, d) }

// alike is the distance on the unit sphere below which two ends are one.
const alike = 1e-13

// slack is how much farther than the square r2 of a distance rounding may put what is as far.
func slack(r2 float64) float64 { return 1e-12*r2 + 4*alike/100*math.Sqrt(r2) + alike*alike }

// align gives lines a sense, so that they point the same way as far as they can, and returns their mean.
func align(d []vec) vec {
	mean := d[0]
	for range 2 {
		var sum vec
		for i := range d {
			if dot(d[i], mean) < 0 {
				d[i] = times(-1, d[i])
			}
			sum = axpy(sum, 1, d[i])
		}
		mean = unit(sum)
	}
	return mean
}

// farthest returns the end that is farthest from a.
func farthest(d []vec, a vec) (at int, r2 float64) {
	r2 = -1
	for i := range d {
		if r := chord(d[i], a); r > r2 {
			at, r2 = i, r
		}
	}
	return at, r2
}

// LeastCone finds the unit axis a that makes the greatest angle with unit lines d least: min over a of max over i of the
// angle between a and ±d_i, as long as the lines, given a sense, stay within a hemisphere. It turns d to those senses and
// has to have at least one line.
//
// Ends on the unit sphere lie in a least cap that two or three of them hold. The least cap of the ends found so far and the one
// farthest outside it is taken anew until none is outside: E. Welzl, "Smallest enclosing disks (balls and ellipsoids)", 1991, with the
// choice of the farthest by B. Gärtner, "Fast and robust smallest enclosing balls", 1999. Each cap is larger than the one before,
// so that it ends.
func LeastCone(d []vec) Fit {
	first, _ := farthest(d, align(d))
	f := Fit{Axis: d[first], Rows: [3]int{first}, Held: 1}
	r2 := 0.0
	for range 4 * len(d) {
		q, far := farthest(d, f.Axis)
		if far <= r2+slack(r2) {
			break
		}
		next, ok := largerCap(d, &f, q)
		if !ok {
			break
		}
		f = next
		r2 = chord(f.Axis, d[f.Rows[0]])
	}
	_, r2 = farthest(d, f.Axis)
	f.Angle = 2 * math.Asin(min(1, math.Sqrt(r2)/2))
	if f.Angle <= alike {
		f.Held = 0
	}
	f.weigh(func(i int) vec { return axpy(d[f.Rows[i]], -dot(d[f.Rows[i]], f.Axis), f.Axis) })
	return f
}

// largerCap returns the least cap of the ends that hold a cap and one outside it, which holds the new one too.
func largerCap(d []vec, was *Fit, q int) (best Fit, ok bool) {
	least := math.Inf(1)
	try := func(f Fit) {
		r2 := chord(f.Axis, d[q])
		if !(r2 < least) || chord(f.Axis, d[q]) > 2 {
			return
		}
		for i := range was.Held {
			if chord(f.Axis, d[was.Rows[i]]) > r2+slack(r2) {
				return
			}
		}
		best, least, ok = f, r2, true
	}
	for i := range was.Held {
		a := was.Rows[i]
		try(Fit{Axis: unit(axpy(d[q], 1, d[a])), Rows: [3]int{q, a}, Held: 2})
		for k := range i {
			b := was.Rows[k]
			e, g := axpy(d[a], -1, d[q]), axpy(d[b], -1, d[q])
			n := cross(e, g)
			if size := norm(n); size > 1e-12*norm(e)*norm(g) {
				n = times(math.Copysign(1/size, dot(n, d[q])), n)
				try(Fit{Axis: n, Rows: [3]int{q, a, b}, Held: 3})
			}
		}
	}
	return best, ok
}

// weigh finds the weights with which the slopes v of the directions that hold an axis, square to it, add up to nothing. off
// is what cannot be had with weights of at least 0, as a share: 0 but for rounding at a least angle.
func (f *Fit) weigh(v func(i int) vec) (off float64) {
	switch f.Held {
	case 1:
		f.Weight = [3]float64{1}
	case 2:
		f.Weight = [3]float64{0.5, 0.5}
	case 3:
		var area [3]float64 // with sign, of the triangles of the slopes: Σ area·v = 0
		for i := range area {
			area[i] = dot(f.Axis, cross(v((i+1)%3), v((i+2)%3)))
		}
		sense := math.Copysign(1, area[0]+area[1]+area[2])
		sum := 0.0
		for i := range area {
			f.Weight[i] = max(0, sense*area[i])
			sum += f.Weight[i]
			off += max(0, -sense*area[i])
		}
		for i := range f.Weight {
			f.Weight[i] /= sum
		}
		off /= sum
	}
	return off
}

// slope is the derivative of the fit's angle with the direction that holds it at i, now at d, rad: the weight times that of
// the angle between them, the axis standing still. d need not have the sense that the fit gave it.
func (f *Fit) slope(of Axis, i int, d vec) vec {
	along := dot(d, f.Axis)
	away := axpy(times(-1, f.Axis), along, d) // from the axis, square to d
	k := f.Weight[i] * math.Copysign(1, along)
	if of == Band {
		return times(-k/math.Cos(f.Angle), away)
	}
	return times(k/math.Sin(f.Angle), away)
}

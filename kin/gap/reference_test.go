package gap_test

import (
	"math"
	"math/big"

	"trammel/kin/gap"

	"gonum.org/v1/gonum/spatial/r3"
)

// The references here share no code and no method with the package: they look many places over and go down from the best, project to and fro,
// or count with hundreds of digits.

// project returns the point of a solid that is nearest to x, x itself if it is inside.
func project(s *gap.Solid, x r3.Vec) r3.Vec {
	switch s.Kind {
	case gap.Capsule:
		u := r3.Sub(s.At[1], s.At[0])
		f := 0.0
		if n := r3.Norm2(u); n > 0 {
			f = math.Min(math.Max(r3.Dot(u, r3.Sub(x, s.At[0]))/n, 0), 1)
		}
		c := r3.Add(s.At[0], r3.Scale(f, u))
		return pullIn(c, x, s.R)
	case gap.Box:
		for i := 2; i < 5; i++ {
			u := s.At[i]
			lo, hi := r3.Dot(u, s.At[0]), r3.Dot(u, s.At[1])
			if lo > hi {
				lo, hi = hi, lo
			}
			v := r3.Dot(u, x)
			x = r3.Add(x, r3.Scale(math.Min(math.Max(v, lo), hi)-v, u))
		}
		return x
	case gap.Ring:
		e := r3.Unit(r3.Sub(s.At[1], s.At[0]))
		along := r3.Dot(e, r3.Sub(x, s.At[0]))
		foot := r3.Add(s.At[0], r3.Scale(along, e))
		off := r3.Sub(x, foot)
		rho := r3.Norm(off)
		if rho == 0 {
			off, rho = r3.Cross(e, r3.Vec{X: e.Y, Y: e.Z, Z: e.X + 1}), 0
		}
		off = r3.Unit(off)
		least := 0.0
		if s.In > 0 {
			least = s.In + s.Round
		}
		core := math.Min(math.Max(rho, least), s.R-s.Round)
		l := r3.Norm(r3.Sub(s.At[1], s.At[0]))
		at := math.Min(math.Max(along, s.Round), l-s.Round)
		c := r3.Add(s.At[0], r3.Add(r3.Scale(at, e), r3.Scale(core, off)))
		return pullIn(c, x, s.Round)
	}
	d := r3.Dot(s.At[1], r3.Sub(x, s.At[0]))
	return r3.Sub(x, r3.Scale(math.Max(d, 0), s.At[1]))
}

// pullIn returns x if it is within r of c, and otherwise the point that is, on the way to c.
func pullIn(c, x r3.Vec, r float64) r3.Vec {
	v := r3.Sub(x, c)
	if n := r3.Norm(v); n > r {
		return r3.Add(c, r3.Scale(r/n, v))
	}
	return x
}

// scatter returns points of a solid: of its core, corners, edges and faces.
func scatter(d draw, s *gap.Solid, n int) []r3.Vec {
	c, r := s.Ball()
	if s.Kind == gap.Plane {
		r = 600
	}
	var all []r3.Vec
	for range n {
		all = append(all, project(s, r3.Add(c, r3.Scale(r*d.between(0.2, 1.2), d.direction()))))
	}
	return all
}

// bruteGap returns the least distance of two solids that it finds: from the nearest of many points of both it goes to and fro between the nearest
// points. It is never less than the distance.
func bruteGap(d draw, a, b *gap.Solid) float64 {
	type start struct {
		x r3.Vec
		d float64
	}
	var best [4]start
	for i := range best {
		best[i].d = math.Inf(1)
	}
	keep := func(x r3.Vec) {
		s := start{x, r3.Norm(r3.Sub(x, project(b, x)))}
		for i := range best {
			if s.d < best[i].d {
				s, best[i] = best[i], s
			}
		}
	}
	for _, x := range scatter(d, a, 150) {
		keep(x)
	}
	for _, y := range scatter(d, b, 150) {
		keep(project(a, y))
	}
	least := math.Inf(1)
	for _, s := range best {
		if !math.IsInf(s.d, 1) {
			least = min(least, toAndFro(a, b, s.x))
		}
	}
	return least
}

// toAndFro projects x on one solid and the other by turns, and now and then leaps as far as the last steps let hope.
func toAndFro(a, b *gap.Solid, x r3.Vec) float64 {
	dist := func(x r3.Vec) float64 { return r3.Norm(r3.Sub(x, project(b, x))) }
	least := dist(x)
	for range 200 {
		x0 := x
		for range 3 {
			x = project(a, project(b, x))
		}
		x1 := x
		x = project(a, project(b, x))
		step := r3.Sub(x, x1)
		for leap := 1.0; leap < 1e7; leap *= 4 {
			y := project(a, r3.Add(x, r3.Scale(leap, step)))
			if dist(y) >= dist(x) {
				break
			}
			x = y
		}
		now := dist(x)
		if now < 1e-12 {
			return 0
		}
		if least-now < 1e-13*now && r3.Norm(r3.Sub(x, x0)) < 1e-9 {
			return min(least, now)
		}
		least = min(least, now)
	}
	return least
}

// golden returns the least value of f between lo and hi, where it has one dip.
func golden(f func(float64) float64, lo, hi float64) float64 {
	const g = 0.6180339887498949
	x1, x2 := hi-g*(hi-lo), lo+g*(hi-lo)
	f1, f2 := f(x1), f(x2)
	for range 75 {
		if f1 < f2 {
			hi, x2, f2 = x2, x1, f1
			x1 = hi - g*(hi-lo)
			f1 = f(x1)
		} else {
			lo, x1, f1 = x1, x2, f2
			x2 = lo + g*(hi-lo)
			f2 = f(x2)
		}
	}
	return min(f1, f2, f(lo), f(hi))
}

// lowest returns the least value of f over 0..1: of n dips, the lowest.
func lowest(f func(float64) float64, n int) float64 {
	y := make([]float64, n+1)
	least := math.Inf(1)
	for i := range y {
		y[i] = f(float64(i) / float64(n))
		least = min(least, y[i])
	}
	best := least
	for i := range y {
		if l, r := max(i-1, 0), min(i+1, n); y[i] <= y[l] && y[i] <= y[r] {
			best = min(best, golden(f, float64(l)/float64(n), float64(r)/float64(n)))
		}
	}
	return best
}

// signedRing is the signed distance of a point from a ring's surface, by its half section.
func signedRing(s *gap.Solid, x r3.Vec) float64 {
	d := r3.Sub(s.At[1], s.At[0])
	e := r3.Unit(d)
	v := r3.Sub(x, r3.Scale(0.5, r3.Add(s.At[0], s.At[1])))
	along := math.Abs(r3.Dot(v, e))
	rho := r3.Norm(r3.Cross(v, e))
	if s.In == 0 {
		// A rectangle about the axis, twice as thick.
		return rounded(rho, along, s.R, r3.Norm(d)/2, s.Round)
	}
	mid := (s.R + s.In) / 2
	return rounded(math.Abs(rho-mid), along, s.R-mid, r3.Norm(d)/2, s.Round)
}

// rounded is the signed distance of (x, y) in the first quadrant from a rectangle of half sides a and b with corners rounded by r.
func rounded(x, y, a, b, r float64) float64 {
	x, y = x-a+r, y-b+r
	return math.Hypot(math.Max(x, 0), math.Max(y, 0)) + math.Min(math.Max(x, y), 0) - r
}

// exact is arithmetic of 700 bits: the squares of coordinates below 1e4 with 53 bits each, and the products below, fit without loss
// into far less.
type exact = *big.Float

func num(x float64) exact    { return new(big.Float).SetPrec(700).SetFloat64(x) }
func sum(a, b exact) exact   { return new(big.Float).SetPrec(700).Add(a, b) }
func minus(a, b exact) exact { return new(big.Float).SetPrec(700).Sub(a, b) }
func times(a, b exact) exact { return new(big.Float).SetPrec(700).Mul(a, b) }
func over(a, b exact) exact  { return new(big.Float).SetPrec(700).Quo(a, b) }

func dot(a, b [3]exact) exact {
	return sum(sum(times(a[0], b[0]), times(a[1], b[1])), times(a[2], b[2]))
}

func ray(w [3]exact, f exact, u [3]exact) (r [3]exact) {
	for i := range r {
		r[i] = sum(w[i], times(f, u[i]))
	}
	return r
}

func exactly(a, b r3.Vec) [3]exact {
	return [3]exact{minus(num(a.X), num(b.X)), minus(num(a.Y), num(b.Y)), minus(num(a.Z), num(b.Z))}
}

// exactCores returns the distance of two segments: the least over both interiors, each end with the other's interior, and all ends.
func exactCores(a, b *gap.Solid) float64 {
	u, v, w := exactly(a.At[1], a.At[0]), exactly(b.At[1], b.At[0]), exactly(a.At[0], b.At[0])
	zero, one := num(0), num(1)
	var best exact
	try := func(s, x exact) {
		if s.Cmp(zero) < 0 || s.Cmp(one) > 0 || x.Cmp(zero) < 0 || x.Cmp(one) > 0 {
			return
		}
		n := ray(ray(w, s, u), minus(zero, x), v)
		if d := dot(n, n); best == nil || d.Cmp(best) < 0 {
			best = d
		}
	}
	uu, vv, uv, uw, vw := dot(u, u), dot(v, v), dot(u, v), dot(u, w), dot(v, w)
	det := minus(times(uu, vv), times(uv, uv))
	if det.Sign() > 0 {
		try(over(minus(times(uv, vw), times(vv, uw)), det), over(minus(times(uu, vw), times(uv, uw)), det))
	}
	for _, end := range []exact{zero, one} {
		for _, other := range []exact{zero, one} {
			try(end, other)
		}
		if vv.Sign() > 0 {
			try(end, over(sum(vw, times(end, uv)), vv))
		}
		if uu.Sign() > 0 {
			try(over(minus(times(end, uv), uw), uu), end)
		}
	}
	d, _ := new(big.Float).SetPrec(700).Sqrt(best).Float64()
	return d
}

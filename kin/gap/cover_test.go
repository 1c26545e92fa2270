package gap

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"
)

// seen draws a ring that is a solid cylinder, a sheet or has a wall, and a circle that it sees.
func seen(d *rand.Rand) (m rim, k section) {
	turn := d.Float64() * math.Pi
	if d.IntN(8) == 0 {
		turn = [3]float64{0, 1e-9, math.Pi / 2}[d.IntN(3)]
	}
	r := 10 + 300*d.Float64()
	m = rim{x: 400*d.Float64() - 200, y: 400*d.Float64() - 200, z: 400*d.Float64() - 200, r: r, rc: r * math.Cos(turn), rs: r * math.Sin(turn)}
	k = section{e: r3.Vec{Z: 1}, ri: math.Inf(-1), ro: 10 + 300*d.Float64(), h: 150 * d.Float64()}
	switch d.IntN(4) {
	case 0:
		k.h = 0
	case 1:
		k.ri = k.ro
	case 2:
		k.ri = k.ro * d.Float64()
	}
	return m, k
}

// TestLook: where one look at a circle says that nothing is nearer than some distance, nothing is. The distances are those of TestCapsuleAndRingAgainstSearch.
func TestLook(t *testing.T) {
	d := rand.New(rand.NewPCG(71, 29))
	said := 0
	for i := range 20000 {
		m, k := seen(d)
		s, c := math.Sincos(2 * math.Pi * d.Float64())
		l := m.look(&k, c, s)
		if l.d < met {
			continue
		}
		best, w := l.d*(1-d.Float64()*d.Float64()), widest*d.Float64()
		from, to, open := l.open(w, best)
		for range 50 {
			u := math.Tan(0.5 * math.Pi * (2*d.Float64() - 1))
			if d.IntN(2) == 0 {
				u = w * (2*d.Float64() - 1)
			}
			if open && (from < to && u >= from && u <= to || from > to && (u >= from || u <= to)) {
				continue
			}
			said++
			a := arc{c, s, 0}
			p := a.part(u, u)
			x, y, z := m.at(p.c, p.s)
			if e := k.depth(math.Hypot(x, y), z); e < best-1e-9 {
				t.Fatalf("case %d: %v from the ring where nothing is said to be nearer than %v, at u = %v from a place at %v; bare from %v to %v %v\n%+v\n%+v",
					i, e, best, u, l.d, from, to, open, m, k)
			}
		}
	}
	if said < 100000 {
		t.Errorf("the looks say something of %d places; it should be most of a million", said)
	}
}

// TestAside: a circle that is said to have nothing nearer over a ring's faces has none over its sides, and no place in the ring.
func TestAside(t *testing.T) {
	d := rand.New(rand.NewPCG(72, 29))
	said := 0
	for i := range 20000 {
		m, k := seen(d)
		best := 100 * d.Float64() * d.Float64()
		if !m.aside(&k, best) {
			continue
		}
		said++
		for j := range 400 {
			s, c := math.Sincos(2 * math.Pi * float64(j) / 400)
			x, y, z := m.at(c, s)
			if e := k.depth(math.Hypot(x, y), z); math.Abs(z) <= k.h && e < best-1e-9 {
				t.Fatalf("case %d: %v from the ring over a side of it, where nothing is said to be nearer than %v\n%+v\n%+v", i, e, best, m, k)
			}
		}
		for _, c := range [2]float64{1, -1} {
			x, y, z := m.at(c, 0)
			if rho := math.Hypot(x, y); math.Abs(z)-k.h < best && rho < k.ro && rho > k.ri {
				t.Fatalf("case %d: over a flat of the ring, and nearer than %v\n%+v\n%+v", i, best, m, k)
			}
		}
	}
	if said < 2000 {
		t.Errorf("%d circles are aside; it should be many", said)
	}
}

package gap_test

import (
	"math"
	"testing"
	"time"

	"trammel/kin/gap"

	"gonum.org/v1/gonum/spatial/r3"
)

// BenchmarkBetween measures pairs as culling leaves them: their balls overlap. least-ns/pair is the quickest of many rounds over 256 random
// pairs, which a busy machine spoils less than the mean. On pairs that overlap more is looked at; they are counted apart.
func BenchmarkBetween(b *testing.B) {
	for _, p := range pairs() {
		for _, overlap := range []bool{false, true} {
			what := "/separate"
			if overlap {
				what = "/overlapping"
			}
			b.Run(name(p)+what, func(b *testing.B) {
				benchPairs(b, p, overlap)
			})
		}
	}
}

func benchPairs(b *testing.B, p [2]gap.Kind, overlap bool) {
	d := newDraw(5)
	var all [][2]*gap.Solid
	var t gap.Touch
	for len(all) < 256 {
		s, o := d.solid(p[0], 300), d.solid(p[1], 300)
		if gap.Between(s, o, &t); t.Gap < 0 == overlap && (overlap || ballGap(s, o) < 0) {
			all = append(all, [2]*gap.Solid{s, o})
		}
	}
	least := math.Inf(1)
	b.ReportAllocs()
	b.ResetTimer()
	for range b.N {
		start := time.Now()
		for _, s := range all {
			gap.Between(s[0], s[1], &t)
		}
		least = min(least, float64(time.Since(start).Nanoseconds()))
	}
	b.ReportMetric(least/float64(len(all)), "least-ns/pair")
}

// BenchmarkInUse measures pairs as a corner of a car has them.
func BenchmarkInUse(b *testing.B) {
	at := func(s *gap.Solid, x, y, z float64) *gap.Solid {
		by := r3.Vec{X: x, Y: y, Z: z}
		return mapped(s, func(v r3.Vec) r3.Vec { return r3.Add(v, by) }, func(v r3.Vec) r3.Vec { return v })
	}
	tyre, rim := leaned(ring(-110, 110, 165, 310, 40), 0.03), leaned(ring(-100, 110, 160, 165, 0), 0.03)
	for _, c := range []struct {
		name string
		a, b *gap.Solid
	}{
		{"tyre and footwell", box(-700, -600, -150, -330, -130, 250), tyre},
		{"tyre and chassis tube", ring(-130, 130, 0, 19, 0), at(tyre, 345, 60, 20)},
		{"tyre and tank", leaned(ring(-200, 200, 0, 90, 10), 1.2), at(tyre, 430, 70, 50)},
		{"tyre and damper body", tube(-20, -300, 0, 30, -160, 420, 30), tyre},
		{"disc in rim", ring(0, 20, 60, 140, 0), rim},
		{"caliper in rim", box(-30, -20, 60, 40, 50, 110), rim},
	} {
		b.Run(c.name, func(b *testing.B) {
			var t gap.Touch
			least := math.Inf(1)
			b.ReportAllocs()
			for range b.N {
				start := time.Now()
				for range 256 {
					gap.Between(c.a, c.b, &t)
				}
				least = min(least, float64(time.Since(start).Nanoseconds()))
			}
			b.ReportMetric(least/256, "least-ns/pair")
			b.ReportMetric(t.Gap, "gap-mm")
		})
	}
}

package gap_test

import (
	"math"
	"testing"
	"time"

	"trammel/kin/gap"
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

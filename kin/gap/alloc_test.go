package gap_test

import (
	"testing"

	"trammel/kin/gap"

	"gonum.org/v1/gonum/spatial/r3"
)

// TestNothingAllocates: neither a gap nor its slopes, of any pair, near or in one another.
func TestNothingAllocates(t *testing.T) {
	for _, p := range pairs() {
		d := newDraw(13)
		var all [40][2]*gap.Solid
		for i := range all {
			all[i] = [2]*gap.Solid{d.solid(p[0], 200), d.solid(p[1], 200)}
		}
		var touch gap.Touch
		var ga, gb [5]r3.Vec
		n := testing.AllocsPerRun(5, func() {
			for _, s := range all {
				gap.Between(s[0], s[1], &touch)
				touch.Slopes(s[0], s[1], &ga, &gb)
			}
		})
		if n != 0 {
			t.Errorf("%s: %v allocations", name(p), n)
		}
	}
}

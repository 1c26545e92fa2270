package studies

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"trammel/kin"
	"trammel/kin/gap"
)

// BenchmarkGaps measures the pairs of solids of the examples: of each, all that culling leaves at any position of any motion of its study, at design, by
// their kinds. least-ns/pair is the quickest of many rounds.
func BenchmarkGaps(b *testing.B) {
	for _, x := range Examples() {
		f, err := ReadExample(x.Name)
		if err != nil {
			b.Fatal(err)
		}
		of := gapPairs(b, mustBind(b, f))
		for one := gap.Capsule; one <= gap.Plane; one++ {
			for other := one; other <= gap.Plane; other++ {
				if all := of[[2]gap.Kind{one, other}]; len(all) > 0 {
					b.Run(fmt.Sprintf("%s/%v-%v", x.Name, one, other), func(b *testing.B) { measureGaps(b, all) })
				}
			}
		}
	}
}

func measureGaps(b *testing.B, all [][2]gap.Solid) {
	// As many turns as a short round needs to be worth a look at the clock.
	turns := 1 + 1000/len(all)
	least := math.Inf(1)
	var t gap.Touch
	b.ReportAllocs()
	for range b.N {
		start := time.Now()
		for range turns {
			for i := range all {
				gap.Between(&all[i][0], &all[i][1], &t)
			}
		}
		least = min(least, float64(time.Since(start).Nanoseconds()))
	}
	overlaps := 0
	for i := range all {
		if gap.Between(&all[i][0], &all[i][1], &t); t.Gap < 0 {
			overlaps++
		}
	}
	b.ReportMetric(least/float64(turns*len(all)), "least-ns/pair")
	b.ReportMetric(float64(len(all)), "pairs")
	b.ReportMetric(float64(overlaps), "overlaps")
}

// gapPairs returns the pairs of a study at design, by kinds in rising order.
func gapPairs(b *testing.B, st *Study) map[[2]gap.Kind][][2]gap.Solid {
	of := map[[2]gap.Kind][][2]gap.Solid{}
	state := st.Program.NewState()
	if f := state.SetDesign(st.Program.Points()); f.Status != kin.OK {
		b.Fatal(f)
	}
	for _, sw := range st.sweeps {
		m := sw.Motion
		for _, col := range sw.Columns {
			if !strings.HasSuffix(col.Measure.Name, "clearance") {
				continue
			}
			for _, at := range m.Positions {
				one := st.Program.NewSweep(kin.NewPlaces(m.Name, m.Wheels, m.Rolls, []kin.Position{at}), []kin.Column{col})
				if _, f := state.Run(one, make([]float64, one.Size())); f.Status != kin.OK {
					b.Fatal(f)
				}
				state.Pairs(one, 0, func(x, y *gap.Solid) {
					if x.Kind > y.Kind {
						x, y = y, x
					}
					kinds := [2]gap.Kind{x.Kind, y.Kind}
					of[kinds] = append(of[kinds], [2]gap.Solid{*x, *y})
				})
			}
		}
	}
	return of
}

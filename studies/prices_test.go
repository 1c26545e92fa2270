package studies

import (
	"math"
	"testing"
)

// TestPriceStep: a price is told for a step that leaves something of the score, in words where there are some, and what it gains
// for each unit stays what it is.
func TestPriceStep(t *testing.T) {
	for _, c := range []struct {
		price Price
		score float64
		says  string
	}{
		{Price{Of: "eye tilt", Kind: "limit", End: "max", Unit: "deg", Step: 1, Gain: 1.4}, 3, "One more degree for eye tilt max lowers the score by 1.4."},
		{Price{Of: "eye tilt", Kind: "limit", End: "max", Unit: "deg", Step: 1, Gain: 9}, 3, "One more tenth of a degree for eye tilt max lowers the score by 0.9."},
		{Price{Of: "gap clearance", Kind: "limit", End: "min", Unit: "mm", Step: 1, Gain: 40}, 3, "One more hundredth of a millimetre for gap clearance min lowers the score by 0.4."},
		{Price{Of: "gap clearance", Kind: "limit", End: "min", Unit: "in", Step: 0.1, Gain: 0.2}, 0.3, "One more hundredth of an inch for gap clearance min lowers the score by 0.02."},
		{Price{Of: "rack_end.z", Kind: "range", End: "to", At: 12, Unit: "mm", Step: 1, Gain: 0.2}, 0.3, "rack_end.z stands at its bound 12; each further tenth of a millimetre gains 0.02."},
		{Price{Of: "slope", Kind: "limit", End: "max", Unit: "deg/mm", Step: 0.001, Gain: 0.2}, 0.01, "1e-05 deg/mm more room for slope max lowers the score by 0.002."},
		{Price{Of: "dive", Kind: "limit", End: "min", Unit: "%", Step: 1, Gain: 0.2}, 0.1, "One more tenth of a per cent for dive min lowers the score by 0.02."},
		{Price{Of: "gap clearance", Kind: "limit", End: "min", Unit: "mm", Step: 1, Gain: 40}, 0.003, "1e-05 mm more room for gap clearance min lowers the score by 0.0004."},
	} {
		p := c.price
		p.shorten(c.score)
		if says := p.sentence(); says != c.says {
			t.Errorf("%s; want %s", says, c.says)
		}
		if was := c.price.Gain / c.price.Step; math.Abs(p.Gain/p.Step-was) > 1e-12*was || p.Gain > c.score/2 {
			t.Errorf("%+v of a score of %g", p, c.score)
		}
	}
}

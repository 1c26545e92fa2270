package studies

import (
	"math"
	"slices"
	"testing"

	"trammel/studies/files"
)

// TestPriceSays: a price tells what a step was measured to gain, and names its slope where that promises a good deal more.
func TestPriceSays(t *testing.T) {
	tried := func(p Price, gain, left float64) Price {
		p.Gain, p.Left = &gain, &left
		return p
	}
	for _, c := range []struct {
		price Price
		says  string
	}{
		{tried(Price{Of: "eye tilt", Kind: "limit", End: "max", Unit: "deg", Step: 1, Slope: 1.5}, 1.4, 0.6),
			"One more degree for eye tilt max lowers the score by 1.4, to 0.6."},
		{tried(Price{Of: "gap clearance", Kind: "limit", End: "min", Unit: "mm", Step: 1, Slope: 40}, 0.2, 0.3),
			"One more millimetre for gap clearance min lowers the score by 0.2, to 0.3; the slope here, which does not hold so far, would make it 40."},
		{tried(Price{Of: "gap clearance", Kind: "limit", End: "min", Unit: "in", Step: 0.1, Slope: 2}, 0.2, 0.3),
			"One more tenth of an inch for gap clearance min lowers the score by 0.2, to 0.3."},
		{tried(Price{Of: "rack_end.z", Kind: "range", End: "to", At: 12, Unit: "mm", Step: 1, Slope: 0.2}, 0.18, 0.3),
			"rack_end.z stands at its bound 12. One more millimetre lowers the score by 0.18, to 0.3."},
		{tried(Price{Of: "plate", Kind: "range", End: "from", At: -4.5, Unit: "in", Step: 0.125, Slope: 0.8}, 0.02, 0.3),
			"plate stands at its bound -4.5. 0.125 in more lowers the score by 0.02, to 0.3; the slope here, which does not hold so far, would make it 0.1."},
		{tried(Price{Of: "slope", Kind: "limit", End: "max", Unit: "deg/mm", Step: 0.001, Slope: 2}, 0.002, 0.01),
			"0.001 deg/mm more for slope max lowers the score by 0.002, to 0.01."},
		{tried(Price{Of: "ratio", Kind: "limit", End: "spread", Step: 0.01, Slope: 2}, 0.02, 0.01), "0.01 more for ratio spread lowers the score by 0.02, to 0.01."},
		{tried(Price{Of: "dive", Kind: "limit", End: "min", Unit: "%", Step: 1, Slope: 0.02}, 0.02, 0.1), "One more per cent for dive min lowers the score by 0.02, to 0.1."},
		{Price{Of: "dive", Kind: "limit", End: "min", Unit: "%", Step: 1, Slope: 0.02}, "One more per cent for dive min would lower the score by 0.02 if the slope held so far, which was not tried."},
	} {
		if says := c.price.sentence(); says != c.says {
			t.Errorf("%s\nwant %s", says, c.says)
		}
	}
}

// TestWhatFades: where a bound that gives way soon meets another, its slope promises much more than a step is worth, and what the
// answer says of the step is what the study comes to that is run anew with it.
func TestWhatFades(t *testing.T) {
	study := func(change func(f *files.Study)) *Answer {
		f, err := ReadExample("dunlin")
		if err != nil {
			t.Fatal(err)
		}
		f.Stages[0].Runs, f.Stages[1].Locals = 256, 4
		change(f)
		return refined(t, f)
	}
	best := study(func(*files.Study) {}).Answers[0]
	fading := 0
	for _, p := range best.Prices {
		if p.Gain == nil {
			continue
		}
		var change func(f *files.Study)
		switch vary := slices.IndexFunc(best.Moved, func(m Moved) bool { return m.Name == p.Of }); {
		case p.Of == "arm_room clearance":
			change = func(f *files.Study) { f.Geometry.Clearance("arm_room").Min -= int64(math.Round(p.Step * 1000)) }
		case p.End == "to":
			change = func(f *files.Study) { f.Vary[vary].ToN += int64(math.Round(p.Step * 1000)) }
		case p.End == "from":
			change = func(f *files.Study) { f.Vary[vary].FromN -= int64(math.Round(p.Step * 1000)) }
		default:
			continue
		}
		anew := study(change).Answers[0]
		t.Logf("%s Run anew: %.4g.", p.Says, anew.Score)
		if anew.Status != "ok" || math.Abs(anew.Score-*p.Left) > 0.02**p.Gain+1e-4*best.Score {
			t.Errorf("%s It is %.5g in a study with that room.", p.Says, anew.Score)
		}
		if *p.Gain < p.Slope*p.Step/2 {
			fading++
		}
	}
	if fading < 2 {
		t.Errorf("%d prices fade; two at least are to, for the check to be one", fading)
	}
}

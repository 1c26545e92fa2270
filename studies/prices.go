package studies

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"

	"trammel/kin"
	"trammel/objectives"
	"trammel/optimize"
	"trammel/studies/files"
)

// Price says what a limit, or the end of a range, costs an answer. Its slope is exact for a small change of that bound and fades with
// a larger one, at once where another bound is met; what a whole step of room is worth is measured (Study.worth).
type Price struct {
	Of    string   `json:"of"`    // the limit, or the varied number
	Kind  string   `json:"kind"`  // "limit" or "range"
	End   string   `json:"end"`   // of a limit: min, max or spread; of a range: from or to
	At    float64  `json:"at"`    // where it stands, in Unit
	Unit  string   `json:"unit"`  // the file's own for lengths
	Slope float64  `json:"slope"` // by which the score begins to fall, for one of Unit
	Step  float64  `json:"step"`  // in Unit
	Gain  *float64 `json:"gain"`  // by which the score falls in a local search with the bound moved by Step; null where it was not tried
	Left  *float64 `json:"left"`  // the score that this comes to
	Says  string   `json:"says"`

	of     int     // the index of the limit, or of the number
	length float64 // of one of Unit in the unit of the measure; of a limit
}

// The kinds of prices.
const (
	priceOfLimit = "limit"
	priceOfRange = "range"
)

// leastGain is the share of the score that a step must be worth to be told in words.
const leastGain = 1e-3

// prices turns the multipliers of an answer into the user's units and words, the dearest first. The evaluator must have evaluated the
// answer's point last. Where measured is set, they say what a whole step is worth, and those that are worth something come first.
func (st *Study) prices(a *optimize.Answer, e *Evaluator, measured bool) []Price {
	var out []Price
	for _, b := range a.Bounds {
		out = append(out, st.rangePrice(&b))
	}
	for _, l := range a.Limits {
		p := st.limitPrice(&l, e)
		at := slices.IndexFunc(out, func(q Price) bool { return q.Kind == p.Kind && q.Of == p.Of && q.End == p.End })
		if at < 0 {
			out = append(out, p)
		} else {
			out[at].Slope += p.Slope // a limit that gives way does so everywhere
		}
	}
	if measured {
		st.worth(out, &a.Point, a.Outcome.Score)
	}
	slices.SortStableFunc(out, func(a, b Price) int {
		return cmp.Or(cmp.Compare(b.gain(), a.gain()), cmp.Compare(b.Slope*b.Step, a.Slope*a.Step))
	})
	for i := range out {
		out[i].Says = out[i].sentence()
	}
	return out
}

// gain is what a step was measured to gain, 0 where none was.
func (p *Price) gain() float64 {
	if p.Gain == nil {
		return 0
	}
	return *p.Gain
}

// rangePrice says what the end of a range costs.
func (st *Study) rangePrice(b *optimize.BoundPrice) Price {
	d := &st.Space.Dims[b.Dim]
	p := Price{Of: d.Name, Kind: priceOfRange, End: "from", Unit: st.varyOf(b.Dim).Unit, of: b.Dim, Slope: b.Price}
	level := int64(0)
	if b.High {
		p.End, level = "to", st.Space.Levels(b.Dim)-1
	}
	p.At = st.Space.Value(b.Dim, st.Space.Level(b.Dim, level))
	step := int64(math.Round(stepOf(p.Unit, 1) * float64(d.PerUnit)))
	if d.Step > 0 { // as many of the number's own steps as hold it
		step = (step + d.Step - 1) / d.Step * d.Step
	}
	p.Step = st.Space.Value(b.Dim, step)
	return p
}

// limitPrice says what one value of a limit costs.
func (st *Study) limitPrice(lp *optimize.LimitPrice, e *Evaluator) Price {
	entry := st.Objective.G[lp.Limit].Entry
	l := &st.Objective.Limits[entry]
	p := Price{Of: st.limits[entry], Kind: priceOfLimit, of: entry, length: 1}
	p.End, p.At = st.binding(lp.Limit, e)
	unit := st.limitColumn(entry).Measure.Unit.String()
	if unit == kin.Millimetre.String() && st.File.Geometry.Units == files.Inch {
		unit, p.length = "in", 25.4
	}
	p.Unit, p.At = unit, p.At/p.length
	p.Step = stepOf(unit, l.Scale/p.length)
	p.Slope = lp.Price / l.Scale * p.length
	return p
}

// binding tells which end of its limit an element of G is nearest to, and where that end is, in the measure's
// unit.
func (st *Study) binding(g int, e *Evaluator) (end string, at float64) {
	entry := st.Objective.G[g].Entry
	l := &st.Objective.Limits[entry]
	k := g - slices.IndexFunc(st.Objective.G, func(s objectives.Slot) bool { return s.Entry == entry })
	y, least := math.NaN(), math.Inf(1)
	for _, s := range l.Series {
		for _, row := range s.Rows {
			v := e.values[s.Sweep][s.Offset+row]
			if k == 0 {
				y = v
			}
			k--
			least = min(least, v)
		}
	}
	if l.Axis != objectives.NoAxis {
		y = e.result.Limits[entry].Got
	}
	end, at = "max", l.Max
	over := y - l.Max
	if low := l.Min - y; low > over {
		over, end, at = low, "min", l.Min
	}
	if wide := y - least - l.Spread; wide > over {
		end, at = "spread", l.Spread
	}
	return end, at
}

// stepOf is the step that a price is told for: a round one of a unit that has a size people know, else the scale.
func stepOf(unit string, scale float64) float64 {
	switch unit {
	case "mm", "deg", "%":
		return 1
	case "in":
		return 0.1
	}
	return scale
}

// unitWords are what sentences call units of which a step is one, or a tenth of one.
var unitWords = map[string]string{"mm": "millimetre", "in": "inch", "deg": "degree", "%": "per cent"}

// stepWords says a step of room, as many of a round one as it may be.
func stepWords(step float64, unit string) string {
	switch word := unitWords[unit]; {
	case unit == "in" && math.Abs(step-0.1) < 1e-9:
		return "One more tenth of an inch"
	case word != "" && step == 1:
		return "One more " + word
	case unit == "":
		return strconv.FormatFloat(step, 'g', 6, 64) + " more"
	}
	return strconv.FormatFloat(step, 'g', 6, 64) + " " + unit + " more"
}

// fades is the share of what a slope promises for a step below which the sentence says that it does not hold so far.
const fades = 0.8

func (p *Price) sentence() string {
	says := fmt.Sprintf("%s for %s %s", stepWords(p.Step, p.Unit), p.Of, p.End)
	if p.Kind == priceOfRange {
		says = fmt.Sprintf("%s stands at its bound %s. %s", p.Of, decimals(p.At), stepWords(p.Step, p.Unit))
	}
	promised := p.Slope * p.Step
	switch {
	case p.Gain == nil:
		return fmt.Sprintf("%s would lower the score by %s if the slope held so far, which was not tried.", says, short(promised))
	case *p.Gain < fades*promised:
		return fmt.Sprintf("%s lowers the score by %s, to %s; the slope here, which does not hold so far, would make it %s.", says, short(*p.Gain), short(*p.Left), short(promised))
	}
	return fmt.Sprintf("%s lowers the score by %s, to %s.", says, short(*p.Gain), short(*p.Left))
}

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

// Price says what a limit, or the end of a range, costs an answer: by how much the score would fall for one Step
// of room. It is exact for a small step and fades with a larger one, so that Step is small enough to leave something of the score.
type Price struct {
	Of   string  `json:"of"`   // the limit, or the varied number
	Kind string  `json:"kind"` // "limit" or "range"
	End  string  `json:"end"`  // of a limit: min, max or spread; of a range: from or to
	At   float64 `json:"at"`   // where it stands, in Unit
	Unit string  `json:"unit"` // the file's own for lengths
	Step float64 `json:"step"` // in Unit
	Gain float64 `json:"gain"` // of the score, for one step
	Says string  `json:"says"`
}

// leastGain is the share of the score that a step must be worth to be told in words.
const leastGain = 1e-3

// prices turns the multipliers of an answer into the user's units and words, the dearest first by what a whole step of each gains. The evaluator
// must have evaluated the answer's point last.
func (st *Study) prices(a *optimize.Answer, e *Evaluator) []Price {
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
			out[at].Gain += p.Gain // a limit that gives way does so everywhere
		}
	}
	slices.SortStableFunc(out, func(a, b Price) int { return cmp.Compare(b.Gain, a.Gain) })
	for i := range out {
		out[i].shorten(a.Outcome.Score)
		out[i].Says = out[i].sentence()
	}
	return out
}

// shorten makes the step a tenth, a hundredth and so on, as far down as is of use, until what it gains is no more than half of the score:
// no room makes a score negative, and the slope does not hold for all of it.
func (p *Price) shorten(score float64) {
	const most = 6
	step, gain, parts := p.Step, p.Gain, 1.0
	for range most {
		if p.Gain <= score/2 {
			return
		}
		parts *= 10
		p.Step, p.Gain = step/parts, gain/parts
	}
}

// rangePrice says what the end of a range costs.
func (st *Study) rangePrice(b *optimize.BoundPrice) Price {
	d := &st.Space.Dims[b.Dim]
	p := Price{Of: d.Name, Kind: "range", End: "from", Unit: st.varyOf(b.Dim).Unit}
	level := int64(0)
	if b.High {
		p.End, level = "to", st.Space.Levels(b.Dim)-1
	}
	p.At = st.Space.Value(b.Dim, st.Space.Level(b.Dim, level))
	p.Step = stepOf(p.Unit, 1)
	p.Gain = b.Price * p.Step
	return p
}

// limitPrice says what one value of a limit costs.
func (st *Study) limitPrice(lp *optimize.LimitPrice, e *Evaluator) Price {
	entry := st.Objective.G[lp.Limit].Entry
	l := &st.Objective.Limits[entry]
	p := Price{Of: st.limits[entry], Kind: "limit"}
	p.End, p.At = st.binding(lp.Limit, e)
	unit := st.limitColumn(entry).Measure.Unit.String()
	length := 1.0
	if unit == kin.Millimetre.String() && st.File.Geometry.Units == files.Inch {
		unit, length = "in", 25.4
	}
	p.Unit, p.At = unit, p.At/length
	p.Step = stepOf(unit, l.Scale/length)
	p.Gain = lp.Price / l.Scale * length * p.Step
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

// unitWords are what sentences call units of which a step is one, or a round part of one.
var unitWords = map[string]string{"mm": "millimetre", "in": "inch", "deg": "degree", "%": "per cent"}

// partWords are the round parts of one, by how many of them make it.
var partWords = map[int]string{10: "tenth", 100: "hundredth", 1000: "thousandth"}

// stepWords says a step of room; "" where numbers say it better.
func stepWords(step float64, unit string) string {
	word, known := unitWords[unit]
	parts := int(math.Round(1 / step))
	switch {
	case !known || math.Abs(step*float64(parts)-1) > 1e-9:
		return ""
	case parts == 1:
		return word
	case partWords[parts] == "":
		return ""
	}
	if word == "inch" {
		return partWords[parts] + " of an inch"
	}
	return partWords[parts] + " of a " + word
}

func (p *Price) sentence() string {
	words := stepWords(p.Step, p.Unit)
	size := strconv.FormatFloat(p.Step, 'g', 6, 64)
	if p.Unit != "" {
		size += " " + p.Unit
	}
	if p.Kind == "range" {
		if words == "" {
			words = size
		}
		return fmt.Sprintf("%s stands at its bound %s; each further %s gains %s.", p.Of, decimals(p.At), words, short(p.Gain))
	}
	if words != "" {
		return fmt.Sprintf("One more %s for %s %s lowers the score by %s.", words, p.Of, p.End, short(p.Gain))
	}
	return fmt.Sprintf("%s more room for %s %s lowers the score by %s.", size, p.Of, p.End, short(p.Gain))
}

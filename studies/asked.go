package studies

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"text/tabwriter"

	"trammel/kin"
	"trammel/objectives"
	"trammel/studies/files"
)

// say writes a measure's value as a person reads it: lengths in the geometry file's unit.
func (st *Study) say(x float64, unit string) string {
	if unit == kin.Millimetre.String() && st.File.Geometry.Units == files.Inch {
		x, unit = x/25.4, "in"
	}
	if math.Abs(x) < 1e-9 { // what rounding leaves of 0
		x = 0
	}
	return strings.TrimSpace(fmt.Sprintf("%.4g %s", x, unit))
}

// position returns the position of a value of a sweep; of a least value, where in the motion it is.
func (st *Study) position(values [][]float64, sweep, at int) kin.Position {
	sw := st.sweeps[sweep]
	if n := len(sw.Motion.Positions); at < n*len(sw.Columns) {
		return sw.Motion.Positions[at%n]
	}
	return kin.LeastAt(values[sweep], at)
}

// sayPlace names the position of a value of a sweep: the travel that moves there.
func (st *Study) sayPlace(values [][]float64, sweep, value int) string {
	m, at := st.sweeps[sweep].Motion, st.position(values, sweep, value)
	at.Wheel, at.Rack = thousandths(at.Wheel), thousandths(at.Rack) // where a least is found to less than that
	var words []string
	if at.Wheel != 0 || at.Rack == 0 && !m.Rolls {
		words = append(words, travelling(m)+" "+st.say(at.Wheel, "mm"))
	}
	if m.Rolls {
		words = append(words, "roll "+st.say(degreesOf(at), "deg"))
	}
	if at.Rack != 0 {
		words = append(words, "rack "+st.say(at.Rack, "mm"))
	}
	return strings.Join(words, ", ")
}

// thousandths rounds a length in mm to 0.001 mm, as finely as travels are told.
func thousandths(mm float64) float64 { return math.Round(mm*1000) / 1000 }

// travelling says what a motion's wheel travel moves.
func travelling(m *kin.Motion) string {
	switch {
	case m.Rolls:
		return "ground lifted"
	case m.Wheels == kin.LeftWheel:
		return "left wheel"
	case m.Wheels == kin.RightWheel:
		return "right wheel"
	}
	return "wheel"
}

// askedOf says what a target asks, in few words.
func (st *Study) askedOf(i int) string {
	t := st.targets[i]
	of := &st.Objective.Targets[i]
	unit := st.columnAt(of.Series).Measure.Unit.String()
	what := ""
	switch t.Shape {
	case files.Follow:
		what = fmt.Sprintf("curve %s to %s", st.say(t.Curve[0][1], ""), st.say(t.Curve[len(t.Curve)-1][1], unit))
	case files.Hold, files.Value:
		what = st.say(t.Value, unit)
	case files.AtMost:
		what = "at most " + st.say(t.Value, unit)
	case files.AtLeast:
		what = "at least " + st.say(t.Value, unit)
	default:
		what = t.Shape.String()
	}
	if t.Relative {
		what += " from design"
	}
	return what + within(st, t, unit)
}

func within(st *Study, t *files.Target, unit string) string {
	a, b := t.Within.Above, t.Within.Below
	switch {
	case t.Shape == files.AtLeast || t.Shape == files.Rising:
		a = b
	case t.Shape == files.AtMost || t.Shape == files.Falling:
		b = a
	}
	switch {
	case len(a) > 1 || len(b) > 1:
		return " within a curve"
	case a[0][1] == b[0][1]:
		return " ± " + st.say(a[0][1], unit)
	}
	return fmt.Sprintf(" +%s −%s", st.say(a[0][1], ""), st.say(b[0][1], unit))
}

// limitOf says what a limit allows, in few words.
func (st *Study) limitOf(i int) string {
	l := &st.Objective.Limits[i]
	unit := st.limitColumn(i).Measure.Unit.String()
	var words []string
	if !math.IsInf(l.Min, -1) {
		words = append(words, "at least "+st.say(l.Min, unit))
	}
	if !math.IsInf(l.Max, 1) {
		words = append(words, "at most "+st.say(l.Max, unit))
	}
	if !math.IsInf(l.Spread, 1) {
		words = append(words, "spread at most "+st.say(l.Spread, unit))
	}
	return strings.Join(words, ", ")
}

// scaleOf says which breach of a limit counts as one.
func (st *Study) scaleOf(i int) string {
	return st.say(st.Objective.Limits[i].Scale, st.limitColumn(i).Measure.Unit.String())
}

// gotOf says where a target departs most, and what stands there.
func (st *Study) gotOf(i int, r *objectives.TargetResult, values [][]float64) (got, place string) {
	of := &st.Objective.Targets[i]
	if r.At < 0 {
		return "no value", ""
	}
	got = st.say(r.Got, st.columnAt(of.Series).Measure.Unit.String())
	if of.Shape >= objectives.Straight && of.Shape <= objectives.Falling {
		got = "off by " + got
	}
	if !slices.ContainsFunc(of.Want, func(w float64) bool { return w != of.Want[0] }) && st.unchanging(values, of.Series) {
		return got, everywhere
	}
	return got, st.sayPlace(values, of.Series.Sweep, of.Series.Offset+of.Series.Rows[r.At])
}

// everywhere is the place of what is the same at all places.
const everywhere = "everywhere"

// unchanging tells whether a measure is the same wherever it is looked at, which is at more than one place.
func (st *Study) unchanging(values [][]float64, all ...objectives.Series) bool {
	least, most, n := math.Inf(1), math.Inf(-1), 0
	for _, s := range all {
		for _, row := range s.Rows {
			v := values[s.Sweep][s.Offset+row]
			if math.IsNaN(v) {
				return false
			}
			least, most, n = min(least, v), max(most, v), n+1
		}
	}
	return n > 1 && most-least <= alike*st.columnAt(all[0]).Measure.Scale
}

// unvalued goes on from "no value" with when a series' measure has none; "" where a position has one.
func (st *Study) unvalued(at int, series objectives.Series) string {
	null := st.columnAt(series).Measure.Null
	if at >= 0 || null == "" {
		return ""
	}
	return "; " + st.columnAt(series).Measure.Name + " has none " + null
}

// nearestOf says where a limit comes nearest or is passed most, and what stands there.
// Of a clearance between several solids e, which stands at the candidate, says which two these are; e may be nil.
func (st *Study) nearestOf(i int, r *objectives.LimitResult, values [][]float64, e *Evaluator) (got, place string) {
	l := &st.Objective.Limits[i]
	if r.At < 0 {
		return "no value", ""
	}
	got = st.say(r.Got, st.limitColumn(i).Measure.Unit.String())
	if !math.IsInf(l.Spread, 1) && math.IsInf(l.Min, -1) && math.IsInf(l.Max, 1) {
		return "spread " + got, ""
	}
	k, row := l.Place(r.At)
	s := l.Series[k]
	if name := st.columnAt(s).Name; name != st.columnAt(l.Series[0]).Name && l.Axis == objectives.NoAxis {
		got = name + " " + got // a part's length on the other side
	}
	if l.Axis == objectives.NoAxis && e != nil {
		got += st.solidsOf(e, s, st.position(values, s.Sweep, s.Offset+s.Rows[row]))
	}
	if l.Axis == objectives.NoAxis && st.unchanging(values, l.Series...) {
		return got, everywhere
	}
	return got, st.sayPlace(values, s.Sweep, s.Offset+s.Rows[row])
}

// unopposed says of the limit of a part that goes across the car that no motion of the study moves one wheel against the other,
// so that little is asked of it; "" of any other limit, and where a motion does.
func (st *Study) unopposed(i int) string {
	col := st.limitColumn(i)
	of := st.File.Geometry.Member(col.Member)
	if of < 0 || !st.File.Geometry.Members[of].Across || col.Measure.Name != "twist" && col.Measure.Name != "length" {
		return ""
	}
	for _, s := range st.sweeps[:st.places] {
		if s.Motion.Rolls || s.Motion.Wheels != kin.BothWheels {
			return ""
		}
	}
	return "no motion of the study moves one wheel against the other, as one with wheels: left or with body_roll does"
}

// solidsOf says which solids of a clearance are nearest at a position, and nothing where there is no choice.
func (st *Study) solidsOf(e *Evaluator, s objectives.Series, at kin.Position) string {
	col, m := st.columnAt(s), st.sweeps[s.Sweep].Motion
	return solidsAt(e.state, st.Program, m, at, *col)
}

// TargetState is how a candidate stands to a target.
type TargetState struct {
	Name    string   `json:"name"`
	Measure string   `json:"measure"`
	Unit    string   `json:"unit,omitempty"`
	Got     *float64 `json:"got"`
	Miss    float64  `json:"miss"`
	Met     bool     `json:"met"`
	Asked   string   `json:"asked"`
	Says    string   `json:"says"`            // Got in words, in the file's unit
	Place   string   `json:"place"`           // where that is
	Drawn   float64  `json:"miss_as_drawn"`   // Miss is that too where the target is not robust
	Built   *Built   `json:"built,omitempty"` // of a robust target of the design and the best answer
}

// LimitState is how a candidate stands to a limit.
type LimitState struct {
	Name    string   `json:"name"`
	Measure string   `json:"measure"`
	Unit    string   `json:"unit,omitempty"`
	Got     *float64 `json:"got"`
	Over    float64  `json:"over"`
	Scale   float64  `json:"scale"` // in Unit: the breach that counts as one
	Broken  bool     `json:"broken"`
	Asked   string   `json:"asked"`
	Says    string   `json:"says"`
	Place   string   `json:"place"`
	Note    string   `json:"note,omitempty"` // why little is asked by it
}

// wanted writes the tables of targets and limits of the best answer.
func (ans *Answer) wanted(b *strings.Builder) {
	best := &ans.Answers[0]
	b.WriteString("\nTargets. Miss 1: the root mean square departure is as large as within. Met: no departure is larger.\n")
	if ans.archive.Study.forgive != nil {
		b.WriteString("The miss of a robust target is that expected of a built car; got and met are as drawn.\n")
	}
	w := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "  target\tmeasure\tasked\tgot, where it is farthest off\tat\tmiss at design\tmiss\tmet")
	for i, t := range best.Targets {
		was := "-"
		if ans.Design != nil {
			was = short(ans.Design.Targets[i].Miss)
		}
		fmt.Fprintf(w, "  %s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", t.Name, t.Measure, t.Asked, t.Says, t.Place, was, short(t.Miss), yes(t.Met))
	}
	w.Flush()
	if len(best.Limits) == 0 {
		return
	}
	// Scales matter where a violation is told.
	broken := slices.ContainsFunc(best.Limits, func(l LimitState) bool { return l.Broken })
	head, scale := "", ""
	if broken {
		b.WriteString("\nLimits. Violation: what broken limits are passed by, each over its scale, the breach that counts as one.\n")
		head = "scale\tpassed by\t"
	} else {
		b.WriteString("\nLimits.\n")
	}
	w = tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
	fmt.Fprintf(w, "  limit\tmeasure\tallowed\tgot, where it is nearest\tat\t%skept\n", head)
	for i, l := range best.Limits {
		if broken {
			scale = ans.archive.Study.scaleOf(i) + "\t"
			if l.Broken {
				scale += short(l.Over) + " scales"
			}
			scale += "\t"
		}
		kept := yes(!l.Broken)
		if l.Note != "" {
			kept += ", but " + l.Note
		}
		fmt.Fprintf(w, "  %s\t%s\t%s\t%s\t%s\t%s%s\n", l.Name, l.Measure, l.Asked, l.Says, l.Place, scale, kept)
	}
	w.Flush()
}

// where goes on from a value with where it stands.
func where(place string) string {
	if place == everywhere {
		return place
	}
	return "at " + place
}

// at joins a value and where it stands.
func at(got, place string) string {
	if place == "" {
		return got
	}
	return got + " " + where(place)
}

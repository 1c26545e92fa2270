package studies

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"trammel/kin"
	"trammel/studies/files"
)

// solidsAt says which two solids of a clearance are nearest at a position of a motion, with a comma and a blank in front; "" where
// there is no choice, and where the linkage does not close.
func solidsAt(state *kin.State, prog *kin.Program, m *kin.Motion, at kin.Position, col kin.Column) string {
	sw := prog.NewSweep(kin.NewPlaces(m.Name, m.Wheels, m.Rolls, []kin.Position{at}), []kin.Column{col})
	if _, f := state.Run(sw, make([]float64, sw.Size())); f.Status != kin.OK {
		return ""
	}
	one, other, ok := state.Nearest(sw, 0)
	if !ok {
		return ""
	}
	return ", " + one + " to " + other
}

// tightest is where a clearance is least.
type tightest struct {
	measure string  // with its side, where that is not the drawn one
	gap     float64 // mm; +Inf where nothing closes
	solids  string  // which two, where there is a choice: see solidsAt
	place   string
}

// tightest finds where a clearance is least over motions, between their positions too, on the sides that it has.
func (m *mover) tightest(c *files.Clearance, motions []travels) tightest {
	least, most, looked := tightest{gap: math.Inf(1)}, math.Inf(-1), 0
	for _, name := range m.bothSides(c.Name+".clearance", c.Across) {
		col, err := m.prog.Column(name)
		if err != nil {
			continue
		}
		for k := range motions {
			tr := &motions[k]
			out, sweep := m.look(tr, []kin.Column{col})
			if out == nil {
				continue
			}
			gap, place := leastOver(sweep, out)
			n := len(sweep.Motion.Positions)
			most, looked = max(most, slices.Max(out[:n])), looked+n
			// The mirrored side is as near at the opposite rack travel; rounding does not choose between them.
			if !(gap < least.gap-alike) {
				continue
			}
			least = tightest{name, gap, solidsAt(m.state, m.prog, sweep.Motion, place, col), m.sayAt(way{rolls: tr.way.rolls}, place)}
		}
	}
	if looked > 1 && most-least.gap <= alike {
		least.place = everywhere
	}
	return least
}

// leastOver returns the least of a sweep's one column, +Inf where it has no value, and where that is: between positions too
// where the sweep looks there.
func leastOver(sweep *kin.Sweep, out []float64) (gap float64, place kin.Position) {
	if at, ok := sweep.Least(0); ok {
		return out[at], kin.LeastAt(out, at)
	}
	gap = math.Inf(1)
	for i, p := range sweep.Motion.Positions {
		if out[i] < gap {
			gap, place = out[i], p
		}
	}
	return gap, place
}

// tooNear says which clearances are less over motions than the geometry allows, whether or not they are listed. What is no worse
// than over the motions before is left out.
func (m *mover) tooNear(motions, before []travels) (notes []string) {
	for i := range m.g.Clearances {
		c := &m.g.Clearances[i]
		t, least := m.tightest(c, motions), m.g.Units.ToMM(c.Min)
		if t.gap >= least || t.gap >= m.tightest(c, before).gap-hardly {
			continue
		}
		says := fmt.Sprintf("%s goes down to %s (at %s%s)", t.measure, inUnit(m.g, t.gap), t.place, t.solids)
		if t.place == everywhere {
			says = fmt.Sprintf("%s is %s everywhere%s", t.measure, inUnit(m.g, t.gap), t.solids)
		}
		notes = append(notes, fmt.Sprintf("%s, and the least that the geometry allows is %s", says, inUnit(m.g, least)))
	}
	return notes
}

// gaps says how near the solids of each clearance come over the file's own travel, and where they come nearer still in what else
// is looked at.
func (c *check) gaps() {
	if len(c.g.Clearances) == 0 {
		return
	}
	c.line("Clearances, over all of this:")
	var own []travels
	var more []look
	for _, l := range c.looks() {
		if l.name == grid || l.name == cross {
			more = append(more, l)
		} else {
			own = append(own, l.travels)
		}
	}
	for i := range c.g.Clearances {
		of := &c.g.Clearances[i]
		t, least := c.tightest(of, own), c.g.Units.ToMM(of.Min)
		if math.IsInf(t.gap, 1) {
			continue
		}
		says := fmt.Sprintf("  %s: %s (%s or more)%s%s, %s", strings.TrimSuffix(t.measure, ".clearance"), c.short(t.gap), inUnit(c.g, least), t.solids, tooLittle(t.gap, least), where(t.place))
		for k := range more {
			// What differs by less than is shown is not told.
			far := c.tightest(of, ways(more[k:k+1]))
			if !(far.gap < t.gap) || c.short(far.gap) == c.short(t.gap) {
				continue
			}
			side := ""
			if far.measure != t.measure {
				side = " of " + strings.TrimSuffix(far.measure, ".clearance")
			}
			says += fmt.Sprintf("; with %s %s%s%s%s, %s", atOnce[more[k].name], c.short(far.gap), side, far.solids, tooLittle(far.gap, least), where(far.place))
			t = far
		}
		c.line("%s.", says)
	}
	if twice := c.twiceOnAxle(); twice != nil {
		c.line("  %s on the axle twice, as drawn and mirrored; write once: true on what is one thing, such as a differential.", stand(twice))
	}
	c.line("  They may come nearer %s: cycle says there which have too little.", c.unseen())
	if bare := c.roomless(); bare != nil {
		c.line("  No room is drawn for %s, so nothing is said of what may touch there; nor for uprights, brakes, hoses and all else that is no solid of this file.", and(bare))
	}
}

// atOnce says what goes at once in a look.
var atOnce = map[string]string{grid: "both travels at once", cross: "one wheel in bump and the other in droop"}

// unseen says where a check does not look.
func (c *check) unseen() string {
	switch {
	case !c.ties():
		return "in roll"
	case c.prog.Steered():
		return "with one wheel alone, and where the body rolls with the rack turned"
	}
	return "with one wheel alone"
}

// twiceOnAxle are the solids on an axle, which is one body for both sides, that have a mirror image on it.
func (c *check) twiceOnAxle() (names []string) {
	for i := range c.g.Solids {
		if s := &c.g.Solids[i]; !s.Across && s.Bodies[0] == kin.Axle {
			names = append(names, s.Name)
		}
	}
	return names
}

// roomless are the members that no solid stands for or moves with, of those that are parts between points. What a ball joint, a
// hinge or a kingpin holds is the upright, or the axle.
func (c *check) roomless() (names []string) {
	for i := range c.g.Members {
		m := &c.g.Members[i]
		switch m.Kind {
		case kin.Distance, kin.Bar, kin.Centre, kin.Ball, kin.Hinge, kin.Kingpin:
			continue
		}
		drawn := func(s files.Solid) bool { return s.Name == m.Name || slices.Contains(s.Bodies, m.Name) }
		if m.Tube.Diameter > 0 || slices.ContainsFunc(c.g.Solids, drawn) {
			continue
		}
		names = append(names, m.Name)
	}
	return names
}

// tooLittle says what is wrong with a gap; "" of one that is enough.
func tooLittle(gap, least float64) string {
	switch {
	case gap < 0:
		return ", which overlap"
	case gap < least:
		return ", which is too little"
	}
	return ""
}

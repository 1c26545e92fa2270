package studies

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"trammel/kin"
	"trammel/optimize"
	"trammel/studies/files"
)

// unwatched is a limit that looks at the drawn side of a measure which is worse on the other side in the same motion.
type unwatched struct {
	limit  *files.Limit
	breaks bool // the other side passes it, and the drawn one does not
	says   string
}

// otherSides returns the limits over motions that name no side and are worse on the side that the file does not draw: which break
// there, or have less than half of the room left that they have on the drawn side. A limit at a place means the wheel that it names, and one of a measure
// that is turned over in the mirror, such as steer_angle, means that side alone. What is asked of the other side in the same motion is watched.
func (m *mover) otherSides(st *Study) (out []unwatched) {
	for i := range st.File.Limits {
		l := &st.File.Limits[i]
		if l.Motion < 0 || l.Place != nil {
			continue
		}
		this, err := m.prog.Column(l.Measure)
		if err != nil {
			continue
		}
		other, ok := m.acrossFrom(&this)
		if !ok || slices.ContainsFunc(st.File.Limits, func(o files.Limit) bool { return o.Motion == l.Motion && o.Measure == other.Name }) {
			continue
		}
		motion := &st.File.Motions[l.Motion]
		tr := travelsOf(motion)
		values := m.values(&tr, []kin.Column{this, other})
		if values == nil {
			continue
		}
		at, n := tr.motion(motion.Name).Positions, len(values)/2
		near, far := worst(l, values[:n]), worst(l, values[n:])
		scale := or(l.Scale, 1)
		if l.Scale == nil {
			scale = this.Measure.Scale
		}
		if near.at < 0 || far.at < 0 || far.over < near.over+alike*scale || far.over < near.over/2 {
			continue
		}
		breaks := far.over > 0
		says := func(c *kin.Column, w *breach) string {
			got := fmt.Sprintf("%s comes to %s", c.Name, st.say(w.got, this.Measure.Unit.String()))
			if w.spread {
				return fmt.Sprintf("%s spreads over %s", c.Name, st.say(w.got, this.Measure.Unit.String()))
			}
			return got + " at " + m.sayAt(tr.way, at[w.at])
		}
		u := unwatched{limit: l, breaks: breaks && near.over <= 0}
		u.says = fmt.Sprintf("%s watches the %s side of the car alone, where %s; in the same motion %s", l.Name, drawn(m.g), says(&this, &near), says(&other, &far))
		if breaks {
			u.says += ", which breaks it"
		}
		out = append(out, u)
	}
	return out
}

// acrossFrom returns the same measure on the side that the file does not draw; false where it is of the whole axle, asks for a side, or is
// turned over in the mirror.
func (m *mover) acrossFrom(c *kin.Column) (kin.Column, bool) {
	terms, minus := c.Terms()
	names := make([]string, len(terms))
	for i, t := range terms {
		if t.Side != kin.Once || slices.Contains(turned, t.Measure.Name) {
			return kin.Column{}, false
		}
		names[i] = otherSide(m.g).String() + "." + t.Name
	}
	sign := " + "
	if minus {
		sign = " - "
	}
	other, err := m.prog.Column(strings.Join(names, sign))
	return other, err == nil
}

// breach is by how much values pass a limit, or how far they stay from it, negative; in the measure's unit.
type breach struct {
	over, got float64
	at        int // of the value; -1 where there is none
	spread    bool
}

// worst finds the value that passes a limit most, or comes nearest to it.
func worst(l *files.Limit, values []float64) breach {
	w, least, most := breach{over: math.Inf(-1), at: -1}, math.Inf(1), math.Inf(-1)
	for i, v := range values {
		if math.IsNaN(v) {
			continue
		}
		if over := max(v-or(l.Max, 1), or(l.Min, -1)-v); over > w.over || w.at < 0 {
			w = breach{over: over, got: v, at: i}
		}
		least, most = min(least, v), max(most, v)
	}
	if wide := most - least - or(l.Spread, 1); w.at >= 0 && wide > w.over {
		w = breach{over: wide, got: most - least, at: w.at, spread: true}
	}
	return w
}

// sideRemarks says of a study which of its limits are worse on the side that they do not look at, with the geometry as drawn.
func (c *check) sideRemarks(st *Study) (out files.Problems) {
	for _, u := range c.otherSides(st) {
		out = append(out, files.Problem{File: st.File.Path, Position: u.limit.Pos, Path: "limits." + u.limit.Name,
			Message: u.says + "; if it counts on both sides, ask for the other in a limit of its own"})
	}
	return out
}

// overMotions adds to an answer what its best geometry does over the motions of the study that no limit looks at: which limits it keeps
// on the side that they look at and breaks on the other, and where one spin of a rod cannot relieve both its ends.
func (a *Archive) overMotions(ans *Answer, best *optimize.Point) {
	m, err := newMover(a.Study.geometry(best, a.e))
	if err != nil {
		return // as in outside
	}
	for _, u := range m.otherSides(a.Study) {
		if u.breaks {
			ans.Notes = append(ans.Notes, fmt.Sprintf("%s:%d:%d: %s; ask for the other side in a limit of its own if it counts there too.", a.Study.File.Path, u.limit.Pos.Line, u.limit.Pos.Column, u.says))
		}
	}
	motions := studyTravels(a.Study.File)
	for _, s := range m.clockings(m.findAxes(motions), motions) {
		ans.Notes = append(ans.Notes, fmt.Sprintf("Over the study's motions %s.", s.says))
	}
}

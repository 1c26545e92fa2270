package studies

import (
	"fmt"
	"math"
	"slices"

	"trammel/kin"
	"trammel/studies/files"
)

// values returns measures over a motion, column by column; nil where the linkage does not go through it.
func (m *mover) values(tr *travels, columns []kin.Column) []float64 {
	sweep := m.prog.NewSweep(tr.motion("look"), columns)
	out := make([]float64, sweep.Size())
	if _, f := m.state.Run(sweep, out); f.Status != kin.OK {
		return nil
	}
	return out
}

// inUnit writes a length of so many mm in the file's unit, to the lattice.
func inUnit(g *files.Geometry, mm float64) string {
	return g.Units.Format(g.Units.FromMM(mm)) + " " + g.Units.String()
}

// unmeasured says of each measure that has no value in any row why that is.
func (m *mover) unmeasured(t *Table, columns []kin.Column) []string {
	var notes []string
	for i := range columns {
		c := &columns[i]
		at := t.Rows.Index(columnOf(c))
		if t.valued(at) {
			continue
		}
		if c.Measure.Null != "" {
			notes = append(notes, fmt.Sprintf("%s: %s has no value at any of these positions; it has none %s", m.g.Path, c.Name, c.Measure.Null))
		}
	}
	return notes
}

// turned are the measures that change their sign in the mirror.
var turned = []string{"steer_angle", "contact_y", "roll_camber"}

// alike is how far, in scales of a measure, the two sides of the car may be apart and still be the same: much more than
// rounding, much less than anybody sees.
const alike = 1e-6

// oneSided says that measures are of the drawn side alone where the other side does something else; "" where it does not,
// or where a side was asked for. The other side is looked at with the rack at the opposite travel.
func (m *mover) oneSided(columns []kin.Column, tr *travels) string {
	mirror := *tr
	mirror.rack = slices.Clone(tr.rack)
	for i := range mirror.rack {
		mirror.rack[i] *= -1
	}
	says := ""
	for i := range columns {
		terms, _ := columns[i].Terms()
		for _, t := range terms {
			if t.Side != kin.Once {
				return ""
			}
			other, err := m.prog.Column(otherSide(m.g).String() + "." + t.Name)
			if err != nil || t.Measure.Name == wheelTravel || says != "" {
				continue
			}
			if !m.sameSides(tr, &mirror, t, other) {
				says = fmt.Sprintf("the two sides of the car differ here, and the table lists the %s one; ask for the other with --measures %s and so on", drawn(m.g), other.Name)
			}
		}
	}
	return says
}

// sameSides tells whether a measure is the same on both sides.
func (m *mover) sameSides(tr, mirror *travels, this, other kin.Column) bool {
	sign := 1.0
	if slices.Contains(turned, this.Measure.Name) {
		sign = -1
	}
	a, b := m.values(tr, []kin.Column{this}), m.values(mirror, []kin.Column{other})
	for i := range min(len(a), len(b)) {
		if math.IsNaN(a[i]) != math.IsNaN(b[i]) || math.Abs(a[i]-sign*b[i]) > alike*(this.Measure.Scale+math.Abs(a[i])) {
			return false
		}
	}
	return len(a) == len(b)
}

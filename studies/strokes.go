package studies

import (
	"fmt"
	"math"
	"slices"

	"trammel/kin"
	"trammel/studies/files"
)

// used says how much of its length a part uses over a motion, and how much is left at both ends, in words that go on from
// its name: "71 of 80 mm used; 4 mm left at wheel_travel +60 mm, 5 mm at wheel_travel -60 mm; its bump stop is met at wheel_travel +38 mm
// and crushed by 13 mm". "" where the file gives the part no length, or the part goes beyond one.
func (m *mover) used(of *files.Member, tr *travels, lengths []float64) string {
	u := m.g.Units
	i, k := extremes(lengths)
	least, most := lengths[i], lengths[k]
	place := func(i int) string { return m.place(tr, i) }
	words := ""
	add := func(format string, args ...any) {
		if words != "" {
			words += "; "
		}
		words += fmt.Sprintf(format, args...)
	}
	closed, open := of.Length.Min, of.Length.Max
	switch {
	case closed != nil && least < u.ToMM(*closed) || open != nil && most > u.ToMM(*open) || of.Solid > 0 && least < u.ToMM(of.Solid):
		return ""
	case closed != nil && open != nil && still(m.plain(most-least)):
		add("0 of %s used; %s left to close and %s to open", m.short(u.ToMM(*open-*closed)), m.short(least-u.ToMM(*closed)), m.short(u.ToMM(*open)-most))
	case closed != nil && open != nil:
		add("%s of %s used; %s left at %s, %s at %s", m.plain(most-least), m.short(u.ToMM(*open-*closed)),
			m.short(least-u.ToMM(*closed)), place(i), m.short(u.ToMM(*open)-most), place(k))
	case closed != nil:
		add("%s left until it is closed, at %s", m.short(least-u.ToMM(*closed)), place(i))
	case open != nil:
		add("%s left until it is taut, at %s", m.short(u.ToMM(*open)-most), place(k))
	}
	if of.Solid > 0 {
		add("%s left until its coils touch, at %s", m.short(least-u.ToMM(of.Solid)), place(i))
	}
	if of.Stop > 0 {
		add("%s", m.stopWords(u.ToMM(of.Stop), tr, lengths, place(i)))
	}
	return words
}

// place says where position i of a motion is, without which wheel it moves.
func (m *mover) place(tr *travels, i int) string {
	return m.sayAt(way{rolls: tr.way.rolls}, tr.positions()[i])
}

// stopWords says where a bump stop is met on the way from design, and how far it is crushed at its most.
func (m *mover) stopWords(stop float64, tr *travels, lengths []float64, shortest string) string {
	crush := stop - slices.Min(lengths)
	if crush <= 0 {
		return fmt.Sprintf("%s left to its bump stop, at %s", m.short(-crush), shortest)
	}
	a, v, ok := tr.single()
	if !ok {
		return fmt.Sprintf("its bump stop is crushed by %s at %s", m.short(crush), shortest)
	}
	// The lengths that bracket the stop, nearest to where the travel is 0.
	met := math.Inf(1)
	for i := range len(lengths) - 1 {
		x, y := stop-lengths[i], stop-lengths[i+1]
		if (x > 0) != (y > 0) {
			if at := v[i] + (v[i+1]-v[i])*x/(x-y); math.Abs(at) < math.Abs(met) {
				met = at
			}
		}
	}
	if math.IsInf(met, 1) {
		return fmt.Sprintf("it is on its bump stop all the way, crushed by up to %s", m.short(crush))
	}
	return fmt.Sprintf("its bump stop is met at %s %s and crushed by %s", a, a.say(met, m.g.Units, nearest), m.short(crush))
}

// single returns the one travel that moves, with its values in the order of positions, as positions count it.
func (t *travels) single() (axis, []float64, bool) {
	moving, found := alongWheel, 0
	for a, values := range [...][]float64{alongWheel: t.wheel, alongRoll: t.roll, alongRack: t.rack} {
		if len(values) > 1 {
			moving, found = axis(a), found+1
		}
	}
	var v []float64
	for _, p := range t.positions() {
		v = append(v, moving.of(p))
	}
	return moving, v, found == 1
}

// extremes returns where values are least and greatest.
func extremes(values []float64) (least, most int) {
	for i, v := range values {
		if v < values[least] {
			least = i
		}
		if v > values[most] {
			most = i
		}
	}
	return least, most
}

// short is a length in mm in the unit of the file with its unit, in no more digits than it needs: 4.2 mm, 80 mm.
func (m *mover) short(mm float64) string { return m.plain(mm) + " " + m.g.Units.String() }

// plain is the same without the unit.
func (m *mover) plain(mm float64) string {
	if m.g.Units == files.Inch {
		return trimmed(mm/25.4, 2)
	}
	return trimmed(mm, 1)
}

// trimmed is a number with at most so many digits after the point.
func trimmed(v float64, digits int) string {
	s := shortNumber(v, digits, nearest)
	if s[0] == '+' {
		return s[1:]
	}
	return s
}

// strokes says of each listed part with a length how much of it the wheels' travel uses; the other side is spoken of where it
// uses something else.
func (m *mover) strokes(motions []travels, columns []kin.Column) (notes []string) {
	for k := range motions {
		tr := &motions[k]
		if len(tr.wheel) < 3 && len(tr.roll) < 3 {
			continue // single places have no stroke
		}
		for i := range m.g.Members {
			of := &m.g.Members[i]
			if !slices.ContainsFunc(columns, func(c kin.Column) bool { return c.Member == of.Name }) {
				continue
			}
			before := ""
			for _, name := range m.bothSides(of.Name, of.Across) {
				c, err := m.prog.Column(name + ".length")
				if err != nil {
					break
				}
				lengths := m.values(tr, []kin.Column{c})
				if lengths == nil {
					break
				}
				if says := m.used(of, tr, lengths); says != "" && says != before {
					notes = append(notes, name+": "+says)
					before = says
				}
			}
		}
	}
	return notes
}

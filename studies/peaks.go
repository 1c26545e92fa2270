package studies

import (
	"fmt"
	"math"
	"strings"

	"trammel/kin"
	"trammel/objectives"
	"trammel/studies/files"
)

// peak is an end of what a measure goes through.
type peak struct {
	name  string // of the measure, with its side where that is not the drawn one
	value float64
	place string
}

// peaks finds where a measure is least and where it is most over motions, on the sides that it has; ok is false where it has no
// value.
func (m *mover) peaks(measure string, across bool, motions []travels) (least, most peak, ok bool) {
	type spot struct {
		name     string
		value    float64
		motion   *travels
		position int
	}
	low, high, looked, places := spot{value: math.Inf(1)}, spot{value: math.Inf(-1)}, false, 0
	for k := range motions {
		places += len(motions[k].positions())
	}
	for _, name := range m.bothSides(measure, across) {
		c, err := m.prog.Column(name)
		if err != nil {
			continue
		}
		for k := range motions {
			for i, v := range m.values(&motions[k], []kin.Column{c}) {
				if math.IsNaN(v) {
					continue
				}
				looked = true
				// The mirrored side has the same at the opposite rack travel; rounding does not choose between them.
				if v < low.value-alike {
					low = spot{name, v, &motions[k], i}
				}
				if v > high.value+alike {
					high = spot{name, v, &motions[k], i}
				}
			}
		}
	}
	if !looked {
		return peak{}, peak{}, false
	}
	told := func(s *spot) peak {
		if places > 1 && high.value-low.value <= alike {
			return peak{s.name, s.value, everywhere}
		}
		return peak{s.name, s.value, m.place(s.motion, s.position)}
	}
	return told(&low), told(&high), true
}

// hardly is by how much, in mm or deg, a value has to pass one that was told to be told as well.
const hardly = 0.1

// beyond says what goes beyond what the geometry allows its parts, on either side of the car, whether or not it is listed, and
// where that is: lengths, twist, plunge, shafts' joints, tilts, the travel of the rack. tooNear speaks of clearances. What is no
// worse than over the motions before is left out.
func (m *mover) beyond(motions, before []travels) (notes []string) {
	for _, l := range m.g.PartLimits() {
		if strings.HasSuffix(l.Measure, ".clearance") { // tooNear says between what
			continue
		}
		col, err := m.prog.Column(l.Measure)
		if err != nil {
			continue
		}
		least, most, ok := m.peaks(l.Measure, l.Across, motions)
		if !ok {
			continue
		}
		low, high := math.Inf(1), math.Inf(-1)
		if a, b, told := m.peaks(l.Measure, l.Across, before); told {
			low, high = a.value-hardly, b.value+hardly
		}
		slack := objectives.Broken * col.Measure.Scale
		closes, opens := m.limitWords(l)
		if l.Min != nil && least.value < min(*l.Min-slack, low) {
			got, limit := m.compared(col.Measure.Unit, least.value, *l.Min)
			notes = append(notes, fmt.Sprintf("%s goes down to %s (%s), and the least that the geometry allows is %s%s", plainLength(least.name), got, where(least.place), limit, closes))
		}
		if l.Max != nil && most.value > max(*l.Max+slack, high) {
			got, limit := m.compared(col.Measure.Unit, most.value, *l.Max)
			notes = append(notes, fmt.Sprintf("%s goes up to %s (%s), and the most that the geometry allows is %s%s", plainLength(most.name), got, where(most.place), limit, opens))
		}
	}
	for k := range motions {
		if says := rackBeyond(m.g, motions[k].rack); says != "" {
			notes = append(notes, says)
			break
		}
	}
	return notes
}

// plainLength names the length of a part by the part alone.
func plainLength(measure string) string { return strings.TrimSuffix(measure, ".length") }

// compared writes two values so that one can be told from the other.
func (m *mover) compared(unit kin.Unit, a, b float64) (string, string) {
	if unit == kin.Millimetre {
		return inUnit(m.g, a), inUnit(m.g, b)
	}
	digits := 2
	for digits < 6 && a != b && trimmed(a, digits) == trimmed(b, digits) {
		digits++
	}
	return trimmed(a, digits) + " " + unit.String(), trimmed(b, digits) + " " + unit.String()
}

// limitWords says what it means to pass the lower and the upper end of a part's limit.
func (m *mover) limitWords(l files.PartLimit) (closes, opens string) {
	for i := range m.g.Members {
		of := &m.g.Members[i]
		if of.Name+".length" != l.Measure {
			continue
		}
		closes, opens = ": it is on its stop", ": it is on its stop"
		if l.Min != nil && of.Solid > 0 && *l.Min == m.g.Units.ToMM(of.Solid) {
			closes = ": its coils touch"
		}
	}
	return closes, opens
}

// rackBeyond says that rack travels, mm, are more than the rack has; "" where they are not.
func rackBeyond(g *files.Geometry, travels []float64) string {
	if g.RackTravel == 0 {
		return ""
	}
	has, most := g.Units.ToMM(g.RackTravel), 0.0
	for _, v := range travels {
		if math.Abs(v) > math.Abs(most) {
			most = v
		}
	}
	if math.Abs(most) <= has+1e-9 {
		return ""
	}
	return fmt.Sprintf("the rack is moved by %s to a side, and it can go %s: rack: {travel: %s}", inUnit(g, math.Abs(most)), inUnit(g, has), g.Units.Format(g.RackTravel))
}

// bothSides returns the names of a part on the drawn side and the other, or its one name.
func (m *mover) bothSides(name string, across bool) []string {
	if across {
		return []string{name}
	}
	return []string{name, otherSide(m.g).String() + "." + name}
}

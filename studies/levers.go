package studies

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"trammel/kin"
	"trammel/studies/files"
)

// Beyond these a lever works badly. They are common practice, without a source; nothing is refused on their account.
const (
	nearDeadCentre = 15.0 // deg, between a rod and the arm that it works on
	farFromSquare  = 15.0 // deg, from which a spring at full bump is no longer about square to its arm
)

// lining is how near a rod, damper or spring comes to a dead centre at one of its ends.
type lining struct {
	member *files.Member
	says   string
}

// linings finds what comes near a dead centre over the motions, on either side of the car.
func (m *mover) linings(motions []travels) (out []lining) {
	for i := range m.g.Members {
		of := &m.g.Members[i]
		ends := m.prog.LeverEnds(of.Name)
		for _, k := range ends {
			measure := ".dead_centre"
			if len(ends) == 2 {
				measure = [...]string{".dead_centre_first", ".dead_centre_second"}[k]
			}
			if least, _, ok := m.peaks(of.Name+measure, of.Across, motions); ok && least.value < nearDeadCentre {
				out = append(out, lining{of, liningWords(of, k, strings.TrimSuffix(least.name, measure), &least)})
			}
		}
	}
	return out
}

// liningWords says how near one end of a member, by the name that it has on its side, comes to a dead centre, and where.
func liningWords(of *files.Member, end int, name string, least *peak) string {
	axis := "the axis of " + of.Bodies[end]
	if bare(of.Bodies[end]) == kin.Upright {
		axis = "the steering axis"
	}
	return fmt.Sprintf("%s comes within %s deg of pointing at %s, %s; there it turns little and its load grows, so %s deg or more are kept as a rule (common practice, no source), as a limit on %s.dead_centre does",
		name, trimmed(least.value, 1), axis, where(least.place), trimmed(nearDeadCentre, 0), of.Name)
}

// lined are the sentences of linings.
func (m *mover) lined(motions []travels) (notes []string) {
	for _, l := range m.linings(motions) {
		notes = append(notes, l.says)
	}
	return notes
}

// leverRemarks says which levers come near a dead centre in all that is looked at.
func (c *check) leverRemarks(note func(p files.Problem, format string, args ...any)) {
	at := func(m *files.Member) files.Problem {
		return files.Problem{File: c.g.Path, Position: m.Pos, Path: "members." + m.Name}
	}
	for _, l := range c.linings(ways(c.looks())) {
		note(at(l.member), "%s", l.says)
	}
}

// square says how far from square to their arms springs stand at the end of bump, where they are best set square; "" where
// they do, or none works on an arm.
func (c *check) square(tr *travels) string {
	bump := *tr
	bump.wheel = []float64{slices.Max(tr.wheel)}
	var off []string
	for _, m := range c.springs() {
		col, err := c.prog.Column(m.Name + ".lever_angle")
		if err != nil {
			continue
		}
		for _, v := range c.values(&bump, []kin.Column{col}) {
			if a := math.Abs(v - 90); a > farFromSquare {
				off = append(off, fmt.Sprintf("%s is %s deg", m.Name, rounded(a, 0)))
			}
		}
	}
	if off == nil {
		return ""
	}
	return "At full bump " + and(off) + " from square to the arm it works on; a spring is best set square to its arm near full bump, where it has its full leverage (common practice, no source)"
}

// springs are the members that the car stands on, as far as they work on an arm or rocker of their side: springs, and
// where there are none dampers, which may carry them.
func (c *check) springs() []*files.Member {
	for _, kind := range []kin.Kind{kin.Spring, kin.Damper} {
		var out []*files.Member
		for i := range c.g.Members {
			m := &c.g.Members[i]
			if m.Kind == kind && !m.Across {
				out = append(out, m)
			}
		}
		if out = slices.DeleteFunc(out, func(m *files.Member) bool { return len(c.prog.LeverEnds(m.Name)) == 0 }); out != nil {
			return out
		}
	}
	return nil
}

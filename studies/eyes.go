package studies

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"text/tabwriter"

	"trammel/kin"
	"trammel/studies/files"

	"gonum.org/v1/gonum/spatial/r3"
)

// Eyes is how far two eyes of a part are from each other, in the file's unit: the length of a rod as drawn, or one distance of the pattern
// to which an arm or a rocker is welded or drilled.
type Eyes struct {
	Of   string  `json:"of"`             // the member, with its side where the sides differ
	From string  `json:"from,omitempty"` // points; of what has two only, none
	To   string  `json:"to,omitempty"`
	Was  float64 `json:"was"`
	Now  float64 `json:"now"`

	mm float64 // of one geometry
}

// eyed is a point on a part, with its side where it has one.
type eyed struct {
	name string
	side files.Side
}

// eyes lists the distances between the eyes of every member of a geometry as drawn: of two points their one, of arms and rockers those
// between all points on them, and on the other side of the car those that are others there.
func eyes(g *files.Geometry) (out []Eyes) {
	for i := range g.Members {
		m := &g.Members[i]
		on := pointsOn(g, m)
		first := len(out)
		out = append(out, pattern(g, m.Name, on)...)
		if m.Across {
			continue
		}
		for k := range on {
			on[k].side = otherSide(g)
		}
		for k, e := range pattern(g, otherSide(g).String()+"."+m.Name, on) {
			if math.Abs(e.mm-out[first+k].mm) > 0.5e-3 {
				out = append(out, e)
			}
		}
	}
	return out
}

// pointsOn returns the points on a member: its own, and of an arm or rocker what other members have on it.
func pointsOn(g *files.Geometry, m *files.Member) (on []eyed) {
	add := func(of *files.Member, k int) {
		e := eyed{name: of.Points[k]}
		if of.Sides != nil && of.Sides[k] != g.Side {
			e.side = of.Sides[k]
		}
		if !slices.Contains(on, e) {
			on = append(on, e)
		}
	}
	for k := range m.Points {
		add(m, k)
	}
	switch m.Kind {
	case kin.Arm, kin.HArm, kin.Rocker:
	default:
		return on
	}
	for i := range g.Members {
		of := &g.Members[i]
		for k := range of.Points {
			far := of.Sides != nil && of.Sides[k] == otherSide(g)
			if of.Name != m.Name && bodyOf(of, k) == m.Name && (m.Across || !far) {
				add(of, k)
			}
		}
	}
	return on
}

// pattern returns the distances between points.
func pattern(g *files.Geometry, of string, on []eyed) (out []Eyes) {
	for i := range on {
		for k := i + 1; k < len(on); k++ {
			e := Eyes{Of: of, mm: r3.Norm(r3.Sub(standsAt(g, on[i]), standsAt(g, on[k])))}
			if len(on) > 2 {
				e.From, e.To = on[i].name, on[k].name
			}
			out = append(out, e)
		}
	}
	return out
}

// standsAt is where a point stands, in mm: on the other side of the car the mirror image, or the place that the file gives there.
func standsAt(g *files.Geometry, e eyed) r3.Vec {
	at := g.ToISO(g.Points[g.Point(e.name)].N)
	if e.side != otherSide(g) {
		return at
	}
	if k := g.Point("opposite." + e.name); k >= 0 {
		return g.ToISO(g.Points[k].N)
	}
	at.Y = -at.Y
	return at
}

// eyesFine is how finely eyes are told: in mm, and in inches.
func eyesFine(u files.Unit) float64 {
	if u == files.Inch {
		return 0.001
	}
	return 0.01
}

// eyesOf turns mm into the unit of a geometry, as finely as eyes are told.
func eyesOf(g *files.Geometry, mm float64) float64 {
	fine := eyesFine(g.Units)
	if g.Units == files.Inch {
		mm /= 25.4
	}
	return math.Round(mm/fine) * fine
}

// changedEyes lists the distances between eyes that are others in one geometry than in another of the same members.
func changedEyes(was, now *files.Geometry) (out []Eyes) {
	// A side may differ in one of the two alone.
	before, after := eyes(was), eyes(now)
	at := func(all []Eyes, e *Eyes) float64 {
		for _, of := range []string{e.Of, bareOf(was, e.Of)} {
			if k := slices.IndexFunc(all, func(x Eyes) bool { return x.Of == of && x.From == e.From && x.To == e.To }); k >= 0 {
				return all[k].mm
			}
		}
		panic("studies: " + e.Of + " is in one of two geometries")
	}
	both := slices.Clone(after)
	for i := range before {
		if !slices.ContainsFunc(after, func(x Eyes) bool {
			return x.Of == before[i].Of && x.From == before[i].From && x.To == before[i].To
		}) {
			both = append(both, before[i])
		}
	}
	for i := range both {
		e := both[i]
		e.Was, e.Now = eyesOf(was, at(before, &e)), eyesOf(now, at(after, &e))
		if e.Was != e.Now {
			out = append(out, e)
		}
	}
	return out
}

// bareOf is the name of a member without the side that eyes put in front of it.
func bareOf(g *files.Geometry, name string) string {
	return strings.TrimPrefix(name, otherSide(g).String()+".")
}

// between says which two points of a part eyes are, where it has more.
func (e *Eyes) between() string {
	if e.From == "" {
		return e.Of
	}
	return fmt.Sprintf("%s, %s to %s", e.Of, e.From, e.To)
}

// welds writes a table of what to make longer or shorter.
func welds(b *strings.Builder, all []Eyes) {
	w := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "  part\twas\tnow\tby")
	for i := range all {
		e := &all[i]
		fmt.Fprintf(w, "  %s\t%s\t%s\t%s\n", e.between(), decimals(e.Was), decimals(e.Now), plus(e.Now-e.Was))
	}
	w.Flush()
}

// eyesNotes says the same in sentences, one for each.
func eyesNotes(all []Eyes, u files.Unit) (says []string) {
	if len(all) > 0 {
		says = append(says, fmt.Sprintf("Eye to eye as drawn at ride height, in %s, where the study's geometry has another length:", u))
	}
	for i := range all {
		e := &all[i]
		says = append(says, fmt.Sprintf("  %s: %s (was %s)", e.between(), decimals(e.Now), decimals(e.Was)))
	}
	return says
}

// lengths lists the lengths of rods and the patterns of arms, as drawn.
func (c *check) lengths() {
	all := eyes(c.g)
	if len(all) == 0 {
		return
	}
	c.line("\nEye to eye as drawn, in %s:", c.g.Units)
	for i := 0; i < len(all); {
		var words []string
		of := all[i].Of
		for ; i < len(all) && all[i].Of == of; i++ {
			is := decimals(eyesOf(c.g, all[i].mm))
			if all[i].From != "" {
				is = fmt.Sprintf("%s to %s %s", all[i].From, all[i].To, is)
			}
			words = append(words, is)
		}
		c.line("  %s: %s.", of, strings.Join(words, ", "))
	}
}

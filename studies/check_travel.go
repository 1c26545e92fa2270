package studies

import (
	"fmt"
	"slices"
	"strings"

	"trammel/kin"
	"trammel/studies/files"
)

// closing moves the corner over all that it is looked at over and says how far it goes, and what its parts do meanwhile.
func (c *check) closing() error {
	motions, err := c.motions(CycleOptions{})
	c.line("")
	if err != nil {
		c.line("Travel: the file gives none, so nothing was moved; add travel: %s.", c.g.Units.Example("{bump: ~60, droop: ~60, rack: ~30}"))
		c.gapsAtDesign()
		return nil
	}
	c.told = map[string][2]float64{}
	for i := range motions {
		tr := &motions[i]
		word, values := wheelTravel, tr.wheel
		if len(tr.wheel) == 1 {
			word, values = rackTravel, tr.rack
		}
		columns := c.watched()
		sweep := c.prog.NewSweep(tr.motion("check"), columns)
		if _, f := c.state.Run(sweep, make([]float64, sweep.Size())); f.Status != kin.OK {
			stop, pos := c.stopped(f, columns, tr), c.travelAt(f.At)
			c.line("Travel: %s.", stop)
			return usagef("%s:%d:%d: travel: %s", c.g.Path, pos.Line, pos.Column, stop)
		}
		c.line("Travel: it closes over %s from %s to %s %s.", word, shortLength(slices.Min(values), c.g.Units, nearest), shortLength(slices.Max(values), c.g.Units, nearest), c.g.Units)
		if word == rackTravel {
			c.farther(tr)
			continue
		}
		c.goes(columns, tr)
		if says := c.square(tr); says != "" {
			c.line("  %s.", says)
		}
		c.alone(tr)
	}
	for _, l := range c.looks() {
		switch l.name {
		case grid:
			c.closes("Travel: with both at once it", l.stops)
		case cross:
			c.closes(fmt.Sprintf("Travel: with one wheel at full bump and the other at full droop (body_roll to %s deg and as far the other way, wheel_travel %s) it",
				shortNumber(slices.Max(l.roll), 2, nearest), inUnit(c.g, l.wheel[0])), l.stops)
		default:
			continue
		}
		if len(l.positions()) > 0 {
			c.farther(&l.travels)
		}
	}
	c.tilts(ways(c.looks()))
	c.gaps()
	return nil
}

// travelAt is where the file says that its travel goes so far.
func (c *check) travelAt(at kin.Position) files.Position {
	switch {
	case at.Rack != 0:
		return c.g.TravelPos[2]
	case at.Wheel < 0:
		return c.g.TravelPos[1]
	}
	return c.g.TravelPos[0]
}

// closes says that a linkage closes all through a motion, or where it does not.
func (c *check) closes(it string, stops []string) {
	if stops == nil {
		c.line("%s closes everywhere.", it)
		return
	}
	c.line("%s does not close everywhere, and what follows is of where it does:", it)
	for _, s := range stops {
		c.line("  %s.", s)
	}
}

// goes says of measures between which values they go over a motion. The other side follows the drawn one; where it says the
// same, once is enough.
func (c *check) goes(columns []kin.Column, tr *travels) {
	before := ""
	for i := range columns {
		values := c.values(tr, columns[i:i+1])
		if values == nil {
			continue
		}
		says := c.stroke(&columns[i], tr, values)
		if other, ok := strings.CutPrefix(says, otherSide(c.g).String()+"."); !ok || other != before {
			c.line("  %s.", says)
		}
		before = says
		c.told[columns[i].Name] = [2]float64{slices.Min(values), slices.Max(values)}
	}
}

// farther says which of the watched measures go farther over a motion than was told before, and than the same of the drawn side
// goes there.
func (c *check) farther(tr *travels) {
	own := ""
	var ownAt [2]float64
	for _, col := range c.watched() {
		values := c.values(tr, []kin.Column{col})
		if values == nil {
			continue
		}
		now, was := [2]float64{slices.Min(values), slices.Max(values)}, c.told[col.Name]
		bare, other := strings.CutPrefix(col.Name, otherSide(c.g).String()+".")
		same := other && bare == own && inside(now, ownAt)
		if !other {
			own, ownAt = col.Name, now
		}
		if inside(now, was) {
			continue
		}
		c.told[col.Name] = [2]float64{min(now[0], was[0]), max(now[1], was[1])}
		if !same {
			c.line("  %s.", c.stroke(&col, tr, values))
		}
	}
}

// inside tells whether one range is in another, or hardly out of it.
func inside(a, b [2]float64) bool { return a[0] >= b[0]-hardly && a[1] <= b[1]+hardly }

// alone moves one wheel over the same travel where something ties the sides or lives on its bushes, for in heave that may
// show nothing: twist, bind, lengths across.
func (c *check) alone(tr *travels) {
	var columns []kin.Column
	for i := range c.g.Members {
		m := &c.g.Members[i]
		measures := []string{"twist", "bind"}
		if m.Across {
			measures = append(measures, "length")
		}
		for _, measure := range measures {
			for _, side := range []string{"", otherSide(c.g).String() + "."} {
				if col, err := c.prog.Column(side + m.Name + "." + measure); err == nil {
					columns = append(columns, col)
				}
			}
		}
	}
	if columns == nil {
		return
	}
	one := *tr
	one.way.wheels = wheelsOf(drawn(c.g))
	sweep := c.prog.NewSweep(one.motion("check"), columns)
	out := make([]float64, sweep.Size())
	if _, f := c.state.Run(sweep, out); f.Status != kin.OK {
		c.line("  With the %s wheel alone: %s.", drawn(c.g), c.stopped(f, columns, &one))
		return
	}
	c.line("With the %s wheel alone over the same travel:", drawn(c.g))
	n := len(sweep.Motion.Positions)
	for i := range columns {
		values := out[i*n : i*n+n]
		c.line("  %s.", c.stroke(&columns[i], &one, values))
		was := c.told[columns[i].Name]
		c.told[columns[i].Name] = [2]float64{min(was[0], slices.Min(values)), max(was[1], slices.Max(values))}
	}
}

// watched are what the check looks at while the wheels travel: lengths, bind, twist and the bends of shafts, on both sides.
func (c *check) watched() []kin.Column {
	var out []kin.Column
	for _, m := range c.g.Members {
		for _, measure := range []string{"length", "bind", "twist", "plunge", "joint_angle_inner", "joint_angle_outer"} {
			for _, name := range c.bothSides(m.Name+"."+measure, m.Across) {
				if col, err := c.prog.Column(name); err == nil {
					out = append(out, col)
				}
			}
		}
	}
	return out
}

// stroke says between which values a measure of a part goes over a motion and what the geometry allows, in a sentence without its
// end; of a length, how much of it is used.
func (c *check) stroke(col *kin.Column, tr *travels, values []float64) string {
	i, k := extremes(values)
	show := func(v float64) string {
		if col.Measure.Unit == kin.Millimetre {
			return c.length(v)
		}
		return rounded(v, 2) + " " + col.Measure.Unit.String()
	}
	text := fmt.Sprintf("%s goes from %s to %s", plainLength(col.Name), show(values[i]), show(values[k]))
	m := &c.g.Members[c.g.Member(col.Member)]
	if col.Measure.Name == "length" {
		if says := c.used(m, tr, values); says != "" {
			return text + ": " + says
		}
		return text + c.overLength(m, tr, values)
	}
	at := slices.IndexFunc(c.g.PartLimits(), func(l files.PartLimit) bool { return l.Measure == col.Member+"."+col.Measure.Name })
	if at < 0 {
		return text
	}
	return text + c.allowed(&c.g.PartLimits()[at], col, tr, values)
}

// passing are the words for a part that goes beyond its least and beyond its most.
var passing = map[string][2]string{
	"twist": {"twisted too far", "twisted too far"}, "plunge": {"pushed in too far", "pulled out too far"},
	"joint_angle_inner": {"", "bent too far"}, "joint_angle_outer": {"", "bent too far"},
}

// allowed goes on from what a measure does with what the geometry allows and whether that is kept.
func (c *check) allowed(l *files.PartLimit, col *kin.Column, tr *travels, values []float64) string {
	say := func(v float64) string {
		if col.Measure.Unit == kin.Millimetre {
			return c.plain(v)
		}
		return decimals(v)
	}
	unit := col.Measure.Unit.String()
	if col.Measure.Unit == kin.Millimetre {
		unit = c.g.Units.String()
	}
	var span string
	switch {
	case l.Min == nil:
		span = say(*l.Max) + " " + unit
	case l.Max == nil:
		span = say(*l.Min) + " " + unit + " or more"
	case *l.Min == -*l.Max && col.Measure.Name == "twist":
		span = say(*l.Max) + " " + unit + " to either side"
	default:
		span = say(*l.Min) + " to " + say(*l.Max) + " " + unit
	}
	i, k := extremes(values)
	words := passing[col.Measure.Name]
	short, long := l.Min != nil && values[i] < *l.Min, l.Max != nil && values[k] > *l.Max
	at := [2]string{where(c.place(tr, i)), where(c.place(tr, k))}
	fault := ""
	switch {
	case !short && !long:
		return ", within the allowed " + span
	case short && long && words[0] == words[1]:
		fault = words[0] + " " + at[0] + " and " + at[1]
	case short && long:
		fault = words[0] + " " + at[0] + " and " + words[1] + " " + at[1]
	case short:
		fault = words[0] + " " + at[0]
	default:
		fault = words[1] + " " + at[1]
	}
	return ", where " + span + " are allowed: it is " + fault
}

// overLength goes on from what a length does with what the geometry allows it, which it does not keep or does not say in full.
func (c *check) overLength(m *files.Member, tr *travels, lengths []float64) (text string) {
	u := c.g.Units
	i, k := extremes(lengths)
	least, most := lengths[i], lengths[k]
	var faults []string
	if m.Length.Min != nil {
		text += fmt.Sprintf(", least allowed %s %s", u.Format(*m.Length.Min), u)
		if least < u.ToMM(*m.Length.Min) {
			faults = append(faults, "it is on its stop "+where(c.place(tr, i)))
		}
	}
	if m.Solid > 0 && least < u.ToMM(m.Solid) {
		faults = append(faults, fmt.Sprintf("its coils touch (%s %s) %s", u.Format(m.Solid), u, where(c.place(tr, i))))
	}
	if m.Length.Max != nil {
		text += fmt.Sprintf(", most allowed %s %s", u.Format(*m.Length.Max), u)
		if most > u.ToMM(*m.Length.Max) {
			faults = append(faults, "it is pulled out to its end "+where(c.place(tr, k)))
		}
	}
	if faults != nil {
		text += ": " + and(faults)
	}
	return text
}

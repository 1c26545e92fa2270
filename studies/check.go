package studies

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"trammel/kin"
	"trammel/studies/files"
)

// CheckGeometry says in sentences what a geometry is: its freedoms and members, how it stands at design,
// how far it closes, and the remarks of its file. The text is in the file's own units. When the linkage
// does not close over its own travel, the text says what could be said and the error, a usage error, says where
// it stops.
func CheckGeometry(g *files.Geometry) (string, error) {
	c := &check{}
	err := c.geometry(g)
	if c.mover == nil {
		return "", err
	}
	c.lengths()
	c.notes(slices.Concat(g.Notes, c.remarks()))
	c.line("\n%s", Caution)
	return c.b.String(), err
}

// check is a text in the making.
type check struct {
	*mover
	b strings.Builder
}

func (c *check) line(format string, args ...any) { fmt.Fprintf(&c.b, format+"\n", args...) }

// count is a number of things in words: 1 point, 2 points.
func count(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return strconv.Itoa(n) + " " + thing + "s"
}

// length is a length in mm in the unit of the file, with its unit: 18.8 mm, 0.74 in.
func (c *check) length(mm float64) string {
	if c.g.Units == files.Inch {
		return rounded(mm/25.4, 2) + " in"
	}
	return rounded(mm, 1) + " mm"
}

// geometry says what a geometry is, without the remarks of its file.
func (c *check) geometry(g *files.Geometry) error {
	m, err := newMover(g)
	if err != nil {
		return err
	}
	c.mover = m
	c.line("%s (%s): %s, %s, lengths in %s.", g.Name, g.Path, count(len(g.Points), "point"), count(len(g.Members), "member"), g.Units)
	c.freedoms()
	c.design()
	return c.closing()
}

// freedoms lists what each member takes from the upright or axle, and what becomes of the others.
func (c *check) freedoms() {
	var held []string
	holds, sum := map[int]bool{}, 0
	for _, h := range c.prog.Holdings() {
		name := c.g.Members[h.Member].Name
		if h.Side != kin.Once {
			name = c.sideOf(h.Side) + "." + name
		}
		held = append(held, fmt.Sprintf("%s %d", name, h.Constraints))
		holds[h.Member], sum = true, sum+h.Constraints
	}
	left := "wheel travel takes the last"
	if c.prog.BothWheelsOnOne() {
		left = "the travel of its two wheels takes the rest"
	}
	verb := "hold"
	if len(held) == 1 {
		verb = "holds"
	}
	c.line("Freedoms: %s %s %d of the %s's 6; %s, so nothing is loose and nothing is held twice.", and(held), verb, sum, c.carrier(), left)
	groups := []struct {
		says  string
		names []string
	}{{says: "Carried along"}, {says: "Free in length"}, {says: "On their bushes, with the bind measured"}, {says: "Twisted"}, {says: "Looked at only"}}
	for i := range c.g.Members {
		m := &c.g.Members[i]
		at := 0
		switch m.Kind {
		case kin.Damper, kin.Spring, kin.Strut:
			at = 1
		case kin.Bar:
			at = 3
		case kin.Distance, kin.Shaft:
			at = 4
		default:
			if m.Soft {
				at = 2
			}
		}
		if !holds[i] || m.Kind == kin.Strut {
			groups[at].names = append(groups[at].names, m.Name)
		}
	}
	for _, g := range groups {
		if g.names != nil {
			c.line("%s: %s.", g.says, and(g.names))
		}
	}
}

// sideOf is the word of the car for a side of the solver's, which takes the drawn side for the left.
func (c *check) sideOf(s kin.Side) string {
	if (s == kin.Right) == (c.g.Side == files.Right) {
		return files.Left.String()
	}
	return files.Right.String()
}

// and joins words for a sentence.
func and(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

// at returns measures of the design; NaN for one that the linkage has not.
func (c *check) at(names ...string) []float64 { return c.going(way{}, names...) }

// going returns measures of the design with slopes along a way to move.
func (c *check) going(w way, names ...string) []float64 {
	out := make([]float64, len(names))
	for i, n := range names {
		out[i] = math.NaN()
		col, err := c.prog.Column(n)
		if err != nil {
			continue
		}
		if _, f := c.state.Run(c.prog.NewSweep(kin.NewMotion("design", w.wheels, w.rolls, []kin.Position{{}}), []kin.Column{col}), out[i:i+1]); f.Status != kin.OK {
			out[i] = math.NaN()
		}
	}
	return out
}

// way says a signed number in words: 18.8 mm ahead of, 3.1 mm behind.
func (c *check) way(mm float64, plus, minus string) string {
	if mm < 0 {
		return c.length(-mm) + " " + minus
	}
	return c.length(mm) + " " + plus
}

// design says how the corner stands at ride height.
func (c *check) design() {
	c.line("")
	c.line("At design:")
	v := c.at("camber", "toe", "caster", "kingpin_inclination", "caster_trail", "kingpin_offset", "camber_gain", "bump_steer", "roll_centre_height")
	c.line("  camber %s deg (+ top outward), toe %s deg (+ front inward), as the file declares.", rounded(v[0], 2), rounded(v[1], 2))
	c.steering(v[2], v[3], v[4], v[5])
	travel := 10.0
	if c.g.Units == files.Inch {
		travel = 25.4
	}
	c.line("  For %s of bump, camber changes by %s deg and toe by %s deg.", c.span(travel), rounded(v[6]*travel, 2), rounded(v[7]*travel, 3))
	roll := v[8]
	if math.IsNaN(roll) { // that of an axle shows in roll
		roll = c.going(way{rolls: true}, "roll_centre_height")[0]
	}
	if !math.IsNaN(roll) {
		c.line("  The roll centre stands %s the ground.", c.way(roll, "above", "below"))
	}
	for i := range c.g.Members {
		switch m := &c.g.Members[i]; m.Kind {
		case kin.Damper, kin.Spring, kin.Strut:
			c.damper(m)
		case kin.Shaft:
			v := c.at(m.Name+".joint_angle_inner", m.Name+".joint_angle_outer")
			c.line("  %s is bent by %s deg at its inner joint and by %s deg at its outer one.", m.Name, rounded(v[0], 1), rounded(v[1], 1))
		}
	}
}

// steering says how the steering axis stands: from one joint to another, or as the axis about which the wheel turns.
func (c *check) steering(caster, inclination, trail, offset float64) {
	if math.IsNaN(caster) {
		return
	}
	angles := fmt.Sprintf("caster %s deg, kingpin inclination %s deg", rounded(caster, 1), rounded(inclination, 1))
	if low, high, ok := c.balls(); ok {
		a, b := c.g.ToISO(c.g.Points[low].N), c.g.ToISO(c.g.Points[high].N)
		c.line("  %s is %s and %s %s, %s above it: %s.", c.g.Points[high].Name, c.way(a.X-b.X, "behind", "ahead of"),
			c.way(a.Y-b.Y, "inboard of", "outboard of"), c.g.Points[low].Name, c.length(b.Z-a.Z), angles)
	} else {
		c.line("  The wheel steers about an axis that no two joints show: %s.", angles)
	}
	c.line("  The steering axis meets the ground %s the contact centre (caster trail) and %s it (kingpin offset, or scrub radius).",
		c.way(trail, "ahead of", "behind"), c.way(offset, "inboard of", "outboard of"))
}

// span is a round travel: 10 mm or 1 in.
func (c *check) span(mm float64) string {
	if c.g.Units == files.Inch {
		return strconv.FormatFloat(mm/25.4, 'f', -1, 64) + " in"
	}
	return strconv.FormatFloat(mm, 'f', -1, 64) + " mm"
}

// balls returns the lower and the upper joint of the steering axis, where two joints show it: an arm's ball, a strut's
// top, the ends of a kingpin.
func (c *check) balls() (low, high int, ok bool) {
	var joints []int
	for i := range c.g.Members {
		switch m := &c.g.Members[i]; {
		case m.Kind == kin.Arm && bodyOf(m, 2) == kin.Upright:
			joints = append(joints, c.g.Point(m.Points[2]))
		case m.Kind == kin.Strut:
			joints = append(joints, c.g.Point(m.Points[0]))
		case m.Kind == kin.Kingpin:
			return c.g.Point(m.Points[0]), c.g.Point(m.Points[1]), true
		}
	}
	if len(joints) != 2 {
		return 0, 0, false
	}
	low, high = joints[0], joints[1]
	if c.g.ToISO(c.g.Points[low].N).Z > c.g.ToISO(c.g.Points[high].N).Z {
		low, high = high, low
	}
	return low, high, true
}

// closing moves the corner over its own travel and says how far it goes, and what its dampers do meanwhile.
func (c *check) closing() error {
	motions, err := c.motions(CycleOptions{})
	c.line("")
	if err != nil {
		c.line("Travel: the file gives none, so nothing was moved; add travel: %s.", c.g.Units.Example("{bump: ~60, droop: ~60, rack: ~30}"))
		c.gapsAtDesign()
		return nil
	}
	for i := range motions {
		tr := &motions[i]
		word, values := wheelTravel, tr.wheel
		if len(tr.wheel) == 1 {
			word, values = rackTravel, tr.rack
		}
		columns := c.watched()
		sweep := c.prog.NewSweep(tr.motion("check"), columns)
		out := make([]float64, sweep.Size())
		if _, f := c.state.Run(sweep, out); f.Status != kin.OK {
			stop := c.stopped(f, columns, tr)
			c.line("Travel: %s.", strings.TrimPrefix(stop, c.g.Path+": "))
			return usagef("%s", stop)
		}
		c.line("Travel: it closes over %s from %s to %s %s.", word, shortLength(slices.Min(values), c.g.Units, nearest), shortLength(slices.Max(values), c.g.Units, nearest), c.g.Units)
		n := len(sweep.Motion.Positions)
		if word == wheelTravel {
			before := ""
			for i := range columns {
				says := c.stroke(&columns[i], tr, out[i*n:i*n+n])
				// The other side follows the drawn one; where it says the same, once is enough.
				if other, ok := strings.CutPrefix(says, otherSide(c.g).String()+"."); !ok || other != before {
					c.line("  %s.", says)
				}
				before = says
			}
			if says := c.square(tr); says != "" {
				c.line("  %s.", says)
			}
			c.alone(tr)
		}
	}
	c.tilts(motions)
	c.gaps(motions)
	return nil
}

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
		c.line("  With the %s wheel alone: %s.", drawn(c.g), strings.TrimPrefix(c.stopped(f, columns, &one), c.g.Path+": "))
		return
	}
	c.line("With the %s wheel alone over the same travel:", drawn(c.g))
	n := len(sweep.Motion.Positions)
	for i := range columns {
		c.line("  %s.", c.stroke(&columns[i], &one, out[i*n:i*n+n]))
	}
}

// watched are what the check looks at while the wheels travel: lengths, bind, twist and the bends of shafts, on both
// sides where they differ.
func (c *check) watched() []kin.Column {
	var out []kin.Column
	add := func(name string) {
		if col, err := c.prog.Column(name); err == nil {
			out = append(out, col)
		}
	}
	for _, m := range c.g.Members {
		for _, measure := range []string{"length", "bind", "twist", "plunge", "joint_angle_inner", "joint_angle_outer"} {
			add(m.Name + "." + measure)
			if !m.Across && !c.prog.Symmetric() {
				add(otherSide(c.g).String() + "." + m.Name + "." + measure)
			}
		}
	}
	return out
}

// extent says between which values a measure goes, in a sentence without its end.
func (c *check) extent(col *kin.Column, values []float64) string {
	least, most := slices.Min(values), slices.Max(values)
	show := func(v float64) string {
		if col.Measure.Unit == kin.Millimetre {
			return c.length(v)
		}
		return rounded(v, 2) + " " + col.Measure.Unit.String()
	}
	return fmt.Sprintf("%s goes from %s to %s", col.Name, show(least), show(most))
}

// stroke says how much of its length a damper or spring uses over a motion, and of everything else between which values it
// goes.
func (c *check) stroke(col *kin.Column, tr *travels, lengths []float64) string {
	if col.Measure.Name != "length" {
		return c.extent(col, lengths)
	}
	u := c.g.Units
	least, most := slices.Min(lengths), slices.Max(lengths)
	m := &c.g.Members[c.g.Member(col.Member)]
	text := fmt.Sprintf("%s goes from %s to %s", strings.TrimSuffix(col.Name, ".length"), c.length(least), c.length(most))
	if says := c.used(m, tr, lengths); says != "" {
		return text + ": " + says
	}
	var faults []string
	if m.Length.Min != nil {
		text += fmt.Sprintf(", least allowed %s %s", u.Format(*m.Length.Min), u)
		if least < u.ToMM(*m.Length.Min) {
			faults = append(faults, "it is on its stop in bump")
		}
	}
	if m.Solid > 0 && least < u.ToMM(m.Solid) {
		faults = append(faults, fmt.Sprintf("its coils touch at %s %s", u.Format(m.Solid), u))
	}
	if m.Length.Max != nil {
		text += fmt.Sprintf(", most allowed %s %s", u.Format(*m.Length.Max), u)
		if most > u.ToMM(*m.Length.Max) {
			faults = append(faults, "it is pulled out to its end in droop")
		}
	}
	if faults != nil {
		text += ": " + and(faults)
	}
	return text
}

// notes lists the remarks of a file.
func (c *check) notes(notes files.Problems) {
	if len(notes) == 0 {
		return
	}
	c.line("")
	c.line("Remarks:")
	for _, n := range notes {
		c.line("  %s", n)
	}
}

package studies

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"trammel/kin"
	"trammel/objectives"
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
	c.notes(slices.Concat(g.Notes, c.remarks()))
	c.line("\n%s", Caution)
	return c.b.String(), err
}

// CheckStudy says in sentences what a study will do: what varies, what is asked and how much, how the
// design stands, how many runs it makes and, from a short calibration, how long and how large they are;
// the check of its geometry comes first.
func CheckStudy(f *files.Study) (string, error) {
	c := &check{}
	if err := c.geometry(f.Geometry); err != nil {
		return c.b.String(), err
	}
	st, err := Bind(f)
	if err != nil {
		return c.b.String(), err
	}
	c.line("\n%s (%s)", f.Name, f.Path)
	c.varied(f)
	c.asked(st)
	if err := c.expected(st); err != nil {
		return c.b.String(), err
	}
	c.notes(slices.Concat(f.Notes, c.remarks()))
	c.line("\n%s", Caution)
	return c.b.String(), nil
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

// freedoms lists what each member takes from the upright.
func (c *check) freedoms() {
	var held, turned, measured []string
	for _, m := range c.g.Members {
		switch {
		case m.Kind == kin.Arm:
			held = append(held, m.Name+" 2")
		case m.Kind == kin.Link && slices.Contains(m.Bodies, kin.Upright):
			held = append(held, m.Name+" 1")
		case m.Kind == kin.Link || m.Kind == kin.Rocker:
			turned = append(turned, m.Name)
		default:
			measured = append(measured, m.Name)
		}
	}
	c.line("Freedoms: %s hold 5 of the upright's 6; wheel travel takes the last, so nothing is loose and nothing is held twice.", and(held))
	if turned != nil {
		c.line("Carried along: %s.", and(turned))
	}
	if measured != nil {
		c.line("Free in length: %s.", and(measured))
	}
}

// and joins words for a sentence.
func and(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

// at returns measures of the design; NaN for one that the linkage has not.
func (c *check) at(names ...string) []float64 {
	out := make([]float64, len(names))
	for i, n := range names {
		out[i] = math.NaN()
		col, err := c.prog.Column(n)
		if err != nil {
			continue
		}
		if _, f := c.state.Run(c.prog.NewSweep(kin.NewMotion("design", []kin.Position{{}}), []kin.Column{col}), out[i:i+1]); f.Status != kin.OK {
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
	if low, high, ok := c.balls(); ok && !math.IsNaN(v[2]) {
		a, b := c.g.ToISO(c.g.Points[low].N), c.g.ToISO(c.g.Points[high].N)
		c.line("  %s is %s and %s %s, %s above it: caster %s deg, kingpin inclination %s deg.", c.g.Points[high].Name,
			c.way(a.X-b.X, "behind", "ahead of"), c.way(a.Y-b.Y, "inboard of", "outboard of"), c.g.Points[low].Name,
			c.length(b.Z-a.Z), rounded(v[2], 1), rounded(v[3], 1))
		c.line("  The steering axis meets the ground %s the contact centre (caster trail) and %s it (kingpin offset, or scrub radius).",
			c.way(v[4], "ahead of", "behind"), c.way(v[5], "inboard of", "outboard of"))
	}
	travel := 10.0
	if c.g.Units == files.Inch {
		travel = 25.4
	}
	c.line("  For %s of bump, camber changes by %s deg and toe by %s deg.", c.span(travel), rounded(v[6]*travel, 2), rounded(v[7]*travel, 3))
	if !math.IsNaN(v[8]) {
		c.line("  The roll centre stands %s the ground.", c.way(v[8], "above", "below"))
	}
	for _, m := range c.g.Members {
		if m.Kind != kin.Damper && m.Kind != kin.Spring {
			continue
		}
		c.damper(&m)
	}
}

// span is a round travel: 10 mm or 1 in.
func (c *check) span(mm float64) string {
	if c.g.Units == files.Inch {
		return strconv.FormatFloat(mm/25.4, 'f', -1, 64) + " in"
	}
	return strconv.FormatFloat(mm, 'f', -1, 64) + " mm"
}

// balls returns the lower and the upper ball of the steering axis, where two arms have one each.
func (c *check) balls() (low, high int, ok bool) {
	var balls []int
	for _, m := range c.g.Members {
		if m.Kind == kin.Arm {
			balls = append(balls, c.g.Point(m.Points[2]))
		}
	}
	if len(balls) != 2 {
		return 0, 0, false
	}
	low, high = balls[0], balls[1]
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
		c.line("Travel: the file gives none, so nothing was moved; add travel: {bump: 60, droop: 60, rack: 30}.")
		return nil
	}
	for _, tr := range motions {
		word, values := "wheel_travel", tr.wheel
		if len(tr.wheel) == 1 {
			word, values = "rack_travel", tr.rack
		}
		var columns []kin.Column
		for _, m := range c.g.Members {
			if col, err := c.prog.Column(m.Name + ".length"); err == nil {
				columns = append(columns, col)
			}
		}
		sweep := c.prog.NewSweep(kin.NewMotion("check", positions(tr.wheel, tr.rack)), columns)
		out := make([]float64, sweep.Size())
		if _, f := c.state.Run(sweep, out); f.Status != kin.OK {
			stop := c.stopped(f, columns, tr.wheel, tr.rack)
			c.line("Travel: %s.", strings.TrimPrefix(stop, c.g.Path+": "))
			return usagef("%s", stop)
		}
		c.line("Travel: it closes over %s from %s to %s %s.", word, shortLength(slices.Min(values), c.g.Units, nearest), shortLength(slices.Max(values), c.g.Units, nearest), c.g.Units)
		n := len(sweep.Motion.Positions)
		if word == "wheel_travel" {
			for i, col := range columns {
				c.stroke(col.Member, out[i*n:i*n+n])
			}
		}
	}
	return nil
}

// stroke says how much of its length a damper or spring uses.
func (c *check) stroke(member string, lengths []float64) {
	u := c.g.Units
	least, most := slices.Min(lengths), slices.Max(lengths)
	m := &c.g.Members[c.g.Member(member)]
	text := fmt.Sprintf("  %s goes from %s to %s", member, c.length(least), c.length(most))
	var faults []string
	if m.Length.Min != nil {
		text += fmt.Sprintf(", least allowed %s %s", u.Format(*m.Length.Min), u)
		if least < u.ToMM(*m.Length.Min) {
			faults = append(faults, "it is on its stop in bump")
		}
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
	c.line("%s.", text)
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

// varied lists the numbers of the box, in the file's units.
func (c *check) varied(f *files.Study) {
	c.line("")
	c.line("%s may change:", count(len(f.Vary), "number"))
	wide := 0
	for i := range f.Vary {
		wide = max(wide, len(f.Vary[i].Name))
	}
	for i := range f.Vary {
		v := &f.Vary[i]
		if v.Kind == files.VaryChoose {
			names := make([]string, len(v.Options))
			for k, o := range v.Options {
				names[k] = o.Name
			}
			c.line("  %-*s  one of %s", wide, v.Name, strings.Join(names, ", "))
			continue
		}
		show := func(n int64) string { return exact(float64(n) / float64(v.PerUnit)) }
		step := ""
		if v.Stepped() {
			step = ", in steps of " + show(v.Step)
		}
		c.line("  %-*s  %s to %s %s, now %s%s", wide, v.Name, show(v.FromN), show(v.ToN), v.Unit, show(v.DesignN), step)
	}
}

// asked lists targets and limits with the number of values that each gives, and how the design stands.
func (c *check) asked(st *Study) {
	sizes := func(slots int, entry func(i int) int, n int) []int {
		out := make([]int, n)
		for i := range slots {
			out[entry(i)]++
		}
		return out
	}
	o := st.Objective
	r := sizes(len(o.R), func(i int) int { return o.R[i].Entry }, len(o.Targets))
	g := sizes(len(o.G), func(i int) int { return o.G[i].Entry }, len(o.Limits))
	var result func(i int) string
	limits := func(int) string { return "" }
	if st.start == nil {
		result = limits
	} else {
		res := o.NewResult()
		o.Evaluate(st.start, st.start, make([]float64, len(o.R)), make([]float64, len(o.G)), res)
		result = func(i int) string {
			got, place := st.gotOf(i, &res.Targets[i])
			if res.Targets[i].Met {
				return fmt.Sprintf(", met at design (asked %s; %s)", st.askedOf(i), at(got, place))
			}
			return fmt.Sprintf(", missed at design (asked %s; %s; miss %s)", st.askedOf(i), at(got, place), rounded(res.Targets[i].Miss, 2))
		}
		limits = func(i int) string {
			got, place := st.nearestOf(i, &res.Limits[i])
			if res.Limits[i].Over > objectives.Broken {
				return fmt.Sprintf(", broken at design (allowed %s; %s)", st.limitOf(i), at(got, place))
			}
			return fmt.Sprintf(", kept at design (allowed %s; %s)", st.limitOf(i), at(got, place))
		}
	}
	c.line("")
	c.line("%s, %d residuals; miss is the root mean square of departure over within:", count(len(o.Targets), "target"), len(o.R))
	for i := range o.Targets {
		c.line("  %s: %s%s", o.Targets[i].Name, count(r[i], "value"), result(i))
	}
	if len(o.Limits) > 0 {
		c.line("%s, %d values:", count(len(o.Limits), "limit"), len(o.G))
		for i := range o.Limits {
			c.line("  %s: %s%s", o.Limits[i].Name, count(g[i], "value"), limits(i))
		}
	}
}

// thousands writes a whole number with commas: 24,097.
func thousands(n int64) string {
	s := strconv.FormatInt(n, 10)
	for i := len(s) - 3; i > 0 && s[i-1] != '-'; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

// roughly says a time as a person would.
func roughly(d time.Duration) string {
	switch {
	case d < 2*time.Second:
		return "a second or two"
	case d < 2*time.Minute:
		return fmt.Sprintf("about %.0f seconds", d.Seconds())
	case d < 2*time.Hour:
		return fmt.Sprintf("about %.0f minutes", d.Minutes())
	}
	return fmt.Sprintf("about %.1f hours", d.Hours())
}

// megabytes says a size as a person would.
func megabytes(b float64) string {
	switch {
	case b < 1e6:
		return "1 MB"
	case b < 1e9:
		return fmt.Sprintf("%.0f MB", b/1e6)
	}
	return fmt.Sprintf("%.1f GB", b/1e9)
}

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
	b    strings.Builder
	told map[string][2]float64 // by measure: between which values it was said to go
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

package studies

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/spatial/r3"

	"trammel/kin"
	"trammel/studies/files"
)

// Beyond these a geometry is probably not what its file meant to say. They are common practice of cars,
// large and small, without a source; nothing is refused on their account.
const (
	greatestLean  = 30.0  // deg, of the steering axis from upright
	greatestScrub = 150.0 // mm, kingpin offset to either side
	leastRadius   = 100.0 // mm, loaded radius, as package files remarks on it
	mostRadius    = 800.0
	belowGround   = 1.0   // mm, that a point may stand below the ground
	offAxis       = 0.1   // mm, that the ends of a torsion bar may stand off each other's axis
	farOutboard   = 1.0   // mm, that an end on the frame may lie outboard of the one on the upright
	tiltedAxle    = 5.0   // mm, between the heights of an axle's wheels at ride height
	farFromMirror = 500.0 // mm, between a point of the other side and the mirror image
	beyondMiddle  = 20.0  // mm, that a point of the frame may stand on the other side of the middle
)

// remarks says what is legal and yet probably a mistake: a wheel in an odd place, a steering axis that no
// car has, a rocker that drives nothing, a damper that works backwards. Each stands at its place in the file.
func (c *check) remarks() files.Problems {
	var out files.Problems
	note := func(p files.Problem, format string, args ...any) {
		p.Message = fmt.Sprintf(format, args...)
		out = append(out, p)
	}
	if why := c.prog.Explain(c.prog.Points()); why != "" {
		note(files.Problem{File: c.g.Path, Position: c.g.Members[0].Pos, Path: "members"}, "%s", why)
	}
	if why := c.prog.IdleHold(); why != "" {
		note(files.Problem{File: c.g.Path, Position: c.g.HoldPos, Path: "steering_axis"}, "%s", why)
	}
	c.wheelRemarks(note)
	c.middleRemarks(note)
	c.oppositeRemarks(note)
	c.axisRemarks(note)
	c.leftOutRemarks(note)
	for i := range c.g.Members {
		m := &c.g.Members[i]
		at := files.Problem{File: c.g.Path, Position: m.Pos, Path: "members." + m.Name}
		switch m.Kind {
		case kin.Rocker:
			if !c.drives(m.Name) {
				note(at, "%s drives no damper, no spring and nothing further, so it only turns along; if a damper should be on it, name it in the ends of that damper", m.Name)
			}
		case kin.Link:
			c.endsRemark(m, func(format string, args ...any) { note(at, format, args...) })
		case kin.Damper, kin.Spring:
			c.endsRemark(m, func(format string, args ...any) { note(at, format, args...) })
			c.ratioRemark(m, func(format string, args ...any) { note(at, format, args...) })
		case kin.Strut:
			c.strutRemark(m, func(format string, args ...any) { note(at, format, args...) })
		case kin.Bar:
			c.barRemark(m, func(format string, args ...any) { note(at, format, args...) })
		}
	}
	c.leverRemarks(note)
	return out
}

// pointAt is a remark's place at a point, which may stand in a table.
func (c *check) pointAt(i int) files.Problem {
	p := &c.g.Points[i]
	file := c.g.Path
	if p.InTable {
		file = c.g.TablePath
	}
	return files.Problem{File: file, Position: p.Pos, Path: "points." + p.Name}
}

// wheelRemarks compares the wheel with the points of the members.
func (c *check) wheelRemarks(note func(p files.Problem, format string, args ...any)) {
	wheel := c.g.Point(c.g.Wheel.Centre)
	centre, radius := c.g.ToISO(c.g.Points[wheel].N), c.g.Units.ToMM(c.g.Wheel.LoadedRadius)
	at := c.pointAt(wheel)
	if radius < leastRadius || radius > mostRadius {
		return // the file's reader has remarked on it, and what else is odd follows from it
	}
	var low []string
	nearest, lowest := math.Inf(1), math.Inf(1) // of the upright's points
	for i := range c.g.Members {
		m := &c.g.Members[i]
		for k, name := range m.Points {
			p := c.g.ToISO(c.g.Points[c.g.Point(name)].N)
			if p.Z < centre.Z-radius-belowGround && !slices.Contains(low, name) {
				low = append(low, name)
			}
			if !onCarrier(m, k) {
				continue
			}
			nearest, lowest = min(nearest, r3.Norm(r3.Sub(p, centre))), min(lowest, p.Z)
			if m.Kind == kin.Link && p.Y > centre.Y {
				note(c.pointAt(c.g.Point(name)), "%s, where %s steers or holds the upright, stands %s outboard of %s, where the wheel turns; look at its coordinates",
					name, m.Name, c.length(p.Y-centre.Y), c.g.Wheel.Centre)
			}
		}
	}
	switch {
	case low != nil:
		note(at, "%s below the ground, which lies loaded_radius (%s) below %s; look at the height of %s and at loaded_radius",
			stand(low), c.length(radius), c.g.Wheel.Centre, c.g.Wheel.Centre)
	case math.IsInf(lowest, 1): // the carrier has no points but pivots
	case lowest > centre.Z+radius:
		note(at, "every point of the %s stands above the top of the wheel; look at the height of %s", c.carrier(), c.g.Wheel.Centre)
	case nearest > 2*radius:
		note(at, "%s lies %s from the nearest point of the %s, farther than the wheel is high; look at its coordinates", c.g.Wheel.Centre, c.length(nearest), c.carrier())
	}
}

// bodyOf is the body that a point of a member lies on, without its side; "" where a member has no such body.
func bodyOf(m *files.Member, point int) string {
	k := point
	switch m.Kind {
	case kin.Arm, kin.HArm:
		k = point / 2 // pivots, then balls
	case kin.Rocker:
		k = 0
	}
	if k >= len(m.Bodies) {
		return ""
	}
	return bare(m.Bodies[k])
}

// bare is a body's name without its side.
func bare(body string) string {
	for _, side := range []string{"left.", "right."} {
		if b, ok := strings.CutPrefix(body, side); ok {
			return b
		}
	}
	return body
}

// onCarrier tells whether a point of a member is one that what carries the wheel has near it: not the pivots of an arm
// that is one piece with the carrier, which may be far away.
func onCarrier(m *files.Member, point int) bool {
	if m.Kind == kin.Hinge || m.Kind == kin.Ball {
		return false
	}
	b := bodyOf(m, point)
	return b == kin.Upright || b == kin.Axle
}

// carrier is what carries the wheel: the upright, or an axle.
func (c *check) carrier() string {
	if c.beam() {
		return kin.Axle
	}
	return kin.Upright
}

// beam tells whether one axle carries both wheels.
func (c *check) beam() bool {
	for i := range c.g.Members {
		for _, b := range c.g.Members[i].Bodies {
			if b == kin.Axle {
				return true
			}
		}
	}
	return false
}

// stand begins a sentence about points: a stands, a and b stand.
func stand(names []string) string {
	if len(names) == 1 {
		return names[0] + " stands"
	}
	return and(names) + " stand"
}

// axisRemarks looks at the steering axis, for an upper and a lower ball cannot be told by their names.
func (c *check) axisRemarks(note func(p files.Problem, format string, args ...any)) {
	low, high, ok := c.balls()
	if !ok {
		return
	}
	d := r3.Sub(c.g.ToISO(c.g.Points[high].N), c.g.ToISO(c.g.Points[low].N))
	lean := math.Atan2(math.Hypot(d.X, d.Y), d.Z) * 180 / math.Pi
	if lean > greatestLean {
		note(c.pointAt(high), "the steering axis from %s to %s leans %s deg from upright, where cars have less than %s; look at the coordinates of the two",
			c.g.Points[low].Name, c.g.Points[high].Name, rounded(lean, 0), rounded(greatestLean, 0))
		return // the offset follows from it
	}
	if v := c.at("kingpin_offset")[0]; math.Abs(v) > greatestScrub {
		note(c.pointAt(low), "the steering axis meets the ground %s the contact centre, where cars have less than %s; look at %s, %s and %s",
			c.way(v, "inboard of", "outboard of"), c.length(greatestScrub), c.g.Points[low].Name, c.g.Points[high].Name, c.g.Wheel.Centre)
	}
}

// drives tells whether a rocker has a damper or spring on it, or hands its motion on: to it comes one link,
// and a second one goes from it.
func (c *check) drives(rocker string) bool {
	links := 0
	for i := range c.g.Members {
		m := &c.g.Members[i]
		if !slices.ContainsFunc(m.Bodies, func(b string) bool { return bare(b) == rocker }) {
			continue
		}
		if m.Kind != kin.Link {
			return true
		}
		links++
	}
	return links > 1
}

// ratios returns the installation ratio at full droop, at design and at full bump of the file's travel;
// without a travel, or where the linkage does not close over it, at design alone.
func (c *check) ratios(w way, member string) []float64 {
	col, err := c.prog.Column(member + ".installation_ratio")
	if err != nil {
		return nil
	}
	u, t := c.g.Units, c.g.Travel
	at := []kin.Position{{Wheel: -u.ToMM(t.Droop)}, {}, {Wheel: u.ToMM(t.Bump)}}
	out := make([]float64, len(at))
	if t.Droop > 0 && t.Bump > 0 {
		if _, f := c.state.Run(c.prog.NewSweep(kin.NewMotion("ends", w.wheels, w.rolls, at), []kin.Column{col}), out); f.Status == kin.OK {
			return out
		}
	}
	return c.going(w, col.Name)
}

// placed is where a point stands in the car as ToISO sees it: on the drawn side, or opposite.
func (m *mover) placed(name string, side string) r3.Vec {
	if side != otherSide(m.g).String() {
		return m.g.ToISO(m.g.Points[m.g.Point(name)].N)
	}
	if k := m.g.Point("opposite." + name); k >= 0 {
		return m.g.ToISO(m.g.Points[k].N)
	}
	v := m.g.ToISO(m.g.Points[m.g.Point(name)].N)
	v.Y = -v.Y
	return v
}

// barRemark says that the two ends of a torsion bar do not turn about one line.
func (c *check) barRemark(m *files.Member, note func(format string, args ...any)) {
	var axes [2][2]r3.Vec
	for i, body := range m.Bodies {
		side, _, _ := strings.Cut(body, ".")
		b := &c.g.Members[c.g.Member(bare(body))]
		for k := range 2 {
			axes[i][k] = c.placed(b.Points[k], side)
		}
	}
	from, along := axes[0][0], r3.Unit(r3.Sub(axes[0][1], axes[0][0]))
	off := 0.0
	for _, p := range axes[1] {
		off = max(off, r3.Norm(r3.Cross(along, r3.Sub(p, from))))
	}
	if off > offAxis {
		note("%s joins %s and %s, which do not turn about one line: the axis of %s passes %s from that of %s; a bar is straight, so look at their axes, or join arms whose axes are one line",
			m.Name, m.Bodies[0], m.Bodies[1], m.Bodies[1], c.length(off), m.Bodies[0])
	}
}

// strutRemark says that a strut stands on its head.
func (c *check) strutRemark(m *files.Member, note func(format string, args ...any)) {
	top, foot := c.placed(m.Points[0], ""), c.placed(m.Points[1], "")
	if top.Z <= foot.Z {
		note("%s has its top, %s, below its foot, %s; write the top first", m.Name, m.Points[0], m.Points[1])
	}
	c.ratioRemark(m, note)
}

// damper says how a damper or spring moves with the wheel.
func (c *check) damper(m *files.Member) {
	if m.Across {
		c.tie(m)
		return
	}
	r := c.ratios(way{}, m.Name)
	if len(r) == 0 || math.IsNaN(r[len(r)/2]) {
		return
	}
	ratio := r[len(r)/2]
	size := rounded(math.Abs(ratio), 3)
	does := "shortens by " + size
	switch {
	case still(size):
		does = "at design neither shortens nor lengthens with bump"
	case ratio < 0:
		does = "lengthens by " + size
	}
	if !still(size) {
		does += " for each unit of bump"
	}
	text := fmt.Sprintf("  %s is %s long and %s (installation ratio %s)", m.Name, c.length(c.at(m.Name + ".length")[0]), does, rounded(ratio, 3))
	if len(r) == 3 {
		text += fmt.Sprintf("; the ratio is %s at full droop, %s at design and %s at full bump", rounded(r[0], 3), rounded(r[1], 3), rounded(r[2], 3))
	}
	c.line("%s.", text)
}

// tie says how a damper or spring that exists once moves with both wheels and with one.
func (c *check) tie(m *files.Member) {
	moves := func(w way) string {
		ratio := c.going(w, m.Name+".installation_ratio")[0]
		switch size := rounded(math.Abs(ratio), 3); {
		case math.IsNaN(ratio) || still(size):
			return "keeps its length"
		case ratio < 0:
			return "lengthens by " + size
		default:
			return "shortens by " + size
		}
	}
	c.line("  %s is %s long; for each unit of bump it %s with both wheels, and %s with the %s wheel alone.", m.Name,
		c.length(c.at(m.Name + ".length")[0]), moves(way{}), moves(way{wheels: wheelsOf(drawn(c.g))}), drawn(c.g))
}

// still tells whether a rounded number is nothing.
func still(number string) bool { return strings.Trim(number, "-0.") == "" }

// ratioRemark says that a damper or spring lengthens in bump, or turns back on its way.
func (c *check) ratioRemark(m *files.Member, note func(format string, args ...any)) {
	r := c.ratios(way{}, m.Name)
	if len(r) == 0 {
		return
	}
	moves := func(ratio float64) bool { return !still(rounded(ratio, 3)) }
	least, most := slices.Min(r), slices.Max(r)
	idle := !slices.ContainsFunc(r, moves)
	if m.Across {
		if idle && !slices.ContainsFunc(c.ratios(way{wheels: wheelsOf(drawn(c.g))}, m.Name), moves) {
			note("%s changes its length neither when both wheels move nor when one does, so it does nothing; look at its ends", m.Name)
		}
		return
	}
	switch {
	case idle:
		note("%s hardly changes its length when the wheel moves, so it does nothing; look at its ends", m.Name)
	case least < 0 && most > 0:
		note("%s turns back on its way: its installation ratio goes from %s at full droop to %s at full bump, through nothing", m.Name, rounded(r[0], 3), rounded(r[len(r)-1], 3))
	case least < 0:
		why := "it is mounted to be pulled in bump"
		for i := range c.g.Members {
			if o := &c.g.Members[i]; o.Kind == kin.Rocker && slices.Contains(m.Bodies, o.Name) {
				why = o.Name + " works backwards"
			}
		}
		note("%s lengthens by %s for each unit of bump: %s, so put the end of the damper on the other side of the axis, or leave it if the damper is built to be pulled", m.Name, rounded(-r[len(r)/2], 3), why)
	}
}

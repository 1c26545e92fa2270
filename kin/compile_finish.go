package kin

import (
	"fmt"
	"slices"
	"strings"

	"gonum.org/v1/gonum/spatial/r3"
)

// direction is a vector of unit length that a body carries.
type direction struct {
	how   directionKind
	side  Side
	index int
	parts [2]int
	m     int // member that a given or found one belongs to

	v      r3.Vec // given: at design, where the side of its member is the left one
	mirror bool   // the body that carries it is kept in coordinates in which that side is the right one
}

type directionKind uint8

const (
	spinAxis directionKind = iota // of a side's wheel
	squareTo                      // one of two square to the line between two part points
	axisOf                        // x, y or z
	given                         // of a shaft's inner joint, of a bolt or a bore
	found                         // of a bolt or a bore that State.SetAxis gives
)

func (c *compiler) direction(d direction) int {
	if i := slices.Index(c.directed, d); i >= 0 {
		return i
	}
	c.directed = append(c.directed, d)
	return len(c.directed) - 1
}

// freedoms refuses a carrier that is not left its wheel's travel, and an axle that is not left its two wheels'.
func (c *compiler) freedoms() error {
	if !c.p.axle {
		// The two sides are made of the same members, so that one speaks for both, but for what across holds one of them.
		for s, side := range [...]Side{Left, Right} {
			name := Upright
			if len(c.rows[0]) != len(c.rows[1]) {
				name = side.String() + " " + Upright
			}
			if err := c.count(s, name, 5, "wheel travel alone", "an arm gives 2, a link from "+Frame+" or "+Rack+" gives 1, a strut 2, a ball joint 3, an H-arm 4, a hinge 5"); err != nil {
				return err
			}
		}
		return nil
	}
	return c.count(0, Axle, 4, "the travel of its two wheels", "a link gives 1, an arm 2, a ball joint 3")
}

func (c *compiler) count(k int, carrier string, want int, left, gives string) error {
	rows := c.rows[k]
	n := len(rows)
	if n == want {
		return nil
	}
	why := c.why(k, n-want)
	var names []string
	taken := map[string]int{}
	soft := ""
	for _, r := range rows {
		m := c.l.Members[r.member]
		name := bodyName{m.Name, c.p.drawnOn(r.side)}.String()
		if !c.p.axle {
			name = m.Name
		}
		if taken[name] == 0 {
			names = append(names, name)
		}
		taken[name]++
		if m.Kind == Link && (m.Across || soft == "") {
			soft = m.Name
		}
	}
	var parts []string
	for _, name := range names {
		parts = append(parts, fmt.Sprintf("%s %d", name, taken[name]))
	}
	held := "no member holds it"
	if len(parts) > 0 {
		held = "it is held by " + strings.Join(parts, ", ")
	}
	if n < want {
		advice := ""
		for _, m := range c.l.Members {
			if m.Soft {
				advice += fmt.Sprintf("; %s is soft and holds nothing, so take soft out of it if it should", m.Name)
			}
		}
		return fmt.Errorf("the %s has %d of the %d constraints that leave it %s, so %s too many: %s; %s%s%s",
			carrier, n, want, left, plural(want-n, "freedom is", "freedoms are"), held, gives, why.says, advice)
	}
	advice := ""
	if why.says != "" {
		soft = why.soft
	}
	if soft != "" {
		advice = fmt.Sprintf("; if it lives on its bushes, mark a link soft (%s: {..., soft: true}), and its bind is measured", soft)
	}
	return fmt.Errorf("the %s has %d constraints where %d leave it %s, so %s too many: %s; %s%s%s",
		carrier, n, want, left, plural(n-want, "constraint is", "constraints are"), held, gives, why.says, advice)
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// gauge finds the ends of a member that has two.
func (c *compiler) gauge(i int) error {
	in := &c.p.instances[i]
	m := &c.l.Members[in.member]
	switch m.Kind {
	case Link, Damper, Spring, Distance, Strut, Shaft:
	case Joint:
		return c.bearing(in, m)
	default:
		return nil
	}
	for k := range 2 {
		e, name, ok := c.end(in, k, m.Bodies[k])
		if !ok {
			return fmt.Errorf("%s %s has an end on %s, which is no body of this geometry", m.Kind, m.Name, name)
		}
		in.ends[k] = e
	}
	if m.Soft || m.Kind == Shaft {
		in.rod = c.rod(c.ends(in, m, 0))
	}
	if m.Kind == Shaft {
		axis := m.Axis
		if axis == (r3.Vec{}) {
			axis = r3.Vec{Y: 1}
		}
		in.tilt.axes[0] = c.carries(in, in.ends[0].body, axis)
	}
	if in.ends[0].body == in.ends[1].body && in.ends[0].body <= bodyRack && m.Kind != Link {
		return fmt.Errorf("%s %s has both ends on the %s; nothing it measures changes", m.Kind, m.Name, m.Bodies[0])
	}
	return nil
}

// finish lays out wheels and carriers.
func (c *compiler) finish() {
	p := c.p
	p.symmetric = !p.axle
	for _, o := range c.l.Opposite {
		p.symmetric = p.symmetric && o < 0
	}
	c.finishCarriers()
	for s := range p.carriers {
		for _, r := range p.carriers[s].rows {
			if r.member >= 0 && c.l.Members[r.member].Across || r.kind == rowNode && c.dependsOnAcross(r.node) {
				p.symmetric = false
			}
		}
	}
	for i := range p.followers {
		f := &p.followers[i]
		if f.side != Once && f.how == byRod && (c.l.Members[f.rod].Across || c.dependsOnAcross(f.far)) {
			p.symmetric = false
		}
	}
	for _, q := range p.parts {
		p.steered = p.steered || q.owner == Rack
	}
	p.directions = c.directed
	for s := range p.steering {
		p.steering[s] = c.steeringAxis(s)
	}
	for i := range p.instances {
		p.instances[i].works = p.worksOn(&p.instances[i])
	}
}

// finishCarriers finds the bodies that carry the wheels, and gives the carriers their rows and drivers.
func (c *compiler) finishCarriers() {
	p := c.p
	owner, sides := Upright, [2]Side{Left, Right}
	if p.axle && !c.kingpin {
		owner = Axle
	}
	for s, side := range sides {
		w := &p.wheels[s]
		w.body = bodyLeft
		switch {
		case c.kingpin:
			w.body = c.body[bodyName{Upright, side}]
		case !p.axle:
			w.body = bodyLeft + s
		}
		flip := c.flipped(side)
		w.centre = c.part(owner, side, c.l.Wheel.Centre, flip)
		w.declared = c.part("", side, c.l.Wheel.Centre, flip)
	}
	if p.axle {
		c.finishAxle()
	}
	for s := range 2 {
		if p.axle && s == 1 {
			break
		}
		spec := carrierSpec{rows: c.rows[s], lead: none}
		if c.kingpin {
			spec.lead = c.height(0)
		}
		planRows(&spec, p)
		p.carriers = append(p.carriers, spec)
	}
}

// steeringAxis finds about what the wheel of a side steers: a kingpin; the line through the two joints on which the
// carrier turns, a strut's top counting for one; else, where something stands on the rack, the instant axis.
func (c *compiler) steeringAxis(s int) steeringSpec {
	p := c.p
	side := [2]Side{Left, Right}[s]
	flip := c.flipped(side)
	if c.kingpin {
		f := &p.followers[p.wheels[s].body-bodyFollower]
		at := func(k int) end { return end{p.wheels[s].body, f.pivots[k], f.flip} }
		return steeringSpec{how: axisLine, ends: [2]end{at(0), at(1)}, follow: -1}
	}
	if p.axle {
		return steeringSpec{follow: -1}
	}
	var joints []end
	for _, j := range c.joints[s] {
		if j.links >= 2 {
			joints = append(joints, end{bodyLeft + s, j.part, flip})
		}
	}
	for i := range p.instances {
		if in := &p.instances[i]; in.side == side && c.l.Members[in.member].Kind == Strut {
			joints = append(joints, in.ends[0])
		}
	}
	if len(joints) == 2 {
		return steeringSpec{how: axisLine, ends: [2]end{joints[0], joints[1]}, follow: -1}
	}
	if p.steered {
		return c.instantAxis(side)
	}
	return steeringSpec{follow: -1}
}

// instantAxis finds what is held: what the file says, else the one spring of the side, else its one damper or strut.
func (c *compiler) instantAxis(side Side) steeringSpec {
	for _, kinds := range [][]Kind{nil, {Spring}, {Damper, Strut}} {
		var found []*instance
		for i := range c.p.instances {
			in := &c.p.instances[i]
			m := &c.l.Members[in.member]
			if in.side == side && (kinds == nil && c.l.Hold != "" && m.Name == c.l.Hold || slices.Contains(kinds, m.Kind)) {
				found = append(found, in)
			}
		}
		if len(found) != 1 {
			continue
		}
		if f := found[0].follow; f >= 0 {
			return steeringSpec{how: axisInstant, follow: f}
		}
		return steeringSpec{how: axisInstant, ends: found[0].ends, follow: -1}
	}
	return steeringSpec{follow: -1}
}

// dependsOnAcross tells whether a node depends on a follower that exists once.
func (c *compiler) dependsOnAcross(r ref) bool {
	pl := c.p.graph.plan([]ref{r}, []level{levelValue}, c.p.closes)
	for _, st := range pl.steps {
		if st.op == opClose && c.p.followers[st.i].side == Once {
			return true
		}
	}
	return false
}

// finishAxle adds the constraint that drives the right wheel: the left one's height leads.
func (c *compiler) finishAxle() {
	w := &c.p.wheels[1]
	if c.kingpin {
		c.addRow(0, rowSpec{kind: rowNode, source: fromNode, member: -1, side: Right, node: c.height(1)})
		return
	}
	c.addRow(0, rowSpec{kind: rowPlane, source: fromHeight, member: -1, side: Right, at: w.centre, other: w.declared})
}

// height is the node of how far a wheel centre is above where its travel puts it.
func (c *compiler) height(s int) ref {
	g, w := c.p.graph, &c.p.wheels[s]
	place := c.at(end{w.body, w.centre, false}, false)
	return g.two(opDiff, g.two(opDiff, g.one(opZ, place), g.leaf(opDeclared, w.declared)), g.leaf(opTravel, s))
}

// planRows plans the nodes among a carrier's rows.
func planRows(spec *carrierSpec, p *Program) {
	var wanted []ref
	for _, r := range spec.rows {
		if r.kind == rowNode {
			wanted = append(wanted, r.node)
		}
	}
	if spec.lead != none {
		wanted = append(wanted, spec.lead)
	}
	spec.nodes = len(wanted) > 0
	levels := make([]level, len(wanted))
	for i := range levels {
		levels[i] = levelRack // cut to what is asked for when it runs
	}
	spec.plan = p.graph.plan(wanted, levels, p.closes)
}

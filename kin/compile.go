package kin

import (
	"fmt"
	"slices"
	"strings"

	"gonum.org/v1/gonum/spatial/r3"
)

// Compile sorts a linkage's members into constraints on the carriers, followers and gauges. The program owes nothing
// to coordinates. The error names every member that has no place, or says how many freedoms are left over or missing
// and which members take them; and, as the linkage's points stand, what is held twice or what motion is left over.
func Compile(l *Linkage) (*Program, error) {
	c := compiler{
		p:       &Program{linkage: cloneLinkage(l), graph: newGraph()},
		body:    map[bodyName]int{{Frame, Once}: bodyFrame, {Rack, Once}: bodyRack},
		waiting: map[bodyName]int{},
	}
	c.l = &c.p.linkage
	if err := c.compile(); err != nil {
		return nil, err
	}
	return c.p, nil
}

func cloneLinkage(l *Linkage) Linkage {
	out := *l
	out.Points = slices.Clone(l.Points)
	out.Opposite = slices.Clone(l.Opposite)
	out.Members = slices.Clone(l.Members)
	for i := range out.Members {
		m := &out.Members[i]
		m.Points, m.Bodies, m.Sides = slices.Clone(m.Points), slices.Clone(m.Bodies), slices.Clone(m.Sides)
		m.Between = [2][]Taken{slices.Clone(m.Between[0]), slices.Clone(m.Between[1])}
		m.Space, m.Bearing = cloneOf(m.Space), cloneOf(m.Bearing)
	}
	if out.RackAxis == (r3.Vec{}) {
		out.RackAxis = r3.Vec{Y: 1}
	}
	out.RackAxis = r3.Unit(out.RackAxis)
	return out
}

func cloneOf[T any](p *T) *T {
	if p == nil {
		return nil
	}
	v := *p
	return &v
}

// Fault is an error of Compile that is about one member.
type Fault struct {
	Member int // index into Linkage.Members
	err    error
}

// Error returns the sentence without its full stop.
func (f *Fault) Error() string { return f.err.Error() }

// Unwrap returns what is wrong with the member.
func (f *Fault) Unwrap() error { return f.err }

// of says which instance an error is about.
func (c *compiler) of(i int, err error) error {
	if err == nil {
		return nil
	}
	return &Fault{c.p.instances[i].member, err}
}

// bodyName is a body on a side of the car; Once for what exists a single time.
type bodyName struct {
	name string
	side Side
}

func (b bodyName) String() string {
	if b.side == Once {
		return b.name
	}
	return b.side.String() + "." + b.name
}

type compiler struct {
	l        *Linkage
	p        *Program
	body     map[bodyName]int // solved bodies
	waiting  map[bodyName]int // instances of bodies that wait for a rod
	open     []int            // instances of links and bars that have no place yet
	rows     [2][]rowSpec     // by carrier
	joints   [2][]joint       // ball joints of each side's carrier
	kingpin  bool
	directed []direction
}

// joint is a place where the carrier turns: the ball of an arm, or a point where links meet.
type joint struct {
	part, point, links int
}

func (c *compiler) compile() error {
	if err := c.findCarriers(); err != nil {
		return err
	}
	c.instantiate()
	for _, side := range [...]Side{Left, Right} {
		c.direction(direction{how: spinAxis, side: side}) // 0 and 1, where measures look for them
	}
	for k := range 3 {
		c.direction(direction{how: axisOf, index: k})
	}
	for i := range c.p.instances {
		if err := c.place(i); err != nil {
			return c.of(i, err)
		}
	}
	if err := c.closeFollowers(); err != nil {
		return err
	}
	if n := len(c.p.followers); n > maxFollowers {
		return fmt.Errorf("the geometry has %d bodies that turn about an axis; no more than %d can be moved", n, maxFollowers)
	}
	if err := c.freedoms(); err != nil {
		return err
	}
	for i := range c.p.instances {
		if err := c.gauge(i); err != nil {
			return c.of(i, err)
		}
	}
	if err := c.solids(); err != nil {
		return err
	}
	c.finish()
	return nil
}

// findCarriers decides between two uprights and one axle, and makes them bodies.
func (c *compiler) findCarriers() error {
	for _, m := range c.l.Members {
		c.kingpin = c.kingpin || m.Kind == Kingpin
		for _, b := range m.Bodies {
			c.p.axle = c.p.axle || b == Axle
		}
	}
	if c.p.axle {
		c.body[bodyName{Axle, Once}] = bodyLeft
		if !c.kingpin {
			for i, m := range c.l.Members {
				if slices.Contains(m.Bodies, Upright) {
					return &Fault{i, fmt.Errorf("%s is on %s, but the wheels are on the %s: write %s, or hang the %s on it by a %s", m.Name, Upright, Axle, Axle, Upright, Kingpin)}
				}
			}
		}
		return nil
	}
	c.body[bodyName{Upright, Left}], c.body[bodyName{Upright, Right}] = bodyLeft, bodyRight
	return nil
}

func (c *compiler) instantiate() {
	for i, m := range c.l.Members {
		if m.Across {
			c.p.instances = append(c.p.instances, instance{member: i, side: Once, follow: -1, bar: -1, pair: -1})
			continue
		}
		for _, s := range [...]Side{Left, Right} {
			c.p.instances = append(c.p.instances, instance{member: i, side: s, follow: -1, bar: -1, pair: -1})
		}
	}
	slices.SortStableFunc(c.p.instances, func(a, b instance) int { return order(a.side) - order(b.side) })
}

// order puts the left side first, then the right, then what is across.
func order(s Side) int { return [...]int{2, 0, 1}[s] }

// flipped tells whether what belongs to a side is kept in mirrored coordinates.
func (c *compiler) flipped(s Side) bool { return s == Right && !c.p.axle }

// flips tells whether the frame and the rack as an instance holds them are kept in mirrored coordinates: those of the
// one side that it is on, or, across, that it works on.
func (c *compiler) flips(in *instance) bool {
	if in.side != Once {
		return c.flipped(in.side)
	}
	flip := false
	for _, b := range c.l.Members[in.member].Bodies {
		switch c.nameOf(in, b).side {
		case Left:
			return false
		case Right:
			flip = !c.p.axle
		}
	}
	return flip
}

// part returns the number of the point as a part of the owner.
func (c *compiler) part(owner string, side Side, point int, flip bool) int {
	q := partPoint{owner: owner, side: side, point: point, mirror: flip, flip: flip}
	if side == Right {
		opposite := -1
		if c.l.Opposite != nil {
			opposite = c.l.Opposite[point]
		}
		q.mirror = !flip
		if opposite >= 0 {
			q.point, q.mirror = opposite, flip
		}
	}
	if i := slices.Index(c.p.parts, q); i >= 0 {
		return i
	}
	c.p.parts = append(c.p.parts, q)
	return len(c.p.parts) - 1
}

// nameOf finds the body that an instance calls name.
func (c *compiler) nameOf(in *instance, name string) bodyName {
	if in.side == Once {
		if rest, ok := strings.CutPrefix(name, "left."); ok {
			return bodyName{rest, Left}
		}
		if rest, ok := strings.CutPrefix(name, "right."); ok {
			return bodyName{rest, Right}
		}
		return bodyName{name, Once}
	}
	for _, n := range [...]bodyName{{name, Once}, {name, in.side}} {
		if c.known(n) {
			return n
		}
	}
	return bodyName{name, in.side}
}

func (c *compiler) known(n bodyName) bool {
	_, solved := c.body[n]
	_, waits := c.waiting[n]
	return solved || waits || c.made(n)
}

// made tells whether a member makes such a body, solved or not.
func (c *compiler) made(n bodyName) bool {
	for i := range c.p.instances {
		in := &c.p.instances[i]
		m := &c.l.Members[in.member]
		switch m.Kind {
		case Arm, HArm, Rocker, Centre:
			if m.Name == n.name && in.side == n.side {
				return true
			}
		case Kingpin:
			if n.name == Upright && in.side == n.side {
				return true
			}
		}
	}
	return false
}

// sideOf returns the side of point k of an instance.
func (c *compiler) sideOf(in *instance, k int) Side {
	m := &c.l.Members[in.member]
	if in.side == Once && m.Sides != nil {
		return m.Sides[k]
	}
	return in.side
}

// end returns point k of an instance as a part of the body it calls name.
func (c *compiler) end(in *instance, k int, name string) (end, bodyName, bool) {
	n := c.nameOf(in, name)
	body, ok := c.body[n]
	side := c.sideOf(in, k)
	flip := c.flips(in)
	switch {
	case body >= bodyFollower:
		flip = c.p.followers[body-bodyFollower].flip
		if n.side != Once {
			side = n.side // a point of a body that exists once stands on the side of the member that holds it
		}
	case body >= bodyLeft:
		flip = body == bodyRight && !c.p.axle
		if !c.p.axle {
			side = n.side
		}
	}
	if !ok {
		return end{}, n, false
	}
	return end{body, c.part(n.name, side, c.l.Members[in.member].Points[k], flip), flip}, n, true
}

// at returns the node of an end's place, in mirrored coordinates or the car's.
func (c *compiler) at(e end, flip bool) ref { return c.p.placeIn(c.p.graph, e, flip) }

// placeIn adds the place of an end to a graph.
func (p *Program) placeIn(g *graph, e end, flip bool) ref {
	var r ref
	switch {
	case e.body == bodyFrame:
		r = g.leaf(opOwn, e.part)
	case e.body == bodyRack:
		r = g.leaf(opRack, e.part)
	default:
		r = p.outOf(g, g.onBody(opMark, e.body, e.part), p.baseOf(e.body))
	}
	if e.flip != flip {
		r = g.one(opMirror, r)
	}
	return r
}

// baseOf returns the body on which a body's axis is; the frame for what has none.
func (p *Program) baseOf(body int) int {
	if body < bodyFollower {
		return bodyFrame
	}
	return p.followers[body-bodyFollower].base
}

// outOf carries a place in a body's coordinates out to the car's.
func (p *Program) outOf(g *graph, r ref, body int) ref {
	for body != bodyFrame && body != bodyRack {
		r = g.carry(opOut, r, ref(body))
		body = p.baseOf(body)
	}
	return r
}

// into sees a place of the car from a body.
func (p *Program) into(g *graph, r ref, body int) ref {
	if body == bodyFrame || body == bodyRack {
		return r
	}
	r = p.into(g, r, p.baseOf(body))
	if n := &g.nodes[r]; n.op == opOut && n.b == ref(body) {
		return n.a // it came out of the same body
	}
	return g.carry(opInto, r, ref(body))
}

func (c *compiler) follow(i int, f followerSpec) int {
	in := &c.p.instances[i]
	n := len(c.p.followers)
	in.follow = n
	f.member, f.side = in.member, in.side
	m := &c.l.Members[in.member]
	name := bodyName{m.Name, in.side}
	if m.Kind == Kingpin {
		name.name = Upright
	}
	// The body exists before its closing node does: its own part points are in its coordinates.
	c.p.followers = append(c.p.followers, f)
	c.p.closes = append(c.p.closes, none)
	c.body[name] = bodyFollower + n
	delete(c.waiting, name)
	return n
}

// carrierOf returns 0 or 1 for a body that is a carrier.
func carrierOf(body int) (int, bool) { return body - bodyLeft, body == bodyLeft || body == bodyRight }

// upon returns the set of carriers that a body's place depends on: bit 0 left, bit 1 right.
func (p *Program) upon(body int) (set int) {
	switch {
	case body == bodyLeft:
		return 1
	case body == bodyRight:
		return 2
	case body >= bodyFollower:
		f := &p.followers[body-bodyFollower]
		set = p.upon(f.base)
		if f.how == byMean {
			b := &p.bars[f.bar]
			return set | p.upon(bodyFollower+b.ends[0]) | p.upon(bodyFollower+b.ends[1])
		}
		return set | p.graph.upon(f.far)
	}
	return 0
}

// upon returns the set of carriers that a node depends on.
func (g *graph) upon(r ref) (set int) {
	seen := map[ref]bool{}
	var walk func(ref)
	walk = func(r ref) {
		if r == none || seen[r] {
			return
		}
		seen[r] = true
		n := &g.nodes[r]
		if n.op == opTravel {
			set |= 1 << n.i
		}
		if n.body() >= 0 {
			switch b := int(n.b); {
			case b == bodyLeft:
				set |= 1
			case b == bodyRight:
				set |= 2
			case b >= bodyFollower:
				for i := range g.nodes {
					if g.nodes[i].op == opClose && int(g.nodes[i].i) == b-bodyFollower {
						walk(ref(i))
					}
				}
			}
		}
		for _, a := range g.arguments(r) {
			walk(a)
		}
	}
	walk(r)
	return set
}

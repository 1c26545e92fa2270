package kin

import (
	"fmt"
	"slices"
)

// place makes the constraints and the body of one instance; links, and what waits for them, come later.
func (c *compiler) place(i int) error {
	in := &c.p.instances[i]
	m := &c.l.Members[in.member]
	switch m.Kind {
	case Arm, HArm:
		return c.arm(i)
	case Strut:
		return c.strut(in, m)
	case Hinge, Ball:
		return c.hinge(in, m)
	case Rocker:
		c.waiting[bodyName{m.Name, in.side}] = i
	case Kingpin:
		c.waiting[bodyName{Upright, in.side}] = i
	case Link:
		if !m.Soft {
			c.open = append(c.open, i)
		}
	case Bar, Centre:
		c.open = append(c.open, i)
	}
	return nil
}

// joins returns the carrier that a member holds to the frame, or says that it does not.
func (c *compiler) joins(in *instance, m *Member) (carrier int, name bodyName, err error) {
	name = c.nameOf(in, m.Bodies[1])
	body, ok := c.body[name]
	if carrier, is := carrierOf(body); ok && is && m.Bodies[0] == Frame {
		return carrier, name, nil
	}
	what := Upright
	if c.p.axle {
		what = Axle
	}
	return 0, name, fmt.Errorf("%s %s goes from %s to %s; it has to join the %s to the %s", m.Kind, m.Name, m.Bodies[0], m.Bodies[1], Frame, what)
}

// arm makes an arm two constraints and a follower that its ball turns; the second ball of an H-arm, at its own place
// on the arm, makes two more.
func (c *compiler) arm(i int) error {
	in := &c.p.instances[i]
	m := &c.l.Members[in.member]
	base, baseName, ok := c.end(in, 0, m.Bodies[0])
	if !ok {
		return fmt.Errorf("%s %s turns on %s, which is no body of this geometry or waits for a rod itself", m.Kind, m.Name, baseName)
	}
	ball, name, ok := c.end(in, 2, m.Bodies[1])
	carrier, is := carrierOf(ball.body)
	if !ok || (!is && ball.body != bodyFrame) || (!is && base.body == bodyFrame) {
		return fmt.Errorf("%s %s goes from %s to %s; it has to join the %s or another body to the wheel's carrier", m.Kind, m.Name, baseName, name, Frame)
	}
	if !is {
		var on bool
		if carrier, on = carrierOf(base.body); !on { // an arm that turns on the axle, its ball on the frame
			return fmt.Errorf("%s %s goes from %s to %s; it has to join the %s or another body to the wheel's carrier", m.Kind, m.Name, baseName, name, Frame)
		}
	}
	if base.body == bodyRack {
		return onRack(m)
	}
	if c.p.upon(base.body)|c.p.upon(ball.body) == 3 {
		return fmt.Errorf("%s %s ties the carriers of both sides to each other; only an axle can hold both wheels", m.Kind, m.Name)
	}
	n := c.follow(i, followerSpec{base: base.body, flip: base.flip, how: byBall, rod: in.member})
	f := &c.p.followers[n]
	side := c.sideOf(in, 0)
	for k := range 2 {
		e, _, _ := c.end(in, k, m.Bodies[0])
		f.axis[k] = e.part
		f.pivots[k] = c.part(m.Name, side, m.Points[k], f.flip)
	}
	f.own = c.part(m.Name, side, m.Points[2], f.flip)
	f.farAt = ball.part
	f.far = c.p.into(c.p.graph, c.at(ball, f.flip), f.base)
	c.p.closes[n] = c.p.graph.add(node{op: opClose, a: f.far, b: none, i: int32(n)})
	if is && base.body == bodyFrame {
		c.addRow(carrier, rowSpec{kind: rowPlane, source: fromArm, member: in.member, side: in.side, at: ball.part, follow: n})
		c.addRow(carrier, rowSpec{kind: rowLength, source: fromRadius, member: in.member, side: in.side, at: ball.part, follow: n})
		if m.Kind == Arm {
			c.joint(carrier, ball.part, m.Points[2], 2)
		}
	} else {
		c.circle(carrier, in, f)
	}
	if m.Kind == HArm {
		return c.secondBall(carrier, in, m, n)
	}
	return nil
}

// onRack refuses a body whose axis would slide.
func onRack(m *Member) error {
	return fmt.Errorf("%s %s turns on the %s, which slides; its axis has to be on the %s or on another body that turns", m.Kind, m.Name, Rack, Frame)
}

// circle adds the rows of an arm whose axis moves, or whose ball is the frame's. In the coordinates that carry the axis,
// with A and n its first point and direction there, A' and n' the arm's own, and the ball at b there and at b' on the arm:
//
//	F = n·(b − A) − n'·(b' − A')            the ball in the plane square to the axis
//	F = (|b − A|² − |b' − A'|²)/2|b' − A'|  and at its distance from the first pivot
//
// Both are mm and one row of the Jacobian each, taken from their nodes (nodeRow).
func (c *compiler) circle(carrier int, in *instance, f *followerSpec) {
	g := c.p.graph
	own := func(k int) ref { return g.leaf(opOwn, k) }
	axis := g.two(opSub, own(f.axis[1]), own(f.axis[0]))
	mine := g.two(opSub, own(f.pivots[1]), own(f.pivots[0]))
	d := g.two(opSub, f.far, own(f.axis[0]))
	e := g.two(opSub, own(f.own), own(f.pivots[0]))
	along := g.two(opDiff, g.two(opDiv, g.two(opDot, d, axis), g.norm(axis)), g.two(opDiv, g.two(opDot, e, mine), g.norm(mine)))
	length := g.norm(e)
	reach := g.times(0.5, g.two(opDiff, g.two(opDiv, g.two(opDot, d, d), length), length))
	for _, r := range [...]ref{along, reach} {
		c.addRow(carrier, rowSpec{kind: rowNode, source: fromNode, member: in.member, side: in.side, node: r})
	}
}

// secondBall adds the rows of an H-arm's second ball, at b on the carrier and at b' on the arm, in the two directions e
// square to the line of the arm's balls, which turn with the arm: F = e·(b − b'), mm, one row each.
func (c *compiler) secondBall(carrier int, in *instance, m *Member, follow int) error {
	g := c.p.graph
	far, _, _ := c.end(in, 3, m.Bodies[1])
	f := &c.p.followers[follow]
	own := end{bodyFollower + follow, c.part(m.Name, c.sideOf(in, 3), m.Points[3], f.flip), f.flip}
	if f.base != bodyFrame {
		return fmt.Errorf("%s %s turns on %s; an %s has to turn on the %s", m.Kind, m.Name, m.Bodies[0], m.Kind, Frame)
	}
	view := carrier == 1
	gap := g.two(opSub, c.at(far, view), c.at(own, view))
	for k := range 2 {
		d := c.direction(direction{how: squareTo, parts: [2]int{f.own, own.part}, index: k})
		normal := g.onBody(opFixed, bodyFollower+follow, d)
		c.addRow(carrier, rowSpec{kind: rowNode, source: fromNode, member: in.member, side: in.side, node: g.two(opDot, normal, gap)})
	}
	return nil
}

func (c *compiler) strut(in *instance, m *Member) error {
	carrier, _, err := c.joins(in, m)
	if err != nil {
		return err
	}
	top, _, _ := c.end(in, 0, m.Bodies[0])
	foot, _, _ := c.end(in, 1, m.Bodies[1])
	along, _, _ := c.end(in, 0, m.Bodies[1])
	for k := range 2 {
		c.addRow(carrier, rowSpec{kind: rowSlide, source: fromStrut, member: in.member, side: in.side, at: foot.part, other: top.part, own: [2]int{foot.part, along.part}, index: k})
	}
	return nil
}

// hinge makes a ball joint three planes, and a hinge a ball joint at its first pivot and two planes at its second.
func (c *compiler) hinge(in *instance, m *Member) error {
	carrier, _, err := c.joins(in, m)
	if err != nil {
		return err
	}
	f, _, _ := c.end(in, 0, m.Bodies[0])
	b, _, _ := c.end(in, 0, m.Bodies[1])
	for k := range 3 {
		c.addRow(carrier, rowSpec{kind: rowPlane, source: fromBall, member: in.member, side: in.side, at: b.part, other: f.part, index: k})
	}
	if m.Kind == Ball {
		return nil
	}
	f2, _, _ := c.end(in, 1, m.Bodies[0])
	b2, _, _ := c.end(in, 1, m.Bodies[1])
	for k := range 2 {
		c.addRow(carrier, rowSpec{kind: rowPlane, source: fromHinge, member: in.member, side: in.side, at: b2.part, other: f2.part, own: [2]int{f.part, f2.part}, index: k})
	}
	return nil
}

func (c *compiler) addRow(carrier int, r rowSpec) { c.rows[carrier] = append(c.rows[carrier], r) }

// joint notes that links hold the carrier at a point; an arm's ball counts for two.
func (c *compiler) joint(carrier, part, point, links int) {
	for i := range c.joints[carrier] {
		if j := &c.joints[carrier][i]; j.point == point {
			j.links += links
			return
		}
	}
	c.joints[carrier] = append(c.joints[carrier], joint{part, point, links})
}

// closeFollowers makes each link a constraint on a carrier or the closing rod of a follower, in the order in
// which they can be, and each bar and centre arm when its ends are known.
func (c *compiler) closeFollowers() error {
	for _, i := range c.open {
		in := &c.p.instances[i]
		m := &c.l.Members[in.member]
		for _, b := range m.Bodies {
			if n := c.nameOf(in, b); !c.known(n) && m.Kind != Centre {
				return c.of(i, fmt.Errorf("%s %s has an end on %s, which is no body of this geometry", m.Kind, m.Name, n))
			}
		}
	}
	for progress := true; progress; {
		progress = false
		// Followers first: a link that could close one must not be spent on a carrier. Among them those first that the
		// rack turns: the carriers hang on a steering crank, not the crank on them.
		for _, pass := range [...]func(int) (bool, error){c.closeByRack, c.closeBy, c.holdBy} {
			var left []int
			done := false
			for _, i := range c.open {
				ok, err := pass(i)
				if err != nil {
					return c.of(i, err)
				}
				done = done || ok
				if !ok {
					left = append(left, i)
				}
			}
			c.open = left
			progress = progress || done
			if done {
				break
			}
		}
	}
	return c.leftOver()
}

func (c *compiler) leftOver() error {
	for i := range c.p.instances {
		if m := &c.l.Members[c.p.instances[i].member]; (m.Kind == Rocker || m.Kind == Kingpin) && c.p.instances[i].follow < 0 {
			return c.of(i, c.unturned(&c.p.instances[i], m))
		}
	}
	if len(c.open) == 0 {
		return nil
	}
	i := c.open[0]
	m := &c.l.Members[c.p.instances[i].member]
	switch m.Kind {
	case Bar:
		return c.of(i, fmt.Errorf("%s %s joins %s and %s; both have to be arms or rockers", m.Kind, m.Name, m.Bodies[0], m.Bodies[1]))
	case Centre:
		return c.of(i, fmt.Errorf("%s %s stands on %s, which has to be a %s", m.Kind, m.Name, m.Bodies[0], Bar))
	}
	return c.of(i, fmt.Errorf("link %s goes from %s to %s and holds nothing that moves", m.Name, m.Bodies[0], m.Bodies[1]))
}

// unturned says that no rod turns a rocker or an upright: on which side, where the other side has one, and on what the
// rocker might stand instead, where its links lead to the body that carries its axis.
func (c *compiler) unturned(in *instance, m *Member) error {
	side, advice := "", ""
	for i := range c.p.instances {
		if o := &c.p.instances[i]; o.member == in.member && o.follow >= 0 {
			side = " on the " + c.p.drawnOn(in.side).String() + " side of the car"
		}
	}
	for i := range c.l.Members {
		l := &c.l.Members[i]
		if k := slices.Index(l.Bodies, m.Name); m.Kind == Rocker && l.Kind == Link && k >= 0 && l.Bodies[1-k] == m.Bodies[0] {
			carrier := Upright
			if c.p.axle {
				carrier = Axle
			}
			advice = fmt.Sprintf("; %s leads to the %s, which carries its axis as well, so look whether the axis is on another body (on: %s)", l.Name, m.Bodies[0], carrier)
			break
		}
	}
	return fmt.Errorf("%s %s is turned by no rod%s: give it a link with one end on it and the other on a body that moves%s", m.Kind, m.Name, side, advice)
}

// closeByRack is closeBy where the rod's other end depends on no wheel.
func (c *compiler) closeByRack(i int) (bool, error) {
	in := &c.p.instances[i]
	m := &c.l.Members[in.member]
	if m.Kind != Link {
		return false, nil
	}
	for e := range 2 {
		_, waits := c.waiting[c.nameOf(in, m.Bodies[1-e])]
		near, ok := c.body[c.nameOf(in, m.Bodies[e])]
		if waits && ok && near != bodyFrame && c.p.upon(near) == 0 {
			return c.closeBy(i)
		}
	}
	return false, nil
}

// closeBy makes instance i the rod that closes a follower, a bar, or a centre arm, if it can.
func (c *compiler) closeBy(i int) (bool, error) {
	in := &c.p.instances[i]
	m := &c.l.Members[in.member]
	switch m.Kind {
	case Bar:
		return c.bar(in, m), nil
	case Centre:
		return c.centre(i)
	}
	for e := range 2 {
		turned := c.nameOf(in, m.Bodies[1-e])
		w, waits := c.waiting[turned]
		near, _, ok := c.end(in, e, m.Bodies[e])
		if !waits || !ok {
			continue
		}
		r := &c.p.instances[w]
		rm := &c.l.Members[r.member]
		base, _, ok := c.end(r, 0, rm.Bodies[0])
		if !ok || (near.body == bodyFrame && base.body == bodyFrame) {
			continue
		}
		if base.body == bodyRack {
			return false, onRack(rm)
		}
		c.closeRod(i, w, 1-e, near, base)
		return true, nil
	}
	return false, nil
}

// closeRod makes link i, whose end k is on it, turn waiting instance w.
func (c *compiler) closeRod(i, w, k int, near, base end) {
	in, r := &c.p.instances[i], &c.p.instances[w]
	m, rm := &c.l.Members[in.member], &c.l.Members[r.member]
	n := c.follow(w, followerSpec{base: base.body, flip: base.flip, how: byRod, rod: in.member})
	f := &c.p.followers[n]
	name := rm.Name
	if rm.Kind == Kingpin {
		name = Upright
	}
	for j := range 2 {
		e, _, _ := c.end(r, j, rm.Bodies[0])
		f.axis[j] = e.part
		f.pivots[j] = c.part(name, r.side, rm.Points[j], f.flip)
	}
	f.own = c.part(name, r.side, m.Points[k], f.flip)
	f.ends = c.ends(in, m, k)
	f.farAt = near.part
	f.far = c.p.into(c.p.graph, c.at(near, f.flip), f.base)
	c.p.closes[n] = c.p.graph.add(node{op: opClose, a: f.far, b: none, i: int32(n)})
}

// ends returns the link's own part points: of its end k, and of the other. Both are kept in the car's coordinates
// or both in mirrored ones, as their distance is all that matters.
func (c *compiler) ends(in *instance, m *Member, k int) [2]int {
	flip := c.flipped(in.side)
	return [2]int{
		c.part(m.Name, c.sideOf(in, k), m.Points[k], flip),
		c.part(m.Name, c.sideOf(in, 1-k), m.Points[1-k], flip),
	}
}

// holdBy makes link i, of length L from p to q, a constraint on the one carrier that it depends on:
// F = (|p − q|² − L²)/2L, mm, one row. It is a node where an end is on a follower.
func (c *compiler) holdBy(i int) (bool, error) {
	in := &c.p.instances[i]
	m := &c.l.Members[in.member]
	if m.Kind != Link {
		return false, nil
	}
	a, _, okA := c.end(in, 0, m.Bodies[0])
	b, _, okB := c.end(in, 1, m.Bodies[1])
	if !okA || !okB {
		return false, nil
	}
	set := c.p.upon(a.body) | c.p.upon(b.body)
	if set == 3 {
		return false, fmt.Errorf("link %s ties the carriers of both sides to each other; only an axle can hold both wheels: mark it soft, or measure it as a distance", m.Name)
	}
	if set == 0 || a.body == b.body {
		return false, nil
	}
	carrier := set - 1
	row := rowSpec{kind: rowLength, source: fromLink, member: in.member, side: in.side, own: c.ends(in, m, 0)}
	for e, pair := range [2][2]end{{a, b}, {b, a}} {
		if pair[0].body == bodyLeft+carrier && pair[1].body <= bodyRack {
			row.at, row.other = pair[0].part, pair[1].part
			if !c.kingpin {
				c.joint(carrier, pair[0].part, m.Points[e], 1)
			}
			c.addRow(carrier, row)
			return true, nil
		}
	}
	g := c.p.graph
	view := carrier == 1
	d := g.two(opSub, c.at(a, view), c.at(b, view))
	length := g.leaf(opLength, c.rod(row.own))
	row.kind, row.source = rowNode, fromNode
	row.node = g.times(0.5, g.two(opDiff, g.two(opDiv, g.two(opDot, d, d), length), length))
	c.addRow(carrier, row)
	return true, nil
}

func (c *compiler) rod(ends [2]int) int {
	if i := slices.Index(c.p.rods, ends); i >= 0 {
		return i
	}
	c.p.rods = append(c.p.rods, ends)
	return len(c.p.rods) - 1
}

// bar joins two followers that turn about the same line.
func (c *compiler) bar(in *instance, m *Member) bool {
	var ends [2]int
	for k := range ends {
		body, ok := c.body[c.nameOf(in, m.Bodies[k])]
		if !ok || body < bodyFollower {
			return false
		}
		ends[k] = body - bodyFollower
	}
	in.bar = len(c.p.bars)
	c.p.bars = append(c.p.bars, barSpec{in.member, ends})
	return true
}

// wordFor is the name of a solved body.
func (c *compiler) wordFor(body int) string {
	for n, b := range c.body {
		if b == body {
			return n.String()
		}
	}
	return Frame
}

// centre makes a follower that turns by the mean of a bar's two ends, about the axis of the first.
func (c *compiler) centre(i int) (bool, error) {
	m := &c.l.Members[c.p.instances[i].member]
	for k, b := range c.p.bars {
		if c.l.Members[b.member].Name != m.Bodies[0] {
			continue
		}
		// It turns about the axis of the end that is kept in the car's own coordinates.
		ends := b.ends
		if c.p.followers[ends[0]].flip {
			ends[0], ends[1] = ends[1], ends[0]
		}
		first := &c.p.followers[ends[0]]
		if first.base != bodyFrame {
			return false, fmt.Errorf("%s %s stands on bar %s, whose arms turn on %s; they have to turn on the %s", m.Kind, m.Name, m.Bodies[0], c.wordFor(first.base), Frame)
		}
		n := c.follow(i, followerSpec{base: bodyFrame, how: byMean, rod: b.member, bar: k, far: none, own: -1})
		f := &c.p.followers[n]
		f.axis = first.axis
		f.pivots = f.axis // a bar has no place of its own along or about its axis
		c.p.closes[n] = c.p.graph.add(node{op: opClose, a: c.p.closes[ends[0]], b: c.p.closes[ends[1]], i: int32(n)})
		return true, nil
	}
	return false, nil
}

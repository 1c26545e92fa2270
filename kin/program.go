package kin

import (
	"fmt"
	"slices"
	"strings"

	"gonum.org/v1/gonum/spatial/r3"
)

// bodies are numbered: the three that no member makes, then the followers in closing order.
const (
	bodyFrame = iota
	bodyRack
	bodyUpright
	bodyFollower // the first follower
)

// maxFollowers is how many arms and rockers a set of them can hold.
const maxFollowers = 64

// mark is a point as a part of one body: where a member takes hold.
type mark struct {
	body  int
	point int
}

type rowKind uint8

const (
	rowLength  rowKind = iota // F = (|p − c|² − L²)/2L: a bar from a point c of the frame or the rack
	rowPlane                  // F = n·(p − c): a ball in the plane square to its arm's axis
	rowRadius                 // rowLength with c the ball's foot on its arm's axis
	rowCoupled                // rowLength with c on a follower, which turns as the carrier moves
)

// rowSpec is one scalar constraint on the carrier, before it has numbers.
type rowSpec struct {
	kind    rowKind
	member  int
	carrier int // mark on the carrier
	other   int // mark of the other end; for an arm unused
	follow  int // the arm's follower
}

// followerSpec is a body on an axis of the frame whose angle a ball on the carrier or a rod decides.
type followerSpec struct {
	member int
	axis   [2]int // points
	rod    int    // the member that closes it; the arm itself where its ball does
	ball   bool
	own    int  // mark on the follower: the ball or the rod's end
	far    int  // mark of the ball on the carrier or of the rod's other end
	rods   bool // a rod closes it, or it carries one that closes another
}

// gaugeSpec is a member whose length is measured.
type gaugeSpec struct {
	member int
	a, b   int // marks
}

// leverSpec is where a rod, damper or spring works on a follower.
type leverSpec struct {
	member   int
	follower int
	at, far  int // marks: on the follower and at the other end
}

// Program is a compiled linkage: what constrains what, in which order followers close, without any
// coordinates. It is immutable; States hold the numbers.
type Program struct {
	linkage   Linkage
	marks     []mark
	rows      [5]rowSpec
	followers []followerSpec
	gauges    []gaugeSpec
	levers    []leverSpec
	coupled   bool   // a row holds a follower's derivative: followers close within the iteration
	axis      [2]int // marks of the steering axis, lower and upper ball; -1 where there are no two balls
	gaugeOf   []int  // by member: its gauge, lever and follower, or -1
	leverOf   []int
	followOf  []int
}

// Compile sorts a linkage's members into constraints on the carrier, followers and gauges. It looks at
// no coordinates. The error names every member that has no place, or says how many freedoms are left
// over or missing and which members take them.
func Compile(l *Linkage) (*Program, error) {
	c := compiler{l: l, p: &Program{linkage: cloneLinkage(l)}, body: map[string]int{Frame: bodyFrame, Rack: bodyRack, Upright: bodyUpright}}
	return c.compile()
}

func cloneLinkage(l *Linkage) Linkage {
	out := *l
	out.Points = slices.Clone(l.Points)
	out.Members = slices.Clone(l.Members)
	if out.RackAxis == (r3.Vec{}) {
		out.RackAxis = r3.Vec{Y: 1}
	}
	return out
}

type compiler struct {
	l    *Linkage
	p    *Program
	body map[string]int // solved bodies by name
	rows []rowSpec
}

func (c *compiler) compile() (*Program, error) {
	p := c.p
	for range c.l.Members {
		p.gaugeOf = append(p.gaugeOf, -1)
		p.leverOf = append(p.leverOf, -1)
		p.followOf = append(p.followOf, -1)
	}
	if err := c.arms(); err != nil {
		return nil, err
	}
	if err := c.links(); err != nil {
		return nil, err
	}
	if err := c.gauges(); err != nil {
		return nil, err
	}
	if n := len(c.p.followers); n > maxFollowers {
		return nil, fmt.Errorf("the geometry has %d arms and rockers; no more than %d can be moved", n, maxFollowers)
	}
	if err := c.freedoms(); err != nil {
		return nil, err
	}
	copy(p.rows[:], c.rows)
	c.steeringAxis()
	return p, nil
}

// mark returns the number of the point as a part of the body.
func (c *compiler) mark(body, point int) int {
	m := mark{body, point}
	if i := slices.Index(c.p.marks, m); i >= 0 {
		return i
	}
	c.p.marks = append(c.p.marks, m)
	return len(c.p.marks) - 1
}

func (c *compiler) follow(f followerSpec) int {
	p := c.p
	n := len(p.followers)
	p.followOf[f.member] = n
	p.followers = append(p.followers, f)
	c.body[c.l.Members[f.member].Name] = bodyFollower + n
	return n
}

// arms makes each arm two constraints and a follower that its ball turns.
func (c *compiler) arms() error {
	for i, m := range c.l.Members {
		if m.Kind != Arm {
			continue
		}
		if m.Bodies[0] != Frame || m.Bodies[1] != Upright {
			return fmt.Errorf("arm %s goes from %s to %s; an arm between other bodies than %s and %s is not built yet", m.Name, m.Bodies[0], m.Bodies[1], Frame, Upright)
		}
		ball := c.mark(bodyUpright, m.Points[2])
		own := c.mark(bodyFollower+len(c.p.followers), m.Points[2])
		f := c.follow(followerSpec{member: i, axis: [2]int{m.Points[0], m.Points[1]}, rod: i, ball: true, own: own, far: ball})
		c.rows = append(c.rows,
			rowSpec{kind: rowPlane, member: i, carrier: ball, follow: f},
			rowSpec{kind: rowRadius, member: i, carrier: ball, follow: f})
	}
	return nil
}

// links makes each link a constraint on the carrier or the closing rod of a rocker, in the order in
// which rockers can be closed.
func (c *compiler) links() error {
	rockers := map[string]int{}
	for i, m := range c.l.Members {
		if m.Kind == Rocker {
			if m.Bodies[0] != Frame {
				return fmt.Errorf("rocker %s turns about an axis on %s; an axis on another body than %s is not built yet", m.Name, m.Bodies[0], Frame)
			}
			rockers[m.Name] = i
		}
	}
	var open []int
	for i, m := range c.l.Members {
		if m.Kind != Link {
			continue
		}
		for _, b := range m.Bodies {
			_, solved := c.body[b]
			if _, rocker := rockers[b]; !solved && !rocker {
				return fmt.Errorf("%s %s has an end on %s, which is no body of this geometry: %s, %s, %s, an arm or a rocker", m.Kind, m.Name, b, Frame, Rack, Upright)
			}
		}
		open = append(open, i)
	}
	for progress := true; progress; {
		progress = false
		open = slices.DeleteFunc(open, func(i int) bool {
			done := c.link(i, rockers)
			progress = progress || done
			return done
		})
	}
	for i, m := range c.l.Members {
		if m.Kind == Rocker && c.p.followOf[i] < 0 {
			return fmt.Errorf("rocker %s is turned by no rod: give it a link with one end on %s and the other on %s, an arm or another rocker", m.Name, m.Name, Upright)
		}
	}
	for _, i := range open {
		m := c.l.Members[i]
		return fmt.Errorf("link %s goes from %s to %s and holds nothing that moves", m.Name, m.Bodies[0], m.Bodies[1])
	}
	return nil
}

// link places member i if both its bodies are solved, or one is and the other is a rocker that waits
// for its rod.
func (c *compiler) link(i int, rockers map[string]int) bool {
	m := c.l.Members[i]
	for e := range 2 {
		near, nearSolved := c.body[m.Bodies[e]]
		_, farSolved := c.body[m.Bodies[1-e]]
		rocker, isRocker := rockers[m.Bodies[1-e]]
		if nearSolved && !farSolved && isRocker && near != bodyFrame {
			n := bodyFollower + len(c.p.followers)
			if near >= bodyFollower {
				c.p.followers[near-bodyFollower].rods = true
			}
			r := c.l.Members[rocker]
			c.follow(followerSpec{member: rocker, axis: [2]int{r.Points[0], r.Points[1]}, rod: i, rods: true,
				own: c.mark(n, m.Points[1-e]), far: c.mark(near, m.Points[e])})
			return true
		}
	}
	for e := range 2 {
		if m.Bodies[e] != Upright {
			continue
		}
		other, ok := c.body[m.Bodies[1-e]]
		if !ok || other == bodyUpright {
			return false
		}
		kind := rowLength
		if other >= bodyFollower {
			kind = rowCoupled
			c.p.coupled = true
		}
		c.rows = append(c.rows, rowSpec{kind: kind, member: i, carrier: c.mark(bodyUpright, m.Points[e]), other: c.mark(other, m.Points[1-e])})
		return true
	}
	return false
}

// gauges makes a gauge of each damper and spring, and a lever wherever a rod, damper or spring works
// on a follower: the follower it closes, else the first end that lies on one.
func (c *compiler) gauges() error {
	p := c.p
	for i, m := range c.l.Members {
		if m.Kind == Arm || m.Kind == Rocker {
			continue
		}
		a, okA := c.body[m.Bodies[0]]
		b, okB := c.body[m.Bodies[1]]
		if !okA || !okB {
			missing := m.Bodies[0]
			if okA {
				missing = m.Bodies[1]
			}
			return fmt.Errorf("%s %s has an end on %s, which is no body of this geometry: %s, %s, %s, an arm or a rocker", m.Kind, m.Name, missing, Frame, Rack, Upright)
		}
		ma, mb := c.mark(a, m.Points[0]), c.mark(b, m.Points[1])
		if m.Kind == Damper || m.Kind == Spring {
			p.gaugeOf[i] = len(p.gauges)
			p.gauges = append(p.gauges, gaugeSpec{i, ma, mb})
		}
		lever := leverSpec{member: i, follower: -1}
		if b >= bodyFollower {
			lever = leverSpec{i, b - bodyFollower, mb, ma}
		}
		if a >= bodyFollower && (lever.follower < 0 || p.followers[lever.follower].rod != i) {
			lever = leverSpec{i, a - bodyFollower, ma, mb}
		}
		if lever.follower >= 0 {
			p.leverOf[i] = len(p.levers)
			p.levers = append(p.levers, lever)
		}
	}
	return nil
}

// freedoms refuses a carrier that is not left exactly one freedom, the wheel's travel.
func (c *compiler) freedoms() error {
	n := len(c.rows)
	if n == 5 {
		return nil
	}
	var parts []string
	for i := 0; i < n; i++ {
		m := c.l.Members[c.rows[i].member]
		switch {
		case m.Kind == Arm && c.rows[i].kind == rowPlane:
			parts = append(parts, m.Name+" 2")
		case m.Kind == Link:
			parts = append(parts, m.Name+" 1")
		}
	}
	held := "no member holds it"
	if len(parts) > 0 {
		held = "it is held by " + strings.Join(parts, ", ")
	}
	switch {
	case n < 5:
		return fmt.Errorf("the %s has %d of the 5 constraints that leave it wheel travel alone, so %s too many: %s; an arm gives 2, a link from %s or %s gives 1",
			Upright, n, plural(5-n, "freedom is", "freedoms are"), held, Frame, Rack)
	default:
		return fmt.Errorf("the %s has %d constraints where 5 leave it wheel travel, so %s too many: %s; an arm takes 2, a link takes 1",
			Upright, n, plural(n-5, "constraint is", "constraints are"), held)
	}
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// steeringAxis finds the two balls of arms that the carrier turns on, if there are exactly two. Which
// one is lower is a matter of coordinates and is decided for each design.
func (c *compiler) steeringAxis() {
	c.p.axis = [2]int{-1, -1}
	var balls []int
	for _, r := range c.rows {
		if r.kind == rowPlane {
			balls = append(balls, r.carrier)
		}
	}
	if len(balls) == 2 {
		c.p.axis = [2]int{balls[0], balls[1]}
	}
}

package kin

// A graph is what is computed at a pose once the carriers stand: places of points, followers, measures. Each
// node is made from earlier ones; nodes are jets, so that a slope along a motion is a node like any other,
// and the graph is run forwards for values and backwards for derivatives with every place of the drawing.
type graph struct {
	nodes []node
	index map[node]int32
	gaps  []gapSpec // of opGap
}

// ref is a node of a graph by its number.
type ref = int32

type op uint8

// Operations. S is a scalar result, V a vector; x, y, z below are the nodes a and b.
const (
	opOwn        op = iota // V: the place at design of part point i, of a body that stands still
	opRack                 // V: the same, carried by the rack; i
	opMark                 // V: part point i as body b's, in the coordinates that carry b
	opFixed                // V: the direction (x of table directions) i turning with body b
	opOut                  // V: a, a place in body b's own coordinates, carried out of it
	opTurn                 // V: a, a direction in body b's own coordinates, turned out of it
	opInto                 // V: a, a place of the car, seen in body b's own coordinates
	opMirror               // V: a with y reversed
	opTurning              // V: angular velocity of body b along w, in its own coordinates of the car or its base
	opSteering             // V: the same along k
	opAdd                  // V: a + b
	opSub                  // V: a − b
	opScale                // V: scalar a times vector b
	opCross                // V: a × b
	opSlopeV               // V: da/dw
	opRackV                // V: da/dk
	opConst                // S: k
	opTravel               // S: wheel travel of side i
	opRackTravel           // S
	opRoll                 // S: body roll, rad
	opClose                // S: angle of follower i, closed on the place a in the coordinates of its base; a is none for a mean
	opTwistSign            // S: +1 or −1: whether the two ends of bar i turn alike for equal angles
	opLength               // S: design length of link i by its own points
	opX                    // S: component
	opY
	opZ
	opDot        // S: a·b
	opSum        // S: a + b
	opDiff       // S: a − b
	opMul        // S
	opDiv        // S: a/b
	opLinear     // S: k·a
	opShare      // S: a/b, and 0 for the 0/0 that symmetry makes
	opSqrt       // S
	opAsin       // S
	opAcos       // S
	opAtan       // S
	opSin        // S
	opCos        // S
	opSlope      // S: da/dw
	opAlong      // S: da/dk
	opDeclared   // S: height at design of part point i
	opLift       // S: how far the ground of a rolled body is lifted
	opRemembered // S: value i of an earlier position of the sweep
	opStep       // S: 1 where a is above 0, else 0
	opFrom       // S: a where it is k or more; no value below
	opGap        // S: least gap between the solids of gap i; its slopes are first ones
)

// node is one operation. Nodes with equal fields are one node.
type node struct {
	op   op
	a, b ref     // none: −1
	i    int32   // part point, follower, side, ...
	k    float64 // of opConst and opLinear
}

const none ref = -1

func newGraph() *graph { return &graph{index: map[node]int32{}} }

// clone returns a graph that may grow without the other.
func (g *graph) clone() *graph {
	out := newGraph()
	out.nodes = append(out.nodes, g.nodes...)
	out.gaps = append(out.gaps, g.gaps...)
	for k, v := range g.index {
		out.index[k] = v
	}
	return out
}

func (g *graph) add(n node) ref {
	if at, ok := g.index[n]; ok {
		return at
	}
	at := ref(len(g.nodes))
	g.nodes = append(g.nodes, n)
	g.index[n] = at
	return at
}

func (g *graph) leaf(o op, i int) ref       { return g.add(node{op: o, a: none, b: none, i: int32(i)}) }
func (g *graph) constant(k float64) ref     { return g.add(node{op: opConst, a: none, b: none, k: k}) }
func (g *graph) one(o op, a ref) ref        { return g.add(node{op: o, a: a, b: none}) }
func (g *graph) two(o op, a, b ref) ref     { return g.add(node{op: o, a: a, b: b}) }
func (g *graph) times(k float64, a ref) ref { return g.add(node{op: opLinear, a: a, b: none, k: k}) }
func (g *graph) norm(v ref) ref             { return g.one(opSqrt, g.two(opDot, v, v)) }
func (g *graph) onBody(o op, body, i int) ref {
	return g.add(node{op: o, a: none, b: ref(body), i: int32(i)})
}
func (g *graph) carry(o op, place, body ref) ref { return g.add(node{op: o, a: place, b: body}) }

// arguments returns the nodes that a node is made from.
func (g *graph) arguments(r ref) []ref {
	n := &g.nodes[r]
	switch n.op {
	case opMark, opFixed, opTurning, opSteering:
		return nil
	case opGap:
		return g.gaps[n.i].args
	case opOut, opTurn, opInto:
		return []ref{n.a}
	}
	var out []ref
	for _, a := range [...]ref{n.a, n.b} {
		if a != none {
			out = append(out, a)
		}
	}
	return out
}

// body returns the follower or carrier that n needs the motion of, or -1.
func (n *node) body() int {
	switch n.op {
	case opMark, opFixed, opOut, opTurn, opInto, opTurning, opSteering:
		return int(n.b)
	}
	return -1
}

// plan is the part of a graph that some outputs need, in order, with the level that each node is needed at. What
// depends on the design alone stands apart: it is computed once.
type plan struct {
	still []step
	steps []step
}

type step struct {
	node
	at    ref
	l     level
	angle bool // of opClose: the angle itself is looked at, not only the body that it turns
}

// plan works out what the wanted nodes need; levels says to which level each is wanted. closes tells which node
// closes a follower.
func (g *graph) plan(wanted []ref, levels []level, closes []ref) plan {
	need := make([]level, len(g.nodes))
	for i := range need {
		need[i] = levelNothing
	}
	raise := func(r ref, l level) {
		if r != none && (need[r] == levelNothing || need[r] < l) {
			need[r] = l
		}
	}
	looked := make([]bool, len(g.nodes))
	for i, r := range wanted {
		raise(r, levels[i])
	}
	for i := len(g.nodes) - 1; i >= 0; i-- {
		l := need[i]
		if l == levelNothing {
			continue
		}
		n := &g.nodes[i]
		below := n.op.below(l)
		for _, a := range g.arguments(ref(i)) {
			raise(a, below)
			looked[a] = true
		}
		if body := n.body(); body >= bodyFollower {
			raise(closes[body-bodyFollower], below)
		}
	}
	var p plan
	still := make([]bool, len(g.nodes))
	for i, l := range need {
		still[i] = g.still(ref(i), still)
		switch st := (step{g.nodes[i], ref(i), l, looked[i]}); {
		case l == levelNothing:
		case still[i]:
			p.still = append(p.still, st)
		default:
			p.steps = append(p.steps, st)
		}
	}
	return p
}

// still tells whether a node depends on the design alone, given which of the nodes before it do.
func (g *graph) still(r ref, before []bool) bool {
	n := &g.nodes[r]
	switch n.op {
	case opOwn, opConst, opLength, opDeclared, opTwistSign:
		return true
	case opFixed:
		return n.b == bodyFrame
	case opRack, opTravel, opRackTravel, opRoll, opLift, opRemembered, opClose:
		return false
	}
	if n.body() >= 0 {
		return false
	}
	for _, a := range g.arguments(r) {
		if !before[a] {
			return false
		}
	}
	return true
}

// below returns to which level an operation needs what it is made from. Jets have no third derivatives: a slope is known
// with its own slope and no further.
func (o op) below(l level) level {
	switch o {
	case opSlope, opSlopeV, opTurning:
		if l <= levelSlope {
			return l + 1
		}
	case opAlong, opRackV, opSteering:
		if l <= levelSlope {
			return levelRack
		}
	default:
		return l
	}
	panic("kin: a measure needs a third derivative")
}

// vector tells whether the operation's result is a vector.
func (o op) vector() bool {
	return o <= opRackV
}

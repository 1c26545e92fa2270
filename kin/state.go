package kin

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"
)

// Status says how the solving of a geometry ended.
type Status uint8

// The statuses of a solved geometry.
const (
	OK             Status = iota
	CannotAssemble        // a position cannot be reached
	Folds                 // a position is reached only through a dead centre or on another branch
	BadGeometry           // points coincide, a bar has no length, or design itself is singular
)

// Failure says what stopped a solution, and where. The zero Failure is success.
type Failure struct {
	Status Status
	At     Position
	Member int // index into Linkage.Members of the member that gave way, or -1
}

// Numbers of the iteration.
const (
	tolerance     = 1e-10 // mm: greatest residual of an accepted pose
	maxIterations = 12
	maxTurn       = 0.5  // rad: a correction beyond this has left its branch
	pivotFloor    = 0.02 // of the entries a pivot eliminates; below it the rows are ordered anew
	singular      = 1e-9 // least pivot at design, rotation columns scaled by rotationScale
	leastStep     = 1. / 64
	rotationScale = 1. / 100 // 1/mm: makes an angle's column comparable with a length's
	coincide      = 1e-6     // mm: points nearer than this coincide
)

// row is a constraint with its numbers: see rowKind.
type row struct {
	kind   rowKind
	member int
	u      r3.Vec // its point on the carrier at design, from the wheel centre
	c      r3.Vec // the fixed point, or a point of the plane
	n      r3.Vec // plane: unit normal
	cdot   r3.Vec // velocity of c with rack travel
	length float64
	inv    float64 // 1/length
	other  int     // rowCoupled: mark of the other end
}

// markAt is a mark with its numbers. On the carrier, a is its place from the wheel centre at design; on
// the frame or the rack, a is its place at design; on a follower of angle θ it stands at
// a + cos θ b + sin θ c.
type markAt struct {
	body    int
	a, b, c r3.Vec
}

// State holds the numbers of one candidate and the last solved pose. It belongs to one goroutine;
// after New it allocates nothing.
type State struct {
	prog   *Program
	points []r3.Vec

	design  [5]row // in pivot order
	rows    [5]row // the same, perhaps ordered anew along a sweep
	moved   bool   // rows differ from design
	sign    float64
	marks   []markAt
	follow  []follower
	rackDir r3.Vec

	wheel struct {
		centre, spin r3.Vec
		radius       float64
		contact      r3.Vec // at design
		trackHalf    float64
	}
	axisLow, axisHigh int // marks of the steering axis, -1 without

	buffer [2*slots + 3]pose
	slot   [2][slots]*pose // by side: this wheel, and the other with its rack mirrored
	spare  [3]*pose

	cur, opp *pose // the position measured, and the other side's
	straight *pose // the same wheel travel with the rack centred
	contact  contactAt
	oppose   contactAt
}

// NewState returns a State for the program, at the design of the linkage it was compiled from. Call
// SetDesign before anything else.
func (p *Program) NewState() *State {
	s := &State{
		prog:    p,
		points:  make([]r3.Vec, len(p.linkage.Points)),
		marks:   make([]markAt, len(p.marks)),
		follow:  make([]follower, len(p.followers)),
		rackDir: p.linkage.RackAxis,
	}
	k := 0
	next := func() *pose { k++; return &s.buffer[k-1] }
	for side := range s.slot {
		for i := range s.slot[side] {
			s.slot[side][i] = next()
		}
	}
	for i := range s.spare {
		s.spare[i] = next()
	}
	return s
}

// Points returns the design points of the program's linkage, in mm: a start for SetDesign.
func (p *Program) Points() []r3.Vec {
	out := make([]r3.Vec, len(p.linkage.Points))
	for i, q := range p.linkage.Points {
		out[i] = q.At
	}
	return out
}

// SetDesign gives the state a new design pose: points in mm, in the order of the linkage. Every part
// is drawn anew to fit; camber and toe stand as declared.
func (s *State) SetDesign(points []r3.Vec) Failure {
	if len(points) != len(s.points) {
		panic("kin: SetDesign: wrong number of points")
	}
	copy(s.points, points)
	p := s.prog
	for i, q := range points {
		if q.X-q.X != 0 || q.Y-q.Y != 0 || q.Z-q.Z != 0 {
			return s.notFinite(i)
		}
	}
	w := &p.linkage.Wheel
	s.wheel.centre = points[w.Centre]
	s.wheel.radius = w.LoadedRadius
	sc, cc := math.Sincos(w.Camber)
	st, ct := math.Sincos(w.Toe)
	s.wheel.spin = r3.Vec{X: st * cc, Y: ct * cc, Z: -sc}

	for i := range p.followers {
		if f := s.setFollower(i); f.Status != OK {
			return f
		}
	}
	for i, m := range p.marks {
		s.setMark(i, m)
	}
	for i := range p.rows {
		if f := s.setRow(i); f.Status != OK {
			return f
		}
	}
	for _, g := range p.gauges {
		if norm(r3.Sub(points[p.marks[g.a].point], points[p.marks[g.b].point])) < coincide {
			return s.bad(g.member)
		}
	}
	s.setSteeringAxis()
	return s.solveDesign()
}

// notFinite refuses a point that is no place: NaN or infinite.
func (s *State) notFinite(point int) Failure {
	for i, m := range s.prog.linkage.Members {
		if slices.Contains(m.Points, point) {
			return s.bad(i)
		}
	}
	return s.bad(-1)
}

func (s *State) bad(member int) Failure { return Failure{Status: BadGeometry, Member: member} }

// setMark gives mark i its numbers. Followers must be set.
func (s *State) setMark(i int, m mark) {
	at := &s.marks[i]
	at.body = m.body
	q := s.points[m.point]
	switch {
	case m.body >= bodyFollower:
		f := &s.follow[m.body-bodyFollower]
		rel := r3.Sub(q, f.origin)
		along := r3.Scale(r3.Dot(rel, f.axis), f.axis)
		at.a = r3.Add(f.origin, along)
		at.b = r3.Sub(rel, along)
		at.c = r3.Cross(f.axis, at.b)
	case m.body == bodyUpright:
		at.a = r3.Sub(q, s.wheel.centre)
	default:
		at.a = q
	}
}

// setRow gives row i its numbers. Marks and followers must be set.
func (s *State) setRow(i int) Failure {
	spec := &s.prog.rows[i]
	u := s.marks[spec.carrier].a
	ball := s.points[s.prog.marks[spec.carrier].point]
	r := row{kind: spec.kind, member: spec.member, u: u, other: spec.other}
	switch spec.kind {
	case rowPlane:
		f := &s.follow[spec.follow]
		r.n = f.axis
		r.c = f.foot
	case rowRadius:
		r.c = s.follow[spec.follow].foot
	default:
		m := s.prog.marks[spec.other]
		r.c = s.points[m.point]
		if m.body == bodyRack {
			r.cdot = s.rackDir
		}
	}
	if spec.kind != rowPlane {
		r.length = norm(r3.Sub(ball, r.c))
		if !(r.length > coincide) {
			return s.bad(spec.member)
		}
		r.inv = 1 / r.length
	}
	s.design[i] = r
	return Failure{}
}

// setSteeringAxis decides which of the two balls is the lower one.
func (s *State) setSteeringAxis() {
	a, b := s.prog.axis[0], s.prog.axis[1]
	if a >= 0 && s.marks[a].a.Z > s.marks[b].a.Z {
		a, b = b, a
	}
	s.axisLow, s.axisHigh = a, b
}

// solveDesign orders the rows by pivoting, factors the design pose and takes its derivatives.
func (s *State) solveDesign() Failure {
	for side := range s.slot {
		s.slot[side][slotDesign].reset(s.wheel.centre)
	}
	d := s.slot[0][slotDesign]
	s.rows, s.moved = s.design, false
	if f := s.evaluate(d); f.Status != OK {
		f.Status = BadGeometry
		return f
	}
	var scaled matrix5
	for i := range 25 {
		scaled[i] = d.lu[i]
		if i%5 >= 2 {
			scaled[i] *= rotationScale
		}
	}
	order, least := pivotOrder(scaled)
	if !(least > singular) {
		return s.bad(-1)
	}
	for i, k := range order {
		s.rows[i] = s.design[k]
	}
	s.design = s.rows
	s.evaluate(d)
	if d.det = d.lu.factor(0); d.det == 0 || math.IsNaN(d.det) {
		return s.bad(-1)
	}
	s.sign = math.Copysign(1, d.det)
	s.rates(d, true, true)
	*s.slot[1][slotDesign] = *d
	s.cur, s.opp, s.straight = d, d, d
	s.takeContact(d, &s.contact)
	s.wheel.contact = s.contact.at
	s.wheel.trackHalf = s.axisAtGround()
	return Failure{}
}

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
	At     Position // of the motion; design where it is design that fails
	Member int      // index into Linkage.Members of the member that gave way, or -1
}

// Numbers of the iteration.
const (
	nearClosed    = 2e-11 // mm: residuals from which one step, with the factors at hand, leaves nothing but rounding
	fullyClosed   = 1e-12 // mm: residuals that are left as they are
	maxIterations = 12
	maxTurn       = 0.5  // rad: a correction beyond this has left its branch
	pivotFloor    = 0.02 // of the entries a pivot eliminates; below it the rows are ordered anew
	singular      = 1e-9 // least pivot at design, rotation columns scaled by rotationScale
	leastStep     = 1. / 64
	rotationScale = 1. / 100 // 1/mm: makes a turn's column comparable with a shift's
	coincide      = 1e-6     // mm: points nearer than this coincide
)

// follower is a body on an axis with its numbers, in the coordinates of what carries the axis.
type follower struct {
	axis, origin r3.Vec // unit direction and the first point of it
	arm          r3.Vec // from its own first pivot to the ball or the rod's end
	foot         r3.Vec // foot on the axis of the ball or the rod's end
	e1, e2       r3.Vec // from foot to the ball or rod's end at design, and a quarter turn on; unit
	radius       float64
	rod          float64 // length of the rod
	span         float64 // distance between the points of the axis
	sigma        float64 // which of the two closures is design's
	bent         bool    // its own axis does not lie along the base's: bend carries one to the other
	bend         [9]float64
}

// State holds the numbers of one candidate and the last solved pose. It belongs to one goroutine; once it has run
// a sweep, running it again allocates nothing.
type State struct {
	prog   *Program
	points []r3.Vec
	errors []r3.Vec // of part points, mm; empty without

	own        []r3.Vec // part points at design
	dirs       []r3.Vec
	axes       []r3.Vec // by member: what SetAxis gave
	lengths    []float64
	barSign    []float64
	follow     []follower
	corner     [2]corner
	both       bool // the right side is solved as well
	rackAxis   r3.Vec
	remembered []remembered // values of earlier positions of the sweep

	// What nodes read.
	body      []rigid
	num       []jet
	vec       []vjet
	travel    [2]jet
	rack      float64
	rackSlope float64 // of rack along w
	roll      float64
	rollRate  float64 // of roll along w
	bar       bars
	gaps      []gapSpec // of the sweep that runs
	touches   []touching

	footing [2]footing
	failure Failure
	scratch vjet
	moved   vjet
	place   Position // of the visit
}

// NewState returns a State for the program, without numbers: call SetDesign before anything else. Program.Points are those
// of the linkage that it was compiled from.
func (p *Program) NewState() *State {
	s := &State{
		prog:     p,
		points:   make([]r3.Vec, len(p.linkage.Points)),
		own:      make([]r3.Vec, len(p.parts)),
		dirs:     make([]r3.Vec, len(p.directions)),
		axes:     make([]r3.Vec, len(p.linkage.Members)),
		lengths:  make([]float64, len(p.rods)),
		barSign:  make([]float64, len(p.bars)),
		follow:   make([]follower, len(p.followers)),
		body:     make([]rigid, bodyFollower+len(p.followers)),
		rackAxis: p.linkage.RackAxis,
	}
	for i := range s.axes {
		s.axes[i] = noAxis
	}
	for i := range s.body {
		s.body[i].r = [9]float64{1, 0, 0, 0, 1, 0, 0, 0, 1}
	}
	s.bar.body = make([]twistBars, len(s.body))
	s.bar.own = make([]r3.Vec, len(p.parts))
	s.grow(p.graph)
	for k := range p.carriers {
		c := &s.corner[k]
		c.index, c.spec, c.flip = k, &p.carriers[k], k == 1
		for i := range c.slot {
			c.slot[i] = &pose{}
		}
		for i := range c.spare {
			c.spare[i] = &pose{}
		}
		for i, r := range c.spec.rows {
			if r.kind == rowNode {
				c.rows[i].out = &rowOutput{r.node, p.graph.plan([]ref{r.node}, []level{levelRack}, p.closes)}
			}
		}
		if c.spec.lead != none {
			c.lead = &rowOutput{c.spec.lead, p.graph.plan([]ref{c.spec.lead}, []level{levelRack}, p.closes)}
		}
		c.motion = BothWheels.drive(p, k)
	}
	s.both = !p.symmetric
	return s
}

// grow makes room for the nodes of a graph.
func (s *State) grow(g *graph) {
	if n := len(g.nodes); n > len(s.num) {
		s.num = append(s.num, make([]jet, n-len(s.num))...)
		s.vec = append(s.vec, make([]vjet, n-len(s.vec))...)
		s.bar.num = append(s.bar.num, make([]jet, n-len(s.bar.num))...)
		s.bar.vec = append(s.bar.vec, make([]vjet, n-len(s.bar.vec))...)
	}
}

// SetDesign gives the state a new design pose: points in mm, in the order of the linkage. Every part
// is drawn anew to fit; camber and toe stand as declared.
func (s *State) SetDesign(points []r3.Vec) Failure {
	if len(points) != len(s.points) {
		panic("kin: SetDesign: wrong number of points")
	}
	copy(s.points, points)
	s.errors = s.errors[:0]
	for i, q := range points {
		if !finite(q) {
			return s.notFinite(i)
		}
	}
	return s.setNumbers()
}

// SetBuild keeps the design but gives parts errors: part points (see Program.PartPoints) displaced by so many mm,
// each in the coordinates that PartPoint says. Every other part keeps its shape, and the linkage is assembled anew at
// the same travels.
func (s *State) SetBuild(errors []r3.Vec) Failure {
	if len(errors) != len(s.own) {
		panic("kin: SetBuild: wrong number of part points")
	}
	for i, e := range errors {
		if !finite(e) {
			return s.notFinite(s.prog.parts[i].point)
		}
	}
	if !s.errs() && !s.prog.axle && !s.corner[1].set {
		if f := s.setCorner(1); f.Status != OK { // the branch of either side is design's
			return f
		}
	}
	s.errors = append(s.errors[:0], errors...)
	return s.setNumbers()
}

// setNumbers takes everything from the points and the errors of parts.
func (s *State) setNumbers() Failure {
	if f := s.setParts(); f.Status != OK {
		return f
	}
	p := s.prog
	for k := range p.carriers {
		s.corner[k].set = false
	}
	if f := s.setCorner(0); f.Status != OK {
		return f
	}
	if s.both && !p.axle {
		return s.setCorner(1)
	}
	return Failure{}
}

// setParts is setNumbers for everything but the carriers.
func (s *State) setParts() Failure {
	p := s.prog
	for i := range p.parts {
		s.own[i] = p.parts[i].at(s.points)
		if s.errs() && p.parts[i].owner != "" {
			s.own[i] = r3.Add(s.own[i], s.errors[i])
		}
	}
	for i := range p.directions {
		s.setDirection(i)
	}
	for i := range p.followers {
		if f := s.setFollower(i); f.Status != OK {
			return f
		}
	}
	for i, ends := range p.rods {
		s.lengths[i] = norm(r3.Sub(s.own[ends[0]], s.own[ends[1]]))
	}
	for i, b := range p.bars {
		s.barSign[i] = s.senseOf(b)
	}
	for i := range p.instances {
		in := &p.instances[i]
		if in.ends[0].body == in.ends[1].body && in.ends[0].part == in.ends[1].part {
			continue
		}
		if norm(r3.Sub(s.inCar(in.ends[0]), s.inCar(in.ends[1]))) < coincide {
			return s.bad(in.member)
		}
	}
	return s.setSolids()
}

// at returns the place of a part point where the linkage's points stand.
func (q *partPoint) at(points []r3.Vec) r3.Vec {
	if q.mirror {
		return mirrored(points[q.point])
	}
	return points[q.point]
}

func (s *State) inCar(e end) r3.Vec {
	if e.flip {
		return mirrored(s.own[e.part])
	}
	return s.own[e.part]
}

// errs tells whether parts err.
func (s *State) errs() bool { return len(s.errors) > 0 }

func finite(v r3.Vec) bool { return v.X-v.X == 0 && v.Y-v.Y == 0 && v.Z-v.Z == 0 }

// notFinite refuses a point that is no place: NaN or infinite.
func (s *State) notFinite(point int) Failure {
	for i, m := range s.prog.linkage.Members {
		if slices.Contains(m.Points, point) {
			return s.bad(i)
		}
	}
	return s.bad(-1)
}

// fail keeps a failure on its way out of the solver: its inner functions return nil, or what is kept here.
func (s *State) fail(f Failure) *Failure {
	s.failure = f
	return &s.failure
}

func (s *State) bad(member int) Failure { return Failure{Status: BadGeometry, Member: member} }

// norm returns the length of v. Lengths of a car neither overflow nor vanish when squared, so the care
// of math.Hypot is not needed.
func norm(v r3.Vec) float64 { return math.Sqrt(v.X*v.X + v.Y*v.Y + v.Z*v.Z) }

// setDirection gives direction i its numbers.
func (s *State) setDirection(i int) {
	d := &s.prog.directions[i]
	switch d.how {
	case spinAxis:
		w := &s.prog.linkage.Wheel
		sc, cc := math.Sincos(w.Camber)
		st, ct := math.Sincos(w.Toe)
		s.dirs[i] = r3.Vec{X: st * cc, Y: ct * cc, Z: -sc}
		if s.prog.axle && d.side == Right {
			s.dirs[i] = mirrored(s.dirs[i])
		}
	case squareTo:
		s.dirs[i] = square(r3.Sub(s.own[d.parts[1]], s.own[d.parts[0]]))[d.index]
	case axisOf:
		s.dirs[i] = unitVector(d.index)
	case given, found:
		a := d.v
		if d.how == found {
			a = s.axes[d.m]
		}
		if d.mirror {
			a = mirrored(a)
		}
		s.dirs[i] = r3.Scale(1/norm(a), a)
	}
}

func unitVector(i int) r3.Vec {
	return [...]r3.Vec{{X: 1}, {Y: 1}, {Z: 1}}[i]
}

// square returns two unit vectors square to v and to each other.
func square(v r3.Vec) [2]r3.Vec {
	least := 0
	if math.Abs(v.Y) < math.Abs(v.X) {
		least = 1
	}
	if math.Abs(v.Z) < math.Abs(r3.Dot(v, unitVector(least))) {
		least = 2
	}
	a := r3.Unit(r3.Cross(v, unitVector(least)))
	return [2]r3.Vec{a, r3.Unit(r3.Cross(v, a))}
}

// setFollower gives follower i its numbers at design.
func (s *State) setFollower(i int) Failure {
	spec := &s.prog.followers[i]
	f := &s.follow[i]
	p, q := s.own[spec.axis[0]], s.own[spec.axis[1]]
	axis := r3.Sub(q, p)
	f.span = norm(axis)
	if !(f.span > coincide) {
		return s.bad(spec.member)
	}
	f.axis, f.origin = r3.Scale(1/f.span, axis), p
	b := &s.body[bodyFollower+i]
	b.t, b.c = p, s.own[spec.pivots[0]]
	b.v = vjet{}
	f.align(r3.Sub(s.own[spec.pivots[1]], s.own[spec.pivots[0]]), s.errs())
	f.stand(b, 1, 0)
	if spec.how == byMean {
		return Failure{}
	}
	f.arm = r3.Sub(s.own[spec.own], b.c)
	arm := b.turn(f.arm)
	along := r3.Scale(r3.Dot(arm, f.axis), f.axis)
	f.foot = r3.Add(p, along)
	out := r3.Sub(arm, along)
	f.radius = norm(out)
	if !(f.radius > coincide) {
		return s.bad(spec.member)
	}
	f.e1 = r3.Scale(1/f.radius, out)
	f.e2 = r3.Cross(f.axis, f.e1)
	if spec.how == byRod {
		f.rod = norm(r3.Sub(s.own[spec.ends[0]], s.own[spec.ends[1]]))
		if s.errs() {
			return Failure{} // which closure is design's was found there
		}
		own := r3.Add(p, arm)
		d := r3.Sub(s.farAt(spec), own)
		det := r3.Dot(d, f.e2)
		if !(f.rod > coincide) || math.Abs(det) < 1e-9*f.rod {
			return s.bad(spec.rod)
		}
		f.sigma = -math.Copysign(1, det)
	}
	return Failure{}
}

// farAt returns the far end of a follower's rod at design, in the follower's coordinates.
func (s *State) farAt(spec *followerSpec) r3.Vec {
	q := s.own[spec.farAt]
	if s.prog.parts[spec.farAt].flip != spec.flip {
		q = mirrored(q)
	}
	return q
}

// align notes the rotation that carries the follower's own axis to the base's, where parts err.
func (f *follower) align(own r3.Vec, errs bool) {
	f.bent = false
	n := norm(own)
	if !errs || !(n > coincide) {
		return
	}
	from := r3.Scale(1/n, own)
	v := r3.Cross(from, f.axis)
	if v == (r3.Vec{}) {
		return
	}
	f.bent = true
	k := 1 / (1 + r3.Dot(from, f.axis)) // the least rotation: I + [v] + [v]²/(1 + cos)
	x, y, z := v.X, v.Y, v.Z
	f.bend = [9]float64{
		1 - k*(y*y+z*z), k*x*y - z, k*x*z + y,
		k*x*y + z, 1 - k*(x*x+z*z), k*y*z - x,
		k*x*z - y, k*y*z + x, 1 - k*(x*x+y*y),
	}
}

// senseOf tells whether the two ends of a bar count their angles about the same line alike.
func (s *State) senseOf(b barSpec) float64 {
	first, second := &s.prog.followers[b.ends[0]], &s.prog.followers[b.ends[1]]
	n := s.follow[b.ends[1]].axis
	if first.flip != second.flip {
		n = r3.Scale(-1, mirrored(n)) // a mirror reverses turns
	}
	if r3.Dot(s.follow[b.ends[0]].axis, n) < 0 {
		return -1
	}
	return 1
}

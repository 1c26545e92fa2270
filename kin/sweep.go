package kin

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// Sweep is a motion with the columns to tabulate along it. It is immutable and belongs to a program.
type Sweep struct {
	Motion  *Motion
	Columns []Column
	graph   *graph
	plan    plan      // of everything
	outputs []output  // by column
	gaps    [2]output // of each wheel's contact centre above the rolled ground
	floors  [2]output // slope of the same with roll, the wheel held
	keep    []keeping // values that later positions look back at
	half    bool      // the other side is the drawn side's mirror image
	level   [2]level  // to which each carrier's motion is needed; levelNothing where it is not
	least   []leastSpec
	beside  []beside // by position, where a least is sought
	between *Sweep   // the same for poses between positions
}

// output is a node that something reads, with what it needs.
type output struct {
	node ref
	plan plan
	top  level // of the node
}

// keeping is a value that is remembered: of design, or of the last position with the rack centred.
type keeping struct {
	output
	centred bool
}

// remembered is such a value with its derivatives with the part points.
type remembered struct {
	value float64
	own   []r3.Vec
}

// NewSweep joins a motion and the columns wanted of it.
func (p *Program) NewSweep(m *Motion, columns []Column) *Sweep { return p.newSweep(m, columns, false) }

// NewDesignSweep is NewSweep for design changes alone: where the drawing is symmetric and both wheels travel alike with
// the rack centred, what is asked of the other side is the drawn side's mirror image and is not solved again. Run
// panics where parts err.
func (p *Program) NewDesignSweep(m *Motion, columns []Column) *Sweep {
	half := p.symmetric && m.Wheels == BothWheels && !m.Rolls
	for _, at := range m.Positions {
		half = half && at.Rack == 0
	}
	for i := range columns {
		half = half && columns[i].onOneSide(p)
	}
	return p.newSweep(m, columns, half)
}

func (p *Program) newSweep(m *Motion, columns []Column, half bool) *Sweep {
	sw := &Sweep{Motion: m, Columns: columns, graph: p.graph.clone(), half: half}
	b := &builder{p: p, g: sw.graph, half: half, rolls: m.Rolls, keep: new([]kept)}
	var wanted []ref
	for i := range columns {
		r := b.column(&columns[i])
		sw.outputs = append(sw.outputs, output{node: r})
		wanted = append(wanted, r)
	}
	sw.graph.markStill()
	for _, k := range *b.keep {
		sw.keep = append(sw.keep, keeping{output: output{node: k.node}, centred: k.centred})
		wanted = append(wanted, k.node)
	}
	if m.Rolls {
		for k := range sw.gaps {
			b.s = k
			sw.gaps[k].node, sw.floors[k].node = b.gap()
		}
	}
	both := !p.symmetric || p.axle
	for _, r := range wanted {
		both = both || sw.graph.upon(r)&2 != 0
	}
	// Every rod has to reach, whether or not a column looks at what it turns: it is no less broken for that.
	for i, r := range p.closes {
		if p.followers[i].how == byRod && (both || p.upon(bodyFollower+i)&2 == 0) {
			wanted = append(wanted, r)
		}
	}
	sw.plan = sw.graph.plan(wanted, make([]level, len(wanted)), p.closes)
	finish := func(o *output, l level) {
		o.plan, o.top = sw.graph.plan([]ref{o.node}, []level{l}, p.closes), l
	}
	for i := range sw.keep {
		finish(&sw.keep[i].output, levelValue)
	}
	for i := range sw.outputs {
		finish(&sw.outputs[i], levelValue)
	}
	sw.levels(both)
	if m.Rolls {
		for k := range sw.gaps {
			finish(&sw.gaps[k], max(levelSlope, min(sw.most(), levelBend)))
			finish(&sw.floors[k], levelValue)
		}
	}
	p.leastColumns(sw)
	return sw
}

// levels finds to which level each carrier's motion is needed.
func (sw *Sweep) levels(both bool) {
	sw.level = [2]level{levelValue, levelNothing}
	if both {
		sw.level[1] = levelValue
	}
	for _, st := range sw.plan.steps {
		if k, is := carrierOf(st.body()); is {
			l := st.op.below(st.l)
			if sw.level[k] == levelNothing || sw.level[k] < l {
				sw.level[k] = l
			}
		}
	}
}

// most is the highest level of any carrier.
func (sw *Sweep) most() level {
	if sw.level[1] != levelNothing {
		return max(sw.level[0], sw.level[1])
	}
	return sw.level[0]
}

// Size returns the number of values that Run fills: columns times positions, column by column, and then the least values
// that Least finds.
func (sw *Sweep) Size() int {
	return len(sw.Columns)*len(sw.Motion.Positions) + leastSize*len(sw.least)
}

// Poses returns the number of poses that Run solves.
func (sw *Sweep) Poses() int { return len(sw.Motion.visits) }

// Run solves the motion from design and fills out[c·n + i] with column c at position i of n, in the
// units of the table, NaN where a measure has no value. It returns how many poses were solved of
// Poses, all of them unless it failed. The design must have been set.
func (s *State) Run(sw *Sweep, out []float64) (solved int, f Failure) {
	return s.run(sw, out, nil, nil)
}

// run is Run, with derivatives where at and least are given: of the values at a position, and of a least value.
func (s *State) run(sw *Sweep, out []float64, at func(row int), least func(value int, o *output)) (solved int, f Failure) {
	if len(out) != sw.Size() {
		panic("kin: Run: out has the wrong length")
	}
	if sw.half && s.errs() {
		panic("kin: Run: parts err, and the sweep is for design changes alone")
	}
	s.grow(sw.graph)
	s.growGaps(sw)
	if sw.level[1] != levelNothing && !s.prog.axle && !s.both {
		s.both = true
	}
	for k := range s.prog.carriers {
		if !s.corner[k].set && sw.level[k] != levelNothing {
			if f := s.setCorner(k); f.Status != OK {
				return 0, f
			}
		}
		s.startCorner(k, sw)
	}
	s.prepare(&sw.plan)
	for i := range sw.gaps {
		s.prepare(&sw.gaps[i].plan)
		s.prepare(&sw.floors[i].plan)
	}
	if b := sw.between; b != nil {
		for i := range b.gaps {
			s.prepare(&b.gaps[i].plan)
		}
		for i := range sw.least {
			s.prepare(&sw.least[i].plan)
		}
	}
	s.standStill()
	for len(s.remembered) < len(sw.keep) {
		s.remembered = append(s.remembered, remembered{own: make([]r3.Vec, len(s.own))})
	}
	n := len(sw.Motion.Positions)
	for i := range sw.Motion.visits {
		v := &sw.Motion.visits[i]
		if f := s.visit(sw, i, at != nil); f != nil {
			f.At = v.at
			return i, *f
		}
		if v.row < 0 {
			continue
		}
		for c := range sw.Columns {
			out[c*n+int(v.row)] = sw.Columns[c].finite(s.num[sw.outputs[c].node][0])
		}
		if at != nil {
			at(int(v.row))
		}
	}
	if f := s.takeLeast(sw, out, least); f != nil {
		return len(sw.Motion.visits), *f
	}
	return len(sw.Motion.visits), Failure{}
}

// remember keeps what later positions look back at.
func (s *State) remember(sw *Sweep, visit int, slopes bool) *Failure {
	ready, rolled := false, sw.Motion.visits[visit].rolled
	for i := range sw.keep {
		k := &sw.keep[i]
		if k.centred && sw.Motion.visits[visit].at.Rack != 0 || !k.centred && visit > 0 {
			continue
		}
		if f := s.forward(&k.plan, levelRack); f != nil {
			return f
		}
		r := &s.remembered[i]
		r.value = s.num[k.node][0]
		if !slopes {
			continue
		}
		if !ready {
			ready = true
			s.readySlopes(sw, rolled)
		}
		s.pullOutput(sw, &k.output, rolled)
		copy(r.own, s.bar.own)
	}
	return nil
}

// startCorner makes a carrier ready for a sweep: derivatives at design are those along the motion.
func (s *State) startCorner(k int, sw *Sweep) {
	c := &s.corner[k]
	motion := sw.Motion.Wheels.drive(s.prog, k)
	d := c.slot[slotDesign]
	if motion != c.motion {
		c.motion = motion
		d.known &^= knowMotion | knowMixed
	}
	d.wake = wake{}
}

// visit solves the poses of a visit, loads their motion and computes the nodes there.
func (s *State) visit(sw *Sweep, i int, slopes bool) *Failure {
	v := &sw.Motion.visits[i]
	if f := s.pose(sw, v); f != nil {
		return f
	}
	if sw.keep != nil {
		if f := s.remember(sw, i, slopes); f != nil {
			return f
		}
	}
	return s.forward(&sw.plan, levelRack)
}

// pose solves the carriers of a visit and loads their motion.
func (s *State) pose(sw *Sweep, v *visit) *Failure {
	s.place = v.at
	for k := range s.prog.carriers {
		if sw.level[k] == levelNothing {
			continue
		}
		if f := s.visitCorner(sw, v, k); f != nil {
			return f
		}
	}
	s.rollRate = 0
	s.roll = s.side() * v.at.Roll
	if v.rolled {
		if f := s.rollCorners(sw, v); f != nil {
			return f
		}
	} else {
		for k := range s.prog.carriers {
			if sw.level[k] != levelNothing {
				s.load(&s.corner[k], sw.level[k], &s.corner[k].motion)
			}
		}
	}
	s.rack, s.rackSlope = s.side()*v.at.Rack, 0
	return nil
}

// visitCorner brings a carrier to the travel of a visit; where the body rolls, to the wheel travel of the pose
// before, from which rollCorners goes on.
func (s *State) visitCorner(sw *Sweep, v *visit, k int) *Failure {
	c := &s.corner[k]
	from := c.slot[v.from]
	to := drive{z: c.motion.z * v.at.Wheel, right: c.motion.right * v.at.Wheel, rack: s.side() * v.at.Rack}
	if v.rolled {
		to.z, to.right = from.at.z, from.at.right
	}
	want := wantOf(sw.level[k])
	if v.wheel {
		want |= knowMotion
	}
	if v.rack {
		want |= knowRack
	}
	if v.rolled {
		want &^= knowMotion | knowMixed
	}
	switch {
	case to == from.at:
		if v.from != v.to {
			*c.slot[v.to] = *from
		}
	case k == 1 && s.prog.symmetric && !s.errs() && to == s.corner[0].slot[v.to].at && to.rack == 0:
		*c.slot[v.to] = *s.corner[0].slot[v.to] // the mirror image, in mirrored coordinates
		c.slot[v.to].known &^= knowRack | knowMixed
	default:
		p := c.spare[0]
		if f := s.step(c, from, p, to); f != nil {
			return f
		}
		c.slot[v.to], c.spare[0] = p, c.slot[v.to]
	}
	c.cur = c.slot[v.to]
	s.rates(c, c.cur, want)
	return nil
}

// wantOf returns the derivatives of a pose that a level needs.
func wantOf(l level) know {
	switch {
	case l == levelNothing || l == levelValue:
		return 0
	case l >= levelRack:
		return knowMotion | knowRack | knowMixed
	}
	return knowMotion
}

// load tells the nodes where a carrier stands and how it moves along the motion.
func (s *State) load(c *corner, l level, along *drive) {
	p := c.cur
	b := &s.body[bodyLeft+c.index]
	b.r, b.t, b.c = p.r, p.t, c.centre
	s.travel[c.index] = jet{slot0: p.at.z, slotW: along.z}
	if s.prog.axle {
		s.travel[1] = jet{slot0: p.at.right, slotW: along.right}
	}
	if l >= levelSlope {
		b.v[slotW], b.w[slotW] = p.dz.v(), p.dz.w()
		b.v[slotWW], b.w[slotWW] = p.az.v(), p.az.w()
	}
	if l >= levelRack {
		b.v[slotK], b.w[slotK] = p.dr.v(), p.dr.w()
		b.v[slotWK], b.w[slotWK] = p.mixed.v(), p.mixed.w()
	}
}

// side is +1 for a linkage drawn on the left, -1 for one drawn on the right and mirrored.
func (s *State) side() float64 { return s.prog.side() }

func (p *Program) side() float64 {
	if p.linkage.Right {
		return -1
	}
	return 1
}

// farAway is the distance in mm beyond which an instant centre or roll centre is said not to exist.
const farAway = 1e6

func (c *Column) finite(x float64) float64 {
	if math.Abs(x) > c.Measure.beyond() || x-x != 0 {
		return math.NaN()
	}
	return x
}

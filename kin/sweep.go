package kin

import (
	"fmt"
	"strings"
)

// Column is a measure of a linkage, found by name: what a sweep tabulates.
type Column struct {
	Name    string // as written: "camber", "damper.length"
	Measure *Measure
	Member  string // "" for a measure of the corner
	index   int    // of the member
}

// Column finds the measure that a file calls by name: "camber", or "damper.length" of a member.
func (p *Program) Column(name string) (Column, error) {
	member, bare := splitMeasure(name)
	m, ok := LookupMeasure(bare)
	if !ok {
		return Column{}, fmt.Errorf("%s is no measure", name)
	}
	if m.Of == OfCorner {
		if member != "" {
			return Column{}, fmt.Errorf("%s is a measure of the corner and stands alone, without %s", bare, member)
		}
		if m.needs&needAxis != 0 && p.axis[0] < 0 {
			return Column{}, fmt.Errorf("%s needs a steering axis through the balls of two arms; a virtual axis is not built yet", bare)
		}
		return Column{Name: name, Measure: m, index: -1}, nil
	}
	if member == "" {
		return Column{}, fmt.Errorf("%s is a measure of a member: write MEMBER.%s", bare, bare)
	}
	for i, mm := range p.linkage.Members {
		if mm.Name != member {
			continue
		}
		if !m.Of.Has(mm.Kind) {
			return Column{}, fmt.Errorf("%s is a %s and has no %s", member, mm.Kind, bare)
		}
		if m.needs&needLever != 0 && p.leverOf[i] < 0 {
			return Column{}, fmt.Errorf("%s works on no arm or rocker and has no %s", member, bare)
		}
		return Column{Name: name, Measure: m, Member: member, index: i}, nil
	}
	return Column{}, fmt.Errorf("no member is called %s", member)
}

// Columns returns every measure that the linkage has, corner first, then member by member.
func (p *Program) Columns() []Column {
	var out []Column
	for i := range table {
		if table[i].Of == OfCorner {
			if c, err := p.Column(table[i].Name); err == nil {
				out = append(out, c)
			}
		}
	}
	for _, m := range p.linkage.Members {
		for i := range table {
			if table[i].Of.Has(m.Kind) {
				if c, err := p.Column(m.Name + "." + table[i].Name); err == nil {
					out = append(out, c)
				}
			}
		}
	}
	return out
}

// Sweep is a motion with the columns to tabulate along it. It is immutable and belongs to a program.
type Sweep struct {
	Motion  *Motion
	Columns []Column
	needs   needs
	follow  uint64 // the followers that columns read, and those that drive them
}

// NewSweep joins a motion and the columns wanted of it.
func (p *Program) NewSweep(m *Motion, columns []Column) *Sweep {
	s := &Sweep{Motion: m, Columns: columns}
	for _, c := range columns {
		s.needs |= c.Measure.needs
		s.follow |= p.followersOf(c)
	}
	return s
}

// followersOf returns the set of followers that a column reads.
func (p *Program) followersOf(c Column) (set uint64) {
	if c.Measure.needs&needMembers == 0 {
		return 0
	}
	if f := p.followOf[c.index]; f >= 0 {
		set |= p.chain(bodyFollower + f)
	}
	if g := p.gaugeOf[c.index]; g >= 0 {
		set |= p.chain(p.marks[p.gauges[g].a].body) | p.chain(p.marks[p.gauges[g].b].body)
	}
	if l := p.leverOf[c.index]; l >= 0 {
		set |= p.chain(p.marks[p.levers[l].at].body) | p.chain(p.marks[p.levers[l].far].body)
	}
	return set
}

// chain returns the follower that a body is, if it is one, with those that drive it.
func (p *Program) chain(body int) (set uint64) {
	for body >= bodyFollower {
		set |= 1 << (body - bodyFollower)
		body = p.marks[p.followers[body-bodyFollower].far].body
	}
	return set
}

// Size returns the number of values that Run fills: columns times positions, column by column.
func (sw *Sweep) Size() int { return len(sw.Columns) * len(sw.Motion.Positions) }

// Run solves the motion from design and fills out[c·n + i] with column c at position i of n, in the
// units of the table, NaN where a measure has no value. It returns how many poses were solved of
// Poses, all of them unless it failed. The design must have been set.
func (s *State) Run(sw *Sweep, out []float64) (solved int, f Failure) {
	if len(out) != sw.Size() {
		panic("kin: Run: out has the wrong length")
	}
	s.restore()
	n := len(sw.Motion.Positions)
	for i := range sw.Motion.nodes {
		nd := &sw.Motion.nodes[i]
		if f := s.pass(sw, nd); f.Status != OK {
			f.At = nd.at
			return i, f
		}
		if nd.row < 0 {
			continue
		}
		s.prepare(sw)
		for c := range sw.Columns {
			col := &sw.Columns[c]
			out[c*n+int(nd.row)] = col.Measure.value(s, col.index)
		}
	}
	return len(sw.Motion.nodes), Failure{}
}

// pass solves a node: this wheel, the other one where it stands differently and is asked for, and every
// rocker, whether or not a column looks at it: what does not close is no less broken for that.
func (s *State) pass(sw *Sweep, nd *node) Failure {
	rack := s.side() * nd.at.Rack
	if f := s.visit(sw, nd, 0, Position{nd.at.Wheel, rack}); f.Status != OK {
		return f
	}
	s.cur = s.slot[0][nd.to]
	s.opp, s.straight = s.cur, s.slot[0][slotDesign]
	if nd.at.Wheel != 0 {
		s.straight = s.slot[0][slotTrunk]
	}
	if sw.needs&needOpposite != 0 && rack != 0 {
		if f := s.visit(sw, nd, 1, Position{nd.at.Wheel, -rack}); f.Status != OK {
			return f
		}
		s.opp = s.slot[1][nd.to]
	}
	return s.reach(s.cur, sw.follow, sw.needs&(needRates|needSecond) != 0)
}

// Poses returns the number of poses that Run solves.
func (sw *Sweep) Poses() int { return len(sw.Motion.nodes) }

// visit solves the pose of a node on one side and takes the derivatives that measures or later nodes
// need there.
func (s *State) visit(sw *Sweep, nd *node, side int, at Position) Failure {
	slot := &s.slot[side]
	from := slot[nd.from]
	if nd.from != slotBranch {
		from = s.slot[0][nd.from] // with the rack centred both sides stand alike
	}
	if at.Wheel == from.z && at.Rack == from.rack {
		if nd.from != nd.to {
			*slot[nd.to] = *from
		}
		return Failure{} // design, or a position that the motion lists twice
	}
	p := s.spare[0]
	if f := s.step(from, p, at); f.Status != OK {
		return f
	}
	wheel := nd.wheel || sw.needs&(needRates|needSecond) != 0
	s.rates(p, wheel, nd.rack || sw.needs&needRackRate != 0)
	slot[nd.to], s.spare[0] = p, slot[nd.to]
	return Failure{}
}

// prepare takes what the measures of a position have in common. Followers are closed.
func (s *State) prepare(sw *Sweep) {
	n := sw.needs
	if n&needMembers != 0 && n&(needRates|needSecond) != 0 {
		s.move(s.cur, sw.follow, n&needSecond != 0)
	}
	if n&needContact != 0 {
		s.takeContact(s.cur, &s.contact)
		if n&needOpposite != 0 {
			s.takeContact(s.opp, &s.oppose)
		}
	}
}

// Describe says a failure in a sentence without its end: what gave way, in the linkage's own names.
func (p *Program) Describe(f Failure) string {
	name := ""
	if f.Member >= 0 {
		name = p.linkage.Members[f.Member].Name
	}
	turned := "" // the rocker that the member turns
	for _, spec := range p.followers {
		if !spec.ball && spec.rod == f.Member {
			turned = p.linkage.Members[spec.member].Name
		}
	}
	switch f.Status {
	case OK:
		return "it assembles"
	case CannotAssemble:
		if turned != "" {
			return fmt.Sprintf("%s and %s line up", name, turned)
		}
		if name == "" {
			return "it does not close"
		}
		return name + " does not reach"
	case Folds:
		return "it passes a dead centre and would come back on another branch"
	case BadGeometry:
		if name == "" {
			return "the members hold the " + Upright + " in a singular way: at design some of them work against the same freedom"
		}
		if turned != "" {
			return fmt.Sprintf("%s has no length, or it lines up with %s at design", name, turned)
		}
		return name + " has no length, a point on its own axis, or one that is nowhere"
	}
	return strings.TrimSpace(name + " failed")
}

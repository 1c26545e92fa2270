package studies

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"trammel/kin"
	"trammel/objectives"
	"trammel/studies/files"

	"gonum.org/v1/gonum/spatial/r3"
)

// seen returns the directions that a joint sees over motions, on the sides that it has; nil where the linkage does not go
// through one of the motions.
func (m *mover) seen(name string, across bool, motions []travels) (out []objectives.Vec) {
	for _, of := range m.bothSides(name, across) {
		var columns []kin.Column
		for _, d := range directionNames {
			c, err := m.prog.Column(of + "." + d)
			if err != nil {
				panic("studies: " + err.Error()) // every joint has them
			}
			columns = append(columns, c)
		}
		for i := range motions {
			v := m.values(&motions[i], columns)
			if v == nil {
				return nil
			}
			n := len(motions[i].positions())
			for k := range n {
				out = append(out, objectives.Vec{X: v[k], Y: v[n+k], Z: v[2*n+k]})
			}
		}
	}
	return out
}

// findAxes gives the state the axis that leaves each joint the least tilt over motions, where one is to be found.
func (m *mover) findAxes(motions []travels) (found []JointState) {
	for i := range m.g.Joints {
		j := &m.g.Joints[i]
		member, auto := autoJoint(m.g, m.prog, j.Name+".tilt")
		if auto == nil {
			continue
		}
		if d := m.seen(j.Name, j.Across, motions); d != nil {
			fit := objectives.FitOf(fitOf(j), d)
			m.state.SetAxis(member, vector(fit.Axis))
			found = append(found, jointState(m.g, j, vector(fit.Axis), fit.Angle/radians))
		}
	}
	return found
}

// ownMotions are those over which a geometry's axes are found: all that it is looked at over, or what was asked where the file gives
// no travel. None where it does not close over its own heave or steer, which check refuses.
func (m *mover) ownMotions(asked []travels) []travels {
	looks := m.looks()
	if looks == nil {
		return asked
	}
	for _, l := range looks {
		if l.stops != nil && l.name != grid && l.name != cross {
			return nil
		}
	}
	return ways(looks)
}

// fromAxes says from which axes the tilts in columns are measured, where those were found.
func fromAxes(columns []kin.Column, found []JointState) (notes []string) {
	for k := range found {
		f := &found[k]
		for i := range columns {
			terms, _ := columns[i].Terms()
			if slices.ContainsFunc(terms, func(c kin.Column) bool { return c.Member == f.Name && c.Measure.Name == "tilt" }) {
				notes = append(notes, fmt.Sprintf("the tilt of %s is from a %s on %s along [%s, %s, %s], which leaves the least over the travel of the file", f.Name, f.What, f.Body,
					rounded(f.Axis[0], 4), rounded(f.Axis[1], 4), rounded(f.Axis[2], 4)))
				break
			}
		}
	}
	return notes
}

// tilts says how far each joint tilts over all that is looked at and where, with the axes that leave the least.
func (c *check) tilts(motions []travels) {
	if len(c.g.Joints) == 0 {
		return
	}
	found := c.findAxes(motions)
	c.line("Joints, over all of this:")
	for i := range c.g.Joints {
		j := &c.g.Joints[i]
		_, most, ok := c.peaks(j.Name+".tilt", j.Across, motions)
		if !ok {
			continue
		}
		says, name := "", strings.TrimSuffix(most.name, ".tilt")
		if k := slices.IndexFunc(found, func(f JointState) bool { return f.Name == j.Name }); k >= 0 {
			says = found[k].Says
			if name != j.Name {
				says += ", in " + name
			}
		} else {
			says = fmt.Sprintf("%s: tilt %s of %s deg", name, rounded(most.value, 1), decimals(j.Tilt))
			if most.value > j.Tilt {
				says += ", which is too much"
			}
		}
		c.line("  %s, %s.", says, where(most.place))
	}
	for _, s := range c.clockings(found, motions) {
		c.line("  %s.", s.says)
	}
	c.line("  %s", typicalTilts())
}

// rodEnds are the two rod ends of one rod.
type rodEnds struct {
	name    string
	joints  [2]*files.Joint
	members [2]int // of the program
}

// bothEnds finds the rods that have a rod end at either end.
func (m *mover) bothEnds() (out []rodEnds) {
	for i := range m.g.Joints {
		for k := range m.g.Joints[:i] {
			a, b := &m.g.Joints[k], &m.g.Joints[i]
			if a.RodIs != files.RodEye || b.RodIs != files.RodEye || a.Rod != b.Rod || a.Across != b.Across || a.Points[0] == b.Points[0] && slices.Equal(a.Sides, b.Sides) {
				continue
			}
			e := rodEnds{name: a.Rod, joints: [2]*files.Joint{a, b}}
			for at, part := range m.g.Parts() {
				switch part.Name {
				case a.Name:
					e.members[0] = at
				case b.Name:
					e.members[1] = at
				}
			}
			out = append(out, e)
		}
	}
	return out
}

// strained is a rod of which no spin relieves both ends.
type strained struct {
	joint *files.Joint // the one that stands first in the file
	says  string
}

// clockings says of which rods one spin cannot relieve both rod ends over motions.
func (m *mover) clockings(found []JointState, motions []travels) (all []strained) {
	for _, e := range m.bothEnds() {
		turn, over, ok := m.clocking(&e, found, motions)
		if ok && over > 0 {
			a, b := e.joints[0], e.joints[1]
			all = append(all, strained{a, fmt.Sprintf("%s spins as one, and cannot relieve %s and %s both: seen along it, their bolts turn against each other by %s deg, of which each end has to take its share as tilt; with both set for the best, one of them tilts by %s deg more than it may",
				e.name, a.Name, b.Name, rounded(turn, 1), rounded(over, 1))})
		}
	}
	return all
}

// studyTravels are the motions of a study.
func studyTravels(f *files.Study) (motions []travels) {
	for i := range f.Motions {
		motions = append(motions, travelsOf(&f.Motions[i]))
	}
	return motions
}

// spinRemarks says of a study in whose motions no spin of a rod relieves both its ends, with the geometry as drawn: in roll the bolts
// on an axle and a frame turn against each other, which the file's own travel does not show.
func (c *check) spinRemarks(f *files.Study) (out files.Problems) {
	motions := studyTravels(f)
	for _, s := range c.clockings(c.findAxes(motions), motions) {
		out = append(out, files.Problem{File: c.g.Path, Position: s.joint.Pos, Path: "joints." + s.joint.Name, Message: "over the study's motions " + s.says})
	}
	return out
}

// clocking looks at how the bolts of a rod's two ends turn against each other about the rod, deg, and by how much the ends
// then have to tilt more than they may, 0 where they need not.
//
// The eyes of the two ends stand at a fixed angle δ to each other about the rod, which is set when it is put together, and
// the rod spins as it likes. An eye whose axis, square to the rod, is turned from the bolt's by η about it, and whose bolt
// leans by β out of the plane square to the rod, is tilted by acos(cos β cos η). An end that may tilt by α can so be turned by
// as much as h = acos(cos α/cos β). With κ the angle between the two bolts about the rod, both are relieved at a position where
// |κ − δ| ≤ h₁ + h₂, and over motions where one δ is so at all: max(κ − h₁ − h₂) ≤ min(κ + h₁ + h₂).
func (m *mover) clocking(e *rodEnds, found []JointState, motions []travels) (turn, over float64, ok bool) {
	ends, ok := m.aboutRod(e, found, motions)
	if !ok {
		return 0, 0, false
	}
	least, most := math.Inf(1), math.Inf(-1)
	for i := range ends {
		least, most = min(least, ends[i].turn), max(most, ends[i].turn)
	}
	may := [2]float64{e.joints[0].Tilt * radians, e.joints[1].Tilt * radians}
	lean := 0.0 // beyond what an end may tilt, whatever the other does: another sentence says that
	for i := range ends {
		for k := range may {
			lean = max(lean, ends[i].lean[k]-may[k])
		}
	}
	if over = overBy(ends, may); over < lean+seenTilt {
		over = 0
	}
	return (most - least) / radians, over / radians, true
}

// seenTilt is the least tilt, rad, that sentences tell from none.
const seenTilt = 0.05 * radians

// overBy is by how much the two ends of a rod have to tilt more than they may, rad; 0 where they need not.
func overBy(ends []aboutEnds, may [2]float64) float64 {
	relieved := func(more float64) bool {
		low, high := math.Inf(-1), math.Inf(1)
		for i := range ends {
			h := 0.0
			for k := range may {
				h += slackOf(may[k]+more, ends[i].lean[k])
			}
			low, high = max(low, ends[i].turn-h), min(high, ends[i].turn+h)
		}
		return low <= high
	}
	if relieved(0) {
		return 0
	}
	// More tilt always helps: halve.
	a, b := 0.0, math.Pi/2
	for range 50 {
		if c := (a + b) / 2; relieved(c) {
			b = c
		} else {
			a = c
		}
	}
	return b
}

// slackOf is how far an eye that may tilt by most may be turned about the rod from a bolt that leans by lean, rad; none
// where the bolt leans too far already, which another sentence says.
func slackOf(most, lean float64) float64 {
	if lean >= most {
		return 0
	}
	if most >= math.Pi/2 {
		return math.Pi / 2
	}
	return math.Acos(math.Cos(most) / math.Cos(lean))
}

// aboutEnds is how the bolts of a rod's two ends stand at a position, rad.
type aboutEnds struct {
	turn float64    // of the second against the first about the rod, from the first position's
	lean [2]float64 // out of the plane square to the rod
}

// aboutRod follows both bolts over motions. A joint that does not exist, from the body of the first bolt to that of the
// second, shows the one from the other.
func (m *mover) aboutRod(e *rodEnds, found []JointState, motions []travels) ([]aboutEnds, bool) {
	l := m.g.Linkage()
	var bolt [2]r3.Vec // as measures have them
	for k, member := range e.members {
		bolt[k] = m.boltOf(l, e.joints[k], member, found)
		if bolt[k] == (r3.Vec{}) {
			return nil, false
		}
	}
	first, second := l.Members[e.members[0]], l.Members[e.members[1]]
	across := e.joints[0].Across
	second.Name, second.Points, second.Bodies = "from one end to the other", first.Points[:1], first.Bodies[:1]
	if first.Sides != nil {
		second.Sides = first.Sides[:1]
	}
	second.Bearing = &kin.Bearing{BoltBody: l.Members[e.members[1]].Bodies[0], Bolt: m.asMeasured(bolt[1], across)}
	l.Members = append(l.Members, second)
	prog, err := kin.Compile(l)
	if err != nil {
		return nil, false // both bolts are on one body and turn not at all
	}
	n := &mover{g: m.g, prog: prog, state: prog.NewState()}
	if n.state.SetDesign(prog.Points()).Status != kin.OK {
		return nil, false
	}
	rods, others := n.seen(e.joints[0].Name, across, motions), n.seen(second.Name, across, motions)
	if rods == nil || others == nil {
		return nil, false
	}
	out := make([]aboutEnds, len(rods))
	for i := range out {
		r, b := vector(rods[i]), [2]r3.Vec{r3.Unit(bolt[0]), vector(others[i])}
		var across [2]r3.Vec
		for k := range b {
			lean := r3.Dot(b[k], r)
			out[i].lean[k] = math.Asin(min(1, math.Abs(lean)))
			across[k] = r3.Sub(b[k], r3.Scale(lean, r))
		}
		turn := math.Atan2(r3.Dot(r, r3.Cross(across[0], across[1])), r3.Dot(across[0], across[1]))
		if i > 0 {
			turn = out[0].turn + math.Remainder(turn-out[0].turn, math.Pi) // a bolt has no sense
		}
		out[i].turn = turn
	}
	return out, true
}

// boltOf returns the direction of a rod end's bolt as measures have it; zero where it was not found.
func (m *mover) boltOf(l *kin.Linkage, j *files.Joint, member int, found []JointState) r3.Vec {
	if b := l.Members[member].Bearing; !b.Auto() {
		return m.asMeasured(b.Bolt, j.Across)
	}
	for i := range found {
		if found[i].Name == j.Name {
			return found[i].measured
		}
	}
	return r3.Vec{}
}

// asMeasured turns a direction of the solver's linkage into what measures have, and back: of what exists once, + y is the
// car's left.
func (m *mover) asMeasured(v r3.Vec, across bool) r3.Vec {
	if across && m.g.Side == files.Right {
		v.Y = -v.Y
	}
	return v
}

// ring is a bearing of a series: bore, widths of the inner and outer ring, diameter of the ball, mm.
type ring struct{ bore, inner, outer, ball float64 }

// tilt is how far the inner ring's face can turn until it meets the edge of the outer ring, deg: asin(B/d) − asin(C/d), with
// the widths B and C of the rings and the ball's diameter d. Catalogues round it down.
func (r *ring) tilt() float64 {
	return (math.Asin(r.inner/r.ball) - math.Asin(r.outer/r.ball)) / radians
}

// The rings of ISO 12240-4 series K (rod ends; dimensions of ISO 12240-1:1998, table 4) and of ISO 12240-1 series E (from
// memory), as far as the rule above gives what catalogues print.
var (
	seriesK = []ring{{5, 8, 6, 11.1}, {6, 9, 6.75, 12.7}, {8, 12, 9, 15.8}, {10, 14, 10.5, 19}, {12, 16, 12, 22.2}, {16, 21, 15, 28.5},
		{18, 23, 16.5, 31.7}, {20, 25, 18, 34.9}, {22, 28, 20, 38.1}, {25, 31, 22, 42.8}, {30, 37, 25, 50.8}}
	seriesE = []ring{{4, 5, 3, 8}, {5, 6, 4, 10}, {6, 6, 4, 10}, {8, 8, 5, 13}, {10, 9, 6, 16}, {12, 10, 7, 18}, {15, 12, 9, 22}, {17, 14, 10, 25},
		{20, 16, 12, 29}, {25, 20, 16, 35.5}, {30, 22, 18, 40.7}, {35, 25, 20, 47}, {40, 28, 22, 53}, {45, 32, 25, 60}, {50, 35, 28, 66}}
)

// typicalTilts reminds of what bearings of the standard allow, and of what balls with a stud do: common practice, no source.
func typicalTilts() string {
	span := func(series []ring) string {
		least, most := math.Inf(1), 0.0
		for i := range series {
			t := math.Floor(series[i].tilt())
			least, most = min(least, t), max(most, t)
		}
		return strings.Join([]string{rounded(least, 0), rounded(most, 0)}, " to ")
	}
	return fmt.Sprintf("Typical are %s deg for rod ends of ISO 12240-4 series K and %s deg for spherical bearings of ISO 12240-1 series E, by bore, and 15 to 30 deg for balls with a stud; less where a bolt's head or a bracket is in the way. The bearing's own sheet counts.",
		span(seriesK), span(seriesE))
}

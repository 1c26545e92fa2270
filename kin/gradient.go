package kin

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// Direction is a way in which the drawing can change: part points, by their numbers, and how far each goes for a
// unit of it, in the coordinates that PartPoint says.
type Direction struct {
	Parts []int
	By    []r3.Vec

	right   []int // what Move adds of the right side, which a half sweep does not look at
	rightBy []r3.Vec
}

// Reset empties the direction and keeps its room.
func (d *Direction) Reset() {
	d.Parts, d.By, d.right, d.rightBy = d.Parts[:0], d.By[:0], d.right[:0], d.rightBy[:0]
}

// PartPoint is a point as one part holds it: the bracket on the frame and the pivot of the arm are two part points at
// one place. A design change moves all that a point has; a build change moves one, and every other part keeps its
// shape.
type PartPoint struct {
	Owner    string // the body or link; "" for the height at which a wheel's centre is said to stand, which no build changes
	Side     Side   // Once for what exists a single time
	Point    int    // of the linkage
	Mirrored bool   // moves the mirror image way: kept in coordinates of the car where the point stands opposite
}

// PartPoints returns every part point. Those of the right side of an independent suspension are kept in
// coordinates mirrored to the left.
func (p *Program) PartPoints() []PartPoint {
	out := make([]PartPoint, len(p.parts))
	for i, q := range p.parts {
		out[i] = PartPoint{q.owner, q.side, q.point, q.mirror}
	}
	return out
}

// Move adds to a direction what a design change by v of a point of the linkage takes, in mm.
func (p *Program) Move(d *Direction, point int, v r3.Vec) {
	for i, q := range p.parts {
		if q.point != point {
			continue
		}
		by := v
		if q.mirror {
			by = mirrored(v)
		}
		if q.side == Right {
			d.right = append(d.right, i)
			d.rightBy = append(d.rightBy, by)
			continue
		}
		d.Parts = append(d.Parts, i)
		d.By = append(d.By, by)
	}
}

// Slopes is what RunSlopes fills besides the values: the derivative of each with directions of change.
type Slopes struct {
	Directions []Direction
	Wanted     []bool    // which values' derivatives are wanted, in the layout of out; nil for all
	At         []float64 // row-major, len(out) × len(Directions); rows that are not wanted are left as they are
	Parts      []float64 // the derivative with every coordinate of every part point, as State.takeParts lays it out; nil for none
}

// RunSlopes is Run, and fills the derivatives with every direction, each exact: every derivative of a pose, of a
// follower and of a slope along the motion comes from the equations that made it, not from differences. Where a value is
// missing its derivatives are 0. A derivative is in the column's unit for a unit of its direction. A sweep of NewDesignSweep
// takes directions that Move made alone: it knows no part of the other side.
//
// Derivatives are taken backwards, one pass for a value and all directions together, so that their number hardly
// matters. A. Griewank and A. Walther, "Evaluating Derivatives", 2nd ed., SIAM 2008, chapters 3, 13 and 15 (reverse mode,
// Taylor coefficients, implicit functions).
func (s *State) RunSlopes(sw *Sweep, out []float64, d *Slopes) (solved int, f Failure) {
	n := len(sw.Motion.Positions)
	if len(d.At) != len(out)*len(d.Directions) || (d.Wanted != nil && len(d.Wanted) != len(out)) {
		panic("kin: RunSlopes: slopes of another layout")
	}
	s.checkParts(sw, d)
	return s.run(sw, out, func(row int) {
		s.takeSlopes(sw, row, n, out, d)
	}, func(value int, o *output) {
		s.takeLeastSlopes(sw, value, o, out, d)
	})
}

// takeSlopes takes the derivatives of the wanted columns at the position just solved.
func (s *State) takeSlopes(sw *Sweep, row, n int, out []float64, d *Slopes) {
	ready := false
	for c := range sw.Columns {
		at := c*n + row
		if d.Wanted != nil && !d.Wanted[at] {
			continue
		}
		into := d.At[at*len(d.Directions) : (at+1)*len(d.Directions)]
		if math.IsNaN(out[at]) {
			clear(into)
			clear(s.partsOf(d, at))
			continue
		}
		if !ready {
			ready = true
			s.readySlopes(sw, sw.Motion.Rolls)
		}
		s.pullOutput(sw, &sw.outputs[c], sw.Motion.Rolls)
		s.project(sw, d.Directions, into)
		s.takeParts(s.partsOf(d, at))
	}
}

// takeLeastSlopes takes the derivatives of a least value at the pose just solved for it.
func (s *State) takeLeastSlopes(sw *Sweep, value int, o *output, out []float64, d *Slopes) {
	if d.Wanted != nil && !d.Wanted[value] {
		return
	}
	k := len(d.Directions)
	into := d.At[value*k : (value+1)*k]
	clear(d.At[(value+1)*k : (value+leastSize)*k]) // where it is has none: the least owes nothing to it
	if math.IsNaN(out[value]) {
		clear(into)
		clear(s.partsOf(d, value))
		return
	}
	s.readySlopes(sw.between, sw.Motion.Rolls)
	s.pullOutput(sw.between, o, sw.Motion.Rolls)
	s.project(sw, d.Directions, into)
	s.takeParts(s.partsOf(d, value))
}

// project fills the derivatives of the output just run backwards with every direction.
func (s *State) project(sw *Sweep, directions []Direction, into []float64) {
	for i := range directions {
		dir := &directions[i]
		into[i] = s.along(dir.Parts, dir.By)
		if !sw.half {
			into[i] += s.along(dir.right, dir.rightBy)
		}
	}
}

// readySlopes takes what all columns of a position need; rolled tells that its wheels stand on the ground of a rolled
// body, as every position of a motion that rolls does but its way from design.
func (s *State) readySlopes(sw *Sweep, rolled bool) {
	for k := range s.prog.carriers {
		if l := sw.level[k]; l != levelNothing {
			c := &s.corner[k]
			s.takeJets(c, l)
			if c.spec.nodes {
				s.forward(&c.spec.plan, l)
			}
		}
	}
	if rolled {
		for k := range sw.gaps {
			if sw.level[k] != levelNothing || s.prog.axle {
				s.forward(&sw.gaps[k].plan, levelRack)
			}
		}
	}
}

// pullOutput runs one output backwards to the part points. Where the wheels do not stand on rolled ground, their travel
// is given and owes the drawing nothing.
func (s *State) pullOutput(sw *Sweep, o *output, rolled bool) {
	clear(s.bar.own)
	s.bar.travel = [2]jet{}
	s.bar.num[o.node][0] = 1
	s.reverse(&o.plan, levelRack)
	for k := range s.prog.carriers {
		if sw.level[k] != levelNothing {
			s.pullCarrier(&s.corner[k], sw.level[k])
		}
	}
	if rolled {
		for k := range s.prog.carriers {
			if sw.level[k] != levelNothing {
				s.holdGaps(sw, &s.corner[k])
			}
		}
	}
}

// along returns the derivative with displacements of part points.
func (s *State) along(parts []int, by []r3.Vec) (sum float64) {
	own := s.bar.own
	for i, k := range parts {
		o, v := &own[k], &by[i]
		sum += o.X*v.X + o.Y*v.Y + o.Z*v.Z
	}
	return sum
}

package kin

import (
	"math"
	"slices"

	"trammel/kin/gap"

	"gonum.org/v1/gonum/spatial/r3"
)

// piece is a convex part of a solid, or a ring: how it stands is read from nodes.
type piece struct {
	kind         gap.Kind
	at           [5]ref
	r, in, round float64
	cut          bool       // of a tube: its core does not reach from the first place to the second
	still        bool       // of the design alone: it stands once for a sweep
	back         [2]bool    // an end of the core is counted from the second place
	from         [2]float64 // mm, how far that end is from there, towards the other
	solid        int        // of the program
}

// gapSpec is the pieces of two lists of solids between which the least gap is wanted.
type gapSpec struct {
	pieces []piece
	pairs  [][2]int32 // of pieces
	args   []ref      // every node that a piece reads, once
}

// touching is where the least gap of a gapSpec is, at a pose.
type touching struct {
	touch gap.Touch
	pair  int32 // the nearest, and the first to try at the next pose
	solid []gap.Solid
	slope [2][5]r3.Vec // gradient of the gap with the places of both pieces

	// Pairs that cannot be the nearest are left out: solids that were apart at a pose still are, by no less than what their points have not
	// gone since.
	stood  bool      // the pieces have stood somewhere in the sweep
	went   []float64 // mm, by piece: no point of it has gone farther in the sweep
	bound  []float64 // mm, by pair: no more than its gap at a pose of the sweep, and what both pieces had gone till then; -Inf for none
	others float64   // mm: no more than the gap of any pair but the nearest
}

// setSolids refuses a drum without a length: it has no axis.
func (s *State) setSolids() Failure {
	for i := range s.prog.solids {
		o := &s.prog.solids[i]
		if s.prog.linkage.Members[o.member].Space.Shape == Drum && norm(r3.Sub(s.inCar(o.ends[0]), s.inCar(o.ends[1]))) < coincide {
			return s.bad(o.member)
		}
	}
	return Failure{}
}

// clearance makes the node of the least gap of an instance's pair, mm.
func (b *builder) clearance() ref {
	p := b.p
	pair := &p.pairs[b.in.pair]
	var spec gapSpec
	for _, i := range pair.of[0] {
		for _, k := range pair.of[1] {
			b.gapBetween(&spec, i, k, pair.leave)
		}
	}
	seen := map[ref]bool{}
	for i := range spec.pieces {
		for _, r := range spec.pieces[i].places() {
			if !seen[r] {
				seen[r] = true
				spec.args = append(spec.args, r)
			}
		}
	}
	b.g.gaps = append(b.g.gaps, spec)
	return b.g.leaf(opGap, len(b.g.gaps)-1)
}

func (q *piece) places() []ref { return q.at[:q.kind.Places()] }

// gapBetween adds the pieces of two solids and every pair of them. Of tubes that share a point, each begins so far
// from it.
func (b *builder) gapBetween(spec *gapSpec, i, k int, leave float64) {
	p := b.p
	leave = p.leaves(i, k, leave)
	two := b.pieces(k, sharedWith(&p.solids[k], &p.solids[i], p), leave)
	for _, x := range b.pieces(i, sharedWith(&p.solids[i], &p.solids[k], p), leave) {
		for _, y := range two {
			spec.pairs = append(spec.pairs, [2]int32{spec.piece(x), spec.piece(y)})
		}
	}
}

// piece returns the number of a piece, which is there once whatever it is measured against.
func (spec *gapSpec) piece(q piece) int32 {
	at := slices.Index(spec.pieces, q)
	if at < 0 {
		at = len(spec.pieces)
		spec.pieces = append(spec.pieces, q)
	}
	return int32(at)
}

// sharedWith tells which of a tube's points the other solid has too, so that the two meet in a joint there.
func sharedWith(s, other *solidSpec, p *Program) []bool {
	shared := make([]bool, len(s.ends))
	if p.linkage.Members[s.member].Space.Shape > Slider || p.linkage.Members[other.member].Space.Shape > Slider {
		return shared
	}
	for i, e := range s.ends {
		for _, o := range other.ends {
			a, b := &p.parts[e.part], &p.parts[o.part]
			shared[i] = shared[i] || a.point == b.point && (a.mirror != a.flip) == (b.mirror != b.flip)
		}
	}
	return shared
}

// pieces returns the pieces of a solid of the program in the builder's coordinates.
func (b *builder) pieces(i int, shared []bool, leave float64) []piece {
	out := b.shape(&b.p.solids[i], shared, leave)
	for k := range out {
		out[k].solid = i
	}
	return out
}

func (b *builder) shape(s *solidSpec, shared []bool, leave float64) []piece {
	m := &b.p.linkage.Members[s.member]
	sp := m.Space
	switch sp.Shape {
	case Tube:
		return b.tube(s, sp, shared, leave)
	case Slider:
		return b.slider(s, sp, shared, leave)
	case Block:
		q := piece{kind: gap.Box, at: [5]ref{b.at(s.ends[0]), b.at(s.ends[1])}}
		body := s.ends[0].body
		for k := range 3 {
			q.at[2+k] = b.carAxis(body, k)
		}
		return []piece{q}
	case Drum:
		return []piece{{kind: gap.Ring, at: [5]ref{b.at(s.ends[0]), b.at(s.ends[1])}, r: sp.Radius, in: sp.Inner, round: sp.Round}}
	case Hoop:
		c, half := b.onSide(s.side)
		return []piece{{kind: gap.Ring, at: [5]ref{b.add(c, b.times(b.g.constant(-sp.Width/2), half)), b.add(c, b.times(b.g.constant(sp.Width/2), half))}, r: sp.Radius, in: sp.Inner, round: sp.Round}}
	}
	point, normal := b.floor()
	return []piece{{kind: gap.Plane, at: [5]ref{point, normal}}}
}

// onSide is the centre of the wheel of a side and its axis, in the builder's coordinates.
func (b *builder) onSide(side Side) (centre, axis ref) {
	w := *b
	if side != Once {
		w.s = int(side - Left)
	}
	centre, axis = w.centre(), w.spin()
	if w.flip() != b.flip() {
		centre, axis = b.g.one(opMirror, centre), b.g.one(opMirror, axis)
	}
	return centre, axis
}

// tube is the capsules along a tube's points.
func (b *builder) tube(s *solidSpec, sp *Space, shared []bool, leave float64) []piece {
	if len(s.ends) == 1 {
		at := b.at(s.ends[0])
		return []piece{{kind: gap.Capsule, at: [5]ref{at, at}, r: sp.Radius}}
	}
	var out []piece
	for k := range len(s.ends) - 1 {
		q := piece{kind: gap.Capsule, at: [5]ref{b.at(s.ends[k]), b.at(s.ends[k+1])}, r: sp.Radius, back: [2]bool{false, true}}
		for e := range 2 {
			if shared[k+e] {
				q.cut, q.from[e] = true, leave
			}
		}
		out = append(out, q)
	}
	return out
}

// slider is the body and the rod of a damper.
func (b *builder) slider(s *solidSpec, sp *Space, shared []bool, leave float64) []piece {
	at := [5]ref{b.at(s.ends[0]), b.at(s.ends[1])}
	body := piece{kind: gap.Capsule, at: at, r: sp.Radius, cut: true, from: [2]float64{0, sp.Length}}
	rod := piece{kind: gap.Capsule, at: at, r: sp.Rod, cut: true, back: [2]bool{false, true}, from: [2]float64{sp.Length, 0}}
	if shared[0] {
		body.from[0] = math.Min(leave, sp.Length)
	}
	if shared[1] {
		rod.from[1] = leave
	}
	if sp.Rod == 0 {
		return []piece{body}
	}
	return []piece{body, rod}
}

// floor is a point and the normal of the ground on which the wheels stand: the level plane at design, the one that the
// body's roll turns, or the one through both contact centres and along the car.
func (b *builder) floor() (point, normal ref) {
	switch {
	case b.rolls:
		return b.times(b.sum(b.ground(), b.g.leaf(opLift, 0)), b.axis(2)), b.normal()
	case b.half:
		return b.contact(), b.axis(2)
	}
	o := b.other()
	point = b.contact()
	across := b.sub(point, b.g.one(opMirror, o.contact())) // to the builder's own side, which is its left
	up := b.cross(b.axis(0), across)
	return point, b.times(b.div(b.g.constant(1), b.g.norm(up)), up)
}

// stand sets a solid to where a piece is at the pose of the nodes.
func (s *State) stand(q *piece, o *gap.Solid) {
	for k, r := range q.at[:q.kind.Places()] {
		o.At[k] = s.vec[r][0]
	}
	if !q.cut {
		return
	}
	a, d := o.At[0], r3.Sub(o.At[1], o.At[0])
	length := norm(d)
	if length == 0 {
		return
	}
	lo, hi, _, _ := q.core(length)
	o.At[0], o.At[1] = axpy(a, lo/length, d), axpy(a, hi/length, d)
}

// core returns where the core of a cut tube begins and ends, mm from its first place, for a distance between its places.
// Where there is less than is cut away it is a point: the end that is not cut, or between the two cuts; and that moves
// by the part share of the distance.
func (q *piece) core(length float64) (lo, hi float64, point bool, share float64) {
	lo, hi = q.from[0], q.from[1]
	if q.back[1] {
		hi = length - hi
	}
	switch {
	case lo <= hi:
		return lo, hi, false, 0
	case q.from[1] == 0:
		return length, length, true, 1
	case q.from[0] == 0:
		return 0, 0, true, 0
	}
	mid := (lo + hi) / 2
	return mid, mid, true, 0.5
}

// slopesOfGap takes the gradient of the gap with the places of the two pieces that are nearest.
func (s *State) slopesOfGap(spec *gapSpec, t *touching) {
	q := spec.pairs[t.pair]
	t.touch.Slopes(&t.solid[q[0]], &t.solid[q[1]], &t.slope[0], &t.slope[1])
	for e, k := range q {
		if p := &spec.pieces[k]; p.cut {
			s.uncut(p, &t.slope[e])
		}
	}
}

// uncut turns a gradient with the ends of a cut tube's core into that with its places A and B: an end at A + d·u,
// u = (B − A)/|B − A|, moves with A, and by d/|B − A| of the part of δB − δA that is square to u; one at B − d·u
// with B in the same way.
func (s *State) uncut(p *piece, g *[5]r3.Vec) {
	a, b := s.vec[p.at[0]][0], s.vec[p.at[1]][0]
	d := r3.Sub(b, a)
	length := norm(d)
	if length == 0 {
		return
	}
	u := r3.Scale(1/length, d)
	lo, hi, point, share := p.core(length)
	var ga, gb r3.Vec
	for e, at := range [...]float64{lo, hi} {
		x := g[e]
		along := r3.Dot(x, u)
		square := axpy(x, -along, u)
		ga = axpy(ga, 1-at/length, square)
		gb = axpy(gb, at/length, square)
		switch {
		case point:
			ga, gb = axpy(ga, (1-share)*along, u), axpy(gb, share*along, u)
		case p.back[e]:
			gb = axpy(gb, along, u)
		default:
			ga = axpy(ga, along, u)
		}
	}
	g[0], g[1] = ga, gb
}

// pullGap passes the bar of node opGap i on to the places of the two pieces that are nearest.
func (s *State) pullGap(i int32, bar float64) {
	spec, t := &s.gaps[i], &s.touches[i]
	s.slopesOfGap(spec, t)
	for e, k := range spec.pairs[t.pair] {
		for m, r := range spec.pieces[k].places() {
			s.bar.vec[r][0] = axpy(s.bar.vec[r][0], bar, t.slope[e][m])
		}
	}
}

// growGaps makes room for the gaps and least values of a sweep, and forgets where the least gaps were.
func (s *State) growGaps(sw *Sweep) {
	s.gaps = sw.graph.gaps
	for len(s.touches) < len(s.gaps) {
		s.touches = append(s.touches, touching{})
	}
	for i := range s.gaps {
		t, n := &s.touches[i], len(s.gaps[i].pieces)
		t.pair, t.stood, t.others = 0, false, math.Inf(-1)
		for len(t.solid) < n {
			t.solid, t.went = append(t.solid, gap.Solid{}), append(t.went, 0)
		}
		for k := range n {
			q := &s.gaps[i].pieces[k]
			t.solid[k].Kind, t.solid[k].R, t.solid[k].In, t.solid[k].Round = q.kind, q.r, q.in, q.round
			t.went[k] = 0
		}
		for len(t.bound) < len(s.gaps[i].pairs) {
			t.bound = append(t.bound, 0)
		}
		for k := range t.bound {
			t.bound[k] = math.Inf(-1)
		}
	}
}

// standStill sets what stands still in a sweep, whose nodes of the design alone have been computed.
func (s *State) standStill() {
	for i := range s.gaps {
		s.standAll(&s.gaps[i], &s.touches[i], true)
	}
}

// markStill finds which pieces stand still. Of a gap between nothing else none does: it is itself computed once for a sweep.
func (g *graph) markStill() {
	still := make([]bool, len(g.nodes))
	for i := range still {
		still[i] = g.still(ref(i), still)
	}
	for i := range g.nodes {
		if n := &g.nodes[i]; n.op == opGap && !still[i] {
			pieces := g.gaps[n.i].pieces
			for k := range pieces {
				pieces[k].still = !slices.ContainsFunc(pieces[k].places(), func(r ref) bool { return !still[r] })
			}
		}
	}
}

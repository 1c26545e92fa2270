package kin

import "trammel/kin/gap"

// Nearest says which two solids of a clearance are nearest, by their names as a file calls them, at the last position
// that the state solved of a sweep: with the side of the car where a solid is not on the pair's own. It answers false where
// there is no choice: of two solids alone, and for a column that is no clearance.
func (s *State) Nearest(sw *Sweep, column int) (one, other string, ok bool) {
	n := &sw.graph.nodes[sw.outputs[column].node]
	if n.op != opGap {
		return "", "", false
	}
	spec, t := &s.gaps[n.i], &s.touches[n.i]
	in := &s.prog.instances[sw.Columns[column].index]
	if of := &s.prog.pairs[in.pair].of; len(of[0])*len(of[1]) < 2 {
		return "", "", false
	}
	own := in.side
	name := func(piece int32) string {
		so := &s.prog.solids[spec.pieces[piece].solid]
		if b := (bodyName{s.prog.linkage.Members[so.member].Name, so.side}); so.side != own && so.side != Once {
			b.side = s.prog.drawnOn(so.side)
			return b.String()
		}
		return s.prog.linkage.Members[so.member].Name
	}
	pair := spec.pairs[t.pair]
	return name(pair[0]), name(pair[1]), true
}

// Pairs calls f with the two solids of every pair of a clearance that is near at the last position that the state solved of a sweep: the
// balls around them are no farther apart than the least gap. It answers false for a column that is no clearance.
func (s *State) Pairs(sw *Sweep, column int, f func(a, b *gap.Solid)) bool {
	n := &sw.graph.nodes[sw.outputs[column].node]
	if n.op != opGap {
		return false
	}
	t := &s.touches[n.i]
	pairs := s.gaps[n.i].pairs
	for _, q := range pairs {
		if len(pairs) == 1 || !t.farther(t.ballGap(q)) {
			f(&t.solid[q[0]], &t.solid[q[1]])
		}
	}
	return true
}

package kin

import (
	"slices"

	"gonum.org/v1/gonum/spatial/r3"
)

// LeftOut is a piece of a solid of which nothing is looked at in a clearance, at design: it shares a point with the solid that it is to be
// clear of, and is no longer than what is left out there. A ball is left at its other end.
type LeftOut struct {
	Pair, Solid, Other int     // members: the clearance, the solid, and the one that it shares a point with
	Point              int     // the shared one
	Length, Leave      float64 // mm: of the piece, and what is left out of it
}

// LeftOut returns the pieces of tubes and sliders that their clearances leave out altogether at a design, on the drawn side.
func (p *Program) LeftOut(points []r3.Vec) (out []LeftOut) {
	for i := range p.instances {
		in := &p.instances[i]
		if in.pair < 0 || in.side == Right {
			continue
		}
		pair := &p.pairs[in.pair]
		for _, a := range pair.of[0] {
			for _, b := range pair.of[1] {
				leave := p.leaves(a, b, pair.leave)
				for _, x := range p.swallowed(a, b, leave, points) {
					x.Pair = in.member
					if !slices.Contains(out, x) {
						out = append(out, x)
					}
				}
				for _, x := range p.swallowed(b, a, leave, points) {
					x.Pair = in.member
					if !slices.Contains(out, x) {
						out = append(out, x)
					}
				}
			}
		}
	}
	return out
}

// leaves is how far from a point that two solids share each of them begins, mm.
func (p *Program) leaves(i, k int, joint float64) float64 {
	if joint != 0 {
		return joint
	}
	return 2 * (p.linkage.Members[p.solids[i].member].Space.Radius + p.linkage.Members[p.solids[k].member].Space.Radius)
}

// swallowed returns the pieces of a solid of which nothing is left beside another.
func (p *Program) swallowed(solid, beside int, leave float64, points []r3.Vec) (out []LeftOut) {
	s, other := &p.solids[solid], &p.solids[beside]
	sp, shared := p.linkage.Members[s.member].Space, sharedWith(s, other, p)
	place := func(e end) r3.Vec {
		at := p.parts[e.part].at(points)
		if e.flip {
			return mirrored(at)
		}
		return at
	}
	for k := range len(s.ends) - 1 {
		length := norm(r3.Sub(place(s.ends[k+1]), place(s.ends[k])))
		for e := range 2 {
			if !shared[k+e] {
				continue
			}
			piece, cut := length, leave
			switch {
			case sp.Shape == Slider && e == 0:
				piece = sp.Length
			case sp.Shape == Slider:
				piece = length - sp.Length
			case shared[k] && shared[k+1]:
				cut *= 2
			}
			if cut >= piece && piece > 0 && !(sp.Shape == Slider && e == 1 && sp.Rod == 0) {
				out = append(out, LeftOut{Solid: s.member, Other: other.member, Point: p.parts[s.ends[k+e].part].point, Length: piece, Leave: cut})
				break // a piece is told once
			}
		}
	}
	return out
}

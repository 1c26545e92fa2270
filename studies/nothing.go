package studies

import (
	"errors"

	"trammel/kin"
	"trammel/studies/files"
)

// noRack says that rack travel moves nothing, in the end of a sentence.
const noRack = "nothing is on the rack; leave its travel out, or put a tie rod's inner end on it: ends: [rack, upright]"

// way returns how a motion moves, or how a place is reached.
func (q *goals) way(motion int, place *files.Place) way {
	if motion >= 0 {
		return way{q.motions[motion].Wheels, q.motions[motion].Rolls}
	}
	return way{rolls: place != nil && place.Roll != nil}
}

// compileProblem gives an error of the solver's compiler its place in the geometry file: the member that it is about, else
// the first.
func compileProblem(g *files.Geometry, err error) error {
	var f *kin.Fault
	if errors.As(err, &f) {
		return problemOf(g, f.Member, err.Error())
	}
	return problemOf(g, -1, err.Error())
}

// designProblem says at its place in the geometry file why the linkage does not assemble as drawn.
func designProblem(g *files.Geometry, prog *kin.Program, f kin.Failure) error {
	return problemOf(g, f.Member, "at design "+prog.DescribeDesign(f, prog.Points()))
}

// problemOf gives a sentence the place of a member of the program in the geometry file; that of the first for none.
func problemOf(g *files.Geometry, member int, says string) error {
	pos, path := g.Members[0].Pos, "members"
	if member >= 0 {
		part := g.Parts()[member]
		pos = part.Pos
		switch part.Kind {
		case kin.Solid:
			path = "solids"
		case kin.Pair:
			path = "clearances"
		case kin.Joint:
			path = "joints"
		}
		path += "." + part.Name
	}
	return usageError{files.Problems{{File: g.Path, Position: pos, Path: path, Message: says}}}
}

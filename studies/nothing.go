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
	pos, path := g.Members[0].Pos, "members"
	var f *kin.Fault
	if errors.As(err, &f) {
		part := g.Parts()[f.Member]
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
	return usageError{files.Problems{{File: g.Path, Position: pos, Path: path, Message: err.Error()}}}
}

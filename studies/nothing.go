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
	m := &g.Members[0]
	path := "members"
	var f *kin.Fault
	if errors.As(err, &f) {
		m = &g.Members[f.Member]
		path += "." + m.Name
	}
	return usageError{files.Problems{{File: g.Path, Position: m.Pos, Path: path, Message: err.Error()}}}
}

package studies

import (
	"errors"

	"trammel/kin"
	"trammel/studies/files"
)

// noRack says that rack travel moves nothing, in the end of a sentence.
const noRack = "nothing is on the rack; leave its travel out, or put a tie rod's inner end on it: ends: [rack, upright]"

// rolls tells whether a motion, or the way to a place, rolls the body.
func (q *goals) rolls(motion int, place *files.Place) bool {
	if motion >= 0 {
		return q.motions[motion].Rolls
	}
	return place != nil && place.Roll != nil
}

// ifAxle says why the roll centre of an axle needs roll.
func ifAxle(p *kin.Program, c kin.Column) string {
	if p.BothWheelsOnOne() && c.Measure.Unit == kin.Millimetre {
		return ", for in heave a beam axle only shifts"
	}
	return ""
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

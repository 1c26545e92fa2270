package studies

import (
	"slices"

	"trammel/objectives"
	"trammel/studies/files"
)

// part is a limit that a part itself sets, in every motion.
type part struct {
	name     string
	min, max float64
	scale    float64
	requests []request
	axis     objectives.Axis // of a joint whose axis is to be found: requests then stand in threes
	found    foundAxis
}

// parts makes limits of what the parts of the geometry allow: lengths, gaps, tilts, twists; on both sides of the car where a
// motion does not take the other side through the same. complain is told what cannot be measured, for no limit of a part is
// let go in silence.
func (q *goals) parts(g *files.Geometry, complain func(l *files.PartLimit, err error)) []part {
	var out []part
	for _, l := range g.PartLimits() {
		p := part{name: l.Name, min: or(l.Min, -1), max: or(l.Max, 1)}
		names := []string{l.Measure}
		if !l.Across {
			names = append(names, otherSide(g).String()+"."+l.Measure)
		}
		if member, j := autoJoint(g, q.st.Program, l.Measure); j != nil {
			out = append(out, q.axisPart(&l, names, member, j))
			continue
		}
		alike := q.alike(l.Measure)
		for i, motion := range q.motions {
			for k, name := range names {
				if k > 0 && alike && q.st.mirrors(motion) {
					continue
				}
				r, err := q.request(name, i, nil)
				if err != nil {
					complain(&l, err)
					continue
				}
				p.requests = append(p.requests, r)
			}
		}
		if len(p.requests) > 0 {
			p.scale = q.columns[p.requests[0].sweep][p.requests[0].column].Measure.Scale
			out = append(out, p)
		}
	}
	return out
}

// alike tells whether a measure is the same on both sides where a motion mirrors them. A clearance from something that stands
// to one side of the middle is not.
func (q *goals) alike(measure string) bool {
	col, err := q.st.Program.Column(measure)
	return err == nil && q.st.Program.Alike(&col, q.st.stays)
}

// stays tells whether nothing that varies moves a point of the geometry.
func (st *Study) stays(point int) bool {
	for i := range st.moves {
		if slices.Contains(st.moves[i].points, point) {
			return false
		}
	}
	for i := range st.choices {
		for _, option := range st.choices[i].options {
			if slices.ContainsFunc(option, func(p placed) bool { return p.point == point }) {
				return false
			}
		}
	}
	return true
}

package studies

import (
	"strconv"

	"trammel/studies/files"
)

// leftOutRemarks says which pieces of solids a clearance does not look at, for they are no longer than what is left out about a joint.
func (c *check) leftOutRemarks(note func(p files.Problem, format string, args ...any)) {
	parts := c.g.Parts()
	for _, x := range c.prog.LeftOut(c.prog.Points()) {
		pair, solid, other := parts[x.Pair].Name, parts[x.Solid].Name, parts[x.Other].Name
		why := "twice the sum of their radii"
		if c.g.Clearance(pair).Joint != 0 {
			why = "as joint says"
		}
		note(files.Problem{File: c.g.Path, Position: parts[x.Pair].Pos, Path: "clearances." + pair},
			"%s looks at nothing of %s of %s beside %s: both begin at %s, where %s of it is left out (%s), and it is no longer at design; write a smaller joint, such as joint: %s",
			pair, c.length(x.Length), solid, other, c.g.Points[x.Point].Name, c.length(x.Leave), why, smallerJoint(c.g, x.Length))
	}
}

// smallerJoint is about half of a length, in a round number of the file's unit.
func smallerJoint(g *files.Geometry, mm float64) string {
	half, err := strconv.ParseFloat(strconv.FormatFloat(g.Units.Value(g.Units.FromMM(mm/2)), 'g', 2, 64), 64)
	if err != nil {
		panic("studies: " + err.Error()) // what was written as a number is one
	}
	return strconv.FormatFloat(half, 'f', -1, 64)
}

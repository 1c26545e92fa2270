package studies

import (
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/spatial/r3"

	"trammel/kin"
	"trammel/studies/files"
)

// endsRemark says that the two ends of a member look exchanged: the one on the frame or the rack lies farther outboard
// than the one on the upright, and nearer to the wheel's centre.
func (c *check) endsRemark(m *files.Member, note func(format string, args ...any)) {
	if m.Across || len(m.Points) != 2 {
		return
	}
	for inner := range 2 {
		if b := bodyOf(m, inner); b != kin.Frame && b != kin.Rack {
			continue
		}
		if bodyOf(m, 1-inner) != kin.Upright {
			return
		}
		wheel := c.placed(c.g.Wheel.Centre, "")
		nearer := r3.Norm(r3.Sub(c.placed(m.Points[inner], ""), wheel)) < r3.Norm(r3.Sub(c.placed(m.Points[1-inner], ""), wheel))
		off := c.placed(m.Points[inner], "").Y - c.placed(m.Points[1-inner], "").Y
		if off > farOutboard && nearer {
			note("%s is on the %s and %s on the %s, and yet %s lies %s farther outboard; look whether the ends of %s are exchanged",
				m.Points[inner], bodyOf(m, inner), m.Points[1-inner], kin.Upright, m.Points[inner], c.length(off), m.Name)
		}
	}
}

// middleRemarks says which points of the frame stand beyond the middle of the car, as after a minus sign too many: the
// same part of the other side crosses it there.
func (c *check) middleRemarks(note func(p files.Problem, format string, args ...any)) {
	var said []string
	for i := range c.g.Members {
		m := &c.g.Members[i]
		if m.Across {
			continue
		}
		for k, name := range m.Points {
			b := bodyOf(m, k)
			if out := c.placed(name, "").Y; (b == kin.Frame || b == kin.Rack) && out < -beyondMiddle && !slices.Contains(said, name) {
				said = append(said, name)
				note(c.pointAt(c.g.Point(name)), "%s, where %s meets the %s, lies %s beyond the middle of the car; look for a minus sign too many or too few, unless the part crosses there",
					name, m.Name, b, c.length(-out))
			}
		}
	}
}

// oppositeRemarks says which points of the other side lie far from the mirror image of their own.
func (c *check) oppositeRemarks(note func(p files.Problem, format string, args ...any)) {
	for i := range c.g.Points {
		base, is := strings.CutPrefix(c.g.Points[i].Name, "opposite.")
		if !is || c.g.Point(base) < 0 {
			continue
		}
		mirror := c.g.ToISO(c.g.Points[c.g.Point(base)].N)
		mirror.Y = -mirror.Y
		at := c.g.ToISO(c.g.Points[i].N)
		if base == c.g.Wheel.Centre && c.beam() && math.Abs(at.Z-mirror.Z) > tiltedAxle {
			note(c.pointAt(i), "opposite: %s lies %s higher or lower than the other wheel's; at ride height a beam axle stands level, so look at its height", base, c.length(math.Abs(at.Z-mirror.Z)))
			continue
		}
		if d := r3.Norm(r3.Sub(at, mirror)); d > farFromMirror {
			note(c.pointAt(i), "opposite: %s lies %s from the mirror image of %s; look at its coordinates, unless the sides are so different", base, c.length(d), base)
		}
	}
}

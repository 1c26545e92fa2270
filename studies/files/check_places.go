package files

import (
	"math"

	"trammel/kin"
)

// memberPath is where a member stands in the structure of the file.
func memberPath(m Member) string {
	if m.Across {
		return "across." + m.Name
	}
	return "members." + m.Name
}

// places returns where the points of a member are; ok is false where one could not be read.
func (g *draft) places(m Member) (n [][3]int64, ok bool) {
	for i, name := range m.Points {
		if g.bad[name] {
			return nil, false
		}
		at := g.Points[g.index[name]].N
		if m.Sides != nil && m.Sides[i] == g.Side.other() {
			if k, there := g.index[oppositePrefix+name]; !there {
				at = g.mirrored(at)
			} else if g.bad[oppositePrefix+name] {
				return nil, false
			} else {
				at = g.Points[k].N
			}
		}
		n = append(n, at)
	}
	return n, true
}

// mirrored returns the mirror image of a place.
func (g *draft) mirrored(n [3]int64) [3]int64 {
	for i := range n {
		if axis, _ := g.Axes[i].iso(); axis == 1 {
			n[i] = 2*g.Origin[i] - n[i]
		}
	}
	return n
}

// checkPlaces reports members that have no length, no radius or no axis, and notes a damper that does
// not fit at design.
func (g *draft) checkPlaces() {
	for _, m := range g.Members {
		n, ok := g.places(m)
		if !ok || len(n) < 2 {
			continue
		}
		name := func(i int) string {
			if m.Sides != nil {
				return withSide(m.Sides[i], m.Points[i])
			}
			return m.Points[i]
		}
		path := memberPath(m)
		if n[0] == n[1] {
			what := "has no length"
			if m.Kind == kin.Arm || m.Kind == kin.HArm || m.Kind == kin.Rocker || m.Kind == kin.Hinge || m.Kind == kin.Kingpin {
				what = "has no axis"
			}
			g.w.at(m.Pos, path, "%s %s: %s and %s stand at the same place", m.Name, what, name(0), name(1))
			continue
		}
		for i := 2; i < len(n); i++ {
			if offLine(n[i], n[0], n[1]) < 1 {
				g.w.at(m.Pos, path, "%s has no radius: %s lies on the axis through %s and %s", m.Name, name(i), name(0), name(1))
			}
		}
		if len(n) == 4 && n[2] == n[3] {
			g.w.at(m.Pos, path, "%s has its two ball joints at one place: %s and %s; with one ball joint it is an arm", m.Name, name(2), name(3))
		}
		if m.Kind == kin.Kingpin && g.framed {
			g.checkKingpin(m, n)
		}
		g.noteStroke(m, distance(n[0], n[1]), path)
	}
}

// checkKingpin reports a kingpin whose lower point is not the lower one.
func (g *draft) checkKingpin(m Member, n [][3]int64) {
	for i := range n[0] {
		if axis, sign := g.Axes[i].iso(); axis == 2 && sign*n[0][i] >= sign*n[1][i] {
			g.w.at(m.Pos, memberPath(m), "%s names %s first, which does not lie below %s; write the lower point first", m.Name, m.Points[0], m.Points[1])
		}
	}
}

func (g *draft) noteStroke(m Member, length float64, path string) {
	at := int64(math.Round(length))
	if r := m.Length.Min; r != nil && at < *r {
		g.w.note(m.Pos, path, "%s is %s %s long at design, shorter than its min of %s", m.Name, g.Units.Format(at), g.Units, g.Units.Format(*r))
	}
	if r := m.Length.Max; r != nil && at > *r {
		g.w.note(m.Pos, path, "%s is %s %s long at design, longer than its max of %s", m.Name, g.Units.Format(at), g.Units, g.Units.Format(*r))
	}
}

// distance is in quanta.
func distance(a, b [3]int64) float64 {
	x, y, z := float64(a[0]-b[0]), float64(a[1]-b[1]), float64(a[2]-b[2])
	return math.Sqrt(x*x + y*y + z*z)
}

// offLine is the distance of p from the line through a and b, in quanta.
func offLine(p, a, b [3]int64) float64 {
	var u, v [3]float64
	for i := range u {
		u[i], v[i] = float64(b[i]-a[i]), float64(p[i]-a[i])
	}
	x, y, z := u[1]*v[2]-u[2]*v[1], u[2]*v[0]-u[0]*v[2], u[0]*v[1]-u[1]*v[0]
	return math.Sqrt((x*x + y*y + z*z) / (u[0]*u[0] + u[1]*u[1] + u[2]*u[2]))
}

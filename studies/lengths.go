package studies

import (
	"math/big"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"trammel/studies/files"
)

var (
	lengthForm = regexp.MustCompile(`^([+-]?)(?:(\d{1,6}) )?(\d{1,6}/\d{1,6}|\d{1,9}(?:\.\d{0,12})?|\.\d{1,12}) ?(mm|in)?$`)
	commaForm  = regexp.MustCompile(`^[+-]?\d+,\d+`)
)

// parseLength reads a length as it is typed on the command line: a decimal or a fraction, in the given
// unit or in one of its own (25mm, 1/16in). It returns quanta of the given unit, rounded once.
func parseLength(text string, u files.Unit) (int64, error) {
	s := strings.TrimSpace(text)
	if commaForm.MatchString(s) {
		return 0, usagef("%q has a decimal comma; write %s", text, strings.Replace(s, ",", ".", 1))
	}
	m := lengthForm.FindStringSubmatch(s)
	if m == nil || m[2] != "" && !strings.Contains(m[3], "/") {
		return 0, usagef("%q is no length; write a number such as %s, 12.5mm or 1/2in", text, u.Example("~12.5"))
	}
	v, ok := new(big.Rat).SetString(m[3])
	if !ok {
		return 0, usagef("%q is no length; a fraction cannot have 0 below the line", text)
	}
	if m[2] != "" {
		whole, _ := new(big.Rat).SetString(m[2])
		v.Add(v, whole)
	}
	if m[1] == "-" {
		v.Neg(v)
	}
	switch {
	case m[4] == "in" && u == files.Millimetre:
		v.Mul(v, big.NewRat(254, 10))
	case m[4] == "mm" && u == files.Inch:
		v.Mul(v, big.NewRat(10, 254))
	}
	v.Mul(v, new(big.Rat).SetInt64(u.PerUnit()))
	if n, ok := new(big.Int).SetString(v.FloatString(0), 10); ok && n.IsInt64() && n.CmpAbs(big.NewInt(1e10)) < 0 {
		return n.Int64(), nil
	}
	return 0, usagef("%q is farther than any car is long; write a number such as %s", text, u.Example("~12.5"))
}

// maxTravel is the most positions that one cycle solves.
const maxTravel = 10001

// ParseTravel reads a travel as it is typed on the command line, in the unit of a geometry file:
// FROM..TO:N for N evenly spaced positions with both ends, or one value. It returns mm.
func ParseTravel(text string, u files.Unit) ([]float64, error) {
	return parseRange(text, u, u.Example("~-60..~60:41"), func(s string) (int64, error) { return parseLength(s, u) })
}

// mostRoll is in deg; a body that leans farther has turned over.
const mostRoll = 45

// ParseRoll reads a body roll as it is typed on the command line, in degrees: FROM..TO:N for N evenly spaced
// positions with both ends, or one value.
func ParseRoll(text string) ([]float64, error) {
	// Angles go by 0.001 deg as lengths go by 0.001 mm, and the same rounding serves both.
	return parseRange(text, files.Millimetre, "-3..3:13", func(s string) (int64, error) {
		s = strings.TrimSpace(s)
		s = strings.TrimSpace(strings.TrimSuffix(s, "deg"))
		if commaForm.MatchString(s) {
			return 0, usagef("%q has a decimal comma; write %s", s, strings.Replace(s, ",", ".", 1))
		}
		m := lengthForm.FindStringSubmatch(s)
		if m == nil || m[4] != "" {
			return 0, usagef("%q is no angle; write degrees such as 2.5", s)
		}
		n, err := parseLength(s, files.Millimetre)
		if err == nil && (n > mostRoll*1000 || n < -mostRoll*1000) {
			return 0, usagef("%s deg is too much; a body that leans by more than %d degrees has turned over", s, mostRoll)
		}
		return n, err
	})
}

// parseRange reads FROM..TO:N or one value; what reads an end.
func parseRange(text string, u files.Unit, example string, end func(string) (int64, error)) ([]float64, error) {
	ends, count, spaced := strings.Cut(text, ":")
	first, last, isRange := strings.Cut(ends, "..")
	from, err := end(first)
	if err != nil {
		return nil, err
	}
	if !isRange {
		if spaced {
			return nil, usagef("%q counts positions of a single value; write FROM..TO:N such as %s", text, example)
		}
		return []float64{u.ToMM(from)}, nil
	}
	to, err := end(last)
	if err != nil {
		return nil, err
	}
	n, err := strconv.Atoi(strings.TrimSpace(count))
	switch {
	case !spaced:
		return nil, usagef("%q does not say how many positions; write %s:41", text, ends)
	case err != nil || n < 2 || n > maxTravel:
		return nil, usagef("%q asks for %q positions; write a whole number from 2 to %d", text, count, maxTravel)
	case from == to:
		return nil, usagef("%q begins where it ends; write the one value, %s", text, strings.TrimSpace(first))
	}
	return spread(u, from, to, n), nil
}

// spread returns n values in mm, evenly spaced from one length to another, each rounded once.
func spread(u files.Unit, from, to int64, n int) []float64 {
	out := make([]float64, n)
	per := float64(u.PerUnit())
	if u == files.Inch {
		per = 100000
		from, to = from*254, to*254
	}
	for i := range out {
		sum := from*int64(n-1-i) + to*int64(i)
		out[i] = float64(sum)/(float64(n-1)*per) + 0 // no negative zero
	}
	return out
}

// Change is one coordinate of one point that the command line sets or moves.
type Change struct {
	Point int
	Axis  int // 0, 1 or 2 of the file
	N     int64
	By    bool // N is added and not put in the place of the number
}

// ParseChange reads POINT.AXIS=LENGTH, such as upper_ball.z=405, in the units and axes of the geometry.
// by says that the length is added.
func ParseChange(g *files.Geometry, text string, by bool) (Change, error) {
	name, value, ok := strings.Cut(text, "=")
	dot := strings.LastIndexByte(name, '.')
	if !ok || dot <= 0 {
		return Change{}, usagef("%q is no change of a point; write POINT.AXIS=VALUE such as upper_ball.z=%s", text, g.Units.Example("~405"))
	}
	c := Change{Point: g.Point(name[:dot]), Axis: strings.Index("xyz", name[dot+1:]), By: by}
	if base, is := strings.CutPrefix(name[:dot], "opposite."); is && c.Point < 0 && g.Point(base) >= 0 {
		return c, usagef("%s has no place of its own for %s on the other side, which is its mirror image; give it one in the file, opposite: {%s: [x, y, z]}, or move %s on both sides", g.Path, base, base, base)
	}
	if c.Point < 0 {
		names := make([]string, len(g.Points))
		for i := range g.Points {
			names[i] = g.Points[i].Name
		}
		slices.Sort(names)
		return c, usagef("%s has no point %q; its points are %s", g.Path, name[:dot], strings.Join(names, ", "))
	}
	if c.Axis < 0 || len(name[dot+1:]) != 1 {
		return c, usagef("%q names no axis; write %s.x, %s.y or %s.z", name, name[:dot], name[:dot], name[:dot])
	}
	var err error
	c.N, err = parseLength(value, g.Units)
	return c, err
}

// Changed returns the geometry with its points set and moved; the parts are drawn anew to fit. A
// coordinate that is set twice is refused; one that is set and moved is set first.
func Changed(g *files.Geometry, changes []Change) (*files.Geometry, error) {
	n := make([][3]int64, len(g.Points))
	for i := range n {
		n[i] = g.Points[i].N
	}
	type coordinate struct{ point, axis int }
	set := map[coordinate]bool{}
	for _, c := range changes {
		if c.By {
			continue
		}
		if set[coordinate{c.Point, c.Axis}] {
			return nil, usagef("%s.%c is set twice; set it once", g.Points[c.Point].Name, "xyz"[c.Axis])
		}
		set[coordinate{c.Point, c.Axis}] = true
		n[c.Point][c.Axis] = c.N
	}
	for _, c := range changes {
		if c.By {
			n[c.Point][c.Axis] += c.N
		}
	}
	return g.WithPoints(n), nil
}

// ParseUntil reads a time of day such as 06:30 as the next such moment after now, in now's place.
func ParseUntil(text string, now time.Time) (time.Time, error) {
	t, err := time.Parse("15:04", strings.TrimSpace(text))
	if err != nil {
		return time.Time{}, usagef("%q is no time of day; write hours and minutes such as 06:30", text)
	}
	at := time.Date(now.Year(), now.Month(), now.Day(), t.Hour(), t.Minute(), 0, 0, now.Location())
	if !at.After(now) {
		at = time.Date(now.Year(), now.Month(), now.Day()+1, t.Hour(), t.Minute(), 0, 0, now.Location())
	}
	return at, nil
}

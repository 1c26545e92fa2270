package studies

import (
	"fmt"
	"strings"

	"trammel/kin"
	"trammel/studies/files"
	"trammel/studies/record"
)

// columnOf returns the part of a column's name that names what is measured: camber_deg, right_damper_length_mm,
// right_toe_minus_left_toe_deg.
func columnOf(c *kin.Column) string {
	terms, minus := c.Terms()
	names := make([]string, len(terms))
	for i := range terms {
		t := &terms[i]
		names[i] = t.Measure.Name
		if t.Member != "" {
			names[i] = record.ColumnName(t.Member) + "_" + names[i]
		}
		if t.Side != kin.Once {
			names[i] = t.Side.String() + "_" + names[i]
		}
	}
	sign := "_plus_"
	if minus {
		sign = "_minus_"
	}
	return strings.Join(names, sign) + c.Measure.Unit.Suffix()
}

// collision says in a sentence without its full stop which two of some measures would stand in one column; "" where
// none do.
func collision(columns []kin.Column) string {
	first := map[string]string{}
	for i := range columns {
		c := &columns[i]
		name := columnOf(c)
		if other, taken := first[name]; taken && other != c.Name {
			return fmt.Sprintf("the column %s would hold two things (%s and %s); rename the member", name, other, c.Name)
		}
		first[name] = c.Name
	}
	return ""
}

// meaningOf is what a column holds, in a sentence.
func meaningOf(c *kin.Column) string {
	terms, minus := c.Terms()
	if len(terms) == 2 {
		sign := " plus "
		if minus {
			sign = " minus "
		}
		return terms[0].Name + sign + terms[1].Name + "."
	}
	s := c.Measure.Line
	if c.Member != "" {
		s = c.Member + ": " + s
	} else {
		s = strings.ToUpper(s[:1]) + s[1:]
	}
	if c.Side != kin.Once {
		s += ", of the " + c.Side.String() + " side"
	}
	if c.Measure.Sign != "" {
		s += " (" + c.Measure.Sign + ")"
	}
	return s + "."
}

// drawn is a geometry's side for the solver's columns.
func drawn(g *files.Geometry) kin.Side {
	if g.Side == files.Right {
		return kin.Right
	}
	return kin.Left
}

// wheelsOf is the wheel of one side alone.
func wheelsOf(side kin.Side) kin.Wheels {
	if side == kin.Right {
		return kin.RightWheel
	}
	return kin.LeftWheel
}

// Names of the measures that say where a position is.
const (
	wheelTravel = "wheel_travel"
	rackTravel  = "rack_travel"
	bodyRoll    = "body_roll"
)

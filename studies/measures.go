package studies

import (
	"fmt"
	"slices"
	"strings"

	"trammel/kin"
	"trammel/studies/files"
	"trammel/studies/record"
)

// MeasuresTable returns the table of measures: name, what it is taken of, unit, sign, meaning and when
// it has no value.
func MeasuresTable() *Table {
	s := record.Schema{Table: "measures"}
	for _, c := range []record.Column{
		{Name: "measure", Meaning: "Name in a study file and in the names of columns."},
		{Name: "of", Meaning: "What it is taken of: the corner, or a member of certain kinds, written MEMBER.measure."},
		{Name: "unit", Meaning: "Unit in every column."},
		{Name: "sign", Meaning: "What a positive value means.", Nullable: true},
		{Name: "line", Meaning: "What it is, in one line."},
		{Name: "definition", Meaning: "How it is defined."},
		{Name: "no_value", Meaning: "When it has no value.", Nullable: true},
	} {
		c.Type = record.Text
		s.Columns = append(s.Columns, c)
	}
	t := newTable(s)
	for _, m := range kin.Measures() {
		t.Rows.Next()
		for i, text := range []string{m.Name, measuredOf(&m), unitWord(m.Unit), m.Sign, m.Line, m.Long, m.Null} {
			if text != "" {
				t.Rows.Text(i, text)
			}
		}
	}
	return t
}

// measuredOf says what a measure is taken of.
func measuredOf(m *kin.Measure) string {
	if m.Of == kin.OfCorner {
		return "corner"
	}
	var kinds []string
	for k := kin.Link; k <= kin.Centre; k++ {
		if m.Of.Has(k) {
			kinds = append(kinds, k.String())
		}
	}
	// These two have chapters of a geometry file to themselves.
	if m.Of.Has(kin.Pair) {
		kinds = append(kinds, "clearance")
	}
	if m.Of.Has(kin.Joint) {
		kinds = append(kinds, "joint")
	}
	return strings.Join(kinds, ", ")
}

func unitWord(u kin.Unit) string {
	if u == kin.None {
		return "ratio"
	}
	return u.String()
}

// written is a measure's name as a study file writes it.
func written(m *kin.Measure) string {
	if m.Of == kin.OfCorner {
		return m.Name
	}
	return "MEMBER." + m.Name
}

// MeasuresText lists every measure for reading, one line of meaning under each name.
func MeasuresText() string {
	var b strings.Builder
	for _, m := range kin.Measures() {
		fmt.Fprintf(&b, "%-28s %-7s %s\n", written(&m), unitWord(m.Unit), m.Sign)
		fmt.Fprintf(&b, "    %s\n", m.Line)
	}
	b.WriteString("\nMEMBER stands for the name of a member, a clearance or a joint in the geometry file: damper.length, links_to_tub.clearance.\n" +
		"left. or right. before a name asks for that side of the car: right.camber, left.damper.length. Two of one unit can be\n" +
		"added or taken from each other: right.toe - left.toe.\n" +
		"trammel measures NAME says how one is defined. Axes are ISO 8855: x forward, y left, z up.\n")
	return b.String()
}

// MeasureText says how one measure is defined; its name may carry a member, as in damper.length.
func MeasureText(name string) (string, error) {
	bare := name[strings.LastIndexByte(name, '.')+1:]
	m, ok := kin.LookupMeasure(bare)
	if !ok {
		says := files.NoMeasure(name)
		if !strings.HasSuffix(says, "is no measure") {
			return "", usagef("%s; `trammel measures` lists every measure", says)
		}
		var names []string
		for _, m := range kin.Measures() {
			names = append(names, m.Name)
		}
		slices.Sort(names)
		return "", usagef("%s; the measures are %s", says, strings.Join(names, ", "))
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n  of      %s\n  unit    %s\n", written(m), measuredOf(m), unitWord(m.Unit))
	if m.Sign != "" {
		fmt.Fprintf(&b, "  sign    %s\n", m.Sign)
	}
	member := ""
	if m.Of != kin.OfCorner {
		member = "member"
	}
	fmt.Fprintf(&b, "  column  %s\n  %s\n", m.Column(member), m.Long)
	if m.Null != "" {
		fmt.Fprintf(&b, "  No value: %s.\n", m.Null)
	}
	return b.String(), nil
}

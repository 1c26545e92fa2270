package kin_test

import (
	"math"
	"strings"
	"testing"

	"trammel/kin"
	"trammel/kin/kintest"
)

// TestMeasureTable walks the table: what validation, help and columns take from it must be there.
func TestMeasureTable(t *testing.T) {
	names := map[string]bool{}
	for _, m := range kin.Measures() {
		if names[m.Name] {
			t.Errorf("%s stands twice in the table", m.Name)
		}
		names[m.Name] = true
		if m.Name != strings.ToLower(m.Name) || strings.ContainsAny(m.Name, " .-") {
			t.Errorf("%s is no lower_snake name", m.Name)
		}
		if m.Line == "" || strings.HasSuffix(m.Line, ".") || m.Line[:1] != strings.ToLower(m.Line[:1]) {
			t.Errorf("%s: the line %q should be a phrase without capital and full stop", m.Name, m.Line)
		}
		if !strings.HasSuffix(m.Long, ".") || m.Long[:1] != strings.ToUpper(m.Long[:1]) || len(strings.Fields(m.Long)) < 5 {
			t.Errorf("%s: the definition %q should be sentences", m.Name, m.Long)
		}
		if !(m.Scale > 0) {
			t.Errorf("%s has no scale", m.Name)
		}
		_ = m.Unit.String()
		if got, ok := kin.LookupMeasure(m.Name); !ok || got.Name != m.Name {
			t.Errorf("%s is not found by its name", m.Name)
		}
		if want := m.Name + m.Unit.Suffix(); m.Column("") != want || m.Column("x") != "x_"+want {
			t.Errorf("%s is the column %s", m.Name, m.Column(""))
		}
	}
	for _, layout := range everyLayout() {
		prog, err := kin.Compile(layout.Link)
		if err != nil {
			t.Fatal(err)
		}
		columns := map[string]bool{}
		for _, c := range prog.Columns() {
			name := c.Measure.Column(c.Member)
			if columns[name] {
				t.Errorf("%s: two columns are called %s", layout.Name, name)
			}
			columns[name] = true
			if again, err := prog.Column(c.Name); err != nil || again != c {
				t.Errorf("%s: %s leads to another column", layout.Name, c.Name)
			}
		}
	}
}

// TestMeasuresOfTheAxle: a measure of the axle has no sides, and every other one of the corner differs from side to side
// on some layout.
func TestMeasuresOfTheAxle(t *testing.T) {
	differ := map[string]bool{}
	for _, layout := range everyLayout() {
		c := newCorner(t, layout.Link)
		var left, right []kin.Column
		for _, m := range kin.Measures() {
			if m.Of != kin.OfCorner {
				continue
			}
			l, err := c.prog.Column("left." + m.Name)
			if m.Axle && err == nil {
				t.Errorf("%s: %s of the left side is no measure", layout.Name, m.Name)
			}
			if err != nil {
				continue
			}
			r, err := c.prog.Column("right." + m.Name)
			if err != nil {
				t.Fatal(err)
			}
			left, right = append(left, l), append(right, r)
		}
		for _, rolls := range []bool{false, true} {
			at := []kin.Position{{Wheel: 4, Rack: 9}}
			if rolls {
				at[0].Roll = 1 * deg
			}
			got := c.tableOf(kin.BothWheels, rolls, at, append(left[:len(left):len(left)], right...))
			for i, col := range left {
				if l, r := got[i][0], got[len(left)+i][0]; l != r && !math.IsNaN(l) && !math.IsNaN(r) {
					differ[col.Measure.Name] = true
				}
			}
		}
	}
	for _, m := range kin.Measures() {
		if m.Of == kin.OfCorner && !m.Axle && !differ[m.Name] {
			t.Errorf("%s is the same on both sides of every layout; is it of the axle?", m.Name)
		}
	}
}

// TestTermsAreNamed: the terms of a sum are columns of their own, found by their names.
func TestTermsAreNamed(t *testing.T) {
	c := newCorner(t, kintest.Pushrod())
	for _, name := range []string{"right.toe - left.toe", " right.toe -  left.toe "} {
		col, err := c.prog.Column(name)
		if err != nil {
			t.Fatal(err)
		}
		terms, minus := col.Terms()
		if len(terms) != 2 || !minus || terms[0].Name != "right.toe" || terms[1].Name != "left.toe" {
			t.Errorf("%q: %v, %t", name, terms, minus)
		}
	}
}

// TestProgramOwnsItsLinkage: what becomes of a linkage after it was compiled is nothing to the program, which still knows
// the damper by its own point.
func TestProgramOwnsItsLinkage(t *testing.T) {
	l := kintest.Pushrod()
	c := newCorner(t, l)
	points := c.prog.Points()
	for i := range l.Members {
		m := &l.Members[i]
		if m.Name == "damper" {
			points[m.Points[1]].X = math.NaN()
		}
		for k := range m.Points {
			m.Points[k] = 0
		}
	}
	if f := c.s.SetDesign(points); f.Status != kin.BadGeometry || f.Member < 0 || l.Members[f.Member].Name != "damper" {
		t.Errorf("%+v: %s", f, c.prog.Describe(f))
	}
}

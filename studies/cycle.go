package studies

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"trammel/kin"
	"trammel/studies/files"
	"trammel/studies/record"
)

// CycleOptions says how a geometry is to be moved and what is to be listed.
type CycleOptions struct {
	Wheel    []float64 // mm, wheel travels; with Rack a grid. Both nil: the travel of the file
	Rack     []float64 // mm, rack travels, + to the left
	Measures []string  // as in a study file; nil: the sensible ones; "all": every one
	Changes  []Change  // to the points, before anything moves
}

// Cycle moves a geometry and tabulates its measures, one row for each position: the columns
// wheel_travel_mm and rack_travel_mm, then the measures in their own units, null where one has no value.
// Where the travel of the file gives two motions, the column motion comes first and tells them apart.
// A measure that was asked for by name and has no value anywhere is explained in the table's Notes. Where the linkage does not close, the error, a usage error, says where, which members give way, and how far it goes.
func Cycle(g *files.Geometry, o CycleOptions) (*Table, error) {
	g, err := Changed(g, o.Changes)
	if err != nil {
		return nil, err
	}
	m, err := newMover(g)
	if err != nil {
		return nil, err
	}
	motions, err := m.motions(o)
	if err != nil {
		return nil, err
	}
	steered := slices.ContainsFunc(motions, func(t travels) bool { return len(t.rack) > 1 || t.rack[0] != 0 })
	columns, err := m.columns(o.Measures, steered)
	if err != nil {
		return nil, err
	}
	t := newTable(cycleSchema(columns, len(motions) > 1))
	for _, tr := range motions {
		if err := m.tabulate(t, columns, tr); err != nil {
			return nil, err
		}
	}
	if o.Measures != nil && !every(o.Measures) {
		t.Notes = m.unmeasured(t, columns)
	}
	t.Lengths = g.Units
	t.Notes = append(t.Notes, stops(t, g)...)
	return t, nil
}

// stops says which dampers and springs of a table go beyond the lengths that the geometry gives them.
func stops(t *Table, g *files.Geometry) (notes []string) {
	for _, m := range g.Members {
		at := t.Schema.Index(record.ColumnName(m.Name) + "_length_mm")
		if at < 0 || m.Length.Min == nil && m.Length.Max == nil {
			continue
		}
		least, most := math.Inf(1), math.Inf(-1)
		for r := range t.Rows.Len() {
			if v, ok := t.Rows.FloatAt(at, r); ok {
				least, most = min(least, v), max(most, v)
			}
		}
		if m.Length.Min != nil && least < g.Units.ToMM(*m.Length.Min) {
			notes = append(notes, fmt.Sprintf("%s goes down to %s, and the least that the geometry allows is %s: it is on its stop", m.Name, inUnit(g, least), inUnit(g, g.Units.ToMM(*m.Length.Min))))
		}
		if m.Length.Max != nil && most > g.Units.ToMM(*m.Length.Max) {
			notes = append(notes, fmt.Sprintf("%s goes up to %s, and the most that the geometry allows is %s: it is on its stop", m.Name, inUnit(g, most), inUnit(g, g.Units.ToMM(*m.Length.Max))))
		}
	}
	return notes
}

// inUnit writes a length of so many mm in the file's unit, to the lattice.
func inUnit(g *files.Geometry, mm float64) string {
	return g.Units.Format(g.Units.FromMM(mm)) + " " + g.Units.String()
}

// every tells whether every measure is asked for.
func every(measures []string) bool { return slices.Equal(measures, []string{"all"}) }

// unmeasured says of each measure that has no value in any row why that is.
func (m *mover) unmeasured(t *Table, columns []kin.Column) []string {
	var notes []string
	for i := range columns {
		c := &columns[i]
		at := t.Rows.Index(columnOf(c))
		if t.valued(at) {
			continue
		}
		switch {
		case files.NeedsWheelbase(c.Name) && m.g.Vehicle.Wheelbase == 0:
			notes = append(notes, fmt.Sprintf("%s: %s has no value without the wheelbase; write vehicle: {wheelbase: 2500} with your own number into the file", m.g.Path, c.Name))
		case c.Measure.Null != "":
			notes = append(notes, fmt.Sprintf("%s: %s has no value at any of these positions; it has none %s", m.g.Path, c.Name, c.Measure.Null))
		}
	}
	return notes
}

// travels is a motion to cycle through: a grid in mm, + to the left.
type travels struct {
	name        string
	wheel, rack []float64
}

// motions returns what was asked for, or the travel of the file: heave, then steer.
func (m *mover) motions(o CycleOptions) ([]travels, error) {
	still := []float64{0}
	switch {
	case o.Wheel != nil && o.Rack != nil:
		if n := len(o.Wheel) * len(o.Rack); n > maxTravel {
			return nil, usagef("the grid has %d positions; %d is the most", n, maxTravel)
		}
		return []travels{{"grid", o.Wheel, o.Rack}}, nil
	case o.Wheel != nil:
		return []travels{{"heave", o.Wheel, still}}, nil
	case o.Rack != nil:
		return []travels{{"steer", still, o.Rack}}, nil
	}
	var out []travels
	t, u := m.g.Travel, m.g.Units
	if t.Bump > 0 || t.Droop > 0 {
		out = append(out, travels{"heave", spread(u, -t.Droop, t.Bump, files.DefaultHeavePositions), still})
	}
	if t.Rack > 0 {
		out = append(out, travels{"steer", still, spread(u, -t.Rack, t.Rack, files.DefaultSteerPositions)})
	}
	if out == nil {
		return nil, usagef("%s does not say how far the wheel travels; write travel: {bump: 60, droop: 60} in it, or --travel -60..60:41", m.g.Path)
	}
	return out, nil
}

// usualMeasures are those that a first look wants; steerMeasures come with them when the rack moves.
var (
	usualMeasures = []string{
		"camber", "toe", "caster", "kingpin_inclination", "caster_trail", "kingpin_offset",
		"half_track_change", "contact_x_change", "roll_centre_height", "camber_gain", "bump_steer",
	}
	steerMeasures  = []string{"steer_angle", "ackermann", "turn_radius"}
	memberMeasures = []string{"length", "installation_ratio", "progression"}
)

// columns finds the measures to tabulate; every one that is wrong is named.
func (m *mover) columns(names []string, steered bool) ([]kin.Column, error) {
	travel := func(c kin.Column) bool { return c.Name == "wheel_travel" || c.Name == "rack_travel" }
	if every(names) {
		return slices.DeleteFunc(m.prog.Columns(), travel), nil
	}
	var out []kin.Column
	add := func(name string) {
		if c, err := m.prog.Column(name); err == nil {
			out = append(out, c)
		}
	}
	if names == nil {
		for _, n := range usualMeasures {
			add(n)
		}
		if steered {
			for _, n := range steerMeasures {
				add(n)
			}
		}
		for _, member := range m.g.Members {
			if member.Kind == kin.Damper || member.Kind == kin.Spring {
				for _, n := range memberMeasures {
					add(member.Name + "." + n)
				}
			}
		}
		return out, nil
	}
	var bad []string
	for _, n := range names {
		c, err := m.prog.Column(n)
		switch {
		case err != nil && !isMeasure(n):
			bad = append(bad, files.NoMeasure(n))
		case err != nil:
			bad = append(bad, err.Error())
		case slices.ContainsFunc(out, func(o kin.Column) bool { return o.Name == c.Name }):
			bad = append(bad, fmt.Sprintf("%s is asked for twice", n))
		case !travel(c): // they stand in every table
			out = append(out, c)
		}
	}
	if bad != nil {
		return nil, usagef("%s: %s; `trammel measures` lists every measure", m.g.Path, strings.Join(bad, "; "))
	}
	return out, nil
}

// isMeasure tells whether a name, with or without a member before it, ends on a measure.
func isMeasure(name string) bool {
	_, ok := kin.LookupMeasure(name[strings.LastIndexByte(name, '.')+1:])
	return ok
}

// cycleSchema describes a table of positions and measures, of several motions or of one.
func cycleSchema(columns []kin.Column, several bool) record.Schema {
	s := record.Schema{Table: "cycle"}
	if several {
		s.Columns = append(s.Columns, record.Column{Name: motionColumn, Type: record.Text, Meaning: "Motion: heave moves the wheel, steer the rack."})
	}
	for _, name := range []string{"wheel_travel", "rack_travel"} {
		ms, _ := kin.LookupMeasure(name)
		s.Columns = append(s.Columns, record.Column{Name: ms.Column(""), Type: record.Float64, Unit: ms.Unit.String(), Meaning: meaningOf(ms, "")})
	}
	for i := range columns {
		c := &columns[i]
		s.Columns = append(s.Columns, record.Column{
			Name: columnOf(c), Type: record.Float64, Nullable: true,
			Unit: c.Measure.Unit.String(), Meaning: meaningOf(c.Measure, c.Member),
		})
	}
	return s
}

// meaningOf is what a measure means, in a sentence.
func meaningOf(m *kin.Measure, member string) string {
	s := m.Line
	if member != "" {
		s = member + ": " + s
	} else {
		s = strings.ToUpper(s[:1]) + s[1:]
	}
	if m.Sign != "" {
		s += " (" + m.Sign + ")"
	}
	return s + "."
}

// tabulate appends the rows of one motion.
func (m *mover) tabulate(t *Table, columns []kin.Column, tr travels) error {
	sweep := m.prog.NewSweep(kin.NewMotion("cycle", positions(tr.wheel, tr.rack)), columns)
	out := make([]float64, sweep.Size())
	if _, f := m.state.Run(sweep, out); f.Status != kin.OK {
		return usagef("%s", m.stopped(f, columns, tr.wheel, tr.rack))
	}
	n := len(sweep.Motion.Positions)
	first := len(t.Schema.Columns) - len(columns) // column of a measure
	for i, p := range sweep.Motion.Positions {
		t.Rows.Next()
		if at := t.Rows.Index(motionColumn); at >= 0 {
			t.Rows.Text(at, tr.name)
		}
		t.Rows.Float(first-2, p.Wheel)
		t.Rows.Float(first-1, p.Rack)
		for c := range columns {
			if v := out[c*n+i]; !math.IsNaN(v) {
				t.Rows.Float(first+c, v)
			}
		}
	}
	return t.Rows.Err()
}

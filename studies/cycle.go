package studies

import (
	"fmt"
	"slices"
	"strings"

	"trammel/kin"
	"trammel/studies/files"
	"trammel/studies/record"
)

// CycleOptions says how a geometry is to be moved and what is to be listed.
type CycleOptions struct {
	Wheel    []float64 // mm, wheel travels; with Rack and Roll a grid. All nil: the travel of the file
	Rack     []float64 // mm, rack travels, + to the left
	Roll     []float64 // deg, body roll, + leans right; wheel travels then lift the ground
	Wheels   string    // which wheels travel: both, left or right; "" for both
	Measures []string  // as in a study file; nil: the sensible ones; "all": every one
	Changes  []Change  // to the points, before anything moves
}

// Cycle moves a geometry and tabulates its measures, one row for each position: the columns
// wheel_travel_mm, of the drawn side's wheel, and rack_travel_mm; where the body rolls body_roll_deg, and where the
// other wheel travels differently right_wheel_travel_mm (or left_); then the measures in their own units, null where
// one has no value. Where the travel of the file gives two motions, the column motion comes first and tells them apart.
// A measure that was asked for by name and has no value anywhere is explained in the table's Notes, and so are sides
// that differ. Where the linkage does not close, the error, a usage error, says where, which members give way, and how
// far it goes.
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
	columns, err := m.columns(o.Measures, motions)
	if err != nil {
		return nil, err
	}
	if says := collision(columns); says != "" {
		return nil, usagef("%s: %s", g.Path, says)
	}
	found := m.findAxes(m.ownMotions(motions))
	keys := m.keys(motions)
	t := newTable(cycleSchema(keys, columns, len(motions) > 1))
	for i := range motions {
		if err := m.tabulate(t, keys, columns, &motions[i]); err != nil {
			return nil, err
		}
	}
	if o.Measures != nil && !every(o.Measures) {
		t.Notes = slices.Concat(m.unmeasured(t, columns), fromAxes(columns, found))
	}
	for i := range motions {
		if note := m.oneSided(columns, &motions[i]); note != "" {
			t.Notes = append(t.Notes, note)
			break
		}
	}
	t.Lengths = g.Units
	t.Notes = slices.Concat(t.Notes, m.beyond(motions, nil), m.tooNear(motions, nil), m.strokes(motions, columns), m.lined(motions))
	for _, s := range m.clockings(found, motions) {
		t.Notes = append(t.Notes, s.says)
	}
	return t, nil
}

// every tells whether every measure is asked for.
func every(measures []string) bool { return slices.Equal(measures, []string{"all"}) }

// motions returns what was asked for, or the travel of the file: heave, then steer.
func (m *mover) motions(o CycleOptions) ([]travels, error) {
	w := way{rolls: o.Roll != nil}
	switch o.Wheels {
	case "", files.BothWheels.String():
	case files.LeftWheel.String():
		w.wheels = kin.LeftWheel
	case files.RightWheel.String():
		w.wheels = kin.RightWheel
	default:
		return nil, usagef("%q are no wheels; write --wheels both, left or right", o.Wheels)
	}
	if w.rolls && w.wheels != kin.BothWheels {
		return nil, usagef("in roll both wheels stay on the ground; leave out --wheels %s or --roll", o.Wheels)
	}
	if o.Rack != nil && !m.prog.Steered() {
		return nil, usagef("%s: --rack moves the rack, and %s", m.g.Path, noRack)
	}
	still := []float64{0}
	asked := travels{name: "grid", way: w, wheel: still, rack: still, roll: still}
	given := 0
	for _, a := range []struct {
		name   string
		values []float64
		to     *[]float64
	}{{"heave", o.Wheel, &asked.wheel}, {"steer", o.Rack, &asked.rack}, {"roll", o.Roll, &asked.roll}} {
		if a.values == nil {
			continue
		}
		if given++; given == 1 {
			asked.name = a.name
		} else {
			asked.name = "grid"
		}
		*a.to = a.values
	}
	if given > 0 {
		if n := len(asked.wheel) * len(asked.rack) * len(asked.roll); n > maxTravel {
			return nil, usagef("the grid has %d positions; %d is the most", n, maxTravel)
		}
		return []travels{asked}, nil
	}
	var out []travels
	t, u := m.g.Travel, m.g.Units
	if t.Bump > 0 || t.Droop > 0 {
		out = append(out, travels{name: "heave", way: w, wheel: spread(u, -t.Droop, t.Bump, files.DefaultHeavePositions), rack: still, roll: still})
	}
	if t.Rack > 0 && m.prog.Steered() {
		out = append(out, travels{name: "steer", way: w, wheel: still, rack: spread(u, -t.Rack, t.Rack, files.DefaultSteerPositions), roll: still})
	}
	if out == nil {
		return nil, usagef("%s does not say how far the wheel travels; write travel: %s in it, or --travel %s", m.g.Path, u.Example("{bump: ~60, droop: ~60}"), u.Example("~-60..~60:41"))
	}
	return out, nil
}

// keys are the columns that say where each row is: measures, so that every table means the same by them.
func (m *mover) keys(motions []travels) []kin.Column {
	names := []string{wheelTravel, rackTravel}
	for i := range motions {
		if w := motions[i].way; w != (way{}) {
			names = []string{wheelTravel, otherSide(m.g).String() + "." + wheelTravel, rackTravel}
			if w.rolls {
				names = append(names, bodyRoll)
			}
		}
	}
	var out []kin.Column
	for _, n := range names {
		c, err := m.prog.Column(n)
		if err != nil {
			panic("studies: " + err.Error()) // every linkage has them
		}
		out = append(out, c)
	}
	return out
}

// usualMeasures are those that a first look wants; steerMeasures come with them when the rack moves, rollMeasures when
// the body rolls.
var (
	usualMeasures = []string{
		"camber", "toe", "caster", "kingpin_inclination", "caster_trail", "kingpin_offset",
		"half_track_change", "contact_x_change", "roll_centre_height", "camber_gain", "bump_steer",
	}
	steerMeasures = []string{"steer_angle", "ackermann", "turn_radius"}
	rollMeasures  = []string{"camber_to_ground", "roll_camber", "roll_steer", "roll_centre_lateral"}
)

// memberMeasures are those that a first look wants of a member, by its kind.
var memberMeasures = map[kin.Kind][]string{
	kin.Damper:   {"length", "installation_ratio", "progression"},
	kin.Spring:   {"length", "installation_ratio", "progression"},
	kin.Strut:    {"length", "installation_ratio", "progression"},
	kin.Distance: {"length"},
	kin.Link:     {"bind"}, // a soft one has it
	kin.Bar:      {"twist"},
	kin.Shaft:    {"plunge", "joint_angle_inner", "joint_angle_outer"},
	kin.Joint:    {"tilt"},
}

// columns finds the measures to tabulate; every one that is wrong is named.
func (m *mover) columns(names []string, motions []travels) ([]kin.Column, error) {
	keys := m.keys(motions)
	travel := func(c kin.Column) bool {
		return slices.ContainsFunc(keys, func(k kin.Column) bool { return k.Name == c.Name })
	}
	rolls := slices.ContainsFunc(motions, func(t travels) bool { return t.way.rolls })
	steered := slices.ContainsFunc(motions, func(t travels) bool { return len(t.rack) > 1 || t.rack[0] != 0 })
	if every(names) {
		return slices.DeleteFunc(m.prog.Columns(), func(c kin.Column) bool { return travel(c) || c.Name == bodyRoll && !rolls }), nil
	}
	var out []kin.Column
	if names == nil {
		// Where the wheel that is not drawn moves alone, its side is the one to look at.
		side := ""
		if w := motions[0].way.wheels; w != kin.BothWheels && w != wheelsOf(drawn(m.g)) {
			side = otherSide(m.g).String() + "."
		}
		add := func(name string) {
			c, err := m.prog.Column(side + name)
			if err != nil {
				c, err = m.prog.Column(name) // what exists once
			}
			if err == nil {
				out = append(out, c)
			}
		}
		for _, n := range usualMeasures {
			add(n)
		}
		if steered {
			for _, n := range steerMeasures {
				add(n)
			}
		}
		if rolls {
			for _, n := range rollMeasures {
				add(n)
			}
		}
		for _, part := range m.g.Parts() {
			for _, n := range memberMeasures[part.Kind] {
				add(part.Name + "." + n)
			}
		}
		return out, nil
	}
	var bad []string
	hint := ""
	for _, n := range names {
		c, err := m.prog.Column(n)
		switch {
		case n == "all":
			bad = append(bad, "all stands alone, for it asks for every measure; write --measures all, or leave it out")
		case err != nil && m.g.Unmeasured(notMeasure(n)) != "":
			bad = append(bad, m.g.Unmeasured(notMeasure(n)))
		case err != nil && notMeasure(n) != "":
			bad, hint = append(bad, m.g.NoMeasure(notMeasure(n))), "; `trammel measures` lists every measure"
		case err != nil:
			bad = append(bad, err.Error())
		case slices.ContainsFunc(out, func(o kin.Column) bool { return o.Name == c.Name }):
			bad = append(bad, fmt.Sprintf("%s is asked for twice", n))
		case !travel(c): // they stand in every table
			out = append(out, c)
		}
	}
	if bad != nil {
		return nil, usagef("%s: %s%s", m.g.Path, strings.Join(bad, "; "), hint)
	}
	return out, nil
}

// notMeasure returns the part of a sum or difference, or the whole, that names no measure; "" where each does, with or
// without a member before it.
func notMeasure(name string) string {
	parts := []string{name}
	for _, sign := range []string{" + ", " - "} {
		if first, second, found := strings.Cut(name, sign); found {
			parts = []string{first, second}
			break
		}
	}
	for _, n := range parts {
		n = strings.TrimSpace(n)
		t := files.PartMeasure(n)
		if of, ok := kin.LookupMeasure(t.Name); !ok || of.Of == kin.OfCorner && t.Member != "" {
			return n
		}
	}
	return ""
}

// cycleSchema describes a table of positions and measures, of several motions or of one.
func cycleSchema(keys, columns []kin.Column, several bool) record.Schema {
	s := record.Schema{Table: "cycle"}
	if several {
		s.Columns = append(s.Columns, record.Column{Name: motionColumn, Type: record.Text, Meaning: "Motion: heave moves the wheel, steer the rack."})
	}
	for i := range keys {
		c := &keys[i]
		s.Columns = append(s.Columns, record.Column{Name: columnOf(c), Type: record.Float64, Unit: c.Measure.Unit.String(), Meaning: meaningOf(c)})
	}
	for i := range columns {
		c := &columns[i]
		s.Columns = append(s.Columns, record.Column{
			Name: columnOf(c), Type: record.Float64, Nullable: true,
			Unit: c.Measure.Unit.String(), Meaning: meaningOf(c),
		})
	}
	return s
}

// tabulate appends the rows of one motion.
func (m *mover) tabulate(t *Table, keys, columns []kin.Column, tr *travels) error {
	all := slices.Concat(keys, columns)
	sweep := m.prog.NewSweep(tr.motion("cycle"), all)
	out := make([]float64, sweep.Size())
	if _, f := m.state.Run(sweep, out); f.Status != kin.OK {
		return usagef("%s: %s", m.g.Path, m.stopped(f, columns, tr))
	}
	n := len(sweep.Motion.Positions)
	first := len(t.Schema.Columns) - len(all) // column of a measure
	for i, p := range sweep.Motion.Positions {
		t.Rows.Next()
		if at := t.Rows.Index(motionColumn); at >= 0 {
			t.Rows.Text(at, tr.name)
		}
		for c := range all {
			v := out[c*n+i]
			if all[c].Name == bodyRoll {
				v = degreesOf(p)
			}
			t.Rows.Number(first+c, v)
		}
	}
	return t.Rows.Err()
}

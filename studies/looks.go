package studies

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"trammel/kin"
	"trammel/studies/files"
)

// How many values of each travel are looked at where both go at once, and of the roll where the wheels go against each other.
const (
	cornerPositions = 5
	crossPositions  = 9
)

// look is a motion over which a geometry is looked at without being asked, as far as it closes.
type look struct {
	travels
	where string   // goes on from what is found there
	asked string   // the motion of a study that goes there, as its file has it
	stops []string // where the linkage does not close, in sentences without their ends
}

// looks are the motions over which everything that a geometry asks of its parts is looked at: heave and steer over its own
// travel; both at once, where a wheel on full lock meets a bump, for what stands near a wheel is as a rule nearest there; and where
// something goes across the car, one wheel at full bump with the other at full droop, for neither wheel shows that alone. None
// where the file gives no travel.
func (m *mover) looks() []look {
	if m.looked != nil {
		return m.looked
	}
	motions, err := m.motions(CycleOptions{})
	if err != nil {
		return nil
	}
	var all []look
	for i := range motions {
		where := "where the wheels travel as far as the geometry's travel says"
		if len(motions[i].rack) > 1 {
			where = "where the rack travels as far as the geometry's travel says"
		}
		all = append(all, look{travels: motions[i], where: where})
	}
	if grid, ok := m.corners(); ok {
		all = append(all, look{travels: grid, where: "where wheel and rack travel at once as far as the geometry's travel says"})
	}
	if cross, ok := m.crossing(); ok {
		all = append(all, look{travels: cross, where: "with one wheel at full bump and the other at full droop"})
	}
	for i := range all {
		l := &all[i]
		l.asked = l.travels.asked(m.g.Units)
		l.stops = m.trim(&l.travels)
	}
	m.looked = all
	return all
}

// ways are the motions of looks.
func ways(looks []look) []travels {
	var out []travels
	for i := range looks {
		if len(looks[i].positions()) > 0 {
			out = append(out, looks[i].travels)
		}
	}
	return out
}

// corners is the grid of wheel and rack travel as far as the file says. False where the file has not both.
func (m *mover) corners() (travels, bool) {
	t, u := m.g.Travel, m.g.Units
	if t.Bump+t.Droop <= 0 || t.Rack <= 0 || !m.prog.Steered() {
		return travels{}, false
	}
	return travels{name: grid, wheel: spread(u, -t.Droop, t.Bump, cornerPositions), rack: spread(u, -t.Rack, t.Rack, cornerPositions), roll: []float64{0}}, true
}

// Names of the looks that are no motion of the file's own travel.
const (
	grid  = "grid"
	cross = "cross"
)

// crossing leans the body to either side until one wheel is at the file's full bump and the other at its full droop, the rack in
// the middle. False where nothing goes across, so that neither wheel's travel is anything to the other side, and without a travel.
func (m *mover) crossing() (travels, bool) {
	bump, droop := m.g.Units.ToMM(m.g.Travel.Bump), m.g.Units.ToMM(m.g.Travel.Droop)
	if bump+droop <= 0 || !m.ties() {
		return travels{}, false
	}
	left, right := m.placed(m.g.Wheel.Centre, ""), m.placed(m.g.Wheel.Centre, otherSide(m.g).String())
	track := math.Abs(left.Y - right.Y)
	lift, lean := (bump-droop)/2, math.Atan((bump+droop)/track)
	// What stands on the ground are the contact centres, which shift as the wheels lean: the wheel centres come to where they
	// should in a few turns. Where they cannot be followed the first guess says where the linkage stops.
	const there, turns = 1e-3, 30 // mm
	at := func() []float64 {
		tr := travels{way: way{rolls: true}, wheel: []float64{lift}, rack: []float64{0}, roll: []float64{lean / radians}}
		return m.values(&tr, m.bothWheels(wheelTravel))
	}
	for range turns {
		v := at()
		if v == nil {
			break
		}
		up, down := bump-max(v[0], v[1]), -droop-min(v[0], v[1])
		if math.Abs(up)+math.Abs(down) < there {
			break
		}
		lift, lean = lift+(up+down)/2, lean+(up-down)/track
	}
	const coarse = 10 // thousandths: what is looked at can be typed
	u, turn := m.g.Units, int64(lean/radians*1000)/coarse*coarse
	return travels{name: cross, way: way{rolls: true}, wheel: []float64{u.ToMM(u.FromMM(lift) / coarse * coarse)}, rack: []float64{0},
		roll: spread(files.Millimetre, -turn, turn, crossPositions)}, turn > 0
}

// ties tells whether something goes across the car: an axle, a member, a clearance or a joint that exists once.
func (m *mover) ties() bool {
	return m.prog.BothWheelsOnOne() || slices.ContainsFunc(m.g.Parts(), func(p files.Part) bool { return p.Across && p.Kind != kin.Solid })
}

// bothWheels are the columns of a measure of the corner on both sides.
func (m *mover) bothWheels(measure string) (out []kin.Column) {
	for _, name := range m.bothSides(measure, false) {
		c, err := m.prog.Column(name)
		if err != nil {
			panic("studies: " + err.Error()) // every linkage has them
		}
		out = append(out, c)
	}
	return out
}

// trim takes from a motion the positions that the linkage does not reach, puts the farthest that it does reach in their place, and
// says where it stops: once for each place from which it goes on in one travel.
func (m *mover) trim(tr *travels) (stops []string) {
	columns := m.bothWheels("camber")
	var said, ends []kin.Position
	for all := tr.positions(); len(all) > 0; {
		sweep := m.prog.NewSweep(kin.NewMotion("reach", tr.way.wheels, tr.way.rolls, all), columns)
		_, f := m.state.Run(sweep, make([]float64, sweep.Size()))
		if f.Status == kin.OK {
			break
		}
		leg := legOf(f.At)
		from := leg.with(f.At, 0)
		if !slices.Contains(said, from) {
			said = append(said, from)
			stops = append(stops, m.stopped(f, columns, tr))
		}
		rest := slices.DeleteFunc(slices.Clone(all), func(p kin.Position) bool { return passes(p, f.At) })
		if len(rest) == len(all) {
			rest = rest[:0] // it stops where none of them is
		}
		if side := leg.with(from, math.Copysign(1, leg.of(f.At))); leg.of(f.At) != 0 && !slices.Contains(ends, side) {
			ends = append(ends, side)
			end, _ := m.reach(tr.way, columns, leg, from, leg.of(f.At))
			for _, share := range []float64{0.7, 0.85, 0.95, 1} { // short enough steps to the end, where it turns fast
				if v := m.inward(leg, share*end); v != 0 {
					rest = append(rest, leg.with(from, v))
				}
			}
		}
		all, tr.reached = rest, rest
	}
	return stops
}

// inward rounds a travel, as positions count it, towards 0, to what is told of how far it goes.
func (m *mover) inward(a axis, v float64) float64 {
	if a == alongRoll {
		return math.Trunc(v/radians*100) / 100 * radians
	}
	const coarse = 100 // quanta
	return m.g.Units.ToMM(m.g.Units.FromMM(v) / coarse * coarse)
}

// legOf is the travel along which a position is reached last: the wheel goes first, then the roll and then the rack.
func legOf(p kin.Position) axis {
	switch {
	case p.Rack != 0:
		return alongRack
	case p.Roll != 0:
		return alongRoll
	}
	return alongWheel
}

// passes tells whether the way to a position goes through another.
func passes(to, through kin.Position) bool {
	leg := legOf(through)
	v := leg.of(through)
	if leg != alongWheel && to.Wheel != through.Wheel || leg == alongRack && to.Roll != through.Roll {
		return false
	}
	return v == 0 || leg.of(to)*v > 0 && math.Abs(leg.of(to)) >= math.Abs(v)
}

// asked writes the motion as a study has it, over what it goes through if it closes.
func (t *travels) asked(u files.Unit) string {
	lengths := func(v []float64) string {
		text := func(mm float64) string { return u.Format(u.FromMM(mm)) }
		if len(v) == 1 {
			return text(v[0])
		}
		return fmt.Sprintf("[%s, %s]", text(slices.Min(v)), text(slices.Max(v)))
	}
	turns := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	switch {
	case t.way.rolls:
		return fmt.Sprintf("{wheel_travel: %s, body_roll: [%s, %s], positions: %d}", lengths(t.wheel), turns(slices.Min(t.roll)), turns(slices.Max(t.roll)), len(t.roll))
	case len(t.rack) > 1 && len(t.wheel) > 1:
		return fmt.Sprintf("{wheel_travel: %s, rack_travel: %s, positions: [%d, %d]}", lengths(t.wheel), lengths(t.rack), len(t.wheel), len(t.rack))
	case len(t.rack) > 1:
		return fmt.Sprintf("{rack_travel: %s, positions: %d}", lengths(t.rack), len(t.rack))
	}
	return fmt.Sprintf("{wheel_travel: %s, positions: %d}", lengths(t.wheel), len(t.wheel))
}

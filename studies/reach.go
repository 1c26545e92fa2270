package studies

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"trammel/kin"
	"trammel/studies/files"
)

// mover is a geometry compiled and set at its design, ready to be moved.
type mover struct {
	g     *files.Geometry
	prog  *kin.Program
	state *kin.State
}

// newMover compiles a geometry and sets its design; the error is a usage error that says what is wrong
// with the geometry as a whole.
func newMover(g *files.Geometry) (*mover, error) {
	prog, err := kin.Compile(g.Linkage())
	if err != nil {
		return nil, usagef("%s: %w", g.Path, err)
	}
	m := &mover{g: g, prog: prog, state: prog.NewState()}
	if f := m.state.SetDesign(prog.Points()); f.Status != kin.OK {
		return nil, usagef("%s: at design %s", g.Path, prog.Describe(f))
	}
	return m, nil
}

// positions returns the grid of wheel and rack travels in mm, the rack + to the left of the car.
func positions(wheel, rack []float64) []kin.Position {
	var out []kin.Position
	for _, z := range wheel {
		for _, r := range rack {
			out = append(out, kin.Position{Wheel: z, Rack: r})
		}
	}
	return out
}

// closes tells whether the linkage can be measured along a straight path of travel from design, and the
// failure if not. It goes in strides short enough to stay on its branch. Columns that look at both sides
// of the car ask the same of the other wheel.
func (m *mover) closes(columns []kin.Column, to kin.Position) (kin.Failure, bool) {
	const stride = 2 // mm
	n := int(math.Ceil(max(math.Abs(to.Wheel), math.Abs(to.Rack))/stride)) + 1
	// The wheel goes first and then the rack, as in every sweep.
	var ps []kin.Position
	for i := 1; i <= n; i++ {
		k := float64(i) / float64(n)
		ps = append(ps, kin.Position{Wheel: to.Wheel * k})
	}
	for i := 1; i <= n; i++ {
		k := float64(i) / float64(n)
		ps = append(ps, kin.Position{Wheel: to.Wheel, Rack: to.Rack * k})
	}
	ps = slices.Compact(ps)
	sweep := m.prog.NewSweep(kin.NewMotion("reach", ps), columns)
	_, f := m.state.Run(sweep, make([]float64, sweep.Size()))
	return f, f.Status == kin.OK
}

// reachStep is to how much of a mm the end of the closing range is found.
const reachStep = 0.01

// reach returns how far towards to the linkage closes, from a place at which it does, and the failure
// just beyond; no failure when it closes all the way.
func (m *mover) reach(columns []kin.Column, from, to kin.Position) (kin.Position, kin.Failure) {
	f, ok := m.closes(columns, to)
	if ok {
		return to, kin.Failure{}
	}
	length := max(math.Abs(to.Wheel-from.Wheel), math.Abs(to.Rack-from.Rack))
	at := func(k float64) kin.Position {
		return kin.Position{Wheel: from.Wheel + k*(to.Wheel-from.Wheel), Rack: from.Rack + k*(to.Rack-from.Rack)}
	}
	lo, hi := 0.0, 1.0
	for (hi-lo)*length > reachStep {
		mid := (lo + hi) / 2
		if g, ok := m.closes(columns, at(mid)); ok {
			lo = mid
		} else {
			hi, f = mid, g
		}
	}
	return at(lo), f
}

// stopped says in a sentence without its end where a motion stops and how far it goes, such as
// "larch-front.yaml: at wheel_travel -52 mm pushrod and rocker line up; the wheel closes from -51.3 to
// +60 mm". wheel and rack are all the travels that were asked for, and columns what was to be measured.
func (m *mover) stopped(f kin.Failure, columns []kin.Column, wheel, rack []float64) string {
	u := m.g.Units
	at := f.At
	name := func(axis string, mm float64) string {
		return axis + " " + shortLength(mm, u, nearest) + " " + u.String()
	}
	place := name("wheel_travel", at.Wheel)
	if at.Rack != 0 {
		place += " with " + name("rack_travel", at.Rack)
	}
	other := ""
	if _, ok := m.closes(nil, at); ok && at.Rack != 0 {
		other = " on the other side of the car"
	}
	// Is it the wheel alone that fails on the way, with the rack centred?
	word, values := "wheel", wheel
	along := func(mm float64) kin.Position { return kin.Position{Wheel: mm} }
	from := kin.Position{}
	if _, ok := m.closes(columns, kin.Position{Wheel: at.Wheel}); ok && at.Rack != 0 {
		word, values = "rack", rack
		from = kin.Position{Wheel: at.Wheel}
		along = func(mm float64) kin.Position { return kin.Position{Wheel: at.Wheel, Rack: mm} }
	}
	least, most := min(slices.Min(values), 0), max(slices.Max(values), 0)
	lo, below := m.reach(columns, from, along(least))
	hi, above := m.reach(columns, from, along(most))
	first, last := lo.Wheel, hi.Wheel
	if word == "rack" {
		first, last = lo.Rack, hi.Rack
	}
	why := f
	for _, g := range []kin.Failure{below, above} {
		if g.Status != kin.OK && word == "wheel" && (g.At.Wheel < 0) == (at.Wheel < 0) {
			why = g // nearer to the cause than the failure of a whole step
		}
	}
	return fmt.Sprintf("%s: at %s %s%s; the %s closes from %s to %s %s", m.g.Path, place, m.prog.Describe(why), other,
		word, shortLength(first, u, inward), shortLength(last, u, inward), u)
}

type rounding int

const (
	nearest rounding = iota
	inward           // towards zero, so that what is said to close does
)

// shortLength is a travel in mm as a signed length in the unit of the file: a tenth of a millimetre or
// a hundredth of an inch are enough to look for a cause.
func shortLength(mm float64, u files.Unit, to rounding) string {
	v, per, digits := mm, 10.0, 1
	if u == files.Inch {
		v, per, digits = mm/25.4, 100.0, 2
	}
	if to == inward {
		v = math.Trunc(v*per+math.Copysign(1e-6, v)) / per
	}
	s := strconv.FormatFloat(v+0, 'f', digits, 64)
	s = strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	if s == "" || s == "-" || s == "-0" {
		return "0"
	}
	if v > 0 && s != "0" {
		s = "+" + s
	}
	return s
}

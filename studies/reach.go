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
		return nil, compileProblem(g, err)
	}
	m := &mover{g: g, prog: prog, state: prog.NewState()}
	if f := m.state.SetDesign(prog.Points()); f.Status != kin.OK {
		if why := prog.Explain(prog.Points()); f.Member < 0 && why != "" {
			return nil, usagef("%s: %s", g.Path, why)
		}
		return nil, designProblem(g, prog, f)
	}
	return m, nil
}

// closes tells whether the linkage can be measured along a straight path of travel from design, and the
// failure if not. It goes in strides short enough to stay on its branch. Columns that look at both sides
// of the car ask the same of the other wheel.
func (m *mover) closes(w way, columns []kin.Column, to kin.Position) (kin.Failure, bool) {
	const stride = 2            // mm
	const lean = 0.15 * radians // about as much at the wheel
	n := int(math.Ceil(max(math.Abs(to.Wheel)/stride, math.Abs(to.Roll)/lean, math.Abs(to.Rack)/stride))) + 1
	// The wheel goes first, then the roll and then the rack, as in every sweep.
	var ps []kin.Position
	for axis := range 3 {
		for i := 1; i <= n; i++ {
			k := float64(i) / float64(n)
			p := kin.Position{Wheel: to.Wheel * k}
			if axis > 0 {
				p.Wheel, p.Roll = to.Wheel, to.Roll*k
			}
			if axis > 1 {
				p.Roll, p.Rack = to.Roll, to.Rack*k
			}
			ps = append(ps, p)
		}
	}
	ps = slices.Compact(ps)
	sweep := m.prog.NewSweep(kin.NewMotion("reach", w.wheels, w.rolls, ps), columns)
	_, f := m.state.Run(sweep, make([]float64, sweep.Size()))
	return f, f.Status == kin.OK
}

// How closely the end of the closing range is found.
const (
	reachStep = 0.01           // mm
	reachLean = 0.01 * radians // rad
)

// reach returns how far along a travel the linkage closes, from a place at which it does to the value to, and the
// failure just beyond; no failure when it closes all the way.
func (m *mover) reach(w way, columns []kin.Column, a axis, from kin.Position, to float64) (float64, kin.Failure) {
	f, ok := m.closes(w, columns, a.with(from, to))
	if ok {
		return to, kin.Failure{}
	}
	start, fine := a.of(from), reachStep
	if a == alongRoll {
		fine = reachLean
	}
	lo, hi := 0.0, 1.0
	for (hi-lo)*math.Abs(to-start) > fine {
		mid := (lo + hi) / 2
		if g, ok := m.closes(w, columns, a.with(from, start+mid*(to-start))); ok {
			lo = mid
		} else {
			hi, f = mid, g
		}
	}
	return start + lo*(to-start), f
}

// stopped says in a sentence without its end where a motion stops and how far it goes, such as
// "larch-front.yaml: at wheel_travel -52 mm pushrod and rocker line up; the wheel closes from -51.3 to
// +60 mm". tr is all that was asked for, and columns what was to be measured.
func (m *mover) stopped(f kin.Failure, columns []kin.Column, tr *travels) string {
	at, w := f.At, tr.way
	other := ""
	if _, ok := m.closes(w, nil, at); ok && (at.Rack != 0 || w.wheels != kin.BothWheels) || m.closesWithoutOpposite(w, at) {
		other = " on the other side of the car"
	}
	// Which travel is it that fails on the way, those after it in the order of a sweep being at 0?
	axes := []axis{alongWheel, alongRoll, alongRack}
	along, from := alongWheel, kin.Position{}
	for _, a := range axes {
		along = a
		to := a.with(from, a.of(at))
		if _, ok := m.closes(w, columns, to); !ok || to == at {
			break
		}
		from = to
	}
	least, most := along.ends(tr)
	lo, below := m.reach(w, columns, along, from, least)
	hi, above := m.reach(w, columns, along, from, most)
	why := f
	for _, g := range []kin.Failure{below, above} {
		if g.Status != kin.OK && along != alongRack && (along.of(g.At) < 0) == (along.of(at) < 0) {
			why = g // nearer to the cause than the failure of a whole step
		}
	}
	u := m.g.Units
	return fmt.Sprintf("%s: at %s %s%s; %s from %s to %s", m.g.Path, m.sayAt(w, at), m.prog.Describe(why), other,
		w.goes(along), along.short(lo, u, inward), along.say(hi, u, inward))
}

// closesWithoutOpposite tells whether the places of their own that points have on the other side are what keeps an
// independent suspension from closing: with the drawn side on both it does.
func (m *mover) closesWithoutOpposite(w way, at kin.Position) bool {
	l := m.g.Linkage()
	if l.Opposite == nil || m.prog.BothWheelsOnOne() {
		return false
	}
	l.Opposite = nil
	prog, err := kin.Compile(l)
	if err != nil {
		return false
	}
	even := &mover{g: m.g, prog: prog, state: prog.NewState()}
	if even.state.SetDesign(prog.Points()).Status != kin.OK {
		return false
	}
	_, ok := even.closes(w, nil, at)
	return ok
}

// sayAt says where something is: wheel_travel -52 mm with rack_travel +30 mm.
func (m *mover) sayAt(w way, at kin.Position) string {
	var words []string
	for _, a := range []axis{alongWheel, alongRoll, alongRack} {
		if a.of(at) != 0 || a == alongWheel && !w.rolls || a == alongRoll && w.rolls {
			words = append(words, a.String()+" "+a.say(a.of(at), m.g.Units, nearest))
		}
	}
	text := strings.Join(words, " with ")
	if w.wheels != kin.BothWheels {
		text += ", the " + w.side() + " wheel alone,"
	}
	return text
}

// axis is one of the travels of a position.
type axis uint8

const (
	alongWheel axis = iota
	alongRoll
	alongRack
)

// String returns the travel's name in a study file.
func (a axis) String() string { return [...]string{wheelTravel, bodyRoll, rackTravel}[a] }

func (a axis) of(p kin.Position) float64 { return [...]float64{p.Wheel, p.Roll, p.Rack}[a] }

// with returns p with this travel at v.
func (a axis) with(p kin.Position, v float64) kin.Position {
	*[...]*float64{&p.Wheel, &p.Roll, &p.Rack}[a] = v
	return p
}

// ends returns how far a motion goes along the travel, 0 counted in, as positions count it.
func (a axis) ends(tr *travels) (least, most float64) {
	values, scale := [...][]float64{tr.wheel, tr.roll, tr.rack}[a], 1.0
	if a == alongRoll {
		scale = radians
	}
	return min(slices.Min(values), 0) * scale, max(slices.Max(values), 0) * scale
}

// short is a travel as a number with its sign in the unit of the file, or in degrees.
func (a axis) short(v float64, u files.Unit, to rounding) string {
	if a == alongRoll {
		return shortNumber(v/radians, 2, to)
	}
	return shortLength(v, u, to)
}

func (a axis) say(v float64, u files.Unit, to rounding) string {
	if a == alongRoll {
		return a.short(v, u, to) + " deg"
	}
	return a.short(v, u, to) + " " + u.String()
}

// side is the wheel that travels alone.
func (w way) side() string {
	if w.wheels == kin.LeftWheel {
		return "left"
	}
	return "right"
}

// goes begins a sentence about how far a travel goes.
func (w way) goes(a axis) string {
	switch {
	case a == alongRack:
		return "the rack closes"
	case a == alongRoll:
		return "the body rolls"
	case w.rolls:
		return "with the body level the wheels close"
	case w.wheels != kin.BothWheels:
		return "the " + w.side() + " wheel closes"
	}
	return "the wheel closes"
}

type rounding int

const (
	nearest rounding = iota
	inward           // towards zero, so that what is said to close does
)

// shortLength is a travel in mm as a signed length in the unit of the file: a tenth of a millimetre or
// a hundredth of an inch are enough to look for a cause.
func shortLength(mm float64, u files.Unit, to rounding) string {
	if u == files.Inch {
		return shortNumber(mm/25.4, 2, to)
	}
	return shortNumber(mm, 1, to)
}

// shortNumber is a number with its sign and at most so many digits after the point.
func shortNumber(v float64, digits int, to rounding) string {
	if per := math.Pow10(digits); to == inward {
		v = math.Trunc(v*per+math.Copysign(1e-6, v)) / per
	}
	s := strconv.FormatFloat(v+0, 'f', digits, 64)
	if digits > 0 {
		s = strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	}
	if s == "" || s == "-" || s == "-0" {
		return "0"
	}
	if v > 0 && s != "0" {
		s = "+" + s
	}
	return s
}

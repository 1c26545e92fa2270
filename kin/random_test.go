package kin_test

import (
	"flag"
	"slices"
	"testing"

	"trammel/kin"
	"trammel/kin/kintest"

	"gonum.org/v1/gonum/spatial/r3"
	"pgregory.net/rapid"
)

// Few random linkages of many layouts see more than many of one. A flag of the command line is stronger.
func init() {
	if err := flag.Set("rapid.checks", "6"); err != nil {
		panic(err)
	}
}

// forLayouts checks a property on random corners of every layout of two arms or five links.
func forLayouts(t *testing.T, property func(t *rapid.T, l *kin.Linkage)) {
	forAll(t, kintest.Layouts, property)
}

// forEvery checks a property on random linkages of every layout there is.
func forEvery(t *testing.T, property func(t *rapid.T, l *kin.Linkage)) {
	forAll(t, everyLayout, property)
}

func forAll(t *testing.T, layouts func() []kintest.Layout, property func(t *rapid.T, l *kin.Linkage)) {
	for i, layout := range layouts() {
		t.Run(layout.Name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) { property(t, drawCorner(t, layouts()[i].Link, 8)) })
		})
	}
}

// drawCorner moves every coordinate of a linkage by up to reach and gives it another wheel, such that it
// goes through every place that drawPosition and drawSpot draw.
func drawCorner(t *rapid.T, l *kin.Linkage, reach float64) *kin.Linkage {
	move := rapid.Float64Range(-reach, reach)
	return rapid.Custom(func(t *rapid.T) *kin.Linkage {
		moved := *l
		moved.Points = slices.Clone(l.Points)
		for i := range moved.Points {
			p := &moved.Points[i]
			p.At = r3.Add(p.At, r3.Vec{X: move.Draw(t, p.Name+".x"), Y: move.Draw(t, p.Name+".y"), Z: move.Draw(t, p.Name+".z")})
		}
		moved.Wheel.Camber = rapid.Float64Range(-4, 4).Draw(t, "camber") * deg
		moved.Wheel.Toe = rapid.Float64Range(-2, 2).Draw(t, "toe") * deg
		return &moved
	}).Filter(closes).Draw(t, "corner")
}

// room are motions that a linkage goes through with something to spare.
var room = []*kin.Motion{
	kin.NewMotion("heave", kin.BothWheels, false, grid(3, 3, 44, 22)),
	kin.NewMotion("left", kin.LeftWheel, false, grid(3, 3, 34, 12)),
	kin.NewMotion("right", kin.RightWheel, false, grid(3, 3, 34, 12)),
	kin.NewMotion("roll", kin.BothWheels, true, rolled(11, 11, 2.8*deg)),
}

func rolled(wheel, rack, roll float64) []kin.Position {
	var out []kin.Position
	for _, k := range []float64{-1, 1} {
		for _, at := range grid(2, 2, wheel, rack) {
			at.Roll = k * roll
			out = append(out, at)
		}
	}
	return out
}

// closes tells whether a linkage goes through the travel of drawPosition and drawSpot.
func closes(l *kin.Linkage) bool {
	prog, err := kin.Compile(l)
	if err != nil {
		return false
	}
	s := prog.NewState()
	if s.SetDesign(prog.Points()).Status != kin.OK {
		return false
	}
	other, err := prog.Column("right.camber")
	if err != nil {
		return false
	}
	for _, m := range room {
		sw := prog.NewSweep(m, []kin.Column{other})
		if _, f := s.Run(sw, make([]float64, sw.Size())); f.Status != kin.OK {
			return false
		}
	}
	return true
}

func drawPosition(t *rapid.T) kin.Position {
	return kin.Position{Wheel: rapid.Float64Range(-40, 40).Draw(t, "wheel"), Rack: rapid.Float64Range(-20, 20).Draw(t, "rack")}
}

// drawSpot draws a position of any motion.
func drawSpot(t *rapid.T) spot {
	p := spot{at: drawPosition(t)}
	switch rapid.IntRange(0, 3).Draw(t, "motion") {
	case 1:
		p.wheels = kin.LeftWheel
	case 2:
		p.wheels = kin.RightWheel
	case 3:
		p.rolls = true
		p.at.Roll = rapid.Float64Range(-1.8, 1.8).Draw(t, "roll") * deg
	}
	switch {
	case p.rolls:
		p.at.Wheel, p.at.Rack = p.at.Wheel/4, p.at.Rack/2
	case p.wheels != kin.BothWheels:
		p.at.Wheel, p.at.Rack = p.at.Wheel/2, p.at.Rack/2
	}
	return p
}

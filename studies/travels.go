package studies

import (
	"math"
	"slices"

	"trammel/kin"
	"trammel/studies/files"
)

// way is how an axle moves: which wheels travel, and whether the body rolls on the ground.
type way struct {
	wheels kin.Wheels
	rolls  bool
}

// addition tells places of one way from those of another; "" for both wheels without roll.
func (w way) addition() string {
	switch {
	case w.rolls:
		return ", rolling"
	case w.wheels == kin.LeftWheel:
		return ", left wheel"
	case w.wheels == kin.RightWheel:
		return ", right wheel"
	}
	return ""
}

// travels is a motion to go through: a grid of wheel travel and rack travel in mm and body roll in deg, with the signs
// of kin.Position. None of the three is empty.
type travels struct {
	name              string
	way               way
	wheel, rack, roll []float64
	reached           []kin.Position // those of the grid that are gone to; nil for all
}

const radians = math.Pi / 180 // in a degree

// position is a place of a motion; mm, mm and deg.
func position(wheel, rack, roll float64) kin.Position {
	return kin.Position{Wheel: wheel, Rack: rack, Roll: roll * radians}
}

// degreesOf is the roll of a position as it was asked for, in deg: conversion there and back is off by an ulp.
func degreesOf(p kin.Position) float64 {
	const fine = 1e9
	return math.Round(p.Roll/radians*fine) / fine
}

// travelsOf returns what a motion of a study goes through.
func travelsOf(m *files.Motion) travels {
	t := travels{name: m.Name, wheel: m.Wheel, rack: m.Rack, roll: m.Roll}
	t.way.wheels = [...]kin.Wheels{files.BothWheels: kin.BothWheels, files.LeftWheel: kin.LeftWheel, files.RightWheel: kin.RightWheel}[m.Wheels]
	t.way.rolls = len(m.Roll) > 1 || m.Roll[0] != 0
	return t
}

// positions returns the grid, the roll varying fastest.
func (t *travels) positions() []kin.Position {
	if t.reached != nil {
		return t.reached
	}
	var out []kin.Position
	for _, z := range t.wheel {
		for _, r := range t.rack {
			for _, a := range t.roll {
				out = append(out, position(z, r, a))
			}
		}
	}
	return out
}

// motion returns the grid for the solver.
func (t *travels) motion(name string) *kin.Motion {
	return kin.NewMotion(name, t.way.wheels, t.way.rolls, t.positions())
}

// along returns the travel of each position that curves are drawn over: the first of wheel, rack and roll that moves,
// in mm or deg.
func (t *travels) along(at []kin.Position) []float64 {
	out := make([]float64, len(at))
	for i, p := range at {
		switch {
		case len(t.wheel) > 1 || len(t.rack) == 1 && len(t.roll) == 1:
			out[i] = p.Wheel
		case len(t.rack) > 1:
			out[i] = p.Rack
		default:
			out[i] = degreesOf(p)
		}
	}
	return out
}

// otherSide is the side that the file does not draw.
func otherSide(g *files.Geometry) files.Side {
	if g.Side == files.Right {
		return files.Left
	}
	return files.Right
}

// mirrors tells whether a motion takes the side that is not drawn through the same as the drawn one: the sides are mirror
// images, both wheels travel without roll, and the rack moves straight across, for each rack travel there being the
// opposite one.
func (st *Study) mirrors(m *kin.Motion) bool {
	if !st.Program.Symmetric() || m.Rolls || m.Wheels != kin.BothWheels {
		return false
	}
	axis := st.File.Geometry.Linkage().RackAxis
	for _, p := range m.Positions {
		if p.Rack == 0 {
			continue
		}
		if axis.X != 0 || axis.Z != 0 || !slices.Contains(m.Positions, kin.Position{Wheel: p.Wheel, Rack: -p.Rack}) {
			return false
		}
	}
	return true
}

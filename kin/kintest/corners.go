// Package kintest holds linkages for tests: closed-form ones, with the derivation beside them, and
// corners of an invented car. Other packages' tests import it.
package kintest

import (
	"math"

	"trammel/kin"

	"gonum.org/v1/gonum/spatial/r3"
)

// Builder puts a linkage together by point names.
type Builder struct {
	L     kin.Linkage
	index map[string]int
}

// Point adds a named point, in mm.
func (b *Builder) Point(name string, x, y, z float64) *Builder {
	if b.index == nil {
		b.index = map[string]int{}
	}
	b.index[name] = len(b.L.Points)
	b.L.Points = append(b.L.Points, kin.Point{Name: name, At: r3.Vec{X: x, Y: y, Z: z}})
	return b
}

// Member adds a member between named points.
func (b *Builder) Member(name string, kind kin.Kind, points, bodies []string) *Builder {
	m := kin.Member{Name: name, Kind: kind, Bodies: bodies}
	for _, p := range points {
		i, ok := b.index[p]
		if !ok {
			panic("kintest: no point " + p)
		}
		m.Points = append(m.Points, i)
	}
	b.L.Members = append(b.L.Members, m)
	return b
}

// Arm adds a wishbone from the frame to the upright.
func (b *Builder) Arm(name, front, rear, ball string) *Builder {
	return b.Member(name, kin.Arm, []string{front, rear, ball}, []string{kin.Frame, kin.Upright})
}

// Link adds a bar of fixed length.
func (b *Builder) Link(name, from, to, bodyFrom, bodyTo string) *Builder {
	return b.Member(name, kin.Link, []string{from, to}, []string{bodyFrom, bodyTo})
}

// Wheel sets the wheel; camber and toe in degrees.
func (b *Builder) Wheel(centre string, camber, toe, radius float64) *Builder {
	b.L.Wheel = kin.Wheel{Centre: b.index[centre], Camber: camber * math.Pi / 180, Toe: toe * math.Pi / 180, LoadedRadius: radius}
	return b
}

// Pushrod returns the front corner of an invented hill-climb car: two wishbones, a rack behind the
// axle, and a pushrod from the lower arm to a rocker that works a damper.
func Pushrod() *kin.Linkage {
	b := &Builder{}
	b.Point("lower_front", 165, 230, 150).Point("lower_rear", -150, 245, 142).Point("lower_ball", 6, 655, 138).
		Point("upper_front", 130, 285, 318).Point("upper_rear", -135, 292, 306).Point("upper_ball", -12, 618, 352).
		Point("rack_end", -92, 232, 190).Point("steering_arm", -104, 641, 186).
		Point("wheel_centre", 0, 690, 252).
		Point("pushrod_foot", 4, 590, 158).Point("pushrod_head", -6, 318, 452).
		Point("rocker_front", 52, 262, 418).Point("rocker_rear", -58, 262, 418).
		Point("damper_rocker", -4, 246, 486).Point("damper_frame", -10, 30, 462)
	b.Arm("lower_arm", "lower_front", "lower_rear", "lower_ball")
	b.Arm("upper_arm", "upper_front", "upper_rear", "upper_ball")
	b.Link("tie_rod", "rack_end", "steering_arm", kin.Rack, kin.Upright)
	b.Link("pushrod", "pushrod_foot", "pushrod_head", "lower_arm", "rocker")
	b.Member("rocker", kin.Rocker, []string{"rocker_front", "rocker_rear"}, []string{kin.Frame})
	b.Member("damper", kin.Damper, []string{"damper_rocker", "damper_frame"}, []string{"rocker", kin.Frame})
	b.Wheel("wheel_centre", -1.2, 0.08, 246)
	b.L.Vehicle.Wheelbase = 2350
	return &b.L
}

// Line returns n evenly spaced positions of wheel or rack travel from -reach to +reach.
func Line(n int, wheel, rack float64) []kin.Position {
	out := make([]kin.Position, n)
	for i := range out {
		k := 2*float64(i)/float64(n-1) - 1
		out[i] = kin.Position{Wheel: k * wheel, Rack: k * rack}
	}
	return out
}

package kin

import (
	"fmt"
	"strings"

	"gonum.org/v1/gonum/spatial/r3"
)

// Describe says a failure in a sentence without its end: what gave way, in the linkage's own names.
// Of a singular design, Explain says more.
func (p *Program) Describe(f Failure) string { return p.describe(f, nil) }

// DescribeDesign is Describe of a design whose points are known, which then tells a rod of no length from one that points at the axis
// of what it turns.
func (p *Program) DescribeDesign(f Failure, points []r3.Vec) string { return p.describe(f, points) }

func (p *Program) describe(f Failure, points []r3.Vec) string {
	name := ""
	if f.Member >= 0 {
		name = p.linkage.Members[f.Member].Name
	}
	turned := "" // the rocker that the member turns
	for _, spec := range p.followers {
		if spec.how == byRod && spec.rod == f.Member {
			turned = p.linkage.Members[spec.member].Name
		}
	}
	carrier := Upright
	if p.axle {
		carrier = Axle
	}
	switch f.Status {
	case OK:
		return "it assembles"
	case CannotAssemble:
		if turned != "" {
			return fmt.Sprintf("%s and %s line up", name, turned)
		}
		switch {
		case name == "" && f.At.Roll != 0:
			return "a wheel does not reach the ground that the body's roll turns"
		case name == "":
			return "a wheel does not reach its travel"
		}
		return name + " does not reach"
	case Folds:
		return "it passes a dead centre and would come back on another branch"
	case BadGeometry:
		if name == "" {
			return "the members hold the " + carrier + " in a singular way: at design some of them work against the same freedom"
		}
		if turned != "" && points != nil {
			if at := p.linkage.Members[f.Member].Points; points[at[0]] == points[at[1]] {
				return name + " has no length"
			}
			return fmt.Sprintf("%s points at the axis of %s and cannot turn it", name, turned)
		}
		if turned != "" {
			return fmt.Sprintf("%s has no length, or it lines up with %s at design", name, turned)
		}
		for _, spec := range p.followers {
			if spec.how == byRod && spec.member == f.Member {
				return fmt.Sprintf("%s has no axis, or %s, where %s meets it, lies on that axis and cannot turn it; move that point off the axis",
					name, p.linkage.Points[p.parts[spec.own].point].Name, p.linkage.Members[spec.rod].Name)
			}
		}
		if m := &p.linkage.Members[f.Member]; m.Kind == Solid && m.Space.Shape == Drum {
			return name + " is a cylinder whose ends are at one place, so that it has no axis, or one of them is nowhere; move them apart"
		}
		return name + " has no length, a point on its own axis, or one that is nowhere"
	}
	return strings.TrimSpace(name + " failed")
}

// Holding is a member that takes freedoms from the upright, or from the axle where one carries both wheels.
type Holding struct {
	Member      int  // index into Linkage.Members
	Side        Side // of an axle's member that exists on both sides; Once otherwise
	Constraints int
}

// Holdings returns what holds the upright of the drawn side, or the axle, in the order of its members. Five constraints
// leave an upright its wheel's travel, four an axle that of its two wheels.
func (p *Program) Holdings() []Holding {
	var out []Holding
	for _, r := range p.carriers[0].rows {
		if r.member < 0 {
			continue // the height of the right wheel, which leads
		}
		h := Holding{Member: r.member, Constraints: 1}
		if p.axle {
			h.Side = r.side
		}
		if n := len(out); n > 0 && out[n-1].Member == h.Member && out[n-1].Side == h.Side {
			out[n-1].Constraints++
		} else {
			out = append(out, h)
		}
	}
	return out
}

// BothWheelsOnOne tells whether one axle carries both wheels.
func (p *Program) BothWheelsOnOne() bool { return p.axle }

package kin

import (
	"fmt"
	"strings"
)

// Describe says a failure in a sentence without its end: what gave way, in the linkage's own names.
// Of a singular design, Explain says more.
func (p *Program) Describe(f Failure) string {
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
		if name == "" {
			return "it does not close"
		}
		return name + " does not reach"
	case Folds:
		return "it passes a dead centre and would come back on another branch"
	case BadGeometry:
		if name == "" {
			return "the members hold the " + carrier + " in a singular way: at design some of them work against the same freedom"
		}
		if turned != "" {
			return fmt.Sprintf("%s has no length, or it lines up with %s at design", name, turned)
		}
		return name + " has no length, a point on its own axis, or one that is nowhere"
	}
	return strings.TrimSpace(name + " failed")
}

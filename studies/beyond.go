package studies

import (
	"fmt"
	"slices"
	"strings"

	"trammel/objectives"
	"trammel/optimize"
)

// beyondMotions says of a geometry that keeps every limit of a study what it does not keep elsewhere in its own travel, where the
// study's motions need not go: a text for each way of looking that shows something. Of joints whose axes the study found, found
// says which, and the tilts are from these.
func (m *mover) beyondMotions(found []JointState, studied []travels) (texts []string) {
	m.setAxes(found)
	looks := m.looks()
	if slices.ContainsFunc(looks, func(l look) bool { return l.name == grid }) { // heave and steer are in it
		looks = slices.DeleteFunc(slices.Clone(looks), func(l look) bool { return l.name != grid && l.name != cross })
	}
	for i := range looks {
		l, before := &looks[i], ways(looks[:i])
		all := ways(looks[i : i+1])
		var notes []string
		for _, s := range l.stops {
			notes = append(notes, "it does not close there everywhere: "+s)
		}
		notes = slices.Concat(notes, m.beyond(all, before), m.tooNear(all, before), m.boredAnew(found, studied, all, before))
		if notes != nil {
			texts = append(texts, fmt.Sprintf("Beyond the study's motions, %s, the best geometry does not keep what its parts need:\n  %s.\nA motion such as %s in the study makes the search keep it.",
				l.where, strings.Join(notes, ".\n  "), l.asked))
		}
	}
	return texts
}

// setAxes gives the state axes that were found.
func (m *mover) setAxes(found []JointState) {
	for i, part := range m.g.Parts() {
		for k := range found {
			if found[k].Name == part.Name && m.prog.Finds(i) {
				m.state.SetAxis(i, found[k].measured)
			}
		}
	}
}

// boredAnew says of each joint that tilts too much from the axis that a study found what the best axis over these motions as well
// would leave it.
func (m *mover) boredAnew(found []JointState, studied, motions, before []travels) (notes []string) {
	for i := range m.g.Joints {
		j := &m.g.Joints[i]
		at := slices.IndexFunc(found, func(f JointState) bool { return f.Name == j.Name })
		if at < 0 {
			continue
		}
		_, most, ok := m.peaks(j.Name+".tilt", j.Across, motions)
		if _, was, told := m.peaks(j.Name+".tilt", j.Across, before); !ok || most.value <= j.Tilt || told && most.value <= was.value+hardly {
			continue
		}
		if d := m.seen(j.Name, j.Across, slices.Concat(studied, motions)); d != nil {
			tilt := objectives.FitOf(fitOf(j), d).Angle / radians
			notes = append(notes, fmt.Sprintf("%s with the best %s for the study's motions and these would tilt by %s of %s deg", j.Name, found[at].What, trimmed(tilt, 2), decimals(j.Tilt)))
		}
	}
	return notes
}

// outside adds to an answer what its best geometry does beyond the motions of the study.
func (a *Archive) outside(ans *Answer, best []cluster) {
	if len(ans.Answers) == 0 || len(ans.Blocking) > 0 {
		return
	}
	at := slices.IndexFunc(best, func(k cluster) bool { return k.Run == ans.Answers[0].Run })
	if at < 0 {
		return
	}
	m, err := newMover(a.Study.geometry(&optimize.Point{X: best[at].X, Choice: best[at].Choice}, a.e))
	if err != nil {
		return // the lattice moved a point by less than half a thousandth; the search's own verdict stands
	}
	var studied []travels
	for i := range a.Study.File.Motions {
		studied = append(studied, travelsOf(&a.Study.File.Motions[i]))
	}
	ans.Notes = append(ans.Notes, m.beyondMotions(ans.Answers[0].Joints, studied)...)
}

package studies

import (
	"fmt"
	"slices"
	"strings"

	"trammel/kin"
	"trammel/optimize"
)

// cornerPositions is how many values of either travel are looked at where both go at once.
const cornerPositions = 5

// corners is the grid of wheel and rack travel as far as the file says, where a wheel on full lock meets a bump: what
// stands near a wheel is as a rule nearest there, and neither heave nor steer shows it. False where the file has not both.
func (m *mover) corners() (travels, bool) {
	t, u := m.g.Travel, m.g.Units
	if t.Bump+t.Droop <= 0 || t.Rack <= 0 || !m.prog.Steered() {
		return travels{}, false
	}
	return travels{"grid", way{wheels: kin.BothWheels}, spread(u, -t.Droop, t.Bump, cornerPositions), spread(u, -t.Rack, t.Rack, cornerPositions), []float64{0}}, true
}

// beyondMotions says which parts and clearances of a geometry that keeps every limit of a study do not keep them where wheel
// and rack travel at once, as far as the geometry's own travel goes: the study's motions need not go there.
func beyondMotions(m *mover) string {
	grid, ok := m.corners()
	if !ok {
		return ""
	}
	all := []travels{grid}
	notes := slices.Concat(m.beyond(all), m.tooNear(all))
	if len(notes) == 0 {
		return ""
	}
	ends := func(v []float64) string {
		return fmt.Sprintf("[%s, %s]", m.g.Units.Format(m.g.Units.FromMM(slices.Min(v))), m.g.Units.Format(m.g.Units.FromMM(slices.Max(v))))
	}
	return fmt.Sprintf("Beyond the study's motions, where wheel and rack travel at once as far as the geometry's travel says, the best geometry does not keep what its parts need:\n  %s.\n"+
		"A motion such as {wheel_travel: %s, rack_travel: %s, positions: [%d, %d]} in the study makes the search keep it.",
		strings.Join(notes, ".\n  "), ends(grid.wheel), ends(grid.rack), cornerPositions, cornerPositions)
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
	if says := beyondMotions(m); says != "" {
		ans.Notes = append(ans.Notes, says)
	}
}

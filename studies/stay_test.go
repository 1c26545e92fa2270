package studies

import (
	"slices"
	"strings"
	"testing"

	"trammel/optimize"
)

// rulers are three marks: only the ruler between the first, on the frame, and the second, on the upright and 100 mm away from it, is
// asked for; what the third is for nobody asks.
const rulers = `points:
  mark_left:  [0, 100, 900]
  mark_right: [0,   0, 900]
  mark_alone: [0,  50, 950]
`

// rulerStudy varies them beside the steering arm; the ruler is to be as long as least says.
func rulerStudy(t *testing.T, least string) *Study {
	t.Helper()
	geometry := strings.Replace(besideBox, "points:\n", rulers, 1)
	geometry = strings.Replace(geometry, "\nwheel:", "\n  ruler: {distance: [mark_left, mark_right], ends: [frame, upright]}\n  other: {distance: [mark_alone, mark_right], ends: [frame, upright]}\nwheel:", 1)
	geometry, _, _ = strings.Cut(geometry, "solids:")
	return bind(t, `format: 1
study: rulers
geometry: geometry.yaml
motions: {heave: {wheel_travel: [-50, 50], positions: 5}}
vary:
  steering_arm.z: {by: 10}
  mark_left.y:  {by: 20}
  mark_right.y: {by: 20}
  mark_alone.x: {by: 20}
targets: {bump steer: {measure: toe, in: heave, hold: 0, within: 0.05}}
limits: {ruler: {measure: ruler.length, place: {wheel_travel: 0}, min: `+least+`}}
`, geometry)
}

// TestCouldStay: what moved for nothing is named, what a limit or a target needs is not, and of what could stay alone only as much
// is put back together as keeps the limits. By hand: the ruler is mark_left.y less mark_right.y.
func TestCouldStay(t *testing.T) {
	for _, c := range []struct {
		least           string
		x               []float64
		alone, together []string
		says            string
	}{
		{"90", []float64{184, 110, -10, 0}, []string{"mark_left.y", "mark_right.y"}, []string{"mark_left.y", "mark_right.y"}, "mark_left.y and mark_right.y could as well stay as drawn, each alone or all at once: with all else as here every limit is kept, and the score stays within a thousandth."},
		{"105", []float64{184, 110, -10, 0}, []string{"mark_left.y", "mark_right.y"}, []string{"mark_left.y"}, "each alone but not together"},
		{"105", []float64{184, 110, -10, 7}, []string{"mark_left.y", "mark_right.y", "mark_alone.x"}, []string{"mark_left.y", "mark_alone.x"}, "mark_left.y, mark_right.y and mark_alone.x could as well stay as drawn, each alone, and mark_left.y and mark_alone.x together: with"},
		{"115", []float64{184, 110, -10, 7}, []string{"mark_alone.x"}, []string{"mark_alone.x"}, "mark_alone.x could as well stay as drawn: with"},
		{"115", []float64{184, 110, -10, 0}, nil, nil, ""},
		{"90", []float64{190, 100, 0, 0}, nil, nil, ""}, // the steering arm's height makes bump steer
	} {
		e := rulerStudy(t, c.least).NewEvaluator()
		p, o := optimize.Point{X: c.x, Parent: optimize.NoParent}, optimize.Outcome{}
		if e.Evaluate(&p, &o); o.Status != optimize.OK {
			t.Fatalf("%v is %s", c.x, o.Status)
		}
		var b strings.Builder
		v := Verdict{Idle: e.idle(&p, o.Score)}
		(&Answer{Answers: []Verdict{v}}).stays(&b)
		if c.alone == nil && v.Idle == nil && b.String() == "" {
			continue
		}
		if v.Idle == nil || !slices.Equal(v.Idle.Names, c.alone) || !slices.Equal(v.Idle.Together, c.together) || !strings.Contains(b.String(), c.says) {
			t.Errorf("%s: %v: %+v, %q; want %v, %v, %q", c.least, c.x, v.Idle, b.String(), c.alone, c.together, c.says)
		}
	}
}

// TestNothingMovesForNothing: the answer of a search that moved something in vain says so, and a study without that number
// comes to the same score.
func TestNothingMovesForNothing(t *testing.T) {
	vary, stages := "steering_arm.z: {by: 10}, rack_end.z: {by: 10}", "}\ntargets: {bump steer: {measure: toe, in: heave, hold: 0.08, within: 0.05}}\nstages: [{plan: sobol, runs: 64}, {refine: 4}]\n"
	study := func(more string) *Answer {
		return ranked(t, read(t, "format: 1\nstudy: a test\ngeometry: geometry.yaml\nvary: {"+vary+more+stages, text(t, "corncrake", "corncrake-front.yaml")))
	}
	with, without := study(", damper_frame.z: {by: 15}"), study("")
	best := &with.Answers[0]
	if i := slices.IndexFunc(best.Moved, func(m Moved) bool { return m.Name == "damper_frame.z" }); best.Moved[i].Now == best.Moved[i].Was {
		t.Fatalf("the search left damper_frame.z alone: %+v", best.Moved)
	}
	if best.Idle == nil || !slices.Equal(best.Idle.Names, []string{"damper_frame.z"}) || !strings.Contains(with.Text(), "damper_frame.z could as well stay as drawn") {
		t.Errorf("%+v:\n%s", best.Idle, with.Text())
	}
	if a, b := best.Score, without.Answers[0].Score; a-b > 1e-3*b+1e-6 || b-a > 1e-3*b+1e-6 {
		t.Errorf("the score is %g with damper_frame.z and %g without", a, b)
	}
	if without.Answers[0].Idle != nil {
		t.Errorf("%+v", without.Answers[0].Idle)
	}
}

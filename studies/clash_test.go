package studies

import (
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"trammel/objectives"
	"trammel/studies/files"
)

// clashing is what takes room on the corncrake's front, and joints, so that three gaps are too small at design and two joints
// tilt too much.
const clashing = `
solids:
  brace: {tube: [brace_front, brace_rear], diameter: 30}
clearances:
  arm_to_brace: {between: [upper_arm, brace], min: 10}
  rod_to_arm:   {between: [tie_rod, lower_arm], min: 26}
  dampers:      {between: [left.damper, right.damper], min: 12}
joints:
  lower_joint:   {spherical: lower_ball, housing: upright, bolt: lower_arm, bolt_axis: [0, 0, 1], housing_axis: auto, tilt: 4}
  tie_rod_outer: {rod_end: tie_rod, at: steering_arm, bolt_axis: [0, 0, 1], tilt: 4.2}
`

// clashingStudy wants of each number what some limit does not let it have.
const clashingStudy = `format: 1
study: clashes
geometry: geometry.yaml
motions:
  heave: {wheel_travel: [-40, 40], positions: 9}
  steer: {rack_travel: [-20, 20], positions: 5}
vary:
  upper pivots: {move: [upper_front, upper_rear], along: z, by: 30}
  lower_ball.y: {by: 25}
  rack_end.y:   {by: 60}
  tie rod:      {move: [rack_end, steering_arm], along: z, by: 15}
  damper_frame.y: {by: 20}
targets:
  pivots: {measure: pivot_ruler.length, place: {wheel_travel: 0}, value: 40, within: 10}
  turn:   {measure: lower_arm.angle, place: {wheel_travel: 30}, value: -4.6, within: 0.5}
  rack:   {measure: rack_ruler.length, place: {wheel_travel: 0}, value: 430, within: 20}
  height: {measure: rod_ruler.length, place: {wheel_travel: 0}, value: 94, within: 5}
  damper: {measure: damper.length, place: {wheel_travel: 0}, value: 252, within: 5}
stages:
  - {plan: sobol, runs: 64}
  - {refine: 4}
`

// clashStudy reads the study, with the tubes that its clearances are between and rulers that its targets read.
func clashStudy(t testing.TB) *files.Study {
	t.Helper()
	geometry := text(t, "corncrake", "corncrake-front.yaml")
	for _, c := range [][2]string{
		{"\nmembers:", "  brace_front: [140, 380, 374]\n  brace_rear: [-140, 380, 372]\n  ground_mark: [-84, 634, 84]\n  pivot_mark: [132, 284, 370]\n\nmembers:\n" +
			"  pivot_ruler: {distance: [upper_front, pivot_mark], ends: [upper_arm, frame]}\n" +
			"  rack_ruler: {distance: [wheel_centre, rack_end], ends: [upright, rack]}\n" +
			"  rod_ruler: {distance: [steering_arm, ground_mark], ends: [upright, frame]}\n"},
		{"ball: lower_ball}", "ball: lower_ball, tube: 25}"},
		{"ball: upper_ball}", "ball: upper_ball, tube: 22}"},
		{"ends: [rack, upright]}", "ends: [rack, upright], tube: 20}"},
		{"length: {min: 208, max: 288}}", "length: {min: 208, max: 288}, tube: {diameter: 54, length: 140, rod: 12, from: damper_frame}}"},
	} {
		if !strings.Contains(geometry, c[0]) {
			t.Fatalf("the geometry has no %q", c[0])
		}
		geometry = strings.Replace(geometry, c[0], c[1], 1)
	}
	return read(t, clashingStudy, geometry+clashing)
}

// ofRoom tells whether a limit is one of a clearance or of a joint's tilt.
func ofRoom(name string) bool {
	return strings.HasSuffix(name, " clearance") || strings.HasSuffix(name, " tilt")
}

// TestClashesAreMended: a start that breaks three clearances and two tilts ends feasible; every clearance and tilt that holds
// the answer back has a price, nothing else of them has; and each price is what the study gains once that limit has moved
// by a little either way.
func TestClashesAreMended(t *testing.T) {
	st := mustBind(t, clashStudy(t))
	o := st.Objective
	res := o.NewResult()
	o.Evaluate(st.start, st.start, make([]float64, len(o.R)), make([]float64, len(o.G)), res)
	broken := map[string]int{}
	for i := range res.Limits {
		if name := o.Limits[i].Name; ofRoom(name) && res.Limits[i].Over > objectives.Broken {
			_, kind, _ := strings.Cut(name, " ")
			broken[kind]++
		}
	}
	if broken["clearance"] < 3 || broken["tilt"] < 2 {
		t.Fatalf("at design %v are broken; want three clearances and two tilts", broken)
	}

	study := func(change func(f *files.Study)) *Answer {
		f := clashStudy(t)
		change(f)
		return refined(t, f)
	}
	best := study(func(*files.Study) {}).Answers[0]
	if best.Status != "ok" || best.Violation != 0 {
		t.Fatalf("the best run is %s, with a violation of %g", best.Status, best.Violation)
	}
	holding, priced := activeRoom(st, &best)
	t.Logf("score %g; holding %q, priced %q", best.Score, holding, priced)
	if !slices.Equal(holding, priced) {
		t.Errorf("%q hold the answer back, and %q have prices", holding, priced)
	}
	if len(holding) < 4 || !slices.ContainsFunc(holding, func(s string) bool { return strings.HasSuffix(s, " tilt") }) {
		t.Errorf("only %q hold the answer back; the study is to want what more limits forbid", holding)
	}
	for _, p := range best.Prices {
		if p.Kind != "limit" || !ofRoom(p.Of) {
			continue
		}
		by, move := movedRoom(t, &p)
		wide := study(func(f *files.Study) { move(f.Geometry, by) }).Answers[0]
		narrow := study(func(f *files.Study) { move(f.Geometry, -by) }).Answers[0]
		if wide.Status != "ok" || narrow.Status != "ok" {
			t.Fatalf("%s: moved, the best runs are %s and %s", p.Of, wide.Status, narrow.Status)
		}
		if slope := (narrow.Score - wide.Score) / (2 * by); math.Abs(slope-p.Slope) > 0.03*p.Slope {
			t.Errorf("%+v; the slope is %.4g by runs with it moved.", p, slope)
		}
	}
}

// activeRoom returns the clearances and tilts at their end, and those that have a price, both in alphabetical order.
func activeRoom(st *Study, v *Verdict) (holding, priced []string) {
	for i, l := range v.Limits {
		if o := &st.Objective.Limits[i]; ofRoom(l.Name) && math.Min(*l.Got-o.Min, o.Max-*l.Got) < 2e-3 {
			holding = append(holding, l.Name)
		}
	}
	for _, p := range v.Prices {
		if p.Kind == "limit" && ofRoom(p.Of) && p.Slope > 0 {
			priced = append(priced, p.Of)
		}
	}
	slices.Sort(holding)
	slices.Sort(priced)
	return holding, priced
}

// movedRoom says how to give a clearance or a tilt more room, and by how much to check its price: in mm or deg.
func movedRoom(t *testing.T, p *Price) (by float64, move func(g *files.Geometry, by float64)) {
	t.Helper()
	name, kind, _ := strings.Cut(p.Of, " ")
	if kind == "clearance" {
		return 0.1, func(g *files.Geometry, by float64) { g.Clearance(name).Min -= int64(math.Round(by * 1000)) }
	}
	return 0.02, func(g *files.Geometry, by float64) {
		for i := range g.Joints {
			if g.Joints[i].Name == name {
				g.Joints[i].Tilt += by
			}
		}
	}
}

// TestMendedStaysMended: the mended geometry, written out, read again and moved through twenty-five times as many positions,
// has no gap and no tilt beyond what its file allows, on either side of the car.
func TestMendedStaysMended(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "night")
	run(t, clashStudy(t), RunOptions{Dir: dir})
	a := open(t, dir)
	ans, err := a.Rank()
	if err != nil {
		t.Fatal(err)
	}
	written, err := a.Geometry(ans.Answers[0].Run)
	if err != nil {
		t.Fatal(err)
	}
	g := geometryFrom(t, string(written.Encode()))
	wheel, rack := make([]float64, 201), make([]float64, 101)
	for i := range wheel {
		wheel[i] = -40 + 0.4*float64(i)
	}
	for i := range rack {
		rack[i] = -20 + 0.4*float64(i)
	}
	for _, o := range []CycleOptions{{Wheel: wheel}, {Rack: rack}} {
		o.Measures = []string{"arm_to_brace.clearance", "rod_to_arm.clearance", "right.rod_to_arm.clearance", "dampers.clearance", "tie_rod_outer.tilt", "right.tie_rod_outer.tilt"}
		tb, err := Cycle(g, o)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct {
			column     string
			least, top float64
		}{
			{"arm_to_brace_clearance_mm", 10, math.Inf(1)}, {"rod_to_arm_clearance_mm", 26, math.Inf(1)}, {"right_rod_to_arm_clearance_mm", 26, math.Inf(1)},
			{"dampers_clearance_mm", 12, math.Inf(1)}, {"tie_rod_outer_tilt_deg", 0, 4.2}, {"right_tie_rod_outer_tilt_deg", 0, 4.2},
		} {
			values := column(t, tb, c.column)
			if low, high := slices.Min(values), slices.Max(values); low < c.least-1e-4 || high > c.top+1e-2 {
				t.Errorf("%s goes from %g to %g; allowed are %g to %g", c.column, low, high, c.least, c.top)
			}
		}
	}
}

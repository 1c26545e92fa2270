package studies

import (
	"math"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"trammel/optimize"
	"trammel/studies/files"
)

// bracketGeometry is an invented front axle whose bump steer is mended by the height of either end of the tie rod.
const bracketGeometry = "format: 1\nname: invented axle\n" + cornerArms + `  rack_end:      [ -75, 247, 180]
  steering_arm:  [ -85, 632, 184]
  wheel_centre:  [   0, 688, 250]
  damper_foot:   [  30, 556, 152]
  damper_frame:  [  26, 330, 470]
members:
  lower_arm: {arm: [lower_front, lower_rear], ball: lower_ball}
  upper_arm: {arm: [upper_front, upper_rear], ball: upper_ball}
  tie_rod:   {link: [rack_end, steering_arm], ends: [rack, upright]}
  damper:    {damper: [damper_foot, damper_frame], ends: [lower_arm, frame], length: {min: 330, max: 430}}
wheel:  {centre: wheel_centre, camber: -1, toe: 0.1, loaded_radius: 250}
travel: {bump: 50, droop: 50, rack: 30}
`

// bracketStudy may move both ends of the tie rod, and two things that nothing asked for sees.
const bracketStudy = `format: 1
study: brackets
geometry: geometry.yaml
motions:
  heave: {wheel_travel: [-50, 50], positions: 21}
vary:
  rack_end.z:     {by: 15}
  rack_end.y:     {by: 10}
  steering_arm.z: {from: 172, to: 196}
  upper pivots:   {move: [upper_front, upper_rear], along: z, by: 20, step: 1}
  damper_frame.x: {by: 5}
  foot:           {choose: {near: {damper_foot: [30, 556, 152]}, far: {damper_foot: [30, 561, 152]}}}
targets:
  bump steer: {measure: toe, in: heave, hold: 0.1, within: 0.05}
  camber:     {measure: camber, in: heave, follow: {-50: 0.6, 0: -1, 50: -3}, within: 0.15}
limits:
  roll centre: {measure: roll_centre_height, place: {body_roll: 0}, min: 20, max: 70}
stages: [{plan: sobol, runs: 128}, {refine: 8}]
`

// pointOf is where a verdict lies in the space of its study.
func pointOf(st *Study, moved []Moved) *optimize.Point {
	p := st.Space.Design()
	for i := range p.X {
		p.X[i] = moved[i].Now
	}
	for i := range p.Choice {
		p.Choice[i] = slices.Index(st.Space.Choices[i].Options, moved[len(p.X)+i].Kind)
	}
	return &p
}

// without is the bracket study in which one thing does not vary.
func without(t *testing.T, name string) *files.Study {
	f := read(t, bracketStudy, bracketGeometry)
	f.Vary = slices.DeleteFunc(f.Vary, func(v files.Vary) bool { return v.Name == name })
	return f
}

// TestFewestMoved: what is said to need no move is just that in a study run anew without it, what still moves is needed in one,
// and of the two ends of a tie rod the one stays whose point moves in nothing else.
func TestFewestMoved(t *testing.T) {
	f := read(t, bracketStudy, bracketGeometry)
	st := mustBind(t, f)
	ans := refined(t, f)
	best := ans.Answers[0]
	// Wherever the search left what nothing sees, it is moved here.
	p := pointOf(st, best.Moved)
	p.X[4], p.Choice[0] = 27.5, 1
	few := st.fewest(best.Run, p)
	if few == nil {
		t.Fatal("nothing may stay as drawn")
	}
	t.Logf("score %g; %+v", best.Score, few)
	names := slices.Sorted(slices.Values(few.AsDrawn))
	if !slices.Equal(names, []string{"damper_frame.x", "foot", "steering_arm.z"}) || few.Needed != 3 || few.Short {
		t.Errorf("%q may stay as drawn, %d numbers are needed", few.AsDrawn, few.Needed)
	}
	var o optimize.Outcome
	st.NewEvaluator().Evaluate(few.at, &o)
	if o.Status != optimize.OK || o.Score != few.Score || few.Score > best.Score*1.001 || few.Runs < 10 {
		t.Errorf("it is %s with a score of %g, said to be %g after %d runs", o.Status, o.Score, few.Score, few.Runs)
	}
	if err := st.Space.Allows(few.at); err != nil {
		t.Error(err)
	}
	if anew := refined(t, without(t, "steering_arm.z")).Answers[0].Score; math.Abs(anew-few.Score) > 1e-3*anew {
		t.Errorf("a study without steering_arm.z comes to %g, and this to %g", anew, few.Score)
	}
	for _, name := range []string{"rack_end.z", "rack_end.y", "upper pivots"} {
		f := without(t, "steering_arm.z")
		f.Vary = slices.DeleteFunc(f.Vary, func(v files.Vary) bool { return v.Name == name })
		if anew := refined(t, f).Answers[0].Score; anew < 1.01*best.Score {
			t.Errorf("a study without %s comes to %g as well", name, anew)
		}
	}
	for _, procs := range []int{1, 3} {
		was := runtime.GOMAXPROCS(procs)
		again := st.fewest(best.Run, p)
		runtime.GOMAXPROCS(was)
		if !slices.Equal(again.AsDrawn, few.AsDrawn) || again.Score != few.Score || again.Runs != few.Runs || !slices.Equal(again.at.X, few.at.X) {
			t.Errorf("with %d processors %+v", procs, again)
		}
	}
	again := st.fewest(best.Run, few.at)
	if again != nil {
		t.Errorf("of the fewest, still fewer do: %+v", again)
	}
}

// TestFewestSaid: rank says what need not move and how to have its points, which are those that export writes; and where every
// number is needed it says nothing.
func TestFewestSaid(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "night")
	run(t, read(t, bracketStudy, bracketGeometry), RunOptions{Dir: dir})
	a := open(t, dir)
	ans, err := a.Rank()
	if err != nil {
		t.Fatal(err)
	}
	text := ans.Text()
	for _, want := range []string{"\nFewest parts moved: ", "steering_arm.z", " may stay as drawn. With the others searched anew", "--fewest.\n"} {
		if !strings.Contains(text, want) {
			t.Errorf("rank does not say %q:\n%s", want, text)
		}
	}
	x, err := a.Export(BestRun, true)
	if err != nil {
		t.Fatal(err)
	}
	arm, rack := x.Geometry.Points[x.Geometry.Point("steering_arm")].N, x.Geometry.Points[x.Geometry.Point("rack_end")].N
	if arm != [3]int64{-85_000, 632_000, 184_000} {
		t.Errorf("the steering arm stands at %v", arm)
	}
	for _, p := range ans.Fewest.Points {
		if p.Name == "rack_end" && math.Abs(p.Now[2]*1000-float64(rack[2])) > 0.5 {
			t.Errorf("rank has the rack's end at %v, export at %v", p.Now, rack)
		}
	}
	f := without(t, "steering_arm.z")
	f.Vary = f.Vary[:3]
	if ans := refined(t, f); ans.Fewest != nil || strings.Contains(ans.Text(), "Fewest parts moved") || strings.Contains(ans.Text(), "--fewest") {
		t.Errorf("every number is needed:\n%s", ans.Text())
	}
}

// TestFewestOfABrokenLimit: where a limit is broken nothing is said, and export has a sentence about it.
func TestFewestOfABrokenLimit(t *testing.T) {
	f := read(t, strings.Replace(bracketStudy, "min: 20, max: 70", "min: 300", 1), bracketGeometry)
	dir := filepath.Join(t.TempDir(), "night")
	run(t, f, RunOptions{Dir: dir})
	a := open(t, dir)
	if ans, err := a.Rank(); err != nil || ans.Fewest != nil {
		t.Errorf("%v, %+v", err, ans.Fewest)
	}
	if _, err := a.Export(BestRun, true); !IsUsage(err) || !strings.Contains(err.Error(), "breaks a limit: roll centre") {
		t.Errorf("%v", err)
	}
}

// TestFewestOfTheWheatear: a number that does nothing goes back.
func TestFewestOfTheWheatear(t *testing.T) {
	f, err := ReadExample("wheatear")
	if err != nil {
		t.Fatal(err)
	}
	f.Stages[0].Runs, f.Stages[1].Locals = 256, 4
	if ans := refined(t, f); ans.Fewest == nil || !slices.Contains(ans.Fewest.AsDrawn, "upper_outer.z") {
		t.Errorf("%+v", ans.Fewest)
	}
}

// TestEnds: of the numbers at an end of their range, more room is said to help those that have a price.
func TestEnds(t *testing.T) {
	f, err := ReadExample("corncrake")
	if err != nil {
		t.Fatal(err)
	}
	f.Stages[0].Runs, f.Stages[1].Locals = 512, 4
	ans := refined(t, f)
	best := &ans.Answers[0]
	flat := slices.IndexFunc(best.Moved, func(m Moved) bool { return m.Name == "damper_rocker.y" })
	best.Moved[flat].Edge = "high" // where longer searches leave it, with next to no slope
	text := ans.Text()
	said := func(before string) string {
		_, after, _ := strings.Cut(text, "At the end of their range, where more room "+before)
		line, _, _ := strings.Cut(after, "\n")
		return line
	}
	helps, idle := said("helps: "), said("is of no use: ")
	if !strings.Contains(idle, "damper_rocker.y (") || !strings.Contains(helps, "rack height (") {
		t.Errorf("more room helps %q, and is of no use for %q", helps, idle)
	}
	for _, m := range best.Moved {
		priced := slices.ContainsFunc(best.Prices, func(p Price) bool {
			return p.Kind == "range" && p.Of == m.Name && strings.Contains(text, p.Says)
		})
		if m.Edge != "" && priced != strings.Contains(helps, m.Name+" (") || m.Edge == "" && strings.Contains(helps+idle, m.Name+" (") {
			t.Errorf("%+v, with a price that is told: %v; more room helps %q, and is of no use for %q", m, priced, helps, idle)
		}
	}
}

package studies

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"trammel/optimize"
	"trammel/studies/files"
)

// tuned is a study that flips the rocker's damper eye and tunes it in the same night: its y by its place, its z by a shift from
// where the option puts it.
func tuned(t testing.TB, high string) *files.Study {
	t.Helper()
	return read(t, studyOf(`  eye: {choose: {low: {}, high: {damper_rocker: [-4, 277, `+high+`]}}}
  damper_rocker.y: {from: 262, to: 290}
  eye height: {move: [damper_rocker], along: z, by: 6}
  rack_end.z: {by: 12}
`)+"stages: [{plan: sobol, runs: 200}, {refine: 6}]\n", text(t, "corncrake", "corncrake-front.yaml"))
}

// TestChoiceAndNumberOfOnePoint: what a choice leaves free of a point is a number of its own in plans and searches, in the record, the
// answer and the written geometry. A geometry edited by hand to where a row says that the point stands has the row's score.
func TestChoiceAndNumberOfOnePoint(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "night")
	run(t, tuned(t, "477"), RunOptions{Dir: dir})
	a := open(t, dir)
	eyes := map[int]float64{0: 467, 1: 477}
	at := func(p *optimize.Point) [3]float64 { return [3]float64{-4, p.X[0], eyes[p.Choice[0]] + p.X[1]} }
	var tried [2]int
	if err := a.scan(func(number int64, p *optimize.Point, o *optimize.Outcome) {
		if tried[p.Choice[0]]++; number%7 != 0 || o.Status.Failed() {
			return
		}
		eye := at(p)
		rack := p.X[2]
		hand := bind(t, studyOf("  upper_front.x: {by: 1}"), edited(t, text(t, "corncrake", "corncrake-front.yaml"), map[string]string{
			"damper_rocker": fmt.Sprintf("%.3f, %.3f, %.3f", eye[0], eye[1], eye[2]), "rack_end": fmt.Sprintf("-74, 246, %.3f", rack)}))
		design := hand.Space.Design()
		if got := outcome(hand, nil, &design); got.Score != o.Score || got.Status != o.Status {
			t.Errorf("run %d, %v with %v: score %g, and %g with the points edited by hand", number, p.Choice, p.X, o.Score, got.Score)
		}
	}); err != nil {
		t.Fatal(err)
	}
	if tried[0] < 90 || tried[1] < 90 {
		t.Errorf("low and high were tried %v times", tried)
	}
	ans, err := a.Rank()
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range ans.Answers {
		_, p, err := a.point(v.Run)
		if err != nil {
			t.Fatal(err)
		}
		g, err := a.Geometry(v.Run)
		if err != nil {
			t.Fatal(err)
		}
		want := at(p)
		for k, n := range g.Points[g.Point("damper_rocker")].N {
			if math.Abs(g.Units.Value(n)-want[k]) > 1e-9 {
				t.Errorf("answer %d: the written eye stands at %v, the row says %v", i, g.Points[g.Point("damper_rocker")].N, want)
			}
		}
		for _, q := range v.Points {
			if q.Name == "damper_rocker" && q.Now != want {
				t.Errorf("answer %d: the eye is said to stand at %v, the row says %v", i, q.Now, want)
			}
		}
	}

	// Scored anew by other targets, with the points as they were.
	other := strings.Replace(string(tuned(t, "477").Text), "within: 0.3", "within: 0.25", 1)
	if other == string(tuned(t, "477").Text) {
		t.Fatal("the other targets are the same")
	}
	base := t.TempDir()
	for name, text := range map[string]string{"new.yaml": other, "geometry.yaml": text(t, "corncrake", "corncrake-front.yaml")} {
		if err := os.WriteFile(filepath.Join(base, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	f, err := ReadStudy(filepath.Join(base, "new.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := a.Retarget(filepath.Join(base, "new.yaml")); err != nil {
		t.Fatal(err)
	}
	st, count := mustBind(t, f), 0
	e := st.NewEvaluator()
	if err := a.scan(func(number int64, p *optimize.Point, o *optimize.Outcome) {
		if got := outcome(st, e, p); number%5 == 0 && !o.Status.Failed() {
			if count++; got.Score != o.Score {
				t.Errorf("run %d scores %g by the other targets, and %g in a study of them", number, o.Score, got.Score)
			}
		}
	}); err != nil || count < 20 {
		t.Errorf("%d runs were scored anew (%v)", count, err)
	}
}

// TestFromCountsFromTheOption: an older night's points stand where they stood, though the same option now puts them elsewhere: its
// numbers count from there.
func TestFromCountsFromTheOption(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "night")
	run(t, tuned(t, "477"), RunOptions{Dir: dir})
	a := open(t, dir)
	st := mustBind(t, tuned(t, "479"))
	for choice, want := range []float64{2, 0} { // 2 from low; from high the two that the option has gone up are taken off
		p := st.translated(a, &optimize.Point{X: []float64{270, 2, 185}, Choice: []int{choice}})
		if p.Choice[0] != choice || p.X[0] != 270 || p.X[1] != want || p.X[2] != 185 {
			t.Errorf("option %d: %v with %v; the shift should be %g", choice, p.Choice, p.X, want)
		}
	}
}

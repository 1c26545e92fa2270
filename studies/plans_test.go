package studies

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"trammel/optimize"
	"trammel/studies/files"
	"trammel/studies/record"
)

// planned runs a study whose only stage is given, with a table of designs beside it, and returns the
// points of that stage in order.
func planned(t *testing.T, stage, table string) (*Study, []optimize.Point) {
	t.Helper()
	study := `format: 1
study: a plan
geometry: geometry.yaml
vary:
  upper_ball.z: {from: 340, to: 360, step: 2}
  rack: {move: [rack_end], along: z, by: 3}
  rocker: {choose: {high: {damper_rocker: [-4, 270, 470]}, as drawn: {}}}
motions:
  heave: {wheel_travel: [-40, 40], positions: 5}
targets:
  camber: {measure: camber, in: heave, hold: -1, within: 0.2}
stages:
  - ` + stage + "\n"
	disk := fstest.MapFS{"study.yaml": {Data: []byte(study)}, "designs.csv": {Data: []byte(table)},
		"geometry.yaml": {Data: []byte(text(t, "corncrake", "corncrake-front.yaml"))}}
	f, err := files.ReadStudy(disk.ReadFile, "study.yaml")
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(t.TempDir(), "night")
	if res := run(t, f, RunOptions{Dir: dir}); res.Ended != Finished {
		t.Fatalf("%s: ended %v", stage, res.Ended)
	}
	a := open(t, dir)
	var points []optimize.Point
	err = scanRuns(a.view, a.Study, nil, func(run int64, p *optimize.Point, o *optimize.Outcome, _ []float64) {
		if run >= optimize.RunNumber(1, 0, 0) {
			points = append(points, optimize.Point{X: slices.Clone(p.X), Choice: slices.Clone(p.Choice)})
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	if n := a.view.NumRows(record.TableRuns); n != int64(len(points))+1 {
		t.Errorf("%s: %d rows for %d points and the design", stage, n, len(points))
	}
	return a.Study, points
}

// TestPlans runs every kind of plan: it makes as many runs as it should, all of them allowed.
func TestPlans(t *testing.T) {
	table := "rack,rocker,upper_ball.z\n0,as drawn,350\n-2.5,high,342\n3,High,360\n"
	for _, c := range []struct {
		stage    string
		runs     int
		distinct int
	}{
		{"{plan: sobol, runs: 64}", 64, 64},
		{"{plan: latin-hypercube, runs: 50}", 50, 50},
		{"{plan: halton, runs: 50}", 50, 50},
		{"{plan: random, runs: 50}", 50, 40},
		{"{plan: factorial, levels: 3}", 18, 18},
		{"{plan: one-at-a-time, levels: 5}", 0, 0}, // below
		{"{plan: points, table: designs.csv}", 3, 3},
	} {
		st, points := planned(t, c.stage, table)
		seen := map[string]bool{}
		for i := range points {
			p := &points[i]
			seen[fmt.Sprint(p.X, p.Choice)] = true
			if err := st.Space.Allows(p); err != nil {
				t.Errorf("%s, point %d: %v", c.stage, i, err)
			}
		}
		if c.runs > 0 && len(points) != c.runs || len(seen) < c.distinct {
			t.Errorf("%s: %d points, %d distinct; want %d, %d", c.stage, len(points), len(seen), c.runs, c.distinct)
		}
		switch {
		case strings.Contains(c.stage, "one-at-a-time"):
			oneAtATime(t, st, points)
		case strings.Contains(c.stage, "points"):
			want := []optimize.Point{{X: []float64{350, 0}, Choice: []int{1}}, {X: []float64{342, -2.5}, Choice: []int{0}}, {X: []float64{360, 3}, Choice: []int{0}}}
			for i := range want {
				if !slices.Equal(points[i].X, want[i].X) || !slices.Equal(points[i].Choice, want[i].Choice) {
					t.Errorf("row %d of the table ran as %v %v", i+1, points[i].X, points[i].Choice)
				}
			}
		case strings.Contains(c.stage, "factorial"):
			for _, x := range []float64{340, 350, 360} {
				for _, y := range []float64{-3, 0, 3} {
					for _, k := range []int{0, 1} {
						if !seen[fmt.Sprint([]float64{x, y}, []int{k})] {
							t.Errorf("the factorial leaves out %v %v %d", x, y, k)
						}
					}
				}
			}
		}
	}
}

// TestOnlyChoices: a study whose choices alone vary and that names no stages tries every combination once.
func TestOnlyChoices(t *testing.T) {
	study := `format: 1
study: choices
geometry: geometry.yaml
vary:
  rocker: {choose: {high: {damper_rocker: [-4, 270, 470]}, as drawn: {}}}
  rack:   {choose: {as drawn: {}, up: {rack_end: [-85, 232, 152]}, down: {rack_end: [-85, 232, 142]}}}
motions: {heave: {wheel_travel: [-40, 40], positions: 5}}
targets: {camber: {measure: camber, in: heave, hold: -1, within: 0.2}}
`
	f := read(t, study, text(t, "corncrake", "corncrake-front.yaml"))
	says, err := CheckStudy(f)
	if err != nil || !strings.Contains(says, "7 runs") {
		t.Errorf("%v:\n%s", err, says)
	}
	dir := filepath.Join(t.TempDir(), "night")
	if res := run(t, f, RunOptions{Dir: dir}); res.Ended != Finished || res.Runs != 7 {
		t.Fatalf("ended %v after %d runs", res.Ended, res.Runs)
	}
	a, seen := open(t, dir), map[string]int{}
	if err := scanRuns(a.view, a.Study, nil, func(run int64, p *optimize.Point, o *optimize.Outcome, _ []float64) {
		if run > 0 {
			seen[fmt.Sprint(p.Choice)]++
		}
	}); err != nil {
		t.Fatal(err)
	}
	for i := range 2 {
		for k := range 3 {
			if n := seen[fmt.Sprint([]int{i, k})]; n != 1 {
				t.Errorf("combination %d, %d was run %d times", i, k, n)
			}
		}
	}
	if _, err := a.Rank(); err != nil {
		t.Error(err)
	}
	// What cannot be done is refused where it is asked for.
	bad := mustBind(t, read(t, study+"stages: [{refine: 4}]\n", text(t, "corncrake", "corncrake-front.yaml")))
	if _, err := bad.newStage(1, nil); err == nil || err.Error() != "study.yaml:9:10: only choices vary, so there is nothing to refine; a factorial plan tries all of them" {
		t.Errorf("%v", err)
	}
}

// oneAtATime checks that every point differs from the design in at most one number or choice, that both
// ends of every range are there, and that the other option is.
func oneAtATime(t *testing.T, st *Study, points []optimize.Point) {
	t.Helper()
	d := st.Space.Design()
	ends := map[string]bool{}
	for i := range points {
		n := 0
		for k, x := range points[i].X {
			if x != d.X[k] {
				n++
			}
			ends[fmt.Sprint(k, x)] = true
		}
		for k, c := range points[i].Choice {
			if c != d.Choice[k] {
				n++
				ends["other option"] = true
			}
		}
		if n > 1 {
			t.Errorf("point %d differs from the design in %d things", i, n)
		}
	}
	for _, want := range []string{"0 340", "0 360", "1 -3", "1 3", "other option"} {
		if !ends[want] {
			t.Errorf("one at a time never comes to %s", want)
		}
	}
}

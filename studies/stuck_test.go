package studies

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"trammel/studies/record"
)

// A study whose motion is too large for every candidate says so before it begins, and rank says of the record how many stop in
// which motion, why and where; the counts are those of the rows.
func TestNothingGoesThrough(t *testing.T) {
	f := read(t, `format: 1
study: too far
geometry: geometry.yaml
motions:
  lean: {body_roll: [-25, 25], positions: 11}
vary:
  pushrod_head.z: {by: 5}
  upper_ball.z: {by: 5}
targets:
  camber: {measure: camber, in: lean, even: true, within: 1}
stages: [{plan: sobol, runs: 64}]
`, text(t, "corncrake", "corncrake-front.yaml"))
	dir := filepath.Join(t.TempDir(), "night")
	var said []string
	res, err := Run(context.Background(), f, RunOptions{Dir: dir, Announce: func(s string) { said = append(said, s) }})
	if err != nil || res.Feasible > 0 {
		t.Fatalf("%v, %+v", err, res)
	}
	const design = "The design does not go through lean (study.yaml:5:3): at body_roll "
	if len(said) != 2 || !strings.HasPrefix(said[0], design) || !strings.Contains(said[0], "; the body rolls from -") {
		t.Errorf("it is announced as %q", said)
	}
	a, err := OpenArchive(dir)
	if err != nil {
		t.Fatal(err)
	}
	ans, err := a.Rank()
	if err != nil {
		t.Fatal(err)
	}
	rows := map[string]int64{}
	if err := a.view.Scan(record.TableRuns, []string{"place_motion", "reason"}, func(r *record.Rows) error {
		for row := range r.Len() {
			motion, _ := r.TextAt(0, row)
			reason, _ := r.TextAt(1, row)
			rows[motion+reason]++
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	if len(ans.Stops) == 0 || len(ans.Stops) != len(rows) {
		t.Fatalf("%d stops of %v", len(ans.Stops), rows)
	}
	says := ans.Text()
	for i, s := range ans.Stops {
		if s.Motion != "lean" || s.Runs != rows[s.Motion+s.Reason] || i > 0 && s.Runs > ans.Stops[i-1].Runs {
			t.Errorf("%+v, and the rows have %v", s, rows)
		}
		if want := fmt.Sprintf("%d of 65 stop in lean, where %s, most often at body_roll ", s.Runs, s.Reason); i < stopsTold && !strings.Contains(says, want) {
			t.Errorf("it lacks %q:\n%s", want, says)
		}
	}
	if !strings.Contains(says, design) {
		t.Errorf("it does not say where the design stops:\n%s", says)
	}
}

// Of cars that are built with errors and jam, the answer says first how many do, in which motion and why; every one is counted
// at one place. As drawn the wheel closes to +107.3 mm.
func TestBuiltCarsJam(t *testing.T) {
	const study = `format: 1
study: near its end
geometry: geometry.yaml
motions:
  heave: {wheel_travel: [-50, 107], positions: 41}
vary:
  upper_ball.z: {by: 5}
targets:
  bump steer: {measure: bump_steer, in: heave, hold: 0, within: 0.01, robust: true}
stages: [{plan: sobol, runs: 4}]
`
	ans := ranked(t, read(t, study, text(t, "corncrake", "corncrake-front.yaml")))
	b := ans.Answers[0].Targets[0].Built
	if b == nil || b.Failed == 0 || b.Failed == b.Cars {
		t.Fatalf("of cars with errors some jam: %+v", b)
	}
	var sum int64
	for _, s := range b.Stops {
		sum += s.Runs
	}
	first := b.Stops[0]
	if sum != int64(b.Failed) || first.Motion != "heave" || first.Reason != "pushrod and rocker line up" || first.Place != "wheel_travel +107 mm" {
		t.Errorf("%d jam: %+v", b.Failed, b.Stops)
	}
	want := fmt.Sprintf("nothing adjusted):\n  %d of 1,024 built cars do not go through every motion, and the losses leave them out: %d stop in heave, where pushrod and rocker line up, most often at wheel_travel +107 mm", b.Failed, first.Runs)
	if says := ans.Text(); !strings.Contains(says, want) {
		t.Errorf("it lacks %q:\n%s", want, says)
	}
}

package studies

import (
	"path/filepath"
	"strings"
	"testing"

	"trammel/studies/record"
)

// stuckStudy varies the tie rod alone, which no angle or length of the arms sees.
const stuckStudy = `format: 1
study: stuck
geometry: geometry.yaml
motions:
  heave: {wheel_travel: [-50, 50], positions: 5}
vary:
  rack_end.z: {by: 15}
VARY
targets:
  bump steer: {measure: toe, in: heave, hold: 0.1, within: 0.05}
TARGETS
limits:
  leans: {measure: camber, place: {wheel_travel: 0}, max: -0.5}
LIMITS
stages: [{plan: sobol, runs: 64}]
`

// TestUnmoved: a target or limit that nothing which varies moves is told, with what it is and what is asked, and a run bears it out; one that
// something moves, if only one option of a choice, is not.
func TestUnmoved(t *testing.T) {
	for _, c := range []struct {
		name, vary, targets, limits string
		says                        []string // each once, and no remark without one of them
		feasible                    bool
	}{
		{name: "nothing", feasible: true, says: []string{
			"study.yaml:11:3: nothing that varies moves camber: limit leans allows at most -0.5 deg and has -1 deg in every run, so that it steers nothing."}},
		{name: "limit", limits: "  steep: {measure: caster, place: {wheel_travel: 0}, min: 8}", says: []string{
			"study.yaml:12:3: nothing that varies moves caster: it is 5.074 deg as drawn, and at least 8 deg is allowed, so that no run can keep limit steep.", "limit leans"}},
		{name: "limit in one place", limits: "  steep: {measure: camber, in: heave, max: -1.5}", says: []string{
			"nothing that varies moves camber at wheel 0 mm: it is -1 deg there as drawn, and at most -1.5 deg is allowed, so that no run can keep limit steep.", "limit leans"}},
		{name: "limit on its edge", limits: "  steep: {measure: caster, place: {wheel_travel: 0}, min: 5}", feasible: true, says: []string{
			"nothing that varies moves caster: limit steep allows at least 5 deg and has 5.074 deg in every run, so that it steers nothing.", "limit leans"}},
		{name: "spread", limits: "  still: {measure: caster, in: heave, spread: 0.05}", says: []string{"limit leans"}},
		{name: "part", vary: "", limits: "  short: {measure: damper.length, in: heave, max: 400}", says: []string{"what varies moves damper.length by far too little: in 64 geometries from all over the ranges it goes from 421.3 mm to 421.4 mm at wheel -50 mm, and at most 400 mm is allowed", "limit leans"}},
		{name: "target", targets: "  lead: {measure: caster_trail, place: {wheel_travel: 0}, value: 40, within: 1}", feasible: true, says: []string{
			"study.yaml:10:3: nothing that varies moves caster_trail: it is 18.01 mm as drawn, and 40 mm ± 1 mm is asked, so that no run can meet target lead.", "limit leans"}},
		{name: "target met", targets: "  lead: {measure: caster_trail, place: {wheel_travel: 0}, at_least: 10, within: 1}", feasible: true, says: []string{
			"nothing that varies moves caster_trail: target lead asks at least 10 mm ± 1 mm and has 18.01 mm in every run, so that it steers nothing.", "limit leans"}},
		{name: "target at ride height", vary: "  upper_ball.z: {by: 3}", targets: "  wheels: {measure: camber, in: heave, hold: -2, within: 0.5}", feasible: true, says: []string{
			"nothing that varies moves camber at wheel 0 mm: it is -1 deg there as drawn, and -2 deg ± 0.5 deg is asked, so that no run can meet target wheels.", "limit leans"}},
		{name: "moved", vary: "  upper_ball.z: {by: 3}", targets: "  lead: {measure: caster_trail, place: {wheel_travel: 0}, value: 40, within: 1}",
			limits: "  steep: {measure: caster, place: {wheel_travel: 0}, max: 5.074}", feasible: true, says: []string{"limit leans"}},
		{name: "moved by a choice", vary: "  kit: {choose: {a: {upper_ball: [-13, 615, 349]}, b: {upper_ball: [-40, 615, 349]}}}", limits: "  steep: {measure: caster, place: {wheel_travel: 0}, min: 6}", feasible: true, says: []string{"limit leans"}},
		{name: "hardly", vary: "  upper_ball.x: {by: 0.5}", limits: "  steep: {measure: caster, place: {wheel_travel: 0}, min: 8}", says: []string{
			"what varies moves caster by far too little: in 64 geometries from all over the ranges it goes from ", "limit leans"}},
		{name: "not hardly", vary: "  upper_ball.x: {by: 8}", limits: "  steep: {measure: caster, place: {wheel_travel: 0}, min: 8}", says: []string{"limit leans"}},
	} {
		text := strings.NewReplacer("VARY\n", ended(c.vary), "TARGETS\n", ended(c.targets), "LIMITS\n", ended(c.limits)).Replace(stuckStudy)
		f := read(t, text, bracketGeometry)
		st := mustBind(t, f)
		notes := st.unmoved()
		if len(notes) != len(c.says) {
			t.Errorf("%s: %d remarks, not %d:\n%s", c.name, len(notes), len(c.says), notes.Error())
		}
		for _, want := range c.says {
			if strings.Count(notes.Error(), want) != 1 {
				t.Errorf("%s: no remark %q, or several:\n%s", c.name, want, notes.Error())
			}
		}
		checked, err := CheckStudy(f)
		if err != nil {
			t.Fatal(err)
		}
		dir, told := filepath.Join(t.TempDir(), "night"), ""
		res := run(t, f, RunOptions{Dir: dir, Announce: func(s string) { told += s + "\n" }, Record: record.DefaultOptions()})
		for _, n := range notes {
			if !strings.Contains(checked, n.String()) || !strings.Contains(told, n.String()) {
				t.Errorf("%s: check or the beginning of a run does not say %q", c.name, n)
			}
		}
		if (res.Feasible > 0) != c.feasible {
			t.Errorf("%s: %d runs keep every limit", c.name, res.Feasible)
		}
		ans, err := open(t, dir).Rank()
		if err != nil {
			t.Fatal(err)
		}
		if says := strings.Contains(ans.Text(), "so that no run can keep limit") || strings.Contains(ans.Text(), "so that no run is to be expected to keep limit"); says != (!c.feasible && len(c.says) > 1) {
			t.Errorf("%s: rank says:\n%s", c.name, ans.Text())
		}
	}
}

func ended(s string) string {
	if s == "" {
		return ""
	}
	return s + "\n"
}

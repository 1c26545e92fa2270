package studies

import (
	"math"
	"regexp"
	"testing"
)

// TestNothingIsSaidAsNothing: what rounding leaves of 0, and a place that is 0 but for how finely it was found, are told as 0.
func TestNothingIsSaidAsNothing(t *testing.T) {
	f, err := ReadExample("twite")
	if err != nil {
		t.Fatal(err)
	}
	st, err := Bind(f)
	if err != nil {
		t.Fatal(err)
	}
	for x, want := range map[float64]string{4.5e-15: "0 deg", -4.5e-15: "0 deg", 1e-5: "1e-05 deg", -0.25: "-0.25 deg"} {
		if got := st.say(x, "deg"); got != want {
			t.Errorf("%g is told as %q; want %q", x, got, want)
		}
	}
	for x, want := range map[float64]float64{-0.0001386: 0, 79.33349: 79.333, -150: -150} {
		if got := thousandths(x); got != want {
			t.Errorf("%g mm is told as %g; want %g", x, got, want)
		}
	}
}

// Where no run keeps every limit, the scale of each stands beside it, and what broken limits are passed by, each over its
// scale, makes the violation. check says the same of the design.
func TestScalesAreTold(t *testing.T) {
	const study = `format: 1
study: too much
geometry: geometry.yaml
motions:
  heave: {wheel_travel: [-50, 50], positions: 5}
vary:
  upper_ball.z: {by: 5}
targets:
  camber: {measure: camber, in: heave, even: true, within: 1}
limits:
  caster: {measure: caster, place: {wheel_travel: 0}, min: 50, scale: 2}
  trail: {measure: caster_trail, place: {wheel_travel: 0}, min: 90}
  track: {measure: half_track_change, in: heave, max: 90}
stages: [{plan: sobol, runs: 4}]
`
	f := read(t, study, text(t, "corncrake", "corncrake-front.yaml"))
	ans := ranked(t, f)
	best := &ans.Answers[0]
	sum := 0.0
	says := ans.Text()
	for i, want := range []struct {
		least, scale float64
		says         string
	}{{50, 2, "2 deg"}, {90, 1, "1 mm"}, {0, 1, "1 mm"}} {
		l := &best.Limits[i]
		if l.Scale != want.scale || l.Broken && math.Abs(l.Over-(want.least-*l.Got)/want.scale) > 1e-9 {
			t.Errorf("%+v: want scale %g, and passed by what it lacks over that", l, want.scale)
		}
		if l.Broken {
			sum += l.Over
		}
		row := regexp.MustCompile(`(?m)^  ` + l.Name + ` .* ` + want.says + ` +` + map[bool]string{true: short(l.Over) + ` scales +no$`, false: `yes$`}[l.Broken])
		if !row.MatchString(says) {
			t.Errorf("the answer has no line like %s:\n%s", row, says)
		}
	}
	if !best.Limits[0].Broken || !best.Limits[1].Broken || best.Limits[2].Broken || math.Abs(sum-best.Violation) > 1e-9 {
		t.Errorf("limits %+v, violation %g", best.Limits, best.Violation)
	}
	checked, err := CheckStudy(f)
	if err != nil || !regexp.MustCompile(`caster: 1 value, broken at design by [0-9.]+ of its scale of 2 deg \(allowed at least 50 deg; `).MatchString(checked) {
		t.Errorf("%v:\n%s", err, checked)
	}
}

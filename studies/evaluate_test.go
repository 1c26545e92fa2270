package studies

import (
	"errors"
	"io/fs"
	"math"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"trammel/optimize"
	"trammel/studies/files"

	"gonum.org/v1/gonum/spatial/r3"
)

// bareFiles are examples as they were before anything took room: most tests are about something else.
const bareFiles = "testdata/bare/"

// text returns a file of an example, the bare one where there is one.
func text(t testing.TB, example, name string) string {
	t.Helper()
	e, err := LookupExample(example)
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(bareFiles + name)
	if errors.Is(err, fs.ErrNotExist) {
		b, err = e.Text(name)
	}
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// edited returns the text of a geometry with points moved by hand: coordinates as the file writes them.
func edited(t testing.TB, geometry string, points map[string]string) string {
	t.Helper()
	for name, at := range points {
		re := regexp.MustCompile(`(?m)^  ` + name + `:\s*\[[^]]*\]`)
		if !re.MatchString(geometry) {
			t.Fatalf("no point %s to edit", name)
		}
		geometry = re.ReplaceAllString(geometry, "  "+name+": ["+at+"]")
	}
	return geometry
}

// twin is the other side of the car: the same text with every y and the side turned over.
func twin(geometry string) string {
	re := regexp.MustCompile(`(?m)^(  [a-z_]+:\s*\[\s*[-0-9.]+\s*,\s*)([-0-9.]+)(\s*,)`)
	geometry = re.ReplaceAllStringFunc(geometry, func(s string) string {
		m := re.FindStringSubmatch(s)
		y, off := strings.CutPrefix(m[2], "-")
		if !off {
			y = "-" + y
		}
		return m[1] + y + m[3]
	})
	return strings.Replace(geometry, "side: left", "side: right", 1)
}

// read reads a study from texts.
func read(t testing.TB, study, geometry string) *files.Study {
	t.Helper()
	disk := fstest.MapFS{"study.yaml": {Data: []byte(study)}, "geometry.yaml": {Data: []byte(geometry)}}
	f, err := files.ReadStudy(disk.ReadFile, "study.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// bind reads and binds a study from texts.
func bind(t testing.TB, study, geometry string) *Study {
	t.Helper()
	st, err := Bind(read(t, study, geometry))
	if err != nil {
		t.Fatal(err)
	}
	return st
}

// wishes are targets and limits of every unit and kind, for studies whose vary is put in front.
const wishes = `
motions:
  heave: {wheel_travel: [-40mm, 40mm], positions: 9}
  steer: {rack_travel: [-20mm, 20mm], positions: 5}
  both: {wheel_travel: [-30mm, 30mm], rack_travel: [-10mm, 10mm], positions: [3, 3]}
targets:
  camber: {measure: camber, in: heave, follow: {-40mm: 0.4, 40mm: -3}, within: 0.3}
  toe: {measure: toe, in: both, hold: 0.1, within: 0.1}
  ratio: {measure: damper.installation_ratio, in: heave, straight: true, within: 0.01}
  trail: {measure: caster_trail, place: {wheel_travel: 0}, value: 24mm, within: 2mm}
limits:
  stroke: {measure: damper.length, in: heave, min: 220mm, max: 270mm}
  lock: {measure: steer_angle, in: steer, spread: 30}
`

func studyOf(vary string) string {
	return "format: 1\nstudy: a test\ngeometry: geometry.yaml\nvary:\n" + vary + wishes
}

// outcome evaluates a point.
func outcome(st *Study, e *Evaluator, p *optimize.Point) (o optimize.Outcome) {
	if e == nil {
		e = st.NewEvaluator()
	}
	e.Evaluate(p, &o)
	return o
}

// TestVaryMovesWhatItShould compares every way to vary with a geometry file edited by hand: every point
// where it should be, and the candidate's score that of the edited file as it stands, to the bit where
// points move on the lattice.
func TestVaryMovesWhatItShould(t *testing.T) {
	mm := text(t, "corncrake", "corncrake-front.yaml")
	inch := text(t, "corncrake-inch", "corncrake-front-inch.yaml")
	slanted := edited(t, mm, map[string]string{"tube_outer": "-4, 180, 198"}) // from tube_inner 3-4-5
	for _, c := range []struct {
		name     string
		geometry string
		vary     string
		x        []float64
		choice   []int
		points   map[string]string
		exact    bool
	}{
		{"a coordinate", mm, "  upper_ball.z: {from: 340, to: 360}", []float64{347.305}, nil,
			map[string]string{"upper_ball": "-12, 617, 347.305"}, true},
		{"by", mm, "  steering_arm.y: {by: 5}", []float64{630.001}, nil,
			map[string]string{"steering_arm": "-84, 630.001, 184"}, true},
		{"steps from design", mm, "  upper_rear.x: {by: 5, step: 0.7}", []float64{-138 + 2.1}, nil,
			map[string]string{"upper_rear": "-135.9, 292, 310"}, true},
		{"several points tied", mm, "  lower arm: {move: [lower_front, lower_rear], along: z, by: 10}", []float64{-3.25}, nil,
			map[string]string{"lower_front": "168, 226, 136.75", "lower_rear": "-152, 240, 130.75"}, true},
		{"along a line", mm, "  damper mount: {move: [damper_frame], along: [tube_inner, tube_outer], by: 20}", []float64{7.5}, nil,
			map[string]string{"damper_frame": "-4, 39.5, 438"}, false},
		{"along a slanted line, from the second point back", slanted, "  damper mount: {move: [damper_frame], along: [tube_outer, tube_inner], by: 20}", []float64{-5}, nil,
			map[string]string{"damper_frame": "-4, 35, 434"}, false},
		{"a choice", mm, "  rocker: {choose: {as drawn: {}, high: {damper_rocker: [-4, 270, 470], damper_frame: [-4, 30, 450]}}}", nil, []int{1},
			map[string]string{"damper_rocker": "-4, 270, 470", "damper_frame": "-4, 30, 450"}, true},
		{"a choice, as drawn", mm, "  rocker: {choose: {as drawn: {}, high: {damper_rocker: [-4, 270, 470]}}}", nil, []int{0}, nil, true},
		{"a choice of one coordinate, another varied by its place", mm, "  rocker: {choose: {as drawn: {}, high: {damper_rocker: [-4, 277, 477]}}}\n  damper_rocker.y: {from: 260, to: 290}", []float64{281}, []int{1},
			map[string]string{"damper_rocker": "-4, 281, 477"}, true},
		{"a choice, and a shift from its option's place", mm, "  damper_rocker.x: {by: 9}\n  shims: {move: [damper_rocker, rack_end], along: z, by: 9}\n  rocker: {choose: {as drawn: {}, high: {damper_rocker: [-4, 270, 477]}}}", []float64{-6, -2}, []int{1},
			map[string]string{"damper_rocker": "-6, 270, 475", "rack_end": "-74, 246, 180"}, true},
		{"a choice, and a slide from its option's place", mm, "  rocker: {choose: {as drawn: {}, high: {damper_frame: [-4, 40, 450]}}}\n  damper mount: {move: [damper_frame], along: [tube_inner, tube_outer], by: 20}", []float64{7.5}, []int{1},
			map[string]string{"damper_frame": "-4, 47.5, 450"}, false},
		{"two choices of one point", mm, "  height: {choose: {as drawn: {}, high: {damper_rocker: [-4, 277, 477]}}}\n  width: {choose: {narrow: {damper_rocker: [-4, 270, 467]}, as drawn: {}}}", nil, []int{1, 0},
			map[string]string{"damper_rocker": "-4, 270, 477"}, true},
		{"several at once", mm, "  rocker: {choose: {low: {damper_rocker: [-4, 270, 470]}, as drawn: {}}}\n  upper_ball.z: {by: 9}\n  rack: {move: [rack_end], along: z, by: 9}\n  upper_ball.x: {by: 9}",
			[]float64{351, -2, -10}, []int{0}, map[string]string{"damper_rocker": "-4, 270, 470", "upper_ball": "-10, 617, 351", "rack_end": "-74, 246, 180"}, true},
		{"an inch file, x to the rear", inch, "  upper_ball.x: {from: 24, to: 25}", []float64{24.6789}, nil,
			map[string]string{"upper_ball": "24.6789, -24.2913, 12.2795"}, true},
		{"an inch file, y to the right", inch, "  rack: {move: [rack_end], along: y, by: 0.5}", []float64{-0.125}, nil,
			map[string]string{"rack_end": "26.9134, -9.81, 5.6654"}, true},
		{"an inch file, a width in mm", inch, "  upper_ball.z: {by: 12.7mm}", []float64{12.7795}, nil,
			map[string]string{"upper_ball": "24.4724, -24.2913, 12.7795"}, true},
		{"an inch file, along a line", inch, "  damper mount: {move: [damper_frame], along: [tube_inner, tube_outer], by: 0.8}", []float64{0.25}, nil,
			map[string]string{"damper_frame": "24.1575, -1.5098, 15.7441"}, false},
		{"the right side", twin(mm), "  rack_end.y: {by: 9}\n  lower arm: {move: [lower_front, lower_rear], along: z, by: 10}", []float64{-240, 2}, nil,
			map[string]string{"rack_end": "-74, -240, 182", "lower_front": "168, -226, 142", "lower_rear": "-152, -240, 136"}, true},
		{"the right side, along a line", twin(mm), "  damper mount: {move: [damper_frame], along: [tube_inner, tube_outer], by: 20}", []float64{7.5}, nil,
			map[string]string{"damper_frame": "-4, -39.5, 438"}, false},
		{"the right side, a choice", twin(mm), "  rocker: {choose: {as drawn: {}, high: {damper_rocker: [-4, -270, 470]}}}", nil, []int{1},
			map[string]string{"damper_rocker": "-4, -270, 470"}, true},
	} {
		st := bind(t, studyOf(c.vary), c.geometry)
		hand := bind(t, studyOf("  upper_front.x: {by: 1}"), edited(t, c.geometry, c.points))
		p := optimize.Point{X: c.x, Choice: c.choice}
		st.Space.Snap(p.X, p.X)
		e := st.NewEvaluator()
		e.place(&p)
		tolerance := 0.0
		if !c.exact {
			tolerance = 1e-12 * 1000 // rounding of a unit vector, at points a metre away
		}
		for i, want := range hand.File.Geometry.Linkage().Points {
			if r3.Norm(r3.Sub(e.points[i], want.At)) > tolerance {
				t.Errorf("%s: %s stands at %v, want %v", c.name, want.Name, e.points[i], want.At)
			}
		}
		design := hand.Space.Design()
		got, want := outcome(st, e, &p), outcome(hand, nil, &design)
		if got.Status != want.Status || c.exact && (got.Score != want.Score || got.Violation != want.Violation) || math.Abs(got.Score-want.Score) > 1e-8*(1+want.Score) {
			t.Errorf("%s: %v, score %v, violation %v; the file edited by hand %v, %v, %v", c.name, got.Status, got.Score, got.Violation, want.Status, want.Score, want.Violation)
		}
		back := st.geometry(&p, e)
		for i, q := range hand.File.Geometry.Points {
			if back.Points[i].N != q.N {
				t.Errorf("%s: written back, %s stands at %v, want %v quanta", c.name, q.Name, back.Points[i].N, q.N)
			}
		}
	}
}

// TestTurn compares a turn with gonum's rotation about the same axis: all points of the upright turn,
// right-handed in ISO axes, on whichever side of the car the file draws.
func TestTurn(t *testing.T) {
	mm := text(t, "corncrake", "corncrake-front.yaml")
	for name, geometry := range map[string]string{"left": mm, "right": twin(mm)} {
		st := bind(t, studyOf("  caster: {turn: upright, about: [lower_ball, wheel_centre], by: 3}\n  steering_arm.z: {by: 5}"), geometry)
		p := optimize.Point{X: []float64{1.25, 186}}
		e := st.NewEvaluator()
		e.place(&p)
		g := st.File.Geometry
		side := 1.0
		if g.Side == files.Right {
			side = -1
		}
		car := func(name string) r3.Vec { // ISO axes of the car, on the file's own side
			v := g.ToISO(g.Points[g.Point(name)].N)
			if name == "steering_arm" {
				v.Z += 2
			}
			v.Y *= side
			return v
		}
		from, to := car("lower_ball"), car("wheel_centre")
		turning := []string{"lower_ball", "upper_ball", "steering_arm", "wheel_centre"}
		for i, q := range g.Points {
			want := car(q.Name)
			if slices.Contains(turning, q.Name) {
				want = r3.Add(from, r3.NewRotation(1.25*math.Pi/180, r3.Sub(to, from)).Rotate(r3.Sub(want, from)))
			}
			want.Y *= side
			if d := r3.Norm(r3.Sub(e.points[i], want)); d > 1e-9 {
				t.Errorf("%s: %s stands %g mm from where gonum turns it", name, q.Name, d)
			}
		}
	}
}

// TestEvaluationHasNoMemory: A, B, A gives the same A to the bit, however B ended.
func TestEvaluationHasNoMemory(t *testing.T) {
	st := bind(t, studyOf("  upper_ball.z: {from: 200, to: 500}\n  rack_end.y: {from: 100, to: 400}\n  pushrod_head.y: {from: 200, to: 600}"), text(t, "corncrake", "corncrake-front.yaml"))
	plan, err := optimize.NewPlan(&st.Space, optimize.DefaultPlan())
	if err != nil {
		t.Fatal(err)
	}
	old := st.NewEvaluator()
	seen := map[optimize.Status]bool{}
	a := st.Space.Design()
	want := outcome(st, nil, &a)
	b := st.Space.Design()
	for i := range int64(400) {
		plan.At(&b, i)
		used := outcome(st, old, &b)
		fresh := outcome(st, nil, &b)
		seen[used.Status] = true
		if used.Status != fresh.Status || used.Score != fresh.Score || used.Reached != fresh.Reached || !slices.Equal(used.R, fresh.R) || !slices.Equal(used.G, fresh.G) {
			t.Fatalf("candidate %d: %v, score %v in a used evaluator; %v, %v in a fresh one", i, used.Status, used.Score, fresh.Status, fresh.Score)
		}
		again := outcome(st, old, &a)
		if again.Status != want.Status || again.Score != want.Score || !slices.Equal(again.R, want.R) || !slices.Equal(again.G, want.G) {
			t.Fatalf("the design after candidate %d: score %v, before %v", i, again.Score, want.Score)
		}
	}
	for _, s := range []optimize.Status{optimize.OK, optimize.OverLimit, optimize.CannotAssemble} {
		if !seen[s] {
			t.Errorf("no candidate was %v; the box should hold some", s)
		}
	}
}

// TestCandidateAllocatesNothing: in steady state, those that fail included.
func TestCandidateAllocatesNothing(t *testing.T) {
	for name, f := range map[string]*files.Study{
		"the example": example(t),
		"robust":      onDisk(t, "robust.yaml").File,
		"every way to vary": read(t, studyOf("  upper_ball.z: {from: 200, to: 500}\n  caster: {turn: upright, about: [lower_ball, wheel_centre], by: 3}\n  damper mount: {move: [damper_frame], along: [tube_inner, tube_outer], by: 20}\n  rocker: {choose: {as drawn: {}, high: {damper_rocker: [-4, 270, 470]}}}"),
			text(t, "corncrake", "corncrake-front.yaml")),
	} {
		st, err := Bind(f)
		if err != nil {
			t.Fatal(err)
		}
		plan, err := optimize.NewPlan(&st.Space, optimize.DefaultPlan())
		if err != nil {
			t.Fatal(err)
		}
		points := make([]optimize.Point, 512)
		for i := range points {
			plan.At(&points[i], int64(i))
		}
		e, i := st.NewEvaluator(), 0
		var o optimize.Outcome
		one := func() {
			o.Reset()
			e.Evaluate(&points[i%len(points)], &o)
			i++
		}
		for range 512 {
			one()
		}
		if n := testing.AllocsPerRun(512, one); n != 0 {
			t.Errorf("%s: %v allocations per candidate", name, n)
		}
	}
}

// TestFailuresAreGraded: a candidate that does not go through says how far it came, where it stopped and
// why. A pushrod in line with its rocker gives up later than an upper arm too short for any travel.
func TestFailuresAreGraded(t *testing.T) {
	st := bind(t, studyOf("  upper_ball.z: {from: 100, to: 500}\n  pushrod_head.y: {from: 200, to: 600}"), text(t, "corncrake", "corncrake-front.yaml"))
	before := 1.0
	for _, c := range []struct {
		x      []float64
		failed bool
		says   string
	}{
		{[]float64{350, 334}, false, "it assembles"},
		{[]float64{350, 290}, true, "pushrod and rocker line up"},
		{[]float64{140, 334}, true, "upper_arm does not reach"},
	} {
		p := optimize.Point{X: c.x}
		e := st.NewEvaluator()
		o := outcome(st, e, &p)
		if o.Status.Failed() != c.failed || st.Program.Describe(e.failure) != c.says || c.failed && e.sweep != 0 {
			t.Errorf("%v: %v in sweep %d, %s; want failed %v, %s", c.x, o.Status, e.sweep, st.Program.Describe(e.failure), c.failed, c.says)
		}
		if c.failed && !(o.Reached < before && o.Reached >= 0) || !c.failed && o.Reached != 1 {
			t.Errorf("%v: reached %v, the one before %v", c.x, o.Reached, before)
		}
		before = o.Reached
	}
}

// TestBindRefuses: what is read well and cannot be solved is refused with the place and what is wrong.
func TestBindRefuses(t *testing.T) {
	mm := text(t, "corncrake", "corncrake-front.yaml")
	base := "format: 1\nstudy: a test\ngeometry: geometry.yaml\nvary:\n  upper_ball.z: {by: 5}\n"
	for _, c := range []struct{ name, study, geometry, says string }{
		{"straight over a grid", base + "motions:\n  both: {wheel_travel: [-30, 30], rack_travel: [-10, 10], positions: [3, 3]}\ntargets:\n  ratio: {measure: toe, in: both, straight: true, within: 0.01}\n", mm, "straight needs a motion in which one travel alone moves"},
		{"relative to a design that does not assemble", base + "motions:\n  heave: {wheel_travel: [-300, 300], positions: 5}\ntargets:\n  camber: {measure: camber, in: heave, hold: 0, within: 1, relative: design}\n", mm, "the design geometry does not go through every motion"},
		{"a freedom too many", base + "targets:\n  camber: {measure: camber, place: {wheel_travel: 0}, value: 0, within: 1}\n", regexp.MustCompile(`(?m)^  tie_rod:.*\n`).ReplaceAllString(mm, ""), "freedom"},
	} {
		f, err := files.ReadStudy(fstest.MapFS{"study.yaml": {Data: []byte(c.study)}, "geometry.yaml": {Data: []byte(c.geometry)}}.ReadFile, "study.yaml")
		if err == nil {
			_, err = Bind(f)
		}
		if err == nil || !strings.Contains(err.Error(), c.says) || !IsUsage(err) {
			t.Errorf("%s: %v; want a usage error that says %q", c.name, err, c.says)
		}
	}
}

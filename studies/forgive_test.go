package studies

import (
	"cmp"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"trammel/objectives"
	"trammel/optimize"
	"trammel/studies/files"
	"trammel/studies/record"
)

// allRobust binds every example, and a study of clearances and tilts, with all of their targets made robust.
func allRobust(t *testing.T) map[string]*Study {
	t.Helper()
	nights, err := filepath.Glob(filepath.Join("examples", "*night*.yaml"))
	if err != nil || len(nights) == 0 {
		t.Fatalf("no examples (%v)", err)
	}
	nights = append(nights, filepath.Join("files", "testdata", "good", "solids-night.yaml"))
	out := map[string]*Study{}
	for _, path := range nights {
		f, err := files.ReadStudy(os.ReadFile, path)
		if err != nil {
			t.Fatal(err)
		}
		for i := range f.Targets {
			f.Targets[i].Robust = true
		}
		f.Geometry.Build.Error = cmp.Or(f.Geometry.Build.Error, 500)
		out[filepath.Base(path)] = mustBind(t, f)
	}
	return out
}

// TestSlopesOfRobustTargets probes the rows that errors add, of every example and of all shapes, against Richardson's central
// differences of the evaluator itself with steps of its own, to 1e-5 of a row's greatest derivative. The slope of such a row
// has a kink where the departure is 0 (its square and that of the plain residual are smooth together, and neither is
// alone), so that differences across it do not settle; these are left out and must be few.
func TestSlopesOfRobustTargets(t *testing.T) {
	all := allRobust(t)
	all["shapes"] = onDisk(t, "robust.yaml")
	for name, st := range all {
		t.Run(name, func(t *testing.T) {
			e := st.NewEvaluator()
			p := offLattice(st, rand.New(rand.NewPCG(5, 3)))
			p.Derivatives = true
			o := outcome(st, e, &p)
			if o.Status.Failed() {
				t.Fatal("it does not assemble there")
			}
			want, doubt := richardson(st, &p)
			n, probed, left := len(p.X), 0, 0
			for i := range st.Objective.Targets {
				rows := added(st.Objective, i)
				most := 0.0 // of the target
				for _, r := range rows {
					most = math.Max(most, greatest(o.JR[r*n:(r+1)*n]))
				}
				for _, r := range rows {
					size := math.Max(greatest(o.JR[r*n:(r+1)*n]), 1e-6*most)
					for k := r * n; k < (r+1)*n; k++ {
						if doubt[k] > 1e-6*size {
							left++
							continue
						}
						probed++
						if math.Abs(o.JR[k]-want[k]) > 1e-5*size {
							t.Errorf("%s with %s: %.9g, probed %.9g", st.rowName(r, e.values), st.Space.Dims[k%n].Name, o.JR[k], want[k])
						}
					}
				}
			}
			if probed == 0 || left > probed/10 {
				t.Errorf("%d derivatives are probed and %d left out", probed, left)
			}
		})
	}
}

// richardson returns the derivatives of R by differences, laid out as JR is, and how sure they are.
func richardson(st *Study, p *optimize.Point) (want, doubt []float64) {
	e, n := st.NewEvaluator(), len(p.X)
	want, doubt = make([]float64, len(st.Objective.R)*n), make([]float64, len(st.Objective.R)*n)
	for k := range n {
		var d [3][]float64
		for i := range d {
			h := 3 * besideStep(st.varyOf(k).Unit) / float64(int(1)<<i)
			q := *p
			q.Derivatives = false
			q.X = slices.Clone(p.X)
			q.X[k] += h
			up := outcome(st, e, &q)
			q.X[k] -= 2 * h
			down := outcome(st, e, &q)
			for r := range up.R {
				d[i] = append(d[i], (up.R[r]-down.R[r])/(2*h))
			}
		}
		for r := range d[0] {
			a, b := (4*d[1][r]-d[0][r])/3, (4*d[2][r]-d[1][r])/3
			want[r*n+k] = (16*b - a) / 15
			doubt[r*n+k] = math.Abs(want[r*n+k] - b)
		}
	}
	return want, doubt
}

func greatest(x []float64) (most float64) {
	for _, v := range x {
		most = math.Max(most, math.Abs(v))
	}
	return most
}

// added returns the rows that errors add to a target, which are the second half of its own.
func added(o *objectives.Objective, target int) (rows []int) {
	for r := range o.R {
		if o.R[r].Entry == target {
			rows = append(rows, r)
		}
	}
	if !o.Targets[target].Robust {
		return nil
	}
	return rows[len(rows)/2:]
}

// trailing is a trailing arm, level, R = 400 mm long, with an upright damper at a on it: the lever of which the test below
// knows everything.
const trailing = `format: 1
name: a lever
units: mm
axes: {x: forward, y: left, z: up}
side: left
points:
  inner:        [   0, 400, 300]
  outer:        [   0, 800, 300]
  wheel_centre: [-400, 600, 300]
  foot:         [-300, 600, 300]
  top:          [-300, 600, 640]
members:
  arm:    {hinge: [inner, outer]}
  damper: {damper: [foot, top], ends: [upright, frame]}
wheel:  {centre: wheel_centre, loaded_radius: 290}
travel: {bump: 20, droop: 20}
build:  {error: ERROR}
`

const trailingStudy = `format: 1
study: a lever
geometry: geometry.yaml
motions:
  heave: {wheel_travel: [-10, 10], positions: 3}
vary:
  mount: {move: [foot, top], along: x, from: -80, to: 280}
targets:
  length: {measure: damper.length, place: {wheel_travel: 0}, value: 340, within: 0.5, ROBUST}
stages:
  - {plan: sobol, runs: 16}
  - {refine: 4}
`

func lever(t *testing.T, bound, robust string) *Study {
	t.Helper()
	return bind(t, strings.Replace(trailingStudy, "ROBUST", robust, 1), strings.Replace(trailing, "ERROR", bound, 1))
}

// TestExpectedLossOfALever compares the loss of a damper's length with what the law of the lever gives. To first order, with
// errors z of the wheel's centre w, the damper's foot f and top t, of the frame's pivots p and the arm's own q (half of
// each of the two counts where the damper stands), and the wheel's height held,
//
//	length = 340 + t - f + (a/R) w - (1 - a/R)(p - q)
//	variance = sigma² (1 + 1 + (a/R)² + (1 - a/R)² (1/2 + 1/2)),  sigma² = error²/3
//
// by JCGM 100:2008 (GUM), equation (10), with 4.3.7 for sigma. So the loss, variance over within², is least at a = R/2.
func TestExpectedLossOfALever(t *testing.T) {
	st := lever(t, "0.05", "robust: true")
	e := st.NewEvaluator()
	for _, mount := range []float64{-80, 0, 40, 100, 280} {
		share := (300 - mount) / 400
		want := 0.05 * 0.05 / 3 * (2 + share*share + (1-share)*(1-share)) / (0.5 * 0.5)
		p := optimize.Point{X: []float64{mount}}
		o := outcome(st, e, &p)
		if math.Abs(o.Score-want) > 1e-10*want {
			t.Errorf("at %g: the expected loss is %.12g, not %.12g", mount, o.Score, want)
		}
		b := e.built(&p, 1<<14)[0]
		if b.Drawn > 1e-20 || b.Expected != o.Score || b.Failed != 0 || b.Cars != 1<<14 {
			t.Errorf("at %g: %+v", mount, b)
		}
		// A plain sample of a normal square would be off by 1.1 % (one standard error).
		if d := math.Abs(*b.Sampled-want) / want; d > 0.005 {
			t.Errorf("at %g: built cars lose %.6g, expected %.6g", mount, *b.Sampled, want)
		}
	}
}

// leverNight is the file of such a study.
func leverNight(t *testing.T, bound, robust string) *files.Study {
	t.Helper()
	return read(t, strings.Replace(trailingStudy, "ROBUST", robust, 1), strings.Replace(trailing, "ERROR", bound, 1))
}

// TestRobustChoosesTheForgiving: every place of the damper on its lever meets the target as drawn, so a plain study has
// nothing to choose by; a robust one goes to the middle, where the law of the lever has the least variance, and cars built with
// errors agree. The answer says so, as text and as JSON.
func TestRobustChoosesTheForgiving(t *testing.T) {
	plain := ranked(t, leverNight(t, "0.5", "weight: 1"))
	if best := plain.Answers[0]; best.Targets[0].Built != nil || best.Score > 1e-20 || plain.Design.Score > 1e-20 {
		t.Errorf("without robust: score %g, the design's %g", best.Score, plain.Design.Score)
	}
	ans := ranked(t, leverNight(t, "0.5", "robust: true"))
	best, design := &ans.Answers[0], ans.Design
	least := 0.5 * 0.5 / 3 * 2.5 / (0.5 * 0.5)
	if got := best.Moved[0].Now; math.Abs(got-100) > 0.5 || math.Abs(best.Score-least) > 1e-6*least {
		t.Errorf("the damper stands at %g with a score of %.9g, not at 100 with %.9g", got, best.Score, least)
	}
	b, was := best.Targets[0].Built, design.Targets[0].Built
	if b == nil || was == nil || b.Sampled == nil || was.Sampled == nil {
		t.Fatal("built cars say nothing of the best answer or the design")
	}
	if math.Abs(*b.Sampled-least) > 0.02*least || *b.Sampled >= *was.Sampled || b.Drawn > 1e-20 || b.Cars != builtCars || b.Failed != 0 || b.Error != 0.5 || b.Unit != "mm" {
		t.Errorf("built: %+v, sampled %g; at design %g", *b, *b.Sampled, *was.Sampled)
	}
	if v := best.Targets[0]; !v.Met || math.Abs(v.Miss*v.Miss-best.Score) > 1e-12 || v.Drawn > 1e-10 {
		t.Errorf("met %v, miss %g, as drawn %g", v.Met, v.Miss, v.Drawn)
	}
	text := ans.Text()
	for _, says := range []string{
		"Built with errors of up to 0.5 mm along each axis", "length: its loss is 0 as drawn and 0.8", "(first order 0.833); the design's is 0 and",
		"The miss of a robust target is that expected of a built car; got and met are as drawn.",
	} {
		if !strings.Contains(text, says) {
			t.Errorf("the answer does not say %q:\n%s", says, text)
		}
	}
	document, err := ans.JSON()
	if err != nil || !strings.Contains(string(document), `"first_order": 0.8333`) {
		t.Errorf("JSON: %v\n%s", err, document)
	}
}

// TestRobustRows: 1, 2 and 5 workers write the same rows of a robust study, to the bit, and what each row says is one thing:
// the square of the miss is the score, and the miss as drawn is beside it.
func TestRobustRows(t *testing.T) {
	var first string
	for _, workers := range []int{1, 2, 5} {
		dir := filepath.Join(t.TempDir(), "night")
		run(t, leverNight(t, "0.5", "robust: true"), RunOptions{Dir: dir, Workers: workers})
		d := digest(t, dir)
		if first == "" {
			first = d
		}
		if d != first {
			t.Errorf("%d workers wrote other rows than 1", workers)
		}
		view, err := record.Read(dir)
		if err != nil {
			t.Fatal(err)
		}
		rows := 0
		err = view.Scan(record.TableRuns, []string{"score", "miss_length", "drawn_length"}, func(r *record.Rows) error {
			for i := range r.Len() {
				score, _ := r.FloatAt(0, i)
				miss, _ := r.FloatAt(1, i)
				drawn, ok := r.FloatAt(2, i)
				if rows++; math.Abs(miss*miss-score) > 1e-15 || !ok || drawn > 1e-10 {
					t.Errorf("a row has score %g, miss %g and %g as drawn", score, miss, drawn)
				}
			}
			return nil
		})
		if err != nil || rows == 0 {
			t.Errorf("%d rows, %v", rows, err)
		}
	}
}

// TestRobustScoreIsTheSumOfSquares: of every example, whatever its measures; and a robust target costs no less than a plain
// one, for what errors add is never negative.
func TestRobustScoreIsTheSumOfSquares(t *testing.T) {
	for name, st := range allRobust(t) {
		p := st.Space.Design()
		e := st.NewEvaluator()
		o := outcome(st, e, &p)
		if o.Status.Failed() {
			t.Fatalf("%s: the design does not assemble", name)
		}
		sum := 0.0
		for _, r := range o.R {
			sum += r * r
		}
		if math.Abs(sum-o.Score) > 1e-12*o.Score {
			t.Errorf("%s: score %.15g, sum of squares %.15g", name, o.Score, sum)
		}
		for i, r := range e.result.Targets {
			if r.Miss < r.Drawn {
				t.Errorf("%s: %s misses by %g as built and %g as drawn", name, st.targets[i].Name, r.Miss, r.Drawn)
			}
		}
	}
}

// TestBuiltWithoutErrors: a car built without errors has the loss that is drawn, whatever its measures: what a built car is
// judged by is found among other columns than what is drawn.
func TestBuiltWithoutErrors(t *testing.T) {
	for name, st := range allRobust(t) {
		st.forgive.bound = 0
		p := st.Space.Design()
		for k, b := range st.NewEvaluator().built(&p, 1) {
			if b.Sampled == nil || math.Abs(*b.Sampled-b.Drawn) > 1e-9*b.Drawn+1e-18 {
				t.Errorf("%s: %s has a loss of %g as drawn, and built without errors %v", name, st.targets[st.forgive.targets[k]].Name, b.Drawn, b.Sampled)
			}
		}
	}
}

// TestFirstOrderOfTheExamples: of every example as drawn, with errors a twentieth of what its shop does, the loss of cars
// that the solver builds is the first order's within a twentieth and what chance leaves. The expectation of one-sided shapes
// rests on errors that add up to a normal one.
func TestFirstOrderOfTheExamples(t *testing.T) {
	for name, st := range allRobust(t) {
		st.forgive.bound /= 20
		st.forgive.sigma /= 20
		p := st.Space.Design()
		e := st.NewEvaluator()
		for k, b := range e.built(&p, 512) {
			target := st.targets[st.forgive.targets[k]].Name
			if b.Failed > 0 || b.Sampled == nil {
				t.Errorf("%s: %d of %d cars do not go through", name, b.Failed, b.Cars)
				continue
			}
			// What errors add, and how surely 512 cars know it: the standard error of a mean square, and of the
			// cross term 2 d s ξ.
			more := b.Expected - b.Drawn
			sure := 0.05*more + 4*(math.Sqrt(2)*more+2*math.Sqrt(b.Drawn*more))/math.Sqrt(512)
			if math.Abs(*b.Sampled-b.Expected) > sure+1e-12 {
				t.Errorf("%s: %s: loss %.6g as drawn, %.6g on average, %.6g by first order; want it within %.2g", name, target, b.Drawn, *b.Sampled, b.Expected, sure)
			}
		}
	}
}

// TestRobustRetarget: a record of robust targets is scored by other weights from its columns, whose misses are those that
// count, and by plain targets only by solving.
func TestRobustRetarget(t *testing.T) {
	base := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(base, name)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	write("geometry.yaml", strings.Replace(trailing, "ERROR", "0.5", 1))
	study := func(robust string) string { return strings.Replace(trailingStudy, "ROBUST", robust, 1) }
	f, err := ReadStudy(write("study.yaml", study("robust: true")))
	if err != nil {
		t.Fatal(err)
	}
	old := filepath.Join(base, "old")
	run(t, f, RunOptions{Dir: old})
	_, want := rank(t, old)
	for _, c := range []struct{ robust, says string }{{"robust: true, weight: 3", "from the columns"}, {"weight: 1", "is none of theirs"}} {
		a := open(t, old)
		how, err := a.Retarget(write("new.yaml", study(c.robust)))
		if err != nil {
			t.Fatal(err)
		}
		ans, err := a.Rank()
		if err != nil || !strings.Contains(how, c.says) {
			t.Fatalf("%v: %s", err, how)
		}
		robust := strings.Contains(c.robust, "robust")
		if best := ans.Answers[0]; robust && best.Score != want.Answers[0].Score || !robust && best.Score > 1e-12 || robust != (best.Targets[0].Built != nil) {
			t.Errorf("%s: score %g", c.robust, best.Score)
		}
	}
}

// TestRobustRetargetWithoutErrors: runs of a geometry that does not say how large errors are cannot be scored by a robust
// target, and that is said; an error of 0 is none to count with.
func TestRobustRetargetWithoutErrors(t *testing.T) {
	base := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(base, name)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	write("geometry.yaml", strings.Replace(trailing, "build:  {error: ERROR}\n", "", 1))
	f, err := ReadStudy(write("study.yaml", strings.Replace(trailingStudy, "ROBUST", "weight: 1", 1)))
	if err != nil {
		t.Fatal(err)
	}
	old := filepath.Join(base, "old")
	run(t, f, RunOptions{Dir: old})
	write("geometry.yaml", strings.Replace(trailing, "ERROR", "0.5", 1))
	_, err = open(t, old).Retarget(write("new.yaml", strings.Replace(trailingStudy, "ROBUST", "robust: true", 1)))
	if err == nil || !IsUsage(err) || !strings.Contains(err.Error(), "and that of the runs has none") {
		t.Errorf("%v", err)
	}
}

// TestAimsOfRobustTargets: what a trade takes from the residuals for a robust target's miss is its miss.
func TestAimsOfRobustTargets(t *testing.T) {
	st := onDisk(t, "robust.yaml")
	e, p := st.NewEvaluator(), st.Space.Design()
	o := outcome(st, e, &p)
	stage := &files.Stage{}
	for i := range st.targets {
		stage.Between = append(stage.Between, i)
	}
	for i, a := range st.aims(stage) {
		sum := 0.0
		for _, r := range a.Rows {
			sum += o.R[r] * o.R[r]
		}
		if got, want := math.Sqrt(a.Scale*sum), e.result.Targets[i].Miss; math.Abs(got-want) > 1e-12*want {
			t.Errorf("%s: %g, and its miss is %g", st.targets[i].Name, got, want)
		}
	}
}

// TestCheckOfARobustStudy: what as built means, and what is expected, in sentences.
func TestCheckOfARobustStudy(t *testing.T) {
	text, err := CheckStudy(leverNight(t, "0.5", "robust: true"))
	for _, says := range []string{
		"length: 1 value, met at design (asked 340 mm ± 0.5 mm; 340 mm at wheel 0 mm; as built a miss of 0.94 is expected)",
		"length is robust: what counts is the miss expected of a car in which every point of every part is up to 0.5 mm off along each axis.",
	} {
		if !strings.Contains(text, says) {
			t.Errorf("%v; it does not say %q:\n%s", err, says, text)
		}
	}
	text, err = CheckStudy(onDisk(t, "robust.yaml").File)
	if says := "Mind that toe drift counts the error of toe at design too"; !strings.Contains(text, says) || strings.Count(text, "Mind that") != 1 {
		t.Errorf("%v; it does not say %q once:\n%s", err, says, text)
	}
}

// TestErrorsThatBreakCars: cars that do not go through are counted and left out, and an answer whose first order is too
// rough for its errors says so.
func TestErrorsThatBreakCars(t *testing.T) {
	n, sampled := "length", 3.0
	for _, c := range []struct {
		b    Built
		says string
	}{
		{Built{Sampled: nil, Cars: 8, Failed: 8}, "no built car goes through every motion"},
		{Built{Sampled: &sampled, Expected: 3.1, Cars: 1024, Failed: 7, Stops: []Stop{{"heave", "pushrod and rocker line up", "wheel_travel +50 mm", 7}}},
			"7 of 1,024 built cars do not go through every motion, and the losses leave them out: 7 stop in heave, where pushrod and rocker line up, most often at wheel_travel +50 mm."},
		{Built{Sampled: &sampled, Expected: 2, Cars: 8}, "too rough for errors of this size"},
	} {
		if got := c.b.jammed() + c.b.sentence(n, nil); !strings.Contains(got, c.says) {
			t.Errorf("%q does not say %q", got, c.says)
		}
	}
	// With errors of half a metre many a car falls apart.
	st := lever(t, "500", "robust: true")
	p := st.Space.Design()
	if b := st.NewEvaluator().built(&p, 256)[0]; b.Failed == 0 || b.Failed == b.Cars || b.Sampled == nil || *b.Sampled == b.Expected {
		t.Errorf("%+v", b)
	}
}

package studies

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"trammel/optimize"
	"trammel/studies/files"
)

// onDisk reads and binds a study of the files package.
func onDisk(t testing.TB, name string) *Study {
	t.Helper()
	f, err := files.ReadStudy(os.ReadFile, filepath.Join("files", "testdata", "good", name))
	if err != nil {
		t.Fatal(err)
	}
	return mustBind(t, f)
}

// twoTurns has points that one number slides, two turn and one ties to others, on a right side drawn in inches.
const twoTurns = `
  rack: {move: [rack_end, steering_arm], along: z, by: 0.3}
  upper_ball.x: {by: 0.3}
  slide: {move: [lower_ball], along: [lower_front, lower_rear], by: 0.5}
  caster: {turn: upright, about: [lower_ball, wheel_centre], by: 2}
  lean: {turn: upright, about: [lower_front, lower_rear], by: 1}
`

// rolling has motions and places of every kind.
const rolling = `format: 1
study: a test
geometry: geometry.yaml
motions:
  lean: {body_roll: [-2.5, 2.5], positions: 5}
  left: {wheel_travel: [-30, 30], wheels: left, positions: 3}
  right: {wheel_travel: [-30, 30], wheels: right, positions: 3}
  mixed: {wheel_travel: [-10, 10], rack_travel: [-8, 8], body_roll: [-1, 1], positions: [2, 2, 2]}
vary:
  upper_ball.z: {by: 5}
  damper mount: {move: [damper_frame], along: [tube_inner, tube_outer], by: 10}
  caster: {turn: upright, about: [lower_ball, wheel_centre], by: 2}
targets:
  lean: {measure: camber_to_ground, in: lean, hold: -1, within: 0.5}
  roll camber: {measure: roll_camber, in: lean, place: {body_roll: 0}, value: -0.5, within: 0.1}
  roll steer: {measure: roll_steer, place: {body_roll: 1}, value: 0, within: 0.1}
  one wheel: {measure: camber, in: left, place: {wheel_travel: 10}, value: -1.5, within: 0.3}
  apart: {measure: right.toe - left.toe, in: mixed, hold: 0, within: 0.2}
  centre: {measure: roll_centre_lateral, in: lean, hold: 0, within: 20}
limits:
  both: {measure: damper.length + right.damper.length, in: lean, spread: 20}
  gain: {measure: right.camber_gain, in: right, max: 0}
  progression: {measure: right.damper.progression, in: right, min: 0}
`

// sides has points of their own on the other side, and what ties the two.
const sides = `format: 1
study: a test
geometry: geometry.yaml
motions:
  heave: {wheel_travel: [-20, 20], positions: 5}
  lean: {body_roll: [-1, 1], positions: 3}
  kerb: {wheel_travel: [-20, 20], wheels: right, positions: 4}
  corner: {wheel_travel: [-10, 10], rack_travel: [-8, 8], body_roll: [-1, 1], positions: [2, 2, 2]}
vary:
  damper_frame.z: {by: 10}
  opposite.damper_frame.z: {from: 480, to: 492}
  far mount: {move: [opposite.damper_frame], along: x, by: 12}
  upper_ball.z: {by: 4}
  rocker_rear.z: {by: 2}
targets:
  lean camber: {measure: left.camber - right.camber, in: lean, follow: {-3: 3, 0 deg: 0, 3: -3}, within: {-3: 0.3, 3: 0.3}}
  right toe: {measure: right.toe, in: kerb, hold: 0.1, within: 0.05}
  both dampers: {measure: left.damper.length + right.damper.length, in: lean, even: true, within: 1}
  roll damper: {measure: roll_damper.length, in: corner, at_least: 500, within: 5}
  ratio: {measure: roll_damper.installation_ratio, in: kerb, hold: 0.5, within: 0.1}
  dive: {measure: anti_dive, in: heave, hold: 25 %, within: 5}
  roll centre: {measure: roll_centre_height, in: lean, hold: 50, within: 5}
limits:
  twist: {measure: bar.twist, in: corner, min: -30, max: 30}
  plunge: {measure: right.shaft.plunge, in: heave, spread: 20}
  outer joint: {measure: shaft.joint_angle_outer, in: corner, at_most: 40}
  middle: {measure: centre_arm_1.angle, in: lean, min: -1, max: 1}
  leaning: {measure: right.damper.length, place: {wheel_travel: 10, body_roll: 0.75}, min: 150}
`

// goodFile returns the text of a file of the files package.
func goodFile(t testing.TB, name string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("files", "testdata", "good", name))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// TestSlopesOfCandidates probes JR and JG against Richardson's central differences of the evaluator itself, at random
// places off the lattice. Rows near a kink, whose differences do not settle, are left out, and must be few.
func TestSlopesOfCandidates(t *testing.T) {
	all := map[string]*Study{
		"night":     onDisk(t, "first-night.yaml"),
		"inches":    onDisk(t, "inch-night.yaml"),
		"robust":    onDisk(t, "robust.yaml"),
		"sides":     bind(t, sides, goodFile(t, "rockers.yaml")),
		"two turns": bind(t, studyOf(twoTurns), text(t, "corncrake-inch", "corncrake-front-inch.yaml")),
		"rolling":   bind(t, rolling, text(t, "corncrake", "corncrake-front.yaml")),
		"joints":    bind(t, rolling, text(t, "corncrake", "corncrake-front.yaml")+jointed),
		"jointed":   bind(t, sides, goodFile(t, "rockers.yaml")+jointed),
		"solids":    onDisk(t, "solids-night.yaml"),
	}
	nights, err := filepath.Glob(filepath.Join("examples", "*night*.yaml"))
	if err != nil || len(nights) == 0 {
		t.Fatalf("no examples (%v)", err)
	}
	for _, path := range nights {
		f, err := files.ReadStudy(os.ReadFile, path)
		if err != nil {
			t.Fatal(err)
		}
		all[filepath.Base(path)] = mustBind(t, f)
	}
	for name, st := range all {
		t.Run(name, func(t *testing.T) {
			random := rand.New(rand.NewPCG(7, 1))
			probed, left := 0, 0
			for range 3 {
				p := offLattice(st, random)
				a, b := probeSlopes(t, st, &p)
				probed, left = probed+a, left+b
			}
			if probed == 0 || left > probed/10 {
				t.Errorf("%d derivatives are probed and %d left out", probed, left)
			}
		})
	}
}

// offLattice returns a point near the design that lies on no lattice and assembles.
func offLattice(st *Study, random *rand.Rand) optimize.Point {
	p := st.Space.Design()
	for i := range p.X {
		d := &st.Space.Dims[i]
		low, high := st.Space.Value(i, d.Low), st.Space.Value(i, d.High)
		p.X[i] = low + (high-low)*(0.25+0.5*random.Float64())
	}
	return p
}

func probeSlopes(t *testing.T, st *Study, p *optimize.Point) (probed, left int) {
	t.Helper()
	e := st.NewEvaluator()
	p.Derivatives = true
	o := outcome(st, e, p)
	if o.Status.Failed() {
		return 0, 0
	}
	n := len(p.X)
	if len(o.JR) != n*len(o.R) || len(o.JG) != n*len(o.G) {
		t.Fatalf("%d and %d derivatives of %d residuals and %d limits with %d numbers", len(o.JR), len(o.JG), len(o.R), len(o.G), n)
	}
	all := func(x []float64) []float64 {
		q := *p
		q.X, q.Derivatives = x, false
		o := outcome(st, e, &q)
		if o.Status.Failed() {
			t.Fatalf("at %v: %v", x, o.Status)
		}
		return append(o.R, o.G...)
	}
	got, scales := append(o.JR, o.JG...), st.rowScales()
	for k := range n {
		step := map[string]float64{"mm": 0.08, "in": 0.003, "deg": 0.04}[st.varyOf(k).Unit]
		var d [3][]float64
		for i := range d {
			h := step / float64(int(1)<<i)
			up, down := slices.Clone(p.X), slices.Clone(p.X)
			up[k], down[k] = up[k]+h, down[k]-h
			a, b := all(up), all(down)
			for r := range a {
				d[i] = append(d[i], (a[r]-b[r])/(2*h))
			}
		}
		for r := range d[0] {
			a, b := (4*d[1][r]-d[0][r])/3, (4*d[2][r]-d[1][r])/3
			want := (16*b - a) / 15
			size := math.Max(math.Abs(want), scales[r])
			if math.Abs(want-b) > 1e-7*size {
				left++
				continue
			}
			probed++
			if diff := math.Abs(got[r*n+k] - want); !(diff <= 1e-6*size) {
				t.Errorf("row %d (%s) with %s: %.9g, probed %.9g", r, st.rowName(r, e.values), st.Space.Dims[k].Name, got[r*n+k], want)
			}
		}
	}
	return probed, left
}

// rowScales is what a change of each measure that matters to a builder is worth in R and G.
func (st *Study) rowScales() []float64 {
	o := st.Objective
	var out []float64
	weights := 0.0
	for i := range o.Targets {
		weights += o.Targets[i].Weight
	}
	for i := range o.R {
		tg := &o.Targets[o.R[i].Entry]
		within := math.Max(slices.Max(tg.Above), slices.Max(tg.Below))
		share := tg.Weight / weights / float64(len(tg.Series.Rows))
		out = append(out, st.columnAt(tg.Series).Measure.Scale/within*math.Sqrt(share))
	}
	for i := range o.G {
		l := &o.Limits[o.G[i].Entry]
		out = append(out, st.columnAt(l.Series[0]).Measure.Scale/l.Scale)
	}
	return out
}

func (st *Study) rowName(r int, values [][]float64) string {
	if r < len(st.Objective.R) {
		s := st.Objective.R[r]
		return fmt.Sprintf("%s at %s", st.targets[s.Entry].Name, st.sayPlace(values, s.Sweep, s.At))
	}
	s := st.Objective.G[r-len(st.Objective.R)]
	return fmt.Sprintf("%s at %s", st.limits[s.Entry], st.sayPlace(values, s.Sweep, s.At))
}

// TestSlopesChangeNothing: with and without derivatives a candidate is the same to the bit, nothing is allocated, and
// who does not ask gets none.
func TestSlopesChangeNothing(t *testing.T) {
	for name, st := range map[string]*Study{
		"example": mustBind(t, example(t)), "night": onDisk(t, "first-night.yaml"), "robust": onDisk(t, "robust.yaml"),
		"rolling": bind(t, rolling, text(t, "corncrake", "corncrake-front.yaml")),
	} {
		random := rand.New(rand.NewPCG(9, 2))
		e := st.NewEvaluator()
		for range 5 {
			p := offLattice(st, random)
			plain := outcome(st, nil, &p)
			p.Derivatives = true
			o := outcome(st, e, &p)
			if plain.Status != o.Status || plain.Score != o.Score || plain.Violation != o.Violation || !slices.Equal(plain.R, o.R) || !slices.Equal(plain.G, o.G) {
				t.Errorf("%s: score %v and violation %v, with derivatives %v and %v", name, plain.Score, plain.Violation, o.Score, o.Violation)
			}
			if len(plain.JR)+len(plain.JG) > 0 {
				t.Errorf("%s: derivatives that nobody asked for", name)
			}
			if n := testing.AllocsPerRun(20, func() { o.Reset(); e.Evaluate(&p, &o) }); n != 0 {
				t.Errorf("%s: %v allocations for a candidate with derivatives", name, n)
			}
		}
	}
}

// TestSlopesOfAFailure: what does not assemble has no derivatives.
func TestSlopesOfAFailure(t *testing.T) {
	st := bind(t, studyOf("  pushrod_head.y: {from: 140, to: 360}"), text(t, "corncrake", "corncrake-front.yaml"))
	o := outcome(st, nil, &optimize.Point{X: []float64{140}, Derivatives: true})
	if !o.Status.Failed() || len(o.JR)+len(o.JG)+len(o.R) > 0 {
		t.Errorf("%v with %d derivatives", o.Status, len(o.JR)+len(o.JG))
	}
}

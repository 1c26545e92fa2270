package studies

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"trammel/kin"
	"trammel/optimize"
)

// between is how much less than the least that is reported a gap may be anywhere in a motion, mm.
const between = 0.05

// TestNoGapIsLessThanTheLeast: at 2,000 random positions within each motion no gap is less than the least that the motion's own positions
// and the search between them report, in the design of every example and in the best of a hundred candidates.
func TestNoGapIsLessThanTheLeast(t *testing.T) {
	gaps := 0
	for _, x := range Examples() {
		f, err := ReadExample(x.Name)
		if err != nil {
			t.Fatal(err)
		}
		if len(f.Geometry.Clearances) == 0 {
			continue
		}
		st := mustBind(t, f)
		design := st.Space.Design()
		gaps += lookBetween(t, x.Name+" at design", st, &design)
		best := bestOf(t, st, 100)
		gaps += lookBetween(t, x.Name+" at its best", st, &best)
	}
	if gaps < 10 {
		t.Errorf("%d gaps were looked at; the examples have more", gaps)
	}
}

// coarse moves the geometry that has every kind of solid, through as few positions as a hurried builder writes.
const coarse = `format: 1
study: coarse
geometry: geometry.yaml
motions:
  heave:  {wheel_travel: [-30, 30], positions: 5}
  steer:  {rack_travel: [-28, 28], positions: 5}
  corner: {wheel_travel: [-30, 30], rack_travel: [-28, 28], positions: [5, 5]}
  kerb:   {wheel_travel: [-30, 30], wheels: left, positions: 5}
  lean:   {body_roll: [-3, 3], positions: 5}
vary:
  upper_ball.z: {by: 12}
targets:
  bump steer: {measure: toe, in: heave, hold: 0.1, within: 0.1}
`

// passed are studs that tie rod and rack pass by within their motions, so that their gaps are least somewhere between positions.
var passed = strings.NewReplacer(
	"\npoints:\n", "\npoints:\n  beside_rack: [-55, 240, 205]\n  beside_rod: [-60, 430, 215]\n",
	"\nsolids:\n", "\nsolids:\n  eye: {ball: rack_end, diameter: 30, on: rack}\n  stud: {ball: beside_rack, diameter: 20}\n  peg: {ball: beside_rod, diameter: 20}\n",
	"\nclearances:\n", "\nclearances:\n  past_stud: {between: [eye, stud]}\n  past_peg: {between: [tie_rod, peg]}\n")

// TestNoGapIsLessBetweenFewPositions: nor is it where positions are few and the least is far from all of them.
func TestNoGapIsLessBetweenFewPositions(t *testing.T) {
	geometry, err := os.ReadFile(filepath.Join("files", "testdata", "good", "solids.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	st := bind(t, coarse, passed.Replace(string(geometry)))
	design := st.Space.Design()
	if gaps := lookBetween(t, "few positions", st, &design); gaps < 75 {
		t.Errorf("%d gaps were looked at; 17 clearances in five motions have more", gaps)
	}
	// Without a search between positions some would be less: this test can fail.
	e := st.NewEvaluator()
	outcome(st, e, &design)
	apart := map[string]int{}
	for i, sw := range st.sweeps {
		n := len(sw.Motion.Positions)
		for c := range sw.Columns {
			if at, ok := sw.Least(c); ok && slices.Min(e.values[i][c*n:(c+1)*n]) > e.values[i][at]+between {
				apart[sw.Motion.Name]++
			}
		}
	}
	for _, name := range []string{"heave", "steer", "corner", "kerb", "lean"} {
		if apart[name] == 0 {
			t.Errorf("%s: every least is at a position", name)
		}
	}
}

// bestOf returns the best of so many candidates that fill a study's space.
func bestOf(t *testing.T, st *Study, candidates int64) optimize.Point {
	t.Helper()
	plan, err := optimize.NewPlan(&st.Space, optimize.DefaultPlan())
	if err != nil {
		t.Fatal(err)
	}
	e := st.NewEvaluator()
	var p, best optimize.Point
	var o, least optimize.Outcome
	for i := range candidates {
		plan.At(&p, i)
		o.Reset()
		e.Evaluate(&p, &o)
		if i == 0 || optimize.Better(&o, &least) {
			best.Set(&p)
			least = optimize.Outcome{Status: o.Status, Reached: o.Reached, Score: o.Score, Violation: o.Violation}
		}
	}
	if least.Status.Failed() {
		t.Fatalf("none of %d candidates assembles", candidates)
	}
	return best
}

// lookBetween compares the least of every gap of a candidate in every motion with those at random positions, and returns how many there
// were.
func lookBetween(t *testing.T, name string, st *Study, p *optimize.Point) (gaps int) {
	t.Helper()
	e := st.NewEvaluator()
	var o optimize.Outcome
	e.Evaluate(p, &o)
	if o.Status.Failed() {
		t.Fatalf("%s: %s", name, o.Status.Sentence())
	}
	worst := -between
	for i, sw := range st.sweeps {
		var columns []kin.Column
		var least []int
		for c := range sw.Columns {
			if at, ok := sw.Least(c); ok {
				columns, least = append(columns, sw.Columns[c]), append(least, at)
			}
		}
		if columns == nil {
			continue
		}
		m := randomIn(sw.Motion, 2000, uint64(i))
		look := st.Program.NewSweep(m, columns)
		values := make([]float64, look.Size())
		if _, f := e.state.Run(look, values); f.Status != kin.OK {
			t.Fatalf("%s, %s: %v", name, sw.Motion.Name, f)
		}
		for c := range columns {
			gaps++
			where := kin.LeastAt(e.values[i], least[c])
			for k, at := range m.Positions {
				v := values[c*len(m.Positions)+k]
				worst = max(worst, e.values[i][least[c]]-v)
				if !(v >= e.values[i][least[c]]-between) {
					t.Errorf("%s, %s: %s is %.4f mm at %+v, less than the %.4f mm at %+v that is reported", name, sw.Motion.Name, columns[c].Name, v, at, e.values[i][least[c]], where)
					break
				}
			}
		}
	}
	t.Logf("%s: %d gaps, one of them %.2g mm less than reported at the most", name, gaps, worst)
	return gaps
}

// randomIn returns positions spread evenly over the box of a motion's positions, each by itself.
func randomIn(m *kin.Motion, n int, seed uint64) *kin.Motion {
	low, high := m.Positions[0], m.Positions[0]
	for _, p := range m.Positions {
		low = kin.Position{Wheel: min(low.Wheel, p.Wheel), Rack: min(low.Rack, p.Rack), Roll: min(low.Roll, p.Roll)}
		high = kin.Position{Wheel: max(high.Wheel, p.Wheel), Rack: max(high.Rack, p.Rack), Roll: max(high.Roll, p.Roll)}
	}
	rng := rand.New(rand.NewPCG(29, seed))
	draw := func(low, high float64) float64 { return low + (high-low)*rng.Float64() }
	at := make([]kin.Position, n)
	for i := range at {
		at[i] = kin.Position{Wheel: draw(low.Wheel, high.Wheel), Rack: draw(low.Rack, high.Rack), Roll: draw(low.Roll, high.Roll)}
	}
	return kin.NewPlaces(m.Name, m.Wheels, m.Rolls, at)
}

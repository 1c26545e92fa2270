package studies

import (
	"math"
	"slices"
	"strings"
	"testing"

	"trammel/kin"
	"trammel/optimize"
	"trammel/studies/files"

	"gonum.org/v1/gonum/spatial/r3"
)

// columnsOf returns curves by measure for each motion of a study, design geometry.
func columnsOf(t *testing.T, st *Study) []map[string][]float64 {
	t.Helper()
	var out []map[string][]float64
	state := st.Program.NewState()
	var points []r3.Vec
	for _, p := range st.File.Geometry.Linkage().Points {
		points = append(points, p.At)
	}
	if f := state.SetDesign(points); f.Status != kin.OK {
		t.Fatal(st.Program.Describe(f))
	}
	for _, sw := range st.curveLayout().sweeps {
		values := make([]float64, sw.Size())
		if _, f := state.Run(sw, values); f.Status != kin.OK {
			t.Fatal(st.Program.Describe(f))
		}
		n := len(sw.Motion.Positions)
		m := map[string][]float64{}
		for i, c := range sw.Columns {
			m[c.Name] = values[i*n : (i+1)*n]
		}
		out = append(out, m)
	}
	return out
}

// TestMillimetresAndInches: the example in inches, with other axes and another origin, does what the one
// in millimetres does. Its points are rounded to 0.0001 in, so that each stands within half of that
// (0.00127 mm) in every coordinate of where the other draws it, and travels likewise. A measure may
// differ by what such a shift of every point can do to it: the sum over all coordinates of its slope,
// which is taken here by shifting each coordinate of the file in millimetres by 0.01 mm.
func TestMillimetresAndInches(t *testing.T) {
	a, err := ReadExample("corncrake")
	if err != nil {
		t.Fatal(err)
	}
	b, err := ReadExample("corncrake-inch")
	if err != nil {
		t.Fatal(err)
	}
	const half, shift = 0.00127, 0.01 // mm
	stA, stB := mustBind(t, a), mustBind(t, b)
	mm, inch := columnsOf(t, stA), columnsOf(t, stB)
	may := make([]map[string][]float64, len(mm))
	for m := range mm {
		may[m] = map[string][]float64{}
		for name, v := range mm[m] {
			may[m][name] = make([]float64, len(v))
		}
	}
	addSlopes := func(moved []map[string][]float64, by float64) {
		for m := range mm {
			for name, v := range mm[m] {
				for i := range v {
					if d := math.Abs(moved[m][name][i]-v[i]) / by * half; !math.IsNaN(d) {
						may[m][name][i] += d
					}
				}
			}
		}
	}
	for i := range a.Geometry.Points {
		for k := range 3 {
			g := *a.Geometry
			g.Points = slices.Clone(g.Points)
			g.Points[i].N[k] += int64(shift * 1000)
			f := *a
			f.Geometry = &g
			addSlopes(columnsOf(t, mustBind(t, &f)), shift)
		}
	}
	for i := range a.Motions { // the ends of the travel are rounded as well
		f := *a
		f.Motions = slices.Clone(f.Motions)
		grow := func(x []float64) []float64 {
			x = slices.Clone(x)
			for k := range x {
				x[k] *= 1 + shift/math.Max(x[len(x)-1], 1)
			}
			return x
		}
		f.Motions[i].Wheel, f.Motions[i].Rack = grow(f.Motions[i].Wheel), grow(f.Motions[i].Rack)
		addSlopes(columnsOf(t, mustBind(t, &f)), shift)
	}
	for _, c := range []func(*files.Geometry){
		func(g *files.Geometry) { g.Wheel.LoadedRadius += 10 },
		func(g *files.Geometry) { g.Vehicle.Wheelbase += 10 },
	} {
		g := *a.Geometry
		c(&g)
		f := *a
		f.Geometry = &g
		addSlopes(columnsOf(t, mustBind(t, &f)), shift)
	}
	compared := 0
	for m := range mm {
		for name, v := range mm[m] {
			for i := range v {
				x, y := v[i], inch[m][name][i]
				if math.IsNaN(x) != math.IsNaN(y) {
					t.Errorf("motion %d, %s, position %d: %v in mm, %v in inches", m, name, i+1, x, y)
				}
				// 2 %: the slopes themselves vary over the shift; 1e-9: rounding where the slope is 0
				if d := math.Abs(x - y); d > 1.02*may[m][name][i]+1e-9*(1+math.Abs(x)) {
					t.Errorf("motion %d, %s, position %d: %v in mm, %v in inches; they may differ by %.3g", m, name, i+1, x, y, may[m][name][i])
				}
				if !math.IsNaN(x) {
					compared++
				}
			}
		}
	}
	if compared < 1000 {
		t.Errorf("only %d values compared", compared)
	}
}

func mustBind(t testing.TB, f *files.Study) *Study {
	t.Helper()
	st, err := Bind(f)
	if err != nil {
		t.Fatal(err)
	}
	return st
}

// TestRightSideMirrors: the example drawn on its right side gives the mirrored results: at rack travel r
// what the left gives at -r, with the sign of what counts to the left turned over.
func TestRightSideMirrors(t *testing.T) {
	study := text(t, "corncrake", "corncrake-first-night.yaml")
	study = strings.Replace(study, "corncrake-front.yaml", "geometry.yaml", 1)
	mm := text(t, "corncrake", "corncrake-front.yaml")
	left := bind(t, study, mm)
	// y ranges, the place of two goals and the sense of steer are mirrored by hand.
	mirrored := study
	for _, r := range [][2]string{
		{"steering_arm.y: {from: 616, to: 648}", "steering_arm.y: {from: -648, to: -616}"},
		{"pushrod_head.y: {from: 322, to: 352}", "pushrod_head.y: {from: -352, to: -322}"},
		{"damper_rocker.y: {from: 256, to: 292}", "damper_rocker.y: {from: -292, to: -256}"},
		{"{measure: ackermann, place: {rack_travel: -32}", "{measure: ackermann, place: {rack_travel: 32}"},
		{"{measure: steer_angle, place: {rack_travel: -32}, at_least: 20}", "{measure: steer_angle, place: {rack_travel: 32}, at_most: -20}"},
	} {
		if !strings.Contains(mirrored, r[0]) {
			t.Fatalf("the example no longer says %s", r[0])
		}
		mirrored = strings.Replace(mirrored, r[0], r[1], 1)
	}
	right := bind(t, mirrored, twin(mm))
	flips := []string{"rack_travel", "steer_angle", "contact_y", "roll_centre_lateral"}
	a, b := columnsOf(t, left), columnsOf(t, right)
	for m := range a {
		for name, v := range a[m] {
			sign := 1.0
			if slices.Contains(flips, name) {
				sign = -1
			}
			for i := range v {
				k := i
				if len(left.File.Motions[m].Rack) > 1 {
					k = len(v) - 1 - i
				}
				if y := b[m][name][k]; v[i] != sign*y && !(math.IsNaN(v[i]) && math.IsNaN(y)) {
					t.Errorf("motion %d, %s: left %v, right %v", m, name, v[i], y)
				}
			}
		}
	}
	plan, err := optimize.NewPlan(&left.Space, optimize.DefaultPlan())
	if err != nil {
		t.Fatal(err)
	}
	p := left.Space.Design()
	for i := range int64(50) {
		plan.At(&p, i)
		q := optimize.Point{X: slices.Clone(p.X)}
		for k := range q.X {
			if strings.HasSuffix(left.Space.Dims[k].Name, ".y") {
				q.X[k] = -q.X[k]
			}
		}
		x, y := outcome(left, nil, &p), outcome(right, nil, &q)
		if x.Status != y.Status || x.Score != y.Score || x.Violation != y.Violation {
			t.Errorf("candidate %d: left %v %v %v, right %v %v %v", i, x.Status, x.Score, x.Violation, y.Status, y.Score, y.Violation)
		}
	}
}

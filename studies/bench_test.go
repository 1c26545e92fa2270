package studies

import (
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"trammel/optimize"
	"trammel/studies/files"
	"trammel/studies/record"
)

// BenchmarkCandidate solves and judges candidates of the bare example, all over its box: 41 positions of heave
// and 21 of steer, and what its targets and limits need of them.
func BenchmarkCandidate(b *testing.B) {
	f, err := ReadStudy(bareFiles + "corncrake-first-night.yaml")
	if err != nil {
		b.Fatal(err)
	}
	candidates(b, mustBind(b, f))
}

// BenchmarkCandidateRoom is the same with all that takes room: three clearances and two joints.
func BenchmarkCandidateRoom(b *testing.B) {
	candidates(b, mustBind(b, example(b)))
}

func candidates(b *testing.B, st *Study) {
	plan, err := optimize.NewPlan(&st.Space, optimize.DefaultPlan())
	if err != nil {
		b.Fatal(err)
	}
	points := make([]optimize.Point, 4096)
	for i := range points {
		plan.At(&points[i], int64(i))
	}
	e := st.NewEvaluator()
	var o optimize.Outcome
	e.Evaluate(&points[0], &o)
	b.ReportAllocs()
	i := 0
	for b.Loop() {
		o.Reset()
		e.Evaluate(&points[i%len(points)], &o)
		i++
	}
}

// twentyNumbers is the example with the coordinates of its pivots and balls varied.
func twentyNumbers(b testing.TB) *Study {
	study := text(b, "corncrake", "corncrake-first-night.yaml")
	from, to := strings.Index(study, "vary:"), strings.Index(study, "targets:")
	vary := "vary:\n"
	n := 0
	for _, point := range []string{"upper_front", "upper_rear", "lower_front", "lower_rear", "upper_ball", "steering_arm", "damper_rocker"} {
		for _, axis := range []string{"x", "y", "z"} {
			if n++; n <= 20 {
				vary += "  " + point + "." + axis + ": {by: 3}\n"
			}
		}
	}
	return bind(b, strings.Replace(study[:from], "corncrake-front.yaml", "geometry.yaml", 1)+vary+"\n"+study[to:], text(b, "corncrake", "corncrake-front.yaml"))
}

// BenchmarkCandidateSlopes is a candidate of 20 varied numbers with the derivatives of every residual and limit, beside
// the plain one.
func BenchmarkCandidateSlopes(b *testing.B) {
	st := twentyNumbers(b)
	if n := len(st.Space.Dims); n != 20 {
		b.Fatalf("%d numbers vary", n)
	}
	plan, err := optimize.NewPlan(&st.Space, optimize.DefaultPlan())
	if err != nil {
		b.Fatal(err)
	}
	points := make([]optimize.Point, 256)
	for i := range points {
		plan.At(&points[i], int64(i))
	}
	for _, derivatives := range []bool{false, true} {
		b.Run(map[bool]string{false: "plain", true: "slopes"}[derivatives], func(b *testing.B) {
			e := st.NewEvaluator()
			var o optimize.Outcome
			for i := range points {
				points[i].Derivatives = derivatives
			}
			e.Evaluate(&points[0], &o)
			b.ReportAllocs()
			i := 0
			for b.Loop() {
				o.Reset()
				e.Evaluate(&points[i%len(points)], &o)
				i++
			}
		})
	}
}

// BenchmarkFill writes rows of the example as a worker does, without the disk; it reports the time for each
// column of a row.
func BenchmarkFill(b *testing.B) {
	st := mustBind(b, example(b))
	columns, err := st.runLayout()
	if err != nil {
		b.Fatal(err)
	}
	rows := record.NewRows(&columns.schema)
	e, p := st.NewEvaluator(), st.Space.Design()
	var o optimize.Outcome
	e.Evaluate(&p, &o)
	b.ReportAllocs()
	i := 0
	for b.Loop() {
		if i%480 == 0 {
			rows.Reset()
		}
		i++
		columns.fill(rows, int64(i), 1, 0, &p, &o, e)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(columns.schema.Columns)), "ns/cell")
}

// BenchmarkNight runs the example's plan into a folder, with every row and with none.
func BenchmarkNight(b *testing.B) {
	for name, rows := range map[string]files.Rows{"all": files.AllRows, "none": files.NoRows} {
		b.Run(name, func(b *testing.B) {
			var idle float64
			n := 0
			for b.Loop() {
				f := example(b)
				f.Record.Rows, f.Curves.Keep = rows, files.KeepNone
				f.Stages = f.Stages[:1]
				f.Stages[0].Runs = 20_000
				res := run(b, f, RunOptions{Dir: filepath.Join(b.TempDir(), "night")})
				idle += res.IdleShare
				n++
			}
			b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(n)/20_000, "µs/run")
			b.ReportMetric(100*idle/float64(n), "%idle")
		})
	}
}

// BenchmarkFillAfter measures what the cells of a row cost a worker that has just solved its candidate, as in a run: then
// neither they nor the code that sets them are in the processor's caches. Rows are timed one by one, and the median of
// the 95 in 100 quickest is reported for a cell, with their mean; the others have work of other programs in them.
func BenchmarkFillAfter(b *testing.B) {
	st := mustBind(b, example(b))
	columns, err := st.runLayout()
	if err != nil {
		b.Fatal(err)
	}
	plan, err := optimize.NewPlan(&st.Space, optimize.DefaultPlan())
	if err != nil {
		b.Fatal(err)
	}
	points := make([]optimize.Point, 512)
	for i := range points {
		plan.At(&points[i], int64(i))
	}
	rows, e := record.NewRows(&columns.schema), st.NewEvaluator()
	var o optimize.Outcome
	var took []time.Duration
	for i := 0; b.Loop(); i++ {
		k := i % len(points)
		if k == 0 {
			rows.Reset()
		}
		o.Reset()
		e.Evaluate(&points[k], &o)
		began := time.Now()
		columns.fill(rows, int64(i), 1, 0, &points[k], &o, e)
		took = append(took, time.Since(began))
	}
	slices.Sort(took)
	took = took[:1+len(took)*94/100]
	var sum time.Duration
	for _, d := range took {
		sum += d
	}
	cells := float64(len(columns.schema.Columns))
	b.ReportMetric(float64(took[len(took)/2].Nanoseconds())/cells, "median-ns/cell")
	b.ReportMetric(float64(sum.Nanoseconds())/float64(len(took))/cells, "mean-ns/cell")
}

// BenchmarkCell measures what recording a cell costs a whole run, in processor time: the bare example's plan at few
// positions, with every row and with none, in turn, so that all that comes with rows is in the difference. It reports
// that of the least of each, which other work on the machine disturbs least: let it go round twenty times or more.
func BenchmarkCell(b *testing.B) {
	const runs = 50_000
	policies := []files.Rows{files.NoRows, files.AllRows}
	least := make([]time.Duration, len(policies))
	columns := 0
	for b.Loop() {
		for i, rows := range policies {
			f := fewPositions(b)
			f.Record.Rows, f.Curves.Keep = rows, files.KeepNone
			f.Stages = f.Stages[:1]
			f.Stages[0].Runs = runs
			dir := filepath.Join(b.TempDir(), "night")
			before := processorTime()
			run(b, f, RunOptions{Dir: dir, Workers: 1})
			if used := processorTime() - before; least[i] == 0 || used < least[i] {
				least[i] = used
			}
			v, err := record.Read(dir)
			if err != nil {
				b.Fatal(err)
			}
			columns = len(v.Schema(record.TableRuns).Columns)
		}
	}
	b.ReportMetric(float64((least[1]-least[0]).Nanoseconds())/float64(runs*columns), "cpu-ns/cell")
	b.ReportMetric(float64(least[0].Nanoseconds())/runs, "cpu-ns/run-unrecorded")
}

// fewPositions is the bare example with the first and the last position of each motion.
func fewPositions(b testing.TB) *files.Study {
	f, err := ReadStudy(bareFiles + "corncrake-first-night.yaml")
	if err != nil {
		b.Fatal(err)
	}
	for i := range f.Motions {
		m := &f.Motions[i]
		for _, travel := range []*[]float64{&m.Wheel, &m.Rack} {
			if n := len(*travel); n > 1 {
				*travel = []float64{(*travel)[0], (*travel)[n-1]}
			}
		}
	}
	return f
}

package studies

import (
	"context"
	"fmt"
	"path/filepath"
	"testing"

	"trammel/studies/files"
	"trammel/studies/record"
)

// example reads the built-in example study.
func example(t testing.TB) *files.Study {
	t.Helper()
	f, err := ReadStudy("examples/corncrake-first-night.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// run runs a study into a folder and fails the test if it cannot.
func run(t testing.TB, f *files.Study, o RunOptions) *RunResult {
	t.Helper()
	res, err := Run(context.Background(), f, o)
	if err != nil {
		t.Fatal(err)
	}
	return res
}

// TestExampleFindsItsTargets: the example misses every target at design and meets at least two thirds of
// them after its own stages, whatever the seed.
func TestExampleFindsItsTargets(t *testing.T) {
	for seed := uint64(1); seed <= 5; seed++ {
		f := example(t)
		f.Seed = seed
		f.Curves = files.Curves{Keep: files.KeepNone}
		dir := filepath.Join(t.TempDir(), fmt.Sprint(seed))
		res := run(t, f, RunOptions{Dir: dir})
		if res.Ended != Finished || res.Runs < 20000 {
			t.Errorf("seed %d: ended %v after %d runs; want finished after at least 20000", seed, res.Ended, res.Runs)
		}
		a, err := OpenArchive(dir)
		if err != nil {
			t.Fatal(err)
		}
		ans, err := a.Rank()
		if err != nil {
			t.Fatal(err)
		}
		if ans.Design == nil {
			t.Fatal("the design does not assemble")
		}
		if len(a.Study.Space.Dims) < 8 {
			t.Errorf("%d numbers vary; want at least 8", len(a.Study.Space.Dims))
		}
		if met, _ := split(ans.Design.Targets); len(met) > 0 {
			t.Errorf("the design meets %v already; it should miss every target", met)
		}
		if !ans.AnyFeasible {
			t.Fatalf("seed %d: nothing feasible", seed)
		}
		if met, missed := split(ans.Answers[0].Targets); 3*len(met) < 2*len(ans.Answers[0].Targets) {
			t.Errorf("seed %d: the best run misses %v; at least two thirds should be met", seed, missed)
		}
		if seed == 1 {
			t.Log("\n" + ans.Text())
		}
	}
}

// TestRowsDoNotDependOnWorkers: 1, 2 and 7 workers write the same rows, to the bit.
func TestRowsDoNotDependOnWorkers(t *testing.T) {
	var first string
	for _, workers := range []int{1, 2, 7} {
		f := example(t)
		f.Stages[0].Runs, f.Stages[1].Locals = 1000, 16
		dir := filepath.Join(t.TempDir(), fmt.Sprint(workers))
		run(t, f, RunOptions{Dir: dir, Workers: workers})
		d := digest(t, dir)
		if first == "" {
			first = d
		}
		if d != first {
			t.Errorf("%d workers wrote other rows than 1", workers)
		}
	}
}

// digest hashes the rows of both tables of a study folder, whatever parts they lie in.
func digest(t testing.TB, dir string) string {
	t.Helper()
	v, err := record.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	out := ""
	for _, table := range []string{record.TableRuns, record.TableCurves} {
		d, err := v.Digest(table)
		if err != nil {
			t.Fatal(err)
		}
		out += d + fmt.Sprintf(" %d\n", v.NumRows(table))
	}
	return out
}

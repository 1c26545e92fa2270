package studies

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"trammel/studies/files"
	"trammel/studies/record"
)

// asWritten is the night with other stages and more keys, as a file says them: what a folder freezes is the
// file.
func asWritten(t testing.TB, stages string, more ...string) *files.Study {
	t.Helper()
	study, _, found := strings.Cut(string(night(t).Text), "stages:")
	if !found {
		t.Fatal("the night has no stages")
	}
	study += "stages: [" + stages + "]\n" + strings.Join(more, "\n") + "\n"
	return read(t, study, text(t, "corncrake", "corncrake-front.yaml"))
}

const (
	plans  = "{plan: halton, runs: 2000}, {plan: sobol, runs: 600}"
	search = "{search: differential-evolution, runs: 1600, islands: 4}"
)

// shards runs all shards of a study and returns their folders.
func shards(t testing.TB, f *files.Study, n int, base string) (dirs []string) {
	t.Helper()
	for i := range n {
		dir := filepath.Join(base, fmt.Sprintf("night-shard-%d-of-%d", i+1, n))
		res := run(t, f, RunOptions{Dir: dir, Shard: Shard{i + 1, n}, Workers: 1 + i%2})
		if res.Ended != ShardDone || !strings.Contains(res.Sentence, "trammel gather") {
			t.Fatalf("shard %d of %d ended %v: %s", i+1, n, res.Ended, res.Sentence)
		}
		dirs = append(dirs, dir)
	}
	return dirs
}

func gather(t testing.TB, dirs []string, out string) *GatherResult {
	t.Helper()
	res, err := Gather(context.Background(), dirs, GatherOptions{Dir: out})
	if err != nil {
		t.Fatal(err)
	}
	return res
}

// TestShards: however many shards a study is run in, gathered and gone on with it has the rows, totals and
// curves of one in one piece, whichever rows and curves it keeps.
func TestShards(t *testing.T) {
	for name, policy := range records {
		for _, curves := range []string{"best 100", "all"} {
			if policy.Rows == files.ImprovingRows {
				continue
			}
			f := asWritten(t, plans+", "+search, "record: {rows: "+name+"}", "curves: "+curves)
			base := t.TempDir()
			alone := filepath.Join(base, "alone")
			whole := run(t, f, RunOptions{Dir: alone})
			want := digest(t, alone)
			for _, n := range []int{1, 2, 5, 40} { // more than there are blocks in a stage
				if n > 2 && (policy.Rows != files.AllRows || curves == "all") {
					continue
				}
				sub := filepath.Join(base, fmt.Sprint(n))
				if n == 1 {
					res := run(t, f, RunOptions{Dir: sub, Shard: Shard{1, 1}})
					if res.Ended != Finished || digest(t, sub) != want {
						t.Errorf("rows: %s: the only shard ended %v, or has other rows", name, res.Ended)
					}
					continue
				}
				res := gather(t, shards(t, f, n, sub), "")
				if res.Dir != filepath.Join(sub, "night") || !strings.Contains(res.Sentence, "To go on with the stages that are left: trammel run study.yaml") {
					t.Errorf("gathered in %s: %s", res.Dir, res.Sentence)
				}
				rest := run(t, f, RunOptions{Dir: res.Dir})
				if rest.Ended != Finished || rest.Runs != whole.Runs || rest.Feasible != whole.Feasible || rest.Made+res.Runs != whole.Runs {
					t.Errorf("rows: %s, %d shards: ended %v with %d runs of %d, %d made in one piece", name, n, rest.Ended, rest.Runs, whole.Runs, rest.Made)
				}
				if digest(t, res.Dir) != want {
					t.Errorf("rows: %s, %d shards: other rows, totals or curves", name, n)
				}
			}
		}
	}
}

// TestGatherInAnyOrder: shards done twice, in part, in other shares, or joined in any order give the same
// folder.
func TestGatherInAnyOrder(t *testing.T) {
	base := t.TempDir()
	f := asWritten(t, plans)
	alone := filepath.Join(base, "alone")
	run(t, f, RunOptions{Dir: alone})
	want := digest(t, alone)
	all := append(shards(t, f, 3, filepath.Join(base, "three")), shards(t, f, 2, filepath.Join(base, "two"))...)
	part := filepath.Join(base, "part")
	ctx, cancel := context.WithCancel(context.Background())
	if _, err := Run(ctx, f, RunOptions{Dir: part, Record: after(2, cancel)}); err != nil {
		t.Fatal(err)
	}
	all = append(all, part)
	random := rand.New(rand.NewPCG(5, 1))
	for k := range 10 {
		out := filepath.Join(base, fmt.Sprint("out-", k))
		rest := slices.Clone(all)
		random.Shuffle(len(rest), func(i, j int) { rest[i], rest[j] = rest[j], rest[i] })
		for len(rest) > 0 {
			n := 1 + random.IntN(len(rest))
			if _, err := Gather(context.Background(), rest[:n], GatherOptions{Dir: out}); err != nil {
				t.Fatal(err)
			}
			rest = rest[n:]
		}
		if digest(t, out) != want {
			t.Fatalf("order %d: other rows, totals or curves than in one piece", k)
		}
	}
	// Small parts have become one.
	out := filepath.Join(base, "out")
	res := gather(t, all, out)
	if v, err := record.Read(out); err != nil || len(v.Parts(record.TableRuns)) != 1 || res.Taken.Equal == 0 {
		t.Errorf("%d parts (%v), %d blocks compared", len(v.Parts(record.TableRuns)), err, res.Taken.Equal)
	}
	if !strings.Contains(res.Sentence, "that several had are equal") || !strings.Contains(res.Sentence, "The answer: trammel rank "+out) {
		t.Error(res.Sentence)
	}
	if again := run(t, f, RunOptions{Dir: out}); again.Made != 0 || again.Ended != Finished {
		t.Errorf("the gathered study makes %d more runs", again.Made)
	}
}

// TestGatherAgainWithARound: islands can be shared out as well, one round at a time.
func TestGatherAgainWithARound(t *testing.T) {
	base := t.TempDir()
	f := night(t)
	alone := filepath.Join(base, "alone")
	whole := run(t, f, RunOptions{Dir: alone})
	dir := gather(t, shards(t, f, 2, base), "").Dir
	for round := 0; ; round++ {
		if round > 50 {
			t.Fatal("it never ends")
		}
		var dirs []string
		var runs int64
		for i := range 2 {
			d := filepath.Join(base, fmt.Sprint("round-", round, "-", i))
			if err := os.CopyFS(d, os.DirFS(dir)); err != nil {
				t.Fatal(err)
			}
			res := run(t, f, RunOptions{Dir: d, Shard: Shard{i + 1, 2}})
			if res.Ended != ShardDone && !(res.Ended == Finished && res.Made == 0) {
				t.Fatalf("round %d: ended %v", round, res.Ended)
			}
			dirs = append(dirs, d)
			runs += res.Made
		}
		if runs == 0 {
			break
		}
		dir = filepath.Join(base, fmt.Sprint("joined-", round))
		gather(t, dirs, dir)
	}
	if res := run(t, f, RunOptions{Dir: dir}); res.Made != 0 || res.Runs != whole.Runs || digest(t, dir) != digest(t, alone) {
		t.Errorf("shared out round by round: %d more runs, or other rows", res.Made)
	}
}

// TestGatherRefuses: folders that do not belong together are named, with what differs.
func TestGatherRefuses(t *testing.T) {
	base := t.TempDir()
	f := night(t)
	f.Stages = f.Stages[:1]
	dirs := shards(t, asWritten(t, plans+", "+search), 2, base)
	other := filepath.Join(base, "other")
	f.Seed++
	run(t, f, RunOptions{Dir: other})
	try := func(name string, out string, dirs []string, words ...string) {
		t.Helper()
		_, err := Gather(context.Background(), dirs, GatherOptions{Dir: out})
		wantUsage(t, name, err, words...)
	}
	try("none", "", nil, "no folder is named")
	try("another study", filepath.Join(base, "x"), []string{dirs[0], other}, other, "seed")
	try("no folder", "", []string{base}, "is no study folder")
	try("names that say nothing", "", []string{other}, "--out")
	try("into itself", dirs[0], dirs, "choose another --out")
	try("into another study", other, dirs, other, "another study")
	if _, err := os.Stat(filepath.Join(base, "x")); err == nil {
		t.Error("a folder was made")
	}
	// Rows that differ under the same number: a folder whose part was written by something else.
	f = asWritten(t, "{plan: sobol, runs: 600}")
	a, b := filepath.Join(base, "a"), filepath.Join(base, "b")
	run(t, f, RunOptions{Dir: a})
	forge(t, a, b, Build(), 1)
	var unequal *record.UnequalError
	if _, err := Gather(context.Background(), []string{a, b}, GatherOptions{Dir: filepath.Join(base, "ab")}); !errors.As(err, &unequal) || !strings.Contains(err.Error(), "column score of run ") {
		t.Errorf("other rows under the same numbers: %v", err)
	}
	// A flipped bit in a shard is told before anything of it is taken.
	parts, _ := filepath.Glob(filepath.Join(dirs[1], "runs", "*.parquet"))
	flip(t, parts[0])
	var damage *record.DamageError
	if _, err := Gather(context.Background(), dirs, GatherOptions{Dir: filepath.Join(base, "y")}); !errors.As(err, &damage) {
		t.Errorf("a shard with a flipped bit: %v", err)
	}
}

// TestAnotherBuild: rows of another build may differ in the last digit, so that it neither goes on in a
// folder nor joins it; reading is another thing.
func TestAnotherBuild(t *testing.T) {
	base := t.TempDir()
	f := asWritten(t, "{plan: sobol, runs: 600}")
	a, b := filepath.Join(base, "a"), filepath.Join(base, "b")
	run(t, f, RunOptions{Dir: a})
	forge(t, a, b, "go9.9 plan9/mips 0123", 0)
	_, err := Run(context.Background(), f, RunOptions{Dir: b})
	wantUsage(t, "a run", err, "another build of trammel (go9.9 plan9/mips 0123; this one is "+Build(), "trammel run study.yaml --out "+b+"-2")
	_, err = Gather(context.Background(), []string{a, b}, GatherOptions{Dir: filepath.Join(base, "ab")})
	wantUsage(t, "gathering", err, b, "another build", "Gather with that build")
	_, want := rank(t, a)
	if _, got := rank(t, b); got.Answers[0].Run != want.Answers[0].Run || got.Answers[0].Score != want.Answers[0].Score {
		t.Error("the folder of another build ranks otherwise")
	}
}

// forge writes a folder like another, as of a build, with more added to the score of its last run.
func forge(t *testing.T, from, to, build string, more float64) {
	t.Helper()
	v, err := record.Read(from)
	if err != nil {
		t.Fatal(err)
	}
	st := open(t, from).Study
	h := v.Header()
	o := record.DefaultOptions()
	folder, err := record.Create(to, record.Header{Study: h.Study, Build: build, Identity: h.Identity}, st.frozen(), o, *v.Schema(record.TableRuns), *v.Schema(record.TableCurves))
	if err != nil {
		t.Fatal(err)
	}
	defer folder.Close()
	if err := folder.SetFact(factInputs, st.inputs()); err != nil {
		t.Fatal(err)
	}
	all := wholeTable(t, from, record.TableRuns)
	score := all.Index("score")
	for _, s := range v.Finished() {
		for block := s.First; block <= s.Last; block++ {
			rows := record.NewRows(v.Schema(record.TableRuns))
			for i := range all.Len() {
				run, _ := all.IntAt(colRun, i)
				if stage, b, _ := record.SplitRun(run); stage != s.Stage || b != block {
					continue
				}
				rows.Copy(all, i)
				if x, ok := all.FloatAt(score, i); ok && i == all.Len()-1 {
					rows.Null(score)
					rows.Float(score, x+more)
				}
			}
			counts, _ := v.CountsOf(s.Stage, block, block)
			if err := folder.Append(record.Block{Stage: s.Stage, Block: block, Rows: rows, Counts: counts}); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// TestParseShard: what a person types, and what job arrays say; numbers from Slurm's and Kubernetes' own
// documentation of their variables.
func TestParseShard(t *testing.T) {
	for _, c := range []struct {
		text string
		env  map[string]string
		want Shard
		says string
	}{
		{text: "2/4", want: Shard{2, 4}},
		{text: "1/1", want: Shard{1, 1}},
		{text: "env", env: map[string]string{"SLURM_ARRAY_TASK_ID": "3", "SLURM_ARRAY_TASK_MIN": "0", "SLURM_ARRAY_TASK_COUNT": "8"}, want: Shard{4, 8}},
		{text: "env", env: map[string]string{"SLURM_ARRAY_TASK_ID": "7", "SLURM_ARRAY_TASK_MIN": "1", "SLURM_ARRAY_TASK_STEP": "2", "SLURM_ARRAY_TASK_COUNT": "4"}, want: Shard{4, 4}},
		{text: "env/5", env: map[string]string{"JOB_COMPLETION_INDEX": "0"}, want: Shard{1, 5}},
		{text: "env", env: map[string]string{"JOB_COMPLETION_INDEX": "0"}, says: "env/4"},
		{text: "env", says: "finds neither"},
		{text: "env", env: map[string]string{"SLURM_ARRAY_TASK_ID": "x"}, says: "SLURM_ARRAY_TASK_ID is \"x\""},
		{text: "5/4", says: "shard 5 of 4 cannot be"},
		{text: "0/4", says: "the first of four is 1/4"},
		{text: "4", says: "write 2/4"},
		{text: "a/b", says: "write 2/4"},
	} {
		got, err := ParseShard(c.text, func(name string) string { return c.env[name] })
		if c.says == "" && (err != nil || got != c.want) {
			t.Errorf("%s with %v: %v, %v; want %v", c.text, c.env, got, err, c.want)
		}
		if c.says != "" {
			wantUsage(t, c.text, err, c.says)
		}
	}
}

// TestPartsOfARound: every block belongs to one shard, and shares differ by one at most.
func TestPartsOfARound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, of := rapid.IntRange(0, 100_000_000).Draw(t, "blocks"), rapid.IntRange(1, 300).Draw(t, "shards")
		at := 0
		for i := range of {
			from, to := Shard{i + 1, of}.part(n)
			if from != at || to-from < n/of || to-from > n/of+1 {
				t.Fatalf("shard %d of %d has blocks %d to %d of %d", i+1, of, from, to, n)
			}
			at = to
		}
		if at != n {
			t.Fatalf("%d of %d blocks are shared out", at, n)
		}
	})
}

// TestGatherCutShort: joining that is stopped, or whose disk fails, at any point is done again with the same
// command, to the same folder.
func TestGatherCutShort(t *testing.T) {
	base := t.TempDir()
	f := asWritten(t, plans)
	alone := filepath.Join(base, "alone")
	run(t, f, RunOptions{Dir: alone})
	want := digest(t, alone)
	dirs := shards(t, f, 3, base)
	pulled := errors.New("the plug was pulled")
	for i, point := range record.CrashPoints() {
		if strings.Contains(point, "checkpoint") {
			continue // plans have none
		}
		out := filepath.Join(base, fmt.Sprint("out-", i))
		for count := 1; ; count += 3 {
			o := record.DefaultOptions()
			o.PartBytes = 1 << 15 // many parts
			left := count
			o.Hook = func(p string) error {
				if p == point {
					if left--; left == 0 {
						return pulled
					}
				}
				return nil
			}
			_, err := Gather(context.Background(), dirs, GatherOptions{Dir: out, Record: o})
			if err == nil {
				break
			}
			if !errors.Is(err, pulled) {
				t.Fatalf("%s: %v", point, err)
			}
			if count > 400 {
				t.Fatalf("%s: it never ends", point)
			}
		}
		if digest(t, out) != want {
			t.Errorf("cut short %s and done again: other rows", point)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Gather(ctx, dirs, GatherOptions{Dir: filepath.Join(base, "stopped")}); !errors.Is(err, context.Canceled) {
		t.Errorf("a context that has ended: %v", err)
	}
}

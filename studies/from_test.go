package studies

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"trammel/studies/files"
	"trammel/studies/record"
)

// tookOver returns what a folder says that it took over from an older night.
func tookOver(t *testing.T, dir string) (o older) {
	t.Helper()
	v, err := record.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := v.Fact(factFrom, &o); err != nil {
		t.Fatal(err)
	}
	return o
}

// shardsFrom runs both halves of a study that begins with older nights, one for each.
func shardsFrom(t *testing.T, f *files.Study, base string, from ...string) (dirs []string) {
	t.Helper()
	for i := range from {
		dir := filepath.Join(base, Shard{i + 1, len(from)}.dirOf("night"))
		res := run(t, f, RunOptions{Dir: dir, From: from[i], Shard: Shard{i + 1, len(from)}, Workers: 1 + i})
		if res.Ended != ShardDone {
			t.Fatalf("shard %d ended %v: %s", i+1, res.Ended, res.Sentence)
		}
		dirs = append(dirs, dir)
	}
	return dirs
}

// TestFromInShards: every shard of a night that begins with an older one freezes the same starts; gathered, and gone on
// with when the older folder is gone, they have the rows of one in one piece. Shards that begin otherwise are told apart.
func TestFromInShards(t *testing.T) {
	base := t.TempDir()
	first, other := filepath.Join(base, "first"), filepath.Join(base, "other")
	run(t, asWritten(t, "{plan: sobol, runs: 256}, {refine: 8}"), RunOptions{Dir: first})
	run(t, asWritten(t, "{plan: halton, runs: 300}"), RunOptions{Dir: other})
	moved := filepath.Join(base, "moved") // the same night on another machine
	if err := os.CopyFS(moved, os.DirFS(first)); err != nil {
		t.Fatal(err)
	}
	f := asWritten(t, plans+", "+search)
	alone := filepath.Join(base, "alone")
	whole := run(t, f, RunOptions{Dir: alone, From: first})
	want := tookOver(t, alone)
	if len(want.Points) < 2 {
		t.Fatalf("%d starts were taken over", len(want.Points))
	}
	dirs := shardsFrom(t, f, base, first, moved, first)
	for _, dir := range dirs {
		if got := tookOver(t, dir); !reflect.DeepEqual(got.Points, want.Points) || !reflect.DeepEqual(got.Runs, want.Runs) {
			t.Errorf("%s begins with other points than the study in one piece", dir)
		}
	}
	mixed := shardsFrom(t, f, filepath.Join(base, "mixed"), first, other)
	plain := shardsFrom(t, f, filepath.Join(base, "plain"), "", "")
	for _, dir := range []string{first, moved, other} {
		if err := os.RemoveAll(dir); err != nil {
			t.Fatal(err)
		}
	}
	if res := run(t, f, RunOptions{Dir: dirs[1], Shard: Shard{2, 3}}); res.Made != 0 || res.Ended != ShardDone {
		t.Errorf("a shard that is done makes %d more runs without the older night, and ends %v", res.Made, res.Ended)
	}
	joined := gather(t, dirs, "")
	if got := tookOver(t, joined.Dir); !reflect.DeepEqual(got.Points, want.Points) {
		t.Error("the gathered folder begins with other points")
	}
	rest := run(t, f, RunOptions{Dir: joined.Dir})
	if rest.Ended != Finished || rest.Runs != whole.Runs || digest(t, joined.Dir) != digest(t, alone) {
		t.Errorf("gathered and gone on with: %d runs of %d, or other rows than in one piece", rest.Runs, whole.Runs)
	}
	for name, dirs := range map[string][]string{"two older nights": mixed, "with and without": {dirs[0], plain[1]}, "without and with": {plain[0], dirs[1]}} {
		_, err := Gather(context.Background(), dirs, GatherOptions{Dir: filepath.Join(base, "x")})
		wantUsage(t, name, err, dirs[1], dirs[0], "what it begins with from an older night (--from) is not the same")
	}
}

// TestFromCutShort: a night that begins with an older one and is cut off at any moment, also while its folder is
// being made, goes on with the same command; and so does gathering.
func TestFromCutShort(t *testing.T) {
	base := t.TempDir()
	first := filepath.Join(base, "first")
	run(t, asWritten(t, "{plan: sobol, runs: 256}"), RunOptions{Dir: first})
	f := asWritten(t, "{plan: sobol, runs: 60}")
	alone := filepath.Join(base, "alone")
	run(t, f, RunOptions{Dir: alone, From: first})
	want := digest(t, alone)
	halves := shardsFrom(t, f, base, first, first)
	pulled := errors.New("the plug was pulled")
	cut := func(count int) record.Options {
		o := record.DefaultOptions()
		o.Hook = func(string) error {
			if count--; count < 0 {
				return pulled
			}
			return nil
		}
		return o
	}
	for count := 0; ; count += 1 + count/8 {
		dir := filepath.Join(t.TempDir(), "night")
		_, err := Run(context.Background(), f, RunOptions{Dir: dir, From: first, Record: cut(count)})
		if err == nil {
			break
		}
		if !errors.Is(err, pulled) {
			t.Fatalf("point %d: %v", count, err)
		}
		if _, err := Run(context.Background(), f, RunOptions{Dir: dir, From: first}); err != nil {
			t.Fatalf("cut off at point %d: the same command says %v", count, err)
		}
		if digest(t, dir) != want {
			t.Fatalf("cut off at point %d: other rows", count)
		}
	}
	for count := 0; ; count += 1 + count/8 {
		out := filepath.Join(t.TempDir(), "night")
		_, err := Gather(context.Background(), halves, GatherOptions{Dir: out, Record: cut(count)})
		if err == nil {
			break
		}
		if !errors.Is(err, pulled) {
			t.Fatalf("gathering, point %d: %v", count, err)
		}
		if _, err := Gather(context.Background(), halves, GatherOptions{Dir: out}); err != nil {
			t.Fatalf("gathering cut off at point %d: the same command says %v", count, err)
		}
		if digest(t, out) != want {
			t.Fatalf("gathering cut off at point %d: other rows", count)
		}
		if res, err := Run(context.Background(), f, RunOptions{Dir: out}); err != nil || res.Made != 0 {
			t.Fatalf("gathered after a cut at point %d: running it says %v, and makes %v", count, err, res)
		}
	}
}

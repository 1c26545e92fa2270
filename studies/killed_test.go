package studies

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"trammel/studies/files"
	"trammel/studies/record"
)

// everyKind are stages of every kind there is.
const everyKind = "{plan: sobol, runs: 300}, {search: differential-evolution, runs: 600, islands: 4}, {search: cma-es, runs: 600, islands: 2}, " +
	"{refine: 8}, {trade: [camber, bump steer], runs: 600, islands: 2}"

// everyNight is the night with stages of every kind, for this process and for the children that it starts.
func everyNight(t *testing.T) *files.Study {
	t.Helper()
	t.Setenv(childStages, everyKind)
	return asWritten(t, everyKind)
}

// whole is a night that was left alone, for comparison.
type whole struct {
	digest string
	blocks int
	res    *RunResult
	passed map[string]int // how often it passed each named point
	took   time.Duration
}

func leftAlone(t *testing.T) whole {
	t.Helper()
	w := whole{passed: map[string]int{}}
	dir := filepath.Join(t.TempDir(), "alone")
	o := often()
	o.Hook = func(point string) error { w.passed[point]++; return nil }
	began := time.Now()
	w.res = run(t, everyNight(t), RunOptions{Dir: dir, Workers: 2, Record: o})
	w.took = time.Since(began)
	w.digest, w.blocks = digest(t, dir), finished(dir)
	return w
}

// goOn finishes a folder whose run was killed and compares it with the night that was left alone.
func (w *whole) goOn(t *testing.T, what, dir string) {
	t.Helper()
	before := finished(dir)
	res := run(t, everyNight(t), RunOptions{Dir: dir, Workers: 3})
	if got := digest(t, dir); got != w.digest {
		t.Errorf("killed %s with %d of %d blocks finished, and gone on with: other rows", what, before, w.blocks)
	}
	if res.Runs != w.res.Runs || res.Feasible != w.res.Feasible {
		t.Errorf("killed %s: %d runs and %d feasible, want %d and %d", what, res.Runs, res.Feasible, w.res.Runs, w.res.Feasible)
	}
	if before == w.blocks && res.Made != 0 {
		t.Errorf("killed %s: finished blocks are made again", what)
	}
}

// TestKilled: a run killed outright at any named point of its record, once or several times, and run again
// gives the rows and curves of one that was left alone, to the bit.
func TestKilled(t *testing.T) {
	w := leftAlone(t)
	random := rand.New(rand.NewPCG(7, 11))
	for _, point := range record.CrashPoints() {
		if w.passed[point] < 10 {
			t.Errorf("the night passes %q %d times; it should be often", point, w.passed[point])
			continue
		}
		dir := filepath.Join(t.TempDir(), "night")
		count := 1 + random.IntN(w.passed[point])
		kill(t, dir, point, count)
		w.goOn(t, fmt.Sprintf("%s, time %d of %d", point, count, w.passed[point]), dir)
	}
	dir := filepath.Join(t.TempDir(), "night")
	for _, point := range []string{record.CrashBeforePartSync, record.CrashAfterStatesRename, record.CrashInEntry} {
		before := finished(dir)
		kill(t, dir, point, 8)
		if n := finished(dir); n <= before || n >= w.blocks {
			t.Errorf("killed %s: %d of %d blocks are finished, %d before", point, n, w.blocks, before)
		}
	}
	w.goOn(t, "three times", dir)
}

// TestKilledAtRandom: the same at moments that chance picks, over the length of the run; as many as
// TRAMMEL_TEST_KILLS says, 5 if it says nothing.
func TestKilledAtRandom(t *testing.T) {
	kills := 5
	if text := os.Getenv("TRAMMEL_TEST_KILLS"); text != "" {
		n, err := strconv.Atoi(text)
		if err != nil {
			t.Fatalf("TRAMMEL_TEST_KILLS is %q; it should be a whole number", text)
		}
		kills = n
	}
	w := leftAlone(t)
	seed := uint64(time.Now().UnixNano())
	random := rand.New(rand.NewPCG(seed, 0))
	early := 0
	for i := range kills {
		dir := filepath.Join(t.TempDir(), "night")
		c := child(t, dir, "", 0)
		moment := time.Duration((float64(i) + random.Float64()) / float64(kills) * float64(w.took))
		time.Sleep(moment)
		c.Process.Kill()
		c.Wait()
		n := finished(dir)
		if n < w.blocks {
			early++
		}
		t.Logf("kill %d: after %v, %d of %d blocks finished", i+1, moment.Round(time.Millisecond), n, w.blocks)
		w.goOn(t, fmt.Sprintf("after %v (seed %d)", moment, seed), dir)
	}
	if kills > 4 && early == 0 {
		t.Errorf("none of %d kills came before the end", kills)
	}
}

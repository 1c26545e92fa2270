package studies

import (
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"trammel/optimize"
)

// TestTwoLayoutsAreTwoAnswers: the corncrake's night has two layouts of one score, with the pushrod's head at either end of its range
// and a hump between them. Both are answers with their hits, and of the two the one that moves less is the first, for rank, export
// and curves alike. That there is a hump is seen without the rounds that join: with the head held in between, a night of
// its own finds nothing as good.
func TestTwoLayoutsAreTwoAnswers(t *testing.T) {
	f := example(t)
	f.Stages[0].Runs = 4096
	dir := filepath.Join(t.TempDir(), "night")
	run(t, f, RunOptions{Dir: dir})
	a := open(t, dir)
	ans, err := a.Rank()
	if err != nil {
		t.Fatal(err)
	}
	if len(ans.Answers) != 2 || ans.Search.Answers != 2 {
		t.Fatalf("%d answers, and the search says %d", len(ans.Answers), ans.Search.Answers)
	}
	near, far := &ans.Answers[0], &ans.Answers[1]
	head := slices.IndexFunc(near.Moved, func(m Moved) bool { return m.Name == "pushrod_head.y" })
	if in, out := near.Moved[head].Now, far.Moved[head].Now; in > 323 || out < 345 || near.Hits < 1 || far.Hits < 1 || near.Hits+far.Hits != ans.Search.Searches {
		t.Errorf("the pushrod's head stands at %g with %d hits, and at %g with %d, of %d searches", in, near.Hits, out, far.Hits, ans.Search.Searches)
	}
	if math.Abs(near.Score-far.Score) > 1e-4*near.Score {
		t.Errorf("the scores are %g and %g", near.Score, far.Score)
	}
	if says := ans.Text(); !strings.Contains(says, "64 local searches came to 2 distinct answers") || !strings.Contains(says, "the first 2 score alike") {
		t.Errorf("the answer is:\n%s", says)
	}
	for name, g := range map[string]func(int64) (string, error){
		"geometry": func(n int64) (string, error) { g, err := a.Geometry(n); return string(g.Encode()), err },
		"standing": func(n int64) (string, error) {
			x, err := a.Export(n, false)
			if err != nil {
				return "", err
			}
			return x.Standing, nil
		},
	} {
		best, err := g(-1)
		if first, err2 := g(near.Run); err != nil || err2 != nil || first != best {
			t.Errorf("the %s of the best is not that of the first answer (%v, %v)", name, err, err2)
		}
	}

	const between = "334" // as drawn
	drawn, err := os.ReadFile(filepath.Join("examples", "corncrake-front.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	geometry := string(drawn)
	study := string(f.Text)
	held := strings.Replace(study, "  pushrod_head.y: {from: 322, to: 352}\n", "", 1)
	held, _, _ = strings.Cut(held, "stages:")
	held = strings.Replace(held, "geometry: corncrake-front.yaml", "geometry: geometry.yaml", 1) + "stages: [{plan: sobol, runs: 512}, {refine: 8}]\n"
	if held == study || !strings.Contains(geometry, "pushrod_head:  [  -4, "+between+", 446]") {
		t.Fatal("the head is not held")
	}
	dir = filepath.Join(t.TempDir(), "held")
	run(t, read(t, held, geometry), RunOptions{Dir: dir})
	_, mid := rank(t, dir)
	if mid.Answers[0].Status != optimize.OK.String() || mid.Answers[0].Score < 1.05*near.Score {
		t.Errorf("with the head held at %s: %s, score %g; at the ends %g", between, mid.Answers[0].Status, mid.Answers[0].Score, near.Score)
	}
}

// TestTiesGoToTheNearest: of answers whose scores differ by less than 1e-4 of the best, the one that moves the points least is the
// first, of equals the one with the most hits; beyond that, and where limits are broken, the score decides.
func TestTiesGoToTheNearest(t *testing.T) {
	f := example(t)
	st := mustBind(t, f)
	a := &Archive{Study: st, e: st.NewEvaluator()}
	at := func(run int64, score float64, hits int, steps int64) cluster {
		p := st.Space.Design()
		p.X[0] = st.Space.Value(0, st.Space.Dims[0].Design+steps)
		c := cluster{leader: leader{Run: run, X: p.X, Choice: p.Choice, Score: score}}
		if hits > 0 {
			c.answer = &optimize.Answer{Hits: hits}
		}
		return c
	}
	order := func(all ...cluster) (runs []int64) {
		n := a.tied(all)
		for _, c := range all {
			runs = append(runs, c.Run)
		}
		return append(runs, int64(n))
	}
	far, near, next := at(1, 1, 63, 500), at(2, 1.00009, 1, -100), at(3, 1.0002, 9, 0)
	if got := order(far, near, next); !slices.Equal(got, []int64{2, 1, 3, 2}) {
		t.Errorf("the nearest of a tie is not first: %v", got)
	}
	if got := order(at(1, 1, 2, 100), at(2, 1, 3, -100), at(3, 1, 0, 100)); !slices.Equal(got, []int64{2, 1, 3, 3}) {
		t.Errorf("of equals that with the most hits is not first: %v", got)
	}
	if got := order(at(1, 0, 1, 100), at(2, 0, 1, 50), at(3, 1e-9, 1, 0)); !slices.Equal(got, []int64{2, 1, 3, 2}) {
		t.Errorf("nothing ties with a score of 0 but 0: %v", got)
	}
	for i, c := range []*cluster{&far, &near} {
		c.Status, c.Over = optimize.OverLimit, float64(1+i)
	}
	if got := order(far, near); !slices.Equal(got, []int64{1, 2, 1}) {
		t.Errorf("what breaks limits is ranked by its violation: %v", got)
	}
	if got := order(); !slices.Equal(got, []int64{0}) {
		t.Errorf("nothing: %v", got)
	}
}

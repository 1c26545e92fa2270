package optimize_test

import (
	"context"
	"math"
	"slices"
	"testing"

	"trammel/optimize"
	"trammel/optimize/problems"
	"trammel/optimize/searchtest"
)

// landscape returns the problem of residuals with their derivatives, in a box from -size to size.
func landscape(name string, n int, size int64, residuals func(x []float64) (r []float64, j [][]float64)) *problems.Problem {
	const per = 100_000
	p := &problems.Problem{Name: name, Space: &optimize.Space{}}
	for i := range n {
		p.Space.Dims = append(p.Space.Dims, optimize.Dim{Name: string(rune('a' + i)), Low: -size * per, High: size * per, PerUnit: per})
	}
	p.Aims = func(r, x []float64, _ []int) []float64 {
		more, _ := residuals(x)
		return append(r, more...)
	}
	p.AimSlopes = func(j, x []float64) []float64 {
		_, rows := residuals(x)
		return append(j, slices.Concat(rows...)...)
	}
	p.Score = func(x []float64, _ []int) (sum float64) {
		r, _ := residuals(x)
		for _, v := range r {
			sum += v * v
		}
		return sum
	}
	return p
}

// stiff adds residuals that tie every number but the first few to a sum of these, and one that nothing lowers, so that there is a
// score to compare humps with.
func stiff(lead, n int, share []float64, residuals func(x []float64) ([]float64, [][]float64)) func(x []float64) ([]float64, [][]float64) {
	return func(x []float64) (r []float64, j [][]float64) {
		r, j = residuals(x)
		for i := range j {
			j[i] = append(j[i], make([]float64, n-lead)...)
		}
		for i := lead; i < n; i++ {
			row, v := make([]float64, n), x[i]
			for k, s := range share {
				v -= s * x[k]
				row[k] = -30 * s
			}
			row[i] = 30
			r, j = append(r, 30*v), append(j, row)
		}
		return append(r, 0.2), append(j, make([]float64, n))
	}
}

// twin has two wells of one depth, at 1 and -1 of the first number, and a hump between them that is a quarter of the score high. The
// other numbers are so stiff that the wells look flat beside them.
func twin(height float64) *problems.Problem {
	return landscape("twin", 6, 2, stiff(1, 6, []float64{0.5}, func(x []float64) ([]float64, [][]float64) {
		return []float64{height * (x[0]*x[0] - 1)}, [][]float64{{2 * height * x[0]}}
	}))
}

// ties refines a problem and returns its answers, and what is wrong with their hits.
func ties(t *testing.T, p *problems.Problem, seed uint64) []optimize.Answer {
	t.Helper()
	r, rows := refineProblem(t, p, func(o *optimize.RefineOptions) { o.Seed = seed })
	hits := 0
	for _, a := range r.Answers() {
		hits += a.Hits
		if !slices.ContainsFunc(rows, func(row searchtest.Row) bool {
			return row.Run == a.Run && slices.Equal(row.X, a.X) && row.Score == a.Outcome.Score
		}) {
			t.Errorf("%s, seed %d: the answer of run %d is no row", p.Name, seed, a.Run)
		}
	}
	if u := r.Unseen(); u.Searches != hits || u.Answers != len(r.Answers()) {
		t.Errorf("%s, seed %d: %d hits of %d answers, but %+v", p.Name, seed, hits, len(r.Answers()), u)
	}
	if got := best(rows); got != r.Answers()[0].Outcome.Score {
		t.Errorf("%s, seed %d: the best row has %g, the first answer %g", p.Name, seed, got, r.Answers()[0].Outcome.Score)
	}
	return r.Answers()
}

// Two wells of one depth are two answers, each with its hits, however soft the hump between them is beside the other numbers; one
// that is a thousandth of the score high is none.
func TestTwinWellsAreTwoAnswers(t *testing.T) {
	for seed := uint64(1); seed <= 3; seed++ {
		got := ties(t, twin(0.1), seed)
		if len(got) != 2 || got[0].X[0]*got[1].X[0] > -0.9 || got[0].Hits < 5 || got[1].Hits < 5 {
			t.Errorf("seed %d: %d answers, the first at %v with %d hits", seed, len(got), got[0].X, got[0].Hits)
		}
		if got := ties(t, twin(0.2*math.Sqrt(1e-3)), seed); len(got) != 1 {
			t.Errorf("seed %d: a hump of a thousandth: %d answers", seed, len(got))
		}
	}
}

// The four minima of D. M. Himmelblau, Applied Nonlinear Programming (1972), all of score 0 (places as commonly printed), are four
// answers, alone and beside stiff numbers that make the ways between them look flat.
func TestHimmelblauHasFourAnswers(t *testing.T) {
	minima := [][2]float64{{3, 2}, {-2.805118, 3.131312}, {-3.779310, -3.283186}, {3.584428, -1.848126}}
	himmelblau := func(x []float64) ([]float64, [][]float64) {
		return []float64{0.05 * (x[0]*x[0] + x[1] - 11), 0.05 * (x[0] + x[1]*x[1] - 7)}, [][]float64{{0.1 * x[0], 0.05}, {0.05, 0.1 * x[1]}}
	}
	for _, n := range []int{2, 6} {
		p := landscape("himmelblau", n, 5, stiff(2, n, []float64{0.3, 0.2}, himmelblau))
		for seed := uint64(1); seed <= 3; seed++ {
			got := ties(t, p, seed)
			for _, m := range minima {
				if !slices.ContainsFunc(got, func(a optimize.Answer) bool { return math.Hypot(a.X[0]-m[0], a.X[1]-m[1]) < 1e-3 }) {
					t.Errorf("%d numbers, seed %d: no answer at %v", n, seed, m)
				}
			}
			if len(got) != len(minima) {
				t.Errorf("%d numbers, seed %d: %d answers", n, seed, len(got))
			}
		}
	}
}

// Valleys without a hump are one answer each, wherever in them searches end: a straight one, one along a twisted cubic, a
// ring, and a surface.
func TestFlatValleysAreOneAnswer(t *testing.T) {
	for _, p := range []*problems.Problem{
		landscape("straight", 6, 2, stiff(1, 6, []float64{0.5}, func([]float64) ([]float64, [][]float64) { return nil, nil })),
		landscape("cubic", 3, 2, func(x []float64) ([]float64, [][]float64) {
			return []float64{10 * (x[1] - x[0]*x[0]), 10 * (x[2] - x[0]*x[1]), 0.2},
				[][]float64{{-20 * x[0], 10, 0}, {-10 * x[1], -10 * x[0], 10}, {0, 0, 0}}
		}),
		landscape("ring", 2, 2, func(x []float64) ([]float64, [][]float64) {
			return []float64{10 * (x[0]*x[0] + x[1]*x[1] - 1)}, [][]float64{{20 * x[0], 20 * x[1]}}
		}),
		landscape("surface", 5, 2, func(x []float64) ([]float64, [][]float64) {
			return []float64{3 * (x[3] - x[0]*x[1]), 3 * (x[4] - x[1]*x[2]), 0.1},
				[][]float64{{-3 * x[1], -3 * x[0], 0, 3, 0}, {0, -3 * x[2], -3 * x[1], 0, 3}, make([]float64, 5)}
		}),
	} {
		for seed := uint64(1); seed <= 3; seed++ {
			if got := ties(t, p, seed); len(got) != 1 {
				t.Errorf("%s, seed %d: %d answers, at %v with %d hits, %v with %d and others", p.Name, seed, len(got), got[0].X, got[0].Hits, got[1].X, got[1].Hits)
			}
		}
	}
}

// Rounds that join, too, have the same rows with any number of workers, restored between batches, and resumed; and one that is cut off
// is taken for what the models said.
func TestJoiningAgain(t *testing.T) {
	makes := func(space *optimize.Space, seed uint64, _ int64) (optimize.Stage, error) {
		o := optimize.DefaultRefine(space)
		o.Seed, o.Stage, o.Searches, o.Together = seed, searchtest.Stage, 24, 4
		return optimize.NewRefine(space, o)
	}
	p := twin(0.1)
	searchtest.One(t, makes, p)

	o := optimize.DefaultRefine(p.Space)
	o.Searches, o.Together = 12, 4
	r, err := optimize.NewRefine(p.Space, o)
	if err != nil {
		t.Fatal(err)
	}
	var scratch optimize.BlockScratch
	due := 0
	for round := 0; r.Blocks(round) > 0; round++ {
		var states [][]byte
		for b := range r.Blocks(round) {
			s, budget := r.Start(round, b), r.Budget(round, b)
			if round == 4 { // after one that screens and three of searches
				due, budget = due+budget, 0
			}
			if _, err := optimize.RunBlock(context.Background(), s, p.Evaluator(), budget, &scratch, func(int, *optimize.Point, *optimize.Outcome) {}); err != nil {
				t.Fatal(err)
			}
			states = append(states, s.AppendState(nil))
		}
		if err := r.Meet(round, states); err != nil {
			t.Fatal(err)
		}
	}
	if len(r.Answers()) != 1 || due == 0 {
		t.Errorf("without any of the %d rows that it may take: %d answers", due, len(r.Answers()))
	}
}

// FuzzJoiningState hands damaged states to rounds that join.
func FuzzJoiningState(f *testing.F) {
	p := twin(0.1)
	o := optimize.DefaultRefine(p.Space)
	o.Searches, o.Together, o.Screen = 6, 3, 8
	const joins = 3 // after one round that screens and two of searches
	stage := func() *optimize.Refine {
		r, err := optimize.NewRefine(p.Space, o)
		if err != nil {
			f.Fatal(err)
		}
		return r
	}
	r := stage()
	var scratch optimize.BlockScratch
	var before [][]byte
	for round := range joins {
		before = nil
		for b := range r.Blocks(round) {
			s := r.Start(round, b)
			if _, err := optimize.RunBlock(context.Background(), s, p.Evaluator(), r.Budget(round, b), &scratch, func(int, *optimize.Point, *optimize.Outcome) {}); err != nil {
				f.Fatal(err)
			}
			before = append(before, s.AppendState(nil))
		}
		if err := r.Meet(round, before); err != nil {
			f.Fatal(err)
		}
	}
	learn := func(s optimize.Searcher) []optimize.Point {
		points := s.Propose(nil, 40)
		outcomes := make([]optimize.Outcome, len(points))
		for i := range points {
			outcomes[i].X = points[i].X
			p.Evaluator().Evaluate(&points[i], &outcomes[i])
		}
		if len(points) > 0 {
			s.Learn(outcomes)
		}
		return points
	}
	rest := [][]byte{r.Start(joins, 1).AppendState(nil), r.Start(joins, 2).AppendState(nil)}
	s := r.Start(joins, 0)
	f.Add(s.AppendState(nil))
	rows := 0
	for range 30 {
		rows += len(learn(s))
		f.Add(s.AppendState(nil))
	}
	if rows == 0 {
		f.Fatal("there was no way to walk")
	}
	f.Fuzz(func(t *testing.T, state []byte) {
		s := r.Start(joins, 0)
		if s.Restore(state) == nil {
			for range 3 {
				for _, at := range learn(s) {
					if err := p.Space.Allows(&at); err != nil {
						t.Fatal(err)
					}
				}
			}
			if s.Restore(s.AppendState(nil)) != nil {
				t.Fatal("a state made is not taken back")
			}
		}
		if met := stage(); met.Meet(joins, [][]byte{state, rest[0], rest[1]}) == nil {
			met.Answers()
		}
	})
}

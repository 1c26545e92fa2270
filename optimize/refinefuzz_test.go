package optimize_test

import (
	"testing"

	"trammel/optimize"
	"trammel/optimize/problems"
)

// FuzzRefineState hands damaged states to refinements: an error or a searcher that goes on, never a panic,
// and never a point that is not allowed.
func FuzzRefineState(f *testing.F) {
	p := problems.ByName("branin-three-sides")
	o := optimize.DefaultRefine(p.Space)
	o.Together, o.Searches, o.Screen, o.Rows = 1, 4, 6, 40
	fresh := func(rounds int, states [][]byte) *optimize.Refine {
		r, err := optimize.NewRefine(p.Space, o)
		if err != nil {
			f.Fatal(err)
		}
		if rounds > 0 {
			if err := r.Meet(rounds-1, states); err != nil {
				return nil
			}
		}
		return r
	}
	learn := func(s optimize.Searcher) []optimize.Point {
		points := s.Propose(nil, 24)
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
	r := fresh(0, nil)
	s := r.Start(0, 0)
	learn(s)
	screened := s.AppendState(nil)
	f.Add(screened)
	if err := r.Meet(0, [][]byte{screened}); err != nil {
		f.Fatal(err)
	}
	s = r.Start(1, 0)
	for range 4 {
		learn(s)
		f.Add(s.AppendState(nil))
	}
	for len(learn(s)) > 0 {
	}
	f.Add(s.AppendState(nil))
	f.Fuzz(func(t *testing.T, state []byte) {
		stages := []*optimize.Refine{fresh(1, [][]byte{screened}), fresh(1, [][]byte{state})}
		for _, r := range stages {
			if r == nil {
				continue
			}
			for _, restore := range []bool{true, false} {
				s := r.Start(1, 0)
				if restore && s.Restore(state) != nil {
					continue
				}
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
			r.Answers()
		}
	})
}

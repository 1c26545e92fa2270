// Package searchtest is the suite that every plan and every search must pass: whatever it proposes is
// allowed, failures are taken, and the same definition gives the same rows however often it is run,
// with any number of workers and wherever it is broken off and restored.
package searchtest

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"slices"
	"testing"

	"trammel/optimize"
	"trammel/optimize/problems"
)

// Make makes a stage for a space. It is called several times and must give equal stages. rows is about
// how many rows the stage should have, where it has a say in that.
type Make func(space *optimize.Space, seed uint64, rows int64) (optimize.Stage, error)

// Row is what the suite compares, bit for bit.
type Row struct {
	Run, Parent int64
	Iteration   int
	Derivatives bool // asked for
	X           []float64
	Choice      []int
	Status      optimize.Status
	Score       float64
	Violation   float64
}

func (r *Row) equal(s *Row) bool {
	return r.Run == s.Run && r.Parent == s.Parent && r.Iteration == s.Iteration && r.Derivatives == s.Derivatives && slices.Equal(r.X, s.X) &&
		slices.Equal(r.Choice, s.Choice) && r.Status == s.Status && r.Score == s.Score && r.Violation == s.Violation
}

// Run runs a stage to its end with a number of workers and returns its rows in order.
func Run(stage optimize.Stage, number int, p *problems.Problem, workers int) ([]Row, error) {
	var rows []Row
	before := int64(0)
	for round := 0; stage.Blocks(round) > 0; round++ {
		states, more, err := runRound(stage, number, p, round, before, workers)
		if err != nil {
			return rows, err
		}
		rows = append(rows, more...)
		if err := stage.Meet(round, states); err != nil {
			return rows, err
		}
		before += int64(stage.Blocks(round))
	}
	return rows, nil
}

type finished struct {
	rows  []Row
	state []byte
}

func runRound(stage optimize.Stage, number int, p *problems.Problem, round int, before int64, workers int) (states [][]byte, rows []Row, err error) {
	blocks := make([]int, stage.Blocks(round))
	for i := range blocks {
		blocks[i] = i
	}
	scratch := make([]optimize.BlockScratch, workers)
	do := func(ctx context.Context, worker, block int) (finished, error) {
		var f finished
		s := stage.Start(round, block)
		standing, err := optimize.RunBlock(ctx, s, p.Evaluator(), stage.Budget(round, block), &scratch[worker], func(index int, p *optimize.Point, o *optimize.Outcome) {
			f.rows = append(f.rows, row(optimize.RunNumber(number, before+int64(block), index), p, o))
		})
		if err == nil && (!standing.Stopped() || standing.String() == "unknown") {
			err = fmt.Errorf("round %d, block %d ended, but its standing is %s", round, block, standing)
		}
		f.state = s.AppendState(nil)
		return f, err
	}
	_, err = optimize.Map(context.Background(), optimize.Pool{Workers: workers, Window: 2 * workers}, blocks, do, func(_ int, f finished) error {
		states, rows = append(states, f.state), append(rows, f.rows...)
		return nil
	})
	return states, rows, err
}

func row(run int64, p *optimize.Point, o *optimize.Outcome) Row {
	return Row{run, p.Parent, p.Iteration, p.Derivatives, slices.Clone(p.X), slices.Clone(p.Choice), o.Status, o.Score, o.Violation}
}

// Stage number the suite uses: makers set it in their options.
const Stage = 3

// All puts what make makes through the suite, on every problem.
func All(t *testing.T, make Make) {
	for _, p := range problems.All() {
		t.Run(p.Name, func(t *testing.T) { One(t, make, p) })
	}
}

// One puts what make makes through the suite, on one problem.
func One(t *testing.T, make Make, p *problems.Problem) {
	const rows = 1500
	fresh := func(seed uint64) optimize.Stage {
		s, err := make(p.Space, seed, rows)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	first, err := Run(fresh(11), Stage, p, 1)
	if err != nil {
		t.Fatal(err)
	}
	allowed(t, fresh(11), p, first)
	for _, workers := range []int{1, 2, 7} {
		again, err := Run(fresh(11), Stage, p, workers)
		if err != nil {
			t.Fatal(err)
		}
		same(t, fmt.Sprintf("%d workers", workers), first, again)
	}
	same(t, "restored after every batch", first, restoredBatches(t, fresh(11), p))
	same(t, "resumed after every round", first, resumedRounds(t, func() optimize.Stage { return fresh(11) }, p))
	damagedStates(t, fresh(11), p)
}

// allowed checks every row: the point is allowed, the numbering is right and the parent came before.
func allowed(t *testing.T, s optimize.Stage, p *problems.Problem, rows []Row) {
	t.Helper()
	if n := s.Runs(); n != 0 && n != int64(len(rows)) {
		t.Errorf("%d rows; Runs says %d", len(rows), n)
	}
	if len(rows) == 0 {
		t.Fatal("no rows")
	}
	runs := map[int64]bool{}
	for i := range rows {
		r := &rows[i]
		if err := p.Space.Allows(&optimize.Point{X: r.X, Choice: r.Choice}); err != nil {
			t.Fatalf("row %d: %v", i, err)
		}
		if i > 0 && r.Run <= rows[i-1].Run {
			t.Fatalf("row %d has the number %d after %d", i, r.Run, rows[i-1].Run)
		}
		if r.Parent != optimize.NoParent && (r.Parent >= r.Run || !runs[r.Parent]) {
			t.Fatalf("row %d: parent %d is no run before %d", i, r.Parent, r.Run)
		}
		if math.IsNaN(r.Score) || r.Iteration < 0 {
			t.Fatalf("row %d: score %g, iteration %d", i, r.Score, r.Iteration)
		}
		runs[r.Run] = true
	}
}

func same(t *testing.T, what string, want, got []Row) {
	t.Helper()
	for i := range min(len(want), len(got)) {
		if !want[i].equal(&got[i]) {
			t.Fatalf("%s: row %d differs:\n %+v\n %+v", what, i, want[i], got[i])
		}
	}
	if len(want) != len(got) {
		t.Fatalf("%s: %d rows instead of %d", what, len(got), len(want))
	}
}

// restoredBatches runs a stage with a new searcher, restored from the state of the one before, for
// every batch.
func restoredBatches(t *testing.T, stage optimize.Stage, p *problems.Problem) (rows []Row) {
	t.Helper()
	e := p.Evaluator()
	block := int64(0)
	for round := 0; stage.Blocks(round) > 0; round++ {
		var states [][]byte
		for b := range stage.Blocks(round) {
			state := stage.Start(round, b).AppendState(nil)
			for index, budget := 0, stage.Budget(round, b); ; {
				s := stage.Start(round, b)
				if err := s.Restore(state); err != nil {
					t.Fatal(err)
				}
				if again := s.AppendState(nil); !bytes.Equal(state, again) {
					t.Fatalf("round %d, block %d: a restored searcher has another state", round, b)
				}
				var points []optimize.Point
				if budget > index {
					points = s.Propose(nil, budget-index)
				}
				if len(points) == 0 {
					break
				}
				outcomes := make([]optimize.Outcome, len(points))
				for i := range points {
					outcomes[i].X = slices.Clone(points[i].X)
					e.Evaluate(&points[i], &outcomes[i])
					rows = append(rows, row(optimize.RunNumber(Stage, block, index), &points[i], &outcomes[i]))
					index++
				}
				s.Learn(outcomes)
				poison(points, outcomes)
				state = s.AppendState([]byte("kept"))[len("kept"):]
			}
			states = append(states, state)
			block++
		}
		if err := stage.Meet(round, states); err != nil {
			t.Fatal(err)
		}
	}
	return rows
}

// poison overwrites what a searcher may not keep: points once they are evaluated, outcomes once they are
// learnt.
func poison(points []optimize.Point, outcomes []optimize.Outcome) {
	for i := range outcomes {
		o := &outcomes[i]
		for _, list := range [...][]float64{points[i].X, o.X, o.R, o.G, o.JR, o.JG} {
			for k := range list {
				list[k] = math.NaN()
			}
		}
	}
}

// resumedRounds runs every round with a new stage that is told of the last finished round alone.
func resumedRounds(t *testing.T, fresh func() optimize.Stage, p *problems.Problem) (rows []Row) {
	t.Helper()
	var states [][]byte
	for round := 0; fresh().Blocks(round) > 0; round++ {
		stage := fresh()
		if round > 0 {
			if err := stage.Meet(round-1, states); err != nil {
				t.Fatal(err)
			}
		}
		var more []Row
		var err error
		states, more, err = runRound(stage, Stage, p, round, optimize.BlockIndex(stage, round, 0), 2)
		if err != nil {
			t.Fatal(err)
		}
		rows = append(rows, more...)
	}
	return rows
}

// damagedStates checks that no shortened or lengthened state is taken.
func damagedStates(t *testing.T, stage optimize.Stage, p *problems.Problem) {
	t.Helper()
	var scratch optimize.BlockScratch
	s := stage.Start(0, 0)
	if _, err := optimize.RunBlock(context.Background(), s, p.Evaluator(), stage.Budget(0, 0), &scratch, func(int, *optimize.Point, *optimize.Outcome) {}); err != nil {
		t.Fatal(err)
	}
	state := s.AppendState(nil)
	for n := 0; n < len(state); n += 1 + len(state)/50 {
		if stage.Start(0, 0).Restore(state[:n]) == nil {
			t.Fatalf("the first %d of %d bytes of a state are taken for a whole one", n, len(state))
		}
	}
	if stage.Start(0, 0).Restore(append(slices.Clone(state), 0)) == nil {
		t.Fatal("a state with a byte too many is taken")
	}
	if stage.Meet(0, make([][]byte, stage.Blocks(0)+1)) == nil {
		t.Fatal("a round with a block too many may meet")
	}
}

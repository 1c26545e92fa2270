package optimize_test

import (
	"context"
	"errors"
	"strings"
	"testing"

	"trammel/optimize"
)

// greedy proposes more than its budget; endless never stops.
type greedy struct{ more int }

func (g greedy) Propose(dst []optimize.Point, budget int) []optimize.Point {
	for range budget + g.more {
		dst = append(dst, optimize.Point{X: []float64{1}})
	}
	return dst
}
func (greedy) Learn([]optimize.Outcome)    {}
func (greedy) Standing() optimize.Standing { return optimize.GoesOn }
func (greedy) AppendState(b []byte) []byte { return b }
func (greedy) Restore([]byte) error        { return nil }

// dirty leaves something behind in every field of the outcome.
type dirty struct{ t *testing.T }

func (d dirty) Evaluate(p *optimize.Point, o *optimize.Outcome) {
	if len(o.X) != len(p.X) || len(o.R)+len(o.G)+len(o.JR)+len(o.JG) != 0 || o.Status != 0 || o.Score != 0 || o.Violation != 0 || o.Reached != 0 {
		d.t.Errorf("the outcome handed to Evaluate is not empty: %+v", o)
	}
	o.R, o.G, o.JR, o.JG = append(o.R, 1), append(o.G, 1), append(o.JR, 1), append(o.JG, 1)
	o.Status, o.Score, o.Violation, o.Reached = optimize.Folds, 1, 1, 1
}

func TestRunBlock(t *testing.T) {
	var scratch optimize.BlockScratch
	ctx := context.Background()
	next := 0
	in := func(index int, p *optimize.Point, o *optimize.Outcome) {
		if index != next {
			t.Errorf("row %d observed after row %d", index, next-1)
		}
		next++
	}
	standing, err := optimize.RunBlock(ctx, greedy{}, dirty{t}, 10, &scratch, in)
	if standing != optimize.BlockFull || err != nil || next != 10 {
		t.Errorf("%v, %v after %d rows", standing, err, next)
	}
	next = 0
	if standing, err = optimize.RunBlock(ctx, greedy{}, dirty{t}, 0, &scratch, in); standing != optimize.BlockFull || err != nil || next != 0 {
		t.Errorf("%v, %v after %d rows of none", standing, err, next)
	}
	if _, err = optimize.RunBlock(ctx, greedy{1}, dirty{t}, 10, &scratch, in); err == nil || !strings.Contains(err.Error(), "proposed 11 points where its block has 10 rows left") {
		t.Errorf("a greedy search: %v", err)
	}
	for _, n := range []int{-1, optimize.BlockRows + 1} {
		if _, err = optimize.RunBlock(ctx, greedy{}, dirty{t}, n, &scratch, in); err == nil || !strings.Contains(err.Error(), "0 to 100000 rows") {
			t.Errorf("a block of %d rows: %v", n, err)
		}
	}
	why := errors.New("why")
	stop, cancel := context.WithCancelCause(ctx)
	next = 0
	_, err = optimize.RunBlock(stop, greedy{}, dirty{t}, 10, &scratch, func(index int, p *optimize.Point, o *optimize.Outcome) {
		if in(index, p, o); index == 4 {
			cancel(why)
		}
	})
	if err != why || next != 5 {
		t.Errorf("cancelled after row 4: %v after %d rows", err, next)
	}
}

// A whole block, of a plan or of a search, allocates nothing per candidate once its memory is there.
func TestBlocksAllocateNothing(t *testing.T) {
	space := box(10)
	space.Choices = []optimize.Choice{{Name: "side", Options: []string{"l", "r"}}}
	space.Dims[0].Step = 500
	o := optimize.DefaultEvolution(space)
	o.Runs, o.Generations = 1<<20, 200
	e, err := optimize.NewDifferentialEvolution(space, o)
	if err != nil {
		t.Fatal(err)
	}
	stages := []optimize.Stage{e}
	for _, kind := range []optimize.PlanKind{optimize.Sobol, optimize.LatinHypercube, optimize.Halton, optimize.Random, optimize.Factorial, optimize.OneAtATime} {
		stages = append(stages, plan(t, space, func(o *optimize.PlanOptions) { o.Kind, o.Runs, o.Levels = kind, 1<<18, []int{4} }))
	}
	for _, s := range stages {
		var scratch optimize.BlockScratch
		rows := 0
		run := func(budget int) float64 {
			return testing.AllocsPerRun(5, func() {
				rows = 0
				if _, err := optimize.RunBlock(context.Background(), s.Start(0, 0), nothing{}, min(budget, s.Budget(0, 0)), &scratch, func(int, *optimize.Point, *optimize.Outcome) { rows++ }); err != nil {
					t.Fatal(err)
				}
			})
		}
		few, nFew := run(500), rows
		many, nMany := run(2000), rows
		if many > few {
			t.Errorf("%s: %g allocations for %d rows, %g for %d", s.Name(), few, nFew, many, nMany)
		}
	}
}

func TestRunNumbers(t *testing.T) {
	if n := optimize.RunNumber(3, 20, 17); n != 30_000_002_000_017 {
		t.Errorf("run number %d", n)
	}
	if n := optimize.RunNumber(899, optimize.StageBlocks-1, optimize.BlockRows-1); n >= 1<<53 {
		t.Errorf("the last run number %d is no exact double", n)
	}
	o := optimize.DefaultEvolution(box(2))
	e, _ := optimize.NewDifferentialEvolution(box(2), o)
	if n := optimize.BlockIndex(e, 3, 5); n != 29 {
		t.Errorf("block 5 of round 3 is number %d", n)
	}
}

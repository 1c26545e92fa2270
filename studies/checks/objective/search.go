package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"

	"trammel/optimize"
	"trammel/studies"
)

// trace is what a seed came to: the line of JSON.
type trace struct {
	Study       string       `json:"study"`
	Free        bool         `json:"free"`
	Method      string       `json:"method"`
	Seed        int          `json:"seed"`
	Price       float64      `json:"price"`       // of an evaluation with derivatives
	Evaluations float64      `json:"evaluations"` // in plain ones
	Rows        int          `json:"rows"`
	Derivatives int          `json:"derivatives"` // of the rows, those with derivatives
	Best        float64      `json:"best"`        // -1 while nothing keeps the limits
	X           []float64    `json:"x"`           // numbers, then choices
	Better      [][2]float64 `json:"better"`      // evaluations, and the best score that keeps the limits from then on

	goal, most float64
	cancel     context.CancelFunc
}

// worth is the share by which a score must be better to be written down; below it the last one written is the
// worse one, so that no search looks quicker than it was.
const worth = 1e-5

// observe counts an evaluated point. One that fails before its derivatives are taken costs a plain evaluation.
func (t *trace) observe(_ int, p *optimize.Point, o *optimize.Outcome) {
	t.Rows++
	if p.Derivatives && !o.Status.Failed() {
		t.Derivatives++
		t.Evaluations += t.Price
	} else {
		t.Evaluations++
	}
	if o.Feasible() && (t.Best < 0 || o.Score < t.Best) {
		t.Best, t.X = o.Score, append(t.X[:0], o.X...)
		for _, option := range p.Choice {
			t.X = append(t.X, float64(option))
		}
		if n := len(t.Better); n == 0 || o.Score < t.Better[n-1][1]*(1-worth)-1e-9 || o.Score <= t.goal && t.Better[n-1][1] > t.goal {
			t.Better = append(t.Better, [2]float64{t.Evaluations, o.Score})
		}
	}
	if t.Evaluations >= t.most || t.Best >= 0 && t.Best <= t.goal {
		t.cancel()
	}
}

// search runs a method from every seed.
func search(st *studies.Study, name string, o *options, out io.Writer) error {
	for seed := o.from; seed <= o.to; seed++ {
		ctx, cancel := context.WithCancel(context.Background())
		t := &trace{Study: name, Free: o.free, Method: o.method, Seed: seed, Price: o.price, Best: -1, goal: o.goal, most: o.rows, cancel: cancel}
		err := t.search(ctx, st)
		cancel()
		if err != nil && !errors.Is(err, context.Canceled) {
			return err
		}
		line, err := json.Marshal(t)
		if err != nil {
			return err
		}
		if _, err := fmt.Fprintf(out, "%s\n", line); err != nil {
			return err
		}
	}
	return nil
}

func (t *trace) search(ctx context.Context, st *studies.Study) error {
	space, seed := &st.Space, uint64(t.Seed)
	switch t.Method {
	case "local":
		return t.local(ctx, st)
	case "refine", "study", "blind":
		return t.refine(ctx, st)
	case "cma-es":
		o := optimize.DefaultCMA(space)
		o.Seed, o.Runs = seed, int64(t.most)
		stage, err := optimize.NewCMA(space, o)
		if err != nil {
			return err
		}
		return t.run(ctx, stage, remembering(st.NewEvaluator()), t.observe)
	case "differential-evolution":
		o := optimize.DefaultEvolution(space)
		o.Seed, o.Runs = seed, int64(t.most)
		stage, err := optimize.NewDifferentialEvolution(space, o)
		if err != nil {
			return err
		}
		return t.run(ctx, stage, remembering(st.NewEvaluator()), t.observe)
	}
	return fmt.Errorf("%q is no method; refine, blind, study, local, cma-es and differential-evolution are", t.Method)
}

type observer func(index int, p *optimize.Point, o *optimize.Outcome)

// run runs a stage, one block after the other as one worker does.
func (t *trace) run(ctx context.Context, stage optimize.Stage, e optimize.Evaluator, observe observer) error {
	var scratch optimize.BlockScratch
	for round := 0; stage.Blocks(round) > 0; round++ {
		var states [][]byte
		for block := range stage.Blocks(round) {
			s := stage.Start(round, block)
			if _, err := optimize.RunBlock(ctx, s, e, stage.Budget(round, block), &scratch, observe); err != nil {
				return err
			}
			states = append(states, s.AppendState(nil))
		}
		if err := stage.Meet(round, states); err != nil {
			return err
		}
	}
	return nil
}

// refine runs the stage refine as a study does: from the best of what was run before, which is the design alone, or with
// the method "study" also the sample of a study that names no stages. With "blind" nothing was run before, not even the
// design: it knows no more of the study than any other search.
func (t *trace) refine(ctx context.Context, st *studies.Study) error {
	const starts = 64 // as studies hands on
	type leader struct {
		p optimize.Point
		o optimize.Outcome
	}
	var best []leader
	observe := func(index int, p *optimize.Point, o *optimize.Outcome) {
		t.observe(index, p, o)
		at := len(best)
		for at > 0 && optimize.Better(o, &best[at-1].o) {
			at--
		}
		if at == starts {
			return
		}
		l := leader{o: optimize.Outcome{Status: o.Status, Score: o.Score, Violation: o.Violation, Reached: o.Reached}}
		l.p.Set(p)
		best = slices.Insert(best, at, l)
		best = best[:min(len(best), starts)]
	}
	e := st.NewEvaluator()
	design := optimize.DefaultPlan()
	design.Kind, design.Points, design.Stage = optimize.Points, []optimize.Point{st.Space.Design()}, 0
	plans := []optimize.PlanOptions{design}
	if t.Method == "study" {
		sobol := optimize.DefaultPlan()
		sobol.Seed = uint64(t.Seed)
		plans = append(plans, sobol)
	}
	for _, o := range plans {
		if t.Method == "blind" {
			break
		}
		plan, err := optimize.NewPlan(&st.Space, o)
		if err != nil {
			return err
		}
		if err := t.run(ctx, plan, e, observe); err != nil {
			return err
		}
	}
	o := optimize.DefaultRefine(&st.Space)
	o.Seed, o.Stage, o.Searches = uint64(t.Seed), len(plans), 1_000_000
	for i := range best {
		if st.Space.Allows(&best[i].p) == nil {
			o.Starts = append(o.Starts, best[i].p)
		}
	}
	stage, err := optimize.NewRefine(&st.Space, o)
	if err != nil {
		return err
	}
	return t.run(ctx, stage, e, t.observe)
}

package optimize

import (
	"fmt"
	"slices"
)

// maxRuns is how many runs a plan can have, so that its points are numbered by 32 bits.
const maxRuns = int64(1) << 32

// PlanKind says by what rule a plan places its points.
type PlanKind uint8

// The kinds of plan.
const (
	Sobol          PlanKind = iota // Sobol sequence, scrambled
	LatinHypercube                 // Latin hypercube
	Halton                         // Halton sequence, scrambled
	Random                         // independent points, evenly distributed
	Factorial                      // every combination of levels
	OneAtATime                     // each coordinate by itself, the others at design
	Points                         // a given table
)

var planKinds = [...]struct{ word, sentence string }{
	Sobol:          {"sobol", "A scrambled Sobol sequence: even in every projection, and any first part of it is a plan of its own."},
	LatinHypercube: {"latin-hypercube", "A Latin hypercube: every number takes evenly spread values, each once."},
	Halton:         {"halton", "A scrambled Halton sequence: even for any number of runs."},
	Random:         {"random", "Independent random points."},
	Factorial:      {"factorial", "Every combination of the levels of all numbers and of all options."},
	OneAtATime:     {"one-at-a-time", "Each number and each choice by itself through its levels, all others at design."},
	Points:         {"points", "The points of a given table, in its order."},
}

// String returns the word the study file uses.
func (k PlanKind) String() string {
	if int(k) < len(planKinds) {
		return planKinds[k].word
	}
	return "unknown"
}

// Sentence says in a sentence what the plan does.
func (k PlanKind) Sentence() string {
	if int(k) < len(planKinds) {
		return planKinds[k].sentence
	}
	return "The plan is unknown."
}

// PlanKinds returns every kind, in order.
func PlanKinds() []PlanKind {
	all := make([]PlanKind, len(planKinds))
	for i := range all {
		all[i] = PlanKind(i)
	}
	return all
}

// PlanOptions says what a plan is made of.
type PlanOptions struct {
	Kind      PlanKind
	Seed      uint64  // of the study; every number is a seed, 0 too
	Stage     int     // number of the stage in the study
	Runs      int64   // rows: Sobol, LatinHypercube, Halton, Random. The other kinds have as many as they have
	Levels    []int   // Factorial, OneAtATime: of each number, or one for all; even over the box, ends included
	Points    []Point // Points: the table; each must be allowed
	Scramble  bool    // Sobol, Halton: false gives the plain sequences, which begin at the corner of the box
	BlockRows int     // rows of a block at most
}

// DefaultPlan returns the options a plan has if nothing else is said.
func DefaultPlan() PlanOptions {
	return PlanOptions{Kind: Sobol, Seed: 1, Stage: 1, Runs: 4096, Levels: []int{2}, Scramble: true, BlockRows: 2048}
}

// Blocks of a plan are made smaller than BlockRows as long as there are fewer than planBlocks of them, so
// that a small plan keeps many workers busy too; below planRows rows a block is not worth its entry in
// the record.
const (
	planBlocks = 64
	planRows   = 8
	planBatch  = 64 // points proposed at a time
)

// Plan is a stage of one round whose points are known from the start. Point i of the plan does not
// depend on how it is cut into blocks.
type Plan struct {
	kind  PlanKind
	space *Space
	rows  planRowsAt
	runs  int64
	block int64 // rows of every block but the last
}

// planRowsAt sets p, which has the shape of the space, to point i of a plan. It is read-only.
type planRowsAt interface {
	at(p *Point, i int64, scratch *planScratch)
}

// planScratch is the memory of one searcher.
type planScratch struct {
	u    []float64
	bits []uint32
}

// NewPlan returns the stage of a plan, or a sentence that says why it cannot be.
func NewPlan(space *Space, o PlanOptions) (*Plan, error) {
	if err := space.Check(); err != nil {
		return nil, err
	}
	if o.BlockRows < 1 || o.BlockRows > BlockRows {
		return nil, fmt.Errorf("blocks of %d rows are asked for; they may have 1 to %d", o.BlockRows, BlockRows)
	}
	if err := checkKey(o.Stage); err != nil {
		return nil, err
	}
	p := &Plan{kind: o.Kind, space: space}
	if err := p.lay(o); err != nil {
		return nil, err
	}
	if p.runs < 1 || p.runs > maxRuns {
		return nil, fmt.Errorf("the plan %s is to have %d runs; it may have 1 to %d", o.Kind, p.runs, maxRuns)
	}
	p.block = max((p.runs+planBlocks-1)/planBlocks, planRows)
	p.block = min(p.block, int64(o.BlockRows))
	if blocks := (p.runs + p.block - 1) / p.block; blocks > StageBlocks {
		return nil, fmt.Errorf("%d runs in blocks of %d rows are %d blocks; a stage may have %d, so the blocks must be larger", p.runs, p.block, blocks, StageBlocks)
	}
	return p, nil
}

func checkKey(stage int) error {
	if stage < 0 || stage > 899 {
		return fmt.Errorf("the stage has the number %d; it may be 0 to 899", stage)
	}
	return nil
}

// lay sets what the points are.
func (p *Plan) lay(o PlanOptions) (err error) {
	key, n := Key{Seed: o.Seed, Stage: o.Stage}, p.space.Size()
	p.runs = o.Runs
	if p.runs < 1 && o.Kind <= Random {
		return nil // refused by the caller, with the number
	}
	switch o.Kind {
	case Sobol:
		var s *sobol
		s, err = newSobol(n, o.Scramble, key)
		p.rows = unitRows{p.space, func(u []float64, i int64, w *planScratch) { s.fill(u, uint32(i), w.bits) }}
	case LatinHypercube:
		l := newLatin(n, o.Runs, key)
		p.rows = unitRows{p.space, func(u []float64, i int64, _ *planScratch) { l.fill(u, uint64(i)) }}
	case Halton:
		if n > haltonDims {
			return fmt.Errorf("%d numbers and choices vary; the Halton plan takes %d at most, so fewer must vary or another plan be used", n, haltonDims)
		}
		h := newHalton(n, o.Scramble, key)
		p.rows = unitRows{p.space, func(u []float64, i int64, _ *planScratch) { h.fill(u, uint64(i)) }}
	case Random:
		key.Block = wholeStage
		p.rows = unitRows{p.space, func(u []float64, i int64, _ *planScratch) {
			s := NewStream(key)
			s.Seek(uint64(i))
			for d := range u {
				u[d] = s.Float64()
			}
		}}
	case Factorial:
		var f *factorial
		if f, err = newFactorial(p.space, o.Levels); err == nil {
			p.rows, p.runs = f, f.n
		}
	case OneAtATime:
		var a *oneAtATime
		if a, err = newOneAtATime(p.space, o.Levels); err == nil {
			p.rows, p.runs = a, a.n
		}
	case Points:
		var t table
		if t, err = newTable(p.space, o.Points); err == nil {
			p.rows, p.runs = t, int64(len(t))
		}
	default:
		err = fmt.Errorf("plan number %d is not known; the kinds are 0 to %d", o.Kind, len(planKinds)-1)
	}
	return err
}

// unitRows are points made from numbers in [0, 1).
type unitRows struct {
	space *Space
	fill  func(u []float64, i int64, scratch *planScratch)
}

func (r unitRows) at(p *Point, i int64, w *planScratch) {
	r.fill(w.u, i, w)
	r.space.FromUnit(p, w.u)
}

// Name returns the word of the plan's kind.
func (p *Plan) Name() string { return p.kind.String() }

// Runs returns how many rows the plan has.
func (p *Plan) Runs() int64 { return p.runs }

// At sets dst to point i of the plan, counted from 0.
func (p *Plan) At(dst *Point, i int64) {
	if i < 0 || i >= p.runs {
		panic(fmt.Sprintf("optimize: point %d of a plan of %d", i, p.runs))
	}
	dst.shape(p.space)
	dst.Derivatives, dst.Parent, dst.Iteration = false, NoParent, 0
	p.rows.at(dst, i, newPlanScratch(p.space.Size()))
}

func newPlanScratch(n int) *planScratch {
	return &planScratch{u: make([]float64, n), bits: make([]uint32, n)}
}

// Blocks returns how many slices the plan is cut into; there is one round.
func (p *Plan) Blocks(round int) int {
	if round != 0 {
		return 0
	}
	return int((p.runs + p.block - 1) / p.block)
}

// Budget returns how many rows a slice has.
func (p *Plan) Budget(round, block int) int {
	if round != 0 {
		return 0
	}
	return int(max(min(p.block, p.runs-int64(block)*p.block), 0))
}

// Start returns the searcher of a slice.
func (p *Plan) Start(round, block int) Searcher {
	first := int64(block) * p.block
	return &slicePlan{plan: p, first: first, next: first, end: first + int64(p.Budget(round, block)), scratch: newPlanScratch(p.space.Size())}
}

// Meet has nothing to do: the slices do not know of each other.
func (p *Plan) Meet(round int, states [][]byte) error {
	if round != 0 || len(states) != p.Blocks(0) {
		return fmt.Errorf("%w: a plan has one round of %d blocks, not a round %d of %d", errState, p.Blocks(0), round, len(states))
	}
	return nil
}

// slicePlan is a slice of a plan. It learns nothing.
type slicePlan struct {
	plan             *Plan
	first, next, end int64
	scratch          *planScratch
}

func (s *slicePlan) Propose(dst []Point, budget int) []Point {
	n := int(min(s.end-s.next, planBatch, int64(budget)))
	dst = slices.Grow(dst, n)
	for range n {
		var p *Point
		dst, p = extend(dst, s.plan.space)
		s.plan.rows.at(p, s.next, s.scratch)
		s.next++
	}
	return dst
}

func (s *slicePlan) Learn([]Outcome) {}

func (s *slicePlan) Standing() Standing {
	if s.next == s.end {
		return PlanComplete
	}
	return GoesOn
}

const sliceTag = "slice1"

func (s *slicePlan) AppendState(b []byte) []byte {
	return appendNumber(append(b, sliceTag...), uint64(s.next-s.first))
}

func (s *slicePlan) Restore(b []byte) error {
	r := readState(b, sliceTag)
	n := r.number(uint64(s.end - s.first))
	if err := r.end(); err != nil {
		return err
	}
	s.next = s.first + int64(n)
	return nil
}

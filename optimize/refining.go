package optimize

import (
	"math"

	"trammel/optimize/leastsquares"
)

// refining is the searcher of one block: a local search if it has a start, then its part of the sample.
type refining struct {
	r      *Refine
	round  int
	block  int
	number int64 // of the block, counted through the stage
	start  *candidate

	index    int // rows proposed so far
	stage    searchStage
	solver   *leastsquares.Solver
	found    finding
	screened int
	kept     []candidate // the best of what was screened

	scratch     planScratch
	evaluations []leastsquares.Evaluation
}

// searchStage says how far a block is.
type searchStage uint8

const (
	unsearched searchStage = iota
	searching
	searched
)

// blockPool is how many candidates a block keeps of what it screened.
const blockPool = 32

// finding is where a local search ended: the best of its points.
type finding struct {
	level      []int64
	choice     []int
	rank       rank
	run        int64
	start      int64 // run number of the first row
	hits       int
	crossed    int // of the hits, by searches that started from a cross of answers
	rows       int
	failures   int
	ending     leastsquares.Ending // Searching: its rows were spent
	bounds     []BoundPrice
	limits     []LimitPrice
	curve      []float64 // second derivatives of half the score, in boxes of length 1; empty when not known
	left       float64
	violation  float64
	score      float64
	overLimits bool

	// Of an answer.
	valley int64     // what it is called, whichever of its ends is the best: the first row of a search that ended in it
	apart  []int64   // valleys that a hump parts it from
	ends   []finding // that only models say belong to it
}

// reset makes the memory.
func (s *refining) reset() {
	s.scratch = *newPlanScratch(s.r.space.Size())
}

// point sets p to levels and choices.
func (r *Refine) point(p *Point, x []float64, choice []int) {
	space := r.space
	for d, k := range x {
		p.X[d] = space.Value(d, space.Level(d, int64(k)))
	}
	copy(p.Choice, choice)
}

// Propose appends the next points of the local search, or of the sample when it is over.
func (s *refining) Propose(dst []Point, budget int) []Point {
	if s.stage == unsearched && s.start != nil {
		s.begin()
	}
	if s.stage == searching {
		asked := s.solver.Ask()
		if len(asked) > 0 && len(asked) <= min(budget, s.r.options.Rows-s.found.rows) {
			return s.proposeSearch(dst, asked)
		}
		s.end()
	}
	return s.proposeSample(dst, budget)
}

// begin makes the local search.
func (s *refining) begin() {
	x := make([]float64, len(s.start.level))
	for d, k := range s.start.level {
		x[d] = float64(k)
	}
	s.solver = leastsquares.New(s.r.local, s.r.options.Local, x)
	s.stage = searching
	s.found = finding{rank: rank{class: unranked}, choice: s.start.choice, run: NoParent, hits: 1, start: RunNumber(s.r.options.Stage, s.number, s.index)}
	if s.start.crossed {
		s.found.crossed = 1
	}
}

func (s *refining) proposeSearch(dst []Point, asked [][]float64) []Point {
	parent := s.start.run
	if base := s.solver.Base(); base >= 0 {
		parent = s.found.start + int64(base)
	}
	for _, x := range asked {
		var p *Point
		dst, p = extend(dst, s.r.space)
		s.r.point(p, x, s.found.choice)
		p.Derivatives, p.Parent, p.Iteration = s.solver.Derivatives(), parent, s.solver.Steps
		s.index++
		s.found.rows++
	}
	return dst
}

// end takes down what the local search came to.
func (s *refining) end() {
	s.stage = searched
	f := &s.found
	f.failures, f.ending = s.solver.Failures, s.solver.Ending()
	if prices, ok := s.solver.Prices(); ok {
		s.price(prices)
	}
	s.solver = nil
}

// proposeSample appends the next part of the sample.
func (s *refining) proposeSample(dst []Point, budget int) []Point {
	n := min(s.r.options.Screen-s.screened, budget, planBatch)
	for range n {
		var p *Point
		dst, p = extend(dst, s.r.space)
		at := s.number*int64(s.r.options.Screen) + int64(s.screened)
		s.r.sample.fill(s.scratch.u, uint32(at), s.scratch.bits)
		s.r.space.FromUnit(p, s.scratch.u)
		p.Iteration = 0
		s.screened++
		s.index++
	}
	return dst
}

// Learn tells the local search, or keeps the best of the sample.
func (s *refining) Learn(outcomes []Outcome) {
	if s.stage != searching {
		s.learnSample(outcomes)
		return
	}
	first := s.index - len(outcomes)
	s.evaluations = s.evaluations[:0]
	for i := range outcomes {
		o := &outcomes[i]
		if k := o.rank(); k.before(&s.found.rank) {
			f := &s.found
			f.rank, f.run = k, RunNumber(s.r.options.Stage, s.number, first+i)
			f.score, f.violation, f.overLimits = o.Score, o.Violation, o.Status == OverLimit
			f.level = s.r.levels(f.level[:0], o.X)
		}
		s.evaluations = append(s.evaluations, s.r.evaluation(o))
	}
	s.solver.Tell(s.evaluations)
}

// levels appends the levels of numbers.
func (r *Refine) levels(to []int64, x []float64) []int64 {
	for d, v := range x {
		to = append(to, r.space.LevelOf(d, v))
	}
	return to
}

// evaluation turns an outcome into what the local search is told: its variables are levels, and it
// minimises half the score.
func (r *Refine) evaluation(o *Outcome) leastsquares.Evaluation {
	e := leastsquares.Evaluation{Failed: o.Status.Failed(), Value: o.Score / 2, R: o.R, G: o.G}
	n := len(r.space.Dims)
	if len(o.JR) == len(o.R)*n && len(o.JG) == len(o.G)*n {
		e.JR, e.JG = r.scaled(o.JR), r.scaled(o.JG)
	}
	return e
}

// scaled returns derivatives by levels from derivatives by units.
func (r *Refine) scaled(j []float64) []float64 {
	out := make([]float64, len(j))
	dims := r.space.Dims
	for i, v := range j {
		d := &dims[i%len(dims)]
		out[i] = v * d.value(d.step())
	}
	return out
}

func (s *refining) learnSample(outcomes []Outcome) {
	first := s.index - len(outcomes)
	space := s.r.space
	for i := range outcomes {
		o := &outcomes[i]
		c := candidate{rank: o.rank(), run: RunNumber(s.r.options.Stage, s.number, first+i)}
		if c.rank.class == 2 || math.IsNaN(c.rank.first) {
			continue
		}
		c.level, c.choice = s.r.levels(nil, o.X), make([]int, len(space.Choices))
		s.r.sampleChoice(c.choice, s, first+i)
		at := len(s.kept)
		for at > 0 && c.rank.before(&s.kept[at-1].rank) {
			at--
		}
		if at < blockPool {
			s.kept = append(s.kept, candidate{})
			copy(s.kept[at+1:], s.kept[at:])
			s.kept[at] = c
			s.kept = s.kept[:min(len(s.kept), blockPool)]
		}
	}
}

// sampleChoice fills the choices of the row with an index, of a sampled point.
func (r *Refine) sampleChoice(choice []int, s *refining, index int) {
	at := s.number*int64(r.options.Screen) + int64(s.screened-(s.index-index))
	r.sample.fill(s.scratch.u, uint32(at), s.scratch.bits)
	for i := range choice {
		choice[i] = int(share(s.scratch.u[len(r.space.Dims)+i], int64(len(r.space.Choices[i].Options))))
	}
}

// Standing returns RoundOver when search and sample are done.
func (s *refining) Standing() Standing {
	if s.screened == s.r.options.Screen && (s.stage == searched || s.start == nil) {
		return RoundOver
	}
	return GoesOn
}

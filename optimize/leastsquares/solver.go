package leastsquares

import (
	"fmt"
	"math"
	"slices"
)

// Problem says where to search and what the variables are.
type Problem struct {
	Low, High []float64 // the box; infinite where there is no bound
	Scale     []float64 // a typical length of each variable; nil takes the columns of the Jacobian
	Lattice   bool      // every point has whole coordinates
	Group     []int     // which group each limit is of, counted from 0: the greatest of each counts; nil: all are one
	Coarse    []bool    // on a lattice: one whole step matters, so the model keeps to whole steps too; nil for none
}

// Options says how to search.
type Options struct {
	Radius float64 // of the first trust region, in scales
	Gain   float64 // ends when the model promises less than this share of what is minimised
	Step   float64 // ends when no variable moves by more than this share of itself; without a lattice
	Broken float64 // how far a limit may be positive and still count as kept
	Nodes  int     // programs that a search of the lattice may solve
}

// DefaultOptions returns the options for refining candidates on a lattice.
func DefaultOptions() Options {
	return Options{Radius: 0.2, Gain: 1e-9, Step: 1e-12, Broken: 1e-6, Nodes: 300}
}

// Evaluation is what one point gave. Its slices are read during Tell only.
type Evaluation struct {
	Failed bool
	Value  float64   // what is minimised if R is empty
	R      []float64 // residuals: half the sum of their squares is minimised
	G      []float64 // limits, broken when positive
	JR, JG []float64 // their derivatives, row-major, a column for each variable; both empty: differences are taken
}

// Ending says why a search is over.
type Ending uint8

// The endings.
const (
	Searching    Ending = iota
	Converged           // the model promises no more
	Shrunk              // the region has shrunk to nothing about the best point
	FailedAtOnce        // the start failed
)

type phase uint8

const (
	beginning phase = iota
	differencing
	stepping
	correcting
	rounding
	neighbouring
	finished
)

// iterate is a point with what is known of it.
type iterate struct {
	x, r, g, jr, jg, slope []float64
	f                      float64 // half the sum of squares
	h                      breach
	number                 int // of the evaluation, counted from 0
}

// Solver is one local search. Ask, then Tell, until Ask returns nothing.
type Solver struct {
	problem Problem
	options Options
	n       int

	// State between Tell and Ask.
	phase, after phase     // after: where to go on once differences are taken
	ending, held Ending    // held: of the point that a neighbour is followed from
	at, next     iterate   // where the search stands; a point accepted that lacks its derivatives
	best         iterate   // the best point stood on, where that is another
	strayed      bool      // it is
	secant       []float64 // n×n, what Gauss and Newton leave out
	lambda       []float64 // multipliers of the limits, of the last step
	shift        []float64 // what the limits turned out to be beyond their linear model
	bend         []float64 // what the residuals turned out to be beyond theirs, over a step of length bent
	bent         float64
	straight     []float64 // that step
	scale        []float64
	radius, rho  float64
	learned      bool // the secant estimate has had an update
	augmented    bool // the model in use
	switched     bool // the model was changed at this point
	pinned       bool // the coarse variables stay while a neighbour is followed
	widened      bool // the region was opened at this point
	again        bool // the region has been opened again after it had shrunk to nothing
	corrections  int
	lowered      int // times the price was lowered
	quiet        int // steps that only rounding could judge
	polishes     int // trials of the rounding phase
	rounds       int // of neighbours tried
	told         int // evaluations so far
	Failures     int // evaluations that failed
	Steps        int // points moved to

	// Made by Ask for the next Tell, and memory.
	step    []float64
	promise float64
	asked   [][]float64
	column  []int // variable of each difference
	p       program
	l       lattice
	factors
}

// New returns the search from a start, which is put into the box. It panics if the shapes do not fit.
func New(p Problem, o Options, start []float64) *Solver {
	n := len(start)
	if len(p.Low) != n || len(p.High) != n || p.Scale != nil && len(p.Scale) != n || p.Coarse != nil && len(p.Coarse) != n || n == 0 {
		panic(fmt.Sprintf("leastsquares: a start of %d numbers in a box of %d and %d", n, len(p.Low), len(p.High)))
	}
	s := &Solver{problem: p, options: o, n: n, radius: o.Radius}
	s.at.x = make([]float64, n)
	for i, x := range start {
		s.at.x[i] = min(max(x, p.Low[i]), p.High[i])
	}
	s.secant = make([]float64, n*n)
	s.scale = make([]float64, n)
	copy(s.scale, p.Scale)
	s.step = make([]float64, n)
	return s
}

// X returns where the search stands, valid until the next Tell.
func (s *Solver) X() []float64 { return s.at.x }

// Base returns the number of the evaluation, counted from 0, that the points asked for are made from; -1 for
// the start.
func (s *Solver) Base() int {
	switch s.phase {
	case beginning:
		return -1
	case differencing:
		return s.next.number
	}
	return s.at.number
}

// Ending says why the search is over, or Searching.
func (s *Solver) Ending() Ending {
	if s.phase != finished {
		return Searching
	}
	return s.ending
}

// Derivatives tells whether the points asked for are wanted with JR and JG.
func (s *Solver) Derivatives() bool { return s.phase != differencing }

// Ask returns the next points, valid until Tell; none when the search is over.
func (s *Solver) Ask() [][]float64 {
	s.asked = s.asked[:0]
	for {
		switch s.phase {
		case beginning:
			s.ask(s.at.x)
		case differencing:
			if s.askDifferences(); len(s.asked) == 0 {
				s.takeDifferences(nil)
				continue
			}
		case stepping:
			if !s.forward() {
				s.leave()
				continue
			}
			s.askStep()
		case correcting:
			if !s.bentStep() {
				s.reject(0.3 * s.bent)
				continue
			}
			s.askStep()
		case rounding:
			if !s.round() {
				s.leave()
				continue
			}
			s.askStep()
		case neighbouring:
			if s.neighbours(); len(s.asked) == 0 {
				s.finish()
			}
		}
		return s.asked
	}
}

func (s *Solver) ask(x []float64) {
	k := len(s.asked)
	if k < cap(s.asked) {
		s.asked = s.asked[:k+1]
	} else {
		s.asked = append(s.asked, nil)
	}
	s.asked[k] = append(s.asked[k][:0], x...)
}

// askStep asks for the point that the step leads to.
func (s *Solver) askStep() {
	s.ask(s.at.x)
	for i, d := range s.step {
		s.asked[0][i] += d
	}
}

// leave goes to the phase after the one that has nothing more to ask for.
func (s *Solver) leave() {
	switch {
	case s.ending == Shrunk && !s.again && s.phase != rounding && s.problem.Lattice:
		// Once: a model learnt far away may have led to nothing.
		s.again, s.augmented, s.stale = true, len(s.at.r) == 0, true
		s.phase, s.radius = stepping, s.options.Radius/4
		s.clearShift()
	case s.phase != rounding && s.problem.Lattice:
		s.phase, s.polishes, s.corrections = rounding, 0, 0
		s.clearShift()
	case s.pinned && s.strayed:
		s.pinned, s.ending = false, s.held
		s.finish() // the neighbour came to nothing better
	case s.phase == rounding && s.anyCoarse() && s.rounds < 20:
		s.phase, s.pinned = neighbouring, false
	default:
		s.finish()
	}
}

func (s *Solver) coarse(i int) bool { return s.problem.Coarse != nil && s.problem.Coarse[i] }

func (s *Solver) anyCoarse() bool {
	for i := range s.problem.Coarse {
		if s.problem.Coarse[i] {
			return true
		}
	}
	return false
}

// Tell reports what the points asked for gave, in their order.
func (s *Solver) Tell(es []Evaluation) {
	if len(es) != len(s.asked) {
		panic(fmt.Sprintf("leastsquares: %d evaluations of %d points", len(es), len(s.asked)))
	}
	for i := range es {
		if es[i].Failed = es[i].Failed || !es[i].finite(); es[i].Failed {
			s.Failures++
		}
	}
	s.told += len(es)
	switch s.phase {
	case beginning:
		if es[0].Failed {
			s.phase, s.ending = finished, FailedAtOnce
			return
		}
		s.take(0, &es[0], stepping)
	case differencing:
		s.takeDifferences(es)
	case stepping, correcting:
		s.judge(&es[0])
	case rounding:
		s.judgeRounded(&es[0])
	case neighbouring:
		s.judgeNeighbours(es)
	}
}

func (e *Evaluation) finite() bool {
	sum := e.Value
	for _, list := range [...][]float64{e.R, e.G, e.JR, e.JG} {
		for _, v := range list {
			sum += v * 0
		}
	}
	return !math.IsNaN(sum) && !math.IsInf(sum, 0)
}

// of returns half the sum of squares and the breach of an evaluation.
func (s *Solver) of(e *Evaluation) (f float64, h breach) { return e.f(), s.breach(e.G) }

func (e *Evaluation) f() float64 {
	if len(e.R) > 0 {
		return dot(e.R, e.R) / 2
	}
	return e.Value
}

// groups returns the groups of so many limits.
func (s *Solver) groups(limits int) (n int, group []int) {
	if limits == 0 || len(s.problem.Group) != limits {
		return 1, nil
	}
	return slices.Max(s.problem.Group) + 1, s.problem.Group
}

// breach returns how far limits are broken.
func (s *Solver) breach(g []float64) (h breach) {
	n, group := s.groups(len(g))
	most := make([]float64, n)
	for i, v := range g {
		k := 0
		if group != nil {
			k = group[i]
		}
		most[k] = max(most[k], v)
	}
	for _, v := range most {
		h.add(v)
	}
	return h
}

// price returns what a breach adds to what is minimised.
func (s *Solver) price(h breach) float64 { return s.rho * h.cost }

// take makes a point asked for the one to stand on, after its derivatives are known, and goes on with a
// phase.
func (s *Solver) take(asked int, e *Evaluation, then phase) {
	it := &s.next
	it.number = s.told - len(s.asked) + asked
	it.x = append(it.x[:0], s.asked[asked]...)
	it.r, it.g = append(it.r[:0], e.R...), append(it.g[:0], e.G...)
	it.jr, it.jg = append(it.jr[:0], e.JR...), append(it.jg[:0], e.JG...)
	it.slope = it.slope[:0]
	it.f, it.h = s.of(e)
	if len(it.jr) != len(it.r)*s.n || len(it.jg) != len(it.g)*s.n || len(it.r) == 0 {
		s.phase, s.after = differencing, then
		return
	}
	s.stand(then)
}

// stand moves to the next iterate, whose derivatives are known, and learns from the move.
func (s *Solver) stand(then phase) {
	it := &s.next
	if len(it.r) > 0 {
		it.slope = sized(it.slope, s.n)
		it.descend()
	}
	if len(s.lambda) != len(it.g) {
		s.lambda = make([]float64, len(it.g))
	}
	first := len(s.at.slope) == 0
	if !first {
		s.learn()
		s.Steps++
	}
	s.keepBest(first)
	s.at, s.next = s.next, s.at
	s.rescale()
	if first {
		s.begin()
	}
	s.phase, s.switched, s.widened, s.corrections = then, false, false, 0
	s.clearShift()
	s.stale = true
}

// descend fills the slope of half the sum of squares.
func (it *iterate) descend() {
	n := len(it.slope)
	clear(it.slope)
	for i, r := range it.r {
		for k := range n {
			it.slope[k] += r * it.jr[i*n+k]
		}
	}
}

// keepBest keeps the point that is left if it ranks before the next, or forgets the one kept if the next
// is as good.
func (s *Solver) keepBest(first bool) {
	noise := 1e-13 * math.Abs(s.next.f) // what is better by rounding alone is not
	switch {
	case first:
	case s.strayed:
		s.strayed = s.ranks(s.best.f+noise, s.best.h, s.next.f, s.next.h)
	case s.ranks(s.at.f+noise, s.at.h, s.next.f, s.next.h):
		s.strayed = true
		s.best.set(&s.at)
	}
}

func (it *iterate) set(from *iterate) {
	for i, list := range it.lists() {
		*list = append((*list)[:0], *from.lists()[i]...)
	}
	it.f, it.h, it.number = from.f, from.h, from.number
}

func (it *iterate) lists() [6]*[]float64 {
	return [...]*[]float64{&it.x, &it.r, &it.g, &it.jr, &it.jg, &it.slope}
}

// finish ends the search at the best point that it stood on.
func (s *Solver) finish() {
	s.phase = finished
	if s.strayed {
		s.at, s.best = s.best, s.at
		s.strayed, s.stale = false, true
	}
}

// begin sets what depends on the first point.
func (s *Solver) begin() {
	if s.problem.Scale == nil {
		most := 0.0
		for i, x := range s.at.x {
			most = max(most, math.Abs(x)/s.scale[i])
		}
		if s.radius = s.options.Radius * most; most == 0 {
			s.radius = 1
		}
	}
	s.rho = 1e-3 * math.Abs(s.at.f)
	if s.rho < 1e-100 {
		s.rho = 1
	}
	if len(s.at.r) == 0 { // a first curvature that reaches the rim of the region
		s.augmented = true
		for i := range s.n {
			s.secant[i*s.n+i] = math.Abs(s.at.slope[i])/(s.radius*s.scale[i]) + 1e-12
		}
	}
}

// rescale lets the scales follow the columns of the Jacobian where none were given. They never grow.
func (s *Solver) rescale() {
	if s.problem.Scale != nil {
		return
	}
	for k := range s.n {
		norm := 0.0
		for i := range s.at.r {
			norm = math.Hypot(norm, s.at.jr[i*s.n+k])
		}
		if len(s.at.r) == 0 || norm == 0 {
			norm = 1
		}
		if s.scale[k] == 0 || 1/norm < s.scale[k] {
			s.scale[k] = 1 / norm
		}
	}
}

func (s *Solver) clearShift() {
	s.shift = sized(s.shift, len(s.at.g))
	clear(s.shift)
}

package optimize

import (
	"fmt"
	"math"

	"trammel/optimize/leastsquares"
)

// RefineOptions says how candidates are refined.
type RefineOptions struct {
	Seed         uint64  // of the study; every number is a seed, 0 too
	Stage        int     // number of the stage in the study
	Searches     int     // local searches at most
	Together     int     // local searches of a round, each a block of its own
	Screen       int     // points of the Sobol sample that every block of every round screens for starts
	Rows         int     // rows of a local search at most; differences in place of derivatives count too
	Starts       []Point // points to start from, the best first; Parent is kept
	Combinations int     // combinations of choices that get starts of their own; beyond, the best screened do
	Groups       []int   // which limit each element of G belongs to, counted from 0; nil: all are one, of which the greatest counts
	Apart        float64 // two answers are one when no number differs by more than this share of its box
	Enough       float64 // chance of an unseen answer (Unseen) from which on starts are no longer sought nearer to known basins
	Coarse       int     // a number with at most so many steps keeps to them throughout a search
	Local        leastsquares.Options
}

// DefaultRefine returns the options that refining has in a space if nothing else is said.
func DefaultRefine(space *Space) RefineOptions {
	return RefineOptions{
		Seed:         1,
		Stage:        1,
		Searches:     64,
		Together:     16,
		Screen:       16,
		Rows:         min(100+40*space.Size(), 5000),
		Combinations: 64,
		Apart:        0.01,
		Enough:       0.02,
		Coarse:       1000,
		Local:        leastsquares.DefaultOptions(),
	}
}

// Refine is multi-start local search: a stage whose rounds are local searches, side by side, from the most
// promising points that are not known to lie in a basin already searched.
//
// Every block screens its part of one Sobol sample; between rounds the sample is pooled and the next starts
// are chosen by multi-level single linkage: a point is a start unless a better one lies within a distance
// that shrinks as the sample grows. A. H. G. Rinnooy Kan and G. T. Timmer, "Stochastic global
// optimization methods, part II: multi level methods", Mathematical Programming 39 (1987) 57-78.
// The local search is that of package leastsquares. What is ours: better is Better, so that samples that
// break limits or fail rank too; answers stand in the pool like sampled points; every combination of
// choices is a sample of its own, and combinations take turns; the pool keeps the best only; given
// starts come first, in their order; once there are some answers, half of a round starts from crosses of the
// best of them (cross). Ends that tie, and of which the models see no hump between them, are taken for one answer until a
// round of its own walks the way from one to the other (joining).
type Refine struct {
	space   *Space
	options RefineOptions
	sample  *sobol
	local   leastsquares.Problem
	rounds  int
	met     int // rounds finished
	known   knowledge
	starts  []candidate // of the round that comes next
	ways    []way       // that it looks at, if it is one that joins
	few     bool        // more combinations than get starts of their own
}

// NewRefine returns the stage, or a sentence that says why it cannot be.
func NewRefine(space *Space, o RefineOptions) (*Refine, error) {
	if err := space.Check(); err != nil {
		return nil, err
	}
	if len(space.Dims) == 0 {
		return nil, fmt.Errorf("only choices vary, so there is nothing to refine; a factorial plan tries all of them")
	}
	if err := o.check(); err != nil {
		return nil, err
	}
	for i := range o.Starts {
		if err := space.Allows(&o.Starts[i]); err != nil {
			return nil, fmt.Errorf("start %d of the refinement: %w", i+1, err)
		}
	}
	sample, err := newSobol(space.Size(), true, Key{Seed: o.Seed, Stage: o.Stage})
	if err != nil {
		return nil, err
	}
	r := &Refine{space: space, options: o, sample: sample}
	searches := (o.Searches + o.Together - 1) / o.Together
	if len(o.Starts) == 0 {
		searches++ // the first one screens alone
	}
	r.rounds = withJoins(searches)
	n := len(space.Dims)
	r.local = leastsquares.Problem{Low: make([]float64, n), High: make([]float64, n), Scale: make([]float64, n), Lattice: true, Coarse: make([]bool, n), Group: o.Groups}
	for i := range n {
		last := space.Levels(i) - 1
		r.local.High[i], r.local.Scale[i] = float64(last), max(float64(last), 1)
		r.local.Coarse[i] = space.Dims[i].Step > 0 && last <= int64(o.Coarse)
	}
	combinations := 1.0
	for i := range space.Choices {
		combinations *= float64(len(space.Choices[i].Options))
	}
	r.few = combinations > float64(o.Combinations)
	for i := range o.Starts {
		r.known.pool = append(r.known.pool, r.given(i))
	}
	r.choose(0)
	return r, nil
}

func (o *RefineOptions) check() error {
	if err := checkKey(o.Stage); err != nil {
		return err
	}
	for _, c := range [...]struct {
		what          string
		is, low, high int
		because       string
	}{
		{"local searches", o.Searches, 1, 10_000_000, "it needs at least one"},
		{"local searches at a time", o.Together, 1, 4096, "each is a block of work"},
		{"points to screen in a block", o.Screen, 0, 10_000, "they share the block with a local search"},
		{"rows in a local search", o.Rows, 1, BlockRows - 10_000, "a block has at most 100000 rows"},
		{"combinations with starts of their own", o.Combinations, 1, maxPool, "the pool keeps no more points"},
		{"steps of a number that keeps to them", o.Coarse, 0, 1 << 30, "it is a count"},
	} {
		if c.is < c.low || c.is > c.high {
			return fmt.Errorf("the refinement is to have %d %s; %d to %d are possible: %s", c.is, c.what, c.low, c.high, c.because)
		}
	}
	for i, g := range o.Groups {
		if g < 0 || g >= len(o.Groups) {
			return fmt.Errorf("element %d of the limits is said to belong to limit %d; with %d elements it may be 0 to %d", i, g, len(o.Groups), len(o.Groups)-1)
		}
	}
	if !(o.Apart >= 0 && o.Apart < 1) {
		return fmt.Errorf("answers are to be one when they differ by %g of the box; it must be at least 0 and less than 1", o.Apart)
	}
	if !(o.Enough >= 0 && o.Enough <= 1) {
		return fmt.Errorf("the chance of an unseen answer that is small enough is %g; it must be 0 to 1", o.Enough)
	}
	if o.Screen == 0 && len(o.Starts) == 0 {
		return fmt.Errorf("no starts are given and none are to be screened; one of the two is needed")
	}
	if l := &o.Local; !(l.Radius > 0 && l.Radius <= 1) || !(l.Gain >= 0 && l.Gain < 1) || !(l.Broken >= 0) || l.Nodes < 1 {
		return fmt.Errorf("the local search has a first radius of %g, a gain of %g, limits broken at %g and %d nodes; radius above 0 to 1, gain from 0 to below 1, broken at 0 or more and one node at least are possible", l.Radius, l.Gain, l.Broken, l.Nodes)
	}
	blocks := int64(withJoins(o.Searches/o.Together+2)) * int64(o.Together)
	if blocks > StageBlocks || blocks*int64(o.Screen) > maxRuns {
		return fmt.Errorf("%d local searches with %d points screened each are more than a stage can number; fewer are needed", o.Searches, o.Screen)
	}
	return nil
}

// given returns start i as a candidate, ranked by its place in the list, before anything sampled.
func (r *Refine) given(i int) candidate {
	p := &r.options.Starts[i]
	c := candidate{rank: rank{class: asGiven, first: float64(i)}, run: p.Parent, level: make([]int64, len(p.X)), choice: append([]int(nil), p.Choice...)}
	for d, x := range p.X {
		c.level[d] = r.space.LevelOf(d, x)
	}
	return c
}

// Name returns the word the study file uses.
func (r *Refine) Name() string { return "refine" }

// Runs returns 0: local searches end when they have converged.
func (r *Refine) Runs() int64 { return 0 }

// Blocks returns the same number for every round; a block without a start only screens.
func (r *Refine) Blocks(round int) int {
	if round < 0 || round >= r.rounds {
		return 0
	}
	return r.options.Together
}

// Budget returns the rows of a local search and of the screening.
func (r *Refine) Budget(round, block int) int {
	if round < 0 || round >= r.rounds {
		return 0
	}
	if round == 0 && len(r.options.Starts) == 0 {
		return r.options.Screen
	}
	if r.joins(round) {
		if round == r.met && len(r.waysFor(block)) == 0 {
			return 0
		}
		return r.joinRows()
	}
	return r.options.Rows + r.options.Screen
}

// Start returns the searcher of a block. It panics if the rounds before have not met.
func (r *Refine) Start(round, block int) Searcher {
	if round != r.met {
		panic(fmt.Sprintf("optimize: round %d of a refinement whose searches have met %d times", round, r.met))
	}
	if r.joins(round) {
		return r.newJoining(round, block)
	}
	s := &refining{r: r, round: round, block: block, number: r.number(round, block)}
	if block < len(r.starts) {
		s.start = &r.starts[block]
	}
	s.reset()
	return s
}

// number returns the number of a block, counted through the stage.
func (r *Refine) number(round, block int) int64 {
	return int64(round)*int64(r.options.Together) + int64(block)
}

// Meet pools what the blocks found and chooses the next starts.
func (r *Refine) Meet(round int, states [][]byte) error {
	if len(states) != r.Blocks(round) || len(states) == 0 {
		return fmt.Errorf("%w: round %d of this refinement has %d blocks, not %d", errState, round, r.Blocks(round), len(states))
	}
	if r.joins(round) {
		return r.meetJoined(round, states)
	}
	var known knowledge
	var found []finding
	for i, b := range states {
		s := &refining{r: r, round: round, block: i, number: r.number(round, i)}
		before, err := s.restore(b)
		if err != nil {
			return fmt.Errorf("block %d: %w", i, err)
		}
		if i == 0 {
			known = before
		}
		known.sampled += int64(s.screened)
		known.pool = append(known.pool, s.kept...)
		if s.stage == searching { // the rows of the block were spent
			s.end()
		}
		if s.stage == searched {
			found = append(found, s.found)
		}
	}
	for i := range found {
		known.searches++
		found[i].valley = found[i].start
		known.add(r, &found[i])
	}
	r.known, r.met = known, round+1
	r.known.trim(r)
	r.choose(round + 1)
	return nil
}

// knowledge is what a refinement has learnt: all that later rounds need.
type knowledge struct {
	sampled  int64       // points screened
	searches int         // local searches finished
	pool     []candidate // the best of what was sampled, and the given starts
	answers  []finding
}

// candidate is a point that a search may start from.
type candidate struct {
	level   []int64
	choice  []int
	rank    rank
	run     int64 // run number, or NoParent
	used    bool  // a search has started here
	crossed bool  // made of answers, for the next round
}

// asGiven is the class of a given start, before any sampled point: its outcome is not known here.
const asGiven int8 = -1

// maxPool is how many candidates are kept between rounds.
const maxPool = 512

// combination returns the number of a combination of choices.
func (s *Space) combination(choice []int) (n uint64) {
	for i, c := range choice {
		n = n*uint64(len(s.Choices[i].Options)) + uint64(c)
	}
	return n
}

// distance returns the Euclidean distance of two points in boxes of length 1.
func (r *Refine) distance(a, b []int64) float64 {
	sum := 0.0
	for i := range a {
		sum += sq(float64(a[i]-b[i]) / r.local.Scale[i])
	}
	return math.Sqrt(sum)
}

func sq(x float64) float64 { return x * x }

package optimize

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// CMAOptions says how the search by covariance matrix adaptation works.
type CMAOptions struct {
	Seed       uint64  // of the study; every number is a seed, 0 too
	Stage      int     // number of the stage in the study
	Runs       int64   // rows in all
	Islands    int     // sequences of restarts side by side; each is one block per round
	RoundRows  int     // rows of an island from one round to the next
	Population int     // members of a generation in the first restart of the first island
	Doublings  int     // how often a population may double
	Width      float64 // standard deviation a restart begins with, as a share of the box
	Near       float64 // the same about a start that was given
	Starts     []Point // where the first restarts begin, dealt to the islands in turn; Parent is kept
	Spread     float64 // a restart whose scores differ by less than this share of the best is over
}

// DefaultCMA returns the options that the search has in a space if nothing else is said.
func DefaultCMA(space *Space) CMAOptions {
	return CMAOptions{
		Seed:       1,
		Stage:      1,
		Runs:       20_000,
		Islands:    4, // each needs some thousand rows to settle
		RoundRows:  500,
		Population: 4 + int(3*math.Log(float64(max(len(space.moving()), 1)))),
		Doublings:  9,
		Width:      0.3,
		Near:       0.05,
		Spread:     1e-9,
	}
}

// CMA is covariance matrix adaptation with restarts: a stage of islands, each a sequence of restarts of
// its own, which goes on from round to round. Islands learn nothing from each other.
//
// Sources: N. Hansen, "The CMA evolution strategy: a tutorial", arXiv:1604.00772 (2016); active update:
// N. Hansen and R. Ros, GECCO 2010 companion, 1673-1680; restarts in two regimes, one that doubles its
// population and one of small populations and widths, an equal number of rows for each: N. Hansen,
// "Benchmarking a BI-population CMA-ES on the BBOB-2009 function testbed", GECCO 2009 companion,
// 2389-2396; steps: R. Hamano and others, "CMA-ES with margin", GECCO 2022, 639-647.
//
// Candidates rank by Better, so limits and failures need no penalties: only the order within a generation
// is used. The box is kept by a transformation of every number without steps: straight inside, a parabola
// within a twentieth of a bound and mirrored beyond it. We prefer that to resampling, which starves when
// the optimum lies in a corner, and to penalties, which need a scale: under it a slope that ends on a
// bound becomes an ordinary smooth minimum, and bounds are reached exactly. Source: N. Hansen's boundary
// transformation in his own code for CMA-ES, from memory.
//
// What is ours: the islands begin with populations of several sizes. And choices: a restart with a large population draws every choice by chances that it adapts
// with the weights of the better half, none of them less than a margin; a restart with a small one keeps
// to one combination, and these take all combinations in turn.
type CMA struct {
	space   *Space
	options CMAOptions
	plan    schedule
	sample  *sobol
	moving  []int // dimensions that have more than one value
	first   []int // option of every choice in the first combination
	islands []lane
	met     int // rounds finished before islands
}

// stepsAtMost is the number of levels up to which a number counts as stepped, whether it has a step or
// only a narrow range.
const stepsAtMost = 64

// moving returns the dimensions that have more than one value.
func (s *Space) moving() (at []int) {
	for i := range s.Dims {
		if s.Levels(i) > 1 {
			at = append(at, i)
		}
	}
	return at
}

func (s *Space) stepped(i int) bool { return s.Dims[i].Step > 0 || s.Levels(i) <= stepsAtMost }

// NewCMA returns the stage, or a sentence that says why it cannot be.
func NewCMA(space *Space, o CMAOptions) (*CMA, error) {
	if err := space.Check(); err != nil {
		return nil, err
	}
	if err := o.check(); err != nil {
		return nil, err
	}
	c := &CMA{space: space, options: o, plan: schedule{o.Runs, o.Islands, o.RoundRows}, moving: space.moving()}
	if len(c.moving) == 0 {
		return nil, errors.New("cma-es adapts to numbers, but none has more than one value here; a factorial plan tries all combinations of the choices")
	}
	if n := space.points(); n <= float64(o.Population) {
		return nil, fmt.Errorf("only %.0f points are allowed, no more than the %d members of a population; a factorial plan tries them all", n, o.Population)
	}
	if err := space.allowsStarts(o.Starts, maxStarts); err != nil {
		return nil, err
	}
	var err error
	if c.sample, err = newSobol(space.Size(), true, Key{Seed: o.Seed, Stage: o.Stage}); err != nil {
		return nil, err
	}
	r := NewStream(Key{Seed: o.Seed, Stage: o.Stage, Block: wholeStage})
	r.Seek(1 << 40) // beyond what the sample is scrambled with
	for i := range space.Choices {
		c.first = append(c.first, r.IntN(len(space.Choices[i].Options)))
	}
	return c, nil
}

// Bounds of the options.
const (
	maxStarts     = 100_000
	maxPopulation = 1000
	maxDoublings  = 12
)

func (o *CMAOptions) check() error {
	if err := checkKey(o.Stage); err != nil {
		return err
	}
	if err := checkBounds(
		bound{"runs", o.Runs, 1, maxRuns, "a search needs at least one"},
		bound{"islands", int64(o.Islands), 1, 4096, "each is a block of work"},
		bound{"rows of an island in a round", int64(o.RoundRows), 1, BlockRows, "a block has at most 100000 rows"},
		bound{"members of a population", int64(o.Population), 4, maxPopulation, "the better half of them are parents"},
		bound{"doublings", int64(o.Doublings), 0, maxDoublings, "a population must not grow without end"},
	); err != nil {
		return err
	}
	for _, w := range [...]float64{o.Width, o.Near} {
		if !(w >= 1e-6 && w <= 1) {
			return fmt.Errorf("a restart is to begin with a width of %g of the box; it must be 0.000001 to 1", w)
		}
	}
	if !(o.Spread >= 0 && o.Spread < 1) {
		return fmt.Errorf("the spread at which a restart is over is %g; it must be at least 0 and less than 1", o.Spread)
	}
	return nil
}

// Name returns the word the study file uses.
func (c *CMA) Name() string { return "cma-es" }

// Runs returns how many rows the search has in all.
func (c *CMA) Runs() int64 { return c.options.Runs }

// Blocks returns the number of islands for every round that has rows left.
func (c *CMA) Blocks(round int) int { return c.plan.blocks(round) }

// Budget returns a full round's rows, or an even share of what is left in the last round.
func (c *CMA) Budget(round, block int) int { return c.plan.budget(round, block) }

// Start returns the searcher of one island for one round. It panics if the islands have not met after
// the round before.
func (c *CMA) Start(round, block int) Searcher {
	mustHaveMet(round, c.met)
	s := &adapting{c: c, number: block, block: c.plan.block(round, block)}
	s.stream = NewStream(Key{Seed: c.options.Seed, Stage: c.options.Stage, Block: int64(block)})
	s.picks = make([][]int, 0, c.options.Population)
	s.unit, s.bits = make([]float64, c.space.Size()), make([]uint32, c.space.Size())
	if round == 0 {
		s.lane = c.fresh()
	} else {
		s.lane = c.islands[block].copy()
	}
	s.wake()
	return s
}

// Meet takes over the islands as they are.
func (c *CMA) Meet(round int, states [][]byte) error {
	if len(states) != c.Blocks(round) || len(states) == 0 {
		return fmt.Errorf("%w: round %d of this search has %d islands, not %d", errState, round, c.Blocks(round), len(states))
	}
	islands := make([]lane, len(states))
	for i, b := range states {
		r := readState(b, adaptingTag)
		r.number(BlockRows)
		c.readLane(r, &islands[i])
		if err := r.end(); err != nil {
			return fmt.Errorf("island %d: %w", i, err)
		}
	}
	c.islands, c.met = islands, round+1
	return nil
}

// The regimes of a restart.
const (
	large = iota
	small
	regimes
)

// lane is all that an island takes from batch to batch and from round to round.
type lane struct {
	rows       uint64         // proposed, over all rounds: the index into the island's stream
	generation int            // counted over all restarts
	restarts   [regimes]int   // begun
	spent      [regimes]int64 // rows

	// The restart under way; population is 0 between two.
	regime     int
	population int
	most       int64 // rows that the restart may have
	start      int   // number of the start it began from, -1 for none
	age        int   // generations
	used       int64 // rows
	flat       int   // generations in a row in which all ranked alike
	g          *gaussian
	chances    [][]float64 // of every option of every choice
	recent     []float64   // what the best of the last generations had, the oldest first, one class only
	class      int8        // of them
	parent     int64       // run number of the last generation's best, or NoParent

	// The generation under way: ranks of the members known so far and the run number of the best.
	ranks []rank
	lead  int64
}

func (c *CMA) fresh() lane {
	l := lane{g: newGaussian(len(c.moving)), parent: NoParent, lead: NoParent, start: -1}
	for i := range c.space.Choices {
		l.chances = append(l.chances, make([]float64, len(c.space.Choices[i].Options)))
	}
	return l
}

func (l *lane) copy() lane {
	c := *l
	g := newGaussian(len(l.g.mean))
	g.set(l.g)
	c.g = g
	c.chances = make([][]float64, len(l.chances))
	for i := range c.chances {
		c.chances[i] = slices.Clone(l.chances[i])
	}
	c.recent, c.ranks = slices.Clone(l.recent), slices.Clone(l.ranks)
	return c
}

// set makes g equal to from, which has as many numbers.
func (g *gaussian) set(from *gaussian) {
	for i, v := range g.vectors() {
		copy(v, from.vectors()[i])
	}
	g.sigma, g.age = from.sigma, from.age
}

// vectors returns all that makes the distribution, besides sigma and age.
func (g *gaussian) vectors() [7][]float64 {
	return [7][]float64{g.mean, g.scale, g.pathSigma, g.pathCov, g.d, g.b, g.c}
}

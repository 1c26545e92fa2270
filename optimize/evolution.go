package optimize

import (
	"fmt"
	"math"
)

// EvolutionOptions says how differential evolution works.
type EvolutionOptions struct {
	Seed        uint64  // of the study; every number is a seed, 0 too
	Stage       int     // number of the stage in the study
	Runs        int64   // rows in all
	Islands     int     // populations that evolve side by side; each is one block per round
	Population  int     // members of an island
	Generations int     // generations from one meeting of the islands to the next
	Starts      []Point // members of the first generation, dealt to the islands in turn; Parent is kept
	Memory      int     // length of the memory of successful settings
	Renewal     float64 // chance that a choice is drawn anew instead of copied from a parent
	Spread      float64 // an island whose scores differ by less than this share of the best begins anew
	Apart       int     // meetings after such a beginning at which the island takes in nobody
}

// DefaultEvolution returns the options that differential evolution has in a space if nothing else is
// said.
func DefaultEvolution(space *Space) EvolutionOptions {
	return EvolutionOptions{
		Seed:        1,
		Stage:       1,
		Runs:        20_000,
		Islands:     8,
		Population:  min(max(space.Size()+4, 12), 48),
		Generations: 10,
		Memory:      6,
		Renewal:     0.1,
		Spread:      1e-6,
		Apart:       6,
	}
}

// Evolution is differential evolution in islands: a stage whose rounds are some generations of every
// island, after which each island hands its best member to the next in a ring.
//
// Within an island: current-to-pbest/1 mutation with an archive and binomial crossover, both settings
// drawn about a memory of what succeeded. The island ranks by Better, so limits need no penalties.
// Sources: R. Storn and K. Price, "Differential evolution", Journal of Global Optimization 11 (1997)
// 341-359; J. Zhang and A. C. Sanderson, "JADE: adaptive differential evolution with optional external
// archive", IEEE Transactions on Evolutionary Computation 13 (2009) 945-958; R. Tanabe and A. Fukunaga,
// "Success-history based parameter adaptation for differential evolution", IEEE CEC 2013, 71-78.
//
// What is ours: a success counts by its relative gain, and fully where it rose into a better class,
// because scores, violations and failures have no common scale; a value between two steps is rounded to
// either at random, in proportion; a choice is copied from one of the two parents that are
// points, or drawn anew; a trial that repeats a known point is drawn again, then nudged; an island that
// has shrunk to nothing begins anew from points not used before.
type Evolution struct {
	space   *Space
	options EvolutionOptions
	sample  *sobol
	ends    [][2]float64 // lowest and highest allowed value of every number
	rounds  int
	stepped bool     // every number has steps, so that points repeat often
	islands []island // as they enter the round met; nil before the first Meet
	met     int      // rounds finished before islands
}

// NewDifferentialEvolution returns the stage, or a sentence that says why it cannot be.
func NewDifferentialEvolution(space *Space, o EvolutionOptions) (*Evolution, error) {
	if err := space.Check(); err != nil {
		return nil, err
	}
	if err := o.check(); err != nil {
		return nil, err
	}
	if n := space.points(); n <= float64(o.Population) {
		return nil, fmt.Errorf("only %.0f points are allowed, no more than the %d members of a population; a factorial plan tries them all", n, o.Population)
	}
	for i := range o.Starts {
		if err := space.Allows(&o.Starts[i]); err != nil {
			return nil, fmt.Errorf("start %d of the search: %w", i+1, err)
		}
	}
	sample, err := newSobol(space.Size(), true, Key{Seed: o.Seed, Stage: o.Stage})
	if err != nil {
		return nil, err
	}
	e := &Evolution{space: space, options: o, sample: sample, stepped: true}
	for i := range space.Dims {
		e.stepped = e.stepped && space.Dims[i].Step > 0
		e.ends = append(e.ends, [2]float64{space.Value(i, space.Level(i, 0)), space.Value(i, space.Level(i, space.Levels(i)-1))})
	}
	each := int64(o.Islands) * int64(o.roundRows())
	e.rounds = int((o.Runs + each - 1) / each)
	return e, nil
}

func (o *EvolutionOptions) check() error {
	if err := checkKey(o.Stage); err != nil {
		return err
	}
	for _, c := range [...]struct {
		what          string
		is, low, high int64
		because       string
	}{
		{"runs", o.Runs, 1, maxRuns, "a search needs at least one"},
		{"islands", int64(o.Islands), 1, 4096, "each is a block of work"},
		{"members of an island", int64(o.Population), 5, 1000, "a mutation takes four different ones"},
		{"generations between meetings", int64(o.Generations), 1, BlockRows / int64(max(o.Population, 1)), "a block has at most 100000 rows"},
		{"places of the memory", int64(o.Memory), 1, 1000, "it must remember something"},
		{"meetings apart", int64(o.Apart), 0, 1_000_000, "it is a count"},
	} {
		if c.is < c.low || c.is > c.high {
			return fmt.Errorf("the search is to have %d %s; %d to %d are possible: %s", c.is, c.what, c.low, c.high, c.because)
		}
	}
	if !(o.Renewal >= 0 && o.Renewal <= 1) {
		return fmt.Errorf("the chance of drawing a choice anew is %g; it must be 0 to 1", o.Renewal)
	}
	if !(o.Spread >= 0 && o.Spread < 1) {
		return fmt.Errorf("the spread at which an island begins anew is %g; it must be at least 0 and less than 1", o.Spread)
	}
	if len(o.Starts) > o.Islands*o.Population {
		return fmt.Errorf("%d starts are given; the first generation has room for %d", len(o.Starts), o.Islands*o.Population)
	}
	return nil
}

// points returns how many points the space allows, possibly very many.
func (s *Space) points() float64 {
	n := 1.0
	for i := range s.Dims {
		n *= float64(s.Levels(i))
	}
	for i := range s.Choices {
		n *= float64(len(s.Choices[i].Options))
	}
	return n
}

// roundRows returns how many rows an island has in a full round.
func (o *EvolutionOptions) roundRows() int { return o.Population * o.Generations }

// Name returns the word the study file uses.
func (e *Evolution) Name() string { return "differential-evolution" }

// Runs returns how many rows the search has in all.
func (e *Evolution) Runs() int64 { return e.options.Runs }

// Blocks returns the number of islands for every round that has rows left.
func (e *Evolution) Blocks(round int) int {
	if round < 0 || round >= e.rounds {
		return 0
	}
	return e.options.Islands
}

// Budget returns a full round's rows, or an even share of what is left in the last round.
func (e *Evolution) Budget(round, block int) int {
	full := int64(e.options.roundRows())
	islands := int64(e.options.Islands)
	left := e.options.Runs - int64(round)*full*islands
	if round < 0 || left <= 0 {
		return 0
	}
	if left >= full*islands {
		return int(full)
	}
	share := left / islands
	if int64(block) < left%islands {
		share++
	}
	return int(share)
}

// Start returns the searcher of one island for one round. It panics if the islands have not met after
// the round before.
func (e *Evolution) Start(round, block int) Searcher {
	if round > 0 && (e.islands == nil || e.met != round) {
		panic(fmt.Sprintf("optimize: round %d of a search whose islands have met %d times", round, e.met))
	}
	s := &evolving{e: e, number: block}
	s.block = int64(round)*int64(e.options.Islands) + int64(block)
	s.stream = NewStream(Key{Seed: e.options.Seed, Stage: e.options.Stage, Block: s.block})
	if round == 0 {
		s.island = e.fresh()
	} else {
		s.island = e.islands[block].copy()
	}
	s.ready()
	return s
}

// Meet takes over the islands and hands the best member of each to the next.
func (e *Evolution) Meet(round int, states [][]byte) error {
	if len(states) != e.Blocks(round) || len(states) == 0 {
		return fmt.Errorf("%w: round %d of this search has %d islands, not %d", errState, round, e.Blocks(round), len(states))
	}
	islands := make([]island, len(states))
	for i, b := range states {
		r := readState(b, evolvingTag)
		r.number(BlockRows)
		e.readIsland(r, &islands[i])
		if err := r.end(); err != nil {
			return fmt.Errorf("island %d: %w", i, err)
		}
	}
	best := make([]member, len(islands))
	for i := range islands {
		best[i] = islands[i].members[islands[i].best()].copy()
	}
	for i := range islands {
		islands[i].receive(&best[(i+len(islands)-1)%len(islands)])
	}
	e.islands, e.met = islands, round+1
	return nil
}

// member is one of an island's population.
type member struct {
	x      []float64
	choice []int
	rank   rank
	run    int64 // run number, or NoParent before it has one
	hash   uint64
}

// unranked is the class of a member that has not been evaluated yet; it gives way to any trial.
const unranked int8 = 3

func (m *member) copy() member {
	c := *m
	c.x, c.choice = append([]float64(nil), m.x...), append([]int(nil), m.choice...)
	return c
}

// hashPoint returns 64 bits that two different points share by accident only.
func hashPoint(x []float64, choice []int) uint64 {
	h := uint64(len(x))
	for _, v := range x {
		h = mix(h^math.Float64bits(v+0)) + 0x9e3779b97f4a7c15 // + 0 makes one zero of two
	}
	for _, c := range choice {
		h = mix(h^uint64(c)) + 0x9e3779b97f4a7c15
	}
	return h
}

// island is all that goes from one generation to the next.
type island struct {
	members    []member
	archive    [][]float64 // members replaced by better ones, at most as many as there are members
	scale      []float64   // memory of the scale F
	crossing   []float64   // memory of the crossover rate CR
	slot       int         // place of the memory to write next
	generation int         // counted over all rounds and beginnings
	beginnings int         // times it began anew
	apart      int         // meetings at which it still takes in nobody
	known      []uint32    // in a stepped space: high halves of the hashes of points evaluated lately, by their low bits
}

// knownPoints is the size of island.known.
const knownPoints = 1024

// fresh returns an island with no member evaluated.
func (e *Evolution) fresh() island {
	o := &e.options
	is := island{
		members:  make([]member, o.Population),
		archive:  make([][]float64, 0, o.Population),
		scale:    make([]float64, o.Memory),
		crossing: make([]float64, o.Memory),
	}
	for i := range is.members {
		is.members[i] = member{x: make([]float64, len(e.space.Dims)), choice: make([]int, len(e.space.Choices))}
	}
	if e.stepped {
		is.known = make([]uint32, knownPoints)
	}
	e.clear(&is)
	return is
}

// clear forgets the members, which lie at design until they are evaluated, and what was learnt from
// them, but not what has been counted.
func (e *Evolution) clear(is *island) {
	for i := range is.members {
		m := &is.members[i]
		m.rank, m.run = rank{class: unranked}, NoParent
		for d := range e.space.Dims {
			m.x[d] = e.space.Value(d, e.space.Dims[d].nearest(e.space.Value(d, e.space.Dims[d].Design)))
		}
		for c := range e.space.Choices {
			m.choice[c] = e.space.Choices[c].Design
		}
	}
	for i := range is.scale {
		is.scale[i], is.crossing[i] = 0.5, 0.5
	}
	is.archive, is.slot = is.archive[:0], 0
}

func (is *island) copy() island {
	c := *is
	c.members = make([]member, len(is.members))
	for i := range is.members {
		c.members[i] = is.members[i].copy()
	}
	c.archive = make([][]float64, len(is.archive), len(is.members))
	for i := range is.archive {
		c.archive[i] = append([]float64(nil), is.archive[i]...)
	}
	c.scale = append([]float64(nil), is.scale...)
	c.crossing = append([]float64(nil), is.crossing...)
	c.known = append([]uint32(nil), is.known...)
	return c
}

// best and worst return the place of the first best and the last worst member.
func (is *island) best() (at int) {
	for i := range is.members {
		if is.members[i].rank.before(&is.members[at].rank) {
			at = i
		}
	}
	return at
}

func (is *island) worst() (at int) {
	for i := range is.members {
		if !is.members[i].rank.before(&is.members[at].rank) {
			at = i
		}
	}
	return at
}

func (is *island) holds(hash uint64) bool {
	for i := range is.members {
		if is.members[i].rank.class != unranked && is.members[i].hash == hash {
			return true
		}
	}
	return false
}

// receive replaces the worst member by m if that is better, unless the island stays apart.
func (is *island) receive(m *member) {
	if is.apart > 0 {
		is.apart--
		return
	}
	worst := is.worst()
	if m.rank.class != unranked && m.rank.before(&is.members[worst].rank) && !is.holds(m.hash) {
		is.members[worst] = m.copy()
	}
}

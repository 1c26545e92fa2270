package optimize

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Aim is one objective of a trade: the root of Scale times the sum of squares of some residuals.
type Aim struct {
	Rows  []int   // places in R of an Outcome
	Scale float64 // where R is that of a score, the sum of all weights over the target's own makes it the target's miss
}

// value returns the objective. It panics if r is too short, which a failed candidate's alone may be.
func (a *Aim) value(r []float64) float64 {
	sum := 0.0
	for _, k := range a.Rows {
		sum += r[k] * r[k]
	}
	return math.Sqrt(a.Scale * sum)
}

// TradeOptions says how a trade works.
type TradeOptions struct {
	Seed        uint64    // of the study; every number is a seed, 0 too
	Stage       int       // number of the stage in the study
	Runs        int64     // rows at most
	Polish      int64     // of these, rows of the polish at the end, which asks for derivatives
	Aims        []Aim     // two to five, smaller is better
	Islands     int       // populations that evolve side by side; each is one block per round
	Population  int       // members of an island
	Generations int       // generations from one meeting of the islands to the next
	Starts      []Point   // members of the first generation, dealt to the islands in turn; Parent is kept
	Renewal     float64   // chance that a choice is drawn anew instead of copied from a parent
	Archive     int       // how many points of the front are kept in memory
	Reference   []float64 // of the hypervolume; nil for a tenth beyond the worst of the first feasible members
}

// DefaultTrade returns the options that a trade between the aims has if nothing else is said.
func DefaultTrade(aims []Aim) TradeOptions {
	return TradeOptions{
		Seed:        1,
		Stage:       1,
		Runs:        40_000,
		Aims:        aims,
		Islands:     8,
		Population:  [...]int{12, 16}[min(max(len(aims)-2, 0), 1)],
		Generations: 3,
		Renewal:     0.1,
		Archive:     200,
	}
}

// Trade looks for the front between two to five aims: the points of which none is better in one aim
// without being worse in another. It is a stage of islands that evolve for some generations and then
// meet. Every island works on directions of its own, evenly spread over the whole front, and when they
// meet each takes from all islands' members those that are best for its directions.
//
// Source: K. Deb and H. Jain, "An evolutionary many-objective optimization algorithm using
// reference-point-based nondominated sorting approach, part I", IEEE Transactions on Evolutionary
// Computation 18 (2014) 577-601 (selection by nondominated sorting, hyperplane and niches); limits:
// K. Deb, A. Pratap, S. Agarwal, T. Meyarivan, "A fast and elitist multiobjective genetic algorithm:
// NSGA-II", the same 6 (2002) 182-197, section VI, with the ranking of Better in place of the sum of
// violations. Variation: half simulated binary crossover and polynomial mutation as there, half
// differential mutation (R. Storn and K. Price 1997), which does not mind valleys that lie
// across the coordinates.
//
// The polish lowers all aims of a point of the front at once, by steps along the exact derivatives, until it
// lies on the front to within the lattice (descent); steps and choices stay. What rows are left go to points
// between neighbours, where the front has its widest gaps.
//
// What is ours: islands by directions; a number between two steps is rounded to either at random, in
// proportion; a point met twice is kept once, and what is missing is drawn from the stage's sample.
type Trade struct {
	space      *Space
	options    TradeOptions
	plan       schedule // of the evolution
	polish     schedule // of the rounds after it
	sample     *sobol
	directions [][][]float64 // of every island
	islands    [][]trader
	shared     shared
	met        int // rounds finished before islands
}

// FrontPoint is one point of a front.
type FrontPoint struct {
	X      []float64
	Choice []int
	F      []float64 // value of every aim
	Run    int64     // run number
}

// Volume is the hypervolume of a front, against the trade's reference point, after a round.
type Volume struct {
	Round  int
	Volume float64
}

// NewTrade returns the stage, or a sentence that says why it cannot be.
func NewTrade(space *Space, o TradeOptions) (*Trade, error) {
	if err := space.Check(); err != nil {
		return nil, err
	}
	if err := o.check(); err != nil {
		return nil, err
	}
	if n := space.points(); n <= float64(o.Population) {
		return nil, fmt.Errorf("only %.0f points are allowed, no more than the %d members of a population; a factorial plan tries them all", n, o.Population)
	}
	if err := space.allowsStarts(o.Starts, o.Islands*o.Population); err != nil {
		return nil, err
	}
	sample, err := newSobol(space.Size(), true, Key{Seed: o.Seed, Stage: o.Stage})
	if err != nil {
		return nil, err
	}
	t := &Trade{space: space, options: o, sample: sample}
	t.plan = schedule{o.Runs - o.Polish, o.Islands, o.Population * o.Generations}
	t.polish = schedule{o.Polish, o.Islands, polishRows}
	t.shared = shared{reference: slices.Clone(o.Reference), stride: firstStride(len(o.Aims))}
	t.deal()
	return t, nil
}

// deal gives every island the directions of single aims, which span the plane, and its part of all
// others.
func (t *Trade) deal() {
	m, o := len(t.options.Aims), &t.options
	t.directions = make([][][]float64, o.Islands)
	for i := range t.directions {
		t.directions[i] = Directions(m, 1)
	}
	turn := 0
	for _, d := range directionsFor(m, o.Islands*(o.Population-m)+m) {
		if slices.Max(d) < 1 {
			i := turn % o.Islands
			t.directions[i] = append(t.directions[i], d)
			turn++
		}
	}
}

func (o *TradeOptions) check() error {
	if err := checkKey(o.Stage); err != nil {
		return err
	}
	if len(o.Aims) < 2 || len(o.Aims) > 5 {
		return fmt.Errorf("a trade is between two to five targets, not %d", len(o.Aims))
	}
	for i := range o.Aims {
		a := &o.Aims[i]
		if len(a.Rows) == 0 {
			return fmt.Errorf("target %d of the trade has no residuals; it needs at least one", i+1)
		}
		if slices.Min(a.Rows) < 0 {
			return fmt.Errorf("target %d of the trade names residual %d; they count from 0", i+1, slices.Min(a.Rows))
		}
		if !(a.Scale > 0) || math.IsInf(a.Scale, 0) {
			return fmt.Errorf("target %d of the trade has a scale of %g; it must be above 0", i+1, a.Scale)
		}
	}
	if err := checkBounds(
		bound{"runs", o.Runs, 1, maxRuns, "a search needs at least one"},
		bound{"runs of polish", o.Polish, 0, max(o.Runs-1, 0), "they are a part of all its runs"},
		bound{"islands", int64(o.Islands), 1, 4096, "each is a block of work"},
		bound{"members of an island", int64(o.Population), int64(len(o.Aims)) + 4, 1000, "each aim has one, and a mutation takes four different ones"},
		bound{"generations between meetings", int64(o.Generations), 1, BlockRows / int64(max(o.Population, 1)), "a block has at most 100000 rows"},
		bound{"points of the front in memory", int64(o.Archive), 3, 10_000, "a front needs its ends and its knee"},
	); err != nil {
		return err
	}
	if !(o.Renewal >= 0 && o.Renewal <= 1) {
		return fmt.Errorf("the chance of drawing a choice anew is %g; it must be 0 to 1", o.Renewal)
	}
	if o.Reference == nil {
		return nil
	}
	if len(o.Reference) != len(o.Aims) {
		return fmt.Errorf("the reference point has %d numbers; the trade is between %d targets", len(o.Reference), len(o.Aims))
	}
	for _, v := range o.Reference {
		if !(v > 0) || math.IsInf(v, 0) {
			return errors.New("a number of the reference point is not above 0, so that nothing can be better than it")
		}
	}
	return nil
}

// Name returns the word the study file uses.
func (t *Trade) Name() string { return "trade" }

// Runs returns how many rows the trade has in all, 0 with a polish, which may end early.
func (t *Trade) Runs() int64 {
	if t.options.Polish > 0 {
		return 0
	}
	return t.options.Runs
}

// evolution returns how many rounds the islands evolve.
func (t *Trade) evolution() int { return t.plan.rounds() }

// Blocks returns the number of islands for every round that has rows left.
func (t *Trade) Blocks(round int) int {
	if n := t.evolution(); round >= n {
		return t.polish.blocks(round - n)
	}
	return t.plan.blocks(round)
}

// Budget returns a full round's rows, or an even share of what is left in the last round of the evolution
// and of the polish.
func (t *Trade) Budget(round, block int) int {
	if n := t.evolution(); round >= n {
		return t.polish.budget(round-n, block)
	}
	return t.plan.budget(round, block)
}

// Front returns the front as it stood when the islands last met, in order of the first aim: points that
// keep every limit, none better than another in all aims. It is bounded by Archive; the record has the rest.
func (t *Trade) Front() []FrontPoint {
	front := make([]FrontPoint, len(t.shared.archive))
	for i := range front {
		m := t.shared.archive[i].copy()
		front[i] = FrontPoint{m.x, m.choice, m.f, m.run}
	}
	slices.SortStableFunc(front, func(a, b FrontPoint) int { return compareFrom(a.F, b.F, 0) })
	return front
}

// Reference returns the reference point of the hypervolume, nil as long as nothing keeps every limit and
// none was given.
func (t *Trade) Reference() []float64 { return slices.Clone(t.shared.reference) }

// History returns the hypervolume of the front after meetings of the islands, in order: all of them, or of
// very many, and in four and five aims, an even choice and the last.
func (t *Trade) History() []Volume {
	h := slices.Clone(t.shared.history)
	if t.met > 0 && (len(h) == 0 || h[len(h)-1].Round != t.met-1) {
		h = append(h, Volume{t.met - 1, t.shared.volume()})
	}
	return h
}

// Start returns the searcher of one island for one round. It panics if the islands have not met after
// the round before.
func (t *Trade) Start(round, block int) Searcher {
	mustHaveMet(round, t.met)
	common := shared{}
	if block == 0 {
		common = t.shared.copy()
	}
	if round >= t.evolution() {
		return t.startPolish(round, block, common)
	}
	s := &trading{t: t, number: block, block: t.plan.block(round, block), shared: common}
	s.stream = NewStream(Key{Seed: t.options.Seed, Stage: t.options.Stage, Block: s.block})
	if round == 0 {
		s.members = t.fresh()
	} else {
		s.members = copyTraders(t.islands[block])
	}
	s.ready()
	return s
}

// Meet takes over the islands, brings the front and its hypervolume up to date and gives every island the
// members of all that are best for its directions.
func (t *Trade) Meet(round int, states [][]byte) error {
	if len(states) != t.Blocks(round) || len(states) == 0 {
		return fmt.Errorf("%w: round %d of this search has %d islands, not %d", errState, round, t.Blocks(round), len(states))
	}
	evolves := round < t.evolution()
	var all []trader
	var common shared
	for i, b := range states {
		r := readState(b, polishingTag)
		if evolves {
			r = readState(b, tradingTag)
		}
		r.number(BlockRows)
		generation := int(r.number(uint64(maxRuns)))
		all = append(all, t.readTraders(r)...)
		if i == 0 {
			t.readShared(r, &common)
		}
		common.generation = max(common.generation, generation)
		if !evolves {
			t.readJob(r)
		}
		if err := r.end(); err != nil {
			return fmt.Errorf("island %d: %w", i, err)
		}
	}
	common.take(all, &t.options, round)
	if evolves {
		stream := NewStream(Key{Seed: t.options.Seed, Stage: t.options.Stage, Block: wholeStage})
		t.islands = make([][]trader, len(states))
		for i := range t.islands {
			stream.Seek(uint64(1)<<41 + uint64(t.plan.block(round, i)))
			t.islands[i] = t.fill(chooseTraders(all, t.directions[i], t.options.Population, &stream))
		}
	}
	t.shared, t.met = common, round+1
	return nil
}

// trader is a member of an island of a trade.
type trader struct {
	member
	f    []float64 // value of every aim, of meaning when the class is 0
	done bool      // no step lowers all its aims
}

func (m *trader) copy() trader { return trader{m.member.copy(), slices.Clone(m.f), m.done} }

func copyTraders(from []trader) []trader {
	out := make([]trader, len(from))
	for i := range from {
		out[i] = from[i].copy()
	}
	return out
}

// fill returns copies of the members chosen, and as many unranked ones as are missing in a population.
func (t *Trade) fill(chosen []trader) []trader {
	members := t.fresh()
	setTraders(members, chosen)
	return members
}

// setTraders makes the first members copies of those chosen, in the memory they have, and the others
// unranked.
func setTraders(members, chosen []trader) {
	for i := range members {
		m := &members[i]
		if i >= len(chosen) {
			m.rank, m.run, m.done = rank{class: unranked}, NoParent, false
			continue
		}
		c := &chosen[i]
		copy(m.x, c.x)
		copy(m.choice, c.choice)
		copy(m.f, c.f)
		m.rank, m.run, m.hash, m.done = c.rank, c.run, c.hash, c.done
	}
}

// fresh returns a population with no member evaluated; until then they lie at the low end.
func (t *Trade) fresh() []trader {
	members := make([]trader, t.options.Population)
	for i := range members {
		m := &members[i]
		m.x, m.choice, m.f = make([]float64, len(t.space.Dims)), make([]int, len(t.space.Choices)), make([]float64, len(t.options.Aims))
		m.rank, m.run = rank{class: unranked}, NoParent
		for d := range m.x {
			m.x[d] = t.space.Value(d, t.space.Level(d, 0))
		}
	}
	return members
}

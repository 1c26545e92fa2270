package optimize

import (
	"math"
	"slices"
)

// adapting is the searcher of one island for one round.
type adapting struct {
	c      *CMA
	number int   // of the island
	block  int64 // counted through the stage
	stream Stream
	index  int // rows proposed in this round
	lane   lane

	// What follows from the lane: constants, and the members of the generation under way as drawn.
	pace  pace
	z     [][]float64
	picks [][]int

	order  []int
	sorted [][]float64
	u      []float64
	unit   []float64
	bits   []uint32
	low    []int64 // ends of the levels of the better half
	high   []int64
}

// wake makes what follows from the lane.
func (s *adapting) wake() {
	if s.lane.population == 0 {
		return
	}
	s.prepare()
	for i := range s.lane.ranks {
		s.draw(i, s.lane.rows-uint64(len(s.lane.ranks)-i))
	}
}

// prepare makes the constants and the memory for the population.
func (s *adapting) prepare() {
	n, m := len(s.c.moving), s.lane.population
	if s.pace.population != m {
		s.pace = newPace(n, m)
	}
	for len(s.z) < m {
		s.z = append(s.z, make([]float64, n))
		s.picks = append(s.picks, make([]int, len(s.c.space.Choices)))
	}
	s.order, s.sorted = sized(s.order, m), sized(s.sorted, m)
	s.u = sized(s.u, n)
	s.low, s.high = sized(s.low, n), sized(s.high, n)
}

// Propose appends what is missing of the generation, as far as the budget and the round allow: a
// generation may stretch over several batches and rounds.
func (s *adapting) Propose(dst []Point, budget int) []Point {
	l := &s.lane
	left := min(budget, s.c.options.RoundRows-s.index)
	if left <= 0 {
		return dst
	}
	if l.population == 0 {
		s.begin()
	}
	n := min(l.population-len(l.ranks), left)
	dst = slices.Grow(dst, n)
	for k := range n {
		var p *Point
		dst, p = extend(dst, s.c.space)
		i := len(l.ranks) + k
		s.draw(i, l.rows)
		s.place(p, i)
		p.Iteration, p.Parent = l.generation, l.parent
		if l.start >= 0 && l.age == 0 {
			p.Parent = s.c.options.Starts[l.start].Parent
		}
		l.rows++
		s.index++
	}
	return dst
}

// draw draws member i of the generation, from the island's stream at index.
func (s *adapting) draw(i int, index uint64) {
	l := &s.lane
	s.stream.Seek(index)
	for d := range s.z[i] {
		s.z[i][d] = s.stream.Normal()
	}
	for c, chances := range l.chances {
		u := s.stream.Float64()
		k := 0
		for k < len(chances)-1 && u >= chances[k] {
			u -= chances[k]
			k++
		}
		s.picks[i][c] = k
	}
	if l.start >= 0 && l.age == 0 && i == 0 { // the start itself
		clear(s.z[i])
		copy(s.picks[i], s.c.options.Starts[l.start].Choice)
	}
}

// place makes p member i of the generation.
func (s *adapting) place(p *Point, i int) {
	space := s.c.space
	s.lane.g.point(s.u, s.z[i])
	for d := range space.Dims {
		p.X[d] = space.Value(d, space.Level(d, 0))
	}
	for k, d := range s.c.moving {
		p.X[d] = space.Value(d, space.Level(d, space.levelAt(d, s.u[k])))
	}
	copy(p.Choice, s.picks[i])
}

// levelAt returns the number of the level that u stands for: evenly from 0 to 1 with steps, through fold
// without.
func (s *Space) levelAt(d int, u float64) int64 {
	last := s.Levels(d) - 1
	if !(math.Abs(u) < 1e9) {
		u = 0.5 // a distribution that ran away; its restart ends with the generation
	}
	if !s.stepped(d) {
		u = fold(u)
	}
	return int64(math.Round(min(max(u, 0), 1) * float64(last)))
}

// rim is how far from a bound the box is bent, as a share of the box.
const rim = 0.05

// fold turns any number into one from 0 to 1: itself at least rim away from both, a parabola nearer to
// them whose ends are at -rim and 1 + rim, and the mirror image beyond.
func fold(u float64) float64 {
	const period = 2 * (1 + 2*rim)
	if u < -rim || u > 1+rim {
		u += rim
		u -= period * math.Floor(u/period)
		if u > period/2 {
			u = period - u
		}
		u -= rim
	}
	switch {
	case u < rim:
		return (u + rim) * (u + rim) / (4 * rim)
	case u > 1-rim:
		return 1 - (u-1-rim)*(u-1-rim)/(4*rim)
	}
	return u
}

// unfold returns the number from -rim to 1 + rim that fold turns into u, which is from 0 to 1.
func unfold(u float64) float64 {
	switch {
	case u < rim:
		return math.Sqrt(u*4*rim) - rim
	case u > 1-rim:
		return 1 + rim - math.Sqrt((1-u)*4*rim)
	}
	return u
}

// ladder is how many sizes of population the islands begin with: one doubling more from each to the next,
// so that a search whose rows are shared out among many has large populations early all the same.
const ladder = 3

// begin begins a restart. Its random numbers are those of the rows to come, far behind what draws use.
func (s *adapting) begin() {
	l, o := &s.lane, &s.c.options
	number := l.restarts[large] + l.restarts[small]
	s.stream.Seek(l.rows | 1<<63)
	l.regime = large
	if number > 0 && l.spent[small] < l.spent[large] {
		l.regime = small
	}
	width := o.Width
	grown := o.Population << min(max(l.restarts[large]-1, 0)+s.number%ladder, o.Doublings) // of the last large restart
	switch l.regime {
	case large:
		grown = o.Population << min(l.restarts[large]+s.number%ladder, o.Doublings)
		l.population, l.most = grown, math.MaxInt64
	case small:
		u, v := s.stream.Float64(), s.stream.Float64()
		l.population = int(float64(o.Population) * math.Exp2(u*u*math.Log2(max(float64(grown)/float64(2*o.Population), 1))))
		l.most = max((l.spent[large]-l.spent[small])/2, int64(10*l.population))
		width *= math.Exp2(-2 * v * math.Log2(10))
	}
	l.age, l.used, l.flat, l.recent, l.ranks, l.parent, l.lead = 0, 0, 0, l.recent[:0], l.ranks[:0], NoParent, NoParent
	if l.start = number*o.Islands + s.number; l.start < len(o.Starts) {
		width = o.Near
		l.parent = o.Starts[l.start].Parent
	} else {
		l.start = -1
	}
	s.centre(number)
	s.odds()
	l.g.begin(width)
	l.restarts[l.regime]++
	s.prepare()
	s.steps()
}

// centre puts the mean on the start, or on the next point of the stage's one Sobol sample.
func (s *adapting) centre(number int) {
	space, l := s.c.space, &s.lane
	s.c.sample.fill(s.unit, uint32(number*s.c.options.Islands+s.number), s.bits)
	for k, d := range s.c.moving {
		u := s.unit[d]
		if l.start >= 0 {
			u = float64(space.LevelOf(d, s.c.options.Starts[l.start].X[d])) / float64(space.Levels(d)-1)
		}
		if !space.stepped(d) {
			u = unfold(u)
		}
		l.g.mean[k] = u
	}
}

// odds sets the chances of the options: equal in a large restart, half for those of a start, and one
// sure combination in a small restart, the next in turn.
func (s *adapting) odds() {
	l := &s.lane
	turn := l.restarts[small]*s.c.options.Islands + s.number
	for c, chances := range l.chances {
		n := len(chances)
		for k := range chances {
			switch {
			case l.start >= 0 && n > 1 && k == s.c.options.Starts[l.start].Choice[c]:
				chances[k] = 0.5
			case l.start >= 0 && n > 1:
				chances[k] = 0.5 / float64(n-1)
			case l.regime == large:
				chances[k] = 1 / float64(n)
			case k == (s.c.first[c]+turn)%n:
				chances[k] = 1
			default:
				chances[k] = 0
			}
		}
		if l.start < 0 && l.regime == small {
			turn /= n
		}
	}
}

// Learn keeps the ranks, and at the end of a generation learns from it.
func (s *adapting) Learn(outcomes []Outcome) {
	l := &s.lane
	best := 0
	for i := range l.ranks {
		if l.ranks[i].before(&l.ranks[best]) {
			best = i
		}
	}
	for i := range outcomes {
		l.ranks = append(l.ranks, outcomes[i].rank())
		if at := len(l.ranks) - 1; at == 0 || l.ranks[at].before(&l.ranks[best]) {
			best, l.lead = at, RunNumber(s.c.options.Stage, s.block, s.index-len(outcomes)+i)
		}
	}
	l.used += int64(len(outcomes))
	l.spent[l.regime] += int64(len(outcomes))
	if len(l.ranks) == l.population {
		s.learn()
	}
}

// learn updates the distribution from a whole generation, and ends the restart when it is over.
func (s *adapting) learn() {
	l := &s.lane
	for i := range s.order {
		s.order[i] = i
	}
	slices.SortStableFunc(s.order, func(a, b int) int {
		switch {
		case l.ranks[a].before(&l.ranks[b]):
			return -1
		case l.ranks[b].before(&l.ranks[a]):
			return 1
		}
		return 0
	})
	for k, i := range s.order {
		s.sorted[k] = s.z[i]
	}
	met := s.settled() // by the distribution they were drawn from
	over := !l.g.update(&s.pace, s.sorted) || met
	s.steps()
	s.favour()
	l.age++
	l.generation++
	if over || s.tired() {
		l.population, l.start = 0, -1
	}
	l.parent, l.lead, l.ranks = l.lead, NoParent, l.ranks[:0]
}

// steps keeps the margin of every stepped number.
func (s *adapting) steps() {
	l := &s.lane
	margin := 1 / float64(len(s.c.moving)*l.population)
	for k, d := range s.c.moving {
		if s.c.space.stepped(d) {
			l.g.hold(k, s.c.space.Levels(d), min(margin, 0.25))
		}
	}
}

// favour moves the chances of the options towards what the better half has, and keeps all above a
// margin. The rate is that of the rank-mu update for as many numbers as there are free chances.
func (s *adapting) favour() {
	l := &s.lane
	if l.regime == small && l.start < 0 {
		return
	}
	free := 0
	for _, chances := range l.chances {
		free += len(chances) - 1
	}
	f := float64(free)
	rate := 2 * s.pace.mass / ((f+2)*(f+2) + s.pace.mass)
	for c, chances := range l.chances {
		if len(chances) == 1 {
			continue
		}
		for k := range chances {
			chances[k] *= 1 - rate
		}
		for k, i := range s.order[:s.pace.parents] {
			chances[s.picks[i][c]] += rate * s.pace.weights[k]
		}
		least := 1 / (2 * f * float64(l.population))
		sum := 0.0
		for k := range chances {
			chances[k] = max(chances[k], least)
			sum += chances[k]
		}
		for k := range chances {
			chances[k] /= sum
		}
	}
}

// settled tells whether the better half lie within one quantum of each other, on the same steps and
// with the same options.
func (s *adapting) settled() bool {
	l, space := &s.lane, s.c.space
	for j, i := range s.order[:s.pace.parents] {
		l.g.point(s.u, s.z[i])
		for k, d := range s.c.moving {
			at := space.levelAt(d, s.u[k])
			if j == 0 {
				s.low[k], s.high[k] = at, at
			}
			s.low[k], s.high[k] = min(s.low[k], at), max(s.high[k], at)
			if near := s.high[k] - s.low[k]; near > 1 || near == 1 && space.stepped(d) {
				return false
			}
		}
		if !slices.Equal(s.picks[i], s.picks[s.order[0]]) {
			return false
		}
	}
	return true
}

// flatGenerations is after how many generations of equal ranks a restart is given up: nothing is there
// to learn from.
const flatGenerations = 4

// tired tells whether the restart has nothing more to hope for. Source of the rules on the recent best
// and the number of generations: Hansen (2009), section 2.
func (s *adapting) tired() bool {
	l := &s.lane
	n, m := float64(len(s.c.moving)), float64(l.population)
	best, middle, worst := &l.ranks[s.order[0]], &l.ranks[s.order[s.pace.parents-1]], &l.ranks[s.order[l.population-1]]
	if l.flat++; best.before(worst) {
		l.flat = 0
	}
	if best.class != l.class {
		l.recent, l.class = l.recent[:0], best.class
	}
	if window := 10 + int(math.Ceil(30*n/m)); len(l.recent) >= window {
		l.recent = append(l.recent[:0], l.recent[len(l.recent)-window+1:]...)
	}
	l.recent = append(l.recent, best.first)
	whole := len(l.recent) >= 10+int(math.Ceil(30*n/m))
	even := whole && middle.class == best.class && middle.first-best.first <= s.c.options.Spread*math.Abs(best.first) &&
		slices.Max(l.recent)-slices.Min(l.recent) <= s.c.options.Spread*math.Abs(best.first)
	lost := false
	for k := range s.c.moving {
		lost = lost || !(l.g.deviation(k) < 10 && math.Abs(l.g.mean[k]) < 1e6)
	}
	return even || lost || l.flat >= flatGenerations || l.used >= l.most ||
		float64(l.age) >= 100+50*(n+3)*(n+3)/math.Sqrt(m)
}

// Standing returns RoundOver when the round's rows are spent.
func (s *adapting) Standing() Standing {
	if s.index >= s.c.options.RoundRows {
		return RoundOver
	}
	return GoesOn
}

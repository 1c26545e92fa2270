package optimize

import (
	"math"
	"slices"
)

// evolving is the searcher of one island for one round.
type evolving struct {
	e      *Evolution
	number int   // of the island
	block  int64 // counted through the stage
	stream Stream
	index  int // rows proposed so far
	island island

	// The batch proposed last, and memory to work in.
	trials    []trial
	beginning bool // the batch is a first generation, not trials
	order     []int
	unit      []float64
	bits      []uint32
}

// trial is a point proposed, with the settings it was drawn with.
type trial struct {
	scale, crossing float64
	hash            uint64
	choice          []int
}

// ready makes the memory that the island's shape asks for.
func (s *evolving) ready() {
	n := len(s.island.members)
	s.trials = make([]trial, n)
	for i := range s.trials {
		s.trials[i].choice = make([]int, len(s.e.space.Choices))
	}
	s.order = make([]int, n)
	s.unit = make([]float64, s.e.space.Size())
	s.bits = make([]uint32, s.e.space.Size())
}

// Propose appends one generation, or the part of it that the budget allows.
func (s *evolving) Propose(dst []Point, budget int) []Point {
	is := &s.island
	if is.collapsed(s.e) {
		s.e.clear(is)
		is.beginnings++
		is.apart = s.e.options.Apart
	}
	n := min(len(is.members), budget, s.e.options.roundRows()-s.index)
	dst = slices.Grow(dst, max(n, 0))
	s.beginning = is.members[0].rank.class == unranked
	s.rank()
	for i := range n {
		var p *Point
		dst, p = extend(dst, s.e.space)
		s.stream.Seek(uint64(s.index))
		if s.beginning {
			s.begin(p, i)
			s.trials[i].hash = hashPoint(p.X, p.Choice)
		} else {
			s.try(p, i)
		}
		t := &s.trials[i]
		copy(t.choice, p.Choice)
		is.remember(t.hash)
		p.Iteration = is.generation
		s.index++
	}
	if n > 0 {
		is.generation++
	}
	return dst
}

// collapsed tells whether nothing is left to combine: all members feasible and of practically one score,
// or all of them neighbours, within one step, or where there are none within as many quanta as there
// are members (since no two are the same, they cannot come closer for long).
func (is *island) collapsed(e *Evolution) bool {
	for i := range is.members {
		if is.members[i].rank.class == unranked {
			return false
		}
	}
	best, worst := &is.members[is.best()].rank, &is.members[is.worst()].rank
	if best.class == 0 && worst.class == 0 && worst.first-best.first <= e.options.Spread*math.Abs(best.first) {
		return true
	}
	for d := range e.space.Dims {
		low, high := is.members[0].x[d], is.members[0].x[d]
		for i := range is.members {
			low, high = min(low, is.members[i].x[d]), max(high, is.members[i].x[d])
		}
		near := int64(1)
		if e.space.Dims[d].Step == 0 {
			near = int64(len(is.members))
		}
		if e.space.LevelOf(d, high)-e.space.LevelOf(d, low) > near {
			return false
		}
	}
	for i := range is.members {
		if !slices.Equal(is.members[i].choice, is.members[0].choice) {
			return false
		}
	}
	return true
}

// rank orders the members, best first.
func (s *evolving) rank() {
	for i := range s.order {
		s.order[i] = i
	}
	m := s.island.members
	slices.SortStableFunc(s.order, func(a, b int) int {
		switch {
		case m[a].rank.before(&m[b].rank):
			return -1
		case m[b].rank.before(&m[a].rank):
			return 1
		}
		return 0
	})
}

// begin makes p member i of a first generation: a start, or the next point of the stage's one Sobol
// sample, of which every island and every beginning has a part to itself.
func (s *evolving) begin(p *Point, i int) {
	o := &s.e.options
	if at := i*o.Islands + s.number; s.island.beginnings == 0 && at < len(o.Starts) {
		p.Set(&o.Starts[at])
		p.Derivatives = false
		return
	}
	part := s.island.beginnings*o.Islands + s.number
	s.e.sample.fill(s.unit, uint32(part*o.Population+i), s.bits)
	s.e.space.FromUnit(p, s.unit)
}

// How often a trial that repeats a known point is drawn again, and then nudged, before it is let go.
const redraws, nudges = 4, 12

// try makes p the trial that stands against member i.
func (s *evolving) try(p *Point, i int) {
	t := &s.trials[i]
	for n := 0; ; n++ {
		s.draw(t)
		s.mutate(p, i, t)
		if !s.repeats(p, t) {
			break
		}
		if n == redraws {
			for k := 0; k < nudges && s.repeats(p, t); k++ {
				s.nudge(p, k)
			}
			t.hash = hashPoint(p.X, p.Choice)
			break
		}
	}
	p.Parent = s.island.members[i].run
}

// draw draws the settings of a trial about a place of the memory: F from a Cauchy, CR from a normal
// distribution, both of width 0.1.
func (s *evolving) draw(t *trial) {
	k := s.stream.IntN(len(s.island.scale))
	for t.scale = 0; !(t.scale > 0); {
		t.scale = min(s.island.scale[k]+0.1*s.stream.Cauchy(), 1)
	}
	t.crossing = min(max(s.island.crossing[k]+0.1*s.stream.Normal(), 0), 1)
}

// mutate makes p from member i: v = x + F (x_pbest - x) + F (x_a - x_b), where pbest is one of the best,
// a another member and b another member or one of the archive; of each coordinate p takes v with
// probability CR, and of one at least. A v outside the box is put half-way between x and the bound.
func (s *evolving) mutate(p *Point, i int, t *trial) {
	is, space, r := &s.island, s.e.space, &s.stream
	n := len(is.members)
	least := 2 / float64(n)
	top := int((least + max(0.2-least, 0)*r.Float64()) * float64(n))
	best := &is.members[s.order[r.IntN(max(top, 2))]]
	a := r.IntN(n - 1)
	if a >= i {
		a++
	}
	b := r.IntN(n + len(is.archive) - 2)
	if b >= min(i, a) {
		b++
	}
	if b >= max(i, a) {
		b++
	}
	x, xa := &is.members[i], is.members[a].x
	var xb []float64
	if b < n {
		xb = is.members[b].x
	} else {
		xb = is.archive[b-n]
	}
	sure := r.IntN(space.Size())
	for d := range space.Dims {
		p.X[d] = x.x[d]
		if d != sure && r.Float64() >= t.crossing {
			continue
		}
		v := x.x[d] + t.scale*(best.x[d]-x.x[d]) + t.scale*(xa[d]-xb[d])
		p.X[d] = s.settle(d, v, x.x[d])
	}
	for c := range space.Choices {
		p.Choice[c] = x.choice[c]
		if len(space.Dims)+c != sure && r.Float64() >= t.crossing {
			continue
		}
		switch {
		case r.Float64() < s.e.options.Renewal:
			p.Choice[c] = r.IntN(len(space.Choices[c].Options))
		case r.Uint64()&1 == 0:
			p.Choice[c] = best.choice[c]
		default:
			p.Choice[c] = is.members[a].choice[c]
		}
	}
}

// settle brings v into the box, half-way from x to the bound it passed, and to an allowed value: the
// nearest, or with steps one of its two neighbours at random in proportion.
func (s *evolving) settle(d int, v, x float64) float64 {
	space := s.e.space
	dim := &space.Dims[d]
	if low, high := s.e.ends[d][0], s.e.ends[d][1]; v < low {
		v = (low + x) / 2
	} else if v > high {
		v = (high + x) / 2
	}
	if dim.Step == 0 {
		return math.Round(v*float64(dim.PerUnit))/float64(dim.PerUnit) + 0 // in the box, since v is; + 0 makes one zero of two
	}
	first, count := dim.first()
	level := (v*float64(dim.PerUnit) - float64(first)) / float64(dim.Step)
	down := math.Floor(level)
	k := int64(down)
	if s.stream.Float64() < level-down {
		k++
	}
	return dim.value(space.Level(d, min(max(k, 0), count-1)))
}

// nudge moves one coordinate of p by a step, or by up to reach more, or to another option.
func (s *evolving) nudge(p *Point, reach int) {
	space, r := s.e.space, &s.stream
	c := r.IntN(space.Size())
	if c >= len(space.Dims) {
		c -= len(space.Dims)
		p.Choice[c] = r.IntN(len(space.Choices[c].Options))
		return
	}
	by := int64(1 + r.IntN(reach+1))
	if r.Uint64()&1 == 0 {
		by = -by
	}
	k := space.LevelOf(c, p.X[c]) + by
	p.X[c] = space.Value(c, space.Level(c, min(max(k, 0), space.Levels(c)-1)))
}

// repeats tells whether the point is a member or was evaluated lately, and leaves its hash in t.
func (s *evolving) repeats(p *Point, t *trial) bool {
	h := hashPoint(p.X, p.Choice)
	t.hash = h
	return s.island.holds(h) || len(s.island.known) > 0 && s.island.known[h%knownPoints] == uint32(h>>32)
}

func (is *island) remember(hash uint64) {
	if len(is.known) > 0 {
		is.known[hash%knownPoints] = uint32(hash >> 32)
	}
}

// Learn lets every trial replace its member unless that is better, and remembers which settings did.
func (s *evolving) Learn(outcomes []Outcome) {
	is := &s.island
	first := s.index - len(outcomes)
	var gain, gainF, gainF2, gainCR float64
	for i := range outcomes {
		o, t, m := &outcomes[i], &s.trials[i], &is.members[i]
		r := o.rank()
		if m.rank.before(&r) {
			continue
		}
		if r.before(&m.rank) && m.rank.class != unranked {
			g := r.gain(&m.rank)
			gain += g
			gainF += g * t.scale
			gainF2 += g * t.scale * t.scale
			gainCR += g * t.crossing
			s.discard(m.x)
		}
		copy(m.x, o.X)
		copy(m.choice, t.choice)
		m.rank, m.hash, m.run = r, t.hash, RunNumber(s.e.options.Stage, s.block, first+i)
	}
	if gainF > 0 {
		is.scale[is.slot] = gainF2 / gainF
		is.crossing[is.slot] = gainCR / gain
		is.slot = (is.slot + 1) % len(is.scale)
	}
}

// gain returns how much better r is than the rank before: the share by which the number that decides
// fell, 1 for a rise into a better class. It is above 0.
func (r *rank) gain(before *rank) float64 {
	a, b := before.first, r.first
	if a == b {
		a, b = before.second, r.second
	}
	g := (a - b) / (math.Abs(a) + math.Abs(b))
	if r.class != before.class || !(g < 1) {
		return 1
	}
	return max(g, 1e-12)
}

// discard puts a replaced member into the archive, in a random place once that is full.
func (s *evolving) discard(x []float64) {
	is := &s.island
	if n := len(is.archive); n < len(is.members) {
		if n < cap(is.archive) {
			is.archive = is.archive[:n+1]
		} else {
			is.archive = append(is.archive, nil)
		}
		is.archive[n] = append(is.archive[n][:0], x...)
		return
	}
	copy(is.archive[s.stream.IntN(len(is.archive))], x)
}

// Standing returns RoundOver when the round's generations are done.
func (s *evolving) Standing() Standing {
	if s.index >= s.e.options.roundRows() {
		return RoundOver
	}
	return GoesOn
}

package optimize

import (
	"math"
	"slices"
)

// trading is the searcher of one island of a trade for one round.
type trading struct {
	t          *Trade
	number     int   // of the island
	block      int64 // counted through the stage
	stream     Stream
	index      int // rows proposed in this round
	generation int // counted over all rounds
	members    []trader
	shared     shared // of the first island

	offspring []trader // the batch proposed last
	spare     []trader // memory for the next members
	all       []trader
	ranked    []*trader
	unit      []float64
	bits      []uint32
}

func (s *trading) ready() {
	s.generation = s.t.shared.generation
	s.offspring, s.spare = s.t.fresh(), s.t.fresh()
	s.unit, s.bits = make([]float64, s.t.space.Size()), make([]uint32, s.t.space.Size())
}

// Propose appends one generation, or the part of it that the budget allows: a point of the sample, or a
// start, for every member that is missing, and for the others children.
func (s *trading) Propose(dst []Point, budget int) []Point {
	o := &s.t.options
	n := min(len(s.members), budget, o.Population*o.Generations-s.index)
	dst = slices.Grow(dst, max(n, 0))
	ranked := s.ranked[:0]
	for i := range s.members {
		if s.members[i].rank.class != unranked {
			ranked = append(ranked, &s.members[i])
		}
	}
	s.ranked, s.offspring = ranked, s.offspring[:max(n, 0)]
	missing := len(s.members) - len(ranked)
	for i := range n {
		var p *Point
		dst, p = extend(dst, s.t.space)
		s.stream.Seek(uint64(s.index))
		if i < missing || len(ranked) < 4 {
			s.begin(p, i)
		} else {
			s.breed(p, ranked)
		}
		c := &s.offspring[i]
		copy(c.choice, p.Choice)
		c.hash = hashPoint(p.X, p.Choice)
		p.Iteration = s.generation
		s.index++
	}
	if n > 0 {
		s.generation++
	}
	return dst
}

// begin makes p a start, or a point of the stage's one Sobol sample that no other row of the trade takes.
func (s *trading) begin(p *Point, i int) {
	o := &s.t.options
	if at := i*o.Islands + s.number; s.generation == 0 && at < len(o.Starts) {
		p.Set(&o.Starts[at])
		p.Derivatives = false
		return
	}
	row := int64(s.generation)*int64(o.Islands*o.Population) + int64(i*o.Islands+s.number)
	s.t.sample.fill(s.unit, uint32(row), s.bits)
	s.t.space.FromUnit(p, s.unit)
}

// breed makes p a child of members: a few times anew as long as it repeats a member, then nudged.
func (s *trading) breed(p *Point, ranked []*trader) {
	a := s.parent(ranked, nil)
	b := s.parent(ranked, a)
	for n := 0; ; n++ {
		if s.stream.Uint64()&1 == 0 {
			s.cross(p, a, b)
		} else {
			s.differ(p, a, b, ranked)
		}
		s.mutate(p, n > 0)
		if h := hashPoint(p.X, p.Choice); n == redraws || !slices.ContainsFunc(ranked, func(m *trader) bool { return m.hash == h }) {
			break
		}
	}
	p.Parent = a.run
}

// parent returns the better of two members drawn, the first where both keep all limits.
func (s *trading) parent(ranked []*trader, not *trader) *trader {
	draw := func() *trader {
		for {
			if m := ranked[s.stream.IntN(len(ranked))]; m != not {
				return m
			}
		}
	}
	a, b := draw(), draw()
	if b.rank.class != 0 && a.rank.class == 0 {
		return a
	}
	if a.rank.class != 0 && b.rank.before(&a.rank) {
		return b
	}
	return a
}

// cross makes p one of the two children of simulated binary crossover, with distribution index 20.
//
// Source: K. Deb and R. B. Agrawal, "Simulated binary crossover for continuous search space", Complex
// Systems 9 (1995) 115-148; each number crosses with chance one half.
func (s *trading) cross(p *Point, a, b *trader) {
	const index = 20
	r := &s.stream
	for d := range p.X {
		p.X[d] = a.x[d]
		if a.x[d] == b.x[d] || r.Uint64()&1 == 0 {
			continue
		}
		u, apart := r.Float64(), 0.0
		if u < 0.5 {
			apart = power(2*u, 1.0/(index+1))
		} else {
			apart = power(2*(1-u), -1.0/(index+1))
		}
		sign := 1.0
		if r.Uint64()&1 == 0 {
			sign = -1
		}
		p.X[d] = s.settle(d, ((a.x[d]+b.x[d])+sign*apart*(a.x[d]-b.x[d]))/2, a.x[d])
	}
	s.inherit(p, a, b)
}

// differ makes p of a by differential mutation: a + F (c - d), with F from 0.3 to 0.9, in each number with
// chance 0.9.
func (s *trading) differ(p *Point, a, b *trader, ranked []*trader) {
	r := &s.stream
	c := s.parent(ranked, a)
	e := s.parent(ranked, c)
	scale := 0.3 + 0.6*r.Float64()
	sure := r.IntN(max(len(p.X), 1))
	for d := range p.X {
		p.X[d] = a.x[d]
		if d == sure || r.Float64() < 0.9 {
			p.X[d] = s.settle(d, a.x[d]+scale*(c.x[d]-e.x[d]), a.x[d])
		}
	}
	s.inherit(p, a, b)
}

// inherit copies every choice from a or b.
func (s *trading) inherit(p *Point, a, b *trader) {
	for c := range p.Choice {
		p.Choice[c] = a.choice[c]
		if s.stream.Uint64()&1 == 0 {
			p.Choice[c] = b.choice[c]
		}
	}
}

// mutate moves each number with chance 1/n by polynomial mutation of distribution index 20, one for
// certain if it must, and draws choices anew.
//
// Source: K. Deb and M. Goyal, "A combined genetic adaptive search (GeneAS) for engineering design",
// Computer Science and Informatics 26 (1996) 30-45; in the form without regard to bounds.
func (s *trading) mutate(p *Point, must bool) {
	const index = 20
	r, space := &s.stream, s.t.space
	sure := -1
	if must {
		sure = r.IntN(space.Size())
	}
	for d := range p.X {
		if d != sure && r.Float64()*float64(space.Size()) >= 1 {
			continue
		}
		u, by := r.Float64(), 0.0
		if u < 0.5 {
			by = power(2*u, 1.0/(index+1)) - 1
		} else {
			by = 1 - power(2*(1-u), 1.0/(index+1))
		}
		last := space.Levels(d) - 1
		wide := space.Value(d, space.Level(d, last)) - space.Value(d, space.Level(d, 0))
		v := s.settle(d, p.X[d]+by*wide, p.X[d])
		if v == p.X[d] && last > 0 { // less than a step
			k := space.LevelOf(d, v)
			if k == 0 || by > 0 && k < last {
				k++
			} else {
				k--
			}
			v = space.Value(d, space.Level(d, k))
		}
		p.X[d] = v
	}
	for c := range p.Choice {
		if len(p.X)+c == sure || r.Float64() < s.t.options.Renewal {
			p.Choice[c] = r.IntN(len(space.Choices[c].Options))
		}
	}
}

// power returns a to the b, a above 0, by way of powers of 2, as exp.
func power(a, b float64) float64 { return math.Exp2(b * math.Log2(max(a, 0x1p-60))) }

// settle brings v into the box, half-way from x to the bound it passed, and to an allowed value: the
// nearest, or with steps one of its two neighbours at random in proportion.
func (s *trading) settle(d int, v, x float64) float64 {
	space := s.t.space
	dim := &space.Dims[d]
	first, count := dim.first()
	step := float64(dim.step())
	from, last := (x*float64(dim.PerUnit)-float64(first))/step, float64(count-1)
	level := (v*float64(dim.PerUnit) - float64(first)) / step
	if level < 0 {
		level = from / 2
	} else if level > last {
		level = (last + from) / 2
	}
	down := math.Floor(level)
	k := int64(down)
	if dim.Step == 0 && level-down >= 0.5 || dim.Step > 0 && s.stream.Float64() < level-down {
		k++
	}
	return space.Value(d, space.Level(d, min(max(k, 0), count-1)))
}

// Learn adds the generation to the island and keeps what selection chooses.
func (s *trading) Learn(outcomes []Outcome) {
	o := &s.t.options
	all := s.all[:0]
	for i := range s.members {
		if s.members[i].rank.class != unranked {
			all = append(all, s.members[i])
		}
	}
	for i := range outcomes {
		m, out := &s.offspring[i], &outcomes[i]
		copy(m.x, out.X)
		m.rank, m.run = out.rank(), RunNumber(o.Stage, s.block, s.index-len(outcomes)+i)
		clear(m.f)
		if m.rank.class == 0 {
			for k := range o.Aims {
				m.f[k] = o.Aims[k].value(out.R)
			}
		}
		all = append(all, *m)
	}
	s.stream.Seek(uint64(s.index) | 1<<62)
	s.all = all
	setTraders(s.spare, chooseTraders(all, s.t.directions[s.number], o.Population, &s.stream))
	s.members, s.spare = s.spare, s.members
}

// Standing returns RoundOver when the round's generations are done.
func (s *trading) Standing() Standing {
	if s.index >= s.t.options.Population*s.t.options.Generations {
		return RoundOver
	}
	return GoesOn
}

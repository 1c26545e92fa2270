package optimize

import "math"

const tradingTag = "trade1"

// AppendState appends the rows proposed in this round, the island, and of the first island what all share.
func (s *trading) AppendState(b []byte) []byte {
	b = appendNumber(append(b, tradingTag...), uint64(s.index))
	b = appendNumber(b, uint64(s.generation))
	b = s.t.appendTraders(b, s.members)
	if s.number == 0 {
		b = s.t.appendShared(b, &s.shared)
	}
	return b
}

// Restore takes over what AppendState made.
func (s *trading) Restore(b []byte) error {
	r := readState(b, tradingTag)
	index := int(r.number(uint64(s.t.options.Population * s.t.options.Generations)))
	generation := int(r.number(uint64(maxRuns)))
	members := s.t.readMembers(r, s.t.options.Population)
	var common shared
	if s.number == 0 {
		s.t.readShared(r, &common)
	}
	if err := r.end(); err != nil {
		return err
	}
	s.index, s.generation, s.members, s.shared = index, generation, s.t.fill(members), common
	return nil
}

// appendTraders appends how many members are ranked, and these.
func (t *Trade) appendTraders(b []byte, members []trader) []byte {
	n := 0
	for i := range members {
		if members[i].rank.class != unranked {
			n++
		}
	}
	b = appendNumber(b, uint64(n))
	for i := range members {
		m := &members[i]
		if m.rank.class == unranked {
			continue
		}
		b = appendNumber(m.rank.append(b), uint64(m.run))
		b = t.appendX(b, m.x)
		for _, c := range m.choice {
			b = appendNumber(b, uint64(c))
		}
		if m.rank.class == 0 {
			b = appendFloats(b, m.f)
		}
		b = appendYes(b, m.done)
	}
	return b
}

// readTraders returns the ranked members of an island, or the results of one that polishes.
func (t *Trade) readTraders(r *stateReader) []trader {
	return t.readMembers(r, max(t.options.Population, polishRows))
}

func (t *Trade) readMembers(r *stateReader, most int) []trader {
	n := r.number(uint64(most))
	if n > uint64(len(r.rest)) {
		r.fail()
		return nil
	}
	members := make([]trader, n)
	for i := range members {
		m := &members[i]
		m.rank = r.standing()
		if m.rank.class == unranked {
			r.fail()
		}
		m.run = int64(r.number(math.MaxInt64))
		m.x, m.choice, m.f = make([]float64, len(t.space.Dims)), make([]int, len(t.space.Choices)), make([]float64, len(t.options.Aims))
		t.readX(r, m.x)
		for c := range m.choice {
			m.choice[c] = int(r.number(uint64(len(t.space.Choices[c].Options) - 1)))
		}
		if m.rank.class == 0 {
			for k := range m.f {
				m.f[k] = r.float()
			}
		}
		m.done = r.number(1) == 1
		m.hash = hashPoint(m.x, m.choice)
	}
	return members
}

func (t *Trade) appendShared(b []byte, c *shared) []byte {
	b = t.appendTraders(b, c.archive)
	b = appendNumber(b, uint64(len(c.reference)))
	b = appendFloats(b, c.reference)
	b = appendNumber(appendNumber(b, uint64(c.stride)), uint64(len(c.history)))
	for _, v := range c.history {
		b = appendFloat(appendNumber(b, uint64(v.Round)), v.Volume)
	}
	return b
}

func (t *Trade) readShared(r *stateReader, c *shared) {
	*c = shared{archive: t.readMembers(r, t.options.Archive)}
	for i := range c.archive {
		if c.archive[i].rank.class != 0 || !finite(c.archive[i].f) {
			r.fail()
		}
	}
	m := len(t.options.Aims)
	if n := int(r.number(uint64(m))); n == m {
		c.reference = r.anyFloats(uint64(m))
	} else if n != 0 {
		r.fail()
	}
	c.stride = int(r.number(uint64(maxRuns)))
	if c.stride == 0 {
		r.fail()
	}
	for range r.number(historyLength) {
		c.history = append(c.history, r.volume())
	}
}

func (r *stateReader) volume() Volume {
	return Volume{int(r.number(uint64(maxRuns))), r.float()}
}

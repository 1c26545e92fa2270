package optimize

import "math"

const evolvingTag = "island1"

// AppendState appends the rows proposed so far and the whole island.
func (s *evolving) AppendState(b []byte) []byte {
	b = appendNumber(append(b, evolvingTag...), uint64(s.index))
	return s.e.appendIsland(b, &s.island)
}

// Restore takes over what AppendState made.
func (s *evolving) Restore(b []byte) error {
	r := readState(b, evolvingTag)
	index := int(r.number(uint64(s.e.options.roundRows())))
	var is island
	s.e.readIsland(r, &is)
	if err := r.end(); err != nil {
		return err
	}
	s.index, s.island = index, is
	return nil
}

func (e *Evolution) appendIsland(b []byte, is *island) []byte {
	for _, n := range [...]int{is.slot, is.generation, is.beginnings, is.apart} {
		b = appendNumber(b, uint64(n))
	}
	for i := range is.scale {
		b = appendFloat(appendFloat(b, is.scale[i]), is.crossing[i])
	}
	for i := range is.members {
		m := &is.members[i]
		b = append(b, byte(m.rank.class))
		if m.rank.class == unranked {
			continue
		}
		b = appendFloat(appendFloat(b, m.rank.first), m.rank.second)
		b = appendNumber(b, uint64(m.run))
		b = e.appendX(b, m.x)
		for _, c := range m.choice {
			b = appendNumber(b, uint64(c))
		}
	}
	b = appendNumber(b, uint64(len(is.archive)))
	for _, x := range is.archive {
		b = e.appendX(b, x)
	}
	for _, h := range is.known {
		b = append(b, byte(h), byte(h>>8), byte(h>>16), byte(h>>24))
	}
	return b
}

func (e *Evolution) readIsland(r *stateReader, is *island) {
	*is = e.fresh()
	is.slot = int(r.number(uint64(e.options.Memory - 1)))
	is.generation = int(r.number(uint64(maxRuns)))
	is.beginnings = int(r.number(uint64(maxRuns)))
	is.apart = int(r.number(uint64(e.options.Apart)))
	for i := range is.scale {
		is.scale[i], is.crossing[i] = r.unit(), r.unit()
	}
	for i := range is.members {
		m := &is.members[i]
		m.rank.class = int8(r.number(uint64(unranked)))
		if m.rank.class == unranked {
			continue
		}
		m.rank.first, m.rank.second = r.float(), r.float()
		m.run = int64(r.number(math.MaxInt64))
		e.readX(r, m.x)
		for c := range m.choice {
			m.choice[c] = int(r.number(uint64(len(e.space.Choices[c].Options) - 1)))
		}
		m.hash = hashPoint(m.x, m.choice)
	}
	for range r.number(uint64(len(is.members))) {
		x := make([]float64, len(e.space.Dims))
		e.readX(r, x)
		is.archive = append(is.archive, x)
	}
	for i := range is.known {
		is.known[i] = r.word()
	}
}

// unit reads a float from 0 to 1.
func (r *stateReader) unit() float64 {
	x := r.float()
	if !(x >= 0 && x <= 1) {
		r.fail()
	}
	return x
}

// appendX and readX keep allowed values as the numbers of their levels.
func (e *Evolution) appendX(b []byte, x []float64) []byte {
	for d := range x {
		b = appendNumber(b, uint64(e.space.LevelOf(d, x[d])))
	}
	return b
}

func (e *Evolution) readX(r *stateReader, x []float64) {
	for d := range x {
		x[d] = e.space.Value(d, e.space.Level(d, int64(r.number(uint64(e.space.Levels(d)-1)))))
	}
}

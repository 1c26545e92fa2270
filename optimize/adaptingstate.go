package optimize

import "math"

const adaptingTag = "cma1"

// AppendState appends the rows proposed in this round and the whole lane.
func (s *adapting) AppendState(b []byte) []byte {
	b = appendNumber(append(b, adaptingTag...), uint64(s.index))
	return s.lane.append(b)
}

// Restore takes over what AppendState made.
func (s *adapting) Restore(b []byte) error {
	r := readState(b, adaptingTag)
	index := int(r.number(uint64(s.c.options.RoundRows)))
	var l lane
	s.c.readLane(r, &l)
	if err := r.end(); err != nil {
		return err
	}
	s.index, s.lane = index, l
	s.wake()
	return nil
}

func (l *lane) append(b []byte) []byte {
	b = appendNumber(appendNumber(b, l.rows), uint64(l.generation))
	for i := range regimes {
		b = appendNumber(appendNumber(b, uint64(l.restarts[i])), uint64(l.spent[i]))
	}
	b = appendNumber(b, uint64(l.population))
	if l.population == 0 {
		return b
	}
	for _, n := range [...]uint64{uint64(l.regime), uint64(l.most), uint64(l.start + 1), uint64(l.age), uint64(l.used), uint64(l.flat), uint64(l.class), uint64(l.parent + 1), uint64(l.lead + 1)} {
		b = appendNumber(b, n)
	}
	b = appendNumber(appendFloat(b, l.g.sigma), uint64(l.g.age))
	for _, v := range l.g.vectors() {
		b = appendFloats(b, v)
	}
	for _, v := range l.chances {
		b = appendFloats(b, v)
	}
	b = appendFloats(appendNumber(b, uint64(len(l.recent))), l.recent)
	b = appendNumber(b, uint64(len(l.ranks)))
	for i := range l.ranks {
		b = l.ranks[i].append(b)
	}
	return b
}

func (c *CMA) readLane(r *stateReader, l *lane) {
	*l = c.fresh()
	l.rows = r.number(uint64(maxRuns))
	l.generation = int(r.number(uint64(maxRuns)))
	for i := range regimes {
		l.restarts[i] = int(r.number(uint64(maxRuns)))
		l.spent[i] = int64(r.number(uint64(maxRuns)))
	}
	l.population = int(r.number(uint64(c.options.Population) << c.options.Doublings))
	if l.population == 0 {
		return
	}
	if l.population < 4 {
		r.fail()
	}
	l.regime = int(r.number(regimes - 1))
	l.most = int64(r.number(math.MaxInt64))
	l.start = int(r.number(uint64(len(c.options.Starts)))) - 1
	l.age = int(r.number(uint64(maxRuns)))
	l.used = int64(r.number(uint64(maxRuns)))
	l.flat = int(r.number(flatGenerations))
	l.class = int8(r.number(uint64(unranked)))
	l.parent = int64(r.number(math.MaxInt64)) - 1
	l.lead = int64(r.number(math.MaxInt64)) - 1
	l.g.sigma = r.within(1e-150, 1e150)
	l.g.age = int(r.number(uint64(maxRuns)))
	for i, v := range l.g.vectors() {
		low := -1e150
		if i == 1 || i == 4 { // scales and roots of eigenvalues
			low = 1e-150
		}
		r.floats(v, low, 1e150)
	}
	for _, v := range l.chances {
		r.floats(v, 0, 1)
	}
	l.recent = r.anyFloats(r.number(100_000))
	known := r.number(uint64(max(l.population-1, 0)))
	if known > uint64(len(r.rest)) {
		r.fail()
		return
	}
	for range known {
		l.ranks = append(l.ranks, r.standing())
	}
	if uint64(len(l.ranks)) > l.rows || len(l.ranks) > 0 && l.lead == NoParent {
		r.fail()
	}
}

func appendFloats(b []byte, v []float64) []byte {
	for _, x := range v {
		b = appendFloat(b, x)
	}
	return b
}

func (r *rank) append(b []byte) []byte {
	return appendFloat(appendFloat(append(b, byte(r.class)), r.first), r.second)
}

func (r *stateReader) standing() rank {
	return rank{int8(r.number(uint64(unranked))), r.float(), r.float()}
}

// within reads a float from low to high.
func (r *stateReader) within(low, high float64) float64 {
	x := r.float()
	if !(x >= low && x <= high) {
		r.fail()
	}
	return x
}

// floats fills v with floats from low to high.
func (r *stateReader) floats(v []float64, low, high float64) {
	for i := range v {
		v[i] = r.within(low, high)
	}
}

// anyFloats reads n floats of any kind.
func (r *stateReader) anyFloats(n uint64) []float64 {
	if n > uint64(len(r.rest))/8 {
		r.fail()
		return nil
	}
	v := make([]float64, n)
	for i := range v {
		v[i] = r.float()
	}
	return v
}

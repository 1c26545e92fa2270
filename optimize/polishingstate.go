package optimize

import "slices"

const polishingTag = "polish1"

// AppendState appends the rows proposed so far, the results, of the first island what all share, and the
// point under way.
func (s *polishing) AppendState(b []byte) []byte {
	b = appendNumber(append(b, polishingTag...), uint64(s.index))
	b = appendNumber(b, uint64(s.generation))
	b = s.t.appendTraders(b, s.results)
	if s.number == 0 {
		b = s.t.appendShared(b, &s.shared)
	}
	b = appendNumber(b, uint64(s.turn))
	if s.job == nil {
		return append(b, 0)
	}
	j := s.job
	at := j.at
	b = appendYes(append(b, 1), at.rank.class == unranked)
	at.rank.class = 0
	b = s.t.appendTraders(b, []trader{at})
	b = s.t.appendX(b, j.trial)
	b = appendFloats(appendNumber(appendFloat(b, j.damping), uint64(j.steps)), j.weights)
	b = appendYes(appendYes(b, j.refused), j.known)
	if !j.known {
		return b
	}
	for k := range j.gradient {
		b = appendFloats(appendFloats(b, j.gradient[k]), j.curve[k])
	}
	b = appendFloats(appendNumber(b, uint64(len(j.limits))), j.limits)
	for _, g := range j.slopes {
		b = appendFloats(b, g)
	}
	return b
}

// Restore takes over what AppendState made.
func (s *polishing) Restore(b []byte) error {
	r := readState(b, polishingTag)
	index := int(r.number(uint64(s.budget)))
	generation := int(r.number(uint64(maxRuns)))
	results := s.t.readTraders(r)
	var common shared
	if s.number == 0 {
		s.t.readShared(r, &common)
	}
	turn, j := s.t.readJob(r)
	if turn > len(s.queue) || j != nil && turn == len(s.queue) {
		r.fail()
	}
	if err := r.end(); err != nil {
		return err
	}
	s.index, s.generation, s.results, s.shared, s.turn, s.job = index, generation, results, common, turn, j
	return nil
}

// readJob reads the place in the queue and the point under way.
func (t *Trade) readJob(r *stateReader) (turn int, j *job) {
	turn = int(r.number(uint64(t.options.Archive) + uint64(t.options.Islands*polishRows)))
	if r.number(1) == 0 {
		return turn, nil
	}
	fresh := r.number(1) == 1
	at := t.readMembers(r, 1)
	if len(at) != 1 || at[0].rank.class != 0 || !finite(at[0].f) {
		r.fail()
		return turn, nil
	}
	if fresh {
		at[0].rank.class = unranked
	}
	m, n := len(t.options.Aims), len(t.continuous())
	j = &job{at: at[0], trial: make([]float64, len(t.space.Dims)), weights: make([]float64, m)}
	t.readX(r, j.trial)
	j.damping = r.within(0, 1e300)
	j.steps = int(r.number(jobSteps))
	r.floats(j.weights, 0, 1)
	j.refused = r.number(1) == 1
	if j.known = r.number(1) == 1; !j.known {
		return turn, j
	}
	read := func(n int) []float64 {
		v := r.anyFloats(uint64(n))
		if !finite(v) {
			r.fail()
		}
		return v
	}
	for range m {
		j.gradient, j.curve = append(j.gradient, read(n)), append(j.curve, read(n*n))
	}
	limits := int(r.number(uint64(n)))
	j.limits = slices.Clone(read(limits))
	for range len(j.limits) {
		j.slopes = append(j.slopes, read(n))
	}
	return turn, j
}

func appendYes(b []byte, yes bool) []byte {
	if yes {
		return append(b, 1)
	}
	return append(b, 0)
}

// appendX and readX keep allowed values as the numbers of their levels.
func (t *Trade) appendX(b []byte, x []float64) []byte {
	for d := range x {
		b = appendNumber(b, uint64(t.space.LevelOf(d, x[d])))
	}
	return b
}

func (t *Trade) readX(r *stateReader, x []float64) {
	for d := range x {
		x[d] = t.space.Value(d, t.space.Level(d, int64(r.number(uint64(t.space.Levels(d)-1)))))
	}
}

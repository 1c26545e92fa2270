package optimize

import "trammel/optimize/leastsquares"

const joiningTag = "join1"

// AppendState appends how far the block has come; the first block carries what is known of the rounds before.
func (s *joining) AppendState(b []byte) []byte {
	b = append(b, joiningTag...)
	if s.block == 0 {
		b = s.r.appendKnowledge(b, &s.r.known)
	}
	b = appendNumber(b, uint64(s.index))
	b = appendNumber(b, uint64(len(s.verdicts)))
	for _, v := range s.verdicts {
		b = appendNumber(b, uint64(v))
	}
	b = appendNumber(b, uint64(len(s.better)))
	for i := range s.better {
		b = appendNumber(b, uint64(s.better[i].way))
		b = appendRun(s.r.appendFinding(b, &s.better[i].finding), s.better[i].valley)
	}
	for _, n := range [...]int{s.rows, s.places, s.at, s.first, len(s.path)} {
		b = appendNumber(b, uint64(n))
	}
	for _, level := range s.path {
		b = s.r.appendPlace(b, level, nil)
	}
	b = appendFlag(b, s.solver != nil)
	if s.solver != nil {
		b = appendSolver(b, s.solver)
	}
	return b
}

// Restore takes over what AppendState made.
func (s *joining) Restore(b []byte) error {
	fresh := s.r.newJoining(s.round, s.block)
	if _, err := fresh.restore(b, func(*knowledge) []way { return fresh.ways }); err != nil {
		return err
	}
	*s = *fresh
	return nil
}

// restore reads a state, of the ways that follow from what the first block carried, and returns that.
func (s *joining) restore(b []byte, ways func(*knowledge) []way) (known knowledge, err error) {
	r := readState(b, joiningTag)
	if s.block == 0 {
		known = s.r.readKnowledge(r)
	}
	s.ways = ways(&known)
	s.index = int(r.number(BlockRows))
	for range r.number(uint64(len(s.ways))) {
		s.verdicts = append(s.verdicts, wayVerdict(r.number(uint64(wayUnseen))))
	}
	for range r.number(uint64(len(s.ways))) {
		at := r.number(uint64(min(len(s.verdicts), len(s.ways)-1)))
		s.better = append(s.better, wayBest{int(at), s.r.readEnd(r)})
	}
	s.rows, s.places = int(r.number(BlockRows)), int(r.number(wayPlaces))
	s.at, s.first = int(r.number(wayPlaces)), int(r.number(BlockRows))
	for range r.number(wayPlaces + 2) {
		level := make([]int64, len(s.r.space.Dims))
		for d := range level {
			level[d] = int64(r.number(uint64(s.r.space.Levels(d) - 1)))
		}
		s.path = append(s.path, level)
	}
	if r.flag() {
		if s.at+1 >= len(s.path) || len(s.verdicts) == len(s.ways) {
			r.fail()
		}
		if r.err == nil {
			p, _ := s.middle()
			s.solver = readSolver(r, p, s.r.options.Local)
		}
	}
	if n := len(s.path); n == 1 || n == 0 && s.places > 0 {
		r.fail()
	}
	return known, r.end()
}

// appendSolver and readSolver keep a local search under way.
func appendSolver(b []byte, s *leastsquares.Solver) []byte {
	numbers := s.AppendState(nil)
	b = appendNumber(b, uint64(len(numbers)))
	for _, v := range numbers {
		b = appendFloat(b, v)
	}
	return b
}

func readSolver(r *stateReader, p leastsquares.Problem, o leastsquares.Options) *leastsquares.Solver {
	numbers := make([]float64, 0, 64)
	for range r.number(uint64(len(r.rest) / 8)) {
		numbers = append(numbers, r.float())
	}
	if r.err != nil {
		return nil
	}
	s, err := leastsquares.Restore(p, o, numbers)
	if err != nil {
		r.fail()
	}
	return s
}

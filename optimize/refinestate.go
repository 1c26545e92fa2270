package optimize

import (
	"math"

	"trammel/optimize/leastsquares"
)

const refiningTag = "refine3"

// AppendState appends the block's search and sample; the first block carries what is known of the rounds
// before.
func (s *refining) AppendState(b []byte) []byte {
	b = append(b, refiningTag...)
	if s.block == 0 {
		b = s.r.appendKnowledge(b, &s.r.known)
	}
	for _, n := range [...]int{s.index, s.screened, int(s.stage)} {
		b = appendNumber(b, uint64(n))
	}
	b = s.r.appendCandidates(b, s.kept)
	if s.stage != unsearched {
		b = s.r.appendFinding(b, &s.found)
	}
	if s.stage == searching {
		b = appendSolver(b, s.solver)
	}
	return b
}

// Restore takes over what AppendState made.
func (s *refining) Restore(b []byte) error {
	fresh := &refining{r: s.r, round: s.round, block: s.block, number: s.number, start: s.start}
	if _, err := fresh.restore(b); err != nil {
		return err
	}
	fresh.reset()
	*s = *fresh
	return nil
}

// restore reads a state and returns what the first block carried.
func (s *refining) restore(b []byte) (known knowledge, err error) {
	r := readState(b, refiningTag)
	if s.block == 0 {
		known = s.r.readKnowledge(r)
	}
	s.index = int(r.number(BlockRows))
	s.screened = int(r.number(uint64(s.r.options.Screen)))
	s.stage = searchStage(r.number(uint64(searched)))
	s.kept = s.r.readCandidates(r, blockPool)
	if s.stage != unsearched {
		s.r.readFinding(r, &s.found)
	}
	if s.stage == searching {
		s.solver = readSolver(r, s.r.local, s.r.options.Local)
	}
	return known, r.end()
}

func (r *Refine) appendKnowledge(b []byte, k *knowledge) []byte {
	b = appendNumber(appendNumber(b, uint64(k.sampled)), uint64(k.searches))
	b = r.appendCandidates(b, k.pool)
	b = appendNumber(b, uint64(len(k.answers)))
	for i := range k.answers {
		a := &k.answers[i]
		b = appendRun(r.appendFinding(b, a), a.valley)
		b = appendNumber(b, uint64(len(a.apart)))
		for _, v := range a.apart {
			b = appendRun(b, v)
		}
		b = appendNumber(b, uint64(len(a.ends)))
		for j := range a.ends {
			b = appendRun(r.appendFinding(b, &a.ends[j]), a.ends[j].valley)
		}
	}
	return b
}

func (r *Refine) readKnowledge(s *stateReader) (k knowledge) {
	k.sampled = int64(s.number(uint64(maxRuns)))
	k.searches = int(s.number(uint64(r.options.Searches)))
	k.pool = r.readCandidates(s, maxPool+len(r.options.Starts))
	for range s.number(uint64(len(s.rest))) {
		f := r.readEnd(s)
		for range s.number(uint64(len(s.rest))) {
			f.apart = append(f.apart, s.run())
		}
		for range s.number(uint64(len(s.rest))) {
			f.ends = append(f.ends, r.readEnd(s))
		}
		k.answers = append(k.answers, f)
	}
	return k
}

// readEnd reads a finding that has a place and a valley; one without would be none.
func (r *Refine) readEnd(s *stateReader) (f finding) {
	r.readFinding(s, &f)
	f.valley = s.run()
	if f.rank.class == unranked {
		s.fail()
	}
	return f
}

func (r *Refine) appendCandidates(b []byte, list []candidate) []byte {
	b = appendNumber(b, uint64(len(list)))
	for i := range list {
		c := &list[i]
		b = appendRank(r.appendPlace(b, c.level, c.choice), &c.rank)
		b = appendRun(b, c.run)
		b = appendFlag(b, c.used)
	}
	return b
}

func (r *Refine) readCandidates(s *stateReader, most int) (list []candidate) {
	for range s.number(uint64(most)) {
		var c candidate
		c.level, c.choice = r.readPlace(s)
		c.rank = s.rank()
		c.run = s.run()
		c.used = s.flag()
		list = append(list, c)
	}
	return list
}

// appendFinding appends what is known of a search; one without an evaluated point has no place.
func (r *Refine) appendFinding(b []byte, f *finding) []byte {
	b = appendRank(b, &f.rank)
	if f.rank.class == unranked {
		return appendNumber(appendRun(appendNumber(r.appendPlace(b, nil, f.choice), uint64(f.rows)), f.start), uint64(f.crossed))
	}
	b = r.appendPlace(b, f.level, f.choice)
	b = appendRun(appendRun(b, f.run), f.start)
	for _, n := range [...]int{f.hits, f.crossed, f.rows, f.failures, int(f.ending), len(f.bounds), len(f.limits)} {
		b = appendNumber(b, uint64(n))
	}
	for _, p := range f.bounds {
		b = appendFloat(appendFlag(appendNumber(b, uint64(p.Dim)), p.High), p.Price)
	}
	for _, p := range f.limits {
		b = appendFloat(appendNumber(b, uint64(p.Limit)), p.Price)
	}
	b = appendFlag(b, len(f.curve) > 0)
	for _, v := range f.curve {
		b = appendFloat(b, v)
	}
	b = appendFloat(appendFloat(appendFloat(b, f.left), f.score), f.violation)
	return appendFlag(b, f.overLimits)
}

func (r *Refine) readFinding(s *stateReader, f *finding) {
	f.rank = s.rank()
	if f.rank.class == unranked {
		f.choice = r.readChoice(s)
		f.rows, f.start = int(s.number(BlockRows)), s.run()
		f.run, f.hits, f.crossed = NoParent, 1, int(s.number(1))
		return
	}
	f.level, f.choice = r.readPlace(s)
	f.run, f.start = s.run(), s.run()
	f.hits = int(s.number(math.MaxInt32))
	f.crossed = int(s.number(uint64(f.hits)))
	f.rows, f.failures = int(s.number(BlockRows)), int(s.number(BlockRows))
	f.ending = leastsquares.Ending(s.number(uint64(leastsquares.FailedAtOnce)))
	bounds, limits := s.number(uint64(len(r.space.Dims))), s.number(uint64(len(s.rest)))
	for range bounds {
		f.bounds = append(f.bounds, BoundPrice{int(s.number(uint64(len(r.space.Dims) - 1))), s.flag(), s.float()})
	}
	for range limits {
		f.limits = append(f.limits, LimitPrice{int(s.number(math.MaxInt32)), s.float()})
	}
	if n := len(r.space.Dims); s.flag() && s.err == nil && len(s.rest) >= 8*n*n {
		for range n * n {
			f.curve = append(f.curve, s.float())
		}
	}
	f.left, f.score, f.violation = s.float(), s.float(), s.float()
	f.overLimits = s.flag()
}

// appendPlace and readPlace keep a point as the numbers of its levels and options.
func (r *Refine) appendPlace(b []byte, level []int64, choice []int) []byte {
	for _, k := range level {
		b = appendNumber(b, uint64(k))
	}
	for _, c := range choice {
		b = appendNumber(b, uint64(c))
	}
	return b
}

func (r *Refine) readPlace(s *stateReader) (level []int64, choice []int) {
	level = make([]int64, len(r.space.Dims))
	for d := range level {
		level[d] = int64(s.number(uint64(r.space.Levels(d) - 1)))
	}
	return level, r.readChoice(s)
}

func (r *Refine) readChoice(s *stateReader) []int {
	choice := make([]int, len(r.space.Choices))
	for c := range choice {
		choice[c] = int(s.number(uint64(len(r.space.Choices[c].Options) - 1)))
	}
	return choice
}

func appendRank(b []byte, k *rank) []byte {
	return appendFloat(appendFloat(append(b, byte(k.class-asGiven)), k.first), k.second)
}

func (r *stateReader) rank() rank {
	return rank{int8(r.number(uint64(unranked-asGiven))) + asGiven, r.float(), r.float()}
}

// appendRun keeps a run number, NoParent too.
func appendRun(b []byte, run int64) []byte { return appendNumber(b, uint64(run-NoParent)) }

func (r *stateReader) run() int64 { return int64(r.number(1<<60)) + NoParent }

func appendFlag(b []byte, yes bool) []byte {
	if yes {
		return append(b, 1)
	}
	return append(b, 0)
}

func (r *stateReader) flag() bool { return r.number(1) == 1 }

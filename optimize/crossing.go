package optimize

import "slices"

// Answers are crossed from so many distinct ones of a combination of choices on; fewer say nothing about how basins lie.
// Then half of a round's starts are crosses of the best, and their bases are of the best quarter of these.
const (
	crossAnswers = 4
	crossShare   = 2
	crossAmong   = 12
	crossBest    = 4
	crossTries   = 8 // for one that is new
)

// cross appends starts that are made of known answers, number for number: where basins lie in rows or in a funnel, the next
// better one is found from those known rather than from a sample, which thins out as numbers grow more.
//
// A start is a base with some of its numbers exchanged for those of another answer, or moved by the difference of
// two others: the crossover and mutation of R. Storn and K. Price, "Differential evolution", Journal of Global Optimization
// 11 (1997) 341-359, among local minima instead of points, as in P. Moscato's memetic algorithms (1989, from memory).
// They are drawn from the stage's stream, so that they depend on the round alone.
func (r *Refine) cross(round, most int) {
	if r.Unseen().Chance <= r.options.Enough {
		return
	}
	groups := r.crossable()
	if len(groups) == 0 {
		return
	}
	s := NewStream(Key{Seed: r.options.Seed, Stage: r.options.Stage, Block: wholeStage})
	s.Seek(1<<41 + uint64(round)) // beyond what the sample is scrambled with
	for i := range most {
		group := groups[i%len(groups)]
		for range crossTries {
			if c := r.crossed(group, &s); r.news(&c) {
				r.starts = append(r.starts, c)
				break
			}
		}
	}
}

// crossable returns the best answers of every combination of choices that has enough of them, the best first; so are
// the combinations.
func (r *Refine) crossable() (groups [][]*finding) {
	var sorted []*finding
	for i := range r.known.answers {
		sorted = append(sorted, &r.known.answers[i])
	}
	slices.SortStableFunc(sorted, func(a, b *finding) int {
		switch {
		case a.rank.before(&b.rank):
			return -1
		case b.rank.before(&a.rank):
			return 1
		}
		return 0
	})
	at := map[uint64]int{}
	for _, f := range sorted {
		c := r.space.combination(f.choice)
		k, known := at[c]
		if !known {
			k = len(groups)
			at[c], groups = k, append(groups, nil)
		}
		groups[k] = append(groups[k], f)
	}
	for k := range groups {
		groups[k] = groups[k][:min(len(groups[k]), crossAmong)]
	}
	return slices.DeleteFunc(groups, func(g []*finding) bool { return len(g) < crossAnswers })
}

// crossed makes a start of the answers of a group, the best first.
func (r *Refine) crossed(group []*finding, s *Stream) candidate {
	base := group[s.IntN((len(group)+crossBest-1)/crossBest)]
	other := func(not ...*finding) *finding {
		for {
			if f := group[s.IntN(len(group))]; !slices.Contains(not, f) {
				return f
			}
		}
	}
	one := other(base)
	two := other(base, one)
	exchange := s.IntN(2) == 0
	always := s.IntN(len(base.level)) // one number changes in any case
	c := candidate{level: slices.Clone(base.level), choice: base.choice, run: base.run, crossed: true}
	for d := range c.level {
		if s.IntN(2) == 0 && d != always {
			continue
		}
		if exchange {
			c.level[d] = one.level[d]
			continue
		}
		to, last := c.level[d]+one.level[d]-two.level[d], r.space.Levels(d)-1
		switch { // beyond the box: half of the way to its end
		case to < 0:
			to = c.level[d] / 2
		case to > last:
			to = c.level[d] + (last-c.level[d])/2
		}
		c.level[d] = to
	}
	return c
}

// news tells whether a start lies beside no known answer and no other start of the round.
func (r *Refine) news(c *candidate) bool {
	for i := range r.known.answers {
		if a := &r.known.answers[i]; slices.Equal(a.choice, c.choice) && r.neighbours(a.level, c.level) {
			return false
		}
	}
	for i := range r.starts {
		if b := &r.starts[i]; slices.Equal(b.choice, c.choice) && r.neighbours(b.level, c.level) {
			return false
		}
	}
	return true
}

package optimize

import (
	"math"
	"slices"
)

// sigma is the factor of the critical distance; above 4 only finitely many searches are started, were the
// sample to grow for ever (Rinnooy Kan and Timmer 1987, theorem 8).
const sigma = 4.0

// critical returns the distance, in a box of length 1, within which a better one of n sampled points in d
// dimensions keeps a point from being a start.
func critical(n float64, d int) float64 {
	if n < 2 {
		return 0
	}
	gamma, _ := math.Lgamma(1 + float64(d)/2)
	return math.Exp((gamma+math.Log(sigma*math.Log(n)/n))/float64(d)) / math.Sqrt(math.Pi)
}

// byRank orders candidates, the best first; equals as they came.
func byRank(a, b candidate) int {
	switch {
	case a.rank.before(&b.rank):
		return -1
	case b.rank.before(&a.rank):
		return 1
	}
	return 0
}

// trim sorts the pool and keeps its best, of every combination alike.
func (k *knowledge) trim(r *Refine) {
	slices.SortStableFunc(k.pool, byRank)
	counts, seen := map[uint64]int{}, 0
	for i := range k.pool {
		c := r.space.combination(k.pool[i].choice)
		if counts[c] == 0 {
			seen++
		}
		counts[c]++
	}
	groups := min(seen, r.options.Combinations)
	each := max(maxPool/max(groups, 1), 1)
	kept := map[uint64]int{}
	k.pool = slices.DeleteFunc(k.pool, func(c candidate) bool {
		n := r.space.combination(c.choice)
		if _, known := kept[n]; !known && len(kept) == groups {
			return true
		}
		kept[n]++
		return kept[n] > each
	})
}

// choose fills the starts of a round: from each combination in turn, in order of their best, the best
// candidate that no better point lies near to.
func (r *Refine) choose(round int) {
	r.starts, r.ways = nil, nil
	k := &r.known
	if r.joins(round) {
		r.ways = r.waysOf(k)
		return
	}
	left := min(r.options.Searches-k.searches, r.options.Together)
	if r.Blocks(round) == 0 || left <= 0 {
		return
	}
	groups := map[uint64][]int{}
	var order []uint64
	for i := range k.pool {
		c := r.space.combination(k.pool[i].choice)
		if len(groups[c]) == 0 {
			order = append(order, c)
		}
		groups[c] = append(groups[c], i)
	}
	n := float64(k.sampled)
	if r.few || len(order) == 0 {
		n /= float64(max(len(order), 1))
	} else {
		for i := range r.space.Choices {
			n /= float64(len(r.space.Choices[i].Options))
		}
	}
	// Given starts are the best of some sample that is not known here: take it for ten times as large.
	near := critical(max(n, 10*float64(len(r.options.Starts))), len(r.space.Dims))
	r.cross(round, left/crossShare)
	crosses := len(r.starts)
	for range halvings + 1 {
		r.fill(groups, order, near, left)
		if 4*(len(r.starts)-crosses) >= left-crosses || r.Unseen().Chance <= r.options.Enough {
			return
		}
		near /= 2
	}
}

// halvings is how many times the critical distance is halved when less than a quarter of a round would
// have something to search while answers may well be unseen: basins may be met again, but idle workers
// would find nothing.
const halvings = 3

// fill appends starts, of every combination in turn.
func (r *Refine) fill(groups map[uint64][]int, order []uint64, near float64, left int) {
	k := &r.known
	for more := true; more; {
		more = false
		for _, c := range order {
			if len(r.starts) == left {
				return
			}
			if at := r.next(groups[c], near); at >= 0 {
				k.pool[at].used = true
				r.starts = append(r.starts, k.pool[at])
				more = true
			}
		}
	}
}

// next returns the first candidate of a group, best first, that is a start; -1 if none is.
func (r *Refine) next(group []int, near float64) int {
	k := &r.known
candidates:
	for i, at := range group {
		c := &k.pool[at]
		if c.used || c.rank.class == 2 {
			continue // a point that failed has nothing to start from
		}
		for _, better := range group[:i] {
			if r.distance(k.pool[better].level, c.level) < near {
				continue candidates
			}
		}
		for j := range k.answers {
			if a := &k.answers[j]; slices.Equal(a.choice, c.choice) && r.distance(a.level, c.level) < near {
				continue candidates
			}
		}
		return at
	}
	return -1
}

// add takes in what a search found: a new answer, or another hit of a known one, of which the better point
// stays. One that only the models say lies in an answer's valley stays with it as an end, until the way between is looked at.
func (k *knowledge) add(r *Refine, f *finding) {
	if f.rank.class >= 2 {
		return // the start failed
	}
	all := *f
	for {
		// One that grows together with another may reach a third: go on until none is left.
		at, near := -1, math.Inf(1)
		for i := range k.answers {
			a := &k.answers[i]
			if !slices.Equal(a.choice, all.choice) || !r.together(a, &all) {
				continue
			}
			far := r.distance(a.level, all.level)
			if r.neighbours(a.level, all.level) {
				far = 0
			}
			if far < near {
				at, near = i, far
			}
		}
		if at < 0 {
			break
		}
		all = k.answers[at].with(&all, near == 0)
		k.answers = slices.Delete(k.answers, at, at+1)
	}
	k.answers = append(k.answers, all)
}

// with returns an answer grown together with another: the better of the two, with the hits of both. Where they are not known to be
// one, the other stays as an end.
func (f *finding) with(g *finding, sure bool) finding {
	best, other := *f, *g
	if g.rank.before(&f.rank) {
		best, other = *g, *f
	}
	hits, crossed := f.hits+g.hits, f.crossed+g.crossed
	ends := slices.Concat(f.ends, g.ends)
	if !sure {
		ends = append(ends, other.alone())
	}
	best.hits, best.crossed, best.ends = hits, crossed, ends
	best.valley, best.apart = f.valley, slices.Concat(f.apart, g.apart)
	return best
}

// alone returns an answer without its ends, and without their hits.
func (f *finding) alone() finding {
	own := *f
	for i := range f.ends {
		own.hits -= f.ends[i].hits
		own.crossed -= f.ends[i].crossed
	}
	own.ends = nil
	return own
}

// Two answers of one valley have scores that differ by less than this share, or by less than a score that
// means nothing, and the way between them is less curved than the curvatures together by this factor.
const (
	valleyScore = 1e-3
	valleyNil   = 1e-6 // a miss of a thousandth
	valleyCurve = 1e-2
)

// together tells whether two answers are one, or may be: they are neighbours, or their models say that they lie in one flat valley, since
// what is asked for leaves a direction free, and no hump is known between them.
func (r *Refine) together(a, b *finding) bool {
	if r.neighbours(a.level, b.level) {
		return true
	}
	return r.tie(a, b) && r.flat(a, b) && r.flat(b, a)
}

// tie tells whether two answers may be of one valley by their scores, and no hump is known between them.
func (r *Refine) tie(a, b *finding) bool {
	return slices.Equal(a.choice, b.choice) && !a.overLimits && !b.overLimits &&
		math.Abs(a.score-b.score) <= max(valleyScore*math.Abs(a.score), valleyNil) &&
		!slices.Contains(a.apart, b.valley) && !slices.Contains(b.apart, a.valley)
}

// neighbours tells whether no number differs by more than makes two answers one.
func (r *Refine) neighbours(a, b []int64) bool {
	for i := range a {
		if math.Abs(float64(a[i]-b[i])) > max(r.options.Apart*r.local.Scale[i], 1) {
			return false
		}
	}
	return true
}

// flat tells whether the model at a sees next to no curvature on the way to b.
func (r *Refine) flat(a, b *finding) bool {
	n := len(a.level)
	if len(a.curve) != n*n {
		return false
	}
	var along, trace, length float64
	for i := range n {
		di := float64(b.level[i]-a.level[i]) / r.local.Scale[i]
		length += di * di
		trace += a.curve[i*n+i]
		for k := range n {
			along += di * a.curve[i*n+k] * float64(b.level[k]-a.level[k]) / r.local.Scale[k]
		}
	}
	return along <= valleyCurve*trace*length
}

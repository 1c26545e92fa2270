package optimize

import (
	"math"
	"slices"

	"trammel/optimize/leastsquares"
)

// Answer is a distinct place where local searches of a refinement ended.
type Answer struct {
	Point             // the best one; Parent is where its search started
	Run       int64   // run number of the best
	Outcome   Outcome // its status, score and violation
	Hits      int     // searches that ended here
	Rows      int     // rows of the search that found the best
	Failures  int     // of them that came to no score
	Converged bool    // the search ended because the model promised no more
	Bounds    []BoundPrice
	Limits    []LimitPrice
	Left      float64 // how much the score could still fall, by the model, if fine numbers were not on the lattice
}

// BoundPrice says what a bound costs: the score would fall by Price for each unit of the dimension by
// which the box gave way at its low or its high end.
type BoundPrice struct {
	Dim   int
	High  bool
	Price float64
}

// LimitPrice says what a limit costs: the score would fall by Price for each unit by which element Limit
// of the outcome's G gave way, that is, might be positive.
type LimitPrice struct {
	Limit int
	Price float64
}

// leastPrice is the share of the score, over the whole box or a whole scale of a limit, below which a
// price is rounding.
const leastPrice = 1e-9

// price takes down the multipliers of the local search, in units and of the score instead of half of it.
func (s *refining) price(p leastsquares.Prices) {
	f, dims := &s.found, s.r.space.Dims
	f.left, f.curve = 2*p.Left, p.Curve
	for d, m := range p.Bound {
		if whole := 2 * m * s.r.local.Scale[d]; whole > leastPrice*(1+math.Abs(f.score)) || -whole > leastPrice*(1+math.Abs(f.score)) {
			perUnit := 2 * m / dims[d].value(dims[d].step())
			f.bounds = append(f.bounds, BoundPrice{Dim: d, High: m < 0, Price: max(perUnit, -perUnit)})
		}
	}
	for i, m := range p.Limit {
		if 2*m > leastPrice*(1+math.Abs(f.score)) {
			f.limits = append(f.limits, LimitPrice{Limit: i, Price: 2 * m})
		}
	}
}

// Answers returns the distinct answers of the rounds that have met, the best first.
func (r *Refine) Answers() []Answer {
	found := slices.Clone(r.known.answers)
	slices.SortStableFunc(found, func(a, b finding) int {
		switch {
		case a.rank.before(&b.rank):
			return -1
		case b.rank.before(&a.rank):
			return 1
		}
		return 0
	})
	out := make([]Answer, len(found))
	for i := range found {
		f := &found[i]
		a := &out[i]
		a.shape(r.space)
		for d, k := range f.level {
			a.X[d] = r.space.Value(d, r.space.Level(d, k))
		}
		copy(a.Choice, f.choice)
		a.Parent, a.Run = f.start, f.run
		a.Outcome = Outcome{X: slices.Clone(a.X), Reached: 1, Score: f.score, Violation: f.violation}
		if f.overLimits {
			a.Outcome.Status = OverLimit
		}
		a.Hits, a.Rows, a.Failures = f.hits, f.rows, f.failures
		a.Converged, a.Left = f.ending == leastsquares.Converged, f.left
		a.Bounds, a.Limits = slices.Clone(f.bounds), slices.Clone(f.limits)
	}
	return out
}

// Unseen estimates how much has not been found.
type Unseen struct {
	Searches int     // local searches that came to an answer
	Answers  int     // distinct ones
	Chance   float64 // that one more search ends at an answer not seen yet, an upper estimate for a better one; 1 when little is known
	Total    float64 // expected number of answers, seen and unseen; 0 when too little is known to say
}

// UnseenOf is the Bayesian estimate of C. G. E. Boender and A. H. G. Rinnooy Kan, "Bayesian stopping
// rules for multistart global optimization methods", Mathematical Programming 37 (1987) 59-80: after N
// searches that found w answers the unseen basins have an expected share of w(w+1)/(N(N-1)), and
// w(N-1)/(N-w-2) answers are expected in all.
func UnseenOf(searches, answers int) Unseen {
	u := Unseen{Searches: searches, Answers: answers, Chance: 1}
	n, w := float64(searches), float64(answers)
	if n > 1 {
		u.Chance = min(1, w*(w+1)/(n*(n-1)))
	}
	if n > w+2 {
		u.Total = w * (n - 1) / (n - w - 2)
	}
	return u
}

// Unseen returns the estimate for the rounds that have met: all searches and answers, and a chance by those that started
// from the sample. It supposes independent starts. Ours are chosen apart from each other and from known answers, and
// meet new basins the sooner, so that it errs towards caution; crosses of answers come back to known ones, so that they do not
// count.
func (r *Refine) Unseen() Unseen {
	all, sampled, seen := 0, 0, 0
	for i := range r.known.answers {
		a := &r.known.answers[i]
		all += a.hits
		if n := a.hits - a.crossed; n > 0 {
			sampled, seen = sampled+n, seen+1
		}
	}
	u := UnseenOf(sampled, seen)
	u.Searches, u.Answers = all, len(r.known.answers)
	if u.Total > 0 {
		u.Total = max(u.Total, float64(u.Answers))
	}
	return u
}

// Sampled returns how many points have been screened in the rounds that have met.
func (r *Refine) Sampled() int64 { return r.known.sampled }

// Partly tells whether there are more combinations of choices than get starts of their own, so that the
// best screened ones alone do.
func (r *Refine) Partly() bool { return r.few }

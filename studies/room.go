package studies

import (
	"context"
	"math"
	"slices"

	"trammel/objectives"
	"trammel/optimize"
)

// worth measures what each price of an answer is worth over its whole step, the answer's score being what a local search from
// it comes to: that bound alone is moved by the step, and the search goes on from there. The price of a limit that soon meets
// another, or of a range whose best lies just beyond it, fades well before its step; a slope cannot tell. What could not be told by its
// slope either is left alone: where the score is convex in the room, as it is near an answer, the slope promises the most.
func (st *Study) worth(prices []Price, at *optimize.Point, score float64) {
	base, from, ok := score, at, false
	for i := range prices {
		p := &prices[i]
		if p.Slope*p.Step < leastGain*score {
			continue
		}
		if !ok {
			base, from, _, ok = settle(st, at, score)
		}
		left, _, _, _ := settle(st.freer(p), from, base)
		gain := base - left
		p.Gain, p.Left = &gain, &left
	}
}

// freer returns the study with the bound of a price moved by its step, and all else as it is.
func (st *Study) freer(p *Price) *Study {
	free := *st
	if p.Kind == priceOfRange {
		free.Space.Dims = slices.Clone(st.Space.Dims)
		d, by := &free.Space.Dims[p.of], int64(math.Round(p.Step*float64(st.Space.Dims[p.of].PerUnit)))
		if p.End == "to" {
			d.High = st.Space.Level(p.of, st.Space.Levels(p.of)-1) + by
		} else {
			d.Low = st.Space.Level(p.of, 0) - by
		}
		return &free
	}
	limits := slices.Clone(st.Objective.Limits)
	l, by := &limits[p.of], p.Step*p.length
	switch p.End {
	case "min":
		l.Min -= by
	case "max":
		l.Max += by
	default:
		l.Spread += by
	}
	free.Objective = objectives.New(st.Objective.Targets, limits)
	return &free
}

// settle runs one local search of a study from a point that keeps every limit and has that score. It returns the best score on
// the way, where that is and how many runs it took.
func settle(st *Study, at *optimize.Point, score float64) (is float64, best *optimize.Point, runs int64, ok bool) {
	o := optimize.DefaultRefine(&st.Space)
	o.Searches, o.Together, o.Screen = 1, 1, 0
	o.Starts = []optimize.Point{{X: at.X, Choice: at.Choice, Parent: optimize.NoParent}}
	search, err := optimize.NewRefine(&st.Space, o)
	if err != nil {
		return score, at, 0, false // the point is no start, which a study's own answer always is
	}
	best = &optimize.Point{X: slices.Clone(at.X), Choice: at.Choice}
	var scratch optimize.BlockScratch
	_, err = optimize.RunBlock(context.Background(), search.Start(0, 0), st.NewEvaluator(), search.Budget(0, 0), &scratch, func(_ int, p *optimize.Point, o *optimize.Outcome) {
		runs++
		if o.Status == optimize.OK && o.Score < score {
			score = o.Score
			copy(best.X, p.X)
		}
	})
	return score, best, runs, err == nil
}

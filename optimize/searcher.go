package optimize

import (
	"context"
	"fmt"
)

// Searcher proposes points and learns from outcomes. It is used from one goroutine, starts none, and
// draws only from the stream it was given. One Searcher serves one block; the parallelism is over
// blocks (restarts, islands, batches of refinements, slices of a plan).
type Searcher interface {
	// Propose appends the next batch, at most budget points, and returns the longer slice. The size
	// of a batch depends on the searcher and on budget, the rows that its block has left, never on
	// the number of workers. An empty batch means that it has finished. Points behind the end of
	// dst may be reused with the memory they hold.
	Propose(dst []Point, budget int) []Point

	// Learn reports the whole last batch, in the order proposed. The outcomes are valid during the
	// call only.
	Learn([]Outcome)

	// Standing says why it goes on or has stopped.
	Standing() Standing

	// AppendState appends what Restore needs to make an equal searcher go on from here. It is called
	// between batches: after Learn, or before the first Propose.
	AppendState([]byte) []byte

	// Restore takes over a state that AppendState made, of a searcher started for the same block.
	Restore([]byte) error
}

// Evaluator evaluates points. Each worker has its own, and two of them must return the same for the
// same point, whatever each has evaluated before. RunBlock hands out an Outcome that is Reset, with X
// set to that of the point; Evaluate fills its slices by appending, so that after the first few points
// nothing is allocated.
type Evaluator interface {
	Evaluate(p *Point, out *Outcome)
}

// Standing says why a searcher goes on or has stopped. There is one table of reasons for all searches.
type Standing uint8

// The reasons.
const (
	GoesOn       Standing = iota // it would propose more
	PlanComplete                 // every point of the plan's slice has been evaluated
	RoundOver                    // the search pauses until the blocks of its round have met
	BlockFull                    // the block's rows are spent
	Converged                    // all that it works on lies within the lattice's resolution
)

var standings = [...]struct {
	word, sentence string
	stopped        bool
}{
	GoesOn:       {"goes_on", "It would go on if it had more rows.", false},
	PlanComplete: {"plan_complete", "Every point of the plan has been evaluated.", true},
	RoundOver:    {"round_over", "Its part of the round is done; it goes on after the parts have met.", true},
	BlockFull:    {"block_full", "The rows of its block are spent.", true},
	Converged:    {"converged", "All that it works on lies within the resolution of the lattice.", true},
}

// String returns a short word for the reason.
func (s Standing) String() string {
	if int(s) < len(standings) {
		return standings[s].word
	}
	return "unknown"
}

// Sentence says the reason in a sentence.
func (s Standing) Sentence() string {
	if int(s) < len(standings) {
		return standings[s].sentence
	}
	return "The reason is unknown."
}

// Stopped tells whether it proposes nothing more.
func (s Standing) Stopped() bool { return int(s) < len(standings) && standings[s].stopped }

// Standings returns every reason, in order.
func Standings() []Standing {
	all := make([]Standing, len(standings))
	for i := range all {
		all[i] = Standing(i)
	}
	return all
}

// BlockScratch is the memory RunBlock works in. One worker keeps one for all its blocks; the zero
// value is ready.
type BlockScratch struct {
	points   []Point
	outcomes []Outcome
}

// RunBlock drives one searcher to the end of its block: it proposes, each point is evaluated and
// observed, and it learns. budget is how many rows the block may have. observe is called for every
// point in order, with its index within the block; what it is handed is valid during the call only.
// ctx ends the block between two evaluations, and then the block is void: the error is ctx's cause.
// The Standing returned is the searcher's own, or BlockFull if it would have gone on.
func RunBlock(ctx context.Context, s Searcher, e Evaluator, budget int, scratch *BlockScratch, observe func(index int, p *Point, o *Outcome)) (Standing, error) {
	if budget < 0 || budget > BlockRows {
		return GoesOn, fmt.Errorf("a block may have 0 to %d rows, not %d", BlockRows, budget)
	}
	done := ctx.Done()
	for index := 0; index < budget; {
		points := s.Propose(scratch.points[:0], budget-index)
		scratch.points = points
		if len(points) == 0 {
			return s.Standing(), nil
		}
		if len(points) > budget-index {
			return GoesOn, fmt.Errorf("the search proposed %d points where its block has %d rows left", len(points), budget-index)
		}
		for len(scratch.outcomes) < len(points) {
			scratch.outcomes = append(scratch.outcomes, Outcome{})
		}
		outcomes := scratch.outcomes[:len(points)]
		for i := range points {
			select {
			case <-done:
				return GoesOn, context.Cause(ctx)
			default:
			}
			p, o := &points[i], &outcomes[i]
			o.Reset()
			o.X = append(o.X, p.X...)
			e.Evaluate(p, o)
			observe(index, p, o)
			index++
		}
		s.Learn(outcomes)
	}
	if st := s.Standing(); st != GoesOn {
		return st, nil
	}
	return BlockFull, nil
}

package optimize

import "fmt"

// schedule lays the rows of a search out: rounds of islands, every island with the same number of rows
// in a round, and what is left over shared out evenly in the last.
type schedule struct {
	runs    int64 // rows in all
	islands int   // blocks of a round
	each    int   // rows of an island in a full round
}

// rounds returns how many rounds have rows.
func (s *schedule) rounds() int {
	full := int64(s.each) * int64(s.islands)
	return int((s.runs + full - 1) / full)
}

// blocks returns the number of islands for every round that has rows left, 0 afterwards.
func (s *schedule) blocks(round int) int {
	if round < 0 || round >= s.rounds() {
		return 0
	}
	return s.islands
}

// budget returns a full round's rows, or an even share of what is left in the last round.
func (s *schedule) budget(round, block int) int {
	islands := int64(s.islands)
	full := int64(s.each) * islands
	left := s.runs - int64(round)*full
	switch {
	case round < 0 || left <= 0:
		return 0
	case left >= full:
		return s.each
	}
	share := left / islands
	if int64(block) < left%islands {
		share++
	}
	return int(share)
}

// block returns the number of an island's block, counted through the stage.
func (s *schedule) block(round, island int) int64 {
	return int64(round)*int64(s.islands) + int64(island)
}

// mustHaveMet panics unless the islands that a round begins with have come out of the round before.
func mustHaveMet(round, met int) {
	if round > 0 && met != round {
		panic(fmt.Sprintf("optimize: round %d of a search whose islands have met %d times", round, met))
	}
}

// allowsStarts returns nil if every start is a point that the space allows and there is room for all.
func (s *Space) allowsStarts(starts []Point, room int) error {
	if len(starts) > room {
		return fmt.Errorf("%d starts are given; the search has room for %d", len(starts), room)
	}
	for i := range starts {
		if err := s.Allows(&starts[i]); err != nil {
			return fmt.Errorf("start %d of the search: %w", i+1, err)
		}
	}
	return nil
}

// bound is a whole number of an option with the range that it may have.
type bound struct {
	what          string
	is, low, high int64
	because       string
}

// checkBounds returns what is wrong with the first number out of its range.
func checkBounds(bounds ...bound) error {
	for _, c := range bounds {
		if c.is < c.low || c.is > c.high {
			return fmt.Errorf("the search is to have %d %s; %d to %d are possible: %s", c.is, c.what, c.low, c.high, c.because)
		}
	}
	return nil
}

package record

import (
	"encoding/binary"
	"fmt"
	"maps"
	"slices"
)

// share is what one block has of its span.
type share struct {
	Counts
	curves int64
}

// appendEach appends the shares of a span's blocks to b: of each block, as unsigned varints, how many
// were evaluated, kept and feasible, the rows of curves, and the count of every status that the span
// has, in alphabetical order.
func appendEach(b []byte, s *Span, blocks []share) []byte {
	words := statuses(s)
	for i := range blocks {
		k := &blocks[i]
		for _, n := range [...]int64{k.Evaluated, k.Kept, k.Feasible, k.curves} {
			b = binary.AppendUvarint(b, uint64(n))
		}
		for _, w := range words {
			b = binary.AppendUvarint(b, uint64(k.Status[w]))
		}
	}
	return b
}

func statuses(s *Span) []string { return slices.Sorted(maps.Keys(s.Counts.Status)) }

// shares visits the shares of the span's blocks, in order. The share is used again.
func (s *Span) shares(visit func(block int, k *share)) error {
	b, words := s.Each, statuses(s)
	bad := fmt.Errorf("the counts of blocks %d to %d of stage %d do not read", s.First, s.Last, s.Stage)
	k := share{Counts: Counts{Status: make(map[string]int64, len(words))}}
	next := func() int64 {
		n, size := binary.Uvarint(b)
		if size <= 0 || n > 1<<53 {
			b, size = nil, 0
			n = 1 << 60 // fits no sum
		}
		b = b[size:]
		return int64(n)
	}
	for block := s.First; block <= s.Last; block++ {
		if len(b) == 0 {
			return bad
		}
		k.Evaluated, k.Kept, k.Feasible, k.curves = next(), next(), next(), next()
		for _, w := range words {
			k.Status[w] = next()
		}
		if max(k.Evaluated, k.Kept, k.Feasible, k.curves) > 1<<53 {
			return bad
		}
		visit(block, &k)
	}
	if len(b) > 0 {
		return bad
	}
	return nil
}

// checkEach compares the shares of the blocks with the span's counts.
func (s *Span) checkEach() error {
	var sum share
	err := s.shares(func(_ int, k *share) {
		sum.Add(k.Counts)
		sum.curves += k.curves
	})
	if err != nil {
		return err
	}
	c := &s.Counts
	if sum.Evaluated != c.Evaluated || sum.Kept != c.Kept || sum.Feasible != c.Feasible || sum.curves != s.Curves || !maps.Equal(sum.Status, c.Status) {
		return fmt.Errorf("the counts of blocks %d to %d of stage %d are not the sum of those of each", s.First, s.Last, s.Stage)
	}
	return nil
}

// CountsOf returns the counts of finished blocks first to last of a stage, both included; false when
// one of them is not finished.
func (v *View) CountsOf(stage, first, last int) (sum Counts, ok bool) {
	for block := first; block <= last; {
		s := v.ledger.find(stage, block)
		if s == nil {
			return Counts{}, false
		}
		if s.First >= first && s.Last <= last {
			sum.Add(s.Counts)
		} else {
			_ = s.shares(func(b int, k *share) { // has been checked
				if b >= first && b <= last {
					sum.Add(k.Counts)
				}
			})
		}
		block = s.Last + 1
	}
	return sum, true
}

// blockSegments returns where the rows of one block of a span stand in the parts of a table; false when
// it has none there.
func (v *View) blockSegment(s *span, block int, table string) (g segment, ok bool) {
	g, ok = v.segment(s, table)
	if !ok {
		return g, false
	}
	g.n = 0
	_ = s.shares(func(b int, k *share) {
		n := k.Kept
		if table == TableCurves {
			n = k.curves
		}
		switch {
		case b < block:
			g.first += n
		case b == block:
			g.n = n
		}
	})
	return g, g.n > 0
}

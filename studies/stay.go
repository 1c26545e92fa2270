package studies

import (
	"fmt"
	"slices"
	"strings"

	"trammel/optimize"
)

// By how much the score may rise where a number is put back as drawn before that number is said to matter: a share of it, and a
// least where the score is next to nothing.
const (
	idleShare = 1e-3
	idleLeast = 1e-6
)

// Idle are the numbers and choices of an answer that moved for nothing: put back as drawn, each alone, they leave every limit
// kept and the score within a thousandth.
type Idle struct {
	Names    []string `json:"alone"`
	Together []string `json:"together"` // those of them that can all be put back at once
}

// idle finds out which numbers and choices of a point that keeps every limit could as well stay as drawn; nil when none could.
func (e *Evaluator) idle(p *optimize.Point, score float64) *Idle {
	st := e.st
	design, n := st.Space.Design(), len(st.Space.Dims)
	drawn := func(at []int) bool {
		q := optimize.Point{X: slices.Clone(p.X), Choice: slices.Clone(p.Choice), Parent: optimize.NoParent}
		for _, i := range at {
			if i < n {
				q.X[i] = design.X[i]
			} else {
				q.Choice[i-n] = design.Choice[i-n]
			}
		}
		var o optimize.Outcome
		e.Evaluate(&q, &o)
		return o.Status == optimize.OK && o.Score <= score+max(idleShare*score, idleLeast)
	}
	var alone []int
	for i := range n + len(p.Choice) {
		moved := i < n && p.X[i] != design.X[i] || i >= n && p.Choice[i-n] != design.Choice[i-n]
		if moved && drawn([]int{i}) {
			alone = append(alone, i)
		}
	}
	if alone == nil {
		return nil
	}
	together := alone
	if !drawn(together) { // as many as go, in their order
		together = nil
		for _, i := range alone {
			if more := append(slices.Clone(together), i); drawn(more) {
				together = more
			}
		}
	}
	names := func(at []int) (names []string) {
		for _, i := range at {
			if i < n {
				names = append(names, st.Space.Dims[i].Name)
			} else {
				names = append(names, st.Space.Choices[i-n].Name)
			}
		}
		return names
	}
	return &Idle{Names: names(alone), Together: names(together)}
}

// stays says which of what moved could as well stay as drawn.
func (ans *Answer) stays(b *strings.Builder) {
	i := ans.Answers[0].Idle
	if i == nil {
		return
	}
	how := ""
	switch {
	case len(i.Names) == 1:
	case len(i.Together) == len(i.Names):
		how = ", each alone or all at once"
	case len(i.Together) == 1:
		how = ", each alone but not together"
	default:
		how = fmt.Sprintf(", each alone, and %s together", list(i.Together))
	}
	fmt.Fprintf(b, "%s could as well stay as drawn%s: with all else as here every limit is kept, and the score stays within a thousandth.\n", list(i.Names), how)
}

package studies

import (
	"time"

	"trammel/optimize"
)

// bytesPerCell is about what a cell takes on the disk: most are doubles, byte-stream-split and zstd, of
// which some four fifths remain.
const bytesPerCell = 6.5

// pace returns how many candidates a second one core evaluates, from a fifth of a second's work on a
// sample of the box.
func (st *Study) pace() float64 {
	plan, err := optimize.NewPlan(&st.Space, optimize.DefaultPlan())
	if err != nil {
		return 0
	}
	e := st.NewEvaluator()
	var o optimize.Outcome
	p := st.Space.Design()
	n := 0
	began := time.Now()
	for time.Since(began) < 200*time.Millisecond {
		plan.At(&p, int64(n)%plan.Runs())
		o.Reset()
		e.Evaluate(&p, &o)
		n++
	}
	return float64(n) / time.Since(began).Seconds()
}

package studies

import (
	"math"
	"slices"

	"trammel/objectives"
	"trammel/studies/files"
)

// series finds what was requested among the values of its sweep. The least value between the positions is one more row,
// where there is one and it counts.
func (st *Study) series(r request, least bool) objectives.Series {
	sw := st.sweeps[r.sweep]
	s := objectives.Series{Sweep: r.sweep, Offset: r.column * len(sw.Motion.Positions), Rows: r.rows, Travel: r.travel}
	if at, ok := sw.Least(r.column); ok && least && r.least {
		s.Rows = append(slices.Clip(s.Rows), at-s.Offset)
		s.Travel = append(slices.Clip(s.Travel), s.Travel[len(s.Travel)-1])
	}
	return s
}

// leastCounts tells whether a target asks the same of every value, wherever it stands.
func leastCounts(t *files.Target) bool {
	return (t.Shape == files.AtLeast || t.Shape == files.AtMost) && !t.Relative && len(t.Within.Above) == 1 && len(t.Within.Below) == 1
}

func or(v *float64, sign int) float64 {
	if v == nil {
		return math.Inf(sign)
	}
	return *v
}

// target turns what a file asks into departures at positions.
func target(t *files.Target, s objectives.Series) objectives.Target {
	shapes := map[files.Shape]objectives.Shape{
		files.Follow: objectives.Near, files.Hold: objectives.Near, files.Value: objectives.Near,
		files.Straight: objectives.Straight, files.Even: objectives.Even,
		files.Rising: objectives.Rising, files.Falling: objectives.Falling,
		files.AtMost: objectives.AtMost, files.AtLeast: objectives.AtLeast,
	}
	out := objectives.Target{Name: t.Name, Series: s, Shape: shapes[t.Shape], Weight: t.Weight, Relative: t.Relative}
	for _, travel := range s.Travel {
		want := t.Value
		if t.Shape == files.Follow {
			want = t.Curve.At(travel)
		}
		out.Want = append(out.Want, want)
		out.Above = append(out.Above, t.Within.Above.At(travel))
		out.Below = append(out.Below, t.Within.Below.At(travel))
	}
	return out
}

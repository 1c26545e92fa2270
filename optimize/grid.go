package optimize

import (
	"fmt"
	"math/bits"
)

// axis is the list of values that one coordinate takes in a plan on a grid: quanta of a number, or
// options of a choice.
type axis struct {
	values []int64
	design int64
}

// axes returns the values of every coordinate, numbers first: levels of them evenly over the box, ends
// included; a single one is the allowed value nearest to design. Choices take all their options.
// levels has one number per dimension, or one for all.
func (s *Space) axes(levels []int) ([]axis, error) {
	if len(levels) != 1 && len(levels) != len(s.Dims) {
		return nil, fmt.Errorf("%d numbers of levels are given for %d numbers that vary; there must be one for each, or one for all", len(levels), len(s.Dims))
	}
	all := make([]axis, 0, s.Size())
	for i := range s.Dims {
		want, have := int64(levels[min(i, len(levels)-1)]), s.Levels(i)
		if want < 1 {
			return nil, fmt.Errorf("%s is to have %d levels; it needs at least one", s.Dims[i].Name, want)
		}
		if want > have && have > 1 {
			return nil, fmt.Errorf("%s is to have %d levels, but only %d values are allowed; ask for no more than these, or make its step smaller", s.Dims[i].Name, want, have)
		}
		a := axis{design: s.Dims[i].nearest(s.Dims[i].value(s.Dims[i].Design))}
		switch {
		case want == 1 || have == 1:
			a.values = []int64{a.design}
		default:
			for k := range want {
				a.values = append(a.values, s.Level(i, divided(k, have-1, want-1)))
			}
		}
		all = append(all, a)
	}
	for i := range s.Choices {
		a := axis{design: int64(s.Choices[i].Design)}
		for k := range s.Choices[i].Options {
			a.values = append(a.values, int64(k))
		}
		all = append(all, a)
	}
	return all, nil
}

// divided returns k·a/b rounded to the nearest whole number, halves up, without overflow for k ≤ b.
func divided(k, a, b int64) int64 {
	high, low := bits.Mul64(uint64(k), uint64(a))
	low, carry := bits.Add64(low, uint64(b/2), 0)
	q, _ := bits.Div64(high+carry, low, uint64(b))
	return int64(q)
}

// set gives coordinate c of p, numbers first, the value v of its axis.
func (s *Space) set(p *Point, c int, v int64) {
	if c < len(s.Dims) {
		p.X[c] = s.Dims[c].value(v)
		return
	}
	p.Choice[c-len(s.Dims)] = int(v)
}

// factorial is every combination of the values of all coordinates, the first coordinate fastest
// (standard order). Source: D. C. Montgomery, "Design and Analysis of Experiments", chapters 5 and 6.
type factorial struct {
	space *Space
	axes  []axis
	n     int64
}

func newFactorial(s *Space, levels []int) (*factorial, error) {
	axes, err := s.axes(levels)
	if err != nil {
		return nil, err
	}
	f := &factorial{space: s, axes: axes, n: 1}
	for _, a := range axes {
		if int64(len(a.values)) > maxRuns/f.n {
			size := 1.0
			for _, b := range axes {
				size *= float64(len(b.values))
			}
			return nil, fmt.Errorf("all combinations of the levels are %.3g runs, more than the %.3g a stage can have; fewer levels would do, or a plan that samples", size, float64(maxRuns))
		}
		f.n *= int64(len(a.values))
	}
	return f, nil
}

func (f *factorial) at(p *Point, i int64, _ *planScratch) {
	for c := range f.axes {
		n := int64(len(f.axes[c].values))
		f.space.set(p, c, f.axes[c].values[i%n])
		i /= n
	}
}

// oneAtATime moves one coordinate after the other through its values while the others stay at design
// (at the nearest allowed point, if the box excludes it). The design itself is not among the points.
type oneAtATime struct {
	space *Space
	axes  []axis // values without design
	n     int64
}

func newOneAtATime(s *Space, levels []int) (*oneAtATime, error) {
	axes, err := s.axes(levels)
	if err != nil {
		return nil, err
	}
	o := &oneAtATime{space: s, axes: axes}
	for c := range axes {
		others := axes[c].values[:0]
		for _, v := range axes[c].values {
			if v != axes[c].design {
				others = append(others, v)
			}
		}
		axes[c].values = others
		o.n += int64(len(others))
	}
	if o.n == 0 {
		return nil, fmt.Errorf("no coordinate has a value besides design to take; it needs two levels or more")
	}
	return o, nil
}

func (o *oneAtATime) at(p *Point, i int64, _ *planScratch) {
	for c := range o.axes {
		v := o.axes[c].design
		if n := int64(len(o.axes[c].values)); i >= 0 && i < n {
			v = o.axes[c].values[i]
			i = -1 // found: the rest stays at design
		} else {
			i -= n
		}
		o.space.set(p, c, v)
	}
}

// table is a list of given points.
type table []Point

func newTable(s *Space, points []Point) (table, error) {
	if len(points) == 0 {
		return nil, fmt.Errorf("the table of points is empty; it needs at least one row")
	}
	t := make(table, len(points))
	for i := range points {
		if err := s.Allows(&points[i]); err != nil {
			return nil, fmt.Errorf("row %d of the table of points: %w", i+1, err)
		}
		t[i].Set(&points[i])
	}
	return t, nil
}

func (t table) at(p *Point, i int64, _ *planScratch) { p.Set(&t[i]) }

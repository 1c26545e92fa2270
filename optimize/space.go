package optimize

import (
	"errors"
	"fmt"
	"math"
)

// maxQuanta bounds Low, High and Design: below it a float64 holds every quantum and every product of
// a value and PerUnit to well under half a quantum.
const maxQuanta = int64(1) << 50

// Dim is one number that may vary. Its values live on an integer lattice: n quanta are the value
// float64(n)/float64(PerUnit), the double nearest to the decimal a person writes.
type Dim struct {
	Name    string
	Low     int64 // quanta, allowed itself if a step falls on it
	High    int64 // quanta, likewise
	Design  int64 // quanta; steps count from here; it may lie outside the box
	Step    int64 // quanta; 0 means continuous, which ends on every quantum
	PerUnit int64 // quanta per unit: 1000 for mm and degrees, 10000 for inches
}

// Choice is a part that comes in several kinds, of which exactly one is fitted.
type Choice struct {
	Name    string
	Options []string
	Design  int // index into Options
}

// Space is the box a search works in: numbers and choices. It is not changed once in use.
type Space struct {
	Dims    []Dim
	Choices []Choice
}

// step returns the distance of neighbouring allowed values, in quanta.
func (d *Dim) step() int64 {
	if d.Step == 0 {
		return 1
	}
	return d.Step
}

// first returns the lowest and count the number of allowed values, in quanta. count is below 1 when no
// step falls into the box.
func (d *Dim) first() (low, count int64) {
	if d.Step == 0 {
		return d.Low, d.High - d.Low + 1
	}
	from, to := ceilDiv(d.Low-d.Design, d.Step), floorDiv(d.High-d.Design, d.Step)
	return d.Design + from*d.Step, to - from + 1
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b != 0 && (a < 0) != (b < 0) {
		q--
	}
	return q
}

func ceilDiv(a, b int64) int64 { return -floorDiv(-a, b) }

// Check says, all at once, what keeps the space from being searched. Nil means that every other
// method is safe.
func (s *Space) Check() error {
	var all []error
	if s.Size() == 0 {
		all = append(all, errors.New("nothing may vary; at least one number or choice must"))
	}
	seen := make(map[string]bool)
	name := func(kind string, i int, n string) {
		switch {
		case n == "":
			all = append(all, fmt.Errorf("%s %d has no name; it needs one", kind, i+1))
		case seen[n]:
			all = append(all, fmt.Errorf("the name %q stands for two things that may vary; each needs its own", n))
		}
		seen[n] = true
	}
	for i := range s.Dims {
		name("number", i, s.Dims[i].Name)
		if err := s.Dims[i].check(); err != nil {
			all = append(all, err)
		}
	}
	for i := range s.Choices {
		c := &s.Choices[i]
		name("choice", i, c.Name)
		if len(c.Options) == 0 {
			all = append(all, fmt.Errorf("%s has nothing to choose from; it needs at least one option", c.Name))
		} else if c.Design < 0 || c.Design >= len(c.Options) {
			all = append(all, fmt.Errorf("%s has %d options, but its design is number %d; it must be one of them, counted from 0", c.Name, len(c.Options), c.Design))
		}
	}
	return errors.Join(all...)
}

func (d *Dim) check() error {
	if d.PerUnit < 1 {
		return fmt.Errorf("%s has %d quanta per unit; it needs at least one", d.Name, d.PerUnit)
	}
	for _, n := range [...]int64{d.Low, d.High, d.Design, d.Step} {
		if n > maxQuanta || n < -maxQuanta {
			return fmt.Errorf("%s reaches %g, which is too large to hold exactly; at most %g is possible", d.Name, float64(n)/float64(d.PerUnit), float64(maxQuanta)/float64(d.PerUnit))
		}
	}
	if d.Low > d.High {
		return fmt.Errorf("%s runs from %g to %g; the lower end must come first", d.Name, d.value(d.Low), d.value(d.High))
	}
	if d.Step < 0 {
		return fmt.Errorf("%s has a step of %g; it must be positive, or none", d.Name, d.value(d.Step))
	}
	if _, count := d.first(); count < 1 {
		return fmt.Errorf("%s has no value to take: steps of %g counted from %g all miss the range %g to %g; a smaller step or a wider range would do",
			d.Name, d.value(d.Step), d.value(d.Design), d.value(d.Low), d.value(d.High))
	}
	return nil
}

func (d *Dim) value(n int64) float64 { return float64(n) / float64(d.PerUnit) }

// nearest returns the allowed number of quanta nearest to x, inside the box. A tie goes away from the
// design value when the dimension has steps, away from zero when it has none.
func (d *Dim) nearest(x float64) int64 {
	if math.IsNaN(x) {
		panic("optimize: " + d.Name + " is not a number")
	}
	low, count := d.first()
	high := low + (count-1)*d.step()
	q := x * float64(d.PerUnit)
	switch {
	case q <= float64(low):
		return low
	case q >= float64(high):
		return high
	case d.Step == 0:
		return int64(math.Round(q))
	}
	n := d.Design + d.Step*int64(math.Round((q-float64(d.Design))/float64(d.Step)))
	return min(max(n, low), high)
}

// Size returns how many coordinates a point has: numbers and choices together.
func (s *Space) Size() int { return len(s.Dims) + len(s.Choices) }

// Value returns what n quanta of dimension i are worth in its unit.
func (s *Space) Value(i int, n int64) float64 { return s.Dims[i].value(n) }

// Quanta returns the number of quanta nearest to the value x of dimension i, whether allowed or not.
// It panics if x is not finite.
func (s *Space) Quanta(i int, x float64) int64 {
	q := math.Round(x * float64(s.Dims[i].PerUnit))
	if !(math.Abs(q) < 1<<62) {
		panic(fmt.Sprintf("optimize: %s is %g, which no number of quanta is", s.Dims[i].Name, x))
	}
	return int64(q)
}

// Levels returns how many values dimension i may take.
func (s *Space) Levels(i int) int64 {
	_, count := s.Dims[i].first()
	return count
}

// Level returns the value number k of dimension i, in quanta, counted from 0 at the low end.
func (s *Space) Level(i int, k int64) int64 {
	low, _ := s.Dims[i].first()
	return low + k*s.Dims[i].step()
}

// LevelOf returns the number of the allowed value nearest to x: the inverse of Level.
func (s *Space) LevelOf(i int, x float64) int64 {
	low, _ := s.Dims[i].first()
	return (s.Dims[i].nearest(x) - low) / s.Dims[i].step()
}

// Snap moves every coordinate of x to the nearest allowed value inside the box and stores it in dst,
// which may be x itself. Snapping twice changes nothing. It panics on a coordinate that is not a
// number; an infinite one goes to the end of the box.
func (s *Space) Snap(dst, x []float64) {
	if len(dst) != len(s.Dims) || len(x) != len(s.Dims) {
		panic(fmt.Sprintf("optimize: Snap of %d numbers into %d; the space has %d", len(x), len(dst), len(s.Dims)))
	}
	for i := range s.Dims {
		d := &s.Dims[i]
		dst[i] = d.value(d.nearest(x[i]))
	}
}

// FromUnit turns u, one number in [0, 1) for each dimension and then for each choice, into an allowed
// point. Every level and every option gets an equal share of [0, 1), the outermost ones too.
func (s *Space) FromUnit(p *Point, u []float64) {
	if len(u) != s.Size() {
		panic(fmt.Sprintf("optimize: FromUnit of %d numbers; the space has %d coordinates", len(u), s.Size()))
	}
	p.shape(s)
	for i := range s.Dims {
		d := &s.Dims[i]
		low, count := d.first()
		p.X[i] = d.value(low + share(u[i], count)*d.step())
	}
	for i := range s.Choices {
		p.Choice[i] = int(share(u[len(s.Dims)+i], int64(len(s.Choices[i].Options))))
	}
}

// share returns which of n equal parts of [0, 1) holds u.
func share(u float64, n int64) int64 {
	if !(u >= 0 && u < 1) {
		panic(fmt.Sprintf("optimize: %g is not in [0, 1)", u))
	}
	return min(int64(u*float64(n)), n-1)
}

// Design returns the point the geometry was drawn with. A box that excludes the design excludes this
// point.
func (s *Space) Design() Point {
	p := Point{Parent: NoParent}
	p.shape(s)
	for i := range s.Dims {
		p.X[i] = s.Dims[i].value(s.Dims[i].Design)
	}
	for i := range s.Choices {
		p.Choice[i] = s.Choices[i].Design
	}
	return p
}

// Allows returns nil if the point is one the space allows, otherwise what is wrong with its first
// wrong coordinate and what would be right.
func (s *Space) Allows(p *Point) error {
	if len(p.X) != len(s.Dims) || len(p.Choice) != len(s.Choices) {
		return fmt.Errorf("the point has %d numbers and %d choices; %d and %d may vary", len(p.X), len(p.Choice), len(s.Dims), len(s.Choices))
	}
	for i, x := range p.X {
		d := &s.Dims[i]
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return fmt.Errorf("%s is not a finite number; it may run from %g to %g", d.Name, d.value(d.Low), d.value(d.High))
		}
		if near := d.value(d.nearest(x)); near != x {
			return fmt.Errorf("%s is %v, which is not allowed; the nearest allowed value is %v", d.Name, x, near)
		}
	}
	for i, k := range p.Choice {
		if c := &s.Choices[i]; k < 0 || k >= len(c.Options) {
			return fmt.Errorf("%s has %d options, but number %d is chosen; it must be one of them, counted from 0", c.Name, len(c.Options), k)
		}
	}
	return nil
}

package kin_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"trammel/kin"
	"trammel/kin/kintest"

	"gonum.org/v1/gonum/spatial/r3"
)

// task is a sweep with derivatives, and what a state that has done nothing else makes of it.
type task struct {
	sw     *kin.Sweep
	slopes kin.Slopes
	out    []float64
	values []float64
	at     []float64
}

// newTask asks for a few columns along one of the motions, by a few design changes and errors of parts.
func newTask(c *corner, r *rand.Rand) *task {
	m := motions()[r.IntN(len(motions()))]
	all := c.bothSides()
	var cols []kin.Column
	for range 1 + r.IntN(4) {
		cols = append(cols, all[r.IntN(len(all))])
	}
	motion := kin.NewMotion("any", m.wheels, m.rolls, m.at)
	k := &task{sw: c.prog.NewSweep(motion, cols)}
	k.slopes.Directions = make([]kin.Direction, 6)
	half := r.IntN(3) == 0
	if half {
		k.sw = c.prog.NewDesignSweep(motion, cols)
	}
	for i := range k.slopes.Directions {
		d, v := &k.slopes.Directions[i], r3.Vec{X: 1, Y: 0.4, Z: -0.3}
		if i < 3 || half {
			c.prog.Move(d, r.IntN(len(c.prog.Points())), v)
		} else {
			d.Parts, d.By = []int{r.IntN(len(c.prog.PartPoints()))}, []r3.Vec{v}
		}
	}
	k.out = make([]float64, k.sw.Size())
	k.slopes.At = make([]float64, len(k.out)*len(k.slopes.Directions))
	s := c.prog.NewState()
	kintest.Found(c.link, s)
	k.run(c, s)
	k.values, k.at = slices.Clone(k.out), slices.Clone(k.slopes.At)
	return k
}

func (k *task) run(c *corner, s *kin.State) {
	c.t.Helper()
	if f := s.SetDesign(c.prog.Points()); f.Status != kin.OK {
		c.t.Fatalf("design: %s", c.prog.Describe(f))
	}
	if _, f := s.RunSlopes(k.sw, k.out, &k.slopes); f.Status != kin.OK {
		c.t.Fatalf("at %v: %s", f.At, c.prog.Describe(f))
	}
}

// TestSlopesKeepNothing: values and derivatives are the same to the bit whatever a state did before, other sweeps, sweeps
// that failed, other designs and nonsense, and each leaves its bars at nothing.
func TestSlopesKeepNothing(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, layout := range everyLayout() {
		t.Run(layout.Name, func(t *testing.T) {
			c := newCorner(t, layout.Link)
			var tasks []*task
			for range 10 {
				tasks = append(tasks, newTask(c, r))
			}
			// Every measure at once, on the way to where the linkage does not reach.
			far := c.prog.NewSweep(kin.NewMotion("far", kin.BothWheels, true, []kin.Position{{Wheel: 10, Rack: 5}, {Wheel: 900}}), c.bothSides())
			lost := kin.Slopes{Directions: make([]kin.Direction, 1), At: make([]float64, far.Size())}
			for k := range 48 {
				task := tasks[r.IntN(len(tasks))]
				switch k % 3 {
				case 1:
					c.s.Poison()
				case 2:
					other := c.prog.Points()
					for i := range other {
						other[i].Z += 4 * r.Float64()
					}
					if c.s.SetDesign(other).Status == kin.OK {
						c.s.RunSlopes(far, make([]float64, far.Size()), &lost)
					}
				}
				for i := range task.slopes.At {
					task.slopes.At[i] = math.Inf(1)
				}
				task.run(c, c.s)
				sameBits(t, "values", task.values, task.out)
				sameBits(t, "derivatives", task.at, task.slopes.At)
				if !c.s.Rests() {
					t.Fatal("bars are left over")
				}
			}
		})
	}
}

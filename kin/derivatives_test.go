package kin_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"trammel/kin"
	"trammel/kin/kintest"

	"gonum.org/v1/gonum/spatial/r3"
)

// everyLayout are all linkages of kintest.
func everyLayout() []kintest.Layout {
	return slices.Concat(kintest.Layouts(), kintest.Axles(), kintest.Joints())
}

// trial is a motion through which derivatives are probed.
type trial struct {
	name   string
	motion *kin.Motion
}

func trials() []trial {
	p := func(w, r, roll float64) kin.Position { return kin.Position{Wheel: w, Rack: r, Roll: roll * deg} }
	return []trial{
		{"heave", kin.NewMotion("heave", kin.BothWheels, false, []kin.Position{p(0, 0, 0), p(23, 0, 0), p(-31, 0, 0)})},
		{"steer", kin.NewMotion("steer", kin.BothWheels, false, []kin.Position{p(0, 17, 0), p(12, -14, 0)})},
		{"left", kin.NewMotion("left", kin.LeftWheel, false, []kin.Position{p(18, 0, 0), p(-15, 6, 0)})},
		{"right", kin.NewMotion("right", kin.RightWheel, false, []kin.Position{p(14, 3, 0)})},
		{"roll", kin.NewMotion("roll", kin.BothWheels, true, []kin.Position{p(0, 0, 0), p(0, 0, 2.1), p(9, 0, -1.3), p(-6, 7, 1.1)})},
	}
}

// TestDerivatives probes the derivative of every measure of every layout, along every motion, with every kind of change of
// the drawing, against Richardson's central differences: a design change of each point, and a build change of each part
// point.
func TestDerivatives(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 1))
	probed := map[string]bool{}
	for _, layout := range everyLayout() {
		t.Run(layout.Name, func(t *testing.T) {
			prog, err := kin.Compile(layout.Link)
			if err != nil {
				t.Fatal(err)
			}
			columns := prog.Columns()
			for _, c := range prog.Columns() {
				if c.Member == "" {
					if o, err := prog.Column("right." + c.Name); err == nil {
						columns = append(columns, o)
					}
				}
			}
			p := newProbe(t, layout.Link, prog, columns, random)
			for _, tr := range trials() {
				p.motion(t, tr)
			}
			for name := range p.probed {
				probed[name] = true
			}
		})
	}
	for _, m := range kin.Measures() {
		if !probed[m.Name] {
			t.Errorf("the derivative of %s was probed nowhere", m.Name)
		}
	}
}

// TestDerivativesElsewhere probes them at geometries that nobody drew: every coordinate moved by up to 6 mm, camber and
// toe too, one position of each motion, a few changes of each kind.
func TestDerivativesElsewhere(t *testing.T) {
	for k, layout := range everyLayout() {
		random := rand.New(rand.NewPCG(7, uint64(k)))
		var l *kin.Linkage
		for try := 0; ; try++ {
			l = moved(layout.Link, func(q r3.Vec) r3.Vec {
				move := func() float64 { return 12*random.Float64() - 6 }
				return r3.Add(q, r3.Vec{X: move(), Y: move(), Z: move()})
			})
			l.Wheel.Camber, l.Wheel.Toe = (2*random.Float64()-2)*deg, (random.Float64()-0.5)*deg
			if closes(l) {
				break
			}
			if try == 40 {
				t.Fatalf("%s: no geometry near it closes", layout.Name)
			}
		}
		c := newCorner(t, l)
		p := newProbe(t, l, c.prog, c.bothSides(), random)
		p.every = 5
		t.Run(layout.Name, func(t *testing.T) {
			for _, s := range spots()[1:] {
				s.at.Wheel += random.Float64()
				p.motion(t, trial{"elsewhere", kin.NewMotion("elsewhere", s.wheels, s.rolls, []kin.Position{s.at})})
			}
		})
	}
}

type probe struct {
	link    *kin.Linkage
	prog    *kin.Program
	columns []kin.Column
	points  []r3.Vec
	random  *rand.Rand
	probed  map[string]bool
	every   int // of the changes there are, one in so many, at random; 0 for all
}

func newProbe(t *testing.T, link *kin.Linkage, prog *kin.Program, columns []kin.Column, random *rand.Rand) *probe {
	return &probe{link: link, prog: prog, columns: columns, points: prog.Points(), random: random, probed: map[string]bool{}}
}

func (p *probe) vector() r3.Vec {
	return r3.Unit(r3.Vec{X: p.random.NormFloat64(), Y: p.random.NormFloat64(), Z: p.random.NormFloat64()})
}

// change is a way to change the drawing: its direction, and how to do it by h.
type change struct {
	name string
	dir  kin.Direction
	do   func(s *kin.State, h float64) kin.Failure
}

func (p *probe) changes() []change {
	var out []change
	for i := range p.points {
		v := p.vector()
		c := change{name: fmt.Sprintf("design %d", i)}
		p.prog.Move(&c.dir, i, v)
		c.do = func(s *kin.State, h float64) kin.Failure {
			points := append([]r3.Vec(nil), p.points...)
			points[i] = r3.Add(points[i], r3.Scale(h, v))
			return s.SetDesign(points)
		}
		out = append(out, c)
	}
	for i, q := range p.prog.PartPoints() {
		if q.Owner == "" {
			continue
		}
		v := p.vector()
		c := change{name: fmt.Sprintf("build %v %s point %d", q.Side, q.Owner, q.Point), dir: kin.Direction{Parts: []int{i}, By: []r3.Vec{v}}}
		c.do = func(s *kin.State, h float64) kin.Failure {
			errors := make([]r3.Vec, len(p.prog.PartPoints()))
			errors[i] = r3.Scale(h, v)
			if f := s.SetDesign(p.points); f.Status != kin.OK {
				return f
			}
			return s.SetBuild(errors)
		}
		out = append(out, c)
	}
	return out
}

func (p *probe) motion(t *testing.T, tr trial) {
	sw := p.prog.NewSweep(tr.motion, p.columns)
	changes := p.changes()
	if p.every > 0 {
		p.random.Shuffle(len(changes), func(i, k int) { changes[i], changes[k] = changes[k], changes[i] })
		changes = changes[:(len(changes)+p.every-1)/p.every]
	}
	d := kin.Slopes{At: make([]float64, sw.Size()*len(changes))}
	for _, c := range changes {
		d.Directions = append(d.Directions, c.dir)
	}
	s := p.prog.NewState()
	kintest.Found(p.link, s)
	if f := s.SetDesign(p.points); f.Status != kin.OK {
		t.Fatalf("at design %s", p.prog.Describe(f))
	}
	out := make([]float64, sw.Size())
	if _, f := s.RunSlopes(sw, out, &d); f.Status != kin.OK {
		t.Fatalf("%s: %s at %v", tr.name, p.prog.Describe(f), f.At)
	}
	bad := 0
	for k, c := range changes {
		at := func(h float64) []float64 {
			v := make([]float64, sw.Size())
			if f := c.do(s, h); f.Status != kin.OK {
				t.Fatalf("%s by %g: %s", c.name, h, p.prog.Describe(f))
			}
			if _, f := s.Run(sw, v); f.Status != kin.OK {
				t.Fatalf("%s: %s by %g: %s at %v", tr.name, c.name, h, p.prog.Describe(f), f.At)
			}
			return v
		}
		slopes, doubts := slopesOf(at, sw.Size())
		for i, v := range out {
			col := columnAt(sw, i)
			if col == nil {
				continue // where a least value is
			}
			got := d.At[i*len(changes)+k]
			if math.IsNaN(v) || math.IsNaN(slopes[i]) || doubts[i] > 1e-7*math.Max(math.Abs(slopes[i]), col.Measure.Scale) {
				continue
			}
			p.probed[col.Measure.Name] = true
			if diff := math.Abs(got - slopes[i]); !(diff <= 1e-6*math.Max(math.Abs(slopes[i]), col.Measure.Scale)) {
				if bad++; bad < 12 {
					t.Errorf("%s %v: d %s / d %s is %.9g, probed %.9g ± %.1g", tr.name, placeAt(tr.motion, i, len(p.columns)), col.Name, c.name, got, slopes[i], doubts[i])
				}
			}
		}
	}
	if bad > 0 {
		t.Errorf("%s: %d derivatives are wrong", tr.name, bad)
	}
}

// slopesOf is kintest.Slope of many values at once.
func slopesOf(f func(h float64) []float64, n int) (slopes, doubts []float64) {
	h := 0.2
	var d [3][]float64
	for i := range d {
		a, b := f(h), f(-h)
		d[i] = make([]float64, n)
		for k := range n {
			d[i][k] = (a[k] - b[k]) / (2 * h)
		}
		h /= 2
	}
	slopes, doubts = make([]float64, n), make([]float64, n)
	for k := range n {
		a, b := (4*d[1][k]-d[0][k])/3, (4*d[2][k]-d[1][k])/3
		slopes[k] = (16*b - a) / 15
		doubts[k] = math.Abs(slopes[k] - b)
	}
	return slopes, doubts
}

// columnAt returns the column of a value of a sweep, least values included; nil for what says where a least value is.
func columnAt(sw *kin.Sweep, i int) *kin.Column {
	if n := len(sw.Motion.Positions); i < n*len(sw.Columns) {
		return &sw.Columns[i/n]
	}
	for c := range sw.Columns {
		if at, ok := sw.Least(c); ok && at == i {
			return &sw.Columns[c]
		}
	}
	return nil
}

// placeAt says at which position a value is.
func placeAt(m *kin.Motion, i, columns int) string {
	if n := len(m.Positions); i < n*columns {
		return fmt.Sprint(m.Positions[i%n])
	}
	return "the least"
}

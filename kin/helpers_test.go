package kin_test

import (
	"math"
	"slices"
	"testing"

	"trammel/kin"
	"trammel/kin/kintest"

	"gonum.org/v1/gonum/spatial/r3"
)

const deg = math.Pi / 180

// tester is what *testing.T and *rapid.T have in common.
type tester interface {
	Helper()
	Fatalf(format string, args ...any)
	Errorf(format string, args ...any)
}

// corner is a compiled linkage with a state at its design.
type corner struct {
	t    tester
	link *kin.Linkage
	prog *kin.Program
	s    *kin.State
	both []kin.Column // once asked for
}

func newCorner(t tester, l *kin.Linkage) *corner {
	t.Helper()
	prog, err := kin.Compile(l)
	if err != nil {
		t.Fatalf("compile: %v", err)
	}
	c := &corner{t: t, link: l, prog: prog, s: prog.NewState()}
	kintest.Found(l, c.s)
	if f := c.s.SetDesign(prog.Points()); f.Status != kin.OK {
		t.Fatalf("design: %s", prog.Describe(f))
	}
	return c
}

// columns finds columns by name; without names, all.
func (c *corner) columns(names ...string) []kin.Column {
	c.t.Helper()
	if len(names) == 0 {
		return c.prog.Columns()
	}
	var out []kin.Column
	for _, n := range names {
		col, err := c.prog.Column(n)
		if err != nil {
			c.t.Fatalf("%v", err)
		}
		out = append(out, col)
	}
	return out
}

// run returns out[column][position].
func (c *corner) run(at []kin.Position, names ...string) [][]float64 {
	c.t.Helper()
	cols := c.columns(names...)
	sw := c.prog.NewSweep(kin.NewMotion("test", kin.BothWheels, false, at), cols)
	out := make([]float64, sw.Size())
	if _, f := c.s.Run(sw, out); f.Status != kin.OK {
		c.t.Fatalf("at %v: %s", f.At, c.prog.Describe(f))
	}
	rows := make([][]float64, len(cols))
	for i := range rows {
		rows[i] = out[i*len(at) : (i+1)*len(at)]
	}
	return rows
}

// one returns the measures at one position, and leaves the state there.
func (c *corner) one(z, rack float64, names ...string) []float64 {
	c.t.Helper()
	rows := c.run([]kin.Position{{Wheel: z, Rack: rack}}, names...)
	out := make([]float64, len(rows))
	for i := range rows {
		out[i] = rows[i][0]
	}
	return out
}

// get returns one measure at one position, and leaves the state there.
func (c *corner) get(z, rack float64, name string) float64 {
	c.t.Helper()
	return c.one(z, rack, name)[0]
}

// near fails unless got is within tol of want.
func near(t tester, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.12g, want %.12g (off by %.3g, allowed %.3g)", what, got, want, got-want, tol)
	}
}

// wrap brings an angle in degrees into (-180, 180].
func wrap(a float64) float64 {
	return a - 360*math.Ceil((a-180)/360)
}

// rodrigues turns v about the unit axis k by angle.
func rodrigues(v, k r3.Vec, angle float64) r3.Vec {
	s, c := math.Sincos(angle)
	return r3.Add(r3.Add(r3.Scale(c, v), r3.Scale(s, r3.Cross(k, v))), r3.Scale((1-c)*r3.Dot(k, v), k))
}

// carried returns where the point of the drawn side's carrier that is at q at design stands now.
func (c *corner) carried(q r3.Vec) r3.Vec { return c.s.Carry(carrierOf(c.link), kin.Left, q) }

// carrierOf returns the name of the body that holds the wheel.
func carrierOf(l *kin.Linkage) string {
	kingpin := slices.ContainsFunc(l.Members, func(m kin.Member) bool { return m.Kind == kin.Kingpin })
	if beam(l) && !kingpin {
		return kin.Axle
	}
	return kin.Upright
}

// angles returns the angle of every arm and rocker of the drawn side at a position, in degrees, and leaves the
// state there.
func (c *corner) angles(z, rack float64) map[string]float64 {
	c.t.Helper()
	out := map[string]float64{}
	names, of := []string{"wheel_travel"}, []string{""}
	for _, m := range c.link.Members {
		if m.Kind == kin.Arm || m.Kind == kin.Rocker {
			names, of = append(names, m.Name+".angle"), append(of, m.Name)
		}
	}
	for i, v := range c.one(z, rack, names...) {
		out[of[i]] = v
	}
	return out
}

func at(l *kin.Linkage, name string) r3.Vec {
	for _, p := range l.Points {
		if p.Name == name {
			return p.At
		}
	}
	panic("no point " + name)
}

var _ tester = (*testing.T)(nil)

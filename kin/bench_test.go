package kin_test

import (
	"fmt"
	"testing"

	"trammel/kin"
	"trammel/kin/kintest"

	"gonum.org/v1/gonum/spatial/r3"
)

// runner returns a state at design and a sweep of 41 positions of heave with the columns given.
func runner(b *testing.B, l *kin.Linkage, names ...string) (*kin.State, *kin.Sweep, []float64) {
	prog, err := kin.Compile(l)
	if err != nil {
		b.Fatal(err)
	}
	s := prog.NewState()
	if f := s.SetDesign(prog.Points()); f.Status != kin.OK {
		b.Fatal(prog.Describe(f))
	}
	var columns []kin.Column
	for _, n := range names {
		c, err := prog.Column(n)
		if err != nil {
			b.Fatal(err)
		}
		columns = append(columns, c)
	}
	sw := prog.NewDesignSweep(kin.NewMotion("heave", kin.BothWheels, false, kintest.Line(41, 50, 0)), columns)
	return s, sw, make([]float64, sw.Size())
}

// BenchmarkPosition solves a 41-position heave sweep of one side: position and first and second
// derivatives, every rod closed, no measures but the travel. ns/position is what a position costs, design excluded.
func BenchmarkPosition(b *testing.B) {
	layouts := append([]kintest.Layout{{Name: "wishbones", Link: kintest.Pushrod()}}, kintest.Axles()...)
	layouts = append(layouts, kintest.Layouts()[len(kintest.Layouts())-1])
	for _, l := range layouts {
		b.Run(l.Name, func(b *testing.B) {
			s, sw, out := runner(b, l.Link, "wheel_travel")
			b.ReportAllocs()
			for b.Loop() {
				if _, f := s.Run(sw, out); f.Status != kin.OK {
					b.Fatal(f)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/41, "ns/position")
		})
	}
}

// BenchmarkSlopes runs the same sweep with the measures of an ordinary study, plain and with all their derivatives in
// several directions, each a coordinate of a point.
func BenchmarkSlopes(b *testing.B) {
	columns := []string{"camber", "toe", "damper.length", "damper.installation_ratio", "roll_centre_height", "caster_trail"}
	b.Run("plain", func(b *testing.B) {
		s, sw, out := runner(b, kintest.Pushrod(), columns...)
		b.ReportAllocs()
		for b.Loop() {
			s.Run(sw, out)
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/41, "ns/position")
	})
	for _, n := range []int{1, 20, 100} {
		b.Run(fmt.Sprintf("directions=%d", n), func(b *testing.B) {
			s, sw, out := runner(b, kintest.Pushrod(), columns...)
			prog, _ := kin.Compile(kintest.Pushrod())
			var d kin.Slopes
			for i := range n {
				var dir kin.Direction
				prog.Move(&dir, i/3%len(prog.Points()), [3]r3.Vec{{Y: 1}, {Z: 1}, {X: 1}}[i%3])
				d.Directions = append(d.Directions, dir)
			}
			d.At = make([]float64, len(out)*len(d.Directions))
			b.ReportAllocs()
			for b.Loop() {
				s.RunSlopes(sw, out, &d)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/41, "ns/position")
		})
	}
}

// BenchmarkClearances runs 41 positions of heave with a column each: the travel alone, each clearance at the positions, and all
// of them with their leasts. What a clearance costs at a position is ns/position less that of the travel.
func BenchmarkClearances(b *testing.B) {
	for _, layout := range []kintest.Layout{{Name: "corner", Link: kintest.Roomy()}, {Name: "axle", Link: kintest.RoomyAxle()}} {
		prog, err := kin.Compile(layout.Link)
		if err != nil {
			b.Fatal(err)
		}
		s := prog.NewState()
		if f := s.SetDesign(prog.Points()); f.Status != kin.OK {
			b.Fatal(prog.Describe(f))
		}
		run := func(name string, motion *kin.Motion, columns ...kin.Column) {
			b.Run(layout.Name+"/"+name, func(b *testing.B) {
				sw := prog.NewDesignSweep(motion, columns)
				out := make([]float64, sw.Size())
				b.ReportAllocs()
				for b.Loop() {
					s.Run(sw, out)
				}
				b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/41, "ns/position")
			})
		}
		at := kintest.Line(41, 44, 0)
		places, heave := kin.NewPlaces("heave", kin.BothWheels, false, at), kin.NewMotion("heave", kin.BothWheels, false, at)
		var clear []kin.Column
		for _, c := range prog.Columns() {
			switch {
			case c.Name == "wheel_travel":
				run("travel", places, c)
			case c.Measure.Name == "clearance":
				run(c.Member, places, c)
				clear = append(clear, c)
			}
		}
		run("all", places, clear...)
		run("all with their leasts", heave, clear...)
	}
}

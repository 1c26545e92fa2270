package kin_test

import (
	"testing"

	"trammel/kin"
	"trammel/kin/kintest"
)

// BenchmarkPosition solves a 41-position heave sweep of one corner: position and first and second
// derivatives, no measures but toe's slope. ns/position is what a position costs, design excluded.
func BenchmarkPosition(b *testing.B) {
	prog, err := kin.Compile(kintest.Pushrod())
	if err != nil {
		b.Fatal(err)
	}
	s := prog.NewState()
	if f := s.SetDesign(prog.Points()); f.Status != kin.OK {
		b.Fatal(prog.Describe(f))
	}
	col, err := prog.Column("wheel_travel")
	if err != nil {
		b.Fatal(err)
	}
	sw := prog.NewSweep(kin.NewMotion("heave", kin.BothWheels, false, kintest.Line(41, 60, 0)), []kin.Column{col})
	out := make([]float64, sw.Size())
	b.ReportAllocs()
	for b.Loop() {
		if _, f := s.Run(sw, out); f.Status != kin.OK {
			b.Fatal(prog.Describe(f))
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/41, "ns/position")
}

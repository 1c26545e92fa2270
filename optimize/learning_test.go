package optimize

import (
	"math"
	"testing"
)

// What one generation teaches: a better trial replaces its member, which goes to the archive; an equal one
// replaces it, which does not; a worse one is dropped. The memory takes the means of the settings that
// succeeded, weighted by relative gain: of Lehmer for F, arithmetic for CR (Tanabe and Fukunaga 2013,
// equations 9 to 13).
func TestLearning(t *testing.T) {
	space := &Space{Dims: []Dim{{Name: "a", Low: 0, High: 1_000_000, PerUnit: 1000}, {Name: "b", Low: 0, High: 1_000_000, PerUnit: 1000}}}
	o := DefaultEvolution(space)
	o.Population, o.Islands = 6, 1
	e, err := NewDifferentialEvolution(space, o)
	if err != nil {
		t.Fatal(err)
	}
	s := e.Start(0, 0).(*evolving)
	points := s.Propose(nil, 1000)
	outcomes := make([]Outcome, len(points))
	for i := range points {
		outcomes[i] = Outcome{X: points[i].X, Score: 3}
	}
	outcomes[4] = Outcome{X: points[4].X, Status: Folds, Reached: 0.5}
	outcomes[5] = Outcome{X: points[5].X, Status: OverLimit, Violation: 2}
	s.Learn(outcomes)
	if len(s.island.archive) != 0 || s.island.slot != 0 {
		t.Fatalf("a first generation leaves %d in the archive and moves the memory to %d", len(s.island.archive), s.island.slot)
	}

	before := make([][]float64, 6)
	for i := range before {
		before[i] = append([]float64(nil), s.island.members[i].x...)
	}
	points = s.Propose(nil, 1000)
	set := append([]trial(nil), s.trials...)
	for i := range points {
		outcomes[i] = Outcome{X: points[i].X, Score: 3}
	}
	outcomes[0].Score = 1                                                  // gains 2/4
	outcomes[1].Score = 4                                                  // worse
	outcomes[3] = Outcome{X: points[3].X, Status: OverLimit}               // worse
	outcomes[4] = Outcome{X: points[4].X, Status: OverLimit, Violation: 1} // rises a class: gains 1
	outcomes[5] = Outcome{X: points[5].X, Status: OverLimit, Violation: 1} // gains 1/3
	s.Learn(outcomes)

	equal := func(a, b []float64) bool { return a[0] == b[0] && a[1] == b[1] }
	for i, replaced := range []bool{true, false, true, false, true, true} {
		want := before[i]
		if replaced {
			want = points[i].X
		}
		if m := &s.island.members[i]; !equal(m.x, want) || (m.run == RunNumber(1, 0, 6+i)) != replaced {
			t.Errorf("member %d is %v, run %d", i, m.x, m.run)
		}
	}
	if a := s.island.archive; len(a) != 3 || !equal(a[0], before[0]) || !equal(a[1], before[4]) || !equal(a[2], before[5]) {
		t.Errorf("the archive is %v", a)
	}
	var gain, f, f2, cr float64
	for i, g := range map[int]float64{0: 0.5, 4: 1, 5: 1.0 / 3} {
		gain += g
		f += g * set[i].scale
		f2 += g * set[i].scale * set[i].scale
		cr += g * set[i].crossing
	}
	if math.Abs(s.island.scale[0]-f2/f) > 1e-15 || math.Abs(s.island.crossing[0]-cr/gain) > 1e-15 || s.island.slot != 1 {
		t.Errorf("the memory is %v, %v; F %g and CR %g succeeded", s.island.scale, s.island.crossing, f2/f, cr/gain)
	}
}

// The archive never outgrows the population, and its members are points that were members.
func TestArchiveIsBounded(t *testing.T) {
	space := &Space{Dims: []Dim{{Name: "a", Low: 0, High: 1_000_000, PerUnit: 1000}}}
	o := DefaultEvolution(space)
	o.Population, o.Islands, o.Generations = 5, 1, 40
	e, err := NewDifferentialEvolution(space, o)
	if err != nil {
		t.Fatal(err)
	}
	s := e.Start(0, 0).(*evolving)
	seen := map[float64]bool{}
	score := 1e6
	for range 40 {
		points := s.Propose(nil, 5)
		outcomes := make([]Outcome, len(points))
		for i := range points {
			score /= 2 // every trial is better than all before
			outcomes[i] = Outcome{X: points[i].X, Score: score}
			seen[points[i].X[0]] = true
		}
		s.Learn(outcomes)
		for _, x := range s.island.archive {
			if !seen[x[0]] {
				t.Fatalf("%v in the archive has never been a member", x)
			}
		}
	}
	if len(s.island.archive) != 5 {
		t.Errorf("%d members in the archive of a population of 5", len(s.island.archive))
	}
}

package optimize

import (
	"math"
	"testing"
)

// The critical distance of Rinnooy Kan and Timmer (1987), equation 3 with σ = 4, by hand: in the plane it is
// the radius of a disc of area σ ln N / N, since Γ(2) = 1; on a line half of that length; in space
// the ball's radius.
func TestCriticalDistance(t *testing.T) {
	share := 4 * math.Log(200) / 200
	for d, volume := range map[int]func(r float64) float64{
		1: func(r float64) float64 { return 2 * r },
		2: func(r float64) float64 { return math.Pi * r * r },
		3: func(r float64) float64 { return 4 * math.Pi / 3 * r * r * r },
		4: func(r float64) float64 { return math.Pi * math.Pi / 2 * r * r * r * r },
	} {
		if v := volume(critical(200, d)); math.Abs(v-share) > 1e-12 {
			t.Errorf("in %d dimensions the ball holds %g of the box, not %g", d, v, share)
		}
	}
	if critical(1, 3) != 0 {
		t.Error("one point keeps others away")
	}
}

// A candidate is a start unless a better one or an answer lies near, and none that failed or was used is.
func TestStartsOfAPool(t *testing.T) {
	space := &Space{Dims: []Dim{{Name: "a", High: 1000, PerUnit: 1000}}}
	o := DefaultRefine(space)
	o.Together, o.Searches, o.Enough = 8, 8, 1 // 1: the distance is never halved
	r, err := NewRefine(space, o)
	if err != nil {
		t.Fatal(err)
	}
	at := func(level int64, score float64) candidate {
		return candidate{level: []int64{level}, rank: rank{0, score, 0}}
	}
	r.known.sampled = 200 // critical distance 0.053
	r.known.pool = []candidate{at(100, 1), at(140, 2), at(160, 3), at(400, 4), at(700, 5), at(900, 6), {level: []int64{550}, rank: rank{2, 0, 0}}}
	r.known.pool[5].used = true
	r.known.answers = []finding{{level: []int64{690}, hits: 1}}
	r.known.trim(r)
	r.choose(1)
	var got []int64
	for _, c := range r.starts {
		got = append(got, c.level[0])
	}
	// 140 lies by 100; 160 lies by 140, which is better though no start; 700 lies by an answer.
	if len(got) != 2 || got[0] != 100 || got[1] != 400 {
		t.Errorf("starts at %v", got)
	}
}

// The pool keeps the best of every combination of choices.
func TestPoolKeepsEveryCombination(t *testing.T) {
	space := &Space{Dims: []Dim{{Name: "a", High: 100_000, PerUnit: 1000}}, Choices: []Choice{{Name: "c", Options: []string{"x", "y"}}}}
	r, err := NewRefine(space, DefaultRefine(space))
	if err != nil {
		t.Fatal(err)
	}
	for i := range int64(2 * maxPool) {
		r.known.pool = append(r.known.pool, candidate{level: []int64{i}, choice: []int{0}, rank: rank{0, float64(i), 0}})
	}
	r.known.pool = append(r.known.pool, candidate{level: []int64{5}, choice: []int{1}, rank: rank{1, 9, 0}})
	r.known.trim(r)
	if n := len(r.known.pool); n != maxPool/2+1 || r.known.pool[n-1].choice[0] != 1 || r.known.pool[maxPool/2-1].rank.first != maxPool/2-1 {
		t.Errorf("%d candidates are kept", n)
	}
}

package optimize

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The three rules of Deb (2000), section 3, and ours on failures, best first.
func TestBetterRules(t *testing.T) {
	order := []Outcome{
		{Status: OK, Score: 1, Violation: 0},
		{Status: OK, Score: 2},
		{Status: OK, Score: math.Inf(1)},
		{Status: OK, Score: math.NaN()},
		{Status: OverLimit, Violation: 0.1, Score: 9},
		{Status: OverLimit, Violation: 0.2, Score: 0},
		{Status: OverLimit, Violation: 0.2, Score: 1},
		{Status: OverLimit, Violation: 12.4 + 2e-14, Score: 2}, // as much as the next: rounding tells nothing
		{Status: OverLimit, Violation: 12.4, Score: 3},
		{Status: OverLimit, Violation: 12.4 + 2e-9, Score: 1},
		{Status: OverLimit, Violation: math.NaN()},
		{Status: Folds, Reached: 0.9, Score: -1},
		{Status: CannotAssemble, Reached: 0.5},
		{Status: BadGeometry, Reached: 0},
	}
	for i := range order {
		for j := range order {
			if got := Better(&order[i], &order[j]); got != (i < j) {
				t.Errorf("Better of %+v and %+v is %v", order[i], order[j], got)
			}
		}
	}
}

// Better is a strict weak order: never both ways, and transitive, also in what it calls equal.
func TestBetterIsAnOrder(t *testing.T) {
	number := rapid.SampledFrom([]float64{0, 1, 1 + 4e-10, 1 + 8e-10, 2, -1, math.NaN(), math.Inf(1), math.Inf(-1)})
	outcome := rapid.Custom(func(t *rapid.T) Outcome {
		return Outcome{Status: rapid.SampledFrom(Statuses()).Draw(t, "status"), Score: number.Draw(t, "score"), Violation: number.Draw(t, "violation"), Reached: number.Draw(t, "reached")}
	})
	rapid.Check(t, func(t *rapid.T) {
		a, b, c := outcome.Draw(t, "a"), outcome.Draw(t, "b"), outcome.Draw(t, "c")
		if Better(&a, &a) || Better(&a, &b) && Better(&b, &a) {
			t.Fatal("better both ways")
		}
		if Better(&a, &b) && Better(&b, &c) && !Better(&a, &c) {
			t.Fatal("not transitive")
		}
		if !Better(&a, &b) && !Better(&b, &a) && Better(&a, &c) != Better(&b, &c) {
			t.Fatal("equals rank differently")
		}
	})
}

// Every status and standing has a word of its own and a sentence.
func TestTablesAreWhole(t *testing.T) {
	words := map[string]bool{}
	check := func(word, sentence string) {
		t.Helper()
		if word == "" || words[word] || len(sentence) < 10 || sentence[len(sentence)-1] != '.' {
			t.Errorf("%q says %q; each needs a word of its own and a sentence", word, sentence)
		}
		words[word] = true
	}
	for _, s := range Statuses() {
		check(s.String(), s.Sentence())
	}
	for _, s := range Standings() {
		check(s.String(), s.Sentence())
	}
	for _, k := range PlanKinds() {
		check(k.String(), k.Sentence())
	}
	check(Status(200).String(), Status(200).Sentence())
	if OK.Failed() || OverLimit.Failed() || !CannotAssemble.Failed() || !Folds.Failed() || !BadGeometry.Failed() {
		t.Error("Failed is wrong about a status")
	}
}

package files

import (
	"reflect"
	"testing"
)

// TestSearches: every kind of search is read with its defaults, and a trade with the places of its targets.
func TestSearches(t *testing.T) {
	got := mustStudy(t, "good/searches.yaml").Stages
	want := []Stage{
		{Kind: Refine, Locals: 50},
		{Kind: Search, Method: "cma-es", Runs: 3000, Islands: 4},
		{Kind: Search, Method: "cma-es", Runs: 3000, Islands: 2},
		{Kind: Search, Method: "differential-evolution", Runs: 3000, Islands: 8},
		{Kind: Trade, Runs: DefaultTradeRuns, Islands: 8, Between: []int{2, 0}},
		{Kind: Trade, Runs: 5000, Islands: 3, Between: []int{1, 2, 0}},
	}
	for i := range got {
		got[i].Pos = Position{}
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
}

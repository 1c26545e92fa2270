package studies

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"trammel/optimize"
	"trammel/studies/files"
)

// Search says what the local searches of a study came to.
type Search struct {
	Stage    int     `json:"stage"`
	Searches int     `json:"searches"`
	Answers  int     `json:"answers"`
	Unseen   float64 `json:"chance_of_unseen"` // that one more search would end at an answer not seen yet
	Partly   bool    `json:"only_some_choices,omitempty"`
}

// Front is the best compromises between the targets of a trade.
type Front struct {
	Stage   int          `json:"stage"`
	Targets []string     `json:"targets"`
	Points  []FrontPoint `json:"points"` // in order of the first target
	Volume  []float64    `json:"hypervolume"`
	Beyond  []float64    `json:"reference"` // of the hypervolume, a miss for each target
}

// FrontPoint is one compromise: the miss of each target of the trade.
type FrontPoint struct {
	Run    int64     `json:"run"`
	Misses []float64 `json:"misses"`
	Score  float64   `json:"score"`
	Knee   bool      `json:"knee,omitempty"`
}

// factFound is the key in the manifest under which found stands.
const factFound = "answers"

// found is what the last refinement of a study has come to, as the manifest keeps it.
type found struct {
	Answers []optimize.Answer `json:"answers"` // the best, at most foundKept
	Unseen  optimize.Unseen   `json:"unseen"`
	Partly  bool              `json:"partly"`
}

const foundKept = 64

// foundBy asks a refinement.
func foundBy(r *optimize.Refine) found {
	all := r.Answers()
	return found{all[:min(len(all), foundKept)], r.Unseen(), r.Partly()}
}

// keepFound writes down what the local searches of this session have come to, prices included.
func (r *runner) keepFound() error {
	if r.refine == nil {
		return nil
	}
	return r.folder.SetFact(factFound, foundBy(r.refine))
}

// lastOf returns the number of the last stage of a kind; 0 when there is none.
func (st *Study) lastOf(kind files.StageKind) int {
	for i := len(st.File.Stages); i > 0; i-- {
		if st.File.Stages[i-1].Kind == kind {
			return i
		}
	}
	return 0
}

// refined asks the study's last refinement for its answers and says what became of it; nil when it has none, or
// when the runs are scored by other targets. Each answer is solved again: what keeps every limit, and what it
// scores, is never taken from a search's word.
func (a *Archive) refined(ans *Answer) []optimize.Answer {
	number := a.Study.lastOf(files.Refine)
	if number == 0 || a.re != nil {
		return nil
	}
	// While it runs the states say most; they may be gone, and then the manifest has what a session ended with.
	var f found
	stage, bad := a.Study.ended(a.view, number)
	if r, ok := stage.(*optimize.Refine); ok {
		f = foundBy(r)
	} else if has, err := a.view.Fact(factFound, &f); err != nil || !has && bad != nil {
		ans.Notes = append(ans.Notes, fmt.Sprintf("What the local searches found, and its prices, cannot be told: %s.", cmp.Or(err, bad)))
		return nil
	}
	kept, refused := a.checked(f.Answers)
	ans.Notes = append(ans.Notes, refused...)
	if u := f.Unseen; u.Searches > 0 {
		ans.Search = &Search{number, u.Searches, u.Answers, u.Chance, f.Partly}
	}
	return kept
}

// checked solves answers again and returns those that are what they are said to be, and a sentence about each
// that is not.
func (a *Archive) checked(answers []optimize.Answer) (kept []optimize.Answer, refused []string) {
	for _, x := range answers {
		if err := a.Study.Space.Allows(&x.Point); err != nil {
			refused = append(refused, fmt.Sprintf("Run %d is refused as an answer: %s.", x.Run, err))
			continue
		}
		var o optimize.Outcome
		a.e.Evaluate(&x.Point, &o)
		switch claim := &x.Outcome; {
		case o.Status != claim.Status:
			refused = append(refused, fmt.Sprintf("Run %d is refused as an answer: the search has it as %s, and solved again it is %s.", x.Run, claim.Status, o.Status))
		case !agree(o.Score, claim.Score) || !agree(o.Violation, claim.Violation):
			refused = append(refused, fmt.Sprintf("Run %d is refused as an answer: the search gives it a score of %s, and solved again it has %s.", x.Run, short(claim.Score), short(o.Score)))
		default:
			kept = append(kept, x)
		}
	}
	return kept, refused
}

// agree tells whether two numbers agree but for rounding.
func agree(a, b float64) bool { return math.Abs(a-b) <= 1e-9*(1+math.Abs(a)) }

// front asks the study's last trade for its front; nil when there is none. Each point is solved again, and what
// does not keep every limit then is left out, with a sentence.
func (a *Archive) front(ans *Answer) *Front {
	st := a.Study
	number := st.lastOf(files.Trade)
	if number == 0 || a.re != nil {
		return nil
	}
	stage, err := st.ended(a.view, number)
	if err != nil {
		ans.Notes = append(ans.Notes, fmt.Sprintf("The front of the trade cannot be told: %s.", err))
		return nil
	}
	t, ok := stage.(*optimize.Trade)
	if !ok {
		return nil
	}
	f := &Front{Stage: number, Beyond: t.Reference()}
	between := st.File.Stages[number-1].Between
	for _, k := range between {
		f.Targets = append(f.Targets, st.File.Targets[k].Name)
	}
	var misses [][]float64
	for _, p := range t.Front() {
		var o optimize.Outcome
		a.e.Evaluate(&optimize.Point{X: p.X, Choice: p.Choice}, &o)
		if o.Status != optimize.OK {
			ans.Notes = append(ans.Notes, fmt.Sprintf("Run %d is refused as a point of the front: solved again it is %s.", p.Run, o.Status))
			continue
		}
		x := FrontPoint{Run: p.Run, Score: o.Score}
		for _, k := range between {
			x.Misses = append(x.Misses, a.e.result.Targets[k].Miss)
		}
		if n := len(misses); n > 0 && slices.Equal(misses[n-1], x.Misses) {
			continue // numbers differ that these targets do not see
		}
		f.Points = append(f.Points, x)
		misses = append(misses, x.Misses)
	}
	if k := optimize.Knee(misses); k >= 0 {
		f.Points[k].Knee = true
	}
	for _, v := range t.History() {
		f.Volume = append(f.Volume, v.Volume)
	}
	return f
}

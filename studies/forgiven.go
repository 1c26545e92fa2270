package studies

import (
	"fmt"
	"math"
	"strings"

	"trammel/kin"
	"trammel/objectives"
	"trammel/optimize"
	"trammel/studies/files"

	"gonum.org/v1/gonum/spatial/r3"
)

// builtCars is how many cars are built with errors to see whether first derivatives told the truth of an answer.
const builtCars = 1024

// doubtful is by what part of it the loss of built cars may differ from the first order before the answer says so.
const doubtful = 0.1

// Built is what becomes of a robust target when the car is built with errors. A loss is the square of a miss.
type Built struct {
	Error    float64  `json:"error"`       // no coordinate of a part errs by more, in Unit
	Unit     string   `json:"unit"`        // the file's
	Drawn    float64  `json:"drawn"`       // loss as drawn
	Expected float64  `json:"first_order"` // loss expected by first derivatives, which the score counts
	Sampled  *float64 `json:"sampled"`     // mean loss of the cars that assemble; null where none does
	Cars     int      `json:"cars"`        // built, with errors that are the same for every candidate
	Failed   int      `json:"failed"`      // of these do not go through every motion
	Stops    []Stop   `json:"stops,omitempty"`
}

// built says of a candidate's robust targets what becomes of them in cars built with errors, in their order: the whole
// solver's word, at common points of a scrambled Sobol sequence, without any derivative.
func (e *Evaluator) built(p *optimize.Point, cars int) []Built {
	fg := e.st.forgive
	if fg == nil {
		return nil
	}
	var o optimize.Outcome
	q := *p
	q.Derivatives = false
	if e.Evaluate(&q, &o); o.Status.Failed() {
		return nil
	}
	units := e.st.File.Geometry.Units
	out := make([]Built, len(fg.targets))
	for k, t := range fg.targets {
		r := e.result.Targets[t]
		out[k] = Built{Error: units.Value(e.st.File.Geometry.Build.Error), Unit: units.String(), Drawn: r.Drawn * r.Drawn, Expected: r.Miss * r.Miss, Cars: cars}
	}
	sums := make([]float64, len(out))
	failed, where := e.buildCars(cars, sums)
	for k := range out {
		out[k].Failed, out[k].Stops = failed, where
		if failed < cars {
			out[k].Sampled = value(sums[k] / float64(cars-failed))
		}
	}
	return out
}

// buildCars adds the losses of so many cars of the geometry that was placed last, by robust target, and returns how many
// of them do not go through every motion, and where those stop.
func (e *Evaluator) buildCars(cars int, sums []float64) (failed int, where []Stop) {
	fg, stuck := e.st.forgive, stops{st: e.st}
	var errs []int // part points that err
	parts := e.st.Program.PartPoints()
	for i := range parts {
		if parts[i].Owner != "" {
			errs = append(errs, i)
		}
	}
	scatter, u := optimize.NewScatter(3*len(errs), e.st.File.Seed), make([]float64, 3*len(errs))
	by := make([]r3.Vec, len(parts))
	r, res := make([]float64, len(fg.built.R)), fg.built.NewResult()
	off := func(u float64) float64 { return fg.bound * (2*u - 1) }
	for car := range cars {
		scatter.At(u, uint32(car))
		for k, i := range errs {
			by[i] = r3.Vec{X: off(u[3*k]), Y: off(u[3*k+1]), Z: off(u[3*k+2])}
		}
		if motion, f := e.buildCar(by); f.Status != kin.OK {
			failed++
			stuck.add(motion, e.tellFailure(f).reason, f.At)
			continue
		}
		fg.built.Evaluate(e.forgive.values, fg.start, r, nil, res)
		for k := range sums {
			sums[k] += res.Targets[k].Miss * res.Targets[k].Miss
		}
	}
	return failed, stuck.sorted()
}

// buildCar moves a car whose parts err through the motions of the robust targets. A failure has the motion, "" where the car does
// not even assemble.
func (e *Evaluator) buildCar(by []r3.Vec) (motion string, f kin.Failure) {
	if f = e.state.SetDesign(e.points); f.Status != kin.OK {
		return "", f
	}
	if f = e.state.SetBuild(by); f.Status != kin.OK {
		return "", f
	}
	for j, sw := range e.st.forgive.sweeps {
		if _, f = e.state.Run(sw, e.forgive.values[j]); f.Status != kin.OK {
			return sw.Motion.Name, f
		}
	}
	return "", f
}

// forgiving adds to a verdict what becomes of its robust targets in built cars.
func (a *Archive) forgiving(v *Verdict, p *optimize.Point) {
	for k, b := range a.e.built(p, builtCars) {
		v.Targets[a.Study.forgive.targets[k]].Built = &b
	}
}

// forgives says what build errors do to the robust targets of the best answer.
func (ans *Answer) forgives(b *strings.Builder) {
	first := true
	for i := range ans.Answers[0].Targets {
		t := &ans.Answers[0].Targets[i]
		if t.Built == nil {
			continue
		}
		if first {
			fmt.Fprintf(b, "\nBuilt with errors of up to %s %s along each axis, in every point of every part (%s cars; loss: the square of the miss; nothing adjusted):\n",
				decimals(t.Built.Error), t.Built.Unit, thousands(int64(t.Built.Cars)))
			fmt.Fprint(b, t.Built.jammed())
			first = false
		}
		var was *Built
		if ans.Design != nil {
			was = ans.Design.Targets[i].Built
		}
		fmt.Fprintf(b, "  %s\n", t.Built.sentence(t.Name, was))
	}
}

// jammed says how many built cars do not go through every motion, and where most of them stop; "" where all go through.
func (b *Built) jammed() string {
	if b.Failed == 0 {
		return ""
	}
	text := fmt.Sprintf("  %s of %s built cars do not go through every motion, and the losses leave them out: ", thousands(int64(b.Failed)), thousands(int64(b.Cars)))
	var says []string
	for i := range b.Stops[:min(len(b.Stops), stopsTold)] {
		says = append(says, fmt.Sprintf("%s stop %s", thousands(b.Stops[i].Runs), b.Stops[i].where()))
	}
	return text + strings.Join(says, "; ") + ".\n"
}

// sentence says what a build error does to a target, and did to it at design.
func (b *Built) sentence(name string, was *Built) string {
	if b.Sampled == nil {
		return fmt.Sprintf("%s: its loss is %s as drawn, and no built car goes through every motion; make build: {error: ...} or the motions smaller.", name, lossOf(b.Drawn))
	}
	text := fmt.Sprintf("%s: its loss is %s as drawn and %s on average over built cars (first order %s)", name, lossOf(b.Drawn), lossOf(*b.Sampled), lossOf(b.Expected))
	if was != nil && was.Sampled != nil {
		text += fmt.Sprintf("; the design's is %s and %s", lossOf(was.Drawn), lossOf(*was.Sampled))
	}
	text += "."
	if math.Abs(*b.Sampled-b.Expected) > doubtful*math.Max(*b.Sampled, b.Expected) {
		text += " The first order, which the score counts, is too rough for errors of this size."
	}
	return text
}

// lossOf says a loss; what rounding leaves is none.
func lossOf(x float64) string {
	if x < 1e-12 {
		return "0"
	}
	return short(x)
}

// asBuilt adds to what `check` says of a target what is expected of it in a built car; "" where it is not robust.
func (st *Study) asBuilt(r *objectives.TargetResult, i int) string {
	if !st.Objective.Targets[i].Robust {
		return ""
	}
	return fmt.Sprintf("; as built a miss of %s is expected", rounded(r.Miss, 2))
}

// robust says what as built means, and which robust targets count an error that the workshop sets right: static toe and
// camber are adjusted once the car stands on its wheels (common practice, no source).
func (c *check) robust(st *Study) {
	fg := st.forgive
	if fg == nil {
		return
	}
	names := make([]string, len(fg.targets))
	for k, i := range fg.targets {
		names[k] = st.targets[i].Name
	}
	are := "is robust"
	if len(names) > 1 {
		are = "are robust"
	}
	c.line("%s %s: what counts is the miss expected of a car in which every point of every part is up to %s off along each axis.", list(names), are, c.length(fg.bound))
	for _, i := range fg.targets {
		t := st.targets[i]
		if name := t.Of.First.Name; t.Of.Sign == 0 && (name == "toe" || name == "camber") && t.Shape != files.Even && t.Shape != files.Straight && t.Shape != files.Rising && t.Shape != files.Falling {
			c.line("Mind that %s counts the error of %s at design too, which a workshop sets right afterwards; even: true, or a slope such as bump_steer, leaves it out.", t.Name, name)
		}
	}
}

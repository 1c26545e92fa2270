package studies

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"runtime"
	"slices"
	"strings"

	"trammel/optimize"
)

// Fewest is a geometry that does what a run does with fewer numbers moved: what it does without was put back as drawn, and the others
// were searched anew.
type Fewest struct {
	Of      int64        `json:"of"`       // the run
	AsDrawn []string     `json:"as_drawn"` // what moved in the run and stays here, in the order in which it was put back
	Needed  int          `json:"needed"`   // how many numbers and choices still differ from the design
	Score   float64      `json:"score"`
	Moved   []Moved      `json:"moved"`
	Points  []MovedPoint `json:"points"`
	Lengths []Eyes       `json:"lengths,omitempty"`
	Runs    int64        `json:"runs"` // solved to find it; they are in no record
	Short   bool         `json:"cut_short,omitempty"`

	at *optimize.Point
}

// How much worse a geometry with fewer numbers moved may be, and how long it is sought.
const (
	asGood      = 1e-3    // of the score
	asGoodLeast = 1e-6    // of any score
	asGoodFree  = 0.1     // the part of that which is no reason to prefer one number to another
	fewestPoses = 100_000 // solved with derivatives, after which it ends
	fewestAside = 8       // things are put back side by side
)

// putBack is something that moved, and what it costs to put it back.
type putBack struct {
	what  int // index of the number, or behind the numbers of the choice
	score float64
	at    *optimize.Point // with it put back
	round int             // how many others were back already when it was tried
}

// dropping puts back what moved, one after the other.
type dropping struct {
	st    *Study
	held  []bool // by number, and behind the numbers by choice: as drawn
	at    *optimize.Point
	met   []bool // targets that stay met
	most  float64
	score float64
	poses int64 // solved
	runs  int64
}

// fewest finds which of the numbers that moved in a run need not have moved: by backward elimination, as terms of a
// regression are left out. Each number in turn is held as
// drawn, all else that moved is searched from where it stands, and the one without which the score rises least stays held, as
// long as that keeps every limit, every target that was met, and the score within a thousandth. Of several that cost next to nothing the
// one goes first that leaves a point where it was drawn. What cannot be put back now cannot be later, with less to make up for it, and is not tried
// again; a rise once found is the least that it can be later, so that it is found again only for the next in line. It is nil where nothing can be put back, and where the run breaks a limit.
func (st *Study) fewest(run int64, p *optimize.Point) *Fewest {
	e := st.NewEvaluator()
	var o optimize.Outcome
	e.Evaluate(p, &o)
	if o.Status != optimize.OK {
		return nil
	}
	d := &dropping{st: st, at: p, score: o.Score, most: o.Score + max(asGood*o.Score, asGoodLeast)}
	for i := range e.result.Targets {
		d.met = append(d.met, e.result.Targets[i].Met)
	}
	f := &Fewest{Of: run}
	queue := d.moved()
	for i := 0; i < len(queue); i += fewestAside {
		if f.Short = d.poses > fewestPoses; f.Short {
			queue = queue[:i]
			break
		}
		d.try(queue[i:min(i+fewestAside, len(queue))])
	}
	for {
		queue = slices.DeleteFunc(queue, func(b putBack) bool { return !(b.score <= d.most) })
		if len(queue) == 0 {
			break
		}
		slices.SortFunc(queue, func(a, b putBack) int {
			return cmp.Or(cmp.Compare(d.rise(&a), d.rise(&b)), cmp.Compare(d.frees(b.what), d.frees(a.what)), cmp.Compare(a.score, b.score), a.what-b.what)
		})
		b := &queue[0]
		if b.round < len(f.AsDrawn) {
			if d.poses > fewestPoses {
				f.Short = true
				break
			}
			b.round = len(f.AsDrawn)
			d.try(queue[:1])
			continue
		}
		d.held[b.what], d.at, d.score = true, b.at, b.score
		f.AsDrawn = append(f.AsDrawn, d.name(b.what))
		queue = queue[1:]
	}
	if f.AsDrawn == nil {
		return nil
	}
	f.Score, f.Runs, f.at = d.score, d.runs, d.at
	for i := range d.held {
		if !d.held[i] && d.stands(i) {
			f.Needed++
		}
	}
	return f
}

// moved holds what did not move, and lists what did and may stand as drawn: a design may lie outside of its range.
func (d *dropping) moved() (queue []putBack) {
	space := &d.st.Space
	d.held = make([]bool, space.Size())
	for i := range d.held {
		d.held[i] = !d.stands(i)
		if d.held[i] || i < len(space.Dims) && (space.Dims[i].Design < space.Dims[i].Low || space.Dims[i].Design > space.Dims[i].High) {
			continue
		}
		queue = append(queue, putBack{what: i})
	}
	return queue
}

// stands tells whether a number or choice differs from the design.
func (d *dropping) stands(what int) bool {
	space := &d.st.Space
	if k := what - len(space.Dims); k >= 0 {
		return d.at.Choice[k] != space.Choices[k].Design
	}
	return space.Quanta(what, d.at.X[what]) != space.Dims[what].Design
}

func (d *dropping) name(what int) string {
	space := &d.st.Space
	if k := what - len(space.Dims); k >= 0 {
		return space.Choices[k].Name
	}
	return space.Dims[what].Name
}

// rise is by how much the score rises, in steps that are worth telling apart.
func (d *dropping) rise(b *putBack) float64 {
	free := asGoodFree * max(asGood*d.score, asGoodLeast)
	return math.Floor(max(b.score-d.score, 0) / free)
}

// frees is how many points stay as drawn once something is put back.
func (d *dropping) frees(what int) (n int) {
	others := map[int]bool{}
	for i := range d.held {
		if i == what || d.held[i] {
			continue
		}
		for _, k := range d.st.movedBy(i) {
			others[k] = true
		}
	}
	for _, k := range d.st.movedBy(what) {
		if !others[k] {
			n++
		}
	}
	return n
}

// movedBy returns the points that a number, or behind the numbers a choice, moves.
func (st *Study) movedBy(what int) (points []int) {
	k := what - len(st.Space.Dims)
	if k < 0 {
		return st.moves[what].points
	}
	for _, option := range st.choices[k].options {
		for _, at := range option {
			points = append(points, at.point)
		}
	}
	return points
}

// try finds what it costs to put back each of some things alone.
func (d *dropping) try(queue []putBack) {
	type tried struct {
		putBack
		runs int64
	}
	blocks := make([]int, len(queue))
	for i := range blocks {
		blocks[i] = i
	}
	workers := min(runtime.GOMAXPROCS(0), len(queue))
	_, err := optimize.Map(context.Background(), optimize.Pool{Workers: workers, Window: 2 * workers}, blocks, func(_ context.Context, _, i int) (tried, error) {
		b := queue[i]
		runs := d.without(&b)
		return tried{b, runs}, nil
	}, func(i int, t tried) error {
		queue[i] = t.putBack
		d.runs += t.runs
		d.poses += t.runs * int64(d.st.poses)
		return nil
	})
	if err != nil {
		panic(err) // nothing of the above returns one
	}
}

// without puts one thing back and searches what is not held from there. The score is infinite where that comes to nothing.
func (d *dropping) without(b *putBack) (runs int64) {
	held := slices.Clone(d.held)
	held[b.what] = true
	fixed, from := *d.st, &optimize.Point{X: slices.Clone(d.at.X), Choice: slices.Clone(d.at.Choice)}
	fixed.Space.Dims = slices.Clone(d.st.Space.Dims)
	for i := range held {
		if k := i - len(fixed.Space.Dims); k >= 0 {
			if held[i] {
				from.Choice[k] = fixed.Space.Choices[k].Design
			}
			continue
		}
		if n := &fixed.Space.Dims[i]; held[i] {
			n.Low, n.High = n.Design, n.Design
			from.X[i] = fixed.Space.Value(i, n.Design)
		}
	}
	b.score, b.at = math.Inf(1), nil
	e := fixed.NewEvaluator()
	var o optimize.Outcome
	o.X = append(o.X, from.X...)
	e.Evaluate(from, &o)
	score, at := o.Score, from
	runs = 1
	if o.Status != optimize.OK || d.rise(&putBack{score: o.Score}) > 0 {
		var more int64
		score, at, more, _ = settle(&fixed, from, math.Inf(1))
		runs += more
		o.Reset()
		o.X = append(o.X, at.X...)
		e.Evaluate(at, &o)
	}
	if o.Status != optimize.OK || !agree(o.Score, score) {
		return runs
	}
	for i, met := range d.met {
		if met && !e.result.Targets[i].Met {
			return runs
		}
	}
	b.score, b.at = score, at
	return runs
}

// fewest says how the best answer may be had with fewer numbers moved.
func (a *Archive) fewest(run int64, p *optimize.Point) *Fewest {
	f := a.Study.fewest(run, p)
	if f == nil {
		return nil
	}
	v, _ := a.verdict(run, f.at)
	f.Moved, f.Points, f.Lengths = v.Moved, v.Points, v.Lengths
	return f
}

// enough writes which of the moved numbers may as well stay as drawn.
func (ans *Answer) enough(b *strings.Builder) {
	f := ans.Fewest
	if f == nil {
		return
	}
	best := &ans.Answers[0]
	g := ans.archive.Study.File.Geometry
	fmt.Fprintf(b, "\nFewest parts moved: %s may stay as drawn. With the others searched anew the score is %s (run %d: %s), and every limit is kept.\n", and(f.AsDrawn), short(f.Score), f.Of, short(best.Score))
	if len(f.Points) == 0 {
		b.WriteString("Nothing has to move then.\n")
	} else {
		fmt.Fprintf(b, "What moves then, in the file's axes and unit (%s):\n", g.Units)
		shifts(b, f.Points, f.Moved)
	}
	if len(f.Lengths) > 0 {
		fmt.Fprintf(b, "And eye to eye (%s):\n", g.Units)
		welds(b, f.Lengths)
	}
	if f.Short {
		b.WriteString("The search for it was cut short; still fewer may do.\n")
	}
}

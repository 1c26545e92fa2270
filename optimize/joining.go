package optimize

import (
	"fmt"
	"math"
	"slices"

	"trammel/optimize/leastsquares"
)

// Models say where two ends of searches may lie in one valley; whether they do is seen on the way from one to the other. So every
// few rounds of local searches one follows that joins: it searches from no start, but walks between the ends of every answer.
//
// A way is cut at its middle: the number that changes most is held there and all others are refined, from the straight way.
// What comes to the ends' score, or little above, lies in the valley, and the two halves are ways again, down to an eighth of
// a box. What does not has met a hump, and the ends are answers of their own. This is the test for a hill between two points of
// R. K. Ursem, "Multinational evolutionary algorithms", Congress on Evolutionary Computation (1999) 1633-1640 (from memory), with the
// straight way replaced by one along the floor, since valleys are curved.
const (
	joinEvery  = 4     // rounds of searches before one that joins
	wayHump    = 1e-2  // share of the ends' score that a hump rises above the higher one; less is none
	wayShort   = 0.125 // of a box: a way is cut no further when no number changes by more
	wayPlaces  = 15    // a way is cut at most so often
	joinAmong  = 64    // so many of the best answers are compared with each other
	ridgeNoise = 2     // levels: a number that changes by less has none between
)

// withJoins returns the rounds of a stage that has so many of searches: one that joins follows every few, and the last.
func withJoins(searches int) int { return searches + (searches+joinEvery-1)/joinEvery }

// RefineRounds returns after how many rounds a refinement has made so many searches, and joined what they found.
func RefineRounds(searches, together int) int { return withJoins((searches + together - 1) / together) }

// joins tells whether a round joins.
func (r *Refine) joins(round int) bool {
	return round >= 0 && (round%(joinEvery+1) == joinEvery || round == r.rounds-1)
}

// way leads between two ends.
type way struct {
	i, j     int // nodes
	from, to *finding
	sure     bool // neighbours: there is nothing to look at
}

// node is an end of an answer: its best, or one that only models say belongs to it.
type node struct {
	*finding
	answer int
}

// nodes returns the ends of all answers, the best of each before its others.
func (k *knowledge) nodes() (nodes []node) {
	for a := range k.answers {
		f := &k.answers[a]
		nodes = append(nodes, node{f, a})
		for i := range f.ends {
			nodes = append(nodes, node{&f.ends[i], a})
		}
	}
	return nodes
}

// waysOf returns ways that join the ends of every answer, and answers that tie, by the least distances: the trees of R. C. Prim,
// "Shortest connection networks and some generalizations", Bell System Technical Journal 36 (1957) 1389-1401.
func (r *Refine) waysOf(k *knowledge) (ways []way) {
	type link struct {
		far  float64
		from int
	}
	nodes, among := k.nodes(), r.foremost(k)
	nearest, joined := make([]link, len(nodes)), make([]bool, len(nodes))
	for i := range nearest {
		nearest[i] = link{math.Inf(1), 0}
	}
	for range nodes {
		// The nearest to what is joined; where nothing is near, the first of another tree.
		at := -1
		for i := range nodes {
			if !joined[i] && (at < 0 || nearest[i].far < nearest[at].far) {
				at = i
			}
		}
		if from := nearest[at].from; !math.IsInf(nearest[at].far, 1) {
			ways = append(ways, way{from, at, nodes[from].finding, nodes[at].finding, nearest[at].far == 0})
		}
		joined[at] = true
		for i := range nodes {
			a, b := &nodes[at], &nodes[i]
			if joined[i] || a.answer != b.answer && !(among[a.answer] && among[b.answer] && r.tie(&k.answers[a.answer], &k.answers[b.answer])) {
				continue
			}
			far := r.distance(a.level, b.level)
			if r.neighbours(a.level, b.level) {
				far = 0
			}
			if far < nearest[i].far {
				nearest[i] = link{far, at}
			}
		}
	}
	return ways
}

// foremost tells of every answer whether it is among the best, which are compared with each other.
func (r *Refine) foremost(k *knowledge) []bool {
	order := make([]int, len(k.answers))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch x, y := &k.answers[a].rank, &k.answers[b].rank; {
		case x.before(y):
			return -1
		case y.before(x):
			return 1
		}
		return 0
	})
	among := make([]bool, len(order))
	for _, a := range order[:min(len(order), joinAmong)] {
		among[a] = true
	}
	return among
}

// waysFor returns the ways that a block of the round looks at.
func (r *Refine) waysFor(block int) []way { return dealt(r.ways, block, r.options.Together) }

// dealt returns the share of a block in the ways that are to be looked at.
func dealt(ways []way, block, blocks int) (out []way) {
	n := 0
	for _, w := range ways {
		if w.sure {
			continue
		}
		if n%blocks == block {
			out = append(out, w)
		}
		n++
	}
	return out
}

// wayVerdict is what the look at a way has come to.
type wayVerdict uint8

const (
	wayOpen   wayVerdict = iota // no hump was met
	wayHumped                   // one was, or a place where nothing can be assembled or kept within limits
	wayUnseen                   // the rows were spent: it is taken for what the models say
)

// joining is the searcher of a block that joins.
type joining struct {
	r            *Refine
	round, block int
	number       int64 // of the block, counted through the stage
	ways         []way

	index    int          // rows proposed so far
	verdicts []wayVerdict // of the ways before the one looked at
	better   []wayBest    // what was found on a way and ranks before both of its ends, one for each such way
	rows     int          // spent on this way
	path     [][]int64    // of this way: places in the valley, from end to end
	places   int          // where it has been cut
	at       int          // the piece of the path whose middle is searched, while solver is not nil
	first    int          // index of the first row there
	solver   *leastsquares.Solver
}

// wayBest is the best place on a way.
type wayBest struct {
	way int // of the block's
	finding
}

func (r *Refine) newJoining(round, block int) *joining {
	return &joining{r: r, round: round, block: block, number: r.number(round, block), ways: r.waysFor(block)}
}

// bar returns the score above which there is a hump.
func (w *way) bar() float64 {
	most := max(w.from.score, w.to.score)
	return most + max(wayHump*math.Abs(most), valleyNil)
}

// Propose appends the next places on the way.
func (s *joining) Propose(dst []Point, budget int) []Point {
	for len(s.verdicts) < len(s.ways) {
		if s.solver == nil {
			if v, done := s.cut(); done {
				s.close(v)
				continue
			}
		}
		asked := s.solver.Ask()
		switch {
		case len(asked) == 0:
			s.close(wayHumped)
			continue
		case len(asked) > min(budget, s.allowed()-s.rows):
			s.close(wayUnseen)
			continue
		}
		w := &s.ways[len(s.verdicts)]
		parent := w.from.run
		if base := s.solver.Base(); base >= 0 {
			parent = RunNumber(s.r.options.Stage, s.number, s.first+base)
		}
		for _, x := range asked {
			var p *Point
			dst, p = extend(dst, s.r.space)
			s.r.point(p, x, w.from.choice)
			p.Derivatives, p.Parent, p.Iteration = s.solver.Derivatives(), parent, s.solver.Steps
		}
		s.index += len(asked)
		s.rows += len(asked)
		return dst
	}
	return dst
}

// allowed returns the rows that the way may take: an even share of what those before it have left.
func (s *joining) allowed() int {
	return (s.r.joinRows() - (s.index - s.rows)) / (len(s.ways) - len(s.verdicts))
}

// joinRows returns the rows that a block has for its ways.
func (r *Refine) joinRows() int { return (r.options.Rows + 1) / 2 }

// cut begins the search of the middle of the longest piece, or says what is known when none is long.
func (s *joining) cut() (v wayVerdict, done bool) {
	if w := &s.ways[len(s.verdicts)]; s.path == nil {
		s.path = [][]int64{w.from.level, w.to.level}
	}
	longest := 0.0
	for i := range len(s.path) - 1 {
		if _, far := s.r.longest(s.path[i], s.path[i+1]); far > longest {
			s.at, longest = i, far
		}
	}
	switch {
	case longest == 0 || longest <= wayShort && s.places > 0:
		return wayOpen, true
	case s.places == wayPlaces: // it leads to and fro
		return wayHumped, true
	}
	s.places++
	s.first = s.index
	p, x := s.middle()
	s.solver = leastsquares.New(p, s.r.options.Local, x)
	return 0, false
}

// longest returns the number that changes most from one place to another, and by how much of its box; 0 where no level lies
// between.
func (r *Refine) longest(a, b []int64) (d int, far float64) {
	for i := range a {
		if by := math.Abs(float64(a[i] - b[i])); by >= ridgeNoise && by/r.local.Scale[i] > far {
			d, far = i, by/r.local.Scale[i]
		}
	}
	return d, far
}

// middle returns the search of the middle of a piece: where it begins, and the problem with one number held.
func (s *joining) middle() (p leastsquares.Problem, x []float64) {
	a, b := s.path[s.at], s.path[s.at+1]
	x = make([]float64, len(a))
	for i := range a {
		x[i] = float64((a[i] + b[i]) / 2)
	}
	d, _ := s.r.longest(a, b)
	p = s.r.local
	p.Low, p.High = slices.Clone(p.Low), slices.Clone(p.High)
	p.Low[d], p.High[d] = x[d], x[d]
	return p, x
}

// close ends the look at a way.
func (s *joining) close(v wayVerdict) {
	s.verdicts = append(s.verdicts, v)
	s.rows, s.path, s.places, s.solver = 0, nil, 0, nil
}

// Learn takes a place into the path if it lies no higher than the bar, and goes on searching if not.
func (s *joining) Learn(outcomes []Outcome) {
	s.keep(outcomes)
	bar := s.ways[len(s.verdicts)].bar()
	var evaluations []leastsquares.Evaluation
	for i := range outcomes {
		o := &outcomes[i]
		if o.Status == OK && o.Score <= bar {
			s.path = slices.Insert(s.path, s.at+1, s.r.levels(nil, o.X))
			s.solver = nil
			return
		}
		evaluations = append(evaluations, s.r.evaluation(o))
	}
	s.solver.Tell(evaluations)
}

// keep keeps the best place of the way that ranks before its ends.
func (s *joining) keep(outcomes []Outcome) {
	at := len(s.verdicts)
	for i := range outcomes {
		o := &outcomes[i]
		k := o.rank()
		if w := &s.ways[at]; !k.before(&w.from.rank) || !k.before(&w.to.rank) {
			continue
		}
		n := len(s.better)
		if n == 0 || s.better[n-1].way != at {
			s.better = append(s.better, wayBest{at, finding{rank: rank{class: unranked}}})
			n++
		}
		if f := &s.better[n-1].finding; k.before(&f.rank) {
			run := RunNumber(s.r.options.Stage, s.number, s.index-len(outcomes)+i)
			*f = finding{level: s.r.levels(nil, o.X), choice: s.ways[at].from.choice, rank: k, run: run, start: run, score: o.Score, violation: o.Violation, overLimits: o.Status == OverLimit, valley: run}
		}
	}
}

// take lets a better place of the same valley stand for an answer. What limits cost it is told as long as it is much the same.
func (f *finding) take(g *finding) {
	if !g.rank.before(&f.rank) {
		return
	}
	if math.Abs(f.score-g.score) > max(valleyScore*math.Abs(f.score), valleyNil) {
		f.bounds, f.limits, f.left = nil, nil, 0
	}
	f.level, f.rank, f.run = g.level, g.rank, g.run
	f.score, f.violation, f.overLimits = g.score, g.violation, g.overLimits
}

// Standing returns RoundOver when every way has been looked at.
func (s *joining) Standing() Standing {
	if len(s.verdicts) == len(s.ways) {
		return RoundOver
	}
	return GoesOn
}

// meetJoined parts the answers whose ends have a hump between them, and makes one of the others.
func (r *Refine) meetJoined(round int, states [][]byte) error {
	var known knowledge
	var ways []way
	blocks := make([]*joining, len(states))
	for i, b := range states {
		s := &joining{r: r, round: round, block: i, number: r.number(round, i)}
		before, err := s.restore(b, func(k *knowledge) []way {
			if i == 0 {
				ways = r.waysOf(k)
			}
			return dealt(ways, i, len(states))
		})
		if err != nil {
			return fmt.Errorf("block %d: %w", i, err)
		}
		if i == 0 {
			known = before
		}
		s.Propose(nil, 0) // the rows of the block were spent: end what was under way
		blocks[i] = s
	}
	known.settle(r, ways, blocks)
	r.known, r.met = known, round+1
	r.choose(round + 1)
	return nil
}

// settle makes answers of what hangs together.
func (k *knowledge) settle(r *Refine, ways []way, blocks []*joining) {
	nodes := k.nodes()
	part := make([]int, len(nodes)) // of each node, the first that it hangs together with
	for i := range part {
		part[i] = i
	}
	join := func(w *way) {
		low, high := min(part[w.i], part[w.j]), max(part[w.i], part[w.j])
		for i := range part {
			if part[i] == high {
				part[i] = low
			}
		}
	}
	for i := range ways {
		if ways[i].sure {
			join(&ways[i])
		}
	}
	var humps [][2]int
	for _, s := range blocks {
		for n, v := range s.verdicts {
			w := &s.ways[n]
			switch {
			case v == wayOpen || v == wayUnseen && nodes[w.i].answer == nodes[w.j].answer:
				join(w)
			case v == wayHumped:
				humps = append(humps, [2]int{w.i, w.j})
			}
		}
	}
	var elsewhere []finding // beyond a hump
	for _, s := range blocks {
		for i := range s.better {
			b := &s.better[i]
			if w := &s.ways[b.way]; part[w.i] == part[w.j] {
				w.from.take(&b.finding)
			} else {
				elsewhere = append(elsewhere, b.finding)
			}
		}
	}

	// Each part is an answer. The best of an old answer keeps its name, and that of the first is the name of a part.
	at := make([]int, len(nodes)) // of each first node, its part
	var parts []finding
	for i, n := range nodes {
		one := n.alone()
		if i > 0 && nodes[i-1].answer == n.answer {
			one.valley, one.apart = n.start, nil
		}
		if part[i] == i {
			at[i], parts = len(parts), append(parts, one)
		} else {
			f := &parts[at[part[i]]]
			*f = f.with(&one, true)
		}
	}
	for _, h := range humps {
		parted(&parts[at[part[h[0]]]], &parts[at[part[h[1]]]])
	}
	for i, first := 0, 0; i < len(nodes); i++ { // what was one answer and has come apart stays so
		if nodes[i].answer != nodes[first].answer {
			first = i
		}
		for j := first; j < i; j++ {
			parted(&parts[at[part[i]]], &parts[at[part[j]]])
		}
	}
	k.answers = nil
	for i := range parts {
		k.add(r, &parts[i])
	}
	for i := range elsewhere {
		k.add(r, &elsewhere[i])
	}
}

// parted notes that two answers have a hump between them.
func parted(a, b *finding) {
	if a != b && !slices.Contains(a.apart, b.valley) {
		a.apart = append(slices.Clip(a.apart), b.valley)
		b.apart = append(slices.Clip(b.apart), a.valley)
	}
}

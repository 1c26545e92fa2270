package optimize

import (
	"cmp"
	"math"
	"slices"
)

// polishing is the searcher of one island of a trade in a round of polish: it takes its share of the front
// and brings one point after the other down, and then points between neighbours, where gaps are widest.
type polishing struct {
	t          *Trade
	number     int   // of the island
	block      int64 // counted through the stage
	budget     int   // rows it has in this round
	generation int
	index      int // rows proposed in this round
	queue      []trader
	turn       int      // place in the queue of the point under way
	results    []trader // points that are better than those they came from, or done
	shared     shared   // of the first island
	job        *job     // nil between two points

	moving  []int // numbers without steps
	d, u, b []float64
	descent descent
}

// polishRows is how many rows an island has in a round of polish, jobSteps how many one point has.
const polishRows, jobSteps = 60, 20

// job is one point on its way down.
type job struct {
	at      trader    // unranked before it has been evaluated
	trial   []float64 // proposed next; at.x as long as its derivatives are not known
	known   bool
	damping float64
	refused bool // the last step made an aim worse
	steps   int

	weights  []float64   // of the aims in the mean whose curvature is used
	gradient [][]float64 // of the logarithm of every aim, in coordinates from 0 to 1
	curve    [][]float64 // Gauss-Newton matrix of each, n×n
	limits   []float64   // values of the limits that are close
	slopes   [][]float64 // and their gradients
}

func (t *Trade) startPolish(round, block int, common shared) *polishing {
	s := &polishing{t: t, number: block, block: t.plan.block(round, block), shared: common, generation: t.shared.generation}
	s.budget = t.Budget(round, block)
	turn := 0
	deal := func(m trader) {
		if turn%t.options.Islands == block {
			s.queue = append(s.queue, m)
		}
		turn++
	}
	for i := range t.shared.archive {
		if m := &t.shared.archive[i]; !m.done {
			deal(m.copy())
		}
	}
	stream := NewStream(Key{Seed: t.options.Seed, Stage: t.options.Stage, Block: s.block})
	pairs := t.shared.gaps(t.options.Islands * polishRows)
	for i := 0; len(pairs) > 0 && i < t.options.Islands*polishRows; i++ { // over and over, while there are rows
		pair := pairs[i%len(pairs)]
		stream.Seek(uint64(i))
		if m, ok := t.between(&t.shared.archive[pair[0]], &t.shared.archive[pair[1]], 0.25+0.5*stream.Float64()); ok {
			deal(m)
		}
	}
	s.moving = t.continuous()
	n := len(s.moving)
	s.d, s.u, s.b = make([]float64, n), make([]float64, n), make([]float64, n*n)
	return s
}

// between returns the unranked point a share of the way from a to b; false if they differ in more than
// numbers without steps, or the point is one of them.
func (t *Trade) between(a, b *trader, share float64) (trader, bool) {
	m := a.copy()
	m.rank, m.done = rank{class: unranked}, false
	clear(m.f)
	for d := range m.x {
		if a.x[d] != b.x[d] && t.space.stepped(d) {
			return m, false
		}
		m.x[d] += share * (b.x[d] - a.x[d])
	}
	t.space.Snap(m.x, m.x)
	m.hash = hashPoint(m.x, m.choice)
	return m, slices.Equal(a.choice, b.choice) && m.hash != a.hash && m.hash != b.hash
}

// continuous returns the numbers that steps along derivatives may move.
func (t *Trade) continuous() (at []int) {
	for i := range t.space.Dims {
		if !t.space.stepped(i) {
			at = append(at, i)
		}
	}
	return at
}

// ends returns the lowest value of dimension d and how far its range reaches above that.
func (s *Space) ends(d int) (low, wide float64) {
	low = s.Value(d, s.Level(d, 0))
	return low, s.Value(d, s.Level(d, s.Levels(d)-1)) - low
}

// Propose appends one point: each step needs what the one before has found.
func (s *polishing) Propose(dst []Point, budget int) []Point {
	if s.job == nil && s.turn < len(s.queue) && len(s.moving) > 0 {
		m := len(s.t.options.Aims)
		s.job = &job{at: s.queue[s.turn].copy(), damping: 1e-3, weights: slices.Repeat([]float64{1 / float64(m)}, m)}
		s.job.trial = slices.Clone(s.job.at.x)
	}
	if s.job == nil || budget == 0 || s.index >= s.budget {
		return dst
	}
	dst, p := extend(dst, s.t.space)
	copy(p.X, s.job.trial)
	copy(p.Choice, s.job.at.choice)
	p.Derivatives, p.Parent, p.Iteration = true, s.job.at.run, s.generation
	s.index++
	s.generation++
	return dst
}

// Learn takes a step that makes no aim worse and one better, and makes the next shorter after one that
// does not.
func (s *polishing) Learn(outcomes []Outcome) {
	j := s.job
	if len(outcomes) == 0 || j == nil {
		return
	}
	out := &outcomes[0]
	m := trader{member: member{x: slices.Clone(out.X), choice: slices.Clone(j.at.choice), rank: out.rank()}, f: make([]float64, len(j.at.f))}
	m.hash = hashPoint(m.x, m.choice)
	m.run = RunNumber(s.t.options.Stage, s.block, s.index-1)
	if m.rank.class == 0 {
		for k := range m.f {
			m.f[k] = s.t.options.Aims[k].value(out.R)
		}
	}
	j.steps++
	if j.at.rank.class == unranked { // a point between two others
		if m.rank.class != 0 || !finite(m.f) {
			s.job = nil
			s.turn++
			return
		}
		j.at = m
		s.results = append(s.results, m)
	}
	switch better := m.rank.class == 0 && finite(m.f) && Dominates(m.f, j.at.f); {
	case !j.known || better:
		if better {
			j.at = m
			if !j.refused {
				j.damping = max(j.damping/5, 1e-12)
			}
			j.refused = false
			s.results = append(s.results, m)
		}
		if m.rank.class != 0 || !s.study(out) {
			s.finish(true)
			if len(out.JR) == 0 {
				s.turn = len(s.queue) // derivatives are not to be had
			}
			return
		}
	default:
		j.refused = true
		j.damping = max(8*j.damping, 1e-6)
	}
	switch {
	case !s.advance():
		s.finish(true)
	case j.steps >= jobSteps:
		s.finish(j.at.run == s.queue[s.turn].run) // if it has not moved at all
	}
}

// finish ends the work on a point, for good or for this round.
func (s *polishing) finish(done bool) {
	at := s.job.at
	at.done = done
	if n := len(s.results); n > 0 && s.results[n-1].hash == at.hash {
		s.results[n-1] = at
	} else if len(s.results) < polishRows {
		s.results = append(s.results, at)
	}
	s.job = nil
	s.turn++
}

// nearLimit is how close to its bound a limit must be, over its scale, to be minded by a step: the closest, as
// many as there are numbers.
const nearLimit = 0.05

// strict is what limits are multiplied with, so that a step hardly gives way to them before they are reached.
const strict = 100

// study keeps what the derivatives say; false when there are none or an aim is perfect.
func (s *polishing) study(out *Outcome) bool {
	j, space := s.job, s.t.space
	n, all := len(s.moving), len(space.Dims)
	if len(out.JR) != len(out.R)*all || len(out.JG) != len(out.G)*all {
		return false
	}
	j.known, j.gradient, j.curve, j.limits, j.slopes = true, nil, nil, nil, nil
	row := make([]float64, n)
	scaled := func(jacobian []float64, i int) {
		for a, d := range s.moving {
			_, wide := space.ends(d)
			row[a] = jacobian[i*all+d] * wide
		}
	}
	for k := range s.t.options.Aims {
		aim := &s.t.options.Aims[k]
		if !(j.at.f[k] > 0) {
			return false
		}
		g, c := make([]float64, n), make([]float64, n*n)
		share := aim.Scale / (j.at.f[k] * j.at.f[k])
		for _, i := range aim.Rows {
			scaled(out.JR, i)
			for a, v := range row {
				g[a] += share * out.R[i] * v
				for b, w := range row {
					c[a*n+b] += share * v * w
				}
			}
		}
		if !finite(g) || !finite(c) {
			return false
		}
		j.gradient, j.curve = append(j.gradient, g), append(j.curve, c)
	}
	var tight []int
	for i, v := range out.G {
		if v >= -nearLimit {
			tight = append(tight, i)
		}
	}
	slices.SortStableFunc(tight, func(a, b int) int { return cmp.Compare(out.G[b], out.G[a]) })
	for _, i := range tight[:min(len(tight), n)] {
		scaled(out.JG, i)
		if !finite(row) {
			return false
		}
		for a := range row {
			row[a] *= strict
		}
		j.limits, j.slopes = append(j.limits, strict*min(out.G[i], 0)), append(j.slopes, slices.Clone(row))
	}
	return true
}

// leastGain is the share by which a step must promise to lower every aim.
const leastGain = 1e-6

// advance sets the next trial; false when there is nowhere to go.
func (s *polishing) advance() bool {
	j, space := s.job, s.t.space
	refused := slices.Clone(j.trial)
	for range 8 {
		if !(s.descend() < -leastGain) { // perhaps the box cuts all long steps off
			j.damping = max(30*j.damping, 1e-3)
			continue
		}
		copy(j.trial, j.at.x)
		for a, d := range s.moving {
			low, wide := space.ends(d)
			j.trial[d] = low + min(max((j.at.x[d]-low)/wide+s.d[a], 0), 1)*wide
		}
		space.Snap(j.trial, j.trial)
		if slices.Equal(j.trial, j.at.x) {
			return false
		}
		if !j.refused || !slices.Equal(j.trial, refused) {
			return true
		}
		j.damping *= 8
	}
	return false
}

// descend finds the d that makes the greatest of the quadratic models of the aims least, and returns that
// greatest. It goes by steps on what the models are like around the d before: first with the curvature of the
// mean that decided the step before, which is quick, then with the sum of all curvatures, which never
// overshoots, each until two steps in a row are in vain, and keeps the best it has met.
func (s *polishing) descend() float64 {
	j, space, n := s.job, s.t.space, len(s.moving)
	from, e, best := make([]float64, n), make([]float64, n), make([]float64, n)
	for a, d := range s.moving {
		low, wide := space.ends(d)
		from[a] = (j.at.x[d] - low) / wide
	}
	clear(s.d)
	least, vain, sure := 0.0, 0, false
	for range 2 * descents {
		if vain == 2 {
			if sure {
				break
			}
			vain, sure = 0, true
			copy(s.d, best)
		}
		s.around()
		for a := range n {
			s.u[a] = from[a] + s.d[a]
		}
		s.bend(sure)
		s.descent.step(e, s.u, s.b)
		s.weigh()
		for a := range e {
			s.d[a] = min(max(s.u[a]+e[a], 0), 1) - from[a]
		}
		now := s.greatest()
		if !(now < least) { // bounds may have cut off what made the step good: only as far as the first of them
			far := 1.0
			for a, x := range e {
				if x < 0 {
					far = min(far, s.u[a]/-x)
				} else if x > 0 {
					far = min(far, (1-s.u[a])/x)
				}
			}
			for a, x := range e {
				s.d[a] = min(max(s.u[a]+far*x, 0), 1) - from[a]
			}
			now = s.greatest()
		}
		vain++
		if now < least {
			if now < 1.001*least {
				vain = 0
			}
			least = now
			copy(best, s.d)
		}
	}
	copy(s.d, best)
	return least
}

// descents is half of how many steps descend takes at most.
const descents = 8

// around sets up what the aims and limits are like at d.
func (s *polishing) around() {
	j := s.job
	s.descent.slopes, s.descent.heights = s.descent.slopes[:0], s.descent.heights[:0]
	for k := range j.gradient {
		slope := make([]float64, len(s.d))
		s.descent.heights = append(s.descent.heights, s.model(k, slope))
		s.descent.slopes = append(s.descent.slopes, slope)
	}
	for i, g := range j.slopes {
		s.descent.heights, s.descent.slopes = append(s.descent.heights, s.limit(i)), append(s.descent.slopes, g)
	}
}

// greatest returns the greatest of the models of the aims at d, infinity where that of a limit is broken.
func (s *polishing) greatest() float64 {
	for i := range s.job.slopes {
		if s.limit(i) > 0 {
			return math.Inf(1)
		}
	}
	most, slope := math.Inf(-1), make([]float64, len(s.d))
	for k := range s.job.gradient {
		most = max(most, s.model(k, slope))
	}
	return most
}

// model returns the quadratic model of aim k at d, 0 where d is, and stores its slope there.
func (s *polishing) model(k int, slope []float64) (v float64) {
	j, n := s.job, len(s.d)
	for a := range n {
		bent := 0.0
		for b, c := range j.curve[k][a*n : a*n+n] {
			bent += c * s.d[b]
		}
		v += s.d[a] * (j.gradient[k][a] + (bent+j.damping*s.d[a])/2)
		slope[a] = j.gradient[k][a] + bent + j.damping*s.d[a]
	}
	return v
}

// limit returns the linear model of limit i at d.
func (s *polishing) limit(i int) float64 {
	v := s.job.limits[i]
	for a, g := range s.job.slopes[i] {
		v += g * s.d[a]
	}
	return v
}

// weigh takes over the weights of the aims that the last step was found with.
func (s *polishing) weigh() {
	j, sum := s.job, 0.0
	for k := range j.weights {
		sum += s.descent.weights[k]
	}
	for k := range j.weights {
		j.weights[k] = 1 / float64(len(j.weights))
		if sum > 0.01 {
			j.weights[k] = 0.99*s.descent.weights[k]/sum + 0.01*j.weights[k]
		}
	}
}

// bend makes the matrix of the next step: the weighed mean of those of the aims, or their sum, and the damping.
func (s *polishing) bend(sum bool) {
	j, n := s.job, len(s.moving)
	clear(s.b)
	for k, c := range j.curve {
		w := j.weights[k]
		if sum {
			w = 1
		}
		for i, v := range c {
			s.b[i] += w * v
		}
	}
	trace := 0.0
	for i := range n {
		trace += s.b[i*n+i] / float64(n)
	}
	for i := range n {
		s.b[i*n+i] += j.damping + 1e-12*trace
	}
}

// Standing returns RoundOver when the round's rows are spent or its points are done.
func (s *polishing) Standing() Standing {
	if s.index >= s.budget || s.job == nil && (s.turn >= len(s.queue) || len(s.moving) == 0) {
		return RoundOver
	}
	return GoesOn
}

package optimize

import "math"

// NoParent is the Parent of a point that was not made from another.
const NoParent int64 = -1

// Point is one candidate: where in the space it lies and where it came from.
type Point struct {
	X           []float64 // one allowed value per dimension, in its unit
	Choice      []int     // one option per choice
	Derivatives bool      // ask for JR and JG of the Outcome
	Parent      int64     // run number (RunNumber) of the candidate it was made from, or NoParent
	Iteration   int       // generation, iteration or restart, counted by the searcher; 0 in a plan
}

// shape gives p the number of coordinates that s has, keeping its memory.
func (p *Point) shape(s *Space) {
	p.X = sized(p.X, len(s.Dims))
	p.Choice = sized(p.Choice, len(s.Choices))
}

// Set makes p an independent copy of from, keeping the memory of p.
func (p *Point) Set(from *Point) {
	x, c := append(p.X[:0], from.X...), append(p.Choice[:0], from.Choice...)
	*p = *from
	p.X, p.Choice = x, c
}

func sized[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n)
	}
	return s[:n]
}

// extend lengthens dst by one point of the shape of s, reusing what memory lies behind its end, so
// that a searcher that fills the same slice again allocates nothing.
func extend(dst []Point, s *Space) ([]Point, *Point) {
	if len(dst) < cap(dst) {
		dst = dst[:len(dst)+1]
	} else {
		dst = append(dst, Point{})
	}
	p := &dst[len(dst)-1]
	p.shape(s)
	p.Derivatives, p.Parent, p.Iteration = false, NoParent, 0
	return dst, p
}

// Status says what became of a candidate.
type Status uint8

// What can become of a candidate.
const (
	OK             Status = iota // assembled, every limit kept
	OverLimit                    // assembled, at least one limit broken
	CannotAssemble               // a motion could not be closed
	Folds                        // a motion passes a dead centre or changes branch
	BadGeometry                  // coinciding points, a bar of no length
)

// statuses holds the word of the record for each status, and its sentence.
var statuses = [...]struct{ word, sentence string }{
	OK:             {"ok", "It assembles through all its motions and keeps every limit."},
	OverLimit:      {"over_limit", "It assembles through all its motions but breaks a limit."},
	CannotAssemble: {"cannot_assemble", "It cannot be assembled at some place of its motions."},
	Folds:          {"folds", "It passes a dead centre or changes branch on the way."},
	BadGeometry:    {"bad_geometry", "Its points coincide or one of its bars has no length."},
}

// String returns the word that the record uses: ok, over_limit, cannot_assemble, folds, bad_geometry.
func (s Status) String() string {
	if int(s) < len(statuses) {
		return statuses[s].word
	}
	return "unknown"
}

// Sentence says in a sentence what became of the candidate.
func (s Status) Sentence() string {
	if int(s) < len(statuses) {
		return statuses[s].sentence
	}
	return "Its status is unknown."
}

// Statuses returns every status, in order.
func Statuses() []Status {
	all := make([]Status, len(statuses))
	for i := range all {
		all[i] = Status(i)
	}
	return all
}

// Failed tells whether the candidate came to no score: only Reached says how good it was.
func (s Status) Failed() bool { return s > OverLimit }

// Outcome is what evaluating a point found. Its slices belong to the caller of Evaluate and are
// filled again for the next point: who keeps one must copy it.
type Outcome struct {
	X         []float64 // as evaluated, after steps and lattice
	Status    Status
	Reached   float64   // share of the motions solved before a failure, 0 to 1; 1 without one
	Score     float64   // weighted mean of squared misses, smaller is better; of no meaning after a failure
	Violation float64   // by how much limits are broken, each over its scale; 0 when none; of no meaning after a failure
	R         []float64 // residuals, one per target and position
	G         []float64 // limits, one per limit and position, over their scale; positive when broken
	JR        []float64 // derivatives of R, row-major, one column per dimension; empty unless asked for
	JG        []float64 // derivatives of G, likewise
}

// Reset empties the outcome and keeps its memory.
func (o *Outcome) Reset() {
	*o = Outcome{X: o.X[:0], R: o.R[:0], G: o.G[:0], JR: o.JR[:0], JG: o.JG[:0]}
}

// Feasible tells whether the candidate assembled and keeps every limit.
func (o *Outcome) Feasible() bool { return o.Status == OK }

// Better tells whether a ranks before b: the one ranking of the project. Candidates that keep every
// limit come first, by score; then those that break one, by violation, which counts by 1e-9, and at equal violation by score;
// then those that failed, by how far they came. A number that is not one ranks last. It is a strict
// weak order, so that equals remain in the order in which they were found.
//
// Source: K. Deb, "An efficient constraint handling method for genetic algorithms", Computer Methods
// in Applied Mechanics and Engineering 186 (2000) 311-338. The failed class, below the infeasible, is
// ours.
func Better(a, b *Outcome) bool {
	x, y := a.rank(), b.rank()
	return x.before(&y)
}

// rank is what Better compares: the class, then two numbers, smaller first.
type rank struct {
	class         int8 // 0 feasible, 1 over a limit, 2 failed
	first, second float64
}

func (o *Outcome) rank() rank {
	switch {
	case o.Status == OK:
		return rank{0, o.Score, 0}
	case o.Status.Failed():
		return rank{2, -o.Reached, 0}
	}
	return rank{1, math.Round(o.Violation/alike) * alike, o.Score}
}

// alike is how far, in scales, violations may be apart and still be the same: much more than rounding, which is not to choose between
// geometries that break a limit alike, and much less than the least that counts as broken.
const alike = 1e-9

func (r *rank) before(s *rank) bool {
	if r.class != s.class {
		return r.class < s.class
	}
	if less(r.first, s.first) || less(s.first, r.first) {
		return less(r.first, s.first)
	}
	return less(r.second, s.second)
}

// less orders numbers with those that are none last.
func less(a, b float64) bool { return a < b || (a == a && b != b) }

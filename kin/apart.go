package kin

import (
	"math"

	"trammel/kin/gap"

	"gonum.org/v1/gonum/spatial/r3"
)

// beyondRounding is by how much, in mm, what is left out is farther than what is nearest.
const beyondRounding = 1e-6

// leastGap computes node opGap i: its value and, where they are asked for, its first slopes. A piece that does not stand anywhere leaves the gap
// without a value (NaN), however near the others are.
func (s *State) leastGap(i int32, o *jet, l level) {
	spec, t := &s.gaps[i], &s.touches[i]
	s.standAll(spec, t, false)
	t.measure(spec, t.pair, &t.touch)
	if len(spec.pairs) > 1 && !t.farther(t.others) {
		t.compare(spec)
	}
	*o = jet{t.touch.Gap}
	if l == levelValue {
		return
	}
	s.slopesOfGap(spec, t)
	for e, k := range spec.pairs[t.pair] {
		for m, r := range spec.pieces[k].places() {
			o[slotW] += r3.Dot(t.slope[e][m], s.vec[r][slotW])
			o[slotK] += r3.Dot(t.slope[e][m], s.vec[r][slotK])
		}
	}
	if l < levelRack {
		o[slotK] = 0
	}
}

// compare finds the nearest pair, given the gap of the one that was nearest at the pose before.
func (t *touching) compare(spec *gapSpec) {
	first := t.pair
	others := math.Inf(1)
	var try gap.Touch
	for k := range spec.pairs {
		k := int32(k)
		if k == first {
			continue
		}
		q := &spec.pairs[k]
		apart := t.bound[k] - t.went[q[0]] - t.went[q[1]]
		if math.IsInf(apart, -1) {
			apart = t.balls(spec, k)
		}
		if !t.farther(apart) {
			t.measure(spec, k, &try)
			if apart = try.Gap; apart < t.touch.Gap || math.IsNaN(apart) {
				apart = t.touch.Gap
				t.touch, t.pair = try, k
			}
			if math.IsNaN(t.touch.Gap) {
				others = math.Inf(-1) // nothing is known of those that follow
				break
			}
		}
		others = min(others, apart)
	}
	t.others = others
}

// farther tells whether a pair that is so far apart, at least, is not the nearest: what is known of pairs that overlap is not how far they are from
// meeting.
func (t *touching) farther(apart float64) bool { return apart > max(0, t.touch.Gap)+beyondRounding }

// measure takes the gap of a pair.
func (t *touching) measure(spec *gapSpec, k int32, touch *gap.Touch) {
	q := spec.pairs[k]
	gap.Between(&t.solid[q[0]], &t.solid[q[1]], touch)
	t.bound[k] = touch.Gap + t.went[q[0]] + t.went[q[1]]
}

// balls bounds the gap of a pair of which nothing is known by that of the balls around its pieces.
func (t *touching) balls(spec *gapSpec, k int32) float64 {
	q := spec.pairs[k]
	apart := t.ballGap(q)
	t.bound[k] = apart + t.went[q[0]] + t.went[q[1]]
	return apart
}

// ballGap is the gap of the balls around the pieces of a pair.
func (t *touching) ballGap(q [2]int32) float64 {
	c, r := t.solid[q[0]].Ball()
	d, p := t.solid[q[1]].Ball()
	return norm(r3.Sub(c, d)) - r - p
}

// standAll sets the solids of a gap to where its pieces are, either those that stand still in a sweep or the others, and adds up how
// far they go where pairs can be left out.
func (s *State) standAll(spec *gapSpec, t *touching, still bool) {
	add := t.stood && !still && len(spec.pairs) > 1
	most := 0.0
	for k := range spec.pieces {
		q := &spec.pieces[k]
		if q.still != still {
			continue
		}
		o := &t.solid[k]
		if !add {
			s.stand(q, o)
			continue
		}
		var way float64
		if q.kind == gap.Capsule {
			a, b := o.At[0], o.At[1]
			s.stand(q, o)
			a, b = r3.Sub(o.At[0], a), r3.Sub(o.At[1], b)
			way = math.Sqrt(max(r3.Dot(a, a), r3.Dot(b, b))) // all points of its core lie between its ends
		} else {
			was := *o
			s.stand(q, o)
			way = moved(&was, o)
		}
		t.went[k] += way
		most = max(most, way)
	}
	if !still {
		t.stood = true
		t.others -= 2 * most
	}
}

// moved returns what no point of a ring or a box moves beyond as it goes from one place to another, mm.
func moved(from, to *gap.Solid) float64 {
	a, b := r3.Sub(to.At[0], from.At[0]), r3.Sub(to.At[1], from.At[1])
	d, e := r3.Sub(to.At[1], to.At[0]), r3.Sub(from.At[1], from.At[0])
	switch to.Kind {
	case gap.Ring: // the points of its axis lie between its ends; what stands square to it turns as it does
		turn := r3.Sub(r3.Scale(1/norm(d), d), r3.Scale(1/norm(e), e))
		return math.Sqrt(max(r3.Dot(a, a), r3.Dot(b, b))) + to.R*norm(turn)
	case gap.Box: // from its middle no more than half an edge along each direction
		far := 0.5 * norm(r3.Add(a, b))
		for k := 2; k < 5; k++ {
			far += 0.5 * math.Abs(r3.Dot(d, to.At[k])) * norm(r3.Sub(to.At[k], from.At[k]))
		}
		return far
	}
	return math.Inf(1)
}

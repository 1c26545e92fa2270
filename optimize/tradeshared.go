package optimize

import (
	"cmp"
	"math"
	"slices"
)

// shared is what the islands know together; between rounds the first island carries it.
type shared struct {
	archive    []trader
	reference  []float64
	history    []Volume // of every round that is a multiple of stride
	stride     int
	generation int // counted over all rounds
}

func (c *shared) copy() shared {
	d := *c
	d.archive, d.reference, d.history = copyTraders(c.archive), slices.Clone(c.reference), slices.Clone(c.history)
	return d
}

// historyLength is how many hypervolumes are kept; when there are more every second goes.
const historyLength = 512

// firstStride is the stride that a history of m aims begins with: in five, a hypervolume takes longer than
// the rows of a round.
func firstStride(m int) int { return [...]int{1, 1, 2, 8}[m-2] }

// remember puts the hypervolume of a round into the history, if it has a place there.
func (c *shared) remember(round int) {
	if round%c.stride == 0 && len(c.history) == historyLength {
		c.stride *= 2
		c.history = slices.DeleteFunc(c.history, func(v Volume) bool { return v.Round%c.stride != 0 })
	}
	if round%c.stride == 0 {
		c.history = append(c.history, Volume{round, c.volume()})
	}
}

// volume returns the hypervolume of the front, 0 as long as there is none.
func (c *shared) volume() float64 {
	if c.reference == nil {
		return 0
	}
	return Hypervolume(values(c.archive), c.reference)
}

// take brings the front up to date with the members.
func (c *shared) take(all []trader, o *TradeOptions, round int) {
	known := make(map[uint64]int, len(c.archive))
	for i := range c.archive {
		known[c.archive[i].hash] = i
	}
	var worst []float64
	for i := range all {
		m := &all[i]
		if m.rank.class != 0 || !finite(m.f) {
			continue
		}
		if worst == nil {
			worst = slices.Clone(m.f)
		}
		for k, v := range m.f {
			worst[k] = max(worst[k], v)
		}
		if at, ok := known[m.hash]; ok {
			c.archive[at].done = c.archive[at].done || m.done
			continue
		}
		known[m.hash] = len(c.archive)
		c.archive = append(c.archive, m.copy())
	}
	if c.reference == nil && worst != nil {
		for k := range worst {
			worst[k] = 1.1*worst[k] + math.SmallestNonzeroFloat64
		}
		c.reference = worst
	}
	c.archive = thin(c.archive, o.Archive)
	c.remember(round)
}

func finite(f []float64) bool {
	for _, v := range f {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

func values(members []trader) [][]float64 {
	f := make([][]float64, len(members))
	for i := range f {
		f[i] = members[i].f
	}
	return f
}

// thin returns the members that none of the others dominates, and of these at most most: as long as there
// are more, one of the closest pair goes, that which is closer to the next; ends stay.
//
// Source: the truncation of E. Zitzler, M. Laumanns, L. Thiele, "SPEA2: improving the strength Pareto
// evolutionary algorithm", ETH Zürich, TIK report 103 (2001), with distances in objectives that run from
// 0 to 1 over the front.
func thin(members []trader, most int) []trader {
	kept := make([]trader, 0, most)
	for _, i := range Nondominated(values(members)) {
		kept = append(kept, members[i])
	}
	if len(kept) <= most {
		return kept
	}
	low, high := ends(values(kept))
	c := crowd{f: values(kept), low: low, high: high, near: make([]near, len(kept))}
	for i := range kept {
		c.near[i] = c.nearest(i)
	}
	stays := make([]bool, len(kept))
	for k := range low {
		at := 0
		for i := range kept {
			if compareFrom(kept[i].f, kept[at].f, k) < 0 {
				at = i
			}
		}
		stays[at] = true
	}
	for left := len(kept); left > most; left-- {
		at := -1
		for i, n := range c.near {
			if c.f[i] != nil && !stays[i] && (at < 0 || n.closer(&c.near[at])) {
				at = i
			}
		}
		if at < 0 {
			break
		}
		c.f[at] = nil
		for i := range c.near {
			if n := &c.near[i]; c.f[i] != nil && (n.first == at || n.second == at) {
				c.near[i] = c.nearest(i)
			}
		}
	}
	out := make([]trader, 0, most)
	for i := range kept {
		if c.f[i] != nil {
			out = append(out, kept[i])
		}
	}
	return out
}

// crowd is a front while it is thinned out; f is nil for what has gone.
type crowd struct {
	f         [][]float64
	low, high []float64
	near      []near
}

// near holds the two nearest neighbours and their squared distances.
type near struct {
	first, second     int
	toFirst, toSecond float64
}

func (n *near) closer(m *near) bool {
	return n.toFirst < m.toFirst || n.toFirst == m.toFirst && n.toSecond < m.toSecond
}

func (c *crowd) nearest(i int) near {
	n := near{-1, -1, math.Inf(1), math.Inf(1)}
	for j, f := range c.f {
		if f == nil || j == i {
			continue
		}
		d := 0.0
		for k, v := range f {
			if wide := c.high[k] - c.low[k]; wide > 0 {
				v = (v - c.f[i][k]) / wide
				d += v * v
			}
		}
		switch {
		case d < n.toFirst:
			n = near{j, n.first, d, n.toFirst}
		case d < n.toSecond:
			n.second, n.toSecond = j, d
		}
	}
	return n
}

// gaps returns at most most pairs of neighbours on the front, the widest apart first: of each point and, in
// m aims, the m nearest to it.
func (c *shared) gaps(most int) [][2]int {
	if len(c.archive) < 2 {
		return nil
	}
	f := values(c.archive)
	low, high := ends(f)
	apart := make(map[[2]int]float64)
	var pairs [][2]int
	for i := range f {
		kept := slices.Clone(f)
		c := crowd{f: kept, low: low, high: high}
		for range min(len(low), len(f)-1) {
			n := c.nearest(i)
			pair := [2]int{min(i, n.first), max(i, n.first)}
			if _, known := apart[pair]; !known {
				apart[pair] = n.toFirst
				pairs = append(pairs, pair)
			}
			kept[n.first] = nil
		}
	}
	slices.SortStableFunc(pairs, func(a, b [2]int) int { return cmp.Compare(apart[b], apart[a]) })
	return pairs[:min(len(pairs), most)]
}

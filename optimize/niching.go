package optimize

import (
	"math"
	"slices"
)

// chooseTraders returns the n members that selection keeps, or fewer if so few differ. Members that keep
// every limit come first: whole fronts, and of the front that does not fit what fills the least crowded
// directions. Then come the others, in order of rank; unranked ones are left out.
//
// Source: Deb and Jain (2014), algorithms 1 to 4.
func chooseTraders(all []trader, directions [][]float64, n int, r *Stream) []trader {
	known := make(map[uint64]bool, len(all))
	var good, rest []*trader
	for i := range all {
		m := &all[i]
		if m.rank.class == unranked || known[m.hash] {
			continue
		}
		known[m.hash] = true
		if m.rank.class == 0 && finite(m.f) {
			good = append(good, m)
		} else {
			rest = append(rest, m)
		}
	}
	chosen := make([]trader, 0, n)
	if len(good) <= n {
		slices.SortStableFunc(rest, func(a, b *trader) int {
			switch {
			case a.rank.before(&b.rank):
				return -1
			case b.rank.before(&a.rank):
				return 1
			}
			return 0
		})
		for _, m := range append(good, rest[:min(len(rest), n-len(good))]...) {
			chosen = append(chosen, *m)
		}
		return chosen
	}
	whole, split := fronts(good, n)
	for _, m := range whole {
		chosen = append(chosen, *m)
	}
	for _, m := range fillNiches(whole, split, directions, n-len(whole), r) {
		chosen = append(chosen, *m)
	}
	return chosen
}

// fronts sorts members by who dominates whom and returns those of the first fronts that fit into n
// together, and the front after them.
func fronts(members []*trader, n int) (whole, split []*trader) {
	over := make([]int, len(members)) // by how many each is dominated
	under := make([][]int, len(members))
	for i, a := range members {
		for j, b := range members[:i] {
			switch {
			case Dominates(a.f, b.f):
				under[i] = append(under[i], j)
				over[j]++
			case Dominates(b.f, a.f):
				under[j] = append(under[j], i)
				over[i]++
			}
		}
	}
	var front []int
	for i := range members {
		if over[i] == 0 {
			front = append(front, i)
		}
	}
	for len(front) > 0 {
		var next []int
		split = split[:0]
		for _, i := range front {
			split = append(split, members[i])
			for _, j := range under[i] {
				if over[j]--; over[j] == 0 {
					next = append(next, j)
				}
			}
		}
		if len(whole)+len(split) > n {
			return whole, split
		}
		whole = append(whole, split...)
		slices.Sort(next)
		front = next
	}
	return whole, nil
}

// fillNiches returns n of the members of split: always one of a direction to which the fewest belong, the
// nearest to it if none does yet.
func fillNiches(whole, split []*trader, directions [][]float64, n int, r *Stream) []*trader {
	if n == 0 {
		return nil
	}
	first := whole
	if len(whole) == 0 {
		first = split
	}
	low, scale := normal(first, append(slices.Clone(whole), split...))
	unit := make([][]float64, len(directions))
	for i, d := range directions {
		length := 0.0
		for _, v := range d {
			length += v * v
		}
		unit[i] = make([]float64, len(d))
		for k, v := range d {
			unit[i][k] = v / math.Sqrt(length)
		}
	}
	belong := make([]int, len(directions))
	for _, m := range whole {
		at, _ := towards(m.f, low, scale, unit)
		belong[at]++
	}
	waiting := make([][]applicant, len(directions))
	for _, m := range split {
		at, off := towards(m.f, low, scale, unit)
		waiting[at] = append(waiting[at], applicant{m, off})
	}
	var chosen []*trader
	var least []int
	for len(chosen) < n {
		least = least[:0]
		for i := range directions {
			switch {
			case len(waiting[i]) == 0:
			case len(least) == 0 || belong[i] < belong[least[0]]:
				least = append(least[:0], i)
			case belong[i] == belong[least[0]]:
				least = append(least, i)
			}
		}
		i := least[r.IntN(len(least))]
		pick := r.IntN(len(waiting[i]))
		if belong[i] == 0 {
			for k := range waiting[i] {
				if waiting[i][k].off < waiting[i][pick].off {
					pick = k
				}
			}
		}
		chosen = append(chosen, waiting[i][pick].m)
		waiting[i] = slices.Delete(waiting[i], pick, pick+1)
		belong[i]++
	}
	return chosen
}

type applicant struct {
	m   *trader
	off float64 // squared distance from the direction
}

// normal returns what turns objectives into ones that run from 0 to 1 over the front: the least of each,
// and one over where the plane through the ends of the first front cuts its axis. Where there is no such plane
// the greatest of the first front stands for it.
func normal(first, all []*trader) (low, scale []float64) {
	f := make([][]float64, len(all))
	for i, m := range all {
		f[i] = m.f
	}
	low, far := ends(f)
	for i := range f[:len(first)] {
		f[i] = first[i].f
	}
	_, high := ends(f[:len(first)])
	m := len(low)
	corners := make([][]float64, m)
	for k := range m {
		least := math.Inf(1)
		for _, t := range first {
			most := 0.0
			for j, v := range t.f {
				v -= low[j]
				if j != k {
					v *= 1e6
				}
				most = max(most, v)
			}
			if most < least {
				least = most
				corners[k] = slices.Clone(t.f)
			}
		}
		if corners[k] == nil {
			corners[k] = slices.Clone(first[0].f)
		}
		for j := range m {
			corners[k][j] = (corners[k][j] - low[j]) / positive(high[j]-low[j])
		}
	}
	scale = make([]float64, m)
	n, ok := plane(corners)
	for k := range m {
		scale[k] = 1 / positive(high[k]-low[k])
		if ok && n[k] > 1e-3 && n[k] < 1e3 {
			scale[k] *= n[k]
		}
		if high[k] <= low[k] && far[k] > low[k] {
			scale[k] = 1 / (far[k] - low[k])
		}
	}
	return low, scale
}

// positive returns v, or 1 if it is not above 0.
func positive(v float64) float64 {
	if v > 0 {
		return v
	}
	return 1
}

// towards returns the direction that a value lies nearest to and the square of how far it lies off.
func towards(f, low, scale []float64, unit [][]float64) (at int, off float64) {
	off = math.Inf(1)
	for i, d := range unit {
		along := 0.0
		for k, v := range f {
			along += (v - low[k]) * scale[k] * d[k]
		}
		far := 0.0
		for k, v := range f {
			e := (v-low[k])*scale[k] - along*d[k]
			far += e * e
		}
		if far < off {
			at, off = i, far
		}
	}
	return at, off
}

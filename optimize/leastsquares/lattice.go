package leastsquares

import "math"

// lattice searches the points of a program at which some variables stand on whole numbers: variable i
// does where origin[i] + width[i]·z[i] is whole.
//
// Branch and bound, depth first, the nearer side first, each node a program with a smaller box: A. H.
// Land and A. G. Doig, Econometrica 28 (1960) 497-520; R. J. Dakin, Computer Journal 8 (1965) 250-255.
// The variable that costs most to round is branched on.
type lattice struct {
	nodes int // how many programs may be solved

	low, high []float64 // of the whole search
	stack     []box
	used      int // boxes of the stack in use
	best      []float64
}

// box is the part of the whole numbers that a node looks at.
type box struct{ low, high []float64 }

// search returns the best point found, valid until the next search, and whether one was. It stops when
// no better one by more than tolerance is possible or the nodes are spent. The program's box is as
// before when it returns; its result is of no meaning.
func (l *lattice) search(p *program, origin, width []float64, whole []bool, tolerance float64) (z []float64, found bool) {
	n := p.n
	l.low, l.high = append(l.low[:0], p.low...), append(l.high[:0], p.high...)
	l.best = sized(l.best, n)
	least := math.Inf(1)
	l.used = 0
	l.push(l.low, l.high)
	for node := 0; l.used > 0 && node < l.nodes; node++ {
		top := &l.stack[l.used-1]
		copy(p.low, top.low)
		copy(p.high, top.high)
		l.used--
		p.solve()
		if value := p.value(); value >= least-tolerance {
			continue
		}
		at := l.branch(p, origin, width, whole)
		if at < 0 {
			least, found = p.value(), true
			copy(l.best, p.z)
			continue
		}
		x := origin[at] + width[at]*p.z[at]
		down, up := (math.Floor(x)-origin[at])/width[at], (math.Floor(x)+1-origin[at])/width[at]
		nearer := x-math.Floor(x) < 0.5
		for _, below := range [2]bool{!nearer, nearer} { // the nearer one is pushed last
			low, high := p.low[at], p.high[at]
			if below {
				p.high[at] = down
			} else {
				p.low[at] = up
			}
			if p.low[at] <= p.high[at] {
				l.push(p.low, p.high)
			}
			p.low[at], p.high[at] = low, high
		}
	}
	copy(p.low, l.low)
	copy(p.high, l.high)
	return l.best, found
}

func (l *lattice) push(low, high []float64) {
	if l.used == len(l.stack) {
		l.stack = append(l.stack, box{})
	}
	b := &l.stack[l.used]
	b.low, b.high = append(b.low[:0], low...), append(b.high[:0], high...)
	l.used++
}

// branch returns the variable between whole numbers that costs most to round, -1 if all are whole.
func (l *lattice) branch(p *program, origin, width []float64, whole []bool) int {
	at, most := -1, 0.0
	for i := range p.n {
		if !whole[i] {
			continue
		}
		x := origin[i] + width[i]*p.z[i]
		off := math.Abs(x - math.Round(x))
		if off < 1e-7 {
			continue
		}
		cost := 0.0
		for k := range i + 1 {
			cost += p.u[k*p.n+i] * p.u[k*p.n+i]
		}
		if cost = off * math.Sqrt(cost) / width[i]; cost >= most {
			at, most = i, cost
		}
	}
	return at
}

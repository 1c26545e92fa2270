package kin

import (
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/spatial/r3"
)

// Why a carrier is held twice or not at all is read from its rows at design, those of its drivers (the heights of its
// wheels) among them. With rows J, one for each constraint, and the carrier's twist x:
//   - a left null vector y, y·J = 0, is constraints that say the same thing twice: those with weight in y. It is a set of
//     forces in the members that balance each other with no load;
//   - a right null vector x, J·x = 0, is a motion that nothing holds.
// Rows are errors of length in mm for a millimetre of the carrier's middle, and for 1/100 rad of its turn.

// Numbers of the explanation.
const (
	nearly      = 5e-3 // of the greatest singular value: a smaller one is remarked upon
	dependent   = 1e-9 // the same: a smaller one is 0
	significant = 0.02 // weight of a row in a combination of unit length
	onAxis      = 1e-3 // mm: a point nearer than this to an axis is on it
)

// heldRow is a constraint at design, or a driver.
type heldRow struct {
	member int // -1: a driver
	side   Side
	j      [6]float64 // by (vx, vy, vz, wx, wy, wz) of the carrier's middle, w in units of rotationScale; (vx, vy, vz) of unit length
}

// holding is what holds a carrier at design.
type holding struct {
	p      *Program
	index  int       // of the carrier
	middle r3.Vec    // of the carrier: the wheel's centre, or between the two of an axle
	rows   []heldRow // constraints, then drivers
	points []int     // part points where rows hold the carrier
	own    []r3.Vec  // places of part points
}

// Explain says in a sentence without its end how the members hold a carrier twice, or leave it loose, where the points
// stand (mm, in the order of the linkage): which members work against the same freedom and what motion nothing keeps.
// It is empty for a sound design, and for points that SetDesign refuses by naming a member. A design that assembles may be
// close to a singular one; then the sentence says so, and how large errors of length become.
func (p *Program) Explain(points []r3.Vec) string {
	sides := p.holdings(points)
	says := make([]string, len(sides))
	for k := range sides {
		says[k] = sides[k].explain()
	}
	switch {
	case len(says) == 0:
		return ""
	case len(says) == 1 || says[0] == says[1]:
		return says[0]
	}
	var out []string
	for k, s := range [...]Side{Left, Right} {
		if says[k] != "" {
			out = append(out, "on the "+p.drawnOn(s).String()+", "+says[k])
		}
	}
	return strings.Join(out, "; ")
}

// Condition returns the condition number of a design: the greatest over the least singular value of the constraints
// and drivers of its carriers, as errors of length for the shift of the carrier's middle and for 100 mm times its turn.
// Points are mm, in the order of the linkage. It is +Inf where the design is singular, and NaN for points that SetDesign
// refuses by naming a member.
func (p *Program) Condition(points []r3.Vec) float64 {
	worst := math.NaN()
	for k, h := range p.holdings(points) {
		sp := h.decompose(h.rows, dependent)
		if c := sp.condition(); k == 0 || c > worst {
			worst = c
		}
	}
	return worst
}

// holdings returns what holds each carrier; nothing where parts do not stand.
func (p *Program) holdings(points []r3.Vec) []holding {
	s, ok := p.drawn(points)
	if !ok {
		return nil
	}
	var out []holding
	for k := range p.carriers {
		if k == 1 && p.symmetric {
			break
		}
		h, ok := s.holding(k, &p.carriers[k])
		if !ok {
			return nil
		}
		out = append(out, h)
	}
	return out
}

// drawn returns a state whose parts stand but whose carriers have no rows yet: there may be any number of them.
func (p *Program) drawn(points []r3.Vec) (*State, bool) {
	bare := *p
	bare.carriers = nil
	s := bare.NewState()
	if len(points) != len(s.points) {
		panic("kin: Explain: wrong number of points")
	}
	copy(s.points, points)
	return s, s.setParts().Status == OK
}

// holding takes the rows of a carrier at design.
func (s *State) holding(k int, spec *carrierSpec) (holding, bool) {
	w := &s.prog.wheels
	h := holding{p: s.prog, index: k, middle: s.own[w[k].centre], own: s.own}
	if s.prog.axle {
		h.middle = r3.Scale(0.5, r3.Add(s.own[w[0].centre], s.own[w[1].centre]))
	}
	rows := slices.Clone(spec.rows)
	if spec.lead != none {
		rows = append(rows, rowSpec{kind: rowNode, source: fromNode, member: -1, side: Left, node: spec.lead})
	} else {
		rows = append(rows, rowSpec{kind: rowPlane, source: fromHeight, member: -1, side: Left, at: w[k].centre, other: w[k].declared})
	}
	slices.SortStableFunc(rows, func(a, b rowSpec) int { return min(b.member, 0) - min(a.member, 0) })
	for len(rows) > 0 {
		n := min(len(rows), 5)
		if !s.takeRows(&h, rows[:n]) {
			return h, false
		}
		rows = rows[n:]
	}
	return h, true
}

// takeRows adds up to five rows, evaluated as the solver does; the last fills the places of what is missing.
func (s *State) takeRows(h *holding, rows []rowSpec) bool {
	spec := carrierSpec{rows: slices.Clone(rows), lead: none}
	for len(spec.rows) < 5 {
		spec.rows = append(spec.rows, rows[len(rows)-1])
	}
	planRows(&spec, s.prog)
	c := corner{index: h.index, spec: &spec, flip: h.index == 1, centre: s.own[s.prog.wheels[h.index].centre]}
	for i, r := range spec.rows {
		if r.kind == rowNode {
			c.rows[i].out = &rowOutput{r.node, s.prog.graph.plan([]ref{r.node}, []level{levelRack}, s.prog.closes)}
		}
	}
	if s.setRows(&c).Status != OK {
		return false
	}
	d := &pose{}
	d.reset(c.centre)
	arm := r3.Sub(c.centre, h.middle)
	if s.evaluate(&c, d) != nil {
		return false
	}
	for i, r := range rows {
		j := d.lu[5*i : 5*i+5]
		g := r3.Vec{X: j[0], Y: j[1], Z: d.zcol[i]}
		turn := r3.Add(r3.Vec{X: j[2], Y: j[3], Z: j[4]}, r3.Cross(arm, g))
		row := heldRow{member: r.member, side: r.side, j: [6]float64{g.X, g.Y, g.Z, turn.X, turn.Y, turn.Z}}
		if !row.normalise() {
			return false
		}
		h.rows = append(h.rows, row)
		if r.kind != rowNode && r.member >= 0 {
			h.points = append(h.points, r.at)
			if r.source == fromLink || r.source == fromStrut || r.source == fromBall {
				h.points = append(h.points, r.other)
			}
		} else if r.member >= 0 {
			h.points = append(h.points, s.prog.pointsOf(r.member, r.side)...)
		}
	}
	return true
}

// pointsOf lists the points of a member that are the carrier's.
func (p *Program) pointsOf(member int, side Side) []int {
	var out []int
	for i, q := range p.parts {
		drawn := func(k int) bool {
			return q.point == k || p.linkage.Opposite != nil && side == Right && q.point == p.linkage.Opposite[k]
		}
		if (q.owner == Upright || q.owner == Axle) && q.side == side && slices.ContainsFunc(p.linkage.Members[member].Points, drawn) {
			out = append(out, i)
		}
	}
	return out
}

// normalise makes a row one of mm, turns in units of rotationScale; a row of zeros stays one. False if it is not finite.
func (r *heldRow) normalise() bool {
	g, turn := r3.Vec{X: r.j[0], Y: r.j[1], Z: r.j[2]}, r3.Vec{X: r.j[3], Y: r.j[4], Z: r.j[5]}
	turn = r3.Scale(rotationScale, turn)
	size := norm(g)
	if all := math.Hypot(size, norm(turn)); all < dependent {
		g, turn, size = r3.Vec{}, r3.Vec{}, 1
	} else if size < significant*all {
		size = all // it holds a turn alone
	}
	g, turn = r3.Scale(1/size, g), r3.Scale(1/size, turn)
	r.j = [6]float64{g.X, g.Y, g.Z, turn.X, turn.Y, turn.Z}
	return norm(g)-norm(g) == 0 && norm(turn)-norm(turn) == 0
}

// spectrum is the singular values and vectors of some rows.
type spectrum struct {
	values []float64
	rank   int        // the number of those that count
	rows   *mat.Dense // columns: combinations of the rows; those from rank on vanish
	moves  *mat.Dense // columns: twists; those from rank on are free
}

// decompose finds the singular values of rows; what is below tol of the greatest does not count. Should they not
// converge, nothing is said of the rows: they pass for sound, and their condition is NaN.
func (h *holding) decompose(rows []heldRow, tol float64) spectrum {
	m := mat.NewDense(len(rows), 6, nil)
	for i := range rows {
		m.SetRow(i, rows[i].j[:])
	}
	var svd mat.SVD
	if !svd.Factorize(m, mat.SVDFull) {
		return spectrum{values: []float64{math.NaN(), 5: math.NaN()}, rank: 6, rows: &mat.Dense{}, moves: &mat.Dense{}}
	}
	sp := spectrum{values: svd.Values(nil), rows: &mat.Dense{}, moves: &mat.Dense{}}
	svd.UTo(sp.rows)
	svd.VTo(sp.moves)
	for _, v := range sp.values {
		if v > tol*sp.values[0] {
			sp.rank++
		}
	}
	return sp
}

// condition returns the greatest over the least singular value of a square or taller system.
func (sp *spectrum) condition() float64 {
	if sp.rank < 6 {
		return math.Inf(1)
	}
	return sp.values[0] / sp.values[5]
}

// free returns the twists that a spectrum's rows leave free.
func (sp *spectrum) free() []twist {
	var out []twist
	for k := sp.rank; k < 6; k++ {
		at := func(i int) float64 { return sp.moves.At(i, k) }
		out = append(out, twist{at(0), at(1), at(2), at(3) * rotationScale, at(4) * rotationScale, at(5) * rotationScale})
	}
	return out
}

// projection returns how strongly rows i and j stand together in the combinations that vanish: the entry of the
// projection on them.
func (sp *spectrum) projection(i, j int) (sum float64) {
	m, _ := sp.rows.Dims()
	for k := sp.rank; k < m; k++ {
		sum += sp.rows.At(i, k) * sp.rows.At(j, k)
	}
	return sum
}

// bundle is rows that depend on each other and on no others.
type bundle struct {
	rows  []int
	spare int // how many of them say nothing new
}

// bundles sorts the rows that have weight in what vanishes. A second driver is weighed against the first: the travels
// of two wheels are of one kind, however small beside the forces in links.
func (h *holding) bundles(sp *spectrum) []bundle {
	m, _ := sp.rows.Dims()
	weight := make([]float64, m)
	taken := make([]bool, m)
	lead := 0.0
	for i := range m {
		weight[i] = math.Sqrt(sp.projection(i, i))
		taken[i] = weight[i] < significant
		if h.rows[i].member < 0 {
			lead = math.Max(lead, weight[i])
		}
	}
	for i := range m {
		if h.rows[i].member < 0 && lead >= significant {
			taken[i] = weight[i] < 0.1*lead
		}
	}
	var out []bundle
	for i := range m {
		if taken[i] {
			continue
		}
		var b bundle
		var gather func(int)
		gather = func(i int) {
			taken[i] = true
			b.rows = append(b.rows, i)
			for j := range m {
				if !taken[j] && math.Abs(sp.projection(i, j)) > significant*weight[i]*weight[j] {
					gather(j)
				}
			}
		}
		gather(i)
		slices.Sort(b.rows)
		sum := 0.0
		for _, i := range b.rows {
			sum += weight[i] * weight[i]
		}
		b.spare = max(1, int(math.Round(sum)))
		out = append(out, b)
	}
	return out
}

// still returns the twists among all that leave a point where it is.
func still(all []twist, at r3.Vec) []twist {
	if len(all) == 0 {
		return nil
	}
	m := mat.NewDense(3, len(all), nil)
	for k := range all {
		v := all[k].moves(at)
		m.SetCol(k, []float64{v.X, v.Y, v.Z})
	}
	var svd mat.SVD
	if !svd.Factorize(m, mat.SVDFull) {
		return nil
	}
	var v mat.Dense
	svd.VTo(&v)
	values := svd.Values(nil)
	var out []twist
	for k := range all {
		if k < len(values) && values[k] > onAxis*rotationScale {
			continue
		}
		var t twist
		for i := range all {
			t = t.plus(v.At(i, k), &all[i])
		}
		out = append(out, t)
	}
	return out
}

// moves returns the velocity of the carrier at a place given from its middle.
func (t *twist) moves(at r3.Vec) r3.Vec { return r3.Add(t.v(), r3.Cross(t.w(), at)) }

package kin

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/spatial/r3"
)

// remote is how many mm off an axis may be before a turn about it is called a shift.
const remote = 3000

// explain says what is wrong with a carrier of the right number of constraints; nothing where all is well.
func (h *holding) explain() string {
	sp, almost := h.decompose(h.rows, dependent), ""
	tol := dependent
	if sp.rank == 6 {
		tol, almost = nearly, "nearly "
		if sp = h.decompose(h.rows, tol); sp.rank == 6 {
			return ""
		}
	}
	held, dead := h.held(&sp, almost)
	text := fmt.Sprintf("at design %s, %s %s", held, h.isFree(almost, dead), h.loose(&sp, tol))
	if almost != "" {
		text += fmt.Sprintf(", where an error in one of their lengths comes out about %s times as large", round(h.growth(&sp), 2))
	}
	return text
}

// reason is why a count is wrong.
type reason struct {
	says string // "; ..." or nothing
	soft string // the link that could be soft, if one could
}

// why looks at the null spaces of carrier k that has too many constraints, or too few (excess below 0), where the
// linkage's points stand.
func (c *compiler) why(k, excess int) reason {
	if len(c.rows[k]) == 0 {
		return reason{}
	}
	p := c.p
	p.directions = c.directed
	c.finishCarriers()
	s, ok := p.drawn(p.Points())
	if !ok {
		return reason{}
	}
	h, ok := s.holding(k, &p.carriers[k])
	if !ok {
		return reason{}
	}
	sp := h.decompose(h.rows, dependent)
	m, _ := sp.rows.Dims()
	if m == 0 {
		return reason{}
	}
	var says []string
	dead := false
	if sp.rank < m {
		var held string
		held, dead = h.held(&sp, "")
		says = append(says, held)
	}
	if sp.rank < 6 {
		free := h.isFree("", dead) + " " + h.loose(&sp, dependent)
		if len(says) == 0 {
			free = strings.TrimPrefix(free, "and ")
		}
		says = append(says, free)
	}
	if len(says) == 0 {
		return reason{}
	}
	out := reason{says: "; at design " + strings.Join(says, ", ")}
	if excess > 0 {
		spare := h.spare(&sp, excess, Once)
		switch {
		case len(spare) > 2:
			out.says += "; any one of " + list(spare, "or") + " could let go"
		case len(spare) == 2:
			out.says += "; either " + list(spare, "or") + " could let go"
		case len(spare) == 1:
			out.says += "; " + spare[0] + " could let go"
		default:
			if spare = h.spare(&sp, excess, Left); len(spare) > 0 {
				out.says += "; one side's " + list(spare, "or") + " could let go: drawn apart from the other side's, across, it can be marked soft"
			}
			return out
		}
		out.soft = h.soft(spare)
	}
	return out
}

// spare lists the members with weight in what vanishes without which the rest still hold all that is held, and which
// take no more than the excess; with a side, the links of both sides of which that is true on this one alone.
func (h *holding) spare(sp *spectrum, excess int, side Side) []string {
	weighty := map[int]bool{}
	for _, b := range h.bundles(sp) {
		for _, i := range b.rows {
			weighty[h.rows[i].member] = true
		}
	}
	var out []string
	for i := range h.p.linkage.Members {
		m := &h.p.linkage.Members[i]
		if !weighty[i] || side != Once && (m.Kind != Link || m.Across) {
			continue
		}
		var rest []heldRow
		for _, r := range h.rows {
			if r.member != i || side != Once && r.side != side {
				rest = append(rest, r)
			}
		}
		if gone := len(h.rows) - len(rest); gone == 0 || gone > excess {
			continue
		}
		if less := h.decompose(rest, dependent); less.rank == sp.rank {
			out = append(out, m.Name)
		}
	}
	return out
}

// isFree begins to say what a carrier is free for: beside the travel of its wheels, or, where that is held, instead.
func (h *holding) isFree(almost string, dead bool) string {
	switch {
	case dead:
		return "but the " + h.carrier() + " is " + almost + "free"
	case almost == "":
		almost = "still "
	}
	travel := "its wheel's travel"
	if h.p.axle {
		travel = "the travel of its two wheels"
	}
	return "and the " + h.carrier() + " is " + almost + "free, beside " + travel + ","
}

// soft chooses a link among members: one that exists once, else one that does not steer, else the last drawn.
func (h *holding) soft(among []string) string {
	best, name := -1, ""
	for i := range h.p.linkage.Members {
		m := &h.p.linkage.Members[i]
		if m.Kind != Link || !slices.Contains(among, m.Name) {
			continue
		}
		rank := 0
		if m.Across {
			rank += 2
		}
		if !slices.Contains(m.Bodies, Rack) {
			rank++
		}
		if rank >= best {
			best, name = rank, m.Name
		}
	}
	return name
}

// drawnOn returns the side that the file calls a side of the linkage, which is mirrored where the file drew the right.
func (p *Program) drawnOn(s Side) Side {
	if p.linkage.Right && s != Once {
		return Left + Right - s
	}
	return s
}

func (h *holding) carrier() string {
	if h.p.axle {
		return Axle
	}
	return Upright
}

// held says which members hold the same thing; dead tells that it is the travel of a wheel.
func (h *holding) held(sp *spectrum, almost string) (text string, dead bool) {
	var says []string
	for _, b := range h.bundles(sp) {
		text, is := h.bundle(sp, b, almost)
		says = append(says, text)
		dead = dead || is
	}
	return strings.Join(says, "; "), dead
}

func (h *holding) bundle(sp *spectrum, b bundle, almost string) (text string, dead bool) {
	var names []string
	var drivers []int
	for _, i := range b.rows {
		r := &h.rows[i]
		if r.member < 0 {
			drivers = append(drivers, i)
			continue
		}
		name := bodyName{h.p.linkage.Members[r.member].Name, h.p.drawnOn(r.side)}
		if !h.p.axle {
			name.side = Once
		}
		if !slices.Contains(names, name.String()) {
			names = append(names, name.String())
		}
	}
	who, one := list(names, "and")+" "+almost, len(names) == 1
	if len(names) == 0 { // the weights of all are lost beside coordinates beyond any car's
		who = "the members " + almost
	}
	verb := func(many, single string) string {
		if one {
			return single
		}
		return many
	}
	switch {
	case len(drivers) > 0:
		text = who + h.drivers(sp, b, drivers, verb)
		if more := b.spare - len(drivers); more > 0 {
			text += ", and " + plural(more, "of their constraints holds", "of their constraints hold") + " nothing new"
		}
		return text, true
	case len(b.rows) == 1:
		return who + "holds nothing there that moves", false
	case one:
		return who + "holds the same freedom twice", false
	case b.spare == 1:
		return who + "work against the same freedom", false
	}
	return fmt.Sprintf("%swork against the same freedoms: %d of their constraints hold nothing new", who, b.spare), false
}

// drivers says how members hold the heights of wheels that should drive them.
func (h *holding) drivers(sp *spectrum, b bundle, drivers []int, verb func(many, single string) string) string {
	i := drivers[0]
	switch {
	case !h.p.axle:
		return verb("hold", "holds") + " the wheel's height as well, so that it cannot travel"
	case len(drivers) == 1:
		return verb("hold", "holds") + " the height of the " + h.p.drawnOn(h.rows[i].side).String() + " wheel as well, so that it cannot travel"
	case b.spare > 1:
		return verb("hold", "holds") + " the heights of both wheels as well, so that neither can travel"
	}
	k := drivers[1]
	x, y := sp.projection(i, i), sp.projection(i, k)
	switch {
	case math.Abs(x+y) < 0.25*math.Abs(x-y):
		return verb("lock", "locks") + " roll"
	case math.Abs(x-y) < 0.25*math.Abs(x+y):
		return verb("lock", "locks") + " heave"
	}
	return verb("tie", "ties") + " the travel of one wheel to that of the other"
}

// growth returns how much greater than an error of a length the motion is that it makes.
func (h *holding) growth(sp *spectrum) (most float64) {
	for k := sp.rank; k < len(sp.values); k++ {
		for i, r := range h.rows {
			if r.member >= 0 {
				most = math.Max(most, math.Abs(sp.rows.At(i, k))/sp.values[k])
			}
		}
	}
	return most
}

// loose says to what a carrier is free.
func (h *holding) loose(sp *spectrum, tol float64) string {
	free, point := h.motions(sp, tol)
	if len(free) == 1 {
		return h.single(&free[0])
	}
	turns, shifts := parts(free)
	var says []string
	if len(turns) > 0 {
		about := ""
		if point >= 0 {
			about = " about " + h.name(point)
		}
		says = append(says, "to turn"+every(turns, h.turn)+about)
	}
	if len(shifts) > 0 {
		says = append(says, "to shift"+every(shifts, shift))
	}
	return strings.Join(says, " and ")
}

func every(axes []int, word func(int) string) string {
	if len(axes) == 3 {
		return " every way"
	}
	var words []string
	for _, a := range axes {
		words = append(words, word(a))
	}
	return " " + strings.Join(words, " and ")
}

func (h *holding) turn(axis int) string {
	return "in " + [3]string{map[bool]string{false: "camber", true: "roll"}[h.p.axle], "pitch", "steer"}[axis]
}

func shift(axis int) string { return [3]string{"fore and aft", "sideways", "up and down"}[axis] }

// motions returns the motions that are left with the drivers held, and a point they leave where it is, -1 without.
// Where an upright keeps none, motions that lift the wheel may: a wishbone's ball, about which the upright turns.
func (h *holding) motions(sp *spectrum, tol float64) (free []twist, point int) {
	free = sp.free()
	for _, q := range h.points {
		if len(still(free, h.from(q))) == len(free) {
			return free, q
		}
	}
	if h.p.axle {
		return free, -1
	}
	var held []heldRow
	for _, r := range h.rows {
		if r.member >= 0 {
			held = append(held, r)
		}
	}
	without := h.decompose(held, tol)
	all := without.free()
	best, point := math.Inf(1), -1
	for _, q := range h.points {
		left := still(all, h.from(q))
		if len(left) != len(free) || len(left) == len(all) {
			continue
		}
		lift := 0.0
		for i := range left {
			lift = math.Max(lift, math.Abs(left[i].vz)/norm(left[i].w()))
		}
		if lift < best-onAxis {
			best, point, free = lift, q, left
		}
	}
	return free, point
}

// from returns the place of a part point from the carrier's middle.
func (h *holding) from(part int) r3.Vec { return r3.Sub(h.own[part], h.middle) }

func (h *holding) name(part int) string {
	q := &h.p.parts[part]
	name := bodyName{h.p.linkage.Points[q.point].Name, h.p.drawnOn(q.side)}
	if !h.p.axle {
		name.side = Once
	}
	return name.String()
}

// single says one motion in words.
func (h *holding) single(t *twist) string {
	v, w := t.v(), t.w()
	if norm(w)*remote < norm(v) {
		return "to shift " + mixed(v, shift)
	}
	axis := r3.Unit(w)
	foot := r3.Scale(1/norm(w), r3.Cross(axis, v))
	along := r3.Dot(v, axis) / norm(w)
	text := "to turn " + mixed(axis, h.turn)
	if math.Abs(along) > onAxis {
		return text
	}
	first := -1
	for _, q := range h.points {
		off := r3.Sub(h.from(q), foot)
		switch {
		case norm(r3.Cross(axis, off)) > onAxis:
		case first < 0:
			first = q
		case math.Abs(r3.Dot(axis, r3.Sub(off, r3.Sub(h.from(first), foot)))) > 1: // apart enough to show a line
			return text + " about the line through " + h.name(first) + " and " + h.name(q)
		}
	}
	if first >= 0 {
		return text + " about an axis through " + h.name(first)
	}
	return text
}

// mixed says a direction: one word where it is within 30 degrees of an axis, the two nearest otherwise.
func mixed(v r3.Vec, word func(int) string) string {
	v = r3.Unit(v)
	axes := []int{0, 1, 2}
	size := [3]float64{math.Abs(v.X), math.Abs(v.Y), math.Abs(v.Z)}
	slices.SortStableFunc(axes, func(a, b int) int {
		if size[a] > size[b]+1e-6 {
			return -1
		}
		if size[b] > size[a]+1e-6 {
			return 1
		}
		return 0
	})
	if size[axes[0]] > math.Cos(math.Pi/6) {
		return word(axes[0])
	}
	return word(axes[0]) + " and " + word(axes[1]) + " at once"
}

// parts sorts motions into turns and shifts, each as axes of the car that come nearest to what they span.
func parts(free []twist) (turns, shifts []int) {
	w := mat.NewDense(3, len(free), nil)
	for k := range free {
		w.SetCol(k, []float64{free[k].wx, free[k].wy, free[k].wz})
	}
	var svd mat.SVD
	svd.Factorize(w, mat.SVDFull)
	var u, v mat.Dense
	svd.UTo(&u)
	svd.VTo(&v)
	values := svd.Values(nil)
	var turning, shifting []r3.Vec
	for k := range free {
		if k < len(values) && values[k]*remote > 1 {
			turning = append(turning, r3.Vec{X: u.At(0, k), Y: u.At(1, k), Z: u.At(2, k)})
			continue
		}
		var t twist
		for i := range free {
			t = t.plus(v.At(i, k), &free[i])
		}
		shifting = append(shifting, t.v())
	}
	return nearest(turning), nearest(shifting)
}

// nearest chooses as many axes of the car as there are independent vectors, those that lie nearest to what they span.
func nearest(span []r3.Vec) []int {
	var out []int
	var base []r3.Vec
	for _, v := range span { // an orthonormal base: shifts come with any length
		for _, b := range base {
			v = axpy(v, -r3.Dot(v, b), b)
		}
		base = append(base, r3.Unit(v))
	}
	for len(base) > 0 {
		best, most := 0, -1.0
		for a := range 3 {
			size := 0.0
			for _, b := range base {
				d := r3.Dot(b, unitVector(a))
				size += d * d
			}
			if size > most+1e-9 && !slices.Contains(out, a) {
				best, most = a, size
			}
		}
		out = append(out, best)
		base = without(base, unitVector(best))
	}
	slices.Sort(out)
	return out
}

// without takes the direction nearest to d out of an orthonormal base, leaving one vector less.
func without(base []r3.Vec, d r3.Vec) []r3.Vec {
	var p r3.Vec
	for _, b := range base {
		p = axpy(p, r3.Dot(b, d), b)
	}
	p = r3.Unit(p)
	var out []r3.Vec
	for _, b := range base {
		b = axpy(b, -r3.Dot(b, p), p)
		for _, o := range out {
			b = axpy(b, -r3.Dot(b, o), o)
		}
		if norm(b) > 1e-6 && len(out) < len(base)-1 {
			out = append(out, r3.Unit(b))
		}
	}
	return out
}

// list joins words for a sentence.
func list(words []string, last string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " " + last + " " + words[len(words)-1]
}

// round writes a number of at least 1 to so many digits.
func round(x float64, digits int) string {
	k := math.Pow(10, math.Floor(math.Log10(x))-float64(digits-1))
	return fmt.Sprintf("%.0f", math.Round(x/k)*k)
}

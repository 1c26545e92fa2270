package kin

import (
	"fmt"
	"strings"
)

// Column is a measure of a linkage, found by name: what a sweep tabulates.
type Column struct {
	Name    string // as written: "camber", "damper.length", "right.toe - left.toe"
	Measure *Measure
	Member  string // "" for a measure of the corner
	Side    Side   // Once where the name gives none: the side that was drawn

	side  int // 0 the drawn side, 1 the other
	index int // instance of the member, -1
	minus bool
	plus  *Column // the second of a sum or difference
}

// Column finds the measure that a file calls by name: "camber", "damper.length" of a member, either with a side before it
// ("right.camber"), or the sum or difference of two with blanks about the sign.
func (p *Program) Column(name string) (Column, error) {
	for _, sign := range [...]string{" + ", " - "} {
		first, second, found := strings.Cut(name, sign)
		if !found {
			continue
		}
		c, err := p.single(strings.TrimSpace(first))
		if err != nil {
			return Column{}, err
		}
		d, err := p.single(strings.TrimSpace(second))
		if err != nil {
			return Column{}, err
		}
		if c.Measure.Unit != d.Measure.Unit {
			return Column{}, fmt.Errorf("%s is in %s and %s in %s; only measures of one unit can be added", c.Name, orRatio(c.Measure.Unit), d.Name, orRatio(d.Measure.Unit))
		}
		if c.Measure == d.Measure && c.side == d.side && c.index == d.index {
			return Column{}, fmt.Errorf("%s names one measure twice; name two different ones, such as right.toe - left.toe", name)
		}
		c.Name, c.plus, c.minus = name, &d, sign == " - "
		return c, nil
	}
	return p.single(name)
}

func orRatio(u Unit) string {
	if u == None {
		return "mm/mm"
	}
	return u.String()
}

// Terms returns the parts of a sum or difference, and whether the second is taken away; a single measure is its own one
// part.
func (c *Column) Terms() (terms []Column, minus bool) {
	if c.plus == nil {
		return []Column{*c}, false
	}
	first := *c
	first.plus = nil
	first.Name = strings.Fields(c.Name)[0]
	return []Column{first, *c.plus}, c.minus
}

func (p *Program) single(name string) (Column, error) {
	rest, side := name, Once
	for _, s := range [...]Side{Left, Right} {
		if after, ok := strings.CutPrefix(name, s.String()+"."); ok {
			rest, side = after, s
		}
	}
	c := Column{Name: name, Side: side, index: -1}
	if side != Once && (side == Right) != p.linkage.Right {
		c.side = 1
	}
	member, bare := splitMeasure(rest)
	m, ok := LookupMeasure(bare)
	if !ok {
		return Column{}, fmt.Errorf("%s is no measure", name)
	}
	c.Measure, c.Member = m, member
	if m.Of == OfCorner {
		if member != "" {
			return Column{}, fmt.Errorf("%s is a measure of the corner and stands alone, without %s", bare, member)
		}
		if m.Axle && side != Once {
			return Column{}, fmt.Errorf("%s exists once, for both sides; write %s", bare, bare)
		}
		if m.refuse != nil {
			if why := m.refuse(p, nil); why != "" {
				return Column{}, fmt.Errorf("%s %s", bare, why)
			}
		}
		return c, nil
	}
	if member == "" {
		return Column{}, fmt.Errorf("%s is a measure of a member: write MEMBER.%s", bare, bare)
	}
	return p.ofMember(c, bare)
}

func (p *Program) ofMember(c Column, bare string) (Column, error) {
	for i := range p.instances {
		in := &p.instances[i]
		mm := &p.linkage.Members[in.member]
		if mm.Name != c.Member || mm.Kind == Solid { // a part and the room that it takes share a name
			continue
		}
		if bare == "length" && mm.Kind == Link {
			return Column{}, fmt.Errorf("%s is a link and has no length that changes; how long it is as drawn stands in the check of the geometry, under eye to eye", c.Member)
		}
		if !c.Measure.Of.Has(mm.Kind) {
			return Column{}, fmt.Errorf("%s is a %s and has no %s", c.Member, mm.Kind, bare)
		}
		if in.side == Once && c.Side != Once {
			return Column{}, fmt.Errorf("%s exists once; write %s.%s without a side", c.Member, c.Member, bare)
		}
		if in.side != Once && (in.side == Right) != (c.side == 1) {
			continue
		}
		if c.Measure.refuse != nil {
			if why := c.Measure.refuse(p, in); why != "" {
				return Column{}, fmt.Errorf("%s %s", c.Member, why)
			}
		}
		c.index = i
		return c, nil
	}
	return Column{}, fmt.Errorf("no member is called %s", c.Member)
}

// Columns returns every measure that the linkage has on the drawn side and across, corner first, then member by
// member.
func (p *Program) Columns() []Column {
	var out []Column
	for i := range table {
		if table[i].Of == OfCorner {
			if c, err := p.Column(table[i].Name); err == nil {
				out = append(out, c)
			}
		}
	}
	for _, m := range p.linkage.Members {
		for i := range table {
			if table[i].Of.Has(m.Kind) {
				if c, err := p.Column(m.Name + "." + table[i].Name); err == nil {
					out = append(out, c)
				}
			}
		}
	}
	return out
}

// column makes the node of a column.
func (b *builder) column(c *Column) ref {
	b.s, b.in = c.side, nil
	if c.index >= 0 {
		b.in = &b.p.instances[c.index]
		if b.half {
			b.in = b.p.drawnSide(b.in)
		}
	}
	r := c.Measure.build(b)
	if c.plus == nil {
		return r
	}
	second := b.column(c.plus)
	if c.minus {
		return b.diff(r, second)
	}
	return b.sum(r, second)
}

// drawnSide returns the instance of the same member on the side that was drawn.
func (p *Program) drawnSide(in *instance) *instance {
	for i := range p.instances {
		if o := &p.instances[i]; o.member == in.member && o.side != Right {
			return o
		}
	}
	return in
}

// onOneSide tells whether a column, or each part of a sum, is of the corner or of a member that each side has and that
// meets nothing across.
func (c *Column) onOneSide(p *Program) bool {
	if c.plus != nil && !c.plus.onOneSide(p) {
		return false
	}
	if c.index < 0 {
		return true
	}
	in := &p.instances[c.index]
	if in.pair >= 0 {
		return p.oneSided(&p.pairs[in.pair])
	}
	for _, body := range [...]int{in.ends[0].body, in.ends[1].body, in.tilt.bodies[0], in.tilt.bodies[1]} {
		if body >= bodyFollower && p.followers[body-bodyFollower].side == Once {
			return false
		}
	}
	return in.side != Once
}

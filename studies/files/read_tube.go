package files

import (
	"math/big"

	"go.yaml.in/yaml/v4"

	"trammel/kin"
)

// limits reads how far a part can go, and the room that it takes.
func (r *memberReader) limits(m map[string]field) {
	if f, given := m["length"]; given {
		r.stroke(f)
	}
	if f, given := m["plunge"]; given {
		r.out.Plunge = r.w.plunge(f)
	}
	if f, given := m["angle"]; given {
		r.out.Angle, _ = r.w.tilt(f, 90, false)
	}
	if f, given := m["twist"]; given {
		r.out.Twist, _ = r.w.tilt(f, maxTwist, true)
	}
	if f, given := m["tube"]; given {
		r.tube(f)
	}
}

// tilt reads an angle that is more than 0 and less than most, or at most that.
func (w *walk) tilt(f field, most int64, reached bool) (float64, bool) {
	v, ok := w.degrees(f)
	if !ok {
		return 0, false
	}
	over := v.Cmp(big.NewRat(most, 1))
	switch out, _ := v.Float64(); {
	case v.Sign() < 0:
		w.bad(f, "is %s; it counts either way, so write it without the minus", clip(f.node.Value))
	case out == 0:
		w.bad(f, "is %s; it must be more than 0", clip(f.node.Value))
	case over > 0 || over == 0 && !reached || out == float64(most) && !reached:
		w.bad(f, "is %s degrees; it must be %s %d", clip(f.node.Value), pick(reached, "at most", "less than"), most)
	default:
		return out, true
	}
	return 0, false
}

// lengthTable returns the keys of the length of a kind of member.
func lengthTable(k kin.Kind) keys {
	switch k {
	case kin.Spring:
		return springLengthKeys
	case kin.Damper, kin.Strut:
		return damperLengthKeys
	}
	return lengthKeys
}

// stroke reads the shortest and longest that a member can be, and where it meets its stop or its own turns.
func (r *memberReader) stroke(f field) {
	w, table := r.w, lengthTable(r.out.Kind)
	m, ok := w.mapping(f, table)
	if !ok {
		return
	}
	if len(f.node.Content) == 0 {
		w.bad(f, "has neither min nor max; write {min: ~190, max: ~265} with your own numbers")
		return
	}
	read := func(name string) *int64 {
		if c, given := m[name]; given {
			if q, ok := w.positive(c, false); ok {
				return &q
			}
		}
		return nil
	}
	least, most, stop, solid := read("min"), read("max"), read("stop"), read("solid")
	r.out.Length = Range{least, most}
	show := w.units.Format
	crossed := least != nil && most != nil && *least >= *most
	if crossed {
		w.bad(f, "has min %s and max %s; min must be less than max", show(*least), show(*most))
	}
	if stop != nil {
		r.out.Stop = *stop
		switch c := m["stop"]; {
		case crossed:
		case least != nil && *stop <= *least:
			w.bad(c, "is %s, and it can be no shorter than its min of %s; the bump stop begins at a greater length", show(*stop), show(*least))
		case most != nil && *stop > *most:
			w.bad(c, "is %s, and it can be no longer than its max of %s; the bump stop begins at a smaller length", show(*stop), show(*most))
		case solid != nil && *stop <= *solid:
			w.bad(c, "is %s, and its turns touch at %s; the bump stop begins at a greater length", show(*stop), show(*solid))
		}
	}
	if solid != nil {
		r.out.Solid = *solid
		switch c := m["solid"]; {
		case crossed:
		case least != nil && *solid > *least:
			w.bad(c, "is %s, more than its min of %s; a spring gets no shorter than where its turns touch, so min is at least that", show(*solid), show(*least))
		case least == nil && most != nil && *solid >= *most:
			w.bad(c, "is %s, and its max is %s; where its turns touch it is shorter than that", show(*solid), show(*most))
		}
	}
}

// plunge reads how far a shaft's inner joint can be pushed in and pulled out.
func (w *walk) plunge(f field) (r Range) {
	m, ok := w.mapping(f, plungeKeys)
	if !ok {
		return r
	}
	if len(f.node.Content) == 0 {
		w.bad(f, "has neither min nor max; write {min: ~-14, max: ~14} with your own numbers")
		return r
	}
	if c, given := m["min"]; given {
		if q, ok := w.length(c); ok {
			r.Min = &q
			if q > 0 {
				w.bad(c, "is %s; plunge counts from design, where it is 0, and pushed in it is negative: write %s", clip(c.node.Value), w.units.Format(-q))
			}
		}
	}
	if c, given := m["max"]; given {
		if q, ok := w.length(c); ok {
			r.Max = &q
			if q < 0 {
				w.bad(c, "is %s; plunge counts from design, where it is 0, and pulled out it is positive: write %s", clip(c.node.Value), w.units.Format(-q))
			}
		}
	}
	if r.Min != nil && r.Max != nil && *r.Min == 0 && *r.Max == 0 {
		w.bad(f, "has min 0 and max 0, so that nothing may move; min must be less than max")
	}
	return r
}

// tube reads the room that a member takes: a diameter, or a group of keys.
func (r *memberReader) tube(f field) {
	w := r.w
	if f.node.Kind != yaml.MappingNode {
		r.out.Tube.Diameter, _ = w.positive(f, false)
		return
	}
	table := tubeKeys
	if r.out.Kind == kin.Damper || r.out.Kind == kin.Spring || r.out.Kind == kin.Strut {
		table = bodyKeys(nil)
	}
	m, ok := w.mapping(f, table)
	if !ok {
		return
	}
	t := &r.out.Tube
	w.lengths(m, false, map[string]*int64{"diameter": &t.Diameter, "length": &t.Length, "rod": &t.Rod})
	if c, given := m["rod"]; given && f.keyIn("length") == nil {
		w.at(c.keyPos(), c.path, "%s needs length: how far the body reaches before the rod begins", c.label)
	} else if given && t.Rod > 0 && t.Diameter > 0 && t.Rod >= t.Diameter {
		w.bad(c, "is %s, and the body's diameter %s; the rod must be thinner", w.units.Format(t.Rod), w.units.Format(t.Diameter))
	}
	if c, given := m["from"]; given && f.keyIn("length") == nil {
		w.at(c.keyPos(), c.path, "%s needs length: without it the tube goes from end to end", c.label)
	} else if given {
		r.tubeFrom(c)
	}
	if c, given := m["length"]; given && t.Length > 0 && r.out.Length.Min != nil && t.Length > *r.out.Length.Min {
		w.bad(c, "is %s, and %s can be as short as %s; its body must be shorter than that", w.units.Format(t.Length), r.out.Name, w.units.Format(*r.out.Length.Min))
	}
}

// tubeFrom reads at which end of the member its body begins.
func (r *memberReader) tubeFrom(f field) {
	s, ok := r.w.scalar(f, "one of its two points")
	if !ok || len(r.out.Points) < 2 || r.out.Points[0] == "" || r.out.Points[1] == "" {
		return
	}
	var ends []string
	for i, p := range r.out.Points[:2] {
		ends = append(ends, withSide(r.sides[i], p))
	}
	switch s {
	case ends[0]:
	case ends[1]:
		r.out.Tube.Reversed = true
	default:
		r.w.bad(f, "is %s, which is no end of %s; write %s or %s", quoted(s), r.out.Name, ends[0], ends[1])
	}
}

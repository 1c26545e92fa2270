package files

import (
	"slices"

	"trammel/kin"
)

// What a schema can say beyond one key at a time: which keys go together. The walk says the same in
// sentences; the bad files of the tests keep the two together.

func required(names ...string) schema {
	list := make([]any, len(names))
	for i, n := range names {
		list[i] = n
	}
	return schema{"required": list}
}

func anyRequired(names ...string) schema {
	alternatives := make([]schema, len(names))
	for i, n := range names {
		alternatives[i] = required(n)
	}
	return anyOf(alternatives...)
}

func not(s schema) schema { return schema{"not": s} }

func allOf(rules ...schema) schema {
	list := make([]any, len(rules))
	for i, r := range rules {
		list[i] = r
	}
	return schema{"allOf": list}
}

func when(condition, then, otherwise schema) schema {
	return schema{"if": condition, "then": then, "else": otherwise}
}

// property says something of the value of one key, if it is there.
func property(name string, s schema) schema { return schema{"properties": schema{name: s}} }

// has says that a key is there and its value is like this.
func has(name string, s schema) schema { return with(property(name, s), required(name)) }

// handedRule lists the right-handed sets of axes, and the left-handed ones for files that mean them.
func handedRule() schema {
	var right, left []any
	for x := Forward; x <= Downward; x++ {
		for y := Forward; y <= Downward; y++ {
			for z := Forward; z <= Downward; z++ {
				if x/2 == y/2 || y/2 == z/2 || z/2 == x/2 {
					continue
				}
				set := schema{"x": x.String(), "y": y.String(), "z": z.String()}
				if (Axes{x, y, z}).rightHanded() {
					right = append(right, set)
				} else {
					left = append(left, set)
				}
			}
		}
	}
	return when(has("handed", schema{"const": "left"}), property("axes", schema{"enum": left}), property("axes", schema{"enum": right}))
}

// motionRule: a pair of ends needs a number of positions, more pairs need as many numbers, anything else none.
func motionRule() []schema {
	pair := schema{"type": "array", "minItems": 2, "maxItems": 2}
	var ranges []schema
	for _, name := range travelNames {
		ranges = append(ranges, has(name, pair))
	}
	numbers := func(n int) schema { return has("positions", schema{"type": "array", "minItems": n, "maxItems": n}) }
	wheel, rack, roll := ranges[0], ranges[1], ranges[2]
	return []schema{
		anyRequired(travelNames[:]...),
		{"dependentRequired": schema{"wheels": []any{travelNames[0]}}},
		when(allOf(wheel, rack, roll), numbers(3),
			when(anyOf(allOf(wheel, rack), allOf(wheel, roll), allOf(rack, roll)), numbers(2),
				when(anyOf(wheel, rack, roll), has("positions", schema{"type": "integer"}), not(required("positions"))))),
	}
}

// varyRule: a choice stands alone; the others need from and to, or by.
func varyRule() []schema {
	angle := schema{"minimum": -90, "maximum": 90}
	return []schema{
		when(required("choose"), schema{"maxProperties": 1}, anyOf(
			allOf(required("from", "to"), not(required("by"))),
			allOf(required("by"), not(anyRequired("from", "to"))))),
		not(required("move", "turn")),
		{"dependentRequired": schema{"move": []any{"along"}, "along": []any{"move"}, "turn": []any{"about"}, "about": []any{"turn"}}},
		when(required("turn"), schema{"properties": schema{"from": angle, "to": angle, "by": angle, "step": angle}}, schema{}),
	}
}

// varyShape: an entry that is not called POINT.AXIS says what it moves.
func varyShape() schema {
	return schema{
		"type": "object", "minProperties": 1,
		"patternProperties":    schema{pointPattern[:len(pointPattern)-1] + `\.[xyz]$`: varyKeys.object()},
		"additionalProperties": with(varyKeys.object(), anyRequired("move", "turn", "choose")),
		"propertyNames":        schema{"pattern": titledPattern},
	}
}

// targetRule: one shape, and the motion or place that it needs.
func targetRule() []schema {
	var shapes []any
	needs, places := schema{}, schema{}
	for _, w := range shapeWords {
		shapes = append(shapes, required(w))
	}
	for _, s := range []Shape{Follow, Hold, Straight, Even, Rising, Falling} {
		needs[s.String()] = []any{"in"}
		places[s.String()] = not(required("place"))
	}
	needs[Value.String()] = []any{"place"}
	return []schema{
		{"oneOf": shapes},
		anyRequired("in", "place"),
		{"dependentRequired": needs},
		{"dependentSchemas": places},
		// a curve needs a motion to run over
		when(required("in"), schema{}, property("within", anyOf(positiveMeasureShape,
			schema{"properties": schema{"above": positiveMeasureShape, "below": positiveMeasureShape}, "required": []any{"above", "below"}}))),
		when(anyRequired("straight", "even", "rising", "falling"), not(required("relative")), schema{}),
	}
}

func limitRule() []schema {
	return []schema{
		anyRequired("min", "max", "at_least", "at_most", "spread"),
		anyRequired("in", "place"),
		not(required("min", "at_least")),
		not(required("max", "at_most")),
		when(required("spread"), allOf(required("in"), not(required("place"))), schema{}),
	}
}

// stageRule: one kind of stage, and the keys that go with the method.
func stageRule() []schema {
	var kinds []any
	for _, w := range stageWords {
		kinds = append(kinds, required(w))
	}
	rules := []schema{{"oneOf": kinds}}
	methods := func(kind StageKind, names []string) {
		for _, m := range names {
			need, may := stageNeeds(kind, m, true)
			always, _ := stageNeeds(kind, m, false) // a factorial of alternatives alone has no levels
			then := []schema{required(always...)}
			for _, k := range []string{"runs", "islands", "levels", "table"} {
				if !slices.Contains(need, k) && !slices.Contains(may, k) {
					then = append(then, not(required(k)))
				}
			}
			rules = append(rules, when(has(kind.String(), schema{"const": m}), allOf(then...), schema{}))
		}
	}
	methods(Plan, planMethods)
	methods(Search, searchMethods)
	refine := []schema{}
	for _, k := range []string{"runs", "islands", "levels", "table"} {
		refine = append(refine, not(required(k)))
	}
	rules = append(rules, when(required("refine"), allOf(refine...), schema{}),
		when(required("trade"), allOf(refine[2:]...), schema{}))
	return rules
}

// measureNameShape lists kin's measures: those of the corner by name, those of members behind a dot; a side may
// stand before either, and two of them may be added or subtracted.
func measureNameShape() schema {
	corner, member := "", ""
	for _, m := range kin.Measures() {
		if m.Of == kin.OfCorner {
			corner += "|" + m.Name
		} else {
			member += "|" + m.Name
		}
	}
	term := `((left|right)\.)?(` + corner[1:] + `|[A-Za-z][A-Za-z0-9_-]*\.(` + member[1:] + `))`
	return text(`^` + term + `(\s+[+-]\s+` + term + `)?$`)
}

package files

import "slices"

// The shapes of values, as JSON Schema. A schema sees values as they are in the tree: a number, or
// text where a unit stands behind it. What lies beyond its reach (names that must exist, the lattice,
// sides) the walk checks.

const (
	decimalPattern = `[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,3})?`
	fractPattern   = `[+-]?([0-9]{1,6} )?[0-9]{1,6}/[0-9]{1,6}`
	namePattern    = `^[A-Za-z][A-Za-z0-9_-]*$`
	titledPattern  = `[A-Za-z0-9]` // a title becomes a column's name
)

func with(base schema, more schema) schema {
	out := schema{}
	for k, v := range base {
		out[k] = v
	}
	for k, v := range more {
		out[k] = v
	}
	return out
}

func anyOf(alternatives ...schema) schema {
	list := make([]any, len(alternatives))
	for i, a := range alternatives {
		list[i] = a
	}
	return schema{"anyOf": list}
}

func listOf(item schema, least, most int) schema {
	s := schema{"type": "array", "items": item, "minItems": least}
	if most > 0 {
		s["maxItems"] = most
	}
	return s
}

func mapOf(value schema, keyPattern string, least int) schema {
	s := schema{"type": "object", "additionalProperties": value, "minProperties": least, "maxProperties": maxEntries}
	if keyPattern != "" {
		s["propertyNames"] = schema{"pattern": keyPattern}
	}
	return s
}

// namedMap is a mapping of points or parts, whose names are free but for the bodies always there, and those given.
func namedMap(value schema, most int, but ...string) schema {
	s := mapOf(value, namePattern, 1)
	s["maxProperties"] = most
	s["propertyNames"] = with(nameShape, not(oneOf(slices.Concat(reserved, sidePrefixes, but)...)))
	return s
}

func oneOf(words ...string) schema {
	list := make([]any, len(words))
	for i, w := range words {
		list[i] = w
	}
	return schema{"enum": list}
}

func text(pattern string) schema { return schema{"type": "string", "pattern": pattern} }

func whole(least, most int64) schema {
	return schema{"type": "integer", "minimum": least, "maximum": most}
}

var (
	lengthShape = anyOf(
		schema{"type": "number", "minimum": -1e6, "maximum": 1e6},
		text(`^(`+decimalPattern+`|`+fractPattern+`) ?(mm|in)?$`))
	// a length that is more than 0, or at least 0: no minus sign
	distanceShape = anyOf(schema{"type": "number", "minimum": 0, "maximum": 1e6}, text(`^[^-]*$`))
	positiveShape = anyOf(schema{"type": "number", "exclusiveMinimum": 0, "maximum": 1e6}, text(`^[^-]*[1-9][^-]*$`))
	angleShape    = anyOf(schema{"type": "number", "exclusiveMinimum": -90, "exclusiveMaximum": 90}, text(`^(`+decimalPattern+`|`+fractPattern+`) ?(deg)?$`))
	// a bare number, and a part of a whole
	rollValueShape = anyOf(schema{"type": "number", "minimum": -maxRoll, "maximum": maxRoll}, text(`^(`+decimalPattern+`|`+fractPattern+`) ?(deg)?$`))
	plainShape     = anyOf(schema{"type": "number", "minimum": -1e6, "maximum": 1e6}, text(`^(`+decimalPattern+`|`+fractPattern+`)$`))
	directionShape = listOf(plainShape, 3, 3)
	shareShape     = anyOf(schema{"type": "number", "minimum": 0, "maximum": 1}, text(`^(`+decimalPattern+`|`+fractPattern+`) ?%?$`))
	measureShape   = anyOf(schema{"type": "number", "minimum": -1e12, "maximum": 1e12}, text(`^(`+decimalPattern+`|`+fractPattern+`) ?[a-z0-9/%]+$`))
	weightShape    = schema{"type": "number", "exclusiveMinimum": 0, "maximum": 1e6}
	nameShape      = schema{"type": "string", "pattern": namePattern, "maxLength": maxName}
	titleShape     = with(text(`^\S(.*\S)?$`), schema{"maxLength": maxTitle})
	pathShape      = schema{"type": "string", "minLength": 1}
	trueShape      = schema{"const": true}
	tripleShape    = listOf(lengthShape, 3, 3)
	curveShape     = mapOf(measureShape, `^(`+decimalPattern+`|`+fractPattern+`) ?(mm|in|deg)?$`, 2)
	// a point of the geometry as a study names it
	pointPattern  = `^(opposite\.)?` + namePattern[1:]
	pointShape    = schema{"type": "string", "pattern": pointPattern, "maxLength": maxName + len(oppositePrefix)}
	linePairShape = with(listOf(pointShape, 2, 2), schema{"uniqueItems": true})
)

// object makes the schema of a mapping from its table: the same keys, the same needs.
func (t keys) object() schema {
	properties := schema{}
	var need []any
	for _, k := range t.list {
		if !k.taken() {
			continue
		}
		properties[k.name] = with(k.shape, schema{"description": Millimetre.Example(k.about)})
		if k.need {
			need = append(need, k.name)
		}
	}
	s := schema{"type": "object", "properties": properties, "additionalProperties": false}
	if need != nil {
		s["required"] = need
	}
	if t.rules != nil {
		s["allOf"] = allOf(t.rules...)["allOf"]
	}
	return s
}

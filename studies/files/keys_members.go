package files

import (
	"slices"

	"trammel/kin"
)

// sideKinds and acrossKinds are the words that say what a member is, under members and under across, in the
// order in which sentences list them.
var (
	sideKinds = []string{"arm", "link", "rocker", "damper", "spring", "h_arm", "strut", "hinge", "ball_joint", "kingpin", "distance", "shaft"}

	acrossKinds = []string{"link", "rocker", "damper", "spring", "arm", "h_arm", "ball_joint", "distance", "torsion_bar", "centre_arm"}

	kindKeys = append(append([]string(nil), sideKinds...), "torsion_bar", "centre_arm")
)

// kindOf finds the kind that a word names.
var kindOf = func() map[string]kin.Kind {
	m := map[string]kin.Kind{}
	for k := kin.Link; k <= kin.Centre; k++ {
		m[k.String()] = k
	}
	return m
}()

// form is how a kind of member is written: what the walk reads by.
type form struct {
	points  int    // in the list behind the kind's own word; 0 where the word takes a body
	balls   int    // 1 for `ball`, 2 for `balls`
	single  bool   // the word takes one name without brackets
	ends    ends   // what `ends` says
	pattern string // how a sentence shows it
}

// ends says what is known of the two bodies of a member.
type ends uint8

const (
	endsNeeded  ends = iota // the file must name them
	endsCarrier             // frame and the carrier when left out
	endsOn                  // `on` names the one there is; frame when left out
	endsKingpin             // axle and upright, nothing else
	endsNone                // the kind's own word names its bodies
)

var forms = map[kin.Kind]form{
	kin.Link:     {points: 2, ends: endsNeeded, pattern: "link: [POINT, POINT], ends: [BODY, BODY]"},
	kin.Damper:   {points: 2, ends: endsNeeded, pattern: "damper: [POINT, POINT], ends: [BODY, BODY]"},
	kin.Spring:   {points: 2, ends: endsNeeded, pattern: "spring: [POINT, POINT], ends: [BODY, BODY]"},
	kin.Distance: {points: 2, ends: endsNeeded, pattern: "distance: [POINT, POINT], ends: [BODY, BODY]"},
	kin.Arm:      {points: 2, balls: 1, ends: endsCarrier, pattern: "arm: [PIVOT, PIVOT], ball: POINT"},
	kin.HArm:     {points: 2, balls: 2, ends: endsCarrier, pattern: "h_arm: [PIVOT, PIVOT], balls: [POINT, POINT]"},
	kin.Strut:    {points: 2, ends: endsCarrier, pattern: "strut: [TOP, FOOT]"},
	kin.Hinge:    {points: 2, ends: endsCarrier, pattern: "hinge: [PIVOT, PIVOT]"},
	kin.Ball:     {points: 1, single: true, ends: endsCarrier, pattern: "ball_joint: POINT"},
	kin.Shaft:    {points: 2, ends: endsCarrier, pattern: "shaft: [INNER, OUTER]"},
	kin.Rocker:   {points: 2, ends: endsOn, pattern: "rocker: [POINT, POINT]"},
	kin.Kingpin:  {points: 2, ends: endsKingpin, pattern: "kingpin: [LOW, HIGH]"},
	kin.Bar:      {ends: endsNone, pattern: "torsion_bar: [BODY, BODY]"},
	kin.Centre:   {single: true, ends: endsNone, pattern: "centre_arm: BAR"},
}

// memberKeys and acrossKeys are the tables of the kinds of member, by the word that makes the kind. Under across
// the names of what exists on both sides begin with their side.
var (
	memberKeys = memberTables(nameShape)
	acrossKeys = memberTables(sidedShape)
)

// sidedShape is a name that may begin with the side of the car.
var sidedShape = schema{"type": "string", "pattern": `^((left|right)\.)?` + namePattern[1:], "maxLength": maxName + len("right.")}

func memberTables(name schema) map[string]keys {
	pair := with(listOf(name, 2, 2), schema{"uniqueItems": true})
	ends := func(need bool, about string) key { return key{name: "ends", need: need, about: about, shape: pair} }
	carried := func(of string, list ...key) keys {
		return keys{of: of, list: slices.Concat(list, memberLater, movedTube(of, list))}
	}
	bar := func(of, word, example, ends2 string, more ...key) keys {
		list := append([]key{
			{name: word, need: true, about: "the points at its two ends, such as " + example, shape: pair},
			ends(true, "the bodies its two ends are on, in the same order, such as "+ends2),
		}, more...)
		return carried(of, list...)
	}
	length := func(t keys) key {
		return key{name: "length", about: "shortest and longest, such as {min: ~190, max: ~265}; they always bind", shape: t.object()}
	}
	tube := key{name: "tube", about: "outside diameter of the tube along it, which makes it a solid", shape: anyOf(positiveShape, tubeKeys.object())}
	body := key{name: "tube", about: "diameter of a tube from end to end, or of its body with its length, such as {diameter: ~54, length: ~180, rod: ~12}; it makes it a solid", shape: anyOf(positiveShape, bodyKeys(name).object())}
	rate := key{name: "rate", later: laterForces}
	const usual = ", such as [frame, upright], which they are when left out"
	tables := map[string]keys{
		"link":     bar("a link", "link", "[rack_end, steering_arm]", "[rack, upright]", key{name: "soft", about: "true: it lives on its bushes and constrains nothing; the change of length it needs is measured", shape: trueShape}, tube),
		"damper":   bar("a damper", "damper", "[damper_rocker, damper_frame]", "[rocker, frame]", length(damperLengthKeys), body),
		"spring":   bar("a spring", "spring", "[spring_lower, spring_upper]", "[lower_arm, frame]", length(springLengthKeys), rate, body),
		"distance": bar("a distance", "distance", "[strap_frame, strap_axle]", "[frame, axle]", length(lengthKeys)),
		"arm": carried("an arm",
			key{name: "arm", need: true, about: "its two pivots, such as [lower_front, lower_rear]", shape: pair},
			key{name: "ball", need: true, about: "its ball joint on the upright", shape: name},
			ends(false, "the body of its pivots and the body of its ball"+usual),
			key{name: "on", about: "the body its pivots are on; frame when left out", shape: name}, tube),
		"h_arm": carried("an h_arm",
			key{name: "h_arm", need: true, about: "its two pivots, such as [lower_front, lower_rear]", shape: pair},
			key{name: "balls", need: true, about: "its two ball joints, such as [foot_front, foot_rear]", shape: pair},
			ends(false, "the body of its pivots and the body of its balls"+usual), tube),
		"strut": carried("a strut",
			key{name: "strut", need: true, about: "its top joint and a point lower on its line, such as [strut_top, strut_foot]", shape: pair},
			ends(false, "the body of its top and the body of its foot"+usual), length(damperLengthKeys), body),
		"hinge": carried("a hinge",
			key{name: "hinge", need: true, about: "two points on the axis of a trailing or semi-trailing arm that is one piece with what carries the wheel", shape: pair},
			ends(false, "the body of the axis and what carries the wheel"+usual)),
		"ball_joint": carried("a ball joint",
			key{name: "ball_joint", need: true, about: "the point at its centre", shape: name},
			ends(false, "the two bodies it joins"+usual)),
		"kingpin": carried("a kingpin",
			key{name: "kingpin", need: true, about: "two points on its axis, the lower first, such as [kingpin_low, kingpin_high]", shape: pair},
			key{name: "ends", about: "[axle, upright], which they are when left out", shape: schema{"const": []any{kin.Axle, kin.Upright}}}),
		"shaft": carried("a shaft",
			key{name: "shaft", need: true, about: "its inner and outer joint, such as [shaft_inner, shaft_outer]", shape: pair},
			ends(false, "the bodies of the inner and the outer joint"+usual),
			key{name: "axis", about: "the direction of the axis on which the inner joint turns, such as [0, 1, 0]; straight across the car when left out", shape: directionShape},
			key{name: "plunge", about: "how far the inner joint can be pushed in and pulled out from design, such as {min: ~-14, max: ~14}; it always binds", shape: plungeKeys.object()},
			key{name: "angle", about: "how far its joints can bend, in deg; it always binds", shape: tiltShape}, tube),
		"rocker": carried("a rocker",
			key{name: "rocker", need: true, about: "two points on its axis, such as [rocker_front, rocker_rear]", shape: pair},
			key{name: "on", about: "the body that carries its axis; frame when left out", shape: name}),
		"torsion_bar": carried("a torsion bar",
			key{name: "torsion_bar", need: true, about: "the two arms or rockers that it joins, such as [left.rocker, right.rocker]", shape: pair},
			key{name: "twist", about: "how far it can be twisted either way, in deg; it always binds", shape: twistShape}, rate),
		"centre_arm": carried("a centre arm",
			key{name: "centre_arm", need: true, about: "the torsion bar to whose middle it is fixed", shape: nameShape}),
	}
	arm := tables["arm"]
	arm.rules = []schema{not(required("on", "ends"))}
	tables["arm"] = arm
	return tables
}

// toJoints says where the tilt of a bearing is written.
const toJoints = "write it under joints, such as lower_joint: {spherical: lower_ball, housing: upright, bolt: lower_arm, bolt_axis: [0, 0, 1], tilt: 13}"

// memberLater are the keys that no member has, and what to do instead.
var memberLater = []key{
	{name: "tilt", moved: toJoints},
	{name: "bearing", moved: toJoints},
	{name: "adjuster", later: "vary the points that it moves"},
}

// movedTube is the key of a kind of member that takes no room by itself, where its table has none.
func movedTube(of string, list []key) []key {
	if slices.ContainsFunc(list, func(k key) bool { return k.name == "tube" }) {
		return nil
	}
	return []key{{name: "tube", moved: of + " has no tube of its own, so draw one under solids: NAME: {tube: [POINT, POINT], diameter: ~28, on: BODY}"}}
}

var lengthKeys = keys{of: "length", list: []key{
	{name: "min", about: "the shortest it can be", shape: positiveShape},
	{name: "max", about: "the longest it can be", shape: positiveShape},
}}

var (
	stopKey = key{name: "stop", about: "its length where the bump stop begins", shape: positiveShape}

	damperLengthKeys = keys{of: "length", list: append(slices.Clone(lengthKeys.list), stopKey,
		key{name: "solid", moved: "it is of a coil spring; write the spring as a member of its own, with length: {solid: ~132}"})}
	springLengthKeys = keys{of: "length", list: append(slices.Clone(lengthKeys.list), stopKey,
		key{name: "solid", about: "its length where its turns touch; it always binds", shape: positiveShape})}
)

var plungeKeys = keys{of: "plunge", rules: []schema{anyRequired("min", "max")}, list: []key{
	{name: "min", about: "how far it can be pushed in from design, as a negative length", shape: lengthShape},
	{name: "max", about: "how far it can be pulled out from design", shape: lengthShape},
}}

// tubeKeys are those of a tube from end to end, bodyKeys those of one that may end earlier.
var tubeKeys = keys{of: "tube", list: []key{
	{name: "diameter", need: true, about: "outside", shape: positiveShape},
	{name: "length", moved: "this tube goes from end to end"},
	{name: "rod", moved: "this tube goes from end to end and has no rod"},
	{name: "from", moved: "this tube goes from end to end"},
}}

func bodyKeys(name schema) keys {
	return keys{of: "tube", rules: []schema{{"dependentRequired": schema{"rod": []any{"length"}, "from": []any{"length"}}}}, list: []key{
		{name: "diameter", need: true, about: "outside, of the body", shape: positiveShape},
		{name: "length", about: "how far the body reaches from its end; all the way when left out", shape: positiveShape},
		{name: "rod", about: "diameter of the rod from the body to the other end; none when left out", shape: positiveShape},
		{name: "from", about: "the end where the body begins; the first when left out", shape: name},
	}}
}

func memberShape(kinds []string, tables map[string]keys) schema {
	var shapes []schema
	for _, k := range kinds {
		shapes = append(shapes, tables[k].object())
	}
	return anyOf(shapes...)
}

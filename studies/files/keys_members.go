package files

import "trammel/kin"

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
	bar := func(of, word, example, ends2 string, more ...key) keys {
		list := append([]key{
			{name: word, need: true, about: "the points at its two ends, such as " + example, shape: pair},
			ends(true, "the bodies its two ends are on, in the same order, such as "+ends2),
		}, more...)
		return keys{of: of, list: append(list, memberLater...)}
	}
	carried := func(of string, list ...key) keys { return keys{of: of, list: append(list, memberLater...)} }
	length := key{name: "length", about: "shortest and longest, such as {min: 190, max: 265}; they always bind", shape: lengthKeys.object()}
	rate := key{name: "rate", later: laterForces}
	const usual = ", such as [frame, upright], which they are when left out"
	tables := map[string]keys{
		"link":     bar("a link", "link", "[rack_end, steering_arm]", "[rack, upright]", key{name: "soft", about: "true: it lives on its bushes and constrains nothing; the change of length it needs is measured", shape: trueShape}),
		"damper":   bar("a damper", "damper", "[damper_rocker, damper_frame]", "[rocker, frame]", length),
		"spring":   bar("a spring", "spring", "[spring_lower, spring_upper]", "[lower_arm, frame]", length, rate),
		"distance": bar("a distance", "distance", "[strap_frame, strap_axle]", "[frame, axle]", length),
		"arm": carried("an arm",
			key{name: "arm", need: true, about: "its two pivots, such as [lower_front, lower_rear]", shape: pair},
			key{name: "ball", need: true, about: "its ball joint on the upright", shape: name},
			ends(false, "the body of its pivots and the body of its ball"+usual),
			key{name: "on", about: "the body its pivots are on; frame when left out", shape: name}),
		"h_arm": carried("an h_arm",
			key{name: "h_arm", need: true, about: "its two pivots, such as [lower_front, lower_rear]", shape: pair},
			key{name: "balls", need: true, about: "its two ball joints, such as [foot_front, foot_rear]", shape: pair},
			ends(false, "the body of its pivots and the body of its balls"+usual)),
		"strut": carried("a strut",
			key{name: "strut", need: true, about: "its top joint and a point lower on its line, such as [strut_top, strut_foot]", shape: pair},
			ends(false, "the body of its top and the body of its foot"+usual), length),
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
			key{name: "axis", about: "the direction of the axis on which the inner joint turns, such as [0, 1, 0]; straight across the car when left out", shape: directionShape}),
		"rocker": carried("a rocker",
			key{name: "rocker", need: true, about: "two points on its axis, such as [rocker_front, rocker_rear]", shape: pair},
			key{name: "on", about: "the body that carries its axis; frame when left out", shape: name}),
		"torsion_bar": carried("a torsion bar",
			key{name: "torsion_bar", need: true, about: "the two arms or rockers that it joins, such as [left.rocker, right.rocker]", shape: pair}, rate),
		"centre_arm": carried("a centre arm",
			key{name: "centre_arm", need: true, about: "the torsion bar to whose middle it is fixed", shape: nameShape}),
	}
	arm := tables["arm"]
	arm.rules = []schema{not(required("on", "ends"))}
	tables["arm"] = arm
	return tables
}

// memberLater are the keys of every member that are not built yet.
var memberLater = []key{
	{name: "tube", later: laterSolids},
	{name: "tilt", later: laterTilt},
	{name: "bearing", later: laterTilt},
	{name: "adjuster", later: "vary the points that it moves"},
}

var lengthKeys = keys{of: "length", list: []key{
	{name: "min", about: "the shortest it can be", shape: positiveShape},
	{name: "max", about: "the longest it can be", shape: positiveShape},
}}

func memberShape(kinds []string, tables map[string]keys) schema {
	var shapes []schema
	for _, k := range kinds {
		shapes = append(shapes, tables[k].object())
	}
	return anyOf(shapes...)
}

package files

// The tables of keys of what takes room and of what can tilt.

// What these sections may hold at most, each.
const (
	maxSolids = 200
	maxRoute  = 40   // points of one solid
	maxGaps   = 2000 // pairs of solids over all clearances of a side
)

var (
	// an angle above 0: no minus sign
	tiltShape  = anyOf(schema{"type": "number", "exclusiveMinimum": 0, "exclusiveMaximum": 90}, text(`^[^-]*[1-9][^-]*$`))
	twistShape = anyOf(schema{"type": "number", "exclusiveMinimum": 0, "maximum": maxTwist}, text(`^[^-]*[1-9][^-]*$`))
	autoShape  = anyOf(directionShape, schema{"const": auto})
)

const (
	auto     = "auto" // a direction that the motions choose
	maxTwist = 360    // deg
)

var tyreKeys = keys{of: "tyre", list: []key{
	{name: "diameter", need: true, about: "outside, unloaded", shape: positiveShape},
	{name: "width", need: true, about: "over its sidewalls", shape: positiveShape},
	{name: "round", about: "radius of its edges; 0 when left out", shape: distanceShape},
}}

var rimKeys = keys{of: "rim", list: []key{
	{name: "diameter", need: true, about: "of the barrel, outside", shape: positiveShape},
	{name: "width", need: true, about: "from edge to edge", shape: positiveShape},
	{name: "wall", need: true, about: "from the outside of the barrel to its inside", shape: positiveShape},
}}

// solidWords say what shape a solid has, in the order in which sentences list them.
var solidWords = []string{"tube", "box", "cylinder", "ball"}

// solidKeys are the tables of solids, by the word that makes the shape.
var solidKeys = func() map[string]keys {
	route := func(least, most int) schema { return listOf(sidedShape, least, most) }
	diameter := key{name: "diameter", need: true, about: "outside", shape: positiveShape}
	on := key{name: "on", about: "the body that carries it; frame when left out", shape: sidedShape}
	once := key{name: "once", about: "true: it exists once, where it is drawn; else the other side has its mirror image", shape: trueShape}
	return map[string]keys{
		"tube": {of: "a tube", list: []key{
			{name: "tube", need: true, about: "two points or more along it, such as [rail_front, rail_rear]", shape: route(2, maxRoute)}, diameter, on, once}},
		"box": {of: "a box", list: []key{
			{name: "box", need: true, about: "two opposite corners, such as [tank_low, tank_high]; its edges lie along the axes of this file at design", shape: with(route(2, 2), schema{"uniqueItems": true})},
			{name: "diameter", moved: "a box has none, its two corners say all"}, on, once}},
		"cylinder": {of: "a cylinder", list: []key{
			{name: "cylinder", need: true, about: "the middles of its two flat ends, such as [disc_inner, disc_outer]", shape: with(route(2, 2), schema{"uniqueItems": true})},
			diameter, {name: "hole", about: "diameter of a hole through it; none when left out", shape: positiveShape}, on, once}},
		"ball": {of: "a ball", list: []key{
			{name: "ball", need: true, about: "the point at its centre", shape: sidedShape}, diameter, on, once}},
	}
}()

// solidPatterns are how a sentence shows them.
var solidPatterns = map[string]string{
	"tube":     "tube: [POINT, POINT], diameter: ~28, on: BODY",
	"box":      "box: [POINT, POINT], on: BODY",
	"cylinder": "cylinder: [POINT, POINT], diameter: ~270, on: BODY",
	"ball":     "ball: POINT, diameter: ~36, on: BODY",
}

func solidShape() schema { return memberShape(solidWords, solidKeys) }

var clearanceKeys = keys{of: "a clearance", list: []key{
	{name: "between", need: true, about: "two solids, groups or lists of them, such as [links, footwell]", shape: listOf(anyOf(sidedShape, listOf(sidedShape, 1, maxSolids)), 2, 2)},
	{name: "min", about: "the least gap; 0 when left out", shape: distanceShape},
	{name: "joint", about: "tubes that share a point begin so far from it; twice the sum of their radii when left out", shape: positiveShape},
}}

// jointWords say what a joint is.
var jointWords = []string{"spherical", "rod_end"}

var jointKeys = map[string]keys{
	"spherical": {of: "a spherical bearing", list: []key{
		{name: "spherical", need: true, about: "the point at its centre", shape: sidedShape},
		{name: "housing", need: true, about: "the body in whose bore it sits, or the rod in line with that", shape: sidedShape},
		{name: "bolt", need: true, about: "the body that its bolt is on, or the rod that is its bolt", shape: sidedShape},
		{name: "bolt_axis", about: "the direction of its bolt at design, such as [0, 0, 1]", shape: autoShape},
		{name: "housing_axis", about: "the direction of its bore at design, such as [0, 0.1, 1], or auto, which it is when left out: the best one is found", shape: autoShape},
		{name: "tilt", need: true, about: "the most between bore and bolt, in deg; it always binds", shape: tiltShape},
	}},
	"rod_end": {of: "a rod end", list: []key{
		{name: "rod_end", need: true, about: "the link, damper, spring or strut whose end it is", shape: nameShape},
		{name: "at", need: true, about: "the point at its centre, one of the two ends", shape: sidedShape},
		{name: "bolt_axis", about: "the direction of its bolt at design, such as [1, 0, 0], or auto, which it is when left out: the best one is found", shape: autoShape},
		{name: "housing_axis", moved: "the bore of a rod end is square to its rod, and the rod turns as it likes"},
		{name: "housing", moved: "a rod end sits in its rod, so name that with rod_end; where the rod itself is the bolt write {spherical: POINT, housing: BODY, bolt: LINK, tilt: 25}"},
		{name: "bolt", moved: "the bolt of a rod end is on the body that the rod's end is on"},
		{name: "tilt", need: true, about: "the most that it can lean on its bolt, in deg; it always binds", shape: tiltShape},
	}},
}

var jointPatterns = map[string]string{
	"spherical": "spherical: POINT, housing: BODY, bolt: BODY, bolt_axis: [0, 0, 1], tilt: 13",
	"rod_end":   "rod_end: LINK, at: POINT, tilt: 14",
}

func jointShape() schema { return memberShape(jointWords, jointKeys) }

package files

// The tables of keys of a geometry file. They drive the walk and the schema.

// kindKeys are the words that say what a member is, in the order in which sentences list them.
var kindKeys = []string{"arm", "link", "rocker", "damper", "spring"}

const (
	laterOneCorner = "this build moves one corner and its mirror image, so leave it out"
	laterMembers   = "this build has arm, link, rocker, damper and spring"
	laterSolids    = "this build checks no clearances, so leave it out and look at the gaps in CAD, at the points that `trammel export --format csv` writes"
	laterTilt      = "this build checks no tilt, so leave it out and look at the joints in CAD, at the points that `trammel export --format csv` writes"
	laterVehicle   = "this build needs no more of the vehicle than its wheelbase, so leave it out"
)

var geometryKeys = keys{of: "a geometry file", under: map[string]keys{"wheel": wheelKeys, "vehicle": vehicleKeys, "travel": travelKeys, "build": buildKeys}, rules: []schema{handedRule()}, list: []key{
	{name: "format", need: true, about: "format of the file; write format: 1", shape: schema{"const": 1}},
	{name: "name", need: true, about: "what you call this geometry, in one line", shape: titleShape},
	{name: "units", need: true, about: "unit of every length that carries none; write mm or in", shape: oneOf("mm", "in")},
	{name: "axes", need: true, about: "what this file's +x, +y and +z mean, such as {x: forward, y: left, z: up}", shape: axesKeys.object()},
	{name: "handed", about: "left says that a left-handed set of axes is meant", shape: oneOf("left", "right")},
	{name: "origin", about: "a point on the car's centre line, in these axes; [0, 0, 0] when left out", shape: tripleShape},
	{name: "side", need: true, about: "the side that the points describe, left or right; the other is its mirror image", shape: oneOf("left", "right")},
	{name: "points", need: true, about: "named points at ride height, NAME: [x, y, z], or a CSV table of name,x,y,z", shape: anyOf(namedMap(tripleShape, maxPoints), pathShape)},
	{name: "members", need: true, about: "named parts between the points, such as tie_rod: {link: [rack_end, steering_arm], ends: [rack, upright]}", shape: namedMap(memberShape(), maxMembers)},
	{name: "wheel", need: true, about: "where the wheel stands, such as {centre: wheel_centre, camber: -1, toe: 0.1, loaded_radius: 292}", shape: wheelKeys.object()},
	{name: "vehicle", about: "what some measures need of the vehicle, such as {wheelbase: 2500}", shape: vehicleKeys.object()},
	{name: "travel", about: "how far the default motions go, such as {bump: 60, droop: 60, rack: 30}", shape: travelKeys.object()},
	{name: "build", about: "what the shop can do, such as {error: 0.5, step: 1}", shape: buildKeys.object()},
	{name: "across", later: laterOneCorner},
	{name: "rack", later: "the rack moves straight across the car, so leave it out"},
	{name: "solids", later: laterSolids},
	{name: "clearances", later: laterSolids},
	{name: "joints", later: laterTilt},
	{name: "adjusters", later: "leave it out and vary the points that an adjuster moves"},
	{name: "right_points", later: laterOneCorner},
}}

var axesKeys = keys{of: "axes", list: []key{
	{name: "x", need: true, about: "what +x points to: forward, rearward, left, right, up or down", shape: oneOf(senseAny()...)},
	{name: "y", need: true, about: "what +y points to: forward, rearward, left, right, up or down", shape: oneOf(senseAny()...)},
	{name: "z", need: true, about: "what +z points to: forward, rearward, left, right, up or down", shape: oneOf(senseAny()...)},
}}

func senseAny() []string { return senseWords[:] }

var wheelKeys = keys{of: "wheel", list: []key{
	{name: "centre", need: true, about: "the point at the wheel's centre", shape: nameShape},
	{name: "camber", about: "deg at design, + top outward; 0 when left out", shape: angleShape},
	{name: "toe", about: "deg at design, + front inward; 0 when left out", shape: angleShape},
	{name: "loaded_radius", need: true, about: "from the wheel's centre to the ground", shape: positiveShape},
	{name: "rim", later: laterSolids},
	{name: "tyre", later: laterSolids},
}}

var vehicleKeys = keys{of: "vehicle", list: []key{
	{name: "wheelbase", about: "between the axles; Ackermann figures need it", shape: positiveShape},
	{name: "cg_height", later: laterVehicle},
	{name: "centre_of_gravity_height", later: laterVehicle},
	{name: "mass", later: laterVehicle},
	{name: "sprung_mass", later: laterVehicle},
	{name: "unsprung_mass", later: laterVehicle},
	{name: "brake_share", later: laterVehicle},
	{name: "drive_share", later: laterVehicle},
	{name: "brakes", later: laterVehicle},
	{name: "drive", later: laterVehicle},
}}

var travelKeys = keys{of: "travel", list: []key{
	{name: "bump", about: "how far the wheel rises", shape: distanceShape},
	{name: "droop", about: "how far the wheel falls, as a positive length", shape: distanceShape},
	{name: "rack", about: "how far the rack moves to either side", shape: distanceShape},
	{name: "roll", later: laterOneCorner},
}}

var buildKeys = keys{of: "build", list: []key{
	{name: "error", about: "how far a point may end up from where it was drawn", shape: distanceShape},
	{name: "step", about: "the finest adjustment the shop can make", shape: positiveShape},
}}

// memberKeys are the tables of the kinds of member, by the word that makes the kind.
var memberKeys = map[string]keys{
	"arm": {of: "an arm", list: append([]key{
		{name: "arm", need: true, about: "its two pivots, such as [lower_front, lower_rear]", shape: pairShape},
		{name: "ball", need: true, about: "its ball joint on the upright", shape: nameShape},
		{name: "on", about: "the body its pivots are on; frame when left out", shape: oneOf("frame")},
	}, memberLater...)},
	"link": {of: "a link", list: append([]key{
		{name: "link", need: true, about: "the points at its two ends, such as [rack_end, steering_arm]", shape: pairShape},
		{name: "ends", need: true, about: "the bodies its two ends are on, in the same order, such as [rack, upright]", shape: pairShape},
		{name: "soft", later: "a link that must give is no part of this build, so leave the link out"},
	}, memberLater...)},
	"rocker": {of: "a rocker", list: append([]key{
		{name: "rocker", need: true, about: "two points on its axis, such as [rocker_front, rocker_rear]", shape: pairShape},
		{name: "on", about: "the body that carries its axis; frame when left out", shape: oneOf("frame")},
	}, memberLater...)},
	"damper": {of: "a damper", list: append([]key{
		{name: "damper", need: true, about: "the points at its two ends, such as [damper_rocker, damper_frame]", shape: pairShape},
		{name: "ends", need: true, about: "the bodies its two ends are on, in the same order, such as [rocker, frame]", shape: pairShape},
		{name: "length", about: "shortest and longest, such as {min: 190, max: 265}; they always bind", shape: lengthKeys.object()},
	}, memberLater...)},
	"spring": {of: "a spring", list: append([]key{
		{name: "spring", need: true, about: "the points at its two ends, such as [spring_lower, spring_upper]", shape: pairShape},
		{name: "ends", need: true, about: "the bodies its two ends are on, in the same order, such as [lower_arm, frame]", shape: pairShape},
		{name: "length", about: "shortest and longest, such as {min: 190, max: 265}; they always bind", shape: lengthKeys.object()},
		{name: "rate", later: "this build computes no forces, so leave it out"},
	}, memberLater...)},
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

// laterKinds are the kinds of member that are not built yet.
var laterKinds = map[string]string{
	"strut": laterMembers, "hinge": laterMembers, "h-arm": laterMembers, "h_arm": laterMembers, "beam": laterMembers,
	"shaft": laterMembers, "drive_shaft": laterMembers, "torsion_bar": laterMembers, "anti_roll_bar": laterMembers,
	"bar_arm": laterMembers, "strap": laterMembers, "distance": laterMembers,
	"ball": "a ball joint between upright and frame is no part of this build; for a wishbone write {arm: [PIVOT, PIVOT], ball: POINT}",
}

func memberShape() schema {
	var kinds []schema
	for _, k := range kindKeys {
		kinds = append(kinds, memberKeys[k].object())
	}
	return anyOf(kinds...)
}

package files

import "trammel/kin"

// The tables of keys of a geometry file. They drive the walk and the schema.

const (
	laterVehicle = "no measure of this build needs it, so leave it out"
	laterForces  = "this build computes no forces, so leave it out"
)

var geometryKeys = keys{of: "a geometry file", under: map[string]keys{"wheel": wheelKeys, "rack": rackKeys, "steering_axis": steeringAxisKeys, "vehicle": vehicleKeys, "travel": travelKeys, "build": buildKeys}, rules: []schema{handedRule()}, list: []key{
	{name: "format", need: true, about: "format of the file; write format: 1", shape: schema{"const": 1}},
	{name: "name", need: true, about: "what you call this geometry, in one line", shape: titleShape},
	{name: "units", need: true, about: "unit of every length that carries none; write mm or in", shape: oneOf("mm", "in")},
	{name: "axes", need: true, about: "what this file's +x, +y and +z mean, such as {x: forward, y: left, z: up}", shape: axesKeys.object()},
	{name: "handed", about: "left says that a left-handed set of axes is meant", shape: oneOf("left", "right")},
	{name: "origin", about: "a point on the car's centre line, in these axes; [0, 0, 0] when left out", shape: tripleShape},
	{name: "side", need: true, about: "the side that the points describe, left or right; the other is its mirror image", shape: oneOf("left", "right")},
	{name: "points", need: true, about: "named points at ride height, NAME: [x, y, z], or a CSV table of name,x,y,z", shape: anyOf(namedMap(tripleShape, maxPoints), pathShape)},
	{name: "opposite", about: "points whose other side is not their mirror image, with its place, NAME: [x, y, z]", shape: namedMap(tripleShape, maxPoints)},
	{name: "members", need: true, about: "named parts that exist on both sides, such as tie_rod: {link: [rack_end, steering_arm], ends: [rack, upright]}", shape: namedMap(memberShape(sideKinds, memberKeys), maxMembers, ownSolids...)},
	{name: "across", about: "named parts that exist once or tie the two sides, such as bar: {torsion_bar: [left.rocker, right.rocker]}", shape: namedMap(memberShape(acrossKinds, acrossKeys), maxMembers, ownSolids...)},
	{name: "solids", about: "room that something takes, such as caliper: {box: [caliper_low, caliper_high], on: upright}", shape: namedMap(solidShape(), maxSolids, ownSolids...)},
	{name: "groups", about: "names for several solids, such as links: [lower_arm, upper_arm, tie_rod]", shape: namedMap(listOf(sidedShape, 1, maxSolids), maxSolids, ownSolids...)},
	{name: "clearances", about: "what must not come too near, such as links_to_tub: {between: [links, footwell], min: 6}", shape: namedMap(clearanceKeys.object(), maxSolids, ownSolids...)},
	{name: "joints", about: "bearings that can tilt only so far, such as tie_rod_inner: {rod_end: tie_rod, at: rack_end, tilt: 14}", shape: namedMap(jointShape(), maxSolids, ownSolids...)},
	{name: "wheel", need: true, about: "where the wheel stands, such as {centre: wheel_centre, camber: -1, toe: 0.1, loaded_radius: ~292}", shape: wheelKeys.object()},
	{name: "rack", about: "how the rack lies and how far it goes, such as {axis: [0, 1, 0.05], travel: ~40}", shape: rackKeys.object()},
	{name: "steering_axis", about: "what is held to find the steering axis where no ball joints show it, such as {hold: damper}", shape: steeringAxisKeys.object()},
	{name: "vehicle", about: "what some measures need of the vehicle, such as {wheelbase: ~2500, axle: rear}", shape: vehicleKeys.object()},
	{name: "travel", about: "how far the default motions go, such as {bump: ~60, droop: ~60, rack: ~30}", shape: travelKeys.object()},
	{name: "build", about: "what the shop can do, such as {error: ~0.5, step: ~1}", shape: buildKeys.object()},
	{name: "adjusters", later: "leave it out and vary the points that an adjuster moves"},
}}

var axesKeys = keys{of: "axes", list: []key{
	{name: "x", need: true, about: "what +x points to: forward, rearward, left, right, up or down", shape: oneOf(senseAny()...)},
	{name: "y", need: true, about: "what +y points to: forward, rearward, left, right, up or down", shape: oneOf(senseAny()...)},
	{name: "z", need: true, about: "what +z points to: forward, rearward, left, right, up or down", shape: oneOf(senseAny()...)},
}}

func senseAny() []string { return senseWords[:] }

var wheelKeys = keys{of: "wheel", under: map[string]keys{"tyre": tyreKeys, "rim": rimKeys}, rules: []schema{{"dependentRequired": schema{"tyre": []any{"rim"}}}}, list: []key{
	{name: "centre", need: true, about: "the point at the wheel's centre", shape: nameShape},
	{name: "camber", about: "deg at design, + top outward; 0 when left out", shape: angleShape},
	{name: "toe", about: "deg at design, + front inward; 0 when left out", shape: angleShape},
	{name: "loaded_radius", need: true, about: "from the wheel's centre to the ground", shape: positiveShape},
	{name: "tyre", about: "the room that it takes, such as {diameter: ~530, width: ~185, round: ~25}", shape: tyreKeys.object()},
	{name: "rim", about: "the room that its barrel takes, such as {diameter: ~330, width: ~178, wall: ~10}", shape: rimKeys.object()},
}}

var rackKeys = keys{of: "rack", rules: []schema{anyRequired("axis", "travel")}, list: []key{
	{name: "axis", about: "the direction in which the rack moves, such as [0, 1, 0.05], in these axes; either way round, for + is always to the car's left; straight across when left out", shape: directionShape},
	{name: "travel", about: "how far it can go to either side", shape: positiveShape},
}}

var steeringAxisKeys = keys{of: "steering_axis", list: []key{
	{name: "hold", need: true, about: "the damper, spring or strut whose length, or the arm whose angle, is held", shape: nameShape},
}}

var vehicleKeys = keys{of: "vehicle", list: []key{
	{name: "wheelbase", about: "between the axles; Ackermann figures need it", shape: positiveShape},
	{name: "centre_of_gravity", about: "its height above the ground", shape: positiveShape},
	{name: "axle", about: "which axle this file describes, front or rear; front when left out", shape: oneOf(axleWords...)},
	{name: "brake_share", about: "of the braking that this axle does, 0 to 1 or in percent, such as 62 %", shape: shareShape},
	{name: "drive_share", about: "of the driving that this axle does, 0 to 1 or in percent", shape: shareShape},
	{name: "brakes", about: "outboard at the wheels, or inboard on the frame; outboard when left out", shape: oneOf(brakeWords...)},
	{name: "differential", about: "what carries it, frame or axle; frame when left out", shape: oneOf(differentialWords...)},
	{name: "mass", later: laterVehicle},
	{name: "sprung_mass", later: laterVehicle},
	{name: "unsprung_mass", later: laterVehicle},
}}

var (
	axleWords         = []string{"front", "rear"}
	brakeWords        = []string{"outboard", "inboard"}
	differentialWords = []string{kin.Frame, kin.Axle}
)

var travelKeys = keys{of: "travel", list: []key{
	{name: "bump", about: "how far the wheel rises", shape: distanceShape},
	{name: "droop", about: "how far the wheel falls, as a positive length", shape: distanceShape},
	{name: "rack", about: "how far the rack moves to either side", shape: distanceShape},
	{name: "roll", later: "write a motion with body_roll in the study"},
}}

var buildKeys = keys{of: "build", list: []key{
	{name: "error", about: "how far a point may end up from where it was drawn", shape: distanceShape},
	{name: "step", about: "the finest adjustment the shop can make", shape: positiveShape},
}}

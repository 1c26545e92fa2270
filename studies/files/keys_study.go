package files

// The tables of keys of a study file. They drive the walk and the schema.

const (
	laterColumns = "every run holds its varied numbers, targets and limits, and `trammel curves --run N` gives the rest"
)

var studyKeys = keys{of: "a study file", under: map[string]keys{"stages": stageKeys, "budget": budgetKeys, "record": recordKeys}, list: []key{
	{name: "format", need: true, about: "format of the file; write format: 1", shape: schema{"const": 1}},
	{name: "study", need: true, about: "what you call this study, in one line", shape: titleShape},
	{name: "geometry", need: true, about: "the geometry file, as a path from the folder of this file", shape: pathShape},
	{name: "motions", about: "sweeps and grids, NAME: {wheel_travel: [~-60, ~60], positions: 41}; made from the geometry's travel when left out", shape: mapOf(motionKeys.object(), titledPattern, 1)},
	{name: "vary", need: true, about: "what may move, such as upper_ball.z: {by: ~15}", shape: varyShape()},
	{name: "targets", need: true, about: "what is wanted, NAME: {measure: toe, in: heave, hold: 0.1, within: 0.05}", shape: mapOf(targetKeys.object(), titledPattern, 1)},
	{name: "limits", about: "what must never happen, NAME: {measure: damper.length, in: heave, min: ~192, max: ~262}", shape: mapOf(limitKeys.object(), titledPattern, 1)},
	{name: "seed", about: "a whole number that the random numbers come from; 1 when left out", shape: schema{"type": "integer", "minimum": 0}},
	{name: "stages", about: "what to do, in order, such as - {plan: sobol, runs: 4096}", shape: listOf(stageKeys.object(), 1, 0)},
	{name: "budget", about: "what ends the study, such as {time: 8h, runs: 1000000, disk: 20GB}", shape: budgetKeys.object()},
	{name: "record", about: "which runs are written, such as {rows: all}", shape: recordKeys.object()},
	{name: "curves", about: "for which runs curves are kept: best 100, all or none", shape: anyOf(oneOf("all", "none"), text(`^best [0-9]+$`))},
	{name: "columns", later: laterColumns},
	{name: "sensitivity", later: "compare runs of a plan such as one-at-a-time for now"},
	{name: "adjusters", later: "vary the points that an adjuster moves"},
	{name: "reserve", later: "write the reserve into the limit"},
	{name: "car", later: "this build solves one axle; name its geometry"},
}}

var travelShape = anyOf(lengthShape, listOf(lengthShape, 1, 10001))

var rollShape = anyOf(rollValueShape, listOf(rollValueShape, 1, 10001))

var motionKeys = keys{of: "a motion", rules: motionRule(), list: []key{
	{name: "wheel_travel", about: "from and to, such as [~-60, ~60]; or one value, held; or a list of values without positions", shape: travelShape},
	{name: "rack_travel", about: "from and to, such as [~-30, ~30]; or one value, held; or a list of values without positions", shape: travelShape},
	{name: "body_roll", about: "from and to in deg, such as [-3, 3], + body leans right; or one value, held; or a list of values without positions", shape: rollShape},
	{name: "wheels", about: "which wheels wheel_travel moves: both, left or right; both when left out", shape: oneOf(wheelsWords...)},
	{name: "positions", about: "how many, evenly spaced, ends included; for a grid one number for each travel that moves, in the order wheel, rack, roll", shape: anyOf(whole(2, 10001), listOf(whole(2, 10001), 2, 3))},
}}

var varyKeys = keys{of: "an entry of vary", rules: varyRule(), list: []key{
	{name: "from", about: "least value: a coordinate for POINT.AXIS, else counted from design", shape: quantityShape},
	{name: "to", about: "greatest value", shape: quantityShape},
	{name: "by", about: "plus or minus this, about the geometry", shape: positiveQuantityShape},
	{name: "step", about: "the values go in steps of this, counted from design", shape: positiveQuantityShape},
	{name: "move", about: "points that move together, such as [rack_end]", shape: with(listOf(pointShape, 1, 0), schema{"uniqueItems": true})},
	{name: "along", about: "x, y or z of the file, or two points of a line such as [tube_a, tube_b]", shape: anyOf(oneOf("x", "y", "z"), linePairShape)},
	{name: "turn", about: "the body that turns with all its points: upright", shape: oneOf("upright")},
	{name: "about", about: "two points on the axis of the turn, such as [axle_inner, axle_outer]", shape: linePairShape},
	{name: "choose", about: "alternatives, NAME: {POINT: [x, y, z], ...}; {} keeps the points as drawn", shape: mapOf(mapOf(tripleShape, pointPattern, 0), "", 2)},
}}

var (
	quantityShape         = anyOf(schema{"type": "number", "minimum": -1e6, "maximum": 1e6}, text(`^(`+decimalPattern+`|`+fractPattern+`) ?(mm|in|deg)?$`))
	positiveQuantityShape = anyOf(schema{"type": "number", "exclusiveMinimum": 0, "maximum": 1e6}, text(`^[^-]*[1-9][^-]*$`))
	// greater than nothing, as a measure
	positiveMeasureShape = anyOf(schema{"type": "number", "exclusiveMinimum": 0, "maximum": 1e12}, text(`^[^-]*[1-9][^-]*$`))
	withinOneShape       = anyOf(positiveMeasureShape, mapOf(positiveMeasureShape, `^[+-]?[0-9.]`, 2))
)

var placeKeys = keys{of: "place", list: []key{
	{name: "wheel_travel", about: "where the wheel is", shape: lengthShape},
	{name: "rack_travel", about: "where the rack is", shape: lengthShape},
	{name: "body_roll", about: "how far the body leans to the right, in deg", shape: rollValueShape},
}}

var placeShape = with(placeKeys.object(), schema{"minProperties": 1})

var targetKeys = keys{of: "a target", rules: targetRule(), list: []key{
	{name: "measure", need: true, about: "what is measured, such as camber, right.damper.length or right.toe - left.toe; `trammel measures` lists them", shape: measureNameShape()},
	{name: "in", about: "the motion through which it counts", shape: titleShape},
	{name: "place", about: "the one place where it counts, such as {wheel_travel: 0}", shape: placeShape},
	{name: "follow", about: "a curve over the travel, such as {~-60: 0.6, 0: -1, ~60: -3.2}, straight between its points", shape: curveShape},
	{name: "hold", about: "one value all through the motion", shape: measureShape},
	{name: "value", about: "one value at the place", shape: measureShape},
	{name: "straight", about: "true: no departure from the best-fit line", shape: trueShape},
	{name: "even", about: "true: no departure from the mean", shape: trueShape},
	{name: "rising", about: "true: never falls as travel grows", shape: trueShape},
	{name: "falling", about: "true: never rises as travel grows", shape: trueShape},
	{name: "at_most", about: "no more than this", shape: measureShape},
	{name: "at_least", about: "no less than this", shape: measureShape},
	{name: "relative", about: "design: the numbers are differences from the geometry as drawn", shape: oneOf("design")},
	{name: "within", need: true, about: "the departure that counts as one, such as 0.2, {above: 0.02, below: 0.06}, or a curve over the travel",
		shape: anyOf(positiveMeasureShape, withinKeys.object(), mapOf(positiveMeasureShape, `^[+-]?[0-9.]`, 2))},
	{name: "weight", about: "how much it counts against the others; 1 when left out", shape: weightShape},
	{name: "robust", about: "true: what counts is what is expected of a car built with the errors of the geometry's build: {error: ...}", shape: trueShape},
}}

var withinKeys = keys{of: "within", list: []key{
	{name: "above", need: true, about: "the departure upward that counts as one", shape: withinOneShape},
	{name: "below", need: true, about: "the departure downward that counts as one", shape: withinOneShape},
}}

var limitKeys = keys{of: "a limit", rules: limitRule(), list: []key{
	{name: "measure", need: true, about: "what is measured, such as camber, right.damper.length or right.toe - left.toe; `trammel measures` lists them", shape: measureNameShape()},
	{name: "in", about: "the motion through which it binds", shape: titleShape},
	{name: "place", about: "the one place where it binds, such as {rack_travel: ~30}", shape: placeShape},
	{name: "min", about: "never less than this", shape: measureShape},
	{name: "max", about: "never more than this", shape: measureShape},
	{name: "at_least", about: "the same as min", shape: measureShape},
	{name: "at_most", about: "the same as max", shape: measureShape},
	{name: "spread", about: "greatest minus least over the motion, never more than this", shape: positiveMeasureShape},
	{name: "scale", about: "a breach that counts as one when runs are compared; the measure's own when left out", shape: positiveMeasureShape},
}}

var stageKeys = keys{of: "a stage", rules: stageRule(), list: []key{
	{name: "plan", about: "a plan of designs: sobol, latin-hypercube, halton, factorial, one-at-a-time, random or points", shape: oneOf(planMethods...)},
	{name: "search", about: "a search: cma-es or differential-evolution", shape: oneOf(searchMethods...)},
	{name: "refine", about: "how many local searches at most, from the best of the stages before and from starts of their own, such as 64", shape: whole(1, maxLocals)},
	{name: "trade", about: "two to five targets, such as [bump steer, camber], whose best compromises are sought", shape: with(listOf(titleShape, 2, 5), schema{"uniqueItems": true})},
	{name: "runs", about: "how many designs", shape: whole(1, maxRuns)},
	{name: "islands", about: "of a search or a trade: how many populations", shape: whole(1, 1000)},
	{name: "levels", about: "of factorial and one-at-a-time: how many values of each number", shape: whole(2, 1001)},
	{name: "table", about: "of plan: points, a CSV table with a column for each entry of vary", shape: pathShape},
	{name: "sensitivity", later: "write plan: one-at-a-time for now"},
	{name: "tolerance", later: "write plan: random with a small vary for now"},
}}

var (
	planMethods   = []string{"sobol", "latin-hypercube", "halton", "factorial", "one-at-a-time", "random", "points"}
	searchMethods = []string{"cma-es", "differential-evolution"}
	laterPlans    = map[string]string{"morris": "write one-at-a-time for now", "saltelli": "write sobol for now"}
)

const (
	maxRuns   = 1_000_000_000_000
	maxLocals = 1_000_000
)

var budgetKeys = keys{of: "budget", list: []key{
	{name: "time", about: "such as 8h, 90min or 7h30min", shape: text(`^[0-9]`)},
	{name: "runs", about: "how many runs", shape: whole(1, maxRuns)},
	{name: "disk", about: "such as 20GB or 500MB", shape: text(`^[0-9.]+ ?[MGT]B$`)},
}}

var recordKeys = keys{of: "record", list: []key{
	{name: "rows", about: "all, improving, every 100 (or another number) or none", shape: anyOf(oneOf("all", "improving", "none"), text(`^every [0-9]+$`))},
	{name: "precision", about: "double, or single: measures and losses in half the room, to about seven digits", shape: oneOf("double", "single")},
}}

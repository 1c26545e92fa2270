package files

import (
	"slices"
	"time"
)

// Study is a study file as read, with the geometry it names.
type Study struct {
	Path         string
	Name         string
	GeometryPath string // as ReadFile was asked for it
	Geometry     *Geometry
	Motions      []Motion
	Vary         []Vary
	Targets      []Target
	Limits       []Limit
	Seed         uint64
	Stages       []Stage
	Budget       Budget
	Record       Record
	Curves       Curves
	Notes        Problems // remarks that stop nothing, those of the geometry included
	Text         []byte
}

// Motion is a sweep or a grid of positions from design. Curves run along the first of wheel, rack and roll that moves.
type Motion struct {
	Name   string
	Wheel  []float64 // mm, wheel_travel: the first index of the grid; a single value is held
	Rack   []float64 // mm, rack_travel: the second index; a single value is held
	Roll   []float64 // deg, body_roll: the third index; a single value is held. Where it is there, wheel travel lifts the ground
	Wheels Wheels    // which of the wheels wheel_travel moves
	Grid   bool      // two or three of them move
	Pos    Position
}

// Wheels says which wheels a motion's wheel_travel moves; the others stay at design.
type Wheels uint8

// The choices of wheels, by side of the car.
const (
	BothWheels Wheels = iota
	LeftWheel
	RightWheel
)

var wheelsWords = []string{"both", "left", "right"}

// String returns the word a study file uses.
func (w Wheels) String() string { return wheelsWords[w] }

// VaryKind says how a varied number moves points.
type VaryKind uint8

// The ways to vary. No two entries of the other kinds move the same coordinate of one point; turns act
// after them, in the order of the file. Lines and axes lie where the geometry file draws their points.
const (
	VaryCoordinate VaryKind = iota // one coordinate of one point, absolute
	VaryMove                       // several points by the same amount along an axis of the file
	VaryAlong                      // several points by the same amount along the line through two points
	VaryTurn                       // all points of a body, about the line through two points, right-handed in ISO axes from the first to the second
	VaryChoose                     // one of several sets of points
)

// Vary is one varied number. FromN, ToN, DesignN and Step are whole numbers of 1/PerUnit of Unit, and
// steps count from DesignN. For a coordinate they are coordinates; for the others, amounts from
// design, so that DesignN is 0; for a choice they count Options, and DesignN is the one that the
// geometry file draws.
type Vary struct {
	Name             string
	Kind             VaryKind
	Points           []string // what moves: for VaryChoose, every point that some option places
	Axis             byte     // 'x', 'y' or 'z' of the file, for VaryCoordinate and VaryMove
	LineFrom, LineTo string   // points, for VaryAlong and VaryTurn
	Body             string   // for VaryTurn
	FromN, ToN       int64
	DesignN          int64
	Step             int64 // 1 when the file gives none: the lattice itself
	PerUnit          int64
	Unit             string // "mm", "in", "deg", or "" for a choice
	Options          []Option
	Pos              Position
}

// Stepped tells whether the file asked for a step coarser than the lattice.
func (v *Vary) Stepped() bool { return v.Step > 1 }

// Option is one alternative of a choice; points it does not name stay where the geometry has them.
type Option struct {
	Name   string
	Points map[string][3]int64
}

// Moves tells whether something that varies moves a point or goes along a line through it.
func (s *Study) Moves(point string) bool {
	return slices.ContainsFunc(s.Vary, func(v Vary) bool {
		return v.LineFrom == point || v.LineTo == point || slices.Contains(v.Points, point)
	})
}

// Shape is what a target asks of a measure.
type Shape uint8

// The shapes of a target.
const (
	Follow   Shape = iota // a curve over the travel of the motion
	Hold                  // one value, all through the motion
	Value                 // one value, at the place
	Straight              // no departure from the best-fit line
	Even                  // no departure from the mean
	Rising                // never falls with travel
	Falling               // never rises with travel
	AtMost                // no more than a value
	AtLeast               // no less than a value
)

var shapeWords = [...]string{"follow", "hold", "value", "straight", "even", "rising", "falling", "at_most", "at_least"}

// String returns the word a study file uses.
func (s Shape) String() string { return shapeWords[s] }

// Place is where in a motion, or at which pose, a single value is taken. A travel that is nil is the
// one that the motion holds, or 0 where no motion is named.
type Place struct {
	Wheel, Rack *float64 // mm
	Roll        *float64 // deg
}

// Curve is a polyline: travel in mm or roll in deg, value in the measure's unit; travels rise strictly. A constant
// is a curve of one point.
type Curve [][2]float64

// At returns the value at a travel, straight between the points and level beyond the ends. It panics
// on an empty curve.
func (c Curve) At(travel float64) float64 {
	if travel <= c[0][0] {
		return c[0][1]
	}
	for i := 1; i < len(c); i++ {
		if a, b := c[i-1], c[i]; travel <= b[0] {
			t := (travel - a[0]) / (b[0] - a[0])
			return a[1] + t*(b[1]-a[1])
		}
	}
	return c[len(c)-1][1]
}

// Within is the departure that counts as one, above and below; always positive.
type Within struct {
	Above, Below Curve
}

// Target is something wanted of a measure.
type Target struct {
	Name     string
	Measure  string // as in the file: camber, right.damper.length, right.toe - left.toe
	Of       Of     // the same, parted
	Unit     string // of Curve, Value and Within: that of the measure table
	Motion   int    // index into Study.Motions, or -1
	Place    *Place // nil: everywhere in the motion
	Shape    Shape
	Curve    Curve   // for Follow
	Value    float64 // for Hold, Value, AtMost, AtLeast
	Relative bool    // Curve and Value are differences from design
	Within   Within
	Weight   float64
	Robust   bool // what counts is what is expected under the geometry's Build.Error
	Pos      Position
}

// Of is what a target or limit measures: one measure, or the sum or difference of two of one unit.
type Of struct {
	First  Term
	Sign   int // +1 or -1 of Second; 0 where there is none
	Second Term
}

// Term is one measure at one side of the car.
type Term struct {
	Side   Side   // NoSide: the side that the geometry file draws, or what exists once
	Member string // "" for a measure of the corner or axle
	Name   string // its name in the table of measures
}

// Limit is something that must never happen. At least one of Min, Max and Spread is there.
type Limit struct {
	Name     string
	Measure  string
	Of       Of
	Unit     string
	Motion   int    // index into Study.Motions, or -1
	Place    *Place // nil: everywhere in the motion
	Min, Max *float64
	Spread   *float64 // greatest minus least over the motion
	Scale    *float64 // how much counts as one; nil: the measure's own scale
	Pos      Position
}

// StageKind says what sort of work a stage does.
type StageKind uint8

// The kinds of stage.
const (
	Plan StageKind = iota
	Search
	Refine
	Trade
)

var stageWords = [...]string{"plan", "search", "refine", "trade"}

// String returns the word a study file uses.
func (k StageKind) String() string { return stageWords[k] }

// Stage is one piece of the night's work.
type Stage struct {
	Kind    StageKind
	Method  string // of a plan or a search, as in the file: sobol, cma-es
	Runs    int64  // 0 where the method fixes the number itself: factorial, one-at-a-time, points, refine
	Islands int    // of a search or a trade
	Levels  int    // of a factorial or one-at-a-time plan
	Table   *Table // of a plan of points
	Locals  int    // of refine: local searches at most
	Onward  bool   // of refine: Locals is no part of what the stage is; a study with a budget goes on to its end
	Between []int  // of a trade: indices of Study.Targets
	Pos     Position
}

// Table is a table of designs: one row for each run, one number for each entry of Study.Vary, in quanta
// of that entry.
type Table struct {
	Path string
	Rows [][]int64
	Text []byte
}

// Budget ends a study; 0 means that it is not limited by that.
type Budget struct {
	Time time.Duration
	Runs int64
	Disk int64 // bytes
}

// Rows says which runs are written.
type Rows uint8

// The policies of a record.
const (
	AllRows Rows = iota
	ImprovingRows
	EveryRows
	NoRows
)

// Record says what is kept of the runs.
type Record struct {
	Rows  Rows
	Every int64 // for EveryRows: one run in so many

	Single bool // measures and losses in single precision
}

// Keep says for which runs curves are kept.
type Keep uint8

// The policies of curves.
const (
	KeepBest Keep = iota
	KeepAll
	KeepNone
)

// Curves says for which runs curves are kept.
type Curves struct {
	Keep Keep
	Best int // for KeepBest: how many
}

// DefaultStudy returns what a study file that says nothing gets: the one place of all defaults.
func DefaultStudy() Study {
	return Study{
		Seed: 1,
		Stages: []Stage{
			{Kind: Plan, Method: "sobol", Runs: 4096},
			{Kind: Refine, Locals: 64, Onward: true},
		},
		Record: Record{Rows: AllRows},
		Curves: Curves{Keep: KeepBest, Best: 100},
	}
}

// The other defaults of a study.
const (
	DefaultWeight         = 1.0 // of a target
	DefaultHeavePositions = 41  // of the motion made from travel: bump and droop
	DefaultSteerPositions = 21  // of the motion made from travel: rack
	DefaultTradeRuns      = 40_000
)

// DefaultIslands returns how many islands a stage has that does not say; 0 where there are none.
func DefaultIslands(kind StageKind, method string) int {
	switch {
	case kind == Search && method == "cma-es":
		return 4 // each needs some thousand rows to settle
	case kind == Search || kind == Trade:
		return 8
	}
	return 0
}

package files

import (
	"slices"

	"go.yaml.in/yaml/v4"
)

// draft is a geometry while it is read: with what is known of it even where the file has mistakes, so
// that a study's mistakes can be reported together with its geometry's.
type draft struct {
	*Geometry
	w      *walk
	index  map[string]int  // of every point by name, usable or not
	bad    map[string]bool // points whose coordinates could not be read
	used   map[string]bool // points that some member or the wheel uses
	framed bool            // units, axes, origin and side could be read
	read   bool            // the file could be read at all

	members  []string        // names of all members read so far, usable or not
	claimed  []claim         // names of everything that has one, in the order of reading
	faulty   map[string]bool // members and solids of which more was meant than could be read
	meant    map[string]bool // points that they name
	doubtful bool            // there are such
	anyPoint bool            // one of them lacks a point, and any may be meant
	isAcross map[string]bool // of members, those under across

	// what survey finds before the members are read
	names    []string        // of all members
	bodies   []string        // names of all bodies, without sides
	once     map[string]bool // bodies that exist once
	bars     []string        // torsion bars
	unclear  map[string]bool // members that do not say what they are, so that they may be bodies
	axle     bool            // some member names the body
	upright  bool
	axles    []*yaml.Node // where it is named
	uprights []*yaml.Node
	kingpin  bool
	onRack   bool

	firstKingpin string
	sided        map[string]string // points that exist on both sides, and the member that makes it so
	acrossEnds   []acrossEnd
}

// acrossEnd is a point of a member under across, whose side can be checked when all members are known.
type acrossEnd struct {
	f      field
	member string
	point  string
	side   Side
	body   string
}

func newDraft(path string) *draft {
	return &draft{Geometry: &Geometry{Path: path, Side: Left}, index: map[string]int{}, bad: map[string]bool{}, used: map[string]bool{},
		isAcross: map[string]bool{}, faulty: map[string]bool{}, meant: map[string]bool{}, unclear: map[string]bool{}, once: map[string]bool{}, sided: map[string]string{}}
}

func readGeometry(read ReadFile, path string, problems *Problems) *draft {
	g := newDraft(path)
	g.w = &walk{file: path, problems: problems, notes: &g.Notes}
	text, complaint := fetch(read, path)
	if complaint != "" {
		g.w.at(Position{1, 1}, "", "%s", complaint)
		return g
	}
	g.Text = text
	root, bad := parseTree(path, text)
	if bad != nil {
		*problems = append(*problems, bad...)
		return g
	}
	g.walkRoot(read, rootField(root))
	return g
}

func (g *draft) walkRoot(read ReadFile, root field) {
	w := g.w
	if root.node.Kind == yaml.MappingNode && root.keyIn("units") == nil && (root.keyIn("study") != nil || root.keyIn("targets") != nil) {
		w.at(Position{1, 1}, "", "this is a study file, and a geometry file is wanted here; name the file that has points and members")
		return
	}
	if root.node.Kind != yaml.MappingNode {
		w.at(Position{max(root.node.Line, 1), max(root.node.Column, 1)}, "", "a geometry file is a group of keys, each with a colon, a space and its value%s", found(root.node))
		return
	}
	m, _ := w.mapping(root, geometryKeys)
	g.read = true
	w.format(m)
	g.Name = w.title(m, "name")
	g.walkFrame(m)
	if f, ok := m["points"]; ok {
		g.walkPoints(read, f)
	}
	if f, ok := m["opposite"]; ok {
		g.walkOpposite(f)
	}
	g.oppositeLast()
	g.survey(m)
	if f, ok := m["members"]; ok {
		g.walkMembers(f, sideSection)
	}
	if f, ok := m["wheel"]; ok {
		g.part(f, 1, func() bool { g.walkWheel(f); return g.Wheel.Centre != "" })
	}
	if f, ok := m["across"]; ok {
		g.walkMembers(f, acrossSection)
	}
	if f, ok := m["solids"]; ok {
		g.walkSolids(f)
	}
	g.walkRest(m)
	g.checkAxle(m)
	g.checkAcross()
	g.walkAsked(m)
	g.checkCycles()
	g.checkSide(m["side"])
	g.checkOpposite()
	g.checkPlaces()
	g.checkSolids()
	g.noteSizes(m)
	g.remarks()
}

// format checks that the file is of the one format there is.
func (w *walk) format(m map[string]field) {
	f, ok := m["format"]
	if !ok {
		return
	}
	if n, ok := w.whole(f, 1, 1_000_000); ok && n != 1 {
		w.bad(f, "is %d; this build reads format 1, so a newer build is needed", n)
	}
}

// title reads a name of the user's own.
func (w *walk) title(m map[string]field, name string) string {
	f, ok := m[name]
	if !ok {
		return ""
	}
	s, ok := w.scalar(f, "a name in one line")
	if !ok {
		return ""
	}
	if complaint := titleComplaint(s); complaint != "" {
		w.bad(f, "%s", complaint)
	}
	return s
}

// otherUnits are units in which CAD may be and files are not, with what to write.
var otherUnits = map[string]string{
	"cm": "units: mm, and every length times 10", "m": "units: mm, and every length times 1000", "metre": "units: mm, and every length times 1000",
	"meter": "units: mm, and every length times 1000", "ft": "units: in, and every length times 12", "feet": "units: in, and every length times 12",
}

// walkFrame reads units, axes, origin and side: what the numbers mean.
func (g *draft) walkFrame(m map[string]field) {
	w, ok := g.w, true
	w.units = Inch // while the unit is unknown: its finer lattice raises no false alarm
	if f, given := m["units"]; !given {
		ok = false
	} else if as, other := otherUnits[plain(f.node.Value)]; other {
		w.bad(f, "is %s, and files are in mm or in; write %s", f.node.Value, as)
		ok = false
	} else if word, good := w.word(f, []string{"mm", "in"}, nil); !good {
		ok = false
	} else if word == "mm" {
		w.units = Millimetre
	}
	g.Units = w.units
	ok = g.walkAxes(m) && ok
	if f, given := m["origin"]; given {
		n, good := w.triple(f)
		g.Origin, ok = n, ok && good
	}
	if f, given := m["side"]; !given {
		ok = false
	} else if word, good := w.word(f, []string{"left", "right"}, nil); !good {
		ok = false
	} else if word == "right" {
		g.Side = Right
	}
	g.framed = ok
}

func (g *draft) walkAxes(m map[string]field) bool {
	w := g.w
	declared := ""
	if f, given := m["handed"]; given {
		word, ok := w.word(f, []string{"left", "right"}, nil)
		if !ok {
			return false
		}
		declared = word
	}
	f, given := m["axes"]
	if !given {
		return false
	}
	axes, ok := w.mapping(f, axesKeys)
	if !ok || len(axes) != 3 {
		return false
	}
	var taken [3]string
	for i, name := range []string{"x", "y", "z"} {
		word, good := w.word(axes[name], senseWords[:], nil)
		if !good {
			ok = false
			continue
		}
		sense := Sense(slices.Index(senseWords[:], word))
		g.Axes[i] = sense
		along, _ := sense.iso()
		if taken[along] != "" {
			w.bad(axes[name], "is %s, which lies along the same line as %s; the three axes must be one of forward or rearward, one of left or right, one of up or down", word, taken[along])
			ok = false
		}
		taken[along] = name
	}
	if !ok {
		return false
	}
	switch right := g.Axes.rightHanded(); {
	case !right && declared != "left":
		w.bad(f, "are a left-handed set; if that is meant write handed: left, else turn one of the three round: x to %s, y to %s or z to %s", opposite(g.Axes[0]), opposite(g.Axes[1]), opposite(g.Axes[2]))
		return false
	case right && declared == "left":
		w.bad(m["handed"], "is left, but the axes are a right-handed set; take the line out, or turn one axis round")
		return false
	}
	g.LeftHanded = !g.Axes.rightHanded()
	return true
}

func opposite(s Sense) Sense { return s ^ 1 }

func (g *draft) walkWheel(f field) {
	w := g.w
	m, ok := w.mapping(f, wheelKeys)
	for _, name := range []string{tyreSolid, rimSolid} {
		g.faulty[name] = !ok || f.keyIn(name) != nil // meant, and a solid once its sizes are read
	}
	if !ok {
		return
	}
	g.Wheel.Pos = f.keyPos()
	if c, given := m["centre"]; given {
		if name, _, ok := g.point(c, false, underMembers); ok {
			g.Wheel.Centre = name
			if g.sided[name] == "" {
				g.sided[name] = "wheel"
			}
		}
	}
	for _, a := range []struct {
		name string
		to   *float64
	}{{"camber", &g.Wheel.Camber}, {"toe", &g.Wheel.Toe}} {
		f, given := m[a.name]
		if !given {
			continue
		}
		if v, ok := w.degrees(f); ok {
			*a.to, _ = v.Float64()
			if *a.to <= -45 || *a.to >= 45 {
				w.bad(f, "is %s degrees; a wheel that stands so far from upright is surely a mistake, and 45 is the most", clip(f.node.Value))
			}
		}
	}
	if r, given := m["loaded_radius"]; given {
		g.Wheel.LoadedRadius, _ = w.positive(r, false)
	}
	g.walkTyre(m)
}

// lengths reads the distances of a small group of keys.
func (w *walk) lengths(m map[string]field, zero bool, to map[string]*int64) {
	for _, name := range sortedKeys(to) {
		if f, given := m[name]; given {
			*to[name], _ = w.positive(f, zero)
		}
	}
}

func (g *draft) walkRest(m map[string]field) {
	w := g.w
	if f, given := m["rack"]; given {
		g.walkRack(f)
	}
	if f, given := m["steering_axis"]; given {
		if v, ok := w.mapping(f, steeringAxisKeys); ok {
			g.HoldPos = f.keyPos()
			g.walkHold(v)
		}
	}
	if f, given := m["vehicle"]; given {
		if v, ok := w.mapping(f, vehicleKeys); ok {
			g.walkVehicle(v)
		}
	}
	if f, given := m["travel"]; given {
		if v, ok := w.mapping(f, travelKeys); ok {
			w.lengths(v, true, map[string]*int64{"bump": &g.Travel.Bump, "droop": &g.Travel.Droop, "rack": &g.Travel.Rack})
			for i, name := range [...]string{"bump", "droop", "rack"} {
				if c, given := v[name]; given {
					g.TravelPos[i] = c.pos()
				}
			}
			if c, given := v["rack"]; given && g.Travel.Rack > 0 {
				g.needsRack(c)
				if g.RackTravel > 0 && g.Travel.Rack > g.RackTravel {
					w.bad(c, "is %s, and the rack goes no farther than %s to either side: rack: {travel: %s}", w.units.Format(g.Travel.Rack), w.units.Format(g.RackTravel), w.units.Format(g.RackTravel))
				}
			}
		}
	}
	if f, given := m["build"]; given {
		if v, ok := w.mapping(f, buildKeys); ok {
			w.lengths(v, true, map[string]*int64{"error": &g.Build.Error})
			w.lengths(v, false, map[string]*int64{"step": &g.Build.Step})
		}
	}
}

// needsRack notes what is said of the rack where nothing is on it.
func (g *draft) needsRack(f field) {
	if !g.onRack {
		g.w.note(f.pos(), f.path, "%s moves nothing, for no member has an end on the rack; take it out, or put the tie rod's inner end there: ends: [rack, upright]", f.label)
	}
}

// remarks notes what is odd but legal.
func (g *draft) remarks() {
	at := map[[3]int64]string{}
	for _, p := range g.Points {
		if g.bad[p.Name] {
			continue
		}
		w := g.walkOf(p)
		if _, cut := cutOpposite(p.Name); !g.used[p.Name] && !cut {
			w.note(p.Pos, unusedPath(p.Name), "%s is used by no member; look for a wrong name in one, unless a study names this point to move others along a line through it", p.Name)
		}
		if first, ok := at[p.N]; ok {
			w.note(p.Pos, pointPath(p.Name), "%s stands at the same place as %s", p.Name, first)
		} else {
			at[p.N] = p.Name
		}
	}
}

// unusedPath is where the remark on an unused point stands; a study that uses the point takes it back.
func unusedPath(point string) string { return "points." + point + ".unused" }

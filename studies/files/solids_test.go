package files

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"trammel/kin"
)

// part returns what the solver has under a name and of a kind.
func part(t *testing.T, l *kin.Linkage, name string, kind kin.Kind) kin.Member {
	t.Helper()
	for _, m := range l.Members {
		if m.Name == name && m.Kind == kind {
			return m
		}
	}
	t.Fatalf("the solver has no %s %s", kind, name)
	return kin.Member{}
}

func pointNames(l *kin.Linkage, m kin.Member) string {
	var names []string
	for _, p := range m.Points {
		names = append(names, l.Points[p].Name)
	}
	return strings.Join(names, " ")
}

// The room that parts take, as anyone reads it off the page of good/solids.yaml: diameters halve to radii.
func TestSolids(t *testing.T) {
	l := mustGeometry(t, "good/solids.yaml").Linkage()
	for _, tt := range []struct {
		name   string
		space  kin.Space
		points string
		bodies string
		across bool
	}{
		{"lower_arm", kin.Space{Shape: kin.Tube, Radius: 14}, "lower_front lower_ball lower_rear", "lower_arm lower_arm lower_arm", false},
		{"upper_arm", kin.Space{Shape: kin.Tube, Radius: 11.25}, "upper_front upper_ball upper_rear", "upper_arm upper_arm upper_arm", false},
		{"tie_rod", kin.Space{Shape: kin.Tube, Radius: 9}, "rack_end steering_arm", "rack upright", false},
		{"damper", kin.Space{Shape: kin.Slider, Radius: 27, Length: 150, Rod: 6}, "damper_frame damper_rocker", "frame rocker", false},
		{"coil", kin.Space{Shape: kin.Tube, Radius: 33}, "damper_rocker damper_frame", "rocker frame", false},
		{"shaft", kin.Space{Shape: kin.Tube, Radius: 15}, "shaft_inner shaft_outer", "frame upright", false},
		{"roll_damper", kin.Space{Shape: kin.Slider, Radius: 20, Length: 200, Rod: 5}, "roll_pickup roll_pickup", "right.rocker left.rocker", true},
		{"footwell", kin.Space{Shape: kin.Block}, "well_low well_high", "frame frame", false},
		{"disc", kin.Space{Shape: kin.Drum, Radius: 135, Inner: 60}, "disc_inner disc_outer", "upright upright", false},
		{"nut", kin.Space{Shape: kin.Tube, Radius: 18}, "lower_ball", "upright", false},
		{"engine", kin.Space{Shape: kin.Block}, "engine_low engine_high", "frame frame", true},
		{"rail", kin.Space{Shape: kin.Tube, Radius: 16}, "rail_front rail_middle rail_rear", "frame frame frame", false},
		{"cross_tube", kin.Space{Shape: kin.Tube, Radius: 12.5}, "lower_front lower_front", "frame frame", true},
		{"counterpoise", kin.Space{Shape: kin.Tube, Radius: 40}, "weight", "centre_arm_1", true},
		{"rocker", kin.Space{Shape: kin.Tube, Radius: 7}, "rocker_front damper_rocker rocker_rear", "rocker rocker rocker", false},
		{"flag", kin.Space{Shape: kin.Tube, Radius: 15}, "spigot", "left.upright", true},
		{"tyre", kin.Space{Shape: kin.Hoop, Radius: 280, Inner: 165, Width: 205, Round: 30}, "", "", false},
		{"rim", kin.Space{Shape: kin.Hoop, Radius: 165, Inner: 153, Width: 190}, "", "", false},
		{"ground", kin.Space{Shape: kin.Ground}, "", "", true},
	} {
		m := part(t, l, tt.name, kin.Solid)
		if *m.Space != tt.space || pointNames(l, m) != tt.points || strings.Join(m.Bodies, " ") != tt.bodies || m.Across != tt.across {
			t.Errorf("%s is %+v of %s on %v, across %v", tt.name, *m.Space, pointNames(l, m), m.Bodies, m.Across)
		}
	}
	if m := part(t, l, "roll_damper", kin.Solid); !slices.Equal(m.Sides, []kin.Side{kin.Right, kin.Left}) {
		t.Errorf("the body of roll_damper begins at %v", m.Sides)
	}
	if m := part(t, l, "cross_tube", kin.Solid); !slices.Equal(m.Sides, []kin.Side{kin.Left, kin.Right}) {
		t.Errorf("cross_tube is between %v", m.Sides)
	}
	if l := mustGeometry(t, "good/front.yaml").Linkage(); len(l.Members) != 6 {
		t.Errorf("a file without solids has %d members for the solver", len(l.Members))
	}
}

// taken writes what a clearance keeps apart.
func taken(l *kin.Linkage, m kin.Member) string {
	var lots [2][]string
	for k, lot := range m.Between {
		for _, o := range lot {
			if l.Members[o.Member].Kind != kin.Solid {
				return "no solid: " + l.Members[o.Member].Name
			}
			lots[k] = append(lots[k], strings.TrimPrefix(o.Side.String()+"."+l.Members[o.Member].Name, "."))
		}
	}
	return strings.Join(lots[0], " ") + " | " + strings.Join(lots[1], " ")
}

// What clearances keep apart: groups are resolved, and in a clearance that exists once a solid that is named without
// a side is taken on both.
func TestClearances(t *testing.T) {
	l := mustGeometry(t, "good/solids.yaml").Linkage()
	for _, tt := range []struct {
		name   string
		taken  string
		leave  float64
		across bool
	}{
		{"links_to_tub", "lower_arm upper_arm tie_rod pushrod | footwell rail", 0, false},
		{"dampers_apart", "left.damper | right.damper", 0, true},
		{"under_roll", "left.damper right.damper | roll_damper heave_spring", 0, true},
		{"tyre_free", "tyre | upper_arm pushrod rail", 0, false},
		{"belly", "lower_arm | ground", 0, false},
		{"sump", "engine | ground", 0, true},
		{"rods", "pushrod | lower_arm", 0, false},
		{"engine_bay", "engine | lower_arm upper_arm", 0, false},
		{"right_links", "right.lower_arm right.upper_arm right.tie_rod right.pushrod | cross_tube", 60, true},
		{"rest", "left.nut right.nut left.post right.post left.coil right.coil left.shaft right.shaft | left.upper_arm right.upper_arm left.footwell", 0, true},
	} {
		m := part(t, l, tt.name, kin.Pair)
		if got := taken(l, m); got != tt.taken || m.Leave != tt.leave || m.Across != tt.across {
			t.Errorf("%s is %s, %v from joints, across %v", tt.name, got, m.Leave, m.Across)
		}
	}
	// a file that draws the right side, in inches of 25.4 mm exactly (international yard and pound agreement, 1959)
	l = mustGeometry(t, "good/solids-inch.yaml").Linkage()
	if m := part(t, l, "right_coil", kin.Pair); taken(l, m) != "left.coil | left.drum left.tyre right.tyre" || !m.Across {
		t.Errorf("right_coil is %s", taken(l, m))
	}
	if m := part(t, l, "link_in_front", kin.Pair); m.Leave != 50.8 {
		t.Errorf("2 in are %v mm", m.Leave)
	}
	if m := part(t, l, "lower_link", kin.Solid); m.Space.Radius != 44.45/2 {
		t.Errorf("half of 1 3/4 in is %v mm", m.Space.Radius)
	}
}

// Joints: what they join, which way their bolts stand, and what is left to be found.
func TestJoints(t *testing.T) {
	l := mustGeometry(t, "good/solids.yaml").Linkage()
	for _, tt := range []struct {
		name, points, bodies, boltBody string
		rodEnd, auto, across           bool
		bolt, housing                  r3.Vec
	}{
		{"lower_joint", "lower_ball", "upright", "lower_arm", false, true, false, r3.Unit(r3.Vec{Y: 0.05, Z: 1}), r3.Vec{}},
		{"upper_joint", "upper_ball", "upright", "upper_arm", false, false, false, r3.Vec{Z: 1}, r3.Unit(r3.Vec{Y: 0.125, Z: 1})},
		{"pivot", "lower_front", "lower_arm", "frame", false, true, false, r3.Vec{X: 1}, r3.Vec{}},
		{"tie_rod_inner", "rack_end steering_arm", "rack upright", "", true, true, false, r3.Vec{}, r3.Vec{}},
		{"tie_rod_outer", "steering_arm rack_end", "upright rack", "", true, false, false, r3.Vec{Z: 1}, r3.Vec{}},
		{"roll_eye", "roll_pickup roll_pickup", "right.rocker left.rocker", "", true, true, true, r3.Vec{}, r3.Vec{}},
		{"heave_eye", "heave_arm heave_frame", "centre_arm_1 frame", "", true, true, true, r3.Vec{}, r3.Vec{}},
		{"left_only", "lower_ball", "left.lower_arm", "left.upright", false, true, true, r3.Vec{Z: 1}, r3.Vec{}},
	} {
		m := part(t, l, tt.name, kin.Joint)
		b := m.Bearing
		if pointNames(l, m) != tt.points || strings.Join(m.Bodies, " ") != tt.bodies || m.Across != tt.across || b.RodEnd != tt.rodEnd || b.Auto() != tt.auto ||
			b.BoltBody != tt.boltBody || b.Bolt != tt.bolt || b.Housing != tt.housing {
			t.Errorf("%s is at %s on %v, across %v: %+v", tt.name, pointNames(l, m), m.Bodies, m.Across, *b)
		}
	}
	// x leads to the rear in the inch file, and y outward
	l = mustGeometry(t, "good/solids-inch.yaml").Linkage()
	if b := part(t, l, "drag_inner", kin.Joint).Bearing; b.Bolt != (r3.Vec{X: -1}) {
		t.Errorf("the bolt of drag_inner is %v", b.Bolt)
	}
}

// What parts allow: in mm and deg, in the order of the parts.
func TestPartLimits(t *testing.T) {
	end := func(v *float64) string {
		if v == nil {
			return "-"
		}
		return fmt.Sprint(*v)
	}
	for file, want := range map[string]string{
		"solids": `damper part length: damper.length 180 to 240
coil part length: coil.length 110 to 250
shaft part plunge: shaft.plunge -14 to 9.5
shaft part inner angle: shaft.joint_angle_inner - to 22
shaft part outer angle: shaft.joint_angle_outer - to 22
bar part twist: bar.twist -28 to 28 once
heave_spring part length: heave_spring.length 150 to - once
`,
		"solids-inch": `coil part length: coil.length 279.4 to 449.9991
shaft part plunge: shaft.plunge - to 6.35
shaft part inner angle: shaft.joint_angle_inner - to 32.5
shaft part outer angle: shaft.joint_angle_outer - to 32.5
`,
	} {
		g := mustGeometry(t, "good/"+file+".yaml")
		var got strings.Builder
		gaps, tilts := 0, 0
		for _, l := range g.PartLimits() {
			switch {
			case strings.HasSuffix(l.Name, " clearance"):
				if gaps++; l.Max != nil || *l.Min < 0 || l.Measure != strings.ReplaceAll(l.Name, " ", ".") {
					t.Errorf("%+v", l)
				}
				continue
			case strings.HasSuffix(l.Name, " tilt"):
				if tilts++; l.Min != nil || *l.Max <= 0 || l.Measure != strings.ReplaceAll(l.Name, " ", ".") {
					t.Errorf("%+v", l)
				}
				continue
			}
			fmt.Fprintf(&got, "%s: %s %s to %s%s\n", l.Name, l.Measure, end(l.Min), end(l.Max), pick(l.Across, " once", ""))
			if l.Pos.Line == 0 {
				t.Errorf("%s stands nowhere", l.Name)
			}
		}
		if got.String() != want || gaps != len(g.Clearances) || tilts != len(g.Joints) {
			t.Errorf("%s: %d gaps, %d tilts, and\n%swant\n%s", file, gaps, tilts, got.String(), want)
		}
	}
	g := mustGeometry(t, "good/solids.yaml")
	if s := part(t, g.Linkage(), "damper", kin.Damper).Stroke; s != (kin.Stroke{Closed: 180, Open: 240, Stop: 195}) {
		t.Errorf("the damper's stroke is %+v", s)
	}
	if s := part(t, g.Linkage(), "coil", kin.Spring).Stroke; s != (kin.Stroke{Open: 250, Solid: 110}) || g.RackTravel != 40_000 {
		t.Errorf("the coil's stroke is %+v, the rack's %d", s, g.RackTravel)
	}
}

// Parts stand in the order of the solver's members.
func TestPartsOrder(t *testing.T) {
	for _, name := range goodGeometries(t) {
		g := mustGeometry(t, name)
		l, parts := g.Linkage(), g.Parts()
		if len(parts) != len(l.Members) {
			t.Fatalf("%s: %d parts and %d members", name, len(parts), len(l.Members))
		}
		for i, m := range l.Members {
			if p := parts[i]; p.Name != m.Name || p.Kind != m.Kind || p.Across != m.Across {
				t.Errorf("%s: part %d is %+v, and the solver has %s %s, across %v", name, i, p, m.Kind, m.Name, m.Across)
			}
		}
	}
	g := mustGeometry(t, "good/solids.yaml")
	if p, ok := g.Measured("lower_arm"); !ok || p.Kind != kin.Arm {
		t.Errorf("lower_arm is measured as %+v", p)
	}
	if p, ok := g.Measured("links_to_tub"); !ok || p.Kind != kin.Pair {
		t.Errorf("links_to_tub is measured as %+v", p)
	}
	if _, ok := g.Measured("footwell"); ok {
		t.Error("a solid is measured by itself")
	}
}

// A study of it: points of solids are varied, those on the upright turn with it, and gaps are measures.
func TestStudySolids(t *testing.T) {
	s := mustStudy(t, "good/solids-night.yaml")
	turned := s.Vary[3].Points
	for _, p := range []string{"caliper_low", "caliper_high", "disc_inner", "disc_outer", "spigot", "lower_ball"} {
		if !slices.Contains(turned, p) {
			t.Errorf("%s does not turn with the upright: %v", p, turned)
		}
	}
	if slices.Contains(turned, "well_low") || slices.Contains(turned, "damper_rocker") {
		t.Errorf("the upright turns %v", turned)
	}
	if c := s.Targets[2]; c.Of.First != (Term{Right, "arm_in_rim", "clearance"}) || c.Unit != "mm" || c.Value != 10 {
		t.Errorf("other room is %+v", c)
	}
}

// What is odd and legal is remarked on.
func TestSolidRemarks(t *testing.T) {
	raw, _ := testdata("good/solids.yaml")
	text := string(raw)
	if g := mustGeometry(t, "good/solids.yaml"); len(g.Notes) != 0 {
		t.Errorf("notes: %v", g.Notes)
	}
	cut := text[:strings.Index(text, "groups:")] + text[strings.Index(text, "joints:"):]
	for _, tt := range []struct{ text, want string }{
		{strings.Replace(text, "engine:       {box: [engine_low, engine_high], once: true}", "engine:       {box: [engine_low, engine_high]}", 1), "engine crosses the centre line and has a mirror image"},
		{strings.Replace(text, "length: 150, rod: 12", "length: 214, rod: 12", 1), "damper is 212.885 mm long at design, and the body of its tube 214"},
		{cut, "lower_arm, upper_arm, tie_rod, pushrod and 19 others are in no clearance"}, // the tyre and the rim are two of them
		{strings.Replace(text, "  flag_free:      {between: [flag, left.rail]}\n", "", 1), "flag is in no clearance, so nothing is asked of the gaps"},
	} {
		// a body longer than its damper is short is a mistake, so that it has room
		g, err := ReadGeometry(oneFile("x", strings.Replace(tt.text, "{min: 180, max: 240, stop: 195}", "{max: 240}", 1)), "x")
		if err != nil {
			t.Fatal(err)
		}
		if len(g.Notes) != 1 || !strings.HasPrefix(g.Notes[0].Message, tt.want) {
			t.Errorf("notes: %v, want %s", g.Notes, tt.want)
		}
	}
}

// What meets its own mirror image in the middle of the car is remarked on, by hand: the middle is at y = 0.
func TestCrossing(t *testing.T) {
	raw, _ := testdata("good/solids.yaml")
	for _, tt := range []struct {
		engine, low, high string
		crosses           bool
	}{
		{"tube: [engine_low, engine_high], diameter: 80", "-900, 30, 300", "-400, 35, 300", true},       // 5 mm of wall beyond the middle
		{"tube: [engine_low, engine_high], diameter: 80", "-900, 30, 300", "-400, 45, 300", false},      // at one end alone, as a half that ends in the middle
		{"tube: [engine_low, engine_high], diameter: 80", "-900, 0, 300", "-900, 500, 300", false},      // half of a tube across
		{"tube: [engine_low, engine_high], diameter: 80", "-900, -1, 300", "-900, 500, 300", true},      // beyond the middle
		{"cylinder: [engine_low, engine_high], diameter: 270", "-900, 20, 300", "-900, 45, 300", false}, // an inboard disc
		{"cylinder: [engine_low, engine_high], diameter: 270", "-900, 20, 300", "-800, 45, 300", true},  // one that stands askew
	} {
		text := strings.NewReplacer("box: [engine_low, engine_high], once: true", tt.engine, "[-900, -180, 120]", "["+tt.low+"]", "[-400, 210, 480]", "["+tt.high+"]").Replace(string(raw))
		g, err := ReadGeometry(oneFile("x", text), "x")
		if err != nil {
			t.Fatal(err)
		}
		if got := len(g.Notes) == 1 && strings.HasPrefix(g.Notes[0].Message, "engine crosses the centre line"); got != tt.crosses || len(g.Notes) > 1 {
			t.Errorf("%+v: notes %v", tt, g.Notes)
		}
	}
}

// A solid drawn beyond the middle without once is remarked on where it stands: its gaps to the parts that are drawn would be those
// across the car. By hand: the box's near face is at y = -330 of a file that draws the left side, and 13 in to the left of one that draws the right.
func TestBeyondTheMiddle(t *testing.T) {
	raw, _ := testdata("good/solids.yaml")
	for _, tt := range []struct{ engine, low, high, want string }{
		{"box: [engine_low, engine_high]", "-900, -560, 120", "-400, -330, 480",
			"engine lies 330 mm to the right of the centre line, where the file draws the left side: its gaps to what is drawn are across the car, and its mirror image is the one beside it; write once: true if it is one thing on that side, or look for a minus sign too many or too few"},
		{"tube: [engine_low, engine_high], diameter: 80", "-900, -41, 300", "-400, -60, 300", "engine lies 41 mm to the right of the centre line, "},
		{"tube: [engine_low, engine_high], diameter: 80", "-900, -500, 300", "-900, 0, 300", "engine lies 0 mm to the right of the centre line, "},
		{"box: [engine_low, engine_high], once: true", "-900, -560, 120", "-400, -330, 480", ""},
		{"box: [engine_low, engine_high]", "-900, 560, 120", "-400, 330, 480", ""},
	} {
		text := strings.NewReplacer("box: [engine_low, engine_high], once: true", tt.engine, "[-900, -180, 120]", "["+tt.low+"]", "[-400, 210, 480]", "["+tt.high+"]").Replace(string(raw))
		g, err := ReadGeometry(oneFile("x", text), "x")
		if err != nil {
			t.Fatal(err)
		}
		at, _, _ := strings.Cut(text, "  engine: ")
		line := 1 + strings.Count(at, "\n")
		switch {
		case tt.want == "" && len(g.Notes) == 0:
		case tt.want == "" || len(g.Notes) != 1 || !strings.HasPrefix(g.Notes[0].Message, tt.want) || g.Notes[0].Line != line || g.Notes[0].Path != "solids.engine":
			t.Errorf("%s %s: notes %v, want %s in line %d", tt.engine, tt.low, g.Notes, tt.want, line)
		}
	}
	inch := `format: 1
name: a corner drawn on the right
units: in
axes: {x: rearward, y: right, z: up}
side: right
points:
  lower_front:  [-6, 12, 8]
  lower_rear:   [6, 12, 8]
  lower_ball:   [0, 24, 8]
  upper_front:  [-6, 12, 16]
  upper_rear:   [6, 12, 16]
  upper_ball:   [0, 24, 16]
  rack_end:     [4, 12, 12]
  steering_arm: [4, 24, 12]
  wheel_centre: [0, 28, 12]
  low:          [-4, -22, 6]
  high:         [4, -13, 7.5]
members:
  lower_arm: {arm: [lower_front, lower_rear], ball: lower_ball, tube: 1}
  upper_arm: {arm: [upper_front, upper_rear], ball: upper_ball}
  tie_rod:   {link: [rack_end, steering_arm], ends: [rack, upright]}
wheel: {centre: wheel_centre, loaded_radius: 12}
solids:
  engine: {box: [low, high]}
clearances:
  room: {between: [left.lower_arm, right.engine], min: 0.1}
`
	g, err := ReadGeometry(oneFile("x", inch), "x")
	if err != nil {
		t.Fatal(err)
	}
	if len(g.Notes) != 1 || !strings.HasPrefix(g.Notes[0].Message, "engine lies 13 in to the left of the centre line, where the file draws the right side: ") {
		t.Errorf("inches: notes %v", g.Notes)
	}
}

// An angle may be written in several ways, and is kept as the nearest double.
func TestTilt(t *testing.T) {
	for text, want := range map[string]float64{"13": 13, "0.1": 0.1, "12 1/2 deg": 12.5, "1/3": 1.0 / 3, "89.999": 89.999} {
		var problems Problems
		w := &walk{problems: &problems, notes: &problems}
		got, ok := w.tilt(cell{text, Position{1, 1}}.field("x", "x"), 90, false)
		if !ok || math.Abs(got-want) > 0 || problems != nil {
			t.Errorf("%s is %v, %v", text, got, problems)
		}
	}
}

package files

import (
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"
	"pgregory.net/rapid"

	"trammel/kin"
)

func memberOf(t *testing.T, g *Geometry, name string) (*kin.Linkage, kin.Member) {
	t.Helper()
	l := g.Linkage()
	i := g.Member(name)
	if i < 0 {
		t.Fatalf("there is no %s", name)
	}
	return l, l.Members[i]
}

// What ties the two sides, as anyone reads it off the page of good/rockers.yaml.
func TestLinkageAcross(t *testing.T) {
	g := mustGeometry(t, "good/rockers.yaml")
	l, bar := memberOf(t, g, "bar")
	if bar.Kind != kin.Bar || !bar.Across || !slices.Equal(bar.Bodies, []string{"left.rocker", "right.rocker"}) || bar.Points != nil {
		t.Errorf("bar is %+v", bar)
	}
	if _, m := memberOf(t, g, "centre_arm_1"); m.Kind != kin.Centre || !slices.Equal(m.Bodies, []string{"bar"}) {
		t.Errorf("centre_arm_1 is %+v", m)
	}
	if _, m := memberOf(t, g, "roll_damper"); !slices.Equal(m.Sides, []kin.Side{kin.Left, kin.Right}) || l.Points[m.Points[1]].Name != "roll_pickup" {
		t.Errorf("roll_damper is %+v", m)
	}
	if _, m := memberOf(t, g, "heave_spring"); m.Sides != nil || !slices.Equal(m.Bodies, []string{"centre_arm_1", "frame"}) {
		t.Errorf("heave_spring is %+v", m)
	}
	if _, m := memberOf(t, g, "shaft"); m.Across || m.Axis != r3.Unit(r3.Vec{Y: 1, Z: 0.05}) {
		t.Errorf("shaft is %+v", m)
	}
	for i, p := range l.Points {
		want := -1
		if p.Name == "damper_frame" {
			want = g.Point("opposite.damper_frame")
		}
		if l.Opposite[i] != want {
			t.Errorf("the other side of %s is point %d, want %d", p.Name, l.Opposite[i], want)
		}
	}
	if at := l.Points[g.Point("opposite.damper_frame")].At; at != (r3.Vec{X: -40, Y: -12, Z: 486}) || g.Point("opposite.damper_frame") != 22 {
		t.Errorf("opposite.damper_frame is at %v", at)
	}
	// the file's vector leads to the right, so it is reversed
	if want := r3.Unit(r3.Vec{X: -0.02, Y: 1}); r3.Norm(r3.Sub(l.RackAxis, want)) > 1e-15 || l.Hold != "damper" {
		t.Errorf("rack axis %v, hold %q", l.RackAxis, l.Hold)
	}
	if l.Vehicle != (kin.Vehicle{Wheelbase: 2310, CentreZ: 420, BrakeShare: 0.62, Inboard: true}) {
		t.Errorf("vehicle is %+v", l.Vehicle)
	}
	if g := mustGeometry(t, "good/front.yaml").Linkage(); g.Opposite != nil || g.RackAxis != (r3.Vec{}) || g.Hold != "" {
		t.Errorf("a file that says nothing gives %v, %v, %q", g.Opposite, g.RackAxis, g.Hold)
	}
}

// The kinds of member, with the bodies that they have when the file leaves ends out.
func TestKinds(t *testing.T) {
	for _, tt := range []struct {
		file, member string
		kind         kin.Kind
		points       string
		bodies       string
		soft         bool
	}{
		{"beam", "lower_link", kin.Link, "link_frame link_axle", "frame axle", false},
		{"beam", "second_link", kin.Link, "second_frame second_axle", "frame axle", true},
		{"beam", "strap", kin.Distance, "strap_frame strap_axle", "frame axle", false},
		{"torque-tube", "tube", kin.Ball, "tube_ball", "frame axle", false},
		{"torque-tube", "crank", kin.Rocker, "crank_front crank_rear", "axle", false},
		{"torque-tube", "upper_watt", kin.Link, "crank_high watt_left", "crank frame", false},
		{"strut", "leg", kin.Strut, "top foot", "frame upright", false},
		{"trailing", "arm_rear", kin.Hinge, "pivot_inner pivot_outer", "frame upright", false},
		{"trailing", "shaft", kin.Shaft, "shaft_inner shaft_outer", "frame upright", false},
		{"long-arm", "arm_joint", kin.Ball, "arm_ball", "frame upright", false},
		{"h-arm", "plate", kin.HArm, "arm_front arm_rear foot_front foot_rear", "frame upright", false},
		{"h-arm", "crank", kin.Rocker, "pivot_a pivot_b", "plate", false},
		{"centre-crank", "tie_rod", kin.Link, "crank_end steering_arm", "crank upright", false},
		{"centre-crank", "drag_link", kin.Link, "drag_rack drag_crank", "rack crank", false},
		{"steered-beam-inch", "pin", kin.Kingpin, "pin_low pin_high", "axle upright", false},
		{"steered-beam-inch", "upper_arm", kin.Arm, "upper_frame upper_other upper_axle", "frame axle", false},
	} {
		g := mustGeometry(t, "good/"+tt.file+".yaml")
		l, m := memberOf(t, g, tt.member)
		var points []string
		for _, p := range m.Points {
			points = append(points, l.Points[p].Name)
		}
		if m.Kind != tt.kind || m.Soft != tt.soft || strings.Join(points, " ") != tt.points || strings.Join(m.Bodies, " ") != tt.bodies {
			t.Errorf("%s of %s is a %s of %v on %v, soft %v", tt.member, tt.file, m.Kind, points, m.Bodies, m.Soft)
		}
	}
	text := string(mustGeometry(t, "good/beam.yaml").Encode())
	if !strings.Contains(text, "second_link: {link: [second_frame, second_axle], ends: [frame, axle], soft: true}") || !strings.Contains(text, "axle: rear, brake_share: 0.38, drive_share: 1, differential: axle}") {
		t.Errorf("the beam axle is written as\n%s", text)
	}
}

// A file that draws the right side is mirrored whole: the car's right is the solver's left, in across too.
// 1 in = 25.4 mm exactly (international yard and pound agreement, 1959).
func TestLinkageRightAcross(t *testing.T) {
	g := mustGeometry(t, "good/steered-beam-inch.yaml")
	l, m := memberOf(t, g, "tie_rod")
	if !l.Right || !slices.Equal(m.Sides, []kin.Side{kin.Right, kin.Left}) || !slices.Equal(m.Bodies, []string{"right.upright", "left.upright"}) {
		t.Errorf("tie_rod is %+v", m)
	}
	if _, m := memberOf(t, g, "drag_link"); !slices.Equal(m.Sides, []kin.Side{kin.Once, kin.Left}) || !slices.Equal(m.Bodies, []string{"rack", "left.upright"}) {
		t.Errorf("drag_link is %+v", m)
	}
	// 14.5 in to the left of zero, and the centre line 1 in to the right of it: 15.5 in on the side that is not drawn
	if at, want := l.Points[g.Point("opposite.coil_high")].At, (r3.Vec{X: -25.4, Y: -393.7, Z: 787.4}); r3.Norm(r3.Sub(at, want)) > 1e-9 {
		t.Errorf("opposite.coil_high is at %v, want %v", at, want)
	}
	// the vector leads to the right, rearward and down; reversed it leads left, forward and up, and the mirror
	// image of that, reversed, left, rearward and down
	if want := r3.Unit(r3.Vec{X: -0.1, Y: 1, Z: -0.02}); r3.Norm(r3.Sub(l.RackAxis, want)) > 1e-15 {
		t.Errorf("rack axis is %v, want %v", l.RackAxis, want)
	}
	if v := l.Vehicle; v.DriveShare != 0.5 || !v.LiveAxle || v.Wheelbase != 92*25.4 || v.CentreZ != 26*25.4 {
		t.Errorf("vehicle is %+v", v)
	}
}

// redrawn writes a geometry in other axes, from another origin, and, where side differs, as its mirror image.
func redrawn(g *Geometry, axes Axes, origin [3]int64, side Side) *Geometry {
	c := *g
	c.Axes, c.Origin, c.Side = axes, origin, side
	c.LeftHanded = !axes.rightHanded()
	c.Points, c.Members = slices.Clone(g.Points), slices.Clone(g.Members)
	turned := func(d Direction) (out Direction) {
		var iso [3]float64
		for i := range d {
			k, sign := g.isoAxis(i)
			iso[k] = float64(sign) * d[i]
		}
		for i := range out {
			k, sign := c.isoAxis(i)
			out[i] = float64(sign)*iso[k] + 0
		}
		return out
	}
	for n := range c.Points {
		var iso [3]int64
		for i, v := range g.Points[n].N {
			k, sign := g.isoAxis(i)
			iso[k] = sign * (v - g.Origin[i])
		}
		for i := range c.Points[n].N {
			k, sign := c.isoAxis(i)
			c.Points[n].N[i] = origin[i] + sign*iso[k]
		}
	}
	c.Rack = turned(g.Rack)
	c.Joints = slices.Clone(g.Joints)
	for i := range c.Joints {
		c.Joints[i].Bolt, c.Joints[i].Housing = turned(c.Joints[i].Bolt), turned(c.Joints[i].Housing)
	}
	if side != g.Side {
		swapParts(&c)
	}
	for n := range c.Members {
		m := &c.Members[n]
		m.Axis = turned(m.Axis)
		if side == g.Side {
			continue
		}
		m.Sides, m.Bodies = otherSides(m.Sides), otherNames(m.Bodies)
	}
	return &c
}

// swapParts changes left and right in what takes room and what tilts.
func swapParts(c *Geometry) {
	c.Solids, c.Groups, c.Clearances = slices.Clone(c.Solids), slices.Clone(c.Groups), slices.Clone(c.Clearances)
	for i := range c.Solids {
		s := &c.Solids[i]
		s.Sides, s.Bodies = otherSides(s.Sides), otherNames(s.Bodies)
	}
	for i := range c.Groups {
		c.Groups[i].Names = otherNames(c.Groups[i].Names)
	}
	for i := range c.Clearances {
		b := &c.Clearances[i].Between
		b[0], b[1] = otherNames(b[0]), otherNames(b[1])
	}
	for i := range c.Joints {
		j := &c.Joints[i]
		j.Sides, j.Bodies = otherSides(j.Sides), otherNames(j.Bodies)
	}
}

func otherSides(sides []Side) []Side {
	sides = slices.Clone(sides)
	for i, s := range sides {
		sides[i] = s.other()
	}
	return sides
}

func otherNames(names []string) []string {
	names = slices.Clone(names)
	for i, n := range names {
		s, name := splitSide(n)
		names[i] = withSide(s.other(), name)
	}
	return names
}

// A geometry drawn in other axes, from another origin or as its mirror image on the other side, written and read,
// is the same linkage; the mirror image says that it is one.
func TestRedrawn(t *testing.T) {
	var all []*Geometry
	for _, name := range goodGeometries(t) {
		all = append(all, mustGeometry(t, name))
	}
	rapid.Check(t, func(t *rapid.T) {
		g := rapid.SampledFrom(all).Draw(t, "geometry")
		frame := anyFrame(t)
		for i := range frame.Origin {
			frame.Origin[i] /= 4 // room for the points about it
		}
		other := redrawn(g, frame.Axes, frame.Origin, frame.Side)
		back, err := ReadGeometry(oneFile("x", string(other.Encode())), "x")
		if err != nil {
			t.Fatalf("%v\n%s", err, other.Encode())
		}
		got, want := back.Linkage(), g.Linkage()
		if got.Right != (frame.Side == Right) {
			t.Fatal("the side is not said")
		}
		got.Right = want.Right
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("got %+v\nwant %+v\nfrom\n%s", got, want, other.Encode())
		}
	})
}

// Points of the other side in a table and in the file stand behind the others and know where they were written.
func TestOppositeTable(t *testing.T) {
	g := mustGeometry(t, "good/rockers-table.yaml")
	n := len(g.Points)
	if a, b := g.Points[n-2], g.Points[n-1]; a.Name != "opposite.steering_arm" || !a.InTable || a.Pos != (Position{2, 1}) || b.Name != "opposite.damper_high" || b.InTable || b.Pos.Line != 8 {
		t.Errorf("the last points are %+v and %+v", a, b)
	}
	if table := string(g.EncodePoints()); !strings.HasSuffix(table, "opposite.steering_arm,-108,-628,215\nopposite.damper_high,-40,-315,640\n") {
		t.Errorf("the table is\n%s", table)
	}
}

// A place on the drawn side of a point that should be on the other is remarked on where it can be meant.
func TestOppositeRemark(t *testing.T) {
	text, _ := testdata("good/rockers.yaml")
	g, err := ReadGeometry(oneFile("x", strings.Replace(string(text), "[ -40, -12, 486]", "[ -40, 12, 486]", 1)), "x")
	if err != nil {
		t.Fatal(err)
	}
	if len(g.Notes) != 1 || !strings.HasPrefix(g.Notes[0].Message, "opposite: damper_frame lies 12 mm to the left of the centre line") {
		t.Errorf("notes: %v", g.Notes)
	}
}

// Roll, one wheel, and measures of sides, as good/axle-night.yaml has them.
func TestStudyBothSides(t *testing.T) {
	s := mustStudy(t, "good/axle-night.yaml")
	byName := map[string]*Motion{}
	for i := range s.Motions {
		byName[s.Motions[i].Name] = &s.Motions[i]
	}
	if m := byName["lean"]; len(m.Roll) != 13 || m.Roll[0] != -3 || m.Roll[7] != 0.5 || !slices.Equal(m.Wheel, []float64{0}) || m.Grid {
		t.Errorf("lean is %+v", m)
	}
	if m := byName["kerb"]; m.Wheels != RightWheel || len(m.Wheel) != 20 || byName["heave"].Wheels != BothWheels {
		t.Errorf("kerb is %+v", m)
	}
	if m := byName["corner"]; !m.Grid || len(m.Wheel) != 5 || len(m.Rack) != 3 || len(m.Roll) != 7 {
		t.Errorf("corner is %+v", m)
	}
	if m := byName["leaning bump"]; m.Grid || !slices.Equal(m.Roll, []float64{1.5}) || len(m.Wheel) != 9 {
		t.Errorf("leaning bump is %+v", m)
	}
	if m := byName["lean and lock"]; !m.Grid || len(m.Rack) != 5 || len(m.Roll) != 7 {
		t.Errorf("lean and lock is %+v", m)
	}
	if m := byName["three leans"]; !slices.Equal(m.Roll, []float64{-1, 0, 2.125}) {
		t.Errorf("three leans is %+v", m)
	}
	if v := s.Vary[1]; v.Kind != VaryCoordinate || v.Points[0] != "opposite.damper_frame" || v.Axis != 'z' || v.DesignN != 486_000 {
		t.Errorf("opposite.damper_frame.z is %+v", v)
	}
	first := s.Targets[0]
	if want := (Of{Term{Left, "", "camber"}, -1, Term{Right, "", "camber"}}); first.Of != want || first.Unit != "deg" || !reflect.DeepEqual(first.Curve, Curve{{-3, 3}, {0, 0}, {3, -3}}) {
		t.Errorf("lean camber is %+v", first)
	}
	if c := s.Targets[2]; c.Of != (Of{Term{Right, "damper", "length"}, 0, Term{}}) || *c.Place.Roll != -2.5 || *c.Place.Rack != 28 || c.Place.Wheel != nil {
		t.Errorf("other damper is %+v", c)
	}
	if c := s.Targets[3]; c.Of.Sign != 1 || c.Measure != "left.damper.length + right.damper.length" || c.Of.Second != (Term{Right, "damper", "length"}) {
		t.Errorf("both dampers is %+v", c)
	}
	if c := s.Targets[4]; c.Of.First != (Term{NoSide, "roll_damper", "length"}) {
		t.Errorf("roll damper is %+v", c)
	}
	if l := s.Limits[len(s.Limits)-1]; *l.Place.Roll != 1.25 || *l.Place.Wheel != 10 || l.Of.First.Side != Right {
		t.Errorf("leaning is %+v", l)
	}
}

// Roll is in degrees in an inch file too, and so are the curves over it.
func TestRollInches(t *testing.T) {
	text := "format: 1\nstudy: lean\ngeometry: good/front-inch.yaml\nvary: {upper_ball.z: {by: 1}}\n" +
		"motions: {lean: {body_roll: [-2, 2], positions: 5}, list: {body_roll: [-1, 0, 0.5], wheel_travel: 1}}\n" +
		"targets: {a: {measure: camber, in: lean, follow: {-2: 1, 2: -1}, within: 0.1}, b: {measure: camber, place: {body_roll: 1 1/2}, value: 0, within: 0.1}}\n"
	s, err := ReadStudy(func(path string) ([]byte, error) {
		if path == "x" {
			return []byte(text), nil
		}
		return testdata(path)
	}, "x")
	if err != nil {
		t.Fatal(err)
	}
	if m := s.Motions[0]; !slices.Equal(m.Roll, []float64{-2, -1, 0, 1, 2}) || !slices.Equal(m.Wheel, []float64{0}) {
		t.Errorf("lean is %+v", m)
	}
	if m := s.Motions[1]; !slices.Equal(m.Roll, []float64{-1, 0, 0.5}) || !slices.Equal(m.Wheel, []float64{25.4}) {
		t.Errorf("list is %+v", m)
	}
	if c := s.Targets[0].Curve; !reflect.DeepEqual(c, Curve{{-2, 1}, {2, -1}}) || *s.Targets[1].Place.Roll != 1.5 {
		t.Errorf("the curve is %v, the place %v", c, s.Targets[1].Place)
	}
}

// What a measure must know of the vehicle, and at which axle it is one.
func TestLacks(t *testing.T) {
	known := Vehicle{Wheelbase: 2_310_000, CentreOfGravity: 420_000, BrakeShare: 0.6, DriveShare: 1}
	rear := known
	rear.Rear = true
	for _, tt := range []struct {
		measure string
		of      Vehicle
		want    string
	}{
		{"camber", Vehicle{}, ""},
		{"anti_dive", known, ""},
		{"anti_squat", rear, ""},
		{"ackermann", Vehicle{}, "which needs the wheelbase; write vehicle: {wheelbase: 2500} with your own number into the geometry file"},
		{"anti_dive", Vehicle{Wheelbase: 1}, "which needs the centre_of_gravity and brake_share; write vehicle: {centre_of_gravity: 420, brake_share: 0.62} with your own numbers into the geometry file"},
		{"anti_lift_drive", Vehicle{}, "which needs the wheelbase, centre_of_gravity and drive_share; write vehicle: {wheelbase: 2500, centre_of_gravity: 420, drive_share: 1} with your own numbers into the geometry file"},
		{"anti_dive", rear, "which is a measure of a front axle, and this is a rear one; write anti_lift_brake, or vehicle: {axle: front} in the geometry file"},
		{"anti_squat", known, "which is a measure of a rear axle, and this is a front one; write anti_lift_drive, or vehicle: {axle: rear} in the geometry file"},
	} {
		if got := (&Geometry{Vehicle: tt.of}).Lacks(tt.measure); got != tt.want {
			t.Errorf("%s: %q, want %q", tt.measure, got, tt.want)
		}
	}
	for name, n := range vehicleNeeds {
		if n.other != "" && vehicleNeeds[n.other].other != name {
			t.Errorf("%s and %s do not lead to one another", name, n.other)
		}
	}
}

// Every measure that the solver has of a geometry can be named in a study of it, on either side where it exists on
// both, and of no other member.
func TestMeasuresOfSolver(t *testing.T) {
	for _, name := range []string{"front", "rockers", "beam", "torque-tube", "strut", "trailing", "long-arm", "h-arm", "steered-beam-inch"} {
		var problems Problems
		d := readGeometry(testdata, "good/"+name+".yaml", &problems)
		program, err := kin.Compile(d.Linkage())
		if problems != nil || err != nil {
			t.Fatal(name, problems, err)
		}
		s := &studyDraft{g: d, Study: &Study{Geometry: d.Geometry}}
		for _, m := range kin.Measures() {
			names := []string{m.Name, "left." + m.Name}
			if m.Of != kin.OfCorner {
				names = nil
				for _, member := range d.Members {
					names = append(names, member.Name+"."+m.Name, "right."+member.Name+"."+m.Name)
				}
			}
			for _, n := range names {
				_, err := program.Column(n)
				_, got, complaint := s.term(n)
				if err == nil && (got == nil || got.Name != m.Name || complaint != "") {
					t.Errorf("%s: %s is refused: %s", name, n, complaint)
				}
				if got != nil && err != nil && !inapplicable(m.Name) {
					t.Errorf("%s: %s is accepted, and the solver refuses it: %v", name, n, err)
				}
			}
		}
	}
}

// inapplicable tells whether only the solver can say that a measure of the right kind has no meaning in a layout: no
// steering axis, no arm that a rod works on, none at one of its ends, no length that a part is given, no give.
func inapplicable(measure string) bool {
	return slices.Contains([]string{"lever_angle", "lever_angle_first", "lever_angle_second", "dead_centre", "dead_centre_first", "dead_centre_second",
		"closing_left", "opening_left", "stop_crush", "solid_left", "bind", "caster", "kingpin_inclination", "caster_trail", "kingpin_offset", "hub_trail", "hub_offset", "caster_gain", "ackermann", "turn_radius"}, measure)
}

// The bodies of a member that a point is on, for what a turn moves.
func TestBodyPoints(t *testing.T) {
	g := &draft{Geometry: mustGeometry(t, "good/steered-beam-inch.yaml"), axle: true, upright: true}
	if got := g.bodyPoints(kin.Upright); !slices.Equal(got, []string{"pin_low", "pin_high", "shaft_outer", "steering_arm", "drag_axle", "wheel_centre"}) {
		t.Errorf("the upright has %v", got)
	}
	if math.Abs(g.Rack[1]) != 1 {
		t.Errorf("the rack is kept as written: %v", g.Rack)
	}
}

// A driven beam whose differential is not placed is remarked on, for the antis hang on it; what is written back says it.
func TestDifferentialRemark(t *testing.T) {
	text, _ := testdata("good/beam.yaml")
	for said, notes := range map[string]int{", differential: axle": 0, ", differential: frame": 0, "": 1} {
		g, err := ReadGeometry(oneFile("x", strings.Replace(string(text), ", differential: axle", said, 1)), "x")
		if err != nil {
			t.Fatal(err)
		}
		if len(g.Notes) != notes || notes == 1 && !strings.Contains(g.Notes[0].Message, "write differential: axle for a live axle") {
			t.Errorf("%q: notes %v", said, g.Notes)
		}
		if again, err := ReadGeometry(oneFile("x", string(g.Encode())), "x"); err != nil || len(again.Notes) != 0 || again.Vehicle != g.Vehicle {
			t.Errorf("%q: written back it has the notes %v, error %v", said, again.Notes, err)
		}
	}
}

package files

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"gonum.org/v1/gonum/spatial/r3"

	"trammel/kin"
)

// testdata reads from the folder of that name.
func testdata(path string) ([]byte, error) {
	return os.DirFS("testdata").(interface {
		ReadFile(string) ([]byte, error)
	}).ReadFile(path)
}

func mustGeometry(t testing.TB, name string) *Geometry {
	t.Helper()
	g, err := ReadGeometry(testdata, name)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func mustStudy(t testing.TB, name string) *Study {
	t.Helper()
	s, err := ReadStudy(testdata, name)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// goodGeometries names every good geometry file.
func goodGeometries(t testing.TB) (names []string) {
	t.Helper()
	all, _ := filepath.Glob("testdata/good/*.yaml")
	for _, path := range all {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if !IsStudy(text) {
			names = append(names, "good/"+filepath.Base(path))
		}
	}
	if len(names) < 12 {
		t.Fatalf("%d good geometries, and at least 12 are wanted", len(names))
	}
	return names
}

// oneFile is a ReadFile that knows one file.
func oneFile(name, text string) ReadFile {
	return func(path string) ([]byte, error) {
		if path == name {
			return []byte(text), nil
		}
		return nil, os.ErrNotExist
	}
}

// The numbers of the millimetre file as anyone reads them off the page.
func TestGeometryMillimetres(t *testing.T) {
	g := mustGeometry(t, "good/front.yaml")
	l := g.Linkage()
	if len(l.Points) != 18 || len(l.Members) != 6 || l.Right || l.Vehicle.Wheelbase != 2310 {
		t.Errorf("%d points, %d members, right %v, wheelbase %v", len(l.Points), len(l.Members), l.Right, l.Vehicle.Wheelbase)
	}
	if at := l.Points[g.Point("upper_ball")].At; at != (r3.Vec{X: -22, Y: 612, Z: 392.125}) {
		t.Errorf("upper_ball is at %v", at)
	}
	damper := l.Members[g.Member("damper")]
	if damper.Kind != kin.Damper || !slices.Equal(damper.Bodies, []string{"rocker", "frame"}) || l.Points[damper.Points[0]].Name != "damper_rocker" {
		t.Errorf("damper is %+v", damper)
	}
	if arm := l.Members[g.Member("upper_arm")]; !slices.Equal(arm.Bodies, []string{"frame", "upright"}) || len(arm.Points) != 3 || l.Points[arm.Points[2]].Name != "upper_ball" {
		t.Errorf("upper_arm is %+v", arm)
	}
	if r := g.Members[g.Member("damper")].Length; *r.Min != 180_000 || *r.Max != 240_000 {
		t.Errorf("damper length is %v", r)
	}
	if l.Wheel.Camber != -1.25*math.Pi/180 || l.Wheel.LoadedRadius != 268 || l.Points[l.Wheel.Centre].Name != "wheel_centre" {
		t.Errorf("wheel is %+v", l.Wheel)
	}
	var notes []string
	for _, n := range g.Notes {
		notes = append(notes, n.Path)
	}
	if want := []string{"points.sill_low.unused", "points.sill_high.unused", "points.axle_inner.unused"}; !slices.Equal(notes, want) {
		t.Errorf("notes are about %v, want %v", notes, want)
	}
}

// The inch file: a right side, x to the rear, y to the right, an origin off the file's zero, fractions
// and lengths in the other unit. 1 in = 25.4 mm exactly (international yard and pound agreement, 1959).
func TestGeometryInches(t *testing.T) {
	g := mustGeometry(t, "good/front-inch.yaml")
	if !g.Linkage().Right {
		t.Error("the right side is not said")
	}
	// -9.5 in behind zero and the origin at -4: 5.5 in forward; 8.2677 in to the right is outward, and
	// outward is left after the mirror; 6.2992 over an origin at 1.5.
	if at, want := g.ToISO(g.Points[g.Point("lower_front")].N), (r3.Vec{X: 139.7, Y: 209.99958, Z: 121.89968}); at != want {
		t.Errorf("lower_front is at %v, want %v", at, want)
	}
	if n := g.Points[g.Point("lower_ball")].N; n != [3]int64{-41969, 251875, 62402} {
		t.Errorf("25 3/16 in is %v", n)
	}
	if n := g.Wheel.LoadedRadius; n != 105512 { // 268 / 25.4 = 10.55118
		t.Errorf("268 mm is %d", n)
	}
	if len(g.Notes) != 3 || !strings.Contains(g.Notes[0].Message, "682mm is kept as 26.8504 in") {
		t.Errorf("notes: %v", g.Notes)
	}
}

// A left-handed set that says so, points from a table with a byte-order mark and CRLF.
func TestGeometryTable(t *testing.T) {
	g := mustGeometry(t, "good/front-table.yaml")
	if at := g.ToISO(g.Points[g.Point("upper_ball")].N); at != (r3.Vec{X: -22, Y: 612, Z: 392.125}) {
		t.Errorf("upper_ball is at %v", at)
	}
	if !g.LeftHanded || g.TablePath != "good/front-points.csv" || g.Points[0].Pos != (Position{3, 1}) {
		t.Errorf("left-handed %v, table %q, first point at %v", g.LeftHanded, g.TablePath, g.Points[0].Pos)
	}
	table := "name,x,y,z\nlower_front,140,210,-160\n"
	if got := string(g.EncodePoints()); !strings.HasPrefix(got, table) {
		t.Errorf("the table begins\n%.60s", got)
	}
}

// The file's axes as directions: in the inch file +x is rearward, +y outward (left after the mirror).
func TestDirection(t *testing.T) {
	g := mustGeometry(t, "good/front-inch.yaml")
	for axis, want := range map[byte]r3.Vec{'x': {X: -1}, 'y': {Y: 1}, 'z': {Z: 1}} {
		if got := g.Direction(axis); got != want {
			t.Errorf("%c is %v, want %v", axis, got, want)
		}
	}
}

func TestStudy(t *testing.T) {
	s := mustStudy(t, "good/first-night.yaml")
	if len(s.Motions) != 5 || len(s.Vary) != 6 || len(s.Targets) != 8 || len(s.Limits) != 4 || len(s.Notes) != 0 {
		t.Fatalf("%d motions, %d vary, %d targets, %d limits, notes %v", len(s.Motions), len(s.Vary), len(s.Targets), len(s.Limits), s.Notes)
	}
	if m := s.Motions[2]; !m.Grid || len(m.Wheel) != 9 || len(m.Rack) != 7 || m.Wheel[8] != 50 || m.Rack[3] != 0 {
		t.Errorf("the grid is %+v", m)
	}
	if m := s.Motions[4]; m.Grid || !slices.Equal(m.Wheel, []float64{30}) || !slices.Equal(m.Rack, []float64{-28, -14, 0, 14, 28}) {
		t.Errorf("the held sweep is %+v", m)
	}
	if m := s.Motions[3]; !slices.Equal(m.Wheel, []float64{-40, 0, 45}) {
		t.Errorf("the list is %+v", m)
	}
	tests := []struct {
		kind                   VaryKind
		from, to, design, step int64
		points                 []string
	}{
		{VaryCoordinate, 380_000, 410_000, 392_125, 1, []string{"upper_ball"}},
		{VaryCoordinate, 199_000, 229_000, 214_000, 500, []string{"steering_arm"}},
		{VaryMove, -12_000, 12_000, 0, 1000, []string{"rack_end"}},
		{VaryAlong, -10_000, 40_000, 0, 1, []string{"lower_front"}},
		{VaryTurn, -3000, 3000, 0, 1, []string{"lower_ball", "upper_ball", "steering_arm", "wheel_centre"}},
		{VaryChoose, 0, 1, 0, 1, []string{"damper_rocker", "damper_frame"}},
	}
	for i, want := range tests {
		v := s.Vary[i]
		if v.Kind != want.kind || v.FromN != want.from || v.ToN != want.to || v.DesignN != want.design || v.Step != want.step || !slices.Equal(v.Points, want.points) {
			t.Errorf("%s is %+v", v.Name, v)
		}
	}
	if p := s.Vary[5].Options[1].Points["damper_rocker"]; p != [3]int64{-12_000, 236_000, 380_000} {
		t.Errorf("the flipped rocker has its damper at %v", p)
	}
	if c := s.Targets[0]; c.Shape != Follow || c.Motion != 0 || c.Unit != "deg" || c.Weight != 2 || !reflect.DeepEqual(c.Curve, Curve{{-45, 0.6}, {0, -1.25}, {50, -3.2}}) {
		t.Errorf("the first target is %+v", c)
	}
	if c := s.Targets[3]; c.Shape != Value || c.Motion != -1 || *c.Place.Wheel != 0 || c.Place.Rack != nil || c.Value != 19.05 { // 0.75 in
		t.Errorf("the trail is %+v", c)
	}
	if w := s.Targets[1].Within; w.Above.At(12) != 0.02 || math.Abs(w.Below.At(2.5)-0.08) > 1e-12 || w.Below.At(-99) != 0.1 || w.Below.At(99) != 0.06 {
		t.Errorf("within is %+v", w)
	}
	if w := s.Targets[7].Within.Above[0][1]; w != 0.02/25.4 { // deg/in
		t.Errorf("0.02 deg/in is %v deg/mm", w)
	}
	if l := s.Limits[1]; *l.Min != 20 || l.Max != nil || l.Motion != 1 || *l.Place.Rack != 28 {
		t.Errorf("lock is %+v", l)
	}
}

func TestStudyInches(t *testing.T) {
	s := mustStudy(t, "good/inch-night.yaml")
	if m := s.Motions[0]; m.Name != "heave" || m.Wheel[0] != -44.45 || m.Wheel[40] != 50.8 { // 1.75 in and 2 in
		t.Errorf("heave is %+v", m)
	}
	if v := s.Vary[0]; v.FromN != 135827-5000 || v.Step != 625 || v.Unit != "in" || v.PerUnit != 10000 {
		t.Errorf("upper_front.z is %+v", v)
	}
	if v := s.Vary[1]; v.Kind != VaryTurn || v.ToN != 2000 || v.Step != 250 || v.Unit != "deg" || v.PerUnit != 1000 ||
		!slices.Equal(v.Points, []string{"lower_ball", "upper_ball", "steering_arm", "wheel_centre"}) {
		t.Errorf("caster is %+v", v)
	}
	if l := s.Limits[0]; *l.Min != 12.7 || *l.Max != 30 { // 0.5 in, 30 mm
		t.Errorf("trail is between %v and %v", *l.Min, *l.Max)
	}
	want := []Stage{{Kind: Plan, Method: "points"}, {Kind: Plan, Method: "factorial", Levels: 3}, {Kind: Search, Method: "differential-evolution", Runs: 2000, Islands: 4}}
	for i, st := range s.Stages {
		if st.Kind != want[i].Kind || st.Method != want[i].Method || st.Runs != want[i].Runs || st.Islands != want[i].Islands || st.Levels != want[i].Levels {
			t.Errorf("stage %d is %+v", i+1, st)
		}
	}
	if rows := s.Stages[0].Table.Rows; !reflect.DeepEqual(rows, [][]int64{{135827, 0}, {137077, -500}}) {
		t.Errorf("the table is %v", rows)
	}
	if s.Seed != math.MaxUint64 || s.Budget != (Budget{7*time.Hour + 30*time.Minute, 100000, 2_500_000_000}) ||
		s.Record != (Record{Rows: EveryRows, Every: 10}) || s.Curves != (Curves{KeepBest, 20}) {
		t.Errorf("seed %d, budget %+v, record %+v, curves %+v", s.Seed, s.Budget, s.Record, s.Curves)
	}
}

// Where only alternatives vary, a study that names no stages tries all combinations of them, and where these are too many a sample and a
// search without derivatives; levels have no meaning there, and none are needed.
func TestOnlyAlternatives(t *testing.T) {
	study := func(choices int, more string) (*Study, error) {
		text := "format: 1\nstudy: alternatives\ngeometry: good/front.yaml\nvary:\n"
		for i := range choices {
			text += fmt.Sprintf("  place %d: {choose: {as drawn: {}, out: {%s: [10, 20, 30]}, in: {%[2]s: [10, 21, 30]}, up: {%[2]s: [10, 20, 31]}}}\n", i, []string{"lower_front", "lower_rear", "upper_front", "upper_rear", "rack_end", "damper_frame", "pushrod_foot", "rocker_front", "rocker_rear"}[i])
		}
		text += "targets: {bump steer: {measure: toe, place: {wheel_travel: 20}, value: 0.1, within: 0.05}}\n" + more
		return ReadStudy(func(path string) ([]byte, error) {
			if path == "x" {
				return []byte(text), nil
			}
			return testdata(path)
		}, "x")
	}
	for _, tt := range []struct {
		choices int
		more    string
		want    []Stage
	}{
		{2, "", []Stage{{Kind: Plan, Method: "factorial", Pos: Position{4, 1}}}},
		{8, "", []Stage{{Kind: Plan, Method: "factorial", Pos: Position{4, 1}}}}, // 4^8 = 65,536
		{9, "", []Stage{{Kind: Plan, Method: "sobol", Runs: 4096, Pos: Position{4, 1}}, {Kind: Search, Method: "differential-evolution", Runs: 20_000, Islands: 8, Pos: Position{4, 1}}}},
		{2, "stages: [{plan: factorial}]\n", []Stage{{Kind: Plan, Method: "factorial", Pos: Position{8, 10}}}},
	} {
		s, err := study(tt.choices, tt.more)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(s.Stages, tt.want) {
			t.Errorf("%d choices: %+v, want %+v", tt.choices, s.Stages, tt.want)
		}
	}
	if _, err := study(2, "stages: [{plan: factorial, levels: 3}]\n"); err == nil || err.Error() != "x:8:28: stage 1: levels is of numbers, and only alternatives vary, of which factorial takes all; take it out." {
		t.Errorf("%v", err)
	}
}

// A study that says nothing has what DefaultStudy says, and motions from the geometry's travel.
func TestStudyDefaults(t *testing.T) {
	s, d := mustStudy(t, "good/small.yaml"), DefaultStudy()
	for i := range d.Stages {
		d.Stages[i].Pos = Position{4, 1} // messages about them point at vary, for want of a better place
	}
	if s.Seed != d.Seed || !reflect.DeepEqual(s.Stages, d.Stages) || s.Budget != d.Budget || s.Record != d.Record || s.Curves != d.Curves {
		t.Errorf("got %+v, want the defaults %+v", s, d)
	}
	if len(s.Motions) != 2 || len(s.Motions[0].Wheel) != DefaultHeavePositions || len(s.Motions[1].Rack) != DefaultSteerPositions ||
		s.Motions[0].Wheel[0] != -45 || s.Motions[1].Rack[20] != 28 || s.Targets[0].Weight != DefaultWeight {
		t.Errorf("motions are %+v", s.Motions)
	}
}

// Every place where a file may name another is asked for beside the file that names it.
func TestBeside(t *testing.T) {
	for _, c := range [][3]string{
		{"front.yaml", "points.csv", "points.csv"},
		{"cars/front.yaml", "points.csv", "cars/points.csv"},
		{"cars/nights/one.yaml", "../front.yaml", "cars/front.yaml"},
		{"/cars/front.yaml", "a/points.csv", "/cars/a/points.csv"},
		{"//server/cars/front.yaml", "points.csv", "//server/cars/points.csv"},
	} {
		if got := beside(c[0], c[1]); got != c[2] {
			t.Errorf("%s beside %s is %s, want %s", c[1], c[0], got, c[2])
		}
	}
}

func TestIsStudy(t *testing.T) {
	for name, want := range map[string]bool{"good/front.yaml": false, "good/small.yaml": true, "bad/g-utf16.yaml": false} {
		text, err := testdata(name)
		if err != nil {
			t.Fatal(err)
		}
		if IsStudy(text) != want {
			t.Errorf("%s: %v", name, !want)
		}
	}
}

// CRLF, a byte-order mark and tabs where YAML allows them change nothing.
func TestLineEndings(t *testing.T) {
	text, err := testdata("good/front.yaml")
	if err != nil {
		t.Fatal(err)
	}
	want := bare(mustGeometry(t, "good/front.yaml"))
	crlf := "\ufeff" + strings.ReplaceAll(strings.ReplaceAll(string(text), "\n", "\r\n"), ", upper_rear", ",\tupper_rear")
	g, err := ReadGeometry(oneFile("x.yaml", crlf), "x.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if got := bare(g); !reflect.DeepEqual(got, want) {
		t.Errorf("got %+v\nwant %+v", got, want)
	}
}

// bare strips what says where and how a geometry was written.
func bare(g *Geometry) *Geometry {
	c := *g
	c.Path, c.Text, c.TablePath, c.Table, c.Notes = "", nil, "", nil, nil
	c.Points, c.Members = slices.Clone(g.Points), slices.Clone(g.Members)
	for i := range c.Points {
		c.Points[i].Pos, c.Points[i].InTable = Position{}, false
	}
	for i := range c.Members {
		c.Members[i].Pos = Position{}
		c.HoldPos = Position{}
	}
	c.Wheel.Pos = Position{}
	c.Solids, c.Groups, c.Clearances, c.Joints = slices.Clone(g.Solids), slices.Clone(g.Groups), slices.Clone(g.Clearances), slices.Clone(g.Joints)
	for i := range c.Solids {
		c.Solids[i].Pos = Position{}
	}
	for i := range c.Groups {
		c.Groups[i].Pos = Position{}
	}
	for i := range c.Clearances {
		c.Clearances[i].Pos = Position{}
	}
	for i := range c.Joints {
		c.Joints[i].Pos = Position{}
	}
	return &c
}

// Tables with the three line endings that spreadsheets write are one table.
func TestTableLineEndings(t *testing.T) {
	geometry, _ := testdata("good/front-table.yaml")
	table, _ := testdata("good/front-points.csv")
	want := bare(mustGeometry(t, "good/front-table.yaml"))
	for _, end := range []string{"\n", "\r\n", "\r"} {
		other := []byte(strings.ReplaceAll(string(table), "\r\n", end))
		g, err := ReadGeometry(func(path string) ([]byte, error) {
			if path == "x" {
				return geometry, nil
			}
			return other, nil
		}, "x")
		if err != nil {
			t.Errorf("%q: %v", end, err)
		} else if !reflect.DeepEqual(bare(g), want) {
			t.Errorf("%q: another geometry", end)
		}
	}
}

func TestLimitsOfSize(t *testing.T) {
	huge := strings.Repeat("# remark\n", maxBytes/9+1)
	var many strings.Builder
	many.WriteString("points:\n")
	for i := range maxPoints + 2 {
		many.WriteString("  " + strings.Repeat("p", 1+i/26) + string(rune('a'+i%26)) + ": [1, 2, 3]\n")
	}
	var wrong strings.Builder
	wrong.WriteString("members:\n")
	for i := range 150 {
		wrong.WriteString("  " + strings.Repeat("m", 1+i/26) + string(rune('a'+i%26)) + ": {link: [1], ends: [2], soft: 3}\n")
	}
	curve := "targets: {a: {follow: {" + strings.Repeat("1: 1, ", 100_000) + "}}}\n"
	if _, err := ReadStudy(oneFile("x", curve), "x"); err == nil || !strings.Contains(err.Error(), "1000 is the most") {
		t.Errorf("a curve of 100,000 points: %.300v", err)
	}
	for text, want := range map[string]string{wrong.String(): "there are more than 300 mistakes", huge: "larger than 1 MiB", many.String(): "more than 500 points"} {
		if _, err := ReadGeometry(oneFile("x", text), "x"); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("the answer to %.20q is %v, and lacks %q", text, err, want)
		}
	}
}

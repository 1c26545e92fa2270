package studies

import (
	"encoding/json"
	"math"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"trammel/optimize"
	"trammel/studies/files"
	"trammel/studies/record"
)

// rowOf is what these tests read of a recorded run.
type rowOf struct {
	run    int64
	status string
	score  float64 // NaN when null
	over   float64
}

// before ranks two runs that assemble as Deb's rules do: without violation first, by score; then by violation.
func (r *rowOf) before(q *rowOf) bool {
	switch {
	case (r.status == "ok") != (q.status == "ok"):
		return r.status == "ok"
	case r.over != q.over:
		return r.over < q.over
	}
	return r.score < q.score
}

// rowsOf reads the runs of a folder, in the order of their numbers.
func rowsOf(t *testing.T, dir string) (rows []rowOf) {
	t.Helper()
	v, err := record.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	err = v.Scan(record.TableRuns, []string{"run", "status", "score", "violation"}, func(r *record.Rows) error {
		for i := range r.Len() {
			x := rowOf{score: math.NaN(), over: math.NaN()}
			x.run, _ = r.IntAt(0, i)
			x.status, _ = r.TextAt(1, i)
			if s, ok := r.FloatAt(2, i); ok {
				x.score = s
			}
			if s, ok := r.FloatAt(3, i); ok {
				x.over = s
			}
			rows = append(rows, x)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// open opens a study folder.
func open(t *testing.T, dir string) *Archive {
	t.Helper()
	a, err := OpenArchive(dir)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// rank reads the answer of a study folder.
func rank(t *testing.T, dir string) (*Archive, *Answer) {
	t.Helper()
	a := open(t, dir)
	ans, err := a.Rank()
	if err != nil {
		t.Fatal(err)
	}
	return a, ans
}

// TestPoliciesOfRows: all, one in so many, improving and none evaluate the same runs and keep what they
// say, whether stopped on the way or not.
func TestPoliciesOfRows(t *testing.T) {
	base := t.TempDir()
	dir := func(name string) string { return filepath.Join(base, name) }
	whole := run(t, night(t), RunOptions{Dir: dir("all")})
	all := rowsOf(t, dir("all"))
	if int64(len(all)) != whole.Runs {
		t.Fatalf("%d rows of %d runs", len(all), whole.Runs)
	}
	var every, improving []rowOf
	for i, r := range all {
		if i%7 == 0 {
			every = append(every, r)
		}
		// Feasible ones come first, by score; then those over a limit, by violation, then score.
		if n := len(improving); n == 0 || r.before(&improving[n-1]) {
			improving = append(improving, r)
		}
	}
	if len(improving) < 5 {
		t.Fatalf("%d runs improve; too few to tell", len(improving))
	}
	for name, c := range map[string]struct {
		policy files.Record
		want   []rowOf
	}{
		"every":     {files.Record{Rows: files.EveryRows, Every: 7}, every},
		"improving": {files.Record{Rows: files.ImprovingRows}, improving},
		"none":      {files.Record{Rows: files.NoRows}, nil},
	} {
		for _, keep := range []files.Keep{files.KeepBest, files.KeepAll} {
			f := night(t)
			f.Record, f.Curves.Keep = c.policy, keep
			where := dir(name + map[files.Keep]string{files.KeepBest: "-best", files.KeepAll: "-all"}[keep])
			budget := f.Budget
			for _, f.Budget.Runs = range []int64{500, 1300} { // three sessions
				run(t, f, RunOptions{Dir: where, Workers: 3, Record: often()})
			}
			f.Budget = budget
			res := run(t, f, RunOptions{Dir: where})
			if res.Runs != whole.Runs || res.Feasible != whole.Feasible {
				t.Errorf("%s: %d runs, %d feasible; all rows: %d, %d", name, res.Runs, res.Feasible, whole.Runs, whole.Feasible)
			}
			same := func(a, b rowOf) bool {
				return a.run == b.run && a.status == b.status && (a.score == b.score || a.score != a.score && b.score != b.score)
			}
			got := rowsOf(t, where)
			if !slices.EqualFunc(got, c.want, same) {
				t.Errorf("%s: %d rows kept, want %d, or others", name, len(got), len(c.want))
			}
			if keep == files.KeepAll {
				var want []int64
				for _, r := range c.want {
					if r.status == "ok" || r.status == "over_limit" {
						want = append(want, r.run)
					}
				}
				if got := curvesOfRuns(t, where); !slices.Equal(got, want) {
					t.Errorf("%s: curves of %d runs, want %d", name, len(got), len(want))
				}
			}
			if name == "none" && keep == files.KeepBest && len(curvesOfRuns(t, where)) == 0 {
				t.Error("without rows no curves of the best are kept")
			}
		}
	}
}

// sameRows compares two batches cell by cell, to the bit.
func sameRows(t *testing.T, a, b *record.Rows) {
	t.Helper()
	if a.Len() != b.Len() || len(a.Columns()) != len(b.Columns()) {
		t.Fatalf("%d rows of %d columns and %d of %d", a.Len(), len(a.Columns()), b.Len(), len(b.Columns()))
	}
	for c, col := range a.Columns() {
		for i := range a.Len() {
			same := false
			switch col.Type {
			case record.Int64:
				x, okX := a.IntAt(c, i)
				y, okY := b.IntAt(c, i)
				same = x == y && okX == okY
			case record.Text:
				x, okX := a.TextAt(c, i)
				y, okY := b.TextAt(c, i)
				same = x == y && okX == okY
			default:
				x, okX := a.FloatAt(c, i)
				y, okY := b.FloatAt(c, i)
				same = math.Float64bits(x) == math.Float64bits(y) && okX == okY
			}
			if !same {
				t.Fatalf("row %d, %s differs", i+1, col.Name)
			}
		}
	}
}

// TestCurves: best, all and none keep what they say, and the curves of a run made again are the stored
// ones to the bit.
func TestCurves(t *testing.T) {
	base := t.TempDir()
	for name, c := range map[string]files.Curves{"best": {Keep: files.KeepBest, Best: 9}, "all": {Keep: files.KeepAll}, "none": {Keep: files.KeepNone}} {
		f, dir := night(t), filepath.Join(base, name)
		f.Curves = c
		run(t, f, RunOptions{Dir: dir})
		rows := slices.DeleteFunc(rowsOf(t, dir), func(r rowOf) bool { return r.status != "ok" && r.status != "over_limit" })
		switch name {
		case "best":
			slices.SortStableFunc(rows, func(a, b rowOf) int {
				switch {
				case a.before(&b):
					return -1
				case b.before(&a):
					return 1
				}
				return 0
			})
			rows = rows[:9]
		case "none":
			rows = nil
		}
		var want []int64
		for _, r := range rows {
			want = append(want, r.run)
		}
		slices.Sort(want)
		got := curvesOfRuns(t, dir)
		if !slices.Equal(got, want) {
			t.Fatalf("%s: curves of runs %v, want %v", name, got, want)
		}
		a := open(t, dir)
		for i := 0; i < len(got); i += 1 + len(got)/20 {
			table, err := a.Curves(got[i : i+1])
			if err != nil {
				t.Fatal(err)
			}
			stored := record.NewRows(a.view.Schema(record.TableCurves))
			err = a.view.ScanRun(record.TableCurves, got[i], nil, func(r *record.Rows) error {
				for k := range r.Len() {
					stored.Copy(r, k)
				}
				return nil
			})
			if err != nil {
				t.Fatal(err)
			}
			if stored.Len() != 9 {
				t.Fatalf("run %d has %d positions", got[i], stored.Len())
			}
			sameRows(t, stored, table.Rows)
		}
		if _, err := a.Curves([]int64{42}); err == nil || !IsUsage(err) {
			t.Errorf("curves of a run that is not there: %v", err)
		}
	}
}

// TestGeometryOfARun: the geometry of a run, written as a file and put in the study's place, evaluates to
// the recorded score: to the bit where everything moves along axes, and within the lattice's rounding
// where a point slides or the upright turns.
func TestGeometryOfARun(t *testing.T) {
	base := t.TempDir()
	for name, vary := range map[string]string{
		"axes":  "  upper_ball.z: {from: 335, to: 365}\n  rack: {move: [rack_end], along: z, by: 9, step: 0.5}\n  rocker: {choose: {as drawn: {}, high: {damper_rocker: [-4, 270, 470]}}}\n",
		"slide": "  upper_ball.z: {from: 335, to: 365}\n  mount: {move: [damper_frame], along: [damper_frame, upper_front], by: 9}\n  caster: {turn: upright, about: [lower_ball, wheel_centre], by: 2}\n",
	} {
		mm := text(t, "corncrake", "corncrake-front.yaml")
		dir := filepath.Join(base, name)
		run(t, read(t, studyOf(vary)+"stages:\n  - {plan: sobol, runs: 60}\n", mm), RunOptions{Dir: dir})
		a := open(t, dir)
		compared := 0
		for _, r := range rowsOf(t, dir) {
			if math.IsNaN(r.score) {
				continue
			}
			g, err := a.Geometry(r.run)
			if err != nil {
				t.Fatal(err)
			}
			st := bind(t, studyOf("  upper_front.x: {by: 1}"), string(g.Encode()))
			p := st.Space.Design()
			o := outcome(st, nil, &p)
			tolerance := 0.0
			if name == "slide" {
				tolerance = 0.01 * (1 + r.score)
			}
			if o.Status.String() != r.status || !(math.Abs(o.Score-r.score) <= tolerance) {
				t.Errorf("%s, run %d: %v, score %v; recorded %s, %v", name, r.run, o.Status, o.Score, r.status, r.score)
			}
			compared++
		}
		if compared < 30 {
			t.Errorf("%s: %d runs compared", name, compared)
		}
		best, err := a.Geometry(-1)
		if err != nil {
			t.Fatal(err)
		}
		_, ans := rank(t, dir)
		if g, err := a.Geometry(ans.Answers[0].Run); err != nil || string(g.Encode()) != string(best.Encode()) {
			t.Errorf("%s: the best geometry is not that of the first answer (%v)", name, err)
		}
	}
}

// TestRank: the answer as a document says what the rows say.
func TestRank(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "night")
	res := run(t, night(t), RunOptions{Dir: dir})
	_, ans := rank(t, dir)
	text, err := ans.JSON()
	if err != nil {
		t.Fatal(err)
	}
	var doc struct {
		Study       string
		Runs        int64
		Recorded    int64
		Status      map[string]int64
		AnyFeasible bool `json:"any_feasible"`
		Caution     string
		Columns     []record.Column
		Design      *Verdict
		Answers     []Verdict
	}
	if err := json.Unmarshal(text, &doc); err != nil {
		t.Fatal(err)
	}
	rows := rowsOf(t, dir)
	count, least := map[string]int64{}, rowOf{score: math.Inf(1)}
	byRun := map[int64]rowOf{}
	for _, r := range rows {
		count[r.status]++
		byRun[r.run] = r
		if r.status == "ok" && r.score < least.score {
			least = r
		}
	}
	if doc.Study != "a short night" || doc.Runs != res.Runs || doc.Recorded != res.Runs || !doc.AnyFeasible || doc.Caution != Caution {
		t.Errorf("the document says %+v", doc)
	}
	for s, n := range count {
		if doc.Status[s] != n {
			t.Errorf("%d runs are %s; the document says %d", n, s, doc.Status[s])
		}
	}
	if a := doc.Answers[0]; a.Run != least.run || a.Score != least.score || a.Status != "ok" || a.Violation != 0 {
		t.Errorf("the first answer is run %d, score %v; the best row run %d, %v", a.Run, a.Score, least.run, least.score)
	}
	if d := byRun[0]; doc.Design == nil || doc.Design.Score != d.score || doc.Design.Status != d.status || len(doc.Design.Points) != 0 {
		t.Errorf("the design is %+v; its row %+v", doc.Design, d)
	}
	for i, a := range doc.Answers {
		r, ok := byRun[a.Run]
		if !ok || r.score != a.Score || i > 0 && a.Score < doc.Answers[i-1].Score {
			t.Errorf("answer %d: run %d has score %v, its row %v; best first", i+1, a.Run, a.Score, r.score)
		}
		for k, m := range a.Moved {
			if by := a.Moved[k].Now - a.Moved[k].Was; m.Name == "upper_ball.z" && by != 0 && !slices.ContainsFunc(a.Points, func(p MovedPoint) bool {
				return p.Name == "upper_ball" && math.Abs(p.By[2]-by) < 1e-9 && p.By[0] == 0 && p.By[1] == 0
			}) {
				t.Errorf("answer %d: upper_ball.z moved by %v, and the points by %+v", i+1, by, a.Points)
			}
		}
	}
	if len(doc.Columns) == 0 || doc.Columns[0].Name != "run" {
		t.Error("the columns are not described")
	}
	for _, says := range []string{"a short night", "run ", "camber", "stroke", Caution} {
		if !strings.Contains(ans.Text(), says) {
			t.Errorf("the first screen does not say %q", says)
		}
	}
}

// TestNothingFeasible: the answer is the least violating run and the limits that block it.
func TestNothingFeasible(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "night")
	f := read(t, strings.Replace(string(night(t).Text), "min: 215, max: 270", "max: 200", 1), text(t, "corncrake", "corncrake-front.yaml"))
	f.Stages[0].Runs, f.Stages[1].Runs = 100, 200
	res := run(t, f, RunOptions{Dir: dir})
	_, ans := rank(t, dir)
	least := math.Inf(1)
	for _, r := range rowsOf(t, dir) {
		if r.over < least {
			least = r.over
		}
	}
	if res.Feasible != 0 || ans.AnyFeasible || len(ans.Answers) == 0 || ans.Answers[0].Violation != least || ans.Answers[0].Status != "over_limit" {
		t.Errorf("%d feasible; least violation %v; answer %+v", res.Feasible, least, ans.Answers)
	}
	if want := []string{"stroke", "damper part length"}; !slices.Equal(ans.Blocking, want) {
		t.Errorf("blocked by %v, want %v", ans.Blocking, want)
	}
	if !strings.Contains(ans.Text(), "Nothing keeps every limit") || !strings.Contains(ans.Text(), "stroke") {
		t.Errorf("the first screen says %s", ans.Text())
	}
}

// TestDesignThatDoesNotAssemble is a row with its reason and place, and no reason not to search.
func TestDesignThatDoesNotAssemble(t *testing.T) {
	study := string(night(t).Text)
	study = strings.Replace(study, "from: 290, to: 380", "from: 286, to: 380", 1)
	mm := edited(t, text(t, "corncrake", "corncrake-front.yaml"), map[string]string{"pushrod_head": "-4, 288, 446"})
	dir := filepath.Join(t.TempDir(), "night")
	f := read(t, study, mm)
	f.Stages[1].Runs = 200
	run(t, f, RunOptions{Dir: dir})
	a, ans := rank(t, dir)
	if ans.Design != nil || len(ans.Answers) == 0 || !strings.Contains(ans.Text(), "The design does not go through every motion") {
		t.Errorf("design %+v, %d answers; %s", ans.Design, len(ans.Answers), ans.Text())
	}
	row, err := a.view.ReadRun(0)
	if err != nil {
		t.Fatal(err)
	}
	cell := func(name string) string { s, _ := row.TextAt(row.Index(name), 0); return s }
	travel, ok := row.FloatAt(row.Index("place_wheel_travel_mm"), 0)
	if cell("status") != "cannot_assemble" || cell("reason") != "pushrod and rocker line up" || cell("place_motion") != "heave" || cell("place_member") != "pushrod" || !ok || travel == 0 {
		t.Errorf("the design's row: %s, %q in %s at %v (%s)", cell("status"), cell("reason"), cell("place_motion"), travel, cell("place_member"))
	}
	if _, ok := row.FloatAt(row.Index("score"), 0); ok {
		t.Error("a run that does not assemble has a score")
	}
}

// TestColumnsOfRuns: names in the order of the design, lower case, with their units, and one value each
// where the run assembles.
func TestColumnsOfRuns(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "night")
	f := night(t)
	f.Stages = f.Stages[:1]
	run(t, f, RunOptions{Dir: dir})
	a := open(t, dir)
	want := []string{"run", "stage", "block", "parent", "iteration", "status", "reason",
		"place_motion", "place_wheel_travel_mm", "place_rack_travel_mm", "place_body_roll_deg", "place_member",
		"vary_upper_ball_z_mm", "vary_rack_mm", "vary_steering_arm_z_mm", "vary_pushrod_head_y_mm", "vary_damper_mount_mm",
		"got_design_camber_deg", "got_design_toe_deg", "got_design_damper_installation_ratio", "got_design_damper_length_mm",
		"got_camber_deg", "got_bump_steer_deg", "got_ratio", "got_stroke_mm", "got_damper_part_length_mm",
		"miss_camber", "miss_bump_steer", "miss_ratio", "met_camber", "met_bump_steer", "met_ratio",
		"over_stroke", "over_damper_part_length", "score", "violation"}
	var got []string
	plain := regexp.MustCompile(`^[a-z][a-z0-9_]*$`)
	for _, c := range a.view.Schema(record.TableRuns).Columns {
		got = append(got, c.Name)
		if !plain.MatchString(c.Name) || !strings.HasSuffix(c.Meaning, ".") {
			t.Errorf("column %s: %q", c.Name, c.Meaning)
		}
	}
	if !slices.Equal(got, want) {
		t.Errorf("columns\n%v, want\n%v", got, want)
	}
	row, err := a.view.ReadRun(0)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range want[12:] {
		c := row.Index(name)
		switch {
		case strings.HasPrefix(name, "met_"):
			_, ok := row.BoolAt(c, 0)
			if !ok {
				t.Errorf("the design has no %s", name)
			}
		default:
			if _, ok := row.FloatAt(c, 0); !ok {
				t.Errorf("the design has no %s", name)
			}
		}
	}
	if x, _ := row.FloatAt(row.Index("got_design_camber_deg"), 0); math.Abs(x+1.2) > 1e-9 {
		t.Errorf("camber at design is %v, and the file declares -1.2", x)
	}
	if n := optimize.RunNumber(1, 0, 0); rowsOf(t, dir)[1].run != n {
		t.Errorf("the first run of the first stage is not %d", n)
	}
}

// TestCollidingNamesAreRefused: two names that become one column.
func TestCollidingNamesAreRefused(t *testing.T) {
	for name, change := range map[string]func(f *files.Study){
		"a target and a limit of one measure": func(f *files.Study) { f.Limits[0].Name, f.Limits[0].Measure = "bump steer", "toe" },
		"a target called like a design value": func(f *files.Study) { f.Targets[0].Name = "design camber" },
	} {
		f, dir := night(t), filepath.Join(t.TempDir(), "night")
		change(f)
		_, err := Run(t.Context(), f, RunOptions{Dir: dir})
		wantUsage(t, name, err, "study.yaml", "would hold two things", "rename one of the two")
		if record.Exists(dir) {
			t.Errorf("%s: a folder was made", name)
		}
	}
}

// TestOpenArchiveRefuses: what is no study folder, and a study that was never run.
func TestOpenArchiveRefuses(t *testing.T) {
	_, err := OpenArchive(t.TempDir())
	wantUsage(t, "an empty folder", err, "is no study folder")
	study, err := WriteExample(t.TempDir(), "corncrake")
	if err != nil {
		t.Fatal(err)
	}
	_, err = OpenArchive(study)
	wantUsage(t, "a study that has not been run", err, "has not been run", "trammel run "+study)
}

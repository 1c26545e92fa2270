package studies

import (
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"trammel/objectives"
	"trammel/optimize"
	"trammel/studies/files"
	"trammel/studies/record"

	"gonum.org/v1/gonum/spatial/r3"
)

// damperSides is the whinchat's night, shorter: its choice puts the damper behind the drive shaft, where it stands in the upper
// rear link, or before it.
func damperSides(t testing.TB) *files.Study {
	t.Helper()
	f, err := ReadStudy("examples/whinchat-first-night.yaml")
	if err != nil {
		t.Fatal(err)
	}
	f.Stages[0].Runs, f.Stages[1].Locals = 256, 12
	return f
}

const (
	behind = iota
	before
)

// TestChoiceFlipsOutOfAClash: plans try a damper behind and before the shaft, and all behind clash; the search ends before it, the
// record has the choice and the gap of every run, and rank says the flip and that the gap is kept.
func TestChoiceFlipsOutOfAClash(t *testing.T) {
	f := damperSides(t)
	dir := filepath.Join(t.TempDir(), "night")
	run(t, f, RunOptions{Dir: dir})
	a := open(t, dir)

	// The plan spreads over both, and what the record says of each run is what solving it again gives.
	at := slices.IndexFunc(a.Study.Objective.Limits, func(l objectives.Limit) bool { return l.Name == "damper_room clearance" })
	var tried, clear [2]int
	gaps := map[int64]float64{}
	if err := a.scan(func(number int64, p *optimize.Point, o *optimize.Outcome) {
		tried[p.Choice[0]]++
		if got, ok := solvedGap(a.Study, p, at); ok {
			gaps[number] = got
			if got >= 5-1e-6 {
				clear[p.Choice[0]]++
			}
		}
	}); err != nil {
		t.Fatal(err)
	}
	if tried[behind] < 100 || tried[before] < 100 || clear[behind] != 0 || clear[before] < 50 {
		t.Errorf("behind and before the shaft %v were tried, %v keep their gap", tried, clear)
	}
	wrong, rows := 0, 0
	view, err := record.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	if err := view.Scan(record.TableRuns, []string{"run", "vary_damper", "got_damper_room_clearance_mm", "status"}, func(r *record.Rows) error {
		for i := range r.Len() {
			number, _ := r.IntAt(0, i)
			side, _ := r.TextAt(1, i)
			got, ok := r.FloatAt(2, i)
			status, _ := r.TextAt(3, i)
			if want, solved := gaps[number]; solved != ok || ok && math.Abs(got-want) > 1e-9 || side == "behind" && status == "ok" || side != "behind" && side != "before" {
				wrong++
			}
			rows++
		}
		return nil
	}); err != nil || wrong > 0 || rows < 256 {
		t.Errorf("%d of %d rows have another gap or another verdict than their run (%v)", wrong, rows, err)
	}

	ans, err := a.Rank()
	if err != nil {
		t.Fatal(err)
	}
	best := &ans.Answers[0]
	flipped := slices.ContainsFunc(best.Moved, func(m Moved) bool { return m.Name == "damper" && m.Kind == "before" })
	if best.Status != "ok" || !flipped || best.Hits == 0 || best.Score > 0.02*ans.Design.Score {
		t.Errorf("the best run is %s, with %d hits and a score of %g: %+v", best.Status, best.Hits, best.Score, best.Moved)
	}
	if kept := best.Limits[at]; kept.Broken || *kept.Got < 5 || !ans.Design.Limits[at].Broken {
		t.Errorf("the gap of the best run: %+v; of the design: %+v", kept, ans.Design.Limits[at])
	}
	if text := ans.Text(); !strings.Contains(text, "\n  damper: before\n") {
		t.Errorf("the answer does not say the flip:\n%s", text)
	}
	g, err := a.Geometry(best.Run)
	if err != nil {
		t.Fatal(err)
	}
	if foot := g.Points[g.Point("damper_foot")].N; foot != [3]int64{112_000, 636_000, 262_000} {
		t.Errorf("the written damper's foot stands at %v", foot)
	}
}

// solvedGap solves a candidate and returns what a limit takes of it.
func solvedGap(st *Study, p *optimize.Point, limit int) (float64, bool) {
	e := st.NewEvaluator()
	var o optimize.Outcome
	e.Evaluate(p, &o)
	if o.Status != optimize.OK && o.Status != optimize.OverLimit {
		return 0, false
	}
	return e.result.Limits[limit].Got, true
}

// TestRefineSeesTheClash: a local search that starts behind the shaft and may not flip ends at a clash, and the same search
// before it ends feasible: what makes the difference is the gap.
func TestRefineSeesTheClash(t *testing.T) {
	for side, want := range []bool{behind: false, before: true} {
		f := damperSides(t)
		v := &f.Vary[slices.IndexFunc(f.Vary, func(v files.Vary) bool { return v.Name == "damper" })]
		if v.Options[behind].Name != "behind" || v.Options[before].Name != "before" {
			t.Fatalf("options %+v", v.Options)
		}
		v.Options, v.DesignN = v.Options[side:side+1], 0
		best := refined(t, f).Answers[0]
		var broken []string
		for _, l := range best.Limits {
			if l.Broken {
				broken = append(broken, l.Name)
			}
		}
		if feasible := best.Status == "ok"; feasible != want || !want && !slices.Equal(broken, []string{"damper_room clearance"}) {
			t.Errorf("%s: the best run is %s and breaks %q", v.Options[0].Name, best.Status, broken)
		}
	}
}

// TestGapsOfBothSides: on either side the least gap at design is that between two capsules of the file, taken here by going to
// and fro between the nearest points of their axes, which converges because the distance is convex in both places.
func TestGapsOfBothSides(t *testing.T) {
	f := damperSides(t)
	g := f.Geometry
	v := f.Vary[slices.IndexFunc(f.Vary, func(v files.Vary) bool { return v.Name == "damper" })]
	for _, option := range v.Options {
		at := func(name string) r3.Vec {
			if n, moved := option.Points[name]; moved {
				return g.ToISO(n)
			}
			return g.ToISO(g.Points[g.Point(name)].N)
		}
		foot, top := at("damper_foot"), at("damper_top")
		end := r3.Add(foot, r3.Scale(290, r3.Unit(r3.Sub(top, foot)))) // of the body
		least := math.Inf(1)
		for name, radius := range map[string]float64{"upper_front": 11, "upper_rear": 11, "lower_front": 12.5, "lower_rear": 12.5, "toe": 11, "shaft": 16} {
			a, b := at(name+map[bool]string{true: "_inner", false: "_in"}[name == "shaft"]), at(name+map[bool]string{true: "_outer", false: "_out"}[name == "shaft"])
			least = min(least, apartSegments(foot, end, a, b)-27-radius, apartSegments(end, top, a, b)-11-radius)
		}
		var changes []Change
		for name, n := range option.Points {
			for i := range n {
				changes = append(changes, Change{Point: g.Point(name), Axis: i, N: n[i]})
			}
		}
		tb, err := Cycle(g, CycleOptions{Wheel: []float64{0}, Changes: changes, Measures: []string{"damper_room.clearance", "right.damper_room.clearance"}})
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range []string{"damper_room_clearance_mm", "right_damper_room_clearance_mm"} {
			if got := column(t, tb, name)[0]; math.Abs(got-least) > 1e-6 {
				t.Errorf("%s: %s is %.9g, by capsules %.9g", option.Name, name, got, least)
			}
		}
	}
}

// apartSegments returns the distance of the segments ab and cd.
func apartSegments(a, b, c, d r3.Vec) float64 {
	nearest := func(p, from, to r3.Vec) r3.Vec {
		u := r3.Sub(to, from)
		return r3.Add(from, r3.Scale(min(1, max(0, r3.Dot(r3.Sub(p, from), u)/r3.Dot(u, u))), u))
	}
	p := a
	q := c
	for range 10_000 {
		q = nearest(p, c, d)
		p = nearest(q, a, b)
	}
	return r3.Norm(r3.Sub(p, q))
}

// TestGapsAreToldAsTheyAre: what cycle says of a gap is the least of its table, and nothing is said of a gap that is kept. Both
// sides of a car that is drawn alike do the same.
func TestGapsAreToldAsTheyAre(t *testing.T) {
	g := damperSides(t).Geometry
	tb, err := Cycle(g, CycleOptions{Wheel: []float64{-80, -30, 20, 70}, Measures: []string{"damper_room.clearance", "wheel_room.clearance"}})
	if err != nil {
		t.Fatal(err)
	}
	least := slices.Min(column(t, tb, "damper_room_clearance_mm"))
	want := "damper_room.clearance goes down to " + inUnit(g, least) + " (at wheel_travel +70 mm, damper to upper_rear), and the least that the geometry allows is 5 mm"
	if kept := slices.Min(column(t, tb, "wheel_room_clearance_mm")); kept < 6 || !slices.Equal(tb.Notes, []string{want}) {
		t.Errorf("notes %q; want %q, and the wheel has %g mm", tb.Notes, want, kept)
	}
}

package studies

import (
	"fmt"
	"slices"

	"trammel/optimize"
	"trammel/studies/files"
	"trammel/studies/record"
)

// factFrom is the key in the manifest under which older stands.
const factFrom = "from"

// older is what a study took over from an older night: its best, as points of this study.
type older struct {
	Folder string           `json:"folder"`
	Runs   []int64          `json:"runs"` // their numbers there
	Points []optimize.Point `json:"points"`
}

// takeFrom finds the points of an older night that a study starts from: those that its folder was begun with,
// or the best of the folder that the options name.
func (st *Study) takeFrom(o *RunOptions) error {
	st.older = older{}
	var asked older
	if o.From != "" {
		var err error
		if asked, err = st.bestOf(o.From); err != nil {
			return err
		}
	}
	if !record.Exists(o.Dir) {
		st.older = asked
		return nil
	}
	v, err := record.Read(o.Dir)
	if err != nil {
		return nil // said when it is opened
	}
	if err := st.readFrom(v); err != nil {
		return err
	}
	if begun, err := wasBegun(v); err != nil {
		return err
	} else if !begun && st.older.Folder == "" {
		st.older = asked // its making was cut short; whether it began so, its identity says
		return nil
	}
	if had := st.older.Folder; o.From != "" && had != asked.Folder {
		what := "without an older night"
		if had != "" {
			what = "from " + had
		}
		return usagef("%s was begun %s, and its runs rest on that. Leave --from out to go on with it, or begin another folder: trammel run %s --from %s --out %s",
			o.Dir, what, st.File.Path, o.From, o.Dir+"-2")
	}
	return nil
}

// readFrom takes over what a folder was begun with.
func (st *Study) readFrom(v *record.View) error {
	st.older = older{}
	_, err := v.Fact(factFrom, &st.older)
	return err
}

// begin writes down in a new folder what was taken over from an older night, and at last what the study was read
// from. A folder without that was cut off while it was made: see wasBegun.
func (st *Study) begin(f *record.Folder) error {
	if len(st.older.Points) > 0 {
		if err := f.SetFact(factFrom, st.older); err != nil {
			return err
		}
	}
	return f.SetFact(factInputs, st.inputs())
}

// wasBegun tells whether a folder has all that is written down when it is made.
func wasBegun(v *record.View) (bool, error) {
	var in inputs
	return v.Fact(factInputs, &in)
}

// bestOf reads the best runs of an older night, at most studyLeaders, as points of this study. What the two
// do not share stays at design; a number beyond its range stands at the end of it.
func (st *Study) bestOf(path string) (older, error) {
	a, err := OpenArchive(path)
	if err != nil {
		return older{}, fmt.Errorf("--from: %w", err)
	}
	was, now := a.Study.File.Geometry, st.File.Geometry
	if was.Units != now.Units || was.Direction('x') != now.Direction('x') || was.Direction('y') != now.Direction('y') || was.Side != now.Side {
		return older{}, usagef("--from %s: its geometry is drawn in other units or axes, or on the other side, than %s, so that its numbers mean something else here; name a night of the same units, axes and side", path, now.Path)
	}
	best, err := bestRuns(a.view, a.Study, studyLeaders)
	if err != nil {
		return older{}, err
	}
	if len(best) == 0 {
		return older{}, usagef("--from %s: no run there goes through every motion, so there is nothing to start from; run that study on, or leave --from out", path)
	}
	out := older{Folder: a.Dir()}
	seen := map[string]bool{}
	for i := range best {
		p := st.translated(a, &optimize.Point{X: best[i].X, Choice: best[i].Choice})
		if key := fmt.Sprint(p.X, p.Choice); !seen[key] {
			seen[key] = true
			out.Points, out.Runs = append(out.Points, p), append(out.Runs, best[i].Run)
		}
	}
	return out, nil
}

// translated says a point of an older night in the numbers of this study: coordinates as they stood there,
// slides, turns and choices by their name. What a choice moves as well counts from where its option places it.
func (st *Study) translated(a *Archive, was *optimize.Point) optimize.Point {
	old := a.Study
	g := old.geometry(was, a.e)
	p := st.Space.Design()
	for i := range st.Space.Choices {
		c := &st.Space.Choices[i]
		for k := range old.Space.Choices {
			if o := &old.Space.Choices[k]; o.Name == c.Name {
				if n := slices.Index(c.Options, o.Options[was.Choice[k]]); n >= 0 {
					p.Choice[i] = n
				}
			}
		}
	}
	placed := make([][3]int64, len(st.base))
	st.chosen(placed, p.Choice)
	for i := range st.moves {
		m, d := &st.moves[i], &st.Space.Dims[i]
		q := d.Design
		if m.kind == files.VaryCoordinate || m.kind == files.VaryMove {
			k := m.points[0]
			if at := g.Point(st.File.Geometry.Points[k].Name); at >= 0 {
				q += g.Points[at].N[m.axis] - placed[k][m.axis]
			}
		} else {
			for k := range old.Space.Dims {
				if o := &old.Space.Dims[k]; o.Name == d.Name && o.PerUnit == d.PerUnit && old.moves[k].kind == m.kind {
					q = old.Space.Quanta(k, was.X[k])
				}
			}
		}
		p.X[i] = st.Space.Value(i, q)
	}
	st.Space.Snap(p.X, p.X)
	return p
}

package studies

import (
	"fmt"
	"math"
	"os"
	"strings"

	"trammel/optimize"
	"trammel/studies/files"
	"trammel/studies/record"
)

// Archive is a study folder opened for reading: its runs and the study they belong to, as frozen there.
type Archive struct {
	Study *Study
	view  *record.View
	e     *Evaluator
	re    *rescoring // nil: the runs are scored as they were
	first *leader    // of the answers; nil until it is asked for
}

// OpenArchive opens a study folder, or the folder that belongs to a study file.
func OpenArchive(path string) (*Archive, error) {
	dir := path
	if info, err := os.Stat(path); err == nil && !info.IsDir() {
		dir = DefaultDir(path)
		if !record.Exists(dir) && record.Orphans(dir) == 0 {
			return nil, usagef("%s has not been run: its folder %s is not there. Type: trammel run %s", path, dir, path)
		}
	}
	if !record.Exists(dir) && record.Orphans(dir) == 0 {
		return nil, usagef("%s is no study folder; name the folder that trammel run made, or the study file", dir)
	}
	view, err := record.Read(dir)
	if err != nil {
		return nil, err
	}
	if dir != path {
		if err := ofThisStudy(path, view); err != nil {
			return nil, err
		}
	}
	return newArchive(view)
}

// ofThisStudy refuses a folder whose runs are of the study file as it was before.
func ofThisStudy(path string, view *record.View) error {
	f, err := ReadStudy(path)
	if err != nil {
		return err
	}
	st, err := Bind(f)
	if err != nil {
		return err
	}
	old, err := view.Identity()
	if err != nil {
		return err
	}
	if err := st.readFrom(view); err != nil {
		return err
	}
	if d := record.CheckIdentity(old, st.identity()); len(d) > 0 {
		return usagef("%s has changed since %s was run: %s. Name the folder itself to read the runs of the study as it was (a copy of it stands there), or the folder that the changed study was run into", path, view.Dir(), changes(d))
	}
	return nil
}

func newArchive(view *record.View) (*Archive, error) {
	var in inputs
	if found, err := view.Fact(factInputs, &in); err != nil {
		return nil, err
	} else if !found {
		return nil, usagef("%s was made and never run; type: trammel run, with its study file", view.Dir())
	}
	f, err := readFrozen(in, view.Frozen)
	if err != nil {
		return nil, err
	}
	st, err := Bind(f)
	if err != nil {
		return nil, err
	}
	if err := st.readFrom(view); err != nil {
		return nil, err
	}
	return &Archive{Study: st, view: view, e: st.NewEvaluator()}, nil
}

// Dir returns the folder.
func (a *Archive) Dir() string { return a.view.Dir() }

// bestRuns returns the n best runs of the record.
func bestRuns(v *record.View, st *Study, n int) (leaders, error) {
	var best leaders
	err := scanRuns(v, st, nil, func(run int64, p *optimize.Point, o *optimize.Outcome, _ []float64) {
		if !o.Status.Failed() {
			best.offer(n, run, p, o)
		}
	})
	return best, err
}

// scanRuns visits every run of the record, in order: where it lies, what became of it, and the values of
// more columns, NaN where there is none. What it hands over is used again.
func scanRuns(v *record.View, st *Study, more []string, visit func(run int64, p *optimize.Point, o *optimize.Outcome, values []float64)) error {
	layout, err := st.runLayout()
	if err != nil {
		return err
	}
	s := v.Schema(record.TableRuns)
	columns := []string{"run", "status", "score", "violation"}
	n := st.Space.Size()
	for _, c := range layout.schema.Columns[layout.vary : layout.vary+n] {
		columns = append(columns, c.Name)
	}
	columns = append(columns, more...)
	values := make([]float64, len(more))
	for _, c := range columns {
		if s.Index(c) < 0 {
			return fmt.Errorf("%s: its runs have no column %s, which the study asks for; the folder was made for another study", v.Dir(), c)
		}
	}
	statuses := map[string]optimize.Status{}
	for _, k := range optimize.Statuses() {
		statuses[k.String()] = k
	}
	p := &optimize.Point{X: make([]float64, len(st.Space.Dims)), Choice: make([]int, len(st.Space.Choices))}
	return v.Scan(record.TableRuns, columns, func(r *record.Rows) error {
		for row := range r.Len() {
			run, _ := r.IntAt(0, row)
			word, _ := r.TextAt(1, row)
			o := optimize.Outcome{Status: statuses[word], Score: math.NaN(), Violation: math.NaN()}
			if x, ok := r.FloatAt(2, row); ok {
				o.Score = x
			}
			if x, ok := r.FloatAt(3, row); ok {
				o.Violation = x
			}
			st.pointAt(p, r, row, 4)
			for i := range values {
				x, ok := r.FloatAt(4+n+i, row)
				if values[i] = x; !ok {
					values[i] = math.NaN()
				}
			}
			visit(run, p, &o, values)
		}
		return nil
	})
}

// pointAt reads the varied numbers and choices of a row, whose columns begin at first.
func (st *Study) pointAt(p *optimize.Point, r *record.Rows, row, first int) {
	for i := range p.X {
		p.X[i], _ = r.FloatAt(first+i, row)
	}
	for i := range p.Choice {
		word, _ := r.TextAt(first+len(p.X)+i, row)
		for k, name := range st.Space.Choices[i].Options {
			if name == word {
				p.Choice[i] = k
			}
		}
	}
}

// point returns where a run lies; a negative run is the best one, as Rank has it.
func (a *Archive) point(run int64) (int64, *optimize.Point, error) {
	if run < 0 {
		if a.first == nil {
			best, err := a.answers(&Answer{})
			if err != nil {
				return 0, nil, err
			}
			if len(best) == 0 {
				return 0, nil, fmt.Errorf("%s holds no run that assembles; look at trammel rank %s", a.Dir(), a.Dir())
			}
			a.first = &best[0].leader
		}
		return a.first.Run, &optimize.Point{X: a.first.X, Choice: a.first.Choice}, nil
	}
	layout, err := a.Study.runLayout()
	if err != nil {
		return 0, nil, err
	}
	row, err := a.view.ReadRun(run)
	if err != nil {
		return 0, nil, usageError{err}
	}
	p := a.Study.Space.Design()
	a.Study.pointAt(&p, row, 0, layout.vary)
	return run, &p, nil
}

// Curves solves runs again and returns their curves through every motion of the study, to the same
// digits as when they were run. A negative run is the best one.
func (a *Archive) Curves(runs []int64) (*Table, error) {
	layout := a.Study.curveLayout()
	t := &Table{Schema: layout.schema, Rows: record.NewRows(&layout.schema), Lengths: a.Study.File.Geometry.Units}
	for _, run := range runs {
		n, p, err := a.point(run)
		if err != nil {
			return nil, err
		}
		before := t.Rows.Len()
		layout.fillCurves(t.Rows, n, p, a.e)
		if t.Rows.Len() == before {
			return nil, fmt.Errorf("run %d goes through none of the motions: %s", n, a.Study.Program.Describe(a.e.failure))
		}
	}
	return t, t.Rows.Err()
}

// Geometry returns the geometry of a run, its points rounded to the file's lattice where they slid along
// a line or turned. A negative run is the best one.
func (a *Archive) Geometry(run int64) (*files.Geometry, error) {
	n, p, err := a.point(run)
	if err != nil {
		return nil, err
	}
	g := a.Study.geometry(p, a.e)
	g.Name = fmt.Sprintf("%s, run %d", g.Name, n)
	return g, nil
}

// geometry returns the geometry of a candidate on the file's lattice.
func (st *Study) geometry(p *optimize.Point, e *Evaluator) *files.Geometry {
	g := st.File.Geometry
	e.place(p)
	n := make([][3]int64, len(e.points))
	for i, at := range e.points {
		n[i] = e.n[i]
		if g.ToISO(n[i]) == at {
			continue
		}
		for k, v := range g.FromISO(at) {
			n[i][k] = int64(math.Round(v * float64(g.Units.PerUnit())))
		}
	}
	return g.WithPoints(n)
}

// standing says in a sentence whether a run keeps every limit.
func (a *Archive) standing(n int64, p *optimize.Point) string {
	v, ok := a.verdict(n, p)
	if !ok {
		return fmt.Sprintf("Run %d does not go through every motion: %s.", n, a.Study.Program.Describe(a.e.failure))
	}
	var broken []string
	for _, l := range v.Limits {
		if l.Broken {
			broken = append(broken, fmt.Sprintf("%s (%s allowed, got %s)", l.Name, l.Asked, at(l.Says, l.Place)))
		}
	}
	if len(broken) > 0 {
		return fmt.Sprintf("Run %d breaks a limit: %s.", n, strings.Join(broken, "; "))
	}
	return fmt.Sprintf("Run %d keeps every limit.", n)
}

package studies

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"trammel/studies/files"
	"trammel/studies/record"
)

// GatherOptions says how folders are joined.
type GatherOptions struct {
	Dir    string         // folder to join them in; named after the shards when empty
	Record record.Options // zero: record.DefaultOptions
}

// GatherResult is what joining came to.
type GatherResult struct {
	Dir      string
	Taken    record.Gathered
	Runs     int64 // in the folder now
	Feasible int64
	Sentence string
	Notes    []string
}

// Gather joins the study folders of shards, or of anybody who ran parts of the same study with the same
// build, into one: the rows of a run in one piece. Blocks that several have must be equal to the last
// bit. Folders may be joined in any order and more than once; the folder joined in may be one that was
// begun before.
func Gather(ctx context.Context, dirs []string, o GatherOptions) (*GatherResult, error) {
	if o.Record.Now == nil {
		o.Record = record.DefaultOptions()
	}
	o.Record.PartAge = math.MaxInt64 // small parts become large ones
	g := &gatherer{}
	if err := g.read(dirs); err != nil {
		return nil, err
	}
	if o.Dir == "" {
		var err error
		if o.Dir, err = joint(dirs); err != nil {
			return nil, err
		}
	}
	folder, err := g.open(&o)
	if err != nil {
		return nil, err
	}
	defer folder.Close()
	taken, err := g.fill(ctx, folder)
	if err != nil {
		return nil, err
	}
	if err := folder.Close(); err != nil {
		return nil, err
	}
	t := folder.Totals()
	res := &GatherResult{Dir: o.Dir, Taken: taken, Runs: t.Evaluated, Feasible: t.Feasible, Notes: folder.Notes()}
	res.Sentence, err = g.sentence(folder, &taken)
	return res, err
}

// gatherer is joining at work.
type gatherer struct {
	views []*record.View
	id    record.Identity // the longest of theirs
	best  leaders
	at    *reached
	st    *Study
}

// read opens the folders and compares what they belong to.
func (g *gatherer) read(dirs []string) error {
	if len(dirs) == 0 {
		return usagef("no folder is named; name those of all shards")
	}
	var of *record.View // whose study has the most stages
	for _, dir := range dirs {
		if !record.Exists(dir) && record.Orphans(dir) == 0 {
			return usagef("%s is no study folder; name the folders that trammel run --shard made", dir)
		}
		v, err := record.Read(dir)
		if err != nil {
			return err
		}
		id, err := v.Identity()
		if err != nil {
			return err
		}
		if was := v.Header().Build; was != Build() {
			return usagef("%s was made by another build of trammel (%s; this one is %s), whose rows may differ in the last digit. Gather with that build", dir, was, Build())
		}
		if len(id) > len(g.id) {
			g.id, id, of = id, g.id, v
		}
		if d := record.CheckIdentity(id, g.id); len(d) > 0 {
			return usagef("%s holds runs of another study than %s: %s", dir, dirs[0], changes(d))
		}
		h, err := readHistory(v)
		if err != nil {
			return err
		}
		g.best = append(g.best, h.leaders...)
		if h.at != nil && (g.at == nil || h.at.Stage > g.at.Stage || h.at.Stage == g.at.Stage && h.at.Round > g.at.Round) {
			g.at = h.at
		}
		g.views = append(g.views, v)
	}
	slices.SortFunc(g.best, func(a, b leader) int { return cmp.Compare(a.Run, b.Run) })
	g.best = slices.CompactFunc(g.best, func(a, b leader) bool { return a.Run == b.Run }).ofEachStage()
	a, err := newArchive(of)
	if err != nil {
		return err
	}
	g.st = a.Study
	return nil
}

var shardName = regexp.MustCompile(`-shard-\d+-of-\d+$`)

// joint returns the folder that shards belong to by their names.
func joint(dirs []string) (string, error) {
	whole := ""
	for _, dir := range dirs {
		base := shardName.ReplaceAllString(strings.TrimRight(dir, `/\`), "")
		if base == dir || whole != "" && base != whole {
			return "", usagef("the names of the folders do not say what they are parts of; add --out with the folder to join them in")
		}
		whole = base
	}
	return whole, nil
}

// open makes the folder, or opens the one that is there if it is of the same study.
func (g *gatherer) open(o *GatherOptions) (*record.Folder, error) {
	if slices.ContainsFunc(g.views, func(v *record.View) bool { return filepath.Clean(v.Dir()) == filepath.Clean(o.Dir) }) {
		return nil, usagef("%s is to be joined and to be joined in; choose another --out", o.Dir)
	}
	if !record.Exists(o.Dir) {
		first := g.views[0]
		schemas := []record.Schema{*first.Schema(record.TableRuns), *first.Schema(record.TableCurves)}
		folder, err := record.Create(o.Dir, record.Header{Study: g.st.File.Name, Build: Build(), Identity: g.id}, g.st.frozen(), o.Record, schemas...)
		if err != nil {
			return nil, err
		}
		if err := g.st.begin(folder); err != nil {
			folder.Close()
			return nil, err
		}
		return folder, nil
	}
	folder, err := record.Open(o.Dir, Build(), o.Record)
	if err != nil {
		return nil, err
	}
	old, err := folder.Identity()
	switch {
	case err != nil:
	case folder.Header().Build != Build():
		err = usagef("%s was made by another build of trammel; choose another --out", o.Dir)
	case len(old) <= len(g.id):
		if d := record.CheckIdentity(old, g.id); len(d) > 0 {
			err = usagef("%s holds runs of another study: %s. Choose another --out", o.Dir, changes(d))
		} else if len(old) < len(g.id) {
			err = folder.SetIdentity(g.id)
		}
	default:
		if d := record.CheckIdentity(g.id, old); len(d) > 0 {
			err = usagef("%s holds runs of another study: %s. Choose another --out", o.Dir, changes(d))
		}
	}
	if begun, berr := wasBegun(&folder.View); err == nil && (berr != nil || !begun) {
		err = g.st.begin(folder)
	}
	if err != nil {
		folder.Close()
		return nil, err
	}
	return folder, nil
}

// fill takes the blocks in, and then makes what belongs to the whole: which stages are finished, and the
// curves of the best.
func (g *gatherer) fill(ctx context.Context, folder *record.Folder) (record.Gathered, error) {
	// What is told with blocks is told of all of them: an entry that is lost takes none of it away.
	folder.Summarise(func() any { return entry{Best: g.best, At: g.at} })
	taken, err := folder.Gather(g.views, func() error { return context.Cause(ctx) })
	if err != nil {
		return taken, err
	}
	for i := range g.st.File.Stages {
		var here, there reached
		if found, err := folder.Fact(stageOver(i+1), &here); err != nil || found {
			if err != nil {
				return taken, err
			}
			continue
		}
		for _, v := range g.views {
			if found, err := v.Fact(stageOver(i+1), &there); err != nil {
				return taken, err
			} else if found {
				if err := folder.SetFact(stageOver(i+1), there); err != nil {
					return taken, err
				}
				break
			}
		}
	}
	if g.st.File.Curves.Keep != files.KeepBest {
		return taken, nil
	}
	_, curves, err := g.st.layouts()
	if err != nil {
		return taken, err
	}
	r := &runner{st: g.st, folder: folder, curves: curves, e: g.st.NewEvaluator()}
	for i := range g.best {
		r.best.merge(studyLeaders, g.best[i:i+1])
	}
	return taken, r.keepCurves()
}

// sentence says what was joined and what is missing.
func (g *gatherer) sentence(folder *record.Folder, taken *record.Gathered) (string, error) {
	t := folder.Totals()
	text := fmt.Sprintf("%s joined in %s: %d runs, %d of them keep every limit", count(len(g.views), "folder"), folder.Dir(), t.Evaluated, t.Feasible)
	if taken.Equal > 0 {
		text += fmt.Sprintf("; %s that several had are equal", count(int(taken.Equal), "block"))
	}
	text += "."
	missing, open, err := g.missing(folder)
	if err != nil {
		return "", err
	}
	again := fmt.Sprintf("trammel run %s", g.st.File.Path)
	if DefaultDir(g.st.File.Path) != folder.Dir() {
		again += " --out " + folder.Dir()
	}
	switch {
	case missing > 0:
		text += fmt.Sprintf(" %s of its plans %s missing: gather the other shards as well, or make them here: %s", count(missing, "block"), isAre(missing), again)
	case open:
		text += fmt.Sprintf(" To go on with the stages that are left: %s", again)
	default:
		text += fmt.Sprintf(" The answer: trammel rank %s", folder.Dir())
	}
	return text, nil
}

// missing counts the blocks of plans that are not there, and says whether a later stage is not finished.
func (g *gatherer) missing(folder *record.Folder) (blocks int, open bool, err error) {
	for i := range len(g.st.File.Stages) + 1 {
		stage, err := g.st.newStage(i, nil)
		if err != nil {
			return 0, false, err
		}
		if !isPlan(stage) {
			_, found, err := overAt(&folder.View, i)
			if err != nil {
				return 0, false, err
			}
			open = open || !found
			continue
		}
		for b := range stage.Blocks(0) {
			if !folder.Done(i, b) {
				blocks++
			}
		}
	}
	return blocks, open, nil
}

func isAre(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

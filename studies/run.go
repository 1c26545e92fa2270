package studies

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"strings"
	"time"

	"trammel/optimize"
	"trammel/studies/files"
	"trammel/studies/record"
)

// RunOptions says how a study is run.
type RunOptions struct {
	Dir      string         // the study folder; DefaultDir of the study file when empty
	Workers  int            // 0: one for each processor
	Until    time.Time      // when to stop; zero: no such time
	From     string         // the folder of an older night, whose best are run first; "": none
	Shard    Shard          // which part of the study's blocks to make; zero: all
	Repair   bool           // take out of the folder what is damaged, and make those runs again
	Progress func(Progress) // called about once a second, and at the end; may be nil
	Announce func(string)   // told once, at the beginning, what the run will come to; may be nil
	Record   record.Options // zero: record.DefaultOptions
}

// Progress is how far a run has come.
type Progress struct {
	Runs, Expected int64 // Expected is 0 when nobody can say
	AtMost         bool  // Expected is a bound
	PerSecond      float64
	Feasible       float64       // share of the runs that keep every limit
	Best           float64       // least score of those; NaN when there is none
	Left           time.Duration // 0 when it cannot be said
	Stage          string
	Answers        int // distinct ones that the stage's local searches have come to
}

// Ending says why a run ended.
type Ending uint8

// The endings.
const (
	Finished Ending = iota
	BudgetSpent
	Interrupted
	ShardDone // what is left needs the other shards
)

// RunResult is what a run came to.
type RunResult struct {
	Dir       string
	Ended     Ending
	Runs      int64 // in the folder
	Made      int64 // by this run
	Feasible  int64
	Elapsed   time.Duration // of this run
	IdleShare float64
	Sentence  string // how it ended and what goes on
	Notes     []string
}

// errBudget ends a run whose budget is spent, and errUntil one that has come to its time of day.
var (
	errBudget = errors.New("the budget is spent")
	errUntil  = fmt.Errorf("the time to stop has come: %w", errBudget)
)

// DefaultDir returns the study folder that belongs to a study file: beside it, with -runs for .yaml.
func DefaultDir(path string) string {
	return strings.TrimSuffix(strings.TrimSuffix(path, ".yaml"), ".yml") + "-runs"
}

// IsUsage tells whether an error is a mistake in files or words, and not of the machine.
func IsUsage(err error) bool {
	var u usageError
	var p files.Problems
	return errors.As(err, &u) || errors.As(err, &p)
}

// Run solves the runs of a study, or goes on with them. When ctx ends it stops between two candidates,
// keeps what is finished and says so by Interrupted; the error is nil then.
func Run(ctx context.Context, f *files.Study, o RunOptions) (*RunResult, error) {
	st, err := Bind(f)
	if err != nil {
		return nil, err
	}
	r, err := st.newRunner(o)
	if err != nil {
		return nil, err
	}
	defer r.folder.Close()
	ending, err := r.stages(ctx)
	if err != nil {
		return nil, err
	}
	r.tell(true)
	if err := r.keepFound(); err != nil {
		return nil, err
	}
	if f.Curves.Keep == files.KeepBest && (ending != Interrupted || r.folder.Bytes() < quickBytes) {
		if err := r.keepCurves(); err != nil {
			return nil, err
		}
	}
	if err := r.folder.Close(); err != nil {
		return nil, err
	}
	return r.result(ending), nil
}

// quickBytes is how large a record may be for an interrupted run to look through it for the best: whoever
// stops a run wants it to stop. A larger one gets its curves when it ends by itself.
const quickBytes = 256 << 20

// runner is one run at work. Only the pool's workers run beside its goroutine.
type runner struct {
	st       *Study
	options  RunOptions
	folder   *record.Folder
	columns  *runColumns
	curves   *curveColumns
	workers  []*worker
	e        *Evaluator  // of the runner's own goroutine
	batches  chan *batch // free
	best     leaders     // of all blocks so far, in their order
	past     history     // of the blocks that were finished before
	fresh    leaders     // of blocks that the manifest does not name yet, of the stage under way
	settled  leaders     // the same of stages before
	met      *reached    // the round of the stage that met last
	had      int64       // runs that were in the folder
	spent    int64       // runs of all blocks so far
	began    time.Time
	told     time.Time
	made     int64
	feasible int64
	expected int64
	atMost   bool // expected is a bound
	stats    optimize.PoolStats
	stage    int
	repaired []string
	until    bool             // the time of day ended it
	refine   *optimize.Refine // of this session, as it met last; nil when there was none
}

// changes says all differences between two studies.
func changes(d []record.Difference) string {
	var what []string
	for _, x := range d {
		what = append(what, changed(x))
	}
	return strings.Join(what, "; ")
}

// changed says a difference between two studies as the part of a sentence. What all stages rest on stands
// with the design, which is stage 0 of the record.
func changed(d record.Difference) string {
	switch {
	case d.Name == sumOlder:
		return "what it begins with from an older night (--from) is not the same"
	case d.Stage == 0 && d.Name != "" && d.Was != "" && d.Is != "":
		return fmt.Sprintf("its %s %s changed", d.Name, hasHave(d.Name))
	case d.Name != "" && d.Was != "" && d.Is != "":
		return fmt.Sprintf("stage %d (%s) has changed", d.Stage, d.Title)
	case d.Name == "" && d.Is == "":
		return fmt.Sprintf("stage %d (%s) is gone", d.Stage, d.Title)
	case d.Name == "":
		return fmt.Sprintf("stage %d was %s and is %s", d.Stage, d.Was, d.Is)
	}
	return d.String()
}

func hasHave(name string) string {
	if strings.HasSuffix(name, "s") {
		return "have"
	}
	return "has"
}

// worker is what one goroutine of the pool works in.
type worker struct {
	e       *Evaluator
	scratch optimize.BlockScratch
}

// batch is what a block brings back.
type batch struct {
	rows, curves *record.Rows
	counts       record.Counts
	best         leaders
	ranks        []optimize.Outcome // of each row, for `improving`
	search       []byte
	status       [8]int64
}

func (st *Study) newRunner(o RunOptions) (*runner, error) {
	if o.Dir == "" {
		o.Dir = o.Shard.dirOf(DefaultDir(st.File.Path))
	}
	if o.Workers <= 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	if o.Record.Now == nil {
		o.Record = record.DefaultOptions()
	}
	if limit := st.File.Budget.Disk; limit > 0 {
		o.Record.PartBytes = min(o.Record.PartBytes, max(limit/16, 1<<16)) // so that the budget is not passed by much
	}
	columns, curves, err := st.layouts()
	if err != nil {
		return nil, err
	}
	if o.Shard.Of > 1 && st.File.Record.Rows == files.ImprovingRows {
		return nil, usagef("%s: `record: {rows: improving}` writes the rows that are better than all before, which a shard cannot know; write all or every 100, or run the study in one piece", st.File.Path)
	}
	if err := st.takeFrom(&o); err != nil {
		return nil, err
	}
	st.onward = st.onward || !o.Until.IsZero()
	if err := st.announce(&o, columns); err != nil {
		return nil, err
	}
	r := &runner{st: st, options: o, columns: columns, curves: curves, began: time.Now()}
	e, err := st.expectedRuns()
	if err != nil {
		return nil, err
	}
	r.expected, r.atMost = e.runs, e.atMost
	if o.Shard.Of > 1 {
		r.expected = r.expected/int64(o.Shard.Of) + 1 // about
	}
	if err := r.open(); err != nil {
		if r.folder != nil {
			r.folder.Close()
		}
		return nil, err
	}
	r.had = r.folder.Totals().Evaluated
	if r.past, err = readHistory(&r.folder.View); err != nil {
		r.folder.Close()
		return nil, err
	}
	r.folder.Summarise(r.summary)
	window := 4 * o.Workers
	r.batches = make(chan *batch, window+o.Workers)
	for range window + o.Workers {
		b := &batch{rows: record.NewRows(&columns.schema)}
		if st.File.Curves.Keep == files.KeepAll {
			b.curves = record.NewRows(&r.curves.schema)
		}
		r.batches <- b
	}
	r.e = st.NewEvaluator()
	for range o.Workers {
		r.workers = append(r.workers, &worker{e: st.NewEvaluator()})
	}
	return r, nil
}

// open makes the study folder, or opens the one that is there if it belongs to this study and build.
func (r *runner) open() error {
	st, dir := r.st, r.options.Dir
	id := st.identity()
	build := Build()
	if !record.Exists(dir) {
		for _, s := range []*record.Schema{&r.columns.schema, &r.curves.schema} {
			s.Meta = st.meta()
		}
		folder, err := record.Create(dir, record.Header{Study: st.File.Name, Build: build, Identity: id}, st.frozen(), r.options.Record, r.columns.schema, r.curves.schema)
		if err != nil {
			return err
		}
		r.folder = folder
		return st.begin(folder)
	}
	if r.options.Repair {
		done, err := record.Repair(dir, build, r.options.Record)
		if err != nil {
			return err
		}
		r.repaired = done
	}
	folder, err := record.Open(dir, build, r.options.Record)
	if err != nil {
		return err
	}
	r.folder = folder
	if err := st.belongs(dir, &folder.View); err != nil {
		folder.Close()
		return err
	}
	old, err := folder.Identity()
	if err != nil {
		folder.Close()
		return err
	}
	notes, err := st.keepFrozen(folder, r.options.Repair)
	if err != nil {
		folder.Close()
		return err
	}
	r.repaired = append(r.repaired, notes...)
	if begun, err := wasBegun(&folder.View); err != nil || !begun {
		if err := st.begin(folder); err != nil {
			folder.Close()
			return err
		}
	}
	if len(id) > len(old) {
		if err := folder.SetIdentity(id); err != nil {
			folder.Close()
			return err
		}
	}
	return nil
}

// belongs says why a study cannot go on in a folder: it was changed, or another build made the runs.
func (st *Study) belongs(dir string, v *record.View) error {
	old, err := v.Identity()
	if err != nil {
		return err
	}
	if d := record.CheckIdentity(old, st.identity()); len(d) > 0 {
		return usagef("%s holds runs of this study as it was before: %s. Put the study back as it was to go on (a copy of it stands in that folder), or run it into another folder: trammel run %s --out %s",
			dir, changes(d), st.File.Path, dir+"-2")
	}
	if was, build := v.Header().Build, Build(); was != build {
		return usagef("%s was made by another build of trammel (%s; this one is %s), whose rows may differ in the last digit. Go on with that build, or run into another folder: trammel run %s --out %s",
			dir, was, build, st.File.Path, dir+"-2")
	}
	return nil
}

// beat calls tick every second.
func beat(ctx context.Context, tick func()) {
	t := time.NewTicker(time.Second)
	defer t.Stop()
	for {
		select {
		case <-t.C:
			tick()
		case <-ctx.Done():
			return
		}
	}
}

// tick does what is due when no block has come for a while.
func (r *runner) tick() error {
	if err := r.folder.Tick(); err != nil {
		return err
	}
	r.tell(false)
	return r.pause()
}

// meta is what every part of a study says of itself.
func (st *Study) meta() map[string]string {
	return map[string]string{
		"study": st.File.Name, "study_text": string(st.File.Text), "geometry_text": string(st.File.Geometry.Text),
		"seed": fmt.Sprint(st.File.Seed), "build": Build(), "units": st.File.Geometry.Units.String(),
		"caution": Caution,
	}
}

// Caution stands on everything that someone could build from.
const Caution = "Kinematics of ideal joints, no proof of strength. Parts that carry people need a qualified engineer's check, and local rules (road approval, sport regulations) come first."

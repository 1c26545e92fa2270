package studies

import (
	"fmt"
	"math"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"trammel/optimize"
	"trammel/studies/files"
	"trammel/studies/record"
)

// expectation is how many runs a study makes.
type expectation struct {
	runs    int64 // 0 when it is not known
	limited bool  // by the budget of runs
	atMost  bool  // searches may end before they have made so many
}

// forecast is what a study will come to.
type forecast struct {
	expectation
	workers   int
	rate      float64 // runs a second of one core
	runBytes  float64 // of a row of runs
	curves    float64 // of the curves of a run
	keeps     float64 // share of the runs whose rows are written, at most
	keepsSure bool    // it is that share, and not a bound
}

// expectedRuns returns how many runs the study makes, as far as can be said.
func (st *Study) expectedRuns() (e expectation, err error) {
	e.runs = int64(1 + len(st.older.Points)) // with the design
	budget := st.File.Budget.Runs
	for i := range st.File.Stages {
		if st.File.Stages[i].Onward && st.onward {
			return expectation{budget, budget > 0, false}, nil
		}
		stage, err := st.newStage(i+1, nil)
		if err != nil {
			return expectation{}, err
		}
		if n := stage.Runs(); n > 0 {
			e.runs += n
			continue
		}
		e.atMost = true
		for round := 0; stage.Blocks(round) > 0 && !st.enough(i+1, round); round++ {
			for b := range stage.Blocks(round) {
				e.runs += int64(stage.Budget(round, b))
			}
		}
	}
	if budget > 0 && budget <= e.runs {
		e.runs, e.limited = budget, true
	}
	return e, nil
}

// trialTime is how long a trial takes, ten times that where candidates are slow; trialRuns how many
// candidates it has at most, and trialRows how many rows say what a row takes.
const (
	trialTime = 200 * time.Millisecond
	trialRuns = 8192
	trialRows = 2048
)

// forecast tries candidates spread over the box, for a fifth of a second on one core, and lays out their
// rows as the record would.
func (st *Study) forecast(workers int) (*forecast, error) {
	f := &forecast{workers: workers, keeps: 1, keepsSure: true}
	if f.workers <= 0 {
		f.workers = runtime.GOMAXPROCS(0)
	}
	var err error
	if f.expectation, err = st.expectedRuns(); err != nil {
		return nil, err
	}
	switch r := st.File.Record; r.Rows {
	case files.EveryRows:
		f.keeps = 1 / float64(r.Every)
	case files.NoRows:
		f.keeps = 0
	case files.ImprovingRows:
		f.keeps, f.keepsSure = 0.01, false
	}
	return f, st.trial(f)
}

func (st *Study) trial(f *forecast) error {
	plan, err := optimize.NewPlan(&st.Space, optimize.DefaultPlan())
	if err != nil {
		return err
	}
	columns, curves, err := st.layouts()
	if err != nil {
		return err
	}
	e := st.NewEvaluator()
	rows := record.NewRows(&columns.schema)
	var o optimize.Outcome
	p := st.Space.Design()
	n := int64(0)
	began := time.Now()
	for ; n < trialRuns; n++ {
		if t := time.Since(began); t > 10*trialTime && n > 1 || t > trialTime && n >= trialRows {
			break
		}
		plan.At(&p, n%plan.Runs())
		o.Reset()
		e.Evaluate(&p, &o)
		if n < trialRows {
			columns.fill(rows, n, 0, 0, &p, &o, e)
		}
	}
	f.rate = float64(n) / time.Since(began).Seconds()
	bytes, err := record.SizeOf(&columns.schema, rows)
	if err != nil {
		return err
	}
	f.runBytes = float64(bytes) / float64(rows.Len())
	if st.File.Curves.Keep != files.KeepAll {
		return nil
	}
	points := record.NewRows(&curves.schema)
	n = min(n, 64)
	for i := range n {
		plan.At(&p, i%plan.Runs())
		curves.fillCurves(points, i, &p, e)
	}
	bytes, err = record.SizeOf(&curves.schema, points)
	f.curves = float64(bytes) / float64(n)
	return err
}

// perRun is how many bytes a run takes on the disk, whether its row is written or not.
func (f *forecast) perRun() float64 { return f.keeps * (f.runBytes + f.curves) }

// spare is the room that the machine keeps for itself beside a record of so many bytes.
func spare(need float64) float64 { return min(max(need/10, 20e6), 300e6) }

// fits says why the study's record does not fit the disk, and what would; nil when it does or when that
// cannot be known. had is what is in the folder already.
func (st *Study) fits(f *forecast, dir string, had record.Counts, hadBytes int64, free func(string) (int64, bool)) error {
	room, known := free(existing(dir))
	need := f.perRun() * float64(max(f.runs-had.Evaluated, 0))
	disk := st.File.Budget.Disk
	if disk > 0 {
		need = min(need, float64(max(disk-hadBytes, 0)))
	}
	if !known || need == 0 || need+spare(need) <= float64(room) {
		return nil
	}
	whole := (f.runBytes + f.curves) * float64(f.runs)
	left := max(float64(room)-spare(need), 0)
	var ways []string
	if had.Evaluated == 0 && disk == 0 && left > 0 {
		every := int64(math.Ceil(whole / left))
		ways = append(ways, fmt.Sprintf("`record: {rows: every %d}` writes one run in %d, about %s", every, every, megabytes(whole/float64(every))))
		if st.File.Curves.Keep == files.KeepAll && f.keeps*f.runBytes*float64(f.runs) <= left {
			ways = append(ways, fmt.Sprintf("`curves: best 100` writes the curves of the best alone, and then all rows take about %s", megabytes(f.keeps*f.runBytes*float64(f.runs))))
		}
		if !st.File.Record.Single && need*singleShare <= left {
			ways = append(ways, fmt.Sprintf("`record: {precision: single}` needs about %s", megabytes(need*singleShare)))
		}
	}
	if left > 1e6 {
		ways = append(ways, fmt.Sprintf("`budget: {disk: %.0fMB}` stops it there", math.Floor((left+float64(hadBytes))/1e6)))
	}
	ways = append(ways, "--out names a folder on another disk")
	return usagef("%s: its runs need about %s of disk, and there are %s free for %s, of which %s must stay. One of these fits: %s",
		st.File.Path, megabytes(need), megabytes(float64(room)), dir, megabytes(spare(need)), strings.Join(ways, "; "))
}

// singleShare is about what a record takes in single precision of what it takes in double.
const singleShare = 0.6

// existing returns the nearest folder above that is there.
func existing(dir string) string {
	for dir = filepath.Clean(dir); !isFolder(dir); {
		up := filepath.Dir(dir)
		if up == dir {
			break
		}
		dir = up
	}
	return dir
}

// sentence says the forecast: so many runs, so long, so much disk.
func (f *forecast) sentence(st *Study, had int64) string {
	budget := &st.File.Budget
	if f.runs == 0 {
		text := fmt.Sprintf("It goes on until it is stopped: %s runs a second on %s", thousands(int64(f.rate*float64(f.workers))), count(f.workers, "worker"))
		if budget.Time > 0 || budget.Disk > 0 {
			text = fmt.Sprintf("It goes on until its budget is spent: %s runs a second on %s", thousands(int64(f.rate*float64(f.workers))), count(f.workers, "worker"))
		}
		return text + fmt.Sprintf(", about %s of disk an hour", megabytes(f.perRun()*f.rate*float64(f.workers)*3600))
	}
	text := fmt.Sprintf("%s runs of %s", thousands(f.runs), count(st.poses, "position"))
	switch {
	case f.limited:
		text += ", by the budget"
	case f.atMost:
		text = "At most " + text + ", and as a rule far fewer, for local searches end when they have arrived"
	}
	left := max(f.runs-had, 0)
	if had > 0 {
		text += fmt.Sprintf(", %s of them made already", thousands(min(had, f.runs)))
	}
	switch {
	case f.rate > 0 && f.atMost:
		fewer := "several"
		if st.forgive != nil {
			fewer = "many" // each varied number is looked at from both sides
		}
		text += fmt.Sprintf("; a core of this machine made %s a second in a short trial without derivatives, and %s times fewer with those that local searches ask for",
			thousands(int64(f.rate)), fewer)
	case f.rate > 0:
		text += fmt.Sprintf("; a core of this machine made %s a second in a short trial, so that is %s with %s",
			thousands(int64(f.rate)), roughly(time.Duration(float64(left)/(f.rate*float64(f.workers))*float64(time.Second))), count(f.workers, "worker"))
	}
	switch bytes := f.perRun() * float64(left); {
	case f.keeps == 0:
		text += "; no row is written"
	case !f.keepsSure:
		text += "; of rows only those that are better than all before are written"
	case f.atMost:
		text += fmt.Sprintf("; they take at most %s of disk", megabytes(bytes))
	default:
		text += fmt.Sprintf(" and about %s of disk", megabytes(bytes))
	}
	return text
}

// expected says how many runs there will be, how long they take and how much disk they need, and refuses
// what cannot fit.
func (c *check) expected(st *Study) error {
	f, err := st.forecast(0)
	if err != nil {
		return err
	}
	c.line("")
	c.line("%s.", f.sentence(st, 0))
	if t := st.File.Budget.Time; t > 0 {
		c.line("The budget ends it after %s of work.", roughly(t))
	}
	if d := st.File.Budget.Disk; d > 0 {
		c.line("The budget ends it when the record takes %s.", megabytes(float64(d)))
	}
	return st.fits(f, DefaultDir(st.File.Path), record.Counts{}, 0, record.FreeSpace)
}

// cells is more than a cell takes on the disk, before anything is measured.
const cellBytes = 9

// announce says what the run will come to, and refuses what cannot fit the disk, before a folder is made.
// Where nobody listens and the disk is large beside all that the study could write, it measures nothing.
func (st *Study) announce(o *RunOptions, columns *runColumns) error {
	var had record.Counts
	var bytes int64
	if record.Exists(o.Dir) {
		v, err := record.Read(o.Dir)
		if err != nil {
			return nil // said when it is opened
		}
		had, bytes = v.Totals(), v.Bytes()
	}
	room, known := o.Record.Free(existing(o.Dir))
	e, err := st.expectedRuns()
	if err != nil {
		return err
	}
	most := float64(e.runs) * float64(len(columns.schema.Columns)) * cellBytes
	if st.File.Curves.Keep == files.KeepAll {
		most *= float64(1 + st.poses)
	}
	if o.Announce == nil && (!known || most+spare(most) < float64(room)) {
		return nil
	}
	f, err := st.forecast(o.Workers)
	if err != nil {
		return err
	}
	if o.Shard.Of > 1 {
		f.runs = f.runs/int64(o.Shard.Of) + 1
	}
	if o.Announce != nil {
		text := f.sentence(st, had.Evaluated)
		if known {
			text += fmt.Sprintf("; %s are free", megabytes(float64(room)))
		}
		o.Announce(text + ".")
		for _, p := range st.unmoved() {
			o.Announce(p.String())
		}
	}
	return st.fits(f, o.Dir, had, bytes, o.Record.Free)
}

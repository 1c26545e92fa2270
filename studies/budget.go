package studies

import (
	"fmt"
	"math"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"

	"trammel/optimize"
	"trammel/studies/files"
	"trammel/studies/record"
)

// expectation is how many runs a study makes.
type expectation struct {
	runs    int64 // 0 when it is not known
	steep   int64 // of them, those that may ask for derivatives
	limited bool  // by the budget of runs
	atMost  bool  // searches may end before they have made so many
}

// forecast is what a study will come to.
type forecast struct {
	expectation
	workers   int
	rate      float64       // runs a second of one core
	steepRate float64       // the same of runs with derivatives; 0 where no stage asks for them
	lasts     time.Duration // of work until a budget of time or a time of day ends it; 0: none does
	until     string        // that time of day; "": none
	runBytes  float64       // of a row of runs
	curves    float64       // of the curves of a run
	keeps     float64       // share of the runs whose rows are written, at most
	keepsSure bool          // it is that share, and not a bound
}

// expectedRuns returns how many runs the study makes, as far as can be said.
func (st *Study) expectedRuns() (e expectation, err error) {
	e.runs = int64(1 + len(st.older.Points)) // with the design
	budget := st.File.Budget.Runs
	for i := range st.File.Stages {
		if st.File.Stages[i].Onward && st.onward {
			return expectation{budget, budget, budget > 0, false}, nil
		}
		stage, err := st.newStage(i+1, nil)
		if err != nil {
			return expectation{}, err
		}
		if n := stage.Runs(); n > 0 {
			e.runs += n
			if st.File.Stages[i].Kind == files.Trade {
				e.steep += n / polishShare
			}
			continue
		}
		e.atMost = true
		for round := 0; stage.Blocks(round) > 0 && !st.enough(i+1, round); round++ {
			for b := range stage.Blocks(round) {
				e.runs += int64(stage.Budget(round, b))
				e.steep += int64(stage.Budget(round, b))
			}
		}
	}
	if budget > 0 && budget <= e.runs {
		e.runs, e.limited = budget, true
		e.steep = min(e.steep, e.runs)
	}
	return e, nil
}

// onwards tells whether a stage of the study has no end of its own, so that its budget or a time of day ends it.
func (st *Study) onwards() bool {
	return st.onward && slices.ContainsFunc(st.File.Stages, func(s files.Stage) bool { return s.Onward })
}

// trialTime is how long a trial takes, ten times that where candidates are slow; trialRuns how many
// candidates it has at most, and trialRows how many rows say what a row takes.
const (
	trialTime = 200 * time.Millisecond
	trialRuns = 8192
	trialRows = 2048
)

// deadline is what of time may end a study.
type deadline struct {
	worked     time.Duration // already, of its budget
	now, until time.Time     // until: a time of day to stop at; zero: none
}

// forecast tries candidates spread over the box, for a fifth of a second on one core, and as long with derivatives where a
// stage asks for them, and lays out their rows as the record would.
func (st *Study) forecast(workers int, d deadline) (*forecast, error) {
	f := &forecast{workers: workers, keeps: 1, keepsSure: true}
	if f.workers <= 0 {
		f.workers = runtime.GOMAXPROCS(0)
	}
	f.ending(st.File.Budget.Time, d)
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
	if f.steep > 0 || st.onwards() {
		f.steepRate = st.steepTrial()
	}
	return f, st.trial(f)
}

// ending notes what of time ends the study.
func (f *forecast) ending(budget time.Duration, d deadline) {
	if budget > 0 {
		f.lasts = max(budget-d.worked, time.Second)
	}
	if d.until.IsZero() {
		return
	}
	f.until = clock(d.now, d.until)
	if left := max(d.until.Sub(d.now), time.Second); f.lasts == 0 || left < f.lasts {
		f.lasts = left
	}
}

// clock says a time of day to come, with its day where that is not today.
func clock(now, at time.Time) string {
	text := at.Format("15:04")
	year, month, day := now.In(at.Location()).Date()
	switch at {
	case time.Date(year, month, day, at.Hour(), at.Minute(), at.Second(), at.Nanosecond(), at.Location()):
		return text
	case time.Date(year, month, day+1, at.Hour(), at.Minute(), at.Second(), at.Nanosecond(), at.Location()):
		return text + " tomorrow"
	}
	return text + " on " + at.Format("2006-01-02")
}

// steepTrial returns how many candidates with derivatives one core makes in a second: of those that assemble, to which local
// searches keep, unless none of the trial does.
func (st *Study) steepTrial() float64 {
	plan, err := optimize.NewPlan(&st.Space, optimize.DefaultPlan())
	if err != nil {
		return 0 // only choices vary, and no derivative is asked for
	}
	e := st.NewEvaluator()
	var o optimize.Outcome
	p := st.Space.Design()
	var tried, assembled int
	var spent time.Duration // on those that assemble
	began := time.Now()
	last := began
	for ; tried < trialRuns; tried++ {
		if t := last.Sub(began); t > 10*trialTime || t > trialTime && assembled > 1 {
			break
		}
		plan.At(&p, int64(tried)%plan.Runs())
		p.Derivatives = true
		o.Reset()
		e.Evaluate(&p, &o)
		now := time.Now()
		if !o.Status.Failed() {
			assembled++
			spent += now.Sub(last)
		}
		last = now
	}
	if assembled == 0 {
		assembled, spent = tried, last.Sub(began)
	}
	return float64(assembled) / max(spent, time.Microsecond).Seconds() // a clock may be coarse
}

// ahead is how many runs are still to come, at most, where there are so many already.
func (f *forecast) ahead(had int64) float64 {
	if f.runs > 0 {
		return float64(max(f.runs-had, 0))
	}
	return f.steepRate * float64(f.workers) * f.lasts.Seconds()
}

// takes is how long the runs that are still to come take, at most.
func (f *forecast) takes(had int64) time.Duration {
	even := max(f.runs-f.steep-had, 0)
	seconds := float64(even) / f.rate
	if steep := max(f.runs-had, 0) - even; steep > 0 {
		seconds += float64(steep) / f.steepRate
	}
	return time.Duration(seconds / float64(f.workers) * float64(time.Second))
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
func spare(need float64) float64 { return min(max(need/10, leastSpare), mostSpare) }

const leastSpare, mostSpare = 20e6, 300e6

// holds is the largest record that leaves its spare room free.
func holds(room float64) float64 {
	return max(min(room-leastSpare, max(room/1.1, room-mostSpare)), 0)
}

// fits says why the study's record does not fit the disk, and what would; nil when it does or when that
// cannot be known. had is what is in the folder already.
func (st *Study) fits(f *forecast, dir string, had record.Counts, hadBytes int64, free func(string) (int64, bool)) error {
	room, known := free(existing(dir))
	ahead := f.ahead(had.Evaluated)
	need := f.perRun() * ahead
	disk := st.File.Budget.Disk
	if disk > 0 && f.perRun() > 0 {
		need = float64(max(disk-hadBytes, 0))
		if ahead > 0 {
			need = min(need, f.perRun()*ahead)
		}
	}
	if !known || need == 0 || need+spare(need) <= float64(room) {
		return nil
	}
	whole := (f.runBytes + f.curves) * ahead
	left := holds(float64(room))
	var ways []string
	if had.Evaluated == 0 && disk == 0 && left > 0 {
		every := int64(math.Ceil(whole / left))
		ways = append(ways, fmt.Sprintf("`record: {rows: every %d}` writes one run in %d, about %s", every, every, megabytes(whole/float64(every))))
		if st.File.Curves.Keep == files.KeepAll && f.keeps*f.runBytes*ahead <= left {
			ways = append(ways, fmt.Sprintf("`curves: best 100` writes the curves of the best alone, and then all rows take about %s", megabytes(f.keeps*f.runBytes*ahead)))
		}
		if !st.File.Record.Single && need*singleShare <= left {
			ways = append(ways, fmt.Sprintf("`record: {precision: single}` needs about %s", megabytes(need*singleShare)))
		}
	}
	if left > 1e6 {
		bytes := math.Floor((left+float64(hadBytes))/1e6) * 1e6
		ways = append(ways, fmt.Sprintf("`budget: {disk: %.0fMB}` stops it there%s", bytes/1e6, f.lasting(bytes-float64(hadBytes))))
	}
	over := ""
	if f.runs == 0 && f.lasts > 0 {
		over = " for " + roughly(f.lasts) + " of work"
	}
	what := "What fits is another disk: --out names a folder there"
	if len(ways) > 0 {
		what = "One of these fits: " + strings.Join(append(ways, "--out names a folder on another disk"), "; ")
	}
	return usagef("%s: its runs need about %s of disk%s, and there are %s free for %s, where %s must stay free. %s",
		st.File.Path, megabytes(need), over, megabytes(float64(room)), dir, megabytes(spare(left)), what)
}

// lasting says how long a study that goes on takes to write so many bytes; "" for one that has an end.
func (f *forecast) lasting(bytes float64) string {
	if f.runs > 0 || f.perRun() == 0 {
		return ""
	}
	return ", after " + roughly(time.Duration(bytes/(f.perRun()*f.steepRate*float64(f.workers))*float64(time.Second)))
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
	if f.runs == 0 {
		return f.onwardSentence(st)
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
	text += fmt.Sprintf("; a core of this machine made %s a second in a short trial", thousands(perSecond(f.rate)))
	if f.steep > 0 {
		text += fmt.Sprintf(", and %s with the derivatives that local searches ask for", thousands(perSecond(f.steepRate)))
	}
	most := ""
	if f.steep > 0 {
		most = "at most "
	}
	text += fmt.Sprintf(", so that is %s%s with %s", most, roughly(f.takes(had)), count(f.workers, "worker"))
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
	if f.until != "" {
		text += "; it stops at " + f.until + " at the latest"
	}
	return text
}

// onwardSentence says the forecast of a study that goes on until something ends it.
func (f *forecast) onwardSentence(st *Study) string {
	budget := &st.File.Budget
	var ends []string
	if budget.Time > 0 || budget.Disk > 0 {
		ends = append(ends, "its budget is spent")
	}
	if f.until != "" {
		ends = append(ends, f.until)
	}
	rate := f.steepRate * float64(f.workers)
	text := fmt.Sprintf("It goes on until %s: about %s runs a second on %s with the derivatives that local searches ask for (a core made %s a second in a short trial, and %s without derivatives), about %s of disk an hour",
		strings.Join(ends, ", or until "), thousands(perSecond(rate)), count(f.workers, "worker"), thousands(perSecond(f.steepRate)), thousands(perSecond(f.rate)), megabytes(f.perRun()*rate*3600))
	if budget.Disk > 0 {
		text += fmt.Sprintf(", so that %s are full%s", megabytes(float64(budget.Disk)), strings.TrimPrefix(f.lasting(float64(budget.Disk)), ","))
	}
	return text
}

// perSecond rounds a rate that was measured for a moment; one below 1 is told as 1.
func perSecond(rate float64) int64 { return max(int64(math.Round(rate)), 1) }

// expected says how many runs there will be, how long they take and how much disk they need, and refuses
// what cannot fit.
func (c *check) expected(st *Study) error {
	f, err := st.forecast(0, deadline{})
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

// cellBytes is more than a cell takes on the disk, and mostRate more runs than a core makes in a second, before anything is
// measured.
const cellBytes, mostRate = 9, 100_000

// announce says what the run will come to, and refuses what cannot fit the disk, before a folder is made.
// Where nobody listens and the disk is large beside all that the study could write, it measures nothing.
func (st *Study) announce(o *RunOptions, columns *runColumns) error {
	var had record.Counts
	var bytes int64
	var worked time.Duration
	if record.Exists(o.Dir) {
		v, err := record.Read(o.Dir)
		if err != nil {
			return nil // said when it is opened
		}
		if err := st.belongs(o.Dir, v); err != nil {
			return err
		}
		had, bytes, worked = v.Totals(), v.Bytes(), v.Elapsed()
	}
	room, known := o.Record.Free(existing(o.Dir))
	e, err := st.expectedRuns()
	if err != nil {
		return err
	}
	runs := float64(e.runs)
	if runs == 0 {
		runs = mostRate * float64(o.Workers) * max(st.File.Budget.Time-worked, 0).Seconds()
		if !o.Until.IsZero() {
			runs += mostRate * float64(o.Workers) * max(o.Until.Sub(o.Record.Now()), 0).Seconds()
		}
	}
	most := runs * float64(len(columns.schema.Columns)) * cellBytes
	if limit := float64(st.File.Budget.Disk); limit > 0 && (most > limit || runs == 0) {
		most = limit
	}
	if st.File.Curves.Keep == files.KeepAll {
		most *= float64(1 + st.poses)
	}
	if o.Announce == nil && (!known || most+spare(most) < float64(room)) {
		return nil
	}
	f, err := st.forecast(o.Workers, deadline{worked, o.Record.Now(), o.Until})
	if err != nil {
		return err
	}
	if o.Shard.Of > 1 {
		f.runs, f.steep = f.runs/int64(o.Shard.Of)+1, f.steep/int64(o.Shard.Of)
	}
	if o.Announce != nil {
		for _, s := range st.designStops() {
			o.Announce(s + ".")
		}
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

package record

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/gofrs/flock"
)

// Block is what a run hands over at a time: the rows of one block of a stage, in order of their
// run numbers, and the state from which the search goes on.
type Block struct {
	Stage, Block int
	Rows         *Rows  // of the table of runs; nil or empty when no row is kept
	Curves       *Rows  // of the table of curves; nil when the block has none
	State        []byte // from which the search goes on; kept until Forget, nil when it needs none
	Counts       Counts // Kept is the number of Rows
}

// Folder is a study folder open for writing. One goroutine uses it, and one run holds it: others
// are refused until Close. After an error of the disk every call returns that error; what the
// manifest names is safe.
type Folder struct {
	View
	options Options
	lock    *flock.Flock
	log     file
	notes   []string
	next    map[string]int    // number of the next part of each table
	open    map[string]*Table // parts being written
	kits    map[string]*kit   // writers to use again
	spans   []waiting         // complete, and not yet named by the manifest
	began   time.Duration     // elapsed when the first of spans came
	last    time.Time         // reading of the clock
	slept   time.Duration     // not counted as work
	err     error             // sticky

	nextStates int        // number of the next checkpoint
	stale      bool       // the states differ from those of the latest checkpoint
	summarise  func() any // see Summarise
}

// waiting is a span that the manifest does not name yet, with what each of its blocks has.
type waiting struct {
	Span
	each []share
}

// Append takes over a block that is complete. The block is finished, and Done says so, when the
// manifest names it: at the next rotation, Flush or Close. Rows and State may be used again when
// Append returns. A block that cannot be written as it is (see Rows.Err) is refused as a whole, and
// the folder goes on.
func (f *Folder) Append(b Block) error {
	if f.err != nil {
		return f.err
	}
	if err := f.check(&b); err != nil {
		return fmt.Errorf("block %d of stage %d cannot be recorded: %w", b.Block, b.Stage, err)
	}
	f.tick()
	if len(f.spans) == 0 {
		f.began = f.elapsed
	}
	if err := f.write(TableRuns, b.Rows); err != nil {
		return f.fail(err)
	}
	if err := f.write(TableCurves, b.Curves); err != nil {
		return f.fail(err)
	}
	if len(b.State) > 0 {
		f.states[blockKey{b.Stage, b.Block}] = slices.Clone(b.State)
		f.stale = true
	}
	f.add(&b)
	if f.due() {
		return f.Flush()
	}
	return nil
}

// check says what keeps a block from being recorded.
func (f *Folder) check(b *Block) error {
	switch {
	case b.Stage < 0 || b.Stage >= maxStages || b.Block < 0 || int64(b.Block) >= blocksInStage:
		return fmt.Errorf("stages go from 0 to %d and blocks from 0 to %d", maxStages-1, int64(blocksInStage-1))
	case f.Done(b.Stage, b.Block) || f.waiting(b.Stage, b.Block):
		return errors.New("it is finished already")
	case b.Counts.Kept != int64(b.Rows.count()):
		return fmt.Errorf("its counts say that %d rows are kept, and %d are handed over", b.Counts.Kept, b.Rows.count())
	case b.Counts.Evaluated < b.Counts.Kept:
		return fmt.Errorf("its counts say that %d were evaluated, fewer than the %d rows kept", b.Counts.Evaluated, b.Counts.Kept)
	}
	if err := f.checkRows(TableRuns, b, b.Rows, true); err != nil {
		return err
	}
	return f.checkRows(TableCurves, b, b.Curves, false)
}

func (r *Rows) count() int {
	if r == nil {
		return 0
	}
	return r.n
}

// checkRows says what is wrong with rows for a table: their columns, their cells, their numbers.
func (f *Folder) checkRows(table string, b *Block, r *Rows, strict bool) error {
	if r.count() == 0 {
		return nil
	}
	s := f.ledger.schema(table)
	if s == nil {
		return fmt.Errorf("it has rows for table %s, which the folder does not have", table)
	}
	if err := s.sameShape(&Schema{Table: table, Columns: r.columns}); err != nil {
		return err
	}
	if table == TableCurves && f.ledger.whole[table] != nil {
		return fmt.Errorf("table %s is written as a whole already", table)
	}
	if err := r.Err(); err != nil {
		return err
	}
	low, high := RunNumber(b.Stage, b.Block, 0), RunNumber(b.Stage, b.Block, runsPerBlock-1)
	for i := range r.n {
		run, _ := r.IntAt(0, i)
		if run < low || run > high {
			return fmt.Errorf("row %d of table %s has run %d; runs of this block go from %d to %d", i+1, table, run, low, high)
		}
		low = run
		if strict {
			low++
		}
	}
	return nil
}

// waiting says whether a block was handed over and is not yet named by the manifest.
func (f *Folder) waiting(stage, block int) bool {
	return slices.ContainsFunc(f.spans, func(s waiting) bool {
		return s.Stage == stage && s.First <= block && block <= s.Last
	})
}

// write appends rows to the part of a table under way.
func (f *Folder) write(table string, r *Rows) error {
	if r.count() == 0 {
		return nil
	}
	t := f.open[table]
	if t == nil {
		var err error
		path := filepath.Join(f.dir, table, partName(f.next[table]))
		if t, err = createTable(path, f.ledger.schema(table), f.options, f.kits[table]); err != nil {
			return err
		}
		f.open[table] = t
	}
	return t.Append(r)
}

// add notes a block for the next entry, joined to the span before where it follows on.
func (f *Folder) add(b *Block) {
	n := len(f.spans)
	if n == 0 || f.spans[n-1].Stage != b.Stage || f.spans[n-1].Last+1 != b.Block {
		f.spans = append(f.spans, waiting{Span: Span{Stage: b.Stage, First: b.Block}})
		n++
	}
	s := &f.spans[n-1]
	s.Last = b.Block
	s.Rows += int64(b.Rows.count())
	s.Curves += int64(b.Curves.count())
	s.Counts.Add(b.Counts)
	one := share{curves: int64(b.Curves.count())}
	one.Add(b.Counts)
	s.each = append(s.each, one)
}

// due says whether it is time for a part and an entry.
func (f *Folder) due() bool {
	if len(f.spans) == 0 {
		return false
	}
	if f.elapsed-f.began >= f.options.PartAge {
		return true
	}
	var size int64
	for _, t := range f.open {
		size += t.size()
	}
	return size >= f.options.PartBytes
}

// Tick finishes what waits when it has waited long enough. A run calls it now and then while no
// block comes, so that a crash costs no more than PartAge.
func (f *Folder) Tick() error {
	if f.err != nil {
		return f.err
	}
	f.tick()
	if f.due() {
		return f.Flush()
	}
	return nil
}

// tick sums the time up to now. A reading that is earlier than the last adds nothing. Time in which the
// machine slept is no work: on some systems the clock of the process stands still meanwhile and the
// calendar's goes on; on others both go on, and then no reading came for long.
func (f *Folder) tick() {
	now := f.options.Now()
	d := max(now.Sub(f.last), 0)
	if jump := now.Round(0).Sub(f.last.Round(0)) - d; jump > asleep {
		f.slept += jump
	} else if d > asleep {
		f.slept += d
		d = 0
	}
	f.elapsed += d
	f.last = now
}

// asleep is the longest time between two readings of the clock that counts as work. A run that works
// reads it every second.
const asleep = 5 * time.Minute

// Slept returns for how long the machine slept while this Folder was open, as far as can be told.
func (f *Folder) Slept() time.Duration { return f.slept }

// Summarise sets what is asked, before every entry that finishes blocks, for something that the caller
// keeps with these blocks: for example the best of them. It is written as JSON, and is lost when they are.
func (f *Folder) Summarise(say func() any) { f.summarise = say }

// Flush puts everything handed over on the disk and names it in the manifest.
func (f *Folder) Flush() error {
	if f.err != nil {
		return f.err
	}
	if len(f.spans) == 0 {
		return nil
	}
	parts, err := f.finishParts()
	if err != nil {
		return f.fail(err)
	}
	e := &entry{Entry: entryFinished, Parts: parts}
	for i := range f.spans {
		s := &f.spans[i]
		s.Each = appendEach(nil, &s.Span, s.each)
		e.Finished = append(e.Finished, s.Span)
	}
	if f.summarise != nil {
		if e.Summary, err = json.Marshal(f.summarise()); err != nil {
			return f.fail(fmt.Errorf("the summary of the finished blocks cannot be written: %w", err))
		}
	}
	before := f.ledger.states
	if e.States, err = f.saveStates(); err != nil {
		return f.fail(err)
	}
	f.tick()
	if err := f.enter(e); err != nil {
		return f.fail(err)
	}
	if before != nil && e.States != nil {
		_ = os.Remove(f.path(before.File)) // else the next Open removes what is not named
	}
	f.spans = nil
	return nil
}

// finishParts finishes the parts under way.
func (f *Folder) finishParts() ([]Part, error) {
	var parts []Part
	for _, table := range []string{TableRuns, TableCurves} {
		t := f.open[table]
		if t == nil {
			continue
		}
		p, err := t.finish()
		if err != nil {
			return nil, err
		}
		p.File = table + "/" + p.File
		f.sound[p.File] = true // it has just been read back
		parts = append(parts, p)
		f.next[table]++
		f.kits[table] = t.kit
		delete(f.open, table)
	}
	return parts, nil
}

// enter writes an entry that counts at the end of the manifest, and syncs it.
func (f *Folder) enter(e *entry) error {
	e.At, e.Elapsed = stamp(f.options.Now()), f.elapsed.Milliseconds()
	if err := f.lay(e); err != nil {
		return err
	}
	err := f.options.at(CrashBeforeLogSync)
	if err == nil {
		err = f.log.Sync()
	}
	if err == nil {
		err = f.options.at(CrashAfterLogSync)
	}
	return trouble("syncing", filepath.Join(f.dir, manifestName), err)
}

// lay writes an entry at the end of the manifest and takes it into the ledger.
func (f *Folder) lay(e *entry) error {
	e.N = f.ledger.n + 1
	line, sum, err := seal(f.ledger.sum, e)
	if err != nil {
		return err
	}
	half := len(line) / 2
	_, err = f.log.Write(line[:half])
	if err == nil {
		err = f.options.at(CrashInEntry)
	}
	if err == nil {
		_, err = f.log.Write(line[half:])
	}
	if err != nil {
		return trouble("writing", filepath.Join(f.dir, manifestName), err)
	}
	if err := f.ledger.apply(e); err != nil {
		return fmt.Errorf("the manifest has an entry that does not hold: %w", err)
	}
	f.ledger.sum = sum
	f.end += int64(len(line))
	return nil
}

// SetFact keeps something of the caller's under a key, in place of what was there, after
// finishing everything handed over before. The value is written as JSON.
func (f *Folder) SetFact(key string, value any) error {
	if key == "" {
		return errors.New("a fact needs a key")
	}
	v, err := json.Marshal(value)
	if err != nil {
		return fmt.Errorf("the fact %s cannot be written: %w", key, err)
	}
	if err := f.Flush(); err != nil {
		return err
	}
	f.tick()
	if err := f.enter(&entry{Entry: entryFact, Key: key, Value: v}); err != nil {
		return f.fail(err)
	}
	return nil
}

// factIdentity is the key under which an identity with added stages is kept.
const factIdentity = "identity"

// SetIdentity keeps an identity that has more stages than the folder's. It refuses one that
// differs in the stages that are there.
func (f *Folder) SetIdentity(now Identity) error {
	old, err := f.Identity()
	if err != nil {
		return err
	}
	if d := CheckIdentity(old, now); len(d) > 0 {
		return fmt.Errorf("the folder belongs to another study: %s", d[0])
	}
	return f.SetFact(factIdentity, now)
}

// Replace writes a table as a whole, in place of what it held: fill hands over its rows. It is for
// curves of the best, which are known at the end; a table written block by block is refused.
func (f *Folder) Replace(table string, fill func(add func(*Rows) error) error) error {
	if err := f.Flush(); err != nil {
		return err
	}
	if f.ledger.schema(table) == nil || table == TableRuns {
		return fmt.Errorf("table %q cannot be written as a whole", table)
	}
	old := f.ledger.whole[table]
	var parts []Part
	finish := func() error {
		p, err := f.finishParts()
		parts = append(parts, p...)
		return err
	}
	err := fill(func(r *Rows) error {
		if err := f.write(table, r); err != nil {
			return err
		}
		if t := f.open[table]; t != nil && t.size() >= f.options.PartBytes {
			return finish()
		}
		return nil
	})
	if err == nil {
		err = finish()
	}
	if err != nil {
		return f.fail(err)
	}
	f.tick()
	if err := f.enter(&entry{Entry: entryTable, Table: table, Parts: parts}); err != nil {
		return f.fail(err)
	}
	for _, p := range old {
		_ = os.Remove(f.path(p.File)) // else the next Open removes what is not named
	}
	return nil
}

// Notes returns sentences on what Open found and put right; none when all was in order.
func (f *Folder) Notes() []string { return f.notes }

// Close finishes everything handed over and lets the folder go. After an error it only lets go.
func (f *Folder) Close() error {
	if f.lock == nil {
		return f.err
	}
	err := f.Flush()
	if err == nil {
		f.tick()
		if err = f.enter(&entry{Entry: entryPause}); err != nil {
			f.fail(err)
		}
	}
	f.letGo()
	if f.err == nil {
		f.err = errors.New("the folder is closed")
	}
	return err
}

// letGo closes what is open and gives the lock back.
func (f *Folder) letGo() {
	for _, t := range f.open {
		t.Abandon()
	}
	f.open = nil
	if f.log != nil {
		f.log.Close()
		f.log = nil
	}
	if f.lock != nil {
		f.lock.Unlock()
		f.lock = nil
	}
}

// fail keeps the error for every later call.
func (f *Folder) fail(err error) error {
	if f.err == nil {
		f.err = err
	}
	return err
}

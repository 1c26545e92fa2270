package record

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"path"
	"slices"
	"strings"
	"time"
)

// ledger is what the manifest says, line by line taken in.
type ledger struct {
	n       int64  // entries
	sum     string // checksum of the last one
	header  Header
	tables  []Schema
	session []Session
	elapsed time.Duration
	facts   map[string]json.RawMessage
	states  *checkpoint       // the latest; nil when there is none
	commits []commit          // in the order of the manifest
	sums    []summary         // in the same order
	spans   []span            // by stage and first block
	whole   map[string][]Part // tables written as a whole
	named   map[string]int64  // files of the parts that count, with their bytes
	bytes   int64             // of all these
	counts  Counts
}

type blockKey struct{ stage, block int }

func (k blockKey) compare(o blockKey) int {
	return cmp.Or(cmp.Compare(k.stage, o.stage), cmp.Compare(k.block, o.block))
}

// summary is what the caller keeps of the blocks of one finished entry.
type summary struct {
	commit int // index into commits, or -1
	value  json.RawMessage
}

// commit is one finished entry that wrote parts. Both parts of it stand or fall together.
type commit struct {
	runs, curves *Part
	lost         bool
}

// span is a Span with where its rows are.
type span struct {
	Span
	commit      int   // index into commits, or -1 when it has no rows
	runs0, crv0 int64 // its first rows in the parts
}

// Session is one time that a run worked in the folder.
type Session struct {
	At    string // clock at the beginning
	Build string
}

func newLedger() *ledger {
	return &ledger{facts: map[string]json.RawMessage{}, whole: map[string][]Part{}, named: map[string]int64{}}
}

// apply takes in the next entry. A refused entry leaves the ledger unusable.
func (l *ledger) apply(e *entry) error {
	l.n++
	if e.N != l.n {
		return fmt.Errorf("the entry says it is number %d; it is number %d", e.N, l.n)
	}
	if (l.n == 1) != (e.Entry == entryHeader) {
		return errors.New("the first entry, and no other, is the header")
	}
	if d := time.Duration(e.Elapsed) * time.Millisecond; d > l.elapsed {
		l.elapsed = d
	}
	switch e.Entry {
	case entryHeader:
		return l.applyHeader(e)
	case entrySession:
		l.session = append(l.session, Session{At: e.At, Build: e.Build})
		return nil
	case entryPause:
		return nil
	case entryFinished:
		return l.applyFinished(e)
	case entryTable:
		return l.applyTable(e)
	case entryFact:
		if e.Key == "" {
			return errors.New("a fact has no key")
		}
		l.facts[e.Key] = e.Value
		return nil
	case entryLost:
		return l.applyLost(e)
	}
	return fmt.Errorf("entries of the kind %q are not known to this build; a newer one is needed", e.Entry)
}

func (l *ledger) applyHeader(e *entry) error {
	if e.Header == nil || len(e.Tables) == 0 {
		return errors.New("the header is empty")
	}
	if e.Header.Format != FormatVersion {
		return fmt.Errorf("the folder has format %d and this build reads format %d; use the build that made it", e.Header.Format, FormatVersion)
	}
	for i := range e.Tables {
		if err := e.Tables[i].checkFolder(); err != nil {
			return err
		}
		for j := range i {
			if e.Tables[i].Table == e.Tables[j].Table {
				return fmt.Errorf("table %s is declared twice", e.Tables[i].Table)
			}
		}
	}
	if e.Tables[0].Table != TableRuns {
		return fmt.Errorf("the first table is %s; it must be %s", e.Tables[0].Table, TableRuns)
	}
	l.header, l.tables = *e.Header, e.Tables
	return nil
}

// schema returns a table's schema, or nil.
func (l *ledger) schema(table string) *Schema {
	for i := range l.tables {
		if l.tables[i].Table == table {
			return &l.tables[i]
		}
	}
	return nil
}

func (l *ledger) applyFinished(e *entry) error {
	k := commit{}
	for i := range e.Parts {
		p := &e.Parts[i]
		if err := l.checkNamed(p); err != nil {
			return err
		}
		where := &k.runs
		if p.Table == TableCurves {
			where = &k.curves
		}
		if *where != nil {
			return fmt.Errorf("the entry has two parts of table %s", p.Table)
		}
		*where = p
	}
	index := -1
	if len(e.Parts) > 0 {
		index = len(l.commits)
		l.commits = append(l.commits, k)
	}
	var runs, curves int64
	for _, s := range e.Finished {
		if err := l.finish(span{Span: s, commit: index, runs0: runs, crv0: curves}); err != nil {
			return err
		}
		runs += s.Rows
		curves += s.Curves
	}
	if runs != k.runs.count() || curves != k.curves.count() {
		return fmt.Errorf("the blocks have %d rows and %d of curves, and the parts %d and %d", runs, curves, k.runs.count(), k.curves.count())
	}
	if e.States != nil {
		if err := e.States.check(); err != nil {
			return err
		}
		l.states = e.States
	}
	if len(e.Summary) > 0 {
		l.sums = append(l.sums, summary{index, e.Summary})
	}
	return nil
}

func (p *Part) count() int64 {
	if p == nil {
		return 0
	}
	return p.Rows
}

// checkNamed says whether an entry may name this part.
func (l *ledger) checkNamed(p *Part) error {
	if l.schema(p.Table) == nil {
		return fmt.Errorf("a part of table %q is named; the folder has no such table", p.Table)
	}
	base, ok := strings.CutPrefix(p.File, p.Table+"/")
	if !ok || partNumber(base) < 0 || path.Clean(p.File) != p.File {
		return fmt.Errorf("%q is no name of a part of table %s", p.File, p.Table)
	}
	if p.Rows <= 0 || p.Bytes <= 0 || len(p.Hash) != 16 || len(p.Content) != 16 {
		return fmt.Errorf("part %s has no rows, bytes or hash", p.File)
	}
	if l.named[p.File] > 0 {
		return fmt.Errorf("part %s is named twice", p.File)
	}
	l.named[p.File] = p.Bytes
	l.bytes += p.Bytes
	return nil
}

// unname says that a part does not count any more.
func (l *ledger) unname(file string) {
	l.bytes -= l.named[file]
	delete(l.named, file)
}

// finish puts a span among the others.
func (l *ledger) finish(s span) error {
	if s.Stage < 0 || s.Stage >= maxStages || s.First < 0 || s.Last < s.First || int64(s.Last) >= blocksInStage || s.Rows < 0 || s.Curves < 0 {
		return fmt.Errorf("blocks %d to %d of stage %d cannot be", s.First, s.Last, s.Stage)
	}
	if s.Counts.Kept != s.Rows || s.Counts.Evaluated < s.Rows {
		return fmt.Errorf("blocks %d to %d of stage %d count %d kept and %d evaluated for %d rows", s.First, s.Last, s.Stage, s.Counts.Kept, s.Counts.Evaluated, s.Rows)
	}
	if err := s.checkEach(); err != nil {
		return err
	}
	i, _ := slices.BinarySearchFunc(l.spans, s, func(a, b span) int {
		return cmp.Or(cmp.Compare(a.Stage, b.Stage), cmp.Compare(a.First, b.First))
	})
	if i > 0 && l.spans[i-1].Stage == s.Stage && l.spans[i-1].Last >= s.First ||
		i < len(l.spans) && l.spans[i].Stage == s.Stage && l.spans[i].First <= s.Last {
		return fmt.Errorf("blocks %d to %d of stage %d are finished twice", s.First, s.Last, s.Stage)
	}
	l.spans = slices.Insert(l.spans, i, s)
	l.counts.Add(s.Counts)
	return nil
}

func (l *ledger) applyTable(e *entry) error {
	if l.schema(e.Table) == nil || e.Table == TableRuns {
		return fmt.Errorf("table %q cannot be written as a whole", e.Table)
	}
	for i := range l.commits {
		if l.commits[i].curves != nil && !l.commits[i].lost {
			return fmt.Errorf("table %s is written block by block already", e.Table)
		}
	}
	for i := range e.Parts {
		if e.Parts[i].Table != e.Table {
			return fmt.Errorf("a part of table %s is named for table %s", e.Parts[i].Table, e.Table)
		}
		if err := l.checkNamed(&e.Parts[i]); err != nil {
			return err
		}
	}
	for _, p := range l.whole[e.Table] {
		l.unname(p.File)
	}
	l.whole[e.Table] = e.Parts
	return nil
}

// applyLost takes parts out, and with them the blocks they held.
func (l *ledger) applyLost(e *entry) error {
	for _, name := range e.Files {
		if !l.lose(name) {
			return fmt.Errorf("part %s is lost and was never named", name)
		}
	}
	return nil
}

func (l *ledger) lose(name string) bool {
	for table, parts := range l.whole {
		if slices.ContainsFunc(parts, func(p Part) bool { return p.File == name }) {
			for _, p := range parts {
				l.unname(p.File)
			}
			delete(l.whole, table)
			return true
		}
	}
	for i := range l.commits {
		k := &l.commits[i]
		if k.lost || !(k.runs != nil && k.runs.File == name || k.curves != nil && k.curves.File == name) {
			continue
		}
		k.lost = true
		for _, p := range []*Part{k.runs, k.curves} {
			if p != nil {
				l.unname(p.File)
			}
		}
		l.sums = slices.DeleteFunc(l.sums, func(s summary) bool { return s.commit == i })
		l.spans = slices.DeleteFunc(l.spans, func(s span) bool {
			if s.commit == i {
				l.forget(s)
			}
			return s.commit == i
		})
		return true
	}
	return false
}

// forget takes back the counts of blocks that are not finished any more.
func (l *ledger) forget(s span) {
	minus := Counts{Evaluated: -s.Counts.Evaluated, Kept: -s.Counts.Kept, Feasible: -s.Counts.Feasible, Status: map[string]int64{}}
	for k, v := range s.Counts.Status {
		minus.Status[k] = -v
	}
	l.counts.Add(minus)
}

// parts returns the parts that count, of all tables.
func (l *ledger) parts() []Part {
	var all []Part
	for i := range l.commits {
		if k := &l.commits[i]; !k.lost {
			if k.runs != nil {
				all = append(all, *k.runs)
			}
			if k.curves != nil {
				all = append(all, *k.curves)
			}
		}
	}
	for _, s := range l.tables {
		all = append(all, l.whole[s.Table]...)
	}
	return all
}

// find returns the span that holds a block, or nil.
func (l *ledger) find(stage, block int) *span {
	i, found := slices.BinarySearchFunc(l.spans, blockKey{stage, block}, func(s span, k blockKey) int {
		return cmp.Or(cmp.Compare(s.Stage, k.stage), cmp.Compare(s.First, k.block))
	})
	if !found {
		i--
	}
	if i < 0 || l.spans[i].Stage != stage || l.spans[i].Last < block {
		return nil
	}
	return &l.spans[i]
}

// partName is the base name of a table's part.
func partName(n int) string { return fmt.Sprintf("part-%06d.parquet", n) }

// partNumber is the inverse of partName; -1 for any other name.
func partNumber(base string) int {
	var n int
	if _, err := fmt.Sscanf(base, "part-%d.parquet", &n); err != nil || n < 1 || partName(n) != base {
		return -1
	}
	return n
}

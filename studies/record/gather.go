package record

import (
	"fmt"
	"iter"
	"maps"
	"math"
	"slices"
)

// Gathered says what Gather did.
type Gathered struct {
	Blocks int64 // taken in
	Runs   int64 // of these, evaluated
	Equal  int64 // blocks that were there, or in another source, already: their rows are the same
}

// UnequalError says that two folders hold different rows under the same numbers.
type UnequalError struct {
	A, B         string // folders
	Stage, Block int
	What         string // where they differ, as the end of a sentence
}

func (e *UnequalError) Error() string {
	return fmt.Sprintf("%s and %s do not belong together: in block %d of stage %d %s", e.A, e.B, e.Block, e.Stage, e.What)
}

// Gather takes in, in their order, the blocks that are finished in one of the sources and not yet here,
// with their curves and states. Where several have a block, its rows must be the same; a block that
// differs is an *UnequalError, and what was taken in before stays. go is asked before every block, and an
// error of it ends Gather. The sources belong to the same study: the caller has compared their identities.
func (f *Folder) Gather(sources []*View, goOn func() error) (g Gathered, err error) {
	if err := f.Flush(); err != nil {
		return g, err
	}
	own, err := Read(f.dir)
	if err != nil {
		return g, err
	}
	all := append([]*View{own}, sources...) // what is here comes first, and is not taken again
	m := &gathering{into: f, all: all}
	defer m.close()
	for _, v := range all {
		for _, s := range f.ledger.tables {
			if t := v.Schema(s.Table); t == nil {
				return g, fmt.Errorf("%s has no table %s, which %s has", v.dir, s.Table, f.dir)
			} else if err := s.sameShape(t); err != nil {
				return g, fmt.Errorf("%s: %w", v.dir, err)
			}
		}
		m.readers = append(m.readers, newReaders(v))
		next, stop := iter.Pull(v.blocks())
		defer stop()
		m.next = append(m.next, next)
		m.head = append(m.head, nil)
		m.advance(len(m.head) - 1)
	}
	for {
		holders := m.first()
		if len(holders) == 0 {
			return g, nil
		}
		if err := goOn(); err != nil {
			return g, err
		}
		if err := m.take(holders, &g); err != nil {
			return g, err
		}
		for _, i := range holders {
			m.advance(i)
		}
	}
}

// found is a finished block and where its rows stand.
type found struct {
	blockKey
	share
	runs, crv segment
}

// blocks visits the finished blocks, in order.
func (v *View) blocks() iter.Seq[*found] {
	return func(yield func(*found) bool) {
		going := true
		for i := range v.ledger.spans {
			s := &v.ledger.spans[i]
			runs, _ := v.segment(s, TableRuns)
			crv, _ := v.segment(s, TableCurves)
			_ = s.shares(func(block int, k *share) { // has been checked
				if !going {
					return
				}
				b := &found{blockKey{s.Stage, block}, *k, segment{runs.file, runs.first, k.Kept}, segment{crv.file, crv.first, k.curves}}
				b.Status = maps.Clone(k.Status)
				maps.DeleteFunc(b.Status, func(_ string, n int64) bool { return n == 0 })
				runs.first += k.Kept
				crv.first += k.curves
				going = yield(b)
			})
			if !going {
				return
			}
		}
	}
}

// gathering merges the blocks of several folders.
type gathering struct {
	into    *Folder
	all     []*View
	next    []func() (*found, bool)
	head    []*found // nil at the end of a folder
	readers []*readers
}

func (m *gathering) advance(i int) { m.head[i], _ = m.next[i]() }

// first returns the folders that have the block that comes first.
func (m *gathering) first() (holders []int) {
	for i, b := range m.head {
		if b == nil {
			continue
		}
		if len(holders) > 0 {
			switch c := b.compare(m.head[holders[0]].blockKey); {
			case c > 0:
				continue
			case c < 0:
				holders = holders[:0]
			}
		}
		holders = append(holders, i)
	}
	return holders
}

// take compares a block with itself in all folders that hold it, and takes it in if it is not here.
func (m *gathering) take(holders []int, g *Gathered) error {
	one := holders[0]
	b := m.head[one]
	if one == 0 && len(holders) == 1 {
		return nil
	}
	runs, curves, err := m.readers[one].block(b)
	if err != nil {
		return err
	}
	for _, i := range holders[1:] {
		if err := m.compare(one, i, runs, curves); err != nil {
			return err
		}
		g.Equal++
	}
	if one == 0 {
		return nil
	}
	state, err := m.state(holders)
	if err != nil {
		return err
	}
	if m.into.ledger.whole[TableCurves] != nil {
		curves = nil // made again from the best
	}
	if err := m.into.Append(Block{Stage: b.stage, Block: b.block, Rows: runs, Curves: curves, State: state, Counts: b.Counts}); err != nil {
		return err
	}
	g.Blocks++
	g.Runs += b.Evaluated
	return nil
}

// state returns the state that the block left in one of the folders.
func (m *gathering) state(holders []int) ([]byte, error) {
	for _, i := range holders {
		s, err := m.all[i].State(m.head[i].stage, m.head[i].block)
		if err == nil && s != nil {
			return s, nil
		}
	}
	return nil, nil // needed no more, or made again
}

// compare says where the block differs between folder a, whose rows are given, and folder b.
func (m *gathering) compare(a, b int, runs, curves *Rows) error {
	x, y := m.head[a], m.head[b]
	fail := func(what string) error {
		return &UnequalError{m.all[a].dir, m.all[b].dir, x.stage, x.block, what}
	}
	if x.Evaluated != y.Evaluated || x.Kept != y.Kept || x.Feasible != y.Feasible || !maps.Equal(x.Status, y.Status) {
		return fail(fmt.Sprintf("one has %d runs, %d of them kept and %d feasible, and the other %d, %d and %d", x.Evaluated, x.Kept, x.Feasible, y.Evaluated, y.Kept, y.Feasible))
	}
	r, c, err := m.readers[b].block(y)
	if err != nil {
		return err
	}
	if where := unequal(runs, r); where != "" {
		return fail("the " + where)
	}
	if x.curves > 0 && y.curves > 0 {
		if where := unequal(curves, c); where != "" {
			return fail("the curves' " + where)
		}
	}
	return nil
}

// unequal says where two batches with the same columns differ, to the last bit; "" when they do not.
func unequal(a, b *Rows) string {
	if a.n != b.n {
		return fmt.Sprintf("numbers of rows are %d and %d", a.n, b.n)
	}
	for c := range a.columns {
		name := a.columns[c].Name
		for row := range a.n {
			x, y := a.Cell(c, row), b.Cell(c, row)
			if f, ok := x.(float64); ok {
				if g, ok := y.(float64); ok && math.Float64bits(f) == math.Float64bits(g) {
					continue
				}
			} else if x == y {
				continue
			}
			run, _ := a.IntAt(0, row)
			return fmt.Sprintf("column %s of run %d is %v and %v", name, run, said(x), said(y))
		}
	}
	return ""
}

func said(x any) any {
	if x == nil {
		return "null"
	}
	return x
}

func (m *gathering) close() {
	for _, r := range m.readers {
		r.runs.close()
		r.crv.close()
	}
}

// readers reads the blocks of a folder one after another.
type readers struct{ runs, crv reader }

func newReaders(v *View) *readers {
	return &readers{reader{v: v, table: TableRuns}, reader{v: v, table: TableCurves}}
}

// block returns the rows of a block. They are used again.
func (r *readers) block(b *found) (runs, curves *Rows, err error) {
	if runs, err = r.runs.read(b.runs); err != nil {
		return nil, nil, err
	}
	curves, err = r.crv.read(b.crv)
	return runs, curves, err
}

// reader reads rows of a table; one segment after another costs no search.
type reader struct {
	v       *View
	table   string
	file    string
	part    *opened
	cursors []*cursor
	at      int64
	rows    *Rows
}

// read returns the rows of a segment; nil when the folder has no such table.
func (r *reader) read(g segment) (*Rows, error) {
	s := r.v.Schema(r.table)
	if s == nil {
		return nil, nil
	}
	if r.rows == nil {
		r.rows = NewRows(s)
	}
	r.rows.Reset()
	if g.n == 0 {
		return r.rows, nil
	}
	if err := r.v.touched(g.file); err != nil {
		return nil, err
	}
	err := guard(func() error { return r.fill(s, g) })
	if err != nil {
		return nil, &DamageError{r.v.dir, []string{fmt.Sprintf("%s does not read: %v.", g.file, err)}}
	}
	return r.rows, nil
}

func (r *reader) fill(s *Schema, g segment) (err error) {
	if g.file != r.file {
		r.close()
		if r.part, err = openPath(r.v.path(g.file), s); err != nil {
			return err
		}
		r.file, r.at = g.file, -1
		for c := range s.Columns {
			r.cursors = append(r.cursors, newCursor(r.part, c))
		}
	}
	if g.first != r.at {
		for _, k := range r.cursors {
			if err := k.seek(g.first); err != nil {
				return err
			}
		}
	}
	r.rows.extend(int(g.n))
	for c, k := range r.cursors {
		if err := k.read(r.rows, c, int(g.n)); err != nil {
			return err
		}
	}
	r.at = g.first + g.n
	return nil
}

// close lets go of the part that is open.
func (r *reader) close() {
	for _, k := range r.cursors {
		k.close()
	}
	r.cursors = slices.Delete(r.cursors, 0, len(r.cursors))
	if r.part != nil {
		r.part.Close()
	}
	r.part, r.file = nil, ""
}

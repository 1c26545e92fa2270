package record

import (
	"container/heap"
	"fmt"
	"slices"
)

// segment is rows first..first+n of a part.
type segment struct {
	file     string
	first, n int64
}

// segments returns where the rows of a table stand, in run order.
func (v *View) segments(table string) []segment {
	var all []segment
	for _, p := range v.ledger.whole[table] {
		all = append(all, segment{p.File, 0, p.Rows})
	}
	for i := range v.ledger.spans {
		if s, ok := v.segment(&v.ledger.spans[i], table); ok {
			if n := len(all); n > 0 && all[n-1].file == s.file && all[n-1].first+all[n-1].n == s.first {
				all[n-1].n += s.n
				continue
			}
			all = append(all, s)
		}
	}
	return all
}

// segment returns where the rows of a span stand; false when it has none in the table.
func (v *View) segment(s *span, table string) (segment, bool) {
	if s.commit < 0 {
		return segment{}, false
	}
	k := &v.ledger.commits[s.commit]
	if table == TableCurves {
		if s.Curves == 0 {
			return segment{}, false
		}
		return segment{k.curves.File, s.crv0, s.Curves}, true
	}
	if table != TableRuns || s.Rows == 0 {
		return segment{}, false
	}
	return segment{k.runs.File, s.runs0, s.Rows}, true
}

// Scan visits all rows of a table in the order of their runs, in batches, with the named columns,
// or all when none is named. The batch is used again: visit does not keep it. No row comes from a part
// that is not as it was written: a View compares the bytes of each part before it first reads it, and
// returns a *DamageError.
func (v *View) Scan(table string, columns []string, visit func(*Rows) error) error {
	return v.scan(table, columns, v.segments(table), visit)
}

func (v *View) scan(table string, columns []string, all []segment, visit func(*Rows) error) error {
	s := v.ledger.schema(table)
	if s == nil {
		return fmt.Errorf("the folder %s has no table %s", v.dir, table)
	}
	places, dst, err := choose(s, columns)
	if err != nil {
		return err
	}
	var p *opened
	file := ""
	for _, g := range all {
		if g.file != file {
			if p != nil {
				p.Close()
				p = nil
			}
			if err := v.touched(g.file); err != nil {
				return err
			}
			if p, err = openPath(v.path(g.file), s); err != nil {
				return &DamageError{v.dir, []string{fmt.Sprintf("%s does not read: %v.", g.file, err)}}
			}
			file = g.file
		}
		var stop error
		err := p.scan(places, g.first, g.n, dst, func(r *Rows) error {
			stop = visit(r)
			return stop
		})
		if err != nil {
			p.Close()
			if stop != nil {
				return stop
			}
			return &DamageError{v.dir, []string{fmt.Sprintf("%s does not read: %v.", g.file, err)}}
		}
	}
	if p != nil {
		p.Close()
	}
	return nil
}

// ScanRun visits the rows of one run in a table. It returns ErrNoRun, wrapped, when there is none.
func (v *View) ScanRun(table string, run int64, columns []string, visit func(*Rows) error) error {
	var within []segment
	if v.ledger.whole[table] != nil {
		within = v.segments(table)
	} else if stage, block, _ := SplitRun(run); run >= 0 && v.Done(stage, block) {
		if g, ok := v.blockSegment(v.ledger.find(stage, block), block, table); ok {
			within = []segment{g}
		}
	} else {
		return fmt.Errorf("%s: %w: run %d has not been made here", v.dir, ErrNoRun, run)
	}
	var found []segment
	for _, g := range within {
		at := g.first
		err := v.scan(table, []string{RunColumn}, []segment{g}, func(r *Rows) error {
			for row := range r.n {
				x, _ := r.IntAt(0, row)
				if n := len(found); x == run && n > 0 && found[n-1].file == g.file && found[n-1].first+found[n-1].n == at {
					found[n-1].n++
				} else if x == run {
					found = append(found, segment{g.file, at, 1})
				}
				at++
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	if len(found) == 0 {
		return fmt.Errorf("%s: %w: run %d left no row in table %s", v.dir, ErrNoRun, run, table)
	}
	return v.scan(table, columns, found, visit)
}

// ReadRun returns the one row of a run, with all columns.
func (v *View) ReadRun(run int64) (*Rows, error) {
	row := NewRows(v.ledger.schema(TableRuns))
	err := v.ScanRun(TableRuns, run, nil, func(r *Rows) error {
		row.Copy(r, 0)
		return nil
	})
	return row, err
}

// Digest returns a hash over all rows of a table in the order of their runs. It does not depend on
// how they are spread over parts, so that two records of the same study compare.
func (v *View) Digest(table string) (string, error) {
	s := v.ledger.schema(table)
	if s == nil {
		return "", fmt.Errorf("the folder %s has no table %s", v.dir, table)
	}
	d := newDigests(s.Columns)
	column := newLifted()
	err := v.Scan(table, nil, func(r *Rows) error {
		for from := 0; from < r.n; from += tileRows {
			for c := range s.Columns {
				r.lift(c, from, min(r.n, from+tileRows), &column)
				d[c].take(s.Columns[c].Type, &column)
			}
		}
		return nil
	})
	return content(totals(d)), err
}

// Best returns the runs with the least values in the columns given (floats), compared one after
// another, the run number deciding last: the best first, at most n. Rows with a null in one of
// the columns do not take part.
func (v *View) Best(n int, columns ...string) ([]int64, error) {
	for _, name := range columns {
		s := v.ledger.schema(TableRuns)
		if i := s.Index(name); i >= 0 && s.Columns[i].Type != Float64 && s.Columns[i].Type != Float32 {
			return nil, fmt.Errorf("column %s holds %v; runs are ranked by columns of numbers", name, s.Columns[i].Type)
		}
	}
	h := &worstFirst{}
	key := make([]float64, len(columns))
	err := v.Scan(TableRuns, append([]string{RunColumn}, columns...), func(r *Rows) error {
		for row := range r.n {
			run, ok := r.IntAt(0, row)
			for c := range columns {
				value, set := r.FloatAt(c+1, row)
				key[c], ok = value, ok && set
			}
			if ok {
				h.offer(n, run, key)
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	runs := make([]int64, len(h.all))
	for i := len(runs) - 1; i >= 0; i-- {
		runs[i] = heap.Pop(h).(ranked).run
	}
	return runs, nil
}

// ranked is a run with the values it is ranked by.
type ranked struct {
	run int64
	key []float64
}

func (a ranked) before(run int64, key []float64) bool {
	for i, x := range a.key {
		if x != key[i] {
			return x < key[i]
		}
	}
	return a.run < run
}

// worstFirst is a heap with the worst at its head.
type worstFirst struct{ all []ranked }

func (h *worstFirst) Len() int           { return len(h.all) }
func (h *worstFirst) Less(i, j int) bool { return h.all[j].before(h.all[i].run, h.all[i].key) }
func (h *worstFirst) Swap(i, j int)      { h.all[i], h.all[j] = h.all[j], h.all[i] }
func (h *worstFirst) Push(x any)         { h.all = append(h.all, x.(ranked)) }
func (h *worstFirst) Pop() any {
	x := h.all[len(h.all)-1]
	h.all = h.all[:len(h.all)-1]
	return x
}

// offer keeps a run if it is among the best n so far.
func (h *worstFirst) offer(n int, run int64, key []float64) {
	if len(h.all) < n {
		heap.Push(h, ranked{run, slices.Clone(key)})
		return
	}
	if n == 0 || h.all[0].before(run, key) {
		return
	}
	copy(h.all[0].key, key)
	h.all[0].run = run
	heap.Fix(h, 0)
}

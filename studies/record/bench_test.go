package record

import (
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"runtime"
	"testing"
)

// wide is a table like a study's: 60 columns of doubles, half of them nullable, and 8 others.
func wide() Schema {
	s := Schema{Table: TableRuns, Columns: []Column{
		{Name: RunColumn, Type: Int64},
		{Name: "stage", Type: Int64},
		{Name: "block", Type: Int64},
		{Name: "parent", Type: Int64, Nullable: true},
		{Name: "status", Type: Text},
		{Name: "reason", Type: Text, Nullable: true},
		{Name: "met_camber", Type: Bool, Nullable: true},
		{Name: "met_toe", Type: Bool},
	}}
	for i := range 60 {
		s.Columns = append(s.Columns, Column{Name: fmt.Sprintf("got_%02d_mm", i), Type: Float64, Nullable: i%2 == 1, Unit: "mm"})
	}
	return s
}

// fillWide fills the rows of a block the way a study does: smooth numbers, one row in ten failed.
func fillWide(r *Rows, stage, block, n int, random *rand.Rand) Block {
	r.Reset()
	kept := int64(n)
	for i := range n {
		failed := random.IntN(10) == 0
		r.Next()
		r.Int(0, RunNumber(stage, block, i))
		r.Int(1, int64(stage))
		r.Int(2, int64(block))
		if i > 0 {
			r.Int(3, RunNumber(stage, block, i-1))
		}
		if failed {
			r.Text(4, "cannot_assemble")
			r.Text(5, "the upper arm does not reach the upright")
		} else {
			r.Text(4, "ok")
			r.Bool(6, random.IntN(2) == 0)
		}
		r.Bool(7, failed)
		for c := 8; c < 68; c++ {
			if failed && c%2 == 1 {
				continue
			}
			r.Float(c, 100*float64(c)+random.NormFloat64())
		}
	}
	return Block{Stage: stage, Block: block, Rows: r, Counts: Counts{Evaluated: kept, Kept: kept}}
}

// BenchmarkRecord measures the whole way of a row: filled batches are handed over, encoded,
// written, synced, read back, compared and named. It reports processor time per value, and the
// bytes on disk per row. Blocks are filled outside the time measured.
func BenchmarkRecord(b *testing.B) {
	const perBlock = 1000
	s := wide()
	random := rand.New(rand.NewPCG(1, 2))
	blocks := make([]*Rows, 64) // more rows than a page has, so that none repeats within one
	for i := range blocks {
		blocks[i] = NewRows(&s)
		fillWide(blocks[i], 1, i, perBlock, random)
	}
	dir := filepath.Join(b.TempDir(), "study")
	f, err := Create(dir, Header{Study: "bench"}, nil, DefaultOptions(), s)
	if err != nil {
		b.Fatal(err)
	}
	b.ResetTimer()
	before := processorTime()
	rows := 0
	for i := 0; b.Loop(); i++ {
		r := blocks[i%len(blocks)]
		for row := range r.n { // the numbers of this block
			r.raw[r.at(0, row)] = uint64(RunNumber(1, i, row))
		}
		if err := f.Append(Block{Stage: 1, Block: i, Rows: r, Counts: Counts{Evaluated: perBlock, Kept: perBlock}}); err != nil {
			b.Fatal(err)
		}
		rows += perBlock
	}
	if err := f.Close(); err != nil {
		b.Fatal(err)
	}
	b.StopTimer()
	if used := processorTime() - before; used > 0 {
		b.ReportMetric(float64(used)/float64(rows)/float64(len(s.Columns)), "cpu-ns/value")
	}
	b.ReportMetric(float64(b.Elapsed())/float64(rows)/float64(len(s.Columns)), "ns/value")
	var bytes int64
	for _, p := range f.Parts(TableRuns) {
		bytes += p.Bytes
	}
	b.ReportMetric(float64(bytes)/float64(rows), "bytes/row")
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	b.ReportMetric(float64(m.Sys)/1e6, "MB-from-system")
}

// BenchmarkFill measures setting cells; it allocates nothing.
func BenchmarkFill(b *testing.B) {
	s := wide()
	r := NewRows(&s)
	b.ReportAllocs()
	rows := 0
	for b.Loop() {
		r.Reset()
		for i := range 1000 {
			r.Next()
			r.Int(0, int64(i))
			for c := 8; c < 68; c++ {
				r.Float(c, float64(i))
			}
			rows++
		}
	}
	b.ReportMetric(float64(b.Elapsed())/float64(rows)/61, "ns/value")
}

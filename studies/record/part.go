package record

import (
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"io"
	"math"
	"os"

	"github.com/cespare/xxhash/v2"
	"github.com/parquet-go/parquet-go"
)

// hex64 writes a hash as 16 hexadecimal digits.
func hex64(h uint64) string {
	return hex.EncodeToString(binary.BigEndian.AppendUint64(nil, h))
}

// guard turns a panic of the Parquet decoder, which damaged bytes can cause, into an error.
func guard(do func() error) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("the file does not decode (%v)", p)
		}
	}()
	return do()
}

// opened is a Parquet file open for reading.
type opened struct {
	schema *Schema
	groups []parquet.RowGroup
	rows   int64
	closer io.Closer
}

// openPart opens a file and compares its columns with those of the schema, if one is given.
func openPart(r io.ReaderAt, size int64, want *Schema) (p *opened, err error) {
	err = guard(func() error {
		f, err := parquet.OpenFile(r, size, parquet.SkipBloomFilters(true))
		if err != nil {
			return err
		}
		s, err := schemaOf(f)
		if err != nil {
			return err
		}
		if want != nil {
			if err := want.sameShape(s); err != nil {
				return err
			}
			s = want
		}
		p = &opened{schema: s, groups: f.RowGroups(), rows: f.NumRows()}
		return p.checkGroups()
	})
	if err != nil {
		return nil, err
	}
	return p, nil
}

// checkGroups compares the numbers of rows that the file states in different places.
func (p *opened) checkGroups() error {
	var rows int64
	for g, group := range p.groups {
		n := group.NumRows()
		if n < 0 || n > math.MaxInt32 {
			return fmt.Errorf("row group %d states %d rows", g+1, n)
		}
		rows += n
		if k := len(group.ColumnChunks()); k != len(p.schema.Columns) {
			return fmt.Errorf("row group %d has %d columns where %d belong", g+1, k, len(p.schema.Columns))
		}
	}
	if rows != p.rows {
		return fmt.Errorf("the row groups have %d rows and the file states %d", rows, p.rows)
	}
	return nil
}

func (p *opened) Close() error {
	if p.closer == nil {
		return nil
	}
	return p.closer.Close()
}

// openPath opens a file by its path.
func openPath(path string, want *Schema) (*opened, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	info, err := f.Stat()
	if err != nil {
		f.Close()
		return nil, err
	}
	p, err := openPart(f, info.Size(), want)
	if err != nil {
		f.Close()
		return nil, err
	}
	p.closer = f
	return p, nil
}

// checkPart reads a whole part, compares it with what the manifest (or the writer) says, and
// returns the sums of its columns. Bytes that changed are refused before anything is decoded.
func checkPart(r io.ReaderAt, size int64, want *Part, s *Schema) ([]total, error) {
	if size != want.Bytes {
		return nil, fmt.Errorf("the file has %d bytes where %d belong", size, want.Bytes)
	}
	h := xxhash.New()
	if _, err := io.CopyBuffer(h, io.NewSectionReader(r, 0, size), make([]byte, 256<<10)); err != nil {
		return nil, err
	}
	if got := hex64(h.Sum64()); got != want.Hash {
		return nil, fmt.Errorf("the file has changed since it was written (hash %s where %s belongs)", got, want.Hash)
	}
	p, err := openPart(r, size, s)
	if err != nil {
		return nil, err
	}
	if p.rows != want.Rows {
		return nil, fmt.Errorf("the file has %d rows where %d belong", p.rows, want.Rows)
	}
	d := newDigests(s.Columns)
	err = guard(func() error { return p.digest(d) })
	if err != nil {
		return nil, err
	}
	sums := totals(d)
	if got := content(sums); got != want.Content {
		return sums, fmt.Errorf("the file's values are not those that were handed over (%s where %s belongs)", got, want.Content)
	}
	return sums, nil
}

// digest sums up every column of the file, page by page.
func (p *opened) digest(d []digest) error {
	for c := range p.schema.Columns {
		k := newCursor(p, c)
		for {
			err := k.nextPage()
			if err == io.EOF {
				break
			}
			if err != nil {
				k.close()
				return err
			}
			k.sum(&d[c])
		}
		k.close()
		if d[c].rows != p.rows {
			return fmt.Errorf("column %s has %d rows where %d belong", p.schema.Columns[c].Name, d[c].rows, p.rows)
		}
	}
	return nil
}

// scan visits rows first..first+n of the file in batches, with the columns of dst, which stand at
// the places given in the file.
func (p *opened) scan(places []int, first, n int64, dst *Rows, visit func(*Rows) error) error {
	cursors := make([]*cursor, len(places))
	for i, c := range places {
		cursors[i] = newCursor(p, c)
		defer cursors[i].close()
		if err := guard(func() error { return cursors[i].seek(first) }); err != nil {
			return err
		}
	}
	for n > 0 {
		m := int(min(n, scanRows))
		dst.Reset()
		dst.extend(m)
		err := guard(func() error {
			for i, k := range cursors {
				if err := k.read(dst, i, m); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			return err
		}
		if err := visit(dst); err != nil {
			return err
		}
		n -= int64(m)
	}
	return nil
}

// choose returns the places of named columns, all when none is named, and a batch of them.
func choose(s *Schema, names []string) ([]int, *Rows, error) {
	if len(names) == 0 {
		places := make([]int, len(s.Columns))
		for i := range places {
			places[i] = i
		}
		return places, newRows(s.Columns), nil
	}
	places, columns := make([]int, len(names)), make([]Column, len(names))
	for i, name := range names {
		places[i] = s.Index(name)
		if places[i] < 0 {
			return nil, nil, fmt.Errorf("table %s has no column %s; its columns are listed under the key %s of each part", s.Table, name, metaColumns)
		}
		columns[i] = s.Columns[places[i]]
	}
	return places, newRows(columns), nil
}

// ScanTable visits all rows of one Parquet file that this package wrote, in batches, with the
// named columns, or all when none is named. The batch is used again: visit does not keep it.
func ScanTable(path string, columns []string, visit func(*Rows) error) error {
	p, err := openPath(path, nil)
	if err != nil {
		return fmt.Errorf("%s does not read: %w", path, err)
	}
	defer p.Close()
	places, dst, err := choose(p.schema, columns)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return p.scan(places, 0, p.rows, dst, visit)
}

// TableSchema returns the schema of one Parquet file that this package wrote.
func TableSchema(path string) (*Schema, error) {
	p, err := openPath(path, nil)
	if err != nil {
		return nil, fmt.Errorf("%s does not read: %w", path, err)
	}
	defer p.Close()
	return p.schema, nil
}

package record

// SizeOf returns how many bytes rows of a table take in a part, without what a part has once: for an
// estimate before anything is written.
func SizeOf(s *Schema, r *Rows) (int64, error) {
	if err := r.Err(); err != nil {
		return 0, err
	}
	var size [2]int64
	for i, rows := range []*Rows{newRows(s.Columns), r} {
		out := &nowhere{}
		w, err := newWriter(out, s)
		if err != nil {
			return 0, err
		}
		t := &Table{schema: s, options: DefaultOptions(), digests: newDigests(s.Columns), group: rowsPerGroup(s),
			kit: &kit{writer: w, columns: w.ColumnWriters(), scratch: newScratch()}}
		if err := t.Append(rows); err != nil {
			return 0, err
		}
		if err := w.Close(); err != nil {
			return 0, err
		}
		size[i] = out.bytes
	}
	return size[1] - size[0], nil
}

// nowhere counts what is written and keeps none of it.
type nowhere struct{ bytes int64 }

func (n *nowhere) Write(b []byte) (int, error) {
	n.bytes += int64(len(b))
	return len(b), nil
}

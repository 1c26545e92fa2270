package studies

import (
	"strings"

	"trammel/studies/record"
)

// layouts lays out the two tables of a study folder as the study asks: with `precision: single`,
// measures and losses are kept as four bytes. Varied numbers, score and violation stay as they are, so
// that a run can be made again to the same digits and ranks where it did.
func (st *Study) layouts() (*runColumns, *curveColumns, error) {
	runs, err := st.runLayout()
	if err != nil {
		return nil, nil, err
	}
	curves := st.curveLayout()
	if st.File.Record.Single {
		for i := range runs.schema.Columns {
			c := &runs.schema.Columns[i]
			kind, _, _ := strings.Cut(c.Name, "_")
			if c.Type == record.Float64 && (kind == "got" || kind == "miss" || kind == "drawn" || kind == "over") {
				c.Type = record.Float32
			}
		}
		for i := range curves.schema.Columns {
			if c := &curves.schema.Columns[i]; c.Type == record.Float64 {
				c.Type = record.Float32
			}
		}
	}
	return runs, curves, nil
}

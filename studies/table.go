package studies

import (
	"bufio"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"trammel/studies/files"
	"trammel/studies/record"
)

// Format is a form in which a table is written.
type Format string

// The formats of tables.
const (
	FormatTable   Format = "table"   // aligned text for a terminal, with as many digits as a builder can use
	FormatCSV     Format = "csv"     // RFC 4180, shortest exact decimals, an empty cell for null
	FormatJSON    Format = "json"    // columns with units and meanings, and rows
	FormatParquet Format = "parquet" // a file, so it needs a path
)

// ParseFormat finds a format by name; the error is a usage error that lists them.
func ParseFormat(name string) (Format, error) {
	for _, f := range []Format{FormatTable, FormatCSV, FormatJSON, FormatParquet} {
		if name == string(f) {
			return f, nil
		}
	}
	return "", usagef("%q is no format of a table; write table, csv, json or parquet", name)
}

// Table is rows with the description of their columns: what every command that lists something returns.
type Table struct {
	Schema  record.Schema
	Rows    *record.Rows
	Lengths files.Unit // in which aligned text shows lengths; the other formats keep the columns' units
	Notes   []string   // what a reader may wonder at, each a sentence without its full stop; no part of what Write writes
}

// valued tells whether a column has a value in any row.
func (t *Table) valued(column int) bool {
	for r := range t.Rows.Len() {
		if t.Rows.Cell(column, r) != nil {
			return true
		}
	}
	return false
}

// newTable returns an empty table with the columns of the schema.
func newTable(s record.Schema) *Table {
	return &Table{Schema: s, Rows: record.NewRows(&s)}
}

// Write writes the table as text, CSV or JSON. Parquet goes to a file: see WriteParquet.
func (t *Table) Write(w io.Writer, format Format) error {
	b := bufio.NewWriter(w)
	var err error
	switch format {
	case FormatTable:
		t.writeText(b)
	case FormatCSV:
		err = t.writeCSV(b)
	case FormatJSON:
		err = t.writeJSON(b)
	case FormatParquet:
		return usagef("a parquet table is written to a file; name one with -o FILE")
	default:
		return usagef("%q is no format of a table; write table, csv, json or parquet", string(format))
	}
	if err != nil {
		return err
	}
	return b.Flush()
}

// WriteParquet writes the table as a Parquet file of its own.
func (t *Table) WriteParquet(path string) error {
	f, err := record.CreateTable(path, t.Schema, record.DefaultOptions())
	if err != nil {
		return err
	}
	if err := f.Append(t.Rows); err != nil {
		f.Abandon()
		return err
	}
	return f.Close()
}

func (t *Table) writeCSV(w io.Writer) error {
	c := csv.NewWriter(w)
	c.UseCRLF = true
	line := make([]string, len(t.Schema.Columns))
	for i, col := range t.Schema.Columns {
		line[i] = col.Name
	}
	err := c.Write(line)
	for r := 0; r < t.Rows.Len() && err == nil; r++ {
		for i := range line {
			line[i] = exact(t.Rows.Cell(i, r))
		}
		err = c.Write(line)
	}
	c.Flush()
	if err != nil {
		return err
	}
	return c.Error()
}

// exact is a cell as the shortest text that reads back as the same value; "" for null.
func exact(cell any) string {
	switch v := cell.(type) {
	case nil:
		return ""
	case float64:
		return strconv.FormatFloat(v, 'f', -1, 64)
	default:
		return fmt.Sprint(v)
	}
}

// writeJSON writes {"table", "columns", "rows"}, the keys of a row in the order of the columns.
func (t *Table) writeJSON(w io.Writer) error {
	type column struct {
		Name    string `json:"name"`
		Unit    string `json:"unit"`
		Meaning string `json:"meaning"`
	}
	columns := make([]column, len(t.Schema.Columns))
	for i, c := range t.Schema.Columns {
		columns[i] = column{c.Name, c.Unit, c.Meaning}
	}
	name, err := json.Marshal(t.Schema.Table)
	if err != nil {
		return err
	}
	head, err := json.MarshalIndent(columns, "  ", "  ")
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "{\n  \"table\": %s,\n  \"columns\": %s,\n  \"rows\": [", name, head)
	for r := range t.Rows.Len() {
		if r > 0 {
			io.WriteString(w, ",")
		}
		io.WriteString(w, "\n    {")
		for i, c := range t.Schema.Columns {
			cell, err := json.Marshal(t.Rows.Cell(i, r))
			if err != nil {
				return err
			}
			if i > 0 {
				io.WriteString(w, ", ")
			}
			fmt.Fprintf(w, "%q: %s", c.Name, cell)
		}
		io.WriteString(w, "}")
	}
	_, err = io.WriteString(w, "\n  ]\n}\n")
	return err
}

// digitsOf is how many digits after the point a builder can use of a number in that unit.
var digitsOf = map[string]int{
	"": 4, "mm": 2, "in": 4, "deg": 3, "deg/mm": 5, "1/mm": 6, "%": 1,
}

// textWidth is how wide a block of an aligned table may grow before the table goes on below.
const textWidth = 110

// motionColumn tells the motions of a table apart; a blank line parts them in an aligned one.
const motionColumn = "motion"

// keyColumns say where a row is; they stand at the left of every block.
var keyColumns = []string{record.RunColumn, motionColumn, "wheel_travel_mm", "left_wheel_travel_mm", "right_wheel_travel_mm", "rack_travel_mm", "body_roll_deg"}

// writeText writes aligned columns under their names, folded at underscores, and their units. A table
// too wide for a terminal goes on in further blocks, each with the columns that say where a row is.
func (t *Table) writeText(w *bufio.Writer) {
	var keys, rest []textColumn
	for i, c := range t.Schema.Columns {
		if col := t.textColumn(i); slices.Contains(keyColumns, c.Name) {
			keys = append(keys, col)
		} else {
			rest = append(rest, col)
		}
	}
	for first := true; first || len(rest) > 0; first = false {
		if !first {
			w.WriteByte('\n')
		}
		block, width := slices.Clone(keys), 0
		for _, k := range keys {
			width += k.width + 2
		}
		for len(rest) > 0 && (len(block) == len(keys) || width+rest[0].width <= textWidth) {
			width += rest[0].width + 2
			block, rest = append(block, rest[0]), rest[1:]
		}
		writeBlock(w, block, t.breaks())
	}
}

// breaks tells before which rows another motion begins.
func (t *Table) breaks() []bool {
	out := make([]bool, t.Rows.Len())
	if at := t.Rows.Index(motionColumn); at >= 0 {
		for r := 1; r < len(out); r++ {
			out[r] = t.Rows.Cell(at, r) != t.Rows.Cell(at, r-1)
		}
	}
	return out
}

// textColumn is a column of an aligned table, ready to print.
type textColumn struct {
	head  []string // the folded name, then the unit
	cells []string
	left  bool
	width int
}

func (t *Table) textColumn(i int) textColumn {
	c := t.Schema.Columns[i]
	out := textColumn{left: c.Type == record.Text, cells: make([]string, t.Rows.Len())}
	name := c.Name
	if c.Unit != "" {
		for _, suffix := range []string{"_deg_per_deg", "_deg_per_mm", "_per_mm", "_percent", "_deg", "_mm", "_in"} {
			if s, ok := strings.CutSuffix(c.Name, suffix); ok {
				name = s
				break
			}
		}
	}
	const fold = 12
	line := ""
	for _, word := range strings.Split(name, "_") {
		if line != "" && len(line)+1+len(word) > fold {
			out.head, line = append(out.head, line), ""
		}
		line = strings.TrimSpace(line + " " + word)
	}
	unit := c.Unit
	if unit == files.Millimetre.String() && t.Lengths == files.Inch {
		unit = files.Inch.String()
	}
	out.head = append(out.head, line, unit)
	digits, known := digitsOf[unit]
	if !known {
		digits = 4
	}
	for r := range out.cells {
		cell := t.Rows.Cell(i, r)
		if v, ok := cell.(float64); ok && unit != c.Unit {
			cell = v / 25.4
		}
		out.cells[r] = rounded(cell, digits)
	}
	for _, s := range slices.Concat(out.head, out.cells) {
		out.width = max(out.width, utf8.RuneCountInString(s))
	}
	return out
}

// rounded is a cell for the eye; "-" for null.
func rounded(cell any, digits int) string {
	switch v := cell.(type) {
	case nil:
		return "-"
	case float64:
		s := strconv.FormatFloat(v, 'f', digits, 64)
		if math.Abs(v) < 1 && strings.Trim(s, "-0.") == "" {
			s = strings.TrimPrefix(s, "-") // no minus sign before nothing
		}
		return s
	default:
		return fmt.Sprint(v)
	}
}

// writeBlock writes columns side by side, with a blank line before the rows that breaks names.
func writeBlock(w *bufio.Writer, block []textColumn, breaks []bool) {
	high := 0
	for _, c := range block {
		high = max(high, len(c.head))
	}
	line := func(cell func(c *textColumn) string) {
		var b strings.Builder
		for i := range block {
			c := &block[i]
			s := cell(c)
			gap := strings.Repeat(" ", c.width-utf8.RuneCountInString(s))
			if i > 0 {
				b.WriteString("  ")
			}
			if c.left {
				b.WriteString(s + gap)
			} else {
				b.WriteString(gap + s)
			}
		}
		w.WriteString(strings.TrimRight(b.String(), " ") + "\n")
	}
	for h := range high {
		line(func(c *textColumn) string {
			// Names end on one line, units stand on the next.
			if k := h - (high - len(c.head)); k >= 0 {
				return c.head[k]
			}
			return ""
		})
	}
	if len(block) == 0 {
		return
	}
	for r := range block[0].cells {
		if breaks[r] {
			w.WriteByte('\n')
		}
		line(func(c *textColumn) string { return c.cells[r] })
	}
}

package record

import (
	"errors"
	"fmt"
	"strings"
)

// Type is what a column holds.
type Type uint8

// The types of columns. How each is stored stands in layout.go.
const (
	Int64   Type = iota + 1 // whole numbers
	Float64                 // finite doubles
	Float32                 // finite doubles kept in single precision
	Bool                    // true or false
	Text                    // UTF-8, few distinct values
)

// String returns the name of the type as the manifest writes it.
func (t Type) String() string {
	switch t {
	case Int64:
		return "int64"
	case Float64:
		return "float64"
	case Float32:
		return "float32"
	case Bool:
		return "bool"
	case Text:
		return "text"
	}
	return fmt.Sprintf("type(%d)", uint8(t))
}

// MarshalText writes the name of the type.
func (t Type) MarshalText() ([]byte, error) {
	if t < Int64 || t > Text {
		return nil, fmt.Errorf("%v is not a type of column", t)
	}
	return []byte(t.String()), nil
}

// UnmarshalText reads the name of the type.
func (t *Type) UnmarshalText(b []byte) error {
	for k := Int64; k <= Text; k++ {
		if string(b) == k.String() {
			*t = k
			return nil
		}
	}
	return fmt.Errorf("%q is not a type of column; the types are int64, float64, float32, bool and text", b)
}

// Column describes one column of a table.
type Column struct {
	Name     string `json:"name"` // flat lower_snake, see ColumnName
	Type     Type   `json:"type"`
	Nullable bool   `json:"nullable,omitempty"`
	Meaning  string `json:"meaning,omitempty"` // one sentence, for the notebook's reader
	Unit     string `json:"unit,omitempty"`
}

// The tables of a study folder; each is a folder of parts of that name.
const (
	TableRuns   = "runs"   // one row per candidate; its first column is the run number
	TableCurves = "curves" // one row per recorded run, motion and position; the same first column
)

// RunColumn is the name of the first column of both tables of a study folder.
const RunColumn = "run"

// Schema is a table's fixed shape: its columns, in the order in which the file has them, and
// key-values that go into every part.
type Schema struct {
	Table   string            `json:"table"` // TableRuns or TableCurves in a study folder; free elsewhere
	Columns []Column          `json:"columns"`
	Meta    map[string]string `json:"meta,omitempty"`
}

// Index returns the place of a column, or -1.
func (s *Schema) Index(name string) int {
	for i := range s.Columns {
		if s.Columns[i].Name == name {
			return i
		}
	}
	return -1
}

// Check reports what is wrong with the schema: every fault at once, or nil.
func (s *Schema) Check() error {
	var faults []error
	if len(s.Columns) == 0 {
		faults = append(faults, fmt.Errorf("table %s has no columns; it needs at least one", s.Table))
	}
	seen := make(map[string]int, len(s.Columns))
	for i, c := range s.Columns {
		if !isColumnName(c.Name) {
			faults = append(faults, fmt.Errorf("column %d of table %s is called %q; a column's name has only a-z, 0-9 and underscores and begins with a letter, such as %q", i+1, s.Table, c.Name, ColumnName(c.Name)))
		}
		if c.Type < Int64 || c.Type > Text {
			faults = append(faults, fmt.Errorf("column %s of table %s has no type; it needs int64, float64, float32, bool or text", c.Name, s.Table))
		}
		if j, ok := seen[c.Name]; ok {
			faults = append(faults, fmt.Errorf("columns %d and %d of table %s are both called %s; every column needs a name of its own", j+1, i+1, s.Table, c.Name))
		}
		seen[c.Name] = i
	}
	for k := range s.Meta {
		if k == "" || strings.HasPrefix(k, reservedMeta) {
			faults = append(faults, fmt.Errorf("the key %q of table %s cannot be used; keys are not empty and do not begin with %q", k, s.Table, reservedMeta))
		}
	}
	return errors.Join(faults...)
}

// checkFolder reports what a study folder asks of a table beyond Check.
func (s *Schema) checkFolder() error {
	if err := s.Check(); err != nil {
		return err
	}
	if s.Table != TableRuns && s.Table != TableCurves {
		return fmt.Errorf("a study folder has the tables %s and %s, and %q is neither", TableRuns, TableCurves, s.Table)
	}
	if c := s.Columns[0]; c.Name != RunColumn || c.Type != Int64 || c.Nullable {
		return fmt.Errorf("the first column of table %s is %s (%v); it must be %s, of int64 and never null", s.Table, c.Name, c.Type, RunColumn)
	}
	return nil
}

// sameShape says whether two schemas have the same columns, whatever their meanings.
func (s *Schema) sameShape(o *Schema) error {
	if len(s.Columns) != len(o.Columns) {
		return fmt.Errorf("table %s has %d columns where %d belong", s.Table, len(o.Columns), len(s.Columns))
	}
	for i, c := range s.Columns {
		if d := o.Columns[i]; c.Name != d.Name || c.Type != d.Type || c.Nullable != d.Nullable {
			return fmt.Errorf("column %d of table %s is %s where %s belongs", i+1, s.Table, d.shape(), c.shape())
		}
	}
	return nil
}

func (c Column) shape() string {
	if c.Nullable {
		return fmt.Sprintf("%s (%v, may be null)", c.Name, c.Type)
	}
	return fmt.Sprintf("%s (%v)", c.Name, c.Type)
}

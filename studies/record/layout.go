package record

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
	"strconv"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/compress/zstd"
	"github.com/parquet-go/parquet-go/format"
)

// How a table is laid out in Parquet:
//
//	Int64    INT64, delta binary packed
//	Float64  DOUBLE, byte stream split
//	Float32  FLOAT, byte stream split
//	Bool     BOOLEAN, plain
//	Text     BYTE_ARRAY with the string annotation, dictionary
//
// all with zstd at its fastest; nullable columns OPTIONAL, the others REQUIRED. Byte stream split
// puts the first bytes of all doubles together, then the second, and so on: signs and exponents
// then compress, which no dictionary of doubles would do. Pages carry checksums.
const (
	pageBytes  = 256 << 10
	groupRows  = 128 << 10 // rows of a row group at most
	groupBytes = 32 << 20
	groupStep  = 8192    // of which the rows of a row group are a multiple
	scanRows   = 512     // rows read at a time
	dictBytes  = 1 << 20 // of a column's distinct texts, after which the rest is written plainly
)

// reservedMeta begins the keys that this package writes itself.
const reservedMeta = "trammel.record."

const (
	metaFormat  = reservedMeta + "format"  // of the record, see FormatVersion
	metaTable   = reservedMeta + "table"   // name of the table
	metaColumns = reservedMeta + "columns" // JSON: name, type, nullable, meaning and unit of each column
)

// node is the root of a schema whose columns stay in the order declared; parquet.Group sorts them.
type node struct {
	parquet.Group
	fields []parquet.Field
}

func (n *node) Fields() []parquet.Field { return n.fields }

// field is a column under the root.
type field struct {
	parquet.Node
	name string
}

func (f *field) Name() string { return f.name }

func (f *field) Value(base reflect.Value) reflect.Value {
	return base.MapIndex(reflect.ValueOf(f.name))
}

// leaf returns the Parquet node of a column.
func leaf(c Column) parquet.Node {
	var n parquet.Node
	switch c.Type {
	case Int64:
		n = parquet.Encoded(parquet.Leaf(parquet.Int64Type), &parquet.DeltaBinaryPacked)
	case Float64:
		n = parquet.Encoded(parquet.Leaf(parquet.DoubleType), &parquet.ByteStreamSplit)
	case Float32:
		n = parquet.Encoded(parquet.Leaf(parquet.FloatType), &parquet.ByteStreamSplit)
	case Bool:
		n = parquet.Encoded(parquet.Leaf(parquet.BooleanType), &parquet.Plain)
	case Text:
		n = parquet.Encoded(parquet.String(), &parquet.RLEDictionary)
	default:
		panic(fmt.Sprintf("record: column %s has no type", c.Name))
	}
	if c.Nullable {
		n = parquet.Optional(n)
	}
	return n
}

// layout returns the Parquet schema of a table.
func layout(s *Schema) *parquet.Schema {
	root := &node{Group: parquet.Group{}}
	for _, c := range s.Columns {
		f := &field{Node: leaf(c), name: c.Name}
		root.Group[c.Name] = f.Node
		root.fields = append(root.fields, f)
	}
	name := s.Table
	if name == "" {
		name = "table"
	}
	return parquet.NewSchema(name, root)
}

// newWriter returns a Parquet writer for the table. The schema has been checked.
func newWriter(w io.Writer, s *Schema) (*parquet.GenericWriter[any], error) {
	columns, err := json.Marshal(s.Columns)
	if err != nil {
		return nil, err
	}
	options := []parquet.WriterOption{
		layout(s),
		parquet.Compression(&zstd.Codec{Level: zstd.SpeedFastest}),
		parquet.CreatedBy("trammel", strconv.Itoa(FormatVersion), "record"),
		parquet.PageBufferSize(pageBytes),
		parquet.DictionaryMaxBytes(dictBytes),
		parquet.DataPageStatistics(false), // the page index and the column chunks have them
		parquet.KeyValueMetadata(metaFormat, strconv.Itoa(FormatVersion)),
		parquet.KeyValueMetadata(metaTable, s.Table),
		parquet.KeyValueMetadata(metaColumns, string(columns)),
	}
	for k, v := range s.Meta {
		options = append(options, parquet.KeyValueMetadata(k, v))
	}
	return parquet.NewGenericWriter[any](w, options...), nil
}

// rowsPerGroup is how many rows a row group of the table takes.
func rowsPerGroup(s *Schema) int {
	wide := 0
	for _, c := range s.Columns {
		switch c.Type {
		case Int64, Float64:
			wide += 8
		case Float32, Text:
			wide += 4
		default:
			wide++
		}
	}
	n := groupBytes / wide / groupStep * groupStep
	return min(max(n, groupStep), groupRows)
}

// schemaOf reads back the schema that a file declares: names, types and nullability as Parquet
// has them, meanings and units from the key-values.
func schemaOf(f *parquet.File) (*Schema, error) {
	s := &Schema{Meta: map[string]string{}}
	var declared []Column
	for _, kv := range f.Metadata().KeyValueMetadata {
		switch kv.Key {
		case metaFormat:
			if v, err := strconv.Atoi(kv.Value); err != nil || v > FormatVersion {
				return nil, fmt.Errorf("the file has record format %q; this build reads up to %d, so a newer one is needed", kv.Value, FormatVersion)
			}
		case metaTable:
			s.Table = kv.Value
		case metaColumns:
			if err := json.Unmarshal([]byte(kv.Value), &declared); err != nil {
				return nil, fmt.Errorf("the file's key %s does not read: %w", metaColumns, err)
			}
		default:
			s.Meta[kv.Key] = kv.Value
		}
	}
	for _, col := range f.Root().Columns() {
		c, err := columnOf(col)
		if err != nil {
			return nil, err
		}
		s.Columns = append(s.Columns, c)
	}
	if len(declared) > 0 {
		if err := s.sameShape(&Schema{Table: s.Table, Columns: declared}); err != nil {
			return nil, err
		}
		s.Columns = declared
	}
	return s, s.Check()
}

// columnOf reads a column's type from the file.
func columnOf(col *parquet.Column) (Column, error) {
	c := Column{Name: col.Name(), Nullable: col.Optional()}
	if !col.Leaf() || col.Repeated() {
		return c, fmt.Errorf("column %s is nested or repeated; a record's columns are flat", c.Name)
	}
	switch col.Type().Kind() {
	case parquet.Int64:
		c.Type = Int64
	case parquet.Double:
		c.Type = Float64
	case parquet.Float:
		c.Type = Float32
	case parquet.Boolean:
		c.Type = Bool
	case parquet.ByteArray:
		lt := col.Type().LogicalType()
		if lt == nil {
			return c, errors.New("column " + c.Name + " holds bytes; a record has texts in UTF-8")
		}
		if _, ok := lt.Value.(*format.StringType); !ok {
			return c, errors.New("column " + c.Name + " holds bytes; a record has texts in UTF-8")
		}
		c.Type = Text
	default:
		return c, fmt.Errorf("column %s has the type %v, which no record has", c.Name, col.Type())
	}
	return c, nil
}

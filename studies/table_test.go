package studies

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"trammel/studies/record"
)

// smallTable has every type, nulls, and texts that CSV and JSON must quote.
func smallTable() *Table {
	t := newTable(record.Schema{Table: "small", Columns: []record.Column{
		{Name: "run", Type: record.Int64},
		{Name: "word", Type: record.Text, Nullable: true},
		{Name: "camber_gain_deg_per_mm", Type: record.Float64, Nullable: true, Unit: "deg/mm", Meaning: "slope"},
		{Name: "met", Type: record.Bool},
	}})
	for i, word := range []string{`say "no", twice`, "", "two\nlines"} {
		t.Rows.Next()
		t.Rows.Int(0, int64(20000000000000+i))
		if word != "" {
			t.Rows.Text(1, word)
			t.Rows.Float(2, float64(i)*0.1-1e-9)
		}
		t.Rows.Bool(3, i == 1)
	}
	return t
}

// TestCSVReadsBack: the standard library's reader of RFC 4180 gives back every cell to the bit.
func TestCSVReadsBack(t *testing.T) {
	tb := smallTable()
	var b bytes.Buffer
	if err := tb.Write(&b, FormatCSV); err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(b.String(), "\r\n"); n < 4 {
		t.Errorf("%d line ends of RFC 4180 (CR LF); want one for each of 4 records", n)
	}
	lines, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(lines) != 4 || lines[0][2] != "camber_gain_deg_per_mm" {
		t.Fatalf("%q", lines)
	}
	for r := range 3 {
		want, ok := tb.Rows.FloatAt(2, r)
		if !ok {
			if lines[r+1][2] != "" || lines[r+1][1] != "" {
				t.Errorf("null is %q", lines[r+1])
			}
			continue
		}
		if got, err := strconv.ParseFloat(lines[r+1][2], 64); err != nil || got != want {
			t.Errorf("row %d: %q is not %v", r, lines[r+1][2], want)
		}
		if w, _ := tb.Rows.TextAt(1, r); lines[r+1][1] != w {
			t.Errorf("row %d: %q is not %q", r, lines[r+1][1], w)
		}
	}
}

func TestJSONReadsBack(t *testing.T) {
	tb := smallTable()
	var b bytes.Buffer
	if err := tb.Write(&b, FormatJSON); err != nil {
		t.Fatal(err)
	}
	var doc struct {
		Table   string
		Columns []struct{ Name, Unit, Meaning string }
		Rows    []map[string]any
	}
	d := json.NewDecoder(&b)
	d.UseNumber()
	if err := d.Decode(&doc); err != nil {
		t.Fatal(err)
	}
	if doc.Table != "small" || len(doc.Columns) != 4 || doc.Columns[2].Unit != "deg/mm" || len(doc.Rows) != 3 {
		t.Fatalf("%+v", doc)
	}
	if v, there := doc.Rows[1]["word"]; !there || v != nil {
		t.Errorf("null is %v (%v)", v, there)
	}
	if v := doc.Rows[2]["run"].(json.Number).String(); v != "20000000000002" {
		t.Errorf("run is %s", v)
	}
	if v, _ := doc.Rows[0]["camber_gain_deg_per_mm"].(json.Number).Float64(); v != -1e-9 {
		t.Errorf("a small number is %v", v)
	}
}

func TestParquetReadsBack(t *testing.T) {
	tb := smallTable()
	path := filepath.Join(t.TempDir(), "small.parquet")
	if err := tb.WriteParquet(path); err != nil {
		t.Fatal(err)
	}
	n := 0
	err := record.ScanTable(path, []string{"run", "word", "camber_gain_deg_per_mm", "met"}, func(r *record.Rows) error {
		for i := range r.Len() {
			for c := range 4 {
				if r.Cell(c, i) != tb.Rows.Cell(c, n) {
					t.Errorf("row %d column %d: %v is not %v", n, c, r.Cell(c, i), tb.Rows.Cell(c, n))
				}
			}
			n++
		}
		return nil
	})
	if err != nil || n != 3 {
		t.Errorf("%d rows, %v", n, err)
	}
	if err := tb.Write(&bytes.Buffer{}, FormatParquet); err == nil || !IsUsage(err) {
		t.Errorf("parquet on a terminal gives %v; want a usage error", err)
	}
}

func TestTextOfNumbers(t *testing.T) {
	for _, x := range []struct {
		cell   any
		digits int
		want   string
	}{
		{-0.0001, 2, "0.00"}, {-0.005001, 2, "-0.01"}, {nil, 2, "-"}, {12.3456, 1, "12.3"}, {true, 0, "true"}, {int64(7), 3, "7"}, {-0.4, 0, "0"},
	} {
		if got := rounded(x.cell, x.digits); got != x.want {
			t.Errorf("%v to %d digits is %q; want %q", x.cell, x.digits, got, x.want)
		}
	}
}

// TestWideTablesGoOnBelow: no line outgrows a terminal, and each block says where its rows are.
func TestWideTablesGoOnBelow(t *testing.T) {
	st, err := ReadExample("corncrake")
	if err != nil {
		t.Fatal(err)
	}
	tb, err := Cycle(st.Geometry, CycleOptions{Measures: []string{"all"}, Wheel: []float64{-10, 0, 10}})
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := tb.Write(&b, FormatTable); err != nil {
		t.Fatal(err)
	}
	blocks := strings.Split(b.String(), "\n\n")
	if len(blocks) < 2 {
		t.Error("every measure fits one block; want several")
	}
	for _, block := range blocks {
		if !strings.Contains(block, "wheel travel") || !strings.Contains(block, "rack travel") {
			t.Errorf("a block does not say where its rows are:\n%s", block)
		}
		for _, line := range strings.Split(block, "\n") {
			if len(line) > textWidth+2 {
				t.Errorf("a line of %d characters: %s", len(line), line)
			}
		}
	}
}

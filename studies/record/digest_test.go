package record

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/cespare/xxhash/v2"
)

// oneColumn writes rows of one nullable column of doubles; nil is null.
func oneColumn(t *testing.T, values ...any) (Part, []byte) {
	t.Helper()
	s := Schema{Table: "t", Columns: []Column{{Name: "x", Type: Float64, Nullable: true}}}
	path := filepath.Join(t.TempDir(), "t.parquet")
	table, err := createTable(path, &s, quickOptions(), nil)
	if err != nil {
		t.Fatal(err)
	}
	r := NewRows(&s)
	for _, v := range values {
		r.Next()
		if x, ok := v.(float64); ok {
			r.Float(0, x)
		}
	}
	if err := table.Append(r); err != nil {
		t.Fatal(err)
	}
	p, err := table.finish()
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return p, b
}

func TestContentTellsRowsApart(t *testing.T) {
	seen := map[string][]any{}
	for _, values := range [][]any{
		{}, {nil}, {nil, nil}, {0.0}, {1.0, 2.0}, {2.0, 1.0}, {1.0, nil, 2.0}, {nil, 1.0, 2.0}, {1.0, 2.0, nil}, {3.0}, {1.0, 1.0, 1.0}, {1.5, 1.5},
	} {
		p, _ := oneColumn(t, values...)
		if other, ok := seen[p.Content]; ok {
			t.Errorf("%v and %v have one hash", values, other)
		}
		seen[p.Content] = values
	}
}

// TestContentIsCompared gives a sound file to a part that was handed other values.
func TestContentIsCompared(t *testing.T) {
	p, b := oneColumn(t, 1.0, nil, 2.0)
	q, _ := oneColumn(t, nil, 1.0, 2.0)
	s := Schema{Table: "t", Columns: []Column{{Name: "x", Type: Float64, Nullable: true}}}
	if _, err := checkPart(bytes.NewReader(b), int64(len(b)), &p, &s); err != nil {
		t.Fatal(err)
	}
	p.Content = q.Content
	if _, err := checkPart(bytes.NewReader(b), int64(len(b)), &p, &s); err == nil || !strings.Contains(err.Error(), "not those that were handed over") {
		t.Fatalf("got %v", err)
	}
	p.Rows++
	if _, err := checkPart(bytes.NewReader(b), int64(len(b)), &p, &s); err == nil || !strings.Contains(err.Error(), "has 3 rows where 4 belong") {
		t.Fatalf("got %v", err)
	}
}

// TestHashes compares the two hashes with known values. xxHash64 with seed 0 of nothing and of
// "a": Y. Collet, xxHash, test vectors (quoted from memory).
func TestHashes(t *testing.T) {
	if got := hex64(xxhash.Sum64String("")); got != "ef46db3751d8e999" {
		t.Errorf("hash of nothing is %s", got)
	}
	if got := hex64(xxhash.Sum64String("a")); got != "d24ec4f1a98c6e5b" {
		t.Errorf("hash of a is %s", got)
	}
	// SHA-256 of the empty input begins e3b0c44298fc1c14 (FIPS 180-4, from memory).
	if got := checksum("", nil); got != "e3b0c44298fc1c14" {
		t.Errorf("checksum of nothing is %s", got)
	}
}

package record

import (
	"bytes"
	"cmp"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// exampleFolder makes a small study and returns its manifest and its first part.
func exampleFolder(t testing.TB) (manifest, part []byte, named Part) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "larch")
	c := newClock()
	n := night{blocks: []int{5}, curves: true, perSync: 2}
	if err := n.work(dir, c.options()); err != nil {
		t.Fatal(err)
	}
	v, err := Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	named = v.Parts(TableRuns)[0]
	manifest, err1 := os.ReadFile(filepath.Join(dir, manifestName))
	part, err2 := os.ReadFile(v.path(named.File))
	if err := errors.Join(err1, err2); err != nil {
		t.Fatal(err)
	}
	return manifest, part, named
}

// spoil changes bytes from a place on, and cuts the end off.
func spoil(b []byte, at uint32, change []byte, cut uint32) []byte {
	b = bytes.Clone(b)
	for i, x := range change {
		b[(int(at)+i)%len(b)] ^= x
	}
	return b[:len(b)-int(cut)%len(b)]
}

// FuzzManifestChanged changes a sound manifest: what is still believed is a beginning of it.
func FuzzManifestChanged(f *testing.F) {
	whole, _, _ := exampleFolder(f)
	f.Add(uint32(0), []byte{1}, uint32(0))
	f.Add(uint32(len(whole)-3), []byte{255, 1}, uint32(0))
	f.Add(uint32(900), []byte{}, uint32(1))
	f.Fuzz(func(t *testing.T, at uint32, change []byte, cut uint32) {
		now := spoil(whole, at, change, cut)
		l, end, err := readManifest(bytes.NewReader(now))
		if err != nil {
			checkSentence(t, err)
			return
		}
		if !bytes.Equal(now[:end.offset], whole[:end.offset]) {
			t.Fatalf("a changed manifest is believed up to byte %d", end.offset)
		}
		if int(l.n) != bytes.Count(whole[:end.offset], []byte{'\n'}) {
			t.Fatalf("%d entries in %d bytes", l.n, end.offset)
		}
		if (end.line == 0) != (int(end.offset) == len(now)) {
			t.Fatalf("%d of %d bytes hold, and the bad line is %d", end.offset, len(now), end.line)
		}
	})
}

// FuzzManifest seals any lines, so that they pass their checksums, and checks that what the
// ledger makes of them is in order.
func FuzzManifest(f *testing.F) {
	whole, _, _ := exampleFolder(f)
	var lines []string
	for line := range bytes.Lines(whole) {
		_, j, _ := split(line)
		lines = append(lines, string(j))
	}
	f.Add(strings.Join(lines, "\n"))
	f.Add(lines[0] + "\n" + `{"n":2,"entry":"finished","finished":[{"stage":0,"first":0,"last":3,"rows":0,"counts":{"evaluated":1,"kept":0,"feasible":0}}]}`)
	f.Add(lines[0] + "\n" + `{"n":2,"entry":"lost","files":["runs/part-000001.parquet"]}`)
	f.Add(lines[0] + "\n" + `{"n":2,"entry":"table","table":"curves","parts":[]}`)
	f.Fuzz(func(t *testing.T, text string) {
		var file []byte
		sum := ""
		for j := range strings.SplitSeq(text, "\n") {
			sum = checksum(sum, []byte(j))
			file = append(file, sum+" "+j+"\n"...)
		}
		l, _, err := readManifest(bytes.NewReader(file))
		if err != nil {
			checkSentence(t, err)
			return
		}
		checkLedger(t, l)
	})
}

// checkSentence refuses messages that come from inside.
func checkSentence(t *testing.T, err error) {
	t.Helper()
	if s := err.Error(); len(s) < 20 || strings.Contains(s, "runtime error") {
		t.Fatalf("no sentence: %q", s)
	}
}

// checkLedger checks what must hold of any manifest that is accepted.
func checkLedger(t *testing.T, l *ledger) {
	t.Helper()
	if !slices.IsSortedFunc(l.spans, func(a, b span) int { return cmp.Or(cmp.Compare(a.Stage, b.Stage), cmp.Compare(a.First, b.First)) }) {
		t.Fatal("spans are out of order")
	}
	var rows, curves, kept int64
	for i, s := range l.spans {
		if i > 0 && l.spans[i-1].Stage == s.Stage && l.spans[i-1].Last >= s.First {
			t.Fatalf("spans overlap: %+v", l.spans)
		}
		if l.find(s.Stage, s.First) != &l.spans[i] || l.find(s.Stage, s.Last) != &l.spans[i] {
			t.Fatalf("span %+v is not found", s)
		}
		rows += s.Rows
		curves += s.Curves
		kept += s.Counts.Kept
	}
	if kept != l.counts.Kept {
		t.Fatalf("%d rows kept in all, %d in the spans", l.counts.Kept, kept)
	}
	for _, p := range l.parts() {
		if l.schema(p.Table) == nil || filepath.Dir(filepath.FromSlash(p.File)) != p.Table {
			t.Fatalf("part %q of table %q", p.File, p.Table)
		}
		if p.Table == TableRuns {
			rows -= p.Rows
		} else if l.whole[p.Table] == nil {
			curves -= p.Rows
		}
	}
	if rows != 0 || curves != 0 {
		t.Fatalf("the spans have %d rows and %d of curves more than the parts", rows, curves)
	}
}

// FuzzPartChanged changes a sound part: it is refused unless nothing changed.
func FuzzPartChanged(f *testing.F) {
	_, whole, named := exampleFolder(f)
	s := small(TableRuns)
	f.Add(uint32(0), []byte{0}, uint32(0))
	f.Add(uint32(300), []byte{16}, uint32(0))
	f.Add(uint32(0), []byte{}, uint32(1))
	f.Fuzz(func(t *testing.T, at uint32, change []byte, cut uint32) {
		now := spoil(whole, at, change, cut)
		_, err := checkPart(bytes.NewReader(now), int64(len(now)), &named, &s)
		if (err == nil) != bytes.Equal(now, whole) {
			t.Fatalf("changed: %v, error: %v", !bytes.Equal(now, whole), err)
		}
		if err != nil {
			checkSentence(t, err)
		}
	})
}

// FuzzPart decodes any bytes as a part, past the checks that keep changed ones away: an error or
// the rows that the file states, and no panic.
func FuzzPart(f *testing.F) {
	_, whole, _ := exampleFolder(f)
	f.Add(uint32(0), []byte{0}, uint32(0))
	f.Add(uint32(len(whole)-100), []byte{16}, uint32(0))
	s := small(TableRuns)
	f.Fuzz(func(t *testing.T, at uint32, change []byte, cut uint32) {
		now := spoil(whole, at, change, cut)
		p, err := openPart(bytes.NewReader(now), int64(len(now)), &s)
		if err != nil {
			return
		}
		d := newDigests(s.Columns)
		if err := guard(func() error { return p.digest(d) }); err != nil {
			return
		}
		places, dst, err := choose(&s, nil)
		if err != nil {
			t.Fatal(err)
		}
		n := int64(0)
		err = p.scan(places, 0, p.rows, dst, func(r *Rows) error {
			n += int64(r.Len())
			return nil
		})
		if err == nil && n != p.rows {
			t.Fatalf("%d rows of %d", n, p.rows)
		}
	})
}

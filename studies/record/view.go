package record

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"
)

// View is a study folder as the manifest tells it. Several may read while one run writes: a view
// from Read shows what was finished when it was taken.
type View struct {
	dir     string
	ledger  *ledger
	end     int64 // of the sound lines of the manifest
	elapsed time.Duration
	states  map[blockKey][]byte // nil until they are read
	sound   map[string]bool     // parts whose bytes have been compared with the manifest
	torn    int64               // first line of the manifest that does not hold; 0 when all do
}

// Read takes a view of a study folder, without holding it.
func Read(dir string) (*View, error) {
	if !Exists(dir) {
		return nil, none(dir)
	}
	v := &View{dir: dir, sound: map[string]bool{}}
	t, err := v.load()
	if err != nil {
		return nil, err
	}
	if t.sound {
		return nil, &DamageError{dir, []string{damagedLine(t)}}
	}
	return v, nil
}

// load reads the manifest.
func (v *View) load() (tail, error) {
	f, err := os.Open(filepath.Join(v.dir, manifestName))
	if err != nil {
		return tail{}, trouble("opening", manifestName, err)
	}
	defer f.Close()
	l, t, err := readManifest(f)
	if err != nil {
		return t, fmt.Errorf("%s: %w", v.dir, err)
	}
	v.ledger, v.end, v.elapsed, v.torn = l, t.offset, l.elapsed, t.line
	return t, nil
}

// path returns the path of a part.
func (v *View) path(file string) string { return filepath.Join(v.dir, filepath.FromSlash(file)) }

// Torn returns a sentence on a torn end of the manifest, as a run that was killed leaves it and one at work may for a
// moment; "" when there is none.
func (v *View) Torn() string {
	if v.torn == 0 {
		return ""
	}
	return fmt.Sprintf("The end of %s, from line %d, is torn, as a run that is killed leaves it: what it named does not count, and the next run makes it again.", manifestName, v.torn)
}

// Dir returns the folder.
func (v *View) Dir() string { return v.dir }

// Header returns what the folder was made for.
func (v *View) Header() Header { return v.ledger.header }

// Schema returns the schema of a table; nil when the folder has no such table.
func (v *View) Schema(table string) *Schema { return v.ledger.schema(table) }

// Identity returns what the rows depend on, with the stages added since the folder was made.
func (v *View) Identity() (Identity, error) {
	var id Identity
	ok, err := v.Fact(factIdentity, &id)
	if !ok {
		id = v.ledger.header.Identity
	}
	return id, err
}

// Sessions returns the times that a run worked here, the first one first.
func (v *View) Sessions() []Session { return slices.Clone(v.ledger.session) }

// Done says whether a block is finished.
func (v *View) Done(stage, block int) bool { return v.ledger.find(stage, block) != nil }

// Finished returns the finished blocks as spans, by stage and block. Spans that follow on one
// another are not joined: each was finished by an entry of its own.
func (v *View) Finished() []Span {
	all := make([]Span, len(v.ledger.spans))
	for i := range v.ledger.spans {
		all[i] = v.ledger.spans[i].Span
	}
	return all
}

// Totals returns the counts of all finished blocks.
func (v *View) Totals() Counts {
	var c Counts
	c.Add(v.ledger.counts)
	return c
}

// Bytes returns what the parts that count take on the disk, of all tables.
func (v *View) Bytes() int64 { return v.ledger.bytes }

// Summaries returns what the caller kept with the blocks that are finished, in the order in which they
// were finished. See Folder.Summarise.
func (v *View) Summaries() []json.RawMessage {
	all := make([]json.RawMessage, len(v.ledger.sums))
	for i := range v.ledger.sums {
		all[i] = v.ledger.sums[i].value
	}
	return all
}

// Elapsed returns how long runs have worked here in all. It does not run backwards.
func (v *View) Elapsed() time.Duration { return v.elapsed }

// Parts returns the parts of a table, in the order in which they were written.
func (v *View) Parts(table string) []Part {
	return slices.DeleteFunc(v.ledger.parts(), func(p Part) bool { return p.Table != table })
}

// NumRows returns the number of rows of a table.
func (v *View) NumRows(table string) int64 {
	var n int64
	for _, p := range v.Parts(table) {
		n += p.Rows
	}
	return n
}

// Fact reads what the caller kept under a key into value; false when there is nothing.
func (v *View) Fact(key string, value any) (bool, error) {
	j, ok := v.ledger.facts[key]
	if !ok {
		return false, nil
	}
	if err := json.Unmarshal(j, value); err != nil {
		return true, fmt.Errorf("the fact %s in %s does not read: %w", key, manifestName, err)
	}
	return true, nil
}

// Frozen returns an input file as it was when the study began. One that is gone or has changed is a *FrozenError.
func (v *View) Frozen(name string) ([]byte, error) {
	for _, s := range v.ledger.header.Files {
		if s.Name != name {
			continue
		}
		data, err := os.ReadFile(filepath.Join(v.dir, name))
		switch {
		case errors.Is(err, fs.ErrNotExist):
			return nil, &FrozenError{v.dir, name, "is gone"}
		case err != nil:
			return nil, trouble("reading", filepath.Join(v.dir, name), err)
		case SumOf(name, data) != s:
			return nil, &FrozenError{v.dir, name, "has changed since the study began"}
		}
		return data, nil
	}
	return nil, fmt.Errorf("%s is no input file of the study in %s", name, v.dir)
}

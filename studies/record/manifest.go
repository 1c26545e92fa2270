package record

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"time"
)

// The manifest is a text file of lines
//
//	checksum JSON
//
// where the checksum, 16 hexadecimal digits, is the beginning of SHA-256 over the checksum of the
// line before, as written, and the JSON of this one. A line that was lost, moved, repeated or
// changed shows, and one damaged line can be told from a torn end: the line after it still fits.
const manifestName = "manifest.log"

// maxLine bounds a line, so that a damaged file cannot ask for all memory.
const maxLine = 256 << 20

// The kinds of entries.
const (
	entryHeader   = "header"   // the first line: what the folder belongs to, its tables
	entrySession  = "session"  // a run began to work here
	entryPause    = "pause"    // it ended
	entryFinished = "finished" // blocks, the parts with their rows, the checkpoint from which the searches go on
	entryTable    = "table"    // a table that is written as a whole, in place of what it was
	entryFact     = "fact"     // something the caller keeps: a stage's cut, the identity of added stages
	entryLost     = "lost"     // parts found missing or damaged: their blocks are not finished
)

// entry is one line of the manifest.
type entry struct {
	N       int64  `json:"n"` // counted from 1
	Entry   string `json:"entry"`
	At      string `json:"at,omitempty"`         // the clock, for people
	Elapsed int64  `json:"elapsed_ms,omitempty"` // worked so far, over all sessions

	Header *Header  `json:"header,omitempty"`
	Tables []Schema `json:"tables,omitempty"`

	Build string `json:"build,omitempty"` // of a session

	Key   string          `json:"key,omitempty"` // of a fact
	Value json.RawMessage `json:"value,omitempty"`

	Table    string          `json:"table,omitempty"` // of a table
	Parts    []Part          `json:"parts,omitempty"`
	Finished []Span          `json:"finished,omitempty"`
	States   *checkpoint     `json:"states,omitempty"`  // in place of the one before
	Summary  json.RawMessage `json:"summary,omitempty"` // the caller's, of the blocks finished
	Files    []string        `json:"files,omitempty"`   // lost
}

// Span is a run of consecutive blocks of one stage, whose rows stand one after another in the
// parts of the same entry.
type Span struct {
	Stage  int    `json:"stage"`
	First  int    `json:"first"` // blocks First to Last, both included
	Last   int    `json:"last"`
	Rows   int64  `json:"rows"`             // in runs
	Curves int64  `json:"curves,omitempty"` // in curves
	Counts Counts `json:"counts"`
	Each   []byte `json:"each"` // the same for every block, see appendEach
}

// Counts say what the candidates of a block came to, whether or not their rows were kept.
type Counts struct {
	Evaluated int64            `json:"evaluated"`
	Kept      int64            `json:"kept"`     // rows written
	Feasible  int64            `json:"feasible"` // without violation
	Status    map[string]int64 `json:"status,omitempty"`
}

// Add adds other counts to these.
func (c *Counts) Add(o Counts) {
	c.Evaluated += o.Evaluated
	c.Kept += o.Kept
	c.Feasible += o.Feasible
	for k, v := range o.Status {
		if c.Status == nil {
			c.Status = map[string]int64{}
		}
		c.Status[k] += v
	}
}

// seal returns the line of an entry that follows a line with the checksum given, and its own.
func seal(before string, e *entry) (line []byte, sum string, err error) {
	j, err := json.Marshal(e)
	if err != nil {
		return nil, "", err
	}
	sum = checksum(before, j)
	line = make([]byte, 0, len(sum)+len(j)+2)
	line = append(line, sum...)
	line = append(line, ' ')
	line = append(line, j...)
	return append(line, '\n'), sum, nil
}

func checksum(before string, j []byte) string {
	h := sha256.New()
	io.WriteString(h, before)
	h.Write(j)
	return hex.EncodeToString(h.Sum(nil)[:8])
}

// split takes a line apart; ok is false when it has not the form of an entry.
func split(line []byte) (sum string, j []byte, ok bool) {
	if len(line) < 19 || line[len(line)-1] != '\n' || line[16] != ' ' {
		return "", nil, false
	}
	for _, c := range line[:16] {
		if (c < '0' || c > '9') && (c < 'a' || c > 'f') {
			return "", nil, false
		}
	}
	return string(line[:16]), line[17 : len(line)-1], true
}

// tail says what stands after the last sound line of a manifest.
type tail struct {
	offset int64 // where the sound lines end
	line   int64 // number of the first bad line; 0 when there is none
	// sound is true when a later line finishes blocks: then the bad line is damage in the middle,
	// and not the torn end of a write.
	sound bool
}

// readManifest reads the entries up to the first line that does not hold. The header must hold.
func readManifest(r io.Reader) (*ledger, tail, error) {
	in := &lineReader{r: bufio.NewReaderSize(r, 1<<20)}
	l := newLedger()
	var t tail
	for {
		line, err := in.next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, t, fmt.Errorf("%s does not read: %w", manifestName, err)
		}
		sum, j, ok := split(line)
		if !ok || checksum(l.sum, j) != sum {
			t.line = l.n + 1
			if ok, err := in.anyFinished(line); err != nil {
				return nil, t, fmt.Errorf("%s does not read: %w", manifestName, err)
			} else if ok {
				t.sound = true
			}
			break
		}
		var e entry
		if err := decodeEntry(j, &e); err != nil {
			return nil, t, fmt.Errorf("%s, line %d is not an entry this build knows: %w. A newer build may have written it", manifestName, l.n+1, err)
		}
		if err := l.apply(&e); err != nil {
			return nil, t, fmt.Errorf("%s, line %d: %w", manifestName, l.n+1, err)
		}
		l.sum = sum
		t.offset += int64(len(line))
	}
	if l.n == 0 {
		return nil, t, errors.New(manifestName + " has no sound first line, so that nothing says what this folder holds. Choose another folder, or put the file back from a copy")
	}
	return l, t, nil
}

// decodeEntry reads an entry. Unknown fields are refused: what this build does not understand it
// must not pass over.
func decodeEntry(j []byte, e *entry) error {
	d := json.NewDecoder(bytes.NewReader(j))
	d.DisallowUnknownFields()
	if err := d.Decode(e); err != nil {
		return err
	}
	if d.InputOffset() != int64(len(j)) {
		return errors.New("something follows the entry")
	}
	return nil
}

// lineReader returns lines with their line feeds; a last line without one comes as it is.
type lineReader struct {
	r    *bufio.Reader
	line []byte
}

func (in *lineReader) next() ([]byte, error) {
	in.line = in.line[:0]
	for {
		piece, err := in.r.ReadSlice('\n')
		in.line = append(in.line, piece...)
		switch {
		case err == nil:
			return in.line, nil
		case err == bufio.ErrBufferFull && len(in.line) < maxLine:
		case err == io.EOF && len(in.line) > 0:
			return in.line, nil
		case err == bufio.ErrBufferFull:
			return in.line, nil // too long for an entry: a bad line
		default:
			return nil, err
		}
	}
}

// anyFinished says whether, after a bad line, one follows that fits to its predecessor and
// finishes blocks or writes a table or a fact.
func (in *lineReader) anyFinished(bad []byte) (bool, error) {
	before, _, fits := split(bad)
	for {
		line, err := in.next()
		if err == io.EOF {
			return false, nil
		}
		if err != nil {
			return false, err
		}
		sum, j, ok := split(line)
		if ok && fits && checksum(before, j) == sum {
			var e entry
			if decodeEntry(j, &e) == nil && (e.Entry == entryFinished || e.Entry == entryTable || e.Entry == entryFact || e.Entry == entryLost) {
				return true, nil
			}
		}
		before, fits = sum, ok
	}
}

// stamp writes the clock as the manifest does.
func stamp(t time.Time) string { return t.UTC().Format(time.RFC3339) }

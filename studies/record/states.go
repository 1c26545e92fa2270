package record

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"github.com/cespare/xxhash/v2"
)

// A checkpoint is one file with the states that blocks left and that are still needed, in place of the
// one before: a folder holds one. The file is a line that says what it is, and for each state its stage,
// its block and its length, as unsigned varints, and its bytes. The manifest names it with its hash, in
// the entry that finishes the blocks.
type checkpoint struct {
	File  string `json:"file"`
	Bytes int64  `json:"bytes"`
	Hash  string `json:"hash"` // xxHash64
}

const statesTitle = "trammel states 1\n"

func statesName(n int) string { return fmt.Sprintf("states-%06d.bin", n) }

// statesNumber is the inverse of statesName; -1 for any other name.
func statesNumber(base string) int {
	var n int
	if _, err := fmt.Sscanf(base, "states-%d.bin", &n); err != nil || n < 1 || statesName(n) != base {
		return -1
	}
	return n
}

func (c *checkpoint) check() error {
	if statesNumber(c.File) < 0 || c.Bytes <= 0 || len(c.Hash) != 16 {
		return fmt.Errorf("%q is no checkpoint, or has no bytes or hash", c.File)
	}
	return nil
}

// encodeStates writes states as a checkpoint has them.
func encodeStates(states map[blockKey][]byte) []byte {
	keys := make([]blockKey, 0, len(states))
	for k := range states {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, blockKey.compare)
	b := []byte(statesTitle)
	for _, k := range keys {
		b = binary.AppendUvarint(b, uint64(k.stage))
		b = binary.AppendUvarint(b, uint64(k.block))
		b = binary.AppendUvarint(b, uint64(len(states[k])))
		b = append(b, states[k]...)
	}
	return b
}

// decodeStates is the inverse of encodeStates.
func decodeStates(b []byte) (map[blockKey][]byte, error) {
	b, ok := bytes.CutPrefix(b, []byte(statesTitle))
	if !ok {
		return nil, errors.New("it is not a checkpoint of this format")
	}
	states := map[blockKey][]byte{}
	for len(b) > 0 {
		var n [3]uint64
		for i := range n {
			v, size := binary.Uvarint(b)
			if size <= 0 {
				return nil, errors.New("it is cut short")
			}
			n[i], b = v, b[size:]
		}
		k := blockKey{int(n[0]), int(n[1])}
		if n[0] >= maxStages || n[1] >= blocksInStage || n[2] > uint64(len(b)) || states[k] != nil {
			return nil, errors.New("it has a state that cannot be")
		}
		states[k] = b[:n[2]:n[2]]
		b = b[n[2]:]
	}
	return states, nil
}

// readStates reads the latest checkpoint. A folder without one has no states.
func (v *View) readStates() (map[blockKey][]byte, error) {
	c := v.ledger.states
	if c == nil {
		return map[blockKey][]byte{}, nil
	}
	data, err := os.ReadFile(v.path(c.File))
	if err != nil {
		return nil, err
	}
	if int64(len(data)) != c.Bytes || hex64(xxhash.Sum64(data)) != c.Hash {
		return nil, errors.New("it has changed since it was written")
	}
	return decodeStates(data)
}

// State returns the state that a finished block left; nil when it left none, or when it is needed no
// more and was let go.
func (v *View) State(stage, block int) ([]byte, error) {
	if v.states == nil {
		states, err := v.readStates()
		if err != nil {
			return nil, fmt.Errorf("%s in %s does not read: %w. Type the run again: it does without", v.ledger.states.File, v.dir, err)
		}
		v.states = states
	}
	return v.states[blockKey{stage, block}], nil
}

// Forget lets go of the states of all blocks of a stage before the one given: nothing that is still to
// come needs them. It takes effect on the disk with the next entry.
func (f *Folder) Forget(stage, block int) {
	for k := range f.states {
		if k.stage == stage && k.block < block {
			delete(f.states, k)
			f.stale = true
		}
	}
}

// resumeStates reads the checkpoint to go on from. One that is gone or has changed is no damage, as
// everything in it can be made again: it is said and done without.
func (f *Folder) resumeStates() {
	states, err := f.readStates()
	if err != nil {
		f.notes = append(f.notes, fmt.Sprintf("The checkpoint %s cannot be used (%v); the search's part of it is computed again, to the same rows.", f.ledger.states.File, err))
		states = map[blockKey][]byte{}
	}
	f.states = states
	if c := f.ledger.states; c != nil {
		f.nextStates = max(f.nextStates, statesNumber(c.File)+1)
	}
}

// saveStates writes the states into a new checkpoint; nil when the one that stands is as good.
func (f *Folder) saveStates() (*checkpoint, error) {
	if !f.stale || len(f.states) == 0 && f.ledger.states == nil {
		return nil, nil
	}
	data := encodeStates(f.states)
	c := &checkpoint{File: statesName(f.nextStates), Bytes: int64(len(data)), Hash: hex64(xxhash.Sum64(data))}
	path := filepath.Join(f.dir, c.File)
	if err := f.writeStates(path, data); err != nil {
		return nil, trouble("writing", path, err)
	}
	f.nextStates++
	f.stale = false
	return c, nil
}

func (f *Folder) writeStates(path string, data []byte) error {
	o := &f.options
	out, err := o.disk.Create(hidden(path))
	if err != nil {
		return err
	}
	half := len(data) / 2
	for _, step := range []func() error{
		func() error { _, err := out.Write(data[:half]); return err },
		func() error { return o.at(CrashInStates) },
		func() error { _, err := out.Write(data[half:]); return err },
		out.Sync,
	} {
		if err = step(); err != nil {
			break
		}
	}
	if err := errors.Join(err, out.Close()); err != nil {
		return err
	}
	for _, step := range []func() error{
		func() error { return o.at(CrashBeforeStatesRename) },
		func() error { return o.disk.Rename(hidden(path), path) },
		func() error { return o.at(CrashAfterStatesRename) },
		func() error { return o.disk.SyncDir(f.dir) },
	} {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

package record

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"time"
)

// Header says what a study folder belongs to. It is the first entry of the manifest.
type Header struct {
	Format   int       `json:"format"`   // FormatVersion of the build that made the folder
	Study    string    `json:"study"`    // the study's name, for messages
	Created  time.Time `json:"created"`  // set by Create
	Build    string    `json:"build"`    // fingerprint: revision, compiler, architecture
	Identity Identity  `json:"identity"` // what the rows depend on
	Files    []Sum     `json:"files"`    // the frozen input files, by name; set by Create
}

// Identity is what the rows of a study depend on, stage by stage: the rows of a stage depend on its
// own sums and on those of the stages before it.
type Identity []StageIdentity

// StageIdentity is what the rows of one stage depend on beyond the stages before it.
type StageIdentity struct {
	Stage string `json:"stage"` // as a person would say it: "plan: sobol"
	Sums  []Sum  `json:"sums"`
}

// Sum is a named part of an identity, such as "geometry" or "limits", with its hash.
type Sum struct {
	Name string `json:"name"`
	Hash string `json:"hash"`
}

// SumOf hashes the pieces that make up a named part. Where one piece ends and the next begins
// counts, so that moving a byte over the border changes the hash.
func SumOf(name string, pieces ...[]byte) Sum {
	h := sha256.New()
	var n [8]byte
	for _, p := range pieces {
		binary.LittleEndian.PutUint64(n[:], uint64(len(p)))
		h.Write(n[:])
		h.Write(p)
	}
	return Sum{Name: name, Hash: hex.EncodeToString(h.Sum(nil)[:16])}
}

// Difference is one thing in which two identities differ.
type Difference struct {
	Stage int    // counted from 0
	Name  string // of the sum; empty when the stage as a whole is missing or is another
	Was   string // the old hash, or the old stage; empty when there was none
	Is    string // the new one; empty when there is none
	Title string // of the stage, as it was, or as it is where there was none
}

// String says what differs, as the end of a sentence.
func (d Difference) String() string {
	switch {
	case d.Name == "" && d.Is == "":
		return fmt.Sprintf("stage %d (%s) is gone", d.Stage+1, d.Title)
	case d.Name == "":
		return fmt.Sprintf("stage %d was %s and is %s", d.Stage+1, d.Was, d.Is)
	case d.Was == "":
		return fmt.Sprintf("stage %d (%s) has %s, which was not there", d.Stage+1, d.Title, d.Name)
	case d.Is == "":
		return fmt.Sprintf("stage %d (%s) no longer has %s", d.Stage+1, d.Title, d.Name)
	}
	return fmt.Sprintf("stage %d (%s) has another %s", d.Stage+1, d.Title, d.Name)
}

// CheckIdentity returns everything in which a new identity differs from an old one. Stages
// appended at the end are free and are no difference.
func CheckIdentity(old, now Identity) []Difference {
	var all []Difference
	for i, was := range old {
		if i >= len(now) {
			all = append(all, Difference{Stage: i, Was: was.Stage, Title: was.Stage})
			continue
		}
		is := now[i]
		if was.Stage != is.Stage {
			all = append(all, Difference{Stage: i, Was: was.Stage, Is: is.Stage, Title: was.Stage})
			continue
		}
		for _, s := range was.Sums {
			if h := is.hash(s.Name); h != s.Hash {
				all = append(all, Difference{Stage: i, Name: s.Name, Was: s.Hash, Is: h, Title: was.Stage})
			}
		}
		for _, s := range is.Sums {
			if was.hash(s.Name) == "" {
				all = append(all, Difference{Stage: i, Name: s.Name, Is: s.Hash, Title: was.Stage})
			}
		}
	}
	return all
}

func (s *StageIdentity) hash(name string) string {
	for _, k := range s.Sums {
		if k.Name == name {
			return k.Hash
		}
	}
	return ""
}

// Run numbers: stage, block and index in one whole number below 2^53, so that every notebook
// keeps it exactly.
const (
	runsPerBlock  = 100_000
	runsPerStage  = 10_000_000_000_000
	blocksInStage = runsPerStage / runsPerBlock
	maxStages     = 900 // 900 stages stay below 2^53
)

// RunNumber returns the number of a run: stage·10¹³ + block·10⁵ + index. It panics when one of
// them is out of range, as the program's plan is then wrong.
func RunNumber(stage, block, index int) int64 {
	if stage < 0 || stage >= maxStages || block < 0 || int64(block) >= blocksInStage || index < 0 || index >= runsPerBlock {
		panic(fmt.Sprintf("record: stage %d, block %d, index %d is no run", stage, block, index))
	}
	return int64(stage)*runsPerStage + int64(block)*runsPerBlock + int64(index)
}

// SplitRun is the inverse of RunNumber.
func SplitRun(run int64) (stage, block, index int) {
	return int(run / runsPerStage), int(run % runsPerStage / runsPerBlock), int(run % runsPerBlock)
}

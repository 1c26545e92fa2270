package record

import "time"

// FormatVersion is the version of folder, manifest and parts that this build writes.
const FormatVersion = 2

// Options are what a run may choose about its record. Start from DefaultOptions.
type Options struct {
	// Now is the clock. Elapsed time is summed from differences of its readings, and a reading
	// earlier than the last counts as none, so that a clock set back does no harm.
	Now func() time.Time
	// PartBytes and PartAge close a part when it is as large, or its first row as old.
	PartBytes int64
	PartAge   time.Duration
	// CheckBytes is how much of the record Open compares with the manifest byte by byte, the newest part
	// first: a resume must not cost what a long history does.
	CheckBytes int64
	// Free says how much may still be written to the disk of a folder; false when it is not known.
	Free func(dir string) (bytes int64, known bool)
	// Hook is called at every point of CrashPoints, with its name; an error it returns is taken
	// for a failure of the disk there. Tests of faults use it; nil does nothing.
	Hook func(point string) error

	disk disk
}

// DefaultOptions returns the choices of a run that asks for nothing else.
func DefaultOptions() Options {
	return Options{
		Now:        time.Now,
		PartBytes:  256 << 20,
		PartAge:    time.Minute,
		CheckBytes: 1 << 30,
		Free:       FreeSpace,
		disk:       system{},
	}
}

// The points at which Hook is called, in the order in which a part passes them.
const (
	CrashInPart         = "in a part"              // some of the part's bytes are written
	CrashBeforePartSync = "before the part's sync" // all bytes written
	CrashAfterPartSync  = "after the part's sync"
	CrashBeforeRename   = "before the part's rename" // read back and compared
	CrashAfterRename    = "after the part's rename"
	CrashAfterDirSync   = "after the directory's sync" // the part stands, unnamed by the manifest

	CrashInStates           = "in a checkpoint" // half of its bytes are written
	CrashBeforeStatesRename = "before the checkpoint's rename"
	CrashAfterStatesRename  = "after the checkpoint's rename" // it stands, unnamed by the manifest

	CrashInEntry       = "in the middle of a manifest entry"
	CrashBeforeLogSync = "before the manifest's sync"
	CrashAfterLogSync  = "after the manifest's sync" // the blocks are finished
)

// CrashPoints lists the named points, for tests that walk all of them.
func CrashPoints() []string {
	return []string{CrashInPart, CrashBeforePartSync, CrashAfterPartSync, CrashBeforeRename, CrashAfterRename,
		CrashAfterDirSync, CrashInStates, CrashBeforeStatesRename, CrashAfterStatesRename, CrashInEntry, CrashBeforeLogSync, CrashAfterLogSync}
}

// at calls the hook.
func (o *Options) at(point string) error {
	if o.Hook == nil {
		return nil
	}
	return o.Hook(point)
}

// Package record keeps every run of a study on disk: Parquet parts that any notebook opens, and a
// manifest that says which blocks of the study are finished.
//
// A study folder holds
//
//	manifest.log          append-only log, one entry per line, each with its checksum
//	runs/part-*.parquet   one row per candidate
//	curves/part-*.parquet one row per recorded run, motion and position
//	states-*.bin          the checkpoint from which searches go on: one file, in place of the one before
//	lock                  held while a run writes here
//	...                   the input files as they were when the study began, frozen
//
// Crash safety rests on one order of events. A part is written under a hidden name, synced, read
// back and compared with what was handed over, renamed, and its directory synced; only then does
// the manifest name it, together with the blocks it holds. A block is finished if and only if an
// entry of the manifest says so. Whatever else lies in the folder was left by a run that did not
// end, and is removed when the next run opens the folder.
//
// The package knows no suspension, no score and no search: columns, blocks and their states are
// the caller's.
package record

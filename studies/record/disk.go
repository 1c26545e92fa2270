package record

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
)

// disk is what the package asks of a file system. Tests put failing ones in its place.
type disk interface {
	Create(path string) (file, error) // truncates
	Append(path string) (file, error) // opens for writing at the end
	Rename(from, to string) error
	SyncDir(path string) error
}

// file is an open file being written.
type file interface {
	io.WriteCloser
	Sync() error
}

// system is the disk of the machine.
type system struct{}

func (system) Create(path string) (file, error) {
	return os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o644)
}

func (system) Append(path string) (file, error) {
	return os.OpenFile(path, os.O_WRONLY|os.O_APPEND, 0)
}

func (system) Rename(from, to string) error { return os.Rename(from, to) }

// SyncDir makes names in a directory survive a power cut. Windows keeps its directories itself
// and has no such call.
func (system) SyncDir(path string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// diskFull is what Windows says when a disk is full.
const diskFull = syscall.Errno(112)

// Trouble turns a failure of the disk into a sentence with a way out, and wraps it; nil stays nil. What was being done
// stands with its path: "writing", "making". It is for the files that others write beside the record.
func Trouble(doing, path string, err error) error { return trouble(doing, path, err) }

// trouble turns a failure of the disk into a sentence with a way out. It wraps the failure.
func trouble(doing, path string, err error) error {
	if err == nil {
		return nil
	}
	cause := err
	if p := new(fs.PathError); errors.As(err, &p) {
		cause = p.Err
	}
	switch {
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT), runtime.GOOS == "windows" && errors.Is(err, diskFull):
		return &diskError{fmt.Sprintf("The disk is full (%s %s: %v). Everything finished before is safe; make room and run the same command again.", doing, path, cause), err}
	case errors.Is(err, fs.ErrNotExist), errors.Is(err, syscall.ENOTDIR), errors.Is(err, syscall.EISDIR), errors.Is(err, syscall.ENAMETOOLONG):
		return &diskError{fmt.Sprintf("There is no such place (%s %s: %v). Make the folder first, or choose another.", doing, path, cause), err}
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return &diskError{fmt.Sprintf("The folder cannot be written (%s %s: %v). Give yourself the right to write there, or choose another folder.", doing, path, cause), err}
	}
	return &diskError{fmt.Sprintf("The disk failed (%s %s: %v). Everything finished before is safe; run the same command again when the disk is well.", doing, path, cause), err}
}

type diskError struct {
	sentence string
	err      error
}

func (e *diskError) Error() string { return e.sentence }
func (e *diskError) Unwrap() error { return e.err }

// tmpSuffix ends the hidden names under which files are written before they are renamed.
const tmpSuffix = ".tmp"

// hidden is the temporary name of a file.
func hidden(path string) string {
	return filepath.Join(filepath.Dir(path), "."+filepath.Base(path)+tmpSuffix)
}

// isHidden says whether a base name is a temporary one of ours.
func isHidden(base string) bool {
	return strings.HasPrefix(base, ".") && strings.HasSuffix(base, tmpSuffix)
}

// writeWhole puts a small file in place: under a hidden name, synced, renamed, directory synced.
func writeWhole(d disk, path string, data []byte) error {
	tmp := hidden(path)
	f, err := d.Create(tmp)
	if err != nil {
		return trouble("creating", tmp, err)
	}
	_, err = f.Write(data)
	if err == nil {
		err = f.Sync()
	}
	if err := errors.Join(err, f.Close()); err != nil {
		os.Remove(tmp)
		return trouble("writing", path, err)
	}
	if err := d.Rename(tmp, path); err != nil {
		return trouble("renaming", path, err)
	}
	return trouble("syncing", filepath.Dir(path), d.SyncDir(filepath.Dir(path)))
}

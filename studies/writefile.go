package studies

import (
	"errors"
	"io"
	"io/fs"
	"os"

	"trammel/studies/record"
)

// WriteFile makes a file and lets fill write it. A file that is there already is left as it is, with a usage error; one
// that cannot be written to its end is removed again, so that the same command can be given once more.
func WriteFile(path string, fill func(io.Writer) error) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if errors.Is(err, fs.ErrExist) {
		return usagef("%s is there already and is left as it is; choose another name, or remove it first", path)
	}
	if err != nil {
		return record.Trouble("making", path, err)
	}
	out := &watched{f: f}
	err = fill(out)
	if err == nil {
		out.err = f.Close()
		err = out.err
	} else {
		f.Close()
	}
	if err == nil {
		return nil
	}
	os.Remove(path)
	if out.err != nil {
		return record.Trouble("writing", path, out.err)
	}
	return err
}

// watched is a file that remembers what kept it from being written: fill may have other errors of its own.
type watched struct {
	f   *os.File
	err error
}

func (w *watched) Write(b []byte) (int, error) {
	n, err := w.f.Write(b)
	if err != nil {
		w.err = err
	}
	return n, err
}

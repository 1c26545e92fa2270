package record

import (
	"fmt"
	"io"
	"os"

	"github.com/cespare/xxhash/v2"
)

// fault is a part that is not as the manifest says.
type fault struct {
	file, sentence string
	unit           string // the same for parts that stand or fall together
}

// present compares the parts with the manifest by presence and size.
func (v *View) present() []string {
	var faults []string
	for _, p := range v.ledger.parts() {
		if s := v.look(&p); s != "" {
			faults = append(faults, s)
		}
	}
	return faults
}

func (v *View) look(p *Part) string {
	info, err := os.Stat(v.path(p.File))
	switch {
	case err != nil && os.IsNotExist(err):
		return fmt.Sprintf("%s is missing; it holds %d rows.", p.File, p.Rows)
	case err != nil:
		return fmt.Sprintf("%s cannot be looked at: %v.", p.File, err)
	case info.Size() != p.Bytes:
		return fmt.Sprintf("%s has %d bytes where %d belong.", p.File, info.Size(), p.Bytes)
	}
	return ""
}

// unsound reads every part and returns those that are not as the manifest says.
func (v *View) unsound() []fault {
	unit := map[string]string{}
	for i, k := range v.ledger.commits {
		for _, p := range []*Part{k.runs, k.curves} {
			if p != nil {
				unit[p.File] = fmt.Sprint("entry ", i)
			}
		}
	}
	for table, parts := range v.ledger.whole {
		for _, p := range parts {
			unit[p.File] = table
		}
	}
	var all []fault
	for _, p := range v.ledger.parts() {
		s := v.look(&p)
		if s == "" {
			if err := v.deep(&p); err != nil {
				s = fmt.Sprintf("%s does not hold: %v.", p.File, err)
			}
		}
		if s != "" {
			all = append(all, fault{p.File, s, unit[p.File]})
		}
	}
	return all
}

func (v *View) deep(p *Part) error {
	f, err := os.Open(v.path(p.File))
	if err != nil {
		return err
	}
	defer f.Close()
	_, err = checkPart(f, p.Bytes, p, v.ledger.schema(p.Table))
	return err
}

// Verify reads every part and compares it with the manifest. It returns a *DamageError that names
// every part that is not as it was written.
func (v *View) Verify() error {
	bad := v.unsound()
	if len(bad) == 0 {
		return nil
	}
	e := &DamageError{Dir: v.dir}
	for _, b := range bad {
		e.Faults = append(e.Faults, b.sentence)
	}
	return e
}

// untouched compares the bytes of a part with the manifest, once for each View. It reads the file and
// decodes nothing, at about the speed of the disk.
func (v *View) untouched(p *Part) string {
	if v.sound[p.File] {
		return ""
	}
	if s := v.look(p); s != "" {
		return s
	}
	hash, err := hashFile(v.path(p.File))
	switch {
	case err != nil:
		return fmt.Sprintf("%s does not read: %v.", p.File, err)
	case hash != p.Hash:
		return fmt.Sprintf("%s has changed since it was written.", p.File)
	}
	v.sound[p.File] = true
	return ""
}

func hashFile(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := xxhash.New()
	if _, err := io.CopyBuffer(h, struct{ io.Reader }{f}, make([]byte, 256<<10)); err != nil {
		return "", err
	}
	return hex64(h.Sum64()), nil
}

// Check compares the bytes of the parts with the manifest, the newest first and at most as many bytes as
// given, those of the first part whatever they are. It returns a *DamageError that names every part that
// is not as it was written. What was compared before, or written by this run, is not read again.
func (v *View) Check(bytes int64) error {
	e := &DamageError{Dir: v.dir}
	parts := v.ledger.parts()
	for i := len(parts) - 1; i >= 0 && bytes > 0; i-- {
		if !v.sound[parts[i].File] {
			bytes -= parts[i].Bytes
		}
		if s := v.untouched(&parts[i]); s != "" {
			e.Faults = append(e.Faults, s)
		}
	}
	if len(e.Faults) > 0 {
		return e
	}
	return nil
}

// touched returns the error of a part that is not as it was written, by its name; nil when it is.
func (v *View) touched(file string) error {
	if v.sound[file] {
		return nil
	}
	for _, p := range v.ledger.parts() {
		if p.File != file {
			continue
		}
		if s := v.untouched(&p); s != "" {
			return &DamageError{v.dir, []string{s}}
		}
	}
	return nil
}

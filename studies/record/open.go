package record

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/gofrs/flock"
)

// Errors a caller may tell apart.
var (
	ErrLocked = errors.New("another run is working in this folder")
	ErrExists = errors.New("the folder holds a study already")
	ErrNone   = errors.New("the folder holds no study")
	ErrNoRun  = errors.New("the run is not in the record")
)

const lockName = "lock"

// DamageError says that a folder's record is not what was written. Repair takes out what is
// damaged.
type DamageError struct {
	Dir    string
	Faults []string // one sentence each
}

func (e *DamageError) Error() string {
	return fmt.Sprintf("The record in %s is damaged. %s Put back what is damaged from a copy, or type the run again with --repair: what cannot be trusted is then taken out, and the runs that were in it are made again.", e.Dir, strings.Join(e.Faults, " "))
}

// FrozenError says that an input file which a study folder keeps is not as it was when the study began. Restore writes
// it again.
type FrozenError struct {
	Dir, Name, What string
}

func (e *FrozenError) Error() string {
	return fmt.Sprintf("%s in %s %s; the record belongs to the file as it was. Put it back from a copy, or type the run again with --repair, which writes it anew from the study where that is still the same.", e.Name, e.Dir, e.What)
}

// none says that a folder holds no study. Parts without a manifest are told apart: they are not to be lost.
func none(dir string) error {
	if n := Orphans(dir); n > 0 {
		parts := "1 part is there"
		if n > 1 {
			parts = fmt.Sprintf("%d parts are there", n)
		}
		return fmt.Errorf("%s: %w any more: its %s, which says what its parts hold, is gone, and %s. Put %s back from a copy, or choose another folder", dir, ErrNone, manifestName, parts, manifestName)
	}
	return fmt.Errorf("%s: %w, for it has no %s", dir, ErrNone, manifestName)
}

// Orphans counts the parts in a folder that has no manifest. A folder that is being made has none.
func Orphans(dir string) (n int) {
	if Exists(dir) {
		return 0
	}
	for _, table := range []string{TableRuns, TableCurves} {
		list, _ := os.ReadDir(filepath.Join(dir, table)) // what cannot be listed has none to lose
		for _, d := range list {
			if partNumber(d.Name()) > 0 {
				n++
			}
		}
	}
	return n
}

// Exists says whether a folder holds a study.
func Exists(dir string) bool {
	_, err := os.Stat(filepath.Join(dir, manifestName))
	return err == nil
}

// Create makes a study folder and opens it. The schemas are those of its tables, TableRuns first;
// frozen are the input files to keep, by name. Created and Files of the header are filled in. A
// folder whose making was interrupted is made anew.
func Create(dir string, h Header, frozen map[string][]byte, o Options, schemas ...Schema) (*Folder, error) {
	if err := checkCreate(frozen, schemas); err != nil {
		return nil, err
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, trouble("making", dir, err)
	}
	lock, err := hold(dir)
	if err != nil {
		return nil, err
	}
	f := newFolder(dir, o, lock)
	if err := f.create(h, frozen, schemas); err != nil {
		f.letGo()
		return nil, err
	}
	return f, nil
}

func checkCreate(frozen map[string][]byte, schemas []Schema) error {
	var faults []error
	if len(schemas) == 0 || schemas[0].Table != TableRuns {
		faults = append(faults, fmt.Errorf("the first table of a study folder is %s", TableRuns))
	}
	for i := range schemas {
		faults = append(faults, schemas[i].checkFolder())
	}
	for name := range frozen {
		switch {
		case name == "" || name != filepath.Base(name) || strings.HasPrefix(name, ".") || strings.ContainsAny(name, `/\:`):
			faults = append(faults, fmt.Errorf("%q cannot be kept in a study folder; it needs a plain file name", name))
		case slices.Contains([]string{manifestName, lockName, TableRuns, TableCurves}, strings.ToLower(name)):
			faults = append(faults, fmt.Errorf("a file called %s cannot be kept in a study folder, which has one of its own of that name; rename it", name))
		}
	}
	return errors.Join(faults...)
}

func newFolder(dir string, o Options, lock *flock.Flock) *Folder {
	return &Folder{View: View{dir: dir, states: map[blockKey][]byte{}, sound: map[string]bool{}}, options: o, lock: lock, nextStates: 1,
		next: map[string]int{TableRuns: 1, TableCurves: 1}, open: map[string]*Table{}, kits: map[string]*kit{}, last: o.Now()}
}

func (f *Folder) create(h Header, frozen map[string][]byte, schemas []Schema) error {
	if Exists(f.dir) {
		return fmt.Errorf("%s: %w; go on with it, or choose another folder", f.dir, ErrExists)
	}
	if Orphans(f.dir) > 0 {
		return none(f.dir)
	}
	h.Format, h.Created, h.Files = FormatVersion, f.options.Now().UTC().Truncate(1e9), nil
	f.ledger = newLedger()
	f.ledger.tables = schemas
	if err := f.tidy("was left by a run that did not end"); err != nil {
		return err
	}
	f.notes = nil
	for _, s := range schemas {
		if err := os.MkdirAll(filepath.Join(f.dir, s.Table), 0o755); err != nil {
			return trouble("making", filepath.Join(f.dir, s.Table), err)
		}
	}
	for name, data := range frozen {
		if err := writeWhole(f.options.disk, filepath.Join(f.dir, name), data); err != nil {
			return err
		}
		h.Files = append(h.Files, SumOf(name, data))
	}
	slices.SortFunc(h.Files, func(a, b Sum) int { return strings.Compare(a.Name, b.Name) })
	first := &entry{N: 1, Entry: entryHeader, At: stamp(f.options.Now()), Header: &h, Tables: schemas}
	line, sum, err := seal("", first)
	if err != nil {
		return err
	}
	f.ledger = newLedger()
	if err := f.ledger.apply(first); err != nil {
		return err
	}
	if err := writeWhole(f.options.disk, filepath.Join(f.dir, manifestName), line); err != nil {
		return err
	}
	f.ledger.sum, f.end = sum, int64(len(line))
	return f.begin(h.Build)
}

// begin opens the manifest for writing and enters the session.
func (f *Folder) begin(build string) error {
	path := filepath.Join(f.dir, manifestName)
	log, err := f.options.disk.Append(path)
	if err != nil {
		return trouble("opening", path, err)
	}
	f.log = log
	f.elapsed = f.ledger.elapsed
	f.last = f.options.Now()
	return f.enter(&entry{Entry: entrySession, Build: build})
}

// Open opens a study folder to go on with it. It drops the torn end of the manifest, removes what
// a run that did not end left behind, and says so in Notes; it compares the parts with the
// manifest by presence and size, and the newest ones, up to CheckBytes, byte by byte (Check compares all,
// Verify decodes them as well). Damage that loses finished blocks is refused with a *DamageError. The build is the fingerprint of the program that goes on; see Sessions.
func Open(dir, build string, o Options) (*Folder, error) {
	if !Exists(dir) {
		return nil, none(dir)
	}
	lock, err := hold(dir)
	if err != nil {
		return nil, err
	}
	f := newFolder(dir, o, lock)
	if err := f.resume(build); err != nil {
		f.letGo()
		return nil, err
	}
	return f, nil
}

func (f *Folder) resume(build string) error {
	t, err := f.load()
	if err != nil {
		return err
	}
	if t.sound {
		return &DamageError{f.dir, []string{damagedLine(t)}}
	}
	if faults := f.present(); len(faults) > 0 {
		return &DamageError{f.dir, faults}
	}
	if err := f.Check(f.options.CheckBytes); err != nil {
		return err
	}
	if err := f.cut(t); err != nil {
		return err
	}
	f.resumeStates()
	if err := f.tidy("was left by a run that did not end"); err != nil {
		return err
	}
	return f.begin(build)
}

func damagedLine(t tail) string {
	return fmt.Sprintf("Line %d of %s has changed since it was written, and lines after it name finished blocks.", t.line, manifestName)
}

// cut drops the torn end of the manifest.
func (f *Folder) cut(t tail) error {
	if t.line == 0 {
		return nil
	}
	path := filepath.Join(f.dir, manifestName)
	if err := os.Truncate(path, t.offset); err != nil {
		return trouble("shortening", path, err)
	}
	f.notes = append(f.notes, fmt.Sprintf("The end of %s, from line %d, was torn and was dropped; what it named is made again.", manifestName, t.line))
	return nil
}

// tidy removes what the manifest does not name: hidden files, and parts put in place by a run that
// ended before it could name them, or whose names were lost: why says so. Files of other names are left alone.
func (f *Folder) tidy(why string) error {
	named := map[string]bool{}
	for _, p := range f.ledger.parts() {
		named[p.File] = true
	}
	if c := f.ledger.states; c != nil {
		named[c.File] = true
	}
	dirs := []string{""}
	for _, s := range f.ledger.tables {
		dirs = append(dirs, s.Table)
		f.next[s.Table] = 1
	}
	for _, dir := range dirs {
		list, err := os.ReadDir(filepath.Join(f.dir, dir))
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return trouble("listing", filepath.Join(f.dir, dir), err)
		}
		for _, d := range list {
			base := d.Name()
			n := partNumber(base)
			if dir != "" && n > 0 && named[dir+"/"+base] {
				f.next[dir] = max(f.next[dir], n+1)
				continue
			}
			ours := isHidden(base) || dir != "" && n > 0 || dir == "" && statesNumber(base) > 0 && !named[base]
			if !d.Type().IsRegular() || !ours {
				continue
			}
			path := filepath.Join(f.dir, dir, base)
			if err := os.Remove(path); err != nil {
				return trouble("removing", path, err)
			}
			f.notes = append(f.notes, fmt.Sprintf("%s %s, and was removed; what it held is made again.", filepath.ToSlash(filepath.Join(dir, base)), why))
		}
	}
	return nil
}

// hold takes the lock of a folder. The system gives it back when the run that holds it ends,
// however it ends, so that a lock file left behind is no obstacle.
func hold(dir string) (*flock.Flock, error) {
	path := filepath.Join(dir, lockName)
	lock := flock.New(path)
	ok, err := lock.TryLock()
	if err != nil {
		return nil, trouble("locking", path, err)
	}
	if !ok {
		return nil, fmt.Errorf("%s: %w; wait until it ends, or stop it first", dir, ErrLocked)
	}
	return lock, nil
}

// Repair takes out of a folder what cannot be trusted: entries of the manifest from a damaged line
// on, and parts that are missing or changed, with the blocks they held, which are then made again.
// It reads every part. It returns sentences on what it did; the manifest as it was is kept beside.
func Repair(dir, build string, o Options) ([]string, error) {
	if !Exists(dir) {
		return nil, none(dir)
	}
	lock, err := hold(dir)
	if err != nil {
		return nil, err
	}
	f := newFolder(dir, o, lock)
	defer f.letGo()
	return f.repair(build)
}

func (f *Folder) repair(build string) ([]string, error) {
	t, err := f.load()
	if err != nil {
		return nil, err
	}
	if t.sound {
		keep, err := f.keepManifest()
		if err != nil {
			return nil, err
		}
		f.notes = append(f.notes, damagedLine(t)+" The manifest as it was is kept as "+keep+".")
	}
	if err := f.cut(t); err != nil {
		return nil, err
	}
	f.resumeStates()
	bad := f.unsound()
	if err := f.begin(build); err != nil {
		return nil, err
	}
	e := &entry{Entry: entryLost}
	seen := map[string]bool{}
	for _, b := range bad {
		f.notes = append(f.notes, b.sentence+" What it held is made again.")
		if !seen[b.unit] { // parts that fall together are named once
			seen[b.unit] = true
			e.Files = append(e.Files, b.file)
		}
	}
	if len(bad) > 0 {
		if err := f.enter(e); err != nil {
			return nil, err
		}
	}
	err = f.tidy("is not named any more")
	return f.notes, err
}

// Restore writes an input file again that is gone or has changed, if the text is the one that the study began with.
func (f *Folder) Restore(name string, text []byte) (bool, error) {
	for _, s := range f.ledger.header.Files {
		if s.Name == name && SumOf(name, text) == s {
			return true, writeWhole(f.options.disk, filepath.Join(f.dir, name), text)
		}
	}
	return false, nil
}

// keepManifest copies the manifest to a name beside it that is free.
func (f *Folder) keepManifest() (string, error) {
	data, err := os.ReadFile(filepath.Join(f.dir, manifestName))
	if err != nil {
		return "", trouble("reading", manifestName, err)
	}
	for n := 1; ; n++ {
		name := fmt.Sprintf("manifest-damaged-%d.log", n)
		if _, err := os.Stat(filepath.Join(f.dir, name)); errors.Is(err, fs.ErrNotExist) {
			return name, writeWhole(f.options.disk, filepath.Join(f.dir, name), data)
		}
	}
}

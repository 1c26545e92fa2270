package record

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// faulty is the study of the tests of faults.
var faulty = night{blocks: []int{8, 7}, curves: true, perSync: 4}

// TestMain lets the test binary be the run that is killed: see TestKilled.
func TestMain(m *testing.M) {
	if dir := os.Getenv("RECORD_TEST_DIR"); dir != "" {
		count := 0
		fmt.Sscan(os.Getenv("RECORD_TEST_COUNT"), &count)
		o := DefaultOptions()
		o.Hook = func(point string) error {
			if point == os.Getenv("RECORD_TEST_POINT") {
				if count--; count < 0 {
					self, err := os.FindProcess(os.Getpid())
					if err == nil {
						err = self.Kill()
					}
					time.Sleep(time.Minute) // the end is under way
					return err
				}
			}
			return nil
		}
		fmt.Println(faulty.work(dir, o))
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// TestKilled kills a run at every named point, as SIGKILL does, and goes on.
func TestKilled(t *testing.T) {
	plain := filepath.Join(t.TempDir(), "plain")
	if err := faulty.work(plain, DefaultOptions()); err != nil {
		t.Fatal(err)
	}
	want := faulty.read(t, plain)
	for i, point := range CrashPoints() {
		for _, count := range []int{0, 2 + i%2} {
			t.Run(fmt.Sprintf("%s, time %d", point, count+1), func(t *testing.T) {
				dir := filepath.Join(t.TempDir(), "larch")
				c := exec.Command(os.Args[0])
				c.Env = append(os.Environ(), "RECORD_TEST_DIR="+dir, "RECORD_TEST_POINT="+point, fmt.Sprint("RECORD_TEST_COUNT=", count))
				if out, err := c.CombinedOutput(); err == nil {
					t.Fatalf("the run was not killed: %s", out)
				}
				if _, err := Read(dir); err != nil && Exists(dir) {
					t.Fatalf("a killed run's folder does not read: %v", err)
				}
				if err := faulty.work(dir, DefaultOptions()); err != nil {
					t.Fatal(err)
				}
				if got := faulty.read(t, dir); got != want {
					t.Fatalf("got %v, want %v", got, want)
				}
			})
		}
	}
}

// failing is a disk that fails from a certain call of a certain kind on.
type failing struct {
	system
	op    string // create, write, sync, rename, syncdir or append
	after int
	err   error
}

func (d *failing) fails(op string) error {
	if op != d.op {
		return nil
	}
	if d.after--; d.after < 0 {
		return &fs.PathError{Op: op, Path: "x", Err: d.err}
	}
	return nil
}

func (d *failing) Create(path string) (file, error) {
	if err := d.fails("create"); err != nil {
		return nil, err
	}
	f, err := d.system.Create(path)
	return &failingFile{f, d}, err
}

func (d *failing) Append(path string) (file, error) {
	if err := d.fails("append"); err != nil {
		return nil, err
	}
	f, err := d.system.Append(path)
	return &failingFile{f, d}, err
}

func (d *failing) Rename(from, to string) error {
	if err := d.fails("rename"); err != nil {
		return err
	}
	return d.system.Rename(from, to)
}

func (d *failing) SyncDir(path string) error {
	if err := d.fails("syncdir"); err != nil {
		return err
	}
	return d.system.SyncDir(path)
}

type failingFile struct {
	file
	d *failing
}

// Write writes the first half when the disk is full, as disks do.
func (f *failingFile) Write(b []byte) (int, error) {
	if err := f.d.fails("write"); err != nil {
		n, _ := f.file.Write(b[:len(b)/2])
		return n, err
	}
	return f.file.Write(b)
}

func (f *failingFile) Sync() error {
	if err := f.d.fails("sync"); err != nil {
		return err
	}
	return f.file.Sync()
}

// TestFailingDisk lets every call to the disk fail in turn, full and otherwise, and goes on when
// the disk is well again.
func TestFailingDisk(t *testing.T) {
	plain := filepath.Join(t.TempDir(), "plain")
	if err := faulty.work(plain, DefaultOptions()); err != nil {
		t.Fatal(err)
	}
	want := faulty.read(t, plain)
	kinds := []struct {
		err  error
		says string
	}{
		{syscall.ENOSPC, "The disk is full"},
		{syscall.EROFS, "The folder cannot be written"},
		{fs.ErrPermission, "The folder cannot be written"},
		{syscall.EIO, "The disk failed"},
	}
	for i, op := range []string{"create", "write", "sync", "rename", "syncdir", "append"} {
		for after := 0; ; after += 1 + after/2 {
			kind := kinds[(i+after)%len(kinds)]
			dir := filepath.Join(t.TempDir(), "larch")
			o := DefaultOptions()
			o.disk = &failing{op: op, after: after, err: kind.err}
			err := faulty.work(dir, o)
			if err == nil {
				if after == 0 {
					t.Errorf("no call of %s fails", op)
				}
				break // fewer calls than that
			}
			if !strings.HasPrefix(err.Error(), kind.says) || !errors.Is(err, kind.err) || !strings.HasSuffix(err.Error(), ".") {
				t.Errorf("%s, call %d: %v", op, after, err)
			}
			if err := faulty.work(dir, DefaultOptions()); err != nil {
				t.Fatalf("%s, call %d: does not go on: %v", op, after, err)
			}
			if got := faulty.read(t, dir); got != want {
				t.Fatalf("%s, call %d: got %v, want %v", op, after, got, want)
			}
		}
	}
}

func TestAfterAFailureNothingIsWritten(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "larch")
	o := DefaultOptions()
	o.Hook = func(point string) error {
		if point == CrashInEntry {
			return syscall.ENOSPC
		}
		return nil
	}
	if err := faulty.work(dir, o); err == nil { // the session's own entry fails
		t.Fatal("no error")
	}
	full := false
	o.Hook = func(string) error {
		if full {
			return syscall.ENOSPC
		}
		return nil
	}
	f, err := Open(dir, "again", o)
	if err != nil {
		t.Fatal(err)
	}
	full = true
	first := errors.Join(f.Append(faulty.block(0, 1)), f.Flush())
	full = false
	for name, do := range map[string]func() error{
		"Append": func() error { return f.Append(faulty.block(0, 2)) }, "Flush": f.Flush, "Tick": f.Tick, "Close": f.Close,
		"SetFact": func() error { return f.SetFact("a", 1) },
	} {
		if err := do(); err == nil || first == nil {
			t.Errorf("%s goes on after a failure: %v, %v", name, first, err)
		}
	}
}

// TestTornEnd cuts the manifest at every byte of its last entries.
func TestTornEnd(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "larch")
	n := night{blocks: []int{3}, perSync: 1, lossy: true}
	if err := n.work(dir, quickOptions()); err != nil {
		t.Fatal(err)
	}
	want := n.read(t, dir)
	whole, err := os.ReadFile(filepath.Join(dir, manifestName))
	if err != nil {
		t.Fatal(err)
	}
	header := bytes.IndexByte(whole, '\n') + 1
	for cut := header; cut < len(whole); cut += 1 + cut%29 {
		d := filepath.Join(t.TempDir(), "larch")
		if err := os.CopyFS(d, os.DirFS(dir)); err != nil {
			t.Fatal(err)
		}
		if err := os.Truncate(filepath.Join(d, manifestName), int64(cut)); err != nil {
			t.Fatal(err)
		}
		f, err := Open(d, "again", quickOptions())
		if err != nil {
			t.Fatalf("cut at %d: %v", cut, err)
		}
		if torn := whole[cut-1] != '\n'; torn != strings.Contains(strings.Join(f.Notes(), " "), "was torn and was dropped") {
			t.Fatalf("cut at %d: notes %q", cut, f.Notes())
		}
		f.Close()
		if err := n.work(d, quickOptions()); err != nil {
			t.Fatal(err)
		}
		if got := n.read(t, d); got != want {
			t.Fatalf("cut at %d: got %v, want %v", cut, got, want)
		}
	}
	for cut := range header {
		if _, _, err := readManifest(bytes.NewReader(whole[:cut])); err == nil || !strings.Contains(err.Error(), "no sound first line") {
			t.Fatalf("cut at %d of the header: %v", cut, err)
		}
	}
}

// TestFlippedManifest changes bytes all over the manifest: the change is dropped as a torn end or
// refused, never believed; and a refused folder is repaired and gives the same rows.
func TestFlippedManifest(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "larch")
	n := night{blocks: []int{4}, perSync: 2, lossy: true}
	if err := n.work(dir, quickOptions()); err != nil {
		t.Fatal(err)
	}
	want := n.read(t, dir)
	whole, err := os.ReadFile(filepath.Join(dir, manifestName))
	if err != nil {
		t.Fatal(err)
	}
	header := bytes.IndexByte(whole, '\n') + 1
	torn, damaged := 0, 0
	for at := 0; at < len(whole); at += 23 {
		d := filepath.Join(t.TempDir(), "larch")
		if err := os.CopyFS(d, os.DirFS(dir)); err != nil {
			t.Fatal(err)
		}
		changed := bytes.Clone(whole)
		changed[at] ^= 1 << (at % 8)
		if err := os.WriteFile(filepath.Join(d, manifestName), changed, 0o644); err != nil {
			t.Fatal(err)
		}
		f, err := Open(d, "again", quickOptions())
		damage := new(DamageError)
		switch {
		case at < header:
			if err == nil {
				t.Fatalf("byte %d of the header: accepted", at)
			}
			continue
		case errors.As(err, &damage):
			damaged++
			notes, err := Repair(d, "again", quickOptions())
			if err != nil || !strings.Contains(strings.Join(notes, " "), "is kept as manifest-damaged-1.log") {
				t.Fatalf("byte %d: %v, %q", at, err, notes)
			}
		case err != nil:
			t.Fatalf("byte %d: %v", at, err)
		default:
			torn++
			if len(f.Notes()) == 0 {
				t.Fatalf("byte %d: accepted", at)
			}
			f.Close()
		}
		if err := n.work(d, quickOptions()); err != nil {
			t.Fatalf("byte %d: %v", at, err)
		}
		if got := n.read(t, d); got != want {
			t.Fatalf("byte %d: got %v, want %v", at, got, want)
		}
	}
	if torn == 0 || damaged == 0 {
		t.Fatalf("%d torn, %d damaged: both should occur", torn, damaged)
	}
}

// TestDamagedParts deletes, shortens and changes parts: it is found, and repaired.
func TestDamagedParts(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "larch")
	if err := faulty.work(dir, DefaultOptions()); err != nil {
		t.Fatal(err)
	}
	want := faulty.read(t, dir)
	flip := func(path string) error {
		b, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		b[len(b)/3] ^= 4
		return os.WriteFile(path, b, 0o644)
	}
	cases := []struct {
		name, file string
		spoil      func(string) error
		open, deep string // what Open and Verify say
	}{
		{"deleted", "runs/part-000002.parquet", os.Remove, "runs/part-000002.parquet is missing", "runs/part-000002.parquet is missing"},
		{"shortened", "curves/part-000001.parquet", func(p string) error { return os.Truncate(p, 100) }, "curves/part-000001.parquet has 100 bytes", "has 100 bytes"},
		{"flipped", "runs/part-000003.parquet", flip, "runs/part-000003.parquet has changed since it was written", "runs/part-000003.parquet does not hold: the file has changed since it was written"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			d := filepath.Join(t.TempDir(), "larch")
			if err := os.CopyFS(d, os.DirFS(dir)); err != nil {
				t.Fatal(err)
			}
			if err := c.spoil(filepath.Join(d, filepath.FromSlash(c.file))); err != nil {
				t.Fatal(err)
			}
			v, err := Read(d)
			if err != nil {
				t.Fatal(err)
			}
			damage := new(DamageError)
			if err := v.Verify(); !errors.As(err, &damage) || !strings.Contains(err.Error(), c.deep) {
				t.Fatalf("Verify: %v", err)
			}
			f, err := Open(d, "again", DefaultOptions())
			if err == nil {
				f.Close()
			}
			if !errors.As(err, &damage) || !strings.Contains(err.Error(), c.open) {
				t.Fatalf("Open: %v", err)
			}
			notes, err := Repair(d, "again", DefaultOptions())
			if err != nil || !strings.Contains(strings.Join(notes, " "), "What it held is made again.") {
				t.Fatalf("%v, %q", err, notes)
			}
			if err := faulty.work(d, DefaultOptions()); err != nil {
				t.Fatal(err)
			}
			if got := faulty.read(t, d); got != want {
				t.Fatalf("got %v, want %v", got, want)
			}
		})
	}
}

func TestLock(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "larch")
	f, err := faulty.create(dir, DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	const says = "another run is working in this folder; wait until it ends, or stop it first"
	for name, do := range map[string]func() error{
		"Open":   func() error { _, err := Open(dir, "again", DefaultOptions()); return err },
		"Create": func() error { _, err := faulty.create(dir, DefaultOptions()); return err },
		"Repair": func() error { _, err := Repair(dir, "again", DefaultOptions()); return err },
	} {
		if err := do(); !errors.Is(err, ErrLocked) || !strings.Contains(err.Error(), says) {
			t.Errorf("%s while a run is working: %v", name, err)
		}
	}
	if _, err := Read(dir); err != nil {
		t.Errorf("reading while a run is working: %v", err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	// The lock file is still there; nobody holds it.
	if _, err := os.Stat(filepath.Join(dir, lockName)); err != nil {
		t.Fatal(err)
	}
	if f, err = Open(dir, "again", DefaultOptions()); err != nil {
		t.Fatalf("a dead lock is an obstacle: %v", err)
	}
	f.Close()
	if _, err := faulty.create(dir, DefaultOptions()); !errors.Is(err, ErrExists) {
		t.Errorf("a study is made over another: %v", err)
	}
	if _, err := Open(t.TempDir(), "again", DefaultOptions()); !errors.Is(err, ErrNone) {
		t.Errorf("a folder without a study opens: %v", err)
	}
}

func TestFrozen(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "larch")
	f, err := faulty.create(dir, DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if b, err := f.Frozen("study.yaml"); err != nil || string(b) != "format: 1\n" {
		t.Fatalf("%q, %v", b, err)
	}
	if err := os.WriteFile(filepath.Join(dir, "study.yaml"), []byte("format: 2\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := f.Frozen("study.yaml"); err == nil || !strings.Contains(err.Error(), "study.yaml in") {
		t.Fatalf("a changed file is taken: %v", err)
	}
	for _, name := range []string{"../a", "lock", "manifest.log", "Runs", ".hidden", ""} {
		if _, err := Create(filepath.Join(t.TempDir(), "x"), Header{}, map[string][]byte{name: nil}, DefaultOptions(), small(TableRuns)); err == nil {
			t.Errorf("a file called %q is kept", name)
		}
	}
}

// TestManifestGone: parts whose manifest is gone are told, and nothing is made over them.
func TestManifestGone(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "larch")
	if err := faulty.work(dir, DefaultOptions()); err != nil {
		t.Fatal(err)
	}
	parts, _ := filepath.Glob(filepath.Join(dir, "*", "part-*.parquet"))
	log := filepath.Join(dir, manifestName)
	if err := os.Rename(log, log+".lost"); err != nil {
		t.Fatal(err)
	}
	says := fmt.Sprintf("is gone, and %d parts are there. Put manifest.log back from a copy, or choose another folder", len(parts))
	for name, do := range map[string]func() error{
		"Read":   func() error { _, err := Read(dir); return err },
		"Open":   func() error { _, err := Open(dir, "again", DefaultOptions()); return err },
		"Repair": func() error { _, err := Repair(dir, "again", DefaultOptions()); return err },
		"Create": func() error { _, err := faulty.create(dir, DefaultOptions()); return err },
	} {
		if err := do(); !errors.Is(err, ErrNone) || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v; want a refusal that says %q", name, err, says)
		}
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "*", "part-*.parquet")); len(left) != len(parts) || len(parts) == 0 {
		t.Fatalf("%d of %d parts are left", len(left), len(parts))
	}
	if err := os.Rename(log+".lost", log); err != nil {
		t.Fatal(err)
	}
	faulty.read(t, dir)
}

// TestStrangersAreLeftAlone keeps what is not ours through Open.
func TestStrangersAreLeftAlone(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "larch")
	if err := faulty.work(dir, DefaultOptions()); err != nil {
		t.Fatal(err)
	}
	ours := []string{"runs/.part-000009.parquet.tmp", "runs/part-000077.parquet", ".notes.yaml.tmp"}
	theirs := []string{"runs/notes.txt", "runs/part-1.parquet", "runs/best.parquet", "report.html", "part-000001.parquet"}
	for _, name := range append(ours, theirs...) {
		if err := os.WriteFile(filepath.Join(dir, filepath.FromSlash(name)), []byte("x"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	f, err := Open(dir, "again", DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if len(f.Notes()) != len(ours) {
		t.Errorf("notes: %q", f.Notes())
	}
	for _, name := range ours {
		if _, err := os.Stat(filepath.Join(dir, name)); err == nil {
			t.Errorf("%s is still there", name)
		}
	}
	for _, name := range theirs {
		if _, err := os.Stat(filepath.Join(dir, name)); err != nil {
			t.Errorf("%s is gone", name)
		}
	}
}

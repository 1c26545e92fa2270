package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// mountSmall mounts a small file system for a test, with a way to make it one that cannot be written and back; it skips the
// test where that is not allowed.
func mountSmall(t *testing.T) (dir string, readOnly func(bool)) {
	t.Helper()
	dir = t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=64m"); err != nil {
		t.Skipf("this needs a user who may mount file systems (%v); .ci/run is run by one", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, 0); err != nil {
			t.Error(err)
		}
	})
	return dir, func(so bool) {
		t.Helper()
		flags := uintptr(syscall.MS_REMOUNT)
		if so {
			flags |= syscall.MS_RDONLY
		}
		if err := syscall.Mount("tmpfs", dir, "tmpfs", flags, ""); err != nil {
			t.Fatal(err)
		}
	}
}

// TestReadOnly: on a disk that cannot be written every command that writes ends with code 1 and a sentence, and those
// that read do their work; when it can be written again, the run goes on.
func TestReadOnly(t *testing.T) {
	disk, readOnly := mountSmall(t)
	car := t.TempDir()
	command := func(want int, words []string, args ...string) {
		t.Helper()
		var stdout, stderr bytes.Buffer
		code := run(t.Context(), args, nil, &stdout, &stderr)
		said := stderr.String()
		if code == exitDone || code == exitBudget {
			said += stdout.String()
		}
		if code != want {
			t.Errorf("trammel %s ends with code %d, want %d: %s", strings.Join(args, " "), code, want, said)
		}
		for _, w := range words {
			if !strings.Contains(said, w) {
				t.Errorf("trammel %s does not say %q: %s", strings.Join(args, " "), w, said)
			}
		}
	}
	command(exitDone, nil, "init", car)
	study := filepath.Join(car, "night.yaml")
	budget := func(runs string) {
		t.Helper()
		text := `format: 1
study: a night on a disk that cannot be written
geometry: corncrake-front.yaml
motions: {heave: {wheel_travel: [-50, 50], positions: 5}}
vary: {steering_arm.z: {by: 5}, rack_end.z: {by: 5}}
targets: {bump steer: {measure: toe, in: heave, hold: 0.08, within: 0.05}}
stages: [{plan: random, runs: 600}]
budget: {runs: ` + runs + "}\n"
		if err := os.WriteFile(study, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	night, again := filepath.Join(disk, "night"), filepath.Join(disk, "again")
	cannot := []string{"The folder cannot be written (", "read-only file system). Give yourself the right to write there, or choose another folder."}

	budget("200")
	command(exitBudget, nil, "run", study, "--out", night, "--quiet")
	readOnly(true)
	budget("1000")
	command(exitError, cannot, "run", study, "--out", night, "--quiet")
	command(exitError, cannot, "run", study, "--out", night, "--quiet", "--repair")
	command(exitError, cannot, "run", study, "--out", again, "--quiet")
	command(exitError, cannot, "gather", night, "--out", again)
	command(exitDone, []string{"all values were read and compared"}, "check", night)
	command(exitDone, []string{"bump steer"}, "rank", night)
	command(exitDone, []string{"toe"}, "curves", night)
	command(exitDone, []string{"points:"}, "export", night)
	for _, args := range [][]string{{"export", night, "-o"}, {"curves", night, "-o"}, {"curves", night, "--format", "parquet", "-o"}, {"rank", night, "--format", "csv", "-o"}} {
		command(exitError, []string{disk, "file", "read-only file system"}, append(args, filepath.Join(disk, "file"))...)
	}
	command(exitError, []string{disk, "read-only file system"}, "init", filepath.Join(disk, "car"))
	readOnly(false)
	command(exitDone, []string{"601 runs"}, "run", study, "--out", night, "--quiet")
}

// TestFolderOfAnother: a folder in which this user may not write is told as one.
func TestFolderOfAnother(t *testing.T) {
	if os.Getuid() == 0 {
		t.Skip("the superuser may write everywhere; TestReadOnly mounts what not even this user can write")
	}
	dir := t.TempDir()
	if code := run(t.Context(), []string{"init", filepath.Join(dir, "car")}, nil, &bytes.Buffer{}, &bytes.Buffer{}); code != exitDone {
		t.Fatal("init does not work")
	}
	closed := filepath.Join(dir, "closed")
	if err := os.Mkdir(closed, 0o555); err != nil {
		t.Fatal(err)
	}
	var stderr bytes.Buffer
	code := run(t.Context(), []string{"run", filepath.Join(dir, "car", "corncrake-first-night.yaml"), "--out", filepath.Join(closed, "night"), "--quiet"}, nil, &bytes.Buffer{}, &stderr)
	if code != exitError || !strings.Contains(stderr.String(), "The folder cannot be written (") || !strings.Contains(stderr.String(), "permission denied") {
		t.Errorf("code %d: %s", code, stderr.String())
	}
}

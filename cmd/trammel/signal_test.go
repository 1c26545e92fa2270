//go:build !windows

package main

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// TestSignals: an interrupt, a polite kill and a terminal that is closed end a run cleanly with code 130; running again
// goes on from what was kept and is interrupted in its turn.
func TestSignals(t *testing.T) {
	dir := t.TempDir()
	study := filepath.Join(dir, "long.yaml")
	if code := run(t.Context(), []string{"init", dir}, nil, &bytes.Buffer{}, &bytes.Buffer{}); code != exitDone {
		t.Fatal("init does not work")
	}
	text := `format: 1
study: a night that never ends
geometry: corncrake-front.yaml
vary: {steering_arm.z: {by: 10}, rack_end.z: {by: 10}}
targets: {bump steer: {measure: toe, in: heave, hold: 0.08, within: 0.05}}
stages: [{plan: random, runs: 5000000}]
`
	if err := os.WriteFile(study, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	for _, signal := range []os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP} {
		var stdout, stderr bytes.Buffer
		cmd := exec.Command(self, "run", study, "--quiet", "--workers", "2")
		cmd.Args[0] = "trammel" // TestMain then runs the program
		cmd.Stdout, cmd.Stderr = &stdout, &stderr
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		done := make(chan error, 1)
		go func() { done <- cmd.Wait() }()
		// The manifest is opened when the run is under way.
		for range 600 {
			if _, err := os.Stat(filepath.Join(dir, "long-runs", "manifest.log")); err == nil {
				break
			}
			time.Sleep(10 * time.Millisecond)
		}
		time.Sleep(300 * time.Millisecond)
		if err := cmd.Process.Signal(signal); err != nil {
			t.Fatal(err)
		}
		select {
		case err = <-done:
		case <-time.After(30 * time.Second):
			cmd.Process.Kill()
			t.Fatalf("%v does not end the run", signal)
		}
		var e *exec.ExitError
		if !errors.As(err, &e) || e.ExitCode() != exitInterrupted {
			t.Errorf("%v: %v; want exit code %d\n%s", signal, err, exitInterrupted, stderr.String())
		}
		if !strings.Contains(stdout.String(), "To go on: trammel run "+study) {
			t.Errorf("%v: no sentence that goes on: %s", signal, stdout.String())
		}
	}
}

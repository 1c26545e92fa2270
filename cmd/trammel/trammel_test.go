package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// TestMain lets scripts run the program as a process of its own.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"trammel": main})
}

// TestScripts runs every script of testdata/script.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits": exits,
			"json":  jsonHolds,
		},
	})
}

// exits CODE ARGS... runs trammel as a process and asserts its exit code; stdout and stderr are kept for
// the commands that look at them.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 1 {
		ts.Fatalf("usage: exits CODE ARGS...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	if err := ts.Exec("trammel", args[1:]...); err != nil {
		var e *exec.ExitError
		if !errors.As(err, &e) {
			ts.Fatalf("%v", err)
		}
		got = e.ExitCode()
	}
	if got != want {
		ts.Fatalf("exit code %d; want %d", got, want)
	}
}

// jsonHolds FILE KEY... asserts that a file is one JSON document with these keys at its top.
func jsonHolds(ts *testscript.TestScript, neg bool, args []string) {
	var doc map[string]any
	err := json.Unmarshal([]byte(ts.ReadFile(args[0])), &doc)
	if (err != nil) != neg {
		ts.Fatalf("%s: %v", args[0], err)
	}
	for _, key := range args[1:] {
		if _, there := doc[key]; !there {
			ts.Fatalf("%s has no %q", args[0], key)
		}
	}
}

// TestInterrupted: a context that has ended stops a study cleanly, with the code of an interrupted run and
// the sentence that goes on, and the same command goes on to the end.
func TestInterrupted(t *testing.T) {
	dir := t.TempDir()
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	var stdout, stderr bytes.Buffer
	args := []string{"run", "--example", "corncrake", "--out", dir, "--quiet"}
	if code := run(ctx, args, nil, &stdout, &stderr); code != exitInterrupted {
		t.Errorf("exit code %d; want %d\n%s%s", code, exitInterrupted, stdout.String(), stderr.String())
	}
	if !strings.Contains(stdout.String(), "To go on: trammel run ") {
		t.Errorf("no sentence that goes on: %s", stdout.String())
	}
	stdout.Reset()
	if code := run(context.Background(), args, nil, &stdout, &stderr); code != exitDone || !strings.Contains(stdout.String(), "Finished: 2") {
		t.Errorf("going on: exit code %d, %s%s", code, stdout.String(), stderr.String())
	}
}

// TestHelpIsWhole: every command has a short line, a long text and an example, and every exit code is in
// the help of the program.
func TestHelpIsWhole(t *testing.T) {
	root := newRoot(&env{})
	for _, c := range root.Commands() {
		if c.Hidden || c.Name() == "help" {
			continue
		}
		if c.Short == "" || c.Long == "" || c.Example == "" {
			t.Errorf("%s lacks a short line, a long text or an example", c.Name())
		}
	}
	for _, code := range []int{exitDone, exitError, exitUsage, exitNoFeasible, exitBudget, exitInterrupted} {
		if !strings.Contains(root.Long, fmt.Sprintf("\n  %-4d ", code)) {
			t.Errorf("exit code %d is not in the help", code)
		}
	}
}

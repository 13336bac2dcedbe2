package main

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"strconv"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"stopwise/cmd/stopwise/internal/browsertest"
	"stopwise/cmd/stopwise/internal/shell"
)

// In scripts, stopwise is the program and trial is the program with made-up
// commands.
func TestMain(m *testing.M) {
	atOnce()
	testscript.Main(browsertest.Main{M: m}, map[string]func(){
		"stopwise": main,
		"trial":    func() { os.Exit(shell.Run(trialCommands, os.Args, os.Stdin, os.Stdout, os.Stderr)) },
	})
}

// atOnce lets twice as many tests run beside each other as there are processors: many wait
// for a browser, or for the disk. A -parallel on the command line comes later and counts.
// There is memory enough to collect garbage less often.
func atOnce() {
	debug.SetGCPercent(400)
	if err := flag.Set("test.parallel", strconv.Itoa(2*runtime.GOMAXPROCS(0))); err != nil {
		panic(err)
	}
}

// Scripts find the shipped, invented data in $VALE.
func TestScripts(t *testing.T) {
	vale, err := filepath.Abs("../../testdata/marrow-vale")
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(e *testscript.Env) error {
			e.Setenv("VALE", vale)
			return nil
		},
		Condition: func(name string) (bool, error) {
			if name == "full" {
				return *full, nil
			}
			return false, fmt.Errorf("there is no condition %s", name)
		},
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Cmds:                map[string]func(*testscript.TestScript, bool, []string){"exits": exits},
	})
}

// exits is a command of scripts: "exits 2 stopwise nosuch" runs a program, and
// the script fails unless that is its exit status.
func exits(ts *testscript.TestScript, negated bool, args []string) {
	if negated || len(args) < 2 {
		ts.Fatalf("usage: exits STATUS PROGRAM [ARGUMENT...]")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		e, ok := errors.AsType[*exec.ExitError](err)
		if !ok {
			ts.Fatalf("%v", err)
		}
		got = e.ExitCode()
	}
	if got != want {
		ts.Fatalf("exit status %d, want %d", got, want)
	}
}

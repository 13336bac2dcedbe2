// Stopwise designs sampling plans for scouting crop fields, and helps to walk
// them: after each stop it says whether to leave the field, to act, or to go on.
//
// Run stopwise --help for its commands, and stopwise COMMAND --help for the
// flags of a command with an example.
//
// The exit status is 0 when the work is done, 1 when it failed (a plan that
// cannot exist, a validation that falls short), and 2 when the input or the
// usage is wrong. Messages go to standard error, one line each.
package main

import (
	"io"
	"os"
	"runtime"
	"runtime/debug"

	"stopwise/cmd/stopwise/internal/shell"
)

func main() {
	collectLater()
	os.Exit(run(os.Args, os.Stdin, os.Stdout, os.Stderr))
}

// collectLater puts the first collection of garbage off until 32 MB are in use,
// instead of 4: most commands end before that, and two collections would be a
// sixth of the time of a short one. After the first, all is as usual.
func collectLater() {
	if os.Getenv("GOGC") != "" || os.Getenv("GOMEMLIMIT") != "" {
		return
	}
	usual, unlimited := debug.SetGCPercent(-1), debug.SetMemoryLimit(-1)
	debug.SetMemoryLimit(32 << 20)
	first := new([64]byte)
	runtime.SetFinalizer(first, func(*[64]byte) {
		debug.SetGCPercent(usual)
		debug.SetMemoryLimit(unlimited)
	})
}

// run runs the program on args, the first of which is its name, and returns
// the exit status.
func run(args []string, in io.Reader, out, errOut io.Writer) int {
	return shell.Run(asked(args), args, in, out, errOut)
}

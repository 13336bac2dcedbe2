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

	"stopwise/cmd/stopwise/internal/shell"
)

func main() { os.Exit(run(os.Args, os.Stdin, os.Stdout, os.Stderr)) }

// run runs the program on args, the first of which is its name, and returns
// the exit status.
func run(args []string, in io.Reader, out, errOut io.Writer) int {
	return shell.Run(commands, args, in, out, errOut)
}

package shell

import "github.com/urfave/cli/v2"

// DetailFlag asks for all that was found in place of what matters first.
func DetailFlag() *cli.BoolFlag {
	return &cli.BoolFlag{Name: "detail", Usage: "print all that was found, with the tables behind the answer"}
}

// Detailed reports whether --detail was given. What it would not change refuses it:
// csv and json hold everything anyway.
func Detailed(c *cli.Context, format string) (bool, error) {
	if !c.Bool("detail") {
		return false, nil
	}
	if format != "text" && format != "markdown" {
		return false, UsageError("--detail goes with text and markdown; %s holds everything anyway", format)
	}
	return true, nil
}

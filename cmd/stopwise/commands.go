package main

import "github.com/urfave/cli/v2"

// commands returns the commands in the order in which help lists them. They are
// built anew for each run, because flags keep what they were set to.
func commands(e env) []*cli.Command {
	return []*cli.Command{
		demoCommand(e),
		fitCommand(e),
		sizeCommand(e),
		designCommand(e),
		tableCommand(e),
		curveCommand(e),
		bulletinCommand(e),
		checkCommand(e),
		cardCommand(e),
		walkCommand(e),
		seasonCommand(e),
		validateCommand(e),
		tallyCommand(e),
		studyCommand(e),
		completionCommand(e),
		completeCommand(e),
	}
}

package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
)

// trialCommands are made up, to try what all commands share.
func trialCommands(e shell.Env) []*cli.Command {
	return []*cli.Command{
		trialCheck(e),
		{
			Name: "size", Usage: "how many stops and plants are needed",
			Description: "Finds the smallest sample that reaches what was asked for.",
			Subcommands: []*cli.Command{trialDetect(e), {Name: "mean", Usage: "for a mean", Action: func(*cli.Context) error { return nil }}},
		},
		trialFail(),
	}
}

// trialCheck prints what reached it.
func trialCheck(e shell.Env) *cli.Command {
	stage, format, seed := shell.StageFlag().WithoutValue("the only one of the plan"), shell.FormatFlag(), shell.SeedFlag()
	rho, plants := shell.RhoFlag(), shell.PlantsPerStopFlag().WithDefault("20")
	return &cli.Command{
		Name: "check", Usage: "say what to do after the stops so far", ArgsUsage: "PLAN.json COUNT...",
		Description: `Says after each stop whether to leave the field, to act, or to go on. A count is the number of infested plants of a stop.

$ stopwise check plan.json 3 5 2/18 --stage leafing

The verdict is one of

  leave, act, continue`,
		Flags: []cli.Flag{stage, format, seed, rho, plants, &cli.BoolFlag{Name: "brief", Usage: "only the verdict"}},
		Action: func(c *cli.Context) error {
			if c.NArg() == 0 {
				return shell.UsageError("the plan is missing")
			}
			fmt.Fprintf(e.Out, "%q stage %q format %s seed %d rho %s plants %d brief %t\n",
				c.Args().Slice(), stage.Value, format.Value, seed.Value, rho.Value, plants.Value, c.Bool("brief"))
			return nil
		},
	}
}

func trialDetect(e shell.Env) *cli.Command {
	prevalence, confidence, lower, upper := shell.PrevalenceFlag(), shell.ConfidenceFlag(), shell.LowerFlag(), shell.UpperFlag()
	k, taylor, rho := shell.KFlag(), shell.TaylorFlag(), shell.RhoFlag()
	return &cli.Command{
		Name: "detect", Usage: "for finding a pest at all", ArgsUsage: " ",
		Description: "Finds how many stops are needed.\n\n$ stopwise size detect --prevalence 5% \\\n    --confidence 90%",
		Flags:       []cli.Flag{prevalence, confidence, lower, upper, k, taylor, rho, &cli.IntFlag{Name: "n", Usage: "any `COUNT`"}},
		Action: func(c *cli.Context) error {
			if err := shell.Required(prevalence, confidence); err != nil {
				return err
			}
			if err := shell.Exclusive(k, taylor); err != nil {
				return err
			}
			if lower.Set && upper.Set {
				if err := shell.Below(lower, upper); err != nil {
					return err
				}
			}
			r, err := shell.Single(rho)
			if err != nil {
				return err
			}
			fmt.Fprintln(e.Out, prevalence.Value, confidence.Value, taylor.Value, r)
			return nil
		},
	}
}

// trialFail fails in the way that its argument names.
func trialFail() *cli.Command {
	return &cli.Command{
		Name: "fail", Usage: "fail", ArgsUsage: "HOW",
		Action: func(c *cli.Context) error {
			switch c.Args().First() {
			case "panic":
				panic("a\nb")
			case "bug":
				return c.App.Metadata["no error"].(error)
			case "work":
				return shell.Failure("no plan keeps both risks within %d stops", 20)
			case "input":
				return shell.InputError("marrow.toml", errors.Join(&placed{12, 0, "unknown key \"uper\""}, &placed{14, 5, "stage appears twice"}, errors.New("no stage")))
			case "missing":
				return shell.InputError("marrow.toml", &fs.PathError{Op: "open", Path: "marrow.toml", Err: fs.ErrNotExist})
			case "format":
				return report.Write(c.App.Writer, "csv", report.Output{Doc: &report.Document{}})
			}
			return nil
		},
	}
}

// try runs the made-up commands with arguments parted by spaces.
func try(args string) (status int, out, errOut string) {
	return tryArgs(strings.Fields(args)...)
}

func tryArgs(args ...string) (status int, out, errOut string) {
	var o, e bytes.Buffer
	status = shell.Run(trialCommands, append([]string{"stopwise"}, args...), strings.NewReader(""), &o, &e)
	return status, o.String(), e.String()
}

// A placed is an error that knows its place in a file.
type placed struct {
	line, column int
	text         string
}

func (p *placed) Error() string        { return fmt.Sprintf("line %d: %s", p.line, p.text) }
func (p *placed) Position() (int, int) { return p.line, p.column }
func (p *placed) Text() string         { return p.text }

package shell

import (
	"cmp"
	"context"
	"errors"
	"os"
	"os/signal"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// A Question is a command that answers: flags and arguments in, an output out.
type Question struct {
	Name, Usage, Description string
	Arguments                string   // as in help; it takes flags only where that is empty
	Words                    []string // that the first argument can be, where they are few
	Flags                    []cli.Flag
	Format                   *Option[string] // the usual formats where nil
	Answer                   func(context.Context, *cli.Context) (report.Output, error)
}

// Command returns the command, with the flag of the format last.
func (q Question) Command(e Env) *cli.Command {
	format := q.Format
	if format == nil {
		format = FormatFlag()
	}
	return &cli.Command{
		Name: q.Name, Usage: q.Usage, ArgsUsage: cmp.Or(q.Arguments, " "), Description: q.Description,
		Flags:        append(q.Flags, format),
		BashComplete: Completes(e, q.Words),
		Action: Interruptible(func(ctx context.Context, c *cli.Context) error {
			if q.Arguments == "" && c.Args().Present() {
				return UsageHint("see "+c.Command.HelpName+" --help", "%s takes flags only, not %q", called(c), c.Args().First())
			}
			out, err := q.Answer(ctx, c)
			switch {
			case errors.Is(err, context.Canceled):
				return Failure("interrupted")
			case err != nil:
				return err
			}
			return report.Write(e.Out, format.Value, out)
		}),
	}
}

// Interruptible returns an action whose context ends with the first interrupt; the
// second ends the program.
func Interruptible(do func(context.Context, *cli.Context) error) cli.ActionFunc {
	return func(c *cli.Context) error {
		ctx, cancel := signal.NotifyContext(context.Background(), os.Interrupt)
		defer cancel()
		context.AfterFunc(ctx, cancel)
		return do(ctx, c)
	}
}

// called returns a command's name as it is called, such as "season list".
func called(c *cli.Context) string { return strings.TrimPrefix(c.Command.HelpName, "stopwise ") }

// Only returns the one argument that a command takes; what names it.
func Only(c *cli.Context, what string) (string, error) {
	if c.NArg() != 1 {
		return "", UsageHint("see "+c.Command.HelpName+" --help", "%s takes one %s, not %d arguments", called(c), what, c.NArg())
	}
	return c.Args().First(), nil
}

// OnlyTable returns the stage plan that is asked for of the plan that a command takes.
func OnlyTable(e Env, c *cli.Context, stage, last *Option[string]) (*plans.StagePlan, error) {
	file, err := Only(c, "plan")
	if err != nil {
		return nil, err
	}
	_, s, err := ReadStage(e, file, stage.Value)
	if err != nil {
		return nil, err
	}
	return TableFor(s, last)
}

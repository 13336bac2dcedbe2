// Package studying holds the command study, for whoever wants to see sampling
// error.
package studying

import (
	"context"
	"os"
	"os/signal"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/sampling/size"
)

func StudyCommand(e shell.Env) *cli.Command {
	return &cli.Command{
		Name:  "study",
		Usage: "see sampling error: the same field scouted again and again, and what buys accuracy",
		Description: `For whoever wants to see why four stops mislead, and what to do about it. Fields whose level is known, exact values beside simulated ones, and the methods of this program explained with numbers that are computed as you read them.

$ stopwise study scouts
$ stopwise study effort --rho 0.1
$ stopwise study explain clumping`,
		Subcommands: []*cli.Command{
			studyScouts().command(e), studyMaps().command(e), studyCoverage(e).command(e), studyEffort().command(e), studyLines(e).command(e),
			studyLooks().command(e), studyTables(e).command(e), studyFields(e).command(e), studySeason(e).command(e), studyExplain().command(e),
		},
	}
}

// A studyPart is a subcommand of study: flags and arguments in, an output out.
type studyPart struct {
	name, usage, description string
	arguments                string   // as in help; none where empty
	words                    []string // that the first argument can be, where they are few
	flags                    []cli.Flag
	show                     func(context.Context, *cli.Context) (report.Output, error)
}

func (p studyPart) command(e shell.Env) *cli.Command {
	format := shell.FormatFlag()
	arguments := p.arguments
	if arguments == "" {
		arguments = " "
	}
	return &cli.Command{
		Name: p.name, Usage: p.usage, ArgsUsage: arguments, Description: p.description,
		Flags:        append(p.flags, format),
		BashComplete: shell.Completes(e, p.words),
		Action: func(c *cli.Context) error {
			if p.arguments == "" && c.Args().Present() {
				return shell.UsageHint("see stopwise study "+p.name+" --help", "study %s takes flags only, not %q", p.name, c.Args().First())
			}
			ctx, cancel := signal.NotifyContext(context.Background(), os.Interrupt)
			defer cancel()
			out, err := p.show(ctx, c)
			switch {
			case err != nil && ctx.Err() != nil:
				return shell.Failure("interrupted")
			case err != nil:
				return err
			}
			return report.Write(e.Out, format.Value, out)
		},
	}
}

// made holds the flags that say how fields of a known share are visited.
type made struct {
	stops, plants *shell.Option[int]
	rho           *shell.Option[plans.Range]
}

func newMade() made {
	return made{
		stops:  shell.NewOption("stops", "`COUNT` stops of a visit", shell.Whole(1, size.MaxPlants)).WithDefault("4"),
		plants: shell.PlantsPerStopFlag().WithDefault("20"),
		rho:    shell.RhoFlag().WithDefault("0.1"),
	}
}

func (m made) flags() []cli.Flag { return []cli.Flag{m.stops, m.plants, m.rho} }

// both returns the clumping that is shown: none, and what was asked for.
func (m made) both() ([]float64, error) {
	rho, err := shell.Single(m.rho)
	if err != nil || rho == 0 {
		return []float64{0}, err
	}
	return []float64{0, rho}, nil
}

// alike says how plants of a stop are, in a few words.
func alike(rho float64) string {
	if rho == 0 {
		return "plants independent"
	}
	return "plants alike, rho " + report.Constant(rho)
}

func actAtFlag(text string) *shell.Option[float64] {
	return shell.ShareUpTo("act-at", "`SHARE` the visit ends with act when this share of the plants seen is infested, or more").WithDefault(text)
}

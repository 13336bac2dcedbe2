// Package studying holds the command study, for whoever wants to see sampling
// error.
package studying

import (
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
			studyScouts().Command(e), studyMaps().Command(e), studyCoverage(e).Command(e), studyEffort().Command(e), studyLines(e).Command(e),
			studyLooks().Command(e), studyTables(e).Command(e), studyFields(e).Command(e), studySeason(e).Command(e), studyExplain().Command(e),
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

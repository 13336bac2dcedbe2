// Package sizing holds the command size with its questions.
package sizing

import (
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/sampling/size"
)

func SizeCommand(e shell.Env) *cli.Command {
	return &cli.Command{
		Name:  "size",
		Usage: "say how many stops and plants are needed, and what a visit can tell",
		Description: `Samples of fixed size: how many stops of how many plants it takes to estimate the share infested or a mean, to tell a low share from a high one, or to find a pest at all; and the other way round, what a given visit can tell. Each answer shows what it takes for granted and how it changes if the clumping is something else.

$ stopwise size classify --lower 15% --upper 30% --needless-risk 10% --missed-risk 10% --rho 0.1
$ stopwise size classify --stops 4 --act-at 25% --needless-risk 10% --missed-risk 10% --rho 0.1
$ stopwise size detect --prevalence 5% --rho 0.1`,
		Subcommands: []*cli.Command{
			sizeProportion().Command(e), sizeMean().Command(e), sizeClassify().Command(e), sizeDetect().Command(e), sizeAllocate().Command(e),
		},
	}
}

// A sizeHead is what the JSON of every answer begins with.
type sizeHead struct {
	report.Envelope
	Stops         int `json:"stops"`
	Plants        int `json:"plants"`
	PlantsPerStop int `json:"plants_per_stop"`
	Achieved      any `json:"achieved"`
	Requested     any `json:"requested"`
}

// A sizeLine is what the line of a CSV begins with.
type sizeLine struct {
	Stops         int     `json:"stops"`
	Plants        int     `json:"plants"`
	PlantsPerStop int     `json:"plants_per_stop"`
	Rho           float64 `json:"rho"`
}

// A sizeTail is what it ends with.
type sizeTail struct {
	Sensitivity *sensitivityJSON `json:"sensitivity"`
	Assumptions []string         `json:"assumptions"`
	Warnings    []string         `json:"warnings"`
}

type sensitivityJSON struct {
	Of   string `json:"of"`
	Rows []any  `json:"rows"`
}

// A sampleRow is the answer at another value of what it is sensitive to.
type sampleRow struct {
	Value    *float64 `json:"value"` // null is infinite: Poisson
	Assumed  bool     `json:"assumed"`
	Stops    *int     `json:"stops"`
	Plants   *int     `json:"plants"`
	Achieved any      `json:"achieved"`
}

// sensitivityOf returns the answers over values; nil where there are none.
func sensitivityOf(s size.Sensitivity, plants func(size.SensitivityRow) int, achieved func(size.SensitivityRow) any) *sensitivityJSON {
	if len(s.Rows) == 0 {
		return nil
	}
	j := &sensitivityJSON{Of: s.Of}
	for _, r := range s.Rows {
		j.Rows = append(j.Rows, sampleRow{report.Finite(r.Value), r.Assumed, report.OrNull(r.Stops, 0), report.OrNull(plants(r), 0), achieved(r)})
	}
	return j
}

func allPlants(r size.SensitivityRow) int { return r.Plants }

// perStop holds the flags that say what is taken at a stop.
type perStop struct {
	plants *shell.Option[int]
	rho    *shell.Option[plans.Range]
}

func newPerStop() perStop {
	return perStop{shell.PlantsPerStopFlag().WithDefault("20"), shell.RhoFlag()}
}

// clumping returns the rho that counts, and where it comes from. Where a stop is
// one plant it plays no part and may be left out.
func (p perStop) clumping() (rho float64, source string, err error) {
	switch {
	case !p.rho.Set && p.plants.Value == 1:
		return 0, "", nil
	case !p.rho.Set:
		return 0, "", shell.UsageHint("give a value or a range, such as --rho 0.1; 0 if the plants of a stop are independent", "--rho is missing")
	case p.rho.Value.Single():
		return p.rho.Value.Low, "as given with --rho", nil
	}
	return p.rho.Value.High, fmt.Sprintf("the clumped end of the range %s given with --rho, which is what counts", p.rho.Value), nil
}

// sentence returns a phrase as a sentence.
func sentence(s string) string { return strings.ToUpper(s[:1]) + s[1:] + "." }

// takenHere marks the row of the answer itself.
func takenHere(assumed bool) string {
	if assumed {
		return "taken here"
	}
	return ""
}

// walkThese begins an answer: "Walk 8 stops of 20 plants (160 plants)". In a
// small field the last stop may be short.
func walkThese(stops, perStop, plants int) string {
	if perStop == 1 {
		return fmt.Sprintf("Examine %s, each at a stop of its own", report.Count(plants, "plant", "plants"))
	}
	return fmt.Sprintf("Walk %s (%s)", say.StopsOf(stops, perStop), report.Count(plants, "plant", "plants"))
}

// neededStops are the cells of a number of stops with its plants, where 0 is
// more than is within reach.
func neededStops(stops, plants int) (string, string) {
	if stops == 0 {
		return "out of reach", ""
	}
	return fmt.Sprint(stops), fmt.Sprint(plants)
}

func fieldPlantsFlag() *shell.Option[int] {
	return shell.NewOption("field-plants", "`COUNT` plants in the field, where it is small", shell.Whole(1, size.MaxField)).WithoutValue("very many")
}

package sizing

import (
	"context"
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/sampling/size"
)

// classifyFlags state a pair of bounds, and a visit where there is one.
type classifyFlags struct {
	perStop
	lower, upper, needless, missed *shell.Option[float64]
	minStops, maxStops             *shell.Option[int]
	stops, actNumber               *shell.Option[int]
	actAt                          *shell.Option[float64]
	at                             *shell.Option[[]float64]
}

func sizeClassify() shell.Question {
	f := &classifyFlags{
		perStop: newPerStop(),
		lower:   shell.LowerFlag(), upper: shell.UpperFlag(), needless: shell.NeedlessRiskFlag(), missed: shell.MissedRiskFlag(),
		minStops: shell.DescribedAs(shell.MinStopsFlag(), "`COUNT` the fewest stops to look at").WithoutValue("1"),
		maxStops: shell.DescribedAs(shell.MaxStopsFlag(), "`COUNT` the most stops to look at").WithoutValue(fmt.Sprintf("as many as make %d plants", size.MaxPlants)),
		stops:    shell.NewOption("stops", "`COUNT` the other way round: the stops of the visit, to see what it can tell", shell.Whole(1, size.MaxPlants)),
		actAt:    shell.ShareUpTo("act-at", "`SHARE` with --stops: treat when this share or more is seen infested").WithoutValue("what suits the bounds best"),
		actNumber: shell.NewOption("act-number", "`COUNT` with --stops: treat at so many infested plants or more; the same as --act-at, in plants",
			shell.Whole(1, size.MaxPlants)),
		at: shell.SharesFlag().WithoutValue("from 5% to 50%"),
	}
	return shell.Question{
		Name:  "classify",
		Usage: "find the fewest stops that tell a low share from a high one",
		Description: `Finds the fewest stops, all walked to the end, whose exact risks stay within those allowed: of treating a field at the lower bound and of leaving one at the upper bound. With --stops the question is turned round: what such a visit does at each true share, and the closest shares that it can tell apart.

$ stopwise size classify --lower 15% --upper 30% --needless-risk 10% --missed-risk 10% --plants-per-stop 20 --rho 0.1
$ stopwise size classify --stops 4 --act-at 25% --lower 15% --upper 30% --needless-risk 10% --missed-risk 10% --rho 0.1

A plan that may stop early does with fewer stops on average: see ` + "`stopwise design --help`" + `.`,
		Flags: []cli.Flag{f.lower, f.upper, f.needless, f.missed, f.plants, f.rho, f.minStops, f.maxStops, f.stops, f.actAt, f.actNumber, f.at},
		Answer: func(context.Context, *cli.Context) (report.Output, error) {
			if f.stops.Set {
				return f.visit()
			}
			return f.fewest()
		},
	}
}

func (f *classifyFlags) fewest() (report.Output, error) {
	if err := shell.NoneOf("goes with --stops, the question turned round", f.actAt, f.actNumber, f.at); err != nil {
		return report.Output{}, err
	}
	if err := shell.Required(f.lower, f.upper, f.needless, f.missed); err != nil {
		return report.Output{}, err
	}
	if err := shell.Below(f.lower, f.upper); err != nil {
		return report.Output{}, err
	}
	rho, source, err := f.clumping()
	if err != nil {
		return report.Output{}, err
	}
	res, err := size.Classify(size.ClassifyRequest{
		Lower: f.lower.Value, Upper: f.upper.Value, NeedlessRisk: f.needless.Value, MissedRisk: f.missed.Value,
		PlantsPerStop: f.plants.Value, Rho: rho, MinStops: f.minStops.Value, MaxStops: f.maxStops.Value,
	})
	if err != nil {
		return report.Output{}, shell.DesignError(err)
	}
	g := classifyGrounds(res, source)
	g.defaults(f.plants)
	return classifyOutput(res, g), nil
}

// bothRisks are a needless and a missed risk: allowed ones or exact ones.
type bothRisks struct {
	Needless float64 `json:"needless_risk"`
	Missed   float64 `json:"missed_risk"`
}

type classifyAsked struct {
	Lower float64 `json:"lower"`
	Upper float64 `json:"upper"`
	bothRisks
	Rho float64 `json:"rho"`
}

type classifyJSON struct {
	sizeHead
	Leave        int   `json:"leave"`
	Act          int   `json:"act"`
	LeaveNumbers []int `json:"leave_numbers"` // the least and the greatest that keep both risks
	EveryFrom    *int  `json:"every_number_of_stops_from"`
	Failing      []int `json:"stops_that_fail"`
	sizeTail
}

// classifyLine is the answer as CSV: on one line, the request beside the result, where JSON
// keeps them apart.
type classifyLine struct {
	sizeLine
	Lower float64 `json:"lower"`
	Upper float64 `json:"upper"`
	Leave int     `json:"leave"`
	Act   int     `json:"act"`
	bothRisks
}

func classifyOutput(res size.ClassifyResult, g grounds) report.Output {
	r := res.Request
	j := classifyJSON{
		sizeHead: sizeHead{
			Envelope: report.Envelope{Kind: "stopwise size classify", Version: 1},
			Stops:    res.Stops, Plants: res.Plants, PlantsPerStop: r.PlantsPerStop,
			Achieved:  bothRisks{res.NeedlessRisk, res.MissedRisk},
			Requested: classifyAsked{r.Lower, r.Upper, bothRisks{r.NeedlessRisk, r.MissedRisk}, r.Rho},
		},
		Leave: res.Cutoff, Act: res.Cutoff + 1, LeaveNumbers: []int{res.LowestCutoff, res.HighestCutoff},
		EveryFrom: report.OrNull(res.EveryFrom, 0), Failing: append([]int{}, res.Failing...),
		sizeTail: g.tail(sensitivityOf(res.Sensitivity, allPlants, func(r size.SensitivityRow) any { return bothRisks{r.Reached, r.ReachedMissed} })),
	}
	return report.Output{Doc: classifyDocument(res, g), Records: report.RecordsOf([]classifyLine{{sizeLine{res.Stops, res.Plants, r.PlantsPerStop, r.Rho}, r.Lower, r.Upper, j.Leave, j.Act, bothRisks{res.NeedlessRisk, res.MissedRisk}}}), JSON: j}
}

func classifyDocument(res size.ClassifyResult, g grounds) *report.Document {
	r := res.Request
	d := &report.Document{}
	d.Heading(fmt.Sprintf("Stops that tell %s from %s", report.Share(r.Lower), report.Share(r.Upper)))
	d.Para("%s: leave the field at %s infested in all, act at %d or more.",
		walkThese(res.Stops, r.PlantsPerStop, res.Plants), orFewer(res.Cutoff), res.Cutoff+1)
	d.Para("A field at %s is then treated needlessly in %s of visits (allowed %s), and one at %s is missed in %s (allowed %s). Both chances are exact.",
		report.Share(r.Lower), report.Percent(res.NeedlessRisk), report.Share(r.NeedlessRisk),
		report.Share(r.Upper), report.Percent(res.MissedRisk), report.Share(r.MissedRisk))
	d.Para("%s", sawTooth(res))
	t := report.NewTable("If the plants of a stop are more or less alike than taken here: the stops that would be needed, and what the visit above would risk.",
		">rho", ">stops needed", ">plants", fmt.Sprintf(">%s as above: act at %s", report.Count(res.Stops, "stop", "stops"), report.Share(r.Lower)),
		">leave at "+report.Share(r.Upper), "")
	for _, s := range res.Sensitivity.Rows {
		stops, plants := neededStops(s.Stops, s.Plants)
		t.Add(report.Constant(s.Value), stops, plants, report.Percent(s.Reached), report.Percent(s.ReachedMissed), takenHere(s.Assumed))
	}
	d.Table(t)
	g.tell(d)
	return d
}

func orFewer(n int) string {
	if n <= 0 {
		return "none"
	}
	return fmt.Sprintf("%d or fewer", n)
}

// sawTooth says which other numbers of stops and leave numbers would do.
func sawTooth(res size.ClassifyResult) string {
	s := "Fewer stops do not keep both risks with any act number."
	switch least := res.Request.MinStops; {
	case least > 1 && res.Stops == least:
		s = "Fewer stops were not asked for."
	case least > 1:
		s = fmt.Sprintf("From %d stops on, fewer than these do not keep both risks with any act number.", least)
	}
	switch {
	case res.EveryFrom == 0:
	case len(res.Failing) == 0:
		s += " Every larger number of stops keeps both too, with an act number of its own."
	default:
		s += fmt.Sprintf(" More stops are not always enough, because plants are whole: %s fail; from %d stops on every number keeps both, with an act number of its own.",
			stopNumbers(res.Failing), res.EveryFrom)
	}
	if res.HighestCutoff > res.LowestCutoff {
		s += fmt.Sprintf(" At %s any act number from %d to %d would do; the lowest makes a missed treatment least likely.",
			report.Count(res.Stops, "stop", "stops"), res.LowestCutoff+1, res.HighestCutoff+1)
	}
	return s
}

func stopNumbers(n []int) string {
	words := make([]string, len(n))
	for i, x := range n {
		words[i] = fmt.Sprint(x)
	}
	if len(words) == 1 {
		return words[0] + " stops"
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1] + " stops"
}

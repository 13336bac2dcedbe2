package sizing

import (
	"context"
	"fmt"
	"math"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/sampling/size"
)

type detectFlags struct {
	perStop
	prevalence, confidence, seen *shell.Option[float64]
	field, noneIn                *shell.Option[int]
	at                           *shell.Option[[]float64]
}

func sizeDetect() shell.Question {
	f := &detectFlags{
		perStop: newPerStop(), prevalence: shell.PrevalenceFlag(), confidence: shell.ConfidenceFlag(),
		seen:   shell.ShareUpTo("seen", "`CHANCE` chance that an infested plant, when examined, is seen to be infested").WithDefault("100%"),
		field:  fieldPlantsFlag(),
		noneIn: shell.NewOption("none-in", "`STOPS` the other way round: none was found at so many stops; what can still be there", shell.Whole(1, size.MaxPlants)),
		at:     shell.SharesFlag().WithoutValue("from 0.5% to 25%"),
	}
	return shell.Question{
		Name:  "detect",
		Usage: "find the stops that find a pest if it is there",
		Description: `Finds the fewest stops at which at least one infested plant is found with the wanted confidence when the given share of plants is infested. With --none-in the question is turned round: how much of the pest a visit that found none rules out.

$ stopwise size detect --prevalence 5% --confidence 95% --plants-per-stop 20 --rho 0.1
$ stopwise size detect --prevalence 1% --plants-per-stop 1 --field-plants 2000
$ stopwise size detect --none-in 4 --rho 0.1

In a field of --field-plants the plants are drawn at random from all of it, without repetition; with clumping such a field has no exact answer.`,
		Flags: []cli.Flag{f.prevalence, f.confidence, f.plants, f.rho, f.seen, f.field, f.noneIn, f.at},
		Answer: func(context.Context, *cli.Context) (report.Output, error) {
			if err := shell.Exclusive(f.prevalence, f.noneIn); err != nil {
				return report.Output{}, err
			}
			if f.noneIn.Set {
				return f.none()
			}
			return f.find()
		},
	}
}

// rhoFor returns the clumping that counts: in a finite field, where only
// independent draws have an exact answer, it may be left out.
func (f *detectFlags) rhoFor() (rho float64, source string, err error) {
	if f.field.Set && !f.rho.Set {
		return 0, "", nil
	}
	return f.clumping()
}

func (f *detectFlags) find() (report.Output, error) {
	if f.at.Set {
		return report.Output{}, shell.UsageError("--at goes with --none-in, the question turned round")
	}
	if err := shell.Required(f.prevalence); err != nil {
		return report.Output{}, err
	}
	rho, source, err := f.rhoFor()
	if err != nil {
		return report.Output{}, err
	}
	res, err := size.Detect(size.DetectRequest{
		Prevalence: f.prevalence.Value, Confidence: f.confidence.Value, PlantsPerStop: f.plants.Value,
		Rho: rho, Seen: f.seen.Value, FieldPlants: f.field.Value,
	})
	if err != nil {
		return report.Output{}, err
	}
	g := detectGrounds(res, source)
	g.defaults(f.plants)
	return detectOutput(res, g), nil
}

type detectAsked struct {
	Prevalence  *float64 `json:"prevalence,omitempty"`
	Confidence  float64  `json:"confidence"`
	Rho         float64  `json:"rho"`
	Seen        float64  `json:"seen"`
	FieldPlants *int     `json:"field_plants"`
}

type confidenceJSON struct {
	Confidence float64 `json:"confidence"`
}

type detectJSON struct {
	sizeHead
	Unrounded     *int     `json:"plants_before_rounding"`
	PoissonPlants *int     `json:"plants_by_poisson"`
	Infested      *int     `json:"infested_in_field"`
	NonePerStop   *float64 `json:"p_none_per_stop"`
	sizeTail
}

// detectLine is the answer as CSV: on one line, the request beside the result, where JSON
// keeps them apart.
type detectLine struct {
	sizeLine
	Prevalence  float64 `json:"prevalence"`
	Confidence  float64 `json:"confidence"`
	Seen        float64 `json:"seen"`
	FieldPlants *int    `json:"field_plants"`
	Reached     float64 `json:"achieved_confidence"`
}

func detectOutput(res size.DetectResult, g grounds) report.Output {
	r := res.Request
	j := detectJSON{
		sizeHead: sizeHead{
			Envelope: report.Envelope{Kind: "stopwise size detect", Version: 1},
			Stops:    res.Stops, Plants: res.Plants, PlantsPerStop: r.PlantsPerStop,
			Achieved:  confidenceJSON{res.Reached},
			Requested: detectAsked{&r.Prevalence, r.Confidence, r.Rho, r.Seen, report.OrNull(r.FieldPlants, 0)},
		},
		Unrounded: report.OrNull(res.UnroundedPlants, 0), PoissonPlants: report.OrNull(res.PoissonPlants, 0),
		Infested: report.OrNull(res.Infested, 0), NonePerStop: report.Finite(res.NonePerStop),
		sizeTail: g.tail(sensitivityOf(res.Sensitivity, allPlants, func(r size.SensitivityRow) any { return confidenceJSON{r.Reached} })),
	}
	return report.Output{Doc: detectDocument(res, g), Records: report.RecordsOf([]detectLine{{sizeLine{res.Stops, res.Plants, r.PlantsPerStop, r.Rho}, r.Prevalence, r.Confidence, r.Seen, report.OrNull(r.FieldPlants, 0), res.Reached}}), JSON: j}
}

func detectDocument(res size.DetectResult, g grounds) *report.Document {
	r := res.Request
	d := &report.Document{}
	d.Heading("Stops that find " + report.Share(r.Prevalence))
	d.Para("%s. If %s of the plants are infested, at least one infested plant is found in %s of visits (wanted %s, exact).",
		walkThese(res.Stops, r.PlantsPerStop, res.Plants), report.Share(r.Prevalence), report.Percent(res.Reached), report.Share(r.Confidence))
	if res.UnroundedPlants > 0 && res.UnroundedPlants != res.Plants {
		d.Para("%s would do; a visit takes whole stops.", report.Count(res.UnroundedPlants, "plant", "plants"))
	}
	if res.PoissonPlants > 0 && res.PoissonPlants != res.UnroundedPlants {
		d.Para("Tables made with the Poisson approximation ask for %s.", report.Count(res.PoissonPlants, "plant", "plants"))
	}
	if !math.IsNaN(res.NonePerStop) && r.PlantsPerStop > 1 {
		d.Para("Even then a single stop shows none in %s of cases.", report.Percent(res.NonePerStop))
	}
	d.Para("A visit that finds none does not prove that there is none: it makes a share of %s or more unlikely.", report.Share(r.Prevalence))
	t := report.NewTable("", ">rho", ">stops needed", ">plants", fmt.Sprintf(">%s find it in", report.Count(res.Stops, "stop", "stops")), "")
	t.Caption, t.Columns[0].Head = detectSensitivity(res.Sensitivity.Of)
	for _, s := range res.Sensitivity.Rows {
		stops, plants := neededStops(s.Stops, s.Plants)
		t.Add(detectValue(res.Sensitivity.Of, s.Value), stops, plants, report.Percent(s.Reached), takenHere(s.Assumed))
	}
	d.Table(t)
	g.tell(d)
	return d
}

func detectSensitivity(of string) (caption, head string) {
	if of == "seen" {
		return "If infested plants are overlooked more or less often than taken here:", "seen"
	}
	return "If the plants of a stop are more or less alike than taken here:", "rho"
}

func detectValue(of string, x float64) string {
	if of == "seen" {
		return report.Share(x)
	}
	return report.Constant(x)
}

package sizing

import (
	"context"
	"fmt"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/sampling"
	"stopwise/sampling/size"
)

type proportionFlags struct {
	perStop
	sizePrecisionFlags
	share, halfWidth *shell.Option[float64]
	field            *shell.Option[int]
	interval         *shell.Option[string]
}

func shareExpectedFlag() *shell.Option[float64] {
	return shell.ShareFlag("share", "`SHARE` share of plants infested that is expected; 50% asks for the most stops of a given half-width", 1)
}

func halfWidthFlag() *shell.Option[float64] {
	return shell.ShareFlag("half-width", "`SHARE` wanted half-width of the confidence interval, in points of the share: 5% is plus or minus five points", 0.5)
}

func sizeProportion() shell.Question {
	var methods []string
	for _, m := range sampling.Methods() {
		methods = append(methods, m.String())
	}
	f := &proportionFlags{
		perStop: newPerStop(), sizePrecisionFlags: newPrecision(),
		share: shareExpectedFlag(), halfWidth: halfWidthFlag(), field: fieldPlantsFlag(),
		interval: shell.ChoiceFlag("interval", "`METHOD` interval of the exact route", methods...).WithDefault("wilson"),
	}
	return shell.Question{
		Name:  "proportion",
		Usage: "find the stops that estimate the share infested to a wanted precision",
		Description: `Finds the fewest stops whose confidence interval is, on average, as narrow as wanted. The textbook's normal approximation stands beside it. Plants are rounded up to whole stops.

$ stopwise size proportion --share 20% --half-width 10% --plants-per-stop 20 --rho 0.1
$ stopwise size proportion --share 30% --precision 25% --precision-as standard-error --plants-per-stop 1`,
		Flags:  []cli.Flag{f.share, f.halfWidth, f.precision, f.as, f.confidence, f.plants, f.rho, f.field, f.interval},
		Answer: func(context.Context, *cli.Context) (report.Output, error) { return f.find() },
	}
}

func (f *proportionFlags) find() (report.Output, error) {
	for _, err := range []error{shell.Exclusive(f.halfWidth, f.precision), f.check(), shell.Required(f.share)} {
		if err != nil {
			return report.Output{}, err
		}
	}
	if !f.halfWidth.Set && !f.precision.Set {
		return report.Output{}, shell.UsageHint("give --half-width, or --precision with --precision-as", "no precision is given")
	}
	rho, source, err := f.clumping()
	if err != nil {
		return report.Output{}, err
	}
	method, err := sampling.ParseMethod(f.interval.Value)
	if err != nil {
		return report.Output{}, err
	}
	r := size.ProportionRequest{
		Share: f.share.Value, HalfWidth: f.halfWidth.Value, Relative: f.precision.Value, Confidence: f.confidence.Value,
		PlantsPerStop: f.plants.Value, Rho: rho, FieldPlants: f.field.Value, Interval: method,
	}
	standard := f.convention() == size.StandardError
	if standard {
		r.Relative *= f.standardErrors()
	}
	if r.Relative > 1 {
		return report.Output{}, shell.UsageError("--precision %s as a standard error is an interval of %s of the share on either side at %s confidence; it must be at most all of it",
			report.Share(f.precision.Value), report.Percent(r.Relative), report.Share(r.Confidence))
	}
	res, err := size.Proportion(r)
	if err != nil {
		return report.Output{}, err
	}
	g := proportionGrounds(res, source)
	if standard {
		g.take("precision %s is the standard error over the share; %s confidence makes it %s times as wide",
			report.Share(f.precision.Value), report.Share(r.Confidence), report.Constant(f.standardErrors()))
	}
	g.defaults(f.plants)
	return proportionOutput(res, g), nil
}

// chosen returns the exact route's design where there is one.
func chosen(res size.ProportionResult) size.ProportionDesign {
	if res.Exact != nil {
		return *res.Exact
	}
	return res.Normal
}

type halfWidthJSON struct {
	HalfWidth *float64 `json:"half_width"` // expected, exact
	Normal    float64  `json:"normal_half_width"`
	Coverage  *float64 `json:"coverage"`
}

type proportionAsked struct {
	Share       float64 `json:"share"`
	HalfWidth   float64 `json:"half_width"`
	Confidence  float64 `json:"confidence"`
	Rho         float64 `json:"rho"`
	FieldPlants *int    `json:"field_plants"`
	Interval    string  `json:"interval"`
}

type proportionRoute struct {
	Stops    int           `json:"stops"`
	Plants   int           `json:"plants"`
	Achieved halfWidthJSON `json:"achieved"`
}

type proportionJSON struct {
	sizeHead
	DesignEffect float64          `json:"design_effect"`
	Unrounded    float64          `json:"plants_before_rounding"`
	Normal       proportionRoute  `json:"normal"`
	Exact        *proportionRoute `json:"exact"`
	sizeTail
}

func asRoute(d size.ProportionDesign) proportionRoute {
	return proportionRoute{d.Stops, d.Plants, halfWidthJSON{report.Finite(d.ExpectedHalfWidth), d.NormalHalfWidth, report.Finite(d.Coverage)}}
}

// proportionLine is the answer as CSV: on one line, the request beside the result, where JSON
// keeps them apart.
type proportionLine struct {
	Route string `json:"route"`
	sizeLine
	Share     float64  `json:"share"`
	Wanted    float64  `json:"wanted_half_width"`
	HalfWidth *float64 `json:"half_width"`
	Normal    float64  `json:"normal_half_width"`
	Coverage  *float64 `json:"coverage"`
}

func proportionOutput(res size.ProportionResult, g grounds) report.Output {
	r, best := res.Request, chosen(res)
	j := proportionJSON{
		sizeHead: sizeHead{
			Envelope: report.Envelope{Kind: "stopwise size proportion", Version: 1},
			Stops:    best.Stops, Plants: best.Plants, PlantsPerStop: r.PlantsPerStop,
			Achieved:  asRoute(best).Achieved,
			Requested: proportionAsked{r.Share, res.HalfWidth, r.Confidence, r.Rho, report.OrNull(r.FieldPlants, 0), r.Interval.String()},
		},
		DesignEffect: res.DesignEffect, Unrounded: res.UnroundedPlants, Normal: asRoute(res.Normal),
		sizeTail: g.tail(sensitivityOf(res.Sensitivity, allPlants, func(r size.SensitivityRow) any {
			return struct {
				HalfWidth *float64 `json:"half_width"`
			}{report.Finite(r.Reached)}
		})),
	}
	rows := []proportionLine{}
	add := func(route string, d size.ProportionDesign) {
		rows = append(rows, proportionLine{route, sizeLine{d.Stops, d.Plants, r.PlantsPerStop, r.Rho}, r.Share, res.HalfWidth, report.Finite(d.ExpectedHalfWidth), d.NormalHalfWidth, report.Finite(d.Coverage)})
	}
	add("normal", res.Normal)
	if res.Exact != nil {
		exact := asRoute(*res.Exact)
		j.Exact = &exact
		add("exact", *res.Exact)
	}
	return report.Output{Doc: proportionDocument(res, g), Records: report.RecordsOf(rows), JSON: j}
}

func proportionDocument(res size.ProportionResult, g grounds) *report.Document {
	r, best := res.Request, chosen(res)
	d := &report.Document{}
	d.Heading(fmt.Sprintf("Stops that estimate a share of %s", report.Share(r.Share)))
	width, route := best.ExpectedHalfWidth, "on average, exactly worked out"
	switch {
	case res.Exact == nil:
		width, route = best.NormalHalfWidth, "by the normal approximation"
	case r.FieldPlants > 0:
		route = "on average"
	}
	d.Para("%s. If %s of the plants are infested, the %s confidence interval then reaches %s to either side (wanted %s; %s).",
		walkThese(best.Stops, r.PlantsPerStop, best.Plants), report.Share(r.Share), report.Share(r.Confidence), points(width), chosenPoints(res.HalfWidth), route)
	routes := report.NewTable(routesCaption(res), "route", ">stops", ">plants", ">half-width, normal", ">half-width, expected", ">true confidence")
	add := func(route string, x size.ProportionDesign) {
		routes.Add(route, fmt.Sprint(x.Stops), fmt.Sprint(x.Plants), points(x.NormalHalfWidth), points(x.ExpectedHalfWidth), report.Percent(x.Coverage))
	}
	add("normal approximation", res.Normal)
	if res.Exact != nil {
		add(fmt.Sprintf("exact (%v)", r.Interval), *res.Exact)
	}
	d.Table(routes)
	t := report.NewTable("If the plants of a stop are more or less alike than taken here:", ">rho", ">stops needed", ">plants",
		fmt.Sprintf(">half-width with %s", report.Count(best.Stops, "stop", "stops")), "")
	for _, s := range res.Sensitivity.Rows {
		stops, plants := neededStops(s.Stops, s.Plants)
		t.Add(report.Constant(s.Value), stops, plants, points(s.Reached), takenHere(s.Assumed))
	}
	d.Table(t)
	g.tell(d)
	return d
}

func routesCaption(res size.ProportionResult) string {
	s := fmt.Sprintf("Two routes. Before rounding up to whole stops the normal one asks for %s plants", notWhole(res.UnroundedPlants))
	if res.DesignEffect > 1 {
		s += fmt.Sprintf(", %s times as many as if plants were independent", report.Number(res.DesignEffect, 3))
	}
	return s + "."
}

// points returns a difference of shares: "9.8 points".
func points(x float64) string {
	if report.Finite(x) == nil {
		return report.Unknown
	}
	return report.Number(100*x, 3) + " points"
}

// chosenPoints returns a difference that was asked for: "10 points".
func chosenPoints(x float64) string {
	if v := report.Constant(100 * x); v != "1" {
		return v + " points"
	}
	return "1 point"
}

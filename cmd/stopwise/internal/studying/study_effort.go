package studying

import (
	"context"
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/validate"
)

type effortFlags struct {
	layouts                 *shell.Option[[]validate.Layout]
	lower, upper, act       *shell.Option[float64]
	rho                     *shell.Option[plans.Range]
	confidence, walk, plant *shell.Option[float64]
}

func studyEffort() shell.Question {
	f := &effortFlags{
		layouts: shell.NewOption("layouts", "`LAYOUTS` stops x plants per stop, with commas between", parseLayouts).WithDefault("4x20,8x10,16x5,80x1"),
		lower:   shell.LowerFlag().WithDefault("15%"), upper: shell.UpperFlag().WithDefault("30%"), act: actAtFlag("22%"),
		rho: shell.RhoFlag().WithDefault("0.1"), confidence: shell.ConfidenceFlag(),
		walk: shell.WalkMinutesFlag().WithDefault("3"), plant: shell.PlantMinutesFlag().WithDefault("0.25"),
	}
	return shell.Question{
		Name:  "effort",
		Usage: "compare more stops with more plants, and see returns diminish",
		Description: `Takes the same number of plants from few stops and from many, and then doubles a visit again and again, once by stops and once by plants per stop. Every number is exact. The standard error and the half-width of the interval are those in a field just at the share at which the visit acts.

$ stopwise study effort
$ stopwise study effort --layouts 5x20,10x10,20x5 --rho 0.2 --walk-minutes 4`,
		Flags:  []cli.Flag{f.layouts, f.lower, f.upper, f.act, f.rho, f.confidence, f.walk, f.plant},
		Answer: func(context.Context, *cli.Context) (report.Output, error) { return f.show() },
	}
}

func parseLayouts(s string) ([]validate.Layout, error) {
	var out []validate.Layout
	for part := range strings.SplitSeq(s, ",") {
		a, b, found := strings.Cut(strings.ReplaceAll(strings.TrimSpace(part), "×", "x"), "x")
		stops, errA := shell.Whole(1, mostLaidOut)(a)
		plants, errB := shell.Whole(1, mostLaidOut)(b)
		if !found || errA != nil || errB != nil {
			return nil, fmt.Errorf("%q is not a layout; write stops x plants per stop, such as 4x20, with commas between", part)
		}
		if stops*plants > mostLaidOut {
			return nil, fmt.Errorf("%q is out of range; a layout has at most %d plants", part, mostLaidOut)
		}
		out = append(out, validate.Layout{Stops: stops, Plants: plants})
	}
	return out, nil
}

// mostLaidOut is the largest layout, in plants: it is doubled, and computed exactly.
const mostLaidOut = 1000

// doublings is how often a visit is doubled.
const doublings = 3

// furtherStops is up to how many stops the curve of diminishing returns goes.
const furtherStops = 40

// An effortResult is all that is shown.
type effortResult struct {
	asked  validate.EffortAsked
	same   []validate.Effort
	stops  []validate.Effort // the first layout, doubled by stops
	plants []validate.Effort // the first layout, doubled by plants per stop
}

func (f *effortFlags) show() (report.Output, error) {
	rho, err := shell.Single(f.rho)
	if err != nil {
		return report.Output{}, err
	}
	for _, err := range []error{shell.Below(f.lower, f.act), shell.Below(f.act, f.upper)} {
		if err != nil {
			return report.Output{}, err
		}
	}
	r := effortResult{asked: validate.EffortAsked{
		Lower: f.lower.Value, Threshold: f.act.Value, Upper: f.upper.Value, Rho: rho, Confidence: f.confidence.Value,
		WalkMinutes: f.walk.Value, PlantMinutes: f.plant.Value,
	}}
	if err := r.compute(f.layouts.Value); err != nil {
		return report.Output{}, err
	}
	return r.output(), nil
}

func (r *effortResult) compute(layouts []validate.Layout) error {
	first := layouts[0]
	var byStops, byPlants []validate.Layout
	for i := range doublings + 1 {
		byStops = append(byStops, validate.Layout{Stops: first.Stops << i, Plants: first.Plants})
		byPlants = append(byPlants, validate.Layout{Stops: first.Stops, Plants: first.Plants << i})
	}
	for _, part := range []struct {
		to      *[]validate.Effort
		layouts []validate.Layout
	}{{&r.same, layouts}, {&r.stops, byStops}, {&r.plants, byPlants}} {
		for _, l := range part.layouts {
			e, err := r.asked.Compare(l)
			if err != nil {
				return err
			}
			*part.to = append(*part.to, e)
		}
	}
	return nil
}

type effortJSON struct {
	report.Envelope
	Lower      float64     `json:"lower"`
	ActAt      float64     `json:"act_at"`
	Upper      float64     `json:"upper"`
	Rho        float64     `json:"rho"`
	Confidence float64     `json:"confidence"`
	Layouts    []effortRow `json:"layouts"`
	MoreStops  []effortRow `json:"more_stops"`
	MorePlants []effortRow `json:"more_plants"`
	Further    []errorRow  `json:"one_stop_after_the_other"`
}

type effortRow struct {
	Stops         int     `json:"stops"`
	PlantsPerStop int     `json:"plants_per_stop"`
	Plants        int     `json:"plants"`
	Independent   float64 `json:"independent_plants"`
	StandardError float64 `json:"standard_error"`
	HalfWidth     float64 `json:"expected_half_width"`
	Needless      float64 `json:"needless_risk"`
	Missed        float64 `json:"missed_risk"`
	Minutes       float64 `json:"minutes"`
}

type errorRow struct {
	Stops         int     `json:"stops"`
	PlantsPerStop int     `json:"plants_per_stop"`
	StandardError float64 `json:"standard_error"`
}

func (r *effortResult) output() report.Output {
	a := r.asked
	j := effortJSON{
		Envelope: report.Envelope{Kind: "stopwise study effort", Version: 1},
		Lower:    a.Lower, ActAt: a.Threshold, Upper: a.Upper, Rho: a.Rho, Confidence: a.Confidence,
	}
	type row struct {
		Comparison string `json:"comparison"` // the list that JSON has it in
		effortRow
	}
	var rows []row
	for _, part := range []struct {
		name string
		from []validate.Effort
		to   *[]effortRow
	}{{"layouts", r.same, &j.Layouts}, {"more_stops", r.stops, &j.MoreStops}, {"more_plants", r.plants, &j.MorePlants}} {
		for _, e := range part.from {
			one := effortRow{e.Stops, e.Plants, e.Total(), e.Independent, e.StandardError, e.HalfWidth, e.Needless, e.Missed, e.Minutes}
			*part.to = append(*part.to, one)
			rows = append(rows, row{part.name, one})
		}
	}
	records := report.RecordsOf(rows)
	for _, l := range r.further() {
		se := a.StandardError(l)
		j.Further = append(j.Further, errorRow{l.Stops, l.Plants, se})
		records.AddOnly(map[string]any{"comparison": "one_stop_after_the_other", "stops": l.Stops, "plants_per_stop": l.Plants, "plants": l.Total(), "standard_error": se})
	}
	return report.Output{Doc: r.document(), Records: records, JSON: j}
}

// further returns the first layout's plants over one stop, two, and so on.
func (r *effortResult) further() []validate.Layout {
	out := make([]validate.Layout, furtherStops)
	for i := range out {
		out[i] = validate.Layout{Stops: i + 1, Plants: r.same[0].Plants}
	}
	return out
}

func (r *effortResult) document() *report.Document {
	a := r.asked
	d := &report.Document{}
	d.Heading("What effort buys")
	d.Para("A visit acts when %s of the plants seen are infested, or more. It is wrong when it acts at %s or leaves at %s. Plants of a stop are alike with rho %s; a stop takes %s to walk to and %s a plant. Every number is exact.",
		report.Share(a.Threshold), report.Share(a.Lower), report.Share(a.Upper), report.Constant(a.Rho), report.Minutes(a.WalkMinutes), report.Minutes(a.PlantMinutes))
	d.Table(r.layoutTable())
	d.Para("%s", r.layoutLesson())
	d.Table(r.doubleTable())
	d.Para("%s", r.doubleLesson())
	r.furtherPicture(d)
	return d
}

func layoutText(l validate.Layout) string { return fmt.Sprintf("%d x %d", l.Stops, l.Plants) }

func (r *effortResult) layoutTable() *report.Table {
	t := report.NewTable("Layouts, stops x plants per stop. Worth is the number of independent plants that tell as much.",
		"layout", ">plants", ">worth", ">standard error", ">half-width", ">act at "+report.Share(r.asked.Lower),
		">leave at "+report.Share(r.asked.Upper), ">time")
	for _, e := range r.same {
		t.Add(layoutText(e.Layout), fmt.Sprint(e.Total()), report.Number(e.Independent, 3), report.Percent(e.StandardError), "± "+report.Percent(e.HalfWidth),
			report.Percent(e.Needless), report.Percent(e.Missed), report.Minutes(e.Minutes))
	}
	return t
}

func (r *effortResult) layoutLesson() string {
	if r.asked.Rho == 0 {
		return "Where plants of a stop are independent, it makes no difference how they are spread over stops. `--rho 0.1` shows what clumping does to this."
	}
	first, last := r.same[0], r.same[len(r.same)-1]
	if len(r.same) == 1 || first.Total() != last.Total() {
		return "Plants of a stop that are alike repeat each other: a new stop tells more than more plants at the old one."
	}
	return fmt.Sprintf("The same %s: from %s they are worth %s independent ones, from %s %s. Plants of a stop that are alike repeat each other; what more stops cost is walking.",
		report.Count(first.Total(), "plant", "plants"), report.Count(first.Stops, "stop", "stops"), report.Number(first.Independent, 3),
		report.Count(last.Stops, "stop", "stops"), report.Number(last.Independent, 3))
}

func (r *effortResult) doubleTable() *report.Table {
	t := report.NewTable("The first layout doubled again and again: by stops, and by plants per stop. SE is the standard error; wrong is the mean of both chances of a wrong verdict.",
		">plants", ">more stops", ">SE", ">wrong", ">time", ">more plants", ">SE", ">wrong", ">time")
	for i, s := range r.stops {
		p := r.plants[i]
		t.Add(fmt.Sprint(s.Total()), layoutText(s.Layout), report.Percent(s.StandardError), report.Percent(s.Wrong()), report.Minutes(s.Minutes),
			layoutText(p.Layout), report.Percent(p.StandardError), report.Percent(p.Wrong()), report.Minutes(p.Minutes))
	}
	return t
}

func (r *effortResult) doubleLesson() string {
	first := r.same[0]
	s := "To halve the standard error takes four times the stops."
	if r.asked.Rho == 0 {
		return s
	}
	return s + fmt.Sprintf(" With more plants at the same %s it cannot fall below %s, however many they are.",
		report.Count(first.Stops, "stop", "stops"), report.Percent(r.asked.LeastError(first.Stops)))
}

func (r *effortResult) furtherPicture(d *report.Document) {
	free := r.asked
	free.Rho = 0
	var x, y, z []float64
	layouts := r.further()
	for _, l := range layouts {
		x = append(x, float64(l.Stops))
		y = append(y, 100*r.asked.StandardError(l))
		z = append(z, 100*free.StandardError(l))
	}
	series := []report.Series{{Name: alike(r.asked.Rho), Mark: 'o', Y: y}}
	if r.asked.Rho > 0 {
		series = append(series, report.Series{Name: alike(0), Mark: 'x', Y: z})
	}
	d.Drawing(report.Chart{
		Title:  fmt.Sprintf("Diminishing returns: the standard error after each stop of %s", report.Count(layouts[0].Plants, "plant", "plants")),
		XLabel: "stops", YLabel: "standard error, %", X: x, Series: series, YMax: y[0],
	}.In)
	minutes := r.asked.WalkMinutes + float64(layouts[0].Plants)*r.asked.PlantMinutes
	var steps []string
	for _, j := range []int{4, 16} {
		now, next := r.asked.StandardError(layouts[j-1]), r.asked.StandardError(layouts[j])
		steps = append(steps, fmt.Sprintf("After %d stops, at a standard error of %s, one stop more takes %s off it.", j, report.Percent(now), report.Percent(now-next)))
	}
	d.Para("%s A stop takes %s.", strings.Join(steps, " "), report.Minutes(minutes))
}

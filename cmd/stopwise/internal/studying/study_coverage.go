package studying

import (
	"context"
	"fmt"
	"math"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/sampling"
)

// mostCovered is the largest visit whose intervals are worked out for all totals:
// about a second for all methods.
const mostCovered = 1000

type coverageFlags struct {
	made
	env         shell.Env
	confidence  *shell.Option[float64]
	stage, last *shell.Option[string]
	at          *shell.Option[[]string]
	seed        *shell.Option[uint64]
	plot        *shell.Option[string]
}

func studyCoverage(e shell.Env) shell.Question {
	f := &coverageFlags{
		made: newMade(), env: e, confidence: shell.ConfidenceFlag(), stage: shell.StageFlag(), last: shell.LastFlag(),
		at: shell.NewOption("at", "`LEVELS` true levels at which to compute, such as 10%,20% or, for a plan for a mean per leaf, 20,75", shell.ParseList).
			WithoutValue("1% to 50% in half percents; with a plan, up to twice its upper bound"),
	}
	f.seed = shell.SeedFlag()
	f.plot = shell.PlotFlag("the intervals of forty visits to one field under each other, clumping ignored beside counted in")
	f.stops.Usage = "`COUNT` stops of a visit; its plants are at most " + fmt.Sprint(mostCovered)
	return shell.Question{
		Name:      "coverage",
		Usage:     "see how often a confidence interval holds the truth, exactly",
		Arguments: "[PLAN.json]",
		Description: `A 95% interval should hold the true share in 95 of 100 visits. Whether it does depends on the method, on the share, and most of all on whether it takes account of plants of a stop that are alike. Every number is the exact sum over all totals that a visit can bring.

At one share, forty visits are drawn too, their intervals under each other, those that miss the truth marked.

With a plan, the walk is that of the plan, which may stop early: beside the interval and the upper limit that check prints stand those of a formula for a fixed number of stops.

$ stopwise study coverage
$ stopwise study coverage --at 15%
$ stopwise study coverage plan.json --at 10%,14%,22%
$ stopwise study coverage --stops 1 --plants-per-stop 18 --rho 0 --at 50%`,
		Flags: append(f.flags(), f.confidence, f.stage, f.last, f.at, f.seed, f.plot),
		Answer: func(ctx context.Context, c *cli.Context) (report.Output, error) {
			if f.seed.Set && !f.plot.Set && !f.oneShare() {
				return report.Output{}, shell.UsageError("--seed goes with --plot, or with one share at --at: all else is exact")
			}
			if c.Args().Present() {
				if f.plot.Set {
					return report.Output{}, shell.UsageError("--plot goes without a plan: it draws the intervals of visits with a fixed number of stops")
				}
				return f.showPlan(c)
			}
			if !f.plot.Set && !f.oneShare() {
				return f.show(nil)
			}
			v, err := f.ladders(ctx)
			if err != nil {
				return report.Output{}, err
			}
			out, err := f.show(&v)
			if err != nil {
				return out, err
			}
			return out, shell.Draw(out.Doc, f.plot, v.Picture)
		},
	}
}

// A coverageCase is a kind of field and what the intervals take account of.
type coverageCase struct {
	key, name string
	rho, used float64
}

func (f *coverageFlags) cases() ([]coverageCase, error) {
	rhos, err := f.both()
	if err != nil {
		return nil, err
	}
	cases := []coverageCase{{key: "independent", name: "plants independent"}}
	if len(rhos) > 1 {
		rho := rhos[1]
		cases = append(cases,
			coverageCase{"ignored", "alike, not counted in", rho, 0},
			coverageCase{"counted_in", "alike, counted in", rho, rho})
	}
	return cases, nil
}

// A coverageRow is one kind of interval in one case, at each share.
type coverageRow struct {
	interval string
	teaching bool
	of       coverageCase
	at       []sampling.Coverage // by share; nil where it does not apply
}

const betweenStops = "between-stops"

func (f *coverageFlags) shares() ([]float64, error) {
	if f.at.Set {
		return shell.ParseLevels(f.at.Name, plans.ShareInfested, f.at.Value)
	}
	return report.Evenly(0.01, 0.5, 98), nil
}

// oneShare reports whether visits to fields of one share are asked for: they are drawn
// as text too.
func (f *coverageFlags) oneShare() bool { return len(f.at.Value) == 1 }

// show shows exact coverage, with a ladder of intervals where there is one.
func (f *coverageFlags) show(l *figure.Ladders) (report.Output, error) {
	if f.last.Set {
		return report.Output{}, shell.UsageError("--last goes with a plan")
	}
	if f.stage.Set {
		return report.Output{}, shell.UsageError("--stage goes with a plan, such as stopwise study coverage plan.json --stage %q", f.stage.Value)
	}
	if f.stops.Value > mostCovered/f.plants.Value {
		return report.Output{}, shell.UsageError("--stops %d of %d plants: coverage is computed for at most %d plants", f.stops.Value, f.plants.Value, mostCovered)
	}
	cases, err := f.cases()
	if err != nil {
		return report.Output{}, err
	}
	shares, err := f.shares()
	if err != nil {
		return report.Output{}, err
	}
	rows, err := f.rows(cases, shares)
	if err != nil {
		return report.Output{}, err
	}
	out := f.output(cases, shares, rows)
	f.document(out.Doc, cases, shares, rows, l)
	return out, nil
}

func (f *coverageFlags) rows(cases []coverageCase, shares []float64) ([]coverageRow, error) {
	stops, plants := f.stops.Value, f.plants.Value
	var rows []coverageRow
	for _, c := range cases {
		totals := make([][]float64, len(shares))
		for i, p := range shares {
			totals[i] = sampling.Total(sampling.Infested{P: p, Rho: c.rho}.Stop(plants), stops)
		}
		for _, m := range sampling.Methods() {
			in, err := sampling.TotalIntervals(m, stops, plants, c.used, f.confidence.Value)
			if err != nil {
				return nil, err
			}
			r := coverageRow{interval: m.String(), teaching: m.TeachingOnly(), of: c}
			for i, p := range shares {
				r.at = append(r.at, sampling.Cover(in, totals[i], p))
			}
			rows = append(rows, r)
		}
		if c.key != "ignored" { // it takes no rho: there is one of it a field
			if r, ok := f.betweenStops(c, shares); ok {
				rows = append(rows, r)
			}
		}
	}
	return rows, nil
}

// betweenStops reports false where the visit is too small or too large for it.
func (f *coverageFlags) betweenStops(c coverageCase, shares []float64) (coverageRow, bool) {
	r := coverageRow{interval: betweenStops, of: c}
	for _, p := range shares {
		v, err := sampling.CoverBetweenStops(sampling.Infested{P: p, Rho: c.rho}, f.stops.Value, f.plants.Value, f.confidence.Value)
		if err != nil {
			return r, false
		}
		r.at = append(r.at, v)
	}
	return r, true
}

// lowest returns the least coverage, and the share where it is.
func (r coverageRow) lowest(shares []float64) (least, at float64) {
	least = math.Inf(1)
	for i, c := range r.at {
		if c.Holds < least {
			least, at = c.Holds, shares[i]
		}
	}
	return least, at
}

func (r coverageRow) mean() (holds, width float64) {
	for _, c := range r.at {
		holds += c.Holds / float64(len(r.at))
		width += c.Width / float64(len(r.at))
	}
	return holds, width
}

type coverageJSON struct {
	report.Envelope
	Stops         int              `json:"stops"`
	PlantsPerStop int              `json:"plants_per_stop"`
	Confidence    float64          `json:"confidence"`
	Intervals     []coverageMethod `json:"intervals"`
}

// A coverageHead says which interval, in which fields.
type coverageHead struct {
	Interval string   `json:"interval"`
	Case     string   `json:"case"`
	Rho      float64  `json:"rho"`
	RhoUsed  *float64 `json:"rho_used"`
}

// A coverageCSV is a point of all intervals in one table.
type coverageCSV struct {
	coverageHead
	coveragePoint
}

type coverageMethod struct {
	coverageHead
	Teaching bool            `json:"for_teaching_only"`
	Mean     float64         `json:"mean_coverage"`
	Lowest   float64         `json:"lowest_coverage"`
	LowestAt float64         `json:"lowest_at"`
	Points   []coveragePoint `json:"points"`
}

type coveragePoint struct {
	P float64 `json:"p"`
	sampling.Coverage
}

func (f *coverageFlags) output(cases []coverageCase, shares []float64, rows []coverageRow) report.Output {
	j := coverageJSON{
		Envelope: report.Envelope{Kind: "stopwise study coverage", Version: 1},
		Stops:    f.stops.Value, PlantsPerStop: f.plants.Value, Confidence: f.confidence.Value,
	}
	var csv []coverageCSV
	for _, r := range rows {
		m := coverageMethod{coverageHead: coverageHead{Interval: r.interval, Case: r.of.key, Rho: r.of.rho}, Teaching: r.teaching}
		if r.interval != betweenStops {
			m.RhoUsed = &r.of.used
		}
		m.Lowest, m.LowestAt = r.lowest(shares)
		m.Mean, _ = r.mean()
		for i, c := range r.at {
			p := coveragePoint{shares[i], c}
			m.Points = append(m.Points, p)
			csv = append(csv, coverageCSV{m.coverageHead, p})
		}
		j.Intervals = append(j.Intervals, m)
	}
	return report.Output{Doc: &report.Document{}, Records: report.RecordsOf(csv), JSON: j}
}

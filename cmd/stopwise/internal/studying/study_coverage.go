package studying

import (
	"context"
	"fmt"
	"math"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
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

func studyCoverage(e shell.Env) studyPart {
	f := &coverageFlags{
		made: newMade(), env: e, confidence: shell.ConfidenceFlag(), stage: shell.StageFlag(), last: shell.LastFlag(),
		at: shell.NewOption("at", "`LEVELS` true levels at which to compute, such as 10%,20% or, for a plan for a mean per leaf, 20,75", shell.ParseList).
			WithoutValue("1% to 50% in half percents; with a plan, up to twice its upper bound"),
	}
	f.seed = shell.SeedFlag()
	f.plot = shell.PlotFlag("the intervals of forty visits to one field under each other, clumping ignored beside counted in")
	f.stops.Usage = "`COUNT` stops of a visit; its plants are at most " + fmt.Sprint(mostCovered)
	return studyPart{
		name:      "coverage",
		usage:     "see how often a confidence interval holds the truth, exactly",
		arguments: "[PLAN.json]",
		description: `A 95% interval should hold the true share in 95 of 100 visits. Whether it does depends on the method, on the share, and most of all on whether it takes account of plants of a stop that are alike. Every number is the exact sum over all totals that a visit can bring.

With a plan, the walk is that of the plan, which may stop early: beside the interval and the upper limit that check prints stand those of a formula for a fixed number of stops.

$ stopwise study coverage
$ stopwise study coverage plan.json --at 10%,14%,22%
$ stopwise study coverage --stops 1 --plants-per-stop 18 --rho 0 --at 50%`,
		flags: append(f.flags(), f.confidence, f.stage, f.last, f.at, f.seed, f.plot),
		show: func(ctx context.Context, c *cli.Context) (report.Output, error) {
			if f.seed.Set && !f.plot.Set {
				return report.Output{}, shell.UsageError("--seed goes with --plot: all else is exact")
			}
			if c.Args().Present() {
				if f.plot.Set {
					return report.Output{}, shell.UsageError("--plot goes without a plan: it draws the intervals of visits with a fixed number of stops")
				}
				return f.showPlan(c)
			}
			out, err := f.show()
			if err != nil {
				return out, err
			}
			return out, drawn(out.Doc, f.plot, func() (figure.Picture, error) { return f.ladders(ctx) })
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

func (f *coverageFlags) show() (report.Output, error) {
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
	return f.output(cases, shares, rows), nil
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

type coverageMethod struct {
	Interval string          `json:"interval"`
	Case     string          `json:"case"`
	Rho      float64         `json:"rho"`
	RhoUsed  *float64        `json:"rho_used"`
	Teaching bool            `json:"for_teaching_only"`
	Mean     float64         `json:"mean_coverage"`
	Lowest   float64         `json:"lowest_coverage"`
	LowestAt float64         `json:"lowest_at"`
	Points   []coveragePoint `json:"points"`
}

type coveragePoint struct {
	P       float64 `json:"p"`
	Holds   float64 `json:"coverage"`
	TooLow  float64 `json:"too_low"`
	TooHigh float64 `json:"too_high"`
	None    float64 `json:"no_interval"`
	Width   float64 `json:"expected_width"`
}

func (f *coverageFlags) output(cases []coverageCase, shares []float64, rows []coverageRow) report.Output {
	j := coverageJSON{
		Envelope: report.Envelope{Kind: "stopwise study coverage", Version: 1},
		Stops:    f.stops.Value, PlantsPerStop: f.plants.Value, Confidence: f.confidence.Value,
	}
	records := report.NewRecords("interval", "case", "rho", "rho_used", "p", "coverage", "too_low", "too_high", "no_interval", "expected_width")
	for _, r := range rows {
		m := coverageMethod{Interval: r.interval, Case: r.of.key, Rho: r.of.rho, Teaching: r.teaching}
		if r.interval != betweenStops {
			m.RhoUsed = &r.of.used
		}
		m.Lowest, m.LowestAt = r.lowest(shares)
		m.Mean, _ = r.mean()
		for i, c := range r.at {
			m.Points = append(m.Points, coveragePoint{shares[i], c.Holds, c.TooLow, c.TooHigh, c.None, c.Width})
			records.Add(r.interval, r.of.key, r.of.rho, m.RhoUsed, shares[i], c.Holds, c.TooLow, c.TooHigh, c.None, c.Width)
		}
		j.Intervals = append(j.Intervals, m)
	}
	return report.Output{Doc: f.document(cases, shares, rows), Records: records, JSON: j}
}

func (f *coverageFlags) document(cases []coverageCase, shares []float64, rows []coverageRow) *report.Document {
	d := &report.Document{}
	d.Heading(fmt.Sprintf("How often a %s interval holds the true share", report.Share(f.confidence.Value)))
	d.Para("Visits of %s. Exact: the sum over all totals that a visit can bring.", say.StopsOf(f.stops.Value, f.plants.Value))
	if len(cases) > 1 {
		d.Para("Where plants of a stop are alike (rho %s), they are worth %s independent plants. An interval can ignore that, or count it in by taking that number for the plants seen.",
			report.Constant(cases[1].rho), report.Number(sampling.EffectiveSize([]int{f.plants.Value}, cases[1].rho)*float64(f.stops.Value), 3))
	}
	if f.at.Set {
		f.pointTables(d, cases, shares, rows)
	} else {
		f.pictures(d, cases, shares, rows)
		f.summary(d, cases, shares, rows)
	}
	f.coverageRemarks(d, cases, rows)
	return d
}

// chartFloor is where the pictures begin, as a share of what is promised.
const chartFloor = 0.7

func (f *coverageFlags) pictures(d *report.Document, cases []coverageCase, shares []float64, rows []coverageRow) {
	x := make([]float64, len(shares))
	for i, p := range shares {
		x[i] = 100 * p
	}
	promised := 100 * f.confidence.Value
	draw := func(title string, series ...report.Series) {
		d.Picture(report.Chart{Title: title, XLabel: "true share of plants infested, %", YLabel: "coverage, %", X: x, Series: series,
			YMin: promised * chartFloor, YMax: 100}.String())
	}
	of := func(name, interval, key string, mark rune) report.Series {
		for _, r := range rows {
			if r.interval == interval && r.of.key == key {
				return r.series(name, mark, promised*chartFloor)
			}
		}
		return report.Series{}
	}
	level := report.Series{Name: "promised", Mark: '─', Y: make([]float64, len(x))}
	for i := range level.Y {
		level.Y[i] = promised
	}
	draw("Plants independent", of("wald", "wald", "independent", 'x'), of("wilson", "wilson", "independent", 'o'),
		of("clopper-pearson", "clopper-pearson", "independent", '+'), level)
	if len(cases) > 1 {
		draw(fmt.Sprintf("Plants of a stop alike, rho %s", report.Constant(cases[1].rho)), of("wilson, not counted in", "wilson", "ignored", 'x'),
			of("wilson, counted in", "wilson", "counted_in", 'o'), level)
	}
}

// series leaves out what lies below the picture.
func (r coverageRow) series(name string, mark rune, floor float64) report.Series {
	s := report.Series{Name: name, Mark: mark}
	for _, c := range r.at {
		y := 100 * c.Holds
		if y < floor {
			y = math.NaN()
		}
		s.Y = append(s.Y, y)
	}
	return s
}

// summary has a row for each kind of interval and a column for each case.
func (f *coverageFlags) summary(d *report.Document, cases []coverageCase, shares []float64, rows []coverageRow) {
	t := &report.Table{
		Caption: fmt.Sprintf("Coverage, the mean over shares from %s to %s and in brackets the lowest; promised is %s. Width is the expected width in the last of the cases.",
			report.Share(shares[0]), report.Share(shares[len(shares)-1]), report.Share(f.confidence.Value)),
		Columns: []report.Column{{Head: "interval"}},
	}
	for _, c := range cases {
		t.Columns = append(t.Columns, report.Column{Head: c.name, Right: true})
	}
	t.Columns = append(t.Columns, report.Column{Head: "width", Right: true})
	f.eachInterval(rows, func(name string, in map[string]coverageRow) {
		cells, width := []string{name}, ""
		for _, c := range cases {
			r, ok := in[c.key]
			if !ok {
				cells = append(cells, "")
				continue
			}
			mean, w := r.mean()
			least, _ := r.lowest(shares)
			cells = append(cells, report.Percent(mean)+" ("+report.Percent(least)+")")
			width = report.Percent(w)
		}
		t.Add(append(cells, width)...)
	})
	d.Table(t)
}

func (f *coverageFlags) pointTables(d *report.Document, cases []coverageCase, shares []float64, rows []coverageRow) {
	for i, p := range shares {
		t := &report.Table{
			Caption: fmt.Sprintf("At a true share of %s: coverage, and in brackets how often the interval lies too low / too high.", report.Share(p)),
			Columns: []report.Column{{Head: "interval"}},
		}
		for _, c := range cases {
			t.Columns = append(t.Columns, report.Column{Head: c.name, Right: true})
		}
		f.eachInterval(rows, func(name string, in map[string]coverageRow) {
			cells := []string{name}
			for _, c := range cases {
				cell := ""
				if r, ok := in[c.key]; ok {
					v := r.at[i]
					cell = fmt.Sprintf("%s (%s / %s)", report.Percent(v.Holds), report.Percent(v.TooLow), report.Percent(v.TooHigh))
				}
				cells = append(cells, cell)
			}
			t.Add(cells...)
		})
		d.Table(t)
	}
}

// eachInterval calls see for each kind of interval with its rows by case.
func (f *coverageFlags) eachInterval(rows []coverageRow, see func(name string, in map[string]coverageRow)) {
	var order []string
	by := map[string]map[string]coverageRow{}
	for _, r := range rows {
		if by[r.interval] == nil {
			by[r.interval] = map[string]coverageRow{}
			order = append(order, r.interval)
		}
		by[r.interval][r.of.key] = r
	}
	for _, name := range order {
		shown := name
		if first := by[name]["independent"]; first.teaching {
			shown += " (for teaching)"
		}
		see(shown, by[name])
	}
}

func (f *coverageFlags) coverageRemarks(d *report.Document, cases []coverageCase, rows []coverageRow) {
	between := false
	for _, r := range rows {
		between = between || r.interval == betweenStops
	}
	if between {
		d.Para("The interval between-stops goes by the differences between the stops alone (t on %d degrees of freedom) and needs no rho. Stops that are all alike give none; that counts as not held.", f.stops.Value-1)
	}
	if len(cases) > 1 {
		d.Para("The method matters less than counting the stops: an interval that takes plants of one stop for independent holds the truth far less often than it says. `stopwise study explain intervals` has the formulas.")
	}
}

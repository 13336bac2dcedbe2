package following

import (
	"context"
	"errors"
	"fmt"

	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/plans/season"
)

// simulatedSeasons are drawn for what nine seasons of ten need.
const simulatedSeasons = 1000

type tradeJSON struct {
	report.Envelope
	Schedules []tradeRow `json:"schedules"`
}

type tradeRow struct {
	season.Row
	Loss *float64 `json:"expected_loss"` // null without costs
}

// trade compares intervals and stops a visit for a protocol.
func trade(ctx context.Context, e shell.Env, file string, plot *shell.Option[string]) (report.Output, error) {
	p, err := shell.ReadProtocol(e, file)
	if err != nil {
		return report.Output{}, err
	}
	rows, err := plans.SeasonTrade(ctx, p)
	if err != nil {
		return report.Output{}, inputOf(file, err)
	}
	out := tradeJSON{Envelope: report.Envelope{Kind: "stopwise follow schedules", Version: 1}}
	s := p.Seasonal
	t := report.NewTable(fmt.Sprintf("Intervals against stops a visit. At each visit so many stops are walked, and the field is treated when the level seen reaches the threshold. Needless: fields that stay at the lower bound and are treated in the season; late: growing fields treated more than %s after the upper bound; both the worst over the range of clumping and growth. Allowed: %s and %s.",
		report.Days(s.LateDays), report.Share(s.Needless), report.Share(s.Late)),
		">stops", ">days until found", ">once found", ">time a week", ">needless", ">late", ">days late", ">loss of a field", "kept")
	for _, r := range rows {
		row := tradeRow{Row: r}
		loss := "-"
		if p.Costs != nil {
			total := r.Loss.Total()
			row.Loss, loss = &total, report.Number(total, 3)
		}
		kept := ""
		if r.Needless <= s.Needless+plans.Slack && r.Late <= s.Late+plans.Slack {
			kept = "both"
		}
		out.Schedules = append(out.Schedules, row)
		t.Add(fmt.Sprint(r.Stops), fmt.Sprint(r.UntilFound), fmt.Sprint(r.OnceFound), report.Minutes(r.MinutesPerWeek), report.Percent(r.Needless),
			report.Percent(r.Late), report.Number(r.DaysLate, 2), loss, kept)
	}
	d := &report.Document{}
	d.Heading("Schedules for a season" + say.Titled(p.About()))
	d.Table(t)
	d.Note("Exact, for visits that start their route anew each time. Tables and intervals chosen together do better: see stopwise design with this protocol.")
	return report.Output{Doc: d, Records: report.RecordsOf(out.Schedules), JSON: out},
		shell.Draw(d, plot, func() (figure.Picture, error) { return tradePicture(p, rows) })
}

type regionJSON struct {
	report.Envelope
	Seed    uint64    `json:"seed"`
	Seasons int       `json:"simulated_seasons"`
	Weeks   []weekRow `json:"weeks"`
	// Changes are the whole season of the region, as the plan is and with one change each.
	Changes []plans.RegionChange `json:"changes"`
}

type weekRow struct {
	Number int `json:"week"` // from 1
	season.Week
}

// region shows the work of a region by week: with a plan, or with the plan that is
// made of a protocol.
func region(ctx context.Context, e shell.Env, file string, seed uint64) (report.Output, error) {
	plan, err := shell.PlanOf(ctx, e, file, "a season")
	if err != nil {
		return report.Output{}, err
	}
	weeks, err := plan.RegionWeeks(ctx, simulatedSeasons, seed)
	if err != nil {
		return report.Output{}, inputOf(file, err)
	}
	g := plan.Protocol.Regional
	out := regionJSON{Envelope: report.Envelope{Kind: "stopwise follow region", Version: 1}, Seed: seed, Seasons: simulatedSeasons}
	t := report.NewTable(fmt.Sprintf("The work of %s by week, until their treatment. Hours and scouts (%s hours a day, %s days a week) as expected, exactly, and what is enough in nine seasons of ten, with its standard error, by %d simulated seasons (seed %d).",
		report.Count(g.Fields, "field", "fields"), report.Plain(g.HoursPerDay), report.Plain(g.DaysPerWeek), simulatedSeasons, seed),
		">week", ">visits", ">hours", ">scouts", ">hours, 9 of 10", ">scouts, 9 of 10", ">cost")
	var visits, hours float64
	for i, w := range weeks {
		out.Weeks = append(out.Weeks, weekRow{i + 1, w})
		t.Add(fmt.Sprint(i+1), report.Number(w.Visits, 3), report.Number(w.Hours, 3), report.Number(w.Scouts, 2),
			report.Number(w.HighHours, 3)+" ± "+report.Number(w.HighError, 1), report.Number(w.HighScouts, 2), report.Number(w.Cost, 3))
		visits, hours = visits+w.Visits, hours+w.Hours
	}
	if out.Changes, err = plan.RegionChanges(ctx); err != nil {
		return report.Output{}, inputOf(file, err)
	}
	d := &report.Document{}
	d.Heading("The region's season" + say.Titled(plan.Protocol.About()))
	d.Para("In the season %s visits and %s hours are expected in %s.", report.Number(visits, 3), report.Number(hours, 3), report.Count(g.Fields, "field", "fields"))
	if plan.Season != nil {
		d.Para("%s", say.English().SeasonPromise(plan))
		d.Para("%s", say.SeasonEffort(plan))
	}
	d.Table(t)
	d.Table(changesTable(plan.Protocol.Seasonal, out.Changes))
	d.Note("What all fields of a season share, such as a year with much of the pest, is not in it.")
	return report.Output{Doc: d, Records: report.RecordsOf(out.Weeks), JSON: out}, nil
}

// changesTable shows what a longer interval or a shorter visit would save, and what the
// season would risk with it.
func changesTable(promised *plans.Seasonal, changes []plans.RegionChange) *report.Table {
	t := report.NewTable(fmt.Sprintf("What longer days between visits or a shorter visit would save in the season, exactly, and what it would risk (allowed %s treated needlessly and %s late): the plan as it is, then with one change.",
		report.Share(promised.Needless), report.Share(promised.Late)),
		"change", ">visits", ">hours", ">saved", ">scouts, busiest week", ">cost", ">needless", ">late")
	for i, c := range changes {
		what := "as it is"
		switch c.Change {
		case "until_found":
			what = fmt.Sprintf("every %s until found", report.Days(float64(c.UntilFound)))
		case "once_found":
			what = fmt.Sprintf("every %s once found", report.Days(float64(c.OnceFound)))
		case "shorter_visit":
			what = fmt.Sprintf("at most %s a visit", report.Count(c.MostStops, "stop", "stops"))
		}
		saved := ""
		if i > 0 {
			saved = report.Number(c.SavedHours, 2) + " h"
		}
		t.Add(what, report.Number(c.Visits, 3), report.Number(c.Hours, 3), saved, report.Number(c.Scouts, 2), report.Number(c.Cost, 3),
			report.Percent(c.Needless), report.Percent(c.Late))
	}
	return t
}

// inputOf says of a file what it leaves unsaid.
func inputOf(file string, err error) error {
	if field, ok := errors.AsType[*plans.FieldError](err); ok {
		return shell.InputError(file, field)
	}
	return err
}

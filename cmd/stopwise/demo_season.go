package main

import (
	"context"
	"fmt"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	marrowvale "stopwise/testdata/marrow-vale"
)

// The usual promise of a visit and the usual dates, against which the demo sets a plan
// for the season: those of the demo's protocol at leafing.
const (
	usualNeedless, usualMissed         = .10, .05
	usualFirst                         = 3 // stop
	usualUntilFound, usualOnceFound    = 6, 3
	demoVisitsPlan, demoSeasonPlanName = "risks of a visit", "promises for the season"
)

// demoSeason shows what the risks of one visit come to in a season, and what a plan
// made for the season does instead. done is told of each of the two plans.
func demoSeason(ctx context.Context, e shell.Env, d *report.Document, done func()) error {
	open, err := plans.ReadProtocol(marrowvale.Season)
	if err != nil {
		return err
	}
	given := open.Each(func(s *plans.Stage) {
		s.NeedlessRisk, s.MissedRisk, s.Stop.Minimum = usualNeedless, usualMissed, usualFirst
		s.ComingBack.DaysUntilFound, s.ComingBack.DaysOnceFound, s.ComingBack.ByIntervals = usualUntilFound, usualOnceFound, true
	})
	usual, err := plans.Design(ctx, given, plans.DesignOptions{})
	if err != nil {
		return shell.DesignError(err)
	}
	done()
	made, err := shell.DesignWithProgress(ctx, e, open, plans.DesignOptions{})
	if err != nil {
		return shell.DesignError(err)
	}
	done()
	s, p := usual.Stages[0], open.Seasonal
	d.Heading("8. A whole season")
	d.Para("The promise so far is for one visit, and a field is visited again and again. With risks of %s and %s a visit, every %s and every %s once the pest is found: of 100 fields that stay at %s all season, %s would be treated needlessly at least once.",
		report.Share(usualNeedless), report.Share(usualMissed), report.Days(usualUntilFound), report.Days(usualOnceFound),
		report.Level(s.Measure, s.Lower), say.OutOfHundred(usual.Season.Needless))
	d.Para("The protocol season.toml promises for the %s instead: at most %s of such fields treated needlessly, and at most %s of the fields that grow from %s by r %s a day treated more than %s after they pass %s. Risks of a visit, first stop and days between visits are chosen for the least time.",
		report.Count(p.Weeks, "week", "weeks"), report.Share(p.Needless), report.Share(p.Late), report.Level(s.Measure, p.Start), say.English().RangeText(p.Growth),
		report.Days(p.LateDays), report.Level(s.Measure, s.Upper))
	t := report.NewTable(fmt.Sprintf("Exact, rho %s, %s to drive to a field. Time of a field and season until it is treated, on average over the region.", say.English().RangeText(*s.Clumping.Rho), report.Minutes(open.Regional.DriveMinutes)),
		"plan made for", ">days until found", ">once found", ">treated needlessly", ">late", ">time")
	for _, r := range []struct {
		name string
		of   *plans.SeasonResult
	}{{demoVisitsPlan, usual.Season}, {demoSeasonPlanName, made.Season}} {
		t.Add(r.name, fmt.Sprint(r.of.UntilFound), fmt.Sprint(r.of.OnceFound), report.Percent(r.of.Needless), report.Percent(r.of.Late), report.Minutes(r.of.Minutes))
	}
	d.Table(t)
	d.Para("`stopwise design season.toml` makes this plan, `stopwise follow` shows the season of any plan field by field.")
	return nil
}

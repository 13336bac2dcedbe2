package say

import (
	"fmt"
	"slices"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// SeasonPromise says what a plan does over the season, whether that was promised, and
// what was chosen for it. The plan's protocol must promise something for the season.
func (l In) SeasonPromise(plan *plans.Plan) string {
	r, s := plan.Season, plan.Protocol.Seasonal
	kept := l.Say("season.kept")
	if len(r.HeldUnder) > 0 {
		var worlds []string
		for _, name := range r.HeldUnder {
			worlds = append(worlds, l.world(name))
		}
		kept = l.Say("season.kept_there_too", "Worlds", l.And(worlds))
	}
	if !r.Kept {
		kept = l.Say("season.not_kept")
	}
	text := l.Say("season.promise", "Kept", kept, "Weeks", l.Count("count.weeks", s.Weeks), "Needless", l.Number(percentOf(r.Needless)), "NeedlessAllowed", l.Number(report.Share(s.Needless)),
		"Start", l.Level(plan.Stages[0].Measure, s.Start), "Growth", l.RangeText(s.Growth), "Late", l.Number(percentOf(r.Late)), "LateDays", l.Days(s.LateDays), "LateAllowed", l.Number(report.Share(s.Late)))
	if r.Hindrance != "" {
		text += " " + l.Say("season.nearest", "Hindrance", l.hindrance(r.Hindrance))
	}
	return text
}

// hindrance words what holds a season's plan back, which the search says in English.
func (l In) hindrance(text string) string {
	switch {
	case strings.HasPrefix(text, "late"):
		return l.Say("season.hinders_late")
	case strings.HasPrefix(text, "needless"):
		return l.Say("season.hinders_needless")
	}
	return l.Say("season.hinders_both")
}

// percentOf returns a chance as a number out of 100, with a decimal.
func percentOf(p float64) string { return strings.TrimSuffix(report.Percent(p), "%") }

// SeasonEffort says what a field takes in the season, and when it is visited.
func SeasonEffort(plan *plans.Plan) string {
	r := plan.Season
	text := "Fields are visited " + everyDays(plans.ComingBack{DaysUntilFound: float64(r.UntilFound), DaysOnceFound: float64(r.OnceFound),
		DaysMoreFound: float64(r.MoreFound), MoreFrom: r.MoreFrom}, plan.Stages[0])
	if !plan.Stages[0].ComingBack.ByIntervals {
		text += ", sooner where the growth limit says so"
	}
	text += fmt.Sprintf("; that takes %s of a field and season", report.Minutes(r.Minutes))
	if g := plan.Protocol.Regional; g != nil {
		drive := ""
		if g.DriveMinutes > 0 {
			drive = fmt.Sprintf(", %s of driving to each visit included", report.Minutes(g.DriveMinutes))
		}
		text += fmt.Sprintf(" on average over the region (%s of the fields clean, %s staying at %s, %s growing%s)",
			report.Share(g.Clean), report.Share(g.Staying), report.Level(plan.Stages[0].Measure, g.StayingLevel), report.Share(g.Growing), drive)
	}
	text += "."
	if len(r.Chosen) > 0 {
		least := "least of these minutes"
		if r.Balanced {
			least = "least loss"
		}
		text += " Chosen for the " + least + ": the numbers of the tables"
		if slices.Contains(r.Chosen, "counting") {
			text += ", what a stop counts"
		}
		if slices.Contains(r.Chosen, "days_until_found") || slices.Contains(r.Chosen, "days_once_found") {
			text += " and the days between visits"
			if !slices.Contains(r.Chosen, "needless_risk") {
				text = strings.Replace(text, "the numbers of the tables and the days", "the days", 1)
			}
		}
		text += "."
	}
	if r.OneTable > 0 {
		text += fmt.Sprintf(" With one table for all fields of a stage it would be %s: tables by what earlier visits found save %s.",
			report.Minutes(r.OneTable), report.Percent(1-r.Minutes/r.OneTable))
	}
	return text + seasonCounting(r)
}

// seasonCounting says what it brings that the stops of a plan count something else than
// what was found, and what becomes of its promise in patches.
func seasonCounting(r *plans.SeasonResult) string {
	text := ""
	switch {
	case r.Totals > r.Minutes:
		text = fmt.Sprintf(" With running totals it would be %s: what the stops count saves %s.", report.Minutes(r.Totals), report.Percent(1-r.Minutes/r.Totals))
	case r.Totals > 0:
		text = fmt.Sprintf(" Running totals take no more: with them it would be %s.", report.Minutes(r.Totals))
	}
	if x := r.InPatches; x != nil {
		text += fmt.Sprintf(" Where the pest sits in patches and nowhere else, as alike at a stop, up to %s of fields at the lower bound would be treated needlessly and up to %s of growing ones late; with [hold_under] patches = true the promise is held there too.",
			report.Percent(x.Needless), report.Percent(x.Late))
	}
	return text
}

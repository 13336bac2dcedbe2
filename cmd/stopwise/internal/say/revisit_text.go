package say

import (
	"fmt"
	"math"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// ComesBack reports whether a visit ends with another one to come: after leave,
// and where the stops are used up without a verdict.
func ComesBack(s *plans.StagePlan, a plans.Answer) bool {
	return a.Verdict == plans.Leave || a.Verdict == plans.Continue && a.Stop >= s.Table.Stops()
}

// RevisitReason says why a field is visited again after so many days.
func RevisitReason(s *plans.StagePlan, r *plans.Revisit) string {
	level := func(x float64) string {
		if s.Measure == plans.MeanPerLeaf {
			return report.Number(x, 3) + " per leaf"
		}
		return report.Percent(x)
	}
	today := fmt.Sprintf("today's level is at most %s in at least %s of visits", level(r.Level), report.Share(r.Confidence))
	if math.IsInf(r.Level, 1) {
		today = "what was seen sets no upper limit to today's level"
	}
	threshold := "the threshold " + report.Level(s.Measure, r.Threshold)
	if r.Stage != s.Name {
		threshold += " of " + r.Stage
	}
	var grows string
	switch {
	case math.IsInf(r.Reach, 1):
		grows = "and the protocol expects no growth"
	case r.Reach == 0:
		grows = fmt.Sprintf("so that it could be at %s already", threshold)
	case r.Advance > 0 && r.Reach == r.Advance:
		grows = fmt.Sprintf("and in %s the crop can be in %s, where that, grown at r %s a day, could be past %s",
			report.Days(r.Reach), r.Stage, report.Number(r.Growth, 2), threshold)
	default:
		grows = fmt.Sprintf("and at a growth of r %s a day it could reach %s in %s", report.Number(r.Growth, 2), threshold, report.Days(r.Reach))
	}
	why := today + ", " + grows
	found := "not found yet"
	if r.Found {
		found = "found"
	}
	interval := fmt.Sprintf("%s for a field where the pest is %s", report.Days(r.Interval), found)
	switch r.Last {
	case plans.LastLittle:
		interval = fmt.Sprintf("%s for a field where the pest is found, and the visit saw less than %s", report.Days(r.Interval), report.Level(s.Measure, r.MoreFrom))
	case plans.LastMore:
		interval = fmt.Sprintf("%s for a field in which the visit saw %s or more", report.Days(r.Interval), report.Level(s.Measure, r.MoreFrom))
	}
	lead := fmt.Sprintf("a treatment takes %s to get done", report.Days(r.Lead))
	if r.ForSeason {
		return fmt.Sprintf("By the protocol, %s: it was chosen for the season's promises, with the growth of the pest in it.", interval)
	}
	switch {
	case r.Rule == plans.ByInterval && math.IsInf(r.Reach, 1):
		return fmt.Sprintf("The protocol asks for %s; %s.", interval, why)
	case r.Rule == plans.ByInterval:
		return fmt.Sprintf("The protocol asks for %s, and that is soon enough: %s, and %s.", interval, why, lead)
	case r.Rule == plans.ByGrowth:
		return fmt.Sprintf("Few stops leave the level open: %s, and %s. So the protocol's %s would be too late.", why, lead, interval)
	case r.Reach == 0:
		return fmt.Sprintf("Few stops leave the level open: %s. So the protocol's %s would be too late.", why, interval)
	}
	return fmt.Sprintf("Few stops leave the level open: %s, and %s. So even the next day may be too late, and the protocol's %s would be.", why, lead, interval)
}

package say

import (
	"fmt"
	"math"
	"strings"

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
	today := fmt.Sprintf("today's level is at most %s (%s sure)", level(r.Level), report.Share(r.Confidence))
	threshold := "the threshold " + report.Level(s.Measure, r.Threshold)
	if r.Stage != s.Name {
		threshold += " of " + r.Stage
	}
	var grows string
	switch {
	case math.IsInf(r.Reach, 1):
		grows = today + ", and the protocol expects no growth"
	case r.Reach == 0:
		grows = fmt.Sprintf("%s, which could be at %s already", today, threshold)
	case r.Advance > 0 && r.Reach == r.Advance:
		grows = fmt.Sprintf("%s; in %s the crop can be in %s, where that, grown at r %s a day, could be past %s",
			today, report.Days(r.Reach), r.Stage, report.Number(r.Growth, 2), threshold)
	default:
		grows = fmt.Sprintf("%s; at a growth of r %s a day it could reach %s in %s", today, report.Number(r.Growth, 2), threshold, report.Days(r.Reach))
	}
	found := "not found yet"
	if r.Found {
		found = "found"
	}
	interval := fmt.Sprintf("the protocol's %s for a field where the pest is %s", report.Days(r.Interval), found)
	if r.ForSeason {
		return fmt.Sprintf("By %s: it was chosen for the season's promises, with the growth of the pest in it.", interval)
	}
	switch r.Rule {
	case plans.ByInterval:
		if math.IsInf(r.Reach, 1) {
			return fmt.Sprintf("By %s; %s.", interval, grows)
		}
		return fmt.Sprintf("By %s: %s, and a treatment takes %s to get done.", interval, grows, report.Days(r.Lead))
	case plans.ByGrowth:
		return fmt.Sprintf("Sooner than %s: %s, and a treatment takes %s to get done.", interval, grows, report.Days(r.Lead))
	}
	return strings.TrimSpace(fmt.Sprintf("The next day, not after %s: %s, and a treatment takes %s to get done.", interval, grows, report.Days(r.Lead)))
}

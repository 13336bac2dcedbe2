package say

import (
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
func (l In) RevisitReason(s *plans.StagePlan, r *plans.Revisit) string {
	interval := l.Say("why.not_found", "Days", l.Days(r.Interval))
	if r.Found {
		interval = l.Say("why.found", "Days", l.Days(r.Interval))
	}
	switch r.Last {
	case plans.LastLittle:
		interval = l.Say("why.little", "Days", l.Days(r.Interval), "MoreFrom", l.MoreFrom(s.Stage, s.Worth, r.MoreFrom))
	case plans.LastMore:
		interval = l.Say("why.more", "Days", l.Days(r.Interval), "MoreFrom", l.MoreFrom(s.Stage, s.Worth, r.MoreFrom))
	}
	if r.ForSeason {
		return l.Say("why.for_season", "Interval", interval)
	}
	why, lead := l.levelReason(s, r), l.Days(r.Lead)
	switch {
	case r.Rule == plans.ByInterval && math.IsInf(r.Reach, 1):
		return l.Say("why.no_growth", "Interval", interval, "Why", why)
	case r.Rule == plans.ByInterval:
		return l.Say("why.soon_enough", "Interval", interval, "Why", why, "Lead", lead)
	case r.Rule == plans.ByGrowth:
		return l.Say("why.too_late", "Interval", interval, "Why", why, "Lead", lead)
	case r.Reach == 0:
		return l.Say("why.reached", "Interval", interval, "Why", why)
	}
	return l.Say("why.next_day", "Interval", interval, "Why", why, "Lead", lead)
}

// levelReason says what is known of today's level, and where it can be when.
func (l In) levelReason(s *plans.StagePlan, r *plans.Revisit) string {
	level := l.Number(report.Percent(r.Level))
	if s.Measure == plans.MeanPerLeaf {
		level = l.Say("count.per_leaf", "N", l.Number(report.Number(r.Level, 3)))
	}
	today := l.Say("why.today", "Level", level, "Confidence", l.Number(report.Share(r.Confidence)))
	if math.IsInf(r.Level, 1) {
		today = l.Say("why.no_limit")
	}
	threshold := l.Say("why.threshold", "Threshold", l.Level(s.Measure, r.Threshold))
	if r.Stage != s.Name {
		threshold = l.Say("why.threshold_of", "Threshold", l.Level(s.Measure, r.Threshold), "Stage", r.Stage)
	}
	growth := l.Number(report.Number(r.Growth, 2))
	switch {
	case math.IsInf(r.Reach, 1):
		return l.Say("why.expects_none", "Today", today)
	case r.Reach == 0:
		return l.Say("why.already", "Today", today, "Threshold", threshold)
	case r.Advance > 0 && r.Reach == r.Advance:
		return l.Say("why.next_stage", "Today", today, "Days", l.Days(r.Reach), "Stage", r.Stage, "Growth", growth, "Threshold", threshold)
	}
	return l.Say("why.grows", "Today", today, "Growth", growth, "Threshold", threshold, "Days", l.Days(r.Reach))
}

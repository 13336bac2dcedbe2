package main

import (
	"fmt"
	"math"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

type revisitJSON struct {
	Days       int      `json:"days"`
	Rule       string   `json:"rule"` // interval, growth or limit
	Found      bool     `json:"found"`
	Interval   float64  `json:"interval_days"`
	Level      float64  `json:"upper_limit"`
	Confidence float64  `json:"confidence"`
	Threshold  float64  `json:"threshold"`
	Stage      string   `json:"threshold_stage"`
	Growth     float64  `json:"growth_per_day"`
	Reach      *float64 `json:"days_to_threshold"` // null: never
	Lead       float64  `json:"lead_days"`
}

func newRevisitJSON(r *plans.Revisit) *revisitJSON {
	if r == nil {
		return nil
	}
	j := &revisitJSON{
		Days: r.Days, Rule: string(r.Rule), Found: r.Found, Interval: r.Interval, Level: r.Level, Confidence: r.Confidence,
		Threshold: r.Threshold, Stage: r.Stage, Growth: r.Growth, Lead: r.Lead,
	}
	if !math.IsInf(r.Reach, 1) {
		j.Reach = &r.Reach
	}
	return j
}

func revisitDays(r *plans.Revisit) *int {
	if r == nil {
		return nil
	}
	return &r.Days
}

// comesBack reports whether a visit ends with another one to come: after leave,
// and where the stops are used up without a verdict.
func comesBack(s *plans.StagePlan, a plans.Answer) bool {
	return a.Verdict == plans.Leave || a.Verdict == plans.Continue && a.Stop >= s.Table.Stops()
}

// revisitReason says why a field is visited again after so many days.
func revisitReason(s *plans.StagePlan, r *plans.Revisit) string {
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
			today, days(r.Reach), r.Stage, report.Number(r.Growth, 2), threshold)
	default:
		grows = fmt.Sprintf("%s; at a growth of r %s a day it could reach %s in %s", today, report.Number(r.Growth, 2), threshold, days(r.Reach))
	}
	found := "not found yet"
	if r.Found {
		found = "found"
	}
	interval := fmt.Sprintf("the protocol's %s for a field where the pest is %s", days(r.Interval), found)
	switch r.Rule {
	case plans.ByInterval:
		if math.IsInf(r.Reach, 1) {
			return fmt.Sprintf("By %s; %s.", interval, grows)
		}
		return fmt.Sprintf("By %s: %s, and a treatment takes %s to get done.", interval, grows, days(r.Lead))
	case plans.ByGrowth:
		return fmt.Sprintf("Sooner than %s: %s, and a treatment takes %s to get done.", interval, grows, days(r.Lead))
	}
	return strings.TrimSpace(fmt.Sprintf("The next day, not after %s: %s, and a treatment takes %s to get done.", interval, grows, days(r.Lead)))
}

// days writes a number of days without digits that were never written.
func days(x float64) string {
	switch {
	case x == 1:
		return "1 day"
	case x == math.Trunc(x):
		return fmt.Sprintf("%.0f days", x)
	}
	return fmt.Sprintf("%.1f days", x)
}

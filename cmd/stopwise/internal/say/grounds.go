package say

import (
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
	"stopwise/validate"
)

// Grounds returns what the promise of a plan takes for granted.
func (l In) Grounds(plan *plans.Plan) []string {
	shares, means, alike, independent, signs := false, false, false, false, false
	one, many := l.UnitWords(plan.Stages[0].Stage)
	for _, s := range plan.Stages {
		shares = shares || s.Measure == plans.ShareInfested
		means = means || s.Measure == plans.MeanPerLeaf
		alike = alike || s.Measure == plans.MeanPerLeaf && !s.Independent()
		independent = independent || s.Independent()
		signs = signs || s.Sign != nil && s.MissedKnown() // else nothing is promised of it
	}
	var out []string
	if shares {
		out = append(out, l.Say("granted.alike", "Many", many), l.Say("granted.seen_right", "One", one))
	}
	if means {
		out = append(out, l.Say("granted.law"))
		if alike {
			out = append(out, l.Say("granted.counts_alike"))
		}
		if independent {
			out = append(out, l.Say("granted.independent"))
		}
		out = append(out, l.Say("granted.counted_right"))
	}
	out = append(out, l.Say("granted.anywhere"))
	if signs {
		out = append(out, l.Say("granted.sign"))
	}
	return append(out, l.Say("granted.walk_ends"))
}

// SlackSentence says what breaks a plan's promise; it is empty where the promise
// is not known to hold.
func (l In) SlackSentence(s *plans.StagePlan) string {
	var parts []string
	number := func(x float64, digits int) string { return l.Number(report.Constant(report.Significant(x, digits))) }
	for _, x := range validate.Slacks(s) {
		share, least := l.Number(report.ShareAtLeast(x.Last)), report.ShareAtLeast(x.Last) == report.Share(0)
		switch {
		case x.Name == "overlooked" && least:
			parts = append(parts, l.Say("slack.any_overlooked", "What", l.Counted(s.Stage)))
		case x.Name == "overlooked":
			parts = append(parts, l.Say("slack.overlooked", "Share", share, "What", l.Counted(s.Stage)))
		case x.Name == "false_alarm" && least:
			parts = append(parts, l.Say("slack.any_false_find", "Many", l.UnitsName(s.Stage)))
		case x.Name == "false_alarm":
			parts = append(parts, l.Say("slack.false_finds", "Share", share, "Many", l.UnitsName(s.Stage)))
		case x.Name == "rho":
			parts = append(parts, l.Say("slack.rho", "Rho", number(x.Last, 3)))
		case x.Name == "k":
			parts = append(parts, l.Say("slack.k", "K", number(x.Last, 3)))
		case x.Name == "count_rho":
			parts = append(parts, l.Say("slack.count_rho", "Correlation", number(x.Last, 3)))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return l.Say("slack.breaks", "Each", strings.Join(parts, l.Say("next.comma")))
}

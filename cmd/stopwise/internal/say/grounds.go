package say

import (
	"fmt"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
	"stopwise/validate"
)

// Grounds returns what the promise of a plan takes for granted.
func Grounds(plan *plans.Plan) []string { return English().Grounds(plan) }

// Grounds returns what the promise of a plan takes for granted.
func (l In) Grounds(plan *plans.Plan) []string {
	shares, means, signs := false, false, false
	one, many := l.UnitWords(plan.Stages[0].Stage)
	for _, s := range plan.Stages {
		shares = shares || s.Measure == plans.ShareInfested
		means = means || s.Measure == plans.MeanPerLeaf
		signs = signs || s.Sign != nil
	}
	var out []string
	if shares {
		out = append(out, l.Say("granted.alike", "Many", many), l.Say("granted.seen_right", "One", one))
	}
	if means {
		out = append(out, l.Say("granted.law"), l.Say("granted.counted_right"))
	}
	out = append(out, l.Say("granted.anywhere"))
	if signs {
		out = append(out, l.Say("granted.sign"))
	}
	return append(out, l.Say("granted.walk_ends"))
}

// SlackSentence says what breaks a plan's promise; it is empty where the promise
// is not known to hold.
func SlackSentence(s *plans.StagePlan) string {
	var parts []string
	for _, x := range validate.Slacks(s) {
		share := func(what string) string {
			if last := report.ShareAtLeast(x.Last); x.Last >= 0.0001 {
				return "more than " + last + " of " + what
			}
			return "any share of " + what
		}
		switch x.Name {
		case "overlooked":
			parts = append(parts, share(Counted(s.Stage)+" overlooked"))
		case "false_alarm":
			parts = append(parts, share("clean "+report.UnitsName(s.Stage)+" taken for infested"))
		case "rho":
			parts = append(parts, "rho above "+report.Constant(report.Significant(x.Last, 3)))
		case "k":
			parts = append(parts, "k below "+report.Constant(report.Significant(x.Last, 3)))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return fmt.Sprintf("It breaks, each alone, with %s.", strings.Join(parts, ", "))
}

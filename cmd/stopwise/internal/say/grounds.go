package say

import (
	"fmt"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
	"stopwise/validate"
)

// Grounds returns what the promise of a plan takes for granted.
func Grounds(plan *plans.Plan) []string {
	shares, means, signs := false, false, false
	one, many := report.UnitWords(plan.Stages[0].Stage)
	for _, s := range plan.Stages {
		shares = shares || s.Measure == plans.ShareInfested
		means = means || s.Measure == plans.MeanPerLeaf
		signs = signs || s.Sign != nil
	}
	var out []string
	if shares {
		out = append(out, many+" of a stop are alike as a beta-binomial with the rho stated, one rho for the whole field",
			"every "+one+" is taken for what it is")
	}
	if means {
		out = append(out, "counts are spread as the law of clumping stated says, those of a stop as alike as stated, the same all over the field", "every insect is counted")
	}
	out = append(out, "stops lie anywhere in the field, picked without looking, and tell nothing of each other")
	if signs {
		out = append(out, "the sign is seen as often as stated, whatever the counts")
	}
	return append(out, "the walk ends where the table says: no stop is left out, none is added")
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
		case "count_rho":
			parts = append(parts, "a correlation above "+report.Constant(report.Significant(x.Last, 2))+" of the counts of a stop")
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return fmt.Sprintf("It breaks, each alone, with %s.", strings.Join(parts, ", "))
}

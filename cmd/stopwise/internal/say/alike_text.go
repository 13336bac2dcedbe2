package say

import (
	"fmt"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// forIndependent follows "promise" in the sentence of a plan that takes the leaves
// of a stop as independent.
func forIndependent(s *plans.StagePlan) string {
	if s.Independent() {
		return " for independent leaves"
	}
	return ""
}

// IndependentSentence says what a promise for independent leaves rests on; "" for
// other plans.
func IndependentSentence(s *plans.StagePlan) string {
	switch {
	case !s.Independent() || !s.Keeps():
		return ""
	case s.BreaksAt == nil:
		return "The promise is for independent leaves; no correlation that the counts of a stop can have breaks it."
	}
	return fmt.Sprintf("The promise is for independent leaves: a correlation of %s between the counts of a stop breaks it. Counts on leaves of your own fields tell theirs (stopwise fit).", report.Number(*s.BreaksAt, 2))
}

// Reservation says what must stand wherever a plan is used: that it does not keep
// its promise, or that it keeps it for independent leaves only; "" for other plans.
func Reservation(s *plans.StagePlan) string {
	switch {
	case !s.Keeps():
		return PromiseSentence(s)
	case s.Independent() && s.BreaksAt != nil:
		return fmt.Sprintf("The plan's risks hold for independent leaves: a correlation of %s between the counts of a stop breaks them.", report.Number(*s.BreaksAt, 2))
	}
	return ""
}

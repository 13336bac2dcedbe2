package say

import (
	"fmt"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

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

// IndependentPromise says of several plans what [IndependentSentence] says of one.
const IndependentPromise = "Kept is said of independent leaves: where the counts of a stop are alike, the risks are larger."

// ForIndependent says of chances that are computed for independent leaves only that
// they are; "" for other plans.
func ForIndependent(s *plans.StagePlan) string {
	if s.Independent() {
		return "They are those of independent leaves; where the counts of a stop are alike, more visits go wrong."
	}
	return ""
}

// Reservation says what must stand wherever a plan is used: that it does not keep
// its promise, or that it keeps it for independent leaves only; "" for other plans.
func (l In) Reservation(s *plans.StagePlan) string {
	switch {
	case !s.Keeps():
		return l.PromiseSentence(s)
	case s.Independent() && s.BreaksAt != nil:
		return l.Say("promise.independent", "Correlation", l.Number(report.Number(*s.BreaksAt, 2)))
	}
	return ""
}

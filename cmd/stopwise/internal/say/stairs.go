package say

import (
	"fmt"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// HowToReadStairs says what the stairs of a picture of a table mean.
func HowToReadStairs(stages []*plans.StagePlan) string {
	return fmt.Sprintf("Total of %s so far, after each stop. On or below the lower stairs: leave the field and come back. On or above the upper stairs: act, the threshold is taken as reached. Between them: walk on.",
		English().AddedOf(stages))
}

// StairsSign says that act asks for the stage's sign too.
func StairsSign(s *plans.StagePlan) string {
	return fmt.Sprintf("At %s act also asks that this sign was seen at %s: %s.", OrThisStage(s.Name), report.SignAt(*s.Sign), s.Sign.Text)
}

// WalkName says in a few words how a walk in a picture stands or ended.
func WalkName(s *plans.StagePlan, a plans.Answer) string {
	switch {
	case a.SignMissing && s.Sign.Absent:
		return fmt.Sprintf("the count reached at stop %d, but the sign seen, come back", a.DecidedAt)
	case a.SignMissing:
		return fmt.Sprintf("the count reached at stop %d, but the sign not seen, come back", a.DecidedAt)
	case a.Verdict == plans.Continue:
		return fmt.Sprintf("%d after stop %d, walk on", a.Counted, a.Stop)
	}
	if a.DecidedAt < a.Stop {
		return fmt.Sprintf("%s at stop %d", a.Verdict, a.DecidedAt)
	}
	if a.Verdict == plans.Act {
		return fmt.Sprintf("act at stop %d, %d reaches %d", a.Stop, a.Counted, a.Act)
	}
	return fmt.Sprintf("leave at stop %d, %d is not above %d", a.Stop, a.Counted, a.Leave)
}

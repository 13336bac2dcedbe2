package say

import (
	"errors"
	"fmt"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
	"stopwise/plans/precision"
	"stopwise/plans/tallying"
)

// Impossible says why there is no plan, and what would help; "" where err is of
// another kind.
func Impossible(err error) string {
	if e, ok := errors.AsType[*plans.Infeasible](err); ok {
		return ofStage(e.Stage) + noPlan(e)
	}
	if e, ok := errors.AsType[*tallying.NotApart](err); ok {
		return fmt.Sprintf("%sat the tally number %d the shares infested at %s and %s per leaf are %s and %s: no plan can tell them apart", ofStage(e.Stage), e.Tally,
			report.Constant(e.LowerMean), report.Constant(e.UpperMean), report.Share(e.Lower), report.Share(e.Upper))
	}
	if e, ok := errors.AsType[*precision.NoLine](err); ok {
		return noLine(e)
	}
	if e, ok := errors.AsType[*plans.Failure](err); ok {
		return e.Message
	}
	return ""
}

func ofStage(name string) string {
	if name == "" {
		return ""
	}
	return fmt.Sprintf("stage %q: ", name)
}

func noPlan(e *plans.Infeasible) string {
	if e.Lines {
		return fmt.Sprintf("no straight lines found that keep both risks within %d stops; the method %s may keep them, or more stops would", e.Maximum, plans.RiskTrue)
	}
	if e.SignAlone > 0 {
		more := ""
		if e.Needed > 0 {
			more = fmt.Sprintf(", allow %d stops", e.Needed)
		}
		return fmt.Sprintf("no plan of at most %d stops keeps the missed risk: whatever the count says, the sign alone leaves %s of fields at the upper bound missed; ask for it at another number of stops%s, or accept more risk",
			e.Maximum, report.Percent(e.SignAlone), more)
	}
	could := fmt.Sprintf("%d stops could keep risks of %s and %s", e.Maximum, report.AtMost(e.NeedlessRisk), report.AtMost(e.MissedRisk))
	if e.Needed == 0 {
		return fmt.Sprintf("no plan of up to %d stops keeps both risks; widen the bounds or accept more risk: %s", e.Looked, could)
	}
	return fmt.Sprintf("no plan of at most %d stops keeps both risks; %d stops are enough, or accept more risk: %s", e.Maximum, e.Needed, could)
}

func noLine(e *precision.NoLine) string {
	switch {
	case e.B > 0:
		return fmt.Sprintf("no stop line: with Taylor's b of %s, 2 or more, a denser field is no easier to estimate; a fixed number of stops is needed", report.Constant(e.B))
	case e.Stops == 0:
		return fmt.Sprintf("no total that can be counted gives this precision within %d stops; allow more stops, or less precision", e.Maximum)
	}
	return fmt.Sprintf("no count gives this precision within %d stops: even in the densest field it takes more than %d leaves, %d stops; allow more stops, or less precision", e.Maximum, e.Units, e.Stops)
}

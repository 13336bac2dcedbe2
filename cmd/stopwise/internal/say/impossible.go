package say

import (
	"errors"
	"fmt"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
	"stopwise/plans/precision"
	"stopwise/plans/tallying"
	"stopwise/sampling/size"
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
	if e, ok := errors.AsType[*plans.NoBalance](err); ok {
		return fmt.Sprintf("%sno pair of risks can be kept within %d stops; allow more stops", ofStage(e.Stage), e.Maximum)
	}
	if e, ok := errors.AsType[*size.OutOfReachError](err); ok {
		return outOfReach(e)
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
		return fmt.Sprintf("no stopping total: with Taylor's b of %s, 2 or more, a denser field is no easier to estimate; a fixed number of stops is needed", report.Constant(e.B))
	case e.Stops == 0:
		return fmt.Sprintf("no total that can be counted gives this precision within %d stops; allow more stops, or less precision", e.Maximum)
	}
	return fmt.Sprintf("no count gives this precision within %d stops: even in the densest field it takes more than %d leaves, %d stops; allow more stops, or less precision", e.Maximum, e.Units, e.Stops)
}

func outOfReach(e *size.OutOfReachError) string {
	sample := fmt.Sprintf("%d plants", e.Stops*e.Plants)
	if e.Plants > 1 {
		sample = StopsOf(e.Stops, e.Plants)
	}
	if g := e.Estimate; g != nil {
		return fmt.Sprintf("%s do not give a half-width of %s with rho %s, must be wider", sample, report.Share(g.HalfWidth), report.Constant(e.Rho))
	}
	if g := e.Classify; g != nil {
		cannot := fmt.Sprintf("%s cannot tell %s from %s at risks %s and %s with rho %s", sample,
			report.Share(g.Lower), report.Share(g.Upper), report.Share(g.NeedlessRisk), report.Share(g.MissedRisk), report.Constant(e.Rho))
		if e.NeededStops > 0 {
			return fmt.Sprintf("%s (about %s stops would); must have bounds further apart, larger risks or more stops", cannot, report.Constant(e.NeededStops))
		}
		return cannot + "; must have bounds further apart or larger risks"
	}
	return fmt.Sprintf("%s minutes are too few for %s, must be at least %s", report.Plain(e.Budget), report.Count(e.Stops, "stop", "stops"), report.Plain(e.Least))
}

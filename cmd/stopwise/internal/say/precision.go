package say

import (
	"fmt"
	"math"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
	"stopwise/plans/precision"
)

func PrecisionSentence(p *precision.Plan) string {
	what := "the share of " + unitsName(p) + " infested"
	if p.Measure == plans.MeanPerLeaf {
		what = "the mean per leaf"
	}
	if p.As == precision.StandardError {
		return fmt.Sprintf("Walk until %s is known with a standard error of %s of itself (plus or minus %s with %s confidence).",
			what, report.Share(p.Precision), report.Percent(p.Half()), report.Share(p.Confidence))
	}
	return fmt.Sprintf("Walk until %s is known to plus or minus %s of itself with %s confidence (a standard error of %s of itself).",
		what, report.Share(p.Precision), report.Share(p.Confidence), report.Percent(p.D()))
}

func LawSentence(p *precision.Plan) string {
	if p.Measure == plans.ShareInfested {
		return fmt.Sprintf("Stopping total for a share (Kuno 1986), %s of a stop alike with rho %s.", unitsName(p), report.Number(*p.Rho, 2))
	}
	alike := "Leaves count as drawn one by one from the field: where those of a stop are alike, more stops are needed."
	if r := p.CountRho; r != nil && *r > 0 {
		alike = fmt.Sprintf("The counts of a stop are alike with a correlation of %s: the total is that of as many leaves drawn one by one as tell as much.", report.Constant(*r))
	}
	var line string
	switch {
	case p.Taylor != nil:
		line = fmt.Sprintf("Stopping total of Green (1970) from Taylor's law, variance = %s mean^%s over the leaves of a field.", report.Constant(p.Taylor.A), report.Constant(p.Taylor.B))
	case p.Iwao != nil:
		line = fmt.Sprintf("Stopping total of Kuno (1969) from Iwao's law, mean crowding = %s + %s mean over the leaves of a field.", report.Constant(p.Iwao.A), report.Constant(p.Iwao.B))
	default:
		line = fmt.Sprintf("Stopping total of Kuno (1969) from a negative binomial with k %s over the leaves of a field.", report.Constant(*p.K))
	}
	return line + " " + alike
}

func PrecisionTable(p *precision.Plan) *report.Table {
	unit, level := unitsName(p), "share then"
	if p.Measure == plans.MeanPerLeaf {
		unit, level = "leaves", "mean then"
	}
	t := report.NewTable("Stop walking when the running total of "+English().Counted(plans.Stage{Measure: p.Measure, Unit: p.Unit})+" is at or above the number; never: no total is enough yet. At the last stop the estimate is as precise as it then is.",
		">stop", ">"+unit, ">enough at or above", ">"+level)
	for _, r := range p.Rows() {
		at := ""
		if r.Level != nil {
			at = levelText(p, *r.Level)
		}
		t.Add(fmt.Sprint(r.Stop), fmt.Sprint(r.Units), NumberOrNever(r.StopAt), at)
	}
	return t
}

func levelText(p *precision.Plan, x float64) string {
	if p.Measure == plans.MeanPerLeaf {
		return report.Number(x, 3) + " per leaf"
	}
	return report.Percent(x)
}

func PrecisionEffortTable(p *precision.Plan) *report.Table {
	t := report.NewTable(fmt.Sprintf("What an estimate takes, exact expectations. Known: the stops that would do if the level were known. Falls short: the last stop comes first. Within: the estimate is off by at most %s.", report.Percent(p.Half())),
		">field at", ">known", ">stops", ">"+unitsName(p), ">time", ">9 in 10 need at most", ">falls short", ">within")
	for _, e := range p.Effort {
		t.Add(report.Level(p.Measure, e.Level), report.Count(e.NeededStops, "stop", "stops"), report.Number(e.Stops, 3), report.Number(e.Plants, 3),
			report.Minutes(e.Minutes), report.Count(e.Within90, "stop", "stops"), report.Percent(e.Short), report.Percent(e.Inside))
	}
	return t
}

func PrecisionAnswer(d *report.Document, p *precision.Plan, a precision.Answer) {
	seen := fmt.Sprintf("%d infested of %s at %s", a.Total, units(p, a.Plants), report.Count(a.Stop, "stop", "stops"))
	what, estimate := "the share infested is", report.Percent(a.Seen)
	if p.Measure == plans.MeanPerLeaf {
		seen = fmt.Sprintf("%s on %s at %s", report.Count(a.Total, "insect", "insects"), report.Count(a.Units, "leaf", "leaves"), report.Count(a.Stop, "stop", "stops"))
		what, estimate = "the mean is", report.Number(a.Seen, 2)+" per leaf"
	}
	reached, asked := "plus or minus "+report.Percent(a.Half), report.Share(p.Precision)
	if p.As == precision.StandardError {
		reached = "with a standard error of " + report.Percent(a.RelativeError) + " of it"
	}
	if a.Total == 0 {
		estimate, reached = "0", "with no precision to speak of"
	}
	switch {
	case a.Done && a.Precise:
		d.Para("STOP: %s %s, %s. %s.", what, estimate, reached, seen)
	case a.Done && a.DoneAt == p.Stop.Maximum:
		d.Para("STOP, it is the last stop: %s %s, %s, not %s as was asked for. %s.", what, estimate, reached, asked, seen)
	case a.Done:
		d.Para("STOP, as at stop %d, where it was precise enough: by now %s %s, %s. %s.", a.DoneAt, what, estimate, reached, seen)
	default:
		why := "not yet " + asked
		if a.Stop < p.Stop.Minimum {
			why = fmt.Sprintf("and no estimate counts before stop %d", p.Stop.Minimum)
		}
		d.Para("WALK ON to stop %d: so far %s %s, %s, %s. %s.", a.Stop+1, what, estimate, reached, why, seen)
		d.Para("%s", precisionNext(p, a))
	}
	upper := "without an upper end"
	if !math.IsInf(a.Interval.Upper, 1) {
		upper = "to " + levelText(p, a.Interval.Upper)
	}
	d.Para("Estimate %s (%s interval %s %s). %s", levelText(p, a.Estimate), report.Share(a.Interval.Confidence), levelText(p, a.Interval.Lower), upper, precisionCorrected)
}

// precisionCorrected says why the estimate is not what was seen.
const precisionCorrected = "Who stops as soon as enough was seen has seen too much more often than too little; the estimate and its interval take account of that."

func precisionNext(p *precision.Plan, a precision.Answer) string {
	at := fmt.Sprintf("At stop %d (%s)", a.Stop+1, units(p, p.Stop.Plants))
	switch {
	case a.Stop+1 == p.Stop.Maximum && a.Next == plans.NeverAct:
		return at + " the walk ends, precise or not; no count there is enough."
	case a.Next == plans.NeverAct:
		return at + " no count is enough yet."
	case a.Next == 0:
		return at + " any count is enough."
	}
	return fmt.Sprintf("%s %d %s or more are enough.", at, a.Next, English().Counted(plans.Stage{Measure: p.Measure, Unit: p.Unit}))
}

func unitsName(p *precision.Plan) string { return report.UnitsName(plans.Stage{Unit: p.Unit}) }

func units(p *precision.Plan, n int) string { return report.Units(plans.Stage{Unit: p.Unit}, n) }

package say

import (
	"fmt"
	"math"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// costDocument shows what a plan loses by being wrong, where the protocol has
// costs.
func costDocument(d *report.Document, plan *plans.Plan) {
	k := plan.Protocol.Costs
	if k == nil {
		return
	}
	d.Heading("What being wrong costs")
	d.Para("Inputs: crop worth %s per ha, treatment %s per ha, scout %s per hour, fields of %s ha. A field below the threshold that is treated loses the treatment; one at the threshold or above that is left is treated late and loses that stage's share of the crop.",
		money(*k, k.CropPerHa), money(*k, k.TreatmentPerHa), money(*k, k.ScoutPerHour), report.Plain(k.FieldHa))
	d.Table(wrongTable(plan))
	for _, s := range []string{lateSentence(plan), contradictionSentence(plan)} {
		if s != "" {
			d.Para("%s", s)
		}
	}
	d.Table(lossTable(plan))
	d.Para("Averages: %s. They are no better than the inputs, and no advice to apply a product.", strings.Join(priors(plan), "; "))
}

// money writes an amount as the protocol states it.
func money(k plans.Costs, x float64) string {
	return strings.TrimSpace(report.Plain(x) + " " + k.Currency)
}

// amount writes an amount without digits that nobody needs.
func amount(x float64) string {
	if math.IsNaN(x) {
		return NotKnown
	}
	digits := 3
	if x >= 1000 {
		digits = 4
	}
	return report.Number(x, digits)
}

// wrongTable shows what each mistake costs, beside the risks that are allowed.
func wrongTable(plan *plans.Plan) *report.Table {
	k := *plan.Protocol.Costs
	t := report.NewTable("One mistake in one field, and the risks allowed for it"+inCurrency(k)+".", "growth stage", ">lost when late", ">missed treatment",
		">risk of it", ">needless treatment", ">its risk")
	for _, s := range plan.Stages {
		late, missed := "not said", ""
		if s.LateLoss > 0 {
			late, missed = report.Share(s.LateLoss), amount(k.MissedCost(s.Stage))
		}
		t.Add(s.Name, late, missed, report.Share(s.MissedRisk), amount(k.NeedlessCost()), report.Share(s.NeedlessRisk))
	}
	return t
}

func inCurrency(k plans.Costs) string {
	if k.Currency == "" {
		return ""
	}
	return ", in " + k.Currency
}

// lateSentence says why risks should differ between stages.
func lateSentence(plan *plans.Plan) string {
	var most, least *plans.StagePlan
	for _, s := range plan.Stages {
		if s.LateLoss == 0 {
			continue
		}
		if most == nil || s.LateLoss > most.LateLoss {
			most = s
		}
		if least == nil || s.LateLoss < least.LateLoss {
			least = s
		}
	}
	k := plan.Protocol.Costs
	if most == nil || k.NeedlessCost() == 0 {
		return ""
	}
	times := func(s *plans.StagePlan) string {
		return report.Number(k.MissedCost(s.Stage)/k.NeedlessCost(), 2)
	}
	if most.LateLoss == least.LateLoss {
		return fmt.Sprintf("A missed treatment costs %s times what a needless one does.", times(most))
	}
	t := fmt.Sprintf("A missed treatment costs %s times what a needless one does at %s, and %s times at %s: so the missed-treatment risk should be smaller at %s.",
		times(most), most.Name, times(least), least.Name, most.Name)
	if most.MissedRisk > least.MissedRisk {
		t += fmt.Sprintf(" In this protocol it is larger there (%s against %s).", report.Share(most.MissedRisk), report.Share(least.MissedRisk))
	}
	return t
}

// contradiction is how many times the loss of leaving a field at the threshold
// may differ from that of treating it: an assumption without a source. A threshold
// that follows from the costs is where the two are the same.
const contradiction = 3

// contradictionSentence says where costs and thresholds cannot both be right.
func contradictionSentence(plan *plans.Plan) string {
	k := plan.Protocol.Costs
	treated := k.NeedlessCost()
	if treated == 0 {
		return ""
	}
	var low, high []string
	for _, s := range plan.Stages {
		left := k.MissedCost(s.Stage)
		says := fmt.Sprintf("at %s leaving a field at the threshold %s loses %s and treating it %s",
			orUnnamed(s.Name), report.Level(s.Measure, s.Threshold), amount(left), amount(treated))
		switch {
		case s.LateLoss == 0:
		case left > contradiction*treated:
			high = append(high, says)
		case left < treated/contradiction:
			low = append(low, says)
		}
	}
	var out []string
	if len(high) > 0 {
		out = append(out, strings.Join(high, ", ")+", so by these costs treating pays well below the threshold")
	}
	if len(low) > 0 {
		out = append(out, strings.Join(low, ", ")+", so by these costs treating does not yet pay at the threshold")
	}
	if len(out) == 0 {
		return ""
	}
	return "Costs and threshold contradict each other: " + strings.Join(out, "; ") + "."
}

// lossTable shows the exact expected losses of a visit.
func lossTable(plan *plans.Plan) *report.Table {
	k := *plan.Protocol.Costs
	t := report.NewTable("Expected loss per field and visit, exact, in the most clumped fields"+inCurrency(k)+".",
		"growth stage", "field at", ">chance to act", ">needless", ">missed", ">scouting", ">in all")
	for _, s := range plan.Tables() {
		add := func(at string, l plans.Loss) {
			missed, total := amount(l.Missed), amount(l.Total())
			if s.LateLoss == 0 {
				missed, total = NotKnown, NotKnown
			}
			t.Add(English().TableName(s), at, Chance(l.Act), amount(l.Needless), missed, amount(l.Scouting), total)
		}
		for _, level := range []float64{s.Lower, s.Threshold, s.Upper} {
			add(report.Level(s.Measure, level), s.LossAt(level))
		}
		add("all levels", s.ExpectedLoss())
	}
	return t
}

// priors says what the losses of all levels are averaged over.
func priors(plan *plans.Plan) []string {
	var out []string
	shares, means := false, false
	for _, s := range plan.Stages {
		switch {
		case s.Measure == plans.MeanPerLeaf:
			means = true
		case plan.Protocol.Costs.Prior != nil:
			shares = true
		default:
			b := s.Prior()
			out = append(out, fmt.Sprintf("at %s over Beta(%s, %s), an assumption with the threshold as its mean", orUnnamed(s.Name), report.Number(b.A, 3), report.Number(b.B, 3)))
		}
	}
	if shares {
		b := plan.Protocol.Costs.Prior
		out = append(out, fmt.Sprintf("over the protocol's prior of the share infested, Beta(%s, %s) with the mean %s", report.Number(b.A, 3), report.Number(b.B, 3), report.Percent(b.A/(b.A+b.B))))
	}
	if means {
		out = append(out, "over means per leaf spread exponentially about the threshold, an assumption")
	}
	return out
}

func orUnnamed(stage string) string {
	if stage == "" {
		return "the stage"
	}
	return stage
}

// atEnd names the risks found at an end of the list of those tried.
func atEnd(b plans.Balance) string {
	needless, missed := "the needless risk of "+report.Share(b.NeedlessRisk), "the missed risk of "+report.Share(b.MissedRisk)
	switch {
	case b.NeedlessAtEnd && b.MissedAtEnd:
		return needless + " and " + missed + " are the first or last of those tried"
	case b.NeedlessAtEnd:
		return needless + " is the first or last of those tried"
	case b.MissedAtEnd:
		return missed + " is the first or last of those tried"
	}
	return ""
}

// balanceDocument shows what the search for risks of least loss found, and what the plan
// made for them loses.
// Balanced is what was found by balancing costs: for each stage, or over the season.
type Balanced struct {
	Stages []plans.Balance
	Season *plans.SeasonBalance
}

func balanceDocument(d *report.Document, plan *plans.Plan, b Balanced) {
	switch {
	case b.Season != nil:
		seasonBalance(d, plan, b.Season)
	case b.Stages != nil:
		stageBalance(d, plan, b.Stages)
	}
}

// seasonBalance says what a plan chosen for the least loss over a season loses.
func seasonBalance(d *report.Document, plan *plans.Plan, b *plans.SeasonBalance) {
	s := plan.Protocol.Seasonal
	t := report.NewTable("Balanced by cost over the season: what a field of the region's mix loses on average until it is treated or the season ends"+inCurrency(*plan.Protocol.Costs)+".",
		"plan", ">season needless", ">late", ">needless treatments", ">late treatments", ">scouting", ">in all")
	add := func(name string, needless, late float64, l *plans.SeasonLoss) {
		if l == nil {
			t.Add(name, report.Share(needless), report.Share(late), "-", "-", "-", "no plan")
			return
		}
		t.Add(name, report.Share(needless), report.Share(late), amount(l.Needless), amount(l.Late), amount(l.Scouting), amount(l.Total()))
	}
	add("this one", s.Needless, s.Late, plan.Season.Loss)
	add("for the stated promises", b.StatedNeedless, b.StatedLate, b.Stated)
	d.Table(t)
	d.Para("A treatment counts as needless in fields that do not grow, while they are at or below the lower bound; one that comes after the upper bound loses a fifth of the late loss a day, up to all of it. Fields at the lower bound count only as far as the mix has them: whoever has many there states them as staying, or keeps a promise. The balance follows from the costs, the mix of fields and the late loss, and from nothing else: it is no advice to apply a product.")
}

func stageBalance(d *report.Document, plan *plans.Plan, found []plans.Balance) {
	k := *plan.Protocol.Costs
	t := report.NewTable("Risks balanced by cost: for each stage the pair with the least expected loss and scouting time, over the levels of the fields visited"+inCurrency(k)+".",
		"growth stage", ">needless risk", ">missed risk", ">loss", ">stated needless", ">stated missed", ">loss")
	for i, b := range found {
		loss, stated := plan.Stages[i].ExpectedLoss(), "no plan"
		if b.Stated != nil {
			stated = amount(b.Stated.Total())
		}
		t.Add(b.Stage, report.Share(b.NeedlessRisk), report.Share(b.MissedRisk), amount(loss.Total()),
			report.Share(b.StatedNeedless), report.Share(b.StatedMissed), stated)
	}
	d.Table(t)
	for _, b := range found {
		if ends := atEnd(b); ends != "" {
			d.Para("%s: %s; one beyond it might lose less still.", orUnnamed(b.Stage), ends)
		}
	}
	d.Para("The loss on the left is that of the plan below; on the right stands that of a plan for the stated risks, searched for quickly. The balance follows from the costs, the prior and the late losses above and below, and from nothing else: it is no advice to apply a product.")
}

package main

import (
	"context"
	"fmt"
	"strconv"
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
		money(*k, k.CropPerHa), money(*k, k.TreatmentPerHa), money(*k, k.ScoutPerHour), strconv.FormatFloat(k.FieldHa, 'f', -1, 64))
	d.Table(wrongTable(plan))
	if s := lateSentence(plan); s != "" {
		d.Para("%s", s)
	}
	d.Table(lossTable(plan))
	d.Para("Averages: %s. They are no better than the inputs, and no advice to apply a product.", strings.Join(priors(plan), "; "))
}

// money writes an amount as the protocol states it.
func money(k plans.Costs, x float64) string {
	return strings.TrimSpace(strconv.FormatFloat(x, 'f', -1, 64) + " " + k.Currency)
}

// amount writes an amount without digits that nobody needs.

func amount(x float64) string {
	digits := 3
	if x >= 1000 {
		digits = 4
	}
	return report.Number(x, digits)
}

// wrongTable shows what each mistake costs, beside the risks that are allowed.
func wrongTable(plan *plans.Plan) *report.Table {
	k := *plan.Protocol.Costs
	t := &report.Table{
		Caption: "One mistake in one field, and the risks allowed for it" + inCurrency(k) + ".",
		Columns: []report.Column{
			{Head: "growth stage", Key: "stage"},
			{Head: "lost when late", Key: "late_loss", Right: true},
			{Head: "missed treatment", Key: "missed_cost", Right: true},
			{Head: "allowed", Key: "missed_risk", Right: true},
			{Head: "needless treatment", Key: "needless_cost", Right: true},
			{Head: "allowed", Key: "needless_risk", Right: true},
		}}
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

// lossTable shows the exact expected losses of a visit.
func lossTable(plan *plans.Plan) *report.Table {
	k := *plan.Protocol.Costs
	t := &report.Table{
		Caption: "Expected loss per field and visit, exact, in the most clumped fields" + inCurrency(k) + ".",
		Columns: []report.Column{
			{Head: "growth stage", Key: "stage"}, {Head: "field at", Key: "level"},
			{Head: "chance to act", Key: "p_act", Right: true},
			{Head: "needless", Key: "needless", Right: true}, {Head: "missed", Key: "missed", Right: true},
			{Head: "scouting", Key: "scouting", Right: true}, {Head: "in all", Key: "loss", Right: true},
		}}
	for _, s := range plan.Stages {
		add := func(at string, l plans.Loss) {
			missed, total := amount(l.Missed), amount(l.Total())
			if s.LateLoss == 0 {
				missed, total = "not known", "not known"
			}
			t.Add(s.Name, at, report.Percent(l.Act), amount(l.Needless), missed, amount(l.Scouting), total)
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

// balanceDocument shows what the search for risks of least loss found.
func balanceDocument(d *report.Document, k plans.Costs, found []plans.Balance) {
	t := &report.Table{
		Caption: "Risks balanced by cost: for each stage the pair with the least expected loss and scouting time, over the levels of the fields visited" + inCurrency(k) + ".",
		Columns: []report.Column{
			{Head: "growth stage", Key: "stage"},
			{Head: "needless risk", Key: "needless_risk", Right: true}, {Head: "missed risk", Key: "missed_risk", Right: true},
			{Head: "loss", Key: "loss", Right: true},
			{Head: "stated needless", Key: "stated_needless_risk", Right: true}, {Head: "stated missed", Key: "stated_missed_risk", Right: true},
			{Head: "loss", Key: "stated_loss", Right: true},
		}}
	for _, b := range found {
		stated := "no plan"
		if b.Stated != nil {
			stated = amount(b.Stated.Total())
		}
		t.Add(b.Stage, report.Share(b.NeedlessRisk), report.Share(b.MissedRisk), amount(b.Loss.Total()),
			report.Share(b.StatedNeedless), report.Share(b.StatedMissed), stated)
	}
	d.Table(t)
	d.Para("The losses here are those of simple plans, by which the risks were compared; the plan below has its own. The balance follows from the costs, the prior and the late losses above and below, and from nothing else: it is no advice to apply a product.")
}

func balanceWithProgress(ctx context.Context, e env, p plans.Protocol, o plans.DesignOptions) (plans.Protocol, []plans.Balance, error) {
	progress := report.NewProgress(e.Err, "balancing risks", -1)
	defer progress.Done()
	o.Progress = func(string) { progress.Add(1) }
	return plans.BalanceRisks(ctx, p, o)
}

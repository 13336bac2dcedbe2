package say

import (
	"fmt"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// TableFrom says where a decision table comes from.
func TableFrom(s *plans.StagePlan) string {
	if s.Method == plans.OwnTable {
		return "given as it is"
	}
	return "found by the method " + string(s.Method)
}

var rivalNames = map[string]string{
	plans.AsPromised: "least walking, risks as promised",
	plans.SameRisks:  "least walking, the same risks",
	plans.SameStops:  "least risks, no more walking",
}

// rivalTable sets a table of one's own beside what could be had in its place.
func rivalTable(d *report.Document, s *plans.StagePlan) {
	if len(s.Rivals) == 0 {
		return
	}
	t := report.NewTable("What could be had in its place: plans by the method risk-true for the same fields. Risks are exact and the worst over the clumping range; stops are exact expectations in the most clumped fields, averaged over the lower bound, the threshold and the upper bound.",
		"plan", ">needless risk", ">missed risk", ">stops")
	t.Add("this table", report.Percent(s.WorstNeedless().Needless), report.Percent(s.WorstMissed().Missed), report.Number(s.Weighted, 3))
	for _, r := range s.Rivals {
		if r.Stops == nil {
			t.Add(rivalNames[r.Question], "", "", "none found")
			continue
		}
		t.Add(rivalNames[r.Question], report.Percent(*r.Needless), report.Percent(*r.Missed), report.Number(*r.Stops, 3))
	}
	d.Table(t)
	d.Para("%s", rivalSentence(s))
}

// rivalSentence says what another plan would save with the risks of the table.
func rivalSentence(s *plans.StagePlan) string {
	for _, r := range s.Rivals {
		if r.Question != plans.SameRisks || r.Stops == nil {
			continue
		}
		if saved := 1 - *r.Stops/s.Weighted; saved >= 0.005 {
			return fmt.Sprintf("With no more risk than this table runs, %s of its stops could be saved.", report.Percent(saved))
		}
		return "With the risks that this table runs, no plan found walks noticeably less."
	}
	return ""
}

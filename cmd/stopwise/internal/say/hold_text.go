package say

import (
	"fmt"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// HeldUnder says in which worlds beside the plain ones a promise must hold, as the
// end of a sentence; it is empty where there are none.
func (l In) HeldUnder(h plans.HoldUnder, t plans.Stage) string {
	var parts []string
	if h.Patches {
		parts = append(parts, l.Say("promise.where_patches"))
	}
	if h.Overlooked > 0 {
		parts = append(parts, l.Say("promise.where_overlooked", "Share", l.Number(report.Share(h.Overlooked)), "What", l.Counted(t)))
	}
	if h.FalseFinds > 0 {
		parts = append(parts, l.Say("promise.where_false_finds", "Share", l.Number(report.Share(h.FalseFinds)), "Many", l.UnitsName(t)))
	}
	return l.And(parts)
}

// heldTable shows the worst risks in the worlds beside the plain ones.
func heldTable(d *report.Document, s *plans.StagePlan) {
	if len(s.Held) == 0 {
		return
	}
	t := report.NewTable("The worst exact risks over the clumping range in the other worlds in which the promise must hold, one at a time.",
		"world", ">"+riskHead(s, "act", s.Lower, s.NeedlessRisk), ">"+riskHead(s, "leave", s.Upper, s.MissedRisk), "promise")
	for _, r := range s.Held {
		t.Add(r.World, report.Percent(r.Needless), Chance(r.Missed), promiseWord(s, r.Needless, r.Missed))
	}
	d.Table(t)
}

// riskHead is the head of a column of risks.
func riskHead(s *plans.StagePlan, verdict string, level, allowed float64) string {
	return fmt.Sprintf("%s at %s (allowed %s)", verdict, report.Level(s.Measure, level), report.Share(allowed))
}

// promiseWord says whether two risks are within those that a stage allows.
func promiseWord(s *plans.StagePlan, needless, missed float64) string {
	switch n, m := s.NeedlessBroken(needless), s.MissedBroken(missed); {
	case n && m:
		return "BOTH BROKEN"
	case n:
		return "needless BROKEN"
	case m:
		return "missed BROKEN"
	case !s.MissedKnown() || needless > s.NeedlessRisk+plans.Slack:
		return NotKnown
	}
	return "both kept"
}

// priceSentence says what the worlds besides cost.
func priceSentence(s *plans.StagePlan) string {
	if s.Unheld == 0 {
		return ""
	}
	return fmt.Sprintf("The price of a promise that holds there too (%s): %s stops in place of %s, averaged over lower bound, threshold and upper bound in the most clumped fields that are as the plan takes them.",
		English().HeldNames(s), report.Number(s.Weighted, 3), report.Number(s.Unheld, 3))
}

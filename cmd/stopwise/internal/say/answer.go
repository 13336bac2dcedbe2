package say

import (
	"fmt"
	"math"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// AnswerDocument puts the verdict first and then when to come back, where it is
// known: that is what the scout reads.
func AnswerDocument(d *report.Document, s *plans.StagePlan, a plans.Answer, when string) {
	d.Para("%s", VerdictSentence(s, a))
	switch {
	case when != "":
		d.Para("%s", when)
	case a.Verdict == plans.Leave && s.ComingBack == nil:
		d.Para("The protocol does not say when to come back: ask the specialist.")
	}
	if a.DecidedAt > 0 && a.DecidedAt < a.Stop {
		d.Note("The verdict came at stop %d, and the stops after it do not change it: who walks on until the numbers look otherwise no longer has the plan's risks.", a.DecidedAt)
	}
	NextDocument(d, s, a)
	d.Para("%s", estimateSentence(s, a))
	if h := a.FromHere; h != nil {
		if text := fromHereSentence(s, *h); text != "" {
			d.Para("%s", text)
		}
	}
	if a.Uneven {
		n, m := worst(a.Risks)
		missed := fmt.Sprintf("misses at most %s of those at %s (allowed %s)", report.Percent(m), report.Level(s.Measure, s.Upper), report.Share(s.MissedRisk))
		if !s.MissedKnown() {
			missed = "how many of those at " + report.Level(s.Measure, s.Upper) + " it misses depends on how often the sign is seen"
		}
		d.Para("Not every stop had the planned %s. The numbers are taken at the %s really seen, rounded to the careful side; continued as planned, this path acts needlessly in at most %s of fields at %s (allowed %s) and %s.",
			report.Units(s.Stage, s.Plants()), report.UnitsName(s.Stage), report.Percent(n), report.Level(s.Measure, s.Lower), report.Share(s.NeedlessRisk), missed)
	}
	if text := Reservation(s); text != "" {
		d.Note("%s", text)
	}
	if s.Sign != nil && !a.SignMissing {
		d.Para("The sign (%s) was seen at %s; act asks for %s.", s.Sign.Text, report.Count(a.Signs, "stop", "stops"), report.SignNumber(*s.Sign))
	}
}

func worst(risks []plans.Risk) (needless, missed float64) {
	for _, r := range risks {
		needless, missed = max(needless, r.Needless), max(missed, r.Missed)
	}
	return needless, missed
}

// fromHereSentence says how the visit ends from here on, as far as that is known.
func fromHereSentence(s *plans.StagePlan, h plans.FromHere) string {
	var parts []string
	if !math.IsNaN(h.ActAtLower) {
		parts = append(parts, fmt.Sprintf("a field at %s would end with act in %s of visits", report.Level(s.Measure, s.Lower), report.Percent(h.ActAtLower)))
	}
	if !math.IsNaN(h.LeaveAtUpper) {
		parts = append(parts, fmt.Sprintf("one at %s with leave in %s", report.Level(s.Measure, s.Upper), report.Percent(h.LeaveAtUpper)))
	}
	switch {
	case len(parts) == 0:
		return ""
	case len(parts) == 1 && math.IsNaN(h.ActAtLower):
		parts[0] = "a field" + strings.TrimPrefix(strings.Replace(parts[0], " with", " would end with", 1), "one")
	}
	rule := ""
	if s.Sign != nil {
		rule = ", count and sign"
	}
	return fmt.Sprintf("From here on, walked to the end: %s (%s, exact%s).", strings.Join(parts, ", "), report.Clumping(h.Clump), rule)
}

func VerdictSentence(s *plans.StagePlan, a plans.Answer) string {
	what := fmt.Sprintf("%d infested of %s at %s", a.Total, report.Units(s.Stage, a.Plants), report.Count(a.Stop, "stop", "stops"))
	if s.Measure == plans.MeanPerLeaf {
		what = fmt.Sprintf("%s on %s at %s", report.Count(a.Total, "insect", "insects"), report.LeavesOn(s.Stage, a.Plants), report.Count(a.Stop, "stop", "stops"))
	}
	if a.SignMissing && s.Sign.Absent {
		return fmt.Sprintf("DO NOT TREAT YET, come back soon: the count is reached (%s), but the sign (%s) was seen at %s, and to act it must be seen at %s. Look again at the next visit.",
			what, s.Sign.Text, report.Count(a.Signs, "stop", "stops"), report.SignAt(*s.Sign))
	}
	if a.SignMissing {
		return fmt.Sprintf("DO NOT TREAT YET, come back soon: the count is reached (%s), but the sign (%s) was seen at only %s, and the rule asks for %d. Look for it again at the next visit.",
			what, s.Sign.Text, report.Count(a.Signs, "stop", "stops"), s.Sign.Stops)
	}
	switch {
	case a.DecidedAt > 0 && a.DecidedAt < a.Stop:
		return fmt.Sprintf("%s, as decided at stop %d. By now %s.", verdictWords[a.Verdict], a.DecidedAt, what)
	case a.Verdict == plans.Act:
		return fmt.Sprintf("%s: %s reaches the act number %d.", verdictWords[a.Verdict], what, a.Act)
	case a.Verdict == plans.Leave:
		return fmt.Sprintf("%s: %s is not above the leave number %d.", verdictWords[a.Verdict], what, a.Leave)
	}
	why := fmt.Sprintf("between leave (%s) and act (%s)", orNever(a.Leave, plans.NeverLeave), orNever(a.Act, plans.NeverAct))
	if a.Leave == plans.NeverLeave && a.Act == plans.NeverAct {
		why = fmt.Sprintf("no verdict before stop %d", s.Table.First())
		if a.Stop >= s.Table.First() {
			why = "no verdict yet"
		}
	}
	return fmt.Sprintf("%s to stop %d: %s, %s.", verdictWords[a.Verdict], a.Stop+1, what, why)
}

// verdictWords are the verdicts as they are shown: not told apart by colour.
var verdictWords = map[plans.Verdict]string{
	plans.Act:      "ACT, the threshold is taken as reached",
	plans.Leave:    "LEAVE the field and come back",
	plans.Continue: "WALK ON",
}

func orNever(n, never int) string {
	if n == never {
		return "never"
	}
	return fmt.Sprint(n)
}

func NextDocument(d *report.Document, s *plans.StagePlan, a plans.Answer) {
	if a.Next == nil {
		return
	}
	if t := NextSentence(s, a); t != "" {
		d.Para("%s", t)
	}
}

func NextSentence(s *plans.StagePlan, a plans.Answer) string {
	n := a.Next
	count := "infested"
	if s.Measure == plans.MeanPerLeaf {
		count = "insects"
	}
	var parts []string
	if n.Leave != plans.NeverLeave {
		parts = append(parts, fmt.Sprintf("%s brings leave", atMost(n.Leave, count)))
	}
	if n.Act != plans.NeverAct {
		parts = append(parts, fmt.Sprintf("%d %s or more brings act%s", n.Act, count, andTheSign(s, a)))
	}
	if n.Act == 0 {
		return fmt.Sprintf("At stop %d (%s) any count brings act%s.", a.Stop+1, report.Units(s.Stage, n.Plants), andTheSign(s, a))
	}
	if len(parts) == 0 && a.Stop+1 < s.Table.First() {
		return "" // the verdict sentence has said it
	}
	if len(parts) == 0 {
		return fmt.Sprintf("At stop %d (%s) no count can bring a verdict yet.", a.Stop+1, report.Units(s.Stage, n.Plants))
	}
	t := fmt.Sprintf("At stop %d (%s) %s", a.Stop+1, report.Units(s.Stage, n.Plants), strings.Join(parts, ", "))
	switch {
	case n.Leave == plans.NeverLeave:
		return t + "; leave is not possible there."
	case n.Act == plans.NeverAct:
		return t + "; act is not possible there."
	case n.Act > n.Leave+1:
		return t + ", anything between walks on."
	}
	return t + ": it is the last stop."
}

// andTheSign says what the sign must still do for a count to bring act, as it was
// seen so far.
func andTheSign(s *plans.StagePlan, a plans.Answer) string {
	if s.Sign == nil {
		return ""
	}
	missing := s.Sign.Stops - a.Signs
	switch {
	case s.Sign.Absent && missing <= 0:
		return " by the count, but the sign was seen too often"
	case s.Sign.Absent && missing == 1:
		return " if the sign is not seen there"
	case s.Sign.Absent, missing <= 0:
		return ""
	case missing == 1:
		return " if the sign is seen there"
	}
	return " by the count, but the sign was seen too seldom to act there"
}

func atMost(n int, what string) string {
	if n == 0 {
		return "none " + what
	}
	return fmt.Sprintf("%d %s or fewer", n, what)
}

// estimateSentence says what the visit tells of the level.
func estimateSentence(s *plans.StagePlan, a plans.Answer) string {
	w := s.Clumped(s.Threshold)
	level, what, clumped := report.Percent, "Share infested", "rho "+report.Constant(w.Clump)
	if s.Measure == plans.MeanPerLeaf {
		level = func(x float64) string { return report.Number(x, 3) }
		what, clumped = "Mean per leaf", "as clumped as the protocol's clumped end"
	}
	upTo := ""
	if a.DecidedAt > 0 && a.DecidedAt < a.Stop {
		upTo = fmt.Sprintf(" by stop %d", a.DecidedAt)
	}
	to := "to " + level(a.Interval.Upper)
	if math.IsInf(a.Interval.Upper, 1) {
		to = "without an upper end"
	}
	return fmt.Sprintf("%s%s: estimate %s (%s interval %s %s, %s); seen %s. %s",
		what, upTo, level(a.Estimate), report.Share(a.Interval.Confidence), level(a.Interval.Lower), to, clumped, level(a.Seen(s)), correctedSentence)
}

// correctedSentence says why an estimate is not what was seen.
const correctedSentence = "After stopping early an estimate leans away from the threshold; this one is corrected."

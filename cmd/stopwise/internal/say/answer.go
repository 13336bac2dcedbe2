package say

import (
	"fmt"
	"math"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/words"
	"stopwise/plans"
)

// In says things in a language: what stands on a card, on paper, in a bulletin and
// in a walk, and in commands too.
type In struct{ *words.Language }

// English is the language of the commands that speak no other.
func English() In { return In{words.English()} }

// AnswerDocument puts the verdict first and then when to come back, where it is
// known: that is what the scout reads.
func (l In) AnswerDocument(d *report.Document, s *plans.StagePlan, a plans.Answer, when string) {
	d.Para("%s", l.VerdictSentence(s, a))
	switch {
	case when != "":
		d.Para("%s", when)
	case a.Verdict == plans.Leave && s.ComingBack == nil:
		d.Para("%s", l.Say("scout.no_return"))
	}
	if a.DecidedAt > 0 && a.DecidedAt < a.Stop {
		d.Note("%s", l.Say("verdict.late", "Stop", a.DecidedAt))
	}
	l.NextDocument(d, s, a)
	d.Para("%s", l.estimateSentence(s, a))
	if h := a.FromHere; h != nil {
		d.Para("%s", l.fromHereSentence(s, *h))
	}
	if a.Uneven {
		d.Para("%s", l.unevenSentence(s, a))
	}
	d.Note("%s", l.Reservation(s))
	if s.Sign != nil && !a.SignMissing {
		d.Para("%s", l.Say("sign.seen", "Sign", s.Sign.Text, "Stops", l.Count("count.stops", a.Signs), "Asked", l.SignNumber(*s.Sign)))
	}
}

// unevenSentence says what the rule risks on the plants that were really seen.
func (l In) unevenSentence(s *plans.StagePlan, a plans.Answer) string {
	n, m := worst(a.Risks)
	with := []any{
		"Uneven", l.Uneven(s), "Needless", l.Number(report.Percent(n)), "Lower", l.Level(s.Measure, s.Lower),
		"NeedlessAllowed", l.Number(report.Share(s.NeedlessRisk)), "Upper", l.Level(s.Measure, s.Upper),
	}
	if !s.MissedKnown() {
		return l.Say("walk.path_unknown", with...)
	}
	return l.Say("walk.path", append(with, "Missed", l.Number(report.Percent(m)), "MissedAllowed", l.Number(report.Share(s.MissedRisk)))...)
}

// Uneven says at which numbers a table is read where not every stop had the planned
// plants.
func (l In) Uneven(s *plans.StagePlan) string {
	id := "verdict.uneven"
	if s.Worth.Points != nil {
		id = "verdict.uneven_points"
	}
	return l.Say(id, "Units", l.Units(s.Stage, s.Plants()), "Many", l.UnitsName(s.Stage))
}

func worst(risks []plans.Risk) (needless, missed float64) {
	for _, r := range risks {
		needless, missed = max(needless, r.Needless), max(missed, r.Missed)
	}
	return needless, missed
}

// fromHereSentence says how the visit ends from here on, as far as that is known.
func (l In) fromHereSentence(s *plans.StagePlan, h plans.FromHere) string {
	lower, upper := l.Level(s.Measure, s.Lower), l.Level(s.Measure, s.Upper)
	act, leave := l.Number(report.Percent(h.ActAtLower)), l.Number(report.Percent(h.LeaveAtUpper))
	var ends string
	switch noAct, noLeave := math.IsNaN(h.ActAtLower), math.IsNaN(h.LeaveAtUpper); {
	case noAct && noLeave:
		return ""
	case noLeave:
		ends = l.Say("walk.ends_act", "Lower", lower, "Act", act)
	case noAct:
		ends = l.Say("walk.ends_leave", "Upper", upper, "Leave", leave)
	default:
		ends = l.Say("walk.ends_both", "Lower", lower, "Act", act, "Upper", upper, "Leave", leave)
	}
	id := "walk.from_here"
	if s.Sign != nil {
		id = "walk.from_here_sign"
	}
	return l.Say(id, "Ends", ends, "Clumping", l.clump(h.Clump))
}

// seen says what a visit has seen so far.
func (l In) seen(s *plans.StagePlan, a plans.Answer) string {
	stops := l.Count("count.stops", a.Stop)
	if s.Measure == plans.MeanPerLeaf {
		id := "verdict.seen_mean"
		if a.Ended > 0 {
			id = "verdict.seen_mean_ended"
		}
		return l.worthOf(s, a, l.Say(id, "Insects", l.Count("count.insects", a.Total), "Leaves", l.LeavesOn(s.Stage, a.Plants), "Stops", stops))
	}
	id := "verdict.seen_share"
	if a.Ended > 0 { // what is beyond the cap was not looked at
		id = "verdict.seen_ended"
	}
	return l.worthOf(s, a, l.Say(id, "Total", a.Total, "Units", l.Units(s.Stage, a.Plants), "Stops", stops))
}

func (l In) VerdictSentence(s *plans.StagePlan, a plans.Answer) string {
	seen := l.seen(s, a)
	if a.SignMissing {
		head, stops := l.Say("verdict.head_not"), l.Count("count.stops", a.Signs)
		if s.Sign.Absent {
			return l.Say("verdict.sign_present", "Head", head, "Seen", seen, "Sign", s.Sign.Text, "Stops", stops, "At", l.SignAt(*s.Sign))
		}
		return l.Say("verdict.sign_missing", "Head", head, "Seen", seen, "Sign", s.Sign.Text, "Stops", stops, "Asked", s.Sign.Stops)
	}
	verdict := l.Say("verdict.act", "Head", l.Say("verdict.head_act"))
	if a.Verdict == plans.Leave {
		verdict = l.Say("verdict.leave", "Head", l.Say("verdict.head_leave"))
	}
	switch {
	case a.DecidedAt > 0 && a.DecidedAt < a.Stop:
		return l.Say("verdict.decided", "Verdict", verdict, "Stop", a.DecidedAt, "Seen", seen)
	case a.Verdict == plans.Act:
		return l.Say("verdict.act_at", "Verdict", verdict, "Seen", seen, "Act", a.Act)
	case a.Verdict == plans.Leave:
		return l.Say("verdict.leave_at", "Verdict", verdict, "Seen", seen, "Leave", a.Leave)
	}
	why := l.Say("verdict.between", "Leave", l.orNever(a.Leave, plans.NeverLeave), "Act", l.orNever(a.Act, plans.NeverAct))
	if a.Leave == plans.NeverLeave && a.Act == plans.NeverAct {
		why = l.Say("verdict.none_before", "First", s.Table.First())
		if a.Stop >= s.Table.First() {
			why = l.Say("verdict.none_yet")
		}
	}
	return l.Say("verdict.on", "Head", l.Say("verdict.head_on"), "Next", a.Stop+1, "Seen", seen, "Why", why)
}

func (l In) orNever(n, never int) string {
	if n == never {
		return l.Say("verdict.never")
	}
	return fmt.Sprint(n)
}

func (l In) NextDocument(d *report.Document, s *plans.StagePlan, a plans.Answer) {
	if a.Next == nil {
		return
	}
	d.Para("%s", l.NextSentence(s, a))
}

func (l In) NextSentence(s *plans.StagePlan, a plans.Answer) string {
	n := a.Next
	what := l.Say("next.what_share")
	if s.Measure == plans.MeanPerLeaf {
		what = l.Say("next.what_mean")
	}
	stop, units, ifSign := a.Stop+1, l.Units(s.Stage, n.Plants), l.andTheSign(s, a)
	if n.AnyLeaves {
		return l.Say("next.any_leaves", "Stop", stop, "Units", units)
	}
	var parts []string
	switch {
	case n.Leave == 0:
		parts = append(parts, l.Say("next.none_leaves", "What", what))
	case n.Leave != plans.NeverLeave:
		parts = append(parts, l.Say("next.few_leave", "N", n.Leave, "What", what))
	}
	if n.Act != plans.NeverAct {
		parts = append(parts, l.Say("next.many_act", "N", n.Act, "What", what, "IfSign", ifSign))
	}
	if n.Act == 0 {
		return l.Say("next.any_acts", "Stop", stop, "Units", units, "IfSign", ifSign)
	}
	if len(parts) == 0 && stop < s.Table.First() {
		return "" // the verdict sentence has said it
	}
	if len(parts) == 0 {
		return l.Say("next.no_verdict", "Stop", stop, "Units", units)
	}
	all := strings.Join(parts, l.Say("next.comma"))
	switch {
	case n.Leave == plans.NeverLeave:
		return l.Say("next.no_leave", "Stop", stop, "Units", units, "Parts", all)
	case n.Act == plans.NeverAct:
		return l.Say("next.no_act", "Stop", stop, "Units", units, "Parts", all)
	case n.Act > n.Leave+1:
		return l.Say("next.both", "Stop", stop, "Units", units, "Parts", all)
	}
	return l.Say("next.last", "Stop", stop, "Units", units, "Parts", all)
}

// andTheSign says what the sign must still do for a count to bring act, as it was
// seen so far.
func (l In) andTheSign(s *plans.StagePlan, a plans.Answer) string {
	if s.Sign == nil {
		return ""
	}
	missing := s.Sign.Stops - a.Signs
	switch {
	case s.Sign.Absent && missing <= 0:
		return l.Say("next.sign_too_often")
	case s.Sign.Absent && missing == 1:
		return l.Say("next.sign_not_there")
	case s.Sign.Absent, missing <= 0:
		return ""
	case missing == 1:
		return l.Say("next.sign_there")
	}
	return l.Say("next.sign_too_seldom")
}

// estimateSentence says what the visit tells of the level.
func (l In) estimateSentence(s *plans.StagePlan, a plans.Answer) string {
	level := func(x float64) string { return l.Number(report.Percent(x)) }
	what, clumped := l.Say("walk.share"), l.clumpOf(s.Clumped(s.Threshold).Clump)
	if s.Measure == plans.MeanPerLeaf {
		level = func(x float64) string { return l.Number(report.Number(x, 3)) }
		what, clumped = l.Say("walk.mean"), l.Say("walk.clumped_end")
	}
	if a.DecidedAt > 0 && a.DecidedAt < a.Stop {
		what = l.Say("walk.by_stop", "What", what, "Stop", a.DecidedAt)
	}
	to := l.Say("walk.to", "Upper", level(a.Interval.Upper))
	if math.IsInf(a.Interval.Upper, 1) {
		to = l.Say("walk.no_upper_end")
	}
	with := []any{"What", what, "Estimate", level(a.Estimate), "Confidence", l.Number(report.Share(a.Interval.Confidence)),
		"Lower", level(a.Interval.Lower), "To", to, "Clumping", clumped}
	if math.IsInf(a.Estimate, 1) {
		return l.Say("walk.estimate_open", with...)
	}
	if a.Ended > 0 { // looking ended early: what share was seen is not known
		return l.Say("walk.estimate_ended", with...)
	}
	return l.Say("walk.estimate", append(with, "Seen", level(a.Seen(s)))...)
}

// clumpOf names a value of rho; clump a value of any parameter of clumping.
func (l In) clumpOf(rho float64) string { return "rho " + l.Number(report.Constant(rho)) }

func (l In) clump(c plans.ClumpValue) string {
	number := l.Number(report.Constant(c.Value))
	if math.IsInf(c.Value, 1) {
		number = l.Say("walk.no_clumping")
	}
	text := c.Name() + " " + number
	if c.CountRho > 0 {
		text = l.Say("walk.count_rho", "Clumping", text, "CountRho", l.Number(report.Constant(c.CountRho)))
	}
	return text
}

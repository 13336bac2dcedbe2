package say

import (
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// PromiseSentence says whether a plan keeps what its protocol allows. The shares
// of fields are those of many visits.
func (l In) PromiseSentence(s *plans.StagePlan) string {
	if s.Keeps() {
		return l.kept(s)
	}
	n, m := s.WorstNeedless(), s.WorstMissed()
	lower, upper := l.Level(s.Measure, s.Lower), l.Level(s.Measure, s.Upper)
	needless, missed := l.Number(report.Percent(n.Needless)), l.Number(report.Percent(m.Missed))
	var broken []string
	if s.NeedlessBroken(n.Needless) {
		broken = append(broken, l.Say("promise.acts", "Needless", needless, "Lower", lower, "Allowed", l.Number(report.Share(s.NeedlessRisk)), "Clumping", l.clump(n.Clump)))
	}
	switch {
	case len(broken) == 0 && !s.Breaks():
		return l.Say("promise.by_count", "Lower", lower, "Needless", needless)
	case !s.MissedKnown():
		broken = append(broken, l.Say("promise.missed_unknown"))
	case s.MissedBroken(m.Missed):
		broken = append(broken, l.Say("promise.leaves", "Missed", missed, "Upper", upper, "Allowed", l.Number(report.Share(s.MissedRisk)), "Clumping", l.clump(m.Clump)))
	}
	for _, r := range s.Held {
		if s.NeedlessBroken(r.Needless) || s.MissedBroken(r.Missed) {
			broken = append(broken, l.Say("promise.under", "World", l.world(r.World), "Needless", l.Number(report.Percent(r.Needless)), "Lower", lower, "Missed", l.chance(r.Missed), "Upper", upper))
		}
	}
	text := l.Say("promise.broken", "How", strings.Join(broken, "; "))
	if s.Method == plans.OwnTable {
		return text
	}
	return text + " " + l.Say("promise.risk_true")
}

// kept is the sentence of a plan that keeps its promise.
func (l In) kept(s *plans.StagePlan) string {
	lower, upper := l.Level(s.Measure, s.Lower), l.Level(s.Measure, s.Upper)
	if s.Method == plans.SeasonTrue {
		return l.Say("promise.one_visit", "Needless", l.Number(report.Percent(s.WorstNeedless().Needless)), "Lower", lower,
			"Missed", l.Number(report.Percent(s.WorstMissed().Missed)), "Upper", upper)
	}
	keeps := l.Say("promise.keeps")
	switch {
	case s.Method == plans.IwaoCurves:
		keeps = l.Say("promise.iwao")
	case s.Independent():
		keeps = l.Say("promise.keeps_independent")
	}
	needless, missed := s.WorstPromised()
	with := []any{"Keeps", keeps, "Lower", lower, "Needless", l.Number(report.Percent(needless)), "Upper", upper, "Missed", l.Number(report.Percent(missed))}
	if len(s.Held) > 0 {
		return l.Say("promise.kept_there_too", append(with, "Worlds", l.HeldNames(s))...)
	}
	return l.Say("promise.kept", with...)
}

// chance writes a chance that need not be known.
func (l In) chance(p float64) string {
	if text := Chance(p); text != NotKnown {
		return l.Number(text)
	}
	return l.Say("promise.not_known")
}

// world names a world besides, whose name the library gives.
func (l In) world(name string) string {
	switch share, what, _ := strings.Cut(name, " "); what {
	case "overlooked":
		return l.Say("promise.overlooked", "Share", l.Number(share))
	case "false finds":
		return l.Say("promise.false_finds", "Share", l.Number(share))
	}
	return l.Say("promise.patches")
}

// And joins the last of some parts by the language's word for and.
func (l In) And(parts []string) string {
	if n := len(parts); n > 1 {
		return l.Say("count.and", "Most", strings.Join(parts[:n-1], l.Say("next.comma")), "Last", parts[n-1])
	}
	return strings.Join(parts, "")
}

// HeldNames names the worlds besides in which a plan was judged.
func (l In) HeldNames(s *plans.StagePlan) string {
	var names []string
	for _, r := range s.Held {
		names = append(names, l.world(r.World))
	}
	return l.And(names)
}

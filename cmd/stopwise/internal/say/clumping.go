package say

import (
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// ClumpSentence says how clumped fields are taken to be, and that the promise must
// hold for all of it.
func (l In) ClumpSentence(p plans.Protocol) string {
	return l.SameOrEach(p.Stages, func(s plans.Stage) string {
		if held := l.HeldUnder(s.HoldUnder, s); held != "" {
			return l.Clumps(s) + " " + l.Say("clumping.promise_and", "Held", held)
		}
		return l.Clumps(s) + " " + l.Say("clumping.promise")
	})
}

// Clumps says how clumped fields are taken to be in a stage.
func (l In) Clumps(p plans.Stage) string {
	number := func(x float64) string { return l.Number(report.Number(x, 3)) }
	var parts []string
	add := func(text string) { parts = append(parts, text) }
	if r := p.Clumping.Rho; r != nil {
		add(l.Say("clumping.rho", "Rho", l.RangeText(*r), "Many", l.UnitsName(p)))
	}
	if r := p.Clumping.K; r != nil {
		add(l.Say("clumping.k", "K", l.RangeText(*r)))
	}
	if t := p.Clumping.Taylor; t != nil {
		add(l.Say("clumping.taylor", "A", number(t.A), "B", number(t.B)))
	}
	if w := p.Clumping.Iwao; w != nil {
		add(l.Say("clumping.iwao", "A", number(w.A), "B", number(w.B)))
	}
	if p.Clumping.Poisson {
		add(l.Say("clumping.poisson"))
	}
	if r := p.Clumping.CountRho; r != nil && (r.High > 0 || !p.Measure.Bounded()) {
		add(l.Say("clumping.count_rho", "CountRho", l.RangeText(*r)))
	}
	all := strings.Join(parts, "; ")
	if p.Clumping.Source != "" {
		return l.Say("clumping.all_source", "All", all, "Source", p.Clumping.Source)
	}
	return l.Say("clumping.all", "All", all)
}

// RangeText writes a range of constants.
func (l In) RangeText(r plans.Range) string {
	if r.Single() {
		return l.Number(report.Constant(r.Low))
	}
	return l.Say("count.to", "Low", l.Number(report.Constant(r.Low)), "High", l.Number(report.Constant(r.High)))
}

package handouts

import (
	"strconv"
	"strings"

	"stopwise/cmd/stopwise/internal/bulletin"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/plans"
)

func (l handout) risks() []bulletin.Part {
	head := l.Say("bulletin.how_often_wrong")
	closing := l.Say("bulletin.nearer") + " " + l.Say("bulletin.clumped") + " " + l.SameOrEach(l.plan.Protocol.Stages, l.clumps) +
		" " + l.Say("bulletin.granted", "Grounds", strings.Join(l.Grounds(l.plan), "; "))
	if len(l.plan.Stages) <= manyStages {
		return []bulletin.Part{bulletin.Text{Head: head, Paras: append(l.riskSentences(), closing)}}
	}
	t := bulletin.Table{Head: head, Columns: []bulletin.Column{
		{Head: l.Say("bulletin.growth_stage"), Left: true, Weight: 1.4}, {Head: l.Say("bulletin.of_100_needless"), Weight: 1.5}, {Head: l.Say("bulletin.of_100_missed"), Weight: 1.4},
		{Head: l.Say("bulletin.mean_stops"), Weight: 1.1}, {Head: l.Say("bulletin.mean_time"), Weight: 1.9}, {Head: l.Say("bulletin.nine_in_ten"), Weight: 1},
	}, Note: l.Say("bulletin.levels_above") + " " + closing}
	for _, s := range l.plan.Stages {
		e := l.effort(s)
		needless, _ := s.WorstPromised()
		t.Rows = append(t.Rows, []string{s.Name, l.of100(needless), l.missedOf100(s), e.stops, e.minutes, strconv.Itoa(e.within)})
	}
	return []bulletin.Part{t}
}

// clumps says how clumped fields are taken to be, and where else the risks hold.
func (l handout) clumps(s plans.Stage) string {
	if held := l.HeldUnder(s.HoldUnder, s); held != "" {
		return l.Clumps(s) + " " + l.Say("clumping.promise_and", "Held", held)
	}
	return l.Clumps(s)
}

// measureOf returns the measure of the stages, and whether all have the same.
func measureOf(plan *plans.Plan) (m plans.Measure, same bool) {
	m, same = plan.Stages[0].Measure, true
	for _, s := range plan.Stages {
		same = same && s.Measure == m
	}
	return m, same
}

// riskSentences tells each stage's risks and effort in numbers of fields.
func (l handout) riskSentences() []string {
	var out []string
	for _, s := range l.plan.Stages {
		text := l.PromiseSentence(s)
		if s.Keeps() {
			text = l.riskSentence(s)
		}
		if s.Name != "" {
			text = l.Say("bulletin.of_stage", "Stage", s.Name, "Text", text)
		}
		if s.Keeps() {
			text = say.Joined(" ", text, l.SlackSentence(s), l.Reservation(s))
		}
		e := l.effort(s)
		out = append(out, say.Capital(text)+" "+l.Say("bulletin.visit_takes", "Stops", e.stops, "Minutes", e.minutes, "Within", e.within))
	}
	return out
}

func (l handout) riskSentence(s *plans.StagePlan) string {
	needless, missed := s.WorstPromised()
	with := []any{"Lower", l.Level(s.Measure, s.Lower), "Needless", l.atMost(needless, "bulletin.treated", "bulletin.treated_under_1"), "Upper", l.Level(s.Measure, s.Upper), "Missed", l.atMost(missed, "bulletin.left", "bulletin.left_under_1")}
	text := ""
	if s.Measure == plans.MeanPerLeaf {
		text = l.Say("bulletin.risks_mean", with...)
	} else {
		text = l.Say("bulletin.risks_share", append(with, "Measured", l.Measured(s.Stage))...)
	}
	if held := l.HeldUnder(s.HoldUnder, s.Stage); held != "" {
		text += " " + l.Say("bulletin.holds_too", "Held", held)
	}
	return text
}

// missedOf100 returns how many of 100 fields at the upper bound are missed.
func (l handout) missedOf100(s *plans.StagePlan) string {
	if !s.MissedKnown() {
		return l.Say("promise.not_known")
	}
	_, missed := s.WorstPromised()
	return l.of100(missed)
}

// fewerThanOne is the chance below which not one field in 100 is meant.
const fewerThanOne = 0.005

// of100 returns a number of fields in 100, rounded up.
func (l handout) of100(chance float64) string {
	if chance < fewerThanOne {
		return l.Say("bulletin.fewer_than_1")
	}
	return report.OfHundred(chance)
}

// atMost says of how many fields at most something is said, by the plural form of
// their number.
func (l handout) atMost(chance float64, of, ofNone string) string {
	if chance < fewerThanOne {
		return l.Say(ofNone)
	}
	n, _ := strconv.Atoi(report.OfHundred(chance))
	return l.Count(of, n)
}

// effortText is what a visit takes, over the levels and the clumping range.
type effortText struct {
	stops, minutes string
	within         int
}

func (l handout) effort(s *plans.StagePlan) effortText {
	few, many, within := s.Effort[0], s.Effort[0], 0
	for _, e := range s.Effort {
		if e.Stops < few.Stops {
			few = e
		}
		if e.Stops > many.Stops {
			many = e
		}
		within = max(within, e.Within90)
	}
	between := func(a, b string) string {
		if a == b {
			return l.Say("bulletin.about", "N", a)
		}
		return l.Say("count.to", "Low", a, "High", b)
	}
	return effortText{between(l.Number(report.Whole(few.Stops)), l.Number(report.Whole(many.Stops))),
		between(l.Number(report.Minutes(few.Minutes)), l.Number(report.Minutes(many.Minutes))), within}
}

package say

import (
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// SameOrEach says something of all stages: once where they agree.
func (l In) SameOrEach(stages []plans.Stage, say func(plans.Stage) string) string {
	same := true
	var each []string
	for _, s := range stages {
		text := say(s)
		same = same && text == say(stages[0])
		each = append(each, l.Say("unit.stage_says", "Stage", s.Name, "Text", text))
	}
	if same {
		return say(stages[0])
	}
	return strings.Join(each, " ")
}

// WalkSentences says how a field is walked.
func (l In) WalkSentences(stages []plans.Stage) string { return l.SameOrEach(stages, l.WalkSentence) }

// WalkSentence says how a field is walked for a verdict.
func (l In) WalkSentence(p plans.Stage) string { return l.walking(p, false) }

// EstimateWalk says how a field is walked for an estimate, which brings no verdict.
func EstimateWalk(p plans.Stage) string { return English().walking(p, true) }

func (l In) walking(p plans.Stage, estimate bool) string {
	plants := p.Stop.Plants
	units := l.Units(p, plants)
	if p.Unit.Text != "" {
		units = l.Say("walk.units_text", "Units", units, "Text", p.Unit.Text)
	}
	text := l.Say("walk.each_stop", "Units", units, "First", p.Stop.Minimum, "Last", p.Stop.Maximum)
	if estimate {
		text = l.Say("walk.each_stop_estimate", "Units", units, "First", p.Stop.Minimum, "Last", p.Stop.Maximum)
	}
	if p.Unit.Tally > 0 && p.Measure.Bounded() {
		one, _ := l.UnitWords(p)
		text += " " + l.Say("walk.infested_when", "One", one, "Insects", l.Count("count.insects", p.Unit.Tally))
	}
	return text + " " + l.Say("walk.takes", "Walk", l.Number(report.Minutes(p.Stop.WalkMinutes)), "Look", l.Number(report.Minutes(p.Stop.PlantMinutes*float64(plants))), "Many", l.UnitsName(p))
}

// Measured says of what a level is a share.
func (l In) Measured(t plans.Stage) string {
	if !t.Measure.Bounded() {
		return l.Say("unit.measured_insects")
	}
	return l.Say("unit.measured", "Many", l.UnitsName(t))
}

// Counted says what is counted.
func (l In) Counted(t plans.Stage) string {
	if !t.Measure.Bounded() {
		return l.Say("unit.insects")
	}
	return l.Say("unit.infested", "Many", l.UnitsName(t))
}

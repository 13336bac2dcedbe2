package say

import (
	"fmt"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// mostBriefRows is the most rows of a decision table that a short answer shows: those
// that come next stand in the whole table.
const mostBriefRows = 10

// DesignBrief is the short form of [DesignDocument]: whether the promise is kept, what
// a visit takes, what to do next, and the table as far as most visits get.
func DesignBrief(plan *plans.Plan, trials []plans.PlantsTrial, balanced Balanced, file string) *report.Document {
	d := &report.Document{}
	p := plan.Protocol
	d.Heading("Plan" + Titled(p.About()))
	screen := &Screen{File: file}
	designAnswer(d, plan, screen)
	if trials != nil {
		trialsTable(d, trials)
	}
	balanceDocument(d, plan, balanced)
	if len(plan.Stages) > 1 {
		d.Table(stagesTable(plan.Stages))
	}
	d.Para("%s", English().WhichTable(plan.Stages))
	for _, s := range plan.Tables() {
		SignSentence(d, s)
		if text := Joined(" ", English().WorthSentence(s), patchesSentence(s)); text != "" && firstOf(s) {
			d.Para("%s", text)
		}
		if s.Worth.Points != nil && firstOf(s) {
			d.Table(pointsTable(s))
		}
		briefTable(d, s)
		if s.Held != nil && !s.Keeps() {
			heldTable(d, s)
		}
		rivalTable(d, s)
	}
	if p.Costs != nil {
		d.Note("%s", contradictionSentence(plan))
	}
	routeWord(d, plan, screen)
	d.Para("Taken for granted: %s.", strings.Join(English().Grounds(plan), "; "))
	d.Para("%s", Joined(" ", "A plan informs a decision and recommends no product; the cautions stand in --detail and beside every verdict.", p.About().Cautions))
	return d
}

// routeWord says which route to walk, and what another one can do.
func routeWord(d *report.Document, plan *plans.Plan, screen *Screen) {
	text := strings.TrimSuffix(DefaultRoute(plan.Protocol.Route), ".") + "; on other routes the promise can break"
	if screen != nil {
		text += ": --routes tells"
	}
	d.Para("%s.", text)
}

// A Screen is where an answer is read that may say which flags and commands come next.
// On paper there is none: nil.
type Screen struct {
	File   string // of the plan; empty where it was not written
	Detail bool   // all that stands behind the answer is shown
}

// next says what to do next with a plan.
func (w *Screen) next(d *report.Document, plan *plans.Plan) {
	if w == nil {
		return
	}
	more := "; --detail shows what stands behind it"
	if w.Detail {
		more = ""
	}
	if w.File == "" {
		d.Para("Next: --out plan.json keeps the plan for table, check, card and validate%s.", more)
		return
	}
	d.Para("%s", planWritten(plan, w.File))
	d.Para("Next: `stopwise validate %s%s` tries it where things are otherwise, `stopwise card %s --out card.html` hands it out%s.",
		w.File, stageArgument(plan)+lastArgument(plan), w.File, more)
}

// designAnswer says first what matters of a plan and what to do with it.
func designAnswer(d *report.Document, plan *plans.Plan, screen *Screen) {
	if plan.Season != nil {
		d.Para("%s %s", English().SeasonPromise(plan), SeasonEffort(plan))
	}
	if allKeep(plan) && len(plan.Stages) > 1 && plan.Season == nil {
		d.Para("The plan keeps its promise in all %d stages over the whole clumping range%s.", len(plan.Stages), heldBesides(plan.Stages))
	}
	for _, s := range plan.Tables() {
		d.Para("%s", stageAnswer(plan, s))
		d.Note("%s", IndependentSentence(s))
		d.Para("%s", spareSentence(s))
	}
	screen.next(d, plan)
}

func allKeep(plan *plans.Plan) bool {
	for _, s := range plan.Stages {
		if !s.Keeps() || !s.MissedKnown() {
			return false
		}
	}
	return true
}

// stageAnswer leaves out what was said of all stages, or of the season.
func stageAnswer(plan *plans.Plan, s *plans.StagePlan) string {
	promise, slack := English().PromiseSentence(s), English().SlackSentence(s)
	if s.Keeps() && plan.Season != nil {
		promise, slack = "", ""
	}
	many := len(plan.Tables()) > 1
	if many && allKeep(plan) {
		promise = ""
	}
	text := Joined(" ", promise, slack, visitSentence(s), priceSentence(s))
	if many {
		text = Capital(English().TableName(s)) + ". " + text
	}
	return text
}

// heldBesides names the worlds besides in which all stages are held.
func heldBesides(all []*plans.StagePlan) string {
	if names := English().HeldNames(all[0]); names != "" {
		return ", and in the other worlds too (" + names + ")"
	}
	return ""
}

func planWritten(plan *plans.Plan, file string) string {
	return fmt.Sprintf("Plan written to %s. After each stop ask: `stopwise check %s%s%s COUNT...`", file, file, stageArgument(plan), lastArgument(plan))
}

// visitSentence says what a visit takes, from the least to the most of what a plan
// states.
func visitSentence(s *plans.StagePlan) string {
	least, most := s.Effort[0], s.Effort[0]
	for _, e := range s.Effort {
		if e.Stops < least.Stops {
			least = e
		}
		if e.Stops > most.Stops {
			most = e
		}
	}
	stops, time := report.Number(least.Stops, 2), report.Minutes(least.Minutes)
	if high := report.Number(most.Stops, 2); high != stops {
		stops += " to " + high
		if t := report.Minutes(most.Minutes); t != time {
			time += " to " + t
		}
	}
	return fmt.Sprintf("A visit takes %s stops on average (%s), at most %d.", stops, time, s.Table.Stops())
}

// stagesTable is one row a stage: what was promised and what is kept.
func stagesTable(all []*plans.StagePlan) *report.Table {
	t := report.NewTable("Worst exact risks, allowed ones in brackets, and the stops of a visit to a most clumped field at the threshold.",
		"growth stage", ">treated needlessly", ">missed", "promise", ">stops")
	for _, s := range all {
		n, m := s.WorstPromised()
		stops := 0.0
		for _, e := range s.Effort {
			if e.At == "threshold" {
				stops = e.Stops
			}
		}
		t.Add(s.Name,
			fmt.Sprintf("at %s: %s (%s)", report.Level(s.Measure, s.Lower), report.Percent(n), report.Share(s.NeedlessRisk)),
			fmt.Sprintf("at %s: %s (%s)", report.Level(s.Measure, s.Upper), Chance(m), report.Share(s.MissedRisk)),
			promiseWord(s, n, m), report.Number(stops, 3))
	}
	return t
}

// briefTable shows a decision table from its first verdict to where nine visits of ten
// have ended, and says what is left out.
func briefTable(d *report.Document, s *plans.StagePlan) {
	of := ""
	if name := English().TableName(s); name != "" {
		of = " of stage " + name
	}
	first, within := s.Table.First(), 0
	for _, e := range s.Effort {
		within = max(within, e.Within90)
	}
	last := min(max(within, first), first+mostBriefRows-1)
	if last >= s.Table.Stops()-2 { // what is left out takes a line of its own
		last = s.Table.Stops()
	}
	t := DecisionTable(s, fmt.Sprintf("Decision table%s: the running total of %s after each stop.", of, English().Added(s)))
	if first > 1 {
		t.Caption += fmt.Sprintf(" No verdict before stop %d.", first)
	}
	if last < s.Table.Stops() {
		t.Caption += fmt.Sprintf(" Stops %d to %d: stopwise table, or --detail.", last+1, s.Table.Stops())
	}
	t.Rows = t.Rows[first-1 : last]
	d.Table(t)
}

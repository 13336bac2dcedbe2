package say

import (
	"fmt"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
	"stopwise/plans/rule"
	"stopwise/sampling"
)

// Added says what the running total of a plan is the total of.
func (l In) Added(s *plans.StagePlan) string {
	switch w := s.Worth; {
	case w.Points != nil:
		return l.Say("worth.points")
	case w.Cap > 0:
		return l.Say("worth.capped", "What", l.Counted(s.Stage), "Cap", w.Cap)
	}
	return l.Counted(s.Stage)
}

// AddedOf says what the totals of stages are the totals of.
func (l In) AddedOf(stages []*plans.StagePlan) string {
	added := l.Added(stages[0])
	for _, s := range stages[1:] {
		if l.Added(s) != added {
			return l.Say("worth.mixed")
		}
	}
	return added
}

// firstOf reports whether a table is the only or the first one of its stage: what is said
// of the stage is said there.
func firstOf(s *plans.StagePlan) bool { return s.Last == "" || s.Last == plans.LastNone }

// WorthDocument says what a stop counts, where that is not what was found.
func WorthDocument(d *report.Document, s *plans.StagePlan) {
	d.Para("%s", English().WorthSentence(s))
	if s.Worth.Points != nil {
		d.Table(pointsTable(s))
	}
}

// WorthSentence is empty where a stop counts what was found.
func (l In) WorthSentence(s *plans.StagePlan) string {
	switch w := s.Worth; {
	case w.OfInsects():
		edges := s.WorthFrom()
		return l.Say("worth.insects_says", "Top", len(edges), "Upper", l.Level(s.Measure, w.Points.Upper), "Lower", l.Level(s.Measure, w.Points.Lower), "Full", edges[len(edges)-1])
	case w.Points != nil:
		return l.Say("worth.points_says", "Top", w.Points.Top, "Upper", l.Level(s.Measure, w.Points.Upper), "Lower", l.Level(s.Measure, w.Points.Lower), "Rho", l.Number(report.Constant(w.Points.Rho)))
	case w.Cap > 0:
		return l.Say("worth.capped_says", "What", l.Counted(s.Stage), "Cap", w.Cap)
	}
	return ""
}

// worthOf adds to what was seen what it counts as, where that is another number.
func (l In) worthOf(s *plans.StagePlan, a plans.Answer, seen string) string {
	switch {
	case s.Worth.Points != nil:
		return l.Say("verdict.worth", "Seen", seen, "Points", l.Count("count.points", a.Counted))
	case s.Worth.Cap > 0:
		return l.Say("verdict.counted", "Seen", seen, "Counted", a.Counted)
	}
	return seen
}

// pointsTable shows what is worth how many points.
func pointsTable(s *plans.StagePlan) *report.Table {
	head := fmt.Sprintf("infested of %d", s.Plants())
	if !s.Measure.Bounded() {
		head = English().Counted(s.Stage)
	}
	t := report.NewTable(fmt.Sprintf("What a stop counts, by the %s found there.", English().Counted(s.Stage)), ">"+head, ">points")
	for _, r := range s.PointRuns() {
		t.Add(English().RunText(r), fmt.Sprint(r.Worth))
	}
	return t
}

// RunText returns the counts of a run: "3", "3 to 5" or "6 or more".
func (l In) RunText(r rule.Run) string {
	switch r.To {
	case r.From:
		return fmt.Sprint(r.From)
	case sampling.Unbounded:
		return l.Say("count.or_more", "N", r.From)
	}
	return l.Say("count.to", "Low", r.From, "High", r.To)
}

// patchesSentence says what becomes of a promise in patches, where stops count something
// else than what was found and the promise is not held there.
func patchesSentence(s *plans.StagePlan) string {
	if s.Worth.Plain() || s.HoldUnder.Patches || s.Method == plans.SeasonTrue { // the season says it
		return ""
	}
	r := s.InPatches()
	text := fmt.Sprintf("Where the pest sits in patches and nowhere else, as alike at a stop, it acts in up to %s of fields at %s and leaves up to %s of those at %s",
		report.Percent(r.Needless), report.Level(s.Measure, s.Lower), Chance(r.Missed), report.Level(s.Measure, s.Upper))
	if s.Worth.Points != nil {
		of := "the share infested"
		if !s.Measure.Bounded() {
			of = "the mean"
		}
		return text + ": points lean on how " + of + " at a stop is distributed. With --hold-under patches the promise is held there too."
	}
	return text + ". With --hold-under patches the promise is held there too."
}

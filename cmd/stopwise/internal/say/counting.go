package say

import (
	"fmt"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// Added says what the running total of a plan is the total of.
func Added(s *plans.StagePlan) string {
	switch w := s.Worth; {
	case w.Points != nil:
		return "points"
	case w.Cap > 0:
		return fmt.Sprintf("%s, at most %d of a stop", Counted(s.Stage), w.Cap)
	}
	return Counted(s.Stage)
}

// WorthDocument says what a stop counts, where that is not what was found.
func WorthDocument(d *report.Document, s *plans.StagePlan) {
	if text := WorthSentence(s); text != "" {
		d.Para("%s", text)
	}
	if s.Worth.Points != nil {
		d.Table(pointsTable(s))
	}
}

// WorthSentence is empty where a stop counts what was found.
func WorthSentence(s *plans.StagePlan) string {
	switch w := s.Worth; {
	case w.Points != nil:
		return fmt.Sprintf("A stop counts points, up to %d: what so many found there say for %s rather than %s where rho is %s. The running total is that of the points.",
			w.Points.Top, report.Level(s.Measure, w.Points.Upper), report.Level(s.Measure, w.Points.Lower), report.Constant(w.Points.Rho))
	case w.Cap > 0:
		return fmt.Sprintf("A stop counts at most %d %s: looking there may end once %d are found, and the stop is then written as %d+.", w.Cap, Counted(s.Stage), w.Cap, w.Cap)
	}
	return ""
}

// pointsTable shows what is worth how many points.
func pointsTable(s *plans.StagePlan) *report.Table {
	t := &report.Table{
		Caption: fmt.Sprintf("What a stop counts, by the infested %s found there.", report.UnitsName(s.Stage)),
		Columns: []report.Column{{Head: "infested of " + fmt.Sprint(s.Plants()), Right: true}, {Head: "points", Right: true}},
	}
	for _, r := range PointRuns(s) {
		t.Add(r.Text(), fmt.Sprint(r.Points))
	}
	return t
}

// A PointRun is a run of counts that are worth the same points.
type PointRun struct{ From, To, Points int }

// Text returns the counts of the run: "3" or "3 to 5".
func (r PointRun) Text() string {
	if r.From == r.To {
		return fmt.Sprint(r.From)
	}
	return fmt.Sprintf("%d to %d", r.From, r.To)
}

// PointRuns returns what a full stop counts, in runs; nil where that is what was found.
func PointRuns(s *plans.StagePlan) []PointRun {
	var runs []PointRun
	for x, points := range s.WorthMap() {
		if n := len(runs); n > 0 && runs[n-1].Points == points {
			runs[n-1].To = x
			continue
		}
		runs = append(runs, PointRun{x, x, points})
	}
	return runs
}

// countedText says what was found counts as, where that is another number.
func countedText(s *plans.StagePlan, a plans.Answer) string {
	switch {
	case s.Worth.Points != nil:
		return fmt.Sprintf(" (%s)", report.Count(a.Counted, "point", "points"))
	case s.Worth.Cap > 0:
		return fmt.Sprintf(" (counted as %d)", a.Counted)
	}
	return ""
}

// found says what was seen on a visit so far.
func found(s *plans.StagePlan, a plans.Answer) string {
	stops := report.Count(a.Stop, "stop", "stops")
	switch {
	case s.Measure == plans.MeanPerLeaf:
		return fmt.Sprintf("%s on %s at %s", report.Count(a.Total, "insect", "insects"), report.LeavesOn(s.Stage, a.Plants), stops)
	case a.Ended > 0: // what is beyond the cap was not looked at
		return fmt.Sprintf("at least %d infested of up to %s at %s", a.Total, report.Units(s.Stage, a.Plants), stops)
	}
	return fmt.Sprintf("%d infested of %s at %s", a.Total, report.Units(s.Stage, a.Plants), stops)
}

// patchesSentence says what becomes of a promise in patches, where stops count something
// else than what was found and the promise is not held there.
func patchesSentence(s *plans.StagePlan) string {
	if s.Worth.Plain() || s.HoldUnder.Patches {
		return ""
	}
	r := s.InPatches()
	text := fmt.Sprintf("Where the pest sits in patches and nowhere else, as alike at a stop, it acts in up to %s of fields at %s and leaves up to %s of those at %s",
		report.Percent(r.Needless), report.Level(s.Measure, s.Lower), Chance(r.Missed), report.Level(s.Measure, s.Upper))
	if s.Worth.Points != nil {
		return text + ": points lean on how the share infested at a stop is distributed. With --hold-under patches the promise is held there too."
	}
	return text + ". With --hold-under patches the promise is held there too."
}

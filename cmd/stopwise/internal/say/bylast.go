package say

import (
	"fmt"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// FieldsOf says for which fields of a stage a table is, by what earlier visits found;
// it is empty where the stage has one table for all.
func FieldsOf(s *plans.StagePlan) string {
	if s.Last == "" {
		return ""
	}
	more := ""
	if s.ComingBack != nil {
		more = report.Level(s.Measure, s.ComingBack.MoreFrom)
	}
	switch s.Last {
	case plans.LastNone:
		return "nothing found so far"
	case plans.LastLittle:
		return "found before, below " + more + " at the last visit"
	case plans.LastMore:
		return more + " or more at the last visit"
	}
	return "found before"
}

// TableName names a table by its stage and its fields.
func TableName(s *plans.StagePlan) string { return Joined(", ", s.Name, FieldsOf(s)) }

// SeenInWords writes what a visit saw: a count, and the share or mean that it is.
func SeenInWords(s *plans.StagePlan, total, plants, units int) string {
	seen := float64(total) / float64(units)
	if s.Measure == plans.MeanPerLeaf {
		return fmt.Sprintf("%s on %s (%s per leaf)", report.Count(total, "insect", "insects"), report.Units(s.Stage, plants), report.Number(seen, 3))
	}
	return fmt.Sprintf("%d infested of %s (%s)", total, report.Units(s.Stage, plants), report.Percent(seen))
}

// whichTable says which of the tables of a stage to take; empty where there is one.
func whichTable(d *report.Document, stages []*plans.StagePlan) {
	for _, s := range stages {
		if len(s.ByLast) > 0 {
			d.Para("%s", WhichTable(s))
			return
		}
	}
}

// WhichTable says which of the tables of a stage a field is visited with.
func WhichTable(s *plans.StagePlan) string {
	text := "Which table: in a field where no visit ever found the pest the first; once it was found the second"
	if b := s.ComingBack; b.MoreFrom > 0 {
		what := "share seen (infested of examined)"
		if s.Measure == plans.MeanPerLeaf {
			what = "mean seen"
		}
		text += fmt.Sprintf(", and where the %s of the last visit was %s or more the third", what, report.Level(s.Measure, b.MoreFrom))
	}
	return text + "."
}

// everyDays says after how many days a field is visited again, by what was found.
func everyDays(b plans.ComingBack, m plans.Measure) string {
	text := fmt.Sprintf("every %s until the pest is found", report.Days(b.DaysUntilFound))
	if b.MoreFrom == 0 {
		return text + fmt.Sprintf(" and every %s once it is", report.Days(b.DaysOnceFound))
	}
	return text + fmt.Sprintf(", every %s once it is, and every %s where the last visit saw %s or more",
		report.Days(b.DaysOnceFound), report.Days(b.DaysMoreFound), report.Level(m, b.MoreFrom))
}

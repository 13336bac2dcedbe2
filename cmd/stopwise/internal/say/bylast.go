package say

import (
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// FieldsOf says for which fields of a stage a table is, by what earlier visits found;
// it is empty where the stage has one table for all.
func FieldsOf(s *plans.StagePlan) string { return English().FieldsOf(s) }

// FieldsOf says for which fields of a stage a table is.
func (l In) FieldsOf(s *plans.StagePlan) string {
	more := ""
	if s.ComingBack != nil {
		more = l.Level(s.Measure, s.ComingBack.MoreFrom)
	}
	switch s.Last {
	case "":
		return ""
	case plans.LastNone:
		return l.Say("tables.none")
	case plans.LastLittle:
		return l.Say("tables.little", "MoreFrom", more)
	case plans.LastMore:
		return l.Say("tables.more", "MoreFrom", more)
	}
	return l.Say("tables.found")
}

// TableName names a table by its stage and its fields.
func TableName(s *plans.StagePlan) string { return English().TableName(s) }

// TableName names a table by its stage and its fields.
func (l In) TableName(s *plans.StagePlan) string { return Joined(", ", s.Name, l.FieldsOf(s)) }

// WhichTable says which of the tables of stages a field is visited with; it is empty
// where each stage has one for all.
func WhichTable(stages []*plans.StagePlan) string { return English().WhichTable(stages) }

// WhichTable says which of the tables of stages a field is visited with.
func (l In) WhichTable(stages []*plans.StagePlan) string {
	for _, s := range stages {
		switch {
		case s.Last == "" && len(s.ByLast) == 0:
		case s.ComingBack.MoreFrom == 0:
			return l.Say("tables.which_of_two")
		case s.Measure == plans.MeanPerLeaf:
			return l.Say("tables.which_mean", "MoreFrom", l.Level(s.Measure, s.ComingBack.MoreFrom))
		default:
			return l.Say("tables.which_share", "MoreFrom", l.Level(s.Measure, s.ComingBack.MoreFrom))
		}
	}
	return ""
}

// SeenInWords writes what a visit saw: a count, and the share or mean that it is.
func (l In) SeenInWords(s *plans.StagePlan, total, plants, units int) string {
	seen := float64(total) / float64(units)
	if s.Measure == plans.MeanPerLeaf {
		return l.Say("tables.seen_mean", "Insects", l.Count("count.insects", total), "Units", l.Units(s.Stage, plants), "Mean", l.Number(report.Number(seen, 3)))
	}
	return l.Say("tables.seen_share", "Total", l.Whole(total), "Units", l.Units(s.Stage, plants), "Share", l.Number(report.Percent(seen)))
}

// everyDays says after how many days a field is visited again, by what was found.
func everyDays(b plans.ComingBack, m plans.Measure) string {
	text := "every " + report.Days(b.DaysUntilFound) + " until the pest is found"
	if b.MoreFrom == 0 {
		return text + " and every " + report.Days(b.DaysOnceFound) + " once it is"
	}
	return text + ", every " + report.Days(b.DaysOnceFound) + " once it is, and every " + report.Days(b.DaysMoreFound) +
		" where the last visit saw " + report.Level(m, b.MoreFrom) + " or more"
}

package say

import (
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
	"stopwise/plans/rule"
)

// FieldsOf says for which fields of a stage a table is, by what earlier visits found;
// it is empty where the stage has one table for all.
func (l In) FieldsOf(s *plans.StagePlan) string {
	more := ""
	if s.ComingBack != nil {
		more = l.MoreFrom(s.Stage, s.Worth, s.ComingBack.MoreFrom)
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
func (l In) TableName(s *plans.StagePlan) string { return Joined(", ", s.Name, l.FieldsOf(s)) }

// WhichTable says which of the tables of stages a field is visited with; it is empty
// where each stage has one for all.
func (l In) WhichTable(stages []*plans.StagePlan) string {
	for _, s := range stages {
		switch {
		case s.Last == "" && len(s.ByLast) == 0:
		case s.ComingBack.MoreFrom == 0:
			return l.Say("tables.which_of_two")
		case !s.Worth.Plain():
			return l.Say("tables.which_counted", "MoreFrom", l.MoreFrom(s.Stage, s.Worth, s.ComingBack.MoreFrom))
		case s.Measure == plans.MeanPerLeaf:
			return l.Say("tables.which_mean", "MoreFrom", l.Level(s.Measure, s.ComingBack.MoreFrom))
		default:
			return l.Say("tables.which_share", "MoreFrom", l.Level(s.Measure, s.ComingBack.MoreFrom))
		}
	}
	return ""
}

// MoreFrom says from what a visit saw on a field counts as one of more: a share, a mean,
// or where stops count something else than what was found what they count on average.
func (l In) MoreFrom(s plans.Stage, w rule.Worth, from float64) string {
	switch {
	case w.Points != nil:
		return l.Say("tables.points_per_stop", "Points", l.Number(report.Constant(from)))
	case w.Cap > 0:
		return l.Say("tables.capped_per_stop", "Counted", l.Number(report.Constant(from)), "What", l.Counted(s), "Cap", w.Cap)
	}
	return l.Level(s.Measure, from)
}

// SeenInWords writes what a visit saw: a count, and the share or mean that it is, or where
// stops count something else than what was found what they count on average.
func (l In) SeenInWords(s *plans.StagePlan, counts []plans.Count, total, plants int) string {
	if !s.Worth.Plain() {
		return l.MoreFrom(s.Stage, s.Worth, s.Shown(counts))
	}
	seen := s.Shown(counts)
	if s.Measure == plans.MeanPerLeaf {
		return l.Say("tables.seen_mean", "Insects", l.Count("count.insects", total), "Units", l.Units(s.Stage, plants), "Mean", l.Number(report.Number(seen, 3)))
	}
	return l.Say("tables.seen_share", "Total", l.Whole(total), "Units", l.Units(s.Stage, plants), "Share", l.Number(report.Percent(seen)))
}

// everyDays says after how many days a field is visited again, by what was found.
func everyDays(b plans.ComingBack, s *plans.StagePlan) string {
	text := "every " + report.Days(b.DaysUntilFound) + " until the pest is found"
	if b.MoreFrom == 0 {
		return text + " and every " + report.Days(b.DaysOnceFound) + " once it is"
	}
	return text + ", every " + report.Days(b.DaysOnceFound) + " once it is, and every " + report.Days(b.DaysMoreFound) +
		" where the last visit saw " + English().MoreFrom(s.Stage, s.Worth, b.MoreFrom) + " or more"
}

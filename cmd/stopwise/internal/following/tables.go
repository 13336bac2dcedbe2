package following

import (
	"fmt"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans/season"
)

func stayTable(units string) *report.Table {
	return report.NewTable("Fields that stay at a level: how many are treated at least once in the season, how many of these while at or below the lower bound, and what a field takes until it is treated or the season ends.",
		">level", ">treated", ">needlessly", ">visits", ">stops", ">"+units, ">time")
}

func growTable(lateDays float64) *report.Table {
	return report.NewTable("Fields that grow: the days on which they pass the threshold and the upper bound, how many are treated while still at or below the lower bound, the expected days from threshold and upper bound to the treatment (0 where it comes before), and how many are treated later than said after the upper bound.",
		">r", ">start", ">threshold", ">upper", ">early", ">after threshold", ">after upper", fmt.Sprintf(">over %s late", report.Days(lateDays)),
		">visits", ">stops", ">time")
}

func (v *view) levelText(c season.Course) string {
	if c.AtLower && len(v.stages) > 1 {
		return "lower bounds"
	}
	return report.Level(v.stages[0].Measure, level(v, c))
}

// needlessText returns how many fields are treated while at or below the lower bound.
func needlessText(p *season.Path) string {
	if p.Early == 0 {
		return "-"
	}
	return report.Percent(p.Early)
}

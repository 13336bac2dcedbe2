package following

import (
	"fmt"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans/season"
)

func stayTable(units string) *report.Table {
	return &report.Table{
		Caption: "Fields that stay at a level: how many are treated at least once in the season, how many of these while at or below the lower bound, and what a field takes until it is treated or the season ends.",
		Columns: []report.Column{
			{Head: "level", Right: true}, {Head: "treated", Right: true}, {Head: "needlessly", Right: true}, {Head: "visits", Right: true},
			{Head: "stops", Right: true}, {Head: units, Right: true}, {Head: "time", Right: true},
		}}
}

func growTable(lateDays float64) *report.Table {
	return &report.Table{
		Caption: "Fields that grow: the days on which they pass the threshold and the upper bound, how many are treated while still at or below the lower bound, the expected days from threshold and upper bound to the treatment (0 where it comes before), and how many are treated later than said after the upper bound.",
		Columns: []report.Column{
			{Head: "r", Right: true}, {Head: "start", Right: true}, {Head: "threshold", Right: true}, {Head: "upper", Right: true},
			{Head: "early", Right: true}, {Head: "after threshold", Right: true}, {Head: "after upper", Right: true},
			{Head: fmt.Sprintf("over %s late", report.Days(lateDays)), Right: true},
			{Head: "visits", Right: true}, {Head: "stops", Right: true}, {Head: "time", Right: true},
		}}
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

package following

import (
	"fmt"

	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/plans"
	"stopwise/plans/season"
)

// tradePicture draws what schedules take a week against what they risk.
func tradePicture(p plans.Protocol, rows []season.Row) (figure.Picture, error) {
	s := p.Seasonal
	of := func(value func(season.Row) float64) []figure.Line {
		var lines []figure.Line
		for _, r := range rows {
			name := report.Count(r.Stops, "stop", "stops")
			if n := len(lines); n == 0 || lines[n-1].Name != name {
				lines = append(lines, figure.Line{Name: name})
			}
			l := &lines[len(lines)-1]
			l.Points = append(l.Points, figure.XY{X: r.MinutesPerWeek, Y: value(r)})
		}
		return lines
	}
	days := ""
	for i, r := range rows {
		if r.Stops != rows[0].Stops {
			break
		}
		if i > 0 {
			days += ", "
		}
		days += fmt.Sprintf("%d and %d", r.UntilFound, r.OnceFound)
	}
	return figure.Trade{
		Title:     say.PictureTitle("What schedules take and what they risk", p.About()),
		TimeLabel: "minutes of a field and week",
		Note:      fmt.Sprintf("Exact, the worst over the range of clumping and growth. A line for each number of stops a visit; its points are visits every %s days until the pest is found and once it is.", days),
		Desc:      "More time a week buys earlier treatments; with few stops it also brings more needless ones.",
		Panels: []figure.TradePanel{
			{Head: "Fields that stay at the lower bound: treated in the season", Percent: true, Lines: of(func(r season.Row) float64 { return r.Needless }),
				Allowed: &figure.Mark{Level: s.Needless, Name: "allowed " + report.Share(s.Needless)}},
			{Head: fmt.Sprintf("Growing fields: treated more than %s after the upper bound", report.Days(s.LateDays)), Percent: true, Lines: of(func(r season.Row) float64 { return r.Late }),
				Allowed: &figure.Mark{Level: s.Late, Name: "allowed " + report.Share(s.Late)}},
			{Head: "Growing fields: days from the upper bound to the treatment", Lines: of(func(r season.Row) float64 { return r.DaysLate })},
		},
	}.Picture()
}

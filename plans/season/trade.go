package season

import (
	"context"
	"math"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// A Schedule is when fields are visited and about how they are walked.
type Schedule struct {
	Stops      int `json:"stops_per_visit"` // as the caller understands it
	UntilFound int `json:"days_until_found"`
	OnceFound  int `json:"days_once_found"`
}

// A Row is what a schedule gives and takes.
type Row struct {
	Schedule
	Minutes        float64 `json:"minutes_per_field"` // of the mix and season, until treated or the end
	MinutesPerWeek float64 `json:"minutes_per_week"`
	Needless       float64 `json:"p_needless"`       // season needless risk, the worst of all worlds
	Late           float64 `json:"p_late"`           // chance of being later than the promise says, the worst
	DaysLate       float64 `json:"days_after_upper"` // expected, the worst
	Loss           Loss    `json:"-"`                // expected of a field of the mix
}

// Trade follows the fields of a problem through schedules. tables returns the tables of
// a visit of some stops, one for each stage, or false where there are none: such
// schedules are left out. The problem's own classes and intervals are not looked at.
func Trade(ctx context.Context, p Problem, schedules []Schedule, tables func(stops int) ([]rule.Table, bool), costs Costs) ([]Row, error) {
	p.Classes, p.OneTable, p.Intervals = 2, true, nil
	if err := p.Check(); err != nil {
		return nil, err
	}
	s := searcher{tuner: newTuner(p, func() bool { return ctx.Err() != nil })}
	var rows []Row
	for _, sc := range schedules {
		if sc.UntilFound < 1 || sc.OnceFound < 1 {
			return nil, sampling.Refusef("visits every %d and %d days; both must be at least 1", sc.UntilFound, sc.OnceFound)
		}
		ts, ok := tables(sc.Stops)
		if !ok {
			continue
		}
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		at := schedule{intervals: [3]int{sc.UntilFound, sc.OnceFound}}
		layout := p.layout(at, ts, len(p.Worlds)-1)
		if err := layout.Check(); err != nil {
			return nil, err
		}
		r := s.worst(at, ts)
		row := Row{Schedule: sc, Needless: r.needless, Late: r.late, DaysLate: s.daysLate(at, ts)}
		c := chainOf(layout, func(i int, t rule.Table) *visits { return s.visits(len(p.Worlds)-1, i, t) })
		for _, f := range p.fields() {
			path, _ := c.follow(f.course, layout.firstDays())
			row.Minutes += f.share * path.Minutes
			row.Loss.add(f.share, costs.Of(path))
		}
		row.MinutesPerWeek = row.Minutes * 7 / float64(p.Season.LastDay+1)
		rows = append(rows, row)
	}
	return rows, nil
}

// daysLate returns the expected days after the upper bound, the worst of all worlds.
func (s *searcher) daysLate(at schedule, tables []rule.Table) float64 {
	days := 0.0
	for w := range s.Worlds {
		c := chainOf(s.layout(at, tables, w), func(i int, t rule.Table) *visits { return s.visits(w, i, t) })
		for _, g := range []float64{s.Growth.Low, s.Growth.High} {
			p, _ := c.follow(Course{Start: s.Growth.Start, Growth: g}, c.season.firstDays())
			days = math.Max(days, p.AfterUpper.Expected())
		}
	}
	return days
}

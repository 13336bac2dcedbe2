package plans

import (
	"context"

	"stopwise/plans/rule"
	"stopwise/plans/season"
)

// The schedules that a trade compares: a visit of some stops and one number at the
// threshold, and days between visits. Common practice, no source.
var (
	tradeStops     = []int{2, 3, 5, 8, 12}
	tradeIntervals = [][2]int{{14, 7}, {10, 5}, {7, 4}, {5, 3}, {3, 2}}
)

// lateLossDays is how late a treatment is that loses what a stage's late_loss says.
const lateLossDays = 5

// SeasonTrade follows the fields of a protocol that promises something for the season
// through visits of a fixed number of stops, at which a field is treated when the
// share or mean seen reaches the threshold, at several intervals. Losses are those of
// the protocol's costs and the first stage's late loss, 0 where it has none.
func SeasonTrade(ctx context.Context, p Protocol) ([]season.Row, error) {
	if err := p.Check(); err != nil {
		return nil, err
	}
	if p.Seasonal == nil || p.Stages[0].ComingBack == nil {
		return nil, &FieldError{Path: "season", Message: "the protocol promises nothing for the season; add a [season] section"}
	}
	problem := seasonProblem(p)
	problem.Season = counting(problem.Season, make([]rule.Worth, len(p.Stages))) // what is seen is a share or mean
	var schedules []season.Schedule
	for _, stops := range tradeStops {
		for _, days := range tradeIntervals {
			schedules = append(schedules, season.Schedule{UntilFound: days[0], OnceFound: days[1], Stops: stops})
		}
	}
	tables := func(stops int) (all []Table, ok bool) {
		for i, t := range p.Stages {
			if stops > t.Stop.Maximum {
				return nil, false
			}
			all = append(all, SingleCut(problem.Walks[i].Units, stops, t.Threshold))
		}
		return all, true
	}
	return season.Trade(ctx, problem, schedules, tables, seasonCosts(p))
}

// seasonCosts returns what a field's season costs by the protocol's costs and the first
// stage's late loss; all 0 where it has none.
func seasonCosts(p Protocol) season.Costs {
	k := p.Costs
	if k == nil {
		return season.Costs{}
	}
	most := k.MissedCost(p.Stages[0])
	return season.Costs{Treatment: k.NeedlessCost(), LatePerDay: most / lateLossDays, MostLate: most, Hour: k.ScoutPerHour}
}

// RegionWeeks returns the work of a region's fields by week with the dates and tables
// of a plan: expected exactly, and in nine seasons of ten by simulated seasons. The
// plan's protocol must have a season and a region with its fields.
func (p *Plan) RegionWeeks(ctx context.Context, seasons int, seed uint64) ([]season.Week, error) {
	s, r := p.Protocol.Seasonal, p.Protocol.Regional
	switch {
	case s == nil || r == nil:
		return nil, &FieldError{Path: "region", Message: "the protocol does not say what the region's fields are like; add [season] and [region]"}
	case r.Fields == 0:
		return nil, &FieldError{Path: "region.fields", Message: "the protocol does not say how many fields the region has; add fields to [region]"}
	}
	over, err := SeasonOf(p.Stages, p.SeasonOptions())
	if err != nil {
		return nil, err
	}
	chain, err := season.New(over)
	if err != nil {
		return nil, err
	}
	hour := 0.0
	if p.Protocol.Costs != nil {
		hour = p.Protocol.Costs.ScoutPerHour
	}
	problem := seasonProblem(p.Protocol)
	return season.Region{Fields: r.Fields, Mix: problem.Mix, Growth: problem.Growth, HoursPerDay: r.HoursPerDay, DaysPerWeek: r.DaysPerWeek,
		HourCost: hour, Seasons: seasons, Seed: seed}.Weeks(ctx, chain)
}

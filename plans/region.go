package plans

import (
	"context"
	"math"

	"stopwise/plans/rule"
	"stopwise/plans/season"
)

// A RegionChange is what a region's season takes and risks with a plan that was changed
// in one thing.
type RegionChange struct {
	Change string `json:"change"` // none, until_found, once_found or shorter_visit
	// What the plan then does: days between visits, and the most stops of a visit.
	UntilFound int `json:"days_until_found"`
	OnceFound  int `json:"days_once_found"`
	MostStops  int `json:"most_stops"`
	// What is expected in the season, exactly, and what the change saves of it.
	Visits     float64 `json:"visits"`
	Hours      float64 `json:"hours"`
	Scouts     float64 `json:"scouts_busiest_week"`
	Cost       float64 `json:"cost"`
	SavedHours float64 `json:"hours_saved"`
	SavedCost  float64 `json:"cost_saved"`
	// Needless and Late are the season's risks with the change, the worst as in
	// [SeasonResult].
	Needless float64 `json:"p_needless"`
	Late     float64 `json:"p_late"`
}

// The changes that are looked at: common practice, no source.
const (
	longerUntilFound, longerOnceFound = 2, 1 // days
	shorterVisit                      = 0.5  // of the most stops
)

// RegionChanges returns what the region's season would take with longer days between
// visits, until the pest is found and once it is, and with visits of at most half the
// stops, at the last of which the threshold decides. The first is the plan as it is.
// Nothing is simulated. It returns what [Plan.RegionWeeks] does.
func (p *Plan) RegionChanges(ctx context.Context) ([]RegionChange, error) {
	var out []RegionChange
	for _, change := range []struct {
		name string
		do   func(*StagePlan)
	}{
		{"none", func(*StagePlan) {}},
		{"until_found", func(s *StagePlan) { s.ComingBack.DaysUntilFound += longerUntilFound }},
		{"once_found", func(s *StagePlan) {
			s.ComingBack.DaysOnceFound += longerOnceFound
			if s.ComingBack.MoreFrom > 0 {
				s.ComingBack.DaysMoreFound += longerOnceFound
			}
			s.ComingBack.DaysUntilFound = math.Max(s.ComingBack.DaysUntilFound, s.ComingBack.DaysOnceFound)
		}},
		{"shorter_visit", (*StagePlan).shorten},
	} {
		q := *p
		q.Stages = nil
		for _, s := range p.Stages {
			q.Stages = append(q.Stages, s.changed(change.do))
		}
		r, err := q.overSeason()
		if err != nil {
			return nil, err
		}
		weeks, err := q.RegionWeeks(ctx, fewestSeasons, 1)
		if err != nil {
			return nil, err
		}
		row := RegionChange{Change: change.name, UntilFound: r.UntilFound, OnceFound: r.OnceFound, Needless: r.Needless, Late: r.Late}
		for _, s := range q.Tables() {
			row.MostStops = max(row.MostStops, s.Table.Stops())
		}
		for _, w := range weeks {
			row.Visits += w.Visits
			row.Hours += w.Hours
			row.Cost += w.Cost
			row.Scouts = math.Max(row.Scouts, w.Scouts)
		}
		if len(out) > 0 {
			row.SavedHours, row.SavedCost = out[0].Hours-row.Hours, out[0].Cost-row.Cost
		}
		out = append(out, row)
	}
	return out, nil
}

// fewestSeasons are simulated for what is not looked at.
const fewestSeasons = season.FewestSeasons

// changed returns the plan of a stage, and those of its tables, with a change.
func (s *StagePlan) changed(change func(*StagePlan)) *StagePlan {
	q := *s
	if s.ComingBack != nil {
		back := *s.ComingBack
		q.ComingBack = &back
	}
	q.Table = s.Table.Clone()
	q.ByLast = nil
	for _, t := range s.ByLast {
		q.ByLast = append(q.ByLast, t.changed(change))
	}
	change(&q)
	return &q
}

// shorten ends the visits at half the stops, where the threshold decides. Tables whose
// stops count another thing than what was found stay as they are.
func (s *StagePlan) shorten() {
	stops := int(math.Ceil(shorterVisit * float64(s.Table.Stops())))
	if !s.Worth.Plain() || stops < 1 {
		return
	}
	t := Table{Units: s.Table.Units, Leave: s.Table.Leave[:stops], Act: s.Table.Act[:stops]}.Clone()
	last := max(t.Leave[stops-1], int(math.Ceil(s.Threshold*float64(stops*t.Units)))-1)
	t.Leave[stops-1] = last
	for j, act := range t.Act { // the verdict is the same, sooner
		t.Act[j] = min(act, last+1)
		if act == NeverAct && j+1 < stops {
			t.Act[j] = NeverAct
		}
	}
	t.Act[stops-1] = last + 1
	if t.Check() == nil {
		s.Table = t.Trimmed()
	}
}

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

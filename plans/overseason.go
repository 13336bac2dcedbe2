package plans

import (
	"fmt"
	"math"

	"stopwise/plans/rule"
	"stopwise/plans/season"
	"stopwise/sampling"
)

// SeasonOptions says what is taken for a season of visits in place of what the
// stages say. Its zero value takes the stages as they are, until day 0.
type SeasonOptions struct {
	LastDay int // on which a visit can be; day 0 is the first
	// Clump is how clumped the fields are, as rho or k; nil is the clumped end of what
	// each stage states.
	Clump *float64
	// Days between visits until the pest is found and once it is, and from a decision
	// to the treatment; nil is what each stage says.
	UntilFound, OnceFound, Lead *float64
	// NoGrowthLimit leaves the next visit to the intervals alone.
	NoGrowthLimit bool
	// DriveMinutes is what getting to a field takes.
	DriveMinutes float64

	world func(s *StagePlan, level float64) World // in place of the clumped end
	held  string                                  // the world beside the plain ones, by its name, of the stages that hold in it
}

// SeasonOf returns the season of visits by the plans of stages that follow each
// other, each for as many days as it lasts and the last one until the end: with the
// table of each stage, and its rule for coming back as [StagePlan.Revisit] applies
// it. A further sign whose chances at both bounds are known has its say, see
// [protocol.Terms.SignKnown]; another is left out, so that the season is that of the
// counts alone. It returns an error where a stage does not say when to come back or how long it lasts, and
// where the stages' levels cannot be compared.
//
// The days between visits and the lead time count in whole days, rounded down, the
// lead time rounded up.
func SeasonOf(stages []*StagePlan, o SeasonOptions) (season.Season, error) {
	s := season.Season{LastDay: o.LastDay}
	lead := 0.0
	for i, p := range stages {
		p, err := p.overSeason(o, stages[i+1:])
		if err != nil {
			return s, err
		}
		if p.Measure != stages[0].Measure {
			return s, &FieldError{Path: "stage", Stage: p.Name, Message: fmt.Sprintf(
				"a season cannot go from a %s to a %s: the levels cannot be compared", stages[0].Measure, p.Measure)}
		}
		if i > 0 && p.ComingBack.LeadDays != lead {
			return s, &FieldError{Path: "coming_back.lead_days", Stage: p.Name, Message: p.at("a season needs one lead time for all stages")}
		}
		lead = p.ComingBack.LeadDays
		st, err := p.seasonStage(o, i+1 < len(stages))
		if err != nil {
			return s, err
		}
		s.Stages = append(s.Stages, st)
	}
	s.Means = !stages[0].bounded()
	s.Lead = wholeLead(lead)
	return s, s.Check()
}

// wholeLead returns a lead time in whole days, none of it lost.
func wholeLead(days float64) int {
	if whole := int(days); float64(whole) >= days-1e-3 {
		return whole
	}
	return int(days) + 1
}

// overSeason returns the plan of a stage with the options in place of its own rule
// for coming back, and with the stages of the season as those that follow it.
func (s *StagePlan) overSeason(o SeasonOptions, later []*StagePlan) (*StagePlan, error) {
	p := *s
	p.Later = nil
	for _, l := range later {
		p.Later = append(p.Later, l.Stage)
	}
	var back ComingBack
	switch {
	case s.ComingBack != nil:
		back = *s.ComingBack
	case o.UntilFound == nil || o.OnceFound == nil:
		return nil, &FieldError{Path: "coming_back", Stage: s.Name, Message: s.at("it is not said when a field is visited again")}
	}
	for _, put := range []struct{ from, to *float64 }{
		{o.UntilFound, &back.DaysUntilFound}, {o.OnceFound, &back.DaysOnceFound}, {o.Lead, &back.LeadDays},
	} {
		if put.from != nil {
			*put.to = *put.from
		}
	}
	p.ComingBack = &back
	return &p, nil
}

func (s *StagePlan) seasonStage(o SeasonOptions, followed bool) (season.Stage, error) {
	world := s.Clumped
	switch {
	case o.world != nil:
		world = func(level float64) World { return o.world(s, level) }
	case o.Clump != nil:
		world = s.As(*o.Clump)
	}
	st := season.Stage{
		Family: func(level float64) sampling.Population {
			return heldField(s.Stage, o.held)(world(level))
		},
		Worth: s.Worth,
		Lower: s.Lower, Threshold: s.Threshold, Upper: s.Upper,
		Effort: season.Effort{Visit: o.DriveMinutes, Stop: s.Stop.WalkMinutes, Unit: s.Stop.PlantMinutes / float64(s.UnitsPerPlant())},
		Sign:   signOver(s.Stage),
	}
	if followed {
		if st.Days = int(s.LastsDays); st.Days < 1 {
			return st, &FieldError{Path: "lasts_days", Stage: s.Name, Message: s.at("it is not said how long it lasts (lasts_days), so the next stage has no first day")}
		}
	}
	if e := s.Worth.Edges(s.Table.Units); len(e) > 0 && e[0] > 1 {
		return st, &FieldError{Path: "stop.counting", Stage: s.Name, Message: s.at(fmt.Sprintf(
			"fewer than %d insects at a stop are worth no point, so that a season by points cannot tell whether the pest was found; count totals, or at most so many", e[0]))}
	}
	back := s.ComingBack
	tables := s.Tables()
	intervals := []float64{back.DaysUntilFound, back.DaysOnceFound}
	if back.MoreFrom > 0 {
		intervals, st.Cuts = append(intervals, back.DaysMoreFound), []float64{back.MoreFrom}
	}
	for i, interval := range intervals {
		c := season.Class{Table: tables[min(i, len(tables)-1)].Table, Interval: wholeDays(interval)}
		if !o.NoGrowthLimit && !back.ByIntervals && back.GrowthPerDay > 0 {
			c.Limit = s.growthLimit(i > 0)
		}
		st.Classes = append(st.Classes, c)
	}
	return st, nil
}

// at says of what stage something is said.
func (s *StagePlan) at(text string) string {
	if s.Name == "" {
		return text
	}
	return "stage " + s.Name + ": " + text
}

// growthLimit returns in how many days a field is visited again after a visit that
// ended with leave; found says that the pest was found before it.
func (s *StagePlan) growthLimit(found bool) func(end rule.End, inStage int) int {
	type point struct{ stop, total int }
	levels := map[point]float64{}
	return func(end rule.End, inStage int) int {
		at := point{end.Stop, end.Total}
		level, known := levels[at]
		if !known {
			level = s.limitAfter(end)
			if s.Table.Verdict(end.Stop, end.Total) == Act { // the count says that the threshold is reached
				level = math.Max(level, s.Threshold)
			}
			levels[at] = level
		}
		days := float64(inStage)
		return s.revisit(level, s.ComingBack.Last(found || end.Total > 0, s.Worth.Shown(end.Stop, end.Units, end.Total)), &days).Days
	}
}

// limitAfter returns the upper limit of the level that the next visit rests on after
// a visit of full stops; the highest level where it cannot be found.
func (s *StagePlan) limitAfter(end rule.End) float64 {
	limit, err := s.Visit().Limit(end.Stop, end.Total, s.Sure())
	if err != nil {
		return s.Measure.Top()
	}
	return limit
}

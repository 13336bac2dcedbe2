package plans

import (
	"math"
	"testing"

	"stopwise/plans/rule"
	"stopwise/plans/season"
)

// seasonPlans are the two plans of values computed independently outside the project:
// 20 plants a stop, rho .12; four stops and one number, and a table of seven stops.
func seasonPlans(t *testing.T) (a, b *StagePlan) {
	t.Helper()
	rho := Range{Low: .12, High: .12}
	terms := Stage{
		Measure: ShareInfested, Lower: .10, Threshold: .17, Upper: .25, NeedlessRisk: .1, MissedRisk: .1, Unit: SampleUnit{Leaves: 1},
		Stop: StopRules{Plants: 20, Minimum: 1, Maximum: 30, WalkMinutes: 3, PlantMinutes: .25}, Clumping: Clumping{Rho: &rho},
		ComingBack: &ComingBack{DaysUntilFound: 7, DaysOnceFound: 4.5, GrowthPerDay: .15, Confidence: .8},
	}
	var made []*StagePlan
	for _, table := range []Table{
		{Units: 20, Leave: []int{-1, -1, -1, 13}, Act: []int{NeverAct, NeverAct, NeverAct, 14}},
		{Units: 20, Leave: []int{-1, 2, 5, 8, 11, 14, 18}, Act: []int{NeverAct, 9, 11, 13, 15, 17, 19}},
	} {
		s, err := NewStagePlan(terms, table)
		if err != nil {
			t.Fatal(err)
		}
		made = append(made, s)
	}
	return made[0], made[1]
}

// Values computed independently outside the project (an exact chain on whole days).
func TestSeasonOfPlans(t *testing.T) {
	a, b := seasonPlans(t)
	for _, c := range []struct {
		plan                   *StagePlan
		level                  float64
		treated, visits, stops float64
	}{
		{a, .02, .0194294606, 10.3132031797, 41.2528127188},
		{a, .06, .3027124675, 9.3106690014, 37.2426760054},
		{b, .02, .0709943403, 9.3591398546, 19.9726809062},
		{b, .06, .5311746602, 7.7203964259, 19.4486223158},
	} {
		s, err := SeasonOf([]*StagePlan{c.plan}, SeasonOptions{LastDay: 42, NoGrowthLimit: true})
		if err != nil {
			t.Fatal(err)
		}
		chain, err := season.New(s)
		if err != nil {
			t.Fatal(err)
		}
		p, err := chain.Follow(season.Course{Start: c.level}, 0)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(p.Treated-c.treated) > 1e-7 || math.Abs(p.Visits-c.visits) > 1e-7 || math.Abs(p.Stops-c.stops) > 1e-7 {
			t.Errorf("level %g: %g, %g, %g", c.level, p.Treated, p.Visits, p.Stops)
		}
		if want := 8 * p.Stops; math.Abs(p.Minutes-want) > 1e-9 {
			t.Errorf("%g minutes, want eight a stop, %g", p.Minutes, want)
		}
	}
}

// The season comes back when a scout who asks after the visit is told to, after every
// end of a visit, in every stage and however long the crop has been in it.
func TestSeasonComesBackAsRevisit(t *testing.T) {
	_, first := seasonPlans(t)
	first.Name, first.LastsDays = "first", 20
	first.ComingBack.LeadDays = 1
	second := *first
	second.Name, second.Lower, second.Threshold, second.Upper = "second", .06, .09, .15
	second.LastsDays = 0
	stages := []*StagePlan{first, &second}
	first.Later = []Stage{second.Stage}
	s, err := SeasonOf(stages, SeasonOptions{LastDay: 60})
	if err != nil {
		t.Fatal(err)
	}
	rules := map[RevisitRule]int{}
	for i, p := range stages {
		for _, end := range rule.Ends(p.Table.Steps(), p.Clumped(.1).Population()) {
			counts := walkTo(p.Table, end)
			if end.Verdict != Leave || counts == nil {
				continue
			}
			for _, found := range []bool{false, true} {
				for _, day := range []float64{0, 5, 13, 19} {
					want, err := p.Revisit(counts, History{Found: found, InStage: &day})
					if err != nil {
						t.Fatal(err)
					}
					rules[want.Rule]++
					class := s.Stages[i].Classes[0]
					if found {
						class = s.Stages[i].Classes[1]
					}
					next := s.Stages[i].Classes[0].Interval
					if found || end.Total > 0 {
						next = s.Stages[i].Classes[1].Interval
					}
					if got := max(1, min(next, class.Limit(end, int(day)))); got != want.Days {
						t.Fatalf("%s, stop %d, total %d, found %v, day %g: %d days, Revisit says %d", p.Name, end.Stop, end.Total, found, day, got, want.Days)
					}
				}
			}
		}
	}
	if len(rules) != 3 {
		t.Errorf("not every rule was met: %v", rules)
	}
}

// walkTo returns counts of full stops that end a walk at an end point; nil where
// there are none.
func walkTo(t Table, end rule.End) []Count {
	var walk func(stop, total int) []Count
	walk = func(stop, total int) []Count {
		if stop == end.Stop {
			if total == end.Total {
				return []Count{}
			}
			return nil
		}
		if stop > 0 && (total <= t.Leave[stop-1] || total >= t.Act[stop-1]) {
			return nil
		}
		for x := range min(t.Units, end.Total-total) + 1 {
			if rest := walk(stop+1, total+x); rest != nil {
				return append([]Count{{Total: x}}, rest...)
			}
		}
		return nil
	}
	return walk(0, 0)
}

func TestSeasonOfFaults(t *testing.T) {
	a, b := seasonPlans(t)
	b.Name = "next"
	if _, err := SeasonOf([]*StagePlan{a, b}, SeasonOptions{LastDay: 42}); err == nil {
		t.Error("a stage without days is followed by another")
	}
	a.ComingBack = nil
	if _, err := SeasonOf([]*StagePlan{a}, SeasonOptions{LastDay: 42}); err == nil {
		t.Error("a stage without a rule for coming back is taken")
	}
	seven, four := 7.0, 4.0
	s, err := SeasonOf([]*StagePlan{a}, SeasonOptions{LastDay: 42, UntilFound: &seven, OnceFound: &four})
	if err != nil || s.Stages[0].Classes[1].Interval != 4 || s.Stages[0].Classes[1].Limit != nil {
		t.Errorf("%+v, %v", s, err)
	}
	a.ComingBack = &ComingBack{DaysUntilFound: 7, DaysOnceFound: 4, LeadDays: 1.5}
	if s, err := SeasonOf([]*StagePlan{a}, SeasonOptions{LastDay: 42}); err != nil || s.Lead != 2 {
		t.Errorf("lead of a day and a half: %d, %v", s.Lead, err)
	}
}

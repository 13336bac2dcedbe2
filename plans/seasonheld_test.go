package plans

import (
	"testing"

	"stopwise/plans/protocol"
)

// A season's promise holds in the worlds besides too: what the result says is no less
// than in a plan's own season there, and more than without them.
func TestSeasonHoldsUnderMore(t *testing.T) {
	rho := Range{Low: .1, High: .1}
	p := Protocol{
		Stages: []Stage{{
			Measure: ShareInfested, Lower: .08, Threshold: .14, Upper: .22, NeedlessRisk: .05, MissedRisk: .1,
			Unit: SampleUnit{Leaves: 1}, Stop: StopRules{Plants: 15, Minimum: 3, Maximum: 12, WalkMinutes: 3, PlantMinutes: .2}, Clumping: Clumping{Rho: &rho},
			ComingBack: &ComingBack{DaysUntilFound: 7, DaysOnceFound: 3, LeadDays: 2, GrowthPerDay: .12, Confidence: .8},
		}},
		Seasonal: &protocol.Season{Weeks: 6, Start: .004, Growth: Range{Low: .12, High: .12}, Needless: .5, Late: .5, LateDays: 3},
	}
	season := func(under string) *SeasonResult {
		q := p
		if under != "" {
			h, err := ParseHoldUnder(under)
			if err != nil {
				t.Fatal(err)
			}
			q = p.Each(func(s *Stage) { s.HoldUnder = h })
		}
		own := stagePlan(q, 0)
		own.Table = SingleCut(15, 8, .15)
		plan := &Plan{Protocol: q, Stages: []*StagePlan{own}}
		r, err := plan.overSeason()
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	plain, held := season(""), season("overlooked=20%,false-finds=2%")
	if len(plain.HeldUnder) != 0 || len(held.HeldUnder) != 2 {
		t.Fatalf("held under %v and %v", plain.HeldUnder, held.HeldUnder)
	}
	if held.Needless <= plain.Needless || held.Late <= plain.Late || held.Minutes != plain.Minutes {
		t.Errorf("plain %+v, held %+v", plain, held)
	}
}

// A season's promise is for all fields that need no treatment: a table that treats those in
// which nothing was found breaks it, however seldom a field at the lower bound meets it.
func TestSeasonSparesCleanFields(t *testing.T) {
	text, err := threeTables()
	if err != nil {
		t.Fatal(err)
	}
	plan, err := ReadPlan(text)
	if err != nil {
		t.Fatal(err)
	}
	s := plan.Stages[0]
	none := s.ByLast[0].Table
	for _, c := range []struct {
		class int
		want  float64
	}{{0, 1}, {1, plan.Season.Needless}} {
		s.ByLast[0].Table = none
		s.ByLast[c.class].Table = Table{Units: 15, Leave: []int{-1}, Act: []int{0}}
		r, err := plan.overSeason()
		if err != nil || r.Needless < c.want || c.class == 0 && r.Kept {
			t.Errorf("fields of class %d are all treated: %+v, %v", c.class, r, err)
		}
	}
}

package plans

import (
	"context"
	"math"
	"testing"
)

// The correlation that breaks a promise is where the plain recursion of
// TestRandomMeanPlansKeep finds it: kept below, from the upper end of what the plan takes
// it to be, and broken at it.
func TestCountRhoBreaks(t *testing.T) {
	for _, c := range []struct {
		name     string
		k, alike Range
		missed   float64
		never    bool
	}{
		{"independent leaves", Range{Low: 1, High: 1}, Range{}, .1, false},
		{"a range of both", Range{Low: .7, High: 1.4}, Range{Low: .02, High: .05}, .15, false},
		{"any correlation is kept", Range{Low: 4, High: 4}, Range{}, .3, true},
	} {
		st := Stage{Measure: MeanPerLeaf, Unit: SampleUnit{Leaves: 1}, Lower: .5, Threshold: 1.2, Upper: 2.5, NeedlessRisk: .1, MissedRisk: c.missed,
			Stop: StopRules{Plants: 4, Minimum: 2, Maximum: 6}, Clumping: Clumping{K: &c.k, CountRho: &c.alike}}
		if c.never { // so many stops, and few insects at one
			st.Lower, st.Upper, st.NeedlessRisk, st.Stop.Plants, st.Stop.Minimum = .05, 3, .3, 1, 6
		}
		plan, err := Design(context.Background(), Protocol{Stages: Everywhere(st, st)}, DesignOptions{Method: Fixed})
		if err != nil {
			t.Fatal(c.name, err)
		}
		s := plan.Stages[0]
		most := s.Table.Act[len(s.Table.Act)-1] + 1
		broken := func(rho float64) bool {
			for _, k := range c.k.Ratios(5) {
				needless, _ := walked(s.Table, alikeTotals(s.Lower, k, rho, s.Table.Units, most))
				acts, _ := walked(s.Table, alikeTotals(s.Upper, k, rho, s.Table.Units, most))
				if needless > s.NeedlessRisk+1e-9 || 1-acts > s.MissedRisk+1e-9 {
					return true
				}
			}
			return false
		}
		kept, at := s.CountRhoSlack()
		if again := s.CountRhoBreaks(); again != at {
			t.Errorf("%s: broken from %g and from %g", c.name, at, again)
		}
		last := at
		if c.never != math.IsInf(at, 1) {
			t.Errorf("%s: broken from %g", c.name, at)
		}
		if c.never {
			last = s.MostCountRho()
		} else if !broken(at) || broken(kept) || at-kept > 2.1e-4 || kept < c.alike.High {
			t.Errorf("%s: at %g broken is %v, at %g %v", c.name, at, broken(at), kept, broken(kept))
		}
		for i := range 20 {
			if rho := c.alike.High + (last-1e-3-c.alike.High)*float64(i)/19; broken(rho) {
				t.Errorf("%s: broken from %g, and at %g already", c.name, at, rho)
			}
		}
		if single := c.alike == (Range{}); (s.BreaksAt != nil) != (single && !c.never) || s.BreaksAt != nil && *s.BreaksAt != at {
			t.Errorf("%s: the plan says %v", c.name, s.BreaksAt)
		}
	}
	st := Stage{Measure: ShareInfested, Lower: .1, Threshold: .2, Upper: .4, NeedlessRisk: .1, MissedRisk: .1, Unit: SampleUnit{Leaves: 1},
		Stop: StopRules{Plants: 20, Minimum: 2, Maximum: 9}, Clumping: Clumping{Rho: &Range{Low: .1, High: .1}}}
	plan, err := Design(context.Background(), Protocol{Stages: Everywhere(st, st)}, DesignOptions{Method: Fixed})
	if err != nil || !math.IsInf(plan.Stages[0].CountRhoBreaks(), 1) || plan.Stages[0].MostCountRho() != 0 {
		t.Errorf("shares: %v", err)
	}
}

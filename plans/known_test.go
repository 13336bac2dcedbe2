package plans

import (
	"testing"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// stoppingTable ends early, at stop 2 at the soonest.
var stoppingTable = Table{
	Units: 20,
	Leave: []int{NeverLeave, 2, 5, 8, 11, 14, 18},
	Act:   []int{NeverAct, 9, 11, 13, 15, 17, 19},
}

// The values were computed independently outside the project, in plain Python.
func TestCheckTellsWhatIsKnown(t *testing.T) {
	s := shareStage(stoppingTable, .1, .25, Range{Low: 0, High: .12})
	for _, c := range []struct {
		counts                        []Count
		limit, lower, upper, estimate float64
	}{
		{[]Count{{}, {Total: 2}}, .16040585, .00278603, .28172909, .09182017},
		{[]Count{{Total: 2}, {Total: 2}, {Total: 1}}, .18662442, .01400049, .30018233, .11904712},
		{[]Count{{}, {}}, .07841326, 0, .17434896, .03422482},
		{[]Count{{Total: 4}, {Total: 3}, {Total: 3}, {Total: 3}}, .22498702, .03823430, .32933902, .15836905},
	} {
		a, err := s.Check(c.counts)
		if err != nil || a.Sure != .8 || a.Interval.Confidence != .95 {
			t.Fatal(a.Known, err)
		}
		expect(t, "limit", a.Limit, c.limit, 1e-8)
		expect(t, "lower", a.Interval.Lower, c.lower, 1e-8)
		expect(t, "upper", a.Interval.Upper, c.upper, 1e-8)
		expect(t, "estimate", a.Estimate, c.estimate, 1e-8)
	}
}

// At levels from 1 to 60% and at both ends of the range of rho the limit of
// 80% is below the level in at most 20% of visits, and the 95% interval misses it
// in at most 5%; with a minimum of one stop too.
func TestKnownHoldsForThePlans(t *testing.T) {
	stages := linesPlan(t, shippedProtocol(t)).Stages
	one := shippedProtocol(t).Each(func(s *Stage) { s.Stop.Minimum = 1 })
	for _, s := range append(append([]*StagePlan(nil), stages...), linesPlan(t, one).Stages[0]) {
		for p := .01; p < .605; p += .03 {
			for _, w := range []World{s.Clumped(p), s.Law().Even(p)} {
				holds(t, s, w.Population())
			}
		}
	}
}

// The same for means, whose insects are more or less clumped and more or less alike
// at a stop.
func TestKnownHoldsForMeans(t *testing.T) {
	for _, k := range []float64{.2, 2} {
		for _, alike := range []float64{0, .25} {
			terms := Stage{
				Measure: MeanPerLeaf, Lower: .5, Threshold: 1, Upper: 2, NeedlessRisk: .2, MissedRisk: .2, Unit: SampleUnit{Leaves: 1},
				Stop:     StopRules{Plants: 10, Minimum: 1, Maximum: 3},
				Clumping: Clumping{K: &Range{Low: k, High: k}, CountRho: &Range{Low: alike, High: alike}},
			}
			s, err := NewStagePlan(terms, Table{Units: 10, Leave: []int{1, 9, 26}, Act: []int{20, 27, 27}})
			if err != nil {
				t.Fatal(err)
			}
			for _, mean := range []float64{.05, .3, 1, 2} {
				holds(t, s, s.Clumped(mean).Population())
			}
		}
	}
}

func holds(t *testing.T, s *StagePlan, field sampling.Population) {
	t.Helper()
	v := s.Visit()
	if m := v.Misses(field, 2*s.Sure()-1); m.Below > 1-s.Sure()+1e-12 {
		t.Errorf("%s, level %g: the limit is below it in %g", s.Name, field.Level(), m.Below)
	}
	if m := v.Misses(field, .95); m.Missed() > .05+1e-12 {
		t.Errorf("%s, level %g: the interval misses it in %g", s.Name, field.Level(), m.Missed())
	}
}

// Every end with leave has its limit's next visit.
func TestReturnLimits(t *testing.T) {
	s := shareStage(stoppingTable, .1, .25, Range{Low: .12, High: .12})
	s.ComingBack = &ComingBack{DaysUntilFound: 9, DaysOnceFound: 4.5, LeadDays: 1, GrowthPerDay: .15, Confidence: .8}
	limits, err := s.ReturnLimits()
	if err != nil {
		t.Fatal(err)
	}
	all, err := s.Visit().Limits(.8)
	if err != nil || len(limits) >= len(all) {
		t.Fatalf("%d of %d limits, %v", len(limits), len(all), err)
	}
	for _, want := range all {
		for _, l := range limits {
			if l.Stop != want.Stop || l.Total < want.Total {
				continue
			}
			if l.Upper < want.Upper-1e-9 || !s.sameReturn(l.Upper, want.Upper) || want.Verdict == rule.Leave && l.Verdict != rule.Leave {
				t.Errorf("%+v, want %+v", l, want)
			}
			break
		}
	}
}

package validate

import (
	"testing"

	"stopwise/plans"
	"stopwise/plans/rule"
)

// In a field where every plant is infested, or none, a visit has no chance in it: what
// is seen is all, or nothing, also where stops are worth points, of which the verdict
// is made.
func TestSampleFieldsCounting(t *testing.T) {
	s := stagePlan(t, protocol(plans.Range{Low: .1, High: .1}, 20, 20), plans.RiskTrueLines)
	for _, w := range []rule.Worth{{}, {Points: &rule.Points{Lower: .1, Upper: .25, Rho: .1, Units: 20, Top: 2}}} {
		s.Worth = w
		seen, err := SampleFields(s, []float64{0, 1}, 3)
		if err != nil {
			t.Fatal(err)
		}
		for i, found := range []int{0, 20} {
			stop := 1
			for s.Table.Verdict(stop, stop*w.Value(found, 20)) == plans.Continue {
				stop++
			}
			verdict := s.Table.Verdict(stop, stop*w.Value(found, 20))
			if got := seen[i]; got.Seen != float64(found)/20 || got.Stops != stop || got.Verdict != verdict {
				t.Errorf("%+v: %d of 20 at each stop: %+v, want %v at stop %d", w, found, got, verdict, stop)
			}
		}
	}
}

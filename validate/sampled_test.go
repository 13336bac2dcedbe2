package validate

import (
	"math"
	"slices"
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

// Where looking ends at a cap, a visit shows what check says of it, not the share seen.
func TestSampleFieldsCapped(t *testing.T) {
	s := stagePlan(t, protocol(plans.Range{Low: .1, High: .1}, 20, 20), plans.RiskTrueLines)
	s.Worth = rule.Worth{Cap: 2}
	seen, err := SampleFields(s, []float64{0, 1}, 3)
	if err != nil {
		t.Fatal(err)
	}
	for i, found := range []int{0, 20} {
		var counts []plans.Count
		for range seen[i].Stops {
			counts = append(counts, plans.Count{Total: found})
		}
		a, err := s.Check(counts)
		if err != nil {
			t.Fatal(err)
		}
		if seen[i].Seen != a.Estimate || a.Verdict != seen[i].Verdict {
			t.Errorf("%d of 20 at each stop: %+v; check says %g, %v", found, seen[i], a.Estimate, a.Verdict)
		}
	}
}

// Insects are drawn beyond the numbers of the table: the mean seen of very many is not
// cut off there.
func TestSampleFieldsMean(t *testing.T) {
	s := stagePlan(t, counts(1.2), plans.Fixed)
	s.Table = plans.Table{Units: s.Table.Units, Leave: []int{1}, Act: []int{2}}
	seen, err := SampleFields(s, slices.Repeat([]float64{2 * s.Upper}, 400), 3)
	if err != nil {
		t.Fatal(err)
	}
	sum := 0.0
	for _, f := range seen {
		sum += f.Seen / float64(len(seen))
	}
	if !(math.Abs(sum/(2*s.Upper)-1) < 0.15) {
		t.Errorf("the mean of what is seen is %g in fields at %g", sum, 2*s.Upper)
	}
}

package search

import (
	"math"
	"testing"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// Where the minimum of stops is more than the promise needs, many act numbers keep
// it; the plan takes the one nearest to even chances at the threshold, whatever the
// maximum.
func TestEvenedTies(t *testing.T) {
	for _, maximum := range []int{12, 14, 20} {
		p := shares(.05, .50, .10, .10, 0, 20, 4, maximum)
		table, ok := p.RiskTrue(p.Starts(nil))
		if !ok {
			t.Fatal("no plan found")
		}
		u := table.Trimmed()
		got, middle := u.Leave[u.Stops()-1], p.Effort[1].Population.(sampling.Infested)
		best, want := math.Inf(1), 0
		for c := range 80 {
			if x := math.Abs(rule.Evaluate(single(20, 4, c), middle).Act - .5); x < best && p.Keeps(single(20, 4, c)) {
				best, want = x, c
			}
		}
		if u.Stops() != 4 || got != want {
			t.Errorf("up to %d stops: %d stops, leave at %d; want 4 and %d", maximum, u.Stops(), got, want)
		}
	}
}

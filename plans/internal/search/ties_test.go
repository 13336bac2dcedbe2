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

// With a further sign it is the whole rule that is brought nearest to even chances:
// the count has to act the more often, the more often the sign forbids it.
func TestEvenedBySign(t *testing.T) {
	seen := func(chance float64) func(int) float64 { return func(int) float64 { return chance } }
	for _, chance := range []float64{.95, .8, .6} {
		p := shares(.05, .50, .10, .45, 0, 20, 4, 12)
		lower, upper := p.Limits[0].Population, p.Limits[1].Population
		p.Limits = []Limit{Needless(lower, .10, seen(.3)), Missed(upper, .45, seen(chance))}
		p.Acts = seen(chance)
		middle := p.Effort[1].Population
		best, want, kept := math.Inf(1), 0, 0
		for c := range 80 {
			whole := chance * rule.Evaluate(single(20, 4, c), middle).Act
			if !p.Keeps(single(20, 4, c)) {
				continue
			}
			if kept++; math.Abs(whole-.5) < best {
				best, want = math.Abs(whole-.5), c
			}
		}
		if kept < 5 {
			t.Fatalf("chance %g: only %d numbers keep the limits", chance, kept)
		}
		found, ok := p.RiskTrue(p.Starts(nil))
		fixed, also := p.Fixed(p.Maximum)
		if !ok || !also {
			t.Fatal("no plan found")
		}
		for _, table := range []Table{found, fixed} {
			if u := table.Trimmed(); u.Stops() != 4 || u.Leave[3] != want {
				t.Errorf("chance %g: %d stops, leave at %d; want 4 and %d", chance, u.Stops(), u.Leave[u.Stops()-1], want)
			}
		}
	}
}

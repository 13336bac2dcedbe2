package validate

import (
	"context"
	"testing"

	"stopwise/plans"
)

// BenchmarkSimulate reports simulated visits a second on one core, of a plan of
// at most 20 stops of 20 plants.
func BenchmarkSimulate(b *testing.B) {
	s := stagePlan(b, protocol(plans.Range{Low: .1, High: .1}, 20, 20), plans.RiskTrue)
	pop := s.Clumped(s.Threshold).Population()
	const visits = 200_000
	for b.Loop() {
		if _, err := simulate(context.Background(), s, pop, Options{Visits: visits, Seed: 1, Workers: 1}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(visits*float64(b.N)/b.Elapsed().Seconds(), "visits/s")
}

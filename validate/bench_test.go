package validate

import (
	"testing"

	"stopwise/plans"
)

// BenchmarkSimulate reports simulated visits a second on one core, of a plan of
// at most 20 stops of 20 plants: by the plain walk that the tests hold against exact
// results, with the staircase that a picture is made of, and with fewer plants at some
// stops than planned.
func BenchmarkSimulate(b *testing.B) {
	s := stagePlan(b, protocol(plans.Range{Low: .1, High: .1}, 20, 20), plans.RiskTrue)
	const visits = 200_000
	o := Options{Visits: visits, Seed: 1, Workers: 1}
	for _, at := range []struct {
		name  string
		level float64
	}{{"lower", s.Lower}, {"threshold", s.Threshold}, {"upper", s.Upper}} {
		world := s.Clumped(at.level)
		for _, way := range []struct {
			name string
			run  func() error
		}{
			{"plain", func() error { _, err := simulate(b.Context(), s, world.Population(), o); return err }},
			{"staircase", func() error { _, err := Climb(b.Context(), s, world.Population(), o); return err }},
			{"short stops", func() error { _, err := walkShort(b.Context(), s, world, s.Plants()/2, o, shortStream); return err }},
		} {
			b.Run(at.name+"/"+way.name, func(b *testing.B) {
				for b.Loop() {
					if err := way.run(); err != nil {
						b.Fatal(err)
					}
				}
				b.ReportMetric(visits*float64(b.N)/b.Elapsed().Seconds(), "visits/s")
			})
		}
	}
}

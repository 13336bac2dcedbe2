package trying

import (
	"context"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
	"stopwise/validate"
)

// demoVisits is few enough for a demo that answers at once.
const demoVisits = 4000

// DemoRoutes shows that the way through a field matters where the pest is not
// spread evenly: what no distribution of counts can show.
func DemoRoutes(ctx context.Context, d *report.Document, s *plans.StagePlan) error {
	r := &validationResult{stage: s, visits: demoVisits, seed: 1}
	r.walk = validate.WalkOptions{
		Options:  validate.Options{Visits: r.visits, Seed: r.seed},
		Patterns: []validate.Pattern{validate.HotSpots, validate.Gradient},
		Routes:   []validate.Route{validate.Zigzag, validate.Transect, validate.Random, validate.Balanced},
		Ground:   validate.DefaultGround, Rho: s.Clumped(s.Threshold).Clump, Speed: validate.WalkSpeed,
	}
	rows, err := validate.Walks(ctx, s, r.walk)
	if err != nil {
		return err
	}
	r.walks = rows
	d.Para("The same plan in made fields, walked in four ways. Every field has the same share infested and the same rho: only where the pest sits differs.")
	d.Table(r.walksTable())
	d.List(r.routeSentences()...)
	d.Para("A visit that ends early has seen only the near end of a zigzag; on a gradient that is not the field. A route that soon crosses the whole field keeps the promise: balanced, the route of this protocol, does so before the first verdict can come (stopwise route).")
	return nil
}

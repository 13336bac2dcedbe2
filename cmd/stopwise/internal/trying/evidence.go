package trying

import (
	"context"
	"fmt"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
)

// Evidence tells a committee where the promise of every stage holds and where it
// breaks: in other worlds, and on the fields of data without those of pilot, where
// these files are given.
func Evidence(ctx context.Context, e shell.Env, plan *plans.Plan, data, pilot string, d *report.Document) error {
	d.Heading("Where the promise holds, and where it breaks")
	for _, s := range plan.Stages {
		v := newValidation()
		worlds, err := v.worlds(s)
		if err != nil {
			return err
		}
		r := &validationResult{stage: s, visits: v.visits.Value, seed: v.seed.Value}
		if data != "" {
			v.data.Value, v.data.Set = data, true
			v.fitted.Value, v.fitted.Set = []string{pilot}, true
			if r.data, err = v.readData(e, s); err != nil {
				return err
			}
		}
		if err := v.compute(ctx, e, worlds, r); err != nil {
			return err
		}
		if s.Name != "" {
			d.Para("%s.", say.Capital("stage "+s.Name))
		}
		r.answer(d, false)
	}
	d.Note("%s", fmt.Sprintf("What is simulated rests on the seed %d and %s in each situation.", newValidation().seed.Value, report.Count(newValidation().visits.Value, "visit", "visits")))
	return nil
}

package following

import (
	"errors"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/plans"
)

// Evidence tells a committee what a plan does over a season of visits: the stages
// together where the protocol says how long they last, else each by itself.
func Evidence(plan *plans.Plan, d *report.Document) error {
	d.Heading("Over a season of visits")
	f := newFlags()
	views := [][]*plans.StagePlan{plan.Stages}
	if _, err := f.follow(plan, plan.Stages); err != nil {
		views = nil
		for _, s := range plan.Stages {
			views = append(views, []*plans.StagePlan{s})
		}
	}
	var items []string
	for _, stages := range views {
		v, err := f.follow(plan, stages)
		if _, unsaid := errors.AsType[*plans.FieldError](err); unsaid || err != nil {
			items = append(items, say.Capital(say.OrThisStage(stages[0].Name))+": not followed: "+err.Error()+".")
			continue
		}
		if p := v.mostNeedless(); p != nil {
			items = append(items, say.StaySentence(stages, p))
		}
		for _, p := range v.grow {
			items = append(items, say.GrowSentence(stages, p, v.lateDays))
		}
	}
	d.List(items...)
	d.Para("Exact sums, not simulated, for visits that start their route anew each time; `stopwise follow` shows more courses.")
	return nil
}

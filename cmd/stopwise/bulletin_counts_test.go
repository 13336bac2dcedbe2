package main

import (
	"testing"

	"stopwise/plans"
)

// The hand-out says of each stage what is counted there.
func TestBulletinSaysWhatIsCounted(t *testing.T) {
	share := plans.Stage{Name: "boot", Measure: plans.ShareInfested}
	mean := plans.Stage{Name: "milk", Measure: plans.MeanPerLeaf}
	plan := func(stages ...plans.Stage) *plans.Plan {
		p := &plans.Plan{Protocol: plans.Protocol{Unit: plans.SampleUnit{Leaves: 2, Tally: 7}, Stages: stages}}
		for _, s := range stages {
			p.Stages = append(p.Stages, &plans.StagePlan{Stage: s})
		}
		return p
	}
	for want, p := range map[string]*plans.Plan{
		"A plant counts as infested when a leaf carries at least 7 insects.":                                                              plan(share, share),
		"Count the insects on 2 leaves of each plant.":                                                                                    plan(mean),
		"At boot a plant counts as infested when a leaf carries at least 7 insects. At milk count the insects on 2 leaves of each plant.": plan(share, mean),
	} {
		if got := infestedWhen(p); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

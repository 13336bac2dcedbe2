package handouts

import (
	"testing"

	"stopwise/cmd/stopwise/internal/say"
	"stopwise/plans"
)

// The hand-out says of each stage what is counted there.
func TestBulletinSaysWhatIsCounted(t *testing.T) {
	unit := plans.SampleUnit{Leaves: 2, Tally: 7}
	share := plans.Stage{Name: "leafing", Measure: plans.ShareInfested, Unit: unit}
	mean := plans.Stage{Name: "pod fill", Measure: plans.MeanPerLeaf, Unit: unit}
	plan := func(stages ...plans.Stage) *plans.Plan {
		p := &plans.Plan{Protocol: plans.Protocol{Stages: stages}}
		for _, s := range stages {
			p.Stages = append(p.Stages, &plans.StagePlan{Stage: s})
		}
		return p
	}
	for want, p := range map[string]*plans.Plan{
		"A plant counts as infested when a leaf carries at least 7 insects.":                                                                     plan(share, share),
		"Count the insects on 2 leaves of each plant.":                                                                                           plan(mean),
		"At leafing a plant counts as infested when a leaf carries at least 7 insects. At pod fill count the insects on 2 leaves of each plant.": plan(share, mean),
	} {
		if got := (handout{say.English(), p}).infestedWhen(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

package validate

import (
	"context"
	"fmt"
	"os"
	"sync"
	"testing"

	"stopwise/plans"
	"stopwise/sampling/pilot"
)

// protocol returns an invented protocol of one stage, on shares infested.
func protocol(rho plans.Range, plants, maximum int) plans.Protocol {
	return plans.Protocol{
		Title: "invented",

		Stages: plans.Everywhere(plans.Stage{Unit: plans.SampleUnit{Leaves: 2, Tally: 50}, Stop: plans.StopRules{Plants: plants, Minimum: 1, Maximum: maximum, WalkMinutes: 3, PlantMinutes: 0.25}, Clumping: plans.Clumping{Rho: &rho}}, []plans.Stage{{
			Name: "budding", Measure: plans.ShareInfested, Lower: .15, Threshold: .22, Upper: .30, NeedlessRisk: .10, MissedRisk: .10,
		}}...),
	}
}

// counts returns one on means per leaf.
func counts(k float64) plans.Protocol {
	p := protocol(plans.Range{}, 10, 20)
	p.Stages[0].Clumping = plans.Clumping{K: &plans.Range{Low: k, High: k}, CountRho: &plans.Range{}}
	p.Stages[0].Measure, p.Stages[0].Lower, p.Stages[0].Threshold, p.Stages[0].Upper = plans.MeanPerLeaf, 4, 6, 9
	return p
}

func stagePlan(t testing.TB, p plans.Protocol, m plans.Method) *plans.StagePlan {
	t.Helper()
	plan, err := plans.Design(context.Background(), p, plans.DesignOptions{Method: m})
	if err != nil {
		t.Fatal(err)
	}
	return plan.Stages[0]
}

// usualPlan returns a plan of at most 20 stops of 20 plants. It must not be changed.
func usualPlan(t testing.TB) *plans.StagePlan {
	t.Helper()
	s, err := usual()
	if err != nil {
		t.Fatal(err)
	}
	return s
}

var usual = sync.OnceValues(func() (*plans.StagePlan, error) {
	p := protocol(plans.Range{Low: .05, High: .15}, 20, 20)
	plan, err := plans.Design(context.Background(), p, plans.DesignOptions{})
	if err != nil {
		return nil, err
	}
	return plan.Stages[0], nil
})

// printed returns every number of a result.
func printed(v any) string { return fmt.Sprintf("%+v", v) }

// inventedFields returns the validation fields of the invented Marrow Vale.
func inventedFields(t testing.TB) []pilot.Field {
	t.Helper()
	f, err := os.Open("../testdata/marrow-vale/fields.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	d, err := pilot.Read(f)
	if err != nil {
		t.Fatal(err)
	}
	return d.Fields
}

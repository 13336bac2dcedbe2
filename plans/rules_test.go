package plans

import (
	"context"
	"math"
	"testing"

	"stopwise/plans/protocol"
)

// Shares at a tally of 50, one leaf a plant, counts alike with .15: computed independently
// outside the project (trapezoidal rule over stops, plain Python).
func TestRulesInOneField(t *testing.T) {
	p := Protocol{
		Stages: Everywhere(Stage{Unit: SampleUnit{Leaves: 1, Tally: 50}, Stop: StopRules{Plants: 20, Minimum: 1, Maximum: 20, WalkMinutes: 3, PlantMinutes: 0.25}, Clumping: Clumping{Rho: &Range{Low: 0.1, High: 0.1}, K: &Range{Low: 0.5, High: 0.5}, CountRho: &Range{Low: .05, High: .15}}}, []Stage{
			{Name: "tally", Measure: ShareInfested, Lower: 0.15, Threshold: 0.22, Upper: 0.30, NeedlessRisk: 0.1, MissedRisk: 0.1},
			{Name: "mean", Measure: MeanPerLeaf, Lower: 30, Threshold: 50, Upper: 90, NeedlessRisk: 0.1, MissedRisk: 0.1,
				Stop: StopRules{Plants: 20, Minimum: 1, Maximum: 20, WalkMinutes: 3, PlantMinutes: 2}},
		}...),
	}
	for _, c := range []struct{ k, mean, share float64 }{{0.5, 50, 0.315401}, {1, 50, 0.363412}, {0.5, 125, 0.562173}, {2, 125, 0.823281}} {
		p = p.Each(func(s *Stage) { s.Clumping.K = &Range{Low: c.k, High: c.k} })
		f, err := SituationOf(p, c.mean)
		if err != nil {
			t.Fatal(err)
		}
		rules, err := CompareRules(context.Background(), p, f, DesignOptions{Method: Lines})
		if err != nil {
			t.Fatal(err)
		}
		if got := rules[0].Level; math.Abs(got-c.share) > 1e-6 {
			t.Errorf("mean %g, k %g: share %.6f, want %.6f", c.mean, c.k, got, c.share)
		}
		for i, w := range []World{{Level: rules[0].Level, Clump: 0.1}, {Level: c.mean, Clump: c.k, CountRho: .15, Counts: true}} {
			e := Evaluate(rules[i].Plan.Table, w.Population())
			if math.Abs(e.Act-rules[i].Act) > 1e-9 || math.Abs(e.ExpectedStops-rules[i].Stops) > 1e-9 {
				t.Errorf("%s: acts in %g, %g stops; want %g, %g", rules[i].Plan.Name, rules[i].Act, rules[i].Stops, e.Act, e.ExpectedStops)
			}
		}
		if want := rules[1].Stops * (3 + 20*2); math.Abs(rules[1].Minutes-want) > 1e-9 {
			t.Errorf("counting takes %g minutes, want %g", rules[1].Minutes, want)
		}
	}
	p = p.Each(func(s *Stage) { s.Unit.Tally = 0 })
	if _, err := CompareRules(context.Background(), p, Situation{Mean: 50, Law: Law{Kind: protocol.KLaw, Range: Range{Low: 1, High: 1}}}, DesignOptions{Method: Lines}); err == nil {
		t.Error("a share was computed without a tally number")
	}
}

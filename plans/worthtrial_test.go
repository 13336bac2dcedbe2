package plans

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// Capped counts drawn plant by plant, looking at a stop no further than to the cap,
// give the stops, the plants and the risks that are computed.
func TestCappedVisitPlantByPlant(t *testing.T) {
	terms := habitTerms()
	s := &StagePlan{Stage: terms}
	w := rule.Worth{Cap: 6}
	table := Table{Units: 20, Leave: []int{NeverLeave, 3, 8, 13, 18}, Act: []int{NeverAct, 11, 15, 18, 19}}
	got := s.trial(w, table, DesignOptions{Weights: [3]float64{0, 0, 1}}) // at the upper bound
	rng := rand.New(rand.NewPCG(7, 7))
	const visits = 60000
	var left, stops, plants float64
	shape1, shape2 := terms.Upper*.9/.1, (1-terms.Upper)*.9/.1
	for range visits {
		total, verdict := 0, Continue
		for j := 0; verdict == Continue; j++ {
			stops++
			found, ill, clean := 0, shape1, shape2 // Polya's urn draws beta-binomial plants
			for i := 0; i < 20 && found < w.Cap; i++ {
				plants++
				if rng.Float64() < ill/(ill+clean) {
					found++
					ill++
				} else {
					clean++
				}
			}
			total += found
			verdict = table.Verdict(j+1, total)
		}
		if verdict == Leave {
			left++
		}
	}
	near := func(what string, seen, want, se float64) {
		if math.Abs(seen-want) > 4*se {
			t.Errorf("%s: drawn %.4f, computed %.4f, standard error %.4f", what, seen, want, se)
		}
	}
	near("missed", left/visits, got.Missed, math.Sqrt(got.Missed/visits))
	near("stops", stops/visits, got.Stops, 1.5/math.Sqrt(visits))
	near("plants", plants/visits, got.Plants, 30/math.Sqrt(visits))
}

// Points need fewer stops than totals with the same risks, and break them under
// patches. The most stops were found outside the project.
func TestPointsTried(t *testing.T) {
	terms := habitTerms()
	got, ok := TryPoints(context.Background(), terms, 12, DesignOptions{})
	if !ok || got.Needless > .1+1e-12 || got.Missed > .1+1e-12 || got.Stops > 4.38 || got.Plants != 20*got.Stops {
		t.Fatalf("%+v, %v", got, ok)
	}
	if got.Patches.Missed < .12 {
		t.Errorf("under patches %+v", got.Patches)
	}
	for i, level := range []float64{.15, .30} { // by an evaluation that the search does not use
		e := Evaluate(got.Table, got.Worth.Of(sampling.Infested{P: level, Rho: .1}))
		if risk := []float64{e.Act, e.Leave}[i]; risk > .1+1e-12 {
			t.Errorf("%g at %g", risk, level)
		}
	}
}

package size_test

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"stopwise/sampling/size"
)

// TestOptimalPlants: sqrt((c1/c2) (1-rho)/rho). Cochran, W.G. (1977) Sampling
// Techniques, 10.6; the numbers are worked here by hand: sqrt(12*9), sqrt(10*99).
func TestOptimalPlants(t *testing.T) {
	for _, test := range []struct{ walk, plant, rho, want float64 }{
		{3, .25, .1, math.Sqrt(108)},
		{10, 1, .01, math.Sqrt(990)},
		{0, 1, .1, 0},
		{3, .25, 0, math.Inf(1)},
	} {
		got, err := size.Allocate(size.AllocateRequest{
			WalkMinutes: test.walk, PlantMinutes: test.plant, Rho: test.rho,
			Classify: &size.ClassifyGoal{Lower: .15, Upper: .3, NeedlessRisk: .1, MissedRisk: .1},
		})
		if err != nil || math.Abs(got.OptimalPlants-test.want) > 1e-12 {
			t.Errorf("%+v: %g, %v", test, got.OptimalPlants, err)
		}
	}
}

// TestOptimumMinimisesVariance: with the budget fixed, no other whole number of plants
// near the optimum gives a smaller variance deff/(J m), J not rounded.
func TestOptimumMinimisesVariance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		walk := rapid.Float64Range(0.5, 10).Draw(t, "walk")
		plant := rapid.Float64Range(0.1, 1).Draw(t, "plant")
		rho := rapid.Float64Range(0.02, 0.5).Draw(t, "rho")
		got, err := size.Allocate(size.AllocateRequest{
			WalkMinutes: walk, PlantMinutes: plant, Rho: rho, Show: []int{1}, MaxPlantsPerStop: 2,
			Classify: &size.ClassifyGoal{Lower: .1, Upper: .5, NeedlessRisk: .2, MissedRisk: .2},
		})
		if err != nil {
			t.Fatal(err)
		}
		cost := func(m float64) float64 { return (1 + (m-1)*rho) / m * (walk + m*plant) }
		opt := got.OptimalPlants
		for _, m := range []float64{opt * .9, opt * .99, opt * 1.01, opt * 1.1} {
			if cost(m) < cost(opt)*(1-1e-12) {
				t.Fatalf("%g plants cost %g, %g cost %g", m, cost(m), opt, cost(opt))
			}
		}
	})
}

// TestAllocateIsBest looks at every number of plants per stop by the other functions.
func TestAllocateIsBest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := size.AllocateRequest{
			WalkMinutes:      rapid.Float64Range(0, 6).Draw(t, "walk"),
			PlantMinutes:     rapid.Float64Range(0.1, 1).Draw(t, "plant"),
			Rho:              rapid.Float64Range(0, 0.4).Draw(t, "rho"),
			MinStops:         rapid.IntRange(1, 5).Draw(t, "least"),
			MaxPlantsPerStop: rapid.IntRange(1, 25).Draw(t, "most"),
			BudgetMinutes:    60,
		}
		if rapid.Bool().Draw(t, "classify") {
			r.Classify = &size.ClassifyGoal{Lower: .15, Upper: rapid.Float64Range(.3, .5).Draw(t, "upper"), NeedlessRisk: .1, MissedRisk: .15}
		} else {
			r.Estimate = &size.EstimateGoal{Share: .25, HalfWidth: rapid.Float64Range(.06, .2).Draw(t, "half-width"), Confidence: .9}
		}
		got, err := size.Allocate(r)
		if err != nil {
			t.Fatal(err)
		}
		least := math.Inf(1)
		stopsFor := map[int]int{}
		for m := 1; m <= r.MaxPlantsPerStop; m++ {
			stops := fewestStops(t, r, m)
			stopsFor[m] = stops
			least = math.Min(least, float64(stops)*(r.WalkMinutes+float64(m)*r.PlantMinutes))
		}
		if math.Abs(got.Best.Minutes-least) > 1e-6 || !got.Best.Meets {
			t.Fatalf("best %+v, search says %g minutes", got.Best, least)
		}
		found := false
		for _, d := range got.Designs {
			if d.Stops != stopsFor[d.PlantsPerStop] || !d.Meets || d.Plants != d.Stops*d.PlantsPerStop {
				t.Fatalf("design %+v, search says %d stops", d, stopsFor[d.PlantsPerStop])
			}
			found = found || d.PlantsPerStop == got.Best.PlantsPerStop
		}
		if !found {
			t.Fatalf("the best, %d plants, is not in the table", got.Best.PlantsPerStop)
		}
		for _, d := range append(got.Budget, *got.BudgetBest) {
			if d.Minutes > 60*(1+1e-8) || d.Minutes+r.WalkMinutes+float64(d.PlantsPerStop)*r.PlantMinutes < 60*(1-1e-8) {
				t.Fatalf("60 minutes: %+v", d)
			}
		}
		if got.Best.Minutes <= 60 && got.Best.Stops >= r.MinStops && r.Estimate != nil && !got.BudgetBest.Meets {
			t.Fatalf("%g minutes are enough, but 60 are not: %+v", got.Best.Minutes, *got.BudgetBest)
		}
		for _, row := range got.Sensitivity {
			if row.Assumed && (row.Best.Minutes != got.Best.Minutes || row.Kept.Stops != got.Best.Stops) {
				t.Fatalf("the assumed row %+v differs from %+v", row.Best, got.Best)
			}
		}
	})
}

func fewestStops(t *rapid.T, r size.AllocateRequest, m int) int {
	if g := r.Classify; g != nil {
		d, err := size.Classify(size.ClassifyRequest{
			Lower: g.Lower, Upper: g.Upper, NeedlessRisk: g.NeedlessRisk, MissedRisk: g.MissedRisk, PlantsPerStop: m, Rho: r.Rho, MinStops: r.MinStops,
		})
		if err != nil {
			t.Fatal(err)
		}
		return d.Stops
	}
	g := r.Estimate
	d, err := size.Proportion(size.ProportionRequest{Share: g.Share, HalfWidth: g.HalfWidth, Confidence: g.Confidence, PlantsPerStop: m, Rho: r.Rho})
	if err != nil {
		t.Fatal(err)
	}
	return max(d.Exact.Stops, r.MinStops)
}

func TestBudgetTooSmall(t *testing.T) {
	r := size.AllocateRequest{
		WalkMinutes: 3, PlantMinutes: .25, Rho: .1, MinStops: 4, BudgetMinutes: 12,
		Classify: &size.ClassifyGoal{Lower: .15, Upper: .3, NeedlessRisk: .1, MissedRisk: .1},
	}
	_, err := size.Allocate(r)
	if e, ok := errors.AsType[*size.OutOfReachError](err); !ok || e.Budget != 12 || e.Stops != 4 || e.Least != 13 {
		t.Errorf("got %#v", err)
	}
	r.BudgetMinutes = 20
	got, err := size.Allocate(r)
	if err != nil || got.BudgetBest.Meets || got.BudgetBest.Minutes > 20 {
		t.Errorf("got %+v, %v", got.BudgetBest, err)
	}
}

func BenchmarkAllocate(b *testing.B) {
	for _, upper := range []float64{.3, .25} {
		b.Run(fmt.Sprintf("upper=%g", upper), func(b *testing.B) {
			for b.Loop() {
				if _, err := size.Allocate(size.AllocateRequest{
					WalkMinutes: 3, PlantMinutes: .25, Rho: .1, Classify: &size.ClassifyGoal{Lower: .15, Upper: upper, NeedlessRisk: .1, MissedRisk: .1},
				}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

package validate

import (
	"context"
	"math"
	"testing"

	"stopwise/plans"
)

// countedPlans are a plan of capped counts and one of points.
func countedPlans(t *testing.T) []*plans.StagePlan {
	t.Helper()
	rho := plans.Range{Low: .1, High: .1}
	terms := plans.Stage{
		Measure: plans.ShareInfested, Lower: .15, Threshold: .225, Upper: .30, NeedlessRisk: .2, MissedRisk: .2,
		Unit: plans.SampleUnit{Leaves: 1}, Clumping: plans.Clumping{Rho: &rho},
		Stop: plans.StopRules{Plants: 20, Minimum: 1, Maximum: 5, WalkMinutes: 3, PlantMinutes: .25},
	}
	var all []*plans.StagePlan
	for _, c := range []struct {
		counting plans.Counting
		table    plans.Table
	}{
		{plans.CountCapped, plans.Table{Units: 20, Leave: []int{plans.NeverLeave, 3, 8, 13, 18}, Act: []int{plans.NeverAct, 11, 15, 18, 19}}},
		{plans.CountPoints, plans.Table{Units: 20, Leave: []int{1, 4, 8, 13, 24}, Act: []int{9, 13, 17, 21, 25}}},
	} {
		terms.Stop.SetCounting(c.counting)
		if c.counting == plans.CountCapped {
			terms.Stop.Cap = 6
		}
		s, err := plans.NewStagePlan(terms, c.table)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, s)
	}
	return all
}

// insectPlans are a plan of capped counts of insects and one of their points.
func insectPlans(t *testing.T) []*plans.StagePlan {
	t.Helper()
	k, rho := plans.Range{Low: .6, High: .6}, plans.Range{Low: .1, High: .1}
	terms := plans.Stage{
		Measure: plans.MeanPerLeaf, Lower: .5, Threshold: .75, Upper: 1, NeedlessRisk: .2, MissedRisk: .2,
		Unit: plans.SampleUnit{Leaves: 2}, Clumping: plans.Clumping{K: &k, CountRho: &rho},
		Stop: plans.StopRules{Plants: 10, Minimum: 1, Maximum: 5, WalkMinutes: 3, PlantMinutes: .25},
	}
	var all []*plans.StagePlan
	for _, c := range []struct {
		counting plans.Counting
		table    plans.Table
	}{
		{plans.CountCapped, plans.Table{Units: 20, Leave: []int{plans.NeverLeave, 17, 27, 38}, Act: []int{plans.NeverAct, 27, 35, 39}}},
		{plans.CountPoints, plans.Table{Units: 20, Leave: []int{1, 6, 12, 22}, Act: []int{11, 16, 21, 23}}},
	} {
		terms.Stop.SetCounting(c.counting)
		if c.counting == plans.CountCapped {
			terms.Stop.Cap = 14
		}
		s, err := plans.NewStagePlan(terms, c.table)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, s)
	}
	return all
}

// Simulated visits of what stops count agree with the exact ones: their risks, stops,
// and minutes, which hold the plants looked at.
func TestCountedSimulations(t *testing.T) {
	ctx, o := context.Background(), Options{Visits: 20000, Seed: 3}
	for _, s := range append(countedPlans(t), insectPlans(t)...) {
		clump := .1
		if !s.Measure.Bounded() {
			clump = .6
		}
		exact := ownDegree(s).at(s, clump)
		full, err := Short(ctx, s, 1, o)
		if err != nil {
			t.Fatal(err)
		}
		close := func(what string, got, want, se float64) {
			if math.Abs(got-want) > 4.5*se {
				t.Errorf("%v, %s: %.4f simulated, %.4f exact, standard error %.4f", s.Stop.Counting, what, got, want, se)
			}
		}
		close("needless", full.Needless.Value, exact.Needless.Value, full.Needless.SE())
		close("missed", full.Missed.Value, exact.Missed.Value, full.Missed.SE())
		for i := range full.Stops {
			close("stops", full.Stops[i].Value, exact.Stops[i].Value, full.Stops[i].SE)
			close("minutes", full.Minutes[i].Value, exact.Minutes[i].Value, full.Minutes[i].SE)
		}
		climbed, err := Climb(ctx, s, s.World(s.Upper, clump).Population(), o)
		if err != nil {
			t.Fatal(err)
		}
		missed := climbed.Visits.LeaveChance()
		close("climbed, missed", missed.Value, exact.Missed.Value, missed.SE())
		m := climbed.Visits.MeanMinutes()
		close("climbed, minutes", m.Value, exact.Minutes[2].Value, m.SE)
	}
}

// A made field of insects with no pattern is one of counts alike at a stop: visits that
// end looking at a cap take the exact minutes there, walking left out.
func TestInsectsLookedAtInAField(t *testing.T) {
	s := insectPlans(t)[0]
	s.Stop.WalkMinutes = 0
	exact := ownDegree(s).at(s, .6)
	r := newRand(5, 5, 5)
	sum, square := 0.0, 0.0
	const n = 4000
	for range n {
		f := MakeCountField(DefaultGround, Uniform, s.Upper, .6, .1, r)
		w, err := NewWalk(Random, f.Ground, Spacing{Metres: 180, Fewest: s.Table.First(), Most: s.Table.Stops()}, r)
		if err != nil {
			t.Fatal(err)
		}
		v, _, _ := walkField(newCounter(s, nil), f, w, 60, nil)
		x := s.Stop.PlantMinutes * float64(v.plants)
		sum, square = sum+x, square+x*x
	}
	mean := sum / n
	se := math.Sqrt((square/n - mean*mean) / n)
	if want := exact.Minutes[2].Value; math.Abs(mean-want) > 4*se {
		t.Errorf("%.4f minutes, want %.4f, standard error %.4f", mean, want, se)
	}
}

// The plants that a scout looks at until the cap is reached are those of the negative
// hypergeometric: c(m+1)/(x+1) on average, of m plants with x infested (Johnson, N.L.,
// Kemp, A.W. & Kotz, S. 2005, Univariate Discrete Distributions, 6.2.2; from memory).
func TestLookedUntilTheCap(t *testing.T) {
	c := newCounter(countedPlans(t)[0], nil)
	r := newRand(1, 1, 1)
	for _, found := range []int{6, 9, 20} {
		const n = 20000
		sum := 0
		for range n {
			looked, ended := c.looked(found, 20, r)
			if !ended || looked < 6 || looked > 20 {
				t.Fatalf("%d found: looked at %d, ended %v", found, looked, ended)
			}
			sum += looked
		}
		if got, want := float64(sum)/n, 6*21/float64(found+1); math.Abs(got-want) > 0.1 {
			t.Errorf("%d found: %.3f plants looked at, want %.3f", found, got, want)
		}
	}
	if looked, ended := c.looked(5, 20, r); looked != 20 || ended {
		t.Errorf("below the cap: %d, %v", looked, ended)
	}
}

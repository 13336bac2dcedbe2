package tallying_test

import (
	"context"
	"errors"
	"math"
	"testing"

	"stopwise/plans"
	"stopwise/plans/tallying"
	"stopwise/sampling"
	"stopwise/sampling/tally"
)

// meanProtocol has one stage with the commonly quoted threshold of 50 to 125 per
// leaf as its bounds (common practice, no source).
func meanProtocol(k plans.Range) plans.Protocol {
	return plans.Protocol{
		Stages: plans.Everywhere(plans.Stage{Unit: plans.SampleUnit{Leaves: 1}, Stop: plans.StopRules{Plants: 20, Minimum: 1, Maximum: 12, WalkMinutes: 3, PlantMinutes: .25}, Clumping: plans.Clumping{Rho: &plans.Range{Low: .1, High: .1}, K: &k}}, []plans.Stage{{Measure: plans.MeanPerLeaf, Lower: 50, Threshold: 80, Upper: 125, NeedlessRisk: .1, MissedRisk: .1}}...),
	}
}

func at50(s plans.Stage) []tally.Relation { return tallying.Relations(s, 50) }

// The shares of scipy's nbinom at T = 50: k .3 .274768 and .427242, k 2 .411314
// and .808233, k 1 .371528 and .671388.
func TestAtTally(t *testing.T) {
	p := meanProtocol(plans.Range{Low: 1, High: 1})
	q, err := tallying.At(p, 50, at50)
	if err != nil {
		t.Fatal(err)
	}
	s := q.Stages[0]
	if s.Measure != plans.ShareInfested || q.Stages[0].Unit.Tally != 50 || math.Abs(s.Lower-.371528) > 5e-7 || math.Abs(s.Upper-.671388) > 5e-7 {
		t.Errorf("%+v", s)
	}
	if p.Stages[0].Measure != plans.MeanPerLeaf {
		t.Error("the protocol given was changed")
	}
	// Over a range of k the bounds close in: the largest share at 50, the smallest
	// at 125.
	p = meanProtocol(plans.Range{Low: .6, High: 2})
	if q, err = tallying.At(p, 50, at50); err != nil {
		t.Fatal(err)
	}
	at := func(k, mean float64) float64 {
		return tally.Theory{T: 50, Leaves: 1, Law: sampling.CommonK{K: k}}.Share(mean)
	}
	if s = q.Stages[0]; math.Abs(s.Lower-at(2, 50)) > 1e-15 || math.Abs(s.Upper-at(.6, 125)) > 1e-15 {
		t.Errorf("bounds %g and %g, want %g and %g", s.Lower, s.Upper, at(2, 50), at(.6, 125))
	}
	// Where they cross there is no plan.
	p = meanProtocol(plans.Range{Low: .1, High: 10})
	var cannot *tallying.NotApart
	if _, err = tallying.At(p, 50, at50); !errors.As(err, &cannot) {
		t.Errorf("crossing bounds: %v, want a NotApart", err)
	}
	p = p.Each(func(s *plans.Stage) { s.Clumping.K, s.Clumping.Taylor = nil, &plans.Taylor{A: 4, B: 1.6} })
	if q, err = tallying.At(p, 50, at50); err != nil || !(q.Stages[0].Lower < q.Stages[0].Threshold && q.Stages[0].Threshold < q.Stages[0].Upper) {
		t.Errorf("Taylor: %+v (%v)", q.Stages, err)
	}
	if _, err = tallying.At(p, 50, func(plans.Stage) []tally.Relation { return nil }); err == nil {
		t.Error("no relations accepted")
	}
}

func TestBestTally(t *testing.T) {
	ctx := context.Background()
	p := meanProtocol(plans.Range{Low: .8, High: .8})
	best, all, err := tallying.Best(ctx, p, tallying.Options{Tallies: []int{1, 20, 60, 700}})
	if err != nil {
		t.Fatal(err)
	}
	if len(all) != 4 || all[0].T != 1 || all[0].Feasible || all[3].Feasible {
		t.Errorf("tried %+v; 1 and 700 leave nothing to tell apart within 12 stops", all)
	}
	for _, trial := range all {
		if trial.Feasible && trial.Minutes < all[2].Minutes*.995 || best != 60 {
			t.Errorf("best is %d at %g min, but %d takes %g min", best, all[2].Minutes, trial.T, trial.Minutes)
		}
	}
	// Fewer stops are fewer minutes at 3 + 20/4 minutes a stop.
	if m := all[2]; math.Abs(m.Minutes-8*m.Stops) > 1e-9 {
		t.Errorf("%g minutes for %g stops, want eight each", m.Minutes, m.Stops)
	}
	// A scout who needs long for every insect stays with the smaller number.
	best, _, err = tallying.Best(ctx, p, tallying.Options{Tallies: []int{20, 60}, InsectMinutes: .05})
	if err != nil || best != 20 {
		t.Errorf("with counting that takes time: %d (%v), want 20", best, err)
	}
}

func TestBestTallySearches(t *testing.T) {
	p := meanProtocol(plans.Range{Low: .8, High: .8})
	p.Stages[0].Lower, p.Stages[0].Threshold, p.Stages[0].Upper = 2, 5, 12
	best, all, err := tallying.Best(context.Background(), p, tallying.Options{})
	if err != nil {
		t.Fatal(err)
	}
	least := math.Inf(1)
	for _, trial := range all {
		if trial.Feasible {
			least = math.Min(least, trial.Minutes)
		}
	}
	for _, trial := range all {
		if trial.T == best && trial.Minutes > least*1.005 || trial.T < best && trial.Feasible && trial.Minutes <= least*1.005 {
			t.Errorf("best is %d, but %+v", best, trial)
		}
	}
	if best <= 1 || best > 36 {
		t.Errorf("best is %d; one insect, or thirty-six at a mean of 12, tells little", best)
	}
}

func TestBestTallyRefuses(t *testing.T) {
	ctx := context.Background()
	p := meanProtocol(plans.Range{Low: .8, High: .8})
	noRho := p
	noRho = noRho.Each(func(s *plans.Stage) { s.Clumping.Rho = nil })
	shares := p
	shares = shares.Each(func(s *plans.Stage) {
		s.Measure, s.Lower, s.Threshold, s.Upper = plans.ShareInfested, .1, .2, .3
	})
	line := tally.Model{T: 50, C: 4.7, D: 1}
	for name, c := range map[string]struct {
		p plans.Protocol
		o tallying.Options
	}{
		"no rho":             {noRho, tallying.Options{}},
		"shares":             {shares, tallying.Options{}},
		"tally 0":            {p, tallying.Options{Tallies: []int{0}}},
		"no model":           {p, tallying.Options{Tallies: []int{10}, Models: []tally.Model{line}}},
		"model and counting": {p, tallying.Options{Models: []tally.Model{line}, InsectMinutes: .01}},
		"bad model":          {p, tallying.Options{Models: []tally.Model{{T: 50}}}},
		"nothing to tell":    {p, tallying.Options{Tallies: []int{1}}},
	} {
		if best, _, err := tallying.Best(ctx, c.p, c.o); err == nil {
			t.Errorf("%s: accepted, with %d", name, best)
		}
	}
}

// sharePlan is a plan of the fewest fixed stops: quick to make.
func sharePlan(t *testing.T, p plans.Protocol, rs []tally.Relation) *plans.StagePlan {
	t.Helper()
	q, err := tallying.At(p, rs[0].Tally(), func(plans.Stage) []tally.Relation { return rs })
	if err != nil {
		t.Fatal(err)
	}
	plan, err := plans.Design(context.Background(), q, plans.DesignOptions{Method: plans.Fixed})
	if err != nil {
		t.Fatal(err)
	}
	return plan.Stages[0]
}

// invented is a line through invented fields, as in testdata/ref/tally.json.
var invented = tally.Model{T: 50, C: 4.734544708119123, D: 1.023546628054906, MSE: .0185257292324032, Fields: 12, MeanX: -1.476786861489994, SE: .0357299146740281}

// At the mean bounds a plan made for the exact relation keeps its risks.
func TestDensityCurveKeepsRisks(t *testing.T) {
	p := meanProtocol(plans.Range{Low: 1, High: 1})
	rs := tallying.Relations(p.Stages[0], 50)
	s := sharePlan(t, p, rs)
	points, err := tallying.Curve(s, rs[0], []float64{50, 125}, .1)
	if err != nil {
		t.Fatal(err)
	}
	if points[0].Act > .1+1e-12 || points[1].Leave > .1+1e-12 {
		t.Errorf("risks %g and %g, allowed .1", points[0].Act, points[1].Leave)
	}
	// The same numbers by the curve against the share.
	for _, d := range points {
		c := s.Curve([]float64{d.Share}, s.As(.1))[0]
		if c.Act != d.Act || c.Stops != d.Stops || c.Minutes != d.Minutes || math.Abs(d.Act+d.Leave-1) > 1e-12 {
			t.Errorf("%+v and %+v", d, c)
		}
	}
}

// The integral over the prediction distribution, against the trapezoid rule.
func TestDensityCurveIntegrates(t *testing.T) {
	p := meanProtocol(plans.Range{Low: 1, High: 1})
	for _, m := range []tally.Model{invented, {T: 50, C: 4.7, D: .8, MSE: .5, Fields: 5, MeanX: -1, SE: .2}} {
		s := sharePlan(t, p, []tally.Relation{invented})
		for _, mean := range []float64{30, 80, 200} {
			points, err := tallying.Curve(s, m, []float64{mean}, .1)
			if err != nil {
				t.Fatal(err)
			}
			x := (math.Log(mean) - m.C) / m.D
			sd := math.Sqrt(m.MSE*(1+1/float64(m.Fields))+math.Pow((x-m.MeanX)*m.SE, 2)) / m.D
			// Student's t by its formula; beyond 40 deviations nearly no plant or nearly
			// every one is infested, so half of what lies there is left.
			nu := float64(m.Fields - 2)
			top, _ := math.Lgamma((nu + 1) / 2)
			below, _ := math.Lgamma(nu / 2)
			const pieces = 2000
			want, weights := 0.0, 0.0
			for i := range pieces + 1 {
				z := -40 + 80*float64(i)/pieces
				w := math.Exp(top-below) / math.Sqrt(nu*math.Pi) * math.Pow(1+z*z/nu, -(nu+1)/2) * 80 / pieces
				share := -math.Expm1(-math.Exp(x + sd*z))
				want += w * s.Evaluate(s.World(share, .1)).Leave
				weights += w
			}
			want += (1 - weights) / 2
			if got := points[0].Leave; math.Abs(got-want) > 1e-8 {
				t.Errorf("mean %g, mse %g: P(leave) %.10f, by the trapezoid rule %.10f", mean, m.MSE, got, want)
			}
		}
	}
}

// The operating characteristic under a fitted model is wider than under its line
// taken as exact, and the wider the less sure the line is.
func TestTransitionWidens(t *testing.T) {
	p := meanProtocol(plans.Range{Low: .8, High: .8})
	known := tallying.Relations(p.Stages[0], 50)
	s := sharePlan(t, p, known)
	transition := func(r tally.Relation) tallying.Band {
		x, err := tallying.BandOf(s, r, .1)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	exact := transition(tally.Exact(invented))
	for _, end := range []struct{ mean, leave float64 }{{exact.Leave90, .9}, {exact.Leave10, .1}} {
		points, err := tallying.Curve(s, tally.Exact(invented), []float64{end.mean}, .1)
		if err != nil || math.Abs(points[0].Leave-end.leave) > 1e-9 {
			t.Errorf("mean %g: P(leave) %+v (%v), want %g", end.mean, points, err, end.leave)
		}
	}
	before := exact.Factor()
	for _, mse := range []float64{.005, .02, .1} {
		m := invented
		m.MSE = mse
		x := transition(m)
		points, err := tallying.Curve(s, m, []float64{x.Leave90, x.Leave10}, .1)
		if err != nil || math.Abs(points[0].Leave-.9) > 1e-9 || math.Abs(points[1].Leave-.1) > 1e-9 {
			t.Errorf("mse %g: %+v (%v)", mse, points, err)
		}
		if x.Factor() <= before {
			t.Errorf("mse %g: the band is a factor of %g wide, before %g", mse, x.Factor(), before)
		}
		before = x.Factor()
	}
	// A line through the theory's own shares, uncertain as fitted lines are, is
	// wider than the theory with a known k.
	theory := known[0]
	a, b := theory.Share(50), theory.Share(125)
	x := func(p float64) float64 { return math.Log(-math.Log1p(-p)) }
	through := tally.Model{T: 50, MSE: .05, Fields: 10, SE: .05}
	through.D = math.Log(2.5) / (x(b) - x(a))
	through.C, through.MeanX = math.Log(50)-through.D*x(a), (x(a)+x(b))/2
	if k, m := transition(theory).Factor(), transition(through).Factor(); m <= k*1.05 {
		t.Errorf("fitted: a factor of %g, known k: %g", m, k)
	}
}

func TestDensityRefusesMeans(t *testing.T) {
	p := meanProtocol(plans.Range{Low: 5, High: 5})
	p.Stages[0].Lower, p.Stages[0].Threshold, p.Stages[0].Upper = 2, 3, 5
	p.Stages[0].Clumping.CountRho = &plans.Range{}
	plan, err := plans.Design(context.Background(), p, plans.DesignOptions{Method: plans.Lines})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := tallying.Curve(plan.Stages[0], invented, []float64{5}, .1); err == nil {
		t.Error("a plan for means was given a tally curve")
	}
	if _, err := tallying.BandOf(plan.Stages[0], invented, .1); err == nil {
		t.Error("a plan for means was given a transition")
	}
}

// Common practice, no source: a mean of 50 to 125 per leaf has grown to 300 in
// four days. That is a growth of .22 to .45 a day, and with such a growth a field
// at the threshold is past the upper bound before the weekly visit.
func TestGrowthOutrunsWeeklyVisits(t *testing.T) {
	slow, fast := math.Log(300./125)/4, math.Log(300./50)/4
	if math.Abs(slow-.22) > .005 || math.Abs(fast-.45) > .005 {
		t.Errorf("growth from %.3f to %.3f a day, want .22 to .45", slow, fast)
	}
	back := plans.DefaultComingBack
	if back.GrowthPerDay < slow || back.GrowthPerDay > fast {
		t.Errorf("the default growth of %g a day is not between %.3f and %.3f", back.GrowthPerDay, slow, fast)
	}
	p := meanProtocol(plans.Range{Low: .8, High: .8})
	q, err := tallying.At(p, 50, at50)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range []float64{slow, back.GrowthPerDay, fast} {
		grown := p.Stages[0].Threshold * math.Exp(r*back.DaysUntilFound)
		if grown <= p.Stages[0].Upper {
			t.Errorf("growth %.2f: %g per leaf after a week, not past %g", r, grown, p.Stages[0].Upper)
		}
		if share := tallying.Relations(p.Stages[0], 50)[0].Share(grown); share <= q.Stages[0].Upper {
			t.Errorf("growth %.2f: a share of %g after a week, not past %g", r, share, q.Stages[0].Upper)
		}
	}
}

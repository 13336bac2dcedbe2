package validate

import (
	"math"
	"testing"

	"stopwise/plans"
)

// The worst of each risk is told with its pattern, minutes are averages, and routes
// come in their order; all by hand.
func TestWorstByRoute(t *testing.T) {
	row := func(p Pattern, r Route, act, leave int64, minutes float64) WalkRow {
		w := WalkRow{Pattern: p, Route: r}
		for i := range w.At {
			for k := range int64(100) {
				acted := i == 0 && k < act || i == 2 && k >= leave
				w.At[i].add(acted, 4, 60, minutes)
			}
		}
		return w
	}
	got := WorstByRoute([]WalkRow{
		row(Edge, W, 4, 9, 30), row(Edge, Zigzag, 12, 2, 20), row(Gradient, W, 6, 3, 40), row(Gradient, Zigzag, 1, 8, 30),
	})
	if len(got) != 2 || got[0].Route != W || got[1].Route != Zigzag {
		t.Fatalf("%+v", got)
	}
	for i, want := range []RouteRisk{
		{Route: W, Needless: Chance{Value: .06}, NeedlessIn: Gradient, Missed: Chance{Value: .09}, MissedIn: Edge, Minutes: [3]float64{35, 35, 35}},
		{Route: Zigzag, Needless: Chance{Value: .12}, NeedlessIn: Edge, Missed: Chance{Value: .08}, MissedIn: Gradient, Minutes: [3]float64{25, 25, 25}},
	} {
		r := got[i]
		if math.Abs(r.Needless.Value-want.Needless.Value) > 1e-12 || r.NeedlessIn != want.NeedlessIn || math.Abs(r.Missed.Value-want.Missed.Value) > 1e-12 || r.MissedIn != want.MissedIn || r.Minutes != want.Minutes {
			t.Errorf("%+v, by hand %+v", r, want)
		}
	}
	s := &plans.StagePlan{Stage: plans.Stage{NeedlessRisk: .5, MissedRisk: .01}}
	if got[0].Keeps(s) != Beyond {
		t.Errorf("a missed risk of 9%% where 1%% is allowed: %v", got[0].Keeps(s))
	}
}

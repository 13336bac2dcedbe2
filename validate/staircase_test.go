package validate

import (
	"context"
	"reflect"
	"testing"

	"stopwise/plans"
)

// Walks end at each stop as often as the exact evaluation says, and the counts
// add up.
func TestStaircaseAgreesWithExactChances(t *testing.T) {
	shares := usualPlan(t)
	means := stagePlan(t, counts(0.8), plans.Lines)
	for _, c := range []struct {
		s            *plans.StagePlan
		level, clump float64
	}{{shares, 0.15, 0.1}, {shares, 0.22, 0}, {shares, 0.3, 0.3}, {shares, 1, 0}, {means, 4, 0.8}, {means, 30, 0.2}} {
		w := c.s.World(c.level, c.clump)
		const n = 20000
		st, err := Climb(context.Background(), c.s, w.Population(), Options{Visits: n, Seed: 3})
		if err != nil {
			t.Fatal(err)
		}
		e := plans.Evaluate(c.s.Table, w.Population())
		nearChance(t, "act", st.Visits.ActChance(), e.Act)
		nearMean(t, "stops", st.Visits.MeanStops(), e.ExpectedStops)
		walking := n
		for j, end := range st.Ended {
			nearChance(t, "act at a stop", Chance{Value: float64(end.Act) / n, Visits: n}, e.Stops[j].Act)
			nearChance(t, "leave at a stop", Chance{Value: float64(end.Leave) / n, Visits: n}, e.Stops[j].Leave)
			at, left, acted := 0, 0, 0
			for x, k := range st.At[j] {
				at += k
				switch c.s.Table.Verdict(j+1, x) {
				case plans.Leave:
					left += k
				case plans.Act:
					acted += k
				}
			}
			if at != walking || left != end.Leave || acted != end.Act {
				t.Errorf("stop %d: %d walks drawn of %d, %d leave and %d act drawn of %+v", j+1, at, walking, left, acted, end)
			}
			walking -= end.Leave + end.Act
		}
		if walking != 0 {
			t.Errorf("%d walks do not end", walking)
		}
	}
}

func TestStaircaseDependsOnTheSeedOnly(t *testing.T) {
	s := usualPlan(t)
	pop := s.World(0.22, 0.1).Population()
	climb := func(seed uint64, workers int) Staircase {
		c, err := Climb(context.Background(), s, pop, Options{Visits: 2500, Seed: seed, Workers: workers})
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	if one := climb(1, 1); !reflect.DeepEqual(one, climb(1, 5)) || reflect.DeepEqual(one, climb(2, 1)) {
		t.Error("the result depends on the workers, or not on the seed")
	}
	if _, err := Climb(context.Background(), s, pop, Options{}); err == nil {
		t.Error("no visits are not refused")
	}
}

package plans

import (
	"context"
	"math"
	"testing"
)

// Where the minimum of stops is more than the promise needs, the plan says how many
// would do, and its number is the one with which the whole rule treats a field at the
// threshold nearest to half the time, whatever the maximum of stops.
func TestSpareStops(t *testing.T) {
	sign := Sign{Text: "tips", Stops: 1, Chance: .7, ChanceLower: .3}
	for _, c := range []struct {
		name  string
		stage Stage
	}{
		{"mean", Stage{Measure: MeanPerLeaf, Lower: .5, Threshold: 1.2, Upper: 3, Clumping: Clumping{K: &Range{Low: 1, High: 1}, CountRho: &Range{Low: .1, High: .1}}}},
		{"mean and sign", Stage{Measure: MeanPerLeaf, Lower: .5, Threshold: 1.2, Upper: 3, Sign: &sign, Clumping: Clumping{K: &Range{Low: 1, High: 1}, CountRho: &Range{Low: .1, High: .1}}}},
		{"share and sign", Stage{Measure: ShareInfested, Lower: .05, Threshold: .2, Upper: .6, Sign: &sign, Clumping: Clumping{Rho: &Range{Low: .1, High: .1}}}},
	} {
		c.stage.NeedlessRisk, c.stage.MissedRisk, c.stage.Unit.Leaves = .15, .15, 1
		number := 0
		for maximum, method := range map[int]Method{5: Fixed, 7: RiskTrue} {
			c.stage.Stop = StopRules{Plants: 4, Minimum: 4, Maximum: maximum, WalkMinutes: 1, PlantMinutes: 1}
			plan, err := Design(context.Background(), Protocol{Stages: Everywhere(c.stage, c.stage)}, DesignOptions{Method: method})
			if err != nil {
				t.Fatal(c.name, err)
			}
			s := plan.Stages[0]
			least := *s.counting(s.problem(evenWeights), s.Worth)
			least.Minimum = 1
			if fewest, ok := least.Fixed(4); !ok || s.Spare() != fewest.Stops() || s.Spare() == 0 || s.Table.Stops() != 4 {
				t.Errorf("%s: %d stops would do, not %d, of %+v", c.name, s.Spare(), fewest.Stops(), s.Table)
			}
			act := func(leave int) float64 {
				other := *s
				other.Table = s.Table.Clone()
				other.Table.Leave[3], other.Table.Act[3] = leave, leave+1
				if w := s.Worlds(s.Lower); other.NeedlessIn(w[0].Population()) > s.NeedlessRisk || other.MissedIn(s.Worlds(s.Upper)[0].Population()) > s.MissedRisk {
					return math.NaN()
				}
				return other.Evaluate(s.Clumped(s.Threshold)).Act
			}
			at := s.Table.Leave[3]
			for _, other := range []int{at - 1, at + 1} {
				if a := act(other); math.Abs(a-.5) < math.Abs(act(at)-.5) {
					t.Errorf("%s: leave at %d treats %g at the threshold, at %d %g", c.name, at, act(at), other, a)
				}
			}
			if number != 0 && number != at {
				t.Errorf("%s, %s, at most %d stops: leave at %d and %d", c.name, method, maximum, at, number)
			}
			number = at
		}
	}
	// Where fewer stops would not do, nothing is to spare.
	st := Stage{Measure: ShareInfested, Lower: .15, Threshold: .2, Upper: .3, NeedlessRisk: .1, MissedRisk: .1, Unit: SampleUnit{Leaves: 1},
		Clumping: Clumping{Rho: &Range{Low: .1, High: .1}}, Stop: StopRules{Plants: 20, Minimum: 2, Maximum: 20}}
	plan, err := Design(context.Background(), Protocol{Stages: Everywhere(st, st)}, DesignOptions{Method: Fixed})
	if err != nil || plan.Stages[0].Spare() != 0 {
		t.Errorf("%d stops would do, %v", plan.Stages[0].Spare(), err)
	}
}

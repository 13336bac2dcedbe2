package rule_test

import (
	"math"
	"testing"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

const never = rule.NeverAct

var inf = math.Inf(1)

// early is a plan of 20 plants a stop with a first verdict at stop 2.
var early = rule.Table{
	Units: 20,
	Leave: []int{rule.NeverLeave, 2, 5, 8, 11, 14, 18},
	Act:   []int{never, 9, 11, 13, 15, 17, 19},
}

func shares(steps []rule.Step, rho float64) rule.Visit {
	return rule.Visit{
		Steps: steps, High: 1,
		Family: func(p float64) sampling.Population { return sampling.Infested{P: p, Rho: rho} },
	}
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s = %.10g, want %.10g", what, got, want)
	}
}

// The values were computed independently outside the project, in plain Python.
func TestKnownAfterStoppingEarly(t *testing.T) {
	for _, c := range []struct {
		rho                        float64
		stop, total                int
		limit, lower, upper, level float64
	}{
		{0, 2, 2, .10749831, .00611365, .17051914, .07153907},
		{0, 3, 5, .13288547, .03005981, .19024221, .09790168},
		{0, 2, 0, .03943723, 0, .08809730, .01717940},
		{0, 4, 13, .19490614, .08571667, .24916651, .15900112},
		{.12, 2, 2, .16040585, .00278603, .28172909, .09182017},
		{.12, 3, 5, .18662442, .01400049, .30018233, .11904712},
		{.12, 2, 0, .07841326, 0, .17434896, .03422482},
		{.12, 4, 13, .22498702, .03823430, .32933902, .15836905},
	} {
		k, err := shares(early.Steps(), c.rho).Known(c.stop, c.total, .95, .8)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "limit", k.Limit, c.limit, 1e-8)
		near(t, "lower", k.Interval.Lower, c.lower, 1e-8)
		near(t, "upper", k.Interval.Upper, c.upper, 1e-8)
		near(t, "estimate", k.Estimate, c.level, 1e-8)
	}
}

// A single stop gives the interval of Clopper and Pearson: the first values to four
// digits as in Newcombe, R.G. (1998) Stat. Med. 17: 857-872, computed again
// outside the project; 7 of 50 from the documentation of scipy's binomtest and R.
func TestKnownOfOneStopIsClopperPearson(t *testing.T) {
	for _, c := range []struct {
		x, n         int
		lower, upper float64
		within       float64
	}{
		{81, 263, .2527, .3676, 6e-5},
		{15, 148, .0578, .1617, 6e-5},
		{0, 20, 0, .1684, 6e-5},
		{1, 29, .0009, .1776, 6e-5},
		{7, 50, .0581917, .2673960, 6e-8},
		{20, 20, 1 - .1684, 1, 6e-5}, // 0 of 20 turned round
	} {
		for _, steps := range [][]rule.Step{
			{{Units: c.n, Leave: c.x, Act: c.x + 1}},
			{{Units: c.n, Leave: 0, Act: 1}},
			{{Units: c.n, Leave: rule.NeverLeave, Act: never}, {Units: 10, Leave: 3, Act: 4}}, // cut off
		} {
			k, err := shares(steps, 0).Known(1, c.x, .95, .8)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "lower", k.Interval.Lower, c.lower, c.within)
			near(t, "upper", k.Interval.Upper, c.upper, c.within)
		}
	}
}

package season

import (
	"math"
	"testing"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

const open = rule.NeverAct

// The two plans of the outside computations: four stops of 20 and one number; and a
// table of seven stops.
var (
	fourStops = rule.Table{Units: 20, Leave: []int{-1, -1, -1, 13}, Act: []int{open, open, open, 14}}
	sevenRows = rule.Table{Units: 20, Leave: []int{-1, 2, 5, 8, 11, 14, 18}, Act: []int{open, 9, 11, 13, 15, 17, 19}}
)

func infested(rho float64) func(float64) sampling.Population {
	return func(p float64) sampling.Population { return sampling.Infested{P: p, Rho: rho} }
}

// weekly is the season of the outside computations: every 7 days until something was
// found, every 4 after.
func weekly(t rule.Table, last int) Season {
	return Season{LastDay: last, Stages: []Stage{{
		Family: infested(.12), Lower: .10, Threshold: .17, Upper: .25,
		Classes: []Class{{Table: t, Interval: 7}, {Table: t, Interval: 4}},
	}}}
}

func mustFollow(t *testing.T, s Season, c Course, first ...int) *Path {
	t.Helper()
	chain, err := New(s)
	if err != nil {
		t.Fatal(err)
	}
	p, err := chain.Follow(c, first...)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func near(t *testing.T, name string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) <= 1e-7) {
		t.Errorf("%s: got %.10f, want %.10f", name, got, want)
	}
}

// Values computed independently outside the project.
func TestFieldsThatStay(t *testing.T) {
	for _, c := range []struct {
		table                         rule.Table
		level, treated, visits, stops float64
	}{
		{fourStops, .02, .0194294606, 10.3132031797, 41.2528127188},
		{fourStops, .06, .3027124675, 9.3106690014, 37.2426760054},
		{fourStops, .10, .7932144986, 5.9322178557, 4 * 5.9322178557},
		{sevenRows, .02, .0709943403, 9.3591398546, 19.9726809062},
		{sevenRows, .06, .5311746602, 7.7203964259, 19.4486223158},
		{sevenRows, .10, .9371921937, 4.1490984910, -1},
	} {
		p := mustFollow(t, weekly(c.table, 42), Course{Start: c.level}, 0)
		near(t, "treated", p.Treated, c.treated)
		near(t, "early", p.Early, c.treated)
		near(t, "visits", p.Visits, c.visits)
		if c.stops > 0 {
			near(t, "stops", p.Stops, c.stops)
		}
	}
}

// Values computed independently outside the project.
func TestFieldsThatGrow(t *testing.T) {
	for _, c := range []struct {
		table                                                  rule.Table
		growth                                                 float64
		first                                                  int
		early, threshold, upper, late, visits, stops, low, top float64
	}{
		{fourStops, .15, 0, .0791896539, 2.1540192899, .5642195497, .1889153504, 6.4361165386, 25.7444661544, 24.7178504066, 27.964616907},
		{fourStops, .15, 3, .0615837823, 2.1329245466, .6002225093, .1840299309, 5.9266122919, 0, 24.7178504066, 27.964616907},
		{fourStops, .3, 0, .0128176943, 2.2391151409, .9730678989, .1661360519, 3.8423238270, 0, 0, 0},
		{sevenRows, .15, 0, .1199750526, 1.3553390321, .2642973241, .0754753997, 5.6508221734, 13.7126068614, 24.7178504066, 27.964616907},
	} {
		p := mustFollow(t, weekly(c.table, 400), Course{Start: .005, Growth: c.growth}, c.first)
		near(t, "early", p.Early, c.early)
		near(t, "after threshold", p.AfterThreshold.Expected(), c.threshold)
		near(t, "after upper", p.AfterUpper.Expected(), c.upper)
		near(t, "late", p.AfterUpper.Later(2), c.late)
		near(t, "visits", p.Visits, c.visits)
		near(t, "treated", p.Treated, 1)
		if c.stops > 0 {
			near(t, "stops", p.Stops, c.stops)
		}
		if c.low > 0 {
			near(t, "threshold day", p.AfterThreshold.Day, c.low)
			near(t, "upper day", p.AfterUpper.Day, c.top)
		}
	}
}

package rule_test

import (
	"testing"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// A table on counts that are alike at a stop. The values were computed
// independently outside the project, in plain Python.
func TestEvaluateAlikeCounts(t *testing.T) {
	table := rule.Table{Units: 10, Leave: []int{4, 14, 30}, Act: []int{25, 36, 31}}
	for _, c := range []struct{ mean, rho, act, leave, stops float64 }{
		{1, 0, .4152562621, .5847437379, 2.5459202508},
		{1, .1, .3663141207, .6336858793, 2.2495310335},
		{1, .25, .3241499701, .6758500299, 1.9694801038},
		{2.5, .1, .9578369907, .0421630093, 1.7945495875},
	} {
		e := rule.Evaluate(table, sampling.AlikeCounts{Mean: c.mean, K: .6, Rho: c.rho})
		near(t, "act", e.Act, c.act, 2e-10)
		near(t, "leave", e.Leave, c.leave, 2e-10)
		near(t, "stops", e.ExpectedStops, c.stops, 2e-10)
	}
}

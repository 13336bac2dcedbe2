package rule_test

import (
	"fmt"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// Two infested of 40 plants brought the verdict leave at the second stop.
func ExampleVisit_Known() {
	plan := rule.Table{
		Units: 20,
		Leave: []int{rule.NeverLeave, 2, 5, 8},
		Act:   []int{rule.NeverAct, 9, 11, 9},
	}
	visit := rule.Visit{
		Steps: plan.Steps(),
		Family: func(p float64) sampling.Population {
			return sampling.Infested{P: p, Rho: .12}
		},
		Low: 0, High: 1,
	}
	known, err := visit.Known(2, 2, .95, .8)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f%%, 95%% interval %.1f to %.1f%%, 80%% sure below %.1f%%\n",
		100*known.Estimate, 100*known.Interval.Lower, 100*known.Interval.Upper, 100*known.Limit)

	m := visit.Misses(sampling.Infested{P: .10, Rho: .12}, .95)
	fmt.Printf("of 100 visits to a field at 10%% the interval misses it in %.1f\n", 100*m.Missed())
	// Output:
	// 9.2%, 95% interval 0.3 to 28.2%, 80% sure below 16.0%
	// of 100 visits to a field at 10% the interval misses it in 1.7
}

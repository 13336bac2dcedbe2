package size_test

import (
	"fmt"

	"stopwise/sampling/size"
)

// How many stops of twenty plants tell 15% from 30% infested, and what do four of
// them tell?
func Example() {
	design, err := size.Classify(size.ClassifyRequest{
		Lower: 0.15, Upper: 0.30,
		NeedlessRisk: 0.10, MissedRisk: 0.10,
		PlantsPerStop: 20, Rho: 0.1,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%d stops: leave at %d infested plants or fewer, act at more\n", design.Stops, design.Cutoff)
	fmt.Printf("needless treatment %.1f%%, missed treatment %.1f%%\n", 100*design.NeedlessRisk, 100*design.MissedRisk)

	visit, err := size.Visit(size.VisitRequest{
		Stops: 4, PlantsPerStop: 20, Rho: 0.1,
		ActShare:     0.25,
		NeedlessRisk: 0.10, MissedRisk: 0.10,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("4 stops: act at %d or more, which tells %.0f%% from %.0f%%\n", visit.Act, 100*visit.Own.Lower, 100*visit.Own.Upper)

	// Output:
	// 8 stops: leave at 34 infested plants or fewer, act at more
	// needless treatment 9.4%, missed treatment 8.2%
	// 4 stops: act at 20 or more, which tells 15% from 36%
}

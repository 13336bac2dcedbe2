package plans_test

import (
	"context"
	"fmt"

	"stopwise/plans"
)

// From a protocol to a verdict. The numbers are invented.
func Example() {
	protocol, err := plans.ReadProtocol([]byte(`
title = "Russet thrips in field beans, Marrow Vale (invented)"

[stop]
plants        = 20
minimum_stops = 2
maximum_stops = 20

[clumping]
rho = 0.1

[[stage]]
name          = "budding"
lower         = "15%"
upper         = "30%"
needless_risk = "10%"
missed_risk   = "10%"
`))
	if err != nil {
		fmt.Println(err)
		return
	}
	plan, err := plans.Design(context.Background(), protocol, plans.DesignOptions{Method: plans.Lines})
	if err != nil {
		fmt.Println(err)
		return
	}
	stage, err := plan.Stage("budding")
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("acting at 15%%: %.3f, leaving at 30%%: %.3f, kept: %v\n",
		stage.WorstNeedless().Needless, stage.WorstMissed().Missed, stage.Keeps())

	var counts []plans.Count
	for _, seen := range []string{"5", "4", "2/18", "3"} {
		count, err := plans.ParseCount(seen)
		if err != nil {
			fmt.Println(err)
			return
		}
		counts = append(counts, count)
		answer, err := stage.Check(counts)
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("stop %d: %d of %d plants infested: %v\n", answer.Stop, answer.Total, answer.Plants, answer.Verdict)
	}
	// Output:
	// acting at 15%: 0.149, leaving at 30%: 0.212, kept: false
	// stop 1: 5 of 20 plants infested: continue
	// stop 2: 9 of 40 plants infested: continue
	// stop 3: 11 of 58 plants infested: continue
	// stop 4: 14 of 78 plants infested: leave
}

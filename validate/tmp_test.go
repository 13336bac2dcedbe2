package validate

import (
	"context"
	"fmt"
	"os"
	"testing"

	"stopwise/plans"
	"stopwise/validate/layout"
)

func TestTmp(t *testing.T) {
	text, _ := os.ReadFile("/tmp/plan2.json")
	p, err := plans.ReadPlan(text)
	if err != nil {
		t.Fatal(err)
	}
	fmt.Sscan(os.Getenv("PARAM"), &layout.Pleg, &layout.PleastW, &layout.Ptotal, &layout.Pwalk, &layout.Poff)
	for _, s := range p.Stages {
		if os.Getenv("STAGE") != "" && s.Name != os.Getenv("STAGE") {
			continue
		}
		if os.Getenv("ENDS") != "" {
			fmt.Printf("%.3f\n", EndsOf(s))
		}
		rows, err := Walks(context.Background(), s, WalkOptions{Options: Options{Visits: *keepVisits, Seed: 4}, Routes: []Route{Balanced, Zigzag}, Rho: .171, Speed: 60})
		if err != nil {
			t.Fatal(err)
		}
		sum := map[Route]float64{}
		worst := map[Route][2]float64{}
		for _, r := range rows {
			_, m := r.Effort()
			for _, x := range m {
				sum[r.Route] += x.Value / 18
			}
			w := worst[r.Route]
			w[0] = max(w[0], r.Needless().Value)
			w[1] = max(w[1], r.Missed().Value)
			worst[r.Route] = w
			if r.Route == Balanced {
				fmt.Printf("   %s %.3f %.3f\n", r.Pattern, r.Needless().Value, r.Missed().Value)
			}
		}
		fmt.Printf("%s zig %.2f min %.3f bal %.2f min %.3f\n", s.Name, sum[Zigzag], worst[Zigzag], sum[Balanced], worst[Balanced])
	}
}

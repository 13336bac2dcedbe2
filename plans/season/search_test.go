package season

import (
	"context"
	"fmt"
	"testing"
	"time"

	"stopwise/sampling"
)

// scenario is the invented region that the outside computations were made for.
func scenario(classes int, oneTable bool) Problem {
	return Problem{
		Season: Season{LastDay: 49, Lead: 1, Stages: []Stage{{Lower: .08, Threshold: .14, Upper: .22, Effort: Effort{Stop: 2.5, Unit: .2}}}},
		Walks:  []Walk{{15, 1, 26}}, Worlds: []World{{func(p float64) sampling.Population { return sampling.Infested{P: p, Rho: .12} }}},
		Mix: Mix{.5, .3, .03, .2}, Growth: Growth{.004, .12, .12}, Promise: Promise{.15, .10, 3},
		Classes: classes, OneTable: oneTable, LongestInterval: 14,
	}
}

func TestSearch(t *testing.T) {
	for _, p := range []Problem{scenario(2, true), scenario(3, false)} {
		t0 := time.Now()
		p.Progress = func(n int, m float64) { fmt.Print(n, " ", m, " ", time.Since(t0), "; ") }
		pl, err := Search(context.Background(), p)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Println(pl.Minutes, pl.Needless, pl.Late, pl.Kept, pl.Tried, pl.Hindrance, time.Since(t0))
		for _, c := range pl.Season.Stages[0].Classes {
			fmt.Println(c.Interval, c.Table, pl.Season.Stages[0].Cuts)
		}
	}
}
